"""Whether a lift is critical, and every reason.

Sources: US Army Corps of Engineers EM 385-1-1 (30 November 2014), critical lift form 16-3 (seen: more than 75 % of the
rated capacity, more than one crane, load out of view, persons, unusual rigging, operator's belief) and its text on
changing centre of gravity, submerged and hazardous loads (second-hand, an excerpt without edition); British Columbia
OHSR 14.1 (seen: load over or between energised conductors). The share is the owner's: others use 80 to 90 %. Persons:
:mod:`liftcalc.lift.persons`.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import LineString

from liftcalc.base.errors import require_between, require_non_negative, require_positive
from liftcalc.crane.sectors import ESTIMATE
from liftcalc.lift.path import LoadPath
from liftcalc.lift.path_study import PathStudy
from liftcalc.lift.setup import Setup, to_site_m


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


def critical_lift(
    gross_load_t: float, rated_capacity_t: float, *, share_ratio: float, share_owner: str,
    cranes: int, persons: bool, out_of_sight: bool, crosses_line: bool, stated: Sequence[str],
) -> CriticalLift:  # fmt: skip
    """Whether a lift is critical: one trigger is enough. Above the share counts, at it does not.

    Parameters:
      gross_load_t: >= 0. Everything on the hook. [t]
      rated_capacity_t: > 0, or NaN where nothing is rated. Rated capacity at the step that governs;
        where none is rated the lift is critical. [t]
      share_ratio: 0 to 1. Share of the rated capacity above which the owner calls a lift critical.
      share_owner: Whose share it is.
      cranes: >= 1. Cranes that carry the load.
      persons, out_of_sight: Persons are lifted; the operator does not see the load all the way.
      crosses_line: The load passes over, under or between overhead conductors.
      stated: sequence of str. Further reasons that the plan states: unusual rigging, operator's belief and others.
    Returns: CriticalLift
    """
    gross = float(require_non_negative("gross_load_t", gross_load_t))
    rated = float(rated_capacity_t)
    if not np.isnan(rated):
        rated = float(require_positive("rated_capacity_t", rated))
    share = float(require_between("share_ratio", share_ratio, 0.0, 1.0))
    number = int(require_between("cranes", cranes, 1, 10))
    used = gross / rated
    corps = "EM 385-1-1 (2014), critical lift form 16-3"
    return CriticalLift(used, (
        (f"More than {100 * share:g} % of the rated capacity", not used <= share, share_owner),
        ("More than one crane", number > 1, corps),
        ("Persons lifted", bool(persons), f"{corps}; 29 CFR 1926.1431"),
        ("Blind lift: load out of the operator's view", bool(out_of_sight), corps),
        ("Load crosses an overhead line", bool(crosses_line), "BC OHSR 14.1 (h)"),
        *((reason[0].upper() + reason[1:], True, "lift list; EM 385-1-1") for reason in stated),
    ))  # fmt: skip


def critical_of(setup: Setup, study: PathStudy) -> CriticalLift:
    """Every reason for which the lift is critical."""
    rules, lift, k = setup.rules, setup.lift, study.governing_step
    reasons = ["unusual rigging" if lift.unusual_rigging else "", lift.critical_reason]
    # an estimate rates nothing
    rated = float(study.capacity.capacity_t[k]) if study.capacity.source[k] < ESTIMATE else np.nan
    return critical_lift(
        setup.gross_t, rated, share_ratio=rules.critical_share_percent / 100,
        share_owner=rules.critical_share_owner, cranes=1, persons=lift.persons,
        out_of_sight=lift.out_of_sight, crosses_line=bool(load_over_lines(setup, study.path)),
        stated=[reason for reason in reasons if reason],
    )  # fmt: skip


def load_over_lines(setup: Setup, path: LoadPath) -> tuple[str, ...]:
    """Overhead lines that the load comes over, under or between on its path, in plan.

    The load may be turned to any angle. A line that a document says is dead counts as well.

    Parameters:
      setup, path: Of the lift.
    Returns: tuple of str: ids of lines, and pairs of them with the load between; empty is no.
    Source: Plane geometry.
    """
    half = float(np.hypot(setup.lift.load.length_m, setup.lift.load.width_m)) / 2
    swept = LineString(to_site_m(path.hook_m, setup.lift)).buffer(half)
    lines = {x.id: LineString([p[:2] for p in x.points]) for x in setup.site.overhead_lines}
    pairs = (
        f"between {a} and {b}" for (a, one), (b, other) in itertools.combinations(lines.items(), 2)
        if swept.intersects(one.union(other).convex_hull)
    )  # fmt: skip
    return (*(id for id, line in lines.items() if swept.intersects(line)), *pairs)
