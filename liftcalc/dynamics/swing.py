"""Swing of the load: slewing, luffing, travelling, starting and stopping.

Sources: Newton's second law; vibration textbooks (undamped pendulum). How much side load a boom may
take is the manufacturer's to say.
"""

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

MAX_SWING_DEG = 15.0
"""Small-angle limit of the pendulum formulas; they err by less than 1 % below it."""


@dataclass(frozen=True)
class SlewingEffect:
    """Side load and radius growth of a load that slews with the crane.

    ``equilibrium_angle_deg`` and ``radius_growth_m`` are those of the swung load. The peak lag at
    a steady angular acceleration is twice the mean, where the drive starts or stops suddenly.
    """

    equilibrium_angle_deg: FloatArray
    radius_growth_m: FloatArray
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
    peak tangential force over the weight, to be held against what the manufacturer allows for side
    load.

    Parameters:
      load_t: > 0. [t]
      load_radius_m: > 0. [m] Radius with the rope plumb, from the slew axis.
      slew_speed_rev_min: >= 0. [rev/min]
      rope_length_m: > 0. [m] Boom head sheave to the load's centre of gravity.
      acceleration_time_s: array_like or None, > 0. [s] Time to reach (or stop from) the slew speed
        at a steady rate. None: the speed is steady and the tangential terms are zero.
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
    angle = np.arctan2(w2 * radius, G_M_S2)
    for _ in range(30):
        residual = np.tan(angle) - w2 * (radius + rope * np.sin(angle)) / G_M_S2
        step = residual / (1.0 / np.cos(angle) ** 2 - stiffening * np.cos(angle))
        angle = angle - step
        if np.all(np.abs(step) <= 1e-14):
            break
    else:
        if not np.all(np.abs(step) <= 1e-10):
            raise ConvergenceError("the rope angle of the slewing load was not found")
    peak = 2.0 * np.arctan2(radius * alpha, G_M_S2)
    for name, value in (("equilibrium_angle_deg", angle), ("peak_tangential_angle_deg", peak)):
        worst = float(np.degrees(value).max()) if value.size else 0.0
        if not worst <= MAX_SWING_DEG:
            raise InputError.of(
                name, round(worst, 2), f"0 to {MAX_SWING_DEG:g}", "Slew slower or start softer."
            )
    side = mass * radius * alpha
    return SlewingEffect(
        equilibrium_angle_deg=np.degrees(angle), radius_growth_m=rope * np.sin(angle),
        peak_tangential_angle_deg=np.degrees(peak), side_load_ratio=2.0 * side / (mass * G_M_S2),
    )  # fmt: skip
