"""Bearing capacity: reference packages, invariants, and refusals."""

from __future__ import annotations

import numpy as np
import pytest
import sfsimodels
from geofound.capacity import capacity_meyerhof_1963, capacity_vesic_1975
from groundhog.shallowfoundations.capacity import verticalcapacity_drained_api, verticalcapacity_undrained_api
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.ground.bearing import METHODS, DrainedSoil, UndrainedSoil, bearing_capacity

DEEP = float("inf")
fast = settings(deadline=None, max_examples=60)
width, aspect = st.floats(0.5, 3.0), st.floats(1.0, 5.0)
friction, cohesion, strength = st.floats(15.0, 45.0), st.floats(0.0, 30.0), st.floats(5.0, 200.0)


def drained(B=1.2, L=2.0, *, phi=32.0, c=0.0, water=DEEP, method="en1997", gamma=19.0, q0=0.0):
    soil = DrainedSoil(c, phi, gamma, water)
    return bearing_capacity(B, L, soil, surcharge_kPa=q0, method=method)


def undrained(B=1.2, L=2.0, *, cu=40.0, method="en1997", q0=0.0):
    return bearing_capacity(B, L, UndrainedSoil(cu), surcharge_kPa=q0, method=method)


# Outside checks


@pytest.mark.parametrize("phi", [0.0, 12.0, 25.0, 33.0, 40.0])
@pytest.mark.parametrize(("B", "L"), [(1.0, 1.0), (1.2, 2.4), (2.0, 3.0)])
def test_vesic_and_meyerhof_agree_with_geofound(phi, B, L) -> None:
    soil = sfsimodels.Soil()
    soil.phi, soil.cohesion = phi, 50.0 if phi == 0 else 0.0
    soil.unit_dry_weight, gamma = 18.0, 18.0
    pad = sfsimodels.PadFoundation()
    pad.width, pad.length, pad.depth = B, L, 0.0
    for method, theirs in (("vesic", capacity_vesic_1975), ("meyerhof", capacity_meyerhof_1963)):
        expected = theirs(soil, pad)
        if phi == 0:
            ours = undrained(B, L, cu=50.0, method=method)
            # geofound rounds Nc to 5.14
        else:
            ours = drained(B, L, phi=phi, method=method, gamma=gamma)
        assert ours.q_ult_kPa == pytest.approx(expected, rel=4e-3), method


class WetSand(sfsimodels.Soil):
    """Soil with the submerged weight as this package has it (the other works in N and 9.8)."""

    unit_bouy_weight = 18.0 - 9.81
    unit_eff_weight = 18.0 - 9.81


def sand_and_pad(phi: float) -> tuple:
    soil = WetSand()
    soil.phi, soil.cohesion, soil.unit_dry_weight = phi, 0.0, 18.0
    pad = sfsimodels.PadFoundation()
    pad.width, pad.length, pad.depth = 1.2, 2.4, 0.0
    return soil, pad


@pytest.mark.parametrize("water", [0.05, 0.3, 0.6, 1.0, 1.5, 2.3, 9.0])
def test_capacity_with_water_is_not_above_geofound_and_agrees_where_water_is_deep(water) -> None:
    soil, pad = sand_and_pad(33.0)
    expected = capacity_vesic_1975(soil, pad, gwl=water)
    ours = drained(1.2, 2.4, phi=33.0, method="vesic", gamma=18.0, water=water)
    # geofound lets the bulk weight return one width below the base, ours 1.5 widths.
    assert ours.q_ult_kPa <= expected * 1.004
    if water > 1.5 * 1.2:
        assert ours.q_ult_kPa == pytest.approx(expected, rel=4e-3)


@pytest.mark.parametrize("phi", [22.0, 30.0, 38.0, 45.0])
def test_hansen_agrees_with_api_rp_2geo_package(phi) -> None:
    ours = drained(1.2, 2.4, phi=phi, method="hansen", gamma=10.0, q0=6.0)
    theirs = verticalcapacity_drained_api(
        vertical_effective_stress=6.0, effective_friction_angle=phi, effective_unit_weight=10.0,
        effective_length=2.4, effective_width=1.2, skirted=False,
    )  # fmt: skip
    assert ours.factors.Nq == pytest.approx(theirs["N_q [-]"], rel=1e-6)
    assert ours.factors.Ngamma == pytest.approx(theirs["N_gamma [-]"], rel=1e-6)
    assert ours.shape.q == pytest.approx(theirs["s_q [-]"], rel=1e-6)
    assert ours.shape.gamma == pytest.approx(theirs["s_gamma [-]"], rel=1e-6)
    # For a base on the surface the package takes Nq - 1 (net): the overburden is added back.
    gross = theirs["qu [kPa]"] + 6.0 * theirs["K_q [-]"]
    assert ours.q_ult_kPa == pytest.approx(gross, rel=1e-6)


