"""How a load hangs on two lines, and upending."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.optimize import minimize

from liftcalc.base.errors import ConvergenceError, InputError
from liftcalc.rigging.tandem import tandem_share
from liftcalc.rigging.upending import hook_line_equilibrium, upending_share


def lowest_position(to_lug, height, head, length):
    """Independent: the centre of gravity sinks as far as two lines that cannot stretch allow."""
    p = np.array([[-to_lug[0], height[0]], [to_lug[1], height[1]]])

    def slack(q):
        c, s = np.cos(q[2]), np.sin(q[2])
        lug = q[:2] + p @ np.array([[c, s], [-s, c]])
        return length**2 - ((head - lug) ** 2).sum(axis=1)

    start = [head[:, 0].mean(), head[:, 1].mean() - length.mean() + 1.0, 0.0]
    best = minimize(
        lambda q: q[1],
        start,
        constraints={"type": "ineq", "fun": slack},
        method="SLSQP",
        options={"ftol": 1e-14, "maxiter": 500},
    )
    return best.x


@pytest.mark.parametrize("seed", range(25))
def test_the_load_hangs_as_low_as_an_independent_minimiser_finds(seed):
    rng = np.random.default_rng(seed)
    to_lug = rng.uniform(2.0, 8.0, 2)
    height = rng.uniform(0.0, 2.0, 2)
    head = np.array([[0.0, 30.0], [to_lug.sum() + rng.uniform(-1.0, 1.5), rng.uniform(29, 31)]])
    length = rng.uniform(15.0, 17.0, 2)
    got = hook_line_equilibrium(35.0, to_lug, head_xz_m=head, line_length_m=length, lug_above_cg_m=height)
    x, z, tilt = lowest_position(to_lug, height, head, length)
    assert got.cg_xz_m[1] == pytest.approx(z, abs=1e-5)
    assert got.cg_xz_m[0] == pytest.approx(x, abs=2e-3)
    assert got.tilt_deg == pytest.approx(np.degrees(tilt), abs=0.02)
    assert_allclose(np.hypot(*(head - got.lug_xz_m).T), length, rtol=1e-9)
    assert got.share_t.sum() == pytest.approx(35.0)


@pytest.mark.parametrize("seed", range(10))
def test_shares_are_those_of_the_closed_form_for_the_attitude_found(seed):
    rng = np.random.default_rng(100 + seed)
    to_lug, height = rng.uniform(2.0, 8.0, 2), rng.uniform(-0.5, 1.5, 2)
    head = np.array([[0.0, 30.0], [to_lug.sum() + 0.5, 30.4]])
    got = hook_line_equilibrium(35.0, to_lug, head_xz_m=head, line_length_m=(16.0, 15.5), lug_above_cg_m=height)
    rise = got.lug_xz_m[1, 1] - got.lug_xz_m[0, 1]
    closed = tandem_share(
        35.0,
        to_lug,
        lug_above_cg_m=height,
        level_difference_m=rise - (height[1] - height[0]),
        out_of_plumb_deg=got.out_of_plumb_deg[0],
    )
    assert_allclose(closed.share_t, got.share_t, rtol=1e-8)
    assert_allclose(closed.line_force_kN, got.line_force_kN, rtol=1e-8)
    assert_allclose(closed.out_of_plumb_deg, got.out_of_plumb_deg, atol=1e-6)
    assert_allclose(closed.tilt_deg, got.tilt_deg, atol=1e-8)


def test_heads_straight_over_the_lugs_give_plumb_lines_and_the_lever_rule():
    got = hook_line_equilibrium(40.0, (3.0, 5.0), head_xz_m=[[0, 30], [8, 30]], line_length_m=(20, 20))
    assert_allclose(got.share_t, [25.0, 15.0])
    assert_allclose(got.out_of_plumb_deg, 0.0, atol=1e-9)
    assert got.side_pull_kN == pytest.approx(0.0, abs=1e-9)


def test_heads_too_far_apart_pull_the_booms_together():
    apart = hook_line_equilibrium(
        40.0, (4.0, 4.0), head_xz_m=np.array([[[0, 30], [8 + d, 30]] for d in (0.0, 0.5, 1.0)]), line_length_m=(20, 20)
    )
    assert np.all(np.diff(apart.side_pull_kN) > 1.0)
    assert np.all(np.diff(apart.line_force_kN[:, 0]) > 0)
    # Symmetric: each line leans by asin(d / 2 / 20), outward at the top.
    lean = np.degrees(np.arcsin(np.array([0.0, 0.5, 1.0]) / 40.0))
    assert_allclose(apart.out_of_plumb_deg[:, 1], lean, atol=1e-9)
    assert_allclose(apart.out_of_plumb_deg[:, 0], -lean, atol=1e-9)


@settings(deadline=None)
@given(st.floats(1, 200), st.floats(2, 30), st.floats(0.05, 0.95), st.floats(0, 2), st.floats(0, 89))
def test_upending_shares_are_the_moments_about_the_head_lug(w, lug, part, offset, angle):
    cg = part * lug
    got = upending_share(w, angle, lug_distance_m=lug, cg_from_head_lug_m=cg, tail_lug_offset_m=offset)
    # Independent: points turned by a rotation, then two equations of equilibrium.
    t = np.radians(angle)
    head_to = np.array([[np.cos(t), np.sin(t)], [-np.sin(t), np.cos(t)]])
    tail_x = (head_to @ [lug, offset])[0]
    cg_x = (head_to @ [cg, 0.0])[0]
    head, tail = np.linalg.solve([[1, 1], [0, tail_x]], [w, w * cg_x])
    assert_allclose([got.head_share_t, got.tail_share_t], [head, tail], atol=1e-9 * w)
    assert not got.tail_slack


def test_tail_goes_slack_when_the_centre_of_gravity_passes_under_the_head_lug():
    angle = np.array([0.0, 60.0, 84.0, 86.0])
    got = upending_share(
        30.0, angle, lug_distance_m=16.0, cg_from_head_lug_m=7.0, tail_lug_offset_m=0.9, cg_offset_m=-0.6
    )
    limit = np.degrees(np.arctan(7.0 / 0.6))
    assert got.tail_slack.tolist() == (angle >= limit).tolist() == [False, False, False, True]
    assert got.head_share_t[-1] == 30.0
    assert got.tail_share_t[-1] == 0.0
    assert np.all(np.diff(got.tail_share_t) < 0)


def test_upending_is_refused_where_shares_are_not_determined():
    load = {"lug_distance_m": 16.0, "cg_from_head_lug_m": 7.0}
    upending_share(30.0, 89.9, **load)
    with pytest.raises(InputError, match="From there on the head machine carries all"):
        upending_share(30.0, 90.0, **load)
    with pytest.raises(InputError, match="less than lug_distance_m"):
        upending_share(30.0, 10.0, lug_distance_m=16.0, cg_from_head_lug_m=16.0)
    with pytest.raises(InputError, match="angle_from_horizontal_deg is 91"):
        upending_share(30.0, 91.0, **load)
    with pytest.raises(InputError, match="angle_from_horizontal_deg is nan"):
        upending_share(30.0, np.nan, **load)
    with pytest.raises(InputError, match="between the two hooks"):
        upending_share(30.0, 60.0, **load, cg_offset_m=6.0)


def test_hanging_is_refused_where_there_is_no_way_to_hang():
    lines = {"head_xz_m": [[0, 30], [8, 30]], "line_length_m": (20, 20)}
    with pytest.raises(InputError, match="share of a machine"):
        hook_line_equilibrium(40.0, (-1.0, 9.0), **lines)
    with pytest.raises(ConvergenceError, match="no equilibrium found"):
        hook_line_equilibrium(40.0, (1.0, 1.0), head_xz_m=[[0, 30], [90, 30]], line_length_m=(9, 9))
    with pytest.raises(InputError, match="line_length_m is 0"):
        hook_line_equilibrium(40.0, (3.0, 5.0), head_xz_m=lines["head_xz_m"], line_length_m=(0, 9))
    with pytest.raises(InputError, match="head_xz_m is nan"):
        hook_line_equilibrium(40.0, (3.0, 5.0), head_xz_m=[[0, np.nan], [8, 30]], line_length_m=(20, 20))
    with pytest.raises(InputError, match=r"shape \(..., 2, 2\)"):
        hook_line_equilibrium(40.0, (3.0, 5.0), head_xz_m=[0, 30], line_length_m=(20, 20))
