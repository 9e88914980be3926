"""Shape factors against the UFC and EN 1997-1 packages."""

from __future__ import annotations

import pytest
from geotech_references.dm7_2 import chapter5 as ufc
from geotech_references.eurocode_7_1 import equations as ec7
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.ground.bearing import bearing_factors, drained_shape_factors, side_ratio, undrained_shape_factors


@pytest.mark.parametrize("phi", [12.0, 25.0, 33.0, 41.0])
@pytest.mark.parametrize(("B", "L"), [(1.0, 1.0), (1.2, 3.0)])
def test_meyerhof_and_hansen_factors_agree_with_ufc_package(phi, B, L) -> None:
    theirs = {"meyerhof": ufc.meyerhof_shape_factors, "hansen": ufc.hansen_shape_factors}
    for method, package in theirs.items():
        s = drained_shape_factors(bearing_factors(phi, method), phi, B / L, method=method)
        assert (s.c, s.q, s.gamma) == pytest.approx(package(B, L, phi))


@given(phi=st.floats(5, 45), B=st.floats(0.5, 3), ratio=st.floats(1, 5))
@settings(deadline=None, max_examples=60)
def test_en1997_factors_agree_with_package(phi, B, ratio) -> None:
    L = B * ratio
    theirs = ec7.drained_bearing_resistance(phi, 0.0, 5.0, 18.0, B, L)
    s = drained_shape_factors(bearing_factors(phi, "en1997"), phi, B / L, method="en1997")
    assert (s.c, s.q, s.gamma) == pytest.approx((theirs["sc"], theirs["sq"], theirs["sgamma"]))


def test_undrained_factors_agree_with_packages() -> None:
    en1997 = undrained_shape_factors(side_ratio(1.2, 2.4), method="en1997")
    theirs = ec7.undrained_bearing_resistance(30.0, 0.0, 1.2, 2.4)["bearing_pressure_kpa"]
    assert 30.0 * bearing_factors(0.0).Nc * en1997.c == pytest.approx(theirs)
    hansen = undrained_shape_factors(side_ratio(1.2, 2.4), method="hansen")
    assert hansen.c - 1.0 == pytest.approx(ufc.hansen_shape_factors_phi0(1.2, 2.4)[0])
    meyerhof = undrained_shape_factors(side_ratio(1.2, 2.4), method="meyerhof")
    assert meyerhof.c == pytest.approx(ufc.meyerhof_shape_factors(1.2, 2.4, 0.0)[0])


def test_a_short_side_above_the_long_one_is_refused() -> None:
    with pytest.raises(InputError, match=r"B_m is 2\.0; allowed: at most L_m"):
        side_ratio(2.0, 1.0)
