"""Allowable pressure of a profile: governing mechanism, invariants, refusals."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from geotech_references.eurocode_7_1 import equations as ec7
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.base.text import text_in_units
from liftcalc.ground.allowable import allowable_pressure
from liftcalc.ground.bearing import METHODS
from liftcalc.ground.layers import clay_over_clay, sand_over_clay
from liftcalc.ground.profile import GroundLayer, GroundProfile
from liftcalc.ground.safety import EN1997_DA1, global_factor

FS = global_factor(2.0)
fast = settings(deadline=None, max_examples=40)


def profile(*layers: GroundLayer, water: float = 1.0, **more: object) -> GroundProfile:
    return GroundProfile(tuple(layers), water_depth_m=water, voids="none found", **more)


def clay(cu: float, thickness: float = math.inf, name: str = "clay", **more: object) -> GroundLayer:
    return GroundLayer(name, thickness, 18.0, cu_kPa=cu, **more)


def sand(phi: float, thickness: float = math.inf, name: str = "sand") -> GroundLayer:
    return GroundLayer(name, thickness, 19.0, phi_deg=phi)


def names(result) -> set[str]:
    return {m.name for m in result.mechanisms}


# Outside checks: hand-built calculations with a reference package


def test_uniform_clay_equals_annex_d() -> None:
    r = allowable_pressure(profile(clay(40.0)), 1.2, L_m=2.0, safety=FS)
    theirs = ec7.undrained_bearing_resistance(40.0, 0.0, 1.2, 2.0)["bearing_pressure_kpa"]
    assert r.q_allowable_kPa == pytest.approx(theirs / 2.0)
    assert (str(r.governing_name), str(r.governing_layer)) == ("undrained bearing", "clay")


def test_both_strengths_known_takes_the_lower_of_annex_d_undrained_and_drained() -> None:
    for cu, expected in ((15.0, "undrained bearing"), (200.0, "drained bearing")):
        ground = profile(clay(cu, phi_deg=26.0, c_kPa=2.0), water=0.0)
        r = allowable_pressure(ground, 1.5, L_m=1.5, safety=FS)
        u = ec7.undrained_bearing_resistance(cu, 0.0, 1.5, 1.5)["bearing_pressure_kpa"]
        d = ec7.drained_bearing_resistance(26.0, 2.0, 0.0, 18.0 - 9.81, 1.5, 1.5)
        lower = min(u, d["bearing_pressure_kpa"])
        assert r.q_allowable_kPa == pytest.approx(lower / 2.0)
        assert str(r.governing_name) == expected


def test_deeper_weak_layer_equals_load_spread_and_annex_d_by_hand() -> None:
    # A stiff sandy layer whose own strengths cannot govern, over weak sand.
    ground = profile(sand(44.0, 1.0, "top"), sand(24.0, name="weak"), water=0.0)
    r = allowable_pressure(ground, 1.0, L_m=2.0, safety=FS)
    q0 = 1.0 * (19.0 - 9.81)
    q = ec7.drained_bearing_resistance(24.0, 0.0, q0, 19.0 - 9.81, 2.0, 3.0)
    by_hand = (q["bearing_pressure_kpa"] - q0) / 2.0 * (2.0 * 3.0) / (1.0 * 2.0)
    deep = next(m for m in r.mechanisms if m.layer == "weak")
    assert deep.name == "drained bearing with load spread"
    assert deep.q_allowable_kPa == pytest.approx(by_hand)


def test_punching_mechanisms_are_those_of_the_layer_functions() -> None:
    ground = profile(sand(38.0, 0.8), clay(25.0), water=5.0)
    r = allowable_pressure(ground, 1.5, L_m=1.5, safety=FS)
    direct = sand_over_clay(
        1.5, 1.5, thickness_m=0.8, phi_upper_deg=38.0, unit_weight_upper_kN_m3=19.0,
        cu_lower_kPa=25.0,
    )  # fmt: skip
    assert r.q_allowable_kPa == pytest.approx(direct.q_ult_kPa / 2.0)
    assert str(r.governing_name) == "punching through granular layer"

    ground = profile(clay(80.0, 0.6, "crust"), clay(25.0))
    r = allowable_pressure(ground, 1.5, L_m=1.5, safety=FS)
    direct = clay_over_clay(1.5, 1.5, thickness_m=0.6, cu_upper_kPa=80.0, cu_lower_kPa=25.0)
    assert r.q_allowable_kPa == pytest.approx(direct.q_ult_kPa / 2.0)
    assert str(r.governing_name) == "punching through stiffer clay"


def test_punching_through_clay_under_a_granular_blanket_starts_at_the_top_of_the_clay() -> None:
    ground = profile(sand(40.0, 0.5), clay(90.0, 0.5, "crust"), clay(20.0, name="soft"))
    r = allowable_pressure(ground, 1.0, L_m=1.0, safety=FS)
    direct = clay_over_clay(1.5, 1.5, thickness_m=0.5, cu_upper_kPa=90.0, cu_lower_kPa=20.0)
    found = next(m for m in r.mechanisms if m.name == "punching through stiffer clay")
    assert found.layer == "soft"
    assert found.q_allowable_kPa == pytest.approx(direct.q_ult_kPa / 2.0 * 1.5**2)


def test_weak_granular_fill_below_the_chart_gets_no_help_against_punching() -> None:
    ground = profile(sand(19.0, 0.5, "ash"), clay(30.0))
    r = allowable_pressure(ground, 1.0, L_m=1.0, safety=FS)
    found = next(m for m in r.mechanisms if m.name == "punching through granular layer")
    assert found.q_allowable_kPa == pytest.approx(1.2 * (2 + np.pi) * 30.0 / 2.0)


# Presumptive values


def test_presumptive_value_competes_and_spreads() -> None:
    top = clay(60.0, 1.0, "crust", presumptive_kPa=75.0, presumptive_source="BS 8004:1986")
    ground = profile(top, clay(60.0, name="below"))
    r = allowable_pressure(ground, 1.2, L_m=1.2, safety=FS)
    assert str(r.governing_name) == "presumptive value"
    assert r.q_allowable_kPa == pytest.approx(75.0)
    assert any("Prove it by a test" in w for w in r.warnings)
    weak_below = profile(top, clay(5.0, name="below"))
    r = allowable_pressure(weak_below, 1.2, L_m=1.2, safety=FS)
    assert str(r.governing_layer) == "below"
    assert r.q_allowable_kPa < 75.0


# Invariants


@given(
    cu=st.floats(8, 100), phi=st.floats(24, 42), H=st.floats(0.2, 2), B=st.floats(0.6, 2.5),
    ratio=st.floats(1, 3), more=st.floats(0.1, 20),
)  # fmt: skip
@fast
def test_allowable_never_falls_when_ground_gets_better(cu, phi, H, B, ratio, more) -> None:
    def q(cu: float, phi: float, **change: object) -> float:
        ground = profile(sand(phi, H), clay(cu, 1.0), sand(30.0, name="base"), **change)
        return float(allowable_pressure(ground, B, L_m=B * ratio, safety=FS).q_allowable_kPa)

    base = q(cu, phi)
    assert q(cu + more, phi) >= base * (1 - 1e-12)
    # A stronger fill lowers the strength ratio and with it the chart value of Ks (see layers).
    assert q(cu, min(phi + more / 10, 45.0)) >= base * 0.90
    assert q(cu, phi, water=0.0) <= base * (1 + 1e-12)


@given(thickness=st.floats(0.1, 3), B=st.floats(0.6, 2.5), cu=st.floats(10, 100), phi=st.floats(25, 42))
@fast
def test_governing_value_is_the_lowest_of_all_mechanisms(thickness, B, cu, phi) -> None:
    ground = profile(sand(phi, thickness), clay(cu))
    sides = B * np.array([[1.0, 1.2], [1.5, 2.0]])
    r = allowable_pressure(ground, sides, L_m=2 * B, safety=EN1997_DA1)
    stack = np.stack([m.q_allowable_kPa for m in r.mechanisms])
    assert stack.shape[1:] == (2, 2) == r.governing.shape
    assert r.q_allowable_kPa == pytest.approx(stack.min(axis=0))
    for i in range(2):
        for j in range(2):
            lowest = r.mechanisms[int(r.governing[i, j])]
            assert lowest.q_allowable_kPa[i, j] == r.q_allowable_kPa[i, j]
            assert (lowest.name, lowest.layer) == (r.governing_name[i, j], r.governing_layer[i, j])


@pytest.mark.parametrize("method", METHODS)
def test_each_method_runs_over_legs_and_slews(method) -> None:
    ground = profile(sand(34.0, 0.5), clay(50.0))
    B = np.array([1.0, 1.2, 1.5, 2.0])[:, None]
    r = allowable_pressure(ground, B, L_m=np.full((4, 12), 2.0), safety=FS, method=method)
    assert r.q_allowable_kPa.shape == (4, 12)
    assert np.all(r.q_allowable_kPa > 0)


@given(spacing=st.floats(0.5, 8.0), closer=st.floats(0.1, 1.0), B=st.floats(0.6, 2.0))
@fast
def test_a_nearer_neighbour_never_raises_what_a_deep_layer_allows(spacing, closer, B) -> None:
    ground = profile(sand(34.0, 1.0), clay(60.0, 2.0), clay(12.0, name="soft"))
    far, near = (
        allowable_pressure(ground, B, L_m=1.3 * B, safety=FS, spacing_m=s) for s in (spacing, closer * spacing)
    )
    alone = allowable_pressure(ground, B, L_m=1.3 * B, safety=FS)
    for a, b, c in zip(near.mechanisms, far.mechanisms, alone.mechanisms, strict=True):
        assert a.q_allowable_kPa <= b.q_allowable_kPa * (1 + 1e-9)
        assert b.q_allowable_kPa <= c.q_allowable_kPa * (1 + 1e-9)


def test_spread_stops_at_the_neighbour() -> None:
    ground = profile(sand(44.0, 2.0, "top"), sand(24.0, name="weak"), water=0.0)
    r = allowable_pressure(ground, 1.0, L_m=1.0, safety=FS, spacing_m=2.0)
    q0 = 2.0 * (19.0 - 9.81)
    q = ec7.drained_bearing_resistance(24.0, 0.0, q0, 19.0 - 9.81, 2.0, 2.0)
    deep = next(m for m in r.mechanisms if m.layer == "weak")
    by_hand = (q["bearing_pressure_kpa"] - q0) / 2.0 * 2.0 * 2.0
    assert deep.q_allowable_kPa == pytest.approx(by_hand)


# Edges and refusals


def test_warnings_tell_what_was_assumed() -> None:
    dry = replace(profile(clay(40.0)), water_depth_m=None, water_not_found_to_m=2.0)
    r = allowable_pressure(dry, 1.0, L_m=1.0, safety=FS)
    assert any("No water was found to 2.00 m" in text_in_units(w, "metric") for w in r.warnings)
    assert any("undrained only" in w for w in r.warnings)
    for phi, warned in ((29.9, True), (30.0, False)):
        r = allowable_pressure(profile(sand(phi)), 1.0, L_m=1.0, safety=FS)
        assert any("as for local shear" in w for w in r.warnings) is warned


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"profile": replace(profile(clay(40.0)), voids="unknown")}, "voids is 'unknown'"),
        ({"profile": replace(profile(clay(40.0)), water_depth_m=None)}, "water_depth_m is None"),
        ({"profile": profile(clay(40.0, 2.3))}, "ground known to 2.40 m"),
        ({"profile": profile(clay(-40.0))}, "cu_kPa is -40.0"),
        ({"profile": profile(sand(51.0))}, "phi_deg is 51.0"),
        ({"B_m": 1.3}, "B_m is 1.3; allowed: at most L_m"),
        ({"B_m": 0.0}, "B_m is 0.0"),
        ({"safety": ()}, "at least one set"),
        ({"spacing_m": 0.0}, "spacing_m is 0.0; allowed: greater than 0"),
    ],
)
def test_bad_input_is_refused(change, text) -> None:
    given = {"profile": profile(clay(40.0)), "B_m": 1.2, "L_m": 1.2, "safety": FS}
    with pytest.raises(InputError, match=text):
        allowable_pressure(**{**given, **change})
