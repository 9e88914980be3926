"""The register is derived from the folders; broken ones are listed, not left out."""

from __future__ import annotations

import csv
import html
import io
import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from liftcalc.base.errors import InputError
from liftcalc.base.text import CAUTION_LINE, INVENTED_LINE
from liftcalc.records.manifest import MANIFEST_NAME, Manifest
from liftcalc.records.register import COLUMNS, register_csv, register_html, safe_cell, scan, select
from liftcalc.records.verify import verify_record


@pytest.fixture
def three(copied: Path, made_chain: tuple[Path, ...], forge: Callable[..., Manifest]) -> Path:
    """Three records of one sheet: the second revises the first, the third has a broken manifest."""
    archive = copied.parent
    first = verify_record(copied).manifest
    assert first is not None
    for number, name in enumerate(("second", "third")):
        folder = archive / "sub" / name
        shutil.copytree(copied, folder)
        forge(
            folder,
            record=name,
            revises=first.link,
            revision="BC"[number],
            prepared_utc=f"2026-0{number + 5}-01T00:00:00Z",
            lift="=1+1" if number else "L2",
        )
    manifest = archive / "sub" / "third" / MANIFEST_NAME
    manifest.write_bytes(manifest.read_bytes().replace(b"2026-06", b"2026-07"))
    return archive


def test_states_follow_from_the_records_found(three: Path, copied: Path) -> None:
    states = {e.record: e.state for e in scan(three)}
    assert states == {copied.name: "superseded", "second": "prepared", "third": "broken"}
    broken = next(e for e in scan(three) if e.state == "broken")
    assert "changed after it was sealed" in broken.governing


def test_a_sheet_that_builds_on_a_superseded_one_says_so(
    tmp_path: Path, made_chain: tuple[Path, ...], forge: Callable[..., Manifest]
) -> None:
    for folder in made_chain:
        shutil.copytree(folder, tmp_path / folder.name)
    assert {e.state for e in scan(tmp_path)} == {"prepared"}
    first = verify_record(made_chain[0]).manifest
    assert first is not None
    again = tmp_path / "again"
    shutil.copytree(made_chain[0], again)
    forge(again, record="again", revises=first.link, revision="B")
    states = {e.record: e.state for e in scan(tmp_path)}
    assert states["again"] == "prepared"
    assert states[made_chain[0].name] == "superseded"
    assert {states[f.name] for f in made_chain[1:]} == {"parent superseded"}
    assert len(select(scan(tmp_path), state="parent superseded")) == len(made_chain) - 1


def test_the_quick_check_of_a_manifest_agrees_with_the_full_one(copied: Path) -> None:
    assert scan(copied.parent)[0].state == "prepared"
    path = copied / MANIFEST_NAME
    data = path.read_bytes()
    for place in range(0, len(data), 7):
        path.write_bytes(data[:place] + bytes([data[place] ^ 1]) + data[place + 1 :])
        assert scan(copied.parent)[0].state == "broken", place
        assert verify_record(copied).manifest is None, place


@pytest.mark.parametrize(
    ("filters", "count"),
    [
        ({}, 3),
        ({"lift": "L2"}, 2),
        ({"lift": "L9"}, 0),
        ({"state": "superseded"}, 1),
        ({"state": "broken"}, 1),
        ({"verdict": "within"}, 2),
        ({"verdict": "over"}, 0),
        ({"template": "leg_layout"}, 2),
        ({"job": "riverside-pumps", "kind": "sheet"}, 2),
        ({"until": "2026-05-01"}, 2),
        ({"since": "2026-05-01", "until": "2026-05"}, None),
        ({"since": "2026-05-01T00:00:00Z", "until": "2026-05-02"}, 1),
        ({"since": "yesterday"}, None),
        ({"state": "lost"}, None),
    ],
)
def test_filters(three: Path, filters: dict[str, str], count: int | None) -> None:
    if count is None:
        with pytest.raises(InputError, match="allowed: "):
            select(scan(three), **filters)
    else:
        assert len(select(scan(three), **filters)) == count


def test_the_csv_reads_back_and_holds_no_formula(three: Path) -> None:
    rows = list(csv.reader(io.StringIO(register_csv(scan(three)))))
    assert rows[0] == list(COLUMNS)
    assert len(rows) == 4
    assert not any(cell.startswith(("=", "+", "@")) for row in rows for cell in row)


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "\t=1"])
def test_a_cell_that_a_spreadsheet_would_calculate_becomes_text(text: str) -> None:
    assert safe_cell(text) == f"'{text}"
    assert safe_cell("L1 = x") == "L1 = x"


def test_the_page_links_to_the_sheets_and_escapes(three: Path, copied: Path) -> None:
    page = register_html(scan(three), title="<b>", prefix="../x/").decode()
    assert f'href="../x/{copied.name}/sheet.html"' in page
    assert "<title>&lt;b&gt;</title>" in page
    assert "<script" not in page
    assert "3 records" in page
    assert html.escape(CAUTION_LINE) in page
    assert INVENTED_LINE in page
    assert "leg_layout" not in re.sub(r"<a .*?</a>|<title>.*?</title>", "", page)


def test_links_and_unfinished_folders_are_not_followed(three: Path, tmp_path: Path) -> None:
    (three / "link").symlink_to(three / "sub")
    (three / ".part-x").mkdir()
    shutil.copyfile(three / "sub" / "second" / MANIFEST_NAME, three / ".part-x" / MANIFEST_NAME)
    assert len(scan(three)) == 3


def test_a_folder_that_is_not_there_is_one_clear_error(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="an existing folder of records"):
        scan(tmp_path / "nothing")
