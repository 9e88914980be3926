"""Least distances between straight members, upright prisms and lines, in closed form.

Contents
--------
:class:`Prism` (an upright solid over a simple polygon), :func:`segment_segment_distance_m`,
:func:`segment_wall_distance_m`, :func:`segment_prism_distance_m`,
:func:`member_prism_distance_m` (pair by pair, with the nearest points),
:func:`polygon_distance_m`, :func:`point_in_polygon`.

Method
------
Every function is exact up to rounding and needs no iteration. The distance of a straight member
from an upright wall, squared and minimised over the wall, is a convex piecewise quadratic in the
position t along the member. Its slope is continuous, piecewise linear and rising, with at most
four known break points, so the zero of the slope follows by one linear interpolation. Members
parallel to the wall, upright or of no length need no special case.

Shapes broadcast; the last axis holds coordinates. Lengths in metres.

Sources: elementary analytic geometry; checked in the tests against shapely (GEOS) in plan and
against dense sampling in space.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike
from shapely.geometry import Polygon
from shapely.validation import explain_validity

from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.base.errors import InputError, Problem, require_finite

__all__ = [
    "ENDLESS_M",
    "Prism",
    "member_prism_distance_m",
    "point_in_polygon",
    "polygon_distance_m",
    "segment_prism_distance_m",
    "segment_segment_distance_m",
    "segment_wall_distance_m",
]


_TINY = 1e-300
_HUGE = 1e40
ENDLESS_M = (-1e5, 1e5)
"""Levels that stand for no limit below and above. [m]"""


@dataclass(frozen=True, eq=False)
class Prism:
    """Upright solid over a simple polygon: a building, wall, tree crown, tank or zone.

    Parameters:
      polygon_m: array_like, shape (n, 2), n >= 3. Plan outline, either way round, closed or not,
        not crossing itself. Holes are not modelled: a courtyard counts as solid, which is on the
        safe side. [m]
      base_m, top_m: float. Levels of underside and top; minus or plus infinity for a zone without
        limit. [m]
    Raises: Fewer than three corners, a corner not finite, an outline that crosses itself (told with
      its coordinates), or a top not above the base.
    """

    polygon_m: FloatArray
    base_m: float
    top_m: float
    bounds_m: FloatArray = field(init=False)

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
            problems.append(
                Problem("polygon_m", explain_validity(outline), "an outline not crossing itself")
            )
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
        object.__setattr__(
            self, "bounds_m", np.concatenate([polygon.min(axis=0), polygon.max(axis=0)])
        )

    @property
    def edges_m(self) -> tuple[FloatArray, FloatArray]:
        """Start and end of each edge, each of shape (n, 2). [m]"""
        return self.polygon_m, np.concatenate([self.polygon_m[1:], self.polygon_m[:1]])


def _point_segment_sq(
    px: FloatArray, py: FloatArray, ax: FloatArray, ay: FloatArray, ex: FloatArray, ey: FloatArray
) -> FloatArray:
    """Squared plan distance of points from segments given by start and direction."""
    wx, wy = px - ax, py - ay
    u = _between((wx * ex + wy * ey) / (ex * ex + ey * ey + _TINY), 0.0, 1.0)
    dx, dy = wx - u * ex, wy - u * ey
    return np.asarray(dx * dx + dy * dy)


def segment_segment_distance_m(
    start_a_m: ArrayLike, end_a_m: ArrayLike, *, start_b_m: ArrayLike, end_b_m: ArrayLike
) -> FloatArray:
    """Least distance between two straight segments in space.

    Raises nothing: coordinates are checked by the callers, and NaN gives NaN.

    The least is reached at an end of one segment, or between interior points of both, where the
    joining line is square to both: five candidates, each in closed form.

    Parameters:
      start_a_m, end_a_m, start_b_m, end_b_m: array_like, shape (..., 3), broadcasting. Ends of the
        segments; they may have no length. [m]
    Returns: ndarray, shape (...): distance. [m]
    """
    a = np.asarray(start_a_m, dtype=np.float64)
    b = np.asarray(start_b_m, dtype=np.float64)
    square, _, _ = _segment_square(
        a, np.asarray(end_a_m, dtype=np.float64) - a, b, np.asarray(end_b_m, dtype=np.float64) - b
    )
    return np.asarray(np.sqrt(square))


def _between(value: FloatArray, low: FloatArray | float, high: FloatArray | float) -> FloatArray:
    """As ``np.clip``, without its checks."""
    return np.asarray(np.minimum(np.maximum(value, low), high))


def _pick(by: FloatArray, *values: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Values at the least of *by* along the first axis."""
    best = by.argmin(axis=0)[None]
    first, second, third = (np.take_along_axis(v, best, axis=0)[0] for v in values)
    return first, second, third


