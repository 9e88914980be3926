"""Units: factors against a reference library, and conversions that lose nothing shown."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import constants as c

from liftcalc.base import units
from liftcalc.base.errors import InputError
from liftcalc.base.text import format_value

# SI value of one US unit, from scipy.constants (CODATA and NIST SP 811 factors)
REFERENCE = {
    "length_m": c.foot,
    "extension_m": c.foot,
    "small_length_mm": c.inch * 1000,
    "settlement_mm": c.inch * 1000,
    "torque_Nm": c.lbf * c.inch,
    "area_m2": c.foot**2,
    "mass_t": c.pound / 1000,
    "force_kN": c.lbf,  # kip in kN is lbf in N
    "moment_kNm": c.lbf * c.foot,
    "pressure_kPa": c.lbf / c.foot**2 / 1000,
    "unit_weight_kN_m3": c.lbf / c.foot**3 / 1000,
    "speed_m_s": c.mph,
    "stiffness_kN_mm": c.lbf / (c.inch * 1000),
    "angle_deg": 1.0,
    "slew_deg": 1.0,
    "ratio": 1.0,
    "percent": 1.0,
    "voltage_kV": 1.0,
    "count": 1.0,
    "temperature_C": c.convert_temperature(2.0, "F", "C") - c.convert_temperature(1.0, "F", "C"),
}
ZERO_US = {"temperature_C": c.convert_temperature(0.0, "C", "F")}


def test_every_quantity_has_a_reference() -> None:
    assert set(REFERENCE) == set(units.QUANTITIES)


@pytest.mark.parametrize("quantity", units.QUANTITIES)
def test_factor_is_that_of_the_reference_library(quantity: str) -> None:
    one = units.to_si(1.0, quantity, "us") - units.to_si(0.0, quantity, "us")
    assert one == pytest.approx(REFERENCE[quantity], rel=1e-14 if quantity in ZERO_US else 1e-15)
    assert units.from_si(0.0, quantity, "us") == pytest.approx(ZERO_US.get(quantity, 0.0))
    assert units.to_si(1.0, quantity, "metric") == 1.0


def test_psi_in_psf_is_that_of_the_reference_library() -> None:
    assert units.from_si(c.psi / 1000, "pressure_kPa", "us") == pytest.approx(144.0, rel=1e-14)


def test_gravity_is_standard_gravity() -> None:
    assert c.g == units.G_M_S2


@pytest.mark.parametrize("system", ["metric", "us"])
@pytest.mark.parametrize("quantity", units.QUANTITIES)
@settings(deadline=None, max_examples=60)
@given(value=st.floats(-1e6, 1e6))
def test_a_shown_value_typed_back_in_is_shown_the_same(quantity: str, system: units.UnitSystem, value: float) -> None:
    shown = format_value(value, quantity, system)
    number = shown.removesuffix(units.unit_label(quantity, system))
    typed = float(re.sub("[ ,\u2009]", "", number).replace("−", "-"))
    back = float(units.to_si(typed, quantity, system))
    assert format_value(back, quantity, system) == shown


@pytest.mark.parametrize("quantity", units.QUANTITIES)
@settings(deadline=None, max_examples=60)
@given(value=st.floats(-1e9, 1e9))
def test_conversion_there_and_back_keeps_every_digit(quantity: str, value: float) -> None:
    there = units.from_si(value, quantity, "us")
    lost = 1e-13 if quantity in ZERO_US else 1e-300  # another zero costs the smallest digits
    assert float(units.to_si(there, quantity, "us")) == pytest.approx(value, rel=1e-15, abs=lost)


@pytest.mark.parametrize("convert", [units.from_si, units.to_si])
@pytest.mark.parametrize("system", ["metric", "us"])
def test_unknown_quantity_is_refused_in_both_systems(convert: object, system: str) -> None:
    with pytest.raises(InputError, match="quantity is 'length_ft'"):
        convert(1.0, "length_ft", system)  # type: ignore[operator]


@pytest.mark.parametrize("convert", [units.from_si, units.to_si])
def test_unknown_system_is_refused_and_never_taken_as_metric(convert: object) -> None:
    with pytest.raises(InputError, match="system is 'US'; allowed: metric, us"):
        convert(1.0, "length_m", "US")  # type: ignore[operator]
    with pytest.raises(InputError, match="system"):
        units.unit_label("length_m", "imperial")  # type: ignore[arg-type]


def test_labels_of_both_systems() -> None:
    assert units.unit_label("mass_t", "metric") == "t"
    assert units.unit_label("mass_t", "us") == "lb"
    assert units.unit_label("pressure_kPa", "us") == "psf"
