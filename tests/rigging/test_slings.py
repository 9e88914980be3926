"""Sling tensions: equilibrium, symmetry and a general frame library."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.base.units import G_M_S2
from liftcalc.rigging.slings import Bridle, bridle_tensions

RECTANGLE = np.array([[1.5, 1.0, 0.0], [1.5, -1.0, 0.0], [-1.5, -1.0, 0.0], [-1.5, 1.0, 0.0]])
CG = st.tuples(st.floats(-0.9, 0.9), st.floats(-0.6, 0.6), st.floats(-2.0, 0.5))


def _residual(out: Bridle, tension: np.ndarray, load_t: float, up: np.ndarray) -> float:
    force = (tension[..., None] * out.direction).sum(-2) - load_t * G_M_S2 * up
    return float(np.abs(force).max())


@settings(deadline=None, max_examples=200)
@given(cg=CG, height=st.floats(2.0, 8.0), load=st.floats(0.5, 80), dz=st.floats(-0.3, 0.3))
def test_forces_and_moments_balance_in_every_reported_state(
    cg: tuple[float, float, float], height: float, load: float, dz: float
) -> None:
    lugs = RECTANGLE + np.array([[0, 0, dz], [0, 0, 0], [0, 0, -dz], [0, 0, dz / 2]])
    hook = np.array([cg[0], cg[1], height])
    out = bridle_tensions(load, lugs, hook_m=hook, cg_m=cg)
    up = np.array([0.0, 0.0, 1.0])
    scale = load * G_M_S2
    assert _residual(out, out.tension_equal_stretch_kN, load, up) < 1e-9 * scale
    assert np.all(out.tension_min_kN >= 0.0)
    assert np.all(out.tension_min_kN <= out.tension_equal_stretch_kN + 1e-9 * scale)
    assert np.all(out.tension_equal_stretch_kN <= out.tension_kN + 1e-9 * scale)
    # Moments about the origin: each leg pulls at its lug, the weight at the centre of gravity.
    pull = out.tension_equal_stretch_kN[:, None] * out.direction
    moment = np.cross(lugs, pull).sum(0) + np.cross(cg, -scale * up)
    assert np.abs(moment).max() < 1e-8 * scale * height
    assert float(out.tilt_deg) == pytest.approx(0.0, abs=1e-6)


@settings(deadline=None, max_examples=100)
@given(cg=CG, height=st.floats(2.0, 8.0))
def test_greatest_tension_is_reached_in_a_state_of_balance_with_a_slack_leg(
    cg: tuple[float, float, float], height: float
) -> None:
    hook = [cg[0], cg[1], height]
    out = bridle_tensions(10.0, RECTANGLE, hook_m=hook, cg_m=cg)
    worst = int(np.argmax(out.tension_kN))
    found = False
    for slack in range(4):
        if slack == worst:
            continue
        keep = [i for i in range(4) if i != slack]
        legs = out.direction[keep].T
        t = np.linalg.solve(legs, [0.0, 0.0, 10.0 * G_M_S2])
        if np.all(t >= -1e-7) and math.isclose(t[keep.index(worst)], out.tension_kN[worst], rel_tol=1e-7):
            found = True
    assert found


@settings(deadline=None)
@given(cg=CG, height=st.floats(2.0, 8.0))
def test_mirroring_the_load_mirrors_the_tensions(cg: tuple[float, float, float], height: float) -> None:
    out = bridle_tensions(10.0, RECTANGLE, hook_m=[cg[0], cg[1], height], cg_m=cg)
    flipped = bridle_tensions(10.0, RECTANGLE, hook_m=[cg[0], -cg[1], height], cg_m=[cg[0], -cg[1], cg[2]])
    np.testing.assert_allclose(flipped.tension_kN[[1, 0, 3, 2]], out.tension_kN, rtol=1e-7)
    np.testing.assert_allclose(flipped.tension_equal_stretch_kN[[1, 0, 3, 2]], out.tension_equal_stretch_kN, rtol=1e-7)


@settings(deadline=None)
@given(height=st.floats(1.2, 8.0), more=st.floats(0.05, 3.0))
def test_longer_slings_never_raise_the_tension_of_a_symmetrical_bridle(height: float, more: float) -> None:
    def tension(h: float) -> float:
        return float(bridle_tensions(5.0, RECTANGLE, hook_m=[0, 0, h], cg_m=[0, 0, -0.5]).tension_kN.max())

    assert tension(height + more) <= tension(height)


@settings(deadline=None, max_examples=60)
@given(
    angles=st.lists(st.floats(0, 119), min_size=3, max_size=3),
    reach=st.lists(st.floats(0.5, 2.0), min_size=3, max_size=3),
    height=st.floats(3.0, 6.0),
    load=st.floats(1, 30),
)
def test_three_legs_equal_numpys_solution(angles: list[float], reach: list[float], height: float, load: float) -> None:
    turn = np.radians(np.add(angles, [0.0, 120.0, 240.0]))
    lugs = np.stack([reach * np.cos(turn), reach * np.sin(turn), np.zeros(3)], axis=-1)
    legs = np.array([0, 0, height]) - lugs
    unit = legs / np.linalg.norm(legs, axis=1)[:, None]
    assume(abs(np.linalg.det(unit)) > 1e-3)
    want = np.linalg.solve(unit.T, [0, 0, load * G_M_S2])
    if np.any(want < -1e-6):
        with pytest.raises(InputError, match="a sling would have to push"):
            bridle_tensions(load, lugs, hook_m=[0, 0, height], cg_m=[0, 0, -1])
        return
    assume(np.all(want > 1e-6))
    out = bridle_tensions(load, lugs, hook_m=[0, 0, height], cg_m=[0, 0, -1])
    np.testing.assert_allclose(out.tension_kN, want, rtol=1e-8)
    np.testing.assert_allclose(out.tension_min_kN, out.tension_kN)


def test_a_path_of_steps_equals_the_steps_one_by_one() -> None:
    hooks = np.array([[0.2 * i, -0.1 * i, 3.0 + i] for i in range(4)])
    cgs = hooks * [1, 1, 0] - [0, 0, 0.7]
    loads = np.array([2.0, 3.0, 4.0, 5.0])
    path = bridle_tensions(loads, RECTANGLE, hook_m=hooks, cg_m=cgs)
    assert path.tension_kN.shape == (4, 4)
    for i in range(4):
        one = bridle_tensions(loads[i], RECTANGLE, hook_m=hooks[i], cg_m=cgs[i])
        np.testing.assert_allclose(path.tension_kN[i], one.tension_kN, rtol=1e-12)


def test_hook_off_the_centre_of_gravity_reports_the_tilt() -> None:
    out = bridle_tensions(5.0, RECTANGLE, hook_m=[0.4, 0, 4.0], cg_m=[0, 0, 0])
    assert float(out.tilt_deg) == pytest.approx(math.degrees(math.atan(0.1)))
    up = np.array([0.4, 0, 4.0]) / math.hypot(0.4, 4.0)
    assert _residual(out, out.tension_equal_stretch_kN, 5.0, up) < 1e-9


def test_single_leg_carries_the_weight_plumb() -> None:
    out = bridle_tensions(3.0, [[0.5, 0.2, 0]], hook_m=[0.5, 0.2, 2], cg_m=[0.5, 0.2, -1])
    np.testing.assert_allclose(out.tension_kN, [3.0 * G_M_S2])
    assert float(out.angle_from_horizontal_deg[0]) == pytest.approx(90.0, abs=1e-6)


@pytest.mark.parametrize(
    ("lugs", "hook", "cg", "text"),
    [
        ([[0.1, 0, 0]], [0, 0, 2], [0, 0, -1], "not in line with the lifting point"),
        ([[-1, 0.3, 0], [1, 0.3, 0]], [0, 0, 3], [0, 0, -1], "not in one plane with both lifting points"),
        ([[0.5, 0, 0], [1, 0, 0]], [0, 0, 3], [0, 0, -1], "a sling would have to push"),
        (RECTANGLE + np.array([4, 0, 0]), [0, 0, 9], [0, 0, -1], "no three slings can carry"),
        (RECTANGLE, [0, 0, 0.9], [0, 0, -1], "angle_from_horizontal_deg is .*; allowed: 30 to 90"),
        (RECTANGLE, [0, 0, -2], [0, 0, -1], "not above the centre of gravity"),
        (RECTANGLE[:3] * [1, 0, 1], [0, 0, 3], [0, 0, -1], "in one plane with the three lifting points"),
        (np.zeros((5, 3)), [0, 0, 3], [0, 0, -1], r"lugs_m is \(5, 3\)"),
        (RECTANGLE, [0, 3], [0, 0, -1], r"hook_m is \(2,\)"),
        (RECTANGLE, [0, 0, math.nan], [0, 0, -1], "hook_m is nan"),
        ([[0, 0, 3.0]], [0, 0, 3], [0, 0, -1], "a lifting point in the hook itself"),
    ],
)
def test_bridles_that_cannot_hang_are_refused(lugs: Any, hook: Any, cg: Any, text: str) -> None:
    with pytest.raises(InputError, match=text):
        bridle_tensions(5.0, lugs, hook_m=hook, cg_m=cg)


def test_thirty_degrees_is_the_flattest_leg() -> None:
    for angle, ok in ((30.0, True), (29.99, False)):
        height = 2.0 * math.tan(math.radians(angle))
        lugs = [[-2.0, 0, 0], [2.0, 0, 0]]
        if ok:
            out = bridle_tensions(4.0, lugs, hook_m=[0, 0, height], cg_m=[0, 0, -1])
            np.testing.assert_allclose(out.tension_kN, 4.0 * G_M_S2)
        else:
            with pytest.raises(InputError, match=r"angle_from_horizontal_deg is 29\.99"):
                bridle_tensions(4.0, lugs, hook_m=[0, 0, height], cg_m=[0, 0, -1])
