"""Check rows of a lift of persons.

Contents: :func:`person_checks`. The rule is :func:`liftcalc.lift.lift_class.persons_rule`; a
greater distance to overhead lines stands in the rows of the lines. Sources beside each row.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from liftcalc.base.checks import Check, limit_check, no_data_check
from liftcalc.crane.capacity import ESTIMATE, SOURCES, CapacityBySlew
from liftcalc.crane.sectors import OWN
from liftcalc.lift.lift_class import PERSONS_CAPACITY_SHARE, PERSONS_GUST_M_S, PERSONS_SLOPE_PERCENT
from liftcalc.lift.path import LoadPath
from liftcalc.lift.setup import Setup

__all__ = ["person_checks"]

_RULE = "29 CFR 1926.1431"


def _first(path: LoadPath, capacity: CapacityBySlew, steps: NDArray[np.intp]) -> str:
    """The first of the steps, and what rates it; empty where there is none."""
    if not steps.size:
        return ""
    return f"{path.describe(int(steps[0]))}: {SOURCES[int(capacity.source[steps[0]])]}"


def person_checks(
    setup: Setup,
    path: LoadPath,
    capacity: CapacityBySlew,
    *,
    governing_step: int,
    slope_percent: float,
    gust_m_s: float,
) -> list[Check]:
    """Level, legs, base, half of the rated capacity and wind, while persons are lifted.

    A rating counts only where the legs stand as a chart of the manufacturer's is made for: not
    carried over, with or without a confirmation, nor stepped down from a larger base.
    """
    elsewhere = np.flatnonzero(capacity.source != OWN)
    rows = [
        limit_check(
            "persons-level",
            "Out-of-level while persons are lifted",
            value=slope_percent,
            limit=PERSONS_SLOPE_PERCENT,
            quantity="percent",
            reference=f"{_RULE}(c)",
            remedy="Level the machine.",
        ),
        limit_check(
            "persons-legs",
            "Different extensions of the legs while persons are lifted",
            value=float(len(set(setup.lift.legs.as_tuple()))),
            limit=1.0,
            quantity="ratio",
            reference=f"{_RULE}(c)",
            remedy="Set every leg to the same extension and lock it.",
        ),
        limit_check(
            "persons-base",
            "Steps of the path without a chart made for this very base, while persons are lifted",
            value=float(elsewhere.size),
            limit=0.0,
            quantity="ratio",
            reference=f"{_RULE}; 1926.1404(q): legs as the manufacturer's chart provides",
            where=_first(path, capacity, elsewhere),
            remedy="Persons are lifted only on a base that a chart of the manufacturer's is made "
            "for; a rating carried over does not count.",
        ),
        limit_check(
            "persons-wind",
            "Gust at the boom head while persons are lifted",
            value=gust_m_s,
            limit=PERSONS_GUST_M_S,
            quantity="speed_m_s",
            reference=f"{_RULE}(k)(8), 20 mph: above it a qualified person decides",
            remedy="Lift no persons above 20 mph (8.9 m/s), gusts included.",
        ),
    ]
    title = "Gross load to half the rated capacity while persons are lifted"
    where = path.describe(governing_step)
    half = float(capacity.capacity_t[governing_step]) * PERSONS_CAPACITY_SHARE
    if np.isnan(half) or capacity.source[governing_step] >= ESTIMATE:
        rows.append(
            no_data_check(
                "persons-capacity",
                title,
                quantity="mass_t",
                reference=_RULE,
                where=where,
                remedy="Persons are lifted only where the manufacturer's chart rates the step.",
            )
        )
    else:
        rows.append(
            limit_check(
                "persons-capacity",
                title,
                value=setup.gross_t,
                limit=half,
                quantity="mass_t",
                reference=f"{_RULE}; WAC 296-155-55115(4)(c)",
                where=where,
                remedy="Use a larger machine or a smaller radius.",
            )
        )
    return rows
