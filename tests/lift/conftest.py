"""The demo job's lifts with a change, for the tests of one row each."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import pytest

from liftcalc.base.checks import Check
from liftcalc.base.resources import demo_job_path
from liftcalc.facts.io import load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift.assess import LiftAssessment, assess_lift

sys.path.insert(0, str(Path(__file__).parent))  # for demo_changes.py

Assess = Callable[..., LiftAssessment]


@pytest.fixture(scope="session")
def demo() -> Job:
    """The demo job as it ships."""
    return load_job(demo_job_path())


@pytest.fixture(scope="session")
def demo_text() -> str:
    """The demo job as JSON, without the manufacturer's confirmation that it holds."""
    return load_job(demo_job_path()).model_copy(update={"confirmations": ()}).model_dump_json()


@pytest.fixture(scope="session")
def assess(demo_text: str) -> Assess:
    """Assess one lift of the demo job, alone, after a change of the job's and the lift's data."""

    def of(
        lift_id: str = "L1", change: Callable[[Any, Any], object] = lambda job, lift: None, *, steps: int | None = 40
    ) -> LiftAssessment:
        data = json.loads(demo_text)
        lift = next(one for one in data["lifts"] if one["id"] == lift_id)
        data["lifts"], data["tandem_lifts"] = [lift], []
        data["as_set_up"] = None
        said = data["plan"]["lifts"]
        data["plan"]["lifts"] = {lift_id: said[lift_id]} if lift_id in said else {}
        data["rules"]["zones"]["closed"] = []  # a change may take away what is closed
        change(data, lift)
        return assess_lift(parse_fact(Job, data), lift_id, steps=steps)

    return of


@pytest.fixture(scope="session")
def row() -> Callable[[Iterable[Check], str], Check]:
    """The one row of an id."""

    def of(checks: Iterable[Check], id: str) -> Check:
        (found,) = [check for check in checks if check.id == id]
        return found

    return of
