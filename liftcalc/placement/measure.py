"""The search's measure of a place: utilisation of every lift, read from capacity grids.

Utilisation of one lift at one place is gross load over the least capacity found at the pick, at
the set-down, and over the whole slew between them at the smaller of the two radii, each read as
the worst of the four grid points around it. Infinite where there is no capacity data. The places
found, in order of rank, and what a search asks on its way stand here too.

Sources: definition of utilisation; the range minimum over a slew by doubling (sparse table, a textbook method).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from liftcalc.base.arrays import BoolArray, FloatArray, IntArray
from liftcalc.base.errors import InputError, refuse_unless
from liftcalc.placement.capacity import CapacitySource, LiftDuty, worst_of_cell_t
from liftcalc.placement.fit import StandGrid
from liftcalc.placement.ground import StandingGround, StandingMachine

FORCE_STATES = 5
"""Places of the path at which a search looks at the forces on the outriggers."""


@dataclass(frozen=True, eq=False)
class SearchProblem:
    """Everything that a search needs.

    Parameters:
      limit: Greatest utilisation that counts as a place, 1 unless the owner sets less.
    """

    ground: StandingGround
    machine: StandingMachine
    grid: StandGrid
    headings_deg: tuple[float, ...]
    lifts: tuple[LiftDuty, ...]
    limit: float = 1.0

    def __post_init__(self) -> None:
        names, angles = [lift.name for lift in self.lifts], self.headings_deg
        turns = len(angles) > 0 and bool(np.isfinite(angles).all())
        refuse_unless(
            (names, "lifts", 0, "one lift or more"),
            (turns, "headings_deg", angles, "one finite angle or more"),
            (0 < self.limit <= 1, "limit", self.limit, "above 0, at most 1"),
            (len(set(names)) == len(names), "lifts", names, "names used once each"),
            source="search",
        )

    @property
    def poses(self) -> int:
        """Number of stand points times headings."""
        return self.grid.size * len(self.headings_deg)

    def extension_m(self, option: NDArray[np.int8]) -> FloatArray:
        """Extensions of leg options, shape (n, 4). [m]"""
        columns = [np.asarray(o)[option[:, i]] for i, o in enumerate(self.machine.extension_options_m)]
        return np.stack(columns, axis=1)


class _CapacityGrids:
    """Capacity grids of one source, computed once for each set of legs."""

    def __init__(self, source: CapacitySource) -> None:
        self.source = source
        radius = np.asarray(source.radius_m, dtype=np.float64)
        if radius.size < 2 or not np.allclose(np.diff(radius), radius[1] - radius[0]):
            raise InputError.of("radius_m", radius.tolist(), "two or more, evenly spaced")
        self.first, self.step, self.cells = radius[0], radius[1] - radius[0], radius.size - 1
        self.last = radius[-1]
        self.slew_step = float(source.slew_step_deg)
        self.slews = round(360.0 / self.slew_step)
        ceiling = np.asarray(source.ceiling_t(), dtype=np.float64)
        self.ceiling = np.minimum(ceiling[:-1], ceiling[1:])
        self.known: dict[tuple[float, ...], int] = {}
        self.stack = np.zeros((0, self.slews, self.cells))

    def rows(self, extensions: list[tuple[float, ...]]) -> IntArray:
        """Index in ``stack`` for each set of legs, working out the new ones."""
        new = [e for e in dict.fromkeys(extensions) if e not in self.known]
        if new:
            made = []
            for e in new:
                grid = np.asarray(self.source.capacity_t(e), dtype=np.float64)
                if grid.shape != (self.slews, self.cells + 1) or not np.all(grid >= 0):
                    shape = f"shape ({self.slews}, {self.cells + 1}), 0 or greater"
                    raise InputError.of("capacity_t", grid.shape, shape)
                self.known[e] = len(self.known)
                made.append(worst_of_cell_t(grid))
            self.stack = np.concatenate([self.stack, np.stack(made)])
        return np.array([self.known[e] for e in extensions], dtype=np.int64)

    def radius_cell(self, radius: FloatArray) -> IntArray:
        """Cell of each radius, -1 outside the range."""
        cell = np.floor((radius - self.first) / self.step).astype(np.int64)
        cell = np.minimum(cell, self.cells - 1)
        return np.where((radius >= self.first) & (radius <= self.last + 1e-9), cell, -1)


class Measure:
    """Utilisation of places of one problem; keeps the capacity grids that it has read."""

    def __init__(self, problem: SearchProblem) -> None:
        self.problem = problem
        readers: dict[int, _CapacityGrids] = {}
        for lift in problem.lifts:
            if id(lift.capacity) not in readers:
                readers[id(lift.capacity)] = _CapacityGrids(lift.capacity)
        self.readers = [readers[id(lift.capacity)] for lift in problem.lifts]
        east, north = problem.grid.points_m()
        self.bearing, self.radius, self.cell, bounds = [], [], [], []
        for lift, reader in zip(problem.lifts, self.readers, strict=True):
            ends = (lift.pick_m, lift.set_down_m)
            radius = [np.hypot(p[0] - east, p[1] - north) for p in ends]
            self.radius.append(radius)
            self.bearing.append([np.degrees(np.arctan2(p[1] - north, p[0] - east)) for p in ends])
            cell = [reader.radius_cell(r) for r in radius]
            self.cell.append(cell)
            capacity = np.minimum(*(np.where(c >= 0, reader.ceiling[c], 0.0) for c in cell))
            with np.errstate(divide="ignore"):
                bounds.append(lift.gross_t / capacity)
        self.bounds = np.stack(bounds)
        """What no legs and no heading can better, shape (lifts, grid size)."""
        self.floor: FloatArray = self.bounds.max(axis=0)

    def utilisation(
        self, stand: IntArray, heading_deg: FloatArray, *, extension_row: IntArray,
        extensions: list[tuple[float, ...]], give_up_above: float = np.inf,
    ) -> FloatArray:  # fmt: skip
        """Utilisation of every lift at n places.

        Parameters:
          stand: ndarray of int, shape (n,). Index of the stand point in the grid.
          heading_deg: shape (n,)
          extension_row: ndarray of int, shape (n,). Which of *extensions* each place has.
          extensions: list of tuples of four floats
          give_up_above: A place with one lift above this is not measured further; its other lifts read inf.
        Returns: ndarray, shape (n, lifts)
        """
        out = np.full((stand.size, len(self.problem.lifts)), np.inf)
        alive = np.arange(stand.size)
        # the lift that usually decides goes first, so that fewer places reach the others
        for i in np.argsort(-np.min(self.bounds, axis=1), kind="stable").tolist():
            if alive.size == 0:
                break
            value = self._one(i, stand[alive], heading_deg[alive], extension_row[alive], extensions)
            out[alive, i] = value
            alive = alive[value <= give_up_above]
        return out

    def by_option(
        self, stand: IntArray, heading_deg: FloatArray, *, option: NDArray[np.int8], give_up_above: float = np.inf
    ) -> FloatArray:
        """As :meth:`utilisation`, for leg options (n, 4) of the problem's machine."""
        code = np.zeros(stand.size, dtype=np.int64)
        for i, options in enumerate(self.problem.machine.extension_options_m):
            code = code * len(options) + option[:, i]
        _, first, row = np.unique(code, return_index=True, return_inverse=True)
        combinations = self.problem.extension_m(option[first]).tolist()
        return self.utilisation(
            stand, heading_deg, extension_row=row, extensions=[tuple(c) for c in combinations],
            give_up_above=give_up_above,
        )  # fmt: skip

    def _one(
        self, i: int, stand: IntArray, heading: FloatArray, row: IntArray, extensions: list[tuple[float, ...]]
    ) -> FloatArray:
        lift, reader = self.problem.lifts[i], self.readers[i]
        cell_p, cell_s = (c[stand] for c in self.cell[i])
        result = np.full(stand.size, np.inf)
        ok = np.flatnonzero((cell_p >= 0) & (cell_s >= 0))
        if ok.size == 0:
            return result
        stand, heading, cell_p, cell_s = stand[ok], heading[ok], cell_p[ok], cell_s[ok]
        used, local = np.unique(row[ok], return_inverse=True)
        table = reader.rows([extensions[k] for k in used.tolist()])[local]
        at = [np.mod(b[stand] - heading, 360.0) / reader.slew_step for b in self.bearing[i]]
        slew_p, slew_s = (np.floor(a).astype(np.int64) % reader.slews for a in at)
        least = np.minimum(reader.stack[table, slew_p, cell_p], reader.stack[table, slew_s, cell_s])
        start, turn = self._sector(lift, at, reader)
        first = np.floor(start).astype(np.int64)
        count = np.minimum(np.floor(start + turn).astype(np.int64) - first, reader.slews - 1)
        first %= reader.slews
        arc = np.minimum(cell_p, cell_s)
        go = np.flatnonzero(least > 0)
        order = go[np.argsort(table[go], kind="stable")]
        for group in np.split(order, np.flatnonzero(np.diff(table[order])) + 1):
            if group.size:
                cells = reader.stack[table[group[0]]]
                round_ = _least_over_arc(cells, first[group], count[group], arc[group])
                least[group] = np.minimum(least[group], round_)
        with np.errstate(divide="ignore"):
            result[ok] = lift.gross_t / least
        return result

    @staticmethod
    def _sector(lift: LiftDuty, at: list[FloatArray], reader: _CapacityGrids) -> tuple[FloatArray, FloatArray]:
        """Start and length of the slewed sector, anticlockwise, in slew steps."""
        round_ = float(reader.slews)
        turn = np.mod(at[1] - at[0], round_)
        if lift.slew_way == "anticlockwise":
            back = np.zeros(turn.shape, dtype=bool)
        elif lift.slew_way == "clockwise":
            back = turn > 0
        else:
            back = turn > round_ / 2
        return np.where(back, at[1], at[0]), np.where(back, round_ - turn, turn)

    def leg_force_kN(self, stand: IntArray, heading_deg: FloatArray, *, extension_m: FloatArray) -> FloatArray:
        """Greatest leg reaction over all lifts: pick, set-down, and points of the slew. [kN]"""
        worst = np.zeros(stand.size)
        for i, (lift, reader) in enumerate(zip(self.problem.lifts, self.readers, strict=True)):
            at = [np.mod(b[stand] - heading_deg, 360.0) / reader.slew_step for b in self.bearing[i]]
            start, turn = self._sector(lift, at, reader)
            radius = [r[stand] for r in self.radius[i]]
            arc = np.minimum(*radius)
            share = np.linspace(0.0, 1.0, FORCE_STATES)
            slews = [at[0], at[1]] + [start + s * turn for s in share]
            for slew, r in zip(slews, [*radius] + [arc] * FORCE_STATES, strict=True):
                force = lift.capacity.leg_force_kN(
                    extension_m, slew * reader.slew_step, radius_m=r, gross_t=lift.gross_t
                )
                worst = np.maximum(worst, force)
        # a thousandth of a kilonewton: the order of places must not hang on the last digit
        return np.round(worst, 3)


def _least_over_arc(cells: FloatArray, first: IntArray, count: IntArray, column: IntArray) -> FloatArray:
    """Least of cells[first .. first + count, column] round the circle (count + 1 cells)."""
    slews = cells.shape[0]
    level = np.floor(np.log2(count + 1)).astype(np.int64)
    out = np.empty(first.size)
    doubled = cells
    for k in range(int(level.max()) + 1):
        here = np.flatnonzero(level == k)
        if here.size:
            other = (first[here] + count[here] + 1 - 2**k) % slews
            out[here] = np.minimum(doubled[first[here], column[here]], doubled[other, column[here]])
        doubled = np.minimum(doubled, np.roll(doubled, -(2**k), axis=0))
    return out


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
    """The place at a stand point and heading of a problem, by their index; legs FL, FR, RR, RL."""
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
