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

The measure of a place depends on that place alone, so the result is the same, bit for bit, for
any number of workers and on a cluster.

Sources: branch and bound (textbook method).
"""

import multiprocessing
from collections.abc import Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from liftcalc.base.arrays import IntArray
from liftcalc.base.errors import InputError
from liftcalc.placement.fit import FitMapper
from liftcalc.placement.measure import (
    FullCheck,
    Kept,
    Measure,
    Progress,
    Rank,
    SearchProblem,
    StandPlace,
    Stop,
    StopAsked,
    grid_place,
)

_CHUNK = 16384


class BlockSearch:
    """Searches blocks of headings; keeps what it has computed of ground and capacity."""

    def __init__(self, problem: SearchProblem) -> None:
        self.problem = problem
        self.mapper = FitMapper(problem.ground, problem.machine)
        self.measure = Measure(problem)
        self.known: dict[int, tuple[IntArray, NDArray[np.int8], int]] = {}

    def _fitting(self, heading: int) -> tuple[IntArray, NDArray[np.int8], int]:
        """Stand points that fit and may come within the limit, leg options, and all that fit."""
        if heading not in self.known:
            maps = self.mapper.at(self.problem.grid, self.problem.headings_deg[heading])
            fits = maps.fits
            here = np.flatnonzero(fits & (self.measure.floor <= self.problem.limit))
            self.known[heading] = (here, maps.leg_option[here], int(fits.sum()))
        return self.known[heading]

    def run(
        self, headings: Sequence[int], keep: int, threshold: float, floor: Rank | None
    ) -> tuple[Kept, int, int]:
        """Best *keep* places behind *floor* among these headings; poses fitting and measured."""
        problem = self.problem
        stands, turned, options = [], [], []
        fitting = 0
        for h in headings:
            here, option_here, count = self._fitting(h)
            fitting += count
            near = self.measure.floor[here] <= threshold
            stands.append(here[near])
            turned.append(np.full(int(near.sum()), h))
            options.append(option_here[near])
        stand, heading = np.concatenate(stands), np.concatenate(turned)
        option = np.concatenate(options)
        bound = self.measure.floor[stand]
        order = np.argsort(bound, kind="stable")
        kept = Kept.empty(len(problem.lifts))
        measured = 0
        for start in range(0, order.size, _CHUNK):
            chunk = order[start : start + _CHUNK]
            threshold = min(threshold, kept.threshold(keep, threshold))
            chunk = chunk[bound[chunk] <= threshold]
            if chunk.size == 0:
                break  # bounds rise: nothing further can rank among those kept
            measured += chunk.size
            found = self._measured(stand[chunk], heading[chunk], option[chunk], threshold)
            kept = kept.merged(found.after(floor), keep)
        return kept, fitting, measured

    def _measured(
        self, stand: IntArray, heading: IntArray, option: NDArray[np.int8], threshold: float
    ) -> Kept:
        problem = self.problem
        angle = np.asarray(problem.headings_deg)[heading]
        by_lift = self.measure.by_option(stand, angle, option=option, give_up_above=threshold)
        worst = by_lift.max(axis=1)
        good = np.flatnonzero(worst <= threshold)
        force = np.zeros(good.size)
        if good.size:
            force = self.measure.leg_force_kN(
                stand[good], angle[good], extension_m=problem.extension_m(option[good])
            )
        return Kept(worst[good], force, stand[good], heading[good], option[good], by_lift[good])


_worker: list[BlockSearch] = []  # set once in each worker process by its initializer


def _start_worker(problem: SearchProblem) -> None:
    _worker[:] = [BlockSearch(problem)]


def _work(*args: Any) -> tuple[Kept, int, int]:
    return _worker[0].run(*args)


def _work_alone(problem: SearchProblem, *args: Any) -> tuple[Kept, int, int]:
    return BlockSearch(problem).run(*args)


class Runner:
    """Runs blocks here, in local processes or on a cluster, and gives back their results."""

    def __init__(
        self, problem: SearchProblem, workers: int, client: Any, stop: Stop | None,
        progress: Progress | None,
    ) -> None:  # fmt: skip
        self.problem, self.client, self.stop, self.progress = problem, client, stop, progress
        self.workers = workers
        self.best = Kept.empty(len(problem.lifts))
        self.local = BlockSearch(problem) if client is None and workers == 1 else None
        self.pool: ProcessPoolExecutor | None = None
        if client is None and workers > 1:
            self.pool = ProcessPoolExecutor(
                workers, mp_context=multiprocessing.get_context("fork"), initializer=_start_worker,
                initargs=(problem,),
            )  # fmt: skip
        self.remote = client.scatter(problem, broadcast=True) if client is not None else None

    def close(self) -> None:
        if self.pool is not None:
            self.pool.shutdown(wait=True, cancel_futures=True)

    def blocks(self) -> list[list[int]]:
        count = len(self.problem.headings_deg)
        parts = count
        if self.client is not None:
            parts = min(count, max(2 * len(self.client.scheduler_info()["workers"]), 1))
        # neighbouring headings go to different blocks, so that blocks take alike time
        return [list(range(k, count, parts)) for k in range(parts)]

    def round(self, keep: int, floor: Rank | None) -> Iterator[tuple[Kept, int, int]]:
        blocks = self.blocks()
        self.best = Kept.empty(len(self.problem.lifts))
        for done, result in enumerate(self._results(blocks, keep, floor), start=1):
            self.best = self.best.merged(result[0], keep)
            if self.progress is not None:
                self.progress(done, len(blocks))
            yield result
            if done < len(blocks):
                self._check_stop()

    def _threshold(self, keep: int) -> float:
        return self.best.threshold(keep, self.problem.limit)

    def _check_stop(self) -> None:
        if self.stop is not None and self.stop():
            raise StopAsked

    def _results(
        self, blocks: list[list[int]], keep: int, floor: Rank | None
    ) -> Iterator[tuple[Kept, int, int]]:
        self._check_stop()
        if self.local is not None:
            for block in blocks:
                yield self.local.run(block, keep, self._threshold(keep), floor)
            return
        if self.client is not None:
            from distributed import as_completed

            jobs = [
                self.client.submit(
                    _work_alone, self.remote, b, keep, self.problem.limit, floor, pure=False
                )
                for b in blocks
            ]
            try:
                for job in as_completed(jobs):  # type: ignore[no-untyped-call]
                    yield job.result()
            finally:
                self.client.cancel(jobs)
            return
        assert self.pool is not None
        waiting = list(blocks)
        running: set[Future[tuple[Kept, int, int]]] = set()
        while waiting or running:
            while waiting and len(running) < self.workers + 1:
                block = waiting.pop(0)
                running.add(self.pool.submit(_work, block, keep, self._threshold(keep), floor))
            ready, running = wait(running, return_when=FIRST_COMPLETED)
            for future in ready:
                yield future.result()


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
    full_check: FullCheck,
    *,
    count: int = 10,
    apart_m: float = 0.0,
    apart_deg: float = 0.0,
    workers: int = 1,
    client: Any = None,
    max_checks: int = 1000,
    progress: Progress | None = None,
    checked: Progress | None = None,
    stop: Stop | None = None,
) -> SearchResult:
    """The best places for every lift from one set-up, each passed by the full check.

    Rank: least utilisation over all lifts, then least leg force, then stand point and heading.
    Stopped early, ``complete`` is False and the places are only the best found so far.

    Parameters:
      full_check: callable. Takes a StandPlace, returns (accepted, reason). Called in order of rank,
        in this process.
      count: >= 1. How many places are wanted.
      apart_m, apart_deg: >= 0. A place nearer than *apart_m* to a better one, and within
        *apart_deg* of its heading, is passed over; with *apart_m* 0 every place counts.
      workers: >= 1. Local processes.
      client: dask.distributed.Client, optional. Runs on a cluster instead (extra ``cluster``).
      max_checks: >= 1. Full checks to spend before giving up.
      progress: callable, optional. Called with (blocks done, blocks in all).
      checked: callable, optional. Called after each full check with (checks made, places accepted).
      stop: callable, optional. Asked between blocks and full checks; True ends the search. A full
        check that takes long may ask too, and raise :class:`StopAsked`.
    """
    for name, value in (("count", count), ("workers", workers), ("max_checks", max_checks)):
        if not (isinstance(value, int) and value >= 1):
            raise InputError.of(name, value, "1 or more")
    for name, apart in (("apart_m", apart_m), ("apart_deg", apart_deg)):
        if not (apart >= 0 and np.isfinite(apart)):
            raise InputError.of(name, apart, "0 or greater")
    keep = max(4 * count, 64) if apart_m == 0 else max(400 * count, 1024)
    account = _Account(problem, full_check, max_checks, checked, stop)
    runner = Runner(problem, workers, client, stop, progress)
    floor: Rank | None = None
    try:
        while True:
            fitting = 0
            for _, fits, work in runner.round(keep, floor):
                fitting += fits
                account.measured += work
            account.fitting = fitting
            best = runner.best
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
    finally:
        runner.close()


class _Account:
    """What a search has looked at, accepted and turned down."""

    def __init__(
        self, problem: SearchProblem, full_check: FullCheck, max_checks: int,
        checked: Progress | None, stop: Stop | None,
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
            tuple(self.accepted), tuple(self.rejected), self.problem.poses, self.fitting,
            self.measured, complete,
        )  # fmt: skip


def _near(place: StandPlace, others: list[StandPlace], apart_m: float, apart_deg: float) -> bool:
    for other in others:
        turn = abs((place.heading_deg - other.heading_deg + 180.0) % 360.0 - 180.0)
        way = np.hypot(place.easting_m - other.easting_m, place.northing_m - other.northing_m)
        if way < apart_m and turn <= apart_deg:
            return True
    return False


def _place(problem: SearchProblem, kept: Kept, k: int) -> StandPlace:
    return grid_place(
        problem, int(kept.stand[k]), heading=int(kept.heading[k]),
        extension_m=problem.extension_m(kept.option[k : k + 1])[0].tolist(),
        by_lift=kept.by_lift[k].tolist(), leg_force_kN=float(kept.force[k]),
    )  # fmt: skip
