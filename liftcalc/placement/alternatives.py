"""What would help a lift that fails where it stands: move, turn, longer legs.

Each alternative is the smallest change of its kind that the search's measure and the full check
both pass; kinds for which there is none within reach are left out.

Sources: plane geometry.
"""

import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from liftcalc.base.errors import InputError, require_positive
from liftcalc.base.text import amount
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.placement.fit import StandGrid
from liftcalc.placement.ground import leg_ranges
from liftcalc.placement.measure import (
    FullCheck,
    Measure,
    Progress,
    SearchProblem,
    StandPlace,
    Stop,
    StopAsked,
    grid_place,
)
from liftcalc.placement.setups import Poses

Change = Literal["legs", "turn", "move"]
_MOST_STEPS = 8
_COMPASS = ("east", "north-east", "north", "north-west", "west", "south-west", "south", "south-east")


@dataclass(frozen=True)
class Alternative:
    """One change that makes the lift pass.

    Attributes:
      change: what is changed
      words: The change in words, for instance ``move 1.5 m north``.
      place: StandPlace. The place after the change.
    """

    change: Change
    words: str
    place: StandPlace


def measured_place(
    problem: SearchProblem, *, easting_m: float, northing_m: float, heading_deg: float, extension_m: tuple[float, ...]
) -> StandPlace:
    """The search's measure of any place, on the grid or off it, whether or not it fits.

    Parameters:
      easting_m, northing_m: Slew centre. [m]
      heading_deg: Of the machine's +x from east, anticlockwise. [deg]
      extension_m: tuple of 4 float. FL, FR, RR, RL. [m]
    Raises: Other than four extensions, or a problem whose parts do not fit together.
    """
    spot = replace(problem, grid=StandGrid(easting_m, northing_m, 1.0, 1, 1), headings_deg=(heading_deg,))
    return _measured(Measure(spot), 0, 0, extension_m)


def _measured(measure: Measure, stand: int, heading: int, extension_m: tuple[float, ...]) -> StandPlace:
    """Place at a grid point and heading of the measure's own problem."""
    legs = np.asarray([extension_m], dtype=np.float64)
    if legs.shape != (1, 4):
        raise InputError.of("extension_m", extension_m, "four extensions")
    at, angle = np.array([stand], dtype=np.int64), np.array([measure.problem.headings_deg[heading]])
    by_lift = measure.utilisation(
        at, angle, extension_row=np.zeros(1, dtype=np.int64), extensions=[tuple(legs[0].tolist())]
    )[0]
    place = grid_place(
        measure.problem, stand, heading=heading, extension_m=legs[0].tolist(),
        by_lift=by_lift.tolist(),
        leg_force_kN=float(measure.leg_force_kN(at, angle, extension_m=legs)[0]),
    )  # fmt: skip
    return replace(place, stand=-1, heading=-1)  # of no grid that the search knows


def alternatives(
    problem: SearchProblem,
    full_check: FullCheck,
    *,
    easting_m: float,
    northing_m: float,
    heading_deg: float,
    extension_m: tuple[float, float, float, float],
    within_m: float = 10.0,
    max_checks: int = 200,
    progress: Progress | None = None,
    checked: Progress | None = None,
    stop: Stop | None = None,
) -> tuple[Alternative, ...]:
    """Smallest changes that make every lift of the problem pass.

    Parameters:
      problem: SearchProblem. With the failing lift only, or with all that are to be done from here.
      full_check: callable. As :func:`liftcalc.placement.search.search`.
      easting_m, northing_m, heading_deg, extension_m: Where the machine stands now.
      within_m: > 0. How far it may move. [m]
      max_checks: Full checks to spend on each kind of change.
      progress: callable, optional. Called with (headings measured, headings in all), of both turning and moving.
      checked: callable, optional. Called after each full check with (checks made, kinds of change found).
      stop: callable, optional. Asked between pieces of the work; True ends it, with the changes found so far. A full
        check may ask too, and raise :class:`liftcalc.placement.measure.StopAsked`.
    Returns: tuple of Alternative, in the order legs, turn, move.
    Raises: StopAsked, when *stop* asks.
    """
    reach = float(require_positive("within_m", within_m))
    whole = 2 * len(problem.headings_deg) + 1
    passes = itertools.count(1)

    def between() -> None:
        if stop is not None and stop():
            raise StopAsked

    def turned() -> None:
        between()
        if progress is not None:
            progress(next(passes), whole)

    at = (problem, easting_m, northing_m, heading_deg)
    kinds: tuple[tuple[Change, Iterator[tuple[str, StandPlace]]], ...] = (
        ("legs", _longer_legs(*at, extension_m, between)),
        ("turn", _moved(*at, 0.0, turned)),
        ("move", _moved(*at, reach, turned)),
    )
    found: list[Alternative] = []
    checks = 0
    try:
        for change, candidates in kinds:
            for words, place in itertools.islice(candidates, max_checks):
                between()
                passed = full_check(place)[0]
                checks += 1
                if passed:
                    found.append(Alternative(change, words, place))
                if checked is not None:
                    checked(checks, len(found))
                if passed:
                    break
        between()
    except StopAsked:
        pass
    return tuple(found)


