"""The lattice of states on which a load path is sought, and shortest paths over it.

See :mod:`liftcalc.clearance.loadpath` for the method.

Sources: E. W. Dijkstra (1959), shortest path.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components, dijkstra

from liftcalc.base.arrays import BoolArray, FloatArray, IntArray
from liftcalc.base.errors import InputError, Problem, field_problems
from liftcalc.clearance.bodies import CraneShape, MovingMember, MovingPrism
from liftcalc.clearance.crane_bodies import HungLoad, crane_bodies, load_to_boom_m
from liftcalc.clearance.least import Obstacle, clearance_series

MOTIONS = ("slew", "luff", "hoist")
"""Motions of which a path is made."""
OWN_LIMITS = ("reach and hook height", "own boom", "carry height", "rated capacity")
"""What shuts a way besides the obstacles."""
_MOST_NODES = 400_000


@dataclass(frozen=True)
class Speeds:
    """Speeds with the load, and the time that a change of motion takes (assumed values).

    Attributes:
      slew_deg_s, luff_m_s, hoist_m_s: Luff is the change of radius. [deg/s, m/s]
      change_s: Time to stop one motion and start another. [s]
    """

    slew_deg_s: float = 3.0
    luff_m_s: float = 0.15
    hoist_m_s: float = 0.2
    change_s: float = 8.0


SPEEDS = Speeds()
"""Assumed speeds by which paths are compared; no check rests on them."""


@dataclass(frozen=True)
class PathAxes:
    """Extent and step of the lattice.

    Parameters:
      radius_m: (least, greatest)
      load_base_height_m: (least, greatest). Underside of the load above the stand. [m]
      boom_length_m: > 0. The boom keeps its length with the load on.
    """

    radius_m: tuple[float, float]
    load_base_height_m: tuple[float, float]
    boom_length_m: float
    slew_step_deg: float = 5.0
    radius_step_m: float = 1.0
    height_step_m: float = 1.0

    def __post_init__(self) -> None:
        problems = field_problems(self, positive=("boom_length_m", "slew_step_deg", "radius_step_m", "height_step_m"))
        for name in ("radius_m", "load_base_height_m"):
            low, high = getattr(self, name)
            if not (high >= low and np.isfinite([low, high]).all()):
                problems.append(Problem(name, (low, high), "two finite numbers, rising"))
        if not self.radius_m[0] > 0:
            problems.append(Problem("radius_m", self.radius_m, "above 0"))
        if problems:
            raise InputError(problems, source="path axes")


def axis_values(low: float, high: float, step: float, *extra: float) -> FloatArray:
    values = np.append(np.arange(low, high + 1e-9, step), [high, *extra])
    values = np.unique(np.round(values, 9))
    # a value closer than 1 mm to a given one would only make a needless state
    keep = [v for v in values.tolist() if v in extra or all(abs(v - e) > 1e-3 for e in extra)]
    return np.asarray(keep)


class Lattice:
    """States in (slew, radius, height), and what each keeps."""

    def __init__(
        self, shape: CraneShape, load: HungLoad, obstacles: Sequence[Obstacle],
        stand: tuple[float, float, float, float], axes: PathAxes,
        ends: tuple[FloatArray, FloatArray], load_to_boom: float, head_room: float,
        carry_height: float,
    ) -> None:  # fmt: skip
        self.shape, self.load, self.obstacles, self.stand = shape, load, list(obstacles), stand
        self.load_to_boom, self.head_room = load_to_boom, head_room
        self.carry_height, self.ends = carry_height, ends
        pick, down = ends
        self.length_m = axes.boom_length_m
        self.slew = axis_values(
            0.0, 360.0 - axes.slew_step_deg, axes.slew_step_deg,
            *np.round(np.mod([pick[0], down[0]], 360.0), 9).tolist(),
        )  # fmt: skip
        self.radius = axis_values(*axes.radius_m, axes.radius_step_m, *np.round([pick[1], down[1]], 9))
        self.height = axis_values(*axes.load_base_height_m, axes.height_step_m, *np.round([pick[2], down[2]], 9))
        self.dims = (self.slew.size, self.radius.size, self.height.size)
        self.size = int(np.prod(self.dims))
        if self.size > _MOST_NODES:
            remedy = "Take a larger step."
            raise InputError.of("lattice", self.size, f"at most {_MOST_NODES} states", remedy)
        index = np.unravel_index(np.arange(self.size), self.dims)
        self.at_slew, self.at_radius, self.at_height = (
            axis[i] for axis, i in zip((self.slew, self.radius, self.height), index, strict=True)
        )
        self.head, self.reach = self.head_height(self.at_radius)

    def head_height(self, radius: FloatArray) -> tuple[FloatArray, BoolArray]:
        """Head above the stand for a straight boom, and whether it reaches the radius."""
        run = radius - self.shape.boom_foot_x_m
        rise = self.length_m**2 - run**2
        ok = (rise > 0) & (run > 0)
        return self.shape.boom_foot_z_m + np.sqrt(np.where(ok, rise, 0.0)), ok

    def node(self, slew: float, radius: float, height: float) -> int:
        """Index of the state nearest to these values."""
        axes = (self.slew, self.radius, self.height)
        pairs = zip(axes, (round(slew % 360.0, 9), radius, height), strict=True)
        found = [int(np.argmin(np.abs(axis - value))) for axis, value in pairs]
        return int(np.ravel_multi_index(tuple(found), self.dims))

    def bodies(
        self, slew: ArrayLike, radius: ArrayLike, head: ArrayLike, height: ArrayLike
    ) -> tuple[MovingMember | MovingPrism, ...]:
        east, north, level, heading = self.stand
        return crane_bodies(
            self.shape, self.load, easting_m=east, northing_m=north, level_m=level, heading_deg=heading, slew_deg=slew,
            radius_m=radius, head_height_m=head, load_base_height_m=height,
        )  # fmt: skip

    def blocked(self) -> tuple[BoolArray, list[str]]:
        """Which states each obstacle blocks, shape (causes, states), and the causes' names."""
        need = self.load.height_m + self.load.gear_height_m + self.head_room
        room = self.reach & (self.head - need >= self.at_height - 1e-9)
        rows, names = [~room], [OWN_LIMITS[0]]
        near = np.zeros(self.size, dtype=bool)
        good = np.flatnonzero(room)
        if good.size:
            gap = load_to_boom_m(
                self.shape, self.load, radius_m=self.at_radius[good], head_height_m=self.head[good],
                load_base_height_m=self.at_height[good],
            )  # fmt: skip
            near[good] = gap < max(self.load_to_boom, 1e-6)
        rows.append(near)
        names.append(OWN_LIMITS[1])
        low = self.at_height < self.carry_height - 1e-9
        for end in self.ends:  # only straight up and down at pick and set-down
            low &= ~(
                (np.abs(self.at_slew - round(float(end[0]) % 360.0, 9)) < 1e-6)
                & (np.abs(self.at_radius - end[1]) < 1e-6)
            )
        rows.append(low)
        names.append(OWN_LIMITS[2])
        # obstacles are judged where the own limits shut the way too, to tell which is the cause
        good = np.flatnonzero(room)
        for obstacle in self.obstacles:
            hit = np.zeros(self.size, dtype=bool)
            for part in np.array_split(good, max(good.size // 20_000, 1)):
                if part.size:
                    at = (self.at_slew[part], self.at_radius[part])
                    bodies = self.bodies(*at, self.head[part], self.at_height[part])
                    hit[part] = clearance_series(bodies, [obstacle]).min(axis=0) < 0
            rows.append(hit)
            names.append(obstacle.name)
        return np.stack(rows), names

    def edges(self) -> tuple[IntArray, IntArray, IntArray, FloatArray]:
        """Moves between neighbours, both ways: from, to, motion, time."""
        states = np.arange(self.size).reshape(self.dims)
        found = []
        turn = np.diff(self.slew, append=self.slew[0] + 360.0)
        for motion, (a, b, cost) in enumerate((
            (states, np.roll(states, -1, axis=0), (turn / SPEEDS.slew_deg_s)[:, None, None]),
            (states[:, :-1], states[:, 1:], (np.diff(self.radius) / SPEEDS.luff_m_s)[:, None]),
            (states[..., :-1], states[..., 1:], np.diff(self.height) / SPEEDS.hoist_m_s),
        )):  # fmt: skip
            time = np.broadcast_to(cost, a.shape).ravel()
            a, b = a.ravel(), b.ravel()
            kind = np.full(a.size, motion)
            found += [(a, b, kind, time), (b, a, kind, time)]
        return tuple(np.concatenate(p) for p in zip(*found, strict=True))  # type: ignore[return-value]


def shortest(
    size: int, edges: tuple[IntArray, IntArray, IntArray, FloatArray], free: BoolArray, ends: tuple[int, int]
) -> tuple[list[int], list[int]] | None:
    """States and motions of the path of least time, or None."""
    start, goal = ends
    source, target, motion, time = edges
    use = free[source] & free[target]
    source, target, motion, time = source[use], target[use], motion[use], time[use]
    kinds = len(MOTIONS)
    # a node for each state and motion; leaving it by another motion costs the change
    rows, columns, costs = [], [], []
    for last in range(kinds):
        rows.append(source * kinds + last)
        columns.append(target * kinds + motion)
        costs.append(time + np.where(motion == last, 0.0, SPEEDS.change_s))
    graph = coo_array(
        (np.concatenate(costs), (np.concatenate(rows), np.concatenate(columns))), shape=(size * kinds, size * kinds)
    ).tocsr()
    first = start * kinds + np.arange(kinds)  # any motion may be the first, without a change
    distance, before, _ = dijkstra(graph, indices=first, return_predecessors=True, min_only=True)
    last = goal * kinds + int(np.argmin(distance[goal * kinds : goal * kinds + kinds]))
    if not np.isfinite(distance[last]):
        return None
    states, motions = [], []
    node = last
    while node >= 0:
        states.append(node // kinds)
        motions.append(node % kinds)
        node = int(before[node])
    return states[::-1], motions[::-1]


def parts(size: int, edges: tuple[IntArray, IntArray, IntArray, FloatArray], free: BoolArray) -> IntArray:
    """Connected parts of the free states; -1 for what is not free."""
    source, target = edges[0], edges[1]
    use = free[source] & free[target]
    graph = coo_array((np.ones(int(use.sum())), (source[use], target[use])), shape=(size, size))
    label = connected_components(graph.tocsr(), directed=False)[1].astype(np.int64)
    return np.where(free, label, -1)
