"""Tables are read by one reader: what may have slid is refused in CSV and XLSX alike."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import openpyxl
import pytest

from liftcalc.base.errors import InputError
from liftcalc.facts.table_rows import TableRows, table_rows


def read(path: Path) -> TableRows:
    return table_rows(path, is_text=lambda column: column == "id")


def workbook(path: Path, rows: list[list[Any]]) -> Path:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    book.save(path)
    return path


def test_csv_and_xlsx_give_the_same_rows_with_their_numbers(tmp_path: Path) -> None:
    text = tmp_path / "a.csv"
    text.write_text('id;mass_t\r\n\r\n"1,5";2,5\r\n;3\r\n', encoding="utf-8-sig")
    got = read(text)
    assert got.rows == ((3, {"id": "1,5", "mass_t": "2.5"}), (4, {"id": "", "mass_t": "3"}))
    assert got.decimal_comma
    sheet = workbook(
        tmp_path / "a.xlsx", [[], ["id", "mass_t", None], [None, None], ["1,5", 2.5], [None, 3]]
    )
    assert read(sheet).rows == ((4, {"id": "1,5", "mass_t": 2.5}), (5, {"id": None, "mass_t": 3}))


def test_a_quoted_cell_may_hold_a_line_break(tmp_path: Path) -> None:
    text = tmp_path / "a.csv"
    text.write_text('id,mass_t\n"two\nlines",2\n', encoding="utf-8")
    assert read(text).cells == [{"id": "two\nlines", "mass_t": "2"}]


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([["id", "mass_t"], ["a", 1, "beyond"]], "row 2 is '3 cells'; allowed: 2, as the header"),
        ([["id", None, "mass_t"], ["a", None, 1]], "a name for each column, each once"),
        ([["id", "id"], ["a", 1]], "a name for each column, each once"),
        ([], "a header row and rows below it"),
    ],
)
def test_an_xlsx_table_that_may_have_slid_is_refused(
    tmp_path: Path, rows: list[list[Any]], words: str
) -> None:
    with pytest.raises(InputError, match=words):
        read(workbook(tmp_path / "a.xlsx", rows))


def test_other_files_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"\.csv or \.xlsx"):
        read(tmp_path / "a.ods")
