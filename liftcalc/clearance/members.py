"""Shapes that stand still and bodies that move in flat arrays, with their distances for any rows.

Prisms and lines stand in one array, and bodies of one kind (here straight members) in another, so that a search costs a
few array operations whatever their number. :mod:`liftcalc.clearance.search` asks for distances by flat row (body and
step) and shape; walls and pieces that cannot be nearest are left out first, by bounds that never cut one that could be.

Sources: geometry only.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence

import numpy as np

from liftcalc.base.arrays import BoolArray, FloatArray, IntArray
from liftcalc.clearance.bodies import Body, MovingMember, MovingPrism
from liftcalc.clearance.powerline import LinePath
from liftcalc.clearance.solids import Prism, cut_fractions, segment_square_m2, wall_square_m2

ACCURACY_M = 1e-6
"""How far the least distance found may lie above the true one. [m]"""
ROUNDING_M = 1e-7
"""More than rounding can move a bound. [m]"""


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

    def crossed(self, x: FloatArray, y: FloatArray, part: IntArray) -> BoolArray:
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


_NONE = np.zeros(0)


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


class Moving:
    """A body with the most that its distances can differ from one step to the next."""

    def __init__(self, body: Body) -> None:
        self.body = body
        self.upright = isinstance(body, MovingPrism) or bool(np.array_equal(body.start_m[:, :2], body.end_m[:, :2]))
        """Whether it stands upright at every step (such as a hoist rope)."""
        self.across_m = 0.0
        """Greatest distance of two corners of its plan. [m]"""
        self.level = isinstance(body, MovingPrism) and not (np.ptp(body.base_m) or np.ptp(body.top_m))
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


def ways_m(movements: Sequence[FloatArray]) -> FloatArray:
    """Way made from the first step, of several bodies with the same number of steps.

    Parameters:
      movements: sequence of ndarray, shape (n - 1,). From each step to the next. [m]
    Returns: ndarray, shape (bodies x n,). [m]
    """
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
        self._way = ways_m([m.whole_m for m in moving])

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

    def total_m(self, fixed: Shapes, known: FloatArray, *_: IntArray) -> FloatArray:
        """What is known of a member is its distance in space, and so its rank and its bound."""
        return known

    rank_m = bound_m = total_m

    def furthest_m(self, toward: FloatArray, row: IntArray) -> FloatArray:
        """How far the body reaches in a direction, shape (3, m), at each row."""
        ax, ay, az, dx, dy, dz = self._axes.take(row, axis=1)
        nx, ny, nz = toward
        along = nx * dx + ny * dy + nz * dz
        return np.asarray(nx * ax + ny * ay + nz * az + np.maximum(along, 0.0) + self.half_width.take(row))

    def known_m(
        self, fixed: Shapes, row: IntArray, which: IntArray, *, col: IntArray | None = None, best: FloatArray = _NONE
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
            (px.take(keep), py.take(keep), az.take(kept)),
            (qx.take(keep), qy.take(keep), dz.take(kept)),
            (wx.take(keep), wy.take(keep), ex.take(keep), ey.take(keep)),
            low.take(kept),
            high.take(kept),
        )
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
