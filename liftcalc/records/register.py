"""The register: a table over thousands of records, always derived from the folders.

A row comes from the record's manifest, whose own hash is checked on reading; a folder whose
manifest is broken is listed as broken, never left out. States: prepared, checked (a check record
says it matches), check differs, superseded (a later record, which is named, revises it), parent
superseded (a sheet that it builds on has been revised: make it again), broken.
"""

import csv
import io
import json
import os
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from liftcalc.base import resources
from liftcalc.base.checks import MAKER_CONFIRMS
from liftcalc.base.errors import InputError, RecordError
from liftcalc.base.files import read_regular
from liftcalc.base.strict_json import sha256_hex
from liftcalc.base.text import CAUTION_LINE, text_table
from liftcalc.base.words import STATE_WORDS
from liftcalc.records.log import LOG_NAME
from liftcalc.records.manifest import MANIFEST_NAME, PART_PREFIX
from liftcalc.records.pages import link, listing_page, soft
from liftcalc.records.verify import MAX_MANIFEST_BYTES

COLUMNS = (
    *("record", "kind", "job", "lift", "template", "revision", "verdict", "governing"),
    *("state", "superseded_by", "checked_by", "prepared_by", "prepared_utc", "signed", "folder"),
    *("decision", "sheet", "verdict_words", "invented", "caution"),
)
"""Columns of the CSV; the caution is one of them, so that each line has the same shape."""
_STATED = (
    *("record", "kind", "job", "lift", "template", "revision", "verdict", "governing"),
    *("prepared_by", "prepared_utc", "manifest_sha256", "run_key", "decision"),
)
STATES = (
    *("prepared", "checked", "check differs", "superseded", "parent superseded", "broken"),
    *("matches", "differs", "cannot be re-run"),
)
"""States of a sheet's record; the last three are what a check record decided."""
_DEEPEST = 4
_SELF = re.compile(rb'^ "manifest_sha256": "([0-9a-f]{64})",\n', re.MULTILINE)


@dataclass(frozen=True)
class Entry:
    """One row of the register."""

    record: str
    kind: str
    job: str
    lift: str
    template: str
    revision: str
    verdict: str
    governing: str
    state: str
    checked_by: str
    prepared_by: str
    prepared_utc: str
    signed: str
    folder: str
    superseded_by: str = ""
    manifest_sha256: str = ""
    run_key: str = ""
    revises: str = ""
    checks: str = ""
    parents: tuple[str, ...] = ()
    decision: str = ""
    invented: str = ""

    @property
    def sheet(self) -> str:
        """Title of the sheet, or of the sheet that was checked."""
        title = resources.SHEET_TITLES.get(self.template, self.template)
        return f"Check of {title.lower()}" if self.kind == "check" else title

    @property
    def verdict_words(self) -> str:
        """What the sheet says, in the words that stand on it."""
        return STATE_WORDS.get(self.verdict, self.verdict)

    @property
    def day(self) -> str:
        """Day and minute."""
        return self.prepared_utc[:16].replace("T", " ")

    caution = CAUTION_LINE

    def row(self) -> list[str]:
        """Cells in the order of ``COLUMNS``."""
        return [str(getattr(self, name)) for name in COLUMNS]


def _folders(root: str, depth: int = 0) -> Iterator[str]:
    """Record folders below *root*, links not followed, a record not searched for others."""
    below: list[str] = []
    try:
        with os.scandir(root) as entries:
            for entry in entries:
                if entry.name == MANIFEST_NAME:
                    yield root
                    return
                if entry.name.startswith((PART_PREFIX, ".")):
                    continue
                if depth < _DEEPEST and entry.is_dir(follow_symlinks=False):
                    below.append(entry.path)
    except OSError:
        return
    for path in sorted(below):
        yield from _folders(path, depth + 1)


def _read(folder: str) -> dict[str, Any]:
    data = read_regular(Path(folder, MANIFEST_NAME), MAX_MANIFEST_BYTES)
    # The manifest is canonical text, so its hash without its own line needs no second rendering.
    own_hash = _SELF.search(data)
    if (
        own_hash is None
        or sha256_hex(data[: own_hash.start()] + data[own_hash.end() :]).encode() != own_hash[1]
    ):
        raise RecordError("manifest changed after it was sealed")
    try:
        value = json.loads(data)
    except (ValueError, RecursionError):
        raise RecordError("manifest is not JSON") from None
    if not isinstance(value, dict):
        raise RecordError("manifest is not an object")
    return value


