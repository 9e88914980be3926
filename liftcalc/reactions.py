"""Leg reactions: what each of four (or three) legs presses on the ground with.

Contents
--------
resultant : total vertical force, and where it meets the ground, from parts and moments.
leg_reactions_kN : reactions for a rigid carrier, a torsionally flexible one, or a stated
    torsional stiffness between both, on compression-only supports of any stiffness.
carrier_tilt_rad : tilt of the slew ring that the settlements cause.

Envelopes over states and models, bounds and closed forms are in ``leg_envelope``.

Method
------
Four supports under a carrier give three equations (vertical force and two moments) for four
forces, so every equilibrium is ``R = R0 + t n``, with ``n`` the one self-balancing pattern
(each entry is the signed area of the triangle of the other three legs). Supports, and the
carrier in twist, are linear, so the complementary energy

    U(t) = sum R_i^2 / (2 k_i) + T_front^2 / (2 k_front) + T_rear^2 / (2 k_rear)

is a parabola in ``t``. Without lift-off its foot is the answer. With compression-only
supports the answer is the foot cut to the interval in which no reaction is negative (a
convex problem in one unknown, hence exact, with no iteration): at the end of the interval one
leg is clear of the ground, and the other three follow from statics. An empty interval means
that the resultant lies outside the base polygon: no equilibrium.

The carrier is straight and stiff in bending; its front and rear leg beams may turn about x
against each other by twist. The whole load enters at the slew axis. ``k_front`` and ``k_rear``
are in inverse proportion to the distances from there to the beams. Infinite twist stiffness is
the rigid carrier; none is the flexible carrier, whose side moment is shared by those distances.

Signs: machine frame, x forward, y left; compression on the ground positive; settlement
positive downward; legs in the order FL, FR, RR, RL.

Sources: statics and Castigliano's theorem of least work (any text on structural analysis;
from memory). Lift-off as a linear complementarity problem, as for any unilateral support.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.errors import CapacityError, InputError, require_finite, require_positive

__all__ = [
    "LEG_NAMES",
    "Carrier",
    "LegReactions",
    "Resultant",
    "carrier_tilt_rad",
    "leg_reactions_kN",
    "resultant",
]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
Carrier = Literal["rigid", "flexible", "stiffness"]

LEG_NAMES = ("FL", "FR", "RR", "RL")
"""Leg order everywhere."""

_EDGE_TOL = 1e-9
"""Share of the total force below which a reaction counts as none (rounding on the edge)."""


@dataclass(frozen=True)
class Resultant:
    """Total vertical force [kN] and the point [m], shape (..., 2), where it meets the ground."""

    vertical_kN: FloatArray
    xy_m: FloatArray


def resultant(
    force_kN: ArrayLike, xy_m: ArrayLike, *, overturning_moment_kNm: ArrayLike = (0.0, 0.0)
) -> Resultant:
    """Resultant of vertical parts and of overturning moments from horizontal forces.

    Parameters
    ----------
    force_kN : array_like, shape (..., n)
        Weights and other vertical forces, downward positive. [kN]
    xy_m : array_like, shape (..., n, 2)
        Where each acts, machine frame. [m]
    overturning_moment_kNm : array_like, shape (..., 2)
        Sum of horizontal force times height above the ground, by the direction of the force:
        the first moves the resultant toward +x, the second toward +y. [kNm]

    Returns
    -------
    Resultant

    Raises
    ------
    InputError
        Anything not finite, or a total that is not > 0.

    References
    ----------
    Statics.
    """
    f = require_finite("force_kN", force_kN)
    xy = require_finite("xy_m", xy_m)
    m = require_finite("overturning_moment_kNm", overturning_moment_kNm)
    if f.ndim < 1 or xy.ndim < 2 or xy.shape[-1] != 2 or xy.shape[-2] != f.shape[-1]:
        raise InputError.of("xy_m", xy.shape, "shape (..., n, 2) with n forces")
    if m.shape[-1:] != (2,):
        raise InputError.of("overturning_moment_kNm", m.shape, "shape (..., 2)")
    total = require_positive("sum of force_kN", f.sum(axis=-1))
    moment = (f[..., None] * xy).sum(axis=-2) + m
    return Resultant(vertical_kN=total, xy_m=moment / total[..., None])


@dataclass(frozen=True)
class LegReactions:
    """Reactions and what a checker asks for; legs on the last axis (FL, FR, RR, RL).

    Where ``unstable`` is true there is no equilibrium: every number of that state is NaN, so
    that any comparison with a limit fails.
    """

    carrier: Carrier
    """Carrier model used."""
    vertical_kN: FloatArray
    """Total vertical force, shape (...). [kN]"""
    resultant_xy_m: FloatArray
    """Where it meets the ground, shape (..., 2). [m]"""
    leg_xy_m: FloatArray
    """Leg points, shape (..., n, 2). [m]"""
    reaction_kN: FloatArray
    """Reaction on each leg, never negative, shape (..., n). [kN]"""
    bilateral_kN: FloatArray
    """The same if a leg could pull: a negative value shows a leg that wants to lift. [kN]"""
    lifted: BoolArray
    """Leg clear of the ground or just carrying nothing, shape (..., n)."""
    unstable: BoolArray
    """No equilibrium: resultant outside the base polygon, shape (...)."""
    settlement_m: FloatArray | None
    """Downward movement of each leg point, negative where it is clear of the ground; NaN where
    not determined (a lifted leg of the flexible carrier, or with only two legs loaded). None
    unless leg stiffness was given. [m]"""

    @property
    def worst_kN(self) -> FloatArray:
        """Greatest leg reaction of each state, shape (...). [kN]"""
        return np.asarray(self.reaction_kN.max(axis=-1))

    @property
    def worst_leg(self) -> NDArray[np.intp]:
        """Index of the leg with the greatest reaction, shape (...); -1 where unstable."""
        safe = np.where(self.unstable[..., None], 0.0, self.reaction_kN)
        return np.where(self.unstable, -1, safe.argmax(axis=-1))

    @property
    def worst_share(self) -> FloatArray:
        """Greatest leg reaction as a share of the total, shape (...)."""
        return self.worst_kN / self.vertical_kN

    @property
    def front_beam_kN(self) -> FloatArray:
        """FL + FR, shape (...). [kN]"""
        return np.asarray(self.reaction_kN[..., :2].sum(axis=-1))

    @property
    def rear_beam_kN(self) -> FloatArray:
        """RR + RL, shape (...). [kN]"""
        return np.asarray(self.reaction_kN[..., 2:].sum(axis=-1))

    @property
    def front_side_moment_kNm(self) -> FloatArray:
        """Side moment (reaction times y) that the front legs carry, shape (...). [kNm]"""
        return np.asarray((self.reaction_kN * self.leg_xy_m[..., 1])[..., :2].sum(axis=-1))

    @property
    def rear_side_moment_kNm(self) -> FloatArray:
        """Side moment that the rear legs carry, shape (...). [kNm]"""
        return np.asarray((self.reaction_kN * self.leg_xy_m[..., 1])[..., 2:].sum(axis=-1))


def _signed_area(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    """Twice the signed area of triangles, points on the last axis (x, y)."""
    u, v = b - a, c - a
    return np.asarray(u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0])


def _self_balancing(legs: FloatArray) -> list[FloatArray]:
    """Pattern n with sum n = sum n x = sum n y = 0, greatest entry 1, for four legs."""
    p = [legs[..., i, :] for i in range(4)]
    n = [
        _signed_area(p[1], p[2], p[3]),
        -_signed_area(p[0], p[2], p[3]),
        _signed_area(p[0], p[1], p[3]),
        -_signed_area(p[0], p[1], p[2]),
    ]
    size = np.max(np.abs(n), axis=0)
    return [np.where(np.abs(v) > 1e-12 * size, v / size, 0.0) for v in n]


@dataclass(frozen=True)
class LegState:
    """Validated input with the two ingredients of every answer."""

    v: FloatArray
    xg: FloatArray
    yg: FloatArray
    legs: FloatArray
    k: FloatArray
    k_given: bool
    rigid: list[FloatArray]
    n: list[FloatArray]


def prepare_state(
    vertical_kN: ArrayLike, resultant_xy_m: ArrayLike, leg_xy_m: ArrayLike, k: ArrayLike | None
) -> LegState:
    v = require_positive("vertical_kN", vertical_kN)
    xy = require_finite("resultant_xy_m", resultant_xy_m)
    legs = require_finite("leg_xy_m", leg_xy_m)
    if xy.shape[-1:] != (2,):
        raise InputError.of("resultant_xy_m", xy.shape, "shape (..., 2)")
    if legs.ndim < 2 or legs.shape[-1] != 2 or legs.shape[-2] not in (3, 4):
        raise InputError.of("leg_xy_m", legs.shape, "shape (..., 4, 2), or (..., 3, 2) if rigid")
    count = legs.shape[-2]
    ks = np.ones(count) if k is None else require_positive("leg_stiffness_kN_m", k)
    if ks.shape[-1:] != (count,):
        raise InputError.of("leg_stiffness_kN_m", ks.shape, f"shape (..., {count})")
    try:
        np.broadcast_shapes(v.shape, xy.shape[:-1], legs.shape[:-2], ks.shape[:-1])
    except ValueError:
        raise InputError.of(
            "leading shapes",
            (v.shape, xy.shape[:-1], legs.shape[:-2], ks.shape[:-1]),
            "shapes that broadcast: force, resultant, legs, stiffness",
        ) from None
    # Rigid plane on springs, taken about the centre of stiffness.
    xg, yg = xy[..., 0], xy[..., 1]
    total = ks.sum(axis=-1)
    centre = (ks[..., None] * legs).sum(axis=-2) / total[..., None]
    d = legs - centre[..., None, :]
    dx, dy = d[..., 0], d[..., 1]
    sxx, syy = (ks * dx * dx).sum(axis=-1), (ks * dy * dy).sum(axis=-1)
    sxy = (ks * dx * dy).sum(axis=-1)
    det = sxx * syy - sxy * sxy
    if not np.all(det > 1e-10 * (sxx + syy) ** 2):
        raise InputError.of("leg_xy_m", "legs in one line", "legs that span an area")
    ex, ey = v * (xg - centre[..., 0]), v * (yg - centre[..., 1])
    slope_x, slope_y = (syy * ex - sxy * ey) / det, (sxx * ey - sxy * ex) / det
    heave = v / total
    rigid = [
        np.asarray(ks[..., i] * (heave + slope_x * dx[..., i] + slope_y * dy[..., i]))
        for i in range(count)
    ]
    n = _self_balancing(legs) if count == 4 else []
    return LegState(v, xg, yg, legs, ks, k is not None, rigid, n)


@dataclass(frozen=True)
class _Twist:
    """How much the twist of the carrier asks the reactions to move along the pattern."""

    front_arm: FloatArray
    rear_share: FloatArray
    k_t: FloatArray


def _twist(s: LegState, carrier: Carrier, k_t: ArrayLike | None, slew_x_m: ArrayLike) -> _Twist:
    if s.legs.shape[-2] != 4:
        raise InputError.of("leg_xy_m", s.legs.shape, f"four legs for carrier={carrier!r}")
    slew_x = require_finite("slew_x_m", slew_x_m)
    x, y = s.legs[..., 0], s.legs[..., 1]
    front, rear = 0.5 * (x[..., 0] + x[..., 1]), 0.5 * (x[..., 2] + x[..., 3])
    if not np.all((rear <= slew_x) & (slew_x <= front) & (rear < front)):
        raise InputError.of(
            "slew_x_m", slew_x_m, "between the rear beam and the front beam", "Use carrier='rigid'."
        )
    if not np.all((y[..., 0] > y[..., 1]) & (y[..., 3] > y[..., 2])):
        raise InputError.of("leg_xy_m", "left leg right of its neighbour", "order FL, FR, RR, RL")
    arm = np.asarray(s.n[0] * y[..., 0] + s.n[1] * y[..., 1])
    if not np.all(np.abs(arm) > 1e-9 * np.abs(y).max(axis=-1)):
        raise InputError.of("leg_xy_m", "beams that cannot twist", "carrier='rigid'")
    if carrier == "flexible":
        stiffness = np.zeros(())
    else:
        if k_t is None:
            raise InputError.of("torsional_stiffness_kNm_rad", k_t, "given for 'stiffness'")
        if not s.k_given:
            raise InputError.of("leg_stiffness_kN_m", None, "given for carrier='stiffness'")
        stiffness = require_positive("torsional_stiffness_kNm_rad", k_t)
    return _Twist(arm, np.asarray((slew_x - rear) / (front - rear)), stiffness)


def _front_excess(s: LegState, tw: _Twist, r: list[FloatArray]) -> FloatArray:
    """Side moment on the front legs above what twist alone would give them. [kNm]"""
    y = s.legs[..., 1]
    return np.asarray(r[0] * y[..., 0] + r[1] * y[..., 1] - tw.rear_share * s.v * s.yg)


def contact_interval(s: LegState, r: list[FloatArray]) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Interval of t in which r + t n has no negative entry, and where it is empty."""
    low, high = np.asarray(-np.inf), np.asarray(np.inf)
    fixed_negative = np.zeros((), dtype=bool)
    tol = _EDGE_TOL * s.v
    for ri, ni in zip(r, s.n, strict=True):
        with np.errstate(divide="ignore", invalid="ignore"):
            t = -ri / ni
        low = np.maximum(low, np.where(ni > 0, t, -np.inf))
        high = np.minimum(high, np.where(ni < 0, t, np.inf))
        if not np.all(ni):
            fixed_negative = fixed_negative | ((ni == 0) & (ri < -tol))
    return low, high, np.asarray((low > high + tol) | fixed_negative)


