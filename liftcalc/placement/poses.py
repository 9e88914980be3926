"""Utilisation of every pose that fits, heading by heading, and the margin over the site.

Sources: none needed.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from liftcalc.base.arrays import BoolArray, FloatArray, IntArray
from liftcalc.placement.fit import FitMapper
from liftcalc.placement.measure import Measure, Progress, SearchProblem, Stop

_Fitting = tuple[IntArray, NDArray[np.int8], FloatArray, BoolArray]


class Poses:
    """Fitting poses of a problem, heading by heading, with utilisation of every lift.

    What was measured at every fitting stand point is kept: plan and map may share one of these.
    """

    def __init__(self, problem: SearchProblem) -> None:
        self.problem = problem
        self.mapper = FitMapper(problem.ground, problem.machine)
        self.measure = Measure(problem)
        self.known: dict[int, _Fitting] = {}

    def at(
        self, heading: int, chosen: BoolArray | None = None, give_up_above: float = np.inf
    ) -> _Fitting:
        """Stand indices, leg options, utilisation (n, lifts), and where the machine fits.

        At least at the chosen stand points, and at all that fit where these are known.
        """
        if heading not in self.known:
            found = self._at(heading, chosen, give_up_above)
            if chosen is not None or give_up_above != np.inf:
                return found
            self.known[heading] = found
        return self.known[heading]

    def _at(self, heading: int, chosen: BoolArray | None, give_up_above: float) -> _Fitting:
        problem = self.problem
        maps = self.mapper.at(problem.grid, problem.headings_deg[heading])
        fits = maps.fits
        stand = np.flatnonzero(fits if chosen is None else fits & chosen)
        option = maps.leg_option[stand]
        if stand.size == 0:
            return stand, option, np.zeros((0, len(problem.lifts))), fits
        angle = np.full(stand.size, problem.headings_deg[heading])
        value = self.measure.by_option(stand, angle, option=option, give_up_above=give_up_above)
        return stand, option, value, fits


@dataclass(frozen=True, eq=False)
class MarginMap:
    """Least utilisation over all headings at each stand point, rows from south to north.

    Attributes:
      easting_m: shape (columns,)
      northing_m: shape (rows,)
      utilisation: shape (rows, columns). By the search's measure; inf where nothing fits or nothing
        is rated.
      heading_deg: shape (rows, columns). Heading that gives it; NaN where there is none.
      fits: ndarray of bool, shape (rows, columns). Whether the machine fits at some heading.
      complete: False when stopped.
    """

    easting_m: FloatArray
    northing_m: FloatArray
    utilisation: FloatArray
    heading_deg: FloatArray
    fits: BoolArray
    complete: bool


def margin_map(
    problem: SearchProblem,
    *,
    progress: Progress | None = None,
    stop: Stop | None = None,
    poses: Poses | None = None,
) -> MarginMap:
    """Least utilisation over all headings, for every stand point of the problem's grid.

    Parameters:
      problem: SearchProblem. Take a coarser grid than for the search: every fitting pose is
        measured.
      progress, stop: callable, optional. As :func:`liftcalc.placement.search.search`, heading by
        heading.
      poses: Poses, optional. Of the same problem, with what a plan has measured already.
    Raises: As :func:`liftcalc.placement.search.search`.
    """
    poses = Poses(problem) if poses is None else poses
    grid = problem.grid
    best = np.full(grid.size, np.inf)
    turn = np.full(grid.size, np.nan)
    fits = np.zeros(grid.size, dtype=bool)
    complete = True
    for h, heading in enumerate(problem.headings_deg):
        if stop is not None and stop():
            complete = False
            break
        stand, _, value, here = poses.at(h, poses.measure.floor < best)
        fits |= here
        worst = value.max(axis=1) if stand.size else np.zeros(0)
        better = worst < best[stand]
        best[stand[better]] = worst[better]
        turn[stand[better]] = heading
        if progress is not None:
            progress(h + 1, len(problem.headings_deg))
    shape = (grid.rows, grid.columns)
    return MarginMap(
        easting_m=np.asarray(grid.easting_m + grid.step_m * np.arange(grid.columns, dtype=float)),
        northing_m=np.asarray(grid.northing_m + grid.step_m * np.arange(grid.rows, dtype=float)),
        utilisation=best.reshape(shape), heading_deg=turn.reshape(shape), fits=fits.reshape(shape),
        complete=complete,
    )  # fmt: skip
