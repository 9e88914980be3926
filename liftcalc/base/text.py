"""Numbers and sentences as they are printed, and the cautions that go with all of them.

A sentence (where a check governs, its remedy) is made once, in British English, with each quantity as a mark that
carries its exact value (:func:`amount`). A page shows the mark in its own units with the one rounding of that quantity,
and the sentence in the words that go with those units (:mod:`liftcalc.base.words`). Names that the user gave are shown
as they stand, and so are citations, which the caller keeps away.

Sources: the factors of :mod:`liftcalc.base.units`.
"""

import functools
import math
import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from string import Formatter
from typing import Any, Literal, Protocol, cast

from liftcalc.base.units import QUANTITIES, UnitSystem, from_si, quantity_rows, unit_label
from liftcalc.base.words import has_british_word, us_words

CAUTIONS: tuple[str, ...] = (
    "Planning aid. It does not replace the manufacturer's rated capacity chart or the rated "
    "capacity limiter of the machine; where they differ from this sheet, they govern.",
    "Local codes, the owner's rules and the decision of a competent (where required, licensed) "
    "person govern over this sheet.",
    "Valid only for the facts listed on it. Anything that differs on site (machine, layout, "
    "ground, load, wind, obstacles) needs a new sheet before the lift.",
    "What is not on the sheet has not been checked.",
)
"""On every sheet and panel."""

CAUTION_LINE = (
    "Planning aid. The manufacturer's rated capacity chart and the rated capacity limiter govern; "
    "local codes and a competent person decide."
)
"""The same in one line, on whatever else can be handed on."""

SCOPE_LINE = "This sheet alone. Do not lift unless every sheet of the lift is within limits."
"""Under the verdict of a sheet that is one of several of a lift."""

INVENTED_LINE = "INVENTED for demonstration: no real site, machine, load or manufacturer."
"""On every page and list of a job that is invented."""

DECIMALS: dict[str, tuple[int, int]] = {
    row["quantity"]: (int(row["decimals_metric"]), int(row["decimals_us"])) for row in quantity_rows
}
"""The one rounding of each quantity, wherever it is shown. Columns: quantity | decimals, metric |
decimals, US."""

Safe = Literal["", "up", "down"]
"""To which side a limit is rounded, in the unit in which it is shown; "" is to the nearest."""

_MARK = re.compile(r"⟦([^ ⟧]+) (\w+) ?(up|down)?⟧")


class Show(Protocol):
    """Text of a value and its quantity in the units of a page, as a table cell."""

    def __call__(self, value: float | None, quantity: str, safe: Safe = "") -> str:
        """The text."""
        ...


def format_value(value: float | None, quantity: str, units: UnitSystem = "metric", safe: Safe = "") -> str:
    """Text of a value in the package's unit, converted and rounded for display; a dash if none.

    An ``extension_m`` is rounded up: whoever sets an outrigger as printed is never short. A ``slew_deg`` is shown from
    0 to 360 degrees. Thousands are separated by a thin space, in US units by a comma.

    Parameters:
      value: float or None. In the package's own unit; one that is not finite is a dash.
      quantity: A key of ``QUANTITIES``.
      units: {"metric", "us"}
      safe: {"", "up", "down"}. The side to which a limit is rounded.
    """
    if value is None or not math.isfinite(value):
        return "–"
    decimals = DECIMALS[quantity][1 if units == "us" else 0]
    shown = float(from_si(value, quantity, units))
    step = 10.0**decimals
    if safe == "up" or quantity == "extension_m":
        shown = math.ceil(shown * step - 1e-6) / step
    elif safe == "down":
        shown = math.floor(shown * step + 1e-6) / step
    if quantity == "slew_deg":
        shown = round(shown % 360.0, decimals) % 360.0
    number = f"{round(shown, decimals) + 0.0:,.{decimals}f}".replace("-", "−")
    if units != "us":
        number = number.replace(",", "\u2009")
    label = unit_label(quantity, units)
    return f"{number}{'' if label in ('', '°') else ' '}{label}"


def amount(value: float, quantity: str, safe: Safe = "") -> str:
    """A mark that carries an exact value in a sentence, until a page shows it in its own units.

    Parameters:
      value: float. In the package's own unit.
      quantity: A key of ``QUANTITIES``.
      safe: {"", "up", "down"}. The side to which a limit is rounded.
    """
    unit_label(quantity, "metric")
    return f"⟦{float(value)!r} {quantity}{' ' if safe else ''}{safe}⟧"


class _Slots(Formatter):
    def __init__(self, show: Callable[..., str]) -> None:
        self.show = show

    def format_field(self, value: Any, format_spec: str) -> str:
        quantity, _, safe = format_spec.partition(" ")
        if quantity in QUANTITIES:
            return self.show(float(value), quantity, cast(Safe, safe))
        return format(value, format_spec)


def filled(texts: Iterable[str], words: Mapping[str, Any], show: Callable[..., str] = amount) -> tuple[str, ...]:
    """Texts with each ``{word}`` filled in; ``{word:length_m up}`` is a value in that quantity.

    Parameters:
      texts: iterable of str. With slots.
      words: mapping. What the slots stand for, by name.
      show: optional. Text of a value in a quantity; by default its mark.
    Returns: tuple of str.
    Raises: KeyError: A word that is not given.
    Source: none, text only.
    """
    slots = _Slots(show)
    return tuple(slots.vformat(text, (), words) if "{" in text else text for text in texts)


def text_in_units(text: str, system: UnitSystem, *, keep: Collection[str] = ()) -> str:
    """A sentence with its quantities in the display units, and in the words that go with them.

    Parameters:
      text: British English; quantities as marks of :func:`amount`.
      system: {"metric", "us"}.
      keep: collection of str. Names that the facts give: no word in them is replaced.
    Raises: A system of another name.
    """
    unit_label("length_m", system)
    return quantities_in_units(_in_us(text, keep) if system == "us" else text, system)


def quantities_in_units(text: str, system: UnitSystem) -> str:
    """A citation with its marks of :func:`amount` in the display units; its words stay.

    Parameters:
      text: With or without marks.
      system: {"metric", "us"}.
    Returns: str.
    Source: none, text only.
    """
    return _MARK.sub(lambda m: format_value(float(m[1]), m[2], system, cast(Safe, m[3] or "")), text)


@functools.lru_cache(maxsize=64)
def _keeping(keep: frozenset[str]) -> re.Pattern[str] | None:
    names = {n for n in keep if n and has_british_word(n)}
    longest_first = sorted(names, key=lambda n: (-len(n), n))
    return re.compile(f"({'|'.join(map(re.escape, longest_first))})") if names else None


def _in_us(text: str, keep: Collection[str]) -> str:
    names = _keeping(frozenset(keep))
    parts = names.split(text) if names else [text]
    return "".join(part if n % 2 else us_words(part) for n, part in enumerate(parts))


def text_table(rows: Sequence[Sequence[str]], *, ruled: bool = False) -> list[str]:
    """Rows as lines in which the columns stand below one another.

    Parameters:
      rows: sequence of rows of equally many cells; the first row may be the heads.
      ruled: Whether a rule is drawn below the first row.
    """
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lines = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]
    rule = ["  ".join("-" * width for width in widths)] if ruled else []
    return [*lines[:1], *rule, *lines[1:]]
