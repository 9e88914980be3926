"""The summary of a batch: on the screen, and as CSV, XLSX and an HTML page with links.

Unlike a record, the summary is derived and is replaced by each run. Page and spreadsheet are for
readers and have heads in plain words; the CSV is for programs: its names stay, and the caution is a
column of each row, since a line of another shape would break whoever reads the table.
"""

from __future__ import annotations

import io
import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from liftcalc.base import resources
from liftcalc.base.errors import RecordError
from liftcalc.base.files import write_file
from liftcalc.base.foreign import visible
from liftcalc.base.text import CAUTION_LINE, INVENTED_LINE, text_table
from liftcalc.base.units import UnitSystem
from liftcalc.base.words import STATE_WORDS
from liftcalc.records import listing
from liftcalc.records.listing import csv_text, safe_cell
from liftcalc.records.log import log_head
from liftcalc.records.pages import link, listing_page
from liftcalc.records.register import scan, states_of
from liftcalc.records.trust import load_trusted

if TYPE_CHECKING:
    from liftcalc.run.batch import Row

SUMMARY_COLUMNS = (
    *("lift", "lift_title", "template", "status", "verdict", "governing", "remedy"),
    *("record", "seconds", "message", "sheet", "state", "invented", "caution"),
)
HEADS = {
    "lift": "Lift", "lift_title": "What", "sheet": "Sheet", "state": "State",
    "governing": "Governing check", "remedy": "Remedy", "record": "Record", "seconds": "Seconds", "message": "Message",
}  # fmt: skip
"""Columns of page and spreadsheet."""
_WIDTHS = (6, 30, 16, 24, 50, 60, 34, 9, 60)

_NEXT = " For another issue give the next --revision."


def _sheet(row: Row) -> str:
    return resources.SHEET_TITLES.get(row.template, row.template)


def _state(row: Row) -> str:
    """State of a sheet in one table of words, or why there is no sheet."""
    return row.state or STATE_WORDS.get(row.verdict, row.status)


def _overview(rows: Sequence[Row]) -> list[str]:
    """One line for each lift, one column for each sheet."""
    templates = [t for t in resources.CHAIN if any(row.template == t for row in rows)]
    table = [["Lift", "What", *(resources.SHEET_TITLES[t] for t in templates)]]
    for lift in dict.fromkeys(row.lift for row in rows):
        own = {row.template: row for row in rows if row.lift == lift}
        title = next(iter(own.values())).lift_title
        short = title if len(title) <= 34 else title[:33] + "…"
        states = {t: STATE_WORDS.get(row.verdict, row.status) for t, row in own.items()}
        table.append([visible(lift), visible(short), *(states.get(t, "") for t in templates)])
    return text_table(table, ruled=True)


def _reasons(rows: Sequence[Row]) -> list[str]:
    """Why each sheet that is not within its limits is not, and what would fix it."""
    lines = []
    for row in rows:
        sheet = f"{row.lift}, {_sheet(row).lower()}"
        if row.verdict not in ("", "within", "found"):
            lines.append(f"{sheet}: {_state(row)}: {row.governing}.")
            if row.remedy:
                lines.append(f"    Remedy: {row.remedy}")
        elif row.status == "failed":
            lines.append(f"{sheet}: failed: {row.message}")
    return lines


def summary_text(rows: Sequence[Row], *, invented: bool = False) -> str:
    """Table with one line for each lift, then why each sheet that is not within is not."""
    said = [row for row in rows if row.record and row.message]
    again = [f"{row.lift}: {row.message}.{_NEXT if 'superseded' in row.message else ''}" for row in said]
    made = sum(row.status == "made" for row in rows)
    there = sum(row.status == "already there" for row in rows)
    lost = len(rows) - made - there
    return "\n".join(
        [
            *_overview(rows),
            *_reasons(rows),
            *dict.fromkeys(again),
            f"{len(rows)} sheets: {made} made, {there} already there, {lost} without a record.",
            *_marks(invented),
        ]
    )


def with_states(rows: Sequence[Row]) -> list[Row]:
    """The rows with what the register says of their records, where there is something to say."""
    there = [row for row in rows if row.folder]
    said = {e.record: e.standing for e in states_of([Path(row.folder) for row in there])}
    return [
        replace(row, message="; ".join(filter(None, [row.message, said[row.record]])))
        if said.get(row.record, "prepared") not in ("prepared", "checked")
        else row
        for row in rows
    ]


def _marks(invented: bool) -> list[str]:
    return [*([INVENTED_LINE] if invented else []), CAUTION_LINE]


def _cell(row: Row, name: str) -> str:
    own = {"sheet": _sheet(row), "state": _state(row), "seconds": f"{row.seconds:.1f}"}
    return own[name] if name in own else str(getattr(row, name))


