"""Points and straight edges in plan: squared distances, crossings, and what lies within a ring.

Arrays broadcast; coordinates are checked by the callers.

Sources: elementary analytic geometry; checked in the tests against shapely (GEOS).
"""

import numpy as np

from liftcalc.base.arrays import BoolArray, FloatArray

TINY = 1e-300
"""Added to a squared length, so that a segment of no length needs no case of its own."""


def between(value: FloatArray, low: FloatArray | float, high: FloatArray | float) -> FloatArray:
    """As ``np.clip``, without its checks.

    Parameters:
      value, low, high: array_like
    """
    return np.asarray(np.minimum(np.maximum(value, low), high))


def point_segment_square_m2(
    px: FloatArray, py: FloatArray, ax: FloatArray, ay: FloatArray, ex: FloatArray, ey: FloatArray
) -> FloatArray:
    """Squared plan distance of points from segments.

    Parameters:
      px, py, ax, ay, ex, ey: broadcasting. Point; start and direction of the segment. [m]
    Returns: ndarray. [m2]
    """
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

    Parameters:
      x, y, x0, y0, x1, y1: broadcasting. [m]
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing_x = x0 + (y - y0) * (x1 - x0) / (y1 - y0)
    return np.asarray(((y0 > y) != (y1 > y)) & (x < crossing_x))


def edge_square_m2(a0: FloatArray, a1: FloatArray, b0: FloatArray, b1: FloatArray) -> FloatArray:
    """Squared plan distance between segments, 0 where they cross.

    Parameters:
      a0, a1, b0, b1: shape (..., 2), broadcasting. Ends of both. [m]
    Returns: ndarray, shape (...). [m2]
    """
    ax, ay, bx, by = a0[..., 0], a0[..., 1], b0[..., 0], b0[..., 1]
    dx, dy = a1[..., 0] - ax, a1[..., 1] - ay
    ex, ey = b1[..., 0] - bx, b1[..., 1] - by
    square = np.minimum(
        np.minimum(
            point_segment_square_m2(ax, ay, bx, by, ex, ey),
            point_segment_square_m2(ax + dx, ay + dy, bx, by, ex, ey),
        ),
        np.minimum(
            point_segment_square_m2(bx, by, ax, ay, dx, dy),
            point_segment_square_m2(bx + ex, by + ey, ax, ay, dx, dy),
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
