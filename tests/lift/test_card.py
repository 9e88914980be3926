"""The card lets the crew do what was checked, and no more."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

from liftcalc.capacity import ESTIMATE
from liftcalc.facts.io import load_job
from liftcalc.facts.job import Job
from liftcalc.facts.lift import Waypoint
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.card import card_rows
from liftcalc.lift.wind_checks import wind_limit_rows
from liftcalc.resources import demo_job_path


def show(value: float | None, quantity: str) -> str:
    return f"{value:.3f}"


def assessed(lift: str, **changes: Any) -> LiftAssessment:
    job = load_job(demo_job_path())
    one = job.lift(lift).model_copy(update=changes)
    others = [item for item in job.lifts if item.id != lift]
    return assess_lift(Job.model_validate({**dict(job), "lifts": (one, *others)}), lift)


def card(lift: LiftAssessment) -> dict[str, str]:
    return dict(card_rows(lift, show))


@pytest.mark.parametrize("wind", [0.0, 3.0, 7.0])
def test_the_crew_stops_above_the_wind_that_was_checked(wind: float) -> None:
    """At the chart's 9.8 m/s this load swings nearer to everything than any row says."""
    lift = assessed("L3", wind_m_s=wind)
    assert next(c for c in lift.lift if c.id == "wind").limit > 7.0
    assert card(lift)["Stop for wind above"].startswith(f"{wind:.3f} ")
    rows = {r[0]: r for r in wind_limit_rows(lift.setup, lift.path, lift.study.boom, show)}
    assert rows["Stop above, measured at the boom head"][1] == f"{wind:.3f}"


def test_the_stop_for_a_forecast_mean_is_its_gust_at_the_head() -> None:
    lift = assessed("L3", wind_m_s=3.0, wind_basis="at 10 m mean")
    gust = 3.0 * ((lift.study.boom.head_z_m.max() / 10.0) ** 0.14 + 0.4)
    assert card(lift)["Stop for wind above"].startswith(f"{gust:.3f} ")


def test_the_way_of_the_load_names_each_corner_in_order() -> None:
    lift = assessed("L3")
    parts = card(lift)["Way of the load, no other"].split("; then ")
    path = lift.path
    assert len(parts) == 5
    assert parts[0].startswith("from slew")
    assert [p.split(" to ")[0] for p in parts[1:]] == ["hoist", "slew", "luff", "lower"]
    assert f"radius {path.radius_m[0]:.3f}" in parts[0]
    assert f"radius {path.radius_m.min():.3f}" in parts[2]
    assert f"underside at level {path.level_m[-1]:.3f}" in parts[-1]


def test_a_way_that_turns_back_is_told_with_its_whole_sweep() -> None:
    via = tuple(Waypoint(slew_deg=s, radius_m=9.0, level_m=5.4) for s in (-110.0, -150.0))
    lift = assessed("L3", via=via)
    words = card(lift)
    low, high = lift.path.slew_deg.min(), lift.path.slew_deg.max()
    assert high > max(lift.path.slew_deg[[0, -1]])
    ends = [f"{(s + 180) % 360 - 180:.0f}°" for s in (low, high)]
    assert words["Slew"].startswith(f"there and back, anticlockwise from {ends[0]} to {ends[1]}")
    assert "travel to slew -150°, radius 9.000" in words["Way of the load, no other"]


def test_an_estimate_is_not_told_to_the_crew_as_a_rating() -> None:
    lift = assessed("L3")
    capacity = lift.study.capacity
    unrated = dataclasses.replace(capacity, source=np.full_like(capacity.source, ESTIMATE))
    lift.__dict__["study"] = dataclasses.replace(lift.study, capacity=unrated)
    told = card(lift)["Load on the hook, everything below the boom head"]
    assert "rated nothing here" in told
    assert np.isfinite(capacity.capacity_t).all()
