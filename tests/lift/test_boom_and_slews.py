"""Boom set short for bending, outriggers that lift on a turn, and tipping lines."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from liftcalc.facts.io import parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.boom_setting import boom_setting, boom_settings
from liftcalc.lift.leg_slews import leg_slew_rows, leg_slew_values, leg_slews
from liftcalc.lift.report import tipping_line_rows

LIFTS = ["L1", "L2", "L3", "L4", "L5", "L6", "L7", "L8"]


@pytest.fixture(scope="module")
def lifts(demo: Job) -> dict[str, LiftAssessment]:
    return {lift.id: assess_lift(demo, lift.id) for lift in demo.lifts}


def test_the_boom_hangs_the_load_at_the_pick_radius_when_set_short(demo: Job) -> None:
    for lift in demo.lifts:
        a = assess_lift(demo, lift.id)
        pick, down = boom_settings(a.setup, a.path)
        for found, radius in ((pick, a.path.radius_m[0]), (down, a.path.radius_m[-1])):
            assert found.loaded is not None
            assert found.loaded.radius_m == pytest.approx(radius, abs=1e-6)
            assert 0.0 < found.short_m < found.loaded.radius_growth_m


def test_a_heavier_load_asks_for_the_boom_to_be_set_shorter(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    short = []
    for mass in (1.0, 2.0, 3.0):
        data["lifts"][0]["load"]["mass_t"] = mass
        a = assess_lift(parse_fact(Job, data), data["lifts"][0]["id"])
        short.append(boom_setting(a.setup, 12.0).short_m)
    assert short[0] < short[1] < short[2]


def test_a_boom_outside_the_method_gets_no_estimate_but_a_reason(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    boom = data["machines"][0]["boom"]
    boom["bending_stiffness_kNm2"] = [2.0e3] * len(boom["lengths_m"])
    a = assess_lift(parse_fact(Job, data), "L1")
    found = boom_setting(a.setup, float(a.path.radius_m[0]))
    assert found.loaded is None
    assert math.isnan(found.short_m)
    assert "bending_stiffness_kNm2" in found.problem


def show(value: float | None, quantity: str) -> str:
    return f"{value:.2f}"


@pytest.mark.parametrize("lift", LIFTS)
def test_the_exact_worst_slew_is_no_less_than_the_scan_by_degrees(lifts: dict[str, LiftAssessment], lift: str) -> None:
    a = lifts[lift]
    found = leg_slews(a.setup, a.path)
    scan = a.forces.on_circle
    if scan.unstable_states.size:
        assert np.all(np.isinf(found.envelope.max_kN))
        assert "circle_worst_slew_deg" not in leg_slew_values(a.setup, found)
    else:
        assert np.all(found.envelope.max_kN >= scan.max_kN - 1e-6)
        assert found.envelope.max_kN == pytest.approx(scan.max_kN, rel=2e-4)
        values = leg_slew_values(a.setup, found)
        apart = (np.array(values["circle_worst_slew_deg"]) - scan.max_state + 180) % 360 - 180
        assert np.all(np.abs(apart) <= 1.0)
    rows = leg_slew_rows(a.setup, found, show)
    assert [r[0] for r in rows] == ["FL", "FR", "RR", "RL"]


def test_legs_that_lift_on_the_turn_are_named_with_their_sector(demo: Job) -> None:
    a = assess_lift(demo, "L6")
    found = leg_slews(a.setup, a.path)
    scan = a.forces.on_circle  # with wind from any side, not toward the boom alone
    lifted = scan.lifted | scan.unstable[:, None]
    for k, row in enumerate(leg_slew_rows(a.setup, found, show)):
        inside = np.zeros(360, dtype=bool)
        for s in found.lift_off:
            if s.leg == k:
                inside |= (np.arange(360) - s.start_deg) % 360 <= (s.end_deg - s.start_deg) % 360
        assert np.all(lifted[inside, k])
        assert scan.lifted[~inside, k].sum() <= 25
        assert ("stays" in row[-1]) == (not inside.any())


def test_tipping_lines_are_told_with_their_lengths(lifts: dict[str, LiftAssessment]) -> None:
    setup = lifts["L4"].setup
    corners = setup.base.vertices_m
    told = tipping_line_rows(setup, lambda value, _: f"{value:.6f}")
    for k, (_, away, length) in enumerate(told):
        a, b = corners[k], corners[(k + 1) % len(corners)]
        assert float(length) == pytest.approx(math.dist(a, b), abs=1e-6)
        area = abs(a[0] * b[1] - a[1] * b[0])  # twice the triangle with the slew centre
        assert float(away) == pytest.approx(area / math.dist(a, b), abs=1e-6)
