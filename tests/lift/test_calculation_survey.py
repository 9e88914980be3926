"""The calculation of the site survey, read as a checker does, for every check and many places."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import pytest
from shapely.geometry import LineString, Point, Polygon
from test_calculation_rigging import rows_by_title
from test_printed_calculation import wrong_rows

from liftcalc.base.checks import Check
from liftcalc.lift import calculation_plan, calculation_survey
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_survey import survey_calculation
from liftcalc.records.blocks import in_units

Assess = Callable[..., LiftAssessment]
Change = Callable[[Any, Any], object]
LIFTS = [f"L{n}" for n in range(1, 9)]


def every(monkeypatch: pytest.MonkeyPatch, a: LiftAssessment) -> Calculation:
    """The calculation with a section for each check, not only for those near their limit."""
    monkeypatch.setattr(calculation_survey, "worked", list)
    return survey_calculation(a, a.survey)


def followed(calc: Calculation, checks: Iterable[Check]) -> None:
    assert calc.mismatches == []
    block = in_units(calc.block(), "metric")
    assert wrong_rows(block, rows_by_title(list(checks))) == []


def with_numbers(checks: Iterable[Check]) -> set[str]:
    return {c.id for c in checks if c.limit is not None}


@pytest.mark.parametrize("lift", LIFTS)
def test_every_check_of_a_demo_lift_is_reached(assess: Assess, lift: str, monkeypatch: pytest.MonkeyPatch) -> None:
    a = assess(lift)
    calc = every(monkeypatch, a)
    assert set(calc.reached) == with_numbers(a.survey)
    followed(calc, a.survey)


def turned(heading: float) -> Change:
    return lambda job, lift: lift["stand"].update(heading_deg=heading)


def boundary(north: float) -> Change:
    def change(job: Any, lift: Any) -> None:
        job["site"]["boundary"] = [[0.0, 0.0], [60.0, 0.0], [60.0, north], [0.0, north]]

    return change


def tree(*corners: tuple[float, float]) -> Change:
    def change(job: Any, lift: Any) -> None:
        poplar = next(o for o in job["site"]["obstacles"] if o["id"] == "poplar")
        poplar["polygon"] = [list(c) for c in corners]

    return change


def slope(job: Any, lift: Any) -> None:
    crest = [[20.0, 10.0], [50.0, 11.0]]
    data = {"id": "bank-edge", "crest": crest, "height_m": 1.5, "angle_deg": 30.0}
    job["site"]["slopes"] = [data]


def service_end(job: Any, lift: Any) -> None:
    """The culvert ends beside the mat: its square end, not its side, is nearest."""
    culvert = next(s for s in job["site"]["services"] if s["id"] == "culvert")
    culvert["line"] = [[19.0, 10.0], [25.0, 25.0]]


CHANGES: dict[str, Change] = {
    **{f"heading {h}": turned(h) for h in (17.0, 90.0, 135.0, 200.0, 305.5)},
    "mat over the boundary": boundary(20.9),
    "tree beside the beam": tree((34.1, 18.4), (34.9, 18.4), (34.9, 18.8), (34.1, 18.8)),
    "tree under the beam": tree((34.0, 16.5), (35.0, 16.5), (35.0, 16.9), (34.0, 16.9)),
    "tree with a point": tree((37.0, 15.0), (38.0, 14.5), (38.0, 15.5)),
    "crest of a slope": slope,
    "end of a service": service_end,
    "far line": lambda job, lift: job["site"]["overhead_lines"][0].update(
        points=[[61.0, -20.0, 13.2], [80.0, 45.0, 13.2]]
    ),
}


@pytest.mark.parametrize("change", CHANGES)
def test_every_check_is_reached_wherever_the_crane_stands(
    assess: Assess, change: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    a = assess("L1", CHANGES[change])
    calc = every(monkeypatch, a)
    assert set(calc.reached) == with_numbers(a.survey)
    followed(calc, a.survey)


def test_only_what_governs_or_comes_near_is_worked_and_packing_and_lines_always(assess: Assess) -> None:
    a = assess("L1")
    calc = survey_calculation(a, a.survey)
    assert set(calc.reached) == {"set-back-forebay", "packing", "survey-line-line-33"}
    near = assess("L1", boundary(20.9))
    reached = survey_calculation(near, near.survey).reached
    assert {c.id for c in near.survey if c.status == "over"} <= set(reached)


def test_a_voltage_or_voids_unknown_are_named_without_numbers(assess: Assess) -> None:
    def unknown(job: Any, lift: Any) -> None:
        job["site"]["overhead_lines"][0]["voltage_kV"] = None
        for ground in job["site"]["ground"]:
            ground["voids"] = "unknown"

    a = assess("L1", unknown)
    missing = [c for c in a.survey if c.status == "no_data"]
    assert {c.id.split("-")[0] for c in missing} == {"survey", "voids"}
    calc = survey_calculation(a, a.survey)
    assert calc.mismatches == []
    titles = [s["title"] for s in calc.block()["sections"]]
    assert {c.title for c in missing} <= set(titles)
    assert not {c.id for c in missing} & set(calc.reached)


def test_a_distance_that_touches_is_named_so(assess: Assess) -> None:
    """An obstacle under the mat: no corner is nearest, the area in common is named."""
    inside = tree((34.0, 20.3), (34.6, 20.3), (34.6, 20.9), (34.0, 20.9))
    a = assess("L1", inside)
    calc = survey_calculation(a, a.survey)
    rows = [row for section in calc.block()["sections"] for row in section["rows"]]
    (touch,) = [row for row in rows if row["formula"] == "they overlap or touch in plan"]
    assert touch["result"] == "0.360 m² in common"
    assert calc.reached["mat-poplar"] == "–"


@pytest.mark.parametrize(
    "shape",
    [Polygon([(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0)]), LineString([(0.0, 0.0), (2.0, 1.0), (5.0, 1.0)])],
)
@pytest.mark.parametrize("at", [(-2.0, -1.0), (2.0, 5.0), (6.0, 1.5), (9.0, 9.0)])
def test_the_nearest_side_of_a_shape_is_found(shape: Any, at: tuple[float, float]) -> None:
    distance = Point(at).distance(shape)
    calc = Calculation()
    calc.section(None, "test")
    calc.given("E_0", "easting of the slew centre", at[0], "m", "test")
    calc.given("N_0", "northing of the slew centre", at[1], "m", "test")
    line = shape if isinstance(shape, LineString) else LineString(shape.exterior)
    calculation_plan.point_rows(calc, line, "shape")
    assert calc.mismatches == []
    assert calc.value("d_n") == pytest.approx(distance)
