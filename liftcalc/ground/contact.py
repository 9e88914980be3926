"""Pressure under a rigid base that cannot pull on the ground.

Contents
--------
StripPressure, strip_base_pressure (eccentric about one axis), RectanglePressure,
rectangle_base_pressure (about both axes, with lift-off), TwoTrackPressure, two_track_pressure.

Sources: UFC 3-220-20 (2025), section 5-2.3, Eqs 5-5 to 5-9; NAVFAC DM-7.02 (middle third, triangle
beyond).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import (
    ConvergenceError,
    InputError,
    require_finite,
    require_non_negative,
    require_positive,
)

__all__ = [
    "RectanglePressure",
    "StripPressure",
    "TwoTrackPressure",
    "rectangle_base_pressure",
    "strip_base_pressure",
    "two_track_pressure",
]


@dataclass(frozen=True)
class StripPressure:
    """Pressure under a base loaded off centre along its length.

    Attributes:
      q_max_kPa, q_min_kPa: pressure at the two ends; q_min is 0 where the base lifts.
      q_mean_kPa: load over the whole area.
      q_effective_kPa: load over the effective area B (L - 2e), to set against bearing capacity.
      contact_length_m: length that still touches.
      inside_middle_third: true where no part lifts.
    """

    q_max_kPa: FloatArray
    q_min_kPa: FloatArray
    q_mean_kPa: FloatArray
    q_effective_kPa: FloatArray
    contact_length_m: FloatArray
    inside_middle_third: NDArray[np.bool_]


def _require_inside(field: str, ratio: FloatArray) -> None:
    ok = np.abs(ratio) < 0.5
    if not np.all(ok):
        bad = float(np.ravel(ratio[~ok] if ratio.ndim else ratio)[0])
        raise InputError.of(
            field, bad, "above -0.5 and below 0.5 (the load must stand on the base)"
        )


def strip_base_pressure(
    load_kN: ArrayLike,
    length_m: ArrayLike,
    *,
    width_m: ArrayLike,
    eccentricity_m: ArrayLike = 0.0,
) -> StripPressure:
    """Pressure under a rigid base with the load off centre along its length.

    e <= L/6: q = V/(BL) (1 +- 6e/L). Beyond: triangle, q_max = 2V / (3B (L/2 - e)), contact over 3
    (L/2 - e).

    Parameters:
      load_kN: array_like, >= 0. Vertical load, compression positive. [kN]
      length_m, width_m: array_like, > 0. Base sides; the eccentricity lies along the length. [m]
      eccentricity_m: array_like. Distance of the load from the middle, below half the length. [m]
    Returns: StripPressure
    Raises: Anything not finite or outside the range above: a load beyond the edge cannot stand.
    Source: UFC 3-220-20 (2025), Eqs 5-5 and 5-7; NAVFAC DM-7.02.
    """
    v = require_non_negative("load_kN", load_kN)
    length = require_positive("length_m", length_m)
    width = require_positive("width_m", width_m)
    e = np.abs(require_finite("eccentricity_m", eccentricity_m))
    v, length, width, e = np.broadcast_arrays(v, length, width, e)
    _require_inside("eccentricity_m / length_m", e / length)
    mean = v / (length * width)
    inside = e <= length / 6.0 * (1.0 + 1e-12)
    arm = length / 2.0 - e
    q_max = np.where(inside, mean * (1.0 + 6.0 * e / length), 2.0 * v / (3.0 * width * arm))
    q_min = np.where(inside, np.maximum(mean * (1.0 - 6.0 * e / length), 0.0), 0.0)
    return StripPressure(
        q_max_kPa=q_max,
        q_min_kPa=q_min,
        q_mean_kPa=mean,
        q_effective_kPa=v / (width * (length - 2.0 * e)),
        contact_length_m=np.where(inside, length, 3.0 * arm),
        inside_middle_third=inside,
    )


@dataclass(frozen=True)
class RectanglePressure:
    """Pressure under a rectangle loaded off centre in both directions.

    Attributes:
      corner_kPa: shape (..., 4), corners (+,+), (+,-), (-,-), (-,+) in (length, width) axes.
      q_max_kPa, q_min_kPa: greatest and least corner pressure.
      q_mean_kPa: load over the whole area.
      q_effective_kPa: load over (L - 2 eL)(B - 2 eB).
      effective_length_m, effective_width_m: those two sides.
      contact_fraction: share of the area that touches.
      inside_kern: true where no corner lifts.
    """

    corner_kPa: FloatArray
    q_max_kPa: FloatArray
    q_min_kPa: FloatArray
    q_mean_kPa: FloatArray
    q_effective_kPa: FloatArray
    effective_length_m: FloatArray
    effective_width_m: FloatArray
    contact_fraction: FloatArray
    inside_kern: NDArray[np.bool_]


_SX = np.array([1.0, 1.0, -1.0, -1.0])
_SY = np.array([1.0, -1.0, -1.0, 1.0])


def _contact_moments(u: FloatArray, corners: FloatArray) -> FloatArray:
    """Integrals of 1, x, y, x2, xy, y2 where the plane u0 + u1 x + u2 y presses on a rectangle.

    ``u`` has shape (n, 3), ``corners`` (n, 4, 2) anticlockwise; the answer is (n, 3, 3). Each
    pressing edge makes a triangle with a point on the neutral line, so that the cut itself adds
    nothing.
    """
    f = u[:, :1] + np.einsum("nkd,nd->nk", corners, u[:, 1:])
    start, end = corners, np.roll(corners, -1, axis=1)
    f_start, f_end = f, np.roll(f, -1, axis=1)
    span = f_start - f_end
    cut = f_start / np.where(span == 0.0, 1.0, span)
    cross = start + cut[..., None] * (end - start)
    p = np.where((f_start > 0.0)[..., None], start, cross)
    q = np.where((f_end > 0.0)[..., None], end, cross)
    slope2 = (u[:, 1:] ** 2).sum(axis=1)
    whole = np.all(f > 0.0, axis=1)
    origin = np.where(
        whole[:, None],
        corners.mean(axis=1),
        -u[:, :1] * u[:, 1:] / np.where(slope2 == 0.0, 1.0, slope2)[:, None],
    )
    p, q = p - origin[:, None, :], q - origin[:, None, :]
    pressed = (f_start > 0.0) | (f_end > 0.0)
    (px, py), (qx, qy) = (p[..., 0], p[..., 1]), (q[..., 0], q[..., 1])
    area = np.where(pressed, (px * qy - qx * py) / 2.0, 0.0)
    a = area.sum(axis=1)
    x = (area * (px + qx)).sum(axis=1) / 3.0
    y = (area * (py + qy)).sum(axis=1) / 3.0
    xx = (area * (px**2 + px * qx + qx**2)).sum(axis=1) / 6.0
    yy = (area * (py**2 + py * qy + qy**2)).sum(axis=1) / 6.0
    xy = (area * (2 * px * py + px * qy + qx * py + 2 * qx * qy)).sum(axis=1) / 12.0
    ox, oy = origin[:, 0], origin[:, 1]
    k = np.empty((u.shape[0], 3, 3))
    k[:, 0, 0] = a
    k[:, 0, 1] = k[:, 1, 0] = x + ox * a
    k[:, 0, 2] = k[:, 2, 0] = y + oy * a
    k[:, 1, 1] = xx + 2.0 * ox * x + ox**2 * a
    k[:, 2, 2] = yy + 2.0 * oy * y + oy**2 * a
    k[:, 1, 2] = k[:, 2, 1] = xy + ox * y + oy * x + ox * oy * a
    return k


def _lifted_plane(ex: FloatArray, ey: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Corner pressures (loaded corner first) over the mean, and the share in contact.

    Axes run from the loaded corner inwards, scaled so that the load stands at (1, 1) whatever
    its eccentricity (ex, ey >= 0, below 1/2): the problem is then well conditioned to the edge.
    """
    dx, dy = 0.5 - ex, 0.5 - ey
    zero = np.zeros_like(ex)
    corners = np.stack(
        [
            np.stack([zero, zero], axis=-1),
            np.stack([1.0 / dx, zero], axis=-1),
            np.stack([1.0 / dx, 1.0 / dy], axis=-1),
            np.stack([zero, 1.0 / dy], axis=-1),
        ],
        axis=1,
    )
    # a load deep in the corner stands on a triangle with legs of 4: the start for every case
    u = np.tile(np.array([1.0, -0.25, -0.25]) * 3.0 / 8.0, (ex.size, 1))
    for _ in range(200):
        k = _contact_moments(u, corners)
        residual = 1.0 - np.einsum("nij,nj->ni", k, u)
        error = np.abs(residual).max(axis=-1)
        if np.all(error < 1e-10):
            f = u[:, :1] + np.einsum("nkd,nd->nk", corners, u[:, 1:])
            return f / (dx * dy)[:, None], k[:, 0, 0] * dx * dy
        step = np.linalg.solve(k, residual[..., None])[..., 0]
        # Newton on a convex function: halve a step that does not lessen the error
        scale = np.ones_like(error)
        for _ in range(30):
            trial = u + scale[:, None] * step
            kt = _contact_moments(trial, corners)
            new = np.abs(1.0 - np.einsum("nij,nj->ni", kt, trial)).max(axis=-1)
            worse = ~(new < error) & (error >= 1e-10)
            if not worse.any():
                break
            scale = np.where(worse, scale / 2.0, scale)
        u = u + scale[:, None] * step
    raise ConvergenceError("rectangle_base_pressure: no equilibrium found within 200 steps")


