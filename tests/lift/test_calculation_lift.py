"""The lift check's calculation of its own checks, read as a checker does."""

from __future__ import annotations

import copy
import json
import sys
from pathlib import Path
from typing import Any

import pytest
from demo_changes import assessed as changed
from printing import rows_by_title
from test_printed_calculation import wrong_rows

from liftcalc.base.checks import Check
from liftcalc.facts.io import parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift import calculation_lift
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_gross import gross_section
from liftcalc.lift.calculation_hook import setting_section
from liftcalc.lift.calculation_lift import NEAR, SECTIONS, lift_calculation, worked
from liftcalc.lift.calculation_place import place_section
from liftcalc.records.blocks import in_units

sys.path.insert(0, str(Path(__file__).parents[1] / "facts"))
from other_job import other_job

PERSONS: dict[str, Any] = {"persons": True}
MEAN: dict[str, Any] = {"wind_basis": "at 10 m mean", "wind_m_s": 4.0}
VIA: dict[str, Any] = {
    "via": [
        {"slew_deg": 120.0, "radius_m": 11.0, "level_m": 6.0},
        {"slew_deg": 200.0, "radius_m": 12.0, "level_m": 6.5},
    ]
}
TILT: dict[str, Any] = {"stand__tilt_x_percent": 0.4, "stand__tilt_y_percent": -0.3}
CASES: list[tuple[str, dict[str, Any]]] = [
    *((f"L{n}", {}) for n in range(1, 9)),
    ("L8", PERSONS),
    ("L8", PERSONS | MEAN),
    ("L1", MEAN),
    ("L3", MEAN | TILT),
    ("L1", VIA),
    ("L2", {"slew_way": "clockwise"}),
    ("L1", {"legs": {"FL": 3.2, "FR": 3.2, "RR": 3.2, "RL": 3.2}}),
    ("L1", {"deductions": [{"name": "stowed jib", "mass_t": 0.4, "reference": "chart, page 3"}]}),
    ("L4", {"load__contingency_percent": 35.0}),
]

TIPPING: dict[str, Any] = {
    "machines__stability_rule": "tipping_fraction",
    "charts__rule": "tipping_fraction",
    "charts__strength_t": None,
}


def every_section(a: LiftAssessment) -> tuple[Calculation, list[Check]]:
    """The calculation of every check that this sheet works itself, in one calculation."""
    calc = Calculation()
    place_section(calc, a.setup, a.path)
    gross_section(calc, a.setup)
    checks = [c for c in a.lift if c.id in SECTIONS]
    for check in checks:
        calc.section(check)
        SECTIONS[check.id](calc, a, check)
    setting_section(calc, a.setup, a.path)
    return calc, checks


def assert_followed(a: LiftAssessment) -> set[str]:
    """Every check is reached, and every row follows from what is printed above it."""
    calc, checks = every_section(a)
    assert calc.mismatches == []
    assert set(calc.reached) == {c.id for c in checks if None not in (c.value, c.limit)}
    assert wrong_rows(in_units(calc.block(), "metric"), rows_by_title(checks)) == []
    return {c.id for c in checks}


@pytest.mark.parametrize(("lift", "change"), CASES)
def test_every_check_is_reached_from_its_inputs(demo: Job, lift: str, change: dict[str, Any]) -> None:
    seen = assert_followed(changed(demo, lift, **change))
    assert seen >= {"capacity", "stability-rule", "stability-tipping", "wind", "head-room"}
    assert ("persons-capacity" in seen) == bool(change.get("persons"))


def machine_and_charts(demo: Job, lift: str, **changes: Any) -> LiftAssessment:
    """The lift with fields of its machine, charts and rules changed: ``machine__field``."""
    data = copy.deepcopy(json.loads(demo.model_dump_json()))
    for path, value in changes.items():
        group, _, name = path.partition("__")
        for fact in data["rules"] if group == "rules" else data[group]:
            if group == "rules":
                data["rules"][name] = value
            else:
                node = fact
                *parents, last = name.split("__")
                for part in parents:
                    node = node[part]
                node[last] = value
    return assess_lift(parse_fact(Job, data), lift)


@pytest.mark.parametrize(
    ("lift", "changes"),
    [
        ("L1", {"machines__interpolation_allowed": True}),
        ("L4", {"machines__interpolation_allowed": True}),
        ("L1", {"machines__stability_rule": "tipping_fraction"}),
        ("L5", TIPPING),
        ("L1", {"machines__boom__bending_stiffness_kNm2": None}),
        ("L1", {"machines__rope_length_m": 210.0}),
        ("L1", {"charts__strength_t": None}),
        ("L6", {"rules__utilisation_limit_percent": 75.0}),
        ("L1", {"rules__dynamic_factor_min": 1.2}),
        ("L4", {"charts__sector_deg": [0.0, 60.0]}),
    ],
)
def test_other_machines_charts_and_rules_are_followed_too(demo: Job, lift: str, changes: dict[str, Any]) -> None:
    assert_followed(machine_and_charts(demo, lift, **changes))


