"""Working of the leg reactions: it leads to the result, by hand and from rounded figures."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from liftcalc.base.errors import InputError
from liftcalc.reactions.carrier import leg_reactions_kN
from liftcalc.reactions.working import leg_working

BASE = np.array([[3.6, 3.5], [3.6, -2.2], [-3.8, -1.4], [-3.8, 3.5]])
SPRINGS = np.array([25e3, 8e3, 16e3, 40e3])
CASES = Path(__file__).parents[1] / "published" / "cases" / "reactions.jsonl"
ROWS = {r["id"]: r for r in map(json.loads, CASES.read_text(encoding="utf-8").splitlines())}


@pytest.mark.parametrize("carrier", ["rigid", "flexible", "stiffness"])
@pytest.mark.parametrize("seed", range(5))
def test_every_step_follows_from_the_one_before(carrier, seed):
    rng = np.random.default_rng(seed)
    xy = rng.dirichlet(np.ones(4), (3, 4)) @ BASE
    k_t = 3e4 if carrier == "stiffness" else None
    got = leg_reactions_kN(
        640.0,
        xy,
        leg_xy_m=BASE,
        leg_stiffness_kN_m=SPRINGS,
        carrier=carrier,
        torsional_stiffness_kNm_rad=k_t,
        slew_x_m=0.3,
    )
    w = leg_working(got, (2, 1))
    assert_allclose(w.resultant_xy_m, xy[2, 1])
    d = BASE - w.centre_xy_m
    assert_allclose(SPRINGS @ d, 0.0, atol=1e-6)
    plane = SPRINGS * (w.sinking_m + d @ w.slopes)
    assert_allclose(w.plane_kN, plane)
    assert_allclose(w.plane_kN @ BASE, 640.0 * xy[2, 1], atol=1e-9)
    assert_allclose(w.bilateral_kN, w.plane_kN + w.twist_step_kN * w.pattern)
    assert_allclose(w.bilateral_kN, got.bilateral_kN[2, 1], rtol=1e-9, atol=1e-9)
    assert_allclose(w.reaction_kN, w.bilateral_kN + w.contact_step_kN * w.pattern, atol=1e-6)
    assert_allclose(w.reaction_kN, got.reaction_kN[2, 1])
    assert abs(w.sum_error_kN) < 1e-6
    assert_allclose(w.moment_error_kNm, 0.0, atol=1e-6)
    if carrier == "rigid":
        assert w.twist_step_kN == 0.0
        assert np.isnan(w.twist_moment_kNm)
    flat = leg_working(got, 9)
    assert_allclose(flat.reaction_kN, w.reaction_kN)


def test_a_published_row_can_be_worked_from_the_printed_figures():
    row = ROWS["leg-008"]
    i = row["inputs"]
    legs = np.c_[i["leg_x_m"], i["leg_y_m"]]
    got = leg_reactions_kN(
        i["total_vertical_kN"],
        (i["resultant_x_m"], i["resultant_y_m"]),
        leg_xy_m=legs,
        leg_stiffness_kN_m=i["leg_stiffness_kN_m"],
    )
    w = leg_working(got)
    # As printed: mm, mm/m and four figures.
    sinking_mm, slopes = round(w.sinking_m * 1e3, 3), np.round(np.multiply(w.slopes, 1e3), 4)
    centre = np.round(w.centre_xy_m, 3)
    by_hand = np.divide(i["leg_stiffness_kN_m"], 1e3) * (sinking_mm + (legs - centre) @ slopes)
    assert_allclose(by_hand, row["expected"]["leg_reaction_kN"], atol=0.1)


def test_three_legs_have_no_pattern_and_states_with_own_legs_their_own_working():
    got = leg_reactions_kN(450.0, (0.3, 0.4), leg_xy_m=[[3.2, 3.0], [3.2, -3.0], [-3.4, 0.0]])
    w = leg_working(got)
    assert w.pattern.size == 0
    assert_allclose(w.reaction_kN, got.reaction_kN)
    legs = np.stack([BASE, 0.9 * BASE])
    both = leg_reactions_kN(
        640.0, [(0.3, 0.4), (0.1, -0.2)], leg_xy_m=legs, carrier="flexible", slew_x_m=[0.1, 0.2]
    )
    w = leg_working(both, 1)
    assert_allclose(w.leg_xy_m, legs[1])
    assert_allclose(w.bilateral_kN, both.bilateral_kN[1])


def test_a_state_without_equilibrium_has_no_contact_step_and_wrong_states_are_refused():
    got = leg_reactions_kN(640.0, [(9.0, 0.0), (0.0, 0.0)], leg_xy_m=BASE)
    assert np.isnan(leg_working(got, 0).contact_step_kN)
    assert np.all(np.isnan(leg_working(got, 0).reaction_kN))
    for wrong in (2, -1, (0, 0), (), (5,)):
        with pytest.raises(InputError, match="state"):
            leg_working(got, wrong)
