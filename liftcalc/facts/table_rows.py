"""Rows of a CSV or XLSX table as spreadsheets write it, whatever their language.

The columns of a CSV table are separated by the comma, semicolon or tab that the header has most of.
A comma is read as the decimal mark only where it does not separate the columns and no number in the
table has a point. Sources: RFC 4180 (CSV).
"""

import csv
import io
import re
import zipfile
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from liftcalc.base.errors import InputError, Problem
from liftcalc.facts.limits import MOST_COLUMNS, MOST_PARTS, MOST_ROWS, MOST_UNPACKED, MOST_VALUES
from liftcalc.facts.plain import fault_of, read_input, read_text, require_few

_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+")
_DECIMAL_POINT = re.compile(r"[+-]?\d+\.\d+")
_UNCOUNTED = re.compile(rb"(?:</(?:\w+:)?f>|<(?:\w+:)?f\b[^<>]*/>)\s*(?:<v\s*/>|<v>\s*</v>)?\s*</(?:\w+:)?c>")


@dataclass(frozen=True)
class TableRows:
    """Rows that hold something, each with its number in the table, cells by column (CSV: text).

    decimal_comma: whether a comma was read as the decimal mark.
    """

    rows: tuple[tuple[int, dict[str, Any]], ...]
    decimal_comma: bool = False

    @property
    def cells(self) -> list[dict[str, Any]]:
        """The rows without their numbers."""
        return [row for _, row in self.rows]


def table_rows(path: Path, *, is_text: Callable[[str], bool]) -> TableRows:
    """Rows of a ``.csv`` file, or of the first sheet of an ``.xlsx`` file, without blank rows.

    is_text: Whether a column's cells stay as they stand: no decimal comma in them.
    Raises: Another kind of file, no header, a column without a name or named twice, a row of another length than the
      header (a value may have slid to another column), or both decimal marks in one CSV table.
    """
    suffix = path.suffix.lower()
    if suffix == ".csv":
        text = read_text(path)
        head = next((line for line in text.splitlines() if line.strip()), "")
        mark = max((",", ";", "\t"), key=head.count)
        rows = _under_header(path, _csv_cells(path, text, mark), comma_separates=mark == ",")
        return TableRows(rows) if mark == "," else _with_points(path, rows, is_text)
    if suffix == ".xlsx":
        return TableRows(_under_header(path, _xlsx_cells(path)))
    raise InputError.of(str(path), suffix, ".csv or .xlsx")


def _csv_cells(path: Path, text: str, mark: str) -> list[list[Any]]:
    require_few(text.count(mark) + text.count("\n"), MOST_VALUES, f"cells of {path.name}")
    rows = csv.reader(io.StringIO(text, newline=None), delimiter=mark, strict=True)
    try:
        return list(rows)
    except csv.Error as error:
        where = f"{path.name}, row {rows.line_num}"
        raise InputError.of(where, str(error), "a readable CSV table") from None


def _unpacked(path: Path) -> io.BytesIO:
    """A workbook, known to unpack to no more than is read."""
    packed = io.BytesIO(read_input(path))
    with zipfile.ZipFile(packed) as parts:
        require_few(len(parts.infolist()), MOST_PARTS, f"parts of {path.name}")
        size = sum(part.file_size for part in parts.infolist())
        require_few(size, MOST_UNPACKED, f"bytes of {path.name} once unpacked")
        for name in parts.namelist():
            if "worksheets/" in name and _UNCOUNTED.search(parts.read(name)):
                raise InputError.of(
                    f"{path.name}, {name}", "a formula without its value", "values",
                    "Open it in a spreadsheet program and save it again.",
                )  # fmt: skip
    return packed


