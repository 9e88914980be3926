"""Least distances between straight members, upright prisms and lines, in closed form.

Method
------
Every function is exact up to rounding and needs no iteration. The distance of a straight member from an upright wall,
squared and minimised over the wall, is a convex piecewise quadratic in the position t along the member. Its slope is
continuous, piecewise linear and rising, with at most four known break points, so the zero of the slope follows by one
linear interpolation. Members parallel to the wall, upright or of no length need no special case.

Shapes broadcast; the last axis holds coordinates, which are checked by the callers. Lengths in metres.

Sources: elementary analytic geometry; checked in the tests against shapely (GEOS) in plan and
against dense sampling in space.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from shapely.geometry import Polygon
from shapely.validation import explain_validity

from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.base.errors import InputError, Problem, require_finite

TINY = 1e-300
"""Added to a squared length, so that a segment of no length needs no case of its own."""


def between(value: FloatArray, low: FloatArray | float, high: FloatArray | float) -> FloatArray:
    """As ``np.clip``, without its checks."""
    return np.asarray(np.minimum(np.maximum(value, low), high))


def point_segment_square_m2(
    px: FloatArray, py: FloatArray, ax: FloatArray, ay: FloatArray, ex: FloatArray, ey: FloatArray
) -> FloatArray:
    """Squared plan distance of points p from segments that start at a and go by e."""
    wx, wy = px - ax, py - ay
    u = between((wx * ex + wy * ey) / (ex * ex + ey * ey + TINY), 0.0, 1.0)
    dx, dy = wx - u * ex, wy - u * ey
    return np.asarray(dx * dx + dy * dy)


def ray_crossings(
    x: FloatArray, y: FloatArray, x0: FloatArray, y0: FloatArray, x1: FloatArray, y1: FloatArray
) -> BoolArray:
    """Whether the ray from a point toward +x crosses the edge from (x0, y0) to (x1, y1).

    A point lies within a simple polygon where an odd number of its edges is crossed; points on an
    edge belong to either side.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing_x = x0 + (y - y0) * (x1 - x0) / (y1 - y0)
    return np.asarray(((y0 > y) != (y1 > y)) & (x < crossing_x))


def edge_square_m2(a0: FloatArray, a1: FloatArray, b0: FloatArray, b1: FloatArray) -> FloatArray:
    """Squared plan distance between segments a0-a1 and b0-b1, 0 where they cross."""
    ax, ay, bx, by = a0[..., 0], a0[..., 1], b0[..., 0], b0[..., 1]
    dx, dy = a1[..., 0] - ax, a1[..., 1] - ay
    ex, ey = b1[..., 0] - bx, b1[..., 1] - by
    square = np.minimum(
        np.minimum(
            point_segment_square_m2(ax, ay, bx, by, ex, ey), point_segment_square_m2(ax + dx, ay + dy, bx, by, ex, ey)
        ),
        np.minimum(
            point_segment_square_m2(bx, by, ax, ay, dx, dy), point_segment_square_m2(bx + ex, by + ey, ax, ay, dx, dy)
        ),
    )
    wx, wy = bx - ax, by - ay
    side_b0 = dx * wy - dy * wx
    side_a0 = ey * wx - ex * wy
    turn = dx * ey - dy * ex
    side_b1 = side_b0 + turn
    side_a1 = side_a0 - turn
    crossing = (side_b0 * side_b1 < 0) & (side_a0 * side_a1 < 0)
    return np.where(crossing, 0.0, square)


_HUGE = 1e40
Components = tuple[FloatArray, FloatArray, FloatArray]
"""x, y and z of many points or directions."""
ENDLESS_M = (-1e5, 1e5)
"""Levels that stand for no limit below and above. [m]"""


