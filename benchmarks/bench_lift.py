"""Time of one lift's checks.

Run: OPENBLAS_NUM_THREADS=1 pytest benchmarks/bench_lift.py --benchmark-timer=time.process_time
(processor time, so that a shared machine does not spoil it; the least of many runs counts).

Aims: a path of 2,000 steps with every check at most 20 ms on one core; the ground of one lift at
most 25 ms. (Its parts: benchmarks/bench_ground.py.)
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from liftcalc.base.resources import demo_job_path
from liftcalc.facts.io import load_job
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.capacity_checks import path_checks
from liftcalc.lift.ground_study import all_ground_checks, ground_study
from liftcalc.lift.leg_forces import leg_checks, leg_forces
from liftcalc.lift.path_study import study_path
from liftcalc.lift.rigging_checks import rigging_checks
from liftcalc.lift.rigging_study import rigging_study
from liftcalc.lift.surroundings import surroundings


@pytest.fixture(scope="module")
def lift() -> LiftAssessment:
    return assess_lift(load_job(demo_job_path()), "L1", steps=2000)


def path(a: LiftAssessment) -> None:
    study = study_path(a.setup, a.path)
    path_checks(a.setup, study)


def rigging(a: LiftAssessment) -> None:
    rigging_checks(a.setup, rigging_study(a.setup))


def clearances(a: LiftAssessment) -> None:
    surroundings(a.setup, a.path)


def legs(a: LiftAssessment) -> None:
    leg_checks(a.setup, leg_forces(a.setup, a.path))


def every_check(a: LiftAssessment) -> None:
    for part in (path, rigging, clearances, legs):
        part(a)


def ground(a: LiftAssessment) -> None:
    study = ground_study(a.setup, a.place, a.forces)
    all_ground_checks(a.setup, a.forces, study, a.job.mats)


@pytest.mark.parametrize("part", [path, rigging, clearances, legs, every_check, ground])
def test_2000_steps(benchmark, lift: LiftAssessment, part: Callable[[LiftAssessment], None]):
    assert len(lift.path) >= 2000
    part(lift)
    benchmark(part, lift)
