"""What the rules make of a lift: whether it is critical, and whether persons may be lifted.

Contents
--------
``critical_lift``   every reason for which a lift is critical (:class:`CriticalLift`)
``persons_rule``    what a lift of persons must satisfy (:class:`PersonsRule`)

Sources: Critical lift: US Army Corps of Engineers EM 385-1-1 critical lift form 16-3 (seen: more
than 75 % of the rated capacity, more than one crane, load out of view, persons, unusual rigging,
operator's belief) and its text on changing centre of gravity, submerged and hazardous loads (seen
in an excerpt); British Columbia OHSR 14.1 (seen: load over or between energised conductors). The
share is the owner's: others use 80 to 90 %. Persons: US 29 CFR 1926.1431, levelling and legs (c)
seen, wind (k)(8) seen as quoted on public pages, half of the rated capacity seen in a state rule
(WAC 296-155-55115), distance to overhead lines (n) from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.errors import require_between, require_non_negative, require_positive

__all__ = [
    "PERSONS_CAPACITY_SHARE",
    "PERSONS_GUST_M_S",
    "PERSONS_SLOPE_PERCENT",
    "CriticalLift",
    "PersonsRule",
    "critical_lift",
    "persons_rule",
]

PERSONS_CAPACITY_SHARE = 0.5
PERSONS_SLOPE_PERCENT = 1.0
PERSONS_GUST_M_S = 20.0 * 0.44704
"""20 mph: above it a qualified person decides, which no calculation can stand for."""


@dataclass(frozen=True)
class CriticalLift:
    """Whether a lift is critical, and every reason."""

    used_ratio: float
    """Gross load over rated capacity; NaN where nothing is rated."""
    triggers: tuple[tuple[str, bool, str], ...]
    """Each trigger: what is asked, whether it applies, who asks it."""

    @property
    def critical(self) -> bool:
        """True where any trigger applies."""
        return any(applies for _, applies, _ in self.triggers)


@dataclass(frozen=True)
class PersonsRule:
    """Each demand on a lift of persons, True where it is met."""

    load_within_half: bool
    level: bool
    legs_equal: bool
    on_chart_base: bool
    calm: bool

    @property
    def allowed(self) -> bool:
        """True where every demand is met."""
        return (
            self.load_within_half
            and self.level
            and self.legs_equal
            and self.on_chart_base
            and self.calm
        )


def critical_lift(
    gross_load_t: float,
    rated_capacity_t: float,
    *,
    share_ratio: float,
    share_owner: str,
    cranes: int,
    persons: bool,
    out_of_sight: bool,
    crosses_line: bool,
    stated: Sequence[str],
) -> CriticalLift:
    """Whether a lift is critical: one trigger is enough. Above the share counts, at it does not.

    Parameters:
      gross_load_t: float, >= 0. Everything on the hook. [t]
      rated_capacity_t: float, > 0, or NaN where nothing is rated. Rated capacity at the step that
        governs; where none is rated the lift is critical. [t]
      share_ratio: float, 0 to 1. Share of the rated capacity above which the owner calls a lift
        critical.
      share_owner: str. Whose share it is.
      cranes: int, >= 1. Cranes that carry the load.
      persons, out_of_sight: bool. Persons are lifted; the operator does not see the load all the
        way.
      crosses_line: bool. The load passes over, under or between overhead conductors.
      stated: sequence of str. Further reasons that the plan states: unusual rigging, operator's
        belief and others.
    Returns: CriticalLift
    """
    gross = float(require_non_negative("gross_load_t", gross_load_t))
    rated = float(rated_capacity_t)
    if not np.isnan(rated):
        rated = float(require_positive("rated_capacity_t", rated))
    share = float(require_between("share_ratio", share_ratio, 0.0, 1.0))
    number = int(require_between("cranes", cranes, 1, 10))
    used = gross / rated
    corps = "EM 385-1-1, critical lift form 16-3"
    return CriticalLift(
        used,
        (
            (f"More than {100 * share:g} % of the rated capacity", not used <= share, share_owner),
            ("More than one crane", number > 1, corps),
            ("Persons lifted", bool(persons), f"{corps}; 29 CFR 1926.1431"),
            ("Load out of the operator's view", bool(out_of_sight), corps),
            ("Load crosses an overhead line", bool(crosses_line), "BC OHSR 14.1 (h)"),
            *((reason[0].upper() + reason[1:], True, "lift list; EM 385-1-1") for reason in stated),
        ),
    )


def persons_rule(
    suspended_load_t: float,
    rated_capacity_t: float,
    *,
    slope_percent: float,
    leg_extension_m: ArrayLike,
    chart_base: bool,
    gust_m_s: float,
) -> PersonsRule:
    """What a lift of persons must satisfy; distances to overhead lines are in ``powerline``.

    At most half of the rated capacity; within 1 % of level; every leg extended by the same amount
    and locked; not above 20 mph of wind, sustained or gusts.

    Parameters:
      suspended_load_t: float, >= 0. Everything on the hook. [t]
      rated_capacity_t: float, > 0, or NaN where nothing is rated. [t]
      slope_percent: float, >= 0. Steepest slope of the machine. [%]
      leg_extension_m: array_like. Extension of each leg. [m]
      chart_base: bool. The legs stand as one of the manufacturer's charts is made for: a rating
        that is carried over to another base, even with the manufacturer's word, does not count.
      gust_m_s: float, >= 0. Gust at the boom head. [m/s]
    Returns: PersonsRule
    """
    load = float(require_non_negative("suspended_load_t", suspended_load_t))
    rated = float(rated_capacity_t)
    if not np.isnan(rated):
        rated = float(require_positive("rated_capacity_t", rated))
    legs = np.asarray(require_positive("leg_extension_m", leg_extension_m))
    return PersonsRule(
        load_within_half=load <= PERSONS_CAPACITY_SHARE * rated,
        level=float(require_non_negative("slope_percent", slope_percent)) <= PERSONS_SLOPE_PERCENT,
        legs_equal=bool(np.ptp(legs) == 0),
        on_chart_base=bool(chart_base),
        calm=float(require_non_negative("gust_m_s", gust_m_s)) <= PERSONS_GUST_M_S,
    )