def rectangle_base_pressure(
    load_kN: ArrayLike,
    length_m: ArrayLike,
    *,
    width_m: ArrayLike,
    eccentricity_length_m: ArrayLike = 0.0,
    eccentricity_width_m: ArrayLike = 0.0,
) -> RectanglePressure:
    """Pressure under a rigid rectangle with the load off centre in both directions.

    Inside the kern q = V/(BL) (1 +- 6eL/L +- 6eB/B). Outside, the plane of pressure that meets the
    load in force and both moments is found by Newton's method with exact integrals over the part in
    contact.

    Parameters:
      load_kN: array_like, >= 0. Vertical load. [kN]
      length_m, width_m: array_like, > 0. [m]
      eccentricity_length_m, eccentricity_width_m: array_like. Position of the load from the middle
        along each side. [m]
    Returns: RectanglePressure
    Raises: A load on or beyond the edge, or anything not finite or outside the range above.
      ConvergenceError: No equilibrium found (a load a hair's breadth from a corner).
    Source: UFC 3-220-20 (2025), Eqs 5-6 to 5-9; outside the kern: rigid base on no-tension ground,
      statics.
    """
    v = require_non_negative("load_kN", load_kN)
    length = require_positive("length_m", length_m)
    width = require_positive("width_m", width_m)
    e_l = require_finite("eccentricity_length_m", eccentricity_length_m)
    e_w = require_finite("eccentricity_width_m", eccentricity_width_m)
    v, length, width, e_l, e_w = np.broadcast_arrays(v, length, width, e_l, e_w)
    rx, ry = e_l / length, e_w / width
    _require_inside("eccentricity_length_m / length_m", rx)
    _require_inside("eccentricity_width_m / width_m", ry)
    mean = v / (length * width)
    shape = mean.shape
    ax, ay = np.abs(rx), np.abs(ry)
    inside = ax + ay <= (1.0 + 1e-12) / 6.0
    corner = 1.0 + 6.0 * rx[..., None] * _SX + 6.0 * ry[..., None] * _SY
    fraction = np.ones(shape)
    lifts = ~inside
    if lifts.any():
        values, share = _lifted_plane(ax[lifts], ay[lifts])
        loaded, along, across = values[:, 0], values[:, 1], values[:, 3]
        far = values[:, 2]
        # corners (+,+), (+,-), (-,-), (-,+) of the mat, by the signs of the eccentricities
        same_x = (np.where(rx[lifts] < 0.0, -1.0, 1.0)[:, None] * _SX) > 0.0
        same_y = (np.where(ry[lifts] < 0.0, -1.0, 1.0)[:, None] * _SY) > 0.0
        corner[lifts] = np.where(
            same_x,
            np.where(same_y, loaded[:, None], across[:, None]),
            np.where(same_y, along[:, None], far[:, None]),
        )
        fraction[lifts] = share
    corner_kPa = np.maximum(corner, 0.0) * mean[..., None]
    eff_l, eff_w = length - 2.0 * np.abs(e_l), width - 2.0 * np.abs(e_w)
    return RectanglePressure(
        corner_kPa=corner_kPa,
        q_max_kPa=corner_kPa.max(axis=-1),
        q_min_kPa=corner_kPa.min(axis=-1),
        q_mean_kPa=mean,
        q_effective_kPa=v / (eff_l * eff_w),
        effective_length_m=eff_l,
        effective_width_m=eff_w,
        contact_fraction=fraction,
        inside_kern=inside,
    )


