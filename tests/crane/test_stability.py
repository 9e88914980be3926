"""Tipping load and stability capacity: invariants, limits, agreement with a linear programme."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from liftcalc.base.errors import InputError
from liftcalc.crane.legs import base_polygon, leg_points_m
from liftcalc.crane.masses import AdverseTerms, BoomState, MachineMasses, combined_mass, straight_boom
from liftcalc.crane.stability import (
    rated_by_rule_t,
    rule_test_load_t,
    stability_capacity_t,
    tipping_load,
    tipping_load_t,
)

LEG_X = (3.6, 3.6, -3.8, -3.8)
MASSES = MachineMasses(22.0, 0.4, 0.0, 20.0, -2.1, 1.1, 2.3)
SLEW = np.arange(0.0, 360.0, 5.0)
RADIUS = np.arange(6.0, 26.0, 2.0)

EXTENSION = st.floats(1.8, 4.0)
EXTENSIONS = st.tuples(EXTENSION, EXTENSION, EXTENSION, EXTENSION)
MACHINES = st.builds(
    MachineMasses,
    carrier_mass_t=st.floats(18, 40),
    carrier_x_m=st.floats(-0.8, 0.8),
    carrier_y_m=st.floats(-0.2, 0.2),
    slewing_mass_t=st.floats(8, 30),
    slewing_u_m=st.floats(-2.5, -0.5),
    carrier_z_m=st.floats(0.8, 1.5),
    slewing_z_m=st.floats(1.5, 3.0),
)


def boom_at(radius=RADIUS) -> BoomState:
    return straight_boom(radius, 30.0, mass_t=8.0, cg_from_foot_m=12.0, foot_u_m=-1.2, foot_z_m=2.4)


def base_of(extensions):
    return base_polygon(leg_points_m(LEG_X, extensions))


def capacity(base, masses=MASSES, slew=SLEW, boom=None, **options):
    return stability_capacity_t(slew, boom or boom_at(), base=base, masses=masses, **options)


def greatest_load_by_programme(slew, boom, base, masses) -> float:
    """Greatest load for which non-negative leg forces exist; knows no tipping lines."""
    direction = np.array([np.cos(np.radians(slew)), np.sin(np.radians(slew))])
    points = base.leg_xy_m
    parts = [
        (masses.carrier_mass_t, np.array([masses.carrier_x_m, masses.carrier_y_m])),
        (masses.slewing_mass_t, masses.slewing_u_m * direction),
        (boom.mass_t, boom.u_m[0] * direction),
    ]
    total = sum(m for m, _ in parts)
    moment = sum(m * p for m, p in parts)
    load = boom.radius_m[0] * direction
    equal = np.array([[1, 1, 1, 1, -1], [*points[:, 0], -load[0]], [*points[:, 1], -load[1]]], dtype=float)
    found = linprog([0, 0, 0, 0, -1], A_eq=equal, b_eq=[total, *moment], bounds=[(0, None)] * 5, method="highs")
    if found.status == 3:
        return np.inf
    # infeasible: no leg forces hold the machine without load, nor with any load at this radius
    return float(found.x[4]) if found.status == 0 else 0.0


@settings(deadline=None, max_examples=150)
@given(EXTENSIONS, MACHINES, st.floats(0, 360), st.floats(1.5, 27.0))
def test_tipping_load_agrees_with_a_linear_programme(extensions, masses, slew, radius):
    base, boom = base_of(extensions), boom_at([radius])
    found = tipping_load(slew, boom, base=base, masses=masses)
    # with the load inside the base and the machine unstable without it, a load could hold the
    # machine up: the programme allows that, we refuse it
    assume(not found.unstable[0, 0])
    expected = greatest_load_by_programme(slew, boom, base, masses)
    if expected > 1e7 or found.tipping_t[0, 0] > 1e7:  # load on a tipping line or inside it
        assert expected > 1e6
        assert found.tipping_t[0, 0] > 1e6
    else:
        assert found.tipping_t[0, 0] == pytest.approx(expected, rel=1e-6, abs=1e-6)


@settings(deadline=None)
@given(EXTENSIONS, MACHINES)
def test_mirroring_the_machine_mirrors_the_capacity(extensions, masses):
    fl, fr, rr, rl = extensions
    mirrored = MachineMasses(**{**vars(masses), "carrier_y_m": -masses.carrier_y_m})
    here = capacity(base_of((fl, fr, rr, rl)), masses)
    there = capacity(base_of((fr, fl, rl, rr)), mirrored, slew=-SLEW)
    np.testing.assert_allclose(here, there, rtol=1e-9, atol=1e-9)


@settings(deadline=None)
@given(EXTENSIONS, MACHINES, st.integers(0, 3), st.floats(0.0, 2.0))
def test_extending_a_leg_never_lowers_stability_capacity(extensions, masses, leg, more):
    longer = list(extensions)
    longer[leg] += more
    with np.errstate(invalid="ignore"):
        before, after = capacity(base_of(extensions), masses), capacity(base_of(longer), masses)
    assert np.all((after >= before * (1 - 1e-9) - 1e-9) | np.isinf(after))


@settings(deadline=None)
@given(EXTENSIONS, MACHINES)
def test_capacity_falls_with_radius(extensions, masses):
    found = capacity(base_of(extensions), masses)
    near, far = found[:, :-1], found[:, 1:]
    assert np.all((far <= near + 1e-9) | np.isinf(near))


@settings(deadline=None)
@given(EXTENSIONS, MACHINES, st.floats(0, 4), st.floats(0, 4))
def test_capacity_falls_with_wind_in_the_worst_direction(extensions, masses, light, more):
    def windy(force):
        terms = AdverseTerms(
            boom_wind_force_kN=force,
            boom_wind_z_m=15.0,
            superstructure_wind_force_kN=force / 2,
            superstructure_wind_z_m=2.5,
            load_wind_force_kN=force,
        )
        return capacity(base_of(extensions), masses, adverse=terms)

    calm, breeze, gale = windy(0.0), windy(light), windy(light + more)
    np.testing.assert_allclose(calm, capacity(base_of(extensions), masses), rtol=1e-12)
    assert np.all(breeze <= calm + 1e-9)
    assert np.all(gale <= breeze + 1e-9)


@settings(deadline=None)
@given(st.floats(0, 1.0), st.floats(0, 1.0), st.floats(0, 360))
def test_leaning_toward_the_load_lowers_capacity(tilt, more, slew):
    """On a base whose nearest line is square to the boom, as on a round base."""
    base = base_of((3.5, 3.5, 3.5, 3.5))
    slew = 90.0 * round(slew / 90.0)
    toward = np.array([np.cos(np.radians(slew)), np.sin(np.radians(slew))])

    def leaning(angle):
        x, y = np.degrees(np.arctan(np.tan(np.radians(angle)) * toward))
        return capacity(base, slew=slew, adverse=AdverseTerms(tilt_x_deg=x, tilt_y_deg=y))

    level, little, much = leaning(0.0), leaning(tilt), leaning(tilt + more)
    assert np.all(little <= level + 1e-9)
    assert np.all(much <= little + 1e-9)


@settings(deadline=None)
@given(st.floats(1.0, 2.0), st.floats(0, 0.2), EXTENSIONS)
def test_dynamic_factor_and_side_load_never_raise_capacity(factor, side, extensions):
    base = base_of(extensions)
    calm = capacity(base)
    rough = capacity(base, adverse=AdverseTerms(dynamic_factor=factor, side_load_ratio=side))
    assert np.all(rough <= calm + 1e-9)


@settings(deadline=None)
@given(EXTENSION, EXTENSION, st.floats(70, 110), MACHINES)
def test_long_side_has_the_capacity_of_the_full_base_over_that_side(full, short, slew, masses):
    """Over its long side a base with one side in holds what the full base holds, exactly."""
    wide, long_side = (base_of((full,) * 4), base_of((full, min(short, full), min(short, full), full)))
    over_side = tipping_load(slew, boom_at(), base=wide, masses=masses)
    assume(all(wide.edge_legs[i] == ("FL", "RL") for i in over_side.line.ravel()))
    assert np.array_equal(capacity(wide, masses, slew=slew), capacity(long_side, masses, slew=slew))


def test_pairs_are_the_diagonal_of_the_grid():
    slew = np.linspace(0, 350, RADIUS.size)
    terms = AdverseTerms(
        tilt_x_deg=0.3,
        wind_direction="fixed",
        boom_wind_force_kN=2.0,
        boom_wind_z_m=12.0,
        side_load_ratio=0.02,
        dynamic_factor=1.1,
    )
    base = base_of((3.5, 2.0, 3.0, 2.5))
    for adverse in (AdverseTerms(), terms):
        grid = capacity(base, slew=slew, adverse=adverse)
        pairs = capacity(base, slew=slew, adverse=adverse, layout="pairs")
        np.testing.assert_allclose(pairs, np.diagonal(grid), rtol=1e-12)


def test_load_inside_every_line_cannot_tip_the_machine():
    base = base_of((3.5,) * 4)
    found = tipping_load([0.0, 90.0], boom_at([3.0, 3.4]), base=base, masses=MASSES)
    assert np.isinf(found.tipping_t).all()
    assert np.all(found.line == -1)
    assert not found.unstable.any()


def test_load_exactly_on_a_line_cannot_tip_the_machine():
    base = base_of((3.5,) * 4)
    assert np.isinf(tipping_load_t(90.0, boom_at([3.5]), base=base, masses=MASSES)).all()


def test_machine_that_tips_without_load_has_capacity_zero_and_is_flagged():
    heavy_tail = MachineMasses(10.0, 0.0, 0.0, 40.0, -3.0)
    base = base_of((1.8,) * 4)
    found = tipping_load(90.0, boom_at([3.0]), base=base, masses=heavy_tail)
    assert found.unstable.all()
    assert found.tipping_t[0, 0] == 0.0
    assert base.edge_legs[found.line[0, 0]] == ("RR", "FR")  # backward, over the right side
    assert capacity(base, heavy_tail, slew=90.0, boom=boom_at([3.0]))[0, 0] == 0.0


def test_rules_invert_each_other_and_never_go_below_zero():
    tipping = np.array([0.0, 0.2, 10.0, 40.0, np.inf])
    for rule in ("test_load", "tipping_fraction"):
        rated = rated_by_rule_t(tipping, 3.0, rule=rule)
        assert rated[0] == 0.0
        assert np.isinf(rated[-1])
        back = rule_test_load_t(rated[2:4], 3.0, rule=rule)
        np.testing.assert_allclose(back, tipping[2:4])
    assert rated_by_rule_t(0.2, 3.0, rule="test_load") == 0.0  # (0.2 - 0.3) / 1.25 < 0
    assert np.isnan(rule_test_load_t(np.nan, 3.0, rule="test_load"))


def test_capacity_of_the_test_load_rule_is_zero_where_the_boom_alone_uses_it_up():
    weak = MachineMasses(9.0, 0.0, 0.0, 2.0, -1.0)
    found = capacity(base_of((1.8,) * 4), weak, slew=90.0, boom=boom_at([26.0]))
    assert found[0, 0] == 0.0


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda b: rated_by_rule_t(10.0, rule="guess"), "rule is 'guess'; allowed: test_load"),
        (lambda b: rated_by_rule_t(np.nan, rule="test_load"), "tipping_t"),
        (lambda b: rated_by_rule_t(10, rule="tipping_fraction", tipping_fraction=1.2), "0.3 to 1"),
        (lambda b: capacity(b, slew=[0.0, np.nan]), "slew_deg"),
        (lambda b: capacity(b, slew=[0.0, 1.0], layout="pairs"), "as many slews as radii"),
        (lambda b: capacity(b, layout="rows"), "grid or pairs"),
        (lambda b: AdverseTerms(tilt_x_deg=9.0), "tilt_x_deg is 9.0; allowed: -5 to 5"),
        (lambda b: AdverseTerms(wind_direction="north"), "boom, worst or fixed"),
        (lambda b: AdverseTerms(boom_wind_force_kN=-1.0), "boom_wind_force_kN"),
        (lambda b: AdverseTerms(dynamic_factor=0.9), "dynamic_factor"),
        (lambda b: AdverseTerms(dynamic_factor=np.nan), "dynamic_factor"),
        (lambda b: MachineMasses(-1.0, 0, 0, 1, 0), "carrier_mass_t"),
        (lambda b: MachineMasses(1.0, np.nan, 0, 1, 0), "carrier_x_m"),
        (lambda b: boom_at([35.0]), "radius_m is 35.0"),
        (lambda b: combined_mass([0.0, 0.0], [1.0, 2.0]), "mass_t"),
    ],
)
def test_bad_input_is_refused_with_field_and_range(call, text):
    with pytest.raises(InputError, match=text):
        call(base_of((3.5,) * 4))


def test_tilt_wind_on_the_load_and_side_load_need_heights():
    flat = straight_boom(RADIUS, 30.0, mass_t=8.0, cg_from_foot_m=12.0, foot_u_m=-1.2)
    no_heights = MachineMasses(22.0, 0.4, 0.0, 20.0, -2.1)
    base = base_of((3.5,) * 4)
    assert np.isfinite(capacity(base, no_heights, boom=flat)).all()
    for terms in (
        AdverseTerms(tilt_x_deg=0.1),
        AdverseTerms(load_wind_force_kN=1.0),
        AdverseTerms(side_load_ratio=0.01),
    ):
        with pytest.raises(InputError, match="need heights"):
            capacity(base, no_heights, boom=flat, adverse=terms)


def test_boom_state_arrays_must_match_the_radii():
    good = boom_at()
    with pytest.raises(InputError, match="u_m"):
        BoomState(**{**vars(good), "u_m": good.u_m[:-1]})


def test_combined_mass_keeps_mass_and_moment():
    mass, u, z = combined_mass([7.5, 9.0], [-1.2, -3.2], z_m=[2.2, 1.9])
    assert mass == 16.5
    assert mass * u == pytest.approx(7.5 * -1.2 + 9.0 * -3.2)
    assert mass * z == pytest.approx(7.5 * 2.2 + 9.0 * 1.9)
