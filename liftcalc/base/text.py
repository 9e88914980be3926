"""Numbers and sentences as they are printed, and the cautions that go with all of them.

Sentences (where a check governs, what would help) are made once, in SI, and archived so. Shown in
US customary units, each number that stands before a unit is converted there; a number is never
shown coarser than it was written, so that no digit is lost. Names that the user gave (a mat called
"1.8 m x 1.8 m") are shown as they stand, and so are citations, which the caller keeps away.

Sources: the factors of :mod:`liftcalc.base.units`.
"""

import math
import re
from collections.abc import Callable, Collection, Sequence

from liftcalc.base.units import QUANTITIES, UnitSystem, from_si, unit_label

Show = Callable[[float | None, str], str]
"""Text of a value and its quantity in the units of a page: what a table of a sheet is made with."""

CAUTIONS: tuple[str, ...] = (
    "Planning aid. It does not replace the maker's rated capacity chart or the rated capacity "
    "limiter of the machine; where they differ from this sheet, they govern.",
    "Local codes, the owner's rules and the decision of a competent (where required, licensed) "
    "person govern over this sheet.",
    "Valid only for the facts listed on it. Anything that differs on site (machine, layout, "
    "ground, load, wind, obstacles) needs a new sheet before the lift.",
    "What is not on the sheet has not been checked.",
)
"""On every sheet and panel."""

CAUTION_LINE = (
    "Planning aid. The maker's rated capacity chart and the rated capacity limiter govern; "
    "local codes and a competent person decide."
)
"""The same in one line, on whatever else can be handed on."""

_DECIMALS: dict[str, tuple[int, int]] = {
    "length_m": (2, 2),
    "extension_m": (2, 2),
    "small_length_mm": (0, 2),
    "area_m2": (2, 1),
    "mass_t": (2, 0),
    "force_kN": (1, 1),
    "moment_kNm": (0, 0),
    "pressure_kPa": (1, 0),
    "unit_weight_kN_m3": (1, 1),
    "speed_m_s": (1, 1),
    "angle_deg": (1, 1),
    "ratio": (2, 2),
    "percent": (1, 1),
    "voltage_kV": (1, 1),
}

_QUANTITY = {
    "m": "length_m",
    "mm": "small_length_mm",
    "m²": "area_m2",
    "t": "mass_t",
    "kN": "force_kN",
    "kNm": "moment_kNm",
    "kPa": "pressure_kPa",
    "kN/m³": "unit_weight_kN_m3",
    "m/s": "speed_m_s",
}
_LEAST_DECIMALS = {
    "length_m": 2,
    "small_length_mm": 2,
    "area_m2": 1,
    "force_kN": 1,
    "unit_weight_kN_m3": 1,
    "speed_m_s": 1,
}
_NUMBER = r"[±+−-]?\d{1,3}(?: \d{3})+(?:\.\d+)?|[±+−-]?\d+(?:\.\d+)?"
_JOIN = r", ±?| to | and | or | x | × | ?/ ?|–"
_QUANTITIES = re.compile(
    rf"(?<![\w.-])(?P<numbers>(?:{_NUMBER})(?:(?:{_JOIN})(?:{_NUMBER}))*)[  ]"
    rf"(?P<unit>{'|'.join(sorted(map(re.escape, _QUANTITY), key=len, reverse=True))})"
    r"(?![\w²³·^*]| ?/| \(\d[\d. ]* (?:ft|in|lb|kip|psf|mph)\b)"
)
_EACH = re.compile(_NUMBER)


def format_value(value: float | None, quantity: str, units: UnitSystem = "metric") -> str:
    """Text of a value in the package's unit, converted and rounded for display; a dash if none.

    An ``extension_m`` is rounded up: whoever sets an outrigger as printed is never short.

    Parameters:
      value: float or None. In the package's own unit.
      quantity: A key of ``QUANTITIES``.
      units: {"metric", "us"}
    """
    if value is None:
        return "–"
    decimals = _DECIMALS.get(quantity, (3, 3))[1 if units == "us" else 0]
    shown = float(from_si(value, quantity, units))
    if quantity == "extension_m":
        shown = math.ceil(shown * 10**decimals - 1e-6) / 10**decimals
    number = f"{shown:,.{decimals}f}".replace(",", " ")
    number = number.replace("-", "−")
    label = unit_label(quantity, units)
    return f"{number} {label}" if label else number


def _converted(number: str, quantity: str, system: UnitSystem) -> str:
    sign = number[0] if number[0] in "±+−-" else ""
    digits = number[len(sign) :].replace(" ", "")
    decimals = len(digits.partition(".")[2])
    step = 10.0**-decimals / QUANTITIES[quantity][2]
    shown = max(_LEAST_DECIMALS.get(quantity, 0), math.ceil(-math.log10(step) - 1e-9), 0)
    value = float(from_si(float(digits), quantity, system))
    return sign + f"{value:,.{shown}f}".replace(",", " ")


def text_in_units(text: str, system: UnitSystem, *, keep: Collection[str] = ()) -> str:
    """A sentence with its quantities in the display units.

    Parameters:
      text: In SI: numbers before "m", "mm", "m²", "t", "kN", "kNm", "kPa", "kN/m³" or "m/s", one
        space between; several numbers may share a unit ("2 to 3 m", "1.8 m x 1.8 m").
      system: {"metric", "us"}. Metric leaves the text as it is.
      keep: collection of str. Names in which nothing is converted.
    Returns: str
    Raises: A system of another name.
    """
    unit_label("length_m", system)
    if system == "metric":
        return text
    names = sorted({n for n in keep if n and _QUANTITIES.search(n)}, key=len, reverse=True)
    parts = re.split("(" + "|".join(map(re.escape, names)) + ")", text) if names else [text]

    def show(match: re.Match[str]) -> str:
        quantity = _QUANTITY[match["unit"]]
        numbers = _EACH.sub(lambda n: _converted(n[0], quantity, system), match["numbers"])
        return f"{numbers} {unit_label(quantity, system)}"

    return "".join(p if p in names else _QUANTITIES.sub(show, p) for p in parts)


def text_table(rows: Sequence[Sequence[str]], *, ruled: bool = False) -> list[str]:
    """Rows as lines in which the columns stand below one another.

    Parameters:
      rows: sequence of rows of equally many cells; the first row may be the heads.
      ruled: Whether a rule is drawn below the first row.
    """
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lines = [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]
    rule = ["  ".join("-" * width for width in widths)] if ruled else []
    return [*lines[:1], *rule, *lines[1:]]
