"""Tables are read by one reader: what may have slid is refused in CSV and XLSX alike."""

from __future__ import annotations

import zipfile
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from liftcalc.base.errors import InputError
from liftcalc.facts import limits
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
    sheet = workbook(tmp_path / "a.xlsx", [[], ["id", "mass_t", None], [None, None], ["1,5", 2.5], [None, 3]])
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
def test_an_xlsx_table_that_may_have_slid_is_refused(tmp_path: Path, rows: list[list[Any]], words: str) -> None:
    with pytest.raises(InputError, match=words):
        read(workbook(tmp_path / "a.xlsx", rows))


def test_other_files_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"\.csv or \.xlsx"):
        read(tmp_path / "a.ods")


def repacked(path: Path, old: bytes, new: bytes) -> Path:
    out = path.with_name(f"re-{path.name}")
    with zipfile.ZipFile(path) as given, zipfile.ZipFile(out, "w") as made:
        for name in given.namelist():
            data = given.read(name)
            assert "sheet1" not in name or old in data
            made.writestr(name, data.replace(old, new) if "sheet1" in name else data)
    return out


def test_no_row_is_lost_by_what_a_sheet_states_of_its_size(tmp_path: Path) -> None:
    rows = [["id", "mass_t"], ["a", 1], ["b", 2], ["c", 3]]
    false = repacked(workbook(tmp_path / "a.xlsx", rows), b'ref="A1:B4"', b'ref="A1:A2"')
    assert [row["id"] for row in read(false).cells] == ["a", "b", "c"]
    assert read(false).cells[2] == {"id": "c", "mass_t": 3}


def test_a_formula_whose_value_is_not_stored_is_refused(tmp_path: Path) -> None:
    path = workbook(tmp_path / "a.xlsx", [["id", "mass_t"], ["a", "=1+1"]])
    with pytest.raises(InputError, match="a formula without its value"):
        read(path)
    stored = repacked(path, b"<v></v>", b"<v>2</v>") if b"<v></v>" in sheet(path) else repacked(
        path, b"<v />", b"<v>2</v>")  # fmt: skip
    assert read(stored).cells == [{"id": "a", "mass_t": 2}]


def sheet(path: Path) -> bytes:
    with zipfile.ZipFile(path) as given:
        return given.read("xl/worksheets/sheet1.xml")


def test_what_stands_far_beyond_a_table_is_refused_by_its_cell(tmp_path: Path) -> None:
    def far(row: int, column: int) -> Path:
        book = openpyxl.Workbook()
        book.active["A1"], book.active["A2"] = "id", "a"
        book.active.cell(row, column, "x")
        book.save(tmp_path / "far.xlsx")
        return tmp_path / "far.xlsx"

    last = limits.MOST_COLUMNS
    with pytest.raises(InputError, match="2 is '200 cells'; allowed: 1"):
        read(far(2, last))
    with pytest.raises(InputError, match="cell GS2 is 'x'"):
        read(far(2, last + 1))
    assert len(read(far(limits.MOST_ROWS, 1)).rows) == 2
    with pytest.raises(InputError, match="cell A100001 is 'x'"):
        read(far(limits.MOST_ROWS + 1, 1))


@pytest.mark.parametrize("cell", [1e-308, 1e305, "a\u202eb", "x" * 4001])
def test_a_doubtful_cell_is_refused_by_row_and_column(tmp_path: Path, cell: Any) -> None:
    with pytest.raises(InputError, match=r"row 3, mass_t is .{,130}; allowed: "):
        read(workbook(tmp_path / "a.xlsx", [["id", "mass_t"], ["a", 1], ["b", cell]]))
    with pytest.raises(InputError, match="header is"):
        read(workbook(tmp_path / "b.xlsx", [["id", "a\u202eb"], ["a", 1]]))


def test_a_quote_that_is_never_closed_swallows_no_row(tmp_path: Path) -> None:
    text = tmp_path / "a.csv"
    text.write_text('id,note\na,"one\nb,two\nc,three\n', encoding="utf-8")
    with pytest.raises(InputError, match="row 4 is 'unexpected end of data'"):
        read(text)
