"""Least distances along a lift's path between what moves and what stands in the way.

Method
------
The distance of each body (see :mod:`liftcalc.clearance.bodies`) from each obstacle is found in closed form (see
:mod:`liftcalc.clearance.solids`) at every step that could hold the least value; :mod:`liftcalc.clearance.search` finds
these. The least value is that of all steps, within a micrometre.

A distance of 0 means contact or overlap; anything below a micrometre counts as contact. Zones of the kinds ``people``
and ``no-overfly`` are plan areas without height: the load and its rigging, with swing and turning, must stay off them
in plan, so "over" reads as distance 0 and is never within, whatever the required distance.

Between steps: ``between_steps_m`` is the most that a distance could shrink between two steps: half
the greatest movement w of the body from one step to the next. Where the caller states by how much
at most a point of a body leaves the straight way between two steps, it is less: a point that moves
straight from a to b, each at least d from another point, stays sqrt(d^2 - w^2/4) from it.

Sources: geometry only; required distances by voltage come from :mod:`liftcalc.clearance.powerline`.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from liftcalc.base.arrays import FloatArray, IntArray
from liftcalc.base.errors import InputError, Problem, require_non_negative
from liftcalc.clearance.bodies import MovingMember, MovingPrism
from liftcalc.clearance.members import ACCURACY_M, Members, Moving, Shapes, is_point_or_sharp
from liftcalc.clearance.powerline import LinePath
from liftcalc.clearance.search import every_step, least, nearest_points_m
from liftcalc.clearance.solids import ENDLESS_M, Prism
from liftcalc.clearance.uprights import Uprights

Body = MovingMember | MovingPrism
ObstacleKind = Literal["building", "wall", "tree", "structure", "overhead line", "people", "no-overfly"]

ZONES = ("people", "no-overfly")
"""Kinds of obstacles that are plan areas: only load and rigging count."""
_ZONE_BODIES = ("load", "rigging")


@dataclass(frozen=True, eq=False)
class Obstacle:
    """Something that the lift must keep away from.

    Parameters:
      kind: ObstacleKind. ``people`` and ``no-overfly`` are zones: only load and rigging count, in plan.
      shape: Prism or LinePath
      required_m: >= 0. Distance to keep; with 0 the body must just not touch. [m]
      bodies: tuple of str, optional. Names of the bodies that count; all (for zones: load and rigging) when not given.
    """

    name: str
    kind: ObstacleKind
    shape: Prism | LinePath
    required_m: float
    bodies: tuple[str, ...] | None = None

    def __post_init__(self) -> None:
        problems: list[Problem] = []
        if not (self.required_m >= 0 and np.isfinite(self.required_m)):
            problems.append(Problem(f"required_m of {self.name}", self.required_m, "0 or greater"))
        if self.kind in ZONES:
            if not isinstance(self.shape, Prism):
                problems.append(Problem(f"shape of {self.name}", "a line", "an area"))
            elif self.shape.base_m > ENDLESS_M[0] or self.shape.top_m < ENDLESS_M[1]:
                object.__setattr__(self, "shape", Prism(self.shape.polygon_m, -np.inf, np.inf))
            if self.bodies is None:
                object.__setattr__(self, "bodies", _ZONE_BODIES)
        if problems:
            raise InputError(problems)


@dataclass(frozen=True)
class ClearanceRow:
    """Least distance between one body and one obstacle.

    Attributes:
      distance_m, required_m, margin_m: Margin is distance less requirement. [m]
      within: Distance above 0 and not below the requirement.
      step: Step of the path where the least distance occurs (one of them where several tie).
      body_point_m, obstacle_point_m: tuple of three floats. Nearest points, site frame. [m]
      between_steps_m: What the distance could be smaller between two steps, at most. [m]
      plan_gap_m: Least gap in plan over the path, at the same step; known for an upright body that
        keeps its level against a prism, else NaN. [m]
    """

    obstacle: str
    kind: str
    body: str
    distance_m: float
    required_m: float
    margin_m: float
    within: bool
    step: int
    body_point_m: tuple[float, float, float]
    obstacle_point_m: tuple[float, float, float]
    between_steps_m: float
    plan_gap_m: float = float("nan")


@dataclass(frozen=True)
class ClearanceResult:
    """Rows for every body and obstacle, smallest margin first, and the verdict."""

    rows: tuple[ClearanceRow, ...]

    @property
    def within(self) -> bool:
        """Whether every required distance is kept at every step."""
        return all(row.within for row in self.rows)

    @property
    def governing(self) -> ClearanceRow | None:
        """Row with the smallest margin, or None when there is nothing in the way."""
        return self.rows[0] if self.rows else None


@dataclass(frozen=True, eq=False)
class _Group:
    """Bodies of one kind against shapes of one kind, each pair a column."""

    bodies: Members | Uprights
    fixed: Shapes
    body: IntArray
    which: IntArray
    column: tuple[tuple[int, Obstacle], ...]
    """Place of the body among all bodies, and the obstacle."""


def _kind(moving: Moving, lines: bool) -> tuple[str, bool, bool]:
    """What may be searched together: kind, whether it keeps its level, whether it is spread."""
    sharp = is_point_or_sharp(moving)
    if isinstance(moving.body, MovingMember):
        return ("point", False, sharp) if moving.upright and not lines else ("member", False, sharp)
    if lines:
        return "plan", False, sharp
    return "point" if moving.body.corners_m.shape[1] == 1 else "plan", moving.level, sharp


def _groups(moving: Sequence[Moving], obstacles: Sequence[Obstacle]) -> list[_Group]:
    """Groups against prisms, then those against lines."""
    found: dict[bool, list[_Group]] = {True: [], False: []}
    made: dict[tuple[int, ...], Members | Uprights] = {}
    for lines in (True, False):  # lines first: their groups are wider, and hold those of prisms
        mine = [o for o in obstacles if isinstance(o.shape, LinePath) == lines]
        if not mine:
            continue
        shapes = tuple({id(o.shape): o.shape for o in mine}.values())
        place = {id(shape): k for k, shape in enumerate(shapes)}
        fixed = Shapes(shapes)
        kinds: dict[tuple[str, bool, bool], list[int]] = {}
        for i, body in enumerate(moving):
            kinds.setdefault(_kind(body, lines), []).append(i)
        for (kind, *_), members in kinds.items():
            every = itertools.product(members, mine)
            pairs = [(i, o) for i, o in every if o.bodies is None or moving[i].body.name in o.bodies]
            if not pairs:
                continue
            bodies, key = _bodies(moving, kind, members, made)
            found[lines].append(
                _Group(
                    bodies=bodies,
                    fixed=fixed,
                    body=np.array([key.index(i) for i, _ in pairs]),
                    which=np.array([place[id(o.shape)] for _, o in pairs]),
                    column=tuple(pairs),
                )
            )
    return found[False] + found[True]


def _bodies(
    moving: Sequence[Moving], kind: str, members: Sequence[int], made: dict[tuple[int, ...], Members | Uprights]
) -> tuple[Members | Uprights, tuple[int, ...]]:
    """Bodies in one array, and which these are: made here, or part of what is made already."""
    for key, bodies in made.items():
        if not set(members) <= set(key) or isinstance(bodies, Members) != (kind == "member"):
            continue
        if isinstance(bodies, Members):
            return bodies, key
        if kind == "plan":
            return bodies.only([moving[i] for i in members]), key
    parts, key = [moving[i] for i in members], tuple(members)
    made[key] = Members(parts) if kind == "member" else Uprights(parts)
    return made[key], key


def _check(bodies: Sequence[Body], obstacles: Sequence[Obstacle]) -> int:
    if not bodies:
        raise InputError.of("bodies", 0, "one body or more")
    ends = ((b.name, b.start_m if isinstance(b, MovingMember) else b.corners_m) for b in bodies)
    counts = {name: len(steps) for name, steps in ends}
    if len(set(counts.values())) != 1 or min(counts.values()) < 1:
        raise InputError.of("bodies", counts, "the same number of steps, 1 or more, in each body")
    known = set(counts)
    for obstacle in obstacles:
        named = set(obstacle.bodies or ())
        unknown = named - known - {"load", "rigging", "hoist rope"}
        if unknown:
            need = ", ".join(sorted(known))
            raise InputError.of(f"bodies of {obstacle.name}", sorted(unknown), need)
    return next(iter(counts.values()))


def _between_steps_m(distance: float, half_way: float, off_straight: float | None) -> float:
    if off_straight is None:
        return half_way
    kept = np.sqrt(max(distance * distance - half_way * half_way, 0.0))
    return float(distance - kept) + off_straight


def least_clearances(
    bodies: Sequence[Body], obstacles: Sequence[Obstacle], *, off_straight_m: float | None = None
) -> ClearanceResult:
    """Least distance of every body from every obstacle along the path.

    Distances between body and prism are exact at the steps. Against lines a load is taken with its
    spread drawn by 16 facets outside the true outline, up to 2 % of the spread nearer; round a load
    that turns freely they lie along the line, not along the grid.

    Parameters:
      bodies: sequence of MovingMember or MovingPrism. All with the same number of steps; see
        :func:`liftcalc.clearance.bodies.crane_bodies`.
      obstacles: sequence of Obstacle
      off_straight_m: >= 0, optional. By how much at most a point of a body leaves the straight way
        between two steps; None where that is not known. [m]
    Returns: ClearanceResult. One row for each pair that counts, smallest margin first.
    Raises: No body, unequal numbers of steps, or an obstacle naming an unknown body.
    """
    n = _check(bodies, obstacles)
    moving = [Moving(b) for b in bodies]
    slack = [float(m.whole_m.max()) / 2.0 if n > 1 else 0.0 for m in moving]
    off = None
    if off_straight_m is not None:
        off = float(require_non_negative("off_straight_m", off_straight_m))
    rows: list[ClearanceRow] = []
    for group in _groups(moving, obstacles):
        distance, step, plan = least(group.bodies, group.fixed, group.body, group.which)
        if group.fixed.lines or not (isinstance(group.bodies, Uprights) and group.bodies.level):
            plan = np.full(plan.shape, np.nan)
        row = group.body * group.bodies.n + step
        on_body, on_other = nearest_points_m(group.bodies, group.fixed, row, group.which)
        columns = [a.tolist() for a in (distance, step, plan, on_body, on_other)]
        for (i, obstacle), d, s, gap, p, q in zip(group.column, *columns, strict=True):
            rows.append(
                ClearanceRow(
                    obstacle=obstacle.name, kind=obstacle.kind, body=bodies[i].name, distance_m=d,
                    required_m=obstacle.required_m, margin_m=d - obstacle.required_m,
                    within=bool(d > ACCURACY_M and d >= obstacle.required_m), step=s,
                    body_point_m=(p[0], p[1], p[2]), obstacle_point_m=(q[0], q[1], q[2]),
                    between_steps_m=_between_steps_m(d, slack[i], off), plan_gap_m=gap,
                )
            )  # fmt: skip
    rows.sort(key=lambda row: (row.within, row.margin_m))
    return ClearanceResult(tuple(rows))


def clearance_series(bodies: Sequence[Body], obstacles: Sequence[Obstacle]) -> FloatArray:
    """Least margin (distance less requirement) at every step and body over all obstacles. [m]

    Bodies and obstacles as :func:`least_clearances` takes them. Shape (bodies, steps), +inf where nothing counts for
    the body. Contact or overlap gives a margin of at most ``-required_m``, and minus infinity where that is 0.
    """
    out = np.full((len(bodies), _check(bodies, obstacles)), np.inf)
    for group in _groups([Moving(b) for b in bodies], obstacles):
        distances = every_step(group.bodies, group.fixed, group.body, group.which)
        for (i, obstacle), distance in zip(group.column, distances, strict=True):
            margin = distance - obstacle.required_m
            if obstacle.required_m == 0.0:
                margin = np.where(distance <= ACCURACY_M, -np.inf, margin)
            out[i] = np.minimum(out[i], margin)
    return out
