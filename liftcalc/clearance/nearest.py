"""Where a moving body and an obstacle are nearest, and what one direction tells of other steps.

Method
------
Take the direction *n* from a body to an obstacle at one step. At any other step the distance is at
least the least of ``n . p`` over the obstacle less the greatest of ``n . b`` over the body: two
planes square to *n* separate them. Corners and ends are enough for both, so this costs a few
multiplications, where the exact distance costs one to each wall. It holds for every direction, and
is exact to the second order near the step that *n* was taken from: nothing that could be nearest
is left out, and little else is computed.

Sources: geometry only (separating planes).
"""

import numpy as np
import shapely

from liftcalc.base.arrays import FloatArray, IntArray
from liftcalc.clearance.members import Members, Shapes
from liftcalc.clearance.solids import member_prism_distance_m, segment_square_m2
from liftcalc.clearance.uprights import Uprights


def axis_points_m(
    bodies: Members | Uprights, fixed: Shapes, row: IntArray, which: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Nearest points on a body's axis or plan (without width) and on the obstacle, (m, 3).

    For pairs of a flat row of the body and the place of a shape.
    """
    if isinstance(bodies, Members):
        if fixed.lines:
            return _member_line(bodies, fixed, row, which)
        start = bodies.start[row]
        _, on_body, on_other = member_prism_distance_m(
            start, start + bodies.along[row], fixed.outline_m(which), fixed.low[which],
            fixed.high[which],
        )  # fmt: skip
        return on_body, on_other
    if fixed.lines:
        return _upright_line(bodies, fixed, row, which)
    ends = _upright_plan(bodies, fixed, row, which)
    z_body, z_other = _upright_levels(bodies, fixed, row, which)
    return np.column_stack([ends[:, 0], z_body]), np.column_stack([ends[:, 1], z_other])


def nearest_points_m(
    bodies: Members | Uprights, fixed: Shapes, row: IntArray, which: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Nearest points on body and obstacle for the pairs of :func:`axis_points_m`, (m, 3)."""
    on_body, on_other = axis_points_m(bodies, fixed, row, which)
    if isinstance(bodies, Members):
        return _widened(on_body, on_other, bodies.half_width[row]), on_other
    if fixed.lines:
        return on_body, on_other
    on_body[:, :2] = _widened(on_body[:, :2], on_other[:, :2], bodies.spread[row])
    return _widened(on_body, on_other, bodies.inset[row]), on_other


def _widened(on_axis: FloatArray, on_other: FloatArray, width: FloatArray) -> FloatArray:
    """Points moved toward the others by a width, at most up to them."""
    way = on_other - on_axis
    share = np.minimum(width / np.maximum(np.linalg.norm(way, axis=1), 1e-12), 1.0)
    return np.asarray(on_axis + share[:, None] * way)


def separated_m(
    bodies: Members | Uprights,
    fixed: Shapes,
    *,
    best_row: IntArray,
    which: IntArray,
    col: IntArray,
    row: IntArray,
) -> FloatArray:
    """Bound from below of what the bodies' ``known_m`` gives; below 0 where it tells nothing.

    *best_row* and *which* are, for each column, the flat row of the step that the direction is
    taken from and the shape; *col* and *row* the column and flat row of each step to bound. The
    distance of two sets is at least the gap between planes that part them.
    """
    if isinstance(bodies, Members) or fixed.lines:
        on_body, on_other = axis_points_m(bodies, fixed, best_row, which)
        way = on_other - on_body
    else:
        ends = _upright_plan(bodies, fixed, best_row, which)
        way = ends[:, 1] - ends[:, 0]
    length = np.linalg.norm(way, axis=1)[:, None]
    toward = np.divide(way, length, out=np.zeros_like(way), where=length > 0.0)
    pair, part, offset = fixed.expand(which)
    far = fixed.start[part] * toward[pair, : fixed.start.shape[1]]
    least = np.minimum.reduceat(far.sum(axis=1), offset)
    if fixed.lines:
        far = fixed.end[part] * toward[pair]
        least = np.minimum(least, np.minimum.reduceat(far.sum(axis=1), offset))
        least -= fixed.error[which]
    elif isinstance(bodies, Members):
        up = toward[:, 2]
        least += np.minimum(up * fixed.low[which], up * fixed.high[which])
    return least[col] - bodies.furthest_m(toward.T[:, col], row)


def _member_line(
    bodies: Members, fixed: Shapes, row: IntArray, which: IntArray
) -> tuple[FloatArray, FloatArray]:
    pair, part, offset = fixed.expand(which)
    p, e = fixed.start[part], fixed.end[part] - fixed.start[part]
    square, t, u = segment_square_m2(bodies.start[row[pair]], bodies.along[row[pair]], p, e)
    k = _first_least(square, offset)
    return bodies.start[row] + t[k, None] * bodies.along[row], p[k] + u[k, None] * e[k]


def _upright_line(
    bodies: Uprights, fixed: Shapes, row: IntArray, which: IntArray
) -> tuple[FloatArray, FloatArray]:
    pair, part, _, _ = bodies.near_pieces(fixed, row, which)
    at = row[pair]
    distance, on_line, on_prism = member_prism_distance_m(
        fixed.start[part], fixed.end[part],
        bodies.outline_m(at, fixed.end[part] - fixed.start[part]), bodies.base[at], bodies.top[at],
    )  # fmt: skip
    k = _first_least(distance, np.searchsorted(pair, np.arange(row.size)))
    return on_prism[k], on_line[k]


def _upright_plan(bodies: Uprights, fixed: Shapes, row: IntArray, which: IntArray) -> FloatArray:
    """Nearest points in plan, body first, without the spread; shape (m, 2, 2)."""
    corners = bodies.corners_m(row)
    plan = shapely.points(corners[:, 0]) if corners.shape[1] == 1 else shapely.polygons(corners)
    joins = shapely.shortest_line(plan, shapely.polygons(fixed.outline_m(which)))
    return np.asarray(shapely.get_coordinates(joins).reshape(-1, 2, 2))


def _upright_levels(
    bodies: Uprights, fixed: Shapes, row: IntArray, which: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Levels of the nearest points on body and prism."""
    low = np.maximum(bodies.base[row], fixed.low[which])
    high = np.minimum(bodies.top[row], fixed.high[which])
    above = bodies.base[row] > fixed.high[which]
    return (
        np.where(low <= high, low, np.where(above, low, high)),
        np.where(low <= high, low, np.where(above, high, low)),
    )


def _first_least(values: FloatArray, offset: IntArray) -> IntArray:
    """Place of the least value in each run that starts at *offset*."""
    count = np.diff(np.append(offset, values.size))
    hit = np.flatnonzero(values == np.repeat(np.minimum.reduceat(values, offset), count))
    return np.asarray(hit[np.searchsorted(hit, offset)])
