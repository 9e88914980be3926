"""Envelopes of leg reactions, bounds and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.optimize import linprog

from liftcalc.base.errors import InputError
from liftcalc.reactions.carrier import carrier_supports, leg_reactions_kN, reactions_on
from liftcalc.reactions.contact import build_supports
from liftcalc.reactions.envelope import (
    admissible_range_kN,
    first_estimate_leg_load_t,
    reach_envelope,
    reaction_envelope,
    slew_envelope,
    worst_slew_rectangle,
)

BASE = np.array([[3.6, 3.5], [3.6, -2.2], [-3.8, -1.4], [-3.8, 3.5]])
RECTANGLE = np.array([[3.7, 3.5], [3.7, -3.5], [-3.7, -3.5], [-3.7, 3.5]])


def around(arm_m, slew_deg):
    return arm_m * np.c_[np.cos(np.radians(slew_deg)), np.sin(np.radians(slew_deg))]


@pytest.mark.parametrize("seed", range(20))
def test_admissible_range_is_that_of_a_linear_programme(seed):
    rng = np.random.default_rng(seed)
    legs = BASE * rng.uniform(0.5, 1.1, (4, 2))
    xy = rng.dirichlet(np.ones(4)) @ legs
    low, high = admissible_range_kN(640.0, xy, leg_xy_m=legs)
    equal = np.vstack([np.ones(4), legs.T])
    for i in range(4):
        for sign, got in ((1.0, low[i]), (-1.0, high[i])):
            best = linprog(
                sign * np.eye(4)[i], A_eq=equal, b_eq=640.0 * np.array([1.0, *xy]), bounds=(0, None)
            )
            assert got == pytest.approx(sign * best.fun, abs=1e-6 * 640.0)


def test_admissible_range_outside_the_base_is_not_a_number():
    low, high = admissible_range_kN(640.0, (9.0, 0.0), leg_xy_m=BASE)
    assert np.all(np.isnan(low))
    assert np.all(np.isnan(high))
    with pytest.raises(InputError, match="four legs"):
        admissible_range_kN(640.0, (0.0, 0.0), leg_xy_m=BASE[:3])


def test_envelope_takes_the_worst_state_and_model_of_each_leg():
    slew = np.arange(0.0, 360.0)
    xy = around(1.3, slew) + np.array([0.2, 0.0])
    env = reaction_envelope(700.0, xy, leg_xy_m=BASE)
    assert env.carriers == ("rigid", "flexible")
    both = np.stack(
        [
            leg_reactions_kN(700.0, xy, leg_xy_m=BASE, carrier=c).reaction_kN
            for c in ("rigid", "flexible")
        ]
    )
    assert_allclose(env.max_kN, both.max(axis=(0, 1)))
    assert_allclose(env.min_kN, both.min(axis=(0, 1)))
    for leg in range(4):
        model = env.carriers.index(env.max_carrier[leg])
        assert both[model, env.max_state[leg], leg] == env.max_kN[leg]
    assert env.worst_kN == both.max()
    assert env.worst_leg == int(both.max(axis=(0, 1)).argmax())
    assert set(env.max_carrier) == {"rigid", "flexible"}, "each model governs some leg here"
    lifts = (both == 0).any(axis=(0, 2))
    assert env.lifted_states.tolist() == np.flatnonzero(lifts).tolist()
    assert env.unstable_states.size == 0


def test_envelope_includes_a_stated_twist_stiffness_only_when_given():
    env = reaction_envelope(
        700.0,
        around(1.3, np.arange(0.0, 360.0, 30.0)).reshape(4, 3, 2),
        leg_xy_m=BASE,
        leg_stiffness_kN_m=[2e4, 1e4, 3e4, 2e4],
        torsional_stiffness_kNm_rad=3e4,
    )
    assert env.carriers == ("rigid", "flexible", "stiffness")
    assert env.by_carrier["stiffness"].reaction_kN.shape == (4, 3, 4)
    assert 0 <= env.worst_state < 12


def test_one_state_without_equilibrium_makes_the_envelope_fail_every_limit():
    env = reaction_envelope(700.0, around(np.linspace(0, 5, 11)[:, None], 0.0), leg_xy_m=BASE)
    assert env.worst_kN == np.inf
    assert np.all(np.isinf(env.max_kN))
    assert env.worst_leg == -1
    assert env.worst_state == env.unstable_states[0] == 8
    assert np.all(np.isfinite(env.min_kN))
    with pytest.raises(InputError, match="at least one carrier model"):
        reaction_envelope(700.0, (0.0, 0.0), leg_xy_m=BASE, carriers=())


@settings(deadline=None)
@given(st.floats(3.0, 9.0), st.floats(3.0, 9.0), st.floats(0.01, 0.999))
def test_closed_form_worst_slew_is_the_maximum_of_a_scan(length, width, share):
    v = 700.0
    moment = share * 0.5 * v / np.hypot(1 / length, 1 / width)
    worst = worst_slew_rectangle(v, moment, base_length_m=length, base_width_m=width)
    slew = np.arange(0.0, 90.001, 0.05)
    legs = np.array([[1, 1], [1, -1], [-1, -1], [-1, 1]]) * [length / 2, width / 2]
    scan = leg_reactions_kN(v, around(moment / v, slew), leg_xy_m=legs)
    assert scan.worst_kN.max() == pytest.approx(float(worst.max_leg_reaction_kN), rel=1e-6)
    assert not scan.lifted.any()
    at_worst = leg_reactions_kN(v, around(moment / v, worst.slew_deg)[0], leg_xy_m=legs)
    assert at_worst.reaction_kN.min() == pytest.approx(
        float(worst.min_leg_reaction_kN), abs=1e-6 * v
    )
    assert worst.over_leg_reaction_kN <= worst.max_leg_reaction_kN + 1e-9


def test_closed_form_is_refused_where_a_leg_would_lift():
    limit = 700.0 / (2 * np.hypot(1 / 7.4, 1 / 7.0))
    worst_slew_rectangle(700.0, limit * 0.9999, base_length_m=7.4, base_width_m=7.0)
    with pytest.raises(InputError, match="all legs loaded"):
        worst_slew_rectangle(700.0, limit * 1.0001, base_length_m=7.4, base_width_m=7.0)
    with pytest.raises(InputError, match="moment_kNm"):
        worst_slew_rectangle(700.0, -1.0, base_length_m=7.4, base_width_m=7.0)
    with pytest.raises(InputError, match="moment_kNm is nan"):
        worst_slew_rectangle(700.0, np.nan, base_length_m=7.4, base_width_m=7.0)


def test_beyond_the_closed_form_the_share_of_one_leg_can_pass_seventy_percent():
    got = leg_reactions_kN(480.0, around(3.6, np.arange(0.0, 90.0)), leg_xy_m=RECTANGLE)
    share = np.where(got.unstable, 0.0, got.worst_share)
    assert share.max() > 0.70
    assert first_estimate_leg_load_t(40.0, 8.0) == pytest.approx(0.65 * 48.0)
    assert share.max() > 0.65, "so the first estimate is no bound"


def test_first_estimate_refuses_what_is_not_a_mass():
    with pytest.raises(InputError, match="crane_mass_t"):
        first_estimate_leg_load_t(0.0, 1.0)
    with pytest.raises(InputError, match="load_mass_t is nan"):
        first_estimate_leg_load_t(40.0, np.nan)


@settings(deadline=None, max_examples=30)
@given(st.floats(3.0, 9.0), st.floats(3.0, 9.0), st.floats(0.05, 0.99))
def test_full_turn_finds_the_closed_form_worst_slew_of_a_rectangle(length, width, share):
    v = 700.0
    moment = share * 0.5 * v / np.hypot(1 / length, 1 / width)
    closed = worst_slew_rectangle(v, moment, base_length_m=length, base_width_m=width)
    legs = np.array([[1, 1], [1, -1], [-1, -1], [-1, 1]]) * [length / 2, width / 2]
    got = slew_envelope(v, moment, leg_xy_m=legs, carriers=("rigid",))
    phi = float(closed.slew_deg)
    assert got.max_slew_deg == pytest.approx([phi, 360 - phi, 180 + phi, 180 - phi], abs=0.011)
    assert got.envelope.worst_kN == pytest.approx(float(closed.max_leg_reaction_kN), rel=1e-7)
    assert got.worst_slew_deg in got.max_slew_deg
    assert got.lift_off == ()


def test_full_turn_on_an_uneven_base_misses_nothing_a_fine_scan_finds():
    fixed = np.array([22.0 * 9.80665 * 0.4, 0.0])
    got = slew_envelope(
        600.0,
        700.0,
        fixed_moment_kNm=fixed,
        leg_xy_m=BASE,
        leg_stiffness_kN_m=[2e4, 1e4, 3e4, 2e4],
        torsional_stiffness_kNm_rad=3e4,
    )
    slew = np.arange(0.0, 360.0, 0.005)
    fine = reaction_envelope(
        600.0,
        fixed / 600.0 + around(700.0 / 600.0, slew),
        leg_xy_m=BASE,
        leg_stiffness_kN_m=[2e4, 1e4, 3e4, 2e4],
        torsional_stiffness_kNm_rad=3e4,
    )
    assert_allclose(got.envelope.max_kN, fine.max_kN, rtol=1e-5)
    assert got.max_slew_deg == pytest.approx(slew[fine.max_state], abs=0.02)
    clear = np.logical_or.reduce([r.lifted for r in fine.by_carrier.values()])
    told = np.zeros_like(clear)
    for sector in got.lift_off:
        inside = np.mod(slew - sector.start_deg, 360) <= np.mod(
            sector.end_deg - sector.start_deg, 360
        )
        told[inside, sector.leg] = True
    assert clear.any()
    # Told to a degree: what is told is clear, and what is clear is told but for the ends.
    assert np.all(clear[told])
    assert np.count_nonzero(clear & ~told) <= 2 * 200 * len(got.lift_off)


def test_full_turn_reports_a_leg_that_never_touches_and_a_machine_that_would_tip():
    # Everything stands near leg RL and hardly anything slews: FR is clear all the way round.
    still = slew_envelope(
        500.0, 20.0, fixed_moment_kNm=(-1500.0, 1250.0), leg_xy_m=RECTANGLE, carriers=("rigid",)
    )
    assert [(s.leg, s.start_deg, s.end_deg) for s in still.lift_off] == [(1, 0.0, 360.0)]
    tips = slew_envelope(600.0, 1500.0, leg_xy_m=BASE)
    assert tips.envelope.worst_kN == np.inf
    assert tips.envelope.worst_leg == -1
    at = np.radians(tips.worst_slew_deg)
    state = leg_reactions_kN(600.0, 2.5 * np.array([np.cos(at), np.sin(at)]), leg_xy_m=BASE)
    assert state.unstable
    with pytest.raises(InputError, match="fixed_moment_kNm"):
        slew_envelope(600.0, 100.0, leg_xy_m=BASE, fixed_moment_kNm=(1.0, 2.0, 3.0))
    with pytest.raises(InputError, match="slewing_moment_kNm is nan"):
        slew_envelope(600.0, np.nan, leg_xy_m=BASE)


@pytest.mark.parametrize("seed", range(12))
def test_no_direction_of_wind_or_lean_loads_a_leg_more_than_the_closed_form(seed):
    rng = np.random.default_rng(seed)
    legs = np.array([[3.3, 2.3], [3.3, -2.3], [-3.5, -2.3], [-3.5, 2.3]])
    legs = legs + rng.uniform(-1.0, 1.0, (4, 2))
    springs = rng.uniform(5e3, 6e4, (3, 4))
    supports = {
        "on three sets of springs": build_supports(legs, springs),
        **carrier_supports(
            legs,
            springs[0],
            carriers=("flexible", "stiffness"),
            torsional_stiffness_kNm_rad=rng.uniform(1e3, 1e5),
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