def leg_reactions_kN(
    vertical_kN: ArrayLike,
    resultant_xy_m: ArrayLike,
    *,
    leg_xy_m: ArrayLike,
    leg_stiffness_kN_m: ArrayLike | None = None,
    carrier: Carrier = "rigid",
    torsional_stiffness_kNm_rad: ArrayLike | None = None,
    slew_x_m: ArrayLike = 0.0,
    on_unstable: Literal["flag", "raise"] = "flag",
) -> LegReactions:
    """Reaction of each leg on compression-only supports.

    Parameters
    ----------
    vertical_kN : array_like, shape (...)
        Total vertical force on the ground, > 0. [kN]
    resultant_xy_m : array_like, shape (..., 2)
        Where its line of action meets the ground, machine frame; overturning by wind and other
        horizontal force is included by moving this point (see :func:`resultant`). [m]
    leg_xy_m : array_like, shape (..., 4, 2), or (..., 3, 2) with carrier="rigid"
        Leg points FL, FR, RR, RL; nothing assumes symmetry. [m]
    leg_stiffness_kN_m : array_like, shape (..., 4), optional
        Stiffness of each support (leg, mat and ground in series), > 0; equal if not given.
        It has no effect on the flexible carrier. [kN/m]
    carrier : {"rigid", "flexible", "stiffness"}
        Rigid carrier; carrier without twist stiffness; or the stated twist stiffness.
    torsional_stiffness_kNm_rad : array_like, shape (...)
        Moment per radian of twist between front and rear leg beams (G J / distance), > 0;
        for "stiffness" only. [kNm/rad]
    slew_x_m : array_like, shape (...)
        Where the load enters the carrier, between the beams (0 in the machine frame). [m]
    on_unstable : {"flag", "raise"}
        What to do with a resultant outside the base polygon.

    Returns
    -------
    LegReactions

    Raises
    ------
    InputError
        Anything not finite or out of range; legs in one line; for the flexible models, slew
        axis not between the beams or legs out of order.
    CapacityError
        With ``on_unstable="raise"``, a state without equilibrium.

    Notes
    -----
    Small settlements; carrier stiff in bending; side moment enters at the slew axis. The side
    moment of a carrier weight off the centre line is taken to enter there too. Exactly on a
    tipping line two legs carry all and the state still counts as in equilibrium (within 1e-9
    of the total force); it has no reserve.

    References
    ----------
    See the module docstring. Rigid carrier, no lift-off: R_i = k_i (d + a x_i + b y_i).
    Flexible: V_f = V (x_G - x_r)/(x_f - x_r), M_f = V y_G (x_s - x_r)/(x_f - x_r), textbook
    method (from memory).
    """
    if carrier not in get_args(Carrier):
        raise InputError.of("carrier", carrier, ", ".join(get_args(Carrier)))
    if on_unstable not in ("flag", "raise"):
        raise InputError.of("on_unstable", on_unstable, "flag, raise")
    s = prepare_state(vertical_kN, resultant_xy_m, leg_xy_m, leg_stiffness_kN_m)
    count = len(s.rigid)
    tw = None if carrier == "rigid" else _twist(s, carrier, torsional_stiffness_kNm_rad, slew_x_m)
    free = s.rigid
    if tw is not None:
        legs_flex = sum(np.square(s.n[i]) / s.k[..., i] for i in range(4))
        t0 = -tw.front_arm * _front_excess(s, tw, s.rigid)
        t0 = t0 / (tw.k_t * legs_flex + np.square(tw.front_arm))
        free = [np.asarray(r + t0 * n) for r, n in zip(s.rigid, s.n, strict=True)]

    tol = _EDGE_TOL * s.v
    if count == 3:
        unstable = np.asarray(np.min(np.broadcast_arrays(*free), axis=0) < -tol)
        contact = free
    else:
        low, high, unstable = contact_interval(s, free)
        t = np.minimum(np.maximum(0.0, low), high)
        contact = [np.asarray(r + t * n) for r, n in zip(free, s.n, strict=True)]

    shape = np.broadcast_shapes(unstable.shape, contact[0].shape)
    unstable = np.broadcast_to(unstable, shape)
    if on_unstable == "raise" and unstable.any():
        raise CapacityError(
            f"resultant outside the base polygon in {int(unstable.sum())} of {unstable.size} "
            "states: the machine would tip. Reduce the load or the radius, or extend the legs."
        )
    reaction = np.empty((count, *shape))
    for i, c in enumerate(contact):
        reaction[i] = c
    lifted = reaction <= tol
    reaction[lifted] = 0.0
    settlement = None
    if s.k_given:
        settlement = _settlement_m(s, tw, reaction, lifted)
        settlement[:, unstable] = np.nan
    reaction[:, unstable] = np.nan
    lifted[:, unstable] = False
    bilateral = np.stack([np.broadcast_to(f, shape) for f in free], axis=-1)
    return LegReactions(
        carrier=carrier,
        vertical_kN=s.v,
        resultant_xy_m=np.stack(np.broadcast_arrays(s.xg, s.yg), axis=-1),
        leg_xy_m=s.legs,
        reaction_kN=np.moveaxis(reaction, 0, -1),
        bilateral_kN=bilateral,
        lifted=np.moveaxis(lifted, 0, -1),
        unstable=unstable,
        settlement_m=None if settlement is None else np.moveaxis(settlement, 0, -1),
    )


