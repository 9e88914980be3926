"""Prisms and lines that stand still, in one array, for the search for least distances.

Sources: geometry only.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence

import numpy as np

from liftcalc.base.arrays import BoolArray, FloatArray, IntArray
from liftcalc.clearance.powerline import LinePath
from liftcalc.clearance.solids import Prism

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
