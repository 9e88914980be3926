"""More than one set-up, the trade between them, and the margin over the site.

Method
------
For every group of lifts the best place is the one with the least greatest utilisation; places are ranked for each group
as :mod:`liftcalc.placement.search` ranks them. The split of all lifts into a given number of groups with the least
greatest utilisation follows by dynamic programming over sets. Only the groups of the split that wins are fully checked;
where a place is turned down the group takes its next place and the split is found again. So the plan is the best of all
splits and places, and every place in it has passed the full check for its lifts.

Sources: dynamic programming over subsets (R. Bellman, 1962, from memory); Pareto order.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from liftcalc.base.arrays import BoolArray, FloatArray, IntArray
from liftcalc.base.errors import InputError
from liftcalc.placement import measure
from liftcalc.placement.fit import FitMapper
from liftcalc.placement.measure import Measure, Progress, SearchProblem, StandPlace, Stop, StopAsked

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

    def at(self, heading: int, chosen: BoolArray | None = None, give_up_above: float = np.inf) -> _Fitting:
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
      utilisation: shape (rows, columns). By the search's measure; inf where nothing fits or nothing is rated.
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
    problem: SearchProblem, *, progress: Progress | None = None, stop: Stop | None = None, poses: Poses | None = None
) -> MarginMap:
    """Least utilisation over all headings, for every stand point of the problem's grid.

    Parameters:
      problem: SearchProblem. Take a coarser grid than for the search: every fitting pose is measured.
      progress, stop: callable, optional. As :func:`liftcalc.placement.search.search`, heading by heading.
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
        utilisation=best.reshape(shape), heading_deg=turn.reshape(shape), fits=fits.reshape(shape), complete=complete,
    )  # fmt: skip


MOST_LIFTS = 10
"""Lifts for which every grouping into set-ups is tried."""
_FIRST_PLACES = 64

GroupCheck = Callable[[StandPlace, tuple[str, ...]], tuple[bool, str]]
"""Full check of a place for the named lifts: accepted or not, and why not."""


@dataclass(frozen=True)
class SetupPlan:
    """Which lifts are done from which place.

    Attributes:
      places: tuple of StandPlace. One for each set-up; ``by_lift`` runs with its own lifts.
      lifts: tuple of tuples of str. Lifts done from each place.
      utilisation: Greatest over all lifts.
      leg_force_kN: Greatest over all set-ups.
      mat_area_m2: Area of four mats.
    """

    places: tuple[StandPlace, ...]
    lifts: tuple[tuple[str, ...], ...]
    utilisation: float
    leg_force_kN: float
    mat_area_m2: float

    @property
    def setups(self) -> int:
        """Number of set-ups."""
        return len(self.places)


