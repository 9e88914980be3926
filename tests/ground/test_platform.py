"""Working platform: governing modes, solved thickness, invariants, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from geotech_references.eurocode_7_1.equations import mobilised_wall_angle_mw
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from liftcalc.base.errors import InputError
from liftcalc.ground.platform import passive_coefficient_tan_delta, working_platform

FILL = {"phi_platform_deg": 40.0, "unit_weight_platform_kN_m3": 20.0, "water": "below the platform"}
fast = settings(deadline=None, max_examples=80)


def test_passive_coefficient_is_rankines_without_wall_friction_and_on_the_safe_side() -> None:
    phi = np.array([30.0, 35.0, 40.0])
    rankine = np.tan(np.radians(45 + phi / 2)) ** 2
    small = passive_coefficient_tan_delta(phi, delta_over_phi=1e-6)
    assert small / np.tan(np.radians(1e-6 * phi)) == pytest.approx(rankine, rel=1e-4)
    # BR 470 prints 3.1 at 35 and 5.5 at 40 degrees (as in the public sheet).
    ours = passive_coefficient_tan_delta([35.0, 40.0])
    assert np.all(ours < [3.1, 5.5])
    assert np.all(ours > 0.85 * np.array([3.1, 5.5]))
    # The wall angle of Eq. C.4 as the package has it.
    for p in phi:
        d = 2 / 3 * p
        m_w = np.radians(mobilised_wall_angle_mw(p, d))
        m_t = np.radians(45 - p / 2)
        s = np.sin(np.radians(p))
        K = (1 + s * np.sin(2 * m_w + np.radians(p))) / (1 - s)
        K *= np.exp(2 * (m_t - m_w) * np.tan(np.radians(p)))
        assert passive_coefficient_tan_delta(p) == pytest.approx(K * np.tan(np.radians(d)))


def test_closed_form_thickness_is_the_root_of_the_resistance() -> None:
    r = working_platform(0.9, 1.5, q_kPa=170.0, cu_kPa=30.0, **FILL)

    def missing(D: float) -> float:
        punching = r.punching_per_m2 * D**2
        return float(r.resistance_subgrade_kPa + punching - 1.6 * 170.0)

    assert r.thickness_m == pytest.approx(brentq(missing, 1e-6, 5.0))
    assert r.resistance_with_platform_kPa == pytest.approx(1.6 * 170.0)
    assert r.governing == "punching"


def test_each_governing_mode_is_named() -> None:
    q = np.array([60.0, 97.5, 200.0, 240.0])
    r = working_platform(0.9, 1.5, q_kPa=q, cu_kPa=30.0, **FILL)
    assert r.governing.tolist() == ["no platform needed", "minimum thickness", "punching", "punching"]
    assert r.thickness_m[0] == 0.0
    assert r.thickness_m[1] == pytest.approx(0.3)
    weak = working_platform(0.5, 0.5, q_kPa=420.0, cu_kPa=30.0, **FILL)
    assert weak.governing == "platform fails itself"
    assert np.isnan(weak.thickness_m)
    assert not weak.ok
    deep = working_platform(0.5, 3.0, q_kPa=340.0, cu_kPa=20.0, Ngamma_platform=200.0, Kp_tan_delta=1.0, **FILL)
    assert deep.governing == "beyond the method"
    assert not deep.ok


@given(
    W=st.floats(0.5, 2.0), ratio=st.floats(1.0, 4.0), q=st.floats(20.0, 250.0),
    cu=st.floats(20.0, 78.0), more=st.floats(0.1, 30.0),
)  # fmt: skip
@fast
def test_thickness_grows_with_pressure_and_shrinks_with_strength(W, ratio, q, cu, more) -> None:
    L = W * ratio
    base = working_platform(W, L, q_kPa=q, cu_kPa=cu, **FILL)
    heavier = working_platform(W, L, q_kPa=q + more, cu_kPa=cu, **FILL)
    assert heavier.thickness_punching_m >= base.thickness_punching_m
    stronger = working_platform(W, L, q_kPa=q, cu_kPa=min(cu + more, 80.0), **FILL)
    assert stronger.thickness_punching_m <= base.thickness_punching_m
    wet = working_platform(W, L, q_kPa=q, cu_kPa=cu, **{**FILL, "water": "at the surface"})
    assert wet.thickness_punching_m >= base.thickness_punching_m


def test_granular_subgrade_takes_arrays() -> None:
    r = working_platform(
        0.8, 2.0, q_kPa=[100.0, 200.0], phi_subgrade_deg=np.array([30.0, 33.0]),
        unit_weight_subgrade_kN_m3=17.0, **FILL,
    )  # fmt: skip
    assert r.thickness_m.shape == (2,)
    assert np.all(r.thickness_m > 0)


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"cu_kPa": 19.9}, "cu_kPa is 19.9; allowed: 20 to 80"),
        ({"cu_kPa": 80.1}, "cu_kPa is 80.1"),
        ({"cu_kPa": None}, "exactly one of them"),
        ({"phi_subgrade_deg": 30.0}, "exactly one of them"),
        ({"phi_platform_deg": 45.1}, "phi_platform_deg is 45.1; allowed: 35 to 45"),
        ({"phi_platform_deg": 34.9}, "phi_platform_deg is 34.9"),
        ({"load_factors": (1.2, 5.1)}, "load_factors is 5.1"),
        ({"q_kPa": np.nan}, "q_kPa is nan"),
        ({"load_factors": (0.9, 1.2)}, "load_factors is 0.9"),
        ({"water": "dry"}, "water is 'dry'"),
        ({"unit_weight_platform_kN_m3": 9.0, "water": "at the surface"}, "less that of water"),
    ],
)
def test_outside_the_method_is_refused(change, text) -> None:
    given = {**FILL, "q_kPa": 100.0, "cu_kPa": 30.0, **change}
    with pytest.raises(InputError, match=text):
        working_platform(0.8, 1.2, **given)


def test_pad_longer_across_than_along_is_refused() -> None:
    with pytest.raises(InputError, match="W is the shorter side"):
        working_platform(1.2, 0.8, q_kPa=10.0, cu_kPa=30.0, **FILL)
