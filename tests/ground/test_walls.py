"""Push on walls: published resultants, superposition and refusals."""

from __future__ import annotations

import numpy as np
import pytest
from geotech_references.california_trenching.equations import boussinesq_strip_load_pressure
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.ground.walls import (
    line_wall_thrust,
    patch_wall_pressure_kPa,
    patch_wall_thrust,
    point_wall_pressure_kPa,
    point_wall_thrust,
    strip_wall_pressure_kPa,
)


@settings(deadline=None)
@given(m=st.floats(0.41, 2.0))
def test_line_load_resultant_is_terzaghis(m) -> None:
    # 0.64 Q / (m^2 + 1), UFC 3-220-20 Fig. 4-19 (form from memory)
    thrust = line_wall_thrust(50.0, m * 4.0, wall_height_m=4.0)
    assert thrust.resultant_kN_m == pytest.approx(0.64 * 50.0 / (m**2 + 1.0), rel=1e-6)


def test_point_load_resultant_near_the_wall_is_the_tabulated_one() -> None:
    # DM-7.02: 0.78 Q/H at m = 0.4 and below
    thrust = point_wall_thrust(100.0, [0.4, 1.6], wall_height_m=4.0)
    assert thrust.resultant_kN_m == pytest.approx(0.78 * 100.0 / 4.0, rel=0.015)


def test_strip_agrees_with_a_geotechnical_reference_package() -> None:
    z, near, width = 1.5, 1.0, 2.0
    t1, t2 = np.arctan(near / z), np.arctan((near + width) / z)
    library = boussinesq_strip_load_pressure(20.0, np.degrees((t1 + t2) / 2), np.degrees(t2 - t1))
    value = next(v for k, v in library.items() if "sigma" in k or "pressure" in k)
    assert strip_wall_pressure_kPa(20.0, z, edge_distance_m=near, width_m=width) == pytest.approx(
        value, rel=1e-3
    )


@settings(deadline=None)
@given(edge=st.floats(0.3, 5.0), further=st.floats(0.2, 5.0))
def test_a_mat_further_from_the_wall_pushes_less(edge, further) -> None:
    mat = {"across_m": 1.5, "along_m": 1.5, "wall_height_m": 3.0}
    near = patch_wall_thrust(400.0, edge + 2.0, **mat)
    far = patch_wall_thrust(400.0, edge + 2.0 + further, **mat)
    assert far.resultant_kN_m < near.resultant_kN_m


def test_a_small_mat_is_a_point_load() -> None:
    patch = patch_wall_pressure_kPa(
        100.0, 1.0, edge_distance_m=1.999, across_m=0.002, along_m=0.002, wall_height_m=4.0
    )
    point = point_wall_pressure_kPa(100.0, 1.0, distance_m=2.0, wall_height_m=4.0)
    assert patch == pytest.approx(float(point), rel=1e-4)


def test_a_wall_that_yields_takes_three_quarters() -> None:
    mat = {"across_m": 1.5, "along_m": 1.5, "wall_height_m": 3.0}
    rigid = patch_wall_thrust([100.0, 400.0], 1.0, **mat)
    soft = patch_wall_thrust([100.0, 400.0], 1.0, **mat, wall="yielding")
    assert soft.resultant_kN_m == pytest.approx(0.75 * rigid.resultant_kN_m)
    assert soft.depth_m == pytest.approx(rigid.depth_m)
    assert rigid.moment_about_base_kNm_m == pytest.approx(
        rigid.resultant_kN_m * (3.0 - rigid.depth_m)
    )


def test_no_push_from_far_along_the_wall() -> None:
    place = {"distance_m": 1.0, "wall_height_m": 4.0}
    assert point_wall_pressure_kPa(100.0, 1.0, **place, offset_along_m=50.0) == 0.0


def test_refusals() -> None:
    with pytest.raises(InputError, match=r"depth_m is 4.5; allowed: at most wall_height_m"):
        point_wall_pressure_kPa(1.0, 4.5, distance_m=1.0, wall_height_m=4.0)
    with pytest.raises(InputError, match="wall is 'leaning'; allowed: rigid, yielding"):
        point_wall_pressure_kPa(1.0, 1.0, distance_m=1.0, wall_height_m=4.0, wall="leaning")
    with pytest.raises(InputError, match="distance_m"):
        point_wall_pressure_kPa(1.0, 1.0, distance_m=np.nan, wall_height_m=4.0)
