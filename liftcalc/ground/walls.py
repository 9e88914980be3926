"""Sideways pressure that a leg near a wall puts on it.

Contents
--------
point_wall_pressure_kPa, line_wall_pressure_kPa, strip_wall_pressure_kPa, patch_wall_pressure_kPa,
WallThrust, point_wall_thrust, line_wall_thrust, patch_wall_thrust, MIN_SURCHARGE_KPA.

Only the added pressure from the surface load; earth and water pressure stand on the wall already.
A wall that can move enough to reach the active state takes 75 % of the rigid-wall value.

Sources: Terzaghi (1954), point and line load, as in NAVFAC DM-7.02 and UFC 3-220-20 (Figs 4-18,
4-19, section 4-4.2); strip: Caltrans Trenching and Shoring Manual, Eq. 5-1-2 (Teng); least
surcharge: the same manual, example 7-1B. The line-load form is from memory; its integral gives the
published resultants.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_finite, require_non_negative, require_positive

__all__ = [
    "MIN_SURCHARGE_KPA",
    "WallCondition",
    "WallThrust",
    "line_wall_pressure_kPa",
    "line_wall_thrust",
    "patch_wall_pressure_kPa",
    "patch_wall_thrust",
    "point_wall_pressure_kPa",
    "point_wall_thrust",
    "strip_wall_pressure_kPa",
]

WallCondition = Literal["rigid", "yielding"]

MIN_SURCHARGE_KPA = 72.0 * 4.4482216152605e-3 / 0.3048**2
"""Least lateral construction surcharge, 72 psf (Caltrans, example 7-1B, p. 7-26). [kPa]"""

_GAUSS_X, _GAUSS_W = np.polynomial.legendre.leggauss(64)
_GAUSS_X, _GAUSS_W = (_GAUSS_X + 1.0) / 2.0, _GAUSS_W / 2.0


@lru_cache(maxsize=16)
def _gauss_points(divisions: int) -> tuple[FloatArray, FloatArray]:
    """Places and weights on -1 to 1."""
    place, weight = np.polynomial.legendre.leggauss(divisions)
    place.setflags(write=False)
    weight.setflags(write=False)
    return place, weight


def _condition_factor(wall: WallCondition) -> float:
    if wall == "rigid":
        return 1.0
    if wall == "yielding":
        return 0.75
    raise InputError.of("wall", wall, "rigid, yielding")


def _depth_on_wall(depth_m: ArrayLike, height: FloatArray) -> FloatArray:
    z = require_non_negative("depth_m", depth_m)
    if not np.all(z <= height * (1.0 + 1e-12)):
        raise InputError.of("depth_m", float(np.max(z)), "at most wall_height_m")
    return z


def _point(m: FloatArray, n: FloatArray) -> FloatArray:
    """Terzaghi's point-load shape, times Q / H^2."""
    near = 0.28 * n**2 / (0.16 + n**2) ** 3
    far = 1.77 * m**2 * n**2 / (m**2 + n**2) ** 3
    return np.asarray(np.where(m <= 0.4, near, far))


def point_wall_pressure_kPa(
    load_kN: ArrayLike,
    depth_m: ArrayLike,
    *,
    distance_m: ArrayLike,
    wall_height_m: ArrayLike,
    offset_along_m: ArrayLike = 0.0,
    wall: WallCondition = "rigid",
) -> FloatArray:
    """Pressure on a wall from a point load behind it.

    m = x/H, n = z/H. m <= 0.4: 0.28 n^2/(0.16 + n^2)^3, else 1.77 m^2 n^2/(m^2 + n^2)^3, times
    Q/H^2; sideways times cos^2(1.1 psi), psi the angle in plan, zero beyond 90/1.1 degrees.

    Parameters:
      load_kN: array_like, >= 0. [kN]
      depth_m: array_like, 0 to wall height. Below the loaded surface. [m]
      distance_m: array_like, > 0. From the wall to the load. [m]
      wall_height_m: array_like, > 0. [m]
      offset_along_m: array_like. Along the wall, from the point opposite the load. [m]
      wall: {"rigid", "yielding"}
    Returns: ndarray: sideways pressure. [kPa]
    Source: Terzaghi (1954); NAVFAC DM-7.02; UFC 3-220-20, Fig. 4-18.
    """
    q = require_non_negative("load_kN", load_kN)
    height = require_positive("wall_height_m", wall_height_m)
    x = require_positive("distance_m", distance_m)
    z = _depth_on_wall(depth_m, height)
    turn = 1.1 * np.abs(np.arctan(require_finite("offset_along_m", offset_along_m) / x))
    side = np.where(turn < np.pi / 2.0, np.cos(turn) ** 2, 0.0)
    return np.asarray(
        _condition_factor(wall) * q / height**2 * _point(x / height, z / height) * side
    )


