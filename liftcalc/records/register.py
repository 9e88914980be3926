"""The register: a table over thousands of records, always derived from the folders.

Only what verifies is believed (:func:`~liftcalc.records.verify.verify_record`); a folder that does not is listed as
damaged, with the reason, and counts for nothing: not as parent, revision or check. A link to a record of another sheet
damages the record that has it; a link to a record that is not here is named.

States, the gravest first: missing (the archive's log names it), damaged, withdrawn (by the log it
never stood, and there is no other record of its sheet), superseded (a later
record, which is named, revises it), check differs (whatever other checks say), current twice
(another record of the same sheet is current too), parent damaged, parent superseded (a sheet that
it builds on has been revised: make it again), checked, numbers match but page not verified, cannot
be re-run, prepared. What else holds of the record stands in its remarks.
"""

import contextlib
import gc
import itertools
import json
import os
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from liftcalc.base.errors import InputError
from liftcalc.records.believed import fingerprints, memory
from liftcalc.records.entries import Entry, Links, damaged
from liftcalc.records.log import LOG_NAME, found_in, missing, read_log
from liftcalc.records.manifest import Link, Manifest, sheet_stem
from liftcalc.records.standing import Standing
from liftcalc.records.verify import verify_record

_MANY = 200
_BESIDE = ".signatures/"
_WITHDRAWN = "withdrawn before it stood, by the log"


def _links(links: Iterable[Link]) -> Links:
    return [[*link.model_dump().values()] for link in links]


def _entry(folder: str, manifest: Manifest) -> Entry:
    stated: dict[str, Any] = {n: getattr(manifest, n, "") for n in Entry._fields[:17]}
    checks = () if manifest.checks is None else (manifest.checks,)
    stated |= {
        "folder": folder, "state": manifest.decision or "prepared",
        "invented": "INVENTED" if manifest.invented else "", "checks": _links(checks),
        "revises": _links(manifest.revises), "parents": _links(manifest.parents),
    }  # fmt: skip
    return Entry(**stated)


def believe(root: str, folder: str) -> Entry:
    """What the record in a folder says if it verifies; else that it is damaged, and why.

    Of a damaged record whose manifest is sealed, only what leads to it is shown: no verdict.
    """
    path = Path(root, folder)
    verified = verify_record(path)
    manifest = verified.manifest
    problems = [str(finding) for finding in verified.findings]
    blank = Entry(path.name or path.resolve().name, folder)
    stated = blank if manifest is None else _entry(folder, manifest)
    return damaged(stated._replace(record=blank.record), problems) if problems else stated


def _judged(entries: Sequence[Entry]) -> list[Entry]:
    archive = Standing(entries)
    return [*map(archive.judged, archive.entries)]


def _remembered(words: Iterable[str]) -> list[Entry]:
    return [Entry(*row) for row in json.loads(f"[{','.join(words)}]")]


def _verified(root: str, *, full: bool, starts: tuple[str, ...]) -> list[Entry]:
    """Every record below *root* as it verifies now, or did before with the same files; judged.

    What was remembered is judged while the files are looked at, and taken if none is another.
    """
    from tqdm import tqdm

    remembered: list[str] = []
    new: dict[str, str] = {}
    with fingerprints(root, starts) as walked, memory(root) as (known, keep), contextlib.ExitStack() as stack:
        many = starts == ("",) and not full and len(known) > _MANY
        ahead = _judged(_remembered(words for _, words in known.values())) if many else []
        for path, files in walked:
            folder = path[len(root) :].replace(os.sep, "/").lstrip("/") or "."
            before, words = known.get(folder, ("", ""))
            if files and before == files and not full:
                remembered.append(words)
            else:
                new[folder] = files
        if ahead and not new and len(remembered) == len(known):
            return ahead
        done = _remembered(remembered)
        roots = [root] * len(new)
        found: Iterator[Entry] = map(believe, roots, new)
        if len(new) > _MANY:
            pool = ProcessPoolExecutor(mp_context=get_context("spawn"))
            found = stack.enter_context(pool).map(believe, roots, new, chunksize=20)
        bar = iter(tqdm(found, "Verifying", len(new), disable=None if len(new) > 20 else True))
        while some := [*itertools.islice(bar, _MANY)]:
            sound = [e for e in some if new[e.folder] and e.state != "damaged"]
            keep((e.folder, new[e.folder], json.dumps(e[:20])) for e in sound)
            done += some
    return _judged(done)