def _text(value: object) -> str:
    return value if isinstance(value, str) else ""


def _hash_of(value: object) -> str:
    return _text(value.get("manifest_sha256")) if isinstance(value, dict) else ""


def _hashes_of(value: object) -> tuple[str, ...]:
    return tuple(map(_hash_of, value)) if isinstance(value, list) else ()


def _entry(root: str, folder: str) -> Entry:
    relative = os.path.relpath(folder, root).replace(os.sep, "/")
    name = os.path.basename(os.path.abspath(folder))
    try:
        m = _read(folder)
        if m.get("record") != name:
            raise RecordError("folder and manifest have different names")
    except RecordError as error:
        blank: dict[str, Any] = dict.fromkeys((f.name for f in fields(Entry)), "")
        blank.update(parents=(), record=name, state="broken", governing=str(error), folder=relative)
        return Entry(**blank)
    stated: dict[str, Any] = {key: _text(m.get(key)) for key in _STATED}
    return Entry(
        **stated,
        state=stated["decision"] or "prepared",
        invented="INVENTED" if m.get("invented") is True else "",
        checked_by="", signed="", folder=relative, revises=_hash_of(m.get("revises")),
        checks=_hash_of(m.get("checks")), parents=_hashes_of(m.get("parents")),
    )  # fmt: skip


def scan(root: Path, *, signatures: bool = True) -> list[Entry]:
    """Every record below *root*, newest first; states follow from the records found there."""
    if not root.is_dir():
        raise InputError.of("folder", str(root), "an existing folder of records")
    base = str(root)
    entries = [_entry(base, folder) for folder in _folders(base)]
    later: dict[str, list[str]] = {}
    for entry in entries:
        if entry.kind == "sheet" and entry.revises:
            later.setdefault(entry.revises, []).append(entry.record)
    checked: dict[str, list[Entry]] = {}
    for entry in entries:
        if entry.kind == "check" and entry.checks:
            checked.setdefault(entry.checks, []).append(entry)
    stale = _stale(entries, set(later))
    done = []
    for entry in entries:
        if entry.state == "broken":
            done.append(entry)
            continue
        state, by = entry.state, ""
        checks = sorted(checked.get(entry.manifest_sha256, ()), key=lambda e: e.prepared_utc)
        if checks:
            by = checks[-1].prepared_by
            state = "checked" if checks[-1].decision == "matches" else "check differs"
        superseded_by = ", ".join(sorted(later.get(entry.manifest_sha256, ())))
        if superseded_by:
            state = "superseded"
        elif entry.kind == "sheet" and entry.manifest_sha256 in stale:
            state = "parent superseded"
        signed = _signed(root / entry.folder, entry) if signatures else ""
        done.append(
            replace(entry, state=state, superseded_by=superseded_by, checked_by=by, signed=signed)
        )
    return sorted(done, key=lambda e: (e.prepared_utc, e.record), reverse=True)


def _stale(entries: Sequence[Entry], revised: set[str]) -> set[str]:
    """Records that build, through any number of sheets, on one that has been revised."""
    children: dict[str, list[str]] = {}
    for entry in entries:
        for parent in entry.parents:
            children.setdefault(parent, []).append(entry.manifest_sha256)
    stale: set[str] = set()
    todo = list(revised)
    while todo:
        for child in children.get(todo.pop(), ()):
            if child not in stale:
                stale.add(child)
                todo.append(child)
    return stale


def _signed(folder: Path, entry: Entry) -> str:
    signatures = folder.parent / f"{folder.name}.signatures"
    if not signatures.is_dir():
        return ""
    from liftcalc.records.sign import roles_signed

    return roles_signed(signatures, entry.manifest_sha256)


def select(
    entries: Iterable[Entry], *, since: str = "", until: str = "", **wanted: str
) -> list[Entry]:
    """Entries within the dates (UTC, ``2026-05-01`` or longer) that match every filter given.

    A filter is a field of :class:`Entry`: job, lift, template, verdict, state, kind.
    """
    for name, value in (("since", since), ("until", until)):
        if value and not re.fullmatch(r"\d{4}-\d\d-\d\d(T\d\d:\d\d(:\d\dZ?)?)?", value):
            raise InputError.of(name, value, "a date such as 2026-05-01")
    if wanted.get("state") and wanted["state"] not in STATES:
        raise InputError.of("state", wanted["state"], ", ".join(STATES))
    return [
        e
        for e in entries
        if all(not value or getattr(e, name) == value for name, value in wanted.items())
        and (not since or e.prepared_utc >= since)
        and (not until or e.prepared_utc[: len(until)] <= until)
    ]


