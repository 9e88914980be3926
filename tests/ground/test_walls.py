"""Push on walls: published resultants, superposition and refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.ground.slopes import patch_wall_pressure_kPa, point_wall_pressure_kPa

DEPTH = np.linspace(0.0, 4.0, 401)


def test_point_load_resultant_near_the_wall_is_the_tabulated_one() -> None:
    # DM-7.02: 0.78 Q/H at m = 0.4 and below
    for distance in (0.4, 1.6):
        pressure = point_wall_pressure_kPa(100.0, DEPTH, distance_m=distance, wall_height_m=4.0)
        assert np.trapezoid(pressure, DEPTH) == pytest.approx(0.78 * 100.0 / 4.0, rel=0.015)


@settings(deadline=None)
@given(edge=st.floats(0.3, 5.0), further=st.floats(0.2, 5.0))
def test_a_mat_further_from_the_wall_pushes_less(edge, further) -> None:
    mat = {"across_m": 1.5, "along_m": 1.5, "wall_height_m": 4.0}
    near, far = (
        np.trapezoid(patch_wall_pressure_kPa(400.0, DEPTH, edge_distance_m=distance, **mat), DEPTH)
        for distance in (edge + 2.0, edge + 2.0 + further)
    )
    assert far < near


def test_a_small_mat_is_a_point_load() -> None:
    patch = patch_wall_pressure_kPa(100.0, 1.0, edge_distance_m=1.999, across_m=0.002, along_m=0.002, wall_height_m=4.0)
    point = point_wall_pressure_kPa(100.0, 1.0, distance_m=2.0, wall_height_m=4.0)
    assert patch == pytest.approx(float(point), rel=1e-4)


def test_a_wall_that_yields_takes_three_quarters() -> None:
    mat = {"edge_distance_m": 1.0, "across_m": 1.5, "along_m": 1.5, "wall_height_m": 4.0}
    rigid = patch_wall_pressure_kPa(400.0, DEPTH, **mat)
    soft = patch_wall_pressure_kPa(400.0, DEPTH, **mat, wall="yielding")
    assert rigid.max() > 0.0
    assert soft == pytest.approx(0.75 * rigid)


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
