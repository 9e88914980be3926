"""A planned load path passes the lift check, or names what shuts the way."""

from __future__ import annotations

import json

import pytest

from liftcalc.base.resources import demo_job_path
from liftcalc.clearance.loadpath import PathBlockedError
from liftcalc.facts.io import load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift.assess import assess_lift
from liftcalc.lift.planned_path import job_with_path, path_rows, planned_path, planned_path_rows


@pytest.fixture(scope="module")
def demo() -> Job:
    return load_job(demo_job_path())


def show(value: float | None, quantity: str) -> str:
    return f"{value} {quantity}"


@pytest.mark.parametrize("lift", ["L1", "L2", "L3"])
def test_the_lift_check_accepts_the_planned_path(demo: Job, lift: str) -> None:
    assessed = assess_lift(demo, lift)
    path = planned_path(assessed)
    job = job_with_path(demo, lift, path)
    again = assess_lift(job, lift)
    assert [c.id for c in again.lift if c.status != "within"] == []
    assert len(job.lifts[0].via) == len(path.corners) - 2
    rows = path_rows(path, show)
    assert len(rows) == len(path.corners)
    assert planned_path_rows(assessed, show)[-1][2] == "within limits"


def test_a_load_over_capacity_at_its_place_has_no_path_and_says_why(demo: Job) -> None:
    with pytest.raises(PathBlockedError) as caught:
        planned_path(assess_lift(demo, "L6"))
    assert "rated capacity" in caught.value.blockers
    assert "rated capacity" in planned_path_rows(assess_lift(demo, "L6"), show)[0][2]


def test_a_wall_across_every_way_is_named(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    wall = next(o for o in data["site"]["obstacles"] if o["id"] == "flood-wall")
    wall["top_level_m"] = 60.0
    with pytest.raises(PathBlockedError) as caught:
        planned_path(assess_lift(parse_fact(Job, data), "L1"))
    assert "flood-wall" in caught.value.blockers
