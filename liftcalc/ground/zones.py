"""Where the mats lie: their outlines, and mats on each other.

Sources: Plane geometry by shapely.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike
from shapely.geometry.base import BaseGeometry

from liftcalc.base.errors import InputError, require_finite, require_positive
from liftcalc.crane.legs import LEG_NAMES


def mat_outlines(
    leg_x_m: ArrayLike, leg_y_m: ArrayLike, *, length_m: ArrayLike, width_m: ArrayLike, orientation_deg: ArrayLike = 0.0
) -> tuple[shapely.Polygon, ...]:
    """Outlines of the mats in plan, about leg_x_m, leg_y_m (N,), with sides length_m and width_m.

    orientation_deg is the direction of each length, anticlockwise from +x.

    Returns: tuple of shapely polygons, in leg order
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
    """Two mats that overlap, and the area they share."""

    mat: str
    other: str
    overlap_m2: float


def mat_conflicts(mats: Sequence[BaseGeometry], *, names: Sequence[str] = LEG_NAMES) -> tuple[MatConflict, ...]:
    """Mats that overlap each other; they may touch.

    Parameters:
      mats: sequence of polygons, as from :func:`mat_outlines`
      names: sequence of str, one for each mat
    Returns: tuple of MatConflict, empty when all is clear
    Raises: Names and mats of different number, or an empty or self-crossing geometry.
    """
    if len(names) != len(mats):
        raise InputError.of("names", len(names), f"one for each of {len(mats)} mats")
    for name, shape in zip(names, mats, strict=True):
        if shape.is_empty or not shape.is_valid:
            raise InputError.of(name, "empty or self-crossing", "a valid geometry")
    return tuple(
        MatConflict(names[i], names[j], area)
        for i in range(len(mats))
        for j in range(i + 1, len(mats))
        if (area := float(mats[i].intersection(mats[j]).area)) > 1e-9
    )
