"""Least distances along a lift's path between what moves and what stands in the way.

Contents
--------
:class:`Obstacle`, :class:`ClearanceRow`, :class:`ClearanceResult`, :func:`least_clearances`,
:func:`clearance_series`, :func:`pinch_gap`, :class:`PinchGap`, :data:`PINCH_GAP_M`.

Method
------
The distance of each body (see :mod:`liftcalc.bodies`) from each obstacle is found in closed form
(see :mod:`liftcalc.solids`) at every step that could hold the least value. Between two steps the
distance cannot change by more than the body's greatest movement between them; so exact values at
every 64th step bound all others, and only steps whose bound is below the least value found so far
are worked out. The least value is the same as from working out every step, within a micrometre.

A distance of 0 means contact or overlap; anything below a micrometre counts as contact. Zones of
the kinds ``people`` and ``no-overfly`` are plan areas without height: the load and its rigging,
with swing and turning, must stay off them in plan, so "over" reads as distance 0 and is never
within, whatever the required distance.

Between steps: ``between_steps_m`` is the most that a distance could shrink between two steps, half
the greatest movement of the body from one step to the next. Refine the path until it is small.

Sources: geometry only; required distances by voltage come from :mod:`liftcalc.powerline`. The
pinch gap of 0.6 m is common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from liftcalc.bodies import MovingMember, MovingPrism
from liftcalc.errors import InputError, Problem, require_non_negative
from liftcalc.powerline import LinePath
from liftcalc.solids import (
    Prism,
    _crossings,
    _cut_fractions,
    _edge_square,
    _segment_square,
    _wall_square,
    member_prism_distance_m,
)

__all__ = [
    "PINCH_GAP_M",
    "ClearanceResult",
    "ClearanceRow",
    "Obstacle",
    "ObstacleKind",
    "PinchGap",
    "clearance_series",
    "least_clearances",
    "pinch_gap",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Body = MovingMember | MovingPrism
ObstacleKind = Literal[
    "building", "wall", "tree", "structure", "overhead line", "people", "no-overfly"
]

PINCH_GAP_M = 0.6
"""Least gap behind the counterweight [m]: common practice, no published source; adjustable."""

_ZONES = ("people", "no-overfly")
_ZONE_BODIES = ("load", "rigging")
_STRIDES = (1024, 64, 8, 1)
_ACCURACY_M = 1e-6


@dataclass(frozen=True, eq=False)
class Obstacle:
    """Something that the lift must keep away from.

    Parameters
    ----------
    name : str
    kind : ObstacleKind
        ``people`` and ``no-overfly`` are zones: only load and rigging count, in plan.
    shape : Prism or LinePath
    required_m : float, >= 0
        Distance to keep; with 0 the body must just not touch. [m]
    bodies : tuple of str, optional
        Names of the bodies that count; all (for zones: load and rigging) when not given.
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
        if self.kind in _ZONES:
            if not isinstance(self.shape, Prism):
                problems.append(Problem(f"shape of {self.name}", "a line", "an area"))
            else:
                object.__setattr__(self, "shape", Prism(self.shape.polygon_m, -np.inf, np.inf))
            if self.bodies is None:
                object.__setattr__(self, "bodies", _ZONE_BODIES)
        if problems:
            raise InputError(problems)


