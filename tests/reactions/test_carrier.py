"""Leg reactions: invariants, an independent solver, limits of validity, errors."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.optimize import nnls

from liftcalc.base.errors import InputError
from liftcalc.reactions.carrier import leg_reactions_kN

BASE = np.array([[3.6, 3.5], [3.6, -2.2], [-3.8, -1.4], [-3.8, 3.5]])
SPRINGS = np.array([25e3, 8e3, 16e3, 40e3])
CARRIERS = ("rigid", "flexible", "stiffness")


def solve(v, xy, legs, *, carrier="rigid", k=SPRINGS, k_t=3e4, slew_x=0.2):
    return leg_reactions_kN(
        v,
        xy,
        leg_xy_m=legs,
        leg_stiffness_kN_m=k,
        carrier=carrier,
        torsional_stiffness_kNm_rad=k_t if carrier == "stiffness" else None,
        slew_x_m=slew_x,
    )


def least_work_kN(v, xy, legs, k, k_t, slew_x):
    """Least complementary energy with R >= 0, by scipy's active-set non-negative least squares.

    Equilibrium enters as three heavily weighted rows.
    """
    front, rear = legs[:2, 0].mean(), legs[2:, 0].mean()
    y = legs[:, 1]
    share = (slew_x - rear) / (front - rear)
    on_front = np.array([1.0, 1.0, 0.0, 0.0]) * y
    on_rear = np.array([0.0, 0.0, 1.0, 1.0]) * y
    rows = [np.diag(1 / np.sqrt(k))]
    right = [np.zeros(4)]
    if np.isfinite(k_t):
        rows.append(np.vstack([np.sqrt((1 - share) / k_t) * on_front]))
        rows.append(np.vstack([np.sqrt(share / k_t) * on_rear]))
        right.append(np.zeros(2))
    weight = 1e5 / np.sqrt(k.min())
    rows.append(weight * np.vstack([np.ones(4), legs[:, 0], y]))
    right.append(weight * v * np.array([1.0, *xy]))
    return nnls(np.vstack(rows), np.concatenate(right), maxiter=1000)[0]


legs_any = st.tuples(*[st.floats(1.0, 3.9) for _ in range(4)], *[st.floats(2.5, 4.5) for _ in range(4)]).map(
    lambda t: np.array([[t[4], t[0]], [t[5], -t[1]], [-t[6], -t[2]], [-t[7], t[3]]])
)
springs_any = st.lists(st.floats(2e3, 1e5), min_size=4, max_size=4).map(np.array)
weights_any = st.lists(st.floats(0.0, 1.0), min_size=4, max_size=4).map(np.array)
twist_any = st.floats(2.0, 7.0).map(lambda e: 10.0**e)
carrier_any = st.sampled_from(CARRIERS)
force_any = st.floats(50.0, 3000.0)


def inside(legs, w):
    assume(w.sum() > 0.1)
    return (w / w.sum()) @ legs


@settings(deadline=None, max_examples=200)
@given(force_any, legs_any, springs_any, weights_any, twist_any, carrier_any)
def test_reactions_sum_to_total_weight_balance_both_moments_and_never_pull(v, legs, k, w, k_t, carrier):
    xy = inside(legs, w)
    got = solve(v, xy, legs, carrier=carrier, k=k, k_t=k_t)
    assert not got.unstable
    assert np.all(got.reaction_kN >= 0)
    assert got.reaction_kN.sum() == pytest.approx(v, rel=1e-8)
    assert_allclose(got.reaction_kN @ legs, v * xy, atol=1e-7 * v)
    assert np.array_equal(got.lifted, got.reaction_kN == 0)


@settings(deadline=None, max_examples=200)
@given(force_any, legs_any, springs_any, weights_any, twist_any, st.booleans())
def test_lifted_legs_and_reactions_are_those_of_an_independent_contact_solver(v, legs, k, w, k_t, rigid):
    xy = inside(legs, w)
    got = solve(v, xy, legs, carrier="rigid" if rigid else "stiffness", k=k, k_t=k_t)
    want = least_work_kN(v, xy, legs, k, np.inf if rigid else k_t, 0.2)
    assert_allclose(got.reaction_kN, want, atol=2e-5 * v)


@settings(deadline=None)
@given(force_any, legs_any, springs_any, weights_any, twist_any, carrier_any)
def test_a_lifted_leg_stands_clear_of_the_ground_and_the_others_are_pressed_in(v, legs, k, w, k_t, carrier):
    got = solve(v, inside(legs, w), legs, carrier=carrier, k=k, k_t=k_t)
    down = got.settlement_m
    loaded = ~got.lifted
    assert_allclose(down[loaded] * k[loaded], got.reaction_kN[loaded], rtol=1e-9)
    if got.lifted.sum() == 1 and carrier != "flexible":
        assert np.all(down[got.lifted] <= 1e-9)
    else:
        assert np.all(np.isnan(down[got.lifted]))


@settings(deadline=None)
@given(force_any, legs_any, springs_any, weights_any, twist_any, carrier_any)
def test_mirroring_machine_and_ground_left_to_right_mirrors_the_reactions(v, legs, k, w, k_t, carrier):
    xy = inside(legs, w)
    swap = [1, 0, 3, 2]
    flip = np.array([1.0, -1.0])
    got = solve(v, xy, legs, carrier=carrier, k=k, k_t=k_t)
    mirror = solve(v, xy * flip, (legs * flip)[swap], carrier=carrier, k=k[swap], k_t=k_t)
    assert_allclose(mirror.reaction_kN[swap], got.reaction_kN, atol=1e-8 * v)


@settings(deadline=None)
@given(force_any, legs_any, springs_any, weights_any, twist_any, carrier_any)
def test_turning_machine_and_ground_front_to_rear_turns_the_reactions(v, legs, k, w, k_t, carrier):
    xy = inside(legs, w)
    swap = [3, 2, 1, 0]
    flip = np.array([-1.0, 1.0])
    got = solve(v, xy, legs, carrier=carrier, k=k, k_t=k_t, slew_x=0.2)
    mirror = solve(v, xy * flip, (legs * flip)[swap], carrier=carrier, k=k[swap], k_t=k_t, slew_x=-0.2)
    assert_allclose(mirror.reaction_kN[swap], got.reaction_kN, atol=1e-8 * v)


@settings(deadline=None)
@given(force_any, st.floats(1.01, 3.0), legs_any, springs_any, weights_any, twist_any, carrier_any)
def test_reactions_grow_in_proportion_to_the_force(v, factor, legs, k, w, k_t, carrier):
    xy = inside(legs, w)
    one = solve(v, xy, legs, carrier=carrier, k=k, k_t=k_t)
    more = solve(factor * v, xy, legs, carrier=carrier, k=k, k_t=k_t)
    assert_allclose(more.reaction_kN, factor * one.reaction_kN, atol=1e-8 * v * factor)


@settings(deadline=None)
@given(
    force_any, st.floats(2.5, 4.5), st.floats(1.0, 3.9), st.floats(2e3, 1e5), weights_any, twist_any, st.integers(0, 3)
)
def test_moving_the_resultant_toward_a_leg_never_lowers_its_reaction(v, a, b, k, w, k_t, i):
    # equal springs on a rectangle: beside a softer or farther leg it is not a law
    legs = np.array([[a, b], [a, -b], [-a, -b], [-a, b]])
    start = inside(legs, w)
    points = start + np.linspace(0.0, 1.0, 41)[:, None] * (legs[i] - start)
    for carrier in ("rigid", "stiffness"):
        got = solve(v, points, legs, carrier=carrier, k=np.full(4, k), k_t=k_t, slew_x=0.0)
        assert np.all(np.diff(got.reaction_kN[:, i]) >= -1e-7 * v)


@settings(deadline=None)
@given(force_any, legs_any, springs_any, twist_any, st.integers(0, 3))
def test_a_leg_under_the_resultant_takes_all(v, legs, k, k_t, i):
    for carrier in ("rigid", "stiffness"):
        got = solve(v, legs[i], legs, carrier=carrier, k=k, k_t=k_t)
        assert_allclose(got.reaction_kN[i], v, rtol=1e-6)


@settings(deadline=None)
@given(force_any, legs_any, springs_any, weights_any)
def test_stated_twist_stiffness_reaches_both_limits(v, legs, k, w):
    xy = inside(legs, w)
    soft = solve(v, xy, legs, carrier="stiffness", k=k, k_t=1e-4)
    stiff = solve(v, xy, legs, carrier="stiffness", k=k, k_t=1e12)
    assert_allclose(soft.reaction_kN, solve(v, xy, legs, carrier="flexible", k=k).reaction_kN, atol=1e-5 * v)
    assert_allclose(stiff.reaction_kN, solve(v, xy, legs, k=k).reaction_kN, atol=1e-5 * v)


@settings(deadline=None)
@given(force_any, legs_any, st.floats(-9, 9), st.floats(-9, 9))
def test_a_state_is_unstable_exactly_when_the_resultant_is_outside_the_base_polygon(v, legs, x, y):
    from shapely.geometry import MultiPoint, Point

    hull = MultiPoint(legs).convex_hull
    point = Point(x, y)
    assume(hull.exterior.distance(point) > 1e-6)
    for carrier in CARRIERS:
        got = solve(v, (x, y), legs, carrier=carrier)
        assert bool(got.unstable) is not hull.contains(point)
        assert np.all(np.isnan(got.reaction_kN)) == bool(got.unstable)


def test_a_leg_inside_the_triangle_of_the_other_three_is_solved_too():
    legs = np.array([[4.0, 3.0], [1.0, -0.4], [-4.0, -3.5], [-4.0, 3.5]])
    rng = np.random.default_rng(3)
    triangle = legs[[0, 2, 3]]
    for w in rng.dirichlet(np.ones(3), 50):
        got = leg_reactions_kN(500.0, w @ triangle, leg_xy_m=legs, leg_stiffness_kN_m=SPRINGS)
        want = least_work_kN(500.0, w @ triangle, legs, SPRINGS, np.inf, 0.0)
        assert_allclose(got.reaction_kN, want, atol=0.01)


def test_three_legs_in_line_leave_the_fourth_determined_by_statics():
    legs = np.array([[3.0, 2.0], [3.0, 0.0], [-3.0, 0.0], [0.0, 0.0]])
    got = leg_reactions_kN(100.0, (0.5, 0.5), leg_xy_m=legs)
    assert got.reaction_kN[0] == pytest.approx(25.0)
    assert got.reaction_kN.sum() == pytest.approx(100.0)
    assert leg_reactions_kN(100.0, (0.5, -0.1), leg_xy_m=legs).unstable


def test_on_a_tipping_line_two_legs_carry_all_and_just_outside_there_is_no_equilibrium():
    rectangle = [[3.5, 3.0], [3.5, -3.0], [-3.5, -3.0], [-3.5, 3.0]]
    got = leg_reactions_kN(600.0, [(0.0, 3.0), (0.0, 3.00001)], leg_xy_m=rectangle)
    assert_allclose(got.reaction_kN[0], [300.0, 0.0, 0.0, 300.0], atol=1e-6)
    assert got.lifted[0].tolist() == [False, True, True, False]
    assert got.unstable.tolist() == [False, True]
    assert not np.any(got.worst_kN[1] <= 1e9), "a comparison with a limit must fail"


def test_legs_springs_and_loads_may_all_vary_by_state():
    rng = np.random.default_rng(5)
    v = rng.uniform(300, 900, (6, 1))
    legs = BASE + rng.uniform(-0.3, 0.3, (7, 4, 2))
    k = rng.uniform(5e3, 5e4, (6, 7, 4))
    xy = rng.uniform(-1, 1, (6, 7, 2))
    for carrier in CARRIERS:
        got = solve(v, xy, legs, carrier=carrier, k=k, k_t=rng.uniform(1e3, 1e5, 7))
        assert got.reaction_kN.shape == (6, 7, 4)
    got = solve(v, xy, legs, k=k)
    one = solve(v[4, 0], xy[4, 3], legs[3], k=k[4, 3])
    assert_allclose(got.reaction_kN[4, 3], one.reaction_kN, rtol=1e-12)
    assert_allclose(got.settlement_m[4, 3], one.settlement_m, rtol=1e-9)


def test_legs_that_vary_along_one_axis_of_the_states_are_matched_to_it():
    rng = np.random.default_rng(6)
    legs = BASE + rng.uniform(-0.3, 0.3, (3, 1, 4, 2))
    xy = rng.uniform(-1.5, 1.5, (2, 1, 5, 2))
    got = leg_reactions_kN(600.0, xy, leg_xy_m=legs, carrier="flexible", slew_x_m=[0.0, 0.1, 0, 0, 0])
    assert got.reaction_kN.shape == (2, 3, 5, 4)
    one = leg_reactions_kN(600.0, xy[1, 0, 1], leg_xy_m=legs[2, 0], carrier="flexible", slew_x_m=0.1)
    assert_allclose(got.reaction_kN[1, 2, 1], one.reaction_kN, rtol=1e-12)
    assert_allclose(got.leg_xy_m[1, 2, 1], legs[2, 0])


def test_rigid_legs_that_vary_along_one_axis_are_matched_too():
    legs = BASE * np.array([1.0, 0.9, 0.8])[:, None, None, None]
    xy = np.array([[[0.5, 0.2], [-0.4, 0.9]]])
    got = leg_reactions_kN(600.0, xy, leg_xy_m=legs, leg_stiffness_kN_m=SPRINGS)
    assert got.reaction_kN.shape == (3, 2, 4)
    one = leg_reactions_kN(600.0, xy[0, 1], leg_xy_m=legs[2, 0], leg_stiffness_kN_m=SPRINGS)
    assert_allclose(got.reaction_kN[2, 1], one.reaction_kN, rtol=1e-12)
    assert_allclose(got.settlement_m[2, 1], one.settlement_m, rtol=1e-12)


def test_three_legs_tip_outside_their_triangle_and_stand_on_its_edge():
    legs = [[3.0, 3.0], [3.0, -3.0], [-3.0, 0.0]]
    got = leg_reactions_kN(300.0, [(1.0, 0.0), (3.0, 1.0), (3.1, 0.0)], leg_xy_m=legs, leg_stiffness_kN_m=[1e4] * 3)
    assert_allclose(got.reaction_kN[:2], [[100, 100, 100], [200, 100, 0]], atol=1e-6)
    assert got.unstable.tolist() == [False, False, True]
    assert np.isnan(got.settlement_m[1]).tolist() == [False, False, True]
    assert np.isnan(got.reaction_kN[2]).all()


def test_without_stiffness_there_is_no_settlement():
    assert leg_reactions_kN(600.0, (0.5, 0.2), leg_xy_m=BASE).settlement_m is None


def test_inputs_stay_untouched():
    xy, legs, k = np.array([1.5, 2.2]), BASE.copy(), SPRINGS.copy()
    leg_reactions_kN(500.0, xy, leg_xy_m=legs, leg_stiffness_kN_m=k)
    assert np.array_equal(legs, BASE)
    assert np.array_equal(k, SPRINGS)
    assert xy.tolist() == [1.5, 2.2]


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"vertical_kN": 0.0}, "vertical_kN is 0.0; allowed: greater than 0"),
        ({"vertical_kN": float("nan")}, "vertical_kN is nan"),
        ({"resultant_xy_m": (np.nan, 0.0)}, "resultant_xy_m is nan"),
        ({"resultant_xy_m": (0.0, 0.0, 0.0)}, "resultant_xy_m"),
        ({"leg_xy_m": np.zeros((4, 2))}, "outriggers in one line"),
        ({"leg_xy_m": np.c_[np.arange(4.0), np.arange(4.0)]}, "outriggers in one line"),
        ({"leg_xy_m": BASE[:2]}, r"shape \(..., 4, 2\)"),
        ({"leg_xy_m": np.where(BASE > 3.59, np.inf, BASE)}, "leg_xy_m is inf"),
        ({"leg_stiffness_kN_m": [1e4, 1e4, 0.0, 1e4]}, "leg_stiffness_kN_m is 0.0"),
        ({"leg_stiffness_kN_m": [1e4, 1e4, np.nan, 1e4]}, "leg_stiffness_kN_m is nan"),
        ({"leg_stiffness_kN_m": [1e4, 1e4, 1e4]}, "leg_stiffness_kN_m"),
        ({"carrier": "soft"}, "carrier is 'soft'; allowed: rigid, flexible, stiffness"),
        ({"carrier": "stiffness"}, "torsional_stiffness_kNm_rad"),
        (
            {"carrier": "stiffness", "torsional_stiffness_kNm_rad": 1e4, "leg_stiffness_kN_m": None},
            "leg_stiffness_kN_m is None",
        ),
        ({"carrier": "stiffness", "torsional_stiffness_kNm_rad": -1.0}, "torsional_stiffness"),
        ({"carrier": "flexible", "slew_x_m": 3.7}, "between the rear beam and the front beam"),
        ({"carrier": "flexible", "slew_x_m": np.nan}, "slew_x_m is nan"),
        ({"carrier": "flexible", "leg_xy_m": BASE[[1, 0, 2, 3]]}, "order FL, FR, RR, RL"),
        ({"carrier": "flexible", "leg_xy_m": BASE[:3], "leg_stiffness_kN_m": None}, "four outriggers"),
        ({"carrier": "flexible", "leg_xy_m": [[3, 2], [3, 0], [-3, -1], [-1, -2 / 3]]}, "beams that cannot twist"),
        ({"leg_xy_m": np.stack([BASE] * 3), "leg_stiffness_kN_m": np.ones((2, 4))}, "broadcast"),
        ({"resultant_xy_m": np.zeros((3, 2)), "vertical_kN": [1.0, 2.0]}, "broadcast"),
    ],
)
def test_wrong_input_is_named(change, text):
    good = {"vertical_kN": 500.0, "resultant_xy_m": (0.1, 0.2), "leg_xy_m": BASE, "leg_stiffness_kN_m": SPRINGS}
    with pytest.raises(InputError, match=text):
        leg_reactions_kN(**(good | change))
