"""Resultant, moments and shares of weight: the working behind a stability figure.

Contents
--------
``resultant``            where the total weight acts on the base plane (:class:`Resultant`)
``line_moments``         moments about every tipping line, for a checker (:class:`LineMoments`)
``leg_shares``           share of the weight on each leg, rigid carrier, equal stiffness
``side_shares``          share on front, rear, left and right side; the least loaded side
``boom_side_share``      share of weight under the boom of the machine without load

Signs as in :mod:`liftcalc.crane.stability`; shares are of the total weight, compression positive.

Sources: statics. Limits from ASME B30.5 / B30.4: 15 % of the weight on the boom-side legs and
0.70 of the fulcrum distance for crawlers from memory; 0.60 for portal and pedestal machines seen
in a public extract of B30.4-2020. Limits are arguments, never built in.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import (
    InputError,
    require_between,
    require_finite,
    require_non_negative,
)
from liftcalc.base.units import G_M_S2
from liftcalc.crane.legs import BasePolygon
from liftcalc.crane.masses import NO_ADVERSE_TERMS, AdverseTerms, BoomState, MachineMasses
from liftcalc.crane.stability import (
    Layout,
    affine_over_lines,
    boom_direction,
    check_layout,
    line_terms,
    side_components,
)

__all__ = [
    "LineMoments",
    "Resultant",
    "SideShares",
    "boom_side_share",
    "leg_shares",
    "line_moments",
    "resultant",
    "side_shares",
]

IntArray = NDArray[np.intp]

_SIDE_LEGS = np.array([[1, 1, 0, 0], [0, 0, 1, 1], [1, 0, 0, 1], [0, 1, 1, 0]], dtype=np.float64)


@dataclass(frozen=True)
class Resultant:
    """Total mass and where it acts on the base plane."""

    total_t: FloatArray
    x_m: FloatArray
    y_m: FloatArray
    margin_m: FloatArray
    line: IntArray


@dataclass(frozen=True)
class LineMoments:
    """Moments about each tipping line, last axis E; positive holds the machine upright."""

    fixed_moment_kNm: FloatArray
    """All masses but the load (tilt included)."""
    load_arm_m: FloatArray
    """Horizontal distance of the load beyond the line (negative: the load is inside it)."""
    load_moment_kNm: FloatArray
    """Overturning moment of the load, dynamic factor and side load included."""
    wind_moment_kNm: FloatArray
    """Overturning moment of the wind."""
    stability_ratio: FloatArray
    """Fixed moment over load plus wind moment; inf where these do not overturn."""


@dataclass(frozen=True)
class SideShares:
    """Share of the total weight on each side; last axis front, rear, left, right."""

    leg_share: FloatArray
    side_share: FloatArray
    least_share: FloatArray
    least_side: IntArray
    """Index of the least loaded side on that axis."""


def resultant(
    slew_deg: ArrayLike,
    boom: BoomState,
    *,
    base: BasePolygon,
    masses: MachineMasses,
    load_t: ArrayLike = 0.0,
    tilt_x_deg: ArrayLike = 0.0,
    tilt_y_deg: ArrayLike = 0.0,
    layout: Layout = "grid",
) -> Resultant:
    """Total mass and the point of the base plane on which it acts.

    Parameters:
      slew_deg, boom, base, masses, layout: As :func:`tipping_load_t`.
      load_t: array_like, shape (R,) or scalar; also (S, R) on a grid. Load at the head, >= 0. [t]
      tilt_x_deg, tilt_y_deg: array_like, -5 to 5, broadcast with the result. Lean of the machine
        toward +x and +y: every mass moves by its height times tan(tilt), the load with the head.
        [deg]
    Returns: Resultant, arrays (S, R) or (N,).
    Raises: A load below 0, a slew that is not finite, another layout, or a tilt with unknown
      heights.
    """
    total, x, y = _acting_point(
        slew_deg, boom, masses, load_t=load_t, tilt_deg=(tilt_x_deg, tilt_y_deg), layout=layout
    )
    distance = (
        x[..., None] * base.normals[:, 0] + y[..., None] * base.normals[:, 1] - base.offsets_m
    )
    line = np.argmin(distance, axis=-1)
    margin = np.take_along_axis(distance, line[..., None], axis=-1)[..., 0]
    return Resultant(np.broadcast_to(total, x.shape), x, y, margin, line)


def _acting_point(
    slew_deg: ArrayLike,
    boom: BoomState,
    masses: MachineMasses,
    *,
    load_t: ArrayLike,
    tilt_deg: tuple[ArrayLike, ArrayLike],
    layout: Layout,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Total mass and x and y of where it acts."""
    check_layout(layout, slew_deg, boom)
    load = require_non_negative("load_t", load_t)
    slew = np.radians(require_finite("slew_deg", np.atleast_1d(np.asarray(slew_deg, float))))
    if layout == "grid":
        slew = slew[:, None]
    total = masses.carrier_mass_t + masses.slewing_mass_t + boom.mass_t + load
    along = (
        masses.slewing_mass_t * masses.slewing_u_m + boom.mass_t * boom.u_m + load * boom.radius_m
    )
    x = (masses.carrier_mass_t * masses.carrier_x_m + along * np.cos(slew)) / total
    y = (masses.carrier_mass_t * masses.carrier_y_m + along * np.sin(slew)) / total
    tilt_x = require_between("tilt_x_deg", tilt_deg[0], -5.0, 5.0)
    tilt_y = require_between("tilt_y_deg", tilt_deg[1], -5.0, 5.0)
    if tilt_x.any() or tilt_y.any():
        raised = (
            masses.carrier_mass_t * masses.carrier_z_m
            + masses.slewing_mass_t * masses.slewing_z_m
            + boom.mass_t * boom.z_m
            + load * boom.head_z_m
        )
        height = require_finite("heights of the masses, needed for a tilt", raised / total)
        x = x + height * np.tan(np.radians(tilt_x))
        y = y + height * np.tan(np.radians(tilt_y))
    return total, x, y


