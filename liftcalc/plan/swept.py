"""Areas swept in plan: discs along a path, sectors, growth, and few corners round an area.

Every area encloses what it stands for: arcs are drawn as tangents outside them (a disc by 0.2 % of
its radius), a run of steps as the convex hull of what stands at each. Angles are anticlockwise from
east, in degrees; all else in metres. Plane geometry by shapely; no published source.
"""

import numpy as np
import shapely
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_finite, require_non_negative

SETTING_M = 0.1
"""Corners of a barrier are set out to this. [m]"""
_FACETS, _QUARTER, _CUT_M = 48, 12, 0.02


def disc_points_m(centre_m: ArrayLike, radius_m: ArrayLike) -> FloatArray:
    """Corners of polygons outside discs of centres (N, 2) and radii (N,): shape (N, 48, 2)."""
    centre = require_finite("centre_m", centre_m)
    reach = require_non_negative("radius_m", radius_m) / np.cos(np.pi / _FACETS)
    turn = np.arange(_FACETS) * 2.0 * np.pi / _FACETS
    circle = np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    return np.asarray(centre[:, None] + reach[:, None, None] * circle)


def swept_area(points_m: ArrayLike, *, run: int = 12) -> shapely.Geometry:
    """Area swept by convex shapes of corners (N, K, 2), by hulls of *run* steps.

    Where the way between two steps is curved, grow it by what that leaves the straight way.
    """
    points = require_finite("points_m", points_m)
    first = np.arange(0, max(len(points) - 1, 1), run)
    steps = np.minimum(first[:, None] + np.arange(run + 1), len(points) - 1)
    every = shapely.linestrings(points[steps].reshape(len(first), -1, 2))
    return shapely.union_all(shapely.convex_hull(every))


def sector_area(centre_m: ArrayLike, radius_m: float, *, start_deg: float, end_deg: float) -> shapely.Geometry:
    """Sector of a disc: the whole disc from a full turn on, a line where both ends are one."""
    centre = require_finite("centre_m", centre_m)
    if not end_deg - start_deg >= 0.0:
        raise InputError.of("end_deg", end_deg, f"at least start_deg, {start_deg:g}")
    if end_deg - start_deg >= 360.0:
        return shapely.Polygon(disc_points_m(centre[None], [radius_m])[0])
    count = max(int(np.ceil((end_deg - start_deg) * _FACETS / 360.0)), 1)
    edge = np.radians(end_deg - start_deg) / count
    # the tangents at both ends and between meet at these corners, outside the arc
    turn = np.concatenate([[0.0], edge * (np.arange(count) + 0.5), [edge * count]])
    turn += np.radians(start_deg)
    reach = np.full((count + 2, 1), radius_m / np.cos(edge / 2.0))
    reach[[0, -1]] = radius_m
    arc = centre + reach * np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    return shapely.Polygon([*arc, centre]) if edge > 1e-9 else shapely.LineString([centre, arc[0]])


def grown(area: shapely.Geometry, by_m: float) -> shapely.Geometry:
    """Area with everything nearer to it than *by_m*, of fewer corners and up to 4 cm wider."""
    by = float(require_non_negative("by_m", by_m)) + _CUT_M
    return area.simplify(_CUT_M).buffer(by / np.cos(np.pi / (4 * _QUARTER)), quad_segs=_QUARTER)


def outward_polygon(area: shapely.Geometry, *, most: int = 12) -> FloatArray:
    """Corners (n, 2), anticlockwise from the north, of a simple polygon that contains an area.

    Step by step the outline gives up the reflex corner, or the edge between two others, that adds
    least, down to *most* corners; these are rounded to :data:`SETTING_M`, and the polygon is taken
    only where it then contains the area. Else the area's hull, then its upright box, is.
    """
    if area.is_empty:
        raise InputError.of("area", "empty", "an area to go round")
    for outline in (area, area.convex_hull):
        if isinstance(outline, shapely.Polygon):
            outer = shapely.Polygon(outline.exterior)
            beyond = _CUT_M + SETTING_M * np.sqrt(0.5)
            wide = outer.simplify(_CUT_M).buffer(beyond, join_style="mitre")
            few = _fewer(_corners(shapely.Polygon(wide.exterior)), most)
            ring = shapely.Polygon(np.round(few / SETTING_M) * SETTING_M)
            if ring.is_valid and ring.contains(outer):
                return _corners(ring)
    low, high = np.floor(np.array(area.bounds[:2]) - 0.5), np.ceil(np.array(area.bounds[2:]) + 0.5)
    return _corners(shapely.box(*low, *high))


def _corners(ring: shapely.Polygon) -> FloatArray:
    corners = np.asarray(ring.exterior.coords)[:-1].round(6)
    corners = corners if shapely.is_ccw(ring.exterior) else corners[::-1]
    return np.roll(corners, -int(np.argmax(corners[:, 1])), axis=0)


def _fewer(ring: FloatArray, most: int) -> FloatArray:
    """An anticlockwise ring with at most so many corners, or as few as it can have."""
    at = ring @ np.array([1.0, 1.0j])
    while len(at) > most:
        before, after, next2 = (np.roll(at, k) for k in (1, -1, -2))
        into, edge, out = at - before, after - at, next2 - after
        pairs = (into, edge), (edge, out), (into, out)
        turn, next_turn, whole = ((a.conj() * b).imag for a, b in pairs)
        # the edges before and after meet beyond the edge between them
        with np.errstate(divide="ignore", invalid="ignore"):
            meet = after - out * (turn / whole)
            twice = np.abs((edge.conj() * (meet - at)).imag)
        cap = np.maximum(twice / 2.0, (twice / np.abs(edge)) ** 2)  # no long thin corner
        closes = (turn > 0) & (next_turn > 0) & (whole > 1e-9)
        cost = np.where(turn <= 0, -turn / 2.0, np.where(closes, cap, np.inf))
        k = int(np.argmin(cost.round(3)))  # equal ones in order, wherever the site lies
        if not np.isfinite(cost[k]):
            break
        if turn[k] > 0:
            at[(k + 1) % len(at)] = meet[k]
        at = np.delete(at, k)
    return np.column_stack([at.real, at.imag])
