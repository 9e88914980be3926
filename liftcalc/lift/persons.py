"""Check rows of a lift of persons.

A greater distance to overhead lines stands in the rows of the lines.

Sources: US 29 CFR 1926.1431, levelling and legs (c) seen, wind (k)(8) seen as quoted on public
pages, half of the rated capacity seen in a state rule (WAC 296-155-55115).
"""

import numpy as np

from liftcalc.base.checks import Check, limit_check, no_data_check
from liftcalc.base.text import amount
from liftcalc.crane.sectors import ESTIMATE, OWN, SOURCES, CapacityBySlew
from liftcalc.lift.path import LoadPath
from liftcalc.lift.setup import Setup

PERSONS_CAPACITY_SHARE = 0.5
"""Persons: load over rated capacity at most, 29 CFR 1926.1431."""
PERSONS_SLOPE_PERCENT = 1.0
"""Persons: out of level at most, 29 CFR 1926.1431. [%]"""
PERSONS_GUST_M_S = 20.0 * 0.44704
"""20 mph: above it a qualified person decides, which no calculation can stand for."""
_RULE = "29 CFR 1926.1431"


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
    return [
        limit_check(
            "persons-level", "Out of level, persons lifted", value=slope_percent,
            limit=PERSONS_SLOPE_PERCENT, quantity="percent", reference=f"{_RULE}(c)",
            remedy="Level the crane.",
        ),
        limit_check(
            "persons-legs", "Different outrigger extensions, persons lifted",
            value=float(len(set(setup.lift.legs.as_tuple()))), limit=1.0, quantity="count",
            reference=f"{_RULE}(c)",
            remedy="Set every outrigger to the same extension and lock it.",
        ),
        limit_check(
            "persons-base",
            "Steps without a chart made for this base, persons lifted",
            value=float(elsewhere.size), limit=0.0, quantity="count",
            reference=f"{_RULE}; 1926.1404(q): outriggers as the manufacturer's chart provides",
            where=where,
            remedy="Persons are lifted only on a base that a chart of the manufacturer's is made "
            "for; a rating applied to another base does not count.",
        ),
        limit_check(
            "persons-wind", "Gust at the boom head, persons lifted", value=gust_m_s,
            limit=PERSONS_GUST_M_S, quantity="speed_m_s",
            reference=f"{_RULE}(k)(8), 20 mph: above it a qualified person decides",
            remedy="Lift no persons in gusts above "
            f"{amount(PERSONS_GUST_M_S, 'speed_m_s', 'down')} at the boom head.",
        ),
        _capacity_check(setup, path, capacity, governing_step),
    ]  # fmt: skip


def _capacity_check(setup: Setup, path: LoadPath, capacity: CapacityBySlew, step: int) -> Check:
    """Half of the rated capacity at the step that governs; an estimate rates nothing."""
    half = float(capacity.capacity_t[step]) * PERSONS_CAPACITY_SHARE
    title = "Gross load / half the rated capacity, persons lifted"
    if np.isnan(half) or capacity.source[step] >= ESTIMATE:
        return no_data_check(
            "persons-capacity", title, quantity="mass_t", reference=_RULE,
            where=path.describe(step),
            remedy="Persons are lifted only where the manufacturer's chart rates the step.",
        )  # fmt: skip
    return limit_check("persons-capacity", title, value=setup.gross_t, limit=half,
                       quantity="mass_t", reference=f"{_RULE}; WAC 296-155-55115(4)(c)",
                       where=path.describe(step),
                       remedy="Use a larger crane or a smaller radius.")  # fmt: skip