def line_moments(
    slew_deg: ArrayLike,
    boom: BoomState,
    *,
    base: BasePolygon,
    masses: MachineMasses,
    load_t: ArrayLike = 0.0,
    adverse: AdverseTerms = NO_ADVERSE_TERMS,
    layout: Layout = "grid",
) -> LineMoments:
    """Moments about every tipping line, as a checker would write them down.

    Parameters as :func:`tipping_load_t`; ``load_t`` [t] broadcasts to (S, R) or (N,). Returns
    arrays with the tipping lines on the last axis.
    """
    check_layout(layout, slew_deg, boom)
    t = line_terms(boom, base, masses, adverse)
    direction = boom_direction(slew_deg)
    s = base.normals @ direction
    load = require_non_negative("load_t", load_t)
    fixed = affine_over_lines(s, t.b, t.a, layout)
    wind = np.zeros_like(fixed)
    if t.wind_a is not None and t.wind_b is not None:
        wind = -affine_over_lines(s, t.wind_b, t.wind_a, layout)
        fixed = fixed + wind
    overturn = affine_over_lines(s, t.d, t.c, layout)
    arm = overturn / adverse.dynamic_factor
    if t.k is not None:
        q = side_components(direction, base)
        overturn = overturn + (q[..., None] * t.k if layout == "grid" else q * t.k)
    load_moment = load * overturn
    against = load_moment + wind
    # next to no overturning moment: the ratio grows beyond all numbers
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        ratio = np.where(against > 0, fixed / against, np.inf)
    parts = (fixed * G_M_S2, arm, load_moment * G_M_S2, wind * G_M_S2, ratio)
    return LineMoments(*(np.moveaxis(p, 0, -1) for p in parts))