@dataclass(frozen=True)
class ClearanceRow:
    """Least distance between one body and one obstacle.

    Attributes
    ----------
    obstacle, kind, body : str
    distance_m, required_m, margin_m : float
        Margin is distance less requirement. [m]
    within : bool
        Distance above 0 and not below the requirement.
    step : int
        Step of the path where the least distance occurs (one of them where several tie).
    body_point_m, obstacle_point_m : tuple of three floats
        Nearest points, site frame. [m]
    between_steps_m : float
        What the distance could be smaller between two steps, at most. [m]
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


@dataclass(frozen=True)
class ClearanceResult:
    """Rows for every body and obstacle, smallest margin first, and the verdict."""

    rows: tuple[ClearanceRow, ...]
    n_steps: int

    @property
    def within(self) -> bool:
        """Whether every required distance is kept at every step."""
        return all(row.within for row in self.rows)

    @property
    def governing(self) -> ClearanceRow | None:
        """Row with the smallest margin, or None when there is nothing in the way."""
        return self.rows[0] if self.rows else None

    def by_obstacle(self) -> dict[str, ClearanceRow]:
        """Row with the smallest margin for each obstacle."""
        found: dict[str, ClearanceRow] = {}
        for row in self.rows:
            found.setdefault(row.obstacle, row)
        return found


class _Parts:
    """Edges of prisms, or pieces of lines, of several obstacles in one array (with offsets)."""

    def __init__(self, obstacles: Sequence[Obstacle]) -> None:
        starts, ends, lows, highs, counts, error = [], [], [], [], [], []
        for obstacle in obstacles:
            shape = obstacle.shape
            if isinstance(shape, Prism):
                a, b = shape.edges_m
                lows.append(np.full(len(a), shape.base_m))
                highs.append(np.full(len(a), shape.top_m))
                error.append(0.0)
            else:
                a, b = shape.points_m[:-1], shape.points_m[1:]
                error.append(shape.chord_error_m)
            starts.append(a)
            ends.append(b)
            counts.append(len(a))
        self.start = np.vstack(starts)
        self.end = np.vstack(ends)
        self.low = np.concatenate(lows) if lows else np.zeros(0)
        self.high = np.concatenate(highs) if highs else np.zeros(0)
        self.count = np.asarray(counts, dtype=np.int64)
        self.first = np.concatenate([[0], np.cumsum(self.count)[:-1]]).astype(np.int64)
        self.error = np.asarray(error)

    def expand(self, which: IntArray) -> tuple[IntArray, IntArray, IntArray]:
        """For pairs with obstacle *which*: pair of each part, part, first row of each pair."""
        count = self.count[which]
        offset = np.concatenate([[0], np.cumsum(count)[:-1]]).astype(np.int64)
        pair = np.repeat(np.arange(which.size), count)
        part = np.arange(pair.size) - np.repeat(offset, count) + np.repeat(self.first[which], count)
        return pair, part, offset


def _member_prisms(
    body: MovingMember, parts: _Parts, step: IntArray, which: IntArray
) -> FloatArray:
    a, d = body.start_m[step], body.end_m[step] - body.start_m[step]
    pair, part, offset = parts.expand(which)
    ap, dp = a[pair], d[pair]
    w0, w1 = parts.start[part], parts.end[part]
    low, high = parts.low[parts.first[which]], parts.high[parts.first[which]]
    square, _, _ = _wall_square(
        ap[:, 0], ap[:, 1], ap[:, 2], dp[:, 0], dp[:, 1], dp[:, 2],
        w0[:, 0], w0[:, 1], w1[:, 0] - w0[:, 0], w1[:, 1] - w0[:, 1],
        parts.low[part], parts.high[part],
    )  # fmt: skip
    best = np.sqrt(np.minimum.reduceat(square, offset))
    for t, cut in _cut_fractions(a[:, 2], d[:, 2], low, high):
        p = a + t[:, None] * d
        hits = _crossings(p[pair, 0], p[pair, 1], w0, w1)
        over = np.add.reduceat(hits.astype(np.int64), offset) % 2 == 1
        gap = np.where(cut, 0.0, np.abs(p[:, 2] - np.clip(p[:, 2], low, high)))
        best = np.where(over, np.minimum(best, gap), best)
    return np.asarray(np.maximum(best - body.half_width_m[step], 0.0))


def _prism_prisms(body: MovingPrism, parts: _Parts, step: IntArray, which: IntArray) -> FloatArray:
    corners = body.corners_m[step]
    nxt = np.roll(corners, -1, axis=1)
    pair, part, offset = parts.expand(which)
    w0, w1 = parts.start[part], parts.end[part]
    square = _edge_square(corners[pair], nxt[pair], w0[:, None, :], w1[:, None, :]).min(axis=1)
    planar = np.sqrt(np.minimum.reduceat(square, offset))
    hits = _crossings(corners[pair, 0, 0], corners[pair, 0, 1], w0, w1)
    inside = np.add.reduceat(hits.astype(np.int64), offset) % 2 == 1
    if corners.shape[1] > 2:
        one = parts.start[parts.first[which]]
        inside |= _crossings(one[:, 0:1], one[:, 1:2], corners, nxt).sum(axis=1) % 2 == 1
    planar = np.where(inside, 0.0, np.maximum(planar - body.spread_m[step], 0.0))
    low, high = parts.low[parts.first[which]], parts.high[parts.first[which]]
    apart = np.maximum(np.maximum(body.base_m[step] - high, low - body.top_m[step]), 0.0)
    return np.asarray(np.hypot(planar, apart))


def _member_lines(body: MovingMember, parts: _Parts, step: IntArray, which: IntArray) -> FloatArray:
    pair, part, offset = parts.expand(which)
    a, b = body.start_m[step][pair], body.end_m[step][pair]
    p, q = parts.start[part], parts.end[part]
    square, _, _ = _segment_square(a, b - a, p, q - p)
    best = np.sqrt(np.minimum.reduceat(square, offset))
    return np.asarray(np.maximum(best - body.half_width_m[step] - parts.error[which], 0.0))


def _prism_lines(body: MovingPrism, parts: _Parts, step: IntArray, which: IntArray) -> FloatArray:
    pair, part, offset = parts.expand(which)
    outline = body.outline_m(step)
    base, top = body.base_m[step], body.top_m[step]
    low, high = outline.min(axis=1), outline.max(axis=1)
    a, b = parts.start[part], parts.end[part]
    # a piece cannot be nearest when the box around it is farther from the box around the body
    # than some other piece's start is from a point of the body
    gap = np.zeros(pair.size)
    for axis, (lo, hi) in enumerate(
        ((low[:, 0], high[:, 0]), (low[:, 1], high[:, 1]), (base, top))
    ):
        apart = np.maximum(
            np.maximum(
                lo[pair] - np.maximum(a[:, axis], b[:, axis]),
                np.minimum(a[:, axis], b[:, axis]) - hi[pair],
            ),
            0.0,
        )
        gap += apart * apart
    core = body.corners_m[step].mean(axis=1)[pair]
    near = (
        (a[:, 0] - core[:, 0]) ** 2
        + (a[:, 1] - core[:, 1]) ** 2
        + (a[:, 2] - np.clip(a[:, 2], base[pair], top[pair])) ** 2
    )
    keep = gap <= np.minimum.reduceat(near, offset)[pair]
    pair, a, b = pair[keep], a[keep], b[keep]
    offset = np.searchsorted(pair, np.arange(step.size))
    distance, _, _ = member_prism_distance_m(a, b, outline[pair], base[pair], top[pair])
    best = np.minimum.reduceat(distance, offset)
    return np.asarray(np.maximum(best - parts.error[which], 0.0))


def _distance(
    body: Body, parts: _Parts, lines: bool, step: IntArray, which: IntArray
) -> FloatArray:
    """Exact distance for pairs of step and obstacle."""
    if isinstance(body, MovingMember):
        return (_member_lines if lines else _member_prisms)(body, parts, step, which)
    return (_prism_lines if lines else _prism_prisms)(body, parts, step, which)


def _movement_m(body: Body, a: IntArray, b: IntArray) -> FloatArray:
    """Most that the body's distance from anything can differ between steps a and b."""
    if isinstance(body, MovingMember):
        start = np.linalg.norm(body.start_m[a] - body.start_m[b], axis=-1)
        end = np.linalg.norm(body.end_m[a] - body.end_m[b], axis=-1)
        width = np.abs(body.half_width_m[a] - body.half_width_m[b])
        return np.asarray(np.maximum(start, end) + width)
    plan = np.linalg.norm(body.corners_m[a] - body.corners_m[b], axis=-1).max(axis=-1)
    # the facets around the spread lie up to 2 % outside it
    plan = plan + 1.02 * np.abs(body.spread_m[a] - body.spread_m[b])
    if body.corners_m.shape[1] > 1:
        plan = plan + 1.02 * np.minimum(body.spread_m[a], body.spread_m[b]) * _turn(body, a, b)
    rise = np.maximum(
        np.abs(body.base_m[a] - body.base_m[b]), np.abs(body.top_m[a] - body.top_m[b])
    )
    return np.asarray(np.hypot(plan, rise))


