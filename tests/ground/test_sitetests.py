"""Site tests: reference packages, direction of the correlations, ranges, plate readings."""

from __future__ import annotations

import numpy as np
import pytest
from geotech_references.dm7_1 import chapter8
from geotech_references.eurocode_7_2 import equations as ec7
from geotech_references.gec_6 import tables as gec6
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.ground.platetests import plate_settlement, plate_test_allowable, plate_undrained_strength
from liftcalc.ground.sitetests import (
    cbr_undrained_strength,
    cbr_youngs_modulus,
    dcp_cbr,
    spt_consistency,
    spt_friction_angle,
    spt_undrained_strength,
    vane_undrained_strength,
)

PLATE = {"plate_width_m": 0.6, "B_m": 1.2, "soil": "clay"}
READINGS = ([0.0, 50.0, 100.0, 150.0, 200.0], [0.0, 2.0, 5.0, 11.0, 30.0])


def test_vane_agrees_with_ufc_and_en1997_2_packages() -> None:
    for w_L in (43.5, 60.0, 90.0, 150.0, 199.0):
        theirs = ec7.equation_i5_fvt_correction_factor(w_L) * 40.0
        assert vane_undrained_strength(40.0, w_L).value == pytest.approx(theirs)
    # A factor above 1 is never used, whatever the chart says of low-plasticity clay.
    assert ec7.equation_i5_fvt_correction_factor(30.0) > 1.0
    assert vane_undrained_strength(40.0, 30.0).value == 40.0


def test_spt_correlations_agree_with_packages() -> None:
    for N in (5.0, 12.0, 30.0, 50.0):
        theirs = chapter8.spt_friction_angle_wolff(N)
        assert spt_friction_angle(N).value == pytest.approx(theirs)
    for soil, key in (("clay", "consistency"), ("sand", "relative_density")):
        for N in (0, 1, 2, 3, 4, 7, 8, 10, 14, 15, 29, 30, 49, 50, 80):
            printed = gec6.table_4_1_spt_soil_properties(N, soil)[key]
            expected = "medium (firm)" if (soil, printed) == ("clay", "medium") else printed
            assert str(spt_consistency(N, soil)) == expected.replace("_", " ")


def test_plate_strength_and_dcp_agree_with_packages() -> None:
    theirs = ec7.equation_k1_plt_undrained_shear_strength(300.0, 0.0, "surface")
    assert plate_undrained_strength(300.0).value == pytest.approx(theirs)
    form = chapter8.table_8_24_cbr_dcp("webster_1992")
    for dcp in (3.0, 12.0, 40.0):
        theirs = chapter8.cbr_from_dcp_power(form["a"], dcp, form["x"])
        assert dcp_cbr(dcp).value == pytest.approx(theirs)


@given(dcp=st.floats(1, 99), more=st.floats(0.01, 1))
@settings(deadline=None)
def test_cbr_falls_with_penetration_and_strength_rises_with_cbr(dcp, more) -> None:
    for form in ("webster", "trl_60", "trl_30", "webster_ch"):
        assert dcp_cbr(dcp, correlation=form).value > dcp_cbr(dcp + more, correlation=form).value
    cbr = 0.5 + 9 * dcp / 100
    assert cbr_undrained_strength(cbr + 0.1).value > cbr_undrained_strength(cbr).value
    assert cbr_youngs_modulus(cbr + 0.1).value > cbr_youngs_modulus(cbr).value


def test_every_value_carries_source_limits_and_warning() -> None:
    found = [
        spt_undrained_strength(10, 25),
        spt_friction_angle(15), dcp_cbr(20.0), cbr_undrained_strength(3.0),
        cbr_youngs_modulus(3.0), vane_undrained_strength(40.0, 50.0),
        plate_undrained_strength(200.0), plate_test_allowable(*READINGS, **PLATE),
    ]  # fmt: skip
    for value in found:
        assert value.source
        assert value.limits
        assert value.warnings
        assert value.quantity.endswith(("_kPa", "_deg", "_percent"))
        assert np.all(value.value > 0)


