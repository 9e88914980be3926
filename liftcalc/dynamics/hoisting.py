"""Dynamic factors of hoisting and of sudden release.

Sources: ISO 8686-1 / EN 13001-2, hoisting classes HC1 to HC4: the constants were seen second-hand,
quoted from an EN 1991-3 runway-beam report; neither crane standard was seen. Later editions of EN
13001-2 make the speed to be used depend on the hoist drive class (HD1 to HD5); that table is not in
here: state the speed at which the load really leaves the ground.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_non_negative, require_positive
from liftcalc.base.units import G_M_S2

__all__ = [
    "HOIST_CLASSES",
    "HoistAcceleration",
    "HoistClass",
    "HoistFactor",
    "ReleaseKind",
    "dynamic_test_factor",
    "hoist_acceleration",
    "hoist_factor",
    "refuse_snatch",
    "release_factor",
]

HoistClass = Literal["HC1", "HC2", "HC3", "HC4"]
ReleaseKind = Literal["slow", "rapid"]

# Class: (phi2 at zero speed, beta2 [s/m]). EN 1991-3 Table 2.5, seen second-hand.
HOIST_CLASSES: dict[HoistClass, tuple[float, float]] = {
    "HC1": (1.05, 0.17),
    "HC2": (1.10, 0.34),
    "HC3": (1.15, 0.51),
    "HC4": (1.20, 0.68),
}
_BETA3: dict[ReleaseKind, float] = {"slow": 0.5, "rapid": 1.0}

MAX_HOIST_SPEED_M_S = 1.5
"""Greatest hoisting speed the linear rule was drawn for (ISO 8686-1:1989, from memory)."""


def refuse_snatch(*, slack_rope_m: ArrayLike = 0.0, load_held_down: bool = False) -> None:
    """Raise if the lift would snatch: picking up with slack rope, or a load held down.

    No factor covers a snatch; it is refused, not calculated.

    Parameters:
      slack_rope_m: array_like, >= 0. [m] Slack left in hoist rope or slings when the hoist runs at
        its speed.
      load_held_down: bool. Frozen in, bedded, bolted or wedged: it could let go suddenly.
    Raises: Any slack at all, or a load held down.
    """
    slack = require_non_negative("slack_rope_m", slack_rope_m)
    if np.any(slack > 0.0):
        raise InputError.of(
            "slack_rope_m",
            float(slack.max()),
            "0 (a snatch is refused)",
            "Take the slack out at creep speed before hoisting.",
        )
    if load_held_down:
        raise InputError.of(
            "load_held_down",
            True,
            "a load that is free (a snatch is refused)",
            "Free the load first; never pull it loose with the crane.",
        )


@dataclass(frozen=True)
class HoistFactor:
    """Hoist factor phi2 and the constants it came from."""

    hoist_class: HoistClass
    phi2_min: float
    beta2_s_m: float
    hoist_speed_m_s: FloatArray
    phi2: FloatArray
    source: str = "EN 13001-2 / ISO 8686-1; constants seen second-hand from EN 1991-3 Table 2.5"


def hoist_factor(
    hoist_speed_m_s: ArrayLike, hoist_class: HoistClass, *, slack_rope_m: ArrayLike = 0.0
) -> HoistFactor:
    """Factor on the hoisted load when it is lifted off the ground: phi2 = phi2min + beta2 v.

    Parameters:
      hoist_speed_m_s: array_like, shape (...), 0 to 1.5. [m/s] Speed at which the load leaves the
        ground: creep speed where the drive makes sure of it, else the greatest hoisting speed of
        the load.
      hoist_class: {"HC1", "HC2", "HC3", "HC4"}. From soft (HC1) to stiff (HC4) response of crane
        and support.
      slack_rope_m: array_like, >= 0. [m] Must be 0: see :func:`refuse_snatch`.
    Returns: HoistFactor
    Raises: Speed outside 0 to 1.5 m/s, unknown class, any slack.
    Source: EN 13001-2 / ISO 8686-1; constants as quoted from EN 1991-3 Table 2.5 (seen
      second-hand); the speed limit is from memory of ISO 8686-1:1989.
    """
    refuse_snatch(slack_rope_m=slack_rope_m)
    speed = require_between("hoist_speed_m_s", hoist_speed_m_s, 0.0, MAX_HOIST_SPEED_M_S)
    try:
        phi2_min, beta2 = HOIST_CLASSES[hoist_class]
    except KeyError:
        raise InputError.of("hoist_class", hoist_class, ", ".join(HOIST_CLASSES)) from None
    return HoistFactor(hoist_class, phi2_min, beta2, speed, np.asarray(phi2_min + beta2 * speed))


def dynamic_test_factor(phi2: ArrayLike) -> FloatArray:
    """Factor on the dynamic test load: phi6 = (1 + phi2)/2.

    Parameters:
      phi2: array_like, shape (...), 1 to 3
    Returns: ndarray, shape (...)
    Raises: Phi2 outside its range or not finite.
    Source: EN 13001-2 / EN 1991-3 (relation seen second-hand).
    """
    factor = require_between("phi2", phi2, 1.0, 3.0)
    return np.asarray(0.5 * (1.0 + factor))


def release_factor(
    released_t: ArrayLike, hoisted_t: ArrayLike, *, release: ReleaseKind
) -> FloatArray:
    """Factor on the hoisted load when part of it is let go suddenly.

    phi3 = 1 - (dm/m)(1 + beta3), with beta3 = 0.5 for a slow release (grab) and 1.0 for a
    rapid one (magnet). Below zero the boom springs back: check backward stability.

    Parameters:
      released_t, hoisted_t: array_like, shape (...). [t] 0 <= released <= hoisted, hoisted > 0.
      release: {"slow", "rapid"}
    Returns: ndarray, broadcast shape
    Raises: More released than hoisted; a release of another name.
    Source: EN 13001-2 / EN 1991-3 (relation and beta3 seen second-hand).
    """
    dm = require_non_negative("released_t", released_t)
    m = require_positive("hoisted_t", hoisted_t)
    share = np.asarray(dm / m)
    if not np.all(share <= 1.0):
        raise InputError.of("released_t", float(np.max(dm)), "not more than hoisted_t")
    try:
        beta3 = _BETA3[release]
    except KeyError:
        raise InputError.of("release", release, ", ".join(_BETA3)) from None
    return np.asarray(1.0 - share * (1.0 + beta3))


@dataclass(frozen=True)
class HoistAcceleration:
    """Rope force while the load is being brought to speed."""

    acceleration_m_s2: FloatArray
    rope_force_kN: FloatArray
    dynamic_ratio: FloatArray


def hoist_acceleration(
    load_t: ArrayLike, hoist_speed_m_s: ArrayLike, *, acceleration_time_s: ArrayLike
) -> HoistAcceleration:
    """Rope force at a steady hoisting acceleration from rest: F = m (g + v/t).

    Rope stretch ignored: for picking the load off the ground use :func:`hoist_factor`.

    Parameters:
      load_t: array_like, shape (...), > 0. [t]
      hoist_speed_m_s: array_like, >= 0. [m/s]
      acceleration_time_s: array_like, > 0. [s]
    Returns: HoistAcceleration
    Source: Newton's second law.
    """
    mass = require_positive("load_t", load_t)
    speed = require_non_negative("hoist_speed_m_s", hoist_speed_m_s)
    time = require_positive("acceleration_time_s", acceleration_time_s)
    acceleration = np.asarray(speed / time)
    return HoistAcceleration(
        acceleration_m_s2=acceleration,
        rope_force_kN=np.asarray(mass * (G_M_S2 + acceleration)),
        dynamic_ratio=np.asarray(1.0 + acceleration / G_M_S2),
    )
