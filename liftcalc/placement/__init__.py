"""Where to stand: room for the legs, and the best stand points, headings and legs for a job.

Contents
--------
``ground``     allowed ground, what blocks, the machine's plan
``legroom``    what each leg may do at one stand: :func:`leg_ranges`
``fit``        the same for a whole grid of stand points at once
``capacity``   capacity as the search reads it; the lift as a task
``measure``    utilisation of places
``search``     the best places for every lift from one set-up: :func:`search`
``setups``     several set-ups, the margin over the site, Pareto table
``alternatives``  what would help a lift that fails where it stands
"""

from __future__ import annotations

from liftcalc.placement.alternatives import Alternative, alternatives, measured_place
from liftcalc.placement.capacity import CapacitySource, ChartCapacity, LiftTask
from liftcalc.placement.fit import FitMaps, StandGrid, fit_at_heading
from liftcalc.placement.ground import Blocker, StandingGround, StandingMachine, around
from liftcalc.placement.legroom import LegRanges, LegRoom, leg_ranges
from liftcalc.placement.measure import SearchProblem
from liftcalc.placement.search import (
    FullCheck,
    Rejected,
    SearchResult,
    StandPlace,
    StopAsked,
    search,
)
from liftcalc.placement.setups import (
    GroupCheck,
    MarginMap,
    Poses,
    SetupPlan,
    margin_map,
    pareto_plans,
    plan_setups,
)

__all__ = [
    "Alternative",
    "GroupCheck",
    "MarginMap",
    "SetupPlan",
    "alternatives",
    "margin_map",
    "measured_place",
    "pareto_plans",
    "plan_setups",
    "Blocker",
    "CapacitySource",
    "ChartCapacity",
    "FitMaps",
    "FullCheck",
    "LegRanges",
    "LegRoom",
    "LiftTask",
    "Rejected",
    "SearchProblem",
    "SearchResult",
    "StandGrid",
    "StandPlace",
    "StopAsked",
    "Poses",
    "StandingGround",
    "StandingMachine",
    "around",
    "fit_at_heading",
    "leg_ranges",
    "search",
]