def _xlsx_cells(path: Path) -> list[list[Any]]:
    import openpyxl
    from openpyxl.utils import get_column_letter

    rows: list[list[Any]] = []
    try:
        book = openpyxl.load_workbook(_unpacked(path), read_only=True, data_only=True)
        page = book[book.sheetnames[0]]
        page.reset_dimensions()  # what the sheet states of its own size need not be so
        for n, row in enumerate(page.iter_rows(values_only=True), start=1):
            if not row:  # left out in the file
                rows += [[]] if n <= MOST_ROWS else []
                continue
            held = max((k for k, cell in enumerate(row, start=1) if cell is not None), default=0)
            if held > MOST_COLUMNS or (held and n > MOST_ROWS):
                raise InputError.of(
                    f"{path.name}, cell {get_column_letter(held)}{n}", row[held - 1],
                    f"nothing beyond {MOST_COLUMNS} columns and {MOST_ROWS:,} rows",
                    "Delete what stands beside or below the table.",
                )  # fmt: skip
            rows.append(list(row[:held]))
    except InputError:
        raise
    except Exception as error:  # a damaged workbook raises whatever its reader stumbles over
        why = " ".join(str(error).split())[:120] or type(error).__name__
        raise InputError.of(str(path), why, "a readable XLSX workbook") from None
    width = max((len(row) for row in rows), default=0)  # a row may end at its last cell
    require_few(width * sum(map(bool, rows)), MOST_VALUES, f"cells of {path.name}")
    return [row + [None] * (width - len(row)) if row else row for row in rows]


def is_empty(cell: Any) -> bool:
    """Whether a cell holds nothing but blanks."""
    return cell is None or (isinstance(cell, str) and not cell.strip())


def _under_header(
    path: Path, table: Sequence[Sequence[Any]], *, comma_separates: bool = False
) -> tuple[tuple[int, dict[str, Any]], ...]:
    """Rows as mappings from column to cell."""
    start = next((n for n, cells in enumerate(table) if not all(map(is_empty, cells))), None)
    if start is None:
        raise InputError.of(str(path), "empty", "a header row and rows below it")
    header = ["" if cell is None else str(cell).strip() for cell in table[start]]
    while not header[-1]:
        header.pop()
    if "" in header or len(set(header)) != len(header):
        odd = sorted(h for h, count in Counter(header).items() if count > 1 or not h)
        raise InputError.of(f"{path.name}, header", odd, "a name for each column, each once")
    if faults := [Problem(f"{path.name}, header", h, w) for h in header if (w := fault_of(h, lines=False))]:
        raise InputError(faults)
    rows: list[tuple[int, dict[str, Any]]] = []
    problems = []
    for n, cells in enumerate(table[start + 1 :], start=start + 2):
        if all(map(is_empty, cells)):
            continue
        beyond = cells[len(header) :]
        if len(cells) < len(header) or not all(map(is_empty, beyond)):
            remedy = "A comma inside a cell needs quotation marks round it."
            problems.append(
                Problem(
                    f"{path.name}, row {n}", f"{len(cells)} cells", f"{len(header)}, as the header",
                    remedy if comma_separates and beyond else "",
                )
            )  # fmt: skip
        row = dict(zip(header, cells, strict=False))
        for column, cell in row.items():
            if allowed := fault_of(cell):
                problems.append(Problem(f"{path.name}, row {n}, {column}", cell, allowed))
            elif isinstance(cell, float):
                row[column] = cell + 0.0  # -0 is 0
        rows.append((n, row))
    if problems:
        raise InputError(problems, source=str(path.parent))
    return tuple(rows)


def _with_points(path: Path, rows: tuple[tuple[int, dict[str, Any]], ...], is_text: Callable[[str], bool]) -> TableRows:
    """The rows with a point for the decimal mark, where the table writes commas."""

    def first(form: re.Pattern[str]) -> str:
        return next(
            (
                f"{path.name}, row {n}, {column}"
                for n, row in rows
                for column, cell in row.items()
                if not is_text(column) and form.fullmatch(cell.strip())
            ),
            "",
        )

    def point_in(column: str, cell: str) -> str:
        number = not is_text(column) and _DECIMAL_COMMA.fullmatch(cell.strip())
        return cell.replace(",", ".") if number else cell

    comma, point = first(_DECIMAL_COMMA), first(_DECIMAL_POINT)
    if comma and point:
        raise InputError.of(comma, "a comma", f"a point for decimals, as in {point}")
    if not comma:
        return TableRows(rows)
    done = tuple((n, {c: point_in(c, cell) for c, cell in row.items()}) for n, row in rows)
    return TableRows(done, decimal_comma=True)
