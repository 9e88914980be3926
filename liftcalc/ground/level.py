"""From settlement of the legs to tilt, radius growth and new reactions, until all agree.

Heights are positive upwards, settlements positive downwards. A tilt is positive when the machine
leans toward +x (front low) or +y (left low), as in :mod:`liftcalc.crane.masses`. Four legs are
seldom in one plane: the plane is the least-squares one and what is left over is reported as twist.

Sources: Geometry. The usual limit of 1 % out of level: ISO 4305 (scope), SAE J765 (second-hand, no
editions), 29 CFR 1926.1431(c); many manufacturers ask for 0.5 %, so it is always an argument.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base import errors
from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import ConvergenceError, InputError, require_finite, require_positive
from liftcalc.crane.masses import tilted_radius_m

_TOLERANCE_M = 1e-4
"""Radius that may still move in the last round. [m]"""
_MAX_ROUNDS = 100


@dataclass(frozen=True)
class PlaneFit:
    """Least-squares plane through the floats.

    Attributes:
      tilt_x, tilt_y: fall per metre towards +x and +y (lean that way). [-]
      twist_m: shape (..., N), plane height minus leg height.
      slope_max_percent: steepest slope of the plane.
    """

    tilt_x: FloatArray
    tilt_y: FloatArray
    twist_m: FloatArray
    slope_max_percent: FloatArray


def plane_fit(
    height_m: ArrayLike, *, leg_x_m: ArrayLike, leg_y_m: ArrayLike, standing: ArrayLike | None = None
) -> PlaneFit:
    """Plane through height_m (..., N), upwards positive, of the legs that stand on the ground.

    A settlement enters negative. leg_x_m and leg_y_m (N,) are the leg points in the machine frame;
    *standing* (..., N) are those that carry load, all if None: lifted legs do not shape the plane.

    Raises: Fewer than three standing legs, or all in one line.
    """
    z, x = require_finite("height_m", height_m), require_finite("leg_x_m", leg_x_m)
    y = require_finite("leg_y_m", leg_y_m)
    if x.ndim != 1 or x.shape != y.shape or z.ndim == 0 or z.shape[-1] != x.size:
        raise InputError.of("height_m", z.shape, f"one height for each of {x.size} outriggers")
    on = np.ones(z.shape, dtype=bool) if standing is None else np.asarray(standing, dtype=bool)
    weight = np.broadcast_to(on, z.shape).astype(np.float64)
    if not np.all(weight.sum(axis=-1) >= 3):
        need = "three or more standing outriggers"
        remedy = "The crane is tipping."
        raise InputError.of("standing", int(weight.sum(axis=-1).min()), need, remedy)
    basis = np.stack([np.ones_like(x), x, y])
    normal = np.einsum("in,jn,...n->...ij", basis, basis, weight)
    if not np.all(np.linalg.cond(normal, "fro") < 1e10):
        raise InputError.of("leg_x_m, leg_y_m", "in one line", "outriggers that span an area")
    c = np.linalg.solve(normal, np.einsum("in,...n->...i", basis, weight * z)[..., None])[..., 0]
    plane = c @ basis
    tx, ty = -c[..., 1], -c[..., 2]
    return PlaneFit(
        tilt_x=tx, tilt_y=ty, twist_m=np.asarray(plane - z), slope_max_percent=np.asarray(100.0 * np.hypot(tx, ty))
    )


@dataclass(frozen=True)
class LevelCheck:
    """Steepest slope of the carrier against its limit."""

    slope_percent: FloatArray
    within_limit: NDArray[np.bool_]


def level_check(pitch_percent: ArrayLike, roll_percent: ArrayLike, *, limit_percent: float) -> LevelCheck:
    """Check the combined out-of-level of pitch_percent and roll_percent, along two square axes.

    The steepest slope of a plane is the root sum of squares of the two. limit_percent, at most 5,
    is what the manufacturer or the rule allows.

    Source: Geometry; 1 % in ISO 4305 (scope), SAE J765 and 29 CFR 1926.1431(c).
    """
    limit = errors.require_between("limit_percent", limit_percent, 0.0, 5.0)
    limit = require_positive("limit_percent", limit)
    pitch = require_finite("pitch_percent", pitch_percent)
    slope = np.hypot(pitch, require_finite("roll_percent", roll_percent))
    # a hair of rounding above the limit is the limit itself
    return LevelCheck(np.asarray(slope), np.asarray(slope / limit <= 1.0 + 1e-12))


@dataclass(frozen=True)
class LevelledState:
    """Reactions, settlement, tilt and radius that agree with each other.

    Attributes:
      reaction_kN, settlement_m: shape (..., N).
      plane: :class:`PlaneFit` of the settlement alone.
      tilt_x, tilt_y: set-up tilt and settlement together; fall per metre towards +x and +y. [-]
      tilt_toward_load_deg, tilt_sideways_deg: of the carrier, seen along the boom; sideways is.
        positive when the load moves anticlockwise.
      radius_m, radius_growth_m, sideways_m: of the load, and how far it moved.
      level: :class:`LevelCheck`.
    """

    reaction_kN: FloatArray
    settlement_m: FloatArray
    plane: PlaneFit
    tilt_x: FloatArray
    tilt_y: FloatArray
    tilt_toward_load_deg: FloatArray
    tilt_sideways_deg: FloatArray
    radius_m: FloatArray
    radius_growth_m: FloatArray
    sideways_m: FloatArray
    level: LevelCheck


def levelled_state(
    reactions: Callable[[FloatArray, FloatArray], ArrayLike],
    settlement: Callable[[FloatArray], ArrayLike],
    *,
    leg_x_m: ArrayLike,
    leg_y_m: ArrayLike,
    slew_deg: ArrayLike,
    radius_m: ArrayLike,
    head_height_m: ArrayLike,
    limit_percent: float,
    setup_tilt_x: ArrayLike = 0.0,
    setup_tilt_y: ArrayLike = 0.0,
) -> LevelledState:
    """Iterate reaction -> settlement -> tilt -> radius -> reaction until nothing moves.

    Conservative in one way: the whole settlement of the loaded state is taken as tilt, as if the
    machine had been levelled without load.

    Parameters:
      reactions: callable (radius_m, sideways_m) -> (..., N). Leg reactions for the load at that
        radius, moved sideways from the boom's line. [kN]
      settlement: callable (reaction_kN) -> (..., N). Settlement of each leg, downwards positive. [m]
      leg_x_m, leg_y_m: shape (N,). [m]
      slew_deg, radius_m, head_height_m: Slew, radius of the level machine, and height of the boom
        head above ground. [degrees, m]
      limit_percent: Out-of-level limit, as in :func:`level_check`. [%]
      setup_tilt_x, setup_tilt_y: Lean toward +x and +y with which the machine was set up; fall per metre. [-]
    Raises: Anything not finite or outside its range; fewer than three legs left standing.
      ConvergenceError: The machine keeps leaning further (radius still moving after 100 rounds,
      a tilt beyond 5 degrees, or a reaction or settlement that is not finite).
    Source: Geometry and statics; fixed-point iteration.
    """
    slew = np.deg2rad(require_finite("slew_deg", slew_deg))
    r0 = require_positive("radius_m", radius_m)
    head = errors.require_non_negative("head_height_m", head_height_m)
    tx0 = require_finite("setup_tilt_x", setup_tilt_x)
    ty0 = require_finite("setup_tilt_y", setup_tilt_y)
    slew, r0, head, tx0, ty0 = np.broadcast_arrays(slew, r0, head, tx0, ty0)
    cos, sin = np.cos(slew), np.sin(slew)

    def lean(tx: FloatArray, ty: FloatArray) -> tuple[FloatArray, ...]:
        toward = np.rad2deg(np.arctan(tx * cos + ty * sin))
        aside = np.rad2deg(np.arctan(ty * cos - tx * sin))
        if not (np.all(np.abs(toward) <= 5.0) and np.all(np.abs(aside) <= 5.0)):
            raise ConvergenceError("levelled_state: the crane tilts by more than 5 degrees")
        radius = tilted_radius_m(r0, head, tilt_toward_load_deg=toward)
        return toward, aside, radius, np.asarray(head * np.sin(np.deg2rad(aside)))

    toward, aside, radius, sideways = lean(tx0, ty0)
    for _ in range(_MAX_ROUNDS):
        force = np.asarray(reactions(radius, sideways), dtype=np.float64)
        sink = np.asarray(settlement(force), dtype=np.float64)
        if not (np.isfinite(force).all() and np.isfinite(sink).all()):
            raise ConvergenceError("levelled_state: a reaction or settlement is not finite")
        plane = plane_fit(-sink, leg_x_m=leg_x_m, leg_y_m=leg_y_m, standing=force > 0.0)
        tx, ty = tx0 + plane.tilt_x, ty0 + plane.tilt_y
        toward, aside, new, new_side = lean(tx, ty)
        moved = max(float(np.abs(new - radius).max()), float(np.abs(new_side - sideways).max()))
        radius, sideways = new, new_side
        if moved < _TOLERANCE_M:
            return LevelledState(
                reaction_kN=force, settlement_m=sink, plane=plane, tilt_x=np.asarray(tx),
                tilt_y=np.asarray(ty), tilt_toward_load_deg=toward, tilt_sideways_deg=aside,
                radius_m=radius, radius_growth_m=np.asarray(radius - r0), sideways_m=sideways,
                level=level_check(100.0 * tx, 100.0 * ty, limit_percent=limit_percent),
            )  # fmt: skip
    raise ConvergenceError(
        f"levelled_state: after {_MAX_ROUNDS} rounds the radius still moves by {moved:.4f} m; "
        "the crane keeps tilting further. Stiffen the ground or lessen the load."
    )
