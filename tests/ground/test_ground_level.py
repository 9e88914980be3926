"""Settlement to tilt to radius to reaction: equilibrium, symmetry, refusal."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import ConvergenceError, InputError
from liftcalc.ground.level import level_check, levelled_state, plane_fit
from liftcalc.reactions.carrier import leg_reactions_kN

X = np.array([3.2, 3.2, -3.2, -3.2])
Y = np.array([2.8, -2.8, -2.8, 2.8])
XY = np.column_stack([X, Y])
WEIGHT_KN, LOAD_KN = 480.0, 90.0


def machine(slew_deg: np.ndarray):
    """Reactions of a rigid carrier: own weight at the slew centre, load at the hook."""
    turn = np.radians(slew_deg)

    def reactions(radius: np.ndarray, aside: np.ndarray) -> np.ndarray:
        x = LOAD_KN * (radius * np.cos(turn) - aside * np.sin(turn)) / (WEIGHT_KN + LOAD_KN)
        y = LOAD_KN * (radius * np.sin(turn) + aside * np.cos(turn)) / (WEIGHT_KN + LOAD_KN)
        return leg_reactions_kN(WEIGHT_KN + LOAD_KN, np.stack([x, y], axis=-1), leg_xy_m=XY).reaction_kN

    return reactions


def soft(k: float | np.ndarray):
    return lambda force: force / k


def state(slew: np.ndarray, k: float | np.ndarray, **more):
    return levelled_state(
        machine(slew),
        soft(k),
        leg_x_m=X,
        leg_y_m=Y,
        slew_deg=slew,
        radius_m=9.0,
        head_height_m=28.0,
        limit_percent=1.0,
        **more,
    )


def test_the_state_found_agrees_with_itself() -> None:
    slew = np.arange(0.0, 360.0, 15.0)
    found = state(slew, 2e4)
    again = machine(slew)(found.radius_m, found.sideways_m)
    assert again == pytest.approx(found.reaction_kN, rel=1e-4, abs=1e-2)
    assert found.settlement_m == pytest.approx(found.reaction_kN / 2e4)
    assert found.reaction_kN.sum(axis=-1) == pytest.approx(WEIGHT_KN + LOAD_KN)
    assert np.all(found.radius_growth_m > 0.0)


def test_one_state_worked_by_hand_over_the_front() -> None:
    # over the front the load leans the machine about y only; on equal springs k the pitch is
    # a = P R' / (4 k x^2), with R' = R cos a + H sin a
    k, x = 2e4, 3.2
    a = 0.0
    for _ in range(50):
        a = np.arctan(LOAD_KN * (9.0 * np.cos(a) + 28.0 * np.sin(a)) / (4.0 * k * x**2))
    found = state(np.array(0.0), k)
    assert found.tilt_toward_load_deg == pytest.approx(np.degrees(a), rel=1e-3)
    assert found.radius_m == pytest.approx(9.0 * np.cos(a) + 28.0 * np.sin(a), rel=1e-5)
    assert found.level.slope_percent == pytest.approx(100.0 * np.tan(a), rel=1e-3)


def test_softer_ground_leans_further() -> None:
    slew = np.array([0.0, 40.0, 90.0])
    growth = [state(slew, k).radius_growth_m for k in (4e4, 2e4, 1e4)]
    assert np.all(growth[0] < growth[1])
    assert np.all(growth[1] < growth[2])


def test_one_soft_leg_pulls_the_machine_its_way() -> None:
    k = np.array([1e4, 4e4, 4e4, 4e4])
    found = state(np.array(0.0), k)
    assert found.plane.tilt_x > 0.0  # towards the front left leg
    assert found.plane.tilt_y > 0.0
    assert found.sideways_m > 0.0


def test_a_machine_set_up_out_of_level_starts_with_that_lean() -> None:
    level = state(np.array(0.0), 5e4)
    nose_down = state(np.array(0.0), 5e4, setup_tilt_x=0.01)
    assert nose_down.tilt_toward_load_deg > level.tilt_toward_load_deg + 0.5
    assert not nose_down.level.within_limit


def test_ground_that_lets_the_machine_lean_without_end_is_refused() -> None:
    with pytest.raises((ConvergenceError, InputError), match=r"tilts|keeps tilting|tipping|three"):
        state(np.array(0.0), 150.0)


def test_lifted_legs_do_not_shape_the_plane() -> None:
    height = np.array([0.0, -0.01, -0.02, 5.0])
    plane = plane_fit(height, leg_x_m=X, leg_y_m=Y, standing=[True, True, True, False])
    assert plane.twist_m[:3] == pytest.approx(0.0, abs=1e-12)
    # forward legs 0 and -0.01 differ across, rear right -0.02 is lower than front right
    assert plane.tilt_y == pytest.approx(-0.01 / 5.6)
    assert plane.tilt_x == pytest.approx(-0.01 / 6.4)
    with pytest.raises(InputError, match="three or more standing outriggers"):
        plane_fit(height, leg_x_m=X, leg_y_m=Y, standing=[True, True, False, False])


@settings(deadline=None)
@given(st.floats(-1, 1), st.floats(-1, 1), st.floats(-50, 50))
def test_legs_in_one_plane_give_that_plane_and_no_twist(tilt_x, tilt_y, height):
    z = height - (tilt_x * X + tilt_y * Y) / 100
    plane = plane_fit(z, leg_x_m=X, leg_y_m=Y)
    assert (100 * plane.tilt_x, 100 * plane.tilt_y) == pytest.approx((tilt_x, tilt_y), abs=1e-9)
    assert plane.twist_m == pytest.approx(np.zeros(4), abs=1e-8)
    assert plane.slope_max_percent == pytest.approx(np.hypot(tilt_x, tilt_y), abs=1e-9)


def test_legs_in_one_line_are_refused() -> None:
    with pytest.raises(InputError, match="outriggers that span an area"):
        plane_fit(np.zeros(4), leg_x_m=[1.0, 2.0, 3.0, 4.0], leg_y_m=[1.0, 2.0, 3.0, 4.0])


def test_the_limit_itself_is_still_within() -> None:
    check = level_check([0.3, 0.3, 0.0], [0.4, 0.401, np.nextafter(0.5, 1)], limit_percent=0.5)
    assert check.within_limit.tolist() == [True, False, True]
    with pytest.raises(InputError, match="limit_percent"):
        level_check(0.1, 0.1, limit_percent=0.0)


@pytest.mark.parametrize("slew", [0.0, 30.0, 100.0, 160.0, 215.0, 300.0])
@pytest.mark.parametrize(("fall_x", "fall_y"), [(0.004, 0.0), (0.0, 0.004), (0.003, -0.002)])
def test_a_fall_of_the_ground_moves_the_load_down_it_at_any_slew(slew: float, fall_x: float, fall_y: float) -> None:
    """A rigid machine sinks by a plane: its boom head goes downhill, as vectors in plan say."""
    found = levelled_state(
        lambda radius, aside: np.full(4, 140.0),
        lambda force: 0.05 + fall_x * X + fall_y * Y,
        leg_x_m=X,
        leg_y_m=Y,
        slew_deg=slew,
        radius_m=9.0,
        head_height_m=28.0,
        limit_percent=1.0,
    )
    out = np.exp(1j * np.radians(slew))
    moved = 28.0 * complex(fall_x, fall_y) / out  # along the boom, and anticlockwise of it
    assert float(found.radius_growth_m) == pytest.approx(moved.real, abs=1e-3)
    assert float(found.sideways_m) == pytest.approx(moved.imag, abs=1e-3)