def _turn(body: MovingPrism, a: IntArray, b: IntArray) -> FloatArray:
    """Chord of the turn between steps, by which facets move around the corners."""
    edge = body.corners_m[:, 1] - body.corners_m[:, 0]
    unit = edge / np.linalg.norm(edge, axis=-1, keepdims=True)
    return np.asarray(np.linalg.norm(unit[a] - unit[b], axis=-1))


def _steps(body: Body) -> int:
    return len(body.start_m if isinstance(body, MovingMember) else body.corners_m)


def _least(body: Body, parts: _Parts, lines: bool) -> tuple[FloatArray, IntArray]:
    """Least distance and its first step, for each obstacle."""
    n, m = _steps(body), parts.count.size
    known = np.full((n, m), np.nan)
    bound = np.zeros((n, m))
    steps = np.arange(n)
    best = np.full(m, np.inf)
    for stride in _STRIDES:
        if stride >= n and stride != 1:
            continue
        grid = np.unique(np.append(np.arange(0, n, stride), n - 1))
        open_ = np.isnan(known[grid]) & (bound[grid] < best - _ACCURACY_M)
        row, col = np.nonzero(open_)
        if row.size:
            known[grid[row], col] = _distance(body, parts, lines, grid[row], col)
            best = np.fmin(best, np.nanmin(known[grid], axis=0, initial=np.inf))
        if stride == 1:
            break
        before = grid[np.searchsorted(grid, steps, side="right") - 1]
        after = grid[np.minimum(np.searchsorted(grid, steps, side="left"), grid.size - 1)]
        for near in (before, after):
            reach = _movement_m(body, steps, near)[:, None]
            # NaN (not worked out: its own bound already stands) leaves the bound as it is
            bound = np.fmax(bound, known[near] - reach)
    filled = np.where(np.isnan(known), np.inf, known)
    return filled.min(axis=0), np.argmin(filled, axis=0)


