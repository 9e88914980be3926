"""Cells of an XLSX sheet, whatever a workbook may hold.

Contents: :func:`xlsx_cells`. Sources: none needed.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from liftcalc.base.errors import InputError

__all__ = ["xlsx_cells"]


def xlsx_cells(path: Path, sheet: str | None = None) -> list[list[Any]]:
    """Values of every row of a sheet; of the first sheet when none is named.

    Raises: No workbook that can be read, or no such sheet in it.
    """
    import openpyxl

    try:
        book = openpyxl.load_workbook(path, read_only=True, data_only=True)
        try:
            names = list(book.sheetnames)
            if sheet is not None and sheet not in names:
                raise InputError.of("sheet", sheet, ", ".join(names), source=str(path))
            page = book[sheet if sheet is not None else names[0]]
            return [list(row) for row in page.iter_rows(values_only=True)]
        finally:
            book.close()
    except InputError:
        raise
    except Exception as error:  # a damaged workbook raises whatever its reader stumbles over
        why = " ".join(str(error).split())[:120] or type(error).__name__
        raise InputError.of(str(path), why, "a readable XLSX workbook") from None
