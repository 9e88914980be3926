"""Dynamic effects of hoisting, slewing, travelling and release, and the gross load.

Contents
--------
Gross load: :class:`GrossLoad`, :func:`gross_load_t`.
Hoisting: :data:`HOIST_CLASSES`, :class:`HoistFactor`, :func:`hoist_factor`,
:func:`dynamic_test_factor`, :func:`release_factor`, :class:`HoistAcceleration`,
:func:`hoist_acceleration`, :func:`refuse_snatch`.
Slewing and travelling: :class:`SlewingEffect`, :func:`slewing_effect`,
:class:`PendulumSwing`, :func:`pendulum_swing`.

Which gross load goes where
---------------------------
``static_gross_t`` is compared with the rated capacity chart: a mobile crane's chart already
allows for the dynamics of normal, smooth operation. ``dynamic_gross_t`` (static times the
hoist factor) is for what has no such allowance in its own rating: leg reactions and ground
pressure where the engineer asks for them, beams made for the job, the structure of the load.

Sources
-------
ISO 8686-1 / EN 13001-2, hoisting classes HC1 to HC4: the constants were seen second-hand,
quoted from an EN 1991-3 runway-beam report; neither crane standard was seen. Later editions of
EN 13001-2 make the speed to be used depend on the hoist drive class (HD1 to HD5); that table
is not in here: state the speed at which the load really leaves the ground. The rest is statics
and Newton.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.errors import (
    ConvergenceError,
    InputError,
    require_between,
    require_finite,
    require_non_negative,
    require_positive,
)
from liftcalc.units import G_M_S2

__all__ = [
    "HOIST_CLASSES",
    "GrossLoad",
    "HoistAcceleration",
    "HoistClass",
    "HoistFactor",
    "PendulumSwing",
    "ReleaseKind",
    "SlewingEffect",
    "dynamic_test_factor",
    "gross_load_t",
    "hoist_acceleration",
    "hoist_factor",
    "pendulum_swing",
    "refuse_snatch",
    "release_factor",
    "slewing_effect",
]

FloatArray = NDArray[np.float64]
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
MAX_SWING_DEG = 15.0
"""Small-angle limit of the pendulum formulas; they err by less than 1 % below it."""


@dataclass(frozen=True)
class GrossLoad:
    """What hangs from the boom head, item by item. [t]"""

    load_t: FloatArray
    contingency_t: FloatArray
    rigging_t: FloatArray
    hook_block_t: FloatArray
    rope_t: FloatArray
    other_t: FloatArray
    static_gross_t: FloatArray
    dynamic_factor: FloatArray
    dynamic_gross_t: FloatArray

    def items(self) -> tuple[tuple[str, FloatArray], ...]:
        """Name and mass [t] of every item, in the order of the sum."""
        return (
            ("load", self.load_t),
            ("contingency on the load", self.contingency_t),
            ("rigging", self.rigging_t),
            ("hook block", self.hook_block_t),
            ("hoist rope below the head", self.rope_t),
            ("other deductions", self.other_t),
        )


def gross_load_t(
    load_t: ArrayLike,
    *,
    contingency_ratio: ArrayLike = 0.0,
    rigging_t: ArrayLike = 0.0,
    hook_block_t: ArrayLike = 0.0,
    rope_t: ArrayLike = 0.0,
    other_t: ArrayLike = 0.0,
    dynamic_factor: ArrayLike = 1.0,
) -> GrossLoad:
    """Build up the gross load on the hook from its items.

    Parameters
    ----------
    load_t : array_like, shape (...), > 0. [t]
    contingency_ratio : array_like, 0 to 1
        Addition for what is not known of the load's weight; on the load alone.
    rigging_t, hook_block_t, rope_t : array_like, >= 0. [t]
        Slings, shackles, beams; hook block; hoist rope below the boom head.
    other_t : array_like, >= 0. [t]
        What the chart's deductions ask for, as an effective mass at the hook (stowed jib,
        auxiliary head).
    dynamic_factor : array_like, >= 1
        Hoist factor on the whole, for ``dynamic_gross_t`` only.

    Returns
    -------
    GrossLoad
        Arrays of the broadcast shape.

    Raises
    ------
    InputError
        Anything not finite or outside the ranges above.

    References
    ----------
    US Army Corps of Engineers EM 385-1-1, critical lift form 16-3, part A (list of items,
    seen); the sum is plain.
    """
    load = require_positive("load_t", load_t)
    ratio = require_between("contingency_ratio", contingency_ratio, 0.0, 1.0)
    rigging = require_non_negative("rigging_t", rigging_t)
    block = require_non_negative("hook_block_t", hook_block_t)
    rope = require_non_negative("rope_t", rope_t)
    other = require_non_negative("other_t", other_t)
    factor = require_finite("dynamic_factor", dynamic_factor)
    if not np.all(factor >= 1.0):
        raise InputError.of("dynamic_factor", float(np.min(factor)), "1 or greater")
    contingency = np.asarray(load * ratio)
    static = load + contingency + rigging + block + rope + other
    parts = np.broadcast_arrays(load, contingency, rigging, block, rope, other, static, factor)
    load, contingency, rigging, block, rope, other, static, factor = (np.array(p) for p in parts)
    return GrossLoad(
        load_t=load,
        contingency_t=contingency,
        rigging_t=rigging,
        hook_block_t=block,
        rope_t=rope,
        other_t=other,
        static_gross_t=static,
        dynamic_factor=factor,
        dynamic_gross_t=static * factor,
    )


def refuse_snatch(*, slack_rope_m: ArrayLike = 0.0, load_held_down: bool = False) -> None:
    """Raise if the lift would snatch: picking up with slack rope, or a load held down.

    No factor covers a snatch; it is refused, not calculated.

    Parameters
    ----------
    slack_rope_m : array_like, >= 0. [m]
        Slack left in hoist rope or slings when the hoist runs at its speed.
    load_held_down : bool
        Frozen in, bedded, bolted or wedged: it could let go suddenly.

    Raises
    ------
    InputError
        Any slack at all, or a load held down.
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

    Parameters
    ----------
    hoist_speed_m_s : array_like, shape (...), 0 to 1.5. [m/s]
        Speed at which the load leaves the ground: creep speed where the drive makes sure of
        it, else the greatest hoisting speed of the load.
    hoist_class : {"HC1", "HC2", "HC3", "HC4"}
        From soft (HC1) to stiff (HC4) response of crane and support.
    slack_rope_m : array_like, >= 0. [m]
        Must be 0: see :func:`refuse_snatch`.

    Returns
    -------
    HoistFactor

    Raises
    ------
    InputError
        Speed outside 0 to 1.5 m/s, unknown class, any slack.

    References
    ----------
    EN 13001-2 / ISO 8686-1; constants as quoted from EN 1991-3 Table 2.5 (seen second-hand);
    the speed limit is from memory of ISO 8686-1:1989.
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

    Parameters
    ----------
    phi2 : array_like, shape (...), 1 to 3

    Returns
    -------
    ndarray, shape (...)

    Raises
    ------
    InputError
        phi2 outside its range or not finite.

    References
    ----------
    EN 13001-2 / EN 1991-3 (relation seen second-hand).
    """
    factor = require_between("phi2", phi2, 1.0, 3.0)
    return np.asarray(0.5 * (1.0 + factor))


def release_factor(
    released_t: ArrayLike, hoisted_t: ArrayLike, *, release: ReleaseKind
) -> FloatArray:
    """Factor on the hoisted load when part of it is let go suddenly.

    phi3 = 1 - (dm/m)(1 + beta3), with beta3 = 0.5 for a slow release (grab) and 1.0 for a
    rapid one (magnet). Below zero the boom springs back: check backward stability.

    Parameters
    ----------
    released_t, hoisted_t : array_like, shape (...). [t]
        0 <= released <= hoisted, hoisted > 0.
    release : {"slow", "rapid"}

    Returns
    -------
    ndarray, broadcast shape

    Raises
    ------
    InputError
        Anything not finite or outside the ranges above.

    References
    ----------
    EN 13001-2 / EN 1991-3 (relation and beta3 seen second-hand).
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

    Parameters
    ----------
    load_t : array_like, shape (...), > 0. [t]
    hoist_speed_m_s : array_like, >= 0. [m/s]
    acceleration_time_s : array_like, > 0. [s]

    Returns
    -------
    HoistAcceleration

    Raises
    ------
    InputError
        Anything not finite or outside the ranges above.

    Notes
    -----
    Rope stretch ignored: for picking the load off the ground use :func:`hoist_factor`.

    References
    ----------
    Newton's second law.
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

    Parameters
    ----------
    load_t : array_like, shape (...), > 0. [t]
    load_radius_m : array_like, > 0. [m]
        Radius with the rope plumb, from the slew axis.
    slew_speed_rev_min : array_like, >= 0. [rev/min]
    rope_length_m : array_like, > 0. [m]
        Boom head sheave to the load's centre of gravity.
    acceleration_time_s : array_like or None, > 0. [s]
        Time to reach (or stop from) the slew speed at a steady rate. None: the speed is
        steady and the tangential terms are zero.

    Returns
    -------
    SlewingEffect
        Arrays of the broadcast shape.

    Raises
    ------
    InputError
        Anything not finite or outside the ranges above; so fast that the rope has no steady
        angle (w^2 L >= g/2) or a swing beyond 15 degrees.
    ConvergenceError
        The equilibrium angle was not found (not expected inside the ranges).

    Notes
    -----
    First pass F = m w^2 R, tan(a) = w^2 R / g. Equilibrium: g tan(a) = w^2 (R + L sin(a)),
    by Newton's method. Tangential: F = m R dw/dt, tan(b) = R (dw/dt)/g. The side load
    ratio is the peak tangential force over the weight, to be held against what the maker
    allows for side load.

    References
    ----------
    Newton's second law; conical pendulum.
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

    Parameters
    ----------
    speed_change_m_s : array_like, shape (...), >= 0. [m/s]
        Change of the horizontal speed of the boom head: slewing (w R), luffing, travelling.
    rope_length_m : array_like, > 0. [m]
    acceleration_time_s : array_like, > 0. [s]
        Time the change takes at a steady rate. A jolt is the limit of a short time.

    Returns
    -------
    PendulumSwing
        ``mean_angle_deg`` = a/g while accelerating; ``peak_angle_deg`` the greatest during or
        after; ``residual_angle_deg`` the swing left afterwards;
        ``peak_side_force_ratio`` the greatest horizontal rope force over the weight.

    Raises
    ------
    InputError
        Anything not finite or outside the ranges above; a peak beyond 15 degrees (small-angle
        limit, and no way to handle a load).

    Notes
    -----
    Small-angle pendulum from rest, base acceleration a for a time t, w = sqrt(g/L). While
    accelerating the angle is (a/g)(1 - cos wt): at most 2 a/g from half a period on. Afterwards
    it swings by 2 (a/g) abs(sin(wt/2)), at most dv/sqrt(gL). No damping.

    References
    ----------
    Vibration textbooks (undamped response to a rectangular pulse).
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