class _Groups:
    """Best places for every group of lifts (bit set), next ones on demand."""

    def __init__(self, problem: SearchProblem, poses: Poses, progress: Progress | None, stop: Stop) -> None:
        self.problem = problem
        self.measure = poses.measure
        stands, options, values, headings = [], [], [], []
        for h in range(len(problem.headings_deg)):
            if stop():
                raise StopAsked
            stand, option, value, _ = poses.at(h)
            if progress is not None:
                progress(h + 1, len(problem.headings_deg))
            some = (value <= problem.limit).any(axis=1)
            stands.append(stand[some])
            options.append(option[some])
            values.append(value[some])
            headings.append(np.full(int(some.sum()), h))
        self.stand, self.option = np.concatenate(stands), np.concatenate(options)
        self.value, self.heading = np.concatenate(values), np.concatenate(headings)
        count = len(problem.lifts)
        self.best = np.full(1 << count, np.inf)
        self.poses: dict[int, IntArray] = {}
        self._walk(0, 0, np.arange(self.stand.size), np.zeros(self.stand.size))
        self.ranked: dict[int, list[StandPlace]] = {}
        self.next: dict[int, int] = {}

    def _walk(self, lift: int, mask: int, rows: IntArray, worst: FloatArray) -> None:
        """Best utilisation for every group; the set of poses shrinks as lifts join."""
        if mask:
            self.best[mask] = worst.min() if rows.size else np.inf
        if rows.size == 0:
            return
        for i in range(lift, len(self.problem.lifts)):
            value = np.maximum(worst, self.value[rows, i])
            good = value <= self.problem.limit
            self._walk(i + 1, mask | 1 << i, rows[good], value[good])

    def place(self, mask: int) -> StandPlace | None:
        """Next place of a group that has not been turned down."""
        at = self.next.setdefault(mask, 0)
        known = self.ranked.setdefault(mask, [])
        if at >= len(known):
            known[:] = self._rank(mask, max(_FIRST_PLACES, 2 * (at + 1)))
        return known[at] if at < len(known) else None

    def turn_down(self, mask: int) -> None:
        """The group's place did not pass: take the next."""
        self.next[mask] += 1
        place = self.place(mask)
        self.best[mask] = np.inf if place is None else place.utilisation

    def _rank(self, mask: int, count: int) -> list[StandPlace]:
        chosen = [i for i in range(len(self.problem.lifts)) if mask >> i & 1]
        worst = self.value[:, chosen].max(axis=1)
        rows = np.flatnonzero(worst <= self.problem.limit)
        if rows.size > count:
            cut = np.partition(worst[rows], count - 1)[count - 1]
            rows = rows[worst[rows] <= cut]
        if rows.size == 0:
            return []
        part = replace(self.problem, lifts=tuple(self.problem.lifts[i] for i in chosen))
        angle = np.asarray(self.problem.headings_deg)[self.heading[rows]]
        legs = self.problem.extension_m(self.option[rows])
        force = Measure(part).leg_force_kN(self.stand[rows], angle, extension_m=legs)
        order = np.lexsort((self.heading[rows], self.stand[rows], force, worst[rows]))[:count]
        return [
            measure.grid_place(
                self.problem, int(self.stand[rows[k]]), heading=int(self.heading[rows[k]]),
                extension_m=legs[k].tolist(), by_lift=self.value[rows[k], chosen].tolist(),
                leg_force_kN=float(force[k]),
            )
            for k in order.tolist()
        ]  # fmt: skip


def _best_split(best: FloatArray, lifts: int, groups: int) -> tuple[float, list[int]]:
    """Least greatest value over splits of all lifts into at most *groups* groups."""
    full = (1 << lifts) - 1
    value = [best.copy()]
    choice: list[dict[int, int]] = [{}]
    for _ in range(1, groups):
        last, now, pick = value[-1], value[-1].copy(), {}
        for mask in range(1, full + 1):
            low = mask & -mask
            rest = mask ^ low
            sub = rest
            while True:
                part = sub | low
                other = mask ^ part
                if other:
                    together = max(best[part], last[other])
                    if together < now[mask]:
                        now[mask] = together
                        pick[mask] = part
                if sub == 0:
                    break
                sub = (sub - 1) & rest
        value.append(now)
        choice.append(pick)
    parts, mask = [], full
    for level in range(groups - 1, -1, -1):
        if mask in choice[level]:
            parts.append(choice[level][mask])
            mask ^= parts[-1]
        elif level == 0:
            parts.append(mask)
    return float(value[-1][full]), parts


