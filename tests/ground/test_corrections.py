"""Shape, depth, inclination, base and ground factors against the UFC and EN 1997-1 packages."""

from __future__ import annotations

import numpy as np
import pytest
from geotech_references.dm7_2 import chapter5 as ufc
from geotech_references.eurocode_7_1 import equations as ec7
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.ground.corrections import (
    base_factors,
    depth_factors,
    ground_factors,
    inclination_exponent,
    inclination_factors,
    shape_factors_of,
)
from liftcalc.ground.factors import bearing_factors
from liftcalc.ground.undrained import undrained_corrections

GRID = [
    (phi, B, L, D) for phi in (12.0, 25.0, 33.0, 41.0) for B, L, D in ((1, 1, 0), (1.2, 3, 0.4))
]


@pytest.mark.parametrize(("phi", "B", "L", "D"), GRID)
def test_meyerhof_and_hansen_factors_agree_with_ufc_package(phi, B, L, D) -> None:
    s = shape_factors_of(bearing_factors(phi, "meyerhof"), phi, B / L, method="meyerhof")
    assert (s.c, s.q, s.gamma) == pytest.approx(ufc.meyerhof_shape_factors(B, L, phi))
    d = depth_factors(phi, D, B, method="meyerhof")
    assert (d.c, d.q, d.gamma) == pytest.approx(ufc.meyerhof_depth_factors(D, B, phi))
    V, H = 100.0, 9.0
    i = inclination_factors(phi, B, L_m=L, V_kN=V, H_B_kN=H, method="meyerhof")
    theta = np.degrees(np.arctan(H / V))
    assert (i.c, i.q, i.gamma) == pytest.approx(ufc.meyerhof_inclination_factors(theta, phi))

    s = shape_factors_of(bearing_factors(phi, "hansen"), phi, B / L, method="hansen")
    assert (s.c, s.q, s.gamma) == pytest.approx(ufc.hansen_shape_factors(B, L, phi))
    i = inclination_factors(
        phi, B, L_m=L, V_kN=V, H_B_kN=H, c_kPa=4.0, base_tilt_deg=5.0, method="hansen"
    )
    theirs = ufc.hansen_inclination_factors(H, V, B * L, 4.0, phi, np.radians(5.0))
    assert (i.c, i.q, i.gamma) == pytest.approx(theirs)
    b = base_factors(phi, 5.0, method="hansen")
    assert (b.q, b.gamma) == pytest.approx(ufc.hansen_base_factors(np.radians(5.0), phi))
    g = ground_factors(phi, 8.0, method="hansen")
    assert (g.q, g.gamma) == pytest.approx(ufc.hansen_ground_factors(8.0))


@pytest.mark.parametrize(("phi", "B", "L", "D"), GRID)
def test_hansen_depth_factors_agree_or_are_lower_for_cohesion(phi, B, L, D) -> None:
    d = depth_factors(phi, D, B, method="hansen")
    c, q, gamma = ufc.hansen_depth_factors(D, B, phi)
    assert (d.q, d.gamma) == pytest.approx((q, gamma))
    # The package has dc = 1 + k (1 - sin)^2 Nq/Nc; ours follows from dq and is not above 1 + 0.4 k.
    k = D / B
    assert 1.0 <= d.c <= 1.0 + 0.4 * k + 1e-12
    assert (D == 0 and c == 1.0) or d.c > 1.0


@given(
    phi=st.floats(5, 45), B=st.floats(0.5, 3), ratio=st.floats(1, 5), H=st.floats(0, 60),
    c=st.floats(0, 30), tilt=st.floats(0, 20),
)  # fmt: skip
@settings(deadline=None, max_examples=60)
def test_en1997_factors_agree_with_package(phi, B, ratio, H, c, tilt) -> None:
    L, V = B * ratio, 100.0
    theirs = ec7.drained_bearing_resistance(
        phi, c, 5.0, 18.0, B, L, alpha_deg=tilt, H=H, V=V, load_direction="B"
    )
    s = shape_factors_of(bearing_factors(phi, "en1997"), phi, B / L, method="en1997")
    i = inclination_factors(phi, B, L_m=L, V_kN=V, H_B_kN=H, c_kPa=c, method="en1997")
    b = base_factors(phi, tilt, method="en1997")
    assert (s.c, s.q, s.gamma) == pytest.approx((theirs["sc"], theirs["sq"], theirs["sgamma"]))
    assert (i.q, i.gamma) == pytest.approx((theirs["iq"], theirs["igamma"]), abs=1e-12)
    # A negative cohesion factor means that the base slides: ours is 0 there.
    assert i.c == pytest.approx(max(theirs["ic"], 0.0), abs=1e-9)
    assert (b.q, b.c) == pytest.approx((theirs["bq"], max(theirs["bc"], 0.0)))


