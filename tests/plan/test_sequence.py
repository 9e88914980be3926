"""The sequence of a lift: its stretches cover the path, and their clearances are the lift's own."""

from __future__ import annotations

import itertools
from typing import Any

import pytest

from liftcalc.base.resources import demo_job_path
from liftcalc.base.text import format_value
from liftcalc.facts.io import load_job
from liftcalc.lift.assess import assess_lift
from liftcalc.plan import place_tolerance, sequence

JOB = load_job(demo_job_path())


def _show(value: float | None, quantity: str, safe: Any = "") -> str:
    return format_value(value, quantity, "metric", safe)


@pytest.mark.parametrize("lift", ["L1", "L4", "L6"])
def test_the_worst_stretch_has_the_smallest_margin_of_the_whole_path(lift: str) -> None:
    assessed = assess_lift(JOB, lift)
    stretches = list(sequence._stretches(assessed))
    assert stretches[0][1] == 0
    assert stretches[-1][2] == len(assessed.surroundings.close.path) - 1
    assert all(a[2] + 1 == b[1] for a, b in itertools.pairwise(stretches))
    rows = [sequence._nearest(assessed, first, last) for _, first, last in stretches]
    least = min(row.margin_m for row in rows if row is not None)
    whole = assessed.surroundings.result.governing
    assert whole is not None
    assert least == pytest.approx(whole.margin_m, abs=2e-3)


def test_every_step_has_a_place_and_a_hold_point() -> None:
    rows = sequence.sequence_rows(assess_lift(JOB, "L1"), _show)
    assert [row[0] for row in rows] == [str(n) for n in range(1, len(rows) + 1)]
    assert all(len(row) == len(sequence.SEQUENCE_COLUMNS) and all(row) for row in rows)
    assert [row[1].split()[0] for row in rows] == [
        "Brief", "Attach", "Trial", "Hoist", "Luff", "Slew", "Lower", "Land;", "Hoist",
    ]  # fmt: skip


@pytest.mark.parametrize(("lift", "state"), [("L1", "condition"), ("L5", "within")])
def test_how_far_off_its_place_the_crane_may_stand_is_what_full_checks_say(lift: str, state: str) -> None:
    assessed = assess_lift(JOB, lift)
    (check,) = place_tolerance.place_checks(assessed)
    assert check.status == state
    for side, most in place_tolerance.place_tolerances_m(assessed).items():
        east, north = place_tolerance._SIDES[side]
        assert place_tolerance._holds(assessed, east * most, north * most)
        if most < place_tolerance.TOLERANCE_M:
            more = most + 0.01
            assert not place_tolerance._holds(assessed, east * more, north * more)


def test_a_lift_that_is_over_has_no_tolerance() -> None:
    assert place_tolerance.place_checks(assess_lift(JOB, "L6")) == []
