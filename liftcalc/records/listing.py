"""The register for a reader: chosen, in pages; on the screen, as CSV, as pages of HTML."""

import csv
import io
import re
import shutil
from collections.abc import Iterable, Sequence
from pathlib import Path

from markupsafe import Markup

from liftcalc.base import resources
from liftcalc.base.errors import InputError, RecordError
from liftcalc.base.files import read_regular
from liftcalc.base.foreign import visible
from liftcalc.base.text import text_table
from liftcalc.base.words import STATE_WORDS
from liftcalc.records.believed import record_folders
from liftcalc.records.entries import STATES, UNSEEN, Entry
from liftcalc.records.log import LOG_NAME
from liftcalc.records.manifest import MANIFEST_NAME, Manifest, read_manifest
from liftcalc.records.pages import link, listing_page, soft
from liftcalc.records.trust import Trusted, signed_words
from liftcalc.records.verify import MAX_MANIFEST_BYTES

COLUMNS = (
    *("record", "kind", "job", "lift", "template", "revision", "verdict", "governing"),
    *("state", "superseded_by", "checked_by", "prepared_by", "prepared_utc", "signed", "folder"),
    *("decision", "sheet", "verdict_words", "remarks", "invented", "caution"),
)
"""Columns of the CSV; the caution is one of them, so that each line has the same shape."""
_HEADS = {
    "record": "Record", "job": "Job", "lift": "Lift", "sheet": "Sheet", "revision": "Rev.",
    "verdict_words": "Verdict of the sheet", "governing": "Governing check", "state": "State",
    "superseded_by": "Superseded by", "remarks": "Remarks", "checked_by": "Checked by",
    "prepared_by": "Prepared by", "day": "Date (UTC)", "signed": "Signed",
}  # fmt: skip
ALARMING = (
    *("missing", "damaged", "withdrawn", "check differs", "current twice", "parent damaged"),
    *("differs", "cannot be re-run", UNSEEN),
)
"""States that stand out."""
LOST = ("missing", "damaged", "withdrawn")
_ON_SCREEN = ("record", "lift", "sheet", "verdict_words", "state", "checked_by", "signed")
_ALWAYS = ("record", "lift", "sheet", "verdict_words", "governing", "state")
_WIDEST = 120
PAGE_ROWS = 1000
"""Records on one page of HTML."""


def select(entries: Iterable[Entry], *, since: str = "", until: str = "", text: str = "", **wanted: str) -> list[Entry]:
    """Entries within the dates (UTC, ``2026-05-01`` or longer) that match every filter given.

    A filter is a field of :class:`Entry`; *text* is looked for in every column, whatever its case.
    """
    for name, value in (("since", since), ("until", until)):
        if value and not re.fullmatch(r"\d{4}-\d\d-\d\d(T\d\d:\d\d(:\d\dZ?)?)?", value):
            raise InputError.of(name, value, "a date such as 2026-05-01")
    if wanted.get("state") and wanted["state"] not in STATES:
        raise InputError.of("state", wanted["state"], ", ".join(STATES))
    asked = [(name, value) for name, value in wanted.items() if value]
    return [
        e
        for e in entries
        if all(getattr(e, name) == value for name, value in asked)
        and (not since or e.prepared_utc >= since)
        and (not until or e.prepared_utc[: len(until)] <= until)
        and (not text or text.casefold() in "\n".join(map(e.shown, COLUMNS[:-1])).casefold())
    ]


def with_signatures(entries: Iterable[Entry], root: Path, trusted: Trusted | None = None) -> list[Entry]:
    """The same entries with the roles in which each record is signed, and the time stamped."""
    done = []
    for entry in entries:
        folder = root / f"{entry.folder}.signatures"
        if entry.manifest_sha256 and (folder.is_dir() or folder.is_symlink()):
            entry = entry._replace(signed=signed_words(root / entry.folder, trusted))
        done.append(entry)
    return done


def _place(manifest: Manifest) -> tuple[str, list[tuple[int, str]], int]:
    """Sort key: job, lift (L2 before L10), place in the chain; other sheets last."""
    chain = resources.CHAIN
    parts = re.split(r"(\d+)", manifest.lift)
    numbered = [(int(part) if part.isdecimal() else -1, part) for part in parts]
    place = chain.index(manifest.template) if manifest.template in chain else 9
    return manifest.job, numbered, place


def sheets_below(folder: Path) -> list[Path]:
    """Records of the sheets below a folder (or itself) by job, lift, chain; damaged first."""
    if not folder.is_dir() or folder.is_symlink() or (folder / MANIFEST_NAME).exists():
        return [folder]
    damaged: list[Path] = []
    sheets = []
    for path in (Path(name) for name, _ in record_folders(str(folder))):
        try:
            manifest = read_manifest(read_regular(path / MANIFEST_NAME, MAX_MANIFEST_BYTES))
        except RecordError:
            damaged.append(path)
            continue
        if manifest.kind == "sheet":
            sheets.append((_place(manifest), path))
    return [*damaged, *(path for _, path in sorted(sheets))] or [folder]


