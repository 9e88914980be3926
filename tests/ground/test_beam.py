"""Mats on elastic ground: equilibrium, limits, and the two solutions against each other."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import ConvergenceError, InputError
from liftcalc.ground.beam import centred_beam, centred_beam_shape
from liftcalc.ground.beam_fe import beam_on_ground

lengths = st.floats(1.5, 8.0)
stiffness = st.floats(500.0, 2e5)
springs = st.floats(3e3, 2e5)
patches = st.floats(0.0, 1.2)


@settings(deadline=None, max_examples=50)
@given(length=lengths, e_i=stiffness, ks=springs, patch=patches)
def test_ground_pressure_carries_the_whole_load(length, e_i, ks, patch) -> None:
    x = np.linspace(-length / 2, length / 2, 4001)
    shape = centred_beam_shape(
        300.0,
        length,
        width_m=1.2,
        stiffness_kNm2=e_i,
        subgrade_modulus_kN_m3=ks,
        patch_m=patch,
        x_m=x,
    )
    carried = np.trapezoid(shape.pressure_kPa, x) * 1.2
    assert carried == pytest.approx(300.0, rel=1e-3)
    assert shape.pressure_kPa.min() >= 0.0
    assert shape.moment_kNm[[0, -1]] == pytest.approx(0.0, abs=1e-6)
    assert shape.deflection_m[::-1] == pytest.approx(shape.deflection_m, rel=1e-9, abs=1e-12)


@settings(deadline=None, max_examples=20, phases=[Phase.generate])
@given(length=lengths, e_i=stiffness, ks=springs, patch=patches)
def test_closed_form_and_elements_agree(length, e_i, ks, patch) -> None:
    ground = {"width_m": 1.2, "stiffness_kNm2": e_i, "subgrade_modulus_kN_m3": ks}
    raster = 2.0 * length / 1000.0  # the elements take patches on a raster, shortening others
    patch = np.floor(min(patch, length) / raster) * raster
    closed = centred_beam(300.0, length, **ground, patch_m=patch)
    elements = beam_on_ground([300.0], [length / 2], length_m=length, **ground, patch_m=patch)
    assert elements.pressure_max_kPa == pytest.approx(float(closed.pressure_max_kPa), rel=4e-3)
    assert elements.moment_max_kNm == pytest.approx(
        float(closed.moment_max_kNm), rel=6e-3, abs=3e-3 * 300.0
    )
    assert elements.shear_max_kN == pytest.approx(
        float(closed.shear_edge_kN), rel=6e-3, abs=3e-3 * 300.0
    )


@settings(deadline=None, max_examples=20)
@given(length=lengths, e_i=stiffness, ks=springs, patch=patches)
def test_elements_never_make_a_patch_longer(length, e_i, ks, patch) -> None:
    ground = {"width_m": 1.2, "stiffness_kNm2": e_i, "subgrade_modulus_kN_m3": ks}
    patch = min(patch, length)
    closed = centred_beam(300.0, length, **ground, patch_m=patch)
    elements = beam_on_ground([300.0], [length / 2], length_m=length, **ground, patch_m=patch)
    assert elements.moment_max_kNm >= 0.994 * closed.moment_max_kNm - 0.9
    assert elements.shear_max_kN >= 0.994 * closed.shear_edge_kN - 0.9


def test_the_peak_moment_under_a_short_patch_is_not_missed() -> None:
    ground = {"width_m": 1.2, "stiffness_kNm2": 134511.0, "subgrade_modulus_kN_m3": 191362.0}
    closed = centred_beam(300.0, 5.9, **ground, patch_m=0.0423)
    elements = beam_on_ground([300.0], [2.95], length_m=5.9, **ground, patch_m=0.0423)
    assert elements.moment_max_kNm == pytest.approx(float(closed.moment_max_kNm), rel=1e-2)


@settings(deadline=None)
@given(factor=st.floats(0.1, 10.0), ks=springs)
def test_the_answer_is_proportional_to_the_load_even_with_lift_off(factor, ks) -> None:
    ground = {"width_m": 1.0, "stiffness_kNm2": 3000.0, "subgrade_modulus_kN_m3": ks}
    one = centred_beam(100.0, 6.0, **ground)
    more = centred_beam(100.0 * factor, 6.0, **ground)
    assert more.moment_max_kNm == pytest.approx(factor * float(one.moment_max_kNm))
    assert more.contact_length_m == pytest.approx(float(one.contact_length_m))


@settings(deadline=None)
@given(e_i=stiffness, stiffer=st.floats(1.1, 10.0), ks=springs)
def test_a_stiffer_mat_never_raises_the_greatest_pressure(e_i, stiffer, ks) -> None:
    ground = {"width_m": 1.0, "subgrade_modulus_kN_m3": ks}
    soft = centred_beam(100.0, 4.0, stiffness_kNm2=e_i, **ground)
    stiff = centred_beam(100.0, 4.0, stiffness_kNm2=e_i * stiffer, **ground)
    assert stiff.pressure_max_kPa <= soft.pressure_max_kPa * (1 + 1e-9)
    assert stiff.contact_length_m >= soft.contact_length_m * (1 - 1e-9)


def test_a_very_stiff_mat_presses_evenly() -> None:
    found = centred_beam(
        300.0, 3.0, width_m=1.0, stiffness_kNm2=1e8, subgrade_modulus_kN_m3=1e4, patch_m=0.5
    )
    assert found.pressure_max_kPa == pytest.approx(100.0, rel=1e-3)
    assert found.pressure_end_kPa == pytest.approx(100.0, rel=1e-3)
    # P L / 8 less the relief of the patch
    assert found.moment_max_kNm == pytest.approx(300.0 * (3.0 - 0.5) / 8.0, rel=1e-3)


def test_a_point_load_lifts_a_mat_longer_than_pi_over_lambda() -> None:
    found = centred_beam(100.0, 9.0, width_m=1.0, stiffness_kNm2=4000.0, subgrade_modulus_kN_m3=4e4)
    assert found.lambda_length > np.pi
    assert found.contact_length_m == pytest.approx(np.pi / float(found.lambda_per_m), rel=1e-6)


def test_a_patch_as_long_as_the_mat_bends_nothing() -> None:
    found = centred_beam(
        100.0,
        2.0,
        width_m=1.0,
        stiffness_kNm2=4000.0,
        subgrade_modulus_kN_m3=4e4,
        patch_m=[2.0, 1.999999, 5.0],
    )
    assert found.moment_max_kNm == pytest.approx(0.0, abs=1e-3)
    assert found.pressure_max_kPa == pytest.approx(50.0, rel=1e-4)


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
    assert found.moment_max_kNm.shape == (360, 4)
    alone = centred_beam(
        loads[200, 3],
        3.0,
        width_m=1.0,
        stiffness_kNm2=8e3,
        subgrade_modulus_kN_m3=4e4,
        patch_m=0.5,
    )
    assert found.moment_max_kNm[200, 3] == pytest.approx(float(alone.moment_max_kNm))


def test_own_weight_keeps_light_ends_down() -> None:
    ground = {
        "length_m": 8.0,
        "width_m": 1.0,
        "stiffness_kNm2": 6000.0,
        "subgrade_modulus_kN_m3": 4e4,
    }
    bare = beam_on_ground([100.0], [4.0], **ground)
    heavy = beam_on_ground([100.0], [4.0], **ground, self_weight_kN_m=5.0)
    assert heavy.contact_length_m > bare.contact_length_m
    carried = np.trapezoid(heavy.pressure_kPa, heavy.x_m)
    assert carried == pytest.approx(140.0, rel=2e-3)


def test_states_of_loads_and_ground_at_once() -> None:
    found = beam_on_ground(
        [[100.0, 0.0], [50.0, 80.0]],
        [1.0, 3.0],
        length_m=4.0,
        width_m=1.0,
        stiffness_kNm2=5000.0,
        subgrade_modulus_kN_m3=[2e4, 3e4],
    )
    assert found.moment_max_kNm.shape == (2,)
    alone = beam_on_ground(
        [50.0, 80.0],
        [1.0, 3.0],
        length_m=4.0,
        width_m=1.0,
        stiffness_kNm2=5000.0,
        subgrade_modulus_kN_m3=3e4,
    )
    assert found.moment_kNm[1] == pytest.approx(alone.moment_kNm)


def test_a_load_at_the_very_end_of_a_stiff_weightless_mat_tips_it() -> None:
    with pytest.raises(ConvergenceError, match=r"tips up|not found"):
        beam_on_ground(
            [100.0],
            [0.0],
            length_m=4.0,
            width_m=1.0,
            stiffness_kNm2=1e9,
            subgrade_modulus_kN_m3=1e4,
        )


def test_loads_off_the_mat_are_refused() -> None:
    with pytest.raises(InputError, match="load and patch within 0 to 4 m"):
        beam_on_ground(
            [100.0],
            [3.9],
            length_m=4.0,
            width_m=1.0,
            stiffness_kNm2=1e4,
            subgrade_modulus_kN_m3=1e4,
            patch_m=0.5,
        )
    with pytest.raises(InputError, match="contact is 'glued'"):
        centred_beam(
            1.0,
            1.0,
            width_m=1.0,
            stiffness_kNm2=1.0,
            subgrade_modulus_kN_m3=1.0,
            contact="glued",
        )


def test_a_mat_is_straight_where_it_has_lifted_off() -> None:
    x = np.linspace(0.0, 3.0, 601)
    shape = centred_beam_shape(
        300.0, 6.0, width_m=1.2, stiffness_kNm2=2e3, subgrade_modulus_kN_m3=5e4, x_m=x
    )
    off = shape.pressure_kPa <= 0.0
    assert 50 < off.sum() < 500
    slope = np.diff(shape.deflection_m)
    assert slope[off[:-1]] == pytest.approx(slope[off[:-1]][0], rel=1e-3)
    assert slope[off[:-1]][0] == pytest.approx(slope[~off[:-1]][-1], rel=0.02)  # no kink there


@pytest.mark.parametrize("place", [0.7, 1.1, 1.6])
def test_a_mirrored_load_shears_the_mat_as_much(place: float) -> None:
    ground = {"width_m": 1.2, "stiffness_kNm2": 4e3, "subgrade_modulus_kN_m3": 3e4}
    one = beam_on_ground([300.0], [place], length_m=4.0, **ground)
    other = beam_on_ground([300.0], [4.0 - place], length_m=4.0, **ground)
    assert one.shear_max_kN == pytest.approx(other.shear_max_kN, rel=1e-7)
