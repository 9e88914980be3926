"""A lift that passes only by a chart carried over: its state, everywhere it is told."""

from __future__ import annotations

import json
from typing import Any

import pytest

from liftcalc.checks import MAKER_CONFIRMS
from liftcalc.facts.io import load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift import assess_lift
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.capacity_checks import CONDITION_REMEDY
from liftcalc.lift.card import card_headline
from liftcalc.resources import demo_job_path
from liftcalc.sectors import CARRIED, SMALLER

ON_CONDITION = {"capacity", "layout-capacity-data", "capacity-settled"}
SHORT = {"FL": 2.5, "FR": 1.4, "RR": 1.4, "RL": 2.5}
"""Legs of L5 on a base that no chart is made for and that contains only the retracted one."""


@pytest.fixture(scope="module")
def demo() -> Job:
    return load_job(demo_job_path())


def with_legs(job: Job, legs: dict[str, float], **changes: Any) -> Job:
    """The demo job with other legs, and fields, of lift L5."""
    data = json.loads(job.model_dump_json())
    lift = next(i for i in data["lifts"] if i["id"] == "L5")
    lift["legs"] = legs
    lift.update(changes)
    return parse_fact(Job, data)


@pytest.fixture(scope="module")
def carried(demo: Job) -> LiftAssessment:
    return assess_lift(with_legs(demo, SHORT), "L5")


def test_a_lift_that_passes_only_by_a_carried_chart_is_on_condition(
    carried: LiftAssessment,
) -> None:
    assert carried.verdict.status == "condition"
    assert {c.id for c in carried.verdict.conditional} == ON_CONDITION
    assert carried.verdict.failed == ()
    for check in carried.verdict.conditional:
        assert check.condition == MAKER_CONFIRMS
        assert check.remedy == CONDITION_REMEDY
        assert "on condition on" in check.where
    assert carried.verdict.head == f"Within limits on condition: {MAKER_CONFIRMS}"
    assert card_headline(carried).startswith(f"DO NOT LIFT UNTIL {MAKER_CONFIRMS}")


def test_a_load_that_a_contained_base_carries_needs_no_condition(
    demo: Job, carried: LiftAssessment
) -> None:
    """Only the steps at which the retracted chart is not enough rest on the argument."""
    capacity, gross = carried.study.capacity, carried.setup.gross_t
    used = set(capacity.source.tolist())
    assert used == {CARRIED, SMALLER}
    light = with_legs(demo, SHORT)
    data = json.loads(light.model_dump_json())
    lift = next(i for i in data["lifts"] if i["id"] == "L5")
    lift["load"]["mass_t"] = 0.2
    calm = assess_lift(parse_fact(Job, data), "L5")
    rows = {c.id: c for c in calm.checks}
    assert calm.setup.gross_t < gross
    assert set(calm.study.capacity.source.tolist()) == {SMALLER}
    assert {rows[i].status for i in ON_CONDITION} == {"within"}


def test_own_chart_and_step_down_stay_unconditional(demo: Job) -> None:
    for lift in demo.lifts:
        assessed = assess_lift(demo, lift.id)
        rows = [c for c in assessed.checks if c.id in ON_CONDITION]
        carries = bool((assessed.study.capacity.source == CARRIED).any())
        assert any(c.status == "condition" for c in rows) <= carries
    own = assess_lift(with_legs(demo, dict.fromkeys(SHORT, 2.5)), "L5")
    assert {c.status for c in own.checks if c.id in ON_CONDITION} == {"within"}