@dataclass(frozen=True, eq=False)
class Prism:
    """Upright solid over a simple polygon: a building, wall, tree crown, tank or zone.

    Parameters:
      polygon_m: shape (n, 2), n >= 3. Plan outline, either way round, closed or not, not crossing
        itself. Holes are not modelled: a courtyard counts as solid, which is on the safe side. [m]
      base_m, top_m: Levels of underside and top; minus or plus infinity for a zone without limit. [m]
    Raises: Fewer than three corners, a corner not finite, an outline that crosses itself (with
      its coordinates), or a top not above the base.
    """

    polygon_m: FloatArray
    base_m: float
    top_m: float

    def __post_init__(self) -> None:
        polygon = require_finite("polygon_m", self.polygon_m)
        problems: list[Problem] = []
        if polygon.ndim != 2 or polygon.shape[1] != 2:
            raise InputError.of("polygon_m", polygon.shape, "corners of two values each")
        if len(polygon) > 1 and np.array_equal(polygon[0], polygon[-1]):
            polygon = polygon[:-1]
        if len(polygon) < 3:
            raise InputError.of("polygon_m", polygon.tolist(), "three corners or more")
        outline = Polygon(polygon)
        if not outline.is_valid:
            problems.append(Problem("polygon_m", explain_validity(outline), "an outline not crossing itself"))
        elif not outline.area > 0:
            problems.append(Problem("polygon_m", polygon.tolist(), "an area above 0"))
        if not self.top_m > self.base_m:
            problems.append(Problem("top_m", self.top_m, f"above base_m, {self.base_m:g}"))
        if problems:
            raise InputError(problems)
        if not outline.exterior.is_ccw:
            polygon = polygon[::-1]
        polygon = np.ascontiguousarray(polygon)
        polygon.setflags(write=False)
        object.__setattr__(self, "polygon_m", polygon)
        object.__setattr__(self, "base_m", float(max(self.base_m, ENDLESS_M[0])))
        object.__setattr__(self, "top_m", float(min(self.top_m, ENDLESS_M[1])))

    @property
    def edges_m(self) -> tuple[FloatArray, FloatArray]:
        """Start and end of each edge, each of shape (n, 2). [m]"""
        return self.polygon_m, np.concatenate([self.polygon_m[1:], self.polygon_m[:1]])


def segment_segment_distance_m(
    start_a_m: ArrayLike, end_a_m: ArrayLike, *, start_b_m: ArrayLike, end_b_m: ArrayLike
) -> FloatArray:
    """Least distance between straight segments in space, which may have no length. [m]

    start_a_m, end_a_m, start_b_m and end_b_m, shape (..., 3), are checked by the callers; NaN gives
    NaN. The least is reached at an end of one segment, or between interior points of both, where
    the joining line is square to both: five candidates, each in closed form.

    Returns: ndarray, shape (...).
    """
    a = np.asarray(start_a_m, dtype=np.float64)
    b = np.asarray(start_b_m, dtype=np.float64)
    square, _, _ = segment_square_m2(
        a, np.asarray(end_a_m, dtype=np.float64) - a, b, np.asarray(end_b_m, dtype=np.float64) - b
    )
    return np.asarray(np.sqrt(square))


def _dot(a: FloatArray, b: FloatArray) -> FloatArray:
    """Scalar products over the last axis, of two or three: quicker than einsum for so few."""
    product = a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1]
    if a.shape[-1] == 3:
        product = product + a[..., 2] * b[..., 2]
    return np.asarray(product)


