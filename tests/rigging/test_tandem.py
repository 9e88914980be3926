"""Two machines on one load: statics solved otherwise, invariants, limits, errors."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from liftcalc.base.errors import InputError
from liftcalc.base.units import G_M_S2
from liftcalc.rigging.tandem import several_crane_capacity_t, tandem_share, tandem_share_envelope

arm = st.floats(0.5, 12.0)
height = st.floats(-2.0, 3.0)


@settings(deadline=None)
@given(st.floats(1, 300), arm, arm, height, height, st.floats(-0.9, 0.9), st.floats(-4, 4))
def test_forces_and_moment_of_the_hanging_load_balance(w, a, b, h1, h2, delta, lean):
    try:
        got = tandem_share(w, (a, b), lug_above_cg_m=(h1, h2), level_difference_m=delta, out_of_plumb_deg=lean)
    except InputError:
        assume(False)
    # Independent: three equations of equilibrium in force components, solved by numpy, with the
    # lugs turned by the tilt that the level difference asks for.
    tilt = np.radians(got.tilt_deg)
    turn = np.array([[np.cos(tilt), -np.sin(tilt)], [np.sin(tilt), np.cos(tilt)]])
    (x1, z1), (x2, z2) = (turn @ [-a, h1], turn @ [b, h2])
    assert z2 - z1 == pytest.approx(h2 - h1 + delta, abs=1e-9)
    tan = np.tan(np.radians(lean))
    matrix = [[1, 1, 0], [tan, 0, 1], [x1 - z1 * tan, x2, -z2]]  # V1, V2, H2
    v1, v2, h = np.linalg.solve(matrix, [w, 0, 0])
    assert_allclose(got.share_t, [v1, v2], rtol=1e-8, atol=1e-9 * w)
    assert_allclose(got.side_pull_kN, abs(h) * G_M_S2, atol=1e-7 * w)
    assert_allclose(got.line_force_kN, np.hypot([v1, v2], [v1 * tan, h]) * G_M_S2, rtol=1e-8)
    assert got.share_t.sum() == pytest.approx(w)


@settings(deadline=None)
@given(st.floats(1, 300), arm, arm, st.floats(0.05, 3.0), st.floats(0.01, 0.4))
def test_the_higher_hook_takes_more_with_lugs_above_and_less_with_lugs_below(w, a, b, h, delta):
    level = tandem_share(w, (a, b)).share_t[1]
    try:
        above = tandem_share(w, (a, b), lug_above_cg_m=(h, h), level_difference_m=delta)
        below = tandem_share(w, (a, b), lug_above_cg_m=(-h, -h), level_difference_m=delta)
    except InputError:
        assume(False)
    assert above.share_t[1] > level > below.share_t[1]


@settings(deadline=None)
@given(arm, arm, height, height, st.floats(-0.5, 0.5), st.floats(-3, 3))
def test_naming_the_machines_the_other_way_round_swaps_the_shares(a, b, h1, h2, delta, lean):
    try:
        one = tandem_share(30.0, (a, b), lug_above_cg_m=(h1, h2), level_difference_m=delta, out_of_plumb_deg=lean)
        two = tandem_share(
            30.0, (b, a), lug_above_cg_m=(h2, h1), level_difference_m=-delta, out_of_plumb_deg=-one.out_of_plumb_deg[1]
        )
    except InputError:
        assume(False)
    assert_allclose(two.share_t[::-1], one.share_t, rtol=1e-9)
    assert_allclose(two.line_force_kN[::-1], one.line_force_kN, rtol=1e-9)


@settings(deadline=None, max_examples=50)
@given(
    st.floats(2, 12),
    st.floats(2, 12),
    height,
    height,
    st.floats(0, 0.5),
    st.floats(0, 3),
    st.floats(0, 0.5),
    st.integers(0, 10**6),
)
def test_no_combination_of_the_errors_leaves_the_envelope(a, b, h1, h2, level, plumb, shift, seed):
    lugs = {"lug_above_cg_m": (h1, h2)}
    try:
        env = tandem_share_envelope(
            50.0,
            (a, b),
            **lugs,
            level_error_m=level,
            out_of_plumb_error_deg=plumb,
            cg_error_m=shift,
            load_error_ratio=0.05,
        )
    except InputError:
        assume(False)
    rng = np.random.default_rng(seed)
    e = shift * rng.uniform(-1, 1, 400)
    got = tandem_share(
        50.0 * rng.uniform(0.95, 1.05, 400),
        np.stack([a + e, b - e], axis=-1),
        **lugs,
        level_difference_m=level * rng.uniform(-1, 1, 400),
        out_of_plumb_deg=plumb * rng.uniform(-1, 1, 400),
    )
    assert np.all(got.share_t <= env.max_share_t * (1 + 1e-9))
    assert np.all(got.share_t >= env.min_share_t * (1 - 1e-9))
    assert np.all(got.line_force_kN <= env.max_line_force_kN * (1 + 1e-9))
    assert np.all(got.side_pull_kN <= env.max_side_pull_kN * (1 + 1e-9) + 1e-9)
    assert np.all(env.growth_ratio >= 1 - 1e-12)


def test_envelope_without_errors_is_the_nominal_share():
    env = tandem_share_envelope(40.0, (3.0, 5.0), lug_above_cg_m=(1.2, 1.2))
    assert_allclose(env.nominal.share_t, [25.0, 15.0])
    assert_allclose(env.max_share_t, [25.0, 15.0])
    assert_allclose(env.min_share_t, [25.0, 15.0])
    assert env.max_side_pull_kN == 0.0


def test_arrays_of_loads_and_lugs_broadcast():
    got = tandem_share(np.array([[30.0], [40.0]]), [[3.0, 5.0], [4.0, 4.0], [2.0, 6.0]], out_of_plumb_deg=1.0)
    assert got.share_t.shape == (2, 3, 2)
    assert_allclose(got.share_t[1, 2], tandem_share(40.0, (2, 6), out_of_plumb_deg=1.0).share_t)
    env = tandem_share_envelope([30.0, 40.0], (3.0, 5.0), level_error_m=[0.1, 0.2])
    assert env.max_share_t.shape == (2, 2)


def test_more_machines_ask_for_more_margin():
    factors = [float(several_crane_capacity_t(1.0, n)) for n in (2, 3, 4, 5, 9)]
    assert factors == [1.20, 1.33, 1.50, 1.50, 1.50]


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: tandem_share(0.0, (3, 5)), "load_t is 0.0; allowed: greater than 0"),
        (lambda: tandem_share(np.nan, (3, 5)), "load_t is nan"),
        (lambda: tandem_share(40, (3, 5, 1)), "cg_to_lug_m"),
        (lambda: tandem_share(40, (3, -3)), "sum of cg_to_lug_m is 0.0"),
        (lambda: tandem_share(40, (-1, 5)), "not between the lifting points"),
        (lambda: tandem_share(40, (3, np.inf)), "cg_to_lug_m is inf"),
        (lambda: tandem_share(40, (3, 5), level_difference_m=8.0), "distance between the lifting points"),
        (lambda: tandem_share(40, (3, 5), level_difference_m=np.nan), "level_difference_m is nan"),
        (lambda: tandem_share(40, (3, 5), out_of_plumb_deg=31.0), "out_of_plumb_deg is 31.0"),
        (lambda: tandem_share(40, (0.2, 5), lug_above_cg_m=(-3, -3), level_difference_m=1.0), "share of a machine"),
        (lambda: tandem_share_envelope(40, (3, 5), level_error_m=-0.1), "level_error_m"),
        (lambda: tandem_share_envelope(40, (0.1, 5), cg_error_m=0.2), "share of a machine"),
        (lambda: tandem_share_envelope(40, (3, 5), load_error_ratio=1.0), "load_error_ratio"),
        (lambda: several_crane_capacity_t(10.0, 1), "number_of_cranes is 1; allowed: at least 2"),
        (lambda: several_crane_capacity_t(10.0, 2.5), "number_of_cranes is 2.5"),
        (lambda: several_crane_capacity_t(10.0, True), "number_of_cranes is True"),
        (lambda: several_crane_capacity_t(-1.0, 2), "calculated_share_t is -1.0"),
    ],
)
def test_wrong_input_is_named(call, text):
    with pytest.raises(InputError, match=text):
        call()
