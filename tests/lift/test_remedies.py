"""A remedy with numbers is printed only if the whole assessment bears it out."""

from __future__ import annotations

import numpy as np
import pytest

from liftcalc.base.resources import demo_job_path
from liftcalc.base.text import text_in_units
from liftcalc.facts.io import load_job
from liftcalc.facts.job import Job
from liftcalc.lift.assess import assess_lift
from liftcalc.lift.remedies import _nearer, enough, tried_remedies

JOB = load_job(demo_job_path())


def _changed(lift_id: str, update: dict[str, object]) -> Job:
    lifts = tuple(type(one).model_validate({**dict(one), **update}) if one.id == lift_id else one for one in JOB.lifts)
    return Job.model_validate({**dict(JOB), "lifts": lifts})


@pytest.mark.parametrize("lift_id", ["L6", "L8"])
def test_what_is_named_as_enough_is_enough_and_makes_nothing_else_fail(lift_id: str) -> None:
    assessed = assess_lift(JOB, lift_id)
    before = {c.id for c in assessed.checks if c.status != "within"}
    over = [c for c in assessed.checks if c.status == "over"]
    tried = 0
    for row in over:
        for change in enough(assessed, row):
            tried += 1
            after = assess_lift(_changed(lift_id, change.update), lift_id)
            states = {c.id: c.status for c in after.checks}
            assert states[row.id] == "within"
            failing = {k for k, status in states.items() if status != "within"}
            assert failing <= before
            assert (change.outcome == "every check within") == (not failing)
    assert tried or lift_id == "L6"


def test_rows_keep_their_order_and_numbers() -> None:
    assessed = assess_lift(JOB, "L6")
    shown = tried_remedies(assessed, assessed.lift)
    assert [c.id for c in shown] == [c.id for c in assessed.lift]
    assert [c.utilisation for c in shown] == [c.utilisation for c in assessed.lift]
    capacity = next(c for c in shown if c.id == "capacity")
    assert "Tried with every check, and enough: " in capacity.remedy or (
        "None of the changes tried is enough" in capacity.remedy
    )
    assert all(
        c.remedy == old.remedy for c, old in zip(shown, assessed.lift, strict=True)
        if old.status == "within"
    )  # fmt: skip


def test_a_mat_that_leaves_the_allowed_area_is_not_named() -> None:
    """A larger mat may carry the force and lie over the edge of where mats may lie."""
    assessed = assess_lift(JOB, "L8")
    row = next(c for c in assessed.checks if c.id == "ground-FL")
    for change in enough(assessed, row):
        if "mat" in change.update:
            after = assess_lift(_changed("L8", change.update), "L8")
            assert all(c.status == "within" for c in after.survey if c.id.startswith("mat-"))


@pytest.mark.parametrize("lift_id", ["L1", "L6"])
def test_a_crane_moved_toward_the_hook_comes_nearer_by_so_much(lift_id: str) -> None:
    assessed = assess_lift(JOB, lift_id)
    stand, step = assessed.setup.lift.stand, assessed.study.governing_step
    toward = np.radians(assessed.path.slew_deg[step] + stand.heading_deg)
    radius = assessed.path.radius_m[step]
    hook = np.array([stand.easting_m, stand.northing_m]) + radius * np.array([np.cos(toward), np.sin(toward)])
    found = list(_nearer(assessed))
    assert found
    for (_, words, change), way in zip(found, (0.5, 1.0, 2.0, 4.0), strict=False):
        place = change["stand"]
        left = np.hypot(*(hook - [place["easting_m"], place["northing_m"]]))
        assert left == pytest.approx(radius - way, abs=2e-3)
        assert f"move the crane {way:.2f} m toward the hook" in text_in_units(words, "metric")
