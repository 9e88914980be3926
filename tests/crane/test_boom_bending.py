"""Boom bending: against a frame library, and its limits."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import ConvergenceError, InputError
from liftcalc.base.units import G_M_S2
from liftcalc.crane.boom_bending import cantilever_tip_deflection_m, deflected_boom

DATA = {
    "hook_load_t": 10.0,
    "boom_mass_t": 8.0,
    "boom_cg_from_foot_m": 12.0,
    "bending_stiffness_kNm2": 900e3,
    "foot_u_m": -1.2,
}


def frame_tip_deflection(
    length: float, stiffness: float, angle_deg: float, force: float, weight: float, cg: float
) -> float:
    """Tip displacement square to an inclined cantilever, by the frame library PyNite."""
    from Pynite import FEModel3D

    model = FEModel3D()
    a = np.radians(angle_deg)
    model.add_material("m", E=stiffness, G=stiffness / 2.6, nu=0.3, rho=0.0)
    # an axially stiff section: the method has no shortening
    model.add_section("s", A=1e6, Iy=1.0, Iz=1.0, J=1.0)
    model.add_node("foot", 0, 0, 0)
    model.add_node("head", length * np.cos(a), length * np.sin(a), 0)
    model.add_member("boom", "foot", "head", "m", "s")
    model.def_support("foot", *[True] * 6)
    model.add_node_load("head", "FY", -force)
    w1 = 6 * weight * (2 * cg - length) / length**3
    w0 = weight / length - w1 * length / 2
    model.add_member_dist_load("boom", "FY", -w0, -(w0 + w1 * length), 0, length)
    model.analyze_linear()
    head = model.nodes["head"]
    return float(head.DX["Combo 1"] * np.sin(a) - head.DY["Combo 1"] * np.cos(a))


@pytest.mark.parametrize("angle", [0.0, 25.0, 60.0, 80.0])
@pytest.mark.parametrize("share", [0.34, 0.42, 0.5, 0.6])
def test_inclined_cantilever_agrees_with_the_frame_library(angle: float, share: float) -> None:
    length, stiffness, force, weight = 28.0, 750e3, 85.0, 72.0
    reference = frame_tip_deflection(length, stiffness, angle, force, weight, share * length)
    cos = np.cos(np.radians(angle))
    ours = cantilever_tip_deflection_m(
        length, stiffness, end_force_kN=force * cos, weight_kN=weight * cos, weight_cg_from_foot_m=share * length
    )
    assert ours == pytest.approx(reference, rel=1e-6)


def test_small_bending_agrees_with_the_frame_library_at_the_undeflected_angle() -> None:
    stiff = 900e6  # so stiff that the axial effect and the iteration vanish
    found = deflected_boom(30.0, 12.0, **{**DATA, "bending_stiffness_kNm2": stiff})
    reference = frame_tip_deflection(30.0, stiff, float(found.boom_angle_deg), 10 * G_M_S2, 8 * G_M_S2, 12.0)
    assert found.tip_deflection_m == pytest.approx(reference, rel=2e-4)


def test_axial_effect_agrees_with_the_exact_beam_column_within_two_percent() -> None:
    # Upright-ish cantilever with end force H across and N along: exact tip deflection is
    # H L/N (tan(kL)/(kL) - 1), k^2 = N/EI (Timoshenko and Gere, from memory).
    length, stiffness, across = 30.0, 900e3, 20.0
    found = deflected_boom(30.0, 6.0, **{**DATA, "boom_mass_t": 0.0, "hook_load_t": 20.0})
    along = 20.0 * G_M_S2 * np.sin(np.radians(found.boom_angle_deg))
    kl = np.sqrt(along / stiffness) * length
    exact = across * length / along * (np.tan(kl) / kl - 1)
    plain = cantilever_tip_deflection_m(length, stiffness, end_force_kN=across)
    chord = np.radians(found.boom_angle_deg) - np.arctan2(found.tip_deflection_m, 30.0)
    unbent = cantilever_tip_deflection_m(length, stiffness, end_force_kN=20.0 * G_M_S2 * np.cos(chord))
    assert found.tip_deflection_m / unbent == pytest.approx(exact / plain, rel=0.02)


@settings(deadline=None, max_examples=60)
@given(radius=st.floats(3.0, 24.0), load=st.floats(0.0, 15.0), stiffness=st.floats(1.2e6, 9e6))
def test_bent_boom_never_has_a_smaller_radius_and_grows_with_load(radius: float, load: float, stiffness: float) -> None:
    data = {**DATA, "bending_stiffness_kNm2": stiffness}
    less = deflected_boom(30.0, radius, **{**data, "hook_load_t": load})
    more = deflected_boom(30.0, radius, **{**data, "hook_load_t": load + 1.0})
    assert less.radius_m >= less.straight_radius_m
    assert more.radius_m > less.radius_m


def test_iteration_satisfies_its_own_equation() -> None:
    found = deflected_boom(30.0, 14.0, **DATA)
    chord = np.radians(found.boom_angle_deg) - np.arctan2(found.tip_deflection_m, 30.0)
    force = 10.0 * G_M_S2 * np.cos(chord)
    weight = 8.0 * G_M_S2 * np.cos(chord)
    along = (10.0 + 4.0) * G_M_S2 * np.sin(np.radians(found.boom_angle_deg))
    gain = 1.0 / (1.0 - along / (np.pi**2 * 900e3 / (4.0 * 30.0**2)))
    again = gain * cantilever_tip_deflection_m(
        30.0, 900e3, end_force_kN=force, weight_kN=weight, weight_cg_from_foot_m=12.0
    )
    assert again == pytest.approx(found.tip_deflection_m, abs=1e-6)
    assert found.estimate is True


def test_array_of_radii_equals_single_calls() -> None:
    radii = np.array([6.0, 12.0, 20.0])
    together = deflected_boom(30.0, radii, **DATA)
    for i, radius in enumerate(radii):
        one = deflected_boom(30.0, radius, **DATA)
        assert together.radius_m[i] == pytest.approx(one.radius_m, abs=2e-6)


def test_no_load_and_no_mass_leaves_the_boom_straight() -> None:
    found = deflected_boom(30.0, 12.0, **{**DATA, "hook_load_t": 0.0, "boom_mass_t": 0.0})
    assert found.radius_growth_m == 0.0


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"bending_stiffness_kNm2": 250e3}, "a tip deflection of at most 0.1"),
        ({"bending_stiffness_kNm2": 60e3}, "Euler load"),
        ({"bending_stiffness_kNm2": np.nan}, "bending_stiffness_kNm2"),
        ({"hook_load_t": -1.0}, "hook_load_t"),
        ({"boom_cg_from_foot_m": 9.0}, "one third to two thirds"),
        ({"boom_cg_from_foot_m": 21.0}, "one third to two thirds"),
    ],
)
def test_bending_outside_its_validity_is_refused(change: dict, text: str) -> None:
    with pytest.raises(InputError, match=text):
        deflected_boom(30.0, 18.0, **{**DATA, **change})


def test_no_result_when_the_iteration_may_not_settle(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("liftcalc.crane.boom_bending.MAX_ITERATIONS", 1)
    with pytest.raises(ConvergenceError, match="did not settle in 1 steps"):
        deflected_boom(30.0, 18.0, **DATA)
