"""Solver for legs on compression-only supports; :mod:`liftcalc.reactions.carrier` is the way in.

Method
------
Four supports under a carrier give three equations (vertical force and two moments) for four forces, so every
equilibrium is ``R = R0 + t n``, with ``n`` the one self-balancing pattern (each entry is the signed area of the
triangle of the other three legs). Supports, and the carrier in twist, are linear, so the complementary energy

    U(t) = sum R_i^2 / (2 k_i) + T_front^2 / (2 k_front) + T_rear^2 / (2 k_rear)

is a parabola in ``t``. Without lift-off its foot is the answer. With compression-only
supports the answer is the foot cut to the interval in which no reaction is negative (a
convex problem in one unknown, hence exact, with no iteration): at the end of the interval one
leg is clear of the ground, and the other three follow from statics. An empty interval means
that the resultant lies outside the base polygon: no equilibrium.

Arrays: legs first, flat states last, shape (n, N); whatever does not vary by state has N = 1,
and the bilateral reactions then are one product of a small matrix with (V, V x_G, V y_G).

Sources: statics and Castigliano's theorem of least work (any text on structural analysis; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.base.errors import InputError, require_finite, require_positive

EDGE_TOL = 1e-9
"""Share of the total force below which a reaction counts as none (rounding on the edge)."""


@dataclass(frozen=True)
class Supports:
    """Legs, springs and twist of the carrier; N is the number of states, or 1."""

    shape: tuple[int, ...]
    """Leading shape of what varies by state."""
    x: FloatArray
    """Forward position of each leg, shape (n, N). [m]"""
    y: FloatArray
    """Position to the left, shape (n, N). [m]"""
    k: FloatArray
    """Spring stiffness, shape (n, N). [kN/m]"""
    pattern: FloatArray
    """Self-balancing reactions, greatest entry 1, shape (4, N); of no rows for three legs."""
    twist: bool
    """Whether front and rear beams may roll by different angles."""
    front_arm: FloatArray
    """Side moment of the pattern on the front legs, shape (N). [m]"""
    front_share: FloatArray
    """Share of the side moment that twist alone would give the front beam, shape (N)."""
    k_t: FloatArray
    """Twist stiffness between the beams, 0 for a flexible carrier, shape (N). [kNm/rad]"""

    def spread(self, shape: tuple[int, ...]) -> Supports:
        """The same supports, one column for each state of *shape*."""

        def column(a: FloatArray) -> FloatArray:
            if a.shape[-1] <= 1:
                return a
            lead = a.shape[:-1]
            wide = np.broadcast_to(
                a.reshape(*lead, *(1,) * (len(shape) - len(self.shape)), *self.shape), (*lead, *shape)
            )
            return np.ascontiguousarray(wide.reshape(*lead, -1))

        return replace(
            self, shape=shape, x=column(self.x), y=column(self.y), k=column(self.k),
            pattern=column(self.pattern), front_arm=column(self.front_arm),
            front_share=column(self.front_share), k_t=column(self.k_t),
        )  # fmt: skip


def _signed_area(x: FloatArray, y: FloatArray, a: int, b: int, c: int) -> FloatArray:
    """Twice the signed area of the triangle of three legs."""
    return np.asarray((x[b] - x[a]) * (y[c] - y[a]) - (y[b] - y[a]) * (x[c] - x[a]))


def _pattern(x: FloatArray, y: FloatArray) -> FloatArray:
    if len(x) == 3:
        return np.zeros((0, 1))
    others = ((1, 2, 3), (0, 2, 3), (0, 1, 3), (0, 1, 2))
    n = np.stack([(-1) ** k * _signed_area(x, y, *legs) for k, legs in enumerate(others)])
    n /= np.abs(n).max(axis=0)
    n[np.abs(n) < 1e-12] = 0.0  # three legs in a line: the fourth is fixed by statics
    return n


def build_supports(
    leg_xy_m: ArrayLike,
    leg_stiffness_kN_m: ArrayLike | None,
    *,
    twist: bool = False,
    torsional_stiffness_kNm_rad: ArrayLike = 0.0,
    slew_x_m: ArrayLike = 0.0,
) -> Supports:
    """Check legs, springs and carrier of many states at once.

    Parameters:
      leg_xy_m: shape (..., 4, 2), or (..., 3, 2) without twist. Leg points FL, FR, RR, RL in the machine frame. [m]
      leg_stiffness_kN_m: shape (..., 4), > 0, or None. Spring of each leg; None: equal springs. [kN/m]
      twist: A carrier that twists between front and rear beam.
      torsional_stiffness_kNm_rad: >= 0, may be inf. Of that carrier; used with twist. [kNm/rad]
      slew_x_m: Slew centre between the beams; used with twist. [m]
    Returns: Supports. States flattened along the last axis.
    Raises: Legs in one line, in another order or not finite, shapes that do not fit, a slew centre outside the beams.
    """
    legs = require_finite("leg_xy_m", leg_xy_m)
    if legs.ndim < 2 or legs.shape[-1] != 2 or legs.shape[-2] not in (3, 4):
        raise InputError.of("leg_xy_m", legs.shape, "shape (..., 4, 2), or (..., 3, 2) if rigid")
    count = legs.shape[-2]
    k = np.ones(count)
    if leg_stiffness_kN_m is not None:
        k = require_positive("leg_stiffness_kN_m", leg_stiffness_kN_m)
    if k.shape[-1:] != (count,):
        raise InputError.of("leg_stiffness_kN_m", k.shape, f"shape (..., {count})")
    k_t = np.asarray(torsional_stiffness_kNm_rad, dtype=np.float64)
    slew_x = require_finite("slew_x_m", slew_x_m)
    leading = [legs.shape[:-2], k.shape[:-1], k_t.shape, slew_x.shape if twist else ()]
    try:
        shape = np.broadcast_shapes(*leading)
    except ValueError:
        fit = "shapes that broadcast: outriggers, stiffness, twist, slew axis"
        raise InputError.of("leading shapes", leading, fit) from None

    def by_leg(a: FloatArray) -> FloatArray:
        full = np.broadcast_to(a, (*shape, count))
        return np.ascontiguousarray(full.reshape(-1, count).T)

    x, y, k = by_leg(legs[..., 0]), by_leg(legs[..., 1]), by_leg(k)
    cx, cy = x - x.mean(axis=0), y - y.mean(axis=0)
    sxx, syy, sxy = (cx * cx).sum(axis=0), (cy * cy).sum(axis=0), (cx * cy).sum(axis=0)
    if not np.all(sxx * syy - sxy * sxy > 1e-10 * (sxx + syy) ** 2):
        raise InputError.of("leg_xy_m", "outriggers in one line", "outriggers that span an area")
    n = _pattern(x, y)
    none = np.zeros(1)
    rigid = Supports(shape, x, y, k, n, False, none, none, none)
    return twisting(rigid, k_t, slew_x_m=slew_x) if twist else rigid


def twisting(supports: Supports, torsional_stiffness_kNm_rad: ArrayLike, *, slew_x_m: ArrayLike = 0.0) -> Supports:
    """The same legs and springs under a carrier that twists between front and rear beam.

    Parameters:
      supports: Supports. Of a rigid carrier on four legs.
      torsional_stiffness_kNm_rad: >= 0, may be inf. Of the carrier, shapes that broadcast to the
        shape of *supports*. [kNm/rad]
      slew_x_m: Slew centre between the beams. [m]
    Raises: Three legs, legs in another order, a slew centre outside the beams.
    """
    s, x, y, n = supports, supports.x, supports.y, supports.pattern
    if len(x) != 4:
        raise InputError.of("leg_xy_m", len(x), "four outriggers, unless carrier='rigid'")
    front, rear = 0.5 * (x[0] + x[1]), 0.5 * (x[2] + x[3])
    slew = np.broadcast_to(require_finite("slew_x_m", slew_x_m), s.shape).reshape(-1)
    if not np.all((rear <= slew) & (slew <= front) & (rear < front)):
        raise InputError.of("slew_x_m", slew_x_m, "between the rear beam and the front beam", "Use carrier='rigid'.")
    if not np.all((y[0] > y[1]) & (y[3] > y[2])):
        raise InputError.of("leg_xy_m", "left one right of its neighbour", "order FL, FR, RR, RL")
    arm = n[0] * y[0] + n[1] * y[1]
    if not np.all(np.abs(arm) > 1e-9 * np.abs(y).max(axis=0)):
        raise InputError.of("leg_xy_m", "beams that cannot twist", "carrier='rigid'")
    share = (slew - rear) / (front - rear)
    k_t = np.broadcast_to(torsional_stiffness_kNm_rad, s.shape).reshape(-1)
    return Supports(s.shape, x, y, s.k, n, True, arm, share, k_t)


def _front_excess_kNm(s: Supports, r: FloatArray, vy: FloatArray) -> FloatArray:
    """Side moment on the front legs above what twist alone would give them."""
    return np.asarray(r[0] * s.y[0] + r[1] * s.y[1] - s.front_share * vy)


def _foot_kN(s: Supports, v: FloatArray, vx: FloatArray, vy: FloatArray) -> FloatArray:
    """Foot of the parabola: rigid plane on springs, then the step that twist asks for."""
    total = s.k.sum(axis=0)
    xc, yc = (s.k * s.x).sum(axis=0) / total, (s.k * s.y).sum(axis=0) / total
    dx, dy = s.x - xc, s.y - yc
    kx, ky = s.k * dx, s.k * dy
    sxx, syy, sxy = (kx * dx).sum(axis=0), (ky * dy).sum(axis=0), (kx * dy).sum(axis=0)
    det = sxx * syy - sxy * sxy
    ex, ey = vx - v * xc, vy - v * yc
    slope_x, slope_y = (syy * ex - sxy * ey) / det, (sxx * ey - sxy * ex) / det
    r = s.k * (v / total) + kx * slope_x + ky * slope_y
    if s.twist:
        spring = s.k_t * (s.pattern**2 / s.k).sum(axis=0) + s.front_arm**2
        r = r - (s.front_arm * _front_excess_kNm(s, r, vy) / spring) * s.pattern
    return np.asarray(r)


def bilateral_rows(s: Supports) -> FloatArray:
    """Reactions if a leg could pull, (n, N, 3): for V = 1 [-], for V x_G = 1 and V y_G = 1 [1/m].

    *s* holds N states of n legs. Raises nothing: they were checked by :func:`build_supports`.

    Source: Statics; see the module.
    """
    unit = np.eye(3)
    if s.x.shape[1] == 1:
        return _foot_kN(s, unit[0], unit[1], unit[2])[:, None]
    return np.stack([_foot_kN(s, *one) for one in unit[..., None]], axis=-1)


def bilateral_kN(s: Supports, force: FloatArray) -> FloatArray:
    """Reactions if a leg could pull, shape (n, N); *force* is (V, V x_G, V y_G), shape (3, N).

    *s* holds N states of n legs. Raises nothing: they were checked by :func:`build_supports`.

    Returns: ndarray, shape (n, N): reactions, compression positive. [kN]
    """
    if s.x.shape[1] == 1:
        return np.asarray(bilateral_rows(s)[:, 0] @ force)
    return _foot_kN(s, force[0], force[1], force[2])


def contact_interval_kN(
    pattern: FloatArray, r: FloatArray, tol_kN: FloatArray
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Least and greatest t [kN] with no negative entry in r + t n, and where there is none.

    *pattern* is n, the self-balanced forces of the legs, *r* the reactions if a leg could pull, and
    tol_kN the pull that still counts as none.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        t = r / -pattern
    low = np.where(pattern > 0, t, -np.inf).max(axis=0)
    high = np.where(pattern < 0, t, np.inf).min(axis=0)
    empty = low > high + tol_kN
    if not pattern.all():
        empty |= ((pattern == 0) & (r < -tol_kN)).any(axis=0)
    return low, high, empty


def contact_kN(s: Supports, force: FloatArray) -> tuple[FloatArray, BoolArray, BoolArray]:
    """Reactions without pull and lifted legs, shape (n, N); states without equilibrium, (N).

    *s* and *force* as :func:`bilateral_kN`. Raises nothing.

    Returns: reactions [kN], NaN where the machine tips; legs in the air; states in which it tips.
    """
    r = bilateral_kN(s, force)
    tol = EDGE_TOL * force[0]
    lifted = np.zeros(r.shape, dtype=bool)
    unstable = np.zeros(r.shape[1], dtype=bool)
    at = np.flatnonzero(r.min(axis=0) <= tol)
    if at.size:
        part, tol = r[:, at], tol[at]
        if len(s.pattern):
            n = s.pattern if s.pattern.shape[1] == 1 else s.pattern[:, at]
            low, high, empty = contact_interval_kN(n, part, tol)
            part = part + np.minimum(np.maximum(0.0, low), high) * n
        else:
            empty = part.min(axis=0) < -tol
        up = part <= tol
        part[up] = 0.0
        part[:, empty] = np.nan
        r[:, at], lifted[:, at], unstable[at] = part, up & ~empty, empty
    return r, lifted, unstable


def settlement_m(s: Supports, force: FloatArray, reaction: FloatArray, lifted: BoolArray) -> FloatArray:
    """R/k where loaded; a single lifted leg from compatibility (n.w + dU_twist/dt = 0). [m]

    *s* and *force* as :func:`bilateral_kN`, *reaction* and *lifted* as :func:`contact_kN` gives them. Raises nothing.

    Returns: ndarray, shape (n, N): downward positive; NaN where it cannot be known.
    """
    w = np.asarray(reaction / s.k)
    if not lifted.any():
        return w
    if not len(s.pattern) or (s.twist and not np.all(s.k_t > 0)):
        w[lifted] = np.nan
        return w
    closing = (s.pattern * w).sum(axis=0)
    if s.twist:
        closing = closing + s.front_arm * _front_excess_kNm(s, reaction, force[2]) / s.k_t
    with np.errstate(divide="ignore", invalid="ignore"):
        gap = np.where(s.pattern != 0, -closing / s.pattern, np.nan)
    gap = np.where(lifted.sum(axis=0) > 1, np.nan, gap)  # turns freely about the other two
    return np.where(lifted, gap, w)
