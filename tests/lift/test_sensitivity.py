"""Samples of one lift: the nominal is the deterministic check; each quantity moves it rightly."""

from __future__ import annotations

import dataclasses
import json

import numpy as np
import pytest

from liftcalc.distributions import Normal
from liftcalc.errors import InputError
from liftcalc.facts.io import load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift import LiftAssessment, assess_lift
from liftcalc.lift.sensitivity import (
    LiftSensitivity,
    assumption_rows,
    default_assumptions,
    lift_sensitivity,
    probability_rows,
    sensitivity_values,
)
from liftcalc.records.strict_json import plain
from liftcalc.resources import demo_job_path
from liftcalc.views.adapters_sensitivity import sensitivity_data
from liftcalc.views.sensitivity import draw_sensitivity
from liftcalc.views.style import new_axes


@pytest.fixture(scope="module")
def demo() -> Job:
    return load_job(demo_job_path())


@pytest.fixture(scope="module")
def lift(demo: Job) -> LiftAssessment:
    return assess_lift(demo, "L1")


@pytest.fixture(scope="module")
def found(lift: LiftAssessment) -> LiftSensitivity:
    return lift_sensitivity(lift, number=4000)


@pytest.mark.parametrize("name", ["L1", "L2", "L3", "L4", "L5", "L6"])
def test_the_nominal_is_the_deterministic_check(demo: Job, name: str) -> None:
    a = assess_lift(demo, name)
    nominal = lift_sensitivity(a, number=50).study.nominal
    rows = {c.id: c.utilisation for c in (*a.lift, *a.ground_rows)}
    assert nominal["rated"] == pytest.approx(rows["capacity"])
    assert nominal["wind"] == pytest.approx(rows["wind"])
    k = a.study.governing_step
    assert nominal["stability"] == pytest.approx(a.setup.gross_t / a.study.stability_t[k])
    loaded = a.forces.on_path.max_kN
    strength = np.array([leg.capacity_kN for leg in a.setup.machine.legs])
    # sampled with wind and lean along the boom and one carrier: no more than what is checked
    whole = (loaded / strength).max()
    assert 0.99 * whole < nominal["leg"] <= whole * (1 + 1e-9)
    assert a.ground is not None
    area = np.array([g.effective_length_m * g.effective_width_m for g in a.ground.legs])
    allowed = np.array([g.allowable_kPa for g in a.ground.legs])
    step = int(np.nanargmax((a.forces.path_reaction_kN / strength).max(axis=1)))
    use = (a.forces.path_reaction_kN[step] + a.ground.mat.weight_kN) / area / allowed
    assert 0.99 * use.max() < nominal["ground"] <= use.max() * (1 + 1e-9)


def test_the_same_seed_gives_the_same_numbers(lift: LiftAssessment) -> None:
    one, two = (lift_sensitivity(lift, number=500, seed=7) for _ in range(2))
    other = lift_sensitivity(lift, number=500, seed=8)
    assert np.array_equal(one.study.worst, two.study.worst)
    assert not np.array_equal(one.study.worst, other.study.worst)
    assert sensitivity_values(one) == sensitivity_values(two)


def test_each_quantity_moves_its_check_the_right_way(lift: LiftAssessment) -> None:
    def chart(check: str) -> dict[str, tuple[float, float]]:
        t = lift_sensitivity(lift, number=20, check=check).tornado
        return {n: (a, b) for n, a, b in zip(t.names, t.at_low, t.at_high, strict=True)}

    stability, ground, leg = chart("stability"), chart("ground"), chart("leg")
    for rising in ("load_t", "cg_offset_m"):
        assert stability[rising][0] < stability[rising][1]
        assert leg[rising][0] < leg[rising][1]
    assert ground["allowable_kPa"][0] > ground["allowable_kPa"][1]
    assert leg["wind_m_s"][0] < leg["wind_m_s"][1]
    assert stability["wind_m_s"][0] == stability["wind_m_s"][1]
    # the load swings over the left: its legs count, and shorter is worse
    assert stability["extension_FL_m"][0] > stability["extension_FL_m"][1]
    assert stability["allowable_kPa"][0] == stability["allowable_kPa"][1]


def test_a_wider_spread_never_lowers_the_chance(lift: LiftAssessment) -> None:
    chances = []
    for sd in (0.1, 0.6, 1.5):
        wide = [
            dataclasses.replace(one, distribution=Normal(0.0, sd))
            if one.name == "cg_offset_m"
            else one
            for one in default_assumptions(lift)
        ]
        study = lift_sensitivity(lift, number=3000, assumptions=wide).study
        chances.append(study.exceedance["any"].probability)
    assert chances[0] <= chances[1] <= chances[2]
    assert chances[2] > 0.01


def test_the_deterministic_check_governs(demo: Job) -> None:
    over = lift_sensitivity(assess_lift(demo, "L6"), number=200)
    assert not over.study.within_limit
    assert "always governs" in over.study.statement
    assert "OVER ITS LIMIT" in over.study.statement


def test_a_layout_without_capacity_data_is_named_as_not_sampled(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    data["charts"] = [c for c in data["charts"] if c["base_name"] != "retracted"]
    lift = next(x for x in data["lifts"] if x["id"] == "L3")
    lift["legs"] = {"FL": 1.25, "FR": 1.25, "RR": 1.25, "RL": 1.25}
    found = lift_sensitivity(assess_lift(parse_fact(Job, data), "L3"), number=50)
    assert "rated" not in found.study.nominal
    assert any("no capacity data" in why for why in found.left_out)


def test_a_machine_that_tips_is_refused(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    next(x for x in data["lifts"] if x["id"] == "L6")["load"]["mass_t"] = 9.5
    with pytest.raises(InputError, match="stays on its legs"):
        lift_sensitivity(assess_lift(parse_fact(Job, data), "L6"), number=50)


def test_tables_values_and_drawing(found: LiftSensitivity) -> None:
    assert plain(sensitivity_values(found), "values")
    assert [r[0] for r in probability_rows(found)][-1] == "any of them"
    assert len(assumption_rows(found)) == len(found.assumptions)
    assert all(spread for _, _, spread in assumption_rows(found))
    data = sensitivity_data(found, most=5)
    assert 1 < len(data.bars) <= 5
    swing = [abs(b.high - b.low) for b in data.bars]
    assert swing == sorted(swing, reverse=True)
    _, ax = new_axes(170.0, 90.0)
    draw_sensitivity(data, ax)
    assert [t.get_text() for t in ax.get_yticklabels()][-1] == data.bars[0].name
