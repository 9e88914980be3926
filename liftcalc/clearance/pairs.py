"""Moving bodies and fixed obstacles in flat arrays, with the exact distance of any pairs of them.

Contents
--------
:class:`Shapes` (edges of prisms or pieces of lines, in one array), :class:`Moving` (a body with its
movement), :class:`Members` and :class:`Uprights` (bodies of one kind, in one array).

Bodies of one kind are worked together, so that a search costs a few array operations whatever
their number. :mod:`liftcalc.clearance.search` asks for distances by flat row (body and step) and
shape; walls and pieces that cannot be nearest are left out first, by bounds that never cut one
that could be.

Sources: geometry only.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from liftcalc.base.arrays import FloatArray, IntArray
from liftcalc.clearance.bodies import MovingMember, MovingPrism
from liftcalc.clearance.powerline import LinePath
from liftcalc.clearance.solids import (
    Prism,
    cut_fractions,
    edge_square_m2,
    member_rings_m,
    point_segment_square_m2,
    ray_crossings,
    segment_square_m2,
    wall_square_m2,
)

__all__ = ["ACCURACY_M", "FACET", "Shapes", "Members", "Moving", "Uprights"]


ACCURACY_M = 1e-6
"""How far the least distance found may lie above the true one. [m]"""
FACET = 1.0 / float(np.cos(np.pi / 16))
"""Corner of the 16 facets drawn around a circle of radius 1."""


ROUNDING_M = 1e-7
"""More than rounding can move a bound. [m]"""
_NONE = np.zeros(0)
_ANGLE = (np.arange(16) + 0.5) * np.pi / 8
_CIRCLE = FACET * np.stack([np.cos(_ANGLE), np.sin(_ANGLE)], axis=-1)
"""Corners of the 16 facets themselves, two of which lie along +x."""


class Shapes:
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
        self._walls = np.stack([*self.start.T[:2], *along.T[:2], self.end[:, 1]])
        with np.errstate(divide="ignore", invalid="ignore"):
            self._lean = along[:, 0] / along[:, 1]

    def only(self, which: IntArray, part: IntArray, count: IntArray) -> Shapes:
        """For each of *which*, lines of some of its pieces, *count* of them, one after another."""
        new = copy.copy(self)
        new.low, new.high, new.error = self.low[which], self.high[which], self.error[which]
        new._set(self.start[part], self.end[part], count)
        return new

    def outline_m(self, which: IntArray) -> FloatArray:
        """Corners of prisms, the last one repeated to equal number; shape (m, k, 2)."""
        place = np.minimum(np.arange(self.count[which].max()), self.count[which, None] - 1)
        return np.asarray(self.start[self.first[which, None] + place])

    def wall(self, part: IntArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Start and direction of parts in plan."""
        x, y, ex, ey = self._walls[:4].take(part, axis=1)
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


def _norm(d: FloatArray) -> FloatArray:
    square = d[..., 0] * d[..., 0] + d[..., 1] * d[..., 1]
    if d.shape[-1] == 3:
        square += d[..., 2] * d[..., 2]
    return np.asarray(np.sqrt(square))


def _plan_movement_m(body: MovingPrism) -> FloatArray:
    corners, spread = body.corners_m, body.spread_m
    x, y = np.moveaxis(corners, 0, -1).transpose(1, 0, 2)  # corners first: whole rows are quicker
    dx, dy = x[:, 1:] - x[:, :-1], y[:, 1:] - y[:, :-1]
    plan = np.sqrt((dx * dx + dy * dy).max(axis=0))
    if not spread.any():
        return np.asarray(plan)
    # the facets around the spread lie up to 2 % outside it, and turn around the corners
    plan += 1.02 * np.abs(np.diff(spread))
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
    square = point_segment_square_m2(x, y, corners[:, 0], corners[:, 1], e[:, 0], e[:, 1])
    return float(np.sqrt(square.min()))


