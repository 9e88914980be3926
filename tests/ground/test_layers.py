"""Layered ground: the digitised chart, limits between the layers, invariants, refusals."""

from __future__ import annotations

import numpy as np
import pytest
import sfsimodels
from geofound.capacity import capacity_meyerhof_and_hanna_1978
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.ground.bearing import bearing_factors
from liftcalc.ground.layers import clay_over_clay, punching_coefficient, sand_over_clay

fast = settings(deadline=None, max_examples=80)


def geofound_strip(B: float, H: float, phi: float, gamma: float, cu: float) -> tuple[float, float]:
    upper, lower = sfsimodels.Soil(), sfsimodels.Soil()
    upper.phi, upper.cohesion, upper.unit_dry_weight = phi, 0.0, gamma
    lower.phi, lower.cohesion, lower.unit_dry_weight = 0.0, cu, 18.0
    pad = sfsimodels.PadFoundation()
    pad.width, pad.length, pad.depth = B, 1000.0 * B, 0.0
    q = capacity_meyerhof_and_hanna_1978(upper, lower, H, pad)
    return float(q), float(pad.ks)


@pytest.mark.parametrize(
    ("phi", "cu"),
    [(30, 15), (30, 25), (34, 15), (34, 30), (34, 50), (38, 15), (38, 30), (38, 50), (42, 15),
     (42, 30), (42, 50)],
)  # fmt: skip
def test_punching_agrees_with_geofound_and_our_chart_reading_is_lower(phi, cu) -> None:
    B, H, gamma = 1.0, 0.6, 18.0
    q, Ks = geofound_strip(B, H, phi, gamma, cu)
    ours = sand_over_clay(
        B, 1000.0 * B, thickness_m=H, phi_upper_deg=phi, unit_weight_upper_kN_m3=gamma,
        cu_lower_kPa=cu, Ks=Ks,
    )  # fmt: skip
    # The package caps with the sand alone by Meyerhof's factors and rounds Nc to 5.14.
    cap = 0.5 * gamma * B * bearing_factors(phi, "meyerhof").Ngamma
    assert q == pytest.approx(min(float(ours.q_punch_kPa), float(cap)), rel=3e-3)
    by_chart = sand_over_clay(
        B, 1000.0 * B, thickness_m=H, phi_upper_deg=phi, unit_weight_upper_kN_m3=gamma,
        cu_lower_kPa=cu,
    )  # fmt: skip
    assert 0.8 * ours.q_punch_kPa <= by_chart.q_punch_kPa <= ours.q_punch_kPa


@given(phi=st.floats(20, 49), ratio=st.floats(0, 0.99), d=st.floats(0.001, 1.0))
@fast
def test_punching_coefficient_rises_with_phi_and_with_the_strength_ratio(phi, ratio, d) -> None:
    low = punching_coefficient(phi, ratio) * (1 - 1e-12)
    assert punching_coefficient(phi + d, ratio) >= low
    assert punching_coefficient(phi, min(ratio + d, 1.0)) >= low


@given(
    B=st.floats(0.5, 3), ratio=st.floats(1, 4), H=st.floats(0.05, 3), phi=st.floats(22, 44),
    cu=st.floats(5, 100), more=st.floats(0.01, 2.0),
)  # fmt: skip
@fast
def test_layered_capacity_rises_with_thickness_and_strength_and_never_beats_the_upper_layer(
    B, ratio, H, phi, cu, more
) -> None:
    L = B * ratio

    def sand(H: float, cu: float):
        return sand_over_clay(B, L, thickness_m=H, phi_upper_deg=phi, unit_weight_upper_kN_m3=18.0, cu_lower_kPa=cu)

    base = sand(H, cu)
    assert base.q_ult_kPa <= base.q_upper_layer_only_kPa
    assert sand(H + more, cu).q_ult_kPa >= base.q_ult_kPa
    assert sand(H, cu * (1 + more)).q_ult_kPa >= base.q_ult_kPa

    def clay(H: float, lower: float):
        return clay_over_clay(B, L, thickness_m=H, cu_upper_kPa=120.0, cu_lower_kPa=lower)

    base = clay(H, cu)
    assert base.q_ult_kPa <= base.q_upper_layer_only_kPa
    assert clay(H + more, cu).q_ult_kPa >= base.q_ult_kPa
    weaker = clay(H, cu * 0.5)
    assert weaker.q_ult_kPa <= base.q_ult_kPa / (0.9 if cu * 0.5 <= 84 < cu else 1) * (1 + 1e-9)


def test_thin_crust_tends_to_the_lower_layer_and_thick_to_the_upper() -> None:
    thin = clay_over_clay(1.0, 1.0, thickness_m=1e-6, cu_upper_kPa=100.0, cu_lower_kPa=30.0)
    assert thin.q_ult_kPa == pytest.approx(6.05 * 30.0, rel=1e-4)
    assert thin.governing == "punching into the lower layer"
    thick = clay_over_clay(1.0, 1.0, thickness_m=3.0, cu_upper_kPa=100.0, cu_lower_kPa=30.0)
    assert thick.q_ult_kPa == pytest.approx(605.0)
    assert thick.governing == "upper layer alone"
    near = clay_over_clay(1.0, 1.0, thickness_m=3.0, cu_upper_kPa=100.0, cu_lower_kPa=80.0)
    assert near.q_ult_kPa == pytest.approx(0.9 * 605.0)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: punching_coefficient(19.9, 0.2), "phi_upper_deg is 19.9"),
        (lambda: punching_coefficient(30, 1.01), "q2_over_q1 is 1.01"),
        (
            lambda: clay_over_clay(2, 1, thickness_m=1, cu_upper_kPa=5, cu_lower_kPa=2),
            "at most L_m",
        ),
        (
            lambda: clay_over_clay(1, 1, thickness_m=np.nan, cu_upper_kPa=5, cu_lower_kPa=2),
            "thickness_m is nan",
        ),
    ],
)  # fmt: skip
def test_bad_input_is_refused(call, text) -> None:
    with pytest.raises(InputError, match=text):
        call()
