"""Load under a beam: closed forms, plane statics, and balance of the whole about the hook."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from liftcalc.base.errors import InputError
from liftcalc.base.units import G_M_S2
from liftcalc.rigging.under_beam import hang_under_beam

COMMON: dict[str, Any] = {
    "hook_above_beam_m": 3.0,
    "bottom_length_m": 2.0,
    "lug_spacing_m": 4.0,
    "cg_below_lugs_m": 1.0,
    "beam_mass_t": 0.6,
}


def test_plumb_slings_follow_the_closed_form_of_the_tilt() -> None:
    out = hang_under_beam(10.0, 4.0, cg_offset_m=0.5, **COMMON)
    # moments about the hook: W (e - d tan) = (W + Wb) H tan
    assert np.tan(np.radians(out.beam_tilt_deg)) == pytest.approx(5.0 / (10.6 * 3.0 + 10.0), rel=1e-6)
    assert out.load_tilt_deg == pytest.approx(out.beam_tilt_deg, abs=1e-6)


@pytest.mark.parametrize(("span", "spacing"), [(4.0, 4.0), (5.0, 4.0), (4.0, 5.0), (3.0, 2.0)])
def test_a_centred_load_agrees_with_the_level_spreader(span: float, spacing: float) -> None:
    height = 2.0
    hung = hang_under_beam(
        10.0,
        span,
        hook_above_beam_m=3.0,
        bottom_length_m=np.hypot(height, (span - spacing) / 2),
        lug_spacing_m=spacing,
        cg_offset_m=0.0,
        cg_below_lugs_m=1.0,
        beam_mass_t=0.6,
    )
    assert hung.beam_tilt_deg == pytest.approx(0.0, abs=1e-7)
    # Half of the load hangs from each end; bottom slings drawn inward press the beam too.
    load, own = 10.0 * G_M_S2, 0.6 * G_M_S2
    inward = load / 2 * (span - spacing) / 2 / height
    top = (load + own) / 2
    assert hung.bottom_tension_1_kN == pytest.approx(np.hypot(load / 2, inward), rel=1e-8)
    assert hung.top_angle_1_deg == pytest.approx(np.degrees(np.arctan2(3.0, span / 2)), rel=1e-8)
    assert hung.top_tension_2_kN == pytest.approx(top * np.hypot(3.0, span / 2) / 3.0, rel=1e-8)
    assert hung.compression_kN == pytest.approx(top * span / 2 / 3.0 + inward, rel=1e-8)


def test_an_adjusted_hook_keeps_beam_and_load_level_with_plumb_slings() -> None:
    # plumb below: the hook stands over the common centre of gravity of load and beam
    hook = 10.0 * 0.3 / 10.6
    hung = hang_under_beam(10.0, 4.0, cg_offset_m=0.3, hook_offset_m=hook, **COMMON)
    assert hung.load_tilt_deg == pytest.approx(0.0, abs=1e-6)
    ends = np.array([2.0 + hook, 2.0 - hook])  # from the hook's plumb line
    vertical = 10.6 * G_M_S2 * ends[::-1] / 4.0
    want = vertical * np.hypot(3.0, ends) / 3.0
    assert [hung.top_tension_1_kN, hung.top_tension_2_kN] == pytest.approx(want, rel=1e-7)
    assert hung.compression_kN == pytest.approx(vertical[0] * ends[0] / 3.0, rel=1e-7)


def test_a_lifting_beam_bends_as_its_plane_statics_say() -> None:
    out = hang_under_beam(10.0, 4.0, cg_offset_m=0.0, **(COMMON | {"hook_above_beam_m": 0.0}))
    moment = 10.0 * G_M_S2 * 4.0 / 4.0 + 0.6 * G_M_S2 * 4.0 / 8.0
    assert out.bending_moment_kNm == pytest.approx(moment, rel=1e-9)
    assert np.isnan(out.top_tension_1_kN)


def test_the_place_of_rest_is_that_of_a_constrained_minimiser() -> None:
    """Outside check: free coordinates of beam ends, lugs and weights, lengths as constraints."""
    span, spacing, top, bottom, e, d, own = 5.0, 3.6, 2.5, 2.0, 0.6, 0.8, 0.7
    out = hang_under_beam(
        8.0,
        span,
        hook_above_beam_m=top,
        bottom_length_m=bottom,
        lug_spacing_m=spacing,
        cg_offset_m=e,
        cg_below_lugs_m=d,
        beam_mass_t=own,
    )
    leg = np.hypot(top, span / 2)

    def distances(q: np.ndarray) -> np.ndarray:
        a1, a2, b1, b2 = q.reshape(4, 2)
        pairs = ((a1, 0 * a1, leg), (a2, 0 * a2, leg), (a1, a2, span), (b1, b2, spacing))
        pairs += ((a1, b1, bottom), (a2, b2, bottom))
        return np.array([np.linalg.norm(p - q) - r for p, q, r in pairs])

    def energy(q: np.ndarray) -> float:
        a1, a2, b1, b2 = q.reshape(4, 2)
        axis = (b2 - b1) / spacing
        up = np.array([-axis[1], axis[0]])
        cg = (b1 + b2) / 2 + e * axis - d * up
        return float(8.0 * cg[1] + own * (a1[1] + a2[1]) / 2)

    k = np.sqrt(bottom**2 - ((span - spacing) / 2) ** 2)
    start = np.array([-span / 2, -top, span / 2, -top, -spacing / 2, -top - k, spacing / 2, -top - k])
    found = minimize(
        energy,
        start,
        method="SLSQP",
        constraints=[{"type": "eq", "fun": distances}],
        options={"ftol": 1e-14, "maxiter": 500},
    )
    a1, a2, b1, b2 = found.x.reshape(4, 2)
    beam_tilt = -np.degrees(np.arctan2(*(a2 - a1)[::-1]))
    load_tilt = -np.degrees(np.arctan2(*(b2 - b1)[::-1]))
    assert out.beam_tilt_deg == pytest.approx(beam_tilt, abs=1e-3)
    assert out.load_tilt_deg == pytest.approx(load_tilt, abs=1e-3)


@settings(deadline=None, max_examples=60)
@given(st.floats(2.0, 6.0), st.floats(-0.6, 0.6), st.floats(-0.3, 0.3), st.floats(0.2, 2.0), st.floats(0.0, 2.0))
def test_the_common_centre_of_gravity_hangs_below_the_hook(
    span: float, drop: float, share: float, below: float, own: float
) -> None:
    spacing = span - 2 * drop
    args: dict[str, Any] = {
        "hook_above_beam_m": 0.9 * span,
        "bottom_length_m": 3.0,
        "lug_spacing_m": spacing,
        "cg_offset_m": share * spacing / 2,
        "cg_below_lugs_m": below,
        "beam_mass_t": own,
    }
    out = hang_under_beam(5.0, span, **args)
    tilt = np.radians(out.load_tilt_deg)
    up = np.array([-np.sin(tilt), np.cos(tilt)])
    right = np.array([np.cos(tilt), np.sin(tilt)])
    cg = np.array([args["cg_offset_m"], -below])
    middle = (out.beam_1_xz_m + out.beam_2_xz_m) / 2
    moment = 5.0 * (cg - out.hook_xz_m) @ right + own * (middle - out.hook_xz_m) @ right
    assert moment == pytest.approx(0.0, abs=1e-5)
    # the two top slings carry everything
    vertical = out.top_tension_1_kN * np.sin(np.radians(out.top_angle_1_deg))
    vertical += out.top_tension_2_kN * np.sin(np.radians(out.top_angle_2_deg))
    assert vertical == pytest.approx((5.0 + own) * G_M_S2, rel=1e-5)
    for end, lug in ((out.beam_1_xz_m, -spacing / 2), (out.beam_2_xz_m, spacing / 2)):
        assert np.hypot(end[0] - lug, end[1]) == pytest.approx(3.0, rel=1e-9)
    assert (out.hook_xz_m - cg) @ up > 0
    mirrored = hang_under_beam(5.0, span, **(args | {"cg_offset_m": -args["cg_offset_m"]}))
    assert mirrored.load_tilt_deg == pytest.approx(-out.load_tilt_deg, abs=1e-4)
    assert mirrored.top_tension_1_kN == pytest.approx(out.top_tension_2_kN, rel=1e-5)


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"cg_offset_m": 2.1}, "within the lifting points"),
        ({"cg_offset_m": np.nan}, "cg_offset_m"),
        ({"lug_spacing_m": 9.0, "cg_offset_m": 0.0}, "long enough for beam span"),
        ({"hook_above_beam_m": 1.0, "cg_offset_m": 0.0}, "30 to 90"),
        ({"hook_offset_m": 2.5, "cg_offset_m": 0.0}, "between the beam's ends"),
        ({"beam_mass_t": -1.0, "cg_offset_m": 0.0}, "beam_mass_t"),
        ({"hook_above_beam_m": 0.0, "cg_below_lugs_m": -1.0, "cg_offset_m": 0.0}, "come to rest"),
        ({"hook_above_beam_m": [0.0, 3.0], "cg_offset_m": 0.0}, "one kind of beam"),
    ],
)
def test_what_cannot_hang_is_refused(change: dict[str, Any], text: str) -> None:
    with pytest.raises(InputError, match=text):
        hang_under_beam(10.0, 4.0, **(COMMON | {"cg_offset_m": 0.5} | change))
