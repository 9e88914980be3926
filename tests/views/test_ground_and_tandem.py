"""Drawings made from an assessment: mat and ground of the worst leg, and a tandem lift."""

from __future__ import annotations

import json

import numpy as np
import pytest

from liftcalc.base.errors import InputError
from liftcalc.base.resources import demo_job_path
from liftcalc.facts.io import load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift.assess import assess_lift
from liftcalc.lift.tandem import assess_tandem
from liftcalc.views.ground_mat import leg_mat_data, mat_figure, mat_pressure_figure
from liftcalc.views.ground_stress import leg_depth_data, stress_figure
from liftcalc.views.style import new_axes
from liftcalc.views.tandem import draw_shares, draw_tandem_plan, share_data, tandem_plan_data


@pytest.fixture(scope="module")
def demo() -> Job:
    return load_job(demo_job_path())


def test_the_mat_drawn_is_the_one_nearest_to_its_limit(demo: Job) -> None:
    a = assess_lift(demo, "L8")
    assert a.ground is not None
    worst = max(a.ground.legs, key=lambda g: g.pressure_kPa / g.allowable_kPa)
    data = leg_mat_data(a)
    assert worst.name in data.title
    assert data.reaction_kN == worst.reaction_kN
    assert data.pressure_kPa == pytest.approx(worst.pressure_kPa)
    assert data.allowable_kPa == worst.allowable_kPa
    # the elastic pressure on the width that bears carries the leg and that part of the mat
    share = data.effective_width_m / data.width_m
    spread = np.trapezoid(data.elastic_pressure_kPa, data.elastic_x_m) * data.effective_width_m
    assert spread == pytest.approx(worst.reaction_kN + share * a.ground.mat.weight_kN, rel=0.002)


def test_the_pressure_drawn_bends_the_mat_as_its_check_row_says(demo: Job) -> None:
    a = assess_lift(demo, "L1")
    assert a.ground is not None
    for k, g in enumerate(a.ground.legs):
        data = leg_mat_data(a, k)
        x, own = data.elastic_x_m, a.ground.mat.weight_kN / a.ground.mat.area_m2
        line = (data.elastic_pressure_kPa - own) * data.effective_width_m
        half = x >= 0.0
        # moment of the ground's push on one half about the middle, less that of half the float
        push = np.trapezoid(line[half] * x[half], x[half])
        moment = push - g.reaction_kN * data.float_length_m / 8.0
        assert moment == pytest.approx(g.elastic_bending.moment_kNm, rel=0.01)


def test_stress_below_a_leg_starts_at_its_pressure_and_falls(demo: Job) -> None:
    a = assess_lift(demo, "L1")
    assert a.ground is not None
    data = leg_depth_data(a, 0).stress
    assert data.own_kPa[0] == pytest.approx(a.ground.legs[0].pressure_kPa, rel=0.01)
    assert np.all(np.diff(data.own_kPa) <= 1e-9)
    assert np.all(data.all_legs_kPa >= data.own_kPa - 1e-9)


def test_every_figure_of_the_ground_is_drawn_in_both_unit_systems(demo: Job) -> None:
    a = assess_lift(demo, "L1")
    for make in (mat_figure, mat_pressure_figure, stress_figure):
        metric, us = make(a), make(a, system="us")
        assert metric.axes[0].get_xlabel() != us.axes[0].get_xlabel()


def test_a_machine_that_tips_has_no_ground_drawing(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    next(x for x in data["lifts"] if x["id"] == "L6")["load"]["mass_t"] = 9.5
    with pytest.raises(InputError, match="no ground drawing"):
        leg_mat_data(assess_lift(parse_fact(Job, data), "L6"))


def test_the_tandem_plan_shows_both_machines_and_the_load_from_pick_to_set_down(demo: Job) -> None:
    found = assess_tandem(demo, "T1", steps=60)
    data = tandem_plan_data(found, title="plan")
    pick = found.tandem.pick
    length = found.tandem.load.length_m
    first = data.load_rings_m[0]
    assert np.ptp(first[:, 0]) == pytest.approx(length)
    reach = found.tandem.lug_distance_m
    middle = pick.easting_m + (reach[1] - reach[0]) / 2
    assert first.mean(axis=0) == pytest.approx([middle, pick.northing_m])
    for k in (0, 1):
        stand = found.tandem.machines[k].stand
        ring = data.carrier_m[k]
        assert ring[:, 0].min() < stand.easting_m < ring[:, 0].max()
        assert len(data.mats_m[k]) == 4
    _, ax = new_axes(170.0, 120.0)
    draw_tandem_plan(data, ax)
    names = {p.get_gid() for p in ax.patches}
    assert {"carrier 1", "carrier 2", "load 0"} <= names
    low, high = ax.get_xlim()
    assert low < data.load_rings_m[..., 0].min()
    assert high > data.load_rings_m[..., 0].max()


def test_the_share_drawing_holds_the_nominal_within_its_band(demo: Job) -> None:
    found = assess_tandem(demo, "T1", steps=60)
    data = share_data(found)
    assert np.all(data.least_t <= data.plumb_t)
    assert np.all(data.plumb_t <= data.greatest_t)
    _, ax = new_axes(150.0, 90.0)
    draw_shares(data, ax)
    assert ax.get_ylim()[0] < data.least_t.min()
    assert ax.get_ylim()[1] > data.greatest_t.max()