def leg_shares(x_m: ArrayLike, y_m: ArrayLike, *, base: BasePolygon) -> FloatArray:
    """Share of the weight on each of four legs for a resultant at (x, y).

    Rigid carrier on four equal springs that cannot pull. Equilibrium leaves one free number: R = R0
    + t v, where R0 is the solution of least squares (the four springs in contact) and v the
    self-balanced pattern of the four legs. If a leg of R0 would pull, contact is lost there, and t
    is the nearest value at which every R >= 0.

    Parameters:
      x_m, y_m: array_like, shape (...). Where the total weight acts, inside the base. [m]
      base: BasePolygon. Four legs set down.
    Returns: ndarray, shape (..., 4): shares FL, FR, RR, RL, >= 0, summing to 1; NaN where the
      resultant lies outside the base, for then no leg forces hold the machine.
    Raises: A base of three legs, or a point that is not finite.
    """
    if not np.all(np.isfinite(base.leg_xy_m)):
        raise InputError.of("base", "three legs", "four legs set down")
    x, y = np.broadcast_arrays(require_finite("x_m", x_m), require_finite("y_m", y_m))
    equations = np.vstack([np.ones(4), base.leg_xy_m.T])
    r0 = np.stack([np.ones_like(x), x, y], axis=-1) @ np.linalg.pinv(equations).T
    if np.all(r0 >= 0):  # no leg would pull: t = 0
        return np.asarray(r0)
    v = np.linalg.svd(equations)[2][3]
    with np.errstate(divide="ignore", invalid="ignore"):
        limit = -r0 / v
    low = np.where(v > 1e-12, limit, -np.inf).max(axis=-1)
    high = np.where(v < -1e-12, limit, np.inf).min(axis=-1)
    t = np.clip(0.0, low, np.maximum(low, high))
    share: FloatArray = np.maximum(r0 + t[..., None] * v, 0.0)
    fixed = np.abs(v) <= 1e-12  # a leg that carries the same whatever t is
    outside = (low > high + 1e-12) | np.any(fixed & (r0 < -1e-12), axis=-1)
    return np.where(outside[..., None], np.nan, share)


def side_shares(
    slew_deg: ArrayLike,
    boom: BoomState,
    *,
    base: BasePolygon,
    masses: MachineMasses,
    load_t: ArrayLike = 0.0,
    tilt_x_deg: ArrayLike = 0.0,
    tilt_y_deg: ArrayLike = 0.0,
    layout: Layout = "grid",
) -> SideShares:
    """Share of the total weight on front, rear, left and right, and the least loaded side.

    Parameters as :func:`resultant`; leg shares as :func:`leg_shares`.
    """
    at = resultant(
        slew_deg,
        boom,
        base=base,
        masses=masses,
        load_t=load_t,
        tilt_x_deg=tilt_x_deg,
        tilt_y_deg=tilt_y_deg,
        layout=layout,
    )
    legs = leg_shares(at.x_m, at.y_m, base=base)
    sides = legs @ _SIDE_LEGS.T
    return SideShares(legs, sides, sides.min(axis=-1), np.argmin(sides, axis=-1))


def boom_side_share(
    slew_deg: ArrayLike,
    boom: BoomState,
    *,
    base: BasePolygon,
    masses: MachineMasses,
    tilt_x_deg: ArrayLike = 0.0,
    tilt_y_deg: ArrayLike = 0.0,
) -> FloatArray:
    """Share of weight under the boom without load.

    Parameters as :func:`resultant`, every slew with every radius.

    Raises: The slew centre lies outside the base.
    """
    _around_slew_centre(base)
    _, x, y = _acting_point(
        slew_deg, boom, masses, load_t=0.0, tilt_deg=(tilt_x_deg, tilt_y_deg), layout="grid"
    )
    slew = np.radians(np.atleast_1d(np.asarray(slew_deg, dtype=np.float64)))[:, None]
    return _share_ahead(x, y, np.cos(slew), np.sin(slew), base)


def _around_slew_centre(base: BasePolygon) -> None:
    if not np.all(base.offsets_m < 0):
        raise InputError.of("base", "beside the slew centre", "a base around the slew centre")


def _share_ahead(
    x_m: FloatArray, y_m: FloatArray, cos: FloatArray, sin: FloatArray, base: BasePolygon
) -> FloatArray:
    """Share of the legs ahead of the slew centre in the boom direction."""
    ahead = cos[..., None] * base.leg_xy_m[:, 0] + sin[..., None] * base.leg_xy_m[:, 1] > 1e-9
    share: FloatArray = np.sum(leg_shares(x_m, y_m, base=base) * ahead, axis=-1)
    return share
