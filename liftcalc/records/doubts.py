"""What speaks against signing a record: its verdict, its checks, its place among the others."""

from collections.abc import Sequence
from pathlib import Path

from liftcalc.base.words import STATE_WORDS
from liftcalc.records.register import scan
from liftcalc.records.sign import shown

_SOUND = ("prepared", "checked", "matches")


def doubts(folders: Sequence[Path], *, role: str, name: str) -> tuple[list[str], list[str]]:
    """What a signer of these records would have to answer for, and what should only be known.

    Returns: Lines that speak against signing, and warnings.
    """
    homes = dict.fromkeys(folder.resolve().parent for folder in folders)
    entries = {home / e.folder: e for home in homes for e in scan(home, signatures=False)}
    against, known = [], []
    for folder in folders:
        entry = entries[folder.resolve()]
        if entry.verdict not in ("within", "found"):
            words = STATE_WORDS.get(entry.verdict, "no verdict")
            against.append(f"{entry.record}: {words}: {entry.governing}")
        if entry.state not in _SOUND:
            by = f" by {entry.superseded_by}" if entry.superseded_by else ""
            against.append(f"{entry.record}: {entry.state}{by}")
        if role != "prepared" and name.casefold().split() == entry.prepared_by.casefold().split():
            known.append(f"{entry.record}: {role} by its own preparer, {name}")
    return list(map(shown, against)), list(map(shown, known))
