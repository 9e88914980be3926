"""Mats: the bearing length that is found, and choosing from a list."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.ground.mat_properties import MatProperties
from liftcalc.ground.mats import cantilever_actions, float_punching, mat_check, strength_bearing_length

TIMBER = MatProperties(
    "timber 4.0 x 1.2", 4.0, 1.2, 0.3, 0.9, "timber", 9e6, 11e3, 1.2e3, 2.8e3, strength_basis="allowable"
)
STEEL = MatProperties(
    "steel 2.0 x 2.0",
    2.0,
    2.0,
    0.12,
    1.4,
    "steel",
    2.1e8,
    160e3,
    90e3,
    150e3,
    strength_basis="allowable",
    across="plate",
    section_modulus_m3=9e-4,
    second_moment_m4=5.4e-5,
    shear_area_m2=0.01,
)
FLOAT = {"float_length_m": 0.6, "float_width_m": 0.6}

load = st.floats(5.0, 3000.0)


@settings(deadline=None)
@given(p=load, c=st.floats(0.2, 1.0), m=st.floats(5.0, 500.0), v=st.floats(10.0, 800.0))
def test_strength_is_just_used_up_at_the_length_it_allows(p, c, m, v) -> None:
    found = strength_bearing_length(
        p, 50.0, float_length_m=c, moment_capacity_kNm=m, shear_capacity_kN=v, shear_offset_m=0.3
    )
    assume(found < 50.0)
    at = cantilever_actions(p, found, width_m=1.0, float_length_m=c, shear_offset_m=0.3)
    used = max(float(at.moment_kNm) / m, float(at.shear_kN) / v)
    assert used == pytest.approx(1.0, rel=1e-6)


@settings(deadline=None)
@given(p=load, more=st.floats(1.01, 3.0))
def test_a_greater_leg_force_never_lengthens_the_bearing(p, more) -> None:
    a, b = (mat_check(TIMBER, x, allowable_kPa=150.0, **FLOAT) for x in (p, p * more))
    assert b.effective_length_m <= a.effective_length_m * (1 + 1e-12)
    assert b.utilisation >= a.utilisation * (1 - 1e-12)


@settings(deadline=None)
@given(p=load, qa=st.floats(30.0, 600.0))
def test_ground_and_strength_pass_or_fail_together(p, qa) -> None:
    found = mat_check(TIMBER, p, allowable_kPa=qa, **FLOAT)
    ground = float(found.ground_utilisation)
    strength = max(float(found.bending_utilisation), float(found.shear_utilisation))
    assume(abs(ground - 1.0) > 1e-9)
    if ground <= 1.0:
        assert strength <= 1.0 + 1e-9
        assert found.required_length_m <= found.effective_length_m * (1 + 1e-9)
    elif found.required_length_m <= TIMBER.length_m:
        assert strength > 1.0


@settings(deadline=None, max_examples=60)
@given(p=load, qa=st.floats(30.0, 600.0))
def test_a_limit_given_as_a_function_agrees_with_the_same_number(p, qa) -> None:
    number = mat_check(STEEL, p, allowable_kPa=qa, **FLOAT)
    called = mat_check(STEEL, p, allowable_kPa=lambda b, length: qa + 0.0 * b, **FLOAT)
    assert called.ground_utilisation == pytest.approx(float(number.ground_utilisation))
    assert called.governs == number.governs or called.utilisation == pytest.approx(float(number.utilisation), rel=1e-6)


def test_the_function_is_told_the_shorter_side_first() -> None:
    seen = []

    def limit(width: np.ndarray, length: np.ndarray) -> float:
        seen.append((width, length))
        return 200.0

    mat_check(TIMBER, [100.0, 900.0], allowable_kPa=limit, **FLOAT)
    assert all(np.all(w <= n) for w, n in seen)


def test_a_stiffer_and_stronger_plate_spreads_across_as_well() -> None:
    thin = mat_check(STEEL, 2600.0, allowable_kPa=400.0, **FLOAT)
    thick = mat_check(replace(STEEL, section_modulus_m3=2 * 9e-4), 2600.0, allowable_kPa=400.0, **FLOAT)
    assert thin.effective_length_m == pytest.approx(float(thin.effective_width_m), rel=1e-6)
    assert thin.effective_length_m < 2.0
    assert thick.effective_width_m > thin.effective_width_m


def test_single_timbers_spread_across_only_within_their_thickness() -> None:
    wide = replace(TIMBER, width_m=3.0)
    found = mat_check(wide, 200.0, allowable_kPa=150.0, **FLOAT)
    assert found.effective_width_m == pytest.approx(0.6 + 2 * 0.3)


def test_characteristic_strengths_are_divided() -> None:
    weak = replace(TIMBER, strength_basis="characteristic", strength_divisor=2.0)
    assert weak.moment_capacity_kNm == pytest.approx(TIMBER.moment_capacity_kNm / 2.0)
    for p in (300.0, 900.0):
        a = mat_check(TIMBER, p, allowable_kPa=200.0, **FLOAT)
        b = mat_check(weak, p, allowable_kPa=200.0, **FLOAT)
        assert b.bending_utilisation >= a.bending_utilisation
        assert b.crushing_utilisation == pytest.approx(2.0 * float(a.crushing_utilisation))


def test_all_wrong_fields_are_told_at_once() -> None:
    with pytest.raises(InputError) as told:
        replace(
            TIMBER, length_m=-1.0, bending_strength_kPa=float("nan"), strength_basis="characteristic", material="straw"
        )
    for field in ("length_m", "bending_strength_kPa", "strength_divisor", "material"):
        assert field in str(told.value)


@pytest.mark.parametrize("force", [-1.0, np.nan, np.inf])
def test_a_leg_force_that_is_no_force_is_refused(force: float) -> None:
    with pytest.raises(InputError, match="reaction_kN"):
        mat_check(TIMBER, force, allowable_kPa=150.0, **FLOAT)


def test_a_float_larger_than_the_mat_is_refused() -> None:
    with pytest.raises(InputError, match=r"float_width_m is 1.4; allowed: at most 1.2 m"):
        mat_check(TIMBER, 100.0, allowable_kPa=150.0, float_length_m=0.6, float_width_m=1.4)


def test_punching_cannot_pass_the_edge_of_the_mat() -> None:
    found = float_punching(
        400.0,
        [0.0, 100.0],
        float_length_m=0.6,
        float_width_m=0.6,
        mat_length_m=2.0,
        mat_width_m=[0.8, 2.0],
        thickness_m=0.3,
    )
    # narrow mat: two sides across it, each as long as it is wide
    assert found.perimeter_m == pytest.approx([2 * 0.8, 4 * 0.9])
    assert found.punching_force_kN == pytest.approx([400.0, 400.0 - 100.0 * 0.81])