def _csv(rows: Sequence[Row], invented: bool) -> bytes:
    marks = [INVENTED_LINE if invented else "", CAUTION_LINE]
    cells = ([*(_cell(row, name) for name in SUMMARY_COLUMNS[:-2]), *marks] for row in rows)
    return csv_text(SUMMARY_COLUMNS, cells).encode("utf-8")


def _xlsx(rows: Sequence[Row], units: UnitSystem, invented: bool) -> bytes:
    import openpyxl
    from openpyxl.styles import Alignment, Font

    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Summary"
    sheet.append(list(HEADS.values()))
    places = {name: n for n, name in enumerate(HEADS, start=1)}
    for row in rows:
        cells = {n: safe_cell(_cell(row, n)) for n in HEADS}
        sheet.append([row.seconds if n == "seconds" else cell for n, cell in cells.items()])
        if row.verdict not in ("within", "found"):
            sheet.cell(row=sheet.max_row, column=places["state"]).font = Font(bold=True)
        if row.record:
            cell = sheet.cell(row=sheet.max_row, column=places["record"])
            cell.hyperlink = f"{quote(row.record)}/sheet.html"
    for line in sheet.iter_rows():
        for cell in line:
            cell.alignment = Alignment(wrap_text=True, vertical="top")
    sheet.append([])
    for mark in _marks(invented):
        sheet.append([mark])
    for cell in sheet[1]:
        cell.font = Font(bold=True)
    for column, width in zip("ABCDEFGHI", _WIDTHS, strict=True):
        sheet.column_dimensions[column].width = width
    sheet.freeze_panes = "A2"
    sheet.print_title_rows = "1:1"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = sheet.PAPERSIZE_LETTER if units == "us" else sheet.PAPERSIZE_A4
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.oddFooter.left.text = " ".join(_marks(invented))
    sheet.oddFooter.left.size = 7
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _html(rows: Sequence[Row], title: str, units: UnitSystem, invented: bool) -> bytes:
    names = [n for n in HEADS if n != "message" or any(row.message for row in rows)]
    table: list[list[str]] = []
    for row in rows:
        cells = {n: _cell(row, n) for n in names}
        if row.record:
            cells["record"] = link(f"{row.record}/sheet.html", row.record)
        table.append(list(cells.values()))
    states = [row.verdict or "failed" for row in rows]
    return listing_page(
        title, f"{len(rows)} sheets.", [HEADS[n] for n in names], table, states=states, units=units, invented=invented
    )


def write_summary(
    rows: Sequence[Row], archive: Path, *, title: str, units: UnitSystem = "metric", invented: bool = False
) -> list[Path]:
    """Write ``summary.csv``, ``summary.xlsx`` and ``summary.html`` into the archive."""
    files = {
        "summary.csv": _csv(rows, invented),
        "summary.xlsx": _xlsx(rows, units, invented),
        "summary.html": _html(rows, title, units, invented),
    }
    for name, data in files.items():
        write_file(archive / name, data)
    return [archive / name for name in files]


def list_records(
    folder: Path, *, csv_file: Path | None = None, html_file: Path | None = None, page: int = 1,
    page_size: int | None = None, full: bool = False, trusted: Path | None = None,
    **filters: str | None,
) -> list[str]:  # fmt: skip
    """One page of the register as lines; the whole of it into the files named."""
    known = load_trusted(trusted) if trusted else None
    found = scan(folder, full=full)
    entries = listing.select(found, **{name: value or "" for name, value in filters.items()})
    if csv_file is not None or html_file is not None:
        entries = listing.with_signatures(entries, folder, known)
    if csv_file is not None:
        write_file(csv_file, listing.register_csv(entries).encode("utf-8"))
    if html_file is not None:
        prefix = f"{os.path.relpath(folder.resolve(), html_file.resolve().parent)}/"
        title = f"Records in {folder.name}"
        pages = listing.register_html(entries, title=title, name=html_file.name, prefix=prefix)
        for name, data in pages.items():
            write_file(html_file.with_name(name), data)
    lines = listing.register_lines(entries, root=folder, page=page, size=page_size, trusted=known)
    lost = [sum(e.state in listing.LOST for e in some) for some in (found, entries)]
    if lost[0] > lost[1]:
        lines.append(f"Missing or damaged and not listed here: {lost[0] - lost[1]}, see --state.")
    try:
        head = log_head(folder)
        said = f"Log: {head[0]} lines, the last with SHA-256 {head[1]}." if head else "No log."
    except RecordError as error:
        said = f"Damaged log: {error}."
    lines.append(said)
    lines.append(f"{len(entries)} record{'' if len(entries) == 1 else 's'}.")
    return [*lines, *_marks(any(e.invented for e in entries))]