def line_wall_pressure_kPa(
    load_kN_m: ArrayLike,
    depth_m: ArrayLike,
    *,
    distance_m: ArrayLike,
    wall_height_m: ArrayLike,
    wall: WallCondition = "rigid",
) -> FloatArray:
    """Pressure on a wall from a line load parallel to it.

    m <= 0.4: 0.20 n/(0.16 + n^2)^2, else 1.28 m^2 n/(m^2 + n^2)^2, times Q_L/H.

    Parameters:
      load_kN_m: array_like, >= 0. [kN/m]
      depth_m: array_like, 0 to wall height. [m]
      distance_m, wall_height_m: array_like, > 0. [m]
      wall: {"rigid", "yielding"}
    Returns: ndarray: sideways pressure. [kPa]
    Source: Terzaghi (1954); UFC 3-220-20, Fig. 4-19 (form from memory).
    """
    q = require_non_negative("load_kN_m", load_kN_m)
    height = require_positive("wall_height_m", wall_height_m)
    m = require_positive("distance_m", distance_m) / height
    n = _depth_on_wall(depth_m, height) / height
    near = 0.20 * n / (0.16 + n**2) ** 2
    far = 1.28 * m**2 * n / (m**2 + n**2) ** 2
    return np.asarray(_condition_factor(wall) * q / height * np.where(m <= 0.4, near, far))


def strip_wall_pressure_kPa(
    pressure_kPa: ArrayLike,
    depth_m: ArrayLike,
    *,
    edge_distance_m: ArrayLike,
    width_m: ArrayLike,
    wall: Literal["rigid", "yielding", "none"] = "rigid",
) -> FloatArray:
    """Pressure on a wall from an endless strip parallel to it.

    2q/pi (beta - sin(beta) cos(2 alpha)), beta the angle the strip subtends, alpha the angle from
    the wall to its middle.

    Parameters:
      pressure_kPa: array_like, >= 0. [kPa]
      depth_m: array_like, > 0. [m]
      edge_distance_m: array_like, >= 0. From the wall to the near edge. [m]
      width_m: array_like, > 0. [m]
      wall: {"rigid", "yielding", "none"}. "none" gives the free-field stress, half the rigid-wall
        value.
    Returns: ndarray: sideways pressure. [kPa]
    Source: Caltrans Trenching and Shoring Manual, Eq. 5-1-2.
    """
    q = require_non_negative("pressure_kPa", pressure_kPa)
    z = require_positive("depth_m", depth_m)
    near = require_non_negative("edge_distance_m", edge_distance_m)
    far = near + require_positive("width_m", width_m)
    t1, t2 = np.arctan(near / z), np.arctan(far / z)
    beta, alpha = t2 - t1, (t1 + t2) / 2.0
    factor = 0.5 if wall == "none" else _condition_factor(wall)
    return np.asarray(factor * 2.0 * q / np.pi * (beta - np.sin(beta) * np.cos(2.0 * alpha)))


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
    divisions: int = 12,
) -> FloatArray:
    """Pressure on a wall from a rectangular mat, every part of it a point load.

    Parameters:
      load_kN: array_like, shape (...), >= 0. Whole load on the mat. [kN]
      depth_m: array_like, shape (...), 0 to wall height. [m]
      edge_distance_m: float, >= 0. From the wall to the near edge of the mat. [m]
      across_m, along_m: float, > 0. Mat size square to the wall and along it. [m]
      wall_height_m: float, > 0. [m]
      offset_along_m: array_like, shape (...). Point of the wall looked at, from the point opposite
        the middle of the mat. [m]
      wall: {"rigid", "yielding"}
      divisions: int, 2 or more. Gauss points each way: nearer and farther than 0.4 of the wall's
        height, where the formula has a kink, and over the angle in plan, so that a mat hard by the
        wall is not missed. [-]
    Returns: ndarray, shape (...): sideways pressure. [kPa]
    Raises: Fewer than two divisions.
    Source: Superposition of :func:`point_wall_pressure_kPa`.
    """
    if divisions < 2:
        raise InputError.of("divisions", divisions, "2 or more")
    edge = float(require_non_negative("edge_distance_m", edge_distance_m))
    across = float(require_positive("across_m", across_m))
    along = float(require_positive("along_m", along_m))
    place, weight = _gauss_points(divisions)
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
        load,
        depth,
        distance_m=x,
        wall_height_m=height,
        offset_along_m=x * np.tan(turn),
        wall=wall,
    )
    share = (half * weight).ravel()[:, None] * weight * (high - low) * x / np.cos(turn) ** 2
    return np.asarray((part * share).sum(axis=(-2, -1)) / (2.0 * across * along))


