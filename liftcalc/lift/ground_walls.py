"""Sideways pressure of all mats on retaining walls.

Source: Terzaghi (1954), point loads summed: :mod:`liftcalc.ground.walls`.
"""

import numpy as np
from shapely.geometry import LineString, Polygon

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check, limit_check, no_data_check
from liftcalc.facts.surveyed import RetainingWall
from liftcalc.ground.walls import patch_wall_pressure_kPa
from liftcalc.lift.placing import Placing


def wall_pressure(place: Placing, forces: FloatArray, wall: RetainingWall) -> tuple[float, float]:
    """Greatest sideways pressure of all mats on a wall, and its depth.

    Looked for opposite each mat and, since two mats may press most between them, at nine places
    between neighbours.
    """
    line = LineString(wall.line)
    depth = np.linspace(0.02, 1.0, 50) * wall.retained_height_m
    chainage = np.array([float(line.project(m.centroid)) for m in place.mats])
    own = np.sort(chainage)
    station = np.unique(np.concatenate([own[-1:], *np.linspace(own[:-1], own[1:], 10, False)]))
    total = np.zeros((len(station), len(depth)))
    for mat, opposite, force in zip(place.mats, chainage, forces, strict=True):
        low, high = _extents(mat, line)
        total += patch_wall_pressure_kPa(
            force,
            depth,
            edge_distance_m=max(low[1], 0.0),
            across_m=high[1] - low[1],
            along_m=high[0] - low[0],
            wall_height_m=wall.retained_height_m,
            offset_along_m=(station - opposite)[:, None],
            wall="yielding" if wall.yielding else "rigid",
        )
    place_k, depth_k = np.unravel_index(int(np.argmax(total)), total.shape)
    return float(total[place_k, depth_k]), float(depth[depth_k])


def _extents(mat: Polygon, line: LineString) -> tuple[tuple[float, float], tuple[float, float]]:
    """Least and greatest (along, across) of a mat, seen from the nearest straight of a line."""
    corners = np.asarray(mat.exterior.coords)[:-1]
    segments = list(zip(line.coords[:-1], line.coords[1:], strict=True))
    a, b = (
        np.array(p[:2]) for p in min(segments, key=lambda s: float(LineString(s).distance(mat)))
    )
    direction = (b - a) / np.linalg.norm(b - a)
    along = (corners - a) @ direction
    across = (corners - a) @ np.array([-direction[1], direction[0]])
    if across.mean() < 0:
        across = -across
    return (float(along.min()), float(across.min())), (float(along.max()), float(across.max()))


def wall_row(wall: RetainingWall, pressure_kPa: float, depth_m: float) -> Check:
    """Greatest sideways pressure against what the wall may carry; no data where nobody said."""
    id = f"wall-{wall.id}"
    if wall.allowable_surcharge_kPa is None:
        return no_data_check(
            id,
            f"Sideways pressure on {wall.id}: its strength is unknown",
            quantity="pressure_kPa",
            value=pressure_kPa,
            reference="Terzaghi 1954",
            remedy="Have the wall's owner state what it may carry.",
        )
    return limit_check(
        id,
        f"Sideways pressure of all mats on {wall.id}",
        value=pressure_kPa,
        limit=wall.allowable_surcharge_kPa,
        quantity="pressure_kPa",
        reference="Terzaghi 1954, point loads summed; limit: survey",
        where=f"{depth_m:.1f} m below the top",
        remedy="Stand farther from the wall or use larger mats.",
    )
