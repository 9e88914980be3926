"""Wind: edges, invariants, and the boom against scipy's quadrature."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from liftcalc.base.errors import InputError
from liftcalc.wind.boom import boom_wind
from liftcalc.wind.pressure import (
    dynamic_pressure_kPa,
    gust_factor,
    gust_wind_speed_m_s,
    mean_wind_speed_of_gust_m_s,
    permissible_wind,
    wind_force_kN,
)
from liftcalc.wind.tables import beaufort_number

BOOM: dict[str, Any] = {
    "boom_angle_deg": 55.0,
    "foot_height_m": 2.2,
    "foot_radius_m": -1.1,
    "foot_depth_m": 1.1,
    "head_depth_m": 0.5,
    "force_coefficient": 1.6,
}
SPEED = st.floats(0.5, 30.0)


@pytest.mark.parametrize("profile", ["uniform", "gust"])
@pytest.mark.parametrize("angle", [0.0, 35.0, 78.0, 90.0])
@pytest.mark.parametrize("towards", [0.0, 40.0, 90.0, 180.0])
def test_boom_wind_equals_scipy_quadrature(profile: str, angle: float, towards: float) -> None:
    length, speed = 44.0, 9.0
    given_ = BOOM | {"boom_angle_deg": angle}
    out = boom_wind(speed, length, wind_towards_deg=towards, profile=profile, **given_)
    a, w = math.radians(angle), math.radians(towards)
    sin2 = 1.0 - (math.cos(a) * math.cos(w)) ** 2

    def strip(s: float, arm: int) -> float:
        z = 2.2 + s * math.sin(a)
        v = speed
        if profile == "gust":
            v *= (max(z, 10.0) / 10.0) ** 0.14 + 0.4
        depth = 1.1 + (0.5 - 1.1) * s / length
        return float(v**2 / 1.6 / 1000.0 * depth * 1.6 * sin2 * z**arm)

    kink = [(10.0 - 2.2) / math.sin(a)] if angle > 15.0 else None
    force = quad(strip, 0, length, args=(0,), points=kink)[0]
    moment = quad(strip, 0, length, args=(1,), points=kink)[0]
    # The kink of the profile at 10 m costs the Gauss rule up to 0.1 %.
    assert float(out.force_kN) == pytest.approx(force, rel=1e-3, abs=1e-12)
    assert float(out.moment_kNm) == pytest.approx(moment, rel=1e-3, abs=1e-12)
    assert float(out.area_m2) == pytest.approx(44.0 * 0.8, rel=1e-12)


def test_boom_pointing_into_the_wind_has_no_force_but_a_finite_height() -> None:
    out = boom_wind(9.0, 30.0, **(BOOM | {"boom_angle_deg": 0.0}))
    assert float(out.force_kN) == pytest.approx(0.0, abs=1e-12)
    assert float(out.height_m) == pytest.approx(2.2)
    assert np.isfinite(out.radius_m)


@settings(deadline=None)
@given(speed=SPEED, towards=st.floats(-180, 180), angle=st.floats(0, 85))
def test_wind_on_boom_is_mirrored_left_to_right(speed: float, towards: float, angle: float) -> None:
    given_ = BOOM | {"boom_angle_deg": angle}
    left = boom_wind(speed, 30.0, wind_towards_deg=towards, **given_)
    right = boom_wind(speed, 30.0, wind_towards_deg=-towards, **given_)
    assert float(left.force_kN) == pytest.approx(float(right.force_kN), abs=1e-12)
    assert 2.2 - 1e-9 <= float(left.height_m) <= 2.2 + 30.0 * math.sin(math.radians(angle)) + 1e-9


@settings(deadline=None)
@given(speed=SPEED, more=st.floats(1.01, 2.0), angle=st.floats(10, 85))
def test_wind_force_on_boom_grows_with_the_square_of_speed(speed: float, more: float, angle: float) -> None:
    given_ = BOOM | {"boom_angle_deg": angle}
    one = boom_wind(speed, 30.0, profile="gust", **given_)
    two = boom_wind(speed * more, 30.0, profile="gust", **given_)
    assert float(two.force_kN) == pytest.approx(float(one.force_kN) * more**2, rel=1e-9)
    assert float(two.height_m) == pytest.approx(float(one.height_m), rel=1e-9)


def test_gust_factor_holds_its_value_below_ten_metres() -> None:
    np.testing.assert_allclose(gust_factor([0.0, 3.0, 10.0]), 1.4)
    assert gust_factor(10.01) > 1.4


@settings(deadline=None)
@given(mean=SPEED, height=st.floats(0, 200))
def test_gust_and_mean_wind_are_each_others_inverse(mean: float, height: float) -> None:
    gust = gust_wind_speed_m_s(mean, height)
    assert float(gust) >= 1.4 * mean * (1 - 1e-12)
    assert float(mean_wind_speed_of_gust_m_s(gust, height)) == pytest.approx(mean)


@settings(deadline=None)
@given(area=st.floats(0.1, 200), more=st.floats(1.0, 5.0), load=st.floats(0.2, 100), drag=st.floats(0.4, 2.4))
def test_permissible_wind_never_rises_with_area_and_never_passes_the_chart(
    area: float, more: float, load: float, drag: float
) -> None:
    small = permissible_wind(9.8, load, area_m2=area, force_coefficient=drag)
    large = permissible_wind(9.8, load, area_m2=area * more, force_coefficient=drag)
    assert large.permissible_wind_speed_m_s <= small.permissible_wind_speed_m_s
    assert small.permissible_wind_speed_m_s <= 9.8
    reduced = small.permissible_wind_speed_m_s < 9.8
    assert bool(reduced) == (area * drag > 1.2 * load * (1 + 1e-12)) or math.isclose(area * drag, 1.2 * load)
    # At the permissible speed the wind pushes no harder than on the reference load.
    q = dynamic_pressure_kPa(large.permissible_wind_speed_m_s)
    force = wind_force_kN(q, area * more, force_coefficient=drag)
    reference = wind_force_kN(dynamic_pressure_kPa(9.8), load, force_coefficient=1.2)
    assert float(force) <= float(reference) * (1 + 1e-9)


def test_still_air_has_no_force_and_a_finite_height() -> None:
    out = boom_wind(0.0, 30.0, **BOOM)
    assert float(out.force_kN) == 0.0
    assert 0.0 < float(out.height_m) < 40.0


def test_a_path_of_steps_equals_the_steps_one_by_one() -> None:
    angles = np.linspace(20, 80, 7)
    lengths = np.linspace(15, 45, 7)
    given_ = {k: v for k, v in BOOM.items() if k != "boom_angle_deg"}
    path = boom_wind(11.0, lengths, boom_angle_deg=angles, profile="gust", **given_)
    for i, (a, n) in enumerate(zip(angles, lengths, strict=True)):
        one = boom_wind(11.0, n, boom_angle_deg=a, profile="gust", **given_)
        assert float(one.moment_kNm) == pytest.approx(path.moment_kNm[i], rel=1e-12)
    grid = boom_wind(np.array([5.0, 10.0])[:, None], 30.0, wind_towards_deg=np.arange(5) * 45.0, **BOOM)
    assert grid.force_kN.shape == grid.height_m.shape == (2, 5)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: dynamic_pressure_kPa(math.nan), "wind_speed_m_s is nan"),
        (lambda: dynamic_pressure_kPa(-1.0), "wind_speed_m_s is -1.0; allowed: 0 or greater"),
        (lambda: dynamic_pressure_kPa(9, air_density_kg_m3=0.0), "air_density_kg_m3 is 0.0"),
        (lambda: gust_factor(200.1), "height_m is 200.1; allowed: 0 to 200"),
        (lambda: gust_factor(math.nan), "height_m is nan"),
        (lambda: wind_force_kN(0.1, 5, force_coefficient=0.0), "force_coefficient is 0.0"),
        (lambda: beaufort_number(math.inf), "wind_speed_m_s is inf"),
        (lambda: boom_wind(9, 250.0, **BOOM), "boom head height_m"),
        (lambda: boom_wind(9, 30, profile="log", **BOOM), "profile is 'log'"),  # type: ignore[arg-type]
        (lambda: permissible_wind(9, 5, area_m2=math.nan, force_coefficient=1.2), "area_m2 is nan"),
    ],
)
def test_wrong_input_is_refused_by_name(call: Any, text: str) -> None:
    with pytest.raises(InputError, match=text):
        call()


def test_speed_between_two_bands_takes_the_stronger() -> None:
    np.testing.assert_array_equal(
        beaufort_number([0.0, 0.25, 7.9, 7.95, 8.0, 32.6, 32.65, 60.0]), [0, 1, 4, 5, 5, 11, 12, 12]
    )


def test_inputs_are_left_untouched() -> None:
    speed = np.array([3.0, 9.0])
    before = speed.copy()
    boom_wind(speed, 30.0, profile="gust", **BOOM)
    gust_wind_speed_m_s(speed, [5.0, 20.0])
    np.testing.assert_array_equal(speed, before)
