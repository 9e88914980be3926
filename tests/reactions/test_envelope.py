"""Envelopes of leg reactions against closed forms, fine scans and sweeps of directions."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from liftcalc.base.errors import InputError
from liftcalc.reactions.carrier import carrier_supports, leg_reactions_kN, reactions_on
from liftcalc.reactions.contact import build_supports
from liftcalc.reactions.envelope import reach_envelope, slew_envelope

BASE = np.array([[3.6, 3.5], [3.6, -2.2], [-3.8, -1.4], [-3.8, 3.5]])
RECTANGLE = np.array([[3.7, 3.5], [3.7, -3.5], [-3.7, -3.5], [-3.7, 3.5]])


def around(arm_m, slew_deg):
    return arm_m * np.c_[np.cos(np.radians(slew_deg)), np.sin(np.radians(slew_deg))]


def rigid(legs):
    return carrier_supports(legs, None, carriers=("rigid",))


def test_one_leg_can_carry_more_than_seventy_percent_of_the_whole():
    got = leg_reactions_kN(480.0, around(3.6, np.arange(0.0, 90.0)), leg_xy_m=RECTANGLE)
    share = np.where(got.unstable, 0.0, got.worst_kN / 480.0)
    assert share.max() > 0.70


@settings(deadline=None, max_examples=30)
@given(st.floats(3.0, 9.0), st.floats(3.0, 9.0), st.floats(0.05, 0.99))
def test_full_turn_finds_the_closed_form_worst_slew_of_a_rectangle(length, width, share):
    v = 700.0
    moment = share * 0.5 * v / np.hypot(1 / length, 1 / width)
    # R = V/4 + M cos(phi)/(2 Lx) + M sin(phi)/(2 Ly) is greatest at tan(phi) = Lx/Ly
    phi = np.degrees(np.arctan2(length, width))
    most = v / 4 + 0.5 * moment * np.hypot(1 / length, 1 / width)
    legs = np.array([[1, 1], [1, -1], [-1, -1], [-1, 1]]) * [length / 2, width / 2]
    got = slew_envelope(v, moment, supports=rigid(legs))
    assert got.max_slew_deg == pytest.approx([phi, 360 - phi, 180 + phi, 180 - phi], abs=0.011)
    assert got.envelope.worst_kN == pytest.approx(most, rel=1e-7)
    assert got.worst_slew_deg in got.max_slew_deg
    assert got.lift_off == ()


def test_full_turn_on_an_uneven_base_misses_nothing_a_fine_scan_finds():
    fixed = np.array([22.0 * 9.80665 * 0.4, 0.0])
    supports = carrier_supports(
        BASE, [2e4, 1e4, 3e4, 2e4], carriers=("rigid", "flexible", "stiffness"), torsional_stiffness_kNm_rad=3e4
    )
    got = slew_envelope(600.0, 700.0, fixed_moment_kNm=fixed, supports=supports)
    slew = np.arange(0.0, 360.0, 0.005)
    at = fixed / 600.0 + around(700.0 / 600.0, slew)
    fine = reactions_on(supports, 600.0, at, stiffness_given=True).values()
    most = np.max([r.reaction_kN for r in fine], axis=0)
    assert_allclose(got.envelope.max_kN, most.max(axis=0), rtol=1e-5)
    assert got.max_slew_deg == pytest.approx(slew[most.argmax(axis=0)], abs=0.02)
    clear = np.logical_or.reduce([r.lifted for r in fine])
    named = np.zeros_like(clear)
    for sector in got.lift_off:
        inside = np.mod(slew - sector.start_deg, 360) <= np.mod(sector.end_deg - sector.start_deg, 360)
        named[inside, sector.leg] = True
    assert clear.any()
    # Named to a degree: what is named is clear, and what is clear is named but for the ends.
    assert np.all(clear[named])
    assert np.count_nonzero(clear & ~named) <= 2 * 200 * len(got.lift_off)


def test_full_turn_reports_a_leg_that_never_touches_and_a_machine_that_would_tip():
    # Everything stands near leg RL and hardly anything slews: FR is clear all the way round.
    still = slew_envelope(500.0, 20.0, fixed_moment_kNm=(-1500.0, 1250.0), supports=rigid(RECTANGLE))
    assert [(s.leg, s.start_deg, s.end_deg) for s in still.lift_off] == [(1, 0.0, 360.0)]
    tips = slew_envelope(600.0, 1500.0, supports=rigid(BASE))
    assert tips.envelope.worst_kN == np.inf
    at = np.radians(tips.worst_slew_deg)
    state = leg_reactions_kN(600.0, 2.5 * np.array([np.cos(at), np.sin(at)]), leg_xy_m=BASE)
    assert state.unstable
    with pytest.raises(InputError, match="fixed_moment_kNm"):
        slew_envelope(600.0, 100.0, supports=rigid(BASE), fixed_moment_kNm=(1.0, 2.0, 3.0))
    with pytest.raises(InputError, match="slewing_moment_kNm is nan"):
        slew_envelope(600.0, np.nan, supports=rigid(BASE))


@pytest.mark.parametrize("seed", range(12))
def test_no_direction_of_wind_or_lean_loads_a_leg_more_than_the_closed_form(seed):
    rng = np.random.default_rng(seed)
    legs = np.array([[3.3, 2.3], [3.3, -2.3], [-3.5, -2.3], [-3.5, 2.3]])
    legs = legs + rng.uniform(-1.0, 1.0, (4, 2))
    springs = rng.uniform(5e3, 6e4, (3, 4))
    supports = {
        "on three sets of springs": build_supports(legs, springs),
        **carrier_supports(
            legs, springs[0], carriers=("flexible", "stiffness"), torsional_stiffness_kNm_rad=rng.uniform(1e3, 1e5)
        ),
    }
    v, xy = rng.uniform(300, 700, 40), rng.uniform(-3.0, 3.0, (40, 2))
    reach = rng.uniform(0.0, 0.4, 40)
    found = reach_envelope(supports, v, xy, reach_m=reach)
    turn = np.radians(np.arange(0.0, 360.0, 0.5))
    side = np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    at = (xy + reach[:, None] * side[:, None])[..., None, :]  # directions, states, springs
    swept = reactions_on(supports, v[:, None], at, stiffness_given=True)
    tips = np.logical_or.reduce([r.unstable.any(axis=(0, 2)) for r in swept.values()])
    most = np.stack([r.reaction_kN.max(axis=(0, 2)) for r in swept.values()]).max(axis=0)
    lifted = np.logical_or.reduce([r.lifted.any(axis=(0, 2)) for r in swept.values()])
    assert np.array_equal(found.unstable, tips)
    assert 2 < tips.sum() < 35
    assert np.all(np.isinf(found.reaction_kN[tips]))
    had, want = found.reaction_kN[~tips], most[~tips]
    assert np.all(had >= want * (1 - 1e-9))
    whole = ~lifted[~tips].any(axis=1)
    assert_allclose(had[whole], want[whole], rtol=1e-4)
    assert_allclose(had, want, atol=0.03 * v.max())
    assert np.all(found.lifted[~tips] >= lifted[~tips]), "a leg that lifts is always named"
