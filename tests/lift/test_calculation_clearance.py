"""The clearance calculation, read as a checker does: nearest points, what is taken off, limit."""

from __future__ import annotations

from typing import Any

import pytest
from demo_changes import assessed as changed
from printing import rows_by_title
from test_printed_calculation import wrong_rows

from liftcalc.base.checks import Check
from liftcalc.facts.job import Job
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_clearance import clearance_sections
from liftcalc.records.blocks import in_units


def tank(east: float, north: float, *, top: float = 8.0, size: float = 1.0) -> dict[str, Any]:
    """An obstacle that stands alone on the site."""
    corners = [(0, 0), (size, 0), (size, size), (0, size)]
    return {
        "id": "tank",
        "kind": "tank",
        "polygon": [[east + x, north + y] for x, y in corners],
        "base_level_m": 3.0,
        "top_level_m": top,
    }


VIA = [{"slew_deg": 150.0, "radius_m": 12.0, "level_m": 6.0}]
LIFTS: list[tuple[str, dict[str, Any]]] = [
    *((f"L{n}", {}) for n in range(1, 9)),
    ("L8", {"persons": True}),
    ("L1", {"via": VIA}),
    ("L1", {"slew_way": "anticlockwise"}),
    ("L3", {"load__cg_x_m": 0.3, "load__cg_error_x_m": 0.1}),
    ("L6", {"rigging__beam": None, "rigging__sling": "wire-6m-20"}),
    ("L7", {"load__cg_y_m": 0.4, "stand__tilt_x_percent": 1.5}),
    ("L1", {"obstacle": tank(30.0, 26.0)}),  # in the load's way: they meet
    ("L1", {"obstacle": tank(31.5, 22.2, top=20.0)}),  # boom over it, tail beside it
    ("L1", {"obstacle": tank(35.3, 16.0, top=6.0)}),
]


def made(lift: LiftAssessment) -> tuple[Calculation, list[Check], list[str]]:
    ids = ("clearance-", "zone-", "line-", "pinch-gap")
    checks = [c for c in lift.lift if c.id.startswith(ids)]
    calc = Calculation()
    return calc, checks, clearance_sections(calc, lift, checks)


@pytest.mark.parametrize(("lift", "change"), LIFTS)
def test_every_clearance_is_reached_from_its_inputs(demo: Job, lift: str, change: dict[str, Any]) -> None:
    calc, checks, done = made(changed(demo, lift, **change))
    assert calc.mismatches == []
    assert done == [c.id for c in checks]
    assert set(calc.reached) == set(done)
    assert wrong_rows(in_units(calc.block(), "metric"), rows_by_title(checks)) == []


def test_the_kiosk_passes_the_flood_wall_by_the_printed_points(demo: Job) -> None:
    lift = changed(demo, "L7")
    calc = Calculation()
    clearance_sections(calc, lift, [c for c in lift.lift if c.id == "clearance-load"])
    section = calc.block()["sections"][-1]
    assert section["title"] == "Clearance, load to flood-wall"
    results = {row["formula"].partition(" ")[0]: row["result"] for row in section["rows"][:-1]}
    assert results["y_2"] == "28.0000 m"  # face of the wall on the survey, easting to northing
    assert results["d"] == "0.3099 m"
    apart = [float(results[f"{a}_1"].split()[0]) - float(results[f"{a}_2"].split()[0]) for a in "xyz"]
    assert sum(v * v for v in apart) ** 0.5 == pytest.approx(0.312, abs=2e-3)


def test_the_limit_of_a_line_names_its_row_of_the_table(demo: Job) -> None:
    calc, _, _ = made(changed(demo, "L1"))
    rows = [r for s in calc.block()["sections"] for r in s["rows"] if r["formula"] == "d_0"]
    (line,) = [r for r in rows if "1926.1408" in r["source"]]
    assert line["result"] == "3.048 m"
    assert "33 kV, row above 0 to 50 kV, 10 ft" in line["source"]