def _padded(group: Sequence[Obstacle]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Corners of prisms, the last one repeated to equal length, with base and top levels."""
    shapes = [o.shape for o in group if isinstance(o.shape, Prism)]
    most = max(len(s.polygon_m) for s in shapes)
    corners = np.stack([np.pad(s.polygon_m, ((0, most - len(s.polygon_m)), (0, 0)), mode="edge")
                        for s in shapes])  # fmt: skip
    return corners, np.array([s.base_m for s in shapes]), np.array([s.top_m for s in shapes])


def _witness(
    body: Body, group: Sequence[Obstacle], lines: bool, step: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Nearest points on body and obstacle, one step for each obstacle; shapes (m, 3)."""
    if lines:
        pairs = [_line_witness(body, o.shape, s) for o, s in zip(group, step, strict=True)
                 if isinstance(o.shape, LinePath)]  # fmt: skip
        on_body = np.stack([pair[0] for pair in pairs])
        on_other = np.stack([pair[1] for pair in pairs])
    elif isinstance(body, MovingMember):
        _, on_body, on_other = member_prism_distance_m(
            body.start_m[step], body.end_m[step], *_padded(group)
        )
    else:
        return _prism_witness(body, group, step)
    if isinstance(body, MovingMember):
        gap = np.linalg.norm(on_other - on_body, axis=1)
        share = np.minimum(body.half_width_m[step] / np.maximum(gap, 1e-12), 1.0)
        on_body = on_body + share[:, None] * (on_other - on_body)
    return on_body, on_other


def _line_witness(body: Body, line: LinePath, step: int) -> tuple[FloatArray, FloatArray]:
    p, q = line.points_m[:-1], line.points_m[1:]
    if isinstance(body, MovingMember):
        a, d = body.start_m[step], body.end_m[step] - body.start_m[step]
        square, t, u = _segment_square(a[None], d[None], p, q - p)
        i = int(np.argmin(square))
        return a + t[i] * d, p[i] + u[i] * (q[i] - p[i])
    outline = np.repeat(body.outline_m(np.array([step])), len(p), axis=0)
    base, top = np.full(len(p), body.base_m[step]), np.full(len(p), body.top_m[step])
    distance, on_line, on_prism = member_prism_distance_m(p, q, outline, base, top)
    i = int(np.argmin(distance))
    return on_prism[i], on_line[i]


def _prism_witness(
    body: MovingPrism, group: Sequence[Obstacle], step: IntArray
) -> tuple[FloatArray, FloatArray]:
    corners = body.corners_m[step]
    plan = shapely.points(corners[:, 0]) if corners.shape[1] == 1 else shapely.polygons(corners)
    fixed, base, top = _padded(group)
    joins = shapely.shortest_line(plan, shapely.polygons(fixed))
    ends = shapely.get_coordinates(joins).reshape(-1, 2, 2)
    low = np.maximum(body.base_m[step], base)
    high = np.minimum(body.top_m[step], top)
    above = body.base_m[step] > top
    z_body = np.where(low <= high, low, np.where(above, low, high))
    z_other = np.where(low <= high, low, np.where(above, high, low))
    gap = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    share = np.minimum(body.spread_m[step] / np.maximum(gap, 1e-12), 1.0)
    near = ends[:, 0] + share[:, None] * (ends[:, 1] - ends[:, 0])
    return np.column_stack([near, z_body]), np.column_stack([ends[:, 1], z_other])


def _triple(p: FloatArray) -> tuple[float, float, float]:
    return float(p[0]), float(p[1]), float(p[2])


def _check(bodies: Sequence[Body], obstacles: Sequence[Obstacle]) -> int:
    if not bodies:
        raise InputError.of("bodies", 0, "one body or more")
    counts = {body.name: _steps(body) for body in bodies}
    if len(set(counts.values())) != 1 or min(counts.values()) < 1:
        raise InputError.of("bodies", counts, "the same number of steps, 1 or more, in each body")
    known = set(counts)
    for obstacle in obstacles:
        named = set(obstacle.bodies or ())
        unknown = named - known - {"load", "rigging", "hoist rope", "jib"}
        if unknown:
            raise InputError.of(
                f"bodies of {obstacle.name}", sorted(unknown), ", ".join(sorted(known))
            )
    return next(iter(counts.values()))


def _groups(body: Body, obstacles: Sequence[Obstacle]) -> list[tuple[bool, list[Obstacle]]]:
    counted = [o for o in obstacles if o.bodies is None or body.name in o.bodies]
    prisms = [o for o in counted if isinstance(o.shape, Prism)]
    lines = [o for o in counted if isinstance(o.shape, LinePath)]
    return [(flag, group) for flag, group in ((False, prisms), (True, lines)) if group]


def least_clearances(bodies: Sequence[Body], obstacles: Sequence[Obstacle]) -> ClearanceResult:
    """Least distance of every body from every obstacle along the path.

    Parameters
    ----------
    bodies : sequence of MovingMember or MovingPrism
        All with the same number of steps; see :func:`liftcalc.bodies.crane_bodies`.
    obstacles : sequence of Obstacle

    Returns
    -------
    ClearanceResult
        One row for each pair that counts, smallest margin first.

    Raises
    ------
    InputError
        No body, unequal numbers of steps, or an obstacle naming an unknown body.

    Notes
    -----
    Distances between body and prism are exact at the steps. Against lines a load is taken with
    its spread drawn by 16 facets outside the true outline, up to 2 % of the spread nearer.
    """
    n = _check(bodies, obstacles)
    rows: list[ClearanceRow] = []
    steps = np.arange(n)
    for body in bodies:
        slack = 0.0
        if n > 1:
            slack = float(np.max(_movement_m(body, steps[:-1], steps[1:]))) / 2.0
        for lines, group in _groups(body, obstacles):
            parts = _Parts(group)
            distance, step = _least(body, parts, lines)
            on_body, on_other = _witness(body, group, lines, step)
            for i, obstacle in enumerate(group):
                d = float(distance[i])
                rows.append(
                    ClearanceRow(
                        obstacle=obstacle.name,
                        kind=obstacle.kind,
                        body=body.name,
                        distance_m=d,
                        required_m=obstacle.required_m,
                        margin_m=d - obstacle.required_m,
                        within=bool(d > _ACCURACY_M and d >= obstacle.required_m),
                        step=int(step[i]),
                        body_point_m=_triple(on_body[i]),
                        obstacle_point_m=_triple(on_other[i]),
                        between_steps_m=slack,
                    )
                )
    rows.sort(key=lambda row: (row.within, row.margin_m))
    return ClearanceResult(tuple(rows), n)


def clearance_series(bodies: Sequence[Body], obstacles: Sequence[Obstacle]) -> FloatArray:
    """Least margin (distance less requirement) over all obstacles, at every step and body.

    Parameters
    ----------
    bodies, obstacles
        As in :func:`least_clearances`.

    Returns
    -------
    ndarray, shape (bodies, steps): margin, +inf where nothing counts for the body. Contact or
    overlap gives a margin of at most ``-required_m``, and minus infinity where that is 0. [m]

    Raises
    ------
    InputError
        As in :func:`least_clearances`.
    """
    n = _check(bodies, obstacles)
    out = np.full((len(bodies), n), np.inf)
    for i, body in enumerate(bodies):
        for lines, group in _groups(body, obstacles):
            parts = _Parts(group)
            m = len(group)
            step, which = np.repeat(np.arange(n), m), np.tile(np.arange(m), n)
            distance = _distance(body, parts, lines, step, which).reshape(n, m)
            required = np.array([o.required_m for o in group])
            margin = np.where(
                (distance <= _ACCURACY_M) & (required == 0), -np.inf, distance - required
            )
            out[i] = np.minimum(out[i], margin.min(axis=1))
    return out


@dataclass(frozen=True)
class PinchGap:
    """Least plan gap between the counterweight tail and one obstacle.

    Attributes
    ----------
    obstacle : str
    gap_m, required_m : float
    within : bool
    step : int
    """

    obstacle: str
    gap_m: float
    required_m: float
    within: bool
    step: int


def pinch_gap(
    tail: MovingPrism,
    obstacles: Sequence[Obstacle],
    *,
    ground_level_m: float,
    required_m: float = PINCH_GAP_M,
    counts_above_m: float = 0.3,
) -> tuple[PinchGap, ...]:
    """Gap in plan between the swinging tail and everything a person could be crushed against.

    Parameters
    ----------
    tail : MovingPrism
        Counterweight tail at every step; give a full turn where the machine may slew freely.
    obstacles : sequence of Obstacle
        Zones and lines are passed over; so is anything that does not rise *counts_above_m*
        above the ground, or that starts more than 2 m above it.
    ground_level_m : float
        Level people stand at. [m]
    required_m : float, >= 0
        0.6 m is common practice, no published source. [m]
    counts_above_m : float, >= 0
        Lower obstacles do not pin a person (assumed). [m]

    Returns
    -------
    tuple of PinchGap, smallest first.

    Raises
    ------
    InputError
        A negative or not finite number.

    Notes
    -----
    Taken in plan whatever the height of the tail's underside: a person may be standing.
    """
    need = float(require_non_negative("required_m", required_m))
    rise = float(require_non_negative("counts_above_m", counts_above_m))
    fixed = [
        o
        for o in obstacles
        if isinstance(o.shape, Prism)
        and o.kind not in _ZONES
        and o.shape.top_m > ground_level_m + rise
        and o.shape.base_m < ground_level_m + 2.0
    ]
    if not fixed:
        return ()
    flat = [Obstacle(o.name, o.kind, Prism(o.shape.polygon_m, -np.inf, np.inf), need)
            for o in fixed if isinstance(o.shape, Prism)]  # fmt: skip
    distance, step = _least(tail, _Parts(flat), False)
    gaps = [
        PinchGap(o.name, d, need, bool(d > _ACCURACY_M and d >= need), s)
        for o, d, s in zip(flat, distance.tolist(), step.tolist(), strict=True)
    ]
    return tuple(sorted(gaps, key=lambda gap: gap.gap_m))