def _place(entry: Entry) -> tuple[str, list[tuple[int, str]], int]:
    """Sort key: job, lift (L2 before L10), place in the chain; other sheets last."""
    chain = resources.CHAIN
    parts = re.split(r"(\d+)", entry.lift)
    numbered = [(int(part) if part.isdecimal() else -1, part) for part in parts]
    return entry.job, numbered, chain.index(entry.template) if entry.template in chain else 9


def sheets_below(folder: Path) -> list[Path]:
    """Record folders of every sheet below a folder, in the order of job, lift and chain.

    A record stands for itself, and so does a folder that holds none.
    """
    if not folder.is_dir() or folder.is_symlink() or (folder / MANIFEST_NAME).exists():
        return [folder]
    entries = [e for e in scan(folder, signatures=False) if e.kind != "check"]
    return [folder / e.folder for e in sorted(entries, key=_place)] or [folder]


_HEADS = {
    "record": "Record", "job": "Job", "lift": "Lift", "sheet": "Sheet", "revision": "Rev.",
    "verdict_words": "Verdict of the sheet", "governing": "Governing check", "state": "State",
    "superseded_by": "Superseded by", "checked_by": "Checked by", "prepared_by": "Prepared by",
    "day": "Date (UTC)", "signed": "Signed",
}  # fmt: skip
_ALARMING = ("broken", "check differs", "differs", "cannot be re-run")
_ON_SCREEN = ("record", "lift", "sheet", "verdict_words", "state", "checked_by", "signed")
_ALWAYS = ("record", "lift", "sheet", "verdict_words", "governing", "state")


_BESIDE_RECORDS = ("summary.csv", "summary.xlsx", "summary.html", LOG_NAME)
"""What a batch lays beside its records, met by a shell's * over the folder."""


def sheets_named(paths: Sequence[Path]) -> tuple[list[Path], list[Path]]:
    """Records named, with every sheet below the folders named; and the files passed over.

    Raises: No record at all.
    """
    folders: list[Path] = []
    passed_over = []
    for path in paths:
        if path.is_file() and (path.name in _BESIDE_RECORDS or path.suffix == ".pdf"):
            passed_over.append(path)
        else:
            folders += sheets_below(path)
    if not folders:
        raise InputError.of("records", [str(p) for p in paths], "a record or a folder of records")
    return folders, passed_over


def register_lines(entries: Sequence[Entry]) -> list[str]:
    """The register as lines for the screen; a verdict on condition comes with its condition."""
    columns = list(_ON_SCREEN)
    if any(e.superseded_by for e in entries):
        columns.append("superseded_by")
    heads = [_HEADS[c] for c in columns]
    lines = text_table([heads, *([str(getattr(e, c)) for c in columns] for e in entries)])
    if any(e.verdict == "condition" for e in entries):
        lines.append(f"On condition: {STATE_WORDS['condition']}: {MAKER_CONFIRMS}.")
    return lines


def safe_cell(text: str) -> str:
    """A cell that a spreadsheet takes as text, not as a formula."""
    return f"'{text}" if text[:1] in "=+-@\t\r" and text else text


def csv_text(columns: Sequence[str], rows: Iterable[Iterable[str]]) -> str:
    """Rows below their heads as CSV."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(map(safe_cell, row) for row in rows)
    return stream.getvalue()


def register_csv(entries: Sequence[Entry]) -> str:
    """The register as CSV."""
    return csv_text(COLUMNS, (e.row() for e in entries))


def register_html(entries: Sequence[Entry], *, title: str, prefix: str = "") -> bytes:
    """The register as one HTML page with links to the sheets; *prefix* leads to the root."""
    columns = [n for n in _HEADS if n in _ALWAYS or any(getattr(e, n) for e in entries)]
    if len({e.job for e in entries if e.job}) <= 1:
        columns.remove("job")
    rows = []
    for entry in entries:
        cells: dict[str, str] = {n: soft(getattr(entry, n)) for n in columns}
        if entry.state != "broken":
            name = "check.html" if entry.kind == "check" else "sheet.html"
            cells["record"] = link(f"{prefix}{entry.folder}/{name}", entry.record)
        rows.append(list(cells.values()))
    return listing_page(
        title,
        f"{len(entries)} records, newest first. Derived from the folders.",
        [_HEADS[n] for n in columns],
        rows,
        states=["failed" if e.state in _ALARMING else e.verdict for e in entries],
        invented=any(e.invented for e in entries),
    )
