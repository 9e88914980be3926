"""Upright moving bodies in flat arrays, with their distance from shapes for any rows.

Sources: geometry only.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from functools import cached_property

import numpy as np

from liftcalc.base.arrays import BoolArray, FloatArray, IntArray
from liftcalc.clearance import members, solids
from liftcalc.clearance.bodies import MovingMember, MovingPrism
from liftcalc.clearance.members import ACCURACY_M, ROUNDING_M, Moving, Shapes, ways_m
from liftcalc.clearance.solids import edge_square_m2, point_segment_square_m2, ray_crossings

FACET = 1.0 / float(np.cos(np.pi / 16))
"""Corner of the 16 facets drawn around a circle of radius 1."""
_NONE = np.zeros(0)
_ANGLE = (np.arange(16) + 0.5) * np.pi / 8
_CIRCLE = FACET * np.stack([np.cos(_ANGLE), np.sin(_ANGLE)], axis=-1)
"""Corners of the 16 facets themselves, two of which lie along +x."""


def _inner_m(corners: FloatArray) -> float:
    """Radius of a circle about the middle of a convex plan that lies within it."""
    if len(corners) < 3:
        return 0.0
    nxt = np.roll(corners, -1, axis=0)
    x, y = corners.mean(axis=0)
    e = nxt - corners
    square = point_segment_square_m2(x, y, corners[:, 0], corners[:, 1], e[:, 0], e[:, 1])
    return float(np.sqrt(square.min()))


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
        most = max(1 if isinstance(m.body, MovingMember) else m.body.corners_m.shape[1] for m in moving)
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
        self._points_spread = all(members.is_point_or_sharp(m) for m in moving)
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
        return ways_m([m.whole_m if lines else m.plan_m for m in self.moving])

    def rises(self, lines: bool) -> bool:
        """Whether distances may differ between steps with no way between them."""
        return not (lines or self.level)

    def total_m(self, fixed: Shapes, known: FloatArray, row: IntArray, which: IntArray) -> FloatArray:
        """Distance in space from the gap in plan (from lines it is known already)."""
        if fixed.lines:
            return known
        apart = np.maximum(self.base[row] - fixed.high[which], fixed.low[which] - self.top[row])
        apart = np.maximum(apart, 0.0)
        return np.asarray(np.maximum(np.sqrt(known * known + apart * apart) - self.inset[row], 0.0))

    def rank_m(self, fixed: Shapes, known: FloatArray, row: IntArray, which: IntArray) -> FloatArray:
        """The gap in plan where heights do not change, else the distance in space."""
        return known if self.level else self.total_m(fixed, known, row, which)

    def bound_m(self, fixed: Shapes, known: FloatArray, first: IntArray, last: IntArray, which: IntArray) -> FloatArray:
        """Rank from a bound of the gap in plan and the least gap in height."""
        if fixed.lines or self.level:
            return known
        ends = np.stack([first, last + 1], axis=1).ravel()

        def extreme(of: np.ufunc, values: FloatArray) -> FloatArray:
            return np.asarray(of.reduceat(np.append(values, values[-1]), ends)[::2])

        apart = np.maximum(
            extreme(np.minimum, self.base) - fixed.high[which], fixed.low[which] - extreme(np.maximum, self.top)
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
        self, fixed: Shapes, row: IntArray, which: IntArray, *, col: IntArray | None = None, best: FloatArray = _NONE
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

    def _inside(self, point: FloatArray, row: IntArray) -> BoolArray:
        """Whether one point for each row lies in the plan there."""
        corners = self.corners_m(row)
        nxt = _next(corners)
        hits = ray_crossings(point[:, :1], point[:, 1:2], corners[..., 0], corners[..., 1], nxt[..., 0], nxt[..., 1])
        return np.asarray(np.bitwise_xor.reduce(hits, axis=1))

    def _ring_square(
        self, fixed: Shapes, x: FloatArray, y: FloatArray, row: IntArray, pair: IntArray,
        part: IntArray, offset: IntArray,
    ) -> FloatArray:  # fmt: skip
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
            point_segment_square_m2(x, y, ax, ay, dx, dy), point_segment_square_m2(ax, ay, x, y, ex, ey)
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
            return (x[corner] + reach * (c * cx - s * cy), y[corner] + reach * (s * cx + c * cy))
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
        asked = np.flatnonzero(open_)
        at = row[pair]
        a, d = fixed.start[part], fixed.end[part] - fixed.start[part]
        distance = solids.member_rings_m(
            (a[:, 0], a[:, 1], a[:, 2]), (d[:, 0], d[:, 1], d[:, 2]), *self._rings(at, d),
            self.base.take(at), self.top.take(at),
        )  # fmt: skip
        known[asked] = np.minimum.reduceat(distance, np.searchsorted(pair, asked))
        return np.asarray(np.maximum(known - error, 0.0))