def test_a_layout_without_chart_is_worked_to_its_estimate(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    data["charts"] = [c for c in data["charts"] if c["base_name"] != "retracted"]
    lift = next(x for x in data["lifts"] if x["id"] == "L3")
    lift["legs"] = {"FL": 1.3, "FR": 1.3, "RR": 1.3, "RL": 1.3}
    a = assess_lift(parse_fact(Job, data), "L3")
    (capacity,) = (c for c in a.lift if c.id == "capacity")
    assert capacity.status == "no_data"
    assert_followed(a)


def test_each_chart_of_the_step_says_why_it_counts_or_not(demo: Job) -> None:
    a = assess_lift(demo, "L1")
    calc, _ = every_section(a)
    section = next(s for s in calc.block()["sections"] if s["title"].endswith("rated capacity"))
    outcome = {r["what"]: f"{r['formula']}: {r['result']}" for r in section["rows"] if r["what"].startswith("Chart ")}
    # by hand: cw-9 at 25 m and 13.24 m: full 11.1 t at 14 m, intermediate 7.3 t, retracted 3.4 t
    assert "rated 11.1 t" in outcome["Chart demo-50-full-cw-9"]
    assert "not applied" in outcome["Chart demo-50-full-cw-9"]
    assert "rated 7.3 t" in outcome["Chart demo-50-intermediate-cw-9"]
    assert "governs" in outcome["Chart demo-50-intermediate-cw-9"]
    assert "rated 3.4 t" in outcome["Chart demo-50-retracted-cw-9"]
    assert sum("governs" in text for text in outcome.values()) == 1


def test_worked_are_the_governing_check_and_each_near_or_over_its_limit(demo: Job) -> None:
    for lift in ("L1", "L6", "L7"):
        a = assess_lift(demo, lift)
        ids = [c.id for c in worked(a.lift)]
        assert {"capacity", "stability-rule", "stability-tipping", "wind"} <= set(ids)
        near = {c.id for c in a.lift if c.utilisation is not None and c.utilisation >= NEAR}
        assert near <= set(ids)
        assert {c.id for c in a.lift if c.status == "over"} <= set(ids)
        calc = lift_calculation(a, a.lift)
        assert calc.mismatches == []
        assert set(ids) - set(calc.reached) <= {c.id for c in a.lift if c.status == "no_data"}


@pytest.mark.parametrize(("lift", "change"), CASES[8:])
def test_any_check_of_the_sheet_may_govern_and_is_then_worked(
    demo: Job, lift: str, change: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """All of them in one calculation: no symbol has two meanings, whatever comes near its limit."""
    monkeypatch.setattr(calculation_lift, "worked", list)
    assert_all_worked(changed(demo, lift, **change))


def assert_all_worked(a: LiftAssessment) -> None:
    """With every check worked, each that has numbers is reached, row by row."""
    calc = lift_calculation(a, a.lift)
    assert calc.mismatches == []
    assert set(calc.reached) == {c.id for c in a.lift if None not in (c.value, c.limit)}
    assert wrong_rows(in_units(calc.block(), "metric"), rows_by_title(list(a.lift))) == []


@pytest.mark.parametrize("lift", ["S1", "S2", "S3", "S4"])
def test_any_check_of_another_job_may_govern_too(demo: Job, lift: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(calculation_lift, "worked", list)
    job = parse_fact(Job, other_job(json.loads(demo.model_dump_json())))
    assert_all_worked(assess_lift(job, lift))


def test_what_has_no_number_is_said_in_words(demo: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    """A line of unknown voltage, a boom too soft for the method, a crane that tips."""
    monkeypatch.setattr(calculation_lift, "worked", list)

    def change(data: Any) -> None:
        data["site"]["overhead_lines"][0]["voltage_kV"] = None
        for machine in data["machines"]:
            lengths = machine["boom"]["lengths_m"]
            machine["boom"]["bending_stiffness_kNm2"] = [9000.0] * len(lengths)
        data["lifts"][0]["load"]["mass_t"] = 30.0

    data = json.loads(demo.model_dump_json())
    change(data)
    a = assess_lift(parse_fact(Job, data), "L1")
    nothing = {c.title for c in a.lift if c.value is None}
    assert len(nothing) > 2
    calc = lift_calculation(a, a.lift)
    assert calc.mismatches == []
    assert nothing <= {s["title"] for s in calc.block()["sections"]}
