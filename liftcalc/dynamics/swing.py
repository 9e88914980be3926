"""Swing of the load: slewing, luffing, travelling, starting and stopping.

Sources: Newton's second law; vibration textbooks (undamped pendulum). How much side load a boom may
take is the maker's to say.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import (
    ConvergenceError,
    InputError,
    require_non_negative,
    require_positive,
)
from liftcalc.base.units import G_M_S2

__all__ = [
    "PendulumSwing",
    "SlewingEffect",
    "pendulum_swing",
    "slewing_effect",
]


MAX_SWING_DEG = 15.0
"""Small-angle limit of the pendulum formulas; they err by less than 1 % below it."""


@dataclass(frozen=True)
class SlewingEffect:
    """Side load and radius growth of a load that slews with the crane.

    ``centrifugal_force_kN`` and ``centrifugal_angle_deg`` are the first pass at the plumb
    radius; ``equilibrium_angle_deg`` and ``radius_growth_m`` are those of the swung load.
    ``tangential_*`` belong to a steady angular acceleration: mean lag of the load, and the
    peak, which is twice as great where the drive starts or stops suddenly.
    """

    angular_speed_rad_s: FloatArray
    angular_acceleration_rad_s2: FloatArray
    centrifugal_force_kN: FloatArray
    centrifugal_angle_deg: FloatArray
    equilibrium_angle_deg: FloatArray
    equilibrium_force_kN: FloatArray
    radius_growth_m: FloatArray
    tangential_force_kN: FloatArray
    tangential_angle_deg: FloatArray
    tangential_offset_m: FloatArray
    peak_tangential_force_kN: FloatArray
    peak_tangential_angle_deg: FloatArray
    side_load_ratio: FloatArray


def slewing_effect(
    load_t: ArrayLike,
    load_radius_m: ArrayLike,
    *,
    slew_speed_rev_min: ArrayLike,
    rope_length_m: ArrayLike,
    acceleration_time_s: ArrayLike | None = None,
) -> SlewingEffect:
    """Centrifugal radius growth and tangential side load of a slewing load.

    First pass F = m w^2 R, tan(a) = w^2 R / g. Equilibrium: g tan(a) = w^2 (R + L sin(a)), by
    Newton's method. Tangential: F = m R dw/dt, tan(b) = R (dw/dt)/g. The side load ratio is the
    peak tangential force over the weight, to be held against what the maker allows for side load.

    Parameters:
      load_t: array_like, shape (...), > 0. [t]
      load_radius_m: array_like, > 0. [m] Radius with the rope plumb, from the slew axis.
      slew_speed_rev_min: array_like, >= 0. [rev/min]
      rope_length_m: array_like, > 0. [m] Boom head sheave to the load's centre of gravity.
      acceleration_time_s: array_like or None, > 0. [s] Time to reach (or stop from) the slew speed
        at a steady rate. None: the speed is steady and the tangential terms are zero.
    Returns: SlewingEffect. Arrays of the broadcast shape.
    Raises: So fast that the rope has no steady angle (w^2 L >= g/2) or a swing beyond 15 degrees.
      ConvergenceError: The equilibrium angle was not found (not expected inside the ranges).
    Source: Newton's second law; conical pendulum.
    """
    mass = require_positive("load_t", load_t)
    radius = require_positive("load_radius_m", load_radius_m)
    rope = require_positive("rope_length_m", rope_length_m)
    omega = require_non_negative("slew_speed_rev_min", slew_speed_rev_min) * (2.0 * np.pi / 60.0)
    if acceleration_time_s is None:
        alpha = np.zeros_like(omega)
    else:
        alpha = omega / require_positive("acceleration_time_s", acceleration_time_s)
    mass, radius, rope, omega, alpha = (
        np.array(a) for a in np.broadcast_arrays(mass, radius, rope, omega, alpha)
    )
    w2 = omega**2
    stiffening = w2 * rope / G_M_S2
    if not np.all(stiffening < 0.5):
        raise InputError.of(
            "slew_speed_rev_min",
            round(float(omega.max()) * 30.0 / np.pi, 4),
            "slow enough for a steady rope angle (w^2 L below g/2)",
            "Slew slower.",
        )
    first = np.arctan2(w2 * radius, G_M_S2)
    angle = first.copy()
    for _ in range(30):
        residual = np.tan(angle) - w2 * (radius + rope * np.sin(angle)) / G_M_S2
        step = residual / (1.0 / np.cos(angle) ** 2 - stiffening * np.cos(angle))
        angle = angle - step
        if np.all(np.abs(step) <= 1e-14):
            break
    else:
        if not np.all(np.abs(step) <= 1e-10):
            raise ConvergenceError("the rope angle of the slewing load was not found")
    tangential = np.arctan2(radius * alpha, G_M_S2)
    peak = 2.0 * tangential
    for name, value in (("equilibrium_angle_deg", angle), ("peak_tangential_angle_deg", peak)):
        worst = float(np.degrees(value).max()) if value.size else 0.0
        if not worst <= MAX_SWING_DEG:
            raise InputError.of(
                name, round(worst, 2), f"0 to {MAX_SWING_DEG:g}", "Slew slower or start softer."
            )
    growth = rope * np.sin(angle)
    side = mass * radius * alpha
    return SlewingEffect(
        angular_speed_rad_s=omega,
        angular_acceleration_rad_s2=alpha,
        centrifugal_force_kN=mass * w2 * radius,
        centrifugal_angle_deg=np.degrees(first),
        equilibrium_angle_deg=np.degrees(angle),
        equilibrium_force_kN=mass * w2 * (radius + growth),
        radius_growth_m=growth,
        tangential_force_kN=side,
        tangential_angle_deg=np.degrees(tangential),
        tangential_offset_m=rope * np.sin(tangential),
        peak_tangential_force_kN=2.0 * side,
        peak_tangential_angle_deg=np.degrees(peak),
        side_load_ratio=2.0 * side / (mass * G_M_S2),
    )


@dataclass(frozen=True)
class PendulumSwing:
    """Swing of the load after a change of speed of its point of suspension."""

    period_s: FloatArray
    acceleration_m_s2: FloatArray
    mean_angle_deg: FloatArray
    peak_angle_deg: FloatArray
    residual_angle_deg: FloatArray
    peak_offset_m: FloatArray
    peak_side_force_ratio: FloatArray


def pendulum_swing(
    speed_change_m_s: ArrayLike, rope_length_m: ArrayLike, *, acceleration_time_s: ArrayLike
) -> PendulumSwing:
    """Swing of the load when boom head or crane starts, stops or changes speed.

    Small-angle pendulum from rest, base acceleration a for a time t, w = sqrt(g/L). While
    accelerating the angle is (a/g)(1 - cos wt): at most 2 a/g from half a period on. Afterwards it
    swings by 2 (a/g) abs(sin(wt/2)), at most dv/sqrt(gL). No damping.

    Parameters:
      speed_change_m_s: array_like, shape (...), >= 0. [m/s] Change of the horizontal speed of the
        boom head: slewing (w R), luffing, travelling.
      rope_length_m: array_like, > 0. [m]
      acceleration_time_s: array_like, > 0. [s] Time the change takes at a steady rate. A jolt is
        the limit of a short time.
    Returns: PendulumSwing. ``mean_angle_deg`` = a/g while accelerating; ``peak_angle_deg`` the
      greatest during or after; ``residual_angle_deg`` the swing left afterwards;
      ``peak_side_force_ratio`` the greatest horizontal rope force over the weight.
    Raises: A peak beyond 15 degrees (small-angle limit, and no way to handle a load).
    Source: Vibration textbooks (undamped response to a rectangular pulse).
    """
    change = require_non_negative("speed_change_m_s", speed_change_m_s)
    rope = require_positive("rope_length_m", rope_length_m)
    time = require_positive("acceleration_time_s", acceleration_time_s)
    change, rope, time = np.broadcast_arrays(change, rope, time)
    w = np.sqrt(G_M_S2 / rope)
    acceleration = change / time
    mean = acceleration / G_M_S2
    during = mean * np.where(w * time >= np.pi, 2.0, 1.0 - np.cos(w * time))
    residual = 2.0 * mean * np.abs(np.sin(0.5 * w * time))
    peak = np.maximum(during, residual)
    worst = float(np.degrees(peak).max()) if peak.size else 0.0
    if not worst <= MAX_SWING_DEG:
        raise InputError.of(
            "peak_angle_deg", round(worst, 2), f"0 to {MAX_SWING_DEG:g}", "Start or stop softer."
        )
    return PendulumSwing(
        period_s=2.0 * np.pi / w,
        acceleration_m_s2=acceleration,
        mean_angle_deg=np.degrees(mean),
        peak_angle_deg=np.degrees(peak),
        residual_angle_deg=np.degrees(residual),
        peak_offset_m=rope * np.sin(peak),
        peak_side_force_ratio=np.tan(peak),
    )