class Moving:
    """A body with the most that its distances can differ from one step to the next."""

    def __init__(self, body: MovingMember | MovingPrism) -> None:
        self.body = body
        self.upright = isinstance(body, MovingPrism) or bool(
            np.array_equal(body.start_m[:, :2], body.end_m[:, :2])
        )
        """Whether it stands upright at every step (such as a hoist rope)."""
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
            self.across_m = float(_norm(first[:, None] - first[None]).max())
            rise = np.maximum(np.abs(np.diff(body.base_m)), np.abs(np.diff(body.top_m)))
            self.plan_m = _plan_movement_m(body)
            self.whole_m = np.sqrt(self.plan_m**2 + rise**2)


def is_point_or_sharp(moving: Moving) -> bool:
    """Whether a plan is a point, with or without spread, or has no spread."""
    body = moving.body
    if isinstance(body, MovingMember) or body.corners_m.shape[1] == 1:
        return True
    return not body.spread_m.any()


def _ways(movements: Sequence[FloatArray]) -> FloatArray:
    way = np.zeros((len(movements), movements[0].size + 1))
    for k, movement in enumerate(movements):
        np.cumsum(movement, out=way[k, 1:])
    return way.ravel()


class Members:
    """Straight members with the same number of steps."""

    ease = 1

    def __init__(self, moving: Sequence[Moving]) -> None:
        bodies = [m.body for m in moving if isinstance(m.body, MovingMember)]
        self.n = len(bodies[0].start_m)
        # start and direction, coordinates first: whole rows are quicker
        self._axes = np.empty((6, self.n * len(bodies)))
        for k, b in enumerate(bodies):
            own = slice(k * self.n, (k + 1) * self.n)
            self._axes[:3, own] = b.start_m.T
            np.subtract(b.end_m.T, b.start_m.T, out=self._axes[3:, own])
        self.start, self.along = self._axes[:3].T, self._axes[3:].T
        self.half_width = np.concatenate([b.half_width_m for b in bodies])
        self._way = _ways([m.whole_m for m in moving])

    def points_m(self, row: IntArray) -> tuple[FloatArray, FloatArray]:
        """Both ends, without width."""
        start = self.start[row]
        return np.stack([start, start + self.along[row]], axis=-2), np.zeros(row.shape)

    def box_m(self, row: IntArray) -> tuple[FloatArray, FloatArray]:
        """Least and greatest coordinates at flat rows, each of shape (..., 3)."""
        start = self.start[row]
        end = start + self.along[row]
        width = self.half_width[row][..., None]
        return np.minimum(start, end) - width, np.maximum(start, end) + width

    def way_m(self, lines: bool) -> FloatArray:
        """Way made from the first step."""
        return self._way

    def rises(self, lines: bool) -> bool:
        """Whether distances may differ between steps with no way between them."""
        return False

    def total_m(
        self, fixed: Shapes, known: FloatArray, row: IntArray, which: IntArray
    ) -> FloatArray:
        """What is known is the distance itself."""
        return known

    def rank_m(
        self, fixed: Shapes, known: FloatArray, row: IntArray, which: IntArray
    ) -> FloatArray:
        """What is known is the distance itself."""
        return known

    def bound_m(
        self, fixed: Shapes, known: FloatArray, first: IntArray, last: IntArray, which: IntArray
    ) -> FloatArray:
        """What is known is the distance itself."""
        return known

    def furthest_m(self, toward: FloatArray, row: IntArray) -> FloatArray:
        """How far the body reaches in a direction, shape (3, m), at each row."""
        ax, ay, az, dx, dy, dz = self._axes.take(row, axis=1)
        nx, ny, nz = toward
        along = nx * dx + ny * dy + nz * dz
        return np.asarray(
            nx * ax + ny * ay + nz * az + np.maximum(along, 0.0) + self.half_width.take(row)
        )

    def known_m(
        self,
        fixed: Shapes,
        row: IntArray,
        which: IntArray,
        *,
        col: IntArray | None = None,
        best: FloatArray = _NONE,
    ) -> FloatArray:
        """Exact distance for pairs of row and shape."""
        pair, part, offset = fixed.expand(which)
        if fixed.lines:
            at = row[pair]
            p = fixed.start[part]
            square, _, _ = segment_square_m2(self.start[at], self.along[at], p, fixed.end[part] - p)
            best = np.sqrt(np.minimum.reduceat(square, offset))
            return np.asarray(np.maximum(best - self.half_width[row] - fixed.error[which], 0.0))
        ax, ay, az, dx, dy, dz = self._axes.take(row, axis=1)
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
        square, _, _ = wall_square_m2(
            px.take(keep), py.take(keep), az.take(kept),
            qx.take(keep), qy.take(keep), dz.take(kept),
            wx.take(keep), wy.take(keep), ex.take(keep), ey.take(keep),
            low.take(kept), high.take(kept),
        )  # fmt: skip
        first = np.searchsorted(kept, np.arange(row.size))
        best = np.sqrt(np.minimum.reduceat(square, first))
        # where it passes over, under or through the prism in plan, if that could be nearer
        t, cut = cut_fractions(az, dz, low, high)
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
        self.moving = tuple(moving)
        self.n = n = len(moving[0].whole_m) + 1
        most = max(1 if isinstance(m.body, MovingMember) else m.body.corners_m.shape[1]
                   for m in moving)  # fmt: skip
        total = n * len(moving)
        # corners first: least values over them are then taken along whole rows; fewer corners
        # than most repeat the last
        self._x, self._y = np.empty((2, most, total))
        self.base, self.top = np.empty((2, total))
        self.spread, self.inset = np.zeros((2, total))
        for k, m in enumerate(moving):
            own, b = slice(k * n, k * n + n), m.body
            if isinstance(b, MovingMember):
                self._x[:, own], self._y[:, own] = b.start_m[:, 0], b.start_m[:, 1]
                self.base[own] = np.minimum(b.start_m[:, 2], b.end_m[:, 2])
                self.top[own] = np.maximum(b.start_m[:, 2], b.end_m[:, 2])
                self.inset[own] = b.half_width_m
            else:
                count = b.corners_m.shape[1]
                for axis, to in enumerate((self._x, self._y)):
                    to[:count, own] = b.corners_m[..., axis].T
                    to[count:, own] = to[count - 1, own]
                self.base[own], self.top[own] = b.base_m, b.top_m
                self.spread[own] = b.spread_m
        self.ease = 1 if most > 1 else 10
        self._across = max((m.across_m for m in moving), default=0.0)
        self._spread_out = bool(self.spread.any())
        self._points_spread = all(is_point_or_sharp(m) for m in moving)
        self.level = all(m.level for m in moving)

    def only(self, moving: Sequence[Moving]) -> Uprights:
        """The same arrays where only rows of some of the bodies are asked for."""
        new = copy.copy(self)
        new.level = all(m.level for m in moving)
        return new

    @cached_property
    def _inner(self) -> FloatArray:
        """Radius about the middle of each body's plan that lies within it, without its spread."""
        first = np.arange(len(self.moving)) * self.n
        return np.array([_inner_m(corners) for corners in self.corners_m(first)])

    def corners_m(self, row: IntArray) -> FloatArray:
        """Plan corners without the spread, shape (..., k, 2)."""
        return np.stack([self._x.take(row, axis=1).T, self._y.take(row, axis=1).T], axis=-1)

    def points_m(self, row: IntArray) -> tuple[FloatArray, FloatArray]:
        """Middle of underside and top, with the spread around them."""
        x, y = self._x[:, row].mean(axis=0), self._y[:, row].mean(axis=0)
        ends = [np.stack([x, y, z[row]], axis=-1) for z in (self.base, self.top)]
        return np.stack(ends, axis=-2), self.spread[row]

    def box_m(self, row: IntArray) -> tuple[FloatArray, FloatArray]:
        """Least and greatest coordinates at flat rows, each of shape (..., 3)."""
        x, y, reach = self._x[:, row], self._y[:, row], self.spread[row] * FACET
        low = [x.min(axis=0) - reach, y.min(axis=0) - reach, self.base[row]]
        high = [x.max(axis=0) + reach, y.max(axis=0) + reach, self.top[row]]
        return np.stack(low, axis=-1), np.stack(high, axis=-1)

    def way_m(self, lines: bool) -> FloatArray:
        """Way in plan against prisms, in space against lines."""
        return _ways([m.whole_m if lines else m.plan_m for m in self.moving])

    def rises(self, lines: bool) -> bool:
        """Whether distances may differ between steps with no way between them."""
        return not (lines or self.level)

    def total_m(
        self, fixed: Shapes, known: FloatArray, row: IntArray, which: IntArray
    ) -> FloatArray:
        """Distance in space from the gap in plan (from lines it is known already)."""
        if fixed.lines:
            return known
        apart = np.maximum(self.base[row] - fixed.high[which], fixed.low[which] - self.top[row])
        apart = np.maximum(apart, 0.0)
        return np.asarray(np.maximum(np.sqrt(known * known + apart * apart) - self.inset[row], 0.0))

    def rank_m(
        self, fixed: Shapes, known: FloatArray, row: IntArray, which: IntArray
    ) -> FloatArray:
        """The gap in plan where heights do not change, else the distance in space."""
        return known if self.level else self.total_m(fixed, known, row, which)

    def bound_m(
        self, fixed: Shapes, known: FloatArray, first: IntArray, last: IntArray, which: IntArray
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

    def furthest_m(self, toward: FloatArray, row: IntArray) -> FloatArray:
        """How far the body reaches in a direction, in plan or (shape (3, m)) in space."""
        nx, ny = toward[:2]
        reach = (nx * self._x.take(row, axis=1) + ny * self._y.take(row, axis=1)).max(axis=0)
        if len(toward) == 2:
            return np.asarray(reach + self.spread.take(row))
        # the facets around the spread reach out to their corners
        reach += FACET * self.spread.take(row) * np.sqrt(nx * nx + ny * ny)
        low, high = toward[2] * self.base.take(row), toward[2] * self.top.take(row)
        return np.asarray(reach + np.maximum(low, high))

    def known_m(
        self,
        fixed: Shapes,
        row: IntArray,
        which: IntArray,
        *,
        col: IntArray | None = None,
        best: FloatArray = _NONE,
    ) -> FloatArray:
        """Gap in plan from prisms, distance in space from lines, for pairs of row and shape.

        With columns and the least distance so far of each: of pairs that lie farther, a bound.
        """
        if fixed.lines:
            return self._from_lines(fixed, row, which, col, best)
        return self._from_prisms(fixed, row, which)

    def _from_prisms(self, fixed: Shapes, row: IntArray, which: IntArray) -> FloatArray:
        pair, part, offset = fixed.expand(which)
        wx, wy, ex, ey = fixed.wall(part)
        x, y = self._x.take(row, axis=1), self._y.take(row, axis=1)
        if len(x) == 1:
            x, y = x[0, pair], y[0, pair]
            square = point_segment_square_m2(x, y, wx, wy, ex, ey)
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
        corners = self.corners_m(row)
        nxt = _next(corners)
        hits = ray_crossings(
            point[:, :1], point[:, 1:2],
            corners[..., 0], corners[..., 1], nxt[..., 0], nxt[..., 1],
        )  # fmt: skip
        return np.asarray(np.bitwise_xor.reduce(hits, axis=1))

    def _ring_square(
        self,
        fixed: Shapes,
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
        middle = np.sqrt(point_segment_square_m2(cx.take(pair), cy.take(pair), ax, ay, dx, dy))
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
            point_segment_square_m2(x, y, ax, ay, dx, dy),
            point_segment_square_m2(ax, ay, x, y, ex, ey),
        ).min(axis=0)
        # segments that cross have an end within half a length of each other
        near = np.flatnonzero(square <= 0.26 * longest.take(pair))
        if near.size:
            corners = self.corners_m(row[pair[near]])
            w0, w1 = fixed.start[part[near], None], fixed.end[part[near], None]
            crossed = edge_square_m2(corners, _next(corners), w0, w1).min(axis=1)
            square[near] = np.minimum(square[near], crossed)
        out[keep] = square
        return out

    def outline_m(self, row: IntArray, along: FloatArray) -> FloatArray:
        """Convex outlines with their spread, at flat rows, for pieces of lines along *along*."""
        x, y = self._rings(row, along)
        return np.stack([x.T, y.T], axis=-1)

    def _rings(self, row: IntArray, along: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Convex outlines with their spread, corners first.

        Round a point two facets lie along the piece that the outline is for: they touch the true
        circle where a piece that passes it is nearest, whichever way north is.
        """
        x, y = self._x.take(row, axis=1), self._y.take(row, axis=1)
        if not self._spread_out:
            return x, y
        if self._points_spread:
            # round a point the facets; round the corners of a plan without spread nothing
            facet = np.arange(max(16, len(x)))
            reach = self.spread.take(row)
            cx, cy = _CIRCLE[np.minimum(facet, 15)].T[:, :, None]
            corner = np.minimum(facet, len(x) - 1)
            long = np.sqrt(along[:, 0] ** 2 + along[:, 1] ** 2)
            c, s = (np.divide(v, long, out=np.full(long.shape, still), where=long > 0)
                    for v, still in ((along[:, 0], 1.0), (along[:, 1], 0.0)))  # fmt: skip
            return (
                x[corner] + reach * (c * cx - s * cy),
                y[corner] + reach * (s * cx + c * cy),
            )
        whose = row // self.n
        out = np.empty((2, len(x) + 16, row.size))
        for k in np.unique(whose):  # facets fall between other corners on each body
            mine = whose == k
            body = self.moving[k].body
            assert isinstance(body, MovingPrism)
            out[:, :, mine] = body.outline_m(row[mine] - k * self.n).transpose(2, 1, 0)
        return out[0], out[1]

    def near_pieces(
        self, fixed: Shapes, row: IntArray, which: IntArray
    ) -> tuple[IntArray, IntArray, FloatArray, FloatArray]:
        """For pairs of row and line: pair and part of every piece that could be nearest.

        With bounds of every pair's distance from the line's chords, from below and from above.
        """
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
        reach = spread * FACET
        inner = (spread + self._inner[row // self.n])[pair]
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
        square = near * near + near_z * near_z
        keep = square <= most[pair] + ACCURACY_M
        below = np.sqrt(np.minimum.reduceat(square, offset))
        return pair[keep], part[keep], below, np.sqrt(most)

    def _from_lines(
        self, fixed: Shapes, row: IntArray, which: IntArray, col: IntArray | None, best: FloatArray
    ) -> FloatArray:
        pair, part, known, above = self.near_pieces(fixed, row, which)
        error = fixed.error[which]
        if col is None:
            open_ = np.ones(row.size, dtype=bool)
        else:
            best = best.copy()
            np.minimum.at(best, col, above - error)
            # (a bound of nothing tells no step from one of contact)
            open_ = known - error <= np.maximum(best[col], 0.0) + ROUNDING_M
        mine = open_[pair]
        pair, part = pair[mine], part[mine]
        worked = np.flatnonzero(open_)
        at = row[pair]
        a, d = fixed.start[part], fixed.end[part] - fixed.start[part]
        distance = member_rings_m(
            (a[:, 0], a[:, 1], a[:, 2]),
            (d[:, 0], d[:, 1], d[:, 2]),
            *self._rings(at, d),
            self.base.take(at),
            self.top.take(at),
        )
        known[worked] = np.minimum.reduceat(distance, np.searchsorted(pair, worked))
        return np.asarray(np.maximum(known - error, 0.0))
