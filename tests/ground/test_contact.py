"""Rigid bases: equilibrium of the pressure they stand on."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.ground.contact import (
    rectangle_base_pressure,
    strip_base_pressure,
    two_track_pressure,
)

share = st.floats(-0.44, 0.44)


def plane_integrals(corner: np.ndarray, length: float, width: float) -> tuple[float, float, float]:
    """Force and moments of the pressure plane by brute force, negative parts left out.

    The unclipped plane is rebuilt from the corners that press.
    """
    points = np.array([[1, 1], [1, -1], [-1, -1], [-1, 1]]) * [length / 2, width / 2]
    n = 1200
    x = (np.arange(n) + 0.5) / n * length - length / 2
    y = (np.arange(n) + 0.5) / n * width - width / 2
    pressed = corner > 0.0
    if pressed.sum() < 3:
        pytest.skip("two corners press: the plane cannot be rebuilt from corners")
    basis = np.column_stack([np.ones(4), points])[pressed]
    c = np.linalg.lstsq(basis, corner[pressed], rcond=None)[0]
    p = np.maximum(c[0] + c[1] * x[:, None] + c[2] * y[None, :], 0.0)
    area = length * width / n**2
    return p.sum() * area, (p * x[:, None]).sum() * area, (p * y[None, :]).sum() * area


@settings(deadline=None, max_examples=40)
@given(rx=share, ry=share, length=st.floats(1.0, 5.0), width=st.floats(1.0, 5.0))
def test_pressure_under_a_rectangle_balances_the_load(rx, ry, length, width) -> None:
    found = rectangle_base_pressure(
        300.0,
        length,
        width_m=width,
        eccentricity_length_m=rx * length,
        eccentricity_width_m=ry * width,
    )
    assert 0.0 < found.contact_fraction <= 1.0
    assert found.q_max_kPa >= found.q_mean_kPa * (1 - 1e-9)
    if (found.corner_kPa > 0).sum() >= 3:
        force, m_x, m_y = plane_integrals(found.corner_kPa, length, width)
        assert force == pytest.approx(300.0, rel=1e-3)
        assert m_x == pytest.approx(300.0 * rx * length, rel=2e-3, abs=0.3 * length)
        assert m_y == pytest.approx(300.0 * ry * width, rel=2e-3, abs=0.3 * width)


@settings(deadline=None)
@given(r=st.floats(0.0, 0.45))
def test_one_way_eccentricity_agrees_with_the_strip(r) -> None:
    strip = strip_base_pressure(300.0, 3.0, width_m=2.0, eccentricity_m=3.0 * r)
    both = rectangle_base_pressure(300.0, 3.0, width_m=2.0, eccentricity_length_m=3.0 * r)
    assert both.q_max_kPa == pytest.approx(strip.q_max_kPa, rel=1e-9)
    assert both.q_min_kPa == pytest.approx(strip.q_min_kPa, rel=1e-9, abs=1e-9)
    assert both.contact_fraction == pytest.approx(strip.contact_length_m / 3.0, rel=1e-9)


@settings(deadline=None)
@given(r=st.floats(0.01, 0.4), tiny=st.floats(1e-9, 1e-3))
def test_a_hair_of_second_eccentricity_changes_nothing_much(r, tiny) -> None:
    one = rectangle_base_pressure(300.0, 3.0, width_m=2.0, eccentricity_length_m=3.0 * r)
    two = rectangle_base_pressure(
        300.0, 3.0, width_m=2.0, eccentricity_length_m=3.0 * r, eccentricity_width_m=2.0 * tiny
    )
    assert two.q_max_kPa == pytest.approx(one.q_max_kPa, rel=0.05)
    assert two.q_max_kPa >= one.q_max_kPa * (1 - 1e-6)


@settings(deadline=None)
@given(a=st.floats(0.0, 0.45), b=st.floats(0.0, 0.45))
def test_more_eccentricity_never_lowers_the_greatest_pressure(a, b) -> None:
    low, high = sorted((a, b))
    near, far = (
        strip_base_pressure(300.0, 3.0, width_m=1.0, eccentricity_m=3.0 * e).q_max_kPa
        for e in (low, high)
    )
    assert far >= near * (1 - 1e-12)


def test_load_in_a_corner_presses_on_a_triangle() -> None:
    # a load at e = 3/8 of both sides stands on a corner triangle: legs 4 times its distance from
    # the two edges, pressure 3 V / area (centroid of a pyramid)
    found = rectangle_base_pressure(
        120.0, 2.0, width_m=2.0, eccentricity_length_m=0.75, eccentricity_width_m=0.75
    )
    side = 4.0 * 0.25
    assert found.contact_fraction == pytest.approx(side**2 / 2.0 / 4.0, rel=1e-6)
    assert found.q_max_kPa == pytest.approx(3.0 * 120.0 / (side**2 / 2.0), rel=1e-6)


def test_arrays_mix_every_kind_of_eccentricity() -> None:
    found = rectangle_base_pressure(
        [100.0, 200.0, 300.0, 0.0],
        2.0,
        width_m=1.5,
        eccentricity_length_m=[0.0, 0.6, -0.5, 0.1],
        eccentricity_width_m=[0.1, 0.0, 0.4, 0.0],
    )
    assert found.q_max_kPa.shape == (4,)
    assert found.inside_kern.tolist() == [True, False, False, True]
    alone = rectangle_base_pressure(
        300.0, 2.0, width_m=1.5, eccentricity_length_m=-0.5, eccentricity_width_m=0.4
    )
    assert found.q_max_kPa[2] == pytest.approx(float(alone.q_max_kPa))
    assert int(np.argmax(found.corner_kPa[2])) == 3  # corner (-, +)


@pytest.mark.parametrize("e", [1.5, -1.5, 2.0, np.nan])
def test_a_load_on_or_beyond_the_edge_is_refused(e: float) -> None:
    with pytest.raises(InputError, match="eccentricity_m"):
        strip_base_pressure(100.0, 3.0, width_m=1.0, eccentricity_m=e)


def test_the_two_tracks_share_the_whole_weight() -> None:
    two = two_track_pressure(
        900.0,
        4.0,
        track_width_m=0.8,
        bearing_length_m=5.0,
        offset_across_m=-0.7,
        offset_along_m=0.4,
    )
    assert two.heavy_load_kN + two.light_load_kN == pytest.approx(900.0)
    with pytest.raises(InputError, match="offset_across_m"):
        two_track_pressure(
            900.0,
            4.0,
            track_width_m=0.8,
            bearing_length_m=5.0,
            offset_across_m=2.0,
            offset_along_m=0.0,
        )
