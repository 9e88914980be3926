"""Mats on elastic ground: equilibrium, limits, and the two solutions against each other."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.ground.beam import centred_beam_shape, characteristic_per_m

lengths = st.floats(1.5, 8.0)
stiffness = st.floats(500.0, 2e5)
springs = st.floats(3e3, 2e5)
patches = st.floats(0.0, 1.2)


def centred_beam(load_kN, length_m, **mat):
    """Greatest values, which lie in the middle."""
    return centred_beam_shape(load_kN, length_m, x_m=0.0, **mat)


@settings(deadline=None, max_examples=50)
@given(length=lengths, e_i=stiffness, ks=springs, patch=patches)
def test_ground_pressure_carries_the_whole_load(length, e_i, ks, patch) -> None:
    x = np.linspace(-length / 2, length / 2, 4001)
    shape = centred_beam_shape(
        300.0, length, width_m=1.2, stiffness_kNm2=e_i, subgrade_modulus_kN_m3=ks, patch_m=patch, x_m=x
    )
    carried = np.trapezoid(shape.pressure_kPa, x) * 1.2
    assert carried == pytest.approx(300.0, rel=1e-3)
    assert shape.pressure_kPa.min() >= 0.0
    assert shape.moment_kNm[[0, -1]] == pytest.approx(0.0, abs=1e-6)
    assert shape.deflection_m[::-1] == pytest.approx(shape.deflection_m, rel=1e-9, abs=1e-12)


@settings(deadline=None)
@given(factor=st.floats(0.1, 10.0), ks=springs)
def test_the_answer_is_proportional_to_the_load_even_with_lift_off(factor, ks) -> None:
    ground = {"width_m": 1.0, "stiffness_kNm2": 3000.0, "subgrade_modulus_kN_m3": ks}
    one = centred_beam(100.0, 6.0, **ground)
    more = centred_beam(100.0 * factor, 6.0, **ground)
    assert more.moment_kNm == pytest.approx(factor * float(one.moment_kNm))
    assert more.contact_length_m == pytest.approx(float(one.contact_length_m))


@settings(deadline=None)
@given(e_i=stiffness, stiffer=st.floats(1.1, 10.0), ks=springs)
def test_a_stiffer_mat_never_raises_the_greatest_pressure(e_i, stiffer, ks) -> None:
    ground = {"width_m": 1.0, "subgrade_modulus_kN_m3": ks}
    soft = centred_beam(100.0, 4.0, stiffness_kNm2=e_i, **ground)
    stiff = centred_beam(100.0, 4.0, stiffness_kNm2=e_i * stiffer, **ground)
    assert stiff.pressure_kPa <= soft.pressure_kPa * (1 + 1e-9)
    assert stiff.contact_length_m >= soft.contact_length_m * (1 - 1e-9)


def test_a_very_stiff_mat_presses_evenly() -> None:
    mat = {"width_m": 1.0, "stiffness_kNm2": 1e8, "subgrade_modulus_kN_m3": 1e4, "patch_m": 0.5}
    found = centred_beam_shape(300.0, 3.0, **mat, x_m=[0.0, 1.5])
    assert found.pressure_kPa == pytest.approx([100.0, 100.0], rel=1e-3)
    # P L / 8 less the relief of the patch
    assert found.moment_kNm[0] == pytest.approx(300.0 * (3.0 - 0.5) / 8.0, rel=1e-3)


def test_a_point_load_lifts_a_mat_longer_than_pi_over_lambda() -> None:
    found = centred_beam(100.0, 9.0, width_m=1.0, stiffness_kNm2=4000.0, subgrade_modulus_kN_m3=4e4)
    characteristic = float(characteristic_per_m(4e4, 1.0, stiffness_kNm2=4000.0))
    assert characteristic * 9.0 > np.pi
    assert found.contact_length_m == pytest.approx(np.pi / characteristic, rel=1e-6)


def test_a_patch_as_long_as_the_mat_bends_nothing() -> None:
    found = centred_beam(
        100.0, 2.0, width_m=1.0, stiffness_kNm2=4000.0, subgrade_modulus_kN_m3=4e4, patch_m=[2.0, 1.999999, 5.0]
    )
    assert found.moment_kNm == pytest.approx(0.0, abs=1e-3)
    assert found.pressure_kPa == pytest.approx(50.0, rel=1e-4)


def test_a_thousand_states_at_once() -> None:
    loads = np.linspace(0.0, 500.0, 1440).reshape(360, 4)
    found = centred_beam(
        loads,
        [4.0, 4.0, 3.0, 3.0],
        width_m=1.0,
        stiffness_kNm2=[4e3, 8e3, 4e3, 8e3],
        subgrade_modulus_kN_m3=4e4,
        patch_m=0.5,
    )
    assert found.moment_kNm.shape == (360, 4)
    alone = centred_beam(loads[200, 3], 3.0, width_m=1.0, stiffness_kNm2=8e3, subgrade_modulus_kN_m3=4e4, patch_m=0.5)
    assert found.moment_kNm[200, 3] == pytest.approx(float(alone.moment_kNm))


def test_a_mat_is_straight_where_it_has_lifted_off() -> None:
    x = np.linspace(0.0, 3.0, 601)
    shape = centred_beam_shape(300.0, 6.0, width_m=1.2, stiffness_kNm2=2e3, subgrade_modulus_kN_m3=5e4, x_m=x)
    off = shape.pressure_kPa <= 0.0
    assert 50 < off.sum() < 500
    slope = np.diff(shape.deflection_m)
    assert slope[off[:-1]] == pytest.approx(slope[off[:-1]][0], rel=1e-3)
    assert slope[off[:-1]][0] == pytest.approx(slope[~off[:-1]][-1], rel=0.02)  # no kink there
