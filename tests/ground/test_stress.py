"""Stress at depth: invariants, edges, and two geotechnical reference packages."""

from __future__ import annotations

import numpy as np
import pytest
from geotech_references.dm7_1.chapter4 import boussinesq_rectangular_load
from groundhog.shallowfoundations.stressdistribution import stresses_pointload, stresses_rectangle, stresses_stripload
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.ground.stress import legs_stress_by_leg_kPa, rectangle_stress_kPa, spread_stress_kPa

size = st.floats(0.3, 6.0)
depth = st.floats(0.2, 10.0)
place = st.floats(-8.0, 8.0)


@pytest.mark.parametrize("seed", range(10))
def test_agrees_with_groundhog(seed: int) -> None:
    rng = np.random.default_rng(seed)
    q, a, b, z, x = rng.uniform([20, 0.5, 0.5, 0.3, 0], [400, 5, 5, 8, 4])
    a, b = max(a, b), min(a, b)
    key = "delta sigma z [kPa]"
    corner = rectangle_stress_kPa(q, z, length_m=a, width_m=b, x_m=a / 2, y_m=b / 2)
    assert corner == pytest.approx(stresses_rectangle(q, a, b, z)[key], rel=1e-9)
    # a mat of a few millimetres is a point load, one of a kilometre a strip
    small = rectangle_stress_kPa(q / 4e-6, z, length_m=2e-3, width_m=2e-3, x_m=x)
    assert small == pytest.approx(stresses_pointload(q, z, x, 0.3)[key], rel=1e-4)
    # groundhog measures from the left edge of the strip
    long = rectangle_stress_kPa(q, z, length_m=2e3, width_m=b, y_m=b / 2)
    assert long == pytest.approx(stresses_stripload(z, 0.0, b, q)[key], rel=1e-5)


@pytest.mark.parametrize(("m", "n"), [(0.3, 0.7), (1.0, 1.0), (2.0, 5.0), (9.0, 9.0)])
def test_corner_factor_agrees_with_the_dm7_table_form(m: float, n: float) -> None:
    corner = rectangle_stress_kPa(1.0, 1.0, length_m=m, width_m=n, x_m=m / 2, y_m=n / 2)
    assert corner == pytest.approx(boussinesq_rectangular_load(1.0, m, n, 1.0), rel=1e-9)


@settings(deadline=None)
@given(a=size, b=size, z=depth, x=place, y=place)
def test_stress_stays_between_nothing_and_the_contact_pressure(a, b, z, x, y) -> None:
    stress = rectangle_stress_kPa(100.0, z, length_m=a, width_m=b, x_m=x, y_m=y)
    assert 0.0 <= stress <= 100.0
    mirrored = rectangle_stress_kPa(100.0, z, length_m=a, width_m=b, x_m=-x, y_m=-y)
    assert mirrored == pytest.approx(stress, rel=1e-9, abs=1e-9)
    turned = rectangle_stress_kPa(100.0, z, length_m=b, width_m=a, x_m=y, y_m=x)
    assert turned == pytest.approx(stress, rel=1e-9, abs=1e-9)


@settings(deadline=None)
@given(a=size, b=size, z=depth, deeper=st.floats(1.01, 3.0))
def test_stress_under_the_middle_falls_with_depth(a, b, z, deeper) -> None:
    near = rectangle_stress_kPa(100.0, z, length_m=a, width_m=b)
    far = rectangle_stress_kPa(100.0, z * deeper, length_m=a, width_m=b)
    assert far < near


@settings(deadline=None)
@given(a=size, b=size, z=depth, x=place, y=place, cut=st.floats(0.1, 0.9))
def test_a_rectangle_cut_in_two_gives_the_same_stress(a, b, z, x, y, cut) -> None:
    whole = rectangle_stress_kPa(80.0, z, length_m=a, width_m=b, x_m=x, y_m=y)
    left, right = cut * a, (1 - cut) * a
    parts = rectangle_stress_kPa(
        80.0, z, length_m=left, width_m=b, x_m=x + (a - left) / 2, y_m=y
    ) + rectangle_stress_kPa(80.0, z, length_m=right, width_m=b, x_m=x - (a - right) / 2, y_m=y)
    assert parts == pytest.approx(whole, rel=1e-9, abs=1e-9)


def test_the_stress_over_a_deep_plane_adds_up_to_the_load() -> None:
    x = np.linspace(-60.0, 60.0, 601)
    xx, yy = np.meshgrid(x, x)
    stress = rectangle_stress_kPa(100.0, 2.0, length_m=2.0, width_m=1.5, x_m=xx, y_m=yy)
    total = stress.sum() * (x[1] - x[0]) ** 2
    assert total == pytest.approx(100.0 * 2.0 * 1.5, rel=2e-3)


def test_four_legs_add_up_and_turn_with_their_mats() -> None:
    legs = {
        "leg_x_m": [3.0, 3.0, -3.0, -3.0],
        "leg_y_m": [2.5, -2.5, -2.5, 2.5],
        "length_m": [2.0, 2.0, 3.0, 1.0],
        "width_m": 1.0,
    }
    q = np.array([[100.0, 80.0, 60.0, 40.0], [0.0, 0.0, 0.0, 90.0]])
    parts = legs_stress_by_leg_kPa(q, 1.5, **legs, orientation_deg=90.0, x_m=1.0, y_m=0.5)
    assert parts.shape == (2, 4)
    alone = rectangle_stress_kPa(80.0, 1.5, length_m=1.0, width_m=2.0, x_m=1.0 - 3.0, y_m=0.5 + 2.5)
    assert parts[0, 1] == pytest.approx(alone, rel=1e-9)


def test_no_spread_leaves_the_contact_pressure() -> None:
    assert spread_stress_kPa(200.0, 3.0, length_m=2.0, width_m=1.0, spread_h_per_v=0.0) == pytest.approx(100.0)


@pytest.mark.parametrize("depth_m", [0.0, -1.0, np.nan, np.inf])
def test_depth_must_be_below_the_surface(depth_m: float) -> None:
    with pytest.raises(InputError, match=r"depth_m is .* allowed: greater than 0"):
        rectangle_stress_kPa(100.0, depth_m, length_m=1.0, width_m=1.0)
