"""The table of overhead lines that a job names, the swing of a conductor, and a line said dead."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import pytest

from liftcalc.base.checks import Check, verdict
from liftcalc.base.errors import InputError
from liftcalc.clearance.powerline import TABLES, blow_out_m, conductor_swing_deg
from liftcalc.facts.job import ClearanceRule
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.lift_class import load_over_lines

Assess = Callable[..., LiftAssessment]
Row = Callable[[Iterable[Check], str], Check]
WIRE = {"diameter_mm": 20.0, "mass_kg_m": 1.0, "wind_m_s": 20.0}
PAPER = {"document": "Isolation certificate 4", "who": "network operator", "date": "2026-12-01"}


def lines(assess: Assess, row: Row, table: str, **changes: Any) -> tuple[Check, Check]:
    """Rows of line-33 of L1 on both sheets."""

    def change(job: Any, lift: Any) -> None:
        job["rules"]["clearance"]["power_line_table"] = table
        job["site"]["overhead_lines"][0].update(changes)

    found = assess("L1", change)
    checks = found.surroundings.checks
    return row(checks, "line-line-33"), row(found.survey, "survey-line-line-33")


def near(level: float) -> list[list[float]]:
    """A line across the site, beside the stand of L1."""
    return [[-5.0, 16.0, level], [65.0, 16.0, level]]


@pytest.mark.parametrize(("table", "kept"), [("HSE GS6", 3.0), ("30 CFR 77.807-2", 3.048), ("DIN VDE 0105-100", 3.0)])
def test_each_table_sets_its_own_distance(assess: Assess, row: Row, table: str, kept: float) -> None:
    swing = blow_out_m(1.2, 90.0) if table.startswith("DIN") else 0.0
    for check in lines(assess, row, table):
        assert check.limit == pytest.approx(kept + swing)
        assert check.reference.startswith(table)


def test_the_facts_say_where_each_table_ends() -> None:
    for table in TABLES.values():
        if table.name != "29 CFR 1926.1411 Table T":  # for travelling only: no job may choose it
            rule = ClearanceRule(reference="-", power_line_table=table.name)  # type: ignore[arg-type]
            assert rule.power_line_up_to_kV == table.limit_kV[-1]
    with pytest.raises(ValueError, match="power_line_table"):
        ClearanceRule(reference="-", power_line_table="29 CFR 1926.1411 Table T")  # type: ignore[arg-type]


def test_a_stated_conductor_swings_less_than_level_and_any_table_then_adds_it(assess: Assess, row: Row) -> None:
    level = lines(assess, row, "DIN VDE 0105-100")[0].limit
    angle = conductor_swing_deg(20.0, diameter_mm=20.0, mass_kg_m=1.0)
    assert 0 < angle < 90
    for table, kept in (("DIN VDE 0105-100", 3.0), ("29 CFR 1926.1408 Table A", 3.048)):
        check, _ = lines(assess, row, table, conductor=WIRE)
        assert check.limit == pytest.approx(kept + blow_out_m(1.2, angle))
        assert "blown out" in check.reference
        assert check.limit < level + 0.1
    assert level == pytest.approx(3.0 + 2 * 1.2 * 0.5**0.5)


def test_a_conductor_worked_for_less_wind_than_the_lift_is_refused(assess: Assess, row: Row) -> None:
    with pytest.raises(InputError, match=r"conductor\.wind_m_s is 5; allowed: at least 7"):
        lines(assess, row, "DIN VDE 0105-100", conductor={**WIRE, "wind_m_s": 5.0})


def test_an_unknown_voltage_holds_only_where_the_table_says_so_and_on_condition(assess: Assess, row: Row) -> None:
    for check in lines(assess, row, "29 CFR 1926.1408 Table A", voltage_kV=None):
        assert check.status == "no_data"
    far = [[-5.0, -12.0, 13.2], [65.0, -12.0, 13.4]]
    for check in lines(assess, row, "DIN VDE 0105-100", voltage_kV=None, points=far):
        assert check.status == "condition"
        assert check.limit == pytest.approx(5.0 + blow_out_m(1.2, 90.0))
        assert "at most 380 kV" in check.condition
    low = lines(assess, row, "DIN VDE 0105-100", voltage_kV=None, points=near(20.0))[0]
    assert low.status == "over"


def test_a_line_said_dead_is_passed_near_by_only_on_the_condition_of_its_document(assess: Assess, row: Row) -> None:
    table = "29 CFR 1926.1408 Table A"
    over, plan = lines(assess, row, table, points=[[-5.0, 6.0, 13.2], [65.0, 6.0, 13.4]])
    assert (over.status, plan.status) == ("over", "within")
    check, plan = lines(assess, row, table, points=[[-5.0, 6.0, 13.2], [65.0, 6.0, 13.4]], dead=PAPER)
    assert check.status == "condition"
    assert check.limit == 0.5
    for word in PAPER.values():
        assert word in check.condition
    assert verdict([check, plan]).status == "condition"
    far, _ = lines(assess, row, table, dead=PAPER)  # as far as the table asks: no condition
    assert (far.status, far.condition) == ("within", "")
    unknown, _ = lines(assess, row, table, dead=PAPER, voltage_kV=None)
    assert unknown.status == "condition"
    through, _ = lines(assess, row, table, points=near(14.0), dead=PAPER)
    assert through.status == "over"  # dead or not, nothing may touch it


def test_a_load_over_a_line_and_between_two_is_found_in_plan(assess: Assess) -> None:
    def over(*points: list[list[float]]) -> tuple[str, ...]:
        def change(job: Any, lift: Any) -> None:
            line = job["site"]["overhead_lines"][0]
            job["site"]["overhead_lines"] = [{**line, "id": f"line-{k}", "points": p} for k, p in enumerate(points)]

        a = assess("L1", change)
        return load_over_lines(a.setup, a.path)

    def east_west(north: float) -> list[list[float]]:
        return [[-5.0, north, 40.0], [65.0, north, 40.0]]

    assert over(east_west(2.0)) == ()  # L1 goes from 31.5 to 10 m north
    assert over(east_west(20.0)) == ("line-0",)
    assert over(east_west(2.0), east_west(38.0)) == ("between line-0 and line-1",)
    assert over(east_west(2.0), east_west(1.0)) == ()  # both on one side
