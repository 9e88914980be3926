"""Least distance of many moving bodies from many obstacles, without looking at every step.

Method
------
A search starts from exact distances at every 64th step. Between two steps *a* and *b* a distance cannot fall below
``(d_a + d_b - w) / 2`` when the body moves by at most *w* between them; spans whose bound is not below the least
distance found so far are left, the others are divided at every 8th step and then at every step. Before many steps are
computed exactly, each is bounded once more by planes square to the nearest way found so far. Both bounds hold for lower
bounds in place of exact distances as well. The least distance is that of all steps, within a micrometre.

Planes: take the direction *n* from a body to an obstacle at one step. At any other step the
distance is at least the least of ``n . p`` over the obstacle less the greatest of ``n . b`` over
the body: two planes square to *n* separate them. Corners and ends are enough for both, so this
costs a few multiplications, where the exact distance costs one to each wall. It holds for every
direction, and is exact to the second order near the step that *n* was taken from: nothing that
could be nearest is left out, and little else is computed.

For an upright body against an upright prism only the gap in plan is bounded so; the gap in height
is known at every step. So a load that is hoisted along a wall costs next to nothing: it does not
move in plan, and only its height is looked at, at every step.

Sources: geometry only (the triangle inequality, separating planes).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from liftcalc.base.arrays import FloatArray, IntArray
from liftcalc.clearance.members import ACCURACY_M, ROUNDING_M, Members, Shapes
from liftcalc.clearance.solids import member_prism_distance_m, segment_square_m2
from liftcalc.clearance.uprights import Uprights


def axis_points_m(
    bodies: Members | Uprights, fixed: Shapes, row: IntArray, which: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Nearest points on a body's axis or plan (without width) and on the obstacle, (m, 3).

    For pairs of a flat row of the body and the place of a shape.
    """
    if isinstance(bodies, Members):
        if fixed.lines:
            return _member_line(bodies, fixed, row, which)
        start = bodies.start[row]
        _, on_body, on_other = member_prism_distance_m(
            start, start + bodies.along[row], fixed.outline_m(which), fixed.low[which], fixed.high[which]
        )
        return on_body, on_other
    if fixed.lines:
        return _upright_line(bodies, fixed, row, which)
    ends = _upright_plan(bodies, fixed, row, which)
    z_body, z_other = _upright_levels(bodies, fixed, row, which)
    return np.column_stack([ends[:, 0], z_body]), np.column_stack([ends[:, 1], z_other])