def plan_setups(
    problem: SearchProblem,
    check: GroupCheck,
    *,
    most_setups: int | None = None,
    max_checks: int = 1000,
    progress: Progress | None = None,
    checked: Progress | None = None,
    stop: Stop | None = None,
    poses: Poses | None = None,
) -> tuple[SetupPlan, ...]:
    """Best plan for each number of set-ups, as far as another set-up gains anything.

    Parameters:
      problem: SearchProblem. With at most 10 lifts.
      check: callable. Takes a StandPlace and the names of its lifts, returns (accepted, reason).
      most_setups: optional. Greatest number of set-ups; the number of lifts when not given.
      max_checks: Full checks to spend before giving up (then fewer plans are returned).
      progress: callable, optional. Called with (headings measured, headings in all).
      checked: callable, optional. Called after each full check with (checks made, groups accepted).
      stop: callable, optional. Asked between headings and full checks; True ends the plan, with the plans made so far.
        A full check may ask too, and raise :class:`liftcalc.placement.measure.StopAsked`.
      poses: Poses, optional. Of the same problem, to share with :func:`margin_map`.
    Returns: tuple of SetupPlan, fewest set-ups first; each has less utilisation than the one
      before. Empty when some lift has no place at all.
    Raises: More than 10 lifts, or a number out of range.
    """
    count = len(problem.lifts)
    if count > MOST_LIFTS:
        remedy = "Plan the job in parts, by area or by day."
        raise InputError.of("lifts", count, f"at most {MOST_LIFTS}", remedy)
    most = count if most_setups is None else most_setups
    if not 1 <= most <= count:
        raise InputError.of("most_setups", most_setups, f"1 to {count}")
    plans: list[SetupPlan] = []
    asked = stop or (lambda: False)
    try:
        groups = _Groups(problem, poses or Poses(problem), progress, asked)
        _add_plans(plans, groups, check, most, max_checks, checked, asked)
    except StopAsked:
        pass
    return tuple(plans)


def _add_plans(
    plans: list[SetupPlan], groups: _Groups, check: GroupCheck, most: int, max_checks: int,
    checked: Progress | None, stop: Stop,
) -> None:  # fmt: skip
    """Plans with one set-up, then with more, until the checks are spent or a stop is asked."""
    problem = groups.problem
    count = len(problem.lifts)
    passed: set[tuple[int, int]] = set()
    checks = 0
    for setups in range(1, most + 1):
        while True:
            value, parts = _best_split(groups.best, count, setups)
            if not value <= problem.limit:
                break
            waiting = [p for p in parts if (p, groups.next.get(p, 0)) not in passed]
            if not waiting:
                break
            for mask in waiting:
                place = groups.place(mask)
                if place is None or checks >= max_checks:
                    return
                if stop():
                    raise StopAsked
                checks += 1
                names = tuple(lift.name for i, lift in enumerate(problem.lifts) if mask >> i & 1)
                if check(place, names)[0]:
                    passed.add((mask, groups.next[mask]))
                else:
                    groups.turn_down(mask)
                if checked is not None:
                    checked(checks, len(passed))
        if value <= problem.limit and (not plans or value < plans[-1].utilisation):
            plans.append(_plan(problem, groups, parts))


def _plan(problem: SearchProblem, groups: _Groups, parts: list[int]) -> SetupPlan:
    chosen = sorted((p, groups.place(p)) for p in parts)
    places = tuple(place for _, place in chosen if place is not None)
    machine = problem.machine
    return SetupPlan(
        places=places,
        lifts=tuple(tuple(lift.name for i, lift in enumerate(problem.lifts) if mask >> i & 1) for mask, _ in chosen),
        utilisation=max(p.utilisation for p in places),
        leg_force_kN=max(p.leg_force_kN for p in places),
        mat_area_m2=4.0 * machine.mat_length_m * machine.mat_width_m,
    )


def pareto_plans(plans: Sequence[SetupPlan]) -> tuple[SetupPlan, ...]:
    """Plans that no other plan betters in utilisation, set-ups and mat area at once.

    *plans* may be of several mats or machines.

    Returns: tuple, by set-ups, then utilisation, then mat area; of equal ones the first.
    """

    def key(plan: SetupPlan) -> tuple[float, float, float]:
        return plan.setups, plan.utilisation, plan.mat_area_m2

    kept: list[SetupPlan] = []
    for plan in sorted(plans, key=key):
        if not any(all(a <= b for a, b in zip(key(k), key(plan), strict=True)) for k in kept):
            kept.append(plan)
    return tuple(kept)
