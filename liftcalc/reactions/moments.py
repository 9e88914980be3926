"""Resultant, moments and shares of weight: the working behind a stability figure.

Signs as in :mod:`liftcalc.crane.stability`; shares are of the total weight, compression positive.

Sources: statics. Limit from ASME B30.5, edition not seen: 15 % of the weight on the boom-side legs,
from memory; an argument of the check, never built in.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray, IntArray
from liftcalc.base.errors import InputError, require_between, require_finite, require_non_negative
from liftcalc.base.units import G_M_S2
from liftcalc.crane import stability
from liftcalc.crane.legs import BasePolygon
from liftcalc.crane.masses import NO_ADVERSE_TERMS, AdverseTerms, BoomState, MachineMasses, weight_and_moment
from liftcalc.crane.stability import Layout, affine_over_lines, along_boom, check_layout, line_terms
from liftcalc.reactions.carrier import leg_reactions_kN

_SIDE_LEGS = np.array([[1, 1, 0, 0], [0, 0, 1, 1], [1, 0, 0, 1], [0, 1, 1, 0]], dtype=np.float64)
"""Legs FL, FR, RR, RL of the front, the rear, the left and the right side."""


@dataclass(frozen=True)
class Resultant:
    """Total mass and where it acts on the base plane."""

    total_t: FloatArray
    x_m: FloatArray
    y_m: FloatArray
    margin_m: FloatArray
    """Distance to the nearest tipping line, negative beyond it."""
    line: IntArray
    """Index of that line in ``base.edge_legs``."""


@dataclass(frozen=True)
class LineMoments:
    """Moments about each tipping line, last axis E; positive holds the machine upright."""

    fixed_moment_kNm: FloatArray
    """All masses but the load (tilt included)."""
    load_arm_m: FloatArray
    """Horizontal distance of the load beyond the line (negative: the load is inside it)."""
    wind_moment_kNm: FloatArray
    """Overturning moment of the wind."""


def acting_point(
    slew_deg: ArrayLike,
    boom: BoomState,
    masses: MachineMasses,
    *,
    load_t: ArrayLike = 0.0,
    tilt_x_deg: ArrayLike = 0.0,
    tilt_y_deg: ArrayLike = 0.0,
    layout: Layout = "grid",
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Total mass, and x and y of the point of the base plane on which it acts.

    Parameters:
      slew_deg, boom, masses, layout: As :func:`liftcalc.crane.stability.tipping_load_t`.
      load_t: shape (R,) or scalar; also (S, R) on a grid. Load at the head, >= 0. [t]
      tilt_x_deg, tilt_y_deg: -5 to 5, broadcast with the result. Lean of the machine toward +x and
        +y: every mass moves by its height times tan(tilt), the load with the head. [deg]
    Returns: total [t], x [m], y [m], broadcasting to (S, R) or (N,).
    """
    check_layout(layout, slew_deg, boom)
    slew = np.radians(require_finite("slew_deg", np.atleast_1d(np.asarray(slew_deg, float))))
    if layout == "grid":
        slew = slew[:, None]
    on = weight_and_moment(masses, boom, require_non_negative("load_t", load_t))
    x = (on.fixed_x_tm + on.slewing_tm * np.cos(slew)) / on.mass_t
    y = (on.fixed_y_tm + on.slewing_tm * np.sin(slew)) / on.mass_t
    tilt_x = require_between("tilt_x_deg", tilt_x_deg, -5.0, 5.0)
    tilt_y = require_between("tilt_y_deg", tilt_y_deg, -5.0, 5.0)
    if tilt_x.any() or tilt_y.any():
        height = require_finite("heights of the masses, needed for a tilt", on.height_m)
        x = x + height * np.tan(np.radians(tilt_x))
        y = y + height * np.tan(np.radians(tilt_y))
    return np.broadcast_to(on.mass_t, x.shape), x, y


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
    """Total mass, the point of the base plane on which it acts, and its nearest tipping line.

    Parameters:
      slew_deg, boom, masses, load_t, tilt_x_deg, tilt_y_deg, layout: As :func:`acting_point`.
    """
    total, x, y = acting_point(
        slew_deg, boom, masses, load_t=load_t, tilt_x_deg=tilt_x_deg, tilt_y_deg=tilt_y_deg, layout=layout
    )
    distance = x[..., None] * base.normals[:, 0] + y[..., None] * base.normals[:, 1] - base.offsets_m
    line = np.argmin(distance, axis=-1)
    margin = np.take_along_axis(distance, line[..., None], axis=-1)[..., 0]
    return Resultant(np.broadcast_to(total, x.shape), x, y, margin, line)


