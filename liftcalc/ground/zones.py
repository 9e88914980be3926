"""Where the mats lie: their outlines, and mats on each other or on an obstacle.

Sources: Plane geometry by shapely.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike
from shapely.geometry.base import BaseGeometry

from liftcalc.base.errors import (
    InputError,
    require_finite,
    require_non_negative,
    require_positive,
)
from liftcalc.crane.legs import LEG_NAMES

__all__ = [
    "MatConflict",
    "mat_conflicts",
    "mat_outlines",
]


def mat_outlines(
    leg_x_m: ArrayLike,
    leg_y_m: ArrayLike,
    *,
    length_m: ArrayLike,
    width_m: ArrayLike,
    orientation_deg: ArrayLike = 0.0,
) -> tuple[shapely.Polygon, ...]:
    """Outlines of the mats in plan.

    Parameters:
      leg_x_m, leg_y_m: array_like, shape (N,). Mat centres. [m]
      length_m, width_m: array_like, shape (N,) or scalar, > 0. [m]
      orientation_deg: array_like, shape (N,) or scalar. Direction of each length, anticlockwise
        from +x. [degrees]
    Returns: tuple of shapely polygons, in leg order
    Source: Geometry.
    """
    x, y, a, b, turn = np.broadcast_arrays(
        np.atleast_1d(require_finite("leg_x_m", leg_x_m)),
        np.atleast_1d(require_finite("leg_y_m", leg_y_m)),
        require_positive("length_m", length_m) / 2.0,
        require_positive("width_m", width_m) / 2.0,
        np.deg2rad(require_finite("orientation_deg", orientation_deg)),
    )
    u = np.stack([a, -a, -a, a], axis=-1)
    v = np.stack([b, b, -b, -b], axis=-1)
    cos, sin = np.cos(turn)[:, None], np.sin(turn)[:, None]
    ring = np.stack([x[:, None] + u * cos - v * sin, y[:, None] + u * sin + v * cos], axis=-1)
    return tuple(shapely.Polygon(r) for r in ring)


@dataclass(frozen=True)
class MatConflict:
    """A mat too near to another mat or to an obstacle.

    Attributes:
      mat, other: names.
      overlap_m2: area they share (0 where they are only too near, or the obstacle has no area).
      gap_m, clearance_m: distance there is, and the distance asked for.
    """

    mat: str
    other: str
    overlap_m2: float
    gap_m: float
    clearance_m: float


def mat_conflicts(
    mats: Sequence[BaseGeometry],
    *,
    names: Sequence[str] = LEG_NAMES,
    obstacles: Mapping[str, BaseGeometry] | None = None,
    clearance_m: float = 0.0,
) -> tuple[MatConflict, ...]:
    """Mats that overlap each other or an obstacle, or come too near to one.

    Parameters:
      mats: sequence of polygons, as from :func:`mat_outlines`
      names: sequence of str, one for each mat
      obstacles: mapping of name to geometry, or None. Points, lines or areas on which no mat may
        lie.
      clearance_m: float, >= 0. Distance to keep from obstacles (mats may touch each other). [m]
    Returns: tuple of MatConflict, empty when all is clear
    Raises: Names and mats of different number, an empty or self-crossing geometry, or a clearance
      out of range.
    Source: Geometry.
    """
    clearance = float(require_non_negative("clearance_m", clearance_m))
    if len(names) != len(mats):
        raise InputError.of("names", len(names), f"one for each of {len(mats)} mats")
    others = dict(obstacles or {})
    for name, shape in [*zip(names, mats, strict=True), *others.items()]:
        if shape.is_empty or not shape.is_valid:
            raise InputError.of(name, "empty or self-crossing", "a valid geometry")
    found: list[MatConflict] = []
    for i, mat in enumerate(mats):
        for j in range(i + 1, len(mats)):
            area = float(mat.intersection(mats[j]).area)
            if area > 1e-9:
                found.append(MatConflict(names[i], names[j], area, 0.0, 0.0))
        for name, shape in others.items():
            gap = float(mat.distance(shape))
            if mat.intersects(shape) or gap < clearance:
                area = float(mat.intersection(shape).area)
                if area > 1e-9 or not mat.touches(shape) or clearance > 0.0:
                    found.append(MatConflict(names[i], name, area, gap, clearance))
    return tuple(found)