def nearest_points_m(
    bodies: Members | Uprights, fixed: Shapes, row: IntArray, which: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Nearest points on body and obstacle for the pairs of :func:`axis_points_m`, (m, 3)."""
    on_body, on_other = axis_points_m(bodies, fixed, row, which)
    if isinstance(bodies, Members):
        return _widened(on_body, on_other, bodies.half_width[row]), on_other
    if fixed.lines:
        return on_body, on_other
    on_body[:, :2] = _widened(on_body[:, :2], on_other[:, :2], bodies.spread[row])
    return _widened(on_body, on_other, bodies.inset[row]), on_other


def _widened(on_axis: FloatArray, on_other: FloatArray, width: FloatArray) -> FloatArray:
    """Points moved toward the others by a width, at most up to them."""
    way = on_other - on_axis
    share = np.minimum(width / np.maximum(np.linalg.norm(way, axis=1), 1e-12), 1.0)
    return np.asarray(on_axis + share[:, None] * way)


def separated_m(
    bodies: Members | Uprights, fixed: Shapes, *, best_row: IntArray, which: IntArray, col: IntArray, row: IntArray
) -> FloatArray:
    """Bound from below of what the bodies' ``known_m`` gives; below 0 where it tells nothing.

    *best_row* and *which* are, for each column, the flat row of the step that the direction is
    taken from and the shape; *col* and *row* the column and flat row of each step to bound. The
    distance of two sets is at least the gap between planes that part them.
    """
    if isinstance(bodies, Members) or fixed.lines:
        on_body, on_other = axis_points_m(bodies, fixed, best_row, which)
        way = on_other - on_body
    else:
        ends = _upright_plan(bodies, fixed, best_row, which)
        way = ends[:, 1] - ends[:, 0]
    length = np.linalg.norm(way, axis=1)[:, None]
    toward = np.divide(way, length, out=np.zeros_like(way), where=length > 0.0)
    pair, part, offset = fixed.expand(which)
    far = fixed.start[part] * toward[pair, : fixed.start.shape[1]]
    least = np.minimum.reduceat(far.sum(axis=1), offset)
    if fixed.lines:
        far = fixed.end[part] * toward[pair]
        least = np.minimum(least, np.minimum.reduceat(far.sum(axis=1), offset))
        least -= fixed.error[which]
    elif isinstance(bodies, Members):
        up = toward[:, 2]
        least += np.minimum(up * fixed.low[which], up * fixed.high[which])
    return least[col] - bodies.furthest_m(toward.T[:, col], row)


def _member_line(bodies: Members, fixed: Shapes, row: IntArray, which: IntArray) -> tuple[FloatArray, FloatArray]:
    pair, part, offset = fixed.expand(which)
    p, e = fixed.start[part], fixed.end[part] - fixed.start[part]
    square, t, u = segment_square_m2(bodies.start[row[pair]], bodies.along[row[pair]], p, e)
    k = _first_least(square, offset)
    return bodies.start[row] + t[k, None] * bodies.along[row], p[k] + u[k, None] * e[k]


def _upright_line(bodies: Uprights, fixed: Shapes, row: IntArray, which: IntArray) -> tuple[FloatArray, FloatArray]:
    pair, part, _, _ = bodies.near_pieces(fixed, row, which)
    at = row[pair]
    distance, on_line, on_prism = member_prism_distance_m(
        fixed.start[part], fixed.end[part],
        bodies.outline_m(at, fixed.end[part] - fixed.start[part]), bodies.base[at], bodies.top[at],
    )  # fmt: skip
    k = _first_least(distance, np.searchsorted(pair, np.arange(row.size)))
    return on_prism[k], on_line[k]


def _upright_plan(bodies: Uprights, fixed: Shapes, row: IntArray, which: IntArray) -> FloatArray:
    """Nearest points in plan, body first, without the spread; shape (m, 2, 2)."""
    corners = bodies.corners_m(row)
    plan = shapely.points(corners[:, 0]) if corners.shape[1] == 1 else shapely.polygons(corners)
    joins = shapely.shortest_line(plan, shapely.polygons(fixed.outline_m(which)))
    return np.asarray(shapely.get_coordinates(joins).reshape(-1, 2, 2))


def _upright_levels(bodies: Uprights, fixed: Shapes, row: IntArray, which: IntArray) -> tuple[FloatArray, FloatArray]:
    """Levels of the nearest points on body and prism."""
    low = np.maximum(bodies.base[row], fixed.low[which])
    high = np.minimum(bodies.top[row], fixed.high[which])
    above = bodies.base[row] > fixed.high[which]
    return (
        np.where(low <= high, low, np.where(above, low, high)),
        np.where(low <= high, low, np.where(above, high, low)),
    )


def _first_least(values: FloatArray, offset: IntArray) -> IntArray:
    """Place of the least value in each run that starts at *offset*."""
    count = np.diff(np.append(offset, values.size))
    hit = np.flatnonzero(values == np.repeat(np.minimum.reduceat(values, offset), count))
    return np.asarray(hit[np.searchsorted(hit, offset)])


_STRIDES = (64, 8, 1)
_MANY = 100
"""Steps to work from which on it is quicker to bound them first."""


@dataclass(frozen=True, eq=False)
class _Spans:
    """Spans of steps between two steps with known distances, in order of column and step."""

    col: IntArray
    a: IntArray
    b: IntArray
    known_a: FloatArray
    known_b: FloatArray

    def take(self, keep: NDArray[np.bool_]) -> _Spans:
        return _Spans(self.col[keep], self.a[keep], self.b[keep], self.known_a[keep], self.known_b[keep])

    def divide(self, stride: int) -> tuple[IntArray, IntArray]:
        """Span and step of every inner step at the stride."""
        count = (self.b - self.a - 1) // stride
        span = np.repeat(np.arange(self.a.size), count)
        place = np.arange(span.size) - np.repeat(np.cumsum(count) - count, count)
        return span, self.a[span] + stride * (place + 1)

    def within(self, span: IntArray, step: IntArray, known: FloatArray) -> _Spans:
        """The spans between ends and inner steps."""
        count = np.bincount(span, minlength=self.a.size)
        last = np.cumsum(count + 1) - 1
        before = np.arange(span.size) + span
        a, b = np.empty((2, span.size + self.a.size), dtype=np.int64)
        known_a, known_b = np.empty((2, a.size))
        a[last - count], known_a[last - count] = self.a, self.known_a
        b[last], known_b[last] = self.b, self.known_b
        b[before], known_b[before] = step, known
        a[before + 1], known_a[before + 1] = step, known
        return _Spans(np.repeat(self.col, count + 1), a, b, known_a, known_b)


@dataclass(eq=False)
class _Found:
    """Least rank so far of every column, its step, and what is known there."""

    rank: FloatArray
    step: IntArray
    known: FloatArray

    def take(self, col: IntArray, step: IntArray, known: FloatArray, rank: FloatArray) -> None:
        """Take over what is nearer; of equal steps the first."""
        least_of = self.rank.copy()
        np.minimum.at(least_of, col, rank)
        nearer = np.flatnonzero(least_of < self.rank)
        if not nearer.size:
            return
        hit = np.flatnonzero(rank == least_of[col])[::-1]
        first = np.empty(least_of.size, dtype=np.int64)
        first[col[hit]] = hit  # of equal ones the first is written last
        at = first[nearer]
        self.rank[nearer], self.step[nearer], self.known[nearer] = rank[at], step[at], known[at]


def _near_pieces(bodies: Members | Uprights, fixed: Shapes, row: IntArray, which: IntArray, way: FloatArray) -> Shapes:
    """For every column the pieces of its line that could hold the least distance.

    A piece cannot when the box around the whole path is farther from it than the body is, at some
    step, from the start of some other piece. Rows of the columns, shape (m, g), hold every so many
    steps; between two of them the body leaves its box at one of them by half its way at most.
    """
    points, spread = bodies.points_m(row[:, ::4])
    pair, part, offset = fixed.expand(which)
    a, b = fixed.start[part], fixed.end[part]
    gap = points[pair] - a[:, None, None, :]
    plan = np.maximum(np.sqrt(gap[..., 0] ** 2 + gap[..., 1] ** 2) - spread[pair][..., None], 0.0)
    most = (plan * plan + gap[..., 2] ** 2).min(axis=(1, 2))
    low, high = bodies.box_m(row)
    leaves = (np.diff(way[row], axis=1).max(axis=1, initial=0.0) / 2.0)[:, None]
    low, high = low.min(axis=1) - leaves, high.max(axis=1) + leaves
    apart = np.maximum(low[pair] - np.maximum(a, b), np.minimum(a, b) - high[pair])
    apart = np.maximum(apart, 0.0)
    keep = (apart * apart).sum(axis=1) <= np.minimum.reduceat(most, offset)[pair] + ACCURACY_M
    return fixed.only(which, part[keep], np.add.reduceat(keep, offset, dtype=np.int64))


@dataclass(frozen=True, eq=False)
class _Query:
    """What is searched, and the least found so far."""

    bodies: Members | Uprights
    fixed: Shapes
    row0: IntArray
    which: IntArray
    way: FloatArray
    found: _Found

    def divided(self, spans: _Spans, stride: int) -> _Spans:
        """Spans that may hold what is nearer, divided at the stride; nearer steps are taken."""
        bodies, fixed, found = self.bodies, self.fixed, self.found
        row0, which, way = self.row0, self.which, self.way
        row = row0[spans.col]
        moved = way[row + spans.b] - way[row + spans.a]
        bound = np.maximum((spans.known_a + spans.known_b - moved) / 2.0, 0.0)
        bound = bodies.bound_m(fixed, bound, row + spans.a, row + spans.b, which[spans.col])
        open_ = (spans.b - spans.a > 1) & (bound < found.rank[spans.col] - ACCURACY_M)
        spans = spans.take(open_)
        if not spans.a.size:
            return spans
        span, step = spans.divide(stride)
        col = spans.col[span]
        row = row0[col]
        at_step = way[row + step]
        known = np.maximum(
            spans.known_a[span] - (at_step - way[row + spans.a[span]]),
            spans.known_b[span] - (way[row + spans.b[span]] - at_step),
        )
        known = np.maximum(known, 0.0)
        row = row + step
        rank = bodies.rank_m(fixed, known, row, which[col])
        worth = np.flatnonzero(rank < found.rank[col] - (ACCURACY_M if stride == 1 else 0.0))
        if worth.size > _MANY * bodies.ease:
            own = which[col[worth]]
            separated = np.maximum(
                known[worth],
                separated_m(bodies, fixed, best_row=row0 + found.step, which=which, col=col[worth], row=row[worth]),
            )
            known[worth] = separated
            rank = bodies.rank_m(fixed, separated, row[worth], own)
            worth = worth[rank < found.rank[col[worth]] + ROUNDING_M]
        if worth.size:
            at, own = row[worth], which[col[worth]]
            known[worth] = bodies.known_m(fixed, at, own, col=col[worth], best=found.rank)
            rank = bodies.rank_m(fixed, known[worth], at, own)
            found.take(col[worth], step[worth], known[worth], rank)
        return spans.within(span, step, known) if stride > 1 else spans


def least(
    bodies: Members | Uprights, fixed: Shapes, body: IntArray, which: IntArray
) -> tuple[FloatArray, IntArray, FloatArray]:
    """Least distance over the path, its step, and the gap in plan there, for each column.

    *body* and *which* are the places of body and shape. The gap in plan is that of upright bodies
    from prisms; the least over the path where ``Uprights.level`` holds.
    """
    n, m = bodies.n, body.size
    way = bodies.way_m(fixed.lines)
    row0 = body * n
    grid = np.append(np.arange(0, n - 1, _STRIDES[0]), n - 1)
    if fixed.lines:
        fixed = _near_pieces(bodies, fixed, row0[:, None] + grid, which, way)
        which = np.arange(m)
    still = way[row0 + n - 1] == way[row0]
    count = np.where(still, 1, grid.size)
    col = np.repeat(np.arange(m), count)
    step = grid[np.arange(col.size) - np.repeat(np.cumsum(count) - count, count)]
    row = row0[col] + step
    found = _Found(np.full(m, np.inf), np.zeros(m, dtype=np.int64), np.zeros(m))
    known = bodies.known_m(fixed, row, which[col], col=col, best=found.rank)
    found.take(col, step, known, bodies.rank_m(fixed, known, row, which[col]))
    rises = np.flatnonzero(still) if bodies.rises(fixed.lines) else np.zeros(0, dtype=np.int64)
    if rises.size:  # the gap in plan is known for the whole path, the distance at every step
        at_col, at_step = np.repeat(rises, n), np.tile(np.arange(n), rises.size)
        plan = found.known[at_col]
        found.take(at_col, at_step, plan, bodies.rank_m(fixed, plan, row0[at_col] + at_step, which[at_col]))
    moves = np.flatnonzero(~still)
    known = known[~still[col]].reshape(moves.size, grid.size)
    spans = _Spans(
        np.repeat(moves, grid.size - 1), np.tile(grid[:-1], moves.size),
        np.tile(grid[1:], moves.size), known[:, :-1].ravel(), known[:, 1:].ravel(),
    )  # fmt: skip
    query = _Query(bodies, fixed, row0, which, way, found)
    for stride in _STRIDES[1:]:
        spans = query.divided(spans, stride)
        if not spans.a.size:
            break
    row = row0 + found.step
    return bodies.total_m(fixed, found.known, row, which), found.step, found.known


def every_step(bodies: Members | Uprights, fixed: Shapes, body: IntArray, which: IntArray) -> FloatArray:
    """Distance at every step, (m, steps), for columns of body and shape as in :func:`least`."""
    col, step = np.repeat(np.arange(body.size), bodies.n), np.tile(np.arange(bodies.n), body.size)
    row = body[col] * bodies.n + step
    known = bodies.known_m(fixed, row, which[col])
    return bodies.total_m(fixed, known, row, which[col]).reshape(body.size, bodies.n)