def line_moments(
    slew_deg: ArrayLike,
    boom: BoomState,
    *,
    base: BasePolygon,
    masses: MachineMasses,
    adverse: AdverseTerms = NO_ADVERSE_TERMS,
    layout: Layout = "grid",
) -> LineMoments:
    """Moments about every tipping line, as a checker would write them down.

    Parameters as :func:`liftcalc.crane.stability.tipping_load_t`.

    Returns: LineMoments. Arrays with the tipping lines on the last axis. [kNm, m]
    """
    check_layout(layout, slew_deg, boom)
    t = line_terms(boom, base.lines, masses, adverse)
    s = along_boom(stability.boom_direction(slew_deg), base.lines)
    fixed = affine_over_lines(s, t.b, t.a, layout)
    wind = np.zeros_like(fixed)
    if t.wind_a is not None and t.wind_b is not None:
        wind = -affine_over_lines(s, t.wind_b, t.wind_a, layout)
        fixed = fixed + wind
    arm = affine_over_lines(s, t.d, t.c, layout) / adverse.dynamic_factor
    parts = (fixed * G_M_S2, arm, wind * G_M_S2)
    return LineMoments(*(np.moveaxis(p, 0, -1) for p in parts))


def leg_shares(x_m: ArrayLike, y_m: ArrayLike, *, base: BasePolygon) -> FloatArray:
    """Share of the weight on each of four legs for a resultant at (x, y).

    Rigid carrier on four equal springs that cannot pull.

    Parameters:
      x_m, y_m: Where the total weight acts, inside the base. [m]
      base: BasePolygon. Four legs set down.
    Returns: ndarray, shape (..., 4): shares FL, FR, RR, RL, >= 0, summing to 1; NaN where the
      resultant lies outside the base, for then no leg forces hold the machine.
    Raises: A base of three legs.
    """
    if not np.all(np.isfinite(base.leg_xy_m)):
        raise InputError.of("base", "three outriggers", "four outriggers set down")
    xy = np.stack(np.broadcast_arrays(require_finite("x_m", x_m), require_finite("y_m", y_m)), axis=-1)
    return leg_reactions_kN(1.0, xy, leg_xy_m=base.leg_xy_m).reaction_kN


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
) -> FloatArray:
    """Share of the total weight on front, rear, left and right (last axis).

    Parameters as :func:`resultant`.

    Returns: ndarray, shape (S, R, 4), or (N, 4) in pairs; NaN where the resultant lies outside the base.
    """
    _, x, y = acting_point(
        slew_deg, boom, masses, load_t=load_t, tilt_x_deg=tilt_x_deg, tilt_y_deg=tilt_y_deg, layout=layout
    )
    return np.asarray(leg_shares(x, y, base=base) @ _SIDE_LEGS.T)


def boom_side_share(
    slew_deg: ArrayLike,
    boom: BoomState,
    *,
    base: BasePolygon,
    masses: MachineMasses,
    tilt_x_deg: ArrayLike = 0.0,
    tilt_y_deg: ArrayLike = 0.0,
) -> FloatArray:
    """Share of weight under the boom without load, for every slew and radius.

    Parameters as :func:`resultant`. The legs under the boom are those ahead of the slew centre in
    the boom direction (legs exactly abeam count as not under the boom).

    Raises: The slew centre lies outside the base.
    """
    if not np.all(base.offsets_m < 0):
        raise InputError.of("base", "beside the slew centre", "a base around the slew centre")
    _, x, y = acting_point(slew_deg, boom, masses, tilt_x_deg=tilt_x_deg, tilt_y_deg=tilt_y_deg)
    slew = np.radians(np.atleast_1d(np.asarray(slew_deg, dtype=np.float64)))[:, None, None]
    legs = base.leg_xy_m
    ahead = np.cos(slew) * legs[:, 0] + np.sin(slew) * legs[:, 1] > 1e-9
    return np.asarray(np.sum(leg_shares(x, y, base=base) * ahead, axis=-1))
