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

import copy
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
    _member_rings_m,
    _point_segment_sq,
    _segment_square,
    _wall_square,
)

__all__ = [
    "ACCURACY_M",
    "Fixed",
    "Members",
    "Moving",
    "Pairs",
    "Uprights",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

ACCURACY_M = 1e-6
"""How far the least distance found may lie above the true one. [m]"""
_STRIDES = (64, 8, 1)
_FACET = 1.0 / float(np.cos(np.pi / 16))
"""Corner of the 16 facets drawn around a circle of radius 1."""


_CIRCLE = MovingPrism("", np.zeros((1, 1, 2)), np.zeros(1), np.ones(1), np.ones(1)).outline_m()[0]
"""The 16 facets themselves."""


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
        self.low = np.asarray(lows)
        self.high = np.asarray(highs)
        self.error = np.asarray(error)
        self._set(np.vstack(starts), np.vstack(ends), np.array([len(a) for a in starts]))

    def _set(self, start: FloatArray, end: FloatArray, count: IntArray) -> None:
        self.start, self.end, self.count = start, end, count
        self.first = np.cumsum(self.count) - self.count
        along = self.end - self.start
        self._walls = tuple(
            np.ascontiguousarray(v) for v in (*self.start.T[:2], *along.T[:2], self.end[:, 1])
        )
        with np.errstate(divide="ignore", invalid="ignore"):
            self._lean = along[:, 0] / along[:, 1]

    def only(self, which: IntArray, part: IntArray, count: IntArray) -> Fixed:
        """For each of *which*, lines of some of its pieces, *count* of them, one after another."""
        new = copy.copy(self)
        new.low, new.high, new.error = self.low[which], self.high[which], self.error[which]
        new._set(self.start[part], self.end[part], count)
        return new

    def wall(self, part: IntArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Start and direction of parts in plan."""
        x, y, ex, ey = (v.take(part) for v in self._walls[:4])
        return x, y, ex, ey

    def crossed(self, x: FloatArray, y: FloatArray, part: IntArray) -> NDArray[np.bool_]:
        """Whether the ray from each point toward +x crosses the edge *part*."""
        x0, y0, _, _, y1 = self._walls
        y0 = y0.take(part)
        with np.errstate(invalid="ignore"):
            at = x0.take(part) + (y - y0) * self._lean.take(part)
        return np.asarray(((y0 > y) != (y1.take(part) > y)) & (x < at))

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

    def points_m(self, row: IntArray) -> tuple[FloatArray, FloatArray]:
        """Two points of the body, shape (..., 2, 3), and the radius in plan it has there."""

    def box_m(self, body: IntArray) -> tuple[FloatArray, FloatArray]:
        """Least and greatest coordinates over the path, each of shape (..., 3)."""

    def way_m(self, lines: bool) -> FloatArray:
        """Way made from the first step, per flat row: bounds how a distance can change."""

    def known_m(self, fixed: Fixed, row: IntArray, which: IntArray) -> FloatArray:
        """The distance that :meth:`way_m` bounds."""

    def total_m(
        self, fixed: Fixed, known: FloatArray, row: IntArray, which: IntArray
    ) -> FloatArray:
        """Distance in space from what is known."""

    def rank_m(self, fixed: Fixed, known: FloatArray, row: IntArray, which: IntArray) -> FloatArray:
        """What the search makes least; rises with the distance in space."""

    def bound_m(
        self, fixed: Fixed, known: FloatArray, first: IntArray, last: IntArray, which: IntArray
    ) -> FloatArray:
        """Least rank from row *first* to row *last* where *known* is a bound."""


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


def _inner_m(corners: FloatArray) -> float:
    """Radius of a circle about the middle of a convex plan that lies within it."""
    if len(corners) < 3:
        return 0.0
    nxt = np.roll(corners, -1, axis=0)
    x, y = corners.mean(axis=0)
    e = nxt - corners
    square = _point_segment_sq(x, y, corners[:, 0], corners[:, 1], e[:, 0], e[:, 1])
    return float(np.sqrt(square.min()))


class Moving:
    """A body with the most that its distances can differ from one step to the next."""

    def __init__(self, body: MovingMember | MovingPrism) -> None:
        self.body = body
        self.upright = isinstance(body, MovingPrism) or bool(
            np.array_equal(body.start_m[:, :2], body.end_m[:, :2])
        )
        """Whether it stands upright at every step (such as a hoist rope)."""
        self.inner_m = 0.0
        """Radius about the middle of its plan that lies within it, without its spread. [m]"""
        self.across_m = 0.0
        """Greatest distance of two corners of its plan. [m]"""
        self.level = isinstance(body, MovingPrism) and not (
            np.ptp(body.base_m) or np.ptp(body.top_m)
        )
        """Whether its heights never change."""
        if isinstance(body, MovingMember):
            start, end = np.diff(body.start_m, axis=0), np.diff(body.end_m, axis=0)
            self.plan_m = _norm(start[:, :2])
            """Movement in plan; of a member it counts only where it is upright. [m]"""
            self.whole_m = np.maximum(_norm(start), _norm(end)) + np.abs(np.diff(body.half_width_m))
            """Movement in space, with change of width. [m]"""
        else:
            first = body.corners_m[0]
            self.inner_m = _inner_m(first)
            self.across_m = float(_norm(first[:, None] - first[None]).max())
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
        self._axes = tuple(np.ascontiguousarray(v) for v in (*self.start.T, *self.along.T))
        self.half_width = np.concatenate([b.half_width_m for b in bodies])
        self._way = _ways([m.whole_m for m in moving])

    def points_m(self, row: IntArray) -> tuple[FloatArray, FloatArray]:
        """Both ends, without width."""
        start = self.start[row]
        return np.stack([start, start + self.along[row]], axis=-2), np.zeros(row.shape)

    def box_m(self, body: IntArray) -> tuple[FloatArray, FloatArray]:
        """Box around all steps."""
        ends = np.stack([self.start, self.start + self.along], axis=1).reshape(-1, 2 * self.n, 3)
        width = self.half_width.reshape(-1, self.n).max(axis=1)[:, None]
        return (ends.min(axis=1) - width)[body], (ends.max(axis=1) + width)[body]

    def way_m(self, lines: bool) -> FloatArray:
        """Way made from the first step."""
        return self._way

    def total_m(
        self, fixed: Fixed, known: FloatArray, row: IntArray, which: IntArray
    ) -> FloatArray:
        """What is known is the distance itself."""
        return known

    def rank_m(self, fixed: Fixed, known: FloatArray, row: IntArray, which: IntArray) -> FloatArray:
        """What is known is the distance itself."""
        return known

    def bound_m(
        self, fixed: Fixed, known: FloatArray, first: IntArray, last: IntArray, which: IntArray
    ) -> FloatArray:
        """What is known is the distance itself."""
        return known

    def known_m(self, fixed: Fixed, row: IntArray, which: IntArray) -> FloatArray:
        """Exact distance for pairs of row and shape."""
        pair, part, offset = fixed.expand(which)
        if fixed.lines:
            at = row[pair]
            p = fixed.start[part]
            square, _, _ = _segment_square(self.start[at], self.along[at], p, fixed.end[part] - p)
            best = np.sqrt(np.minimum.reduceat(square, offset))
            return np.asarray(np.maximum(best - self.half_width[row] - fixed.error[which], 0.0))
        ax, ay, az, dx, dy, dz = (v.take(row) for v in self._axes)
        px, py, qx, qy = (v.take(pair) for v in (ax, ay, dx, dy))
        wx, wy, ex, ey = fixed.wall(part)
        low, high = fixed.low[which], fixed.high[which]
        # a wall cannot be nearest when the boxes in plan are farther apart than the start of the
        # member is from the start of some other wall
        gap_x = np.maximum(np.abs(px + qx / 2 - wx - ex / 2) - np.abs(qx / 2) - np.abs(ex / 2), 0.0)
        gap_y = np.maximum(np.abs(py + qy / 2 - wy - ey / 2) - np.abs(qy / 2) - np.abs(ey / 2), 0.0)
        most = np.minimum.reduceat((px - wx) ** 2 + (py - wy) ** 2, offset)
        most += np.maximum(np.maximum(low - az, az - high), 0.0) ** 2
        keep = np.flatnonzero(gap_x * gap_x + gap_y * gap_y <= most.take(pair) + ACCURACY_M)
        kept = pair.take(keep)
        square, _, _ = _wall_square(
            px.take(keep), py.take(keep), az.take(kept),
            qx.take(keep), qy.take(keep), dz.take(kept),
            wx.take(keep), wy.take(keep), ex.take(keep), ey.take(keep),
            low.take(kept), high.take(kept),
        )  # fmt: skip
        first = np.searchsorted(kept, np.arange(row.size))
        best = np.sqrt(np.minimum.reduceat(square, first))
        # where it passes over, under or through the prism in plan, if that could be nearer
        t, cut = _cut_fractions(az, dz, low, high)
        z = az + t * dz
        gap = np.where(cut, 0.0, np.maximum(np.maximum(low - z, z - high), 0.0))
        i, k = np.nonzero(gap < best)
        if k.size:
            place, part, offset = fixed.expand(which[k])
            x, y = ax[k] + t[i, k] * dx[k], ay[k] + t[i, k] * dy[k]
            hits = fixed.crossed(x.take(place), y.take(place), part)
            over = np.bitwise_xor.reduceat(hits, offset)
            np.minimum.at(best, k[over], gap[i[over], k[over]])
        return np.asarray(np.maximum(best - self.half_width[row], 0.0))


def _next(corners: FloatArray) -> FloatArray:
    return np.concatenate([corners[:, 1:], corners[:, :1]], axis=1)


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
        # corners first: least values over them are then taken along whole rows
        self._x = np.ascontiguousarray(self.corners[..., 0].T)
        self._y = np.ascontiguousarray(self.corners[..., 1].T)
        self._across = max((m.across_m for m in moving), default=0.0)
        self.spread = np.concatenate(spread)
        self.inset = np.concatenate(inset)
        self._inner = np.repeat([m.inner_m for m in moving], self.n)
        self._spread_out = bool(self.spread.any())
        self.base = np.concatenate(base)
        self.top = np.concatenate(top)
        self.level = all(m.level for m in moving)

    def points_m(self, row: IntArray) -> tuple[FloatArray, FloatArray]:
        """Middle of underside and top, with the spread around them."""
        x, y = self._x[:, row].mean(axis=0), self._y[:, row].mean(axis=0)
        ends = [np.stack([x, y, z[row]], axis=-1) for z in (self.base, self.top)]
        return np.stack(ends, axis=-2), self.spread[row]

    def box_m(self, body: IntArray) -> tuple[FloatArray, FloatArray]:
        """Box around all steps."""
        reach = self.spread * _FACET
        low = [self._x.min(axis=0) - reach, self._y.min(axis=0) - reach, self.base]
        high = [self._x.max(axis=0) + reach, self._y.max(axis=0) + reach, self.top]
        return (
            np.stack([v.reshape(-1, self.n).min(axis=1) for v in low], axis=-1)[body],
            np.stack([v.reshape(-1, self.n).max(axis=1) for v in high], axis=-1)[body],
        )

    def way_m(self, lines: bool) -> FloatArray:
        """Way in plan against prisms, in space against lines."""
        return _ways([m.whole_m if lines else m.plan_m for m in self.moving])

    def total_m(
        self, fixed: Fixed, known: FloatArray, row: IntArray, which: IntArray
    ) -> FloatArray:
        """Distance in space from the gap in plan (from lines it is known already)."""
        if fixed.lines:
            return known
        apart = np.maximum(self.base[row] - fixed.high[which], fixed.low[which] - self.top[row])
        apart = np.maximum(apart, 0.0)
        return np.asarray(np.maximum(np.sqrt(known * known + apart * apart) - self.inset[row], 0.0))

    def rank_m(self, fixed: Fixed, known: FloatArray, row: IntArray, which: IntArray) -> FloatArray:
        """The gap in plan where heights do not change, else the distance in space."""
        return known if self.level else self.total_m(fixed, known, row, which)

    def bound_m(
        self, fixed: Fixed, known: FloatArray, first: IntArray, last: IntArray, which: IntArray
    ) -> FloatArray:
        """Rank from a bound of the gap in plan and the least gap in height."""
        if fixed.lines:
            return known
        if self.level:
            return known
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
        pair, part, offset = fixed.expand(which)
        wx, wy, ex, ey = fixed.wall(part)
        x, y = self._x.take(row, axis=1), self._y.take(row, axis=1)
        if len(x) == 1:
            x, y = x[0, pair], y[0, pair]
            square = _point_segment_sq(x, y, wx, wy, ex, ey)
        else:
            square = self._ring_square(fixed, x, y, row, pair, part, offset)
            x, y = x[0, pair], y[0, pair]
        plan = np.sqrt(np.minimum.reduceat(square, offset))
        inside = np.bitwise_xor.reduceat(fixed.crossed(x, y, part), offset)
        plan = np.where(inside, 0.0, np.maximum(plan - self.spread[row], 0.0))
        # the other way round: a shape within the body is no farther from its edges than the
        # body's own corners are apart
        maybe = np.flatnonzero((plan > 0.0) & (plan <= self._across)) if len(self._x) > 2 else ()
        if len(maybe):
            inside = self._inside(fixed.start[fixed.first[which[maybe]]], row[maybe])
            plan[maybe[inside]] = 0.0
        return np.asarray(plan)

    def _inside(self, point: FloatArray, row: IntArray) -> NDArray[np.bool_]:
        """Whether one point for each row lies in the plan there."""
        corners = self.corners[row]
        hits = _crossings(point[:, :1], point[:, 1:2], corners, _next(corners))
        return np.asarray(np.bitwise_xor.reduce(hits, axis=1))

    def _ring_square(
        self,
        fixed: Fixed,
        x: FloatArray,
        y: FloatArray,
        row: IntArray,
        pair: IntArray,
        part: IntArray,
        offset: IntArray,
    ) -> FloatArray:
        """Squared plan distance of each pair's corners and edges from a wall, 0 if they cross.

        Infinite for walls that cannot be nearest.
        """
        # a wall cannot be nearest when it is farther from the middle than some other wall by more
        # than the corners are
        cx, cy = x.mean(axis=0), y.mean(axis=0)
        reach = np.sqrt(((x - cx) ** 2 + (y - cy) ** 2).max(axis=0))
        ax, ay, dx, dy = fixed.wall(part)
        middle = np.sqrt(_point_segment_sq(cx.take(pair), cy.take(pair), ax, ay, dx, dy))
        least_of = np.minimum.reduceat(middle, offset) + reach
        keep = np.flatnonzero(middle <= least_of.take(pair) + ACCURACY_M)
        out = np.full(pair.size, np.inf)
        pair, part = pair.take(keep), part.take(keep)
        ax, ay, dx, dy = (v.take(keep) for v in (ax, ay, dx, dy))
        ex = np.concatenate([x[1:], x[:1]]) - x
        ey = np.concatenate([y[1:], y[:1]]) - y
        longest = (ex * ex + ey * ey).max(axis=0)
        x, y, ex, ey = (v.take(pair, axis=1) for v in (x, y, ex, ey))
        square = np.minimum(
            _point_segment_sq(x, y, ax, ay, dx, dy), _point_segment_sq(ax, ay, x, y, ex, ey)
        ).min(axis=0)
        # segments that cross have an end within half a length of each other
        near = np.flatnonzero(square <= 0.26 * longest.take(pair))
        if near.size:
            corners = self.corners[row[pair[near]]]
            w0, w1 = fixed.start[part[near], None], fixed.end[part[near], None]
            crossed = _edge_square(corners, _next(corners), w0, w1).min(axis=1)
            square[near] = np.minimum(square[near], crossed)
        out[keep] = square
        return out

    def outline_m(self, row: IntArray) -> FloatArray:
        """Convex outlines with their spread, at flat rows."""
        x, y = self._rings(row)
        return np.stack([x.T, y.T], axis=-1)

    def _rings(self, row: IntArray) -> tuple[FloatArray, FloatArray]:
        """Convex outlines with their spread, corners first."""
        x, y = self._x.take(row, axis=1), self._y.take(row, axis=1)
        if not self._spread_out:
            return x, y
        if len(x) == 1:
            reach = self.spread.take(row)
            return x + reach * _CIRCLE[:, :1], y + reach * _CIRCLE[:, 1:]
        whose = row // self.n
        out = np.empty((2, len(x) + 16, row.size))
        for k in np.unique(whose):  # facets fall between other corners on each body
            mine = whose == k
            body = self.moving[k].body
            assert isinstance(body, MovingPrism)
            out[:, :, mine] = body.outline_m(row[mine] - k * self.n).transpose(2, 1, 0)
        return out[0], out[1]

    def near_pieces(
        self, fixed: Fixed, row: IntArray, which: IntArray
    ) -> tuple[IntArray, IntArray]:
        """For pairs of row and line: pair and part of every piece that could be nearest."""
        pair, part, offset = fixed.expand(which)
        x, y, spread = self._x.take(row, axis=1), self._y.take(row, axis=1), self.spread[row]
        cx, cy = x.mean(axis=0), y.mean(axis=0)
        base, top = self.base[row], self.top[row]
        low, high = base[pair], top[pair]
        # a piece cannot be nearest when, in plan and in height, all of it is farther from the
        # body than the nearest point of another piece is from some point of the body
        wx, wy, ex, ey = fixed.wall(part)
        a, b = fixed.start[part], fixed.end[part]
        gx, gy = wx - cx[pair], wy - cy[pair]
        u = -(gx * ex + gy * ey) / (ex * ex + ey * ey + 1e-300)
        u = np.minimum(np.maximum(u, 0.0), 1.0)
        gx, gy = gx + u * ex, gy + u * ey
        plan = np.sqrt(gx * gx + gy * gy)
        # the plan reaches at most so far toward the piece, and no other point of it is nearer
        nx, ny = gx / (plan + 1e-300), gy / (plan + 1e-300)
        reach = spread * _FACET
        inner = (spread + self._inner[row])[pair]
        reach = reach[pair]
        if len(x) > 1:
            toward = nx * (x - cx).take(pair, axis=1) + ny * (y - cy).take(pair, axis=1)
            reach = reach + toward.max(axis=0)
        near = np.maximum(plan - reach, 0.0)
        za, zb = a[:, 2], b[:, 2]
        near_z = np.maximum(np.maximum(low - np.maximum(za, zb), np.minimum(za, zb) - high), 0.0)
        z = za + u * (zb - za)
        far_z = np.maximum(np.maximum(low - z, z - high), 0.0)
        far = np.maximum(plan - inner, 0.0)
        most = np.minimum.reduceat(far * far + far_z * far_z, offset)
        keep = near * near + near_z * near_z <= most[pair] + ACCURACY_M
        return pair[keep], part[keep]

    def _from_lines(self, fixed: Fixed, row: IntArray, which: IntArray) -> FloatArray:
        pair, part = self.near_pieces(fixed, row, which)
        offset = np.searchsorted(pair, np.arange(row.size))
        at = row[pair]
        a, d = fixed.start[part], fixed.end[part] - fixed.start[part]
        distance = _member_rings_m(
            (a[:, 0], a[:, 1], a[:, 2]),
            (d[:, 0], d[:, 1], d[:, 2]),
            *self._rings(at),
            self.base.take(at),
            self.top.take(at),
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
        """Take over what is nearer; columns come in order."""
        start = np.flatnonzero(np.concatenate([[True], col[1:] != col[:-1]]))
        least_of = np.minimum.reduceat(rank, start)
        count = np.diff(np.append(start, col.size))
        hit = np.flatnonzero((rank == np.repeat(least_of, count)) & (rank < self.rank[col]))
        if not hit.size:
            return
        hit = hit[np.concatenate([[True], col[hit[1:]] != col[hit[:-1]]])]
        nearer = col[hit]
        self.rank[nearer], self.step[nearer] = rank[hit], step[hit]
        self.known[nearer] = known[hit]


def _near_pieces(
    bodies: Pairs, fixed: Fixed, body: IntArray, which: IntArray, grid: IntArray
) -> Fixed:
    """For every column the pieces of its line that could hold the least distance.

    A piece cannot when the box around the whole path is farther from it than the body is, at some
    step, from the start of some other piece.
    """
    points, spread = bodies.points_m(body[:, None] * bodies.n + grid[::4])
    pair, part, offset = fixed.expand(which)
    a, b = fixed.start[part], fixed.end[part]
    gap = points[pair] - a[:, None, None, :]
    plan = np.maximum(np.sqrt(gap[..., 0] ** 2 + gap[..., 1] ** 2) - spread[pair][..., None], 0.0)
    most = (plan * plan + gap[..., 2] ** 2).min(axis=(1, 2))
    low, high = bodies.box_m(body)
    apart = np.maximum(low[pair] - np.maximum(a, b), np.minimum(a, b) - high[pair])
    apart = np.maximum(apart, 0.0)
    keep = (apart * apart).sum(axis=1) <= np.minimum.reduceat(most, offset)[pair] + ACCURACY_M
    return fixed.only(which, part[keep], np.add.reduceat(keep, offset, dtype=np.int64))


def least(
    bodies: Pairs, fixed: Fixed, body: IntArray, which: IntArray
) -> tuple[FloatArray, IntArray, FloatArray]:
    """Least distance for columns of body and shape (by their places).

    Returns distance, its step, and there the gap in plan (of upright bodies from prisms; the
    least over the path where :attr:`Uprights.level` holds).
    """
    n, m = bodies.n, body.size
    way = bodies.way_m(fixed.lines)
    row0 = body * n
    grid = np.append(np.arange(0, n - 1, _STRIDES[0]), n - 1)
    if fixed.lines:
        fixed = _near_pieces(bodies, fixed, body, which, grid)
        which = np.arange(m)
    still = way[row0 + n - 1] == way[row0]
    count = np.where(still, 1, grid.size)
    col = np.repeat(np.arange(m), count)
    step = grid[np.arange(col.size) - np.repeat(np.cumsum(count) - count, count)]
    row = row0[col] + step
    known = bodies.known_m(fixed, row, which[col])
    found = _Found(np.full(m, np.inf), np.zeros(m, dtype=np.int64), np.zeros(m))
    found.take(col, step, known, bodies.rank_m(fixed, known, row, which[col]))
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
        open_ = (spans.b - spans.a > 1) & (bound < found.rank[spans.col] - ACCURACY_M)
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
            bound = bodies.rank_m(fixed, np.maximum(bound, 0.0), row + step, which[col])
            keep = bound < found.rank[col] - ACCURACY_M
            col, step = col[keep], step[keep]
        if not col.size:
            continue
        row = row0[col] + step
        known = bodies.known_m(fixed, row, which[col])
        found.take(col, step, known, bodies.rank_m(fixed, known, row, which[col]))
        if stride > 1:
            spans = spans.within(span, step, known)
    row = row0 + found.step
    return bodies.total_m(fixed, found.known, row, which), found.step, found.known


def every_step(bodies: Pairs, fixed: Fixed, body: IntArray, which: IntArray) -> FloatArray:
    """Distance at every step for columns of body and shape, shape (columns, steps)."""
    col, step = np.repeat(np.arange(body.size), bodies.n), np.tile(np.arange(bodies.n), body.size)
    row = body[col] * bodies.n + step
    known = bodies.known_m(fixed, row, which[col])
    return bodies.total_m(fixed, known, row, which[col]).reshape(body.size, bodies.n)
