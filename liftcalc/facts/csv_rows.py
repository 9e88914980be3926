"""Rows of a CSV table as spreadsheets write it, whatever their language.

Contents: :func:`csv_rows`.

Columns are parted by the comma, semicolon or tab that the header has most of. A comma is read as
the decimal mark only where it does not part the columns and no number in the table has a point.
Sources: RFC 4180 (CSV).
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from pathlib import Path

from liftcalc.base.errors import InputError, Problem

__all__ = ["csv_rows"]

_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+")
_DECIMAL_POINT = re.compile(r"[+-]?\d+\.\d+")


def csv_rows(
    path: Path, text: str, *, is_text: Callable[[str], bool]
) -> tuple[list[tuple[int, dict[str, str]]], bool]:
    """Rows of a table with their numbers, and whether a comma was read as its decimal mark.

    Columns for which *is_text* is true keep their cells as they stand. Blank rows are passed over.

    Raises: No header, a column without a name or named twice, a row of another length than the
      header (a value may have slid to another column), or both decimal marks in one table.
    """
    lines = text.splitlines()
    head = lines[0] if lines else ""
    mark = max((",", ";", "\t"), key=head.count)
    try:
        table = list(csv.reader(lines, delimiter=mark))
    except csv.Error as error:
        raise InputError.of(str(path), str(error), "a readable CSV table") from None
    header = [cell.strip() for cell in table[0]] if table else []
    if not any(header):
        raise InputError.of(str(path), "empty", "a header row and rows below it")
    while not header[-1]:
        header.pop()
    if "" in header or len(set(header)) != len(header):
        odd = sorted({h for h in header if header.count(h) > 1 or not h})
        raise InputError.of(f"{path.name}, header", odd, "a name for each column, each once")
    rows, problems = [], []
    for n, cells in enumerate(table[1:], start=2):
        if not any(cell.strip() for cell in cells):
            continue
        full, beyond = cells[: len(header)], cells[len(header) :]
        if len(full) < len(header) or any(cell.strip() for cell in beyond):
            remedy = "A comma inside a cell needs quotation marks round it."
            problems.append(
                Problem(
                    f"{path.name}, row {n}",
                    f"{len(cells)} cells",
                    f"{len(header)}, as the header",
                    remedy if mark == "," and beyond else "",
                )
            )
        rows.append((n, dict(zip(header, full, strict=False))))
    if problems:
        raise InputError(problems, source=str(path.parent))
    found = {
        form: next(
            (
                f"{path.name}, row {n}, {column}"
                for n, row in rows
                for column, cell in row.items()
                if not is_text(column) and form.fullmatch(cell.strip())
            ),
            "",
        )
        for form in (_DECIMAL_COMMA, _DECIMAL_POINT)
    }
    comma = mark != "," and bool(found[_DECIMAL_COMMA])
    if comma and found[_DECIMAL_POINT]:
        raise InputError.of(
            found[_DECIMAL_COMMA], "a comma", f"a point for decimals, as in {found[_DECIMAL_POINT]}"
        )
    if comma:
        rows = [
            (
                n,
                {
                    column: cell.replace(",", ".")
                    if not is_text(column) and _DECIMAL_COMMA.fullmatch(cell.strip())
                    else cell
                    for column, cell in row.items()
                },
            )
            for n, row in rows
        ]
    return rows, comma
