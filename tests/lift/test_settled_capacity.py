"""The rated capacity at the radius that settling ground makes: growth, reach, data and persons."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from liftcalc.base.checks import Check
from liftcalc.base.text import text_in_units
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.ground_study import settled_capacity_check
from liftcalc.lift.path_study import capacity_at

Assess = Callable[..., LiftAssessment]


def settled(a: LiftAssessment, growth_m: Any) -> Check | None:
    """The row of a level machine whose radius grows by so much."""
    state: Any = SimpleNamespace(radius_m=a.path.radius_m + growth_m)
    return settled_capacity_check(a.setup, state, a.path, a.study.capacity)


def test_a_row_of_the_chart_ends_where_the_radius_has_grown_past_it(assess: Assess) -> None:
    """L1 picks at 13.24 m, rated by the chart's row at 14 m; past that its row at 16 m counts."""
    a = assess("L1")
    to_row = 14.0 - float(a.path.radius_m.max())
    assert 0.5 < to_row < 1.0
    planned = float(capacity_at(a.setup, a.path.slew_deg, a.path.radius_m).capacity_t.min())
    for growth, same in ((0.0, True), (to_row - 0.01, True), (to_row + 0.01, False)):
        found = settled(a, growth)
        assert found is not None
        at_grown = capacity_at(a.setup, a.path.slew_deg, a.path.radius_m + growth).capacity_t.min()
        assert found.limit == pytest.approx(float(at_grown))
        assert (found.limit == pytest.approx(planned)) == same
        assert text_in_units(found.where, "metric").endswith(f"grown by {1000 * growth:.0f} mm")


def test_a_head_that_leans_in_never_raises_the_capacity(assess: Assess) -> None:
    a = assess("L1")
    in_, none = settled(a, -1.0), settled(a, 0.0)
    assert in_ is not None
    assert none is not None
    assert (in_.limit, in_.where) == (none.limit, none.where)


def test_the_lean_that_is_set_up_does_not_count_as_settlement(assess: Assess) -> None:
    a = assess("L1", lambda job, lift: lift["stand"].update(tilt_x_percent=0.5))
    found = settled(a, 0.0)
    level = settled(assess("L1"), 0.0)
    assert found is not None
    assert level is not None
    assert found.limit == level.limit
    assert "grown by 0 mm" in text_in_units(found.where, "metric")


def test_a_load_over_its_settled_capacity_is_told_by_this_row_alone(assess: Assess) -> None:
    a = assess("L1")
    grown = capacity_at(a.setup, a.path.slew_deg, a.path.radius_m + 0.9).capacity_t.min()
    whole = a.setup.gross_t
    more = dataclasses.replace(a.setup.gross, static_gross_t=float(grown) + 0.01)
    heavier = dataclasses.replace(a, setup=dataclasses.replace(a.setup, gross=more))
    assert heavier.setup.gross_t > whole
    over, planned = settled(heavier, 0.9), settled(heavier, 0.0)
    assert planned is not None
    assert planned.status == "within"
    assert over is not None
    assert over.status == "over"
    assert "Luff up" in over.remedy
    # already over as planned: the lift check says so
    too_much = dataclasses.replace(a.setup.gross, static_gross_t=float(planned.limit or 0) + 0.01)
    failed = dataclasses.replace(a, setup=dataclasses.replace(a.setup, gross=too_much))
    assert settled(failed, 0.0) is None


def test_beyond_the_reach_of_the_boom_or_of_the_chart_there_is_no_data(assess: Assess) -> None:
    a = assess("L1")
    beyond = settled(a, a.setup.boom.radius_max_m)
    assert beyond is not None
    assert beyond.status == "no_data"
    assert "beyond the reach" in beyond.title

    def short_chart(job: Any, lift: Any) -> None:
        for chart in job["charts"]:
            keep = [k for k, r in enumerate(chart["radius_m"]) if r <= 14.0]
            chart["radius_m"] = [chart["radius_m"][k] for k in keep]
            for rows in ("capacity_t", "strength_t"):
                if chart[rows]:
                    by_radius = len(chart[rows]) != len(chart["boom_length_m"])
                    chart[rows] = (
                        [chart[rows][k] for k in keep]
                        if by_radius
                        else [[line[k] for k in keep] for line in chart[rows]]
                    )

    found = settled(assess("L1", short_chart), 0.9)
    assert found is not None
    assert found.status == "no_data"
    assert "ask the manufacturer" in found.remedy


def test_persons_settle_within_half_the_rated_capacity(assess: Assess) -> None:
    def even(persons: bool) -> Callable[[Any, Any], object]:
        def change(job: Any, lift: Any) -> None:
            lift["legs"] = {"FL": 3.2, "FR": 3.2, "RR": 3.2, "RL": 3.2}
            lift["persons"] = persons

        return change

    whole, half = (settled(assess("L3", even(persons)), 0.0) for persons in (False, True))
    assert whole is not None
    assert half is not None
    assert half.limit == pytest.approx(0.5 * (whole.limit or np.nan))