def test_plate_test_takes_the_lower_of_strength_and_settlement() -> None:
    # Ultimate at a tenth of the width, 60 mm: not reached, so the highest pressure, 200/3.
    strong = plate_test_allowable(*READINGS, settlement_limit_mm=40.0, **PLATE)
    assert strong.value == pytest.approx(200.0 / 3.0)
    assert "ultimate" in strong.method
    assert any("did not reach failure" in w for w in strong.warnings)
    # 4 mm of the mat is 2 mm of the plate on clay: 50 kPa.
    soft = plate_test_allowable(*READINGS, settlement_limit_mm=4.0, **PLATE)
    assert soft.value == pytest.approx(50.0)
    assert "settlement" in soft.method
    failed = plate_test_allowable(
        [0, 50, 100, 120, 130], [0, 5, 20, 60, 90], factor=2.0, settlement_limit_mm=100.0, **PLATE
    )
    assert failed.value == pytest.approx(60.0)
    wide = plate_test_allowable(*READINGS, **{**PLATE, "B_m": 2.0})
    assert any("3.3 times the plate width" in w for w in wide.warnings)


def test_mat_never_settles_less_than_the_plate() -> None:
    for soil in ("sand", "clay"):
        s = plate_settlement(5.0, 0.3, B_m=np.linspace(0.3, 3.0, 20), soil=soil)
        assert s[0] == pytest.approx(5.0)
        assert np.all(np.diff(s) > 0)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: spt_consistency(-1, "clay"), "N is -1.0"),
        (lambda: spt_consistency(5, "peat"), "soil is 'peat'"),
        (lambda: spt_undrained_strength(10, 14.9), "plasticity_index_percent is 14.9"),
        (lambda: spt_undrained_strength(10, 65.1), "plasticity_index_percent is 65.1"),
        (lambda: spt_undrained_strength(60.1, 20.0), "N is 60.1; allowed: 1 to 60"),
        (lambda: spt_undrained_strength(0.9, 20.0), "N is 0.9"),
        (lambda: spt_friction_angle(np.nan), "N1_60 is nan"),
        (lambda: dcp_cbr(0.9), "penetration_mm_per_blow is 0.9"),
        (lambda: dcp_cbr(10.0, correlation="webster_cl"), "a CBR below 10"),
        (lambda: dcp_cbr(10.0, correlation="nazzal"), "correlation is 'nazzal'"),
        (lambda: cbr_undrained_strength(10.1), "cbr_percent is 10.1"),
        (lambda: cbr_undrained_strength(5.0, kPa_per_percent=30.1), "kPa_per_percent is 30.1"),
        (lambda: cbr_undrained_strength(5.0, kPa_per_percent=19.9), "kPa_per_percent is 19.9"),
        (lambda: cbr_undrained_strength(0.4), "cbr_percent is 0.4; allowed: 0.5 to 10"),
        (lambda: vane_undrained_strength(40.0, 200.5), "liquid_limit_percent is 200.5"),
        (lambda: vane_undrained_strength(40.0, 19.5), "liquid_limit_percent is 19.5"),
        (lambda: dcp_cbr(100.5), "penetration_mm_per_blow is 100.5; allowed: 1 to 100"),
        (lambda: spt_friction_angle(50.5), "N1_60 is 50.5; allowed: 5 to 50"),
        (lambda: cbr_youngs_modulus(0.4), "cbr_percent is 0.4"),
        (lambda: vane_undrained_strength(121.0, 50.0), "vane_strength_kPa is 121.0"),
        (lambda: vane_undrained_strength(40.0, 0.5), "liquid_limit_percent is 0.5"),
        (lambda: plate_settlement(5.0, 0.29, B_m=1.0, soil="clay"), "plate_width_m is 0.29"),
        (lambda: plate_settlement(5.0, 0.6, B_m=0.5, soil="clay"), "at least the plate width"),
        (lambda: plate_settlement(9.0, 0.3, B_m=1.0, soil="silt"), "soil is 'silt'"),
        (lambda: plate_test_allowable([0, 50], [0, 2], **PLATE), "four or more readings"),
        (lambda: plate_test_allowable([0, 50, 40, 60], [0, 1, 2, 3], **PLATE), "increasing"),
        (lambda: plate_test_allowable(*READINGS, factor=1.9, **PLATE), "factor is 1.9"),
    ],
)
def test_outside_the_range_of_the_source_is_refused(call, text) -> None:
    with pytest.raises(InputError, match=text):
        call()
