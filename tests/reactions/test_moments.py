"""Resultant, moments about tipping lines, leg and side shares, backward stability."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import nnls

from liftcalc.base.errors import InputError
from liftcalc.base.units import G_M_S2
from liftcalc.crane.legs import base_polygon, leg_points_m
from liftcalc.crane.masses import AdverseTerms, MachineMasses, straight_boom
from liftcalc.crane.stability import tipping_load
from liftcalc.reactions.moments import boom_side_share, leg_shares, line_moments, resultant, side_shares

LEG_X = (3.6, 3.6, -3.8, -3.8)
MASSES = MachineMasses(22.0, 0.4, 0.0, 20.0, -2.1, 1.1, 2.3)
RADIUS = np.arange(6.0, 26.0, 4.0)
SLEW = np.arange(0.0, 360.0, 30.0)
EXTENSION = st.floats(1.8, 4.0)
EXTENSIONS = st.tuples(EXTENSION, EXTENSION, EXTENSION, EXTENSION)


def boom_at(radius=RADIUS):
    return straight_boom(radius, 30.0, mass_t=8.0, cg_from_foot_m=12.0, foot_u_m=-1.2, foot_z_m=2.4)


def base_of(extensions):
    return base_polygon(leg_points_m(LEG_X, extensions))


@settings(deadline=None)
@given(EXTENSIONS, st.floats(0, 360))
def test_tipping_load_puts_the_resultant_on_its_line(extensions, slew):
    base, boom = base_of(extensions), boom_at()
    at = tipping_load(slew, boom, base=base, masses=MASSES)
    finite = np.isfinite(at.tipping_t[0])
    load = np.where(finite, at.tipping_t[0], 0.0)
    on = resultant(slew, boom, base=base, masses=MASSES, load_t=load)
    np.testing.assert_allclose(on.margin_m[0][finite], 0.0, atol=1e-9)


@settings(deadline=None)
@given(EXTENSIONS, st.floats(0, 360), st.floats(-2, 2), st.floats(-2, 2))
def test_tipping_load_of_a_tilted_machine_puts_its_resultant_on_its_line(extensions, slew, tilt_x, tilt_y):
    base, boom = base_of(extensions), boom_at()
    masses = dataclasses.replace(MASSES, carrier_z_m=1.2, slewing_z_m=2.0)
    terms = AdverseTerms(tilt_x_deg=tilt_x, tilt_y_deg=tilt_y)
    at = tipping_load(slew, boom, base=base, masses=masses, adverse=terms)
    finite = np.isfinite(at.tipping_t[0])
    load = np.where(finite, at.tipping_t[0], 0.0)
    tilt = {"tilt_x_deg": tilt_x, "tilt_y_deg": tilt_y}
    on = resultant(slew, boom, base=base, masses=masses, load_t=load, **tilt)
    np.testing.assert_allclose(on.margin_m[0][finite], 0.0, atol=1e-9)


def test_a_lean_away_from_the_boom_takes_weight_off_the_legs_under_it():
    base, boom = base_of((3.0, 3.0, 3.0, 3.0)), boom_at(np.array([4.0]))
    masses = dataclasses.replace(MASSES, carrier_z_m=1.2, slewing_z_m=2.0)
    level, leaning, forward = (
        boom_side_share(0.0, boom, base=base, masses=masses, tilt_x_deg=t) for t in (0.0, -1.0, 1.0)
    )
    assert leaning < level < forward
    height = (22.0 * 1.2 + 20.0 * 2.0 + 8.0 * boom.z_m[0]) / 50.0
    moved = height * np.tan(np.radians(1.0))
    at = [resultant(0.0, boom, base=base, masses=masses, tilt_x_deg=t) for t in (0.0, -1.0)]
    assert at[1].x_m == pytest.approx(at[0].x_m - moved)
    shares = [side_shares(0.0, boom, base=base, masses=masses, tilt_x_deg=t)[0, 0, 0] for t in (-1.0, 0.0)]
    assert shares[0] < shares[1]


def test_a_tilt_needs_the_heights_of_the_masses():
    base, boom = base_of((3.0, 3.0, 3.0, 3.0)), boom_at()
    masses = dataclasses.replace(MASSES, carrier_z_m=float("nan"), slewing_z_m=float("nan"))
    assert np.isfinite(resultant(0.0, boom, base=base, masses=masses).x_m).all()
    with pytest.raises(InputError, match="heights of the masses"):
        resultant(0.0, boom, base=base, masses=masses, tilt_y_deg=0.5)


@settings(deadline=None)
@given(EXTENSIONS, st.floats(0, 10), st.floats(0, 360))
def test_line_moments_are_weight_times_distance_to_the_line(extensions, load, slew):
    base, boom = base_of(extensions), boom_at()
    at = line_moments(slew, boom, base=base, masses=MASSES)
    total = resultant(slew, boom, base=base, masses=MASSES, load_t=load)
    distance = total.x_m[0, :, None] * base.normals[:, 0] + total.y_m[0, :, None] * base.normals[:, 1] - base.offsets_m
    left = at.fixed_moment_kNm[0] - at.load_arm_m[0] * load * G_M_S2 - at.wind_moment_kNm[0]
    np.testing.assert_allclose(left, total.total_t[0][:, None] * distance * G_M_S2, atol=1e-6)


@settings(deadline=None)
@given(EXTENSIONS, st.floats(-6, 6), st.floats(-6, 6))
def test_leg_shares_balance_and_never_pull(extensions, x, y):
    base = base_of(extensions)
    share = leg_shares(x, y, base=base)
    equations = np.vstack([np.ones(4), base.leg_xy_m.T])
    # non-negative least squares finds leg forces whenever some exist; it knows no polygon
    _, residual = nnls(equations, np.array([1.0, x, y]))
    if np.isnan(share).any():
        assert residual > 1e-9
    else:
        assert residual < 1e-6
        assert np.all(share >= 0)
        np.testing.assert_allclose(equations @ share, [1.0, x, y], atol=1e-8)


def test_leg_shares_are_equal_at_the_middle_of_a_rectangle():
    assert leg_shares(-0.1, 0.0, base=base_of([3.0] * 4)) == pytest.approx([0.25] * 4)


def test_leg_shares_outside_the_base_are_not_a_number():
    share = leg_shares([0.0, 5.0, 0.0], [0.0, 0.0, -3.01], base=base_of([3.0] * 4))
    assert np.isnan(share).any(axis=-1).tolist() == [False, True, True]


def test_leg_shares_on_the_base_edge_rest_on_two_legs():
    share = leg_shares(3.6, 1.0, base=base_of([3.0] * 4))
    assert share == pytest.approx([4 / 6, 2 / 6, 0.0, 0.0])


@settings(deadline=None)
@given(EXTENSIONS, st.floats(0, 8))
def test_side_shares_pair_up_to_the_whole(extensions, load):
    share = side_shares(SLEW, boom_at(), base=base_of(extensions), masses=MASSES, load_t=load)
    share = share[~np.isnan(share).any(axis=-1)]
    np.testing.assert_allclose(share[:, 0] + share[:, 1], 1.0)
    np.testing.assert_allclose(share[:, 2] + share[:, 3], 1.0)


def test_least_loaded_side_is_opposite_the_boom_under_load():
    sides = side_shares([0.0, 90.0, 180.0, 270.0], boom_at([12.0]), base=base_of([3.5] * 4), masses=MASSES, load_t=15.0)
    assert np.argmin(sides[:, 0], axis=-1).tolist() == [1, 3, 0, 2]


def test_backward_stability_moments_by_hand():
    """Boom over the left, 3 m radius: all by plain moments about the right leg line."""
    base, boom = base_of([3.0, 2.0, 2.0, 3.0]), boom_at([3.0])
    along = (20.0 * -2.1 + 8.0 * boom.u_m[0]) / 50.0
    at = resultant(90.0, boom, base=base, masses=MASSES)
    assert at.y_m[0, 0] == pytest.approx(along)
    assert at.margin_m[0, 0] == pytest.approx(along + 2.0)
    share = boom_side_share(90.0, boom, base=base, masses=MASSES)
    assert share[0, 0] == pytest.approx((along + 2.0) / 5.0)


def test_backward_stability_needs_the_slew_centre_inside_the_base():
    beside = base_polygon([[3.6, 3.0], [3.6, 0.5], [-3.8, 0.5], [-3.8, 3.0]])
    with pytest.raises(InputError, match="a base around the slew centre"):
        boom_side_share(0.0, boom_at([6.0]), base=beside, masses=MASSES)


def test_wind_moment_is_force_times_height():
    terms = AdverseTerms(wind_direction="boom", boom_wind_force_kN=3.0, boom_wind_z_m=14.0, load_wind_force_kN=2.0)
    boom = boom_at([12.0])
    at = line_moments(90.0, boom, base=base_of([3.5] * 4), masses=MASSES, adverse=terms)
    left = base_of([3.5] * 4).edge_legs.index(("FL", "RL"))
    assert at.wind_moment_kNm[0, 0, left] == pytest.approx(3.0 * 14.0 + 2.0 * boom.head_z_m[0])


def test_resultant_refuses_a_negative_load_and_takes_pairs():
    base = base_of([3.5] * 4)
    with pytest.raises(InputError, match="load_t"):
        resultant(0.0, boom_at(), base=base, masses=MASSES, load_t=-1.0)
    slew = np.linspace(0, 90, RADIUS.size)
    grid = resultant(slew, boom_at(), base=base, masses=MASSES, load_t=3.0)
    pairs = resultant(slew, boom_at(), base=base, masses=MASSES, load_t=3.0, layout="pairs")
    np.testing.assert_allclose(pairs.margin_m, np.diagonal(grid.margin_m))
