"""What public texts ask of a plan: each row is answered in the demo's sheets, or says why not."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from liftcalc.base.resources import CHAIN, SHEET_TITLES, demo_job_path
from liftcalc.facts.io import load_job
from liftcalc.plan.tables import REQUIREMENTS, requirement_rows
from liftcalc.plan.texts import MISSING
from liftcalc.records.html import blocks_of
from liftcalc.records.verify import require_record
from liftcalc.run.batch import BatchLift, run_lift

ROWS = REQUIREMENTS


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[Any]]:
    """Blocks of each sheet of the demo's first lift, by the sheet's title."""
    job = load_job(demo_job_path()).for_lift("L1")
    task = BatchLift("L1", "x", job, tmp_path_factory.mktemp("r"))
    rows = run_lift(task)
    assert [row.template for row in rows] == list(CHAIN)
    assert all(row.folder for row in rows), [row.message for row in rows]
    return {
        SHEET_TITLES[row.template]: list(blocks_of(require_record(Path(row.folder)).json("sheet.ipynb")))
        for row in rows
    }


def test_there_are_96_rows_each_with_an_answer_or_a_reason() -> None:
    assert [int(r["no"]) for r in ROWS] == list(range(1, 97))
    for row in ROWS:
        assert bool(row["outside"]) != bool(row["sheet"] and row["table"]), row["no"]
        assert row["asks"], row["no"]
        assert row["source"], row["no"]
    assert [r[-1] for r in requirement_rows()].count("") == 0


@pytest.mark.parametrize("row", [r for r in ROWS if not r["outside"]], ids=lambda r: r["no"])
def test_the_demo_answers(row: dict[str, str], sheets: dict[str, list[Any]]) -> None:
    tables = [b for b in sheets[row["sheet"]] if str(b.get("title", "")).startswith(row["table"])]
    assert tables, f"{row['sheet']} has no table {row['table']!r}"
    said = [cells for table in tables for cells in table["rows"]]
    found = [cells for cells in said if any(row["row"] in cell for cell in cells)]
    assert found, f"{row['table']} says nothing of {row['row']!r}"
    assert all(cells[1].strip() not in ("", MISSING, "not stated") for cells in found), found


def test_rows_outside_are_printed_with_their_reason(sheets: dict[str, list[Any]]) -> None:
    printed = "\n".join(cells[-1] for b in sheets["Lift plan"] for cells in b.get("rows", ()) if len(cells) == 5)
    for row in ROWS:
        if row["outside"]:
            assert f"outside this tool's scope: {row['outside']}" in printed
