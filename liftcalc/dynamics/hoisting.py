"""Dynamic effects: hoisting and sudden release, and the swing of a load that slews with the crane.

Sources: ISO 8686-1 / EN 13001-2, hoisting classes HC1 to HC4: the constants are second-hand, quoted
from EN 1991-3, Table 2.5, in a report on a runway beam that names no edition; neither crane
standard was seen. Later editions of EN 13001-2 make the speed to be used depend on the hoist drive
class (HD1 to HD5); that table is not in here: state the speed at which the load really leaves the
ground. Swing: Newton's second law; vibration textbooks (undamped pendulum). How much side load a
boom may take is the manufacturer's to say.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base import errors
from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_non_negative, require_positive
from liftcalc.base.units import G_M_S2

HoistClass = Literal["HC1", "HC2", "HC3", "HC4"]

HOIST_CLASSES: dict[HoistClass, tuple[float, float]] = {
    "HC1": (1.05, 0.17),
    "HC2": (1.10, 0.34),
    "HC3": (1.15, 0.51),
    "HC4": (1.20, 0.68),
}
"""Hoisting classes. Columns: class | phi2min (at zero speed) | beta2 [s/m]. EN 1991-3 Table 2.5,
second-hand, no edition."""

MAX_HOIST_SPEED_M_S = 1.5
"""Greatest hoisting speed the linear rule was drawn for (ISO 8686-1:1989, from memory)."""


def refuse_snatch(*, slack_rope_m: ArrayLike = 0.0, load_held_down: bool = False) -> None:
    """Raise if the lift would snatch: picking up with slack rope, or a load held down.

    No factor covers a snatch; it is refused, not calculated.

    Parameters:
      slack_rope_m: >= 0. [m] Slack left in hoist rope or slings when the hoist runs at its speed.
      load_held_down: Frozen in, bedded, bolted or wedged: it could let go suddenly.
    Raises: Any slack at all, or a load held down.
    """
    slack = require_non_negative("slack_rope_m", slack_rope_m)
    if np.any(slack > 0.0):
        raise InputError.of(
            "slack_rope_m", float(slack.max()), "0 (a snatch is refused)",
            "Take the slack out at creep speed before hoisting.",
        )  # fmt: skip
    if load_held_down:
        raise InputError.of(
            "load_held_down", True, "a load that is free (a snatch is refused)",
            "Free the load first; never pull it loose with the crane.",
        )  # fmt: skip


@dataclass(frozen=True)
class HoistFactor:
    """Hoist factor phi2 and the constants it came from."""

    phi2_min: float
    beta2_s_m: float
    hoist_speed_m_s: FloatArray
    phi2: FloatArray
    source: str = "EN 13001-2 / ISO 8686-1; constants second-hand from EN 1991-3 Table 2.5"


def hoist_factor(hoist_speed_m_s: ArrayLike, hoist_class: HoistClass) -> HoistFactor:
    """Factor on the hoisted load when it is lifted off the ground: phi2 = phi2min + beta2 v.

    Parameters:
      hoist_speed_m_s: 0 to 1.5. [m/s] Speed at which the load leaves the ground: creep speed where
        the drive makes sure of it, else the greatest hoisting speed of the load.
      hoist_class: {"HC1", "HC2", "HC3", "HC4"}. From soft (HC1) to stiff (HC4) response of crane and support.
    Raises: Speed outside 0 to 1.5 m/s, unknown class.
    Source: EN 13001-2 / ISO 8686-1; constants as quoted from EN 1991-3 Table 2.5
      (second-hand, no edition); the speed limit is from memory of ISO 8686-1:1989.
    """
    speed = require_between("hoist_speed_m_s", hoist_speed_m_s, 0.0, MAX_HOIST_SPEED_M_S)
    try:
        phi2_min, beta2 = HOIST_CLASSES[hoist_class]
    except KeyError:
        raise InputError.of("hoist_class", hoist_class, ", ".join(HOIST_CLASSES)) from None
    return HoistFactor(phi2_min, beta2, speed, np.asarray(phi2_min + beta2 * speed))


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

    First pass F = m w^2 R, tan(a) = w^2 R / g. Equilibrium: g tan(a) = w^2 (R + L sin(a)), by Newton's method.
    Tangential: F = m R dw/dt, tan(b) = R (dw/dt)/g. The side load ratio is the peak tangential force over the weight,
    to be held against what the manufacturer allows for side load.

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
    mass, radius, rope, omega, alpha = (np.array(a) for a in np.broadcast_arrays(mass, radius, rope, omega, alpha))
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
            raise errors.ConvergenceError("the rope angle of the slewing load was not found")
    peak = 2.0 * np.arctan2(radius * alpha, G_M_S2)
    for name, value in (("equilibrium_angle_deg", angle), ("peak_tangential_angle_deg", peak)):
        worst = float(np.degrees(value).max()) if value.size else 0.0
        if not worst <= MAX_SWING_DEG:
            raise InputError.of(name, round(worst, 2), f"0 to {MAX_SWING_DEG:g}", "Slew slower or start softer.")
    side = mass * radius * alpha
    return SlewingEffect(
        equilibrium_angle_deg=np.degrees(angle), radius_growth_m=rope * np.sin(angle),
        peak_tangential_angle_deg=np.degrees(peak), side_load_ratio=2.0 * side / (mass * G_M_S2),
    )  # fmt: skip
