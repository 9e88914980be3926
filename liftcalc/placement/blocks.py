"""Blocks of headings, searched here, in local processes or on a cluster, with the same result.

The method is that of :mod:`liftcalc.placement.search`.

Sources: none needed.
"""

import multiprocessing
from collections.abc import Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from typing import Any

import numpy as np
from numpy.typing import NDArray

from liftcalc.base.arrays import IntArray
from liftcalc.placement.fit import FitMapper
from liftcalc.placement.measure import Measure, SearchProblem
from liftcalc.placement.places import Kept, Progress, Rank, Stop, StopAsked

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