def test_hansen_undrained_is_close_to_api_rp_2geo_package() -> None:
    ours = undrained(1.2, 2.4, cu=40.0, method="hansen")
    theirs = verticalcapacity_undrained_api(
        effective_length=2.4, effective_width=1.2, su_base=40.0, horizontal_load=0.0
    )
    # API has 0.18 where Hansen has 0.2 in the shape term: 1 % of the capacity.
    assert ours.q_ult_kPa == pytest.approx(theirs["qu [kPa]"], rel=0.012)


# Invariants


@pytest.mark.parametrize("method", METHODS)
@given(cu=strength, more=st.floats(0.1, 50.0), B=width, ratio=aspect)
@fast
def test_capacity_rises_with_undrained_strength(method, cu, more, B, ratio) -> None:
    low = undrained(B, B * ratio, cu=cu, method=method).q_ult_kPa
    assert undrained(B, B * ratio, cu=cu + more, method=method).q_ult_kPa > low


@pytest.mark.parametrize("method", METHODS)
@given(phi=friction, more=st.floats(0.1, 4.0), B=width, ratio=aspect, c=cohesion)
@fast
def test_capacity_rises_with_friction_and_cohesion(method, phi, more, B, ratio, c) -> None:
    assume(phi + more <= 45.0)
    low = drained(B, B * ratio, phi=phi, c=c, method=method, q0=5.0).q_ult_kPa
    common = {"method": method, "q0": 5.0}
    assert drained(B, B * ratio, phi=phi + more, c=c, **common).q_ult_kPa > low
    assert drained(B, B * ratio, phi=phi, c=c + more, **common).q_ult_kPa > low


@pytest.mark.parametrize("method", METHODS)
@given(phi=friction, B=width, more=st.floats(0.05, 2.0), q0=st.floats(0.0, 20.0), c=cohesion)
@fast
def test_drained_capacity_of_a_square_rises_with_width_and_surcharge(method, phi, B, more, q0, c) -> None:
    low = drained(B, B, phi=phi, c=c, method=method, q0=q0).q_ult_kPa
    assert drained(B + more, B + more, phi=phi, c=c, method=method, q0=q0).q_ult_kPa > low
    assert drained(B, B, phi=phi, c=c, method=method, q0=q0 + 1.0).q_ult_kPa > low


@given(phi=friction, w=st.floats(0.0, 5.0), rise=st.floats(0.0, 5.0), B=width)
@fast
def test_capacity_never_rises_when_water_rises(phi, w, rise, B) -> None:
    assume(rise <= w)
    low = drained(B, 2 * B, phi=phi, water=w - rise).q_ult_kPa
    assert low <= drained(B, 2 * B, phi=phi, water=w).q_ult_kPa * (1 + 1e-12)
    assert low > 0


@pytest.mark.parametrize("method", METHODS)
def test_drained_capacity_tends_to_the_undrained_one_as_phi_goes_to_zero(method) -> None:
    # Vertical load on the surface; the shape factors of EN 1997-1 and Hansen differ by
    # 1/(2 + pi) against 0.2, that is by 0.5 % for a square.
    small = drained(1.5, 1.5, phi=0.01, c=40.0, method=method).q_ult_kPa
    zero = undrained(1.5, 1.5, cu=40.0, method=method).q_ult_kPa
    assert small == pytest.approx(float(zero), rel=0.006)


# Behaviour at the edges


def test_arrays_broadcast_over_legs_and_slews() -> None:
    B = np.array([[1.0], [1.2], [1.5], [2.0]])
    phi = np.linspace(25.0, 40.0, 8)
    r = drained(B, 2.0, c=2.0, phi=phi, q0=3.0, water=1.0)
    assert r.q_ult_kPa.shape == (4, 8)
    alone = drained(1.5, 2.0, c=2.0, phi=phi[3], q0=3.0, water=1.0)
    assert r.q_ult_kPa[2, 3] == pytest.approx(float(alone.q_ult_kPa))


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: drained(water=None), "water_depth_m is None"),
        (lambda: undrained(cu=-1.0), "cu_kPa is -1.0; allowed: greater than 0"),
        (lambda: undrained(cu=np.nan), "cu_kPa is nan"),
        (lambda: drained(phi=50.5), "phi_deg is 50.5; allowed: 0 to 50"),
        (lambda: drained(phi=0.0), "Else undrained"),
        (lambda: drained(water=-0.1), "water_depth_m is -0.1"),
        (lambda: drained(water=np.nan), "water_depth_m is nan"),
        (lambda: drained(gamma=9.0, water=0.0), "unit_weight_kN_m3 is 9.0"),
        (lambda: drained(3.0, 2.0), "B_m is 3.0; allowed: at most L_m"),
        (lambda: drained(q0=-1.0), "surcharge_kPa is -1.0"),
    ],
)  # fmt: skip
def test_bad_input_is_refused_with_field_and_range(call, text) -> None:
    with pytest.raises(InputError, match=text):
        call()
