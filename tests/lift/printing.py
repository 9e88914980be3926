"""Numbers as a sheet prints them."""

from __future__ import annotations

import re

from liftcalc.base.checks import Check
from liftcalc.base.text import Safe, Show, format_value
from liftcalc.base.units import UnitSystem
from liftcalc.records.blocks import check_table, in_units


def printed_in(units: UnitSystem) -> Show:
    """How a sheet in these units prints a value, rounded to the side that is asked for."""

    def printed(value: float | None, quantity: str, safe: Safe = "") -> str:
        return format_value(value, quantity, units, safe)

    return printed


def rows_by_title(checks: list[Check]) -> dict[str, list[str]]:
    """Value, limit without its sign, utilisation and state of the check table by title."""
    rows = {}
    for row in in_units(check_table(checks), "metric")["rows"]:
        title, _, value, limit, used, state, _ = row
        rows[title] = [value, re.sub("^[≤≥] |^estimate ", "", limit), used, state]
    assert len(rows) == len(checks), "two checks have one title"
    return rows
