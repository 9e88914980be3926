"""Least distance of many moving bodies from many obstacles, without working out every step.

Contents
--------
:class:`Fixed` (edges of prisms or pieces of lines, in one array), :class:`Moving` (a body with its
movement), :class:`Members` and :class:`Uprights` (bodies of one kind, in one array),
:func:`least`, :func:`every_step`.

Method
------
Bodies of one kind are worked together, so that a search costs a few array operations whatever
their number. A search starts from exact distances at every 64th step. Between two steps *a* and
*b* a distance cannot fall below ``(d_a + d_b - w) / 2`` when the body moves by at most *w* between
them; spans whose bound is not below the least distance found so far are left, the others are
divided at every 8th step and then at every step. The least distance is the same as from working
out every step, within a micrometre.

For an upright body against an upright prism only the gap in plan is bounded so; the gap in height
is known at every step. So a load that is hoisted along a wall costs nothing: it does not move in
plan.

Sources: geometry only (the triangle inequality).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from liftcalc.bodies import MovingMember, MovingPrism
from liftcalc.powerline import LinePath
from liftcalc.solids import (
    Prism,
    _crossings,
    _cut_fractions,
    _edge_square,
    _point_segment_sq,
    _segment_square,
    _wall_square,
    member_prism_distance_m,
)

__all__ = [
    "ACCURACY_M",
    "Fixed",
    "Members",
    "Moving",
    "Pairs",
    "Uprights",
    "every_step",
    "least",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

ACCURACY_M = 1e-6
"""How far the least distance found may lie above the true one. [m]"""
_STRIDES = (64, 8, 1)
_FACET = 1.0 / float(np.cos(np.pi / 16))
"""Corner of the 16 facets drawn around a circle of radius 1."""


class Fixed:
    """Edges of prisms, or pieces of lines, of several shapes in one array (with offsets)."""

    def __init__(self, shapes: Sequence[Prism | LinePath]) -> None:
        starts, ends, lows, highs, error = [], [], [], [], []
        for shape in shapes:
            if isinstance(shape, Prism):
                a, b = shape.edges_m
                error.append(0.0)
                lows.append(shape.base_m)
                highs.append(shape.top_m)
            else:
                a, b = shape.points_m[:-1], shape.points_m[1:]
                error.append(shape.chord_error_m)
                lows.append(float(shape.points_m[:, 2].min()))
                highs.append(float(shape.points_m[:, 2].max()))
            starts.append(a)
            ends.append(b)
        self.lines = not isinstance(shapes[0], Prism)
        self.start = np.vstack(starts)
        self.end = np.vstack(ends)
        self.low = np.asarray(lows)
        self.high = np.asarray(highs)
        self.error = np.asarray(error)
        self.count = np.array([len(a) for a in starts], dtype=np.int64)
        self.first = np.cumsum(self.count) - self.count

    def expand(self, which: IntArray) -> tuple[IntArray, IntArray, IntArray]:
        """For pairs with shape *which*: pair of each part, part, first row of each pair."""
        count = self.count[which]
        offset = np.cumsum(count) - count
        pair = np.repeat(np.arange(which.size), count)
        part = np.arange(pair.size) + np.repeat(self.first[which] - offset, count)
        return pair, part, offset


class Pairs(Protocol):
    """Bodies of one kind whose steps lie one after the other in flat arrays."""

    n: int

    def way_m(self, lines: bool) -> FloatArray:
        """Way made from the first step, per flat row: bounds how a distance can change."""

    def known_m(self, fixed: Fixed, row: IntArray, which: IntArray) -> FloatArray:
        """The distance that :meth:`way_m` bounds."""

    def total_m(
        self, fixed: Fixed, known: FloatArray, row: IntArray, which: IntArray
    ) -> FloatArray:
        """Distance in space from what is known."""

    def bound_m(
        self, fixed: Fixed, known: FloatArray, first: IntArray, last: IntArray, which: IntArray
    ) -> FloatArray:
        """Least distance in space from row *first* to row *last* where *known* is a bound."""


def _norm(d: FloatArray) -> FloatArray:
    square = d[..., 0] * d[..., 0] + d[..., 1] * d[..., 1]
    if d.shape[-1] == 3:
        square += d[..., 2] * d[..., 2]
    return np.asarray(np.sqrt(square))


def _plan_movement_m(body: MovingPrism) -> FloatArray:
    corners, spread = body.corners_m, body.spread_m
    step = corners[1:] - corners[:-1]
    if not spread.any():
        return np.asarray(np.sqrt((step[..., 0] ** 2 + step[..., 1] ** 2).max(axis=1)))
    # the facets around the spread lie up to 2 % outside it, and turn around the corners
    plan = _norm(step).max(axis=1) + 1.02 * np.abs(np.diff(spread))
    if corners.shape[1] > 1:
        edge = corners[:, 1] - corners[:, 0]
        unit = edge / _norm(edge)[:, None]
        plan = plan + 1.02 * np.minimum(spread[1:], spread[:-1]) * _norm(unit[1:] - unit[:-1])
    return np.asarray(plan)


class Moving:
    """A body with the most that its distances can differ from one step to the next."""

    def __init__(self, body: MovingMember | MovingPrism) -> None:
        self.body = body
        self.upright = isinstance(body, MovingPrism) or bool(
            np.array_equal(body.start_m[:, :2], body.end_m[:, :2])
        )
        """Whether it stands upright at every step (such as a hoist rope)."""
        if isinstance(body, MovingMember):
            start, end = np.diff(body.start_m, axis=0), np.diff(body.end_m, axis=0)
            self.plan_m = _norm(start[:, :2])
            """Movement in plan; of a member it counts only where it is upright. [m]"""
            self.whole_m = np.maximum(_norm(start), _norm(end)) + np.abs(np.diff(body.half_width_m))
            """Movement in space, with change of width. [m]"""
        else:
            rise = np.maximum(np.abs(np.diff(body.base_m)), np.abs(np.diff(body.top_m)))
            self.plan_m = _plan_movement_m(body)
            self.whole_m = np.sqrt(self.plan_m**2 + rise**2)


def _ways(movements: Sequence[FloatArray]) -> FloatArray:
    way = np.zeros((len(movements), movements[0].size + 1))
    for k, movement in enumerate(movements):
        np.cumsum(movement, out=way[k, 1:])
    return way.ravel()


class Members:
    """Straight members with the same number of steps."""

    def __init__(self, moving: Sequence[Moving]) -> None:
        bodies = [m.body for m in moving if isinstance(m.body, MovingMember)]
        self.n = len(bodies[0].start_m)
        self.start = np.concatenate([b.start_m for b in bodies])
        self.along = np.concatenate([b.end_m for b in bodies]) - self.start
        self.half_width = np.concatenate([b.half_width_m for b in bodies])
        self._way = _ways([m.whole_m for m in moving])

    def way_m(self, lines: bool) -> FloatArray:
        """Way made from the first step."""
        return self._way

    def total_m(
        self, fixed: Fixed, known: FloatArray, row: IntArray, which: IntArray
    ) -> FloatArray:
        """What is known is the distance itself."""
        return known

    def bound_m(
        self, fixed: Fixed, known: FloatArray, first: IntArray, last: IntArray, which: IntArray
    ) -> FloatArray:
        """What is known is the distance itself."""
        return known

    def known_m(self, fixed: Fixed, row: IntArray, which: IntArray) -> FloatArray:
        """Exact distance for pairs of row and shape."""
        a, d = self.start[row], self.along[row]
        pair, part, offset = fixed.expand(which)
        ap, dp = a[pair], d[pair]
        w0, w1 = fixed.start[part], fixed.end[part]
        if fixed.lines:
            square, _, _ = _segment_square(ap, dp, w0, w1 - w0)
            best = np.sqrt(np.minimum.reduceat(square, offset))
            return np.asarray(np.maximum(best - self.half_width[row] - fixed.error[which], 0.0))
        low, high = fixed.low[which], fixed.high[which]
        square, _, _ = _wall_square(
            ap[:, 0], ap[:, 1], ap[:, 2], dp[:, 0], dp[:, 1], dp[:, 2],
            w0[:, 0], w0[:, 1], w1[:, 0] - w0[:, 0], w1[:, 1] - w0[:, 1], low[pair], high[pair],
        )  # fmt: skip
        best = np.sqrt(np.minimum.reduceat(square, offset))
        t, cut = _cut_fractions(a[:, 2], d[:, 2], low, high)
        x, y, z = (a[:, i] + t * d[:, i] for i in range(3))
        hits = _crossings(x[:, pair], y[:, pair], w0, w1)
        over = np.add.reduceat(hits, offset, axis=1, dtype=np.int64) % 2 == 1
        gap = np.where(cut, 0.0, np.abs(z - np.clip(z, low, high)))
        best = np.minimum(best, np.where(over, gap, np.inf).min(axis=0))
        return np.asarray(np.maximum(best - self.half_width[row], 0.0))


def _next(corners: FloatArray) -> FloatArray:
    return np.concatenate([corners[:, 1:], corners[:, :1]], axis=1)


def _ring_square(corners: FloatArray, pair: IntArray, w0: FloatArray, w1: FloatArray) -> FloatArray:
    """Squared plan distance of rings (by *pair*) from single walls, 0 where they cross."""
    x, y = corners[pair, :, 0], corners[pair, :, 1]
    nxt = _next(corners)
    ex, ey = nxt[pair, :, 0] - x, nxt[pair, :, 1] - y
    ax, ay = w0[:, :1], w0[:, 1:]
    dx, dy = w1[:, :1] - ax, w1[:, 1:] - ay
    square = np.minimum(
        _point_segment_sq(x, y, ax, ay, dx, dy), _point_segment_sq(ax, ay, x, y, ex, ey)
    ).min(axis=1)
    # segments that cross have an end within half a length of each other
    near = np.flatnonzero(square <= 0.26 * (ex * ex + ey * ey).max(axis=1))
    if near.size:
        crossed = _edge_square(
            corners[pair[near]], nxt[pair[near]], w0[near, None], w1[near, None]
        ).min(axis=1)
        square[near] = np.minimum(square[near], crossed)
    return np.asarray(square)


class Uprights:
    """Upright prisms and upright members with the same number of steps and corners.

    An upright member is a prism without size in plan; its half width counts in every direction
    and is taken off at the end (*inset*).
    """

    def __init__(self, moving: Sequence[Moving]) -> None:
        corners, base, top, spread, inset = [], [], [], [], []
        for b in (m.body for m in moving):
            if isinstance(b, MovingMember):
                corners.append(b.start_m[:, None, :2])
                base.append(np.minimum(b.start_m[:, 2], b.end_m[:, 2]))
                top.append(np.maximum(b.start_m[:, 2], b.end_m[:, 2]))
                spread.append(np.zeros(len(b.start_m)))
                inset.append(b.half_width_m)
            else:
                corners.append(b.corners_m)
                base.append(b.base_m)
                top.append(b.top_m)
                spread.append(b.spread_m)
                inset.append(np.zeros(len(b.base_m)))
        self.moving = tuple(moving)
        self.n = len(base[0])
        self.corners = np.concatenate(corners)
        self.spread = np.concatenate(spread)
        self.inset = np.concatenate(inset)
        self.base = np.concatenate(base)
        self.top = np.concatenate(top)
        self._plan_way = _ways([m.plan_m for m in moving])
        self._way = _ways([m.whole_m for m in moving])
        self._level = all(
            not np.ptp(v.reshape(-1, self.n), axis=1).any()
            for v in (self.base, self.top, self.inset)
        )

    def way_m(self, lines: bool) -> FloatArray:
        """Way in plan against prisms, in space against lines."""
        return self._way if lines else self._plan_way

    def total_m(
        self, fixed: Fixed, known: FloatArray, row: IntArray, which: IntArray
    ) -> FloatArray:
        """Distance in space from the gap in plan (from lines it is known already)."""
        if fixed.lines:
            return known
        apart = np.maximum(self.base[row] - fixed.high[which], fixed.low[which] - self.top[row])
        apart = np.maximum(apart, 0.0)
        return np.asarray(np.maximum(np.sqrt(known * known + apart * apart) - self.inset[row], 0.0))

    def bound_m(
        self, fixed: Fixed, known: FloatArray, first: IntArray, last: IntArray, which: IntArray
    ) -> FloatArray:
        """Distance in space from a bound of the gap in plan and the least gap in height."""
        if fixed.lines:
            return known
        if self._level:
            return self.total_m(fixed, known, first, which)
        ends = np.stack([first, last + 1], axis=1).ravel()

        def extreme(of: np.ufunc, values: FloatArray) -> FloatArray:
            return np.asarray(of.reduceat(np.append(values, values[-1]), ends)[::2])

        apart = np.maximum(
            extreme(np.minimum, self.base) - fixed.high[which],
            fixed.low[which] - extreme(np.maximum, self.top),
        )
        apart = np.maximum(apart, 0.0)
        inset = extreme(np.maximum, self.inset) if self.inset.any() else 0.0
        return np.asarray(np.sqrt(known * known + apart * apart) - inset)

    def known_m(self, fixed: Fixed, row: IntArray, which: IntArray) -> FloatArray:
        """Gap in plan from prisms, distance in space from lines, for pairs of row and shape."""
        return (self._from_lines if fixed.lines else self._from_prisms)(fixed, row, which)

    def _from_prisms(self, fixed: Fixed, row: IntArray, which: IntArray) -> FloatArray:
        corners = self.corners[row]
        pair, part, offset = fixed.expand(which)
        w0, w1 = fixed.start[part], fixed.end[part]
        x, y = corners[pair, 0, 0], corners[pair, 0, 1]
        if corners.shape[1] == 1:
            square = _point_segment_sq(
                x, y, w0[:, 0], w0[:, 1], w1[:, 0] - w0[:, 0], w1[:, 1] - w0[:, 1]
            )
            plan = np.sqrt(np.minimum.reduceat(square, offset))
        else:
            plan = np.sqrt(np.minimum.reduceat(_ring_square(corners, pair, w0, w1), offset))
        inside = np.add.reduceat(_crossings(x, y, w0, w1), offset, dtype=np.int64) % 2 == 1
        if corners.shape[1] > 2:
            one = fixed.start[fixed.first[which]]
            nxt = _next(corners)
            inside |= _crossings(one[:, 0:1], one[:, 1:2], corners, nxt).sum(axis=1) % 2 == 1
        return np.where(inside, 0.0, np.maximum(plan - self.spread[row], 0.0))

    def outline_m(self, row: IntArray) -> FloatArray:
        """Convex outlines with their spread, at flat rows."""
        if not self.spread.any():
            return self.corners[row]
        if self.corners.shape[1] == 1:
            return MovingPrism("", self.corners, self.base, self.top, self.spread).outline_m(row)
        whose = row // self.n
        out = np.empty((row.size, self.corners.shape[1] + 16, 2))
        for k in np.unique(whose):  # facets fall between other corners on each body
            mine = whose == k
            body = self.moving[k].body
            assert isinstance(body, MovingPrism)
            out[mine] = body.outline_m(row[mine] - k * self.n)
        return out

    def _from_lines(self, fixed: Fixed, row: IntArray, which: IntArray) -> FloatArray:
        pair, part, offset = fixed.expand(which)
        a, b = fixed.start[part], fixed.end[part]
        corners, spread = self.corners[row], self.spread[row]
        core = corners.mean(axis=1)
        reach = spread * _FACET
        if corners.shape[1] > 1:
            reach = reach + _norm(corners - core[:, None]).max(axis=1)
        base, top = self.base[row], self.top[row]
        # a piece cannot be nearest when the upright cylinder around the body is farther from it
        # than the cylinder within the body is from some point of another piece
        x, y = core[pair, 0], core[pair, 1]
        ex, ey = b[:, 0] - a[:, 0], b[:, 1] - a[:, 1]
        wx, wy = x - a[:, 0], y - a[:, 1]
        u = np.minimum(np.maximum((wx * ex + wy * ey) / (ex * ex + ey * ey + 1e-300), 0.0), 1.0)
        gx, gy = wx - u * ex, wy - u * ey
        plan = np.sqrt(gx * gx + gy * gy)
        low, high = base[pair], top[pair]
        z = a[:, 2] + u * (b[:, 2] - a[:, 2])
        far_z = np.maximum(np.maximum(low - z, z - high), 0.0)
        far = np.maximum(plan - spread[pair], 0.0)
        near_z = np.maximum(
            np.maximum(low - np.maximum(a[:, 2], b[:, 2]), np.minimum(a[:, 2], b[:, 2]) - high),
            0.0,
        )
        near = np.maximum(plan - reach[pair], 0.0)
        most = np.minimum.reduceat(far * far + far_z * far_z, offset)
        keep = near * near + near_z * near_z <= most[pair] + ACCURACY_M
        pair, a, b = pair[keep], a[keep], b[keep]
        offset = np.searchsorted(pair, np.arange(row.size))
        distance, _, _ = member_prism_distance_m(
            a, b, self.outline_m(row[pair]), base[pair], top[pair]
        )
        best = np.minimum.reduceat(distance, offset)
        return np.asarray(np.maximum(best - fixed.error[which], 0.0))


@dataclass(frozen=True, eq=False)
class _Spans:
    """Spans of steps between two worked-out ones, in order of column and step."""

    col: IntArray
    a: IntArray
    b: IntArray
    known_a: FloatArray
    known_b: FloatArray

    def take(self, keep: NDArray[np.bool_]) -> _Spans:
        return _Spans(
            self.col[keep], self.a[keep], self.b[keep], self.known_a[keep], self.known_b[keep]
        )

    def divide(self, stride: int) -> tuple[IntArray, IntArray]:
        """Span and step of every inner step at the stride."""
        count = (self.b - self.a - 1) // stride
        span = np.repeat(np.arange(self.a.size), count)
        place = np.arange(span.size) - np.repeat(np.cumsum(count) - count, count)
        return span, self.a[span] + stride * (place + 1)

    def within(self, span: IntArray, step: IntArray, known: FloatArray) -> _Spans:
        """The spans between ends and inner steps."""
        at = np.searchsorted(span, np.arange(self.a.size), side="right")
        first = np.searchsorted(span, np.arange(self.a.size), side="left")
        col = np.insert(self.col[span], at, self.col)
        return _Spans(
            col,
            np.insert(step, first, self.a),
            np.insert(step, at, self.b),
            np.insert(known, first, self.known_a),
            np.insert(known, at, self.known_b),
        )


def _better(
    best: FloatArray, at: IntArray, col: IntArray, step: IntArray, total: FloatArray
) -> None:
    """Take over what is nearer; columns come in order."""
    start = np.flatnonzero(np.concatenate([[True], col[1:] != col[:-1]]))
    least_of = np.minimum.reduceat(total, start)
    which = col[start]
    count = np.diff(np.append(start, col.size))
    hit = np.flatnonzero((total == np.repeat(least_of, count)) & (total < best[col]))
    first = hit[np.concatenate([[True], col[hit[1:]] != col[hit[:-1]]])] if hit.size else hit
    at[col[first]] = step[first]
    best[which] = np.minimum(best[which], least_of)


def least(
    bodies: Pairs, fixed: Fixed, body: IntArray, which: IntArray
) -> tuple[FloatArray, IntArray]:
    """Least distance and its step for columns of body and shape (by their places)."""
    n, m = bodies.n, body.size
    way = bodies.way_m(fixed.lines)
    row0 = body * n
    grid = np.append(np.arange(0, n - 1, _STRIDES[0]), n - 1)
    still = way[row0 + n - 1] == way[row0]
    count = np.where(still, 1, grid.size)
    col = np.repeat(np.arange(m), count)
    step = grid[np.arange(col.size) - np.repeat(np.cumsum(count) - count, count)]
    row = row0[col] + step
    known = bodies.known_m(fixed, row, which[col])
    best, at = np.full(m, np.inf), np.zeros(m, dtype=np.int64)
    _better(best, at, col, step, bodies.total_m(fixed, known, row, which[col]))
    moves = np.flatnonzero(~still)
    known = known[~still[col]].reshape(moves.size, grid.size)
    spans = _Spans(
        np.repeat(moves, grid.size - 1),
        np.tile(grid[:-1], moves.size),
        np.tile(grid[1:], moves.size),
        known[:, :-1].ravel(),
        known[:, 1:].ravel(),
    )
    for stride in _STRIDES[1:]:
        row = row0[spans.col]
        moved = way[row + spans.b] - way[row + spans.a]
        bound = np.maximum((spans.known_a + spans.known_b - moved) / 2.0, 0.0)
        bound = bodies.bound_m(fixed, bound, row + spans.a, row + spans.b, which[spans.col])
        open_ = (spans.b - spans.a > 1) & (bound < best[spans.col] - ACCURACY_M)
        spans = spans.take(open_)
        if not spans.a.size:
            break
        span, step = spans.divide(stride)
        col = spans.col[span]
        if stride == 1:
            row = row0[col]
            here = way[row + step]
            bound = np.maximum(
                spans.known_a[span] - (here - way[row + spans.a[span]]),
                spans.known_b[span] - (way[row + spans.b[span]] - here),
            )
            bound = bodies.total_m(fixed, np.maximum(bound, 0.0), row + step, which[col])
            keep = bound < best[col] - ACCURACY_M
            col, step = col[keep], step[keep]
        if not col.size:
            continue
        row = row0[col] + step
        known = bodies.known_m(fixed, row, which[col])
        _better(best, at, col, step, bodies.total_m(fixed, known, row, which[col]))
        if stride > 1:
            spans = spans.within(span, step, known)
    return best, at


def every_step(bodies: Pairs, fixed: Fixed, body: IntArray, which: IntArray) -> FloatArray:
    """Distance at every step for columns of body and shape, shape (columns, steps)."""
    col, step = np.repeat(np.arange(body.size), bodies.n), np.tile(np.arange(bodies.n), body.size)
    row = body[col] * bodies.n + step
    known = bodies.known_m(fixed, row, which[col])
    return bodies.total_m(fixed, known, row, which[col]).reshape(body.size, bodies.n)