@dataclass(frozen=True)
class TwoTrackPressure:
    """Load and pressure of the two tracks of a rigid undercarriage."""

    heavy_load_kN: FloatArray
    light_load_kN: FloatArray
    heavy: StripPressure
    light: StripPressure


def two_track_pressure(
    weight_kN: ArrayLike,
    gauge_m: ArrayLike,
    *,
    track_width_m: ArrayLike,
    bearing_length_m: ArrayLike,
    offset_across_m: ArrayLike,
    offset_along_m: ArrayLike,
) -> TwoTrackPressure:
    """Pressure under two parallel strips that share an off-centre load (also two long mats).

    Each strip takes its share by moments across; both have the same eccentricity along.

    Parameters:
      weight_kN: array_like, >= 0. [kN]
      gauge_m: array_like, > 0. Distance between the centre lines of the strips. [m]
      track_width_m, bearing_length_m: array_like, > 0. [m]
      offset_across_m, offset_along_m: array_like. Resultant from the middle, across and along the
        strips. [m]
    Returns: TwoTrackPressure
    Raises: The resultant beyond a centre line or an end, or anything not finite or out of range.
    Source: Statics, then :func:`strip_base_pressure`.
    """
    w = require_non_negative("weight_kN", weight_kN)
    gauge = require_positive("gauge_m", gauge_m)
    across = np.abs(require_finite("offset_across_m", offset_across_m))
    _require_inside("offset_across_m / gauge_m", np.asarray(across / gauge))
    heavy = w * (0.5 + across / gauge)
    light = w * (0.5 - across / gauge)
    length = require_positive("bearing_length_m", bearing_length_m)

    def strip(load: FloatArray) -> StripPressure:
        return strip_base_pressure(
            load, length, width_m=track_width_m, eccentricity_m=offset_along_m
        )

    return TwoTrackPressure(np.asarray(heavy), np.asarray(light), strip(heavy), strip(light))
