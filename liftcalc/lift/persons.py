"""Check rows of a lift of persons.

A greater distance to overhead lines stands in the rows of the lines.

Sources: US 29 CFR 1926.1431, levelling and legs (c) seen, wind (k)(8) seen as quoted on public
pages, half of the rated capacity seen in a state rule (WAC 296-155-55115).
"""

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.crane.sectors import ESTIMATE, OWN, SOURCES, CapacityBySlew
from liftcalc.lift.check_rows import check_row
from liftcalc.lift.path import LoadPath
from liftcalc.lift.setup import Setup

PERSONS_CAPACITY_SHARE = 0.5
"""Persons: load over rated capacity at most, 29 CFR 1926.1431."""
PERSONS_SLOPE_PERCENT = 1.0
"""Persons: out of level at most, 29 CFR 1926.1431. [%]"""
PERSONS_GUST_M_S = 20.0 * 0.44704
"""20 mph: above it a qualified person decides, which no calculation can stand for."""


def person_checks(
    setup: Setup, path: LoadPath, capacity: CapacityBySlew, *, governing_step: int,
    slope_percent: float, gust_m_s: float,
) -> list[Check]:  # fmt: skip
    """Level, legs, base, half of the rated capacity and wind, while persons are lifted.

    A rating counts only where the legs stand as a chart of the manufacturer's is made for: not
    carried over, with or without a confirmation, nor stepped down from a larger base.
    """
    elsewhere, where = np.flatnonzero(capacity.source != OWN), ""
    if elsewhere.size:  # the first of these steps, and what rates it
        first = int(elsewhere[0])
        where = f"{path.describe(first)}: {SOURCES[int(capacity.source[first])]}"
    gust, legs = PERSONS_GUST_M_S, len(set(setup.lift.legs.as_tuple()))
    half = float(capacity.capacity_t[governing_step]) * PERSONS_CAPACITY_SHARE
    # an estimate rates nothing
    rated = not np.isnan(half) and capacity.source[governing_step] < ESTIMATE
    return [
        check_row("persons-level", slope_percent, PERSONS_SLOPE_PERCENT),
        check_row("persons-legs", float(legs), 1.0),
        check_row("persons-base", float(elsewhere.size), 0.0, first=where),
        check_row("persons-wind", gust_m_s, gust, most=gust),
        check_row("persons-capacity", setup.gross_t if rated else None, half if rated else None,
                  step=path.describe(governing_step)),
    ]  # fmt: skip