def _sheets_named(record: str) -> Iterator[str]:
    """Every sheet that it may be of by its name: ids and revisions hold ``_`` too."""
    parts = record.partition(_BESIDE)[0].split("_")
    return ("_".join(parts[:n]) for n in range(3, len(parts) - 2))


def _sheets_of(entry: Entry) -> Iterator[str]:
    """The sheet of a record, and the checks of it or of its lift, as they are named."""
    return (sheet_stem(entry.job, entry.lift, t)[:-1] for t in (entry.template, "check"))


def _logged(root: Path, entries: list[Entry], starts: tuple[str, ...]) -> list[Entry]:
    """The entries with what the logs beside them say: rows of what is missing, remarks."""
    beside: dict[str, dict[str, str]] = {"": {}}
    for entry in entries:
        above, _, name = entry.folder.rpartition("/")
        beside.setdefault(above, {})[name] = entry.manifest_sha256
    rows: list[Entry] = []
    said: dict[str, list[str]] = {}

    def tell(what: str, name: str) -> None:
        for sheet in _sheets_named(name):
            said.setdefault(sheet, []).append(f"{what}: {name}")

    for above, present in beside.items():
        log = read_log(root / above)
        if log is None:
            continue
        place = f"{above}/" if above else ""
        passed = {n: e.sha256 for n, e in log.standing().items() if not n.startswith(starts)}
        there = passed | present | found_in(root / above, records=False)
        lost, unlogged = missing(root / above, there)
        if log.problem:
            rows.append(damaged(Entry(LOG_NAME, place + LOG_NAME), [log.problem]))
        for line in lost:
            words = f"{line.what} of {line.utc}: in the log, and not here as it was"
            rows.append(Entry(line.name, place + line.name, state="missing", governing=words))
            tell("missing", line.name)
        withdrawn = [name for name in log.withdrawn() if name.startswith(starts)]
        sheets = {sheet for e in entries if withdrawn for sheet in _sheets_of(e)}
        for name in withdrawn:
            tell(_WITHDRAWN, name)
            if sheets.isdisjoint(_sheets_named(name)):
                rows.append(Entry(name, place + name, state="withdrawn", governing=_WITHDRAWN))
        for name in unlogged:
            record = place + name.partition(_BESIDE)[0]
            said.setdefault(record, []).append(f"not in the log: {name}")
    for entry in entries:
        if entry.state == "damaged":
            tell("damaged", entry.record)
    if not said:
        return [*rows, *entries]
    for entry in entries:
        keys = (*_sheets_of(entry), entry.folder)
        more = [t for key in keys for t in said.get(key, ())]
        told = (entry.record, entry.remarks)  # of itself, and what it names by a link
        more = [t for t in more if not (t[:9] == "damaged: " and any(t[9:] in x for x in told))]
        words = "; ".join([*([entry.remarks] if entry.remarks else []), *more[:3]])
        words += f"; {len(more) - 3} more" if len(more) > 3 else ""
        rows.append(entry._replace(remarks=words) if more else entry)
    return rows


def scan(root: Path, *, full: bool = False, starts: Sequence[str] = ()) -> list[Entry]:
    """Every record below *root*, newest first; states follow from the records found there.

    full: Verify every record again, whatever was remembered.
    starts: Only records whose names start with one of these.
    """
    if not root.is_dir():
        raise InputError.of("folder", str(root), "an existing folder of records")
    begin = tuple(starts) or ("",)
    collecting = gc.isenabled()
    gc.disable()  # of some million things read here none is garbage
    try:
        rows = _logged(root, _verified(str(root), full=full, starts=begin), begin)
    finally:
        if collecting:
            gc.enable()
    return sorted(rows, key=lambda e: (e.prepared_utc, e.record), reverse=True)


def states_of(folders: Sequence[Path]) -> list[Entry]:
    """The register's entry of each of the records, in their order; what is no record is damaged.

    Only records named alike (the job's) in the folders that hold them are looked at, each verified
    again: on what is said here somebody prints or signs.
    """
    starts = sorted({folder.name.split("_", 1)[0] for folder in folders})
    found: dict[Path, Entry] = {}
    for root in sorted({folder.resolve().parent for folder in folders}):
        found |= {root / e.folder: e for e in scan(root, full=True, starts=starts)}
    return [
        found.get(folder.resolve()) or damaged(Entry(folder.name, folder.name), ["there is no such record folder"])
        for folder in folders
    ]
