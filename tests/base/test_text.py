"""Texts of quantities: one rounding, the safe side of a limit, exact values in sentences."""

from __future__ import annotations

import math
import re
import sys
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.base.foreign import visible
from liftcalc.base.text import DECIMALS, Safe, amount, format_value, text_in_units
from liftcalc.base.units import QUANTITIES, UnitSystem, to_si


def number_in(text: str) -> float:
    """The number that a shown text begins with."""
    match = re.match(r"−?[\d\u2009,]+(?:\.\d+)?", text)
    assert match
    return float(re.sub("[\u2009,]", "", match.group()).replace("−", "-"))


def test_every_quantity_has_its_rounding() -> None:
    assert set(DECIMALS) == set(QUANTITIES)


@pytest.mark.parametrize(
    ("value", "quantity", "units", "safe", "shown"),
    [
        (12345.678, "pressure_kPa", "metric", "", "12\u2009345.7 kPa"),
        (13.2427, "length_m", "metric", "", "13.24 m"),
        (13.2427, "length_m", "us", "", "43.45 ft"),
        (13.2427, "length_m", "us", "down", "43.44 ft"),
        (13.2427, "length_m", "metric", "up", "13.25 m"),
        (1.801, "extension_m", "metric", "", "1.81 m"),
        (5.05, "mass_t", "us", "down", "11,133 lb"),
        (-115.7, "slew_deg", "metric", "", "244.3°"),
        (359.97, "slew_deg", "us", "", "0.0°"),
        (720.0, "slew_deg", "metric", "", "0.0°"),
        (-0.001, "length_m", "metric", "", "0.00 m"),
        (-1.2, "length_m", "metric", "", "−1.20 m"),
        (4.0, "count", "us", "", "4"),
        (None, "mass_t", "metric", "", "–"),
        (math.nan, "mass_t", "metric", "", "–"),
    ],
)
def test_a_value_is_shown(value: float | None, quantity: str, units: UnitSystem, safe: Safe, shown: str) -> None:
    assert format_value(value, quantity, units, safe) == shown


@given(
    value=st.floats(0.001, 1e5),
    quantity=st.sampled_from(sorted(set(QUANTITIES) - {"slew_deg", "extension_m"})),
    units=st.sampled_from(["metric", "us"]),
)
def test_a_limit_is_rounded_to_its_safe_side(value: float, quantity: str, units: UnitSystem) -> None:
    low, high = (
        float(to_si(number_in(format_value(value, quantity, units, side)), quantity, units)) for side in ("down", "up")
    )
    slack = 1e-6 * float(to_si(10.0 ** -DECIMALS[quantity][units == "us"], quantity, units))
    assert low <= value + 1.1 * slack
    assert high >= value - 1.1 * slack


@given(value=st.floats(-1e5, 1e5), units=st.sampled_from(["metric", "us"]))
def test_a_sentence_shows_what_a_table_shows(value: float, units: UnitSystem) -> None:
    for quantity in QUANTITIES:
        sentence = f"at {amount(value, quantity)}, no more"
        assert text_in_units(sentence, units) == f"at {format_value(value, quantity, units)}, no more"


def test_a_mark_keeps_its_safe_side_and_its_exact_value() -> None:
    text = f"radius {amount(13.2427, 'length_m', 'down')}, slew {amount(-30.0, 'slew_deg')}"
    assert text_in_units(text, "metric") == "radius 13.24 m, slew 330.0°"
    assert text_in_units(text, "us") == "radius 43.44 ft, swing 330.0°"


def test_an_unknown_quantity_or_system_is_refused() -> None:
    with pytest.raises(InputError, match="quantity is 'length_ft'"):
        amount(1.0, "length_ft")
    with pytest.raises(InputError, match="system"):
        text_in_units("", "imperial")  # type: ignore[arg-type]


def test_names_of_the_facts_keep_their_words() -> None:
    text = "centre of the mat; zone centre yard, slew"
    assert text_in_units(text, "us", keep=["zone centre yard"]) == ("center of the mat; zone centre yard, swing")


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("a\x1b[2J\x07\x00", "a\\u001b[2J\\u0007\\u0000"),
        ("\x85\x9b1m", "\\u0085\\u009b1m"),
        ("a\nb\r\t\u2028\u2029", "a\\u000ab\\u000d\\u0009\\u2028\\u2029"),
        ("\u202eABC\u2066\u200f", "\\u202eABC\\u2066\\u200f"),
        ("x\u200bx\u200d\ufeff\u00ad", "x\\u200bx\\u200d\\ufeff\\u00ad"),
        ("\ue000\u0378\udcff\ufffe", "\\ue000\\u0378\\udcff\\ufffe"),
        ("\U000e0041\U0010ffff", "\\U000e0041\\U0010ffff"),
        ("\u3164\u115f\ufe0f\u2800\u034f", "\\u3164\\u115f\\ufe0f\\u2800\\u034f"),
        ("Größe 日本 10\u2009000 kN\u00a0−2 é̂ 🏗", "Größe 日本 10\u2009000 kN\u00a0−2 é̂ 🏗"),
        (7, "7"),
    ],
)
def test_foreign_text_shows_what_acts_or_hides(text: object, shown: str) -> None:
    assert visible(text) == shown


def test_every_sign_of_unicode_is_seen_or_shown_as_its_number() -> None:
    for number in range(sys.maxunicode + 1):
        sign = chr(number)
        hides = unicodedata.category(sign)[0] == "C" or unicodedata.category(sign) in ("Zl", "Zp")
        assert not hides or visible(sign) == visible(visible(sign)) != sign, hex(number)
