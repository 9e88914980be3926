"""Which stand points fit, for a whole grid at once: carrier and every leg option, exactly.

Method
------
A rectangle at a fixed heading meets an area exactly when its centre lies in the area spread by
the rectangle (the Minkowski sum). That sum is the area itself with a hexagon laid over each of
its edges. For one heading the centres of a mat, over all stand points, form a copy of the stand
grid; so the question for the whole grid is which grid points lie inside a union of polygons. It
is answered row by row: every polygon edge adds or takes one at the column where it crosses the
row, and the running sum along the row (the winding number) is positive inside. Nothing is
rasterised beforehand: each grid point gets the exact answer, up to rounding.

Sources: the configuration-space method (T. Lozano-Perez, 1983, IEEE Transactions on Computers
C-32(2), from memory); plane geometry. Rules as in :mod:`liftcalc.placement.ground`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.base.errors import InputError, refuse_unless
from liftcalc.crane.legs import LEG_SIDE
from liftcalc.placement.ground import TOUCH_M, StandingGround, StandingMachine, polygons


@dataclass(frozen=True)
class StandGrid:
    """Stand points on a square grid.

    Parameters:
      easting_m, northing_m: First point (south-west). [m]
      step_m: > 0
      columns, rows: >= 1
    """

    easting_m: float
    northing_m: float
    step_m: float
    columns: int
    rows: int

    def __post_init__(self) -> None:
        place, size = (self.easting_m, self.northing_m), (self.columns, self.rows)
        refuse_unless(
            (np.isfinite(place).all(), "easting_m, northing_m", place, "finite"),
            (0.0 < self.step_m < np.inf, "step_m", self.step_m, "greater than 0"),
            (min(size) >= 1, "columns, rows", size, "1 or more"),
            source="stand grid",
        )

    @classmethod
    def over(cls, area: BaseGeometry, *, step_m: float) -> StandGrid:
        """Grid over the bounds of an area, half a step in from its west and south sides."""
        west, south, east, north = area.bounds
        if not step_m > 0:
            raise InputError.of("step_m", step_m, "greater than 0")
        return cls(
            west + step_m / 2, south + step_m / 2, step_m,
            max(int(np.floor((east - west) / step_m + 1e-9)), 1),
            max(int(np.floor((north - south) / step_m + 1e-9)), 1),
        )  # fmt: skip

    @property
    def size(self) -> int:
        """Number of stand points."""
        return self.columns * self.rows

    def points_m(self) -> tuple[FloatArray, FloatArray]:
        """Easting and northing of every point, row by row from the south, each (size,). [m]"""
        east = self.easting_m + self.step_m * np.arange(self.columns)
        north = self.northing_m + self.step_m * np.arange(self.rows)
        return np.tile(east, self.rows), np.repeat(north, self.columns)


@dataclass(frozen=True, eq=False)
class FitMaps:
    """What fits at one heading.

    Attributes:
      carrier: ndarray of bool, shape (size,). Where the carrier has room.
      leg_option: ndarray of int8, shape (size, 4). Index of each leg's longest option that fits; -1
        where none does, and away from every point where the carrier has room.
    """

    carrier: BoolArray
    leg_option: NDArray[np.int8]

    @property
    def fits(self) -> BoolArray:
        """Where the carrier and all four legs have room."""
        return np.asarray(self.carrier & (self.leg_option >= 0).all(axis=1))


@dataclass(frozen=True, eq=False)
class _Edges:
    """Directed edges in a frame turned so that the heading lies along +x."""

    start: FloatArray  # (n, 2), site frame
    end: FloatArray
    sign: FloatArray  # +1 for an edge of a left-turning ring


def _rings(geometry: BaseGeometry) -> tuple[FloatArray, FloatArray]:
    """Start and end of all ring edges, area to the left of each."""
    starts, ends = [np.zeros((0, 2))], [np.zeros((0, 2))]
    for polygon in polygons(geometry):
        turned = shapely.geometry.polygon.orient(polygon)
        for ring in (turned.exterior, *turned.interiors):
            xy = np.asarray(ring.coords)[:, :2]
            starts.append(xy[:-1])
            ends.append(xy[1:])
    return np.vstack(starts), np.vstack(ends)


def _turned(xy: FloatArray, cos: float, sin: float) -> FloatArray:
    return np.stack([cos * xy[..., 0] - sin * xy[..., 1], sin * xy[..., 0] + cos * xy[..., 1]], -1)


def _spread(start: FloatArray, end: FloatArray, cos: float, sin: float, half_x: float, half_y: float) -> _Edges:
    """Edges of the hexagons: each edge spread by a rectangle at the heading; site frame."""
    a, b = _turned(start, cos, -sin), _turned(end, cos, -sin)
    d = b - a
    sx = np.where(d[:, 0] < 0, -1.0, 1.0)
    sy = np.where(d[:, 1] < 0, -1.0, 1.0)
    half = np.stack([sx * half_x, sy * half_y], -1)
    ends = ((a, (-1, -1)), (a, (1, -1)), (b, (1, -1)), (b, (1, 1)), (b, (-1, 1)), (a, (-1, 1)))
    corner = _turned(np.stack([end + half * side for end, side in ends], axis=1), cos, sin)
    return _Edges(corner.reshape(-1, 2), np.roll(corner, -1, axis=1).reshape(-1, 2), np.repeat(sx * sy, 6))


def _joined(*parts: _Edges) -> _Edges:
    return _Edges(
        np.vstack([p.start for p in parts]), np.vstack([p.end for p in parts]), np.concatenate([p.sign for p in parts])
    )


def _moved(edges: _Edges, shift: tuple[float, float]) -> _Edges:
    """Edges as a point sees them that stands *shift* away from the stand point."""
    by = np.array(shift)
    return _Edges(edges.start - by, edges.end - by, edges.sign)


def _winding(edges: _Edges, grid: StandGrid) -> FloatArray:
    """Winding number of the rings at every grid point, shape (size,)."""
    x0 = (edges.start[:, 0] - grid.easting_m) / grid.step_m
    y0 = (edges.start[:, 1] - grid.northing_m) / grid.step_m
    x1 = (edges.end[:, 0] - grid.easting_m) / grid.step_m
    y1 = (edges.end[:, 1] - grid.northing_m) / grid.step_m
    up = y1 > y0
    low, high = np.where(up, y0, y1), np.where(up, y1, y0)
    first = np.clip(np.ceil(low), 0, grid.rows).astype(np.int64)
    last = np.clip(np.ceil(high), 0, grid.rows).astype(np.int64)  # half open: low <= row < high
    count = np.maximum(last - first, 0)
    use = np.flatnonzero((count > 0) & (np.minimum(x0, x1) <= grid.columns))
    if use.size == 0:
        return np.zeros(grid.size)
    count = count[use]
    total = int(count.sum())
    offset = np.concatenate([[0], np.cumsum(count)[:-1]])
    slope = (x1[use] - x0[use]) / (y1[use] - y0[use])
    base = x0[use] - y0[use] * slope
    row = np.arange(total) - np.repeat(offset - first[use], count)
    column = np.ceil(np.repeat(base, count) + row * np.repeat(slope, count))
    column = np.clip(column, 0, grid.columns).astype(np.int64)
    # an edge going down on the left of an area raises the winding number to its right
    change = np.repeat(np.where(up[use], -1.0, 1.0) * edges.sign[use], count)
    width = grid.columns + 1
    winding = np.bincount(row * width + column, weights=change, minlength=grid.rows * width)
    return np.asarray(np.cumsum(winding.reshape(grid.rows, width), axis=1)[:, :-1].ravel())


class FitMapper:
    """Prepared ground: blocked areas as edges, to ask heading by heading what fits."""

    def __init__(self, ground: StandingGround, machine: StandingMachine) -> None:
        self.machine = machine

        def union(chosen: list[BaseGeometry]) -> tuple[FloatArray, FloatArray]:
            return _rings(shapely.unary_union(chosen)) if chosen else _rings(shapely.Polygon())

        blockers = ground.blockers
        self.mats = union([b.area for b in blockers if "mats" in b.blocks and not b.solid])
        self.solid = union([b.area for b in blockers if b.solid])
        self.carrier = union([b.area for b in blockers if "carrier" in b.blocks])
        self.allowed = _rings(ground.allowed)

    def _against(
        self, area: tuple[FloatArray, FloatArray], cos: float, sin: float, half: tuple[float, float]
    ) -> _Edges:
        """Where a rectangle's centre would put it on the area."""
        start, end = area
        plain = _Edges(start, end, np.ones(len(start)))
        return _joined(plain, _spread(start, end, cos, sin, *half))

    def _off_allowed(self, cos: float, sin: float, half: tuple[float, float]) -> _Edges:
        """Where a rectangle's centre would put it off the allowed ground.

        The allowed ground itself turns the other way, so that its winding number is taken off:
        with 1 added, 0 is left inside and 1 outside.
        """
        start, end = self.allowed
        inside = _Edges(start, end, -np.ones(len(start)))
        return _joined(inside, _spread(start, end, cos, sin, *half))

    def at(self, grid: StandGrid, heading_deg: float) -> FitMaps:
        """What fits at every grid point at one heading."""
        machine = self.machine
        cos = float(np.cos(np.radians(heading_deg)))
        sin = float(np.sin(np.radians(heading_deg)))
        front, rear, half_width = machine.carrier_m
        half = ((front - rear) / 2 + TOUCH_M, half_width + TOUCH_M)
        middle = _shift(((front + rear) / 2, 0.0), cos, sin)
        edges = _joined(self._against(self.carrier, cos, sin, half), self._off_allowed(cos, sin, half))
        carrier = _winding(_moved(edges, middle), grid) < -0.5
        option = np.full((grid.size, 4), -1, dtype=np.int8)
        if not carrier.any():
            return FitMaps(carrier, option)
        # the legs matter only where the carrier has room: look at that part of the grid alone
        rows = np.flatnonzero(carrier.reshape(grid.rows, grid.columns).any(axis=1))
        columns = np.flatnonzero(carrier.reshape(grid.rows, grid.columns).any(axis=0))
        row, column = int(rows[0]), int(columns[0])
        part = StandGrid(
            grid.easting_m + column * grid.step_m, grid.northing_m + row * grid.step_m, grid.step_m,
            int(columns[-1]) - column + 1, int(rows[-1]) - row + 1,
        )  # fmt: skip
        found = np.full((part.size, 4), -1, dtype=np.int8)
        dx, dy = machine.mat_length_m / 2 + TOUCH_M, machine.mat_width_m / 2 + TOUCH_M
        mat = _joined(self._against(self.mats, cos, sin, (dx, dy)), self._off_allowed(cos, sin, (dx, dy)))
        beams: dict[float, _Edges] = {}
        for i, options in enumerate(machine.extension_options_m):
            x, side = machine.leg_x_m[i], LEG_SIDE[i]
            for k, extension in enumerate(options):
                edges = _moved(mat, _shift((x, side * extension), cos, sin))
                if len(self.solid[0]):
                    outer = extension + dy
                    if outer not in beams:
                        beams[outer] = self._against(self.solid, cos, sin, (dx, outer / 2))
                    beam = _moved(beams[outer], _shift((x, side * outer / 2), cos, sin))
                    edges = _joined(edges, beam)
                found[_winding(edges, part) < -0.5, i] = k
        whole = option.reshape(grid.rows, grid.columns, 4)
        whole[row : row + part.rows, column : column + part.columns] = found.reshape(part.rows, part.columns, 4)
        return FitMaps(carrier, option)


def _shift(centre: tuple[float, float], cos: float, sin: float) -> tuple[float, float]:
    return cos * centre[0] - sin * centre[1], sin * centre[0] + cos * centre[1]