def _longer_legs(
    problem: SearchProblem, east: float, north: float, heading: float,
    now: tuple[float, float, float, float], between: Callable[[], None],
) -> Iterator[tuple[str, StandPlace]]:  # fmt: skip
    """Outriggers farther out at the same place: least total added length first."""
    room = leg_ranges(problem.ground, problem.machine, easting_m=east, northing_m=north, heading_deg=heading)
    if room.carrier_blocked_by:
        return
    choices = []
    for leg, options, extension in zip(room.legs, problem.machine.extension_options_m, now, strict=True):
        longer = [o for o in options if o > extension + 1e-9 and any(a <= o <= b for a, b in leg.ranges_m)]
        if len(longer) > _MOST_STEPS:  # of a fine series a few, the longest among them
            longer = longer[:: -(len(longer) // _MOST_STEPS + 1)][::-1]
        choices.append([extension, *longer])
    combos = [c for c in itertools.product(*choices) if c != tuple(now)]
    combos.sort(key=lambda c: (round(sum(c) - sum(now), 9), sum(a != b for a, b in zip(c, now)), c))  # noqa: B905
    spot = replace(problem, grid=StandGrid(east, north, 1.0, 1, 1), headings_deg=(heading,))
    measure = Measure(spot)
    for legs in combos:
        between()
        place = _measured(measure, 0, 0, legs)
        if place.utilisation <= problem.limit:
            parts = [
                f"outrigger {name} out by {amount(b - a, 'extension_m')} to {amount(b, 'extension_m')}"
                for name, a, b in zip(LEG_NAMES, now, legs, strict=True)
                if b > a
            ]
            yield " and ".join(parts), place


def _moved(
    problem: SearchProblem, east: float, north: float, heading: float, reach: float, between: Callable[[], None]
) -> Iterator[tuple[str, StandPlace]]:
    """Other headings here (reach 0), or other stand points: nearest first, least turn first."""
    step = problem.grid.step_m
    n = int(np.floor(reach / step))
    turns = np.array([(h - heading + 180.0) % 360.0 - 180.0 for h in problem.headings_deg])
    grid = StandGrid(east - n * step, north - n * step, step, 2 * n + 1, 2 * n + 1)
    angles = tuple(problem.headings_deg)
    if reach > 0:
        angles = (heading, *angles)  # staying on the heading is the least change
        turns = np.concatenate([[0.0], turns])
    local = replace(problem, grid=grid, headings_deg=angles)
    poses = Poses(local)
    de, dn = (p - o for p, o in zip(grid.points_m(), (east, north), strict=True))
    way = np.hypot(de, dn)
    near = (way <= reach + 1e-9) & (way > 1e-9 if reach > 0 else np.ones(way.size, dtype=bool))
    rows = []
    for h in range(len(angles)):
        between()
        if reach == 0 and abs(turns[h]) < 1e-9:
            continue
        stand, option, value, _ = poses.at(h, near)
        if stand.size == 0:
            continue
        worst = value.max(axis=1)
        extended = local.extension_m(option)
        rows += [
            (round(float(way[s]), 6), abs(float(turns[h])), float(w), int(s), h, tuple(e))
            for s, w, e in zip(stand.tolist(), worst.tolist(), extended.tolist(), strict=True)
            if w <= problem.limit
        ]
    if reach > 0:  # at each stand point the least turn and the least utilisation are enough
        least_used: dict[int, float] = {}
        for row in rows:
            least_used[row[3]] = min(least_used.get(row[3], np.inf), row[2])
        first: dict[int, float] = {}
        for row in sorted(rows):
            first.setdefault(row[3], row[1])
        rows = [r for r in rows if r[1] == first[r[3]] or r[2] == least_used[r[3]]]
    for distance, turn, _, s, h, legs in sorted(rows):
        words = []
        if distance > 0:
            point = round(float(np.degrees(np.arctan2(dn[s], de[s]))) / 45.0) % 8
            words.append(f"move {amount(distance, 'length_m')} {_COMPASS[point]}")
        if turn > 0.05:
            words.append(f"turn {turn:.0f}° {'left' if turns[h] > 0 else 'right'}")
        place = _measured(poses.measure, s, h, legs)
        set_at = " / ".join(amount(e, "extension_m") for e in legs)
        yield f"{' and '.join(words)}, outriggers {set_at}", place
