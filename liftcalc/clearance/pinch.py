"""Gap in plan between the counterweight tail and what a person could be crushed against.

Sources: geometry. Gap of 0.6 m: Hong Kong, Factories and Industrial Undertakings (Lifting Appliances and Lifting Gear)
Regulations, Cap. 59J, regulation 8, a passageway between a slewing appliance and what stands near it (title seen; width
of 600 mm from memory). 29 CFR 1926.1424(a) asks for barriers (seen) and names no distance.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from liftcalc.base.errors import require_non_negative
from liftcalc.clearance.bodies import MovingPrism
from liftcalc.clearance.least import ZONES, ClearanceResult, Obstacle
from liftcalc.clearance.members import ACCURACY_M, Moving, Shapes
from liftcalc.clearance.search import least
from liftcalc.clearance.solids import Prism
from liftcalc.clearance.uprights import Uprights

PINCH_GAP_M = 0.6
"""Minimum gap behind the counterweight: Hong Kong Cap. 59J, regulation 8 (width from memory); adjustable. [m]"""
COUNTS_ABOVE_M = 0.3
"""Obstacles that rise no more than this do not pin a person: assumed. [m]"""


@dataclass(frozen=True)
class PinchGap:
    """Least plan gap between the counterweight tail and one obstacle."""

    obstacle: str
    gap_m: float
    required_m: float
    within: bool
    step: int


def pinch_gap(
    tail: MovingPrism,
    obstacles: Sequence[Obstacle],
    *,
    ground_level_m: float,
    required_m: float = PINCH_GAP_M,
    clearances: ClearanceResult | None = None,
) -> tuple[PinchGap, ...]:
    """Gap in plan between the slewing tail and everything a person could be crushed against.

    Taken in plan whatever the height of the tail's underside: a person may be standing.

    Parameters:
      tail: MovingPrism. Counterweight tail at every step; give a full turn where the machine may slew freely.
      obstacles: sequence of Obstacle. Zones and lines are passed over; so is anything that does not
        rise :data:`COUNTS_ABOVE_M` above the ground, or that starts more than 2 m above it.
      ground_level_m: Level people stand at. [m]
      required_m: >= 0. [m]
      clearances: ClearanceResult, optional. Of the same tail on the same path from the same
        obstacles, so that gaps in plan which they hold are not searched again.
    Returns: tuple of PinchGap, smallest first.
    """
    need = float(require_non_negative("required_m", required_m))
    fixed = [
        o
        for o in obstacles
        if isinstance(o.shape, Prism)
        and o.kind not in ZONES
        and o.shape.top_m > ground_level_m + COUNTS_ABOVE_M
        and o.shape.base_m < ground_level_m + 2.0
    ]
    if not fixed:
        return ()
    gaps = {
        row.obstacle: (row.plan_gap_m, row.step)
        for row in (clearances.rows if clearances is not None else ())
        if row.body == tail.name and not np.isnan(row.plan_gap_m)
    }
    left = {id(o.shape): o.shape for o in fixed if o.name not in gaps}
    if left:
        flat = Shapes([Prism(s.polygon_m, -np.inf, np.inf) for s in left.values() if isinstance(s, Prism)])
        each = np.arange(len(left))
        distance, step, _ = least(Uprights([Moving(tail)]), flat, np.zeros_like(each), each)
        place = {key: k for k, key in enumerate(left)}
        for o in fixed:
            if id(o.shape) in place:
                k = place[id(o.shape)]
                gaps[o.name] = (float(distance[k]), int(step[k]))
    rows = [
        PinchGap(o.name, gap, need, bool(gap > ACCURACY_M and gap >= need), step)
        for o in fixed
        for gap, step in (gaps[o.name],)
    ]
    return tuple(sorted(rows, key=lambda row: row.gap_m))
