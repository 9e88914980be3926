"""Sideways pressure that a leg near a wall puts on it.

Only the added pressure from the surface load; earth and water pressure stand on the wall already.
A wall that can move enough to reach the active state takes 75 % of the rigid-wall value.

Sources: Terzaghi (1954), point load, as in UFC 3-220-20 (2025), Fig. 4-18 (text read in the
transcription of the package geotech-references 1.4.1); formulas second-hand, no edition.
"""

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_finite, require_non_negative, require_positive

WallCondition = Literal["rigid", "yielding"]

_GAUSS_PLACE, _GAUSS_WEIGHT = np.polynomial.legendre.leggauss(12)


def point_wall_pressure_kPa(
    load_kN: ArrayLike,
    depth_m: ArrayLike,
    *,
    distance_m: ArrayLike,
    wall_height_m: ArrayLike,
    offset_along_m: ArrayLike = 0.0,
    wall: WallCondition = "rigid",
) -> FloatArray:
    """Sideways pressure on a wall at depth_m (within its height) from a point load_kN behind it.

    m = x/H (distance_m over wall_height_m), n = z/H. m <= 0.4: 0.28 n^2/(0.16 + n^2)^3, else 1.77
    m^2 n^2/(m^2 + n^2)^3, times Q/H^2; sideways times cos^2(1.1 psi), psi the angle in plan to a
    place offset_along_m along the wall, zero beyond 90/1.1 degrees; ``wall`` "rigid" or "yielding".

    Raises: A depth below the wall, or a wall of another kind.
    Source: Terzaghi (1954); UFC 3-220-20 (2025), Fig. 4-18.
    """
    q = require_non_negative("load_kN", load_kN)
    height = require_positive("wall_height_m", wall_height_m)
    x = require_positive("distance_m", distance_m)
    z = require_non_negative("depth_m", depth_m)
    if not np.all(z <= height * (1.0 + 1e-12)):
        raise InputError.of("depth_m", float(np.max(z)), "at most wall_height_m")
    if wall not in ("rigid", "yielding"):
        raise InputError.of("wall", wall, "rigid, yielding")
    turn = 1.1 * np.abs(np.arctan(require_finite("offset_along_m", offset_along_m) / x))
    side = np.where(turn < np.pi / 2.0, np.cos(turn) ** 2, 0.0)
    share = 1.0 if wall == "rigid" else 0.75
    m, n = x / height, z / height
    near, far = 0.28 * n**2 / (0.16 + n**2) ** 3, 1.77 * m**2 * n**2 / (m**2 + n**2) ** 3
    return np.asarray(share * q / height**2 * np.where(m <= 0.4, near, far) * side)


def patch_wall_pressure_kPa(
    load_kN: ArrayLike,
    depth_m: ArrayLike,
    *,
    edge_distance_m: float,
    across_m: float,
    along_m: float,
    wall_height_m: float,
    offset_along_m: ArrayLike = 0.0,
    wall: WallCondition = "rigid",
) -> FloatArray:
    """Pressure on a wall from a rectangular mat, every part of it a point load.

    Gauss points each way: nearer and farther than 0.4 of the wall's height, where the formula has a
    kink, and over the angle in plan, so that a mat hard by the wall is not missed.

    Parameters:
      load_kN: >= 0. Whole load on the mat. [kN]
      depth_m: 0 to wall height. [m]
      edge_distance_m: >= 0. From the wall to the near edge of the mat. [m]
      across_m, along_m: > 0. Mat size square to the wall and along it. [m]
      wall_height_m: > 0. [m]
      offset_along_m: Point of the wall looked at, from the point opposite the middle of the mat.
        [m]
    Returns: ndarray, shape (...): sideways pressure. [kPa]
    Source: Superposition of :func:`point_wall_pressure_kPa`.
    """
    edge = float(require_non_negative("edge_distance_m", edge_distance_m))
    across = float(require_positive("across_m", across_m))
    along = float(require_positive("along_m", along_m))
    place, weight = _GAUSS_PLACE, _GAUSS_WEIGHT
    height = float(require_positive("wall_height_m", wall_height_m))
    middle = require_finite("offset_along_m", offset_along_m)[..., None, None]
    load = require_non_negative("load_kN", load_kN)[..., None, None]
    depth = np.asarray(depth_m, dtype=np.float64)[..., None, None]
    ends = np.array([edge, np.clip(0.4 * height, edge, edge + across), edge + across])
    half = np.diff(ends)[:, None] / 2.0
    x = (ends[:-1, None] + half * (place + 1.0)).ravel()[:, None]
    low, high = (
        np.clip(np.arctan((middle + side * along / 2.0) / x), -np.pi / 2.2, np.pi / 2.2)
        for side in (-1.0, 1.0)
    )
    turn = low + (high - low) * (place + 1.0) / 2.0
    part = point_wall_pressure_kPa(
        load, depth, distance_m=x, wall_height_m=height, offset_along_m=x * np.tan(turn), wall=wall
    )
    share = (half * weight).ravel()[:, None] * weight * (high - low) * x / np.cos(turn) ** 2
    return np.asarray((part * share).sum(axis=(-2, -1)) / (2.0 * across * along))