_BESIDE_RECORDS = ("summary.csv", "summary.xlsx", "summary.html", LOG_NAME)
"""What a batch lays beside its records, met by a shell's * over the folder."""


def sheets_named(paths: Sequence[Path]) -> tuple[list[Path], list[Path]]:
    """Records named, with every sheet below the folders named; and the files passed over."""
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


def register_lines(
    entries: Sequence[Entry], *, root: Path, page: int = 1, size: int | None = None, trusted: Trusted | None = None
) -> list[str]:
    """One page of the register (by default a screenful), then what else holds of its records.

    A verdict on condition comes with its condition.
    """
    size = size or max(shutil.get_terminal_size((80, 56)).lines - 6, 10)
    pages = max(1, -(-len(entries) // size))
    if not 1 <= page <= pages:
        raise InputError.of("page", page, f"1 to {pages}")
    shown = with_signatures(entries[(page - 1) * size : page * size], root, trusted)
    columns = list(_ON_SCREEN)
    if any(e.superseded_by for e in shown):
        columns.append("superseded_by")
    heads = [_HEADS[c] for c in columns]
    lines = text_table([heads, *([e.shown(c)[:_WIDEST] for c in columns] for e in shown)])
    lines += [f"{e.shown('record')}: {e.shown('governing')}" for e in shown if e.state in LOST]
    lines += [f"{e.shown('record')}: {e.shown('remarks')}" for e in shown if e.remarks]
    on = (e.shown("governing").partition("on condition: ")[2].rstrip(".") for e in shown
          if e.verdict == "condition")  # fmt: skip
    lines += [f"On condition: {STATE_WORDS['condition']}: {words or 'see the record'}."
              for words in dict.fromkeys(on)]  # fmt: skip
    if pages > 1:
        more = f", {len(entries) - page * size} more: --page {page + 1}" if page < pages else ""
        lines.append(f"Page {page} of {pages}{more}.")
    return lines


def safe_cell(text: str) -> str:
    """A cell that no spreadsheet takes as a formula, whatever its country separates cells by.

    A quote stands before a formula's first sign at the start and behind each separator.
    """
    return _FORMULA.sub(r"\1\2'", visible(text))


_FORMULA = re.compile(r"""(^|[,;|])(["'\s]*)(?=[=+\-@＝＋－＠])""")


def csv_text(columns: Sequence[str], rows: Iterable[Iterable[str]]) -> str:
    """Rows below their heads as CSV."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(map(safe_cell, row) for row in rows)
    return stream.getvalue()


def register_csv(entries: Sequence[Entry]) -> str:
    """The register as CSV."""
    return csv_text(COLUMNS, ([str(getattr(e, name)) for name in COLUMNS] for e in entries))


def register_html(
    entries: Sequence[Entry], *, title: str, name: str = "register.html", prefix: str = "", rows: int = PAGE_ROWS
) -> dict[str, bytes]:
    """The register as linked pages by file name; *prefix* leads to the root of the records."""
    columns = [n for n in _HEADS if n in _ALWAYS or any(getattr(e, n) for e in entries)]
    if len({e.job for e in entries if e.job}) <= 1 and "job" in columns:
        columns.remove("job")
    count = max(1, -(-len(entries) // rows))
    stem, dot, ending = name.rpartition(".")
    names = [name, *(f"{stem}-{n}{dot}{ending}" for n in range(2, count + 1))]
    pages = {}
    for number, own in enumerate(names):
        shown = entries[number * rows : (number + 1) * rows]
        others = Markup(" ").join(
            Markup("{}").format(n + 1) if other == own else link(other, str(n + 1)) for n, other in enumerate(names)
        )
        lead = f"{len(entries)} records, newest first. Derived from the folders."
        if count > 1:
            lead = Markup("{} Page {} of {}: {}").format(lead, number + 1, count, others)
        pages[own] = listing_page(
            visible(title), lead, [_HEADS[n] for n in columns],
            [[_cell(entry, n, prefix) for n in columns] for entry in shown],
            states=["failed" if e.state in ALARMING else e.verdict for e in shown],
            invented=any(e.invented for e in entries),
        )  # fmt: skip
    return pages


def _cell(entry: Entry, column: str, prefix: str) -> str:
    if column == "record" and entry.state not in LOST:
        name = "check.html" if entry.kind == "check" else "sheet.html"
        return link(f"{prefix}{entry.folder}/{name}", entry.record)
    return soft(entry.shown(column))
