"""A path for the load from pick to set-down by slew, luff and hoist.

Method
------
States are points of a lattice in slew, radius and height of the load's underside. The values at pick and set-down are
lattice values themselves. One motion runs at a time, and a change of motion costs time. A state is free when every body
keeps its distance from every obstacle, the load keeps its distance from the boom, the head leaves room for hook and
rigging, and the utilisation is at most 1. The path is the one of least time (Dijkstra over states and motions).

Between lattice states the path found is checked in small steps, each distance less what it could
shrink between two steps; a move that fails is removed and the path searched again. So every
path returned keeps every distance along its whole length, not only at the lattice.

Where there is none, the error names what shuts the way: the obstacles each of which alone, if it were gone, would open
a way; or, where several shut it together, all that border on what can be reached.

Limits: boom deflection is not modelled (give radii as loaded); loads do not change their angle to the boom on the way;
a way narrower than the lattice step may be missed, never a false one returned.

Sources: E. W. Dijkstra (1959), shortest path.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from liftcalc.base.arrays import BoolArray, FloatArray, IntArray
from liftcalc.base.errors import InputError, LiftcalcError, Problem, require_finite
from liftcalc.clearance.bodies import CraneShape, MovingMember, MovingPrism
from liftcalc.clearance.crane_bodies import HungLoad, load_to_boom_m
from liftcalc.clearance.lattice import MOTIONS, OWN_LIMITS, SPEEDS, Lattice, PathAxes, parts, shortest
from liftcalc.clearance.least import ClearanceResult, Obstacle, clearance_series, least_clearances
from liftcalc.clearance.members import Moving

_FINE_STEP_M = 0.05
"""Greatest movement of any body between two fine steps. [m]"""
_MOST_TRIES = 200
"""Moves that fail between states are removed this often before giving up."""

Utilisation = Callable[[FloatArray, FloatArray], FloatArray]
"""Takes slews (S,), radii (R,); returns utilisation (S, R), inf where no data."""


class PathBlockedError(LiftcalcError):
    """No path keeps every distance; names what shuts the way."""

    def __init__(self, blockers: tuple[str, ...], words: str) -> None:
        self.blockers = blockers
        super().__init__(words)


@dataclass(frozen=True, eq=False)
class PlannedPath:
    """A path that keeps every distance.

    Attributes:
      slew_deg, radius_m, load_base_height_m, time_s: shape (n,). Fine steps; the slew
        runs on past 360 rather than jump.
      motion: tuple of str, length n. Motion that leads to each step.
      corners: tuple of int. Steps at which the motion changes, first and last included.
      clearances: ClearanceResult. Least distances along the fine steps.
      greatest_utilisation: At the lattice states of the path; NaN without a utilisation function.
    """

    slew_deg: FloatArray
    radius_m: FloatArray
    load_base_height_m: FloatArray
    time_s: FloatArray
    motion: tuple[str, ...]
    corners: tuple[int, ...]
    clearances: ClearanceResult
    greatest_utilisation: float


def _why_blocked(
    lattice: Lattice, edges: tuple[IntArray, IntArray, IntArray, FloatArray], blocked: BoolArray,
    names: list[str], ends: tuple[int, int],
) -> PathBlockedError:  # fmt: skip
    start, goal = ends
    found: dict[str, None] = {}
    sentences = []
    for node, place in ((start, "pick"), (goal, "set-down")):
        hits = zip(names, blocked[:, node], strict=True)
        causes = list(dict.fromkeys(name for name, hit in hits if hit))
        if causes:
            found.update(dict.fromkeys(causes))
            sentences.append(f"The load cannot be at the {place}: {', '.join(causes)}.")
    if found:
        return PathBlockedError(tuple(found), " ".join(sentences))
    count = blocked.sum(axis=0)
    alone = []
    for name in dict.fromkeys(names[1:]):  # what is out of reach was not judged otherwise
        own = blocked[[k for k, n in enumerate(names) if n == name]]
        label = parts(lattice.size, edges, count - own.sum(axis=0) == 0)
        if label[start] == label[goal]:
            alone.append(name)
    if alone:
        # the machine's own limits are named only where no obstacle alone shuts the way
        alone = [name for name in alone if name not in OWN_LIMITS] or alone
        return PathBlockedError(tuple(alone), "No path keeps every distance. Shut by " + " or by ".join(alone) + ".")
    label = parts(lattice.size, edges, count == 0)
    source, target = edges[0], edges[1]
    border = target[(label[source] == label[start]) & (label[target] < 0)]
    together = tuple(dict.fromkeys(names[k] for k in range(len(names)) if blocked[k, border].any()))
    return PathBlockedError(together, "No path keeps every distance. Shut by all of " + ", ".join(together) + ".")


def plan_load_path(
    shape: CraneShape,
    load: HungLoad,
    *,
    obstacles: Sequence[Obstacle],
    stand: tuple[float, float, float, float],
    pick: tuple[float, float, float],
    set_down: tuple[float, float, float],
    axes: PathAxes,
    utilisation: Utilisation | None = None,
    load_to_boom_m: float = 0.3,
    head_room_m: float = 0.3,
    carry_height_m: float | None = None,
) -> PlannedPath:
    """Path of the load that keeps every clearance.

    Parameters:
      shape, load: CraneShape, HungLoad
      obstacles: sequence of Obstacle. Each with the distance it asks for; zones and lines as in
        :mod:`liftcalc.clearance.least`.
      stand: (easting, northing, level, heading). Slew centre on the ground and heading of +x. [m, m, m, deg]
      pick, set_down: (slew, radius, height). Slew from +x, radius, underside of the load above the stand. [deg, m, m]
      utilisation: callable, optional. See :data:`Utilisation`; states above 1, or NaN, are not entered.
      load_to_boom_m, head_room_m: >= 0. Distance from load to boom, and room above the hook. [m]
      carry_height_m: optional. Away from pick and set-down the load's underside is at least this
        high above the stand; 0.5 m above the higher of the two when not given (assumed). [m]
    Raises: A value out of range, or a lattice too large. PathBlockedError: No path; names what shuts the way.
    """
    _check_request(pick, set_down, axes)
    where = tuple(float(require_finite("stand", v)) for v in stand)
    if len(where) != 4:
        raise InputError.of("stand", stand, "easting, northing, level, heading")
    ends = (np.asarray(pick, dtype=np.float64), np.asarray(set_down, dtype=np.float64))
    carry = max(pick[2], set_down[2]) + 0.5
    if carry_height_m is not None:
        carry = float(require_finite("carry_height_m", carry_height_m))
    lattice = Lattice(
        shape, load, obstacles, (where[0], where[1], where[2], where[3]), axes, ends, load_to_boom_m, head_room_m, carry
    )
    nodes = (lattice.node(*map(float, ends[0])), lattice.node(*map(float, ends[1])))
    blocked, names = lattice.blocked()
    used = np.full(lattice.size, np.nan)
    if utilisation is not None:
        table = np.asarray(utilisation(lattice.slew, lattice.radius), dtype=np.float64)
        used = np.broadcast_to(table[..., None], lattice.dims).ravel()
        blocked = np.vstack([blocked, ~(used <= 1.0)])
        names.append(OWN_LIMITS[3])
    edges = lattice.edges()
    free: BoolArray = ~np.asarray(blocked.any(axis=0), dtype=np.bool_)
    removed: set[tuple[int, int]] = set()
    for _ in range(_MOST_TRIES):
        found = shortest(lattice.size, edges, free, nodes)
        if found is None:
            raise _why_blocked(lattice, edges, blocked, names, nodes)
        path = _fine(lattice, found, used)
        if isinstance(path, PlannedPath):
            return path
        removed |= {path, path[::-1]}
        drop = np.array(sorted(a * lattice.size + b for a, b in removed))
        keep = ~np.isin(edges[0] * lattice.size + edges[1], drop)
        edges = (edges[0][keep], edges[1][keep], edges[2][keep], edges[3][keep])
    raise PathBlockedError(("lattice",), f"No path found after {_MOST_TRIES} tries. Take a smaller lattice step.")


def _fine(lattice: Lattice, found: tuple[list[int], list[int]], used: FloatArray) -> PlannedPath | tuple[int, int]:
    """The path in fine steps, or the first move that fails between its states."""
    states, motions = found
    axes = (lattice.at_slew, lattice.at_radius, lattice.at_height)
    corner = np.stack([axis[states] for axis in axes], axis=1)
    corner[:, 0] = np.degrees(np.unwrap(np.radians(corner[:, 0])))
    # farthest that a body point moves: boom tip or tail by slew, head by luff
    arm = max(lattice.shape.tail_radius_m, float(lattice.radius[-1])) + np.hypot(
        lattice.load.length_m, lattice.load.width_m
    )
    pieces, owner = [corner[:1]], [0]
    for k in range(1, len(states)):
        step = corner[k] - corner[k - 1]
        heads, _ = lattice.head_height(corner[k - 1 : k + 1, 1])
        rise = 2.0 * abs(float(heads[1] - heads[0]))
        way = abs(np.radians(step[0])) * arm + abs(step[1]) + abs(step[2]) + rise
        count = max(int(np.ceil(way / _FINE_STEP_M)), 1)
        t = np.arange(1, count + 1)[:, None] / count
        pieces.append(corner[k - 1] + t * step)
        owner += [k] * count
    fine = np.vstack(pieces)
    slew, radius, height = fine.T
    head, _ = lattice.head_height(radius)
    bodies = lattice.bodies(slew, radius, head, height)
    bad = _first_failure(lattice, bodies, radius, head, height)
    if bad is not None:
        k = max(owner[bad], 1)
        return states[k - 1], states[k]
    rate = np.array([SPEEDS.slew_deg_s, SPEEDS.luff_m_s, SPEEDS.hoist_m_s])
    moved = np.abs(np.diff(fine, axis=0)) / rate
    change = np.zeros(len(fine))
    motion = ["start"] + [MOTIONS[motions[k]] for k in owner[1:]]
    for i in range(2, len(fine)):
        if motion[i] != motion[i - 1]:
            change[i] = SPEEDS.change_s
    time = np.concatenate([[0.0], np.cumsum(moved.sum(axis=1))]) + np.cumsum(change)
    turns = [0] + [i for i in range(1, len(fine) - 1) if motion[i + 1] != motion[i]]
    return PlannedPath(
        slew_deg=slew, radius_m=radius, load_base_height_m=height, time_s=time,
        motion=tuple(motion), corners=tuple(dict.fromkeys([*turns, len(fine) - 1])),
        clearances=least_clearances(bodies, lattice.obstacles),
        greatest_utilisation=float(np.max(used[states])),
    )  # fmt: skip


def _first_failure(
    lattice: Lattice, bodies: tuple[MovingMember | MovingPrism, ...], radius: FloatArray,
    head: FloatArray, height: FloatArray,
) -> int | None:  # fmt: skip
    """First fine step at which a distance, or what it may be just before or after, is short.

    The ends of the path are judged as they stand: there is nothing before and after them.
    """
    n = radius.size
    short = np.zeros(n, dtype=bool)
    for body, margin in zip(bodies, clearance_series(bodies, lattice.obstacles), strict=True):
        slack = np.zeros(n)
        if n > 1:
            moved = Moving(body).whole_m
            slack[1:] = moved / 2.0
            slack[:-1] = np.maximum(slack[:-1], moved / 2.0)
            slack[[0, -1]] = 0.0
        short |= margin - slack < 0
    gap = load_to_boom_m(lattice.shape, lattice.load, radius_m=radius, head_height_m=head, load_base_height_m=height)
    short |= gap < max(lattice.load_to_boom, 1e-6)
    room = head - lattice.load.height_m - lattice.load.gear_height_m - lattice.head_room
    short |= room < height - 1e-9
    return int(np.argmax(short)) if short.any() else None


def _check_request(pick: tuple[float, float, float], set_down: tuple[float, float, float], axes: PathAxes) -> None:
    problems = []
    for name, place in (("pick", pick), ("set_down", set_down)):
        if len(place) != 3 or not np.isfinite(place).all():
            problems.append(Problem(name, place, "slew, radius and height, finite"))
            continue
        for value, (low, high), what in (
            (place[1], axes.radius_m, "radius_m"),
            (place[2], axes.load_base_height_m, "load_base_height_m"),
        ):
            if not low - 1e-9 <= value <= high + 1e-9:
                problems.append(Problem(f"{what} of {name}", value, f"{low:g} to {high:g}"))
    if problems:
        raise InputError(problems, source="load path")
