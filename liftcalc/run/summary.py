"""The summary of a batch: on the screen, and as CSV, XLSX and an HTML page with links.

Unlike a record, the summary is derived and is replaced by each run.
"""

from __future__ import annotations

import csv
import io
import os
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from liftcalc.base import resources
from liftcalc.base.errors import InputError
from liftcalc.base.text import CAUTION_LINE, text_table
from liftcalc.records.pages import link, listing_page
from liftcalc.records.register import safe_cell

if TYPE_CHECKING:
    from liftcalc.run.batch import Row

SUMMARY_COLUMNS = (
    *("lift", "lift_title", "template", "status", "verdict", "governing", "remedy"),
    *("record", "seconds", "message"),
)
_RECORD = SUMMARY_COLUMNS.index("record")

_WORDS = {
    "within": "within",
    "condition": "ON CONDITION",
    "over": "OVER",
    "no_data": "NO DATA",
    "failed": "FAILED",
    "not run": "not run",
}


_WHY = {
    "condition": "within limits on condition",
    "over": "over its limit",
    "no_data": "no capacity data",
}


_NEXT = "For another issue give the next --revision."


def _word(row: Row) -> str:
    return _WORDS.get(row.verdict or row.status, row.status)


def _overview(rows: Sequence[Row]) -> list[str]:
    """One line for each lift, one column for each sheet."""
    templates = [t for t in resources.CHAIN if any(row.template == t for row in rows)]
    table = [["Lift", "What", *(resources.SHEET_TITLES[t] for t in templates)]]
    for lift in dict.fromkeys(row.lift for row in rows):
        own = {row.template: row for row in rows if row.lift == lift}
        title = next(iter(own.values())).lift_title
        short = title if len(title) <= 34 else title[:33] + "…"
        table.append([lift, short, *(_word(own[t]) if t in own else "" for t in templates)])
    return text_table(table, ruled=True)


def _reasons(rows: Sequence[Row]) -> list[str]:
    """Why each sheet that is not within its limits is not, and what would fix it."""
    lines = []
    for row in rows:
        sheet = f"{row.lift}, {resources.SHEET_TITLES.get(row.template, row.template).lower()}"
        if row.verdict in _WHY:
            lines.append(f"{sheet}: {_WHY[row.verdict]}: {row.governing}.")
            if row.remedy:
                lines.append(f"    What would fix it: {row.remedy}")
        elif row.status == "failed":
            lines.append(f"{sheet}: failed: {row.message}")
    return lines


def summary_text(rows: Sequence[Row]) -> str:
    """Table with one line for each lift, then why each sheet that is not within is not."""
    again = {row.lift: row.message for row in rows if row.record and row.message}
    made = sum(row.status == "made" for row in rows)
    there = sum(row.status == "already there" for row in rows)
    lost = len(rows) - made - there
    return "\n".join(
        [
            *_overview(rows),
            *_reasons(rows),
            *(f"{lift}: {why}. {_NEXT}" for lift, why in again.items()),
            f"{len(rows)} sheets: {made} made, {there} already there, {lost} without a record.",
            CAUTION_LINE,
        ]
    )


def _cells(row: Row) -> list[str]:
    return [str(getattr(row, name)) for name in SUMMARY_COLUMNS]


def _csv(rows: Sequence[Row]) -> bytes:
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(SUMMARY_COLUMNS)
    writer.writerows([safe_cell(cell) for cell in _cells(row)] for row in rows)
    return stream.getvalue().encode("utf-8")


def _xlsx(rows: Sequence[Row]) -> bytes:
    import openpyxl
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
    from openpyxl.styles import Font

    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Summary"
    sheet.append(list(SUMMARY_COLUMNS))
    for cell in sheet[1]:
        cell.font = Font(bold=True)
    for row in rows:
        values = [safe_cell(ILLEGAL_CHARACTERS_RE.sub("", c)) for c in _cells(row)]
        sheet.append([*values[:8], row.seconds, values[9]])
        if row.record:
            cell = sheet.cell(row=sheet.max_row, column=8)
            cell.hyperlink = f"{quote(row.record)}/sheet.html"
    for column, width in zip("ABCDEFGHIJ", (6, 30, 16, 13, 9, 34, 50, 60, 9, 60), strict=True):
        sheet.column_dimensions[column].width = width
    sheet.freeze_panes = "A2"
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _html(rows: Sequence[Row], title: str) -> bytes:
    table = [_cells(row) for row in rows]
    for row, cells in zip(rows, table, strict=True):
        if row.record:
            cells[_RECORD] = link(f"{row.record}/sheet.html", row.record)
    states = [row.verdict or row.status for row in rows]
    return listing_page(title, f"{len(rows)} sheets.", SUMMARY_COLUMNS, table, states=states)


def replace_file(path: Path, data: bytes) -> None:
    """Write a derived file whole, replacing the one before."""
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".part-file-")
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(data)
            os.chmod(temporary, 0o644)
            os.replace(temporary, path)
        finally:
            Path(temporary).unlink(missing_ok=True)
    except OSError as error:
        raise InputError.of(
            "output file", str(path), f"a file that can be written ({error.strerror})"
        ) from None


def write_summary(rows: Sequence[Row], archive: Path, *, title: str) -> list[Path]:
    """Write ``summary.csv``, ``summary.xlsx`` and ``summary.html`` into the archive."""
    files = {
        "summary.csv": _csv(rows),
        "summary.xlsx": _xlsx(rows),
        "summary.html": _html(rows, title),
    }
    for name, data in files.items():
        replace_file(archive / name, data)
    return [archive / name for name in files]
