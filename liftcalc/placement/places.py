"""Places that a search finds, in order of rank, and what a search asks on its way.

Sources: none needed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from liftcalc.base.arrays import BoolArray, FloatArray, IntArray
from liftcalc.placement.measure import SearchProblem

Stop = Callable[[], bool]
Progress = Callable[[int, int], None]
Rank = tuple[float, float, int, int]
"""Utilisation, leg force, stand point, heading: what places are ordered by."""


class StopAsked(Exception):
    """Raised by a full check that was asked to stop, or by a search between two pieces of work.

    Whoever runs the checks takes it: the place is neither accepted nor turned down.
    """


@dataclass(frozen=True)
class StandPlace:
    """One place: stand point, heading and legs, with what the search measured.

    Attributes:
      easting_m, northing_m, heading_deg: float
      extension_m: four floats. FL, FR, RR, RL. [m]
      utilisation: Greatest over all lifts, by the search's measure.
      by_lift: tuple of float. The same for each lift, in the order of the problem.
      leg_force_kN: Greatest leg reaction over all lifts, rigid carrier. [kN]
      stand, heading: Index in the grid and in the headings.
    """

    easting_m: float
    northing_m: float
    heading_deg: float
    extension_m: tuple[float, float, float, float]
    utilisation: float
    by_lift: tuple[float, ...]
    leg_force_kN: float
    stand: int
    heading: int


FullCheck = Callable[[StandPlace], tuple[bool, str]]
"""Full check of a place: accepted or not, and if not, why in words."""


def grid_place(
    problem: SearchProblem,
    stand: int,
    *,
    heading: int,
    extension_m: Sequence[float],
    by_lift: Sequence[float],
    leg_force_kN: float,
) -> StandPlace:
    """The place at a stand point and heading of a problem.

    Parameters:
      problem: SearchProblem
      stand, heading: Index in the grid and in the headings.
      extension_m: four floats. FL, FR, RR, RL. [m]
      by_lift: sequence of float. Utilisation of each lift.
      leg_force_kN: float
    """
    grid = problem.grid
    front_left, front_right, rear_right, rear_left = (float(e) for e in extension_m)
    return StandPlace(
        easting_m=grid.easting_m + grid.step_m * (stand % grid.columns),
        northing_m=grid.northing_m + grid.step_m * (stand // grid.columns),
        heading_deg=float(problem.headings_deg[heading]),
        extension_m=(front_left, front_right, rear_right, rear_left),
        utilisation=float(max(by_lift)), by_lift=tuple(float(v) for v in by_lift),
        leg_force_kN=float(leg_force_kN), stand=stand, heading=heading,
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Kept:
    """Places in order of rank; arrays share their first axis."""

    utilisation: FloatArray
    force: FloatArray
    stand: IntArray
    heading: IntArray
    option: NDArray[np.int8]
    by_lift: FloatArray

    @classmethod
    def empty(cls, lifts: int) -> Kept:
        """No place, for a problem with so many lifts."""
        whole = np.zeros(0, dtype=np.int64)
        legs = np.zeros((0, 4), dtype=np.int8)
        return cls(np.zeros(0), np.zeros(0), whole, whole, legs, np.zeros((0, lifts)))

    def _arrays(self) -> tuple[NDArray[Any], ...]:
        return tuple(getattr(self, f.name) for f in fields(self))

    def _take(self, index: IntArray | BoolArray) -> Kept:
        return Kept(*(array[index] for array in self._arrays()))

    def merged(self, other: Kept, keep: int) -> Kept:
        """The best of both."""
        pairs = zip(self._arrays(), other._arrays(), strict=True)
        both = Kept(*(np.concatenate(pair) for pair in pairs))
        order = np.lexsort((both.heading, both.stand, both.force, both.utilisation))
        return both._take(order[:keep])

    def after(self, floor: Rank | None) -> Kept:
        """Only places that rank behind *floor*."""
        if floor is None:
            return self
        behind = np.zeros(self.stand.size, dtype=bool)
        for values, bound in zip(
            (self.heading, self.stand, self.force, self.utilisation), reversed(floor), strict=True
        ):
            behind = (values > bound) | ((values == bound) & behind)
        return self._take(behind)

    def last(self) -> Rank:
        """Rank of the last place."""
        measured = float(self.utilisation[-1]), float(self.force[-1])
        return *measured, int(self.stand[-1]), int(self.heading[-1])

    def threshold(self, keep: int, limit: float) -> float:
        """Utilisation that a place must not exceed to be among the best *keep*."""
        return float(self.utilisation[-1]) if self.utilisation.size >= keep else limit
