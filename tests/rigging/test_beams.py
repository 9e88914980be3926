"""Spreaders and lifting beams against statics and a general frame library."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from Pynite import FEModel3D

from liftcalc import rigging
from liftcalc.base.errors import InputError
from liftcalc.base.units import G_M_S2

TUBE = rigging.BeamSection(5400.0, 260e3, 58.0, 2700.0, 355.0)


@settings(deadline=None)
@given(
    load=st.floats(0.5, 60),
    length=st.floats(2, 8),
    height=st.floats(3.0, 8.0),
    own=st.floats(0, 2),
    place=st.floats(-0.35, 0.35),
)
def test_each_end_of_a_spreader_is_in_balance(
    load: float, length: float, height: float, own: float, place: float
) -> None:
    out = rigging.spreader_forces(
        load,
        length,
        hook_above_spreader_m=max(height, 0.9 * length),
        spreader_mass_t=own,
        cg_offset_m=place * length,
    )
    weight = (load + own) * G_M_S2
    t1, t2 = float(out.top_tension_1_kN), float(out.top_tension_2_kN)
    a1, a2 = math.radians(float(out.top_angle_1_deg)), math.radians(float(out.top_angle_2_deg))
    assert t1 * math.sin(a1) + t2 * math.sin(a2) == pytest.approx(weight)
    # The bar is pressed equally from both ends.
    assert t1 * math.cos(a1) == pytest.approx(t2 * math.cos(a2), rel=1e-9)
    assert t1 * math.cos(a1) == pytest.approx(float(out.compression_kN), rel=1e-9)
    assert float(out.bottom_vertical_1_kN + out.bottom_vertical_2_kN) == pytest.approx(
        load * G_M_S2
    )
    # The hook stands over the common centre of gravity.
    assert float(out.hook_offset_m) == pytest.approx(load * place * length / (load + own))


def test_top_slings_of_a_weightless_spreader_are_a_two_leg_bridle() -> None:
    out = rigging.spreader_forces(10.0, 5.0, hook_above_spreader_m=4.0, cg_offset_m=0.6)
    bridle = rigging.bridle_tensions(
        10.0, [[-2.5, 0, 0], [2.5, 0, 0]], hook_m=[0.6, 0, 4.0], cg_m=[0.6, 0, -1]
    )
    np.testing.assert_allclose(
        [out.top_tension_1_kN, out.top_tension_2_kN], bridle.tension_kN, rtol=1e-9
    )


def test_bottom_slings_drawn_inward_press_the_spreader_further() -> None:
    common: dict[str, Any] = {"hook_above_spreader_m": 4.0}
    plumb = rigging.spreader_forces(10.0, 5.0, **common)
    inward = rigging.spreader_forces(
        10.0, 5.0, lug_spacing_m=4.0, bottom_sling_height_m=2.0, **common
    )
    outward = rigging.spreader_forces(
        10.0, 5.0, lug_spacing_m=6.0, bottom_sling_height_m=2.0, **common
    )
    half = 5.0 * G_M_S2
    assert float(inward.compression_kN) == pytest.approx(float(plumb.compression_kN) + half * 0.25)
    assert float(outward.compression_kN) == pytest.approx(float(plumb.compression_kN) - half * 0.25)
    assert float(inward.bottom_tension_1_kN) == pytest.approx(half * math.hypot(1, 0.25))


@settings(deadline=None)
@given(
    load=st.floats(1, 40),
    spacing=st.floats(3.0, 6.5),
    own=st.floats(0, 1),
    place=st.floats(-0.3, 0.3),
)
def test_load_under_inclined_bottom_slings_is_in_balance(
    load: float, spacing: float, own: float, place: float
) -> None:
    bar, drop, e = 5.0, 2.5, place * spacing
    out = rigging.spreader_forces(
        load,
        bar,
        hook_above_spreader_m=5.5,
        spreader_mass_t=own,
        cg_offset_m=e,
        lug_spacing_m=spacing,
        bottom_sling_height_m=drop,
    )
    shift = float(out.load_shift_m)
    ends = np.array([[-bar / 2, 0.0], [bar / 2, 0.0]])
    lugs = np.array([[-spacing / 2 + shift, -drop], [spacing / 2 + shift, -drop]])
    along = (ends - lugs) / np.linalg.norm(ends - lugs, axis=1)[:, None]
    tension = np.array([float(out.bottom_tension_1_kN), float(out.bottom_tension_2_kN)])
    pull = tension[:, None] * along
    weight = load * G_M_S2
    np.testing.assert_allclose(pull.sum(0), [0.0, weight], atol=1e-9 * weight)
    moment = (lugs[:, 0] * pull[:, 1] - lugs[:, 1] * pull[:, 0]).sum() - weight * (shift + e)
    assert moment == pytest.approx(0.0, abs=1e-9 * weight)
    # Moments on the bar about its left end: both bottom slings, its own weight, right top sling.
    a2 = math.radians(float(out.top_angle_2_deg))
    about = bar * float(out.top_tension_2_kN) * math.sin(a2)
    about -= bar * pull[1, 1] + 0.5 * bar * own * G_M_S2
    assert about == pytest.approx(0.0, abs=1e-8 * weight)


def _frame_beam(
    length: float, spacing: float, hang: list[float], picks: list[float], own_kN_m: float
) -> tuple[float, float]:
    """Greatest bending moment and shear of a beam held at its hanging points."""
    model = FEModel3D()
    model.add_material("steel", 200e6, 80e6, 0.3, 0.0)
    model.add_section("beam", 1e-2, 1e-4, 1e-4, 1e-4)
    model.add_node("a", -0.5 * length, 0, 0)
    model.add_node("b", 0.5 * length, 0, 0)
    for i, x in enumerate(hang):
        model.add_node(f"h{i}", x, 0, 0)
        # A single point leaves the beam free to turn; hold the turning, its moment must be nil.
        model.def_support(f"h{i}", i == 0, True, True, i == 0, len(hang) == 1, len(hang) == 1)
    model.add_member("beam", "a", "b", "steel", "beam")
    for x, force in zip((-0.5 * spacing, 0.5 * spacing), picks, strict=True):
        model.add_member_pt_load("beam", "Fy", -force, 0.5 * length + x)
    if own_kN_m:
        model.add_member_dist_load("beam", "Fy", -own_kN_m, -own_kN_m)
    model.analyze_linear(check_statics=False)
    combo = next(iter(model.load_combos))
    member = model.members["beam"]
    moment = max(abs(member.max_moment("Mz", combo)), abs(member.min_moment("Mz", combo)))
    shear = max(abs(member.max_shear("Fy", combo)), abs(member.min_shear("Fy", combo)))
    return float(moment), float(shear)


@pytest.mark.parametrize(
    ("load", "spacing", "hang", "offset", "own", "length"),
    [
        (10.0, 4.0, 0.0, 0.0, 0.0, 4.0),
        (10.0, 4.0, 0.0, 0.5, 0.0, 4.4),
        (12.0, 5.0, 0.0, -0.7, 0.8, 5.6),
        (12.0, 5.0, 2.0, 0.4, 0.8, 5.6),
        (1.0, 6.0, 5.8, 0.2, 3.0, 6.2),
    ],
)
def test_lifting_beam_equals_a_general_frame_library(
    load: float, spacing: float, hang: float, offset: float, own: float, length: float
) -> None:
    # Library: PyNiteFEA, a beam held at its hanging points.
    out = rigging.lifting_beam_forces(
        load,
        spacing,
        hang_spacing_m=hang,
        cg_offset_m=offset,
        beam_mass_t=own,
        beam_length_m=length,
    )
    points = [load * offset / (load + own)] if hang == 0.0 else [-0.5 * hang, 0.5 * hang]
    moment, shear = _frame_beam(
        length,
        spacing,
        points,
        [float(out.pick_1_kN), float(out.pick_2_kN)],
        own * G_M_S2 / length,
    )
    # Reading the library's moments at its sampling points costs up to 0.1 %.
    assert float(out.bending_moment_kNm) == pytest.approx(moment, rel=2e-3)
    assert float(out.shear_kN) == pytest.approx(shear, rel=2e-3)
    assert float(out.hang_1_kN + out.hang_2_kN) == pytest.approx((load + own) * G_M_S2)


@settings(deadline=None)
@given(
    load=st.floats(1, 50),
    spacing=st.floats(1.5, 8),
    own=st.floats(0, 2),
    place=st.floats(-0.45, 0.45),
)
def test_off_centre_loads_mirror(load: float, spacing: float, own: float, place: float) -> None:
    left = rigging.lifting_beam_forces(load, spacing, cg_offset_m=place * spacing, beam_mass_t=own)
    right = rigging.lifting_beam_forces(
        load, spacing, cg_offset_m=-place * spacing, beam_mass_t=own
    )
    assert float(left.bending_moment_kNm) == pytest.approx(float(right.bending_moment_kNm))
    assert float(left.shear_kN) == pytest.approx(float(right.shear_kN))
    assert float(left.pick_1_kN) == pytest.approx(float(right.pick_2_kN))


@settings(deadline=None)
@given(force=st.floats(0, 300), more=st.floats(0, 100), length=st.floats(1, 10))
def test_utilisation_never_falls_with_force(force: float, more: float, length: float) -> None:
    def used(axial: float) -> float:
        return float(
            rigging.member_check(
                TUBE, length, category="A", compression_kN=axial, bending_moment_kNm=2.0
            ).utilisation
        )

    assert used(force + more) >= used(force) - 1e-12


def test_allowable_compression_is_continuous_and_falls_with_length() -> None:
    lengths = np.linspace(0.2, 11.5, 400)
    for category in ("A", "B"):
        out = rigging.member_check(TUBE, lengths, category=category)
        assert np.all(np.diff(out.allowable_compression_MPa) < 0)
        assert np.abs(np.diff(out.allowable_compression_MPa)).max() < 2.0
    assert float(rigging.member_check(TUBE, 0.01, category="B").allowable_compression_MPa) == (
        pytest.approx(355.0 / 3.0, rel=1e-3)
    )


def test_compression_magnifies_bending_as_worked_by_hand() -> None:
    # Kl/r = 50, Cc = 105.45: Fa 95.60; Fe = pi^2 E / (1.15 x 3 x 50^2) = 228.86; Fb = 118.33 MPa;
    # fa = 400e3 / 5000 = 80, fb = 5e6 / 260e3 = 19.23 MPa: 0.8368 + 19.23 / (0.6504 x 118.33)
    section = rigging.BeamSection(5000.0, 260e3, 60.0, 2000.0, 355.0)
    out = rigging.member_check(
        section, 3.0, category="B", compression_kN=400.0, bending_moment_kNm=5.0
    )
    assert float(out.combined_utilisation) == pytest.approx(0.8368 + 0.2498, abs=2e-4)


def test_shear_bending_and_compression_each_can_govern() -> None:
    shear = rigging.member_check(TUBE, 3.0, category="B", shear_kN=100.0)
    assert float(shear.utilisation) == pytest.approx(
        100e3 / 2700.0 / (355.0 / math.sqrt(3.0) / 3.0)
    )
    bend = rigging.member_check(TUBE, 3.0, category="B", bending_moment_kNm=20.0)
    assert float(bend.utilisation) == pytest.approx(20e6 / 260e3 / (355.0 / 3.0))
    both = rigging.member_check(
        TUBE, 3.0, category="B", bending_moment_kNm=20.0, compression_kN=100.0
    )
    assert float(both.utilisation) > float(bend.utilisation) + float(both.compression_utilisation)


def test_a_bent_bar_beyond_its_euler_load_fails_without_limit() -> None:
    common: dict[str, Any] = {"category": "A", "compression_kN": [100.0, 3000.0]}
    straight = rigging.member_check(TUBE, 11.0, **common)
    bent = rigging.member_check(TUBE, 11.0, bending_moment_kNm=1.0, **common).utilisation
    assert float(straight.compression_utilisation[0]) < bent[0] < 1.0
    assert np.isinf(bent[1])
    assert np.isfinite(straight.utilisation).all()
    np.testing.assert_allclose(straight.utilisation, straight.compression_utilisation)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: rigging.spreader_forces(10, 5, hook_above_spreader_m=1.0),
            "sling angle from the horizontal, deg is 21.8; allowed: 30 to 90",
        ),
        (
            lambda: rigging.spreader_forces(10, 5, hook_above_spreader_m=4, cg_offset_m=2.5),
            "within the lugs",
        ),
        (
            lambda: rigging.spreader_forces(10, 5, hook_above_spreader_m=4, lug_spacing_m=4.0),
            "given together with bottom_sling_height_m",
        ),
        (
            lambda: rigging.spreader_forces(
                10, 5, hook_above_spreader_m=4, lug_spacing_m=1.0, bottom_sling_height_m=1.0
            ),
            "sling angle from the horizontal, deg is 26.57; allowed: 30 to 90",
        ),
        (
            lambda: rigging.spreader_forces(math.nan, 5, hook_above_spreader_m=4),
            "load_t is nan",
        ),
        (lambda: rigging.lifting_beam_forces(10, 4, cg_offset_m=2.0), "below half"),
        (lambda: rigging.lifting_beam_forces(10, 4, hang_spacing_m=4.0), "below pick_spacing_m"),
        (lambda: rigging.lifting_beam_forces(10, 4, beam_length_m=3.0), "at least pick_spacing_m"),
        (
            lambda: rigging.lifting_beam_forces(10, 4, hang_spacing_m=1.0, cg_offset_m=1.0),
            "no hanging point goes slack",
        ),
        (lambda: rigging.member_check(TUBE, 12.0, category="A"), "slenderness is 206"),
        (lambda: rigging.member_check(TUBE, 5, category="C"), "category is 'C'"),  # type: ignore[arg-type]
    ],
)
def test_wrong_input_is_refused_by_name(call: Any, text: str) -> None:
    with pytest.raises(InputError, match=text):
        call()
