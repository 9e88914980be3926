"""Slip circles: equilibrium, limits and refusals (published values have rows of their own)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.ground.slip import SoilLayer, Surcharge, slip_check

INF = float("inf")


def clay(cu: float, gamma: float = 20.0) -> list[SoilLayer]:
    return [SoilLayer(INF, gamma, cu, 0.0)]


@pytest.mark.parametrize("slope_deg", [20.0, 30.0, 60.0])
def test_circles_at_a_loaded_weightless_crest_lie_just_above_the_exact_answer(slope_deg: float) -> None:
    found = slip_check(
        clay(20.0, gamma=1e-6),
        height_m=6.0,
        slope_deg=slope_deg,
        water_depth_m=None,
        surcharges=[Surcharge(100.0, 0.0, 2.0)],
    )
    exact = (2.0 + np.pi - 2.0 * np.radians(slope_deg)) * 20.0 / 100.0
    assert exact <= found.safety_factor <= 1.08 * exact


def test_sums_over_the_slices_give_the_factor() -> None:
    found = slip_check(
        clay(30.0), height_m=4.0, slope_deg=60.0, water_depth_m=None, surcharges=[Surcharge(60.0, 1.0, 2.0)]
    )
    assert found.resisting_kN_m / found.driving_kN_m == pytest.approx(found.safety_factor)
    arc = found.radius_m * np.radians(
        np.degrees(np.arcsin((found.centre_x_m - found.entry_x_m) / found.radius_m))
        - np.degrees(np.arcsin((found.centre_x_m - found.exit_x_m) / found.radius_m))
    )
    assert found.resisting_kN_m == pytest.approx(30.0 * arc, rel=0.01)


@settings(deadline=None, max_examples=8)
@given(edge=st.floats(0.2, 3.0), back=st.floats(0.5, 3.0), q=st.floats(50.0, 250.0))
def test_standing_further_back_or_lighter_never_lowers_the_factor(edge, back, q) -> None:
    case = {"height_m": 3.0, "slope_deg": 70.0, "water_depth_m": None}
    near = slip_check(clay(40.0), **case, surcharges=[Surcharge(q, edge, 2.0)])
    far = slip_check(clay(40.0), **case, surcharges=[Surcharge(q, edge + back, 2.0)])
    light = slip_check(clay(40.0), **case, surcharges=[Surcharge(0.7 * q, edge, 2.0)])
    # the search is finite: allow it one percent
    assert far.safety_factor >= near.safety_factor * 0.99
    assert light.safety_factor >= near.safety_factor * 0.99


def test_water_lowers_the_factor() -> None:
    soil = [SoilLayer(INF, 19.0, 10.0, 25.0)]
    dry, wet = (slip_check(soil, height_m=4.0, slope_deg=45.0, water_depth_m=w).safety_factor for w in (None, 0.5))
    assert wet < dry


def test_a_weak_layer_below_governs() -> None:
    case = {"height_m": 4.0, "slope_deg": 45.0, "water_depth_m": None}
    strong = slip_check(clay(60.0), **case)
    layered = slip_check([SoilLayer(4.5, 20.0, 60.0, 0.0), SoilLayer(INF, 18.0, 15.0, 0.0)], **case)
    assert layered.safety_factor < strong.safety_factor
    assert layered.centre_z_m - layered.radius_m < -4.5


@pytest.mark.parametrize(
    ("layer", "message"),
    [
        ((INF, 20.0, -1.0, 0.0), "cohesion_kPa is -1.0"),
        ((INF, 20.0, 1.0, 51.0), "friction_deg is 51.0; allowed: 0 to 50"),
        ((INF, float("nan"), 1.0, 0.0), "unit_weight_kN_m3"),
        ((INF, 20.0, 0.0, 0.0), "one of them above 0"),
    ],
)
def test_soil_that_cannot_be_is_refused(layer: tuple, message: str) -> None:
    with pytest.raises(InputError, match=message):
        SoilLayer(*layer)


def test_layers_must_go_on_and_water_must_be_told() -> None:
    with pytest.raises(InputError, match="the last of infinite thickness"):
        slip_check([SoilLayer(3.0, 20.0, 10.0, 0.0)], height_m=2, slope_deg=45, water_depth_m=None)
    with pytest.raises(TypeError, match="water_depth_m"):
        slip_check(clay(10.0), height_m=2.0, slope_deg=45.0)
    with pytest.raises(InputError, match=r"pressure_kPa is 0\.0"):
        slip_check(
            clay(10.0), height_m=2.0, slope_deg=45.0, water_depth_m=None,
            surcharges=[Surcharge(0.0, 1.0, 2.0)],
        )  # fmt: skip


@pytest.mark.parametrize("water", [0.3, 1.5])
def test_water_in_the_slope_counts_at_its_full_pressure(water: float) -> None:
    """The circle found, worked again in 6,000 slices: weights, pore pressure, moments."""
    height, angle, gamma, c, phi = 4.0, 45.0, 19.0, 8.0, 28.0
    found = slip_check(
        [SoilLayer(INF, gamma, c, phi)],
        height_m=height,
        slope_deg=angle,
        water_depth_m=water,
        surcharges=[Surcharge(60.0, 0.5, 2.0)],
    )
    edge = np.linspace(found.entry_x_m, found.exit_x_m, 6001)
    x, b = (edge[1:] + edge[:-1]) / 2, np.diff(edge)
    top = -np.clip(x * np.tan(np.radians(angle)), 0.0, height)
    base = found.centre_z_m - np.sqrt(found.radius_m**2 - (x - found.centre_x_m) ** 2)
    alpha = np.arcsin((found.centre_x_m - x) / found.radius_m)
    weight = gamma * (top - base) * b + 60.0 * b * ((x > -2.5) & (x < -0.5))
    u = 9.81 * np.maximum(np.minimum(top, -water) - base, 0.0)
    assert u.max() > 3.0
    drive = float((weight * np.sin(alpha)).sum())
    tan = np.tan(np.radians(phi))
    strength = c * b + np.maximum(weight - u * b, 0.0) * tan
    low, high = 0.05, 20.0
    for _ in range(60):
        factor = (low + high) / 2
        m = np.cos(alpha) + np.sin(alpha) * tan / factor
        low, high = (factor, high) if (strength / m).sum() / drive > factor else (low, factor)
    assert found.safety_factor == pytest.approx(factor, rel=0.005)