@dataclass(frozen=True)
class WallThrust:
    """Added push on a wall, per metre of wall opposite the load.

    Attributes:
      resultant_kN_m: push per metre.
      depth_m: of its line of action, below the loaded surface.
      moment_about_base_kNm_m: about the foot of the wall.
      pressure_max_kPa: greatest pressure over the height.
    """

    resultant_kN_m: FloatArray
    depth_m: FloatArray
    moment_about_base_kNm_m: FloatArray
    pressure_max_kPa: FloatArray


def _thrust(pressure: Callable[[FloatArray], FloatArray], height_m: ArrayLike) -> WallThrust:
    height = require_positive("wall_height_m", height_m)
    z = height[..., None] * _GAUSS_X
    p = pressure(z)
    push = (p * _GAUSS_W).sum(axis=-1) * height
    first = (p * z * _GAUSS_W).sum(axis=-1) * height
    depth = np.where(push > 0.0, first / np.where(push > 0.0, push, 1.0), 0.0)
    return WallThrust(push, depth, push * height - first, p.max(axis=-1))


def point_wall_thrust(
    load_kN: ArrayLike,
    distance_m: ArrayLike,
    *,
    wall_height_m: ArrayLike,
    wall: WallCondition = "rigid",
) -> WallThrust:
    """Push on the metre of wall opposite a point load.

    Parameters:
      load_kN: array_like, >= 0. [kN]
      distance_m, wall_height_m: array_like, > 0. [m]
      wall: {"rigid", "yielding"}
    Returns: WallThrust
    Source: Integral of :func:`point_wall_pressure_kPa` over the height.
    """
    load = np.asarray(load_kN, dtype=np.float64)[..., None]
    x = np.asarray(distance_m, dtype=np.float64)[..., None]
    h = np.asarray(wall_height_m, dtype=np.float64)[..., None]
    return _thrust(
        lambda z: point_wall_pressure_kPa(load, z, distance_m=x, wall_height_m=h, wall=wall),
        wall_height_m,
    )


def line_wall_thrust(
    load_kN_m: ArrayLike,
    distance_m: ArrayLike,
    *,
    wall_height_m: ArrayLike,
    wall: WallCondition = "rigid",
) -> WallThrust:
    """Push on a metre of wall from a line load parallel to it.

    Parameters:
      load_kN_m: array_like, >= 0. [kN/m]
      distance_m, wall_height_m: array_like, > 0. [m]
      wall: {"rigid", "yielding"}
    Returns: WallThrust
    Source: Integral of :func:`line_wall_pressure_kPa`; m > 0.4 gives 0.64 Q_L/(m^2 + 1).
    """
    load = np.asarray(load_kN_m, dtype=np.float64)[..., None]
    x = np.asarray(distance_m, dtype=np.float64)[..., None]
    h = np.asarray(wall_height_m, dtype=np.float64)[..., None]
    return _thrust(
        lambda z: line_wall_pressure_kPa(load, z, distance_m=x, wall_height_m=h, wall=wall),
        wall_height_m,
    )


def patch_wall_thrust(
    load_kN: ArrayLike,
    edge_distance_m: float,
    *,
    across_m: float,
    along_m: float,
    wall_height_m: float,
    offset_along_m: float = 0.0,
    wall: WallCondition = "rigid",
) -> WallThrust:
    """Push on a metre of wall from a rectangular mat.

    Parameters:
      load_kN, edge_distance_m, across_m, along_m, wall_height_m, offset_along_m, wall: As for
        :func:`patch_wall_pressure_kPa`.
    Returns: WallThrust
    Raises: As for :func:`patch_wall_pressure_kPa`.
    Source: Integral of :func:`patch_wall_pressure_kPa`.
    """
    load = np.asarray(load_kN, dtype=np.float64)[..., None]
    return _thrust(
        lambda z: patch_wall_pressure_kPa(
            load,
            z,
            edge_distance_m=edge_distance_m,
            across_m=across_m,
            along_m=along_m,
            wall_height_m=wall_height_m,
            offset_along_m=offset_along_m,
            wall=wall,
        ),
        wall_height_m,
    )
