"""Units: factors against a reference library, and conversions that lose nothing shown."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import constants as c

from liftcalc.base import units
from liftcalc.base.errors import InputError
from liftcalc.base.text import format_value, text_in_units

# SI value of one US unit, from scipy.constants (CODATA and NIST SP 811 factors)
REFERENCE = {
    "length_m": c.foot,
    "extension_m": c.foot,
    "small_length_mm": c.inch * 1000,
    "area_m2": c.foot**2,
    "mass_t": c.pound / 1000,
    "force_kN": c.lbf,  # kip in kN is lbf in N
    "moment_kNm": c.lbf * c.foot,
    "pressure_kPa": c.lbf / c.foot**2 / 1000,
    "unit_weight_kN_m3": c.lbf / c.foot**3 / 1000,
    "speed_m_s": c.mph,
    "angle_deg": 1.0,
    "ratio": 1.0,
    "percent": 1.0,
    "voltage_kV": 1.0,
}


def test_every_quantity_has_a_reference() -> None:
    assert set(REFERENCE) == set(units.QUANTITIES)


@pytest.mark.parametrize("quantity", units.QUANTITIES)
def test_factor_is_that_of_the_reference_library(quantity: str) -> None:
    assert units.to_si(1.0, quantity, "us") == pytest.approx(REFERENCE[quantity], rel=1e-15)
    assert units.to_si(1.0, quantity, "metric") == 1.0


def test_psi_in_psf_is_that_of_the_reference_library() -> None:
    assert units.from_si(c.psi / 1000, "pressure_kPa", "us") == pytest.approx(144.0, rel=1e-14)


def test_gravity_is_standard_gravity() -> None:
    assert c.g == units.G_M_S2


@pytest.mark.parametrize("system", ["metric", "us"])
@pytest.mark.parametrize("quantity", units.QUANTITIES)
@settings(deadline=None, max_examples=60)
@given(value=st.floats(-1e6, 1e6))
def test_a_shown_value_typed_back_in_is_shown_the_same(
    quantity: str, system: units.UnitSystem, value: float
) -> None:
    shown = format_value(value, quantity, system)
    number = shown.removesuffix(units.unit_label(quantity, system))
    typed = float(number.replace(" ", "").replace("−", "-"))
    back = float(units.to_si(typed, quantity, system))
    assert format_value(back, quantity, system) == shown


@pytest.mark.parametrize("quantity", units.QUANTITIES)
@settings(deadline=None, max_examples=60)
@given(value=st.floats(-1e9, 1e9))
def test_conversion_there_and_back_keeps_every_digit(quantity: str, value: float) -> None:
    there = units.from_si(value, quantity, "us")
    assert float(units.to_si(there, quantity, "us")) == pytest.approx(value, rel=1e-15, abs=1e-300)


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


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("slew 85.7°, radius 13.24 m", "slew 85.7°, radius 43.44 ft"),
        ("take 1.65 t off the hook", "take 3 638 lb off the hook"),
        ("lift only below 9.8 m/s", "lift only below 21.9 mph"),
        ("centre ±0.05, ±0.05, ±0.10 m (x, y)", "centre ±0.16, ±0.16, ±0.33 ft (x, y)"),
        ("1.8 m x 1.2 m, pin 22 mm", "5.91 ft x 3.94 ft, pin 0.87 in"),
        ("FL 1.80 m of 3.20 m", "FL 5.91 ft of 10.50 ft"),
        ("139 kN on 0.81 m², 1 005.5 kPa", "31.2 kip on 8.7 ft², 21 000 psf"),
        ("−1.20 m level; 5 kNm", "−3.94 ft level; 3.7 kip·ft"),
        ("2 to 3 m", "6.56 to 9.84 ft"),
        ("legs 3.20 / 3.20 / 1.80 m", "legs 10.50 / 10.50 / 5.91 ft"),
        ("33.50 m E, 21.50 m N", "109.91 ft E, 70.54 ft N"),
    ],
)
def test_quantities_in_a_sentence_are_shown_in_us_units(text: str, shown: str) -> None:
    assert text_in_units(text, "us") == shown
    assert text_in_units(text, "metric") == text


@pytest.mark.parametrize(
    "text",
    [
        "29 CFR 1926.1408 Table A; 33 kV",
        "v = v_chart √(1.2 m / (A c))",
        "sling wire-6m-20, step 3 of 208, 10 % added, 85.7°",
        "within 6.10 m (20 ft)",
        "10 minute mean, 12 months, 4 mats, 3 tonnes of it",
        "E 300 MPa, 25 kN/m, 7 t/m³",
    ],
)
def test_what_is_no_quantity_or_already_in_both_units_is_left_alone(text: str) -> None:
    assert text_in_units(text, "us") == text


def test_a_name_given_by_the_user_is_shown_as_it_stands() -> None:
    text = "Hardwood mat 1.8 m x 1.8 m, 2 m from the edge"
    assert text_in_units(text, "us", keep=["Hardwood mat 1.8 m x 1.8 m", ""]) == (
        "Hardwood mat 1.8 m x 1.8 m, 6.56 ft from the edge"
    )


@settings(deadline=None, max_examples=200)
@given(value=st.floats(0, 1e5), digits=st.integers(0, 3), unit=st.sampled_from(["m", "t", "kN"]))
def test_a_number_in_a_sentence_loses_nothing_by_being_shown_in_us_units(
    value: float, digits: int, unit: str
) -> None:
    quantity = {"m": "length_m", "t": "mass_t", "kN": "force_kN"}[unit]
    written = f"{value:.{digits}f}"
    number = text_in_units(f"at {written} {unit}", "us").removeprefix("at ").rpartition(" ")[0]
    back = float(units.to_si(float(number.replace(" ", "")), quantity, "us"))
    assert f"{back:.{digits}f}" == written


def test_a_text_in_an_unknown_system_is_refused() -> None:
    with pytest.raises(InputError, match="system"):
        text_in_units("1 m", "US")  # type: ignore[arg-type]