def _settlement_m(
    s: LegState, tw: _Twist | None, reaction: FloatArray, lifted: BoolArray
) -> FloatArray:
    """R/k where loaded; the one lifted leg from compatibility (n.w + dU_twist/dt = 0)."""
    w = np.empty_like(reaction)
    for i in range(len(reaction)):
        w[i] = reaction[i] / s.k[..., i]
    if not lifted.any():
        return w
    several = lifted.sum(axis=0) > 1
    if len(reaction) == 3 or (tw is not None and not np.all(tw.k_t > 0)):
        w[lifted] = np.nan
        return w
    closing = sum(s.n[i] * w[i] for i in range(4))
    if tw is not None:
        closing = closing + tw.front_arm * _front_excess(s, tw, list(reaction)) / tw.k_t
    for i in range(4):
        # A leg that cannot be unloaded by the pattern (n = 0) is never the single lifted one,
        # except with the resultant on an edge; its movement is then not determined.
        with np.errstate(divide="ignore", invalid="ignore"):
            gap = np.where(s.n[i] != 0, -closing / s.n[i], np.nan)
        w[i] = np.where(lifted[i], np.where(several, np.nan, gap), w[i])
    return w


def carrier_tilt_rad(settlement_m: ArrayLike, *, leg_xy_m: ArrayLike) -> FloatArray:
    """Slopes of the carrier that the settlements of four legs cause.

    Parameters
    ----------
    settlement_m : array_like, shape (..., 4)
        Downward movement of FL, FR, RR, RL, carrier held to all four (no leg clear). [m]
    leg_xy_m : array_like, shape (..., 4, 2). [m]

    Returns
    -------
    ndarray, shape (..., 3): fall toward +x; fall toward +y of the front beam; of the rear beam.
    [rad]

    Raises
    ------
    InputError
        Anything not finite, or beams without width or distance.

    Notes
    -----
    Straight carrier along the x axis, beams free to turn about x against each other: four
    settlements fix heave, pitch and two rolls. Small angles. With a rigid carrier both rolls
    are equal.

    References
    ----------
    Geometry.
    """
    w = require_finite("settlement_m", settlement_m)
    legs = require_finite("leg_xy_m", leg_xy_m)
    if w.shape[-1:] != (4,) or legs.shape[-2:] != (4, 2):
        raise InputError.of("settlement_m", w.shape, "shape (..., 4), legs (..., 4, 2)")
    x, y = legs[..., 0], legs[..., 1]
    wy_f, wy_r = y[..., 0] - y[..., 1], y[..., 3] - y[..., 2]
    if not (np.all(wy_f > 0) and np.all(wy_r > 0)):
        raise InputError.of("leg_xy_m", "left leg right of its neighbour", "order FL, FR, RR, RL")
    # Each beam: settlement and x of its point on the centre line (y = 0).
    s_f, s_r = y[..., 0] / wy_f, y[..., 3] / wy_r
    z_f = w[..., 0] + s_f * (w[..., 1] - w[..., 0])
    z_r = w[..., 3] + s_r * (w[..., 2] - w[..., 3])
    x_f = x[..., 0] + s_f * (x[..., 1] - x[..., 0])
    x_r = x[..., 3] + s_r * (x[..., 2] - x[..., 3])
    if not np.all(x_f > x_r):
        raise InputError.of("leg_xy_m", "front beam behind the rear beam", "order FL, FR, RR, RL")
    pitch = (z_f - z_r) / (x_f - x_r)
    roll_f = (w[..., 0] - w[..., 1] - pitch * (x[..., 0] - x[..., 1])) / wy_f
    roll_r = (w[..., 3] - w[..., 2] - pitch * (x[..., 3] - x[..., 2])) / wy_r
    return np.stack(np.broadcast_arrays(pitch, roll_f, roll_r), axis=-1)
