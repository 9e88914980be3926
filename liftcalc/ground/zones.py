"""Where the mats lie: on which ground, on each other, on an obstacle.

Contents
--------
mat_outlines, MatConflict, mat_conflicts, require_mats_clear, ZoneAssignment,
zones_under_mats.

Sources: Plane geometry by shapely. A mat over two kinds of ground takes the worse: common practice,
no published source.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike
from shapely.geometry.base import BaseGeometry

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import (
    InputError,
    Problem,
    require_finite,
    require_non_negative,
    require_positive,
)
from liftcalc.reactions.carrier import LEG_NAMES

__all__ = [
    "MatConflict",
    "ZoneAssignment",
    "mat_conflicts",
    "mat_outlines",
    "require_mats_clear",
    "zones_under_mats",
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


def require_mats_clear(
    mats: Sequence[BaseGeometry],
    *,
    names: Sequence[str] = LEG_NAMES,
    obstacles: Mapping[str, BaseGeometry] | None = None,
    clearance_m: float = 0.0,
) -> None:
    """Refuse mats that overlap each other or an obstacle.

    Parameters:
      mats, names, obstacles, clearance_m: As for :func:`mat_conflicts`.
    Raises: Every conflict found, in one message.
    Source: :func:`mat_conflicts`.
    """
    found = mat_conflicts(mats, names=names, obstacles=obstacles, clearance_m=clearance_m)
    if found:
        raise InputError(
            Problem(
                f"mat {c.mat}",
                f"overlaps {c.other} by {c.overlap_m2:.3f} m2"
                if c.gap_m == 0.0
                else f"is {c.gap_m:.3f} m from {c.other}",
                f"at least {c.clearance_m:g} m clear",
                "Turn or move the mat, or choose a smaller one.",
            )
            for c in found
        )


@dataclass(frozen=True)
class ZoneAssignment:
    """Ground zone of each mat.

    Attributes:
      zone: for each mat, the position of the governing (worst) zone in the list given.
      touched: for each mat, all zones under it.
      share: shape (mats, zones), part of each mat's area over each zone (overlaps count twice).
    """

    zone: tuple[int, ...]
    touched: tuple[tuple[int, ...], ...]
    share: FloatArray


def zones_under_mats(
    mats: Sequence[BaseGeometry],
    zones: Sequence[BaseGeometry],
    *,
    rank: Sequence[float] | Callable[[int, int], float],
    names: Sequence[str] = LEG_NAMES,
    zone_names: Sequence[str] | None = None,
) -> ZoneAssignment:
    """Give each mat the worst ground it touches.

    A part below one millionth of the mat's area is rounding of the outlines, not ground.

    Parameters:
      mats: sequence of polygons, as from :func:`mat_outlines`
      zones: sequence of polygons, in the same frame
      rank: sequence of float, or callable (mat, zone) -> float. How good each zone is (say its
        allowable pressure under that mat); the least governs.
      names, zone_names: sequence of str. For the messages.
    Returns: ZoneAssignment
    Raises: A mat with any part outside every zone; an empty or self-crossing zone; no zone; a rank
      that is not finite.
    Source: Common practice, no published source.
    """
    labels = (
        [f"zone {i + 1}" for i in range(len(zones))] if zone_names is None else list(zone_names)
    )
    if len(zones) == 0 or len(labels) != len(zones) or len(names) != len(mats):
        raise InputError.of(
            "zones", (len(zones), len(labels), len(names)), "one or more, each zone and mat named"
        )
    problems = [
        Problem(labels[i], "empty or self-crossing", "a valid polygon with an area")
        for i, z in enumerate(zones)
        if z.is_empty or not z.is_valid or not z.area > 0.0
    ]
    if problems:
        raise InputError(problems)
    union = shapely.union_all(list(zones))
    share = np.array([[m.intersection(z).area / m.area for z in zones] for m in mats])
    touched: list[tuple[int, ...]] = []
    worst: list[int] = []
    for i, mat in enumerate(mats):
        bare = float(mat.difference(union).area / mat.area)
        if not bare <= 1e-6:
            problems.append(
                Problem(
                    f"mat {names[i]}",
                    f"{100 * bare:.1f} % outside every ground zone",
                    "wholly within zones of known ground",
                    "Survey that ground or move the leg.",
                )
            )
            continue
        under = tuple(int(k) for k in np.flatnonzero(share[i] > 1e-6))
        ranks = [float(rank(i, k)) if callable(rank) else float(rank[k]) for k in under]
        require_finite(f"rank of the ground under mat {names[i]}", ranks)
        touched.append(under)
        worst.append(under[int(np.argmin(ranks))])
    if problems:
        raise InputError(problems)
    return ZoneAssignment(tuple(worst), tuple(touched), share)