def test_inclination_exponent_of_the_published_sheet_with_load_both_ways() -> None:
    # Public calculation sheet to BS EN 1997-1:2004 Annex D, drained case 1.
    assert inclination_exponent(0.7, 5.12, 60.0, 0.0) == pytest.approx(1.88, abs=0.005)
    assert inclination_exponent(0.7, 5.12, 0.0, 30.0) == pytest.approx(1.12, abs=0.005)
    assert inclination_exponent(0.7, 5.12, 60.0, 30.0) == pytest.approx(1.73, abs=0.005)


def test_undrained_factors_agree_with_packages() -> None:
    for H, tilt in ((0.0, 0.0), (20.0, 0.0), (20.0, 5.0)):
        ours = undrained_corrections(1.2, 2.4, cu_kPa=30.0, H_B_kN=H, base_tilt_deg=tilt)
        theirs = ec7.undrained_bearing_resistance(30.0, 0.0, 1.2, 2.4, alpha_deg=tilt, H=H)
        assert 30.0 * ours.Nc * ours.total == pytest.approx(theirs["bearing_pressure_kpa"])
    h = undrained_corrections(
        1.2, 2.4, cu_kPa=30.0, H_B_kN=20.0, depth_ratio=0.5, base_tilt_deg=4.0,
        ground_slope_deg=6.0, method="hansen",
    )  # fmt: skip
    # The package gives the shape term for a vertical load; API RP 2GEO has the factor 1 - 2 i.
    vertical = undrained_corrections(1.2, 2.4, cu_kPa=30.0, method="hansen")
    assert vertical.s == pytest.approx(ufc.hansen_shape_factors_phi0(1.2, 2.4)[0])
    assert h.s == pytest.approx(float(vertical.s * (1 - 2 * h.i)))
    assert h.d == pytest.approx(ufc.hansen_depth_factor_phi0(0.6, 1.2))
    assert h.i == pytest.approx(ufc.hansen_inclination_factor_phi0(20.0, 1.2 * 2.4, 30.0))
    assert h.b == pytest.approx(ufc.hansen_base_factor_phi0(np.radians(4.0)))
    assert h.g == pytest.approx(ufc.hansen_ground_factor_phi0(np.radians(6.0)))
    assert h.total == pytest.approx(1 + h.s + h.d - h.i - h.b - h.g)
    m = undrained_corrections(1.2, 2.4, cu_kPa=30.0, depth_ratio=0.5, method="meyerhof")
    assert m.s == pytest.approx(ufc.meyerhof_shape_factors(1.2, 2.4, 0.0)[0])
    assert m.d == pytest.approx(ufc.meyerhof_depth_factors(0.6, 1.2, 0.0)[0])


def test_meyerhof_shape_factors_become_one_under_an_inclined_undrained_load() -> None:
    r = undrained_corrections(
        1.0, 1.0, cu_kPa=40.0, V_kN=[100.0, 100.0], H_B_kN=[0.0, 5.0], method="meyerhof"
    )
    assert r.s.tolist() == [pytest.approx(1.2), 1.0]
    lean = np.degrees(np.arctan(0.05))
    assert r.i.tolist() == pytest.approx([1.0, (1.0 - lean / 90.0) ** 2])


def test_sliding_on_clay_is_flagged_at_the_limit() -> None:
    limit = 1.2 * 2.0 * 30.0
    r = undrained_corrections(1.2, 2.0, cu_kPa=30.0, H_B_kN=[limit * 0.999, limit * 1.001])
    assert r.slides.tolist() == [False, True]
    assert r.total[0] > 0.5
    assert r.total[1] == 0.0


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: depth_factors(30, np.nan, 1.0), "depth_m is nan"),
        (lambda: ground_factors(30, 10.0), "ground_slope_deg is 10.0; allowed: 0 for the en1997"),
        (lambda: ground_factors(20, 25.0, method="vesic"), "allowed: at most phi_deg"),
        (lambda: ground_factors(50, 46.0, method="vesic"), "allowed: 0 to 45"),
        (lambda: base_factors(30, 3.0, method="meyerhof"), "0 for the meyerhof method"),
        (lambda: base_factors(30, -1.0), "base_tilt_deg is -1.0"),
        (
            lambda: inclination_factors(30, 1, L_m=1, V_kN=10, H_B_kN=1, method="terzaghi"),
            "0 for this method",
        ),
        (lambda: inclination_factors(30, 1, L_m=1, V_kN=-10), "V_kN is -10.0"),
        (lambda: inclination_factors(0, 1, L_m=1, V_kN=10, H_B_kN=1), "Use the undrained case"),
        (lambda: undrained_corrections(1, 1, cu_kPa=0.0), "cu_kPa is 0.0"),
        (
            lambda: undrained_corrections(1, 1, cu_kPa=9, H_B_kN=1, method="meyerhof"),
            "V_kN is None",
        ),
        (
            lambda: undrained_corrections(1, 1, cu_kPa=9, ground_slope_deg=3),
            "0 for the en1997 method",
        ),
    ],
)
def test_outside_the_limits_of_a_method_is_refused(call, text) -> None:
    with pytest.raises(InputError, match=text):
        call()
