"""Where to stand: the best stand points, headings and legs for every lift of a job.

Method
------
Coarse to fine, with bounds, so that the answer is the one an exhaustive search would give:

1. For each heading, where the carrier fits and the longest option of each leg, exactly, for all
   stand points at once (:mod:`liftcalc.placement.fit`). Only the longest option of each leg is
   looked at: more base never lowers stability or carries over less.
2. For each stand point a floor under the utilisation, from distance alone: no legs and no
   heading can exceed the best rating of any chart at that radius.
3. Places are measured in the order of that floor (:mod:`liftcalc.placement.measure`), and the
   rest is left when the floor passes the worst of the places kept.
4. The places kept are put in order: least utilisation over all lifts, then least leg force, then
   stand point and heading. In that order each goes through the full check, until enough are
   accepted. No place is returned that the full check did not accept.

Sources: branch and bound (textbook method).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from liftcalc.base.arrays import IntArray
from liftcalc.base.errors import InputError
from liftcalc.placement import measure
from liftcalc.placement.fit import FitMapper
from liftcalc.placement.measure import Kept, Progress, Rank, SearchProblem, StandPlace, StopAsked

_CHUNK = 16384


class BlockSearch:
    """Searches heading by heading; keeps what it has computed of ground and capacity."""

    def __init__(self, problem: SearchProblem) -> None:
        self.problem = problem
        self.mapper = FitMapper(problem.ground, problem.machine)
        self.measure = measure.Measure(problem)
        self.known: dict[int, tuple[IntArray, NDArray[np.int8], int]] = {}

    def _fitting(self, heading: int) -> tuple[IntArray, NDArray[np.int8], int]:
        """Stand points that fit and may come within the limit, leg options, and all that fit."""
        if heading not in self.known:
            maps = self.mapper.at(self.problem.grid, self.problem.headings_deg[heading])
            fits = maps.fits
            here = np.flatnonzero(fits & (self.measure.floor <= self.problem.limit))
            self.known[heading] = (here, maps.leg_option[here], int(fits.sum()))
        return self.known[heading]

    def run(self, heading: int, keep: int, threshold: float, floor: Rank | None) -> tuple[Kept, int, int]:
        """Best *keep* places behind *floor* at this heading; poses fitting and measured."""
        here, option, fitting = self._fitting(heading)
        near = self.measure.floor[here] <= threshold
        stand, option = here[near], option[near]
        turned = np.full(stand.size, heading)
        bound = self.measure.floor[stand]
        order = np.argsort(bound, kind="stable")
        kept = Kept.empty(len(self.problem.lifts))
        measured = 0
        for start in range(0, order.size, _CHUNK):
            chunk = order[start : start + _CHUNK]
            threshold = min(threshold, kept.threshold(keep, threshold))
            chunk = chunk[bound[chunk] <= threshold]
            if chunk.size == 0:
                break  # bounds rise: nothing further can rank among those kept
            measured += chunk.size
            found = self._measured(stand[chunk], turned[chunk], option[chunk], threshold)
            kept = kept.merged(found.after(floor), keep)
        return kept, fitting, measured

    def _measured(self, stand: IntArray, heading: IntArray, option: NDArray[np.int8], threshold: float) -> Kept:
        problem = self.problem
        angle = np.asarray(problem.headings_deg)[heading]
        by_lift = self.measure.by_option(stand, angle, option=option, give_up_above=threshold)
        worst = by_lift.max(axis=1)
        good = np.flatnonzero(worst <= threshold)
        force = np.zeros(good.size)
        if good.size:
            force = self.measure.leg_force_kN(stand[good], angle[good], extension_m=problem.extension_m(option[good]))
        return Kept(worst[good], force, stand[good], heading[good], option[good], by_lift[good])


@dataclass(frozen=True)
class Rejected:
    """A place that the full check turned down, and why."""

    place: StandPlace
    reason: str


@dataclass(frozen=True)
class SearchResult:
    """Accepted places, best first, with the account of the search.

    Attributes:
      rejected: tuple of Rejected. Better places that the full check turned down.
      poses: Stand points times headings.
      fitting: Poses in which carrier and legs find room.
      measured: Poses whose utilisation had to be computed (the bound spared the others).
      complete: False when stopped, or when the limit of full checks was reached first.
    """

    places: tuple[StandPlace, ...]
    rejected: tuple[Rejected, ...]
    poses: int
    fitting: int
    measured: int
    complete: bool


def search(
    problem: SearchProblem,
    full_check: measure.FullCheck,
    *,
    count: int = 10,
    apart_m: float = 0.0,
    apart_deg: float = 0.0,
    max_checks: int = 1000,
    progress: Progress | None = None,
    checked: Progress | None = None,
    stop: measure.Stop | None = None,
) -> SearchResult:
    """The best places for every lift from one set-up, each passed by the full check.

    Rank: least utilisation over all lifts, then least leg force, then stand point and heading.
    Stopped early, ``complete`` is False and the places are only the best found so far.

    Parameters:
      full_check: callable. Takes a StandPlace, returns (accepted, reason). Called in order of rank.
      count: >= 1. How many places are wanted.
      apart_m, apart_deg: >= 0. A place nearer than *apart_m* to a better one, and within
        *apart_deg* of its heading, is passed over; with *apart_m* 0 every place counts.
      max_checks: >= 1. Full checks to spend before giving up.
      progress: callable, optional. Called with (headings done, headings in all).
      checked: callable, optional. Called after each full check with (checks made, places accepted).
      stop: callable, optional. Asked between headings and full checks; True ends the search. A full
        check that takes long may ask too, and raise :class:`StopAsked`.
    """
    for name, value in (("count", count), ("max_checks", max_checks)):
        if not (isinstance(value, int) and value >= 1):
            raise InputError.of(name, value, "1 or more")
    for name, apart in (("apart_m", apart_m), ("apart_deg", apart_deg)):
        if not (apart >= 0 and np.isfinite(apart)):
            raise InputError.of(name, apart, "0 or greater")
    keep = max(4 * count, 64) if apart_m == 0 else max(400 * count, 1024)
    account = _Account(problem, full_check, max_checks, checked, stop)
    blocks, total = BlockSearch(problem), len(problem.headings_deg)
    floor: Rank | None = None
    try:
        while True:
            best, fitting = Kept.empty(len(problem.lifts)), 0
            for heading in range(total):
                if stop is not None and stop():
                    raise StopAsked
                threshold = best.threshold(keep, problem.limit)
                found, fits, work = blocks.run(heading, keep, threshold, floor)
                best, fitting = best.merged(found, keep), fitting + fits
                account.measured += work
                if progress is not None:
                    progress(heading + 1, total)
            account.fitting = fitting
            for k in range(best.utilisation.size):
                place = _place(problem, best, k)
                if apart_m > 0 and _near(place, account.accepted, apart_m, apart_deg):
                    continue
                account.check(place)
                if len(account.accepted) == count:
                    return account.result(complete=True)
            if best.utilisation.size < keep:
                return account.result(complete=True)  # there is no other place
            floor = best.last()
            keep *= 4
    except StopAsked:
        return account.result(complete=False)


class _Account:
    """What a search has looked at, accepted and turned down."""

    def __init__(
        self, problem: SearchProblem, full_check: measure.FullCheck, max_checks: int,
        checked: Progress | None, stop: measure.Stop | None,
    ) -> None:  # fmt: skip
        self.problem, self.full_check, self.max_checks = problem, full_check, max_checks
        self.checked, self.stop = checked, stop
        self.accepted: list[StandPlace] = []
        self.rejected: list[Rejected] = []
        self.fitting = self.measured = 0

    def check(self, place: StandPlace) -> None:
        """Put the place through the full check; StopAsked where none may follow."""
        checks = len(self.accepted) + len(self.rejected)
        if checks >= self.max_checks or (self.stop is not None and self.stop()):
            raise StopAsked
        passed, reason = self.full_check(place)
        if passed:
            self.accepted.append(place)
        else:
            self.rejected.append(Rejected(place, reason))
        if self.checked is not None:
            self.checked(checks + 1, len(self.accepted))

    def result(self, *, complete: bool) -> SearchResult:
        return SearchResult(
            tuple(self.accepted), tuple(self.rejected), self.problem.poses, self.fitting, self.measured, complete
        )


def _near(place: StandPlace, others: list[StandPlace], apart_m: float, apart_deg: float) -> bool:
    for other in others:
        turn = abs((place.heading_deg - other.heading_deg + 180.0) % 360.0 - 180.0)
        way = np.hypot(place.easting_m - other.easting_m, place.northing_m - other.northing_m)
        if way < apart_m and turn <= apart_deg:
            return True
    return False


def _place(problem: SearchProblem, kept: Kept, k: int) -> StandPlace:
    return measure.grid_place(
        problem, int(kept.stand[k]), heading=int(kept.heading[k]),
        extension_m=problem.extension_m(kept.option[k : k + 1])[0].tolist(),
        by_lift=kept.by_lift[k].tolist(), leg_force_kN=float(kept.force[k]),
    )  # fmt: skip
