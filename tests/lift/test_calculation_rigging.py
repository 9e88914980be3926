"""The rigging calculation, read as a checker does, for every arrangement of slings."""

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
from liftcalc.lift.calculation_rigging import rigging_sections
from liftcalc.lift.rigging_checks import rigging_checks
from liftcalc.records.blocks import in_units

ADJUSTED = {"rigging__leg_lengths": "adjusted"}
BEAM = {"shelf__spreader_4m__kind": "lifting beam"}
CHOKE = {"rigging__hitch": "choke", "rigging__leg_length_m": 3.5}
BASKET = {"rigging__hitch": "basket", "rigging__sling": "wire-4m-16"}
OFF = {"load__cg_x_m": 0.15, "load__cg_y_m": 0.02}
ARRANGEMENTS: list[tuple[str, dict[str, Any]]] = [
    *((f"L{n}", {}) for n in range(1, 9)),
    ("L3", {"rigging__sling_legs": 1, "rigging__point_spacing_x_m": 0.0, "load__cg_x_m": 0.0}),
    ("L3", {"rigging__sling_legs": 1, "rigging__point_spacing_x_m": 0.0}),
    ("L3", {"load__cg_y_m": 0.03, "rigging__lug_plate": "toward hook"}),
    ("L3", ADJUSTED),
    ("L3", {**CHOKE, "rigging__choke_angle_deg": 100.0}),
    ("L3", CHOKE),
    ("L3", BASKET),
    ("L3", {**BASKET, "rigging__bend_diameter_mm": 160.0}),
    ("L3", {**BASKET, "rigging__bend_diameter_mm": 64.0, "rigging__basket_part_angle_deg": 30.0}),
    ("L4", {**ADJUSTED, "load__cg_x_m": 0.3}),
    ("L7", {"rigging__sling_legs": 3}),
    ("L7", {"rigging__sling_legs": 3, **ADJUSTED, "load__cg_x_m": 0.2}),
    ("L7", {**ADJUSTED, "load__cg_x_m": 0.4, "load__cg_y_m": 0.3}),
    ("L7", {"rigging__lug_plate": "along y", "load__cg_error_x_m": None}),
    ("L1", {"shelf__wire_6m_20__eye": "thimble", **OFF}),
    ("L1", {"shelf__shackle_4.75__pin_diameter_mm": 40.0}),
    ("L6", OFF),
    ("L6", {**OFF, **ADJUSTED}),
    ("L6", BEAM),
    ("L6", {**BEAM, **OFF, "rigging__point_spacing_x_m": 3.6}),
    ("L6", {"rigging__point_spacing_x_m": 3.0, "rigging__lug_plate": "toward hook"}),
    ("L6", {"rigging__top_sling": "round-4m-3"}),
    ("L6", {"rigging__sling_legs": 2, "rigging__point_spacing_y_m": 0.0}),
]


def made(lift: LiftAssessment) -> tuple[Calculation, list[Check], list[str]]:
    checks = rigging_checks(lift.setup, lift.rigging)
    calc = Calculation()
    return calc, checks, rigging_sections(calc, lift, checks)


@pytest.mark.parametrize(("lift", "change"), ARRANGEMENTS)
def test_every_rigging_check_is_reached_from_its_inputs(demo: Job, lift: str, change: dict[str, Any]) -> None:
    calc, checks, done = made(changed(demo, lift, **change))
    assert calc.mismatches == []
    assert done == [c.id for c in checks if c.status != "no_data"]
    assert set(calc.reached) == set(done)
    block = in_units(calc.block(), "metric")
    assert wrong_rows(block, rows_by_title(checks)) == []


def test_the_worst_case_of_the_pump_ends_at_its_shackle(demo: Job) -> None:
    calc, _, _ = made(changed(demo, "L1"))
    assert calc.reached["rigging-cg"] == "82.7 %"
    rows = [row for section in calc.block()["sections"] for row in section["rows"]]
    force = [row["result"] for row in rows if row["formula"] == "F_i = S_3"]
    assert force == ["26.97 kN"]  # 49.84 kN × 0.021425 / 0.039598, at the corner of the error


def test_sums_of_forces_prove_each_state(demo: Job) -> None:
    for lift, change in (("L1", {}), ("L4", {}), ("L6", OFF), ("L7", {"rigging__sling_legs": 3})):
        calc, _, _ = made(changed(demo, lift, **change))
        rows = [row for section in calc.block()["sections"] for row in section["rows"]]
        sums = [row["result"] for row in rows if row["formula"].startswith("E_")]
        assert len(sums) >= 2
        assert set(sums) == {"0.00 kN"}


def test_what_has_no_number_reaches_none(demo: Job) -> None:
    calc, checks, _ = made(changed(demo, "L3", load__cg_error_z_m=0.7))
    (row,) = [c for c in checks if c.id == "rigging-cg"]
    assert (row.status, row.value) == ("over", None)
    assert "rigging-cg" not in calc.reached
    calc, _, done = made(changed(demo, "L7", **{"shelf__shackle_3.25__pin": "round pin"}))
    assert "rating-shackle-3.25" not in done
