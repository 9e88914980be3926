"""What speaks against signing a record: its verdict, its checks, its place among the others."""

from collections.abc import Sequence
from itertools import zip_longest
from pathlib import Path

from liftcalc.base.foreign import visible
from liftcalc.base.words import STATE_WORDS
from liftcalc.records.believed import NOT_OWN, own_records
from liftcalc.records.manifest import Manifest
from liftcalc.records.register import states_of

_SOUND = ("prepared", "checked", "matches")


def doubts(
    folders: Sequence[Path], *, role: str, name: str, seen: Sequence[Manifest | None] = ()
) -> tuple[list[str], list[str]]:
    """What a signer of these records would have to answer for, and what should only be known.

    seen: The manifests that were verified; a record that is another one now speaks against it.
    Returns: Lines that speak against signing, and warnings.
    """
    against: list[str] = []
    known: list[str] = []
    own = own_records()
    for entry, one in zip_longest(states_of(folders), seen):
        if one is not None and one.manifest_sha256 != entry.manifest_sha256:
            against.append(f"{entry.record}: it was exchanged while it was looked at")
        if entry.verdict not in ("within", "found"):
            words = STATE_WORDS.get(entry.verdict, "no verdict")
            against.append(f"{entry.record}: {words}: {entry.governing}")
        gone = any(word in entry.remarks for word in ("missing: ", "withdrawn ", "damaged"))
        if entry.standing not in _SOUND:
            told = against if gone or entry.state not in _SOUND else known
            told.append(f"{entry.record}: {entry.standing}")
        if entry.manifest_sha256 not in own:
            known.append(f"{entry.record}: {NOT_OWN}: re-check it first")
        if role != "prepared" and name.casefold().split() == entry.prepared_by.casefold().split():
            known.append(f"{entry.record}: {role} by its own preparer, {name}")
    return list(map(visible, against)), list(map(visible, known))
