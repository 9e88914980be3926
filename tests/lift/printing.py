"""Numbers as a sheet prints them."""

from __future__ import annotations

from liftcalc.base.text import Safe, Show, format_value
from liftcalc.base.units import UnitSystem


def printed_in(units: UnitSystem) -> Show:
    """How a sheet in these units prints a value, rounded to the side that is asked for."""

    def printed(value: float | None, quantity: str, safe: Safe = "") -> str:
        return format_value(value, quantity, units, safe)

    return printed
