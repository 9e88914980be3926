"""Each demand on a lift of persons, alone, just within and just beyond it."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from liftcalc.base.checks import Check
from liftcalc.crane.sectors import CARRIED, ESTIMATE, OWN
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.persons import person_checks

Assess = Callable[..., LiftAssessment]


@pytest.fixture(scope="module")
def lift(assess: Assess) -> LiftAssessment:
    """L8: its legs stand alike at 2.3 m, as a chart is made for."""
    return assess("L8", steps=10)


def checks(
    a: LiftAssessment,
    *,
    gross_t: float = 6.0,
    rated_t: float = 12.0,
    source: int = OWN,
    last_source: int = OWN,
    front_left_m: float = 2.3,
    slope_percent: float = 1.0,
    gust_m_s: float = 8.9,
) -> dict[str, Check]:
    """Rows of a lift that just meets every demand, but for what is changed."""
    capacity = a.study.capacity
    sources = np.full_like(capacity.source, source)
    sources[-1] = last_source
    legs = a.setup.lift.legs.model_copy(update={"FL": front_left_m})
    rows = person_checks(
        dataclasses.replace(
            a.setup,
            lift=a.setup.lift.model_copy(update={"legs": legs}),
            gross=dataclasses.replace(a.setup.gross, static_gross_t=np.array(gross_t)),
        ),
        a.path,
        dataclasses.replace(capacity, capacity_t=np.full_like(capacity.capacity_t, rated_t), source=sources),
        governing_step=0,
        slope_percent=slope_percent,
        gust_m_s=gust_m_s,
    )
    return {row.id: row for row in rows}


def test_a_lift_of_persons_that_just_meets_every_demand_is_within(lift: LiftAssessment) -> None:
    rows = checks(lift)
    assert list(rows) == [
        "persons-level", "persons-legs", "persons-base", "persons-wind", "persons-capacity",
    ]  # fmt: skip
    assert {row.status for row in rows.values()} == {"within"}
    assert rows["persons-capacity"].limit == 6.0


@pytest.mark.parametrize(
    ("change", "broken"),
    [
        ({"gross_t": 6.001}, {"persons-capacity": "over"}),
        ({"rated_t": np.nan}, {"persons-capacity": "no_data"}),
        ({"source": ESTIMATE}, {"persons-capacity": "no_data", "persons-base": "over"}),
        ({"source": CARRIED}, {"persons-base": "over"}),
        ({"last_source": CARRIED}, {"persons-base": "over"}),
        ({"slope_percent": 1.001}, {"persons-level": "over"}),
        ({"front_left_m": 2.301}, {"persons-legs": "over"}),
        ({"gust_m_s": 8.95}, {"persons-wind": "over"}),  # 20 mph are 8.9408 m/s
    ],
)
def test_each_demand_alone_forbids_a_lift_of_persons(
    lift: LiftAssessment, change: dict[str, Any], broken: dict[str, str]
) -> None:
    rows = checks(lift, **change)
    assert {id: row.status for id, row in rows.items() if row.status != "within"} == broken
