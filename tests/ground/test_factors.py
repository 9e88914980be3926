"""Bearing factors: limits, continuity, order of the methods, and two reference packages."""

from __future__ import annotations

import numpy as np
import pytest
from geotech_references.dm7_2 import chapter5 as ufc
from geotech_references.eurocode_7_1 import equations as ec7
from geotech_references.gec_6 import tables as gec6
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.ground.bearing import METHODS, bearing_factors

PHI = np.arange(0.5, 45.5, 0.5)


def test_factors_agree_with_ufc_package_over_the_whole_range() -> None:
    ours = bearing_factors(PHI, "meyerhof")
    assert ours.Nq == pytest.approx([ufc.meyerhof_hansen_Nq(p) for p in PHI], rel=1e-9)
    assert ours.Nc == pytest.approx([ufc.meyerhof_hansen_Nc(p) for p in PHI], rel=1e-9)
    assert ours.Ngamma == pytest.approx([ufc.meyerhof_Ngamma(p) for p in PHI], rel=1e-9)
    hansen = bearing_factors(PHI, "hansen").Ngamma
    assert hansen == pytest.approx([ufc.hansen_Ngamma(p) for p in PHI], rel=1e-9)


def test_factors_agree_with_en1997_package_and_printed_aashto_table() -> None:
    ours = bearing_factors(PHI, "en1997")
    theirs = [ec7.bearing_capacity_factors(p) for p in PHI]
    for name in ("Nc", "Nq", "Ngamma"):
        assert getattr(ours, name) == pytest.approx([t[name] for t in theirs], rel=1e-9)
    whole = np.arange(0, 46)
    printed = [gec6.table_5_1_bearing_capacity_factors(p) for p in whole]
    vesic = bearing_factors(whole, "vesic")
    for name in ("Nc", "Nq", "Ngamma"):
        # printed to one decimal place
        assert getattr(vesic, name) == pytest.approx([t[name] for t in printed], rel=2e-3, abs=0.06)


@pytest.mark.parametrize("method", METHODS)
def test_factors_rise_with_phi(method: str) -> None:
    f = bearing_factors(np.linspace(0.0, 50.0, 400), method)
    assert np.all(np.diff(f.Nc) > 0)
    assert np.all(np.diff(f.Nq) > 0)
    assert np.all(np.diff(f.Ngamma) >= 0)


@pytest.mark.parametrize("method", METHODS)
def test_factors_are_continuous_at_phi_zero(method: str) -> None:
    zero, small = bearing_factors(0.0, method), bearing_factors(1e-5, method)
    assert small.Nc == pytest.approx(float(zero.Nc), rel=1e-4)
    assert small.Nq == pytest.approx(1.0, abs=1e-4)
    assert small.Ngamma == pytest.approx(float(zero.Ngamma), abs=1e-4)


@given(st.floats(0.0, 45.0))
@settings(deadline=None)
def test_hansen_ngamma_is_below_vesic_and_en1997(phi: float) -> None:
    hansen = bearing_factors(phi, "hansen").Ngamma
    assert hansen <= bearing_factors(phi, "en1997").Ngamma + 1e-12
    assert bearing_factors(phi, "en1997").Ngamma <= bearing_factors(phi, "vesic").Ngamma + 1e-12


@pytest.mark.parametrize("phi", [-0.1, 50.1, np.nan, np.inf, [30.0, np.nan]])
def test_phi_outside_range_is_refused(phi: object) -> None:
    with pytest.raises(InputError, match=r"phi_deg is .*allowed: 0 to 50"):
        bearing_factors(phi)


def test_an_unknown_method_is_refused() -> None:
    with pytest.raises(InputError, match="method is 'skempton'; allowed: meyerhof"):
        bearing_factors(30.0, "skempton")  # type: ignore[arg-type]
