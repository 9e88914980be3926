"""Rows of a CSV or XLSX table as spreadsheets write it, whatever their language.

The columns of a CSV table are separated by the comma, semicolon or tab that the header has most of.
A comma is read as the decimal mark only where it does not separate the columns and no number in the
table has a point. Sources: RFC 4180 (CSV).
"""

import csv
import io
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from liftcalc.base.errors import InputError, Problem, unreadable

MAX_BYTES = 64 * 1024 * 1024
_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+")
_DECIMAL_POINT = re.compile(r"[+-]?\d+\.\d+")


@dataclass(frozen=True)
class TableRows:
    """Rows that hold something, each with its number in the table, cells by column.

    ``decimal_comma`` tells whether a comma was read as the decimal mark. Cells of a CSV table are
    text as it stands, those of an XLSX table what the workbook holds.
    """

    rows: tuple[tuple[int, dict[str, Any]], ...]
    decimal_comma: bool = False

    @property
    def cells(self) -> list[dict[str, Any]]:
        """The rows without their numbers."""
        return [row for _, row in self.rows]


def read_text(path: Path) -> str:
    """Text of a file in UTF-8, with or without a byte order mark.

    Raises: A file that cannot be read, is too large or is not UTF-8.
    """
    try:
        if path.stat().st_size > MAX_BYTES:
            raise InputError.of(str(path), f"{path.stat().st_size} bytes", f"at most {MAX_BYTES}")
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError.of(
            str(path), f"byte {error.start}", "UTF-8 text", "Save it again as CSV UTF-8 or UTF-8."
        ) from None
    except (OSError, ValueError) as error:  # ValueError: a name no system accepts (null byte)
        raise unreadable(path, error) from None


def table_rows(path: Path, *, is_text: Callable[[str], bool]) -> TableRows:
    """Rows of a ``.csv`` file, or of the first sheet of an ``.xlsx`` file, without blank rows.

    Parameters:
      path: path
      is_text: callable. Whether a column's cells stay as they stand: no decimal comma in them.
    Raises: Another kind of file, no header, a column without a name or named twice, a row of
      another length than the header (a value may have slid to another column), or both decimal
      marks in one CSV table.
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
    try:
        return list(csv.reader(io.StringIO(text, newline=None), delimiter=mark))
    except csv.Error as error:
        raise InputError.of(str(path), str(error), "a readable CSV table") from None


def _xlsx_cells(path: Path) -> list[list[Any]]:
    import openpyxl

    try:
        book = openpyxl.load_workbook(path, read_only=True, data_only=True)
        try:
            page = book[book.sheetnames[0]]
            rows = [list(row) for row in page.iter_rows(values_only=True)]
        finally:
            book.close()
    except Exception as error:  # a damaged workbook raises whatever its reader stumbles over
        why = " ".join(str(error).split())[:120] or type(error).__name__
        raise InputError.of(str(path), why, "a readable XLSX workbook") from None
    width = max((len(row) for row in rows), default=0)  # a row may end at its last cell
    return [row + [None] * (width - len(row)) for row in rows]


def _empty(cell: Any) -> bool:
    return cell is None or (isinstance(cell, str) and not cell.strip())


def _under_header(
    path: Path, table: Sequence[Sequence[Any]], *, comma_separates: bool = False
) -> tuple[tuple[int, dict[str, Any]], ...]:
    """Rows as mappings from column to cell."""
    start = next((n for n, cells in enumerate(table) if not all(map(_empty, cells))), None)
    if start is None:
        raise InputError.of(str(path), "empty", "a header row and rows below it")
    header = ["" if cell is None else str(cell).strip() for cell in table[start]]
    while not header[-1]:
        header.pop()
    if "" in header or len(set(header)) != len(header):
        odd = sorted({h for h in header if header.count(h) > 1 or not h})
        raise InputError.of(f"{path.name}, header", odd, "a name for each column, each once")
    rows: list[tuple[int, dict[str, Any]]] = []
    problems = []
    for n, cells in enumerate(table[start + 1 :], start=start + 2):
        if all(map(_empty, cells)):
            continue
        beyond = cells[len(header) :]
        if len(cells) < len(header) or not all(map(_empty, beyond)):
            remedy = "A comma inside a cell needs quotation marks round it."
            problems.append(
                Problem(
                    f"{path.name}, row {n}", f"{len(cells)} cells", f"{len(header)}, as the header",
                    remedy if comma_separates and beyond else "",
                )
            )  # fmt: skip
        rows.append((n, dict(zip(header, cells, strict=False))))
    if problems:
        raise InputError(problems, source=str(path.parent))
    return tuple(rows)


def _with_points(
    path: Path, rows: tuple[tuple[int, dict[str, Any]], ...], is_text: Callable[[str], bool]
) -> TableRows:
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

    def points(row: dict[str, Any]) -> Iterator[tuple[str, Any]]:
        for column, cell in row.items():
            number = not is_text(column) and _DECIMAL_COMMA.fullmatch(cell.strip())
            yield column, cell.replace(",", ".") if number else cell

    comma, point = first(_DECIMAL_COMMA), first(_DECIMAL_POINT)
    if comma and point:
        raise InputError.of(comma, "a comma", f"a point for decimals, as in {point}")
    if not comma:
        return TableRows(rows)
    return TableRows(tuple((n, dict(points(row))) for n, row in rows), decimal_comma=True)
