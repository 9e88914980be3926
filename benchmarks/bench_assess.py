"""Whole lifts: setup and path, every check of the demo job, and moves of the workbench.

Run: pytest benchmarks/bench_assess.py --benchmark-only --benchmark-timer=time.process_time
"""

from __future__ import annotations

from itertools import count

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from liftcalc.base.checks import Check
from liftcalc.base.resources import demo_job_path
from liftcalc.facts.io import load_job
from liftcalc.lift.assess import assess_lift
from liftcalc.lift.capacity_checks import no_load_checks
from liftcalc.panels.session import Session

JOB = load_job(demo_job_path())
LIFTS = [row.id for row in JOB.lifts]


def every_check(lift: str) -> tuple[Check, ...]:
    return assess_lift(JOB, lift).checks


@pytest.mark.parametrize("lift", LIFTS)
def test_setup_and_path_of(benchmark: BenchmarkFixture, lift: str) -> None:
    assert len(benchmark(assess_lift, JOB, lift).path)


@pytest.mark.parametrize("lift", LIFTS)
def test_every_check_of(benchmark: BenchmarkFixture, lift: str) -> None:
    assert benchmark(every_check, lift)


def test_checks_without_load(benchmark: BenchmarkFixture) -> None:
    lift = assess_lift(JOB, LIFTS[0])
    assert benchmark(no_load_checks, lift.setup, lift.study)


@pytest.mark.parametrize("control", ["leg_FL", "slew"])
def test_move_of_a_slider(benchmark: BenchmarkFixture, control: str) -> None:
    session = Session.open()
    start, moves = getattr(session.settings, control), count(1)
    refused = benchmark(lambda: session.set({control: start - 0.05 * (next(moves) % 7)}))
    assert not refused