def segment_square_m2(
    a: FloatArray, d: FloatArray, b: FloatArray, e: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Squared distance of segments a + t d and b + u e, in plan or in space, with t and u."""
    w = a - b
    dd, ee, de, dw, ew = (_dot(*two) for two in ((d, d), (e, e), (d, e), (d, w), (e, w)))
    shape = np.broadcast_shapes(dd.shape, ee.shape, dw.shape, ew.shape)
    det = dd * ee - de * de
    with np.errstate(divide="ignore", invalid="ignore"):
        t0 = (de * ew - ee * dw) / det
        u0 = (dd * ew - de * dw) / det
    inside = (det > 1e-12 * dd * ee) & (t0 > 0) & (t0 < 1) & (u0 > 0) & (u0 < 1)
    # either end of one with the nearest point of the other, and the common normal
    t, u = np.zeros((5, *shape)), np.zeros((5, *shape))
    t[1], u[3] = 1.0, 1.0
    u[0], u[1] = ew / (ee + TINY), (ew + de) / (ee + TINY)
    t[2], t[3] = -dw / (dd + TINY), (de - dw) / (dd + TINY)
    t[4] = np.where(inside, t0, 0.0)
    u[4] = np.where(inside, u0, u[0])
    t, u = between(t, 0.0, 1.0), between(u, 0.0, 1.0)
    # by components: the expanded form of |w + t d - u e|^2 loses digits
    square = np.zeros((5, *shape))
    for i in range(w.shape[-1]):
        gap = w[..., i] + t * d[..., i] - u * e[..., i]
        square += gap * gap
    best = square.argmin(axis=0)[None]
    square, t, u = (np.take_along_axis(v, best, axis=0)[0] for v in (square, t, u))
    return square, t, u


def wall_square_m2(
    start: Components,
    along: Components,
    wall: tuple[FloatArray, FloatArray, FloatArray, FloatArray],
    low: FloatArray,
    high: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Squared distance of members from upright walls, with place t on the member and u on the wall.

    Each starts at a place and goes by a direction, the wall in plan and between two levels.
    """
    (ax, ay, az), (dx, dy, dz), (ex0, ey0, ex, ey) = start, along, wall
    length_sq = ex * ex + ey * ey + TINY
    wx, wy = ax - ex0, ay - ey0
    we = (wx * ex + wy * ey) / length_sq
    ed = dx * ex + dy * ey
    de = ed / length_sq
    shape = np.broadcast_shapes(ax.shape, dx.shape, dz.shape, ex0.shape, ex.shape, low.shape, high.shape)
    # ends of the member and the break points between them
    t = np.empty((6, *shape))
    t[0] = 0.0
    with np.errstate(divide="ignore", invalid="ignore"):
        t[2], t[3], t[4], t[5] = -we / de, (1.0 - we) / de, (low - az) / dz, (high - az) / dz
    t[1] = 1.0
    np.fmax(t, 0.0, out=t)  # also turns NaN away
    np.minimum(t, 1.0, out=t)
    # half the slope of the squared distance: it rises with t, straight between break points
    slope = t * dz
    slope += az
    slope -= between(slope, low, high)
    slope *= dz
    part = t * (dx * dx + dy * dy)
    slope += part
    slope += wx * dx + wy * dy
    np.multiply(t, de, out=part)
    part += we
    np.maximum(part, 0.0, out=part)
    np.minimum(part, 1.0, out=part)
    part *= ed
    slope -= part
    # the last point where it falls and the first where it does not; never or always falling
    # leaves both at the start or at the end
    falls = (slope < 0.0).astype(np.float64)
    t_low = np.multiply(t, falls, out=part).max(axis=0)
    t_high = np.maximum(t, falls, out=t).min(axis=0)
    falls *= _HUGE
    s_high = np.add(slope, falls, out=part).min(axis=0)
    falls -= _HUGE
    slope += falls
    s_low = slope.max(axis=0)
    t = t_low - s_low * (t_high - t_low) / (s_high - s_low)
    u = between(we + t * de, 0.0, 1.0)
    z = az + t * dz
    gx, gy, gz = wx + t * dx - u * ex, wy + t * dy - u * ey, z - between(z, low, high)
    return gx * gx + gy * gy + gz * gz, t, u


def member_prism_distance_m(
    start_m: FloatArray, end_m: FloatArray, corners_m: FloatArray, base_m: FloatArray, top_m: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Distance of segment i, start_m to end_m, from prism i of corners_m, base_m and top_m.

    Coordinates, corners (p, k, 2), are checked by the callers.

    Returns: distance, shape (p,); point on the segment and on the prism, each shape (p, 3). [m]
    """
    rows = np.arange(len(start_m))
    # corners first: least values over them are then taken along whole rows
    x0, y0 = np.ascontiguousarray(corners_m[..., 0].T), np.ascontiguousarray(corners_m[..., 1].T)
    x1, y1 = np.concatenate([x0[1:], x0[:1]]), np.concatenate([y0[1:], y0[:1]])
    ex, ey = x1 - x0, y1 - y0
    ax, ay, az = (np.ascontiguousarray(v) for v in start_m.T)
    dx, dy, dz = (np.ascontiguousarray(v) for v in (end_m - start_m).T)
    square, t, u = wall_square_m2((ax, ay, az), (dx, dy, dz), (x0, y0, ex, ey), base_m, top_m)
    k = np.argmin(square, axis=0)
    best, t_best, u_best = np.sqrt(square[k, rows]), t[k, rows], u[k, rows]
    z = az + t_best * dz
    on_member = np.stack([ax + t_best * dx, ay + t_best * dy, z], axis=-1)
    on_wall = (start[k, rows] + u_best * step[k, rows] for start, step in ((x0, ex), (y0, ey)))
    on_prism = np.stack([*on_wall, between(z, base_m, top_m)], axis=-1)
    cuts, is_cut = cut_fractions(az, dz, base_m, top_m)
    x, y, z = ax + cuts * dx, ay + cuts * dy, az + cuts * dz
    z_prism = between(z, base_m, top_m)
    gap = np.where(is_cut, 0.0, np.abs(z - z_prism))
    gap = np.where(_nearer_over_plan(gap, best, x, y, x0, y0), gap, np.inf)
    first = np.argmin(gap, axis=0)
    over = np.flatnonzero(gap[first, rows] < best)
    first = first[over]
    best[over] = gap[first, over]
    on_member[over] = np.stack([x[first, over], y[first, over], z[first, over]], axis=-1)
    on_prism[over] = np.stack([x[first, over], y[first, over], z_prism[first, over]], axis=-1)
    return best, on_member, on_prism


def _nearer_over_plan(
    gap: FloatArray, best: FloatArray, x: FloatArray, y: FloatArray, ring_x: FloatArray, ring_y: FloatArray
) -> BoolArray:
    """Where a point (i, p) with a vertical gap less than best[p] lies over or under ring p."""
    nearer = gap < best
    i, place = np.nonzero(nearer)
    if place.size:
        x0, y0 = ring_x.take(place, axis=1), ring_y.take(place, axis=1)
        x1, y1 = (np.concatenate([v[1:], v[:1]]) for v in (x0, y0))
        hits = ray_crossings(x[i, place], y[i, place], x0, y0, x1, y1)
        nearer[i, place] = np.bitwise_xor.reduce(hits, axis=0)
    return np.asarray(nearer)


def member_rings_m(
    start: Components, along: Components, ring_x: FloatArray, ring_y: FloatArray, base: FloatArray, top: FloatArray
) -> FloatArray:
    """As :func:`member_prism_distance_m`, by components and corners first; no nearest points."""
    (ax, ay, az), (dx, dy, dz) = start, along
    ex, ey = (np.concatenate([r[1:], r[:1]]) - r for r in (ring_x, ring_y))
    square, _, _ = wall_square_m2(start, along, (ring_x, ring_y, ex, ey), base, top)
    best = np.sqrt(square.min(axis=0))
    t, cut = cut_fractions(az, dz, base, top)
    z = az + t * dz
    gap = np.where(cut, 0.0, np.maximum(np.maximum(base - z, z - top), 0.0))
    nearer = _nearer_over_plan(gap, best, ax + t * dx, ay + t * dy, ring_x, ring_y)
    return np.asarray(np.minimum(best, np.where(nearer, gap, np.inf).min(axis=0)))


def cut_fractions(z: FloatArray, dz: FloatArray, base: FloatArray, top: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Positions on a member to look at for a prism above or below, and which are cuts with a level.

    Both ends and both levels, shape (4, p).
    """
    t = np.zeros((4, *z.shape))
    with np.errstate(divide="ignore", invalid="ignore"):
        t[2], t[3] = (base - z) / dz, (top - z) / dz
    cut = (t > 0) & (t < 1)
    t = np.where(cut, t, 0.0)
    t[1] = 1.0
    return t, cut
