"""Where to stand: room for the legs, and the best stand points, headings and legs for a job.

Contents
--------
``ground``     allowed ground, what blocks, the machine's plan
``legroom``    what each leg may do at one stand: :func:`leg_ranges`
``fit``        the same for a whole grid of stand points at once
``capacity``   capacity as the search reads it; the lift as a task
``measure``    utilisation of places
``search``     the best places for every lift from one set-up: :func:`search`
"""

from __future__ import annotations

from liftcalc.placement.capacity import CapacitySource, ChartCapacity, LiftTask
from liftcalc.placement.fit import FitMaps, StandGrid, fit_at_heading
from liftcalc.placement.ground import Blocker, StandingGround, StandingMachine, around
from liftcalc.placement.legroom import LegRanges, LegRoom, leg_ranges
from liftcalc.placement.measure import SearchProblem
from liftcalc.placement.search import FullCheck, Rejected, SearchResult, StandPlace, search

__all__ = [
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
    "StandingGround",
    "StandingMachine",
    "around",
    "fit_at_heading",
    "leg_ranges",
    "search",
]
