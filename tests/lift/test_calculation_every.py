"""Whichever check of a lift governs, the sheet can print its calculation beside all others."""

from __future__ import annotations

from typing import Any
from unittest.mock import patch

import pytest
from demo_changes import assessed as changed
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from printing import rows_by_title
from test_printed_calculation import wrong_rows

from liftcalc.base.errors import InputError
from liftcalc.facts.job import Job
from liftcalc.lift import calculation_lift
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.records.blocks import in_units


def followed(found: LiftAssessment) -> list[str]:
    """What a checker cannot follow when every check is calculated on one sheet."""
    checks = list(found.lift)
    with patch.object(calculation_lift, "worked", list):
        calc = calculation_lift.lift_calculation(found, checks)
    numbers = [c.id for c in checks if c.value is not None and c.limit is not None]
    missing = [id for id in numbers if id not in calc.reached]
    unread = wrong_rows(in_units(calc.block(), "metric"), rows_by_title(checks))
    return [*calc.mismatches, *missing, *unread]


@pytest.mark.parametrize("lift", ["L1", "L2", "L3", "L4", "L5", "L6", "L7", "L8"])
def test_every_check_of_the_lift_is_calculated_on_one_sheet(demo: Job, lift: str) -> None:
    assert followed(assess_lift(demo, lift)) == []


WAYPOINT = st.fixed_dictionaries(
    {"slew_deg": st.floats(-170, 170), "radius_m": st.floats(8, 13), "level_m": st.floats(5, 8)}
)
CHANGES = st.fixed_dictionaries(
    {},
    optional={
        "load__cg_x_m": st.floats(-0.3, 0.3),
        "load__cg_z_m": st.floats(-0.1, 0.1),
        "load__cg_error_x_m": st.sampled_from([None, 0.0, 0.2]),
        "rigging__leg_lengths": st.just("adjusted"),
        "rigging__lug_plate": st.sampled_from(["along x", "along y", "toward hook"]),
        "rigging__hook_diameter_mm": st.sampled_from([None, 30.0, 60.0]),
        "slew_way": st.sampled_from(["clockwise", "anticlockwise"]),
        "via": st.lists(WAYPOINT, min_size=1, max_size=2),
        "stand__heading_deg": st.floats(-30, 30),
        "carry_level_m": st.floats(4.8, 7),
    },
)


@settings(deadline=None, max_examples=15)
@given(st.sampled_from(["L1", "L2", "L3", "L4", "L6", "L7", "L8"]), CHANGES)
def test_whatever_is_planned_is_followed_from_its_inputs(demo: Job, lift: str, change: dict[str, Any]) -> None:
    try:
        found = changed(demo, lift, **change)
        checks = found.lift
    except InputError:
        assume(False)  # refused: no sheet is made
    assert checks
    assert followed(found) == []
