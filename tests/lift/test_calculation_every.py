"""Whichever check of a lift governs, the sheet can print its calculation beside all others."""

from __future__ import annotations

from unittest.mock import patch

import pytest
from printing import rows_by_title
from test_printed_calculation import wrong_rows

from liftcalc.facts.job import Job
from liftcalc.lift import calculation_lift
from liftcalc.lift.assess import assess_lift
from liftcalc.records.blocks import in_units


@pytest.mark.parametrize("lift", ["L1", "L2", "L3", "L4", "L5", "L6", "L7", "L8"])
def test_every_check_of_the_lift_is_calculated_on_one_sheet(demo: Job, lift: str) -> None:
    found = assess_lift(demo, lift)
    with patch.object(calculation_lift, "worked", list):
        calc = calculation_lift.lift_calculation(found, found.lift)
    assert calc.mismatches == []
    numbers = [c.id for c in found.lift if c.value is not None and c.limit is not None]
    assert [id for id in numbers if id not in calc.reached] == []
    assert wrong_rows(in_units(calc.block(), "metric"), rows_by_title(list(found.lift))) == []