def _dot(a: FloatArray, b: FloatArray) -> FloatArray:
    """Scalar products over the last axis, of two or three: quicker than einsum for so few."""
    product = a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1]
    if a.shape[-1] == 3:
        product = product + a[..., 2] * b[..., 2]
    return np.asarray(product)


def _segment_square(
    a: FloatArray, d: FloatArray, b: FloatArray, e: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Squared distance of segments a + t d and b + u e, with t and u."""
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
    u[0], u[1] = ew / (ee + _TINY), (ew + de) / (ee + _TINY)
    t[2], t[3] = -dw / (dd + _TINY), (de - dw) / (dd + _TINY)
    t[4] = np.where(inside, t0, 0.0)
    u[4] = np.where(inside, u0, u[0])
    t, u = _between(t, 0.0, 1.0), _between(u, 0.0, 1.0)
    # by components: the expanded form of |w + t d - u e|^2 loses digits
    square = np.zeros((5, *shape))
    for i in range(w.shape[-1]):
        gap = w[..., i] + t * d[..., i] - u * e[..., i]
        square += gap * gap
    return _pick(square, square, t, u)


def _wall_square(
    ax: FloatArray,
    ay: FloatArray,
    az: FloatArray,
    dx: FloatArray,
    dy: FloatArray,
    dz: FloatArray,
    ex0: FloatArray,
    ey0: FloatArray,
    ex: FloatArray,
    ey: FloatArray,
    low: FloatArray,
    high: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Squared distance, position t on the member and u along the wall, for broadcast parts."""
    length_sq = ex * ex + ey * ey + _TINY
    wx, wy = ax - ex0, ay - ey0
    we = (wx * ex + wy * ey) / length_sq
    ed = dx * ex + dy * ey
    de = ed / length_sq
    shape = np.broadcast_shapes(
        ax.shape, dx.shape, dz.shape, ex0.shape, ex.shape, low.shape, high.shape
    )
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
    slope -= _between(slope, low, high)
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
    u = _between(we + t * de, 0.0, 1.0)
    z = az + t * dz
    gx, gy, gz = wx + t * dx - u * ex, wy + t * dy - u * ey, z - _between(z, low, high)
    return gx * gx + gy * gy + gz * gz, t, u


def segment_wall_distance_m(
    start_m: ArrayLike,
    end_m: ArrayLike,
    *,
    wall_start_m: ArrayLike,
    wall_end_m: ArrayLike,
    base_m: ArrayLike,
    top_m: ArrayLike,
) -> FloatArray:
    """Least distance between a straight segment and an upright rectangular wall.

    Raises nothing: coordinates are checked by the callers, and NaN gives NaN.

    Parameters:
      start_m, end_m: array_like, shape (..., 3). Ends of the segment; it may have no length. [m]
      wall_start_m, wall_end_m: array_like, shape (..., 2). Ends of the wall in plan; it may have no
        length (then it is an upright line). [m]
      base_m, top_m: array_like, shape (...). Levels between which the wall stands. [m]
    Returns: ndarray, shape (...): distance, 0 where they meet. [m]
    """
    a = np.asarray(start_m, dtype=np.float64)
    d = np.asarray(end_m, dtype=np.float64) - a
    w0 = np.asarray(wall_start_m, dtype=np.float64)
    e = np.asarray(wall_end_m, dtype=np.float64) - w0
    square, _, _ = _wall_square(
        a[..., 0],
        a[..., 1],
        a[..., 2],
        d[..., 0],
        d[..., 1],
        d[..., 2],
        w0[..., 0],
        w0[..., 1],
        e[..., 0],
        e[..., 1],
        np.asarray(base_m, dtype=np.float64),
        np.asarray(top_m, dtype=np.float64),
    )
    return np.sqrt(square)


def point_in_polygon(x_m: ArrayLike, y_m: ArrayLike, *, polygon_m: ArrayLike) -> BoolArray:
    """Whether points lie inside a simple polygon (even-odd rule; edges belong to either side).

    Raises nothing: coordinates are checked by the callers.

    Parameters:
      x_m, y_m: array_like, shape (...). Points. [m]
      polygon_m: array_like, shape (n, 2). Corners in order, not closed. [m]
    Returns: ndarray of bool, shape (...)
    """
    x = np.asarray(x_m, dtype=np.float64)[..., None]
    y = np.asarray(y_m, dtype=np.float64)[..., None]
    p = np.asarray(polygon_m, dtype=np.float64)
    return np.asarray(_crossings(x, y, p, np.roll(p, -1, axis=0)).sum(axis=-1) % 2 == 1)


def _crossings(x: FloatArray, y: FloatArray, start: FloatArray, end: FloatArray) -> BoolArray:
    """Whether the ray from each point toward +x crosses each edge."""
    x0, y0, x1, y1 = start[..., 0], start[..., 1], end[..., 0], end[..., 1]
    straddles = (y0 > y) != (y1 > y)
    with np.errstate(divide="ignore", invalid="ignore"):
        at = x0 + (y - y0) * (x1 - x0) / (y1 - y0)
    return np.asarray(straddles & (x < at))


def segment_prism_distance_m(start_m: ArrayLike, end_m: ArrayLike, *, prism: Prism) -> FloatArray:
    """Least distance between straight segments and an upright prism.

    Raises nothing: coordinates are checked by the callers, and NaN gives NaN.

    The least of: the distance to each side wall; the vertical gap at a segment end that lies over
    or under the plan; zero where the segment passes through top or underside.

    Parameters:
      start_m, end_m: array_like, shape (..., 3). Ends of the segments. [m]
      prism: Prism
    Returns: ndarray, shape (...): distance, 0 where they meet or the segment is inside. [m]
    """
    a = np.asarray(start_m, dtype=np.float64)
    b = np.asarray(end_m, dtype=np.float64)
    e0, e1 = prism.edges_m
    walls = segment_wall_distance_m(
        a[..., None, :],
        b[..., None, :],
        wall_start_m=e0,
        wall_end_m=e1,
        base_m=prism.base_m,
        top_m=prism.top_m,
    ).min(axis=-1)
    best = walls
    dz = b[..., 2] - a[..., 2]
    with np.errstate(divide="ignore", invalid="ignore"):
        cuts = [(level - a[..., 2]) / dz for level in (prism.base_m, prism.top_m)]
    fractions = [np.zeros_like(dz), np.ones_like(dz)]
    fractions += [np.where((c > 0) & (c < 1), c, 0.0) for c in cuts]
    for t in fractions:
        p = a + t[..., None] * (b - a)
        over = point_in_polygon(p[..., 0], p[..., 1], polygon_m=prism.polygon_m)
        gap = np.abs(p[..., 2] - np.clip(p[..., 2], prism.base_m, prism.top_m))
        # a cut point sits on the level itself; rounding must not leave it a hair away
        gap = np.where((t > 0) & (t < 1), 0.0, gap)
        best = np.where(over, np.minimum(best, gap), best)
    return np.asarray(best)


def polygon_distance_m(polygon_a_m: ArrayLike, polygon_b_m: ArrayLike) -> FloatArray:
    """Least plan distance between simple polygons, 0 where they touch or overlap.

    Raises nothing: coordinates are checked by the callers, and NaN gives NaN.

    Parameters:
      polygon_a_m: array_like, shape (..., j, 2). One or many polygons with j corners (j = 1: a
        point, j = 2: a segment). [m]
      polygon_b_m: array_like, shape (k, 2) or (..., k, 2). The other polygon or polygons. [m]
    Returns: ndarray, shape (...): distance. [m]
    """
    a = np.asarray(polygon_a_m, dtype=np.float64)
    b = np.asarray(polygon_b_m, dtype=np.float64)
    a0, a1 = a[..., :, None, :], np.roll(a, -1, axis=-2)[..., :, None, :]
    b0, b1 = b[..., None, :, :], np.roll(b, -1, axis=-2)[..., None, :, :]
    square = np.minimum(_edge_square(a0, a1, b0, b1), np.inf).min(axis=(-2, -1))
    a_in_b = _crossings(a[..., 0:1, 0], a[..., 0:1, 1], b, np.roll(b, -1, axis=-2)).sum(-1) % 2
    square = np.where(a_in_b == 1, 0.0, square)
    if a.shape[-2] > 2:
        b_in_a = _crossings(b[..., 0:1, 0], b[..., 0:1, 1], a, np.roll(a, -1, axis=-2)).sum(-1) % 2
        square = np.where(b_in_a == 1, 0.0, square)
    return np.asarray(np.sqrt(square))


def _edge_square(a0: FloatArray, a1: FloatArray, b0: FloatArray, b1: FloatArray) -> FloatArray:
    """Squared plan distance between segments, 0 where they cross."""
    ax, ay, bx, by = a0[..., 0], a0[..., 1], b0[..., 0], b0[..., 1]
    dx, dy = a1[..., 0] - ax, a1[..., 1] - ay
    ex, ey = b1[..., 0] - bx, b1[..., 1] - by
    square = np.minimum(
        np.minimum(
            _point_segment_sq(ax, ay, bx, by, ex, ey),
            _point_segment_sq(ax + dx, ay + dy, bx, by, ex, ey),
        ),
        np.minimum(
            _point_segment_sq(bx, by, ax, ay, dx, dy),
            _point_segment_sq(bx + ex, by + ey, ax, ay, dx, dy),
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


def member_prism_distance_m(
    start_m: FloatArray,
    end_m: FloatArray,
    corners_m: FloatArray,
    base_m: FloatArray,
    top_m: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Distance of segment i from prism i, with the nearest points on both.

    Raises nothing: coordinates are checked by the callers.

    Parameters:
      start_m, end_m: ndarray, shape (p, 3)
      corners_m: ndarray, shape (p, k, 2)
      base_m, top_m: ndarray, shape (p,)
    Returns: distance, shape (p,); point on the segment and point on the prism, each shape (p, 3).
      [m]
    """
    rows = np.arange(len(start_m))
    # corners first: least values over them are then taken along whole rows
    x0, y0 = np.ascontiguousarray(corners_m[..., 0].T), np.ascontiguousarray(corners_m[..., 1].T)
    x1, y1 = np.concatenate([x0[1:], x0[:1]]), np.concatenate([y0[1:], y0[:1]])
    ex, ey = x1 - x0, y1 - y0
    ax, ay, az = (np.ascontiguousarray(v) for v in start_m.T)
    dx, dy, dz = (np.ascontiguousarray(v) for v in (end_m - start_m).T)
    square, t, u = _wall_square(ax, ay, az, dx, dy, dz, x0, y0, ex, ey, base_m, top_m)
    k = np.argmin(square, axis=0)
    best, t_best, u_best = np.sqrt(square[k, rows]), t[k, rows], u[k, rows]
    z = az + t_best * dz
    on_member = np.stack([ax + t_best * dx, ay + t_best * dy, z], axis=-1)
    on_prism = np.stack(
        [
            x0[k, rows] + u_best * ex[k, rows],
            y0[k, rows] + u_best * ey[k, rows],
            _between(z, base_m, top_m),
        ],
        axis=-1,
    )
    cuts, is_cut = _cut_fractions(az, dz, base_m, top_m)
    x, y, z = ax + cuts * dx, ay + cuts * dy, az + cuts * dz
    z_prism = _between(z, base_m, top_m)
    gap = np.where(is_cut, 0.0, np.abs(z - z_prism))
    open_ = gap < best  # only there can it be nearer to pass over, under or through the plan
    i, place = np.nonzero(open_)
    if place.size:
        start = np.stack([x0[:, place], y0[:, place]], axis=-1)
        end = np.stack([x1[:, place], y1[:, place]], axis=-1)
        over = _crossings(x[i, place], y[i, place], start, end).sum(axis=0) % 2 == 1
        gap[~open_] = np.inf
        gap[i[~over], place[~over]] = np.inf
        first = np.argmin(gap, axis=0)
        better = gap[first, rows] < best
        j, first = rows[better], first[better]
        best[j] = gap[first, j]
        on_member[j] = np.stack([x[first, j], y[first, j], z[first, j]], axis=-1)
        on_prism[j] = np.stack([x[first, j], y[first, j], z_prism[first, j]], axis=-1)
    return best, on_member, on_prism


def _member_rings_m(
    start: tuple[FloatArray, FloatArray, FloatArray],
    along: tuple[FloatArray, FloatArray, FloatArray],
    ring_x: FloatArray,
    ring_y: FloatArray,
    base: FloatArray,
    top: FloatArray,
) -> FloatArray:
    """As :func:`member_prism_distance_m`, by components and corners first; no nearest points."""
    (ax, ay, az), (dx, dy, dz) = start, along
    next_x, next_y = (np.concatenate([r[1:], r[:1]]) for r in (ring_x, ring_y))
    ex, ey = next_x - ring_x, next_y - ring_y
    square, _, _ = _wall_square(ax, ay, az, dx, dy, dz, ring_x, ring_y, ex, ey, base, top)
    best = np.sqrt(square.min(axis=0))
    t, cut = _cut_fractions(az, dz, base, top)
    z = az + t * dz
    gap = np.where(cut, 0.0, np.maximum(np.maximum(base - z, z - top), 0.0))
    i, place = np.nonzero(gap < best)
    if place.size:
        x, y = ax[place] + t[i, place] * dx[place], ay[place] + t[i, place] * dy[place]
        x0, y0 = ring_x.take(place, axis=1), ring_y.take(place, axis=1)
        x1, y1 = next_x.take(place, axis=1), next_y.take(place, axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):
            at = x0 + (y - y0) * (x1 - x0) / (y1 - y0)
        over = np.bitwise_xor.reduce(((y0 > y) != (y1 > y)) & (x < at), axis=0)
        np.minimum.at(best, place[over], gap[i[over], place[over]])
    return np.asarray(best)


def _cut_fractions(
    z: FloatArray, dz: FloatArray, base: FloatArray, top: FloatArray
) -> tuple[FloatArray, BoolArray]:
    """Positions on a member to look at for a prism above or below: both ends, both levels.

    Returns positions, shape (4, p), and which of them are cuts with a level.
    """
    t = np.zeros((4, *z.shape))
    with np.errstate(divide="ignore", invalid="ignore"):
        t[2], t[3] = (base - z) / dz, (top - z) / dz
    cut = (t > 0) & (t < 1)
    t = np.where(cut, t, 0.0)
    t[1] = 1.0
    return t, cut
