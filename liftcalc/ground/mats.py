"""Mats under the floats: how far they spread the load, and whether they survive it.

A mat is loaded by the leg through the float, in the middle, and held up by the ground. How much of its length takes
part is found from its own bending and shear strength, never assumed. The ground is then checked over that length, and
the strength over the length that the ground needs: the two checks pass or fail together.

Sources: Duerr, "Effective Bearing Length of Crane Mats" (2010), Eqs 1-8 (cantilever form; the
beam-based procedure of the same paper is not used). Bending and shear stress: Wood Handbook (FPL),
chapter 9. Punching at half the thickness around the float: ACI 318-19, 22.6.4 (from memory).
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import ConvergenceError, InputError, require_non_negative, require_positive
from liftcalc.ground.mat_properties import MatProperties


def bearing_length_required_m(
    reaction_kN: ArrayLike, allowable_kPa: ArrayLike, *, width_m: ArrayLike, self_weight_kN: ArrayLike = 0.0
) -> FloatArray:
    """Mat length that brings the pressure down to what the ground allows: (P + W) / (q_a B). [m]

    reaction_kN P, self_weight_kN W, allowable_kPa q_a, and width_m B that bears.
    Source: Duerr (2010), Eqs 1 and 2.
    """
    p = require_non_negative("reaction_kN", reaction_kN)
    qa, b = require_positive("allowable_kPa", allowable_kPa), require_positive("width_m", width_m)
    w = require_non_negative("self_weight_kN", self_weight_kN)
    return np.asarray((p + w) / (qa * b))


@dataclass(frozen=True)
class CantileverActions:
    """Forces in a mat that cantilevers beyond the float on a uniform ground pressure.

    Attributes:
      cantilever_m: overhang beyond the float face.
      pressure_kPa: P / (L B); the mat's own weight goes straight down and bends nothing.
      moment_kNm: at the float face, over the whole width.
      shear_kN: at one thickness from the float face (timber), or at the face (others).
    """

    cantilever_m: FloatArray
    pressure_kPa: FloatArray
    moment_kNm: FloatArray
    shear_kN: FloatArray


def cantilever_actions(
    reaction_kN: ArrayLike,
    bearing_length_m: ArrayLike,
    *,
    width_m: ArrayLike,
    float_length_m: ArrayLike,
    shear_offset_m: ArrayLike = 0.0,
) -> CantileverActions:
    """Bending moment and shear in a mat under reaction_kN over a bearing_length_m of even pressure.

    Lc = (L - C)/2, q = P/(L B), M = q B Lc^2/2, V = q B (Lc - d); none below zero. float_length_m C
    lies along the mat of width_m B; shear_offset_m d is the distance from the float face at which
    shear is taken: the thickness for timber, 0 for steel.

    Source: Duerr (2010), Eqs 3 to 7.
    """
    p = require_non_negative("reaction_kN", reaction_kN)
    length = require_positive("bearing_length_m", bearing_length_m)
    b, c = require_positive("width_m", width_m), require_positive("float_length_m", float_length_m)
    d = require_non_negative("shear_offset_m", shear_offset_m)
    overhang = np.maximum((length - c) / 2.0, 0.0)
    q = p / (length * b)
    moment, shear = q * b * overhang**2 / 2.0, q * b * np.maximum(overhang - d, 0.0)
    return CantileverActions(*map(np.asarray, (overhang, q, moment, shear)))


def strength_bearing_length(
    reaction_kN: ArrayLike,
    mat_length_m: ArrayLike,
    *,
    float_length_m: ArrayLike,
    moment_capacity_kNm: ArrayLike,
    shear_capacity_kN: ArrayLike,
    shear_offset_m: ArrayLike = 0.0,
) -> FloatArray:
    """Greatest length [m], at most mat_length_m, over which a mat can spread reaction_kN unharmed.

    Bending: P (L - C)^2 / (8 L) = M_a, moment_capacity_kNm over the width that bears, solved for L.
    Shear: P ((L - C)/2 - d) / L = V_a, shear_capacity_kN, that is L = (C + 2d)/(1 - 2 V_a/P), without limit when P <= 2
    V_a. float_length_m C and shear_offset_m d as :func:`cantilever_actions`.

    Raises: A float longer than the mat.
    Source: Duerr (2010), Eqs 3 to 7, solved for the length (own algebra).
    """
    p = require_non_negative("reaction_kN", reaction_kN)
    mat = require_positive("mat_length_m", mat_length_m)
    c = require_positive("float_length_m", float_length_m)
    m_a = require_positive("moment_capacity_kNm", moment_capacity_kNm)
    v_a = require_positive("shear_capacity_kN", shear_capacity_kN)
    d = require_non_negative("shear_offset_m", shear_offset_m)
    if not np.all(c <= mat):
        most = f"at most the mat length {float(np.min(mat)):g} m"
        raise InputError.of("float_length_m", float(np.max(c)), most)
    with np.errstate(divide="ignore"):
        ratio_m, ratio_v = m_a / p, v_a / p
    half = c + 4.0 * ratio_m
    root = np.sqrt(np.maximum(half - c, 0.0) * (half + c))
    bending = half + root
    slack = 1.0 - 2.0 * ratio_v
    shear = np.where(slack > 0.0, (c + 2.0 * d) / np.where(slack > 0.0, slack, 1.0), np.inf)
    return np.asarray(np.minimum(np.minimum(bending, shear), mat))


@dataclass(frozen=True)
class Punching:
    """The float pressing into, and through, the mat."""

    crushing_stress_kPa: FloatArray
    perimeter_m: FloatArray
    punching_force_kN: FloatArray
    punching_stress_kPa: FloatArray


def float_punching(
    reaction_kN: ArrayLike,
    mat_pressure_kPa: ArrayLike,
    *,
    float_length_m: ArrayLike,
    float_width_m: ArrayLike,
    mat_length_m: ArrayLike,
    mat_width_m: ArrayLike,
    thickness_m: ArrayLike,
) -> Punching:
    """Crushing under the float, and shear on a perimeter half a thickness around it.

    v = (R - q A_in) / (u d): reaction_kN R, and mat_pressure_kPa q from the leg alone, which
    relieves it. A round float may be given as a square of the same area, float_length_m by
    float_width_m. The perimeter has only those sides that lie within the mat, mat_length_m by
    mat_width_m and thickness_m d; with none, punching cannot occur and its stress is 0.

    Raises: A float larger than the mat.
    Source: ACI 318-19, 22.6.4 (perimeter at d/2; from memory).
    """
    r = require_non_negative("reaction_kN", reaction_kN)
    q = require_non_negative("mat_pressure_kPa", mat_pressure_kPa)
    c1 = require_positive("float_length_m", float_length_m)
    c2 = require_positive("float_width_m", float_width_m)
    length = require_positive("mat_length_m", mat_length_m)
    width = require_positive("mat_width_m", mat_width_m)
    d = require_positive("thickness_m", thickness_m)
    for field, c, side in (("float_length_m", c1, length), ("float_width_m", c2, width)):
        if not np.all(c <= side):
            raise InputError.of(field, float(np.max(c)), f"at most the mat's {np.min(side):g} m")
    in_l, in_w = c1 + d < length, c2 + d < width
    a, b = np.minimum(c1 + d, length), np.minimum(c2 + d, width)
    perimeter = 2.0 * (np.where(in_l, b, 0.0) + np.where(in_w, a, 0.0))
    force = np.maximum(r - q * a * b, 0.0)
    stress = np.where(perimeter > 0.0, force / np.where(perimeter > 0.0, perimeter * d, 1.0), 0.0)
    return Punching(np.asarray(r / (c1 * c2)), perimeter, np.asarray(force), stress)


GroundLimit = float | Callable[[FloatArray, FloatArray], ArrayLike]
"""A pressure [kPa], or a function of effective width and length [m] that gives one."""


@dataclass(frozen=True)
class MatCheck:
    """One mat under one leg (arrays broadcast over states).

    Attributes:
      effective_length_m, effective_width_m: found bearing size.
      pressure_kPa: (P + W) over the found size; what the ground feels.
      allowable_kPa: ground limit at that size.
      required_length_m: bearing length that the ground needs at the found width, infinite where.
        even the whole mat is too short (function limit) .
      actions: bending and shear at the length that the ground needs, at most the whole mat.
      punching: crushing and punching by the float.
      ground_utilisation, bending_utilisation, shear_utilisation, crushing_utilisation,
      punching_utilisation: value over limit.
      utilisation: greatest of the five.
      governs: name of that one.
    """

    effective_length_m: FloatArray
    effective_width_m: FloatArray
    pressure_kPa: FloatArray
    allowable_kPa: FloatArray
    required_length_m: FloatArray
    actions: CantileverActions
    punching: Punching
    ground_utilisation: FloatArray
    bending_utilisation: FloatArray
    shear_utilisation: FloatArray
    crushing_utilisation: FloatArray
    punching_utilisation: FloatArray
    utilisation: FloatArray
    governs: NDArray[np.str_]


LENGTH_TOLERANCE_M = 1e-3
"""How near the length that the ground needs is found, then made longer by half as much. [m]"""
_CHECKS = ("ground", "bending", "shear", "crushing", "punching")


def _effective_size(mat: MatProperties, p: FloatArray, c1: float, c2: float) -> tuple[FloatArray, FloatArray]:
    offset = mat.thickness_m if mat.material == "timber" else 0.0

    def spans(side_m: float, float_m: float, share: FloatArray) -> FloatArray:
        """Length along one side that the strength of a share of the other can serve."""
        return strength_bearing_length(
            p, side_m, float_length_m=float_m, moment_capacity_kNm=mat.moment_capacity_kNm * share,
            shear_capacity_kN=mat.shear_capacity_kN * share, shear_offset_m=offset,
        )  # fmt: skip

    if mat.across == "spread":
        width = np.full(p.shape, min(mat.width_m, c2 + 2.0 * mat.thickness_m))
        return spans(mat.length_m, c1, width / mat.width_m), width
    # a plate bends both ways: narrow the width to what it can carry over the length found,
    # then the length to what that width can carry, until both stand still (both only shrink)
    width = np.full(p.shape, mat.width_m)
    for _ in range(500):
        length = spans(mat.length_m, c1, width / mat.width_m)
        # capacity per metre, times the length at work
        new = spans(mat.width_m, c2, length / mat.width_m)
        if np.all(np.abs(new - width) < 1e-9):
            return length, new
        width = new
    raise ConvergenceError(f"mat {mat.name!r}: no effective size found within 500 steps")


def _allowable(limit: GroundLimit, width: FloatArray, length: FloatArray) -> FloatArray:
    short, long = np.minimum(width, length), np.maximum(width, length)
    value = limit(short, long) if callable(limit) else limit
    return np.broadcast_to(require_positive("allowable_kPa", value), length.shape)


def _required_length(
    mat: MatProperties, p: FloatArray, width: FloatArray, limit: GroundLimit, c1: float,
    known: tuple[FloatArray, FloatArray],
) -> FloatArray:  # fmt: skip
    force = p + mat.weight_kN
    if not callable(limit):
        return bearing_length_required_m(p, limit, width_m=width, self_weight_kN=mat.weight_kN)
    # The ground asks for r(L) = force / (q_a(L) B) while the bearing is L; the root of r(L) - L by
    # the secant, kept between a length that is enough (high) and one that is not (low). q_a moves
    # little with L, so four or five calls of the limit do.
    low, high = np.full(p.shape, c1), np.full(p.shape, mat.length_m)

    def short(length: FloatArray) -> FloatArray:
        return np.asarray(force / (_allowable(limit, width, length) * width) - length)

    if np.array_equal(known[0], high):  # the limit there has been asked for already
        previous, at_previous = high, np.asarray(force / (known[1] * width) - high)
    else:
        previous, at_previous = high, short(high)
    possible = at_previous <= 0.0
    trial = np.clip(previous + at_previous, low, high)
    result = high
    done = ~possible
    least_asked = trial <= c1
    for _ in range(60):
        at_trial = short(trial)
        enough = at_trial <= 0.0
        close = np.abs(at_trial) <= LENGTH_TOLERANCE_M / 4.0
        # on the long side of the root: the slope of r(L) - L is near -1, never near 0
        found = np.where(enough & ~close, trial, np.minimum(trial + 2.0 * np.abs(at_trial), high))
        stop = close | (enough & (trial <= c1)) | (high - low <= LENGTH_TOLERANCE_M)
        result = np.where(done, result, np.where(stop, found, high))
        done = done | stop
        if done.all():
            break
        low, high = np.where(enough, low, trial), np.where(enough, trial, high)
        change = at_trial - at_previous
        slope = np.where(change == 0.0, -1.0, (trial - previous) / np.where(change == 0, 1, change))
        ahead = trial - at_trial * np.where(change == 0.0, -1.0, slope)
        previous, at_previous = trial, at_trial
        inside = (ahead >= low) & (ahead <= high)
        # a root below the least length: ask for that length, once
        outside = np.where((ahead < c1) & ~least_asked, c1, (low + high) / 2.0)
        trial = np.where(inside, ahead, outside)
        least_asked = least_asked | (trial <= c1)
    else:
        raise ConvergenceError(f"mat {mat.name!r}: the length that the ground needs was not found")
    return np.where(possible, result, np.inf)


def mat_check(
    mat: MatProperties,
    reaction_kN: ArrayLike,
    *,
    allowable_kPa: GroundLimit,
    float_length_m: float,
    float_width_m: float,
) -> MatCheck:
    """Check one mat, its ground and its float for one leg.

    The load is taken in the middle of the mat. The ground passes if and only if the length it needs
    is not more than the length that strength allows, so ground, bending and shear agree.

    Parameters:
      reaction_kN: >= 0. Leg force on the float. [kN]
      allowable_kPa: float or callable. Ground limit [kPa], or a function (width_m, length_m) ->
        limit, called with arrays, the shorter effective side first.
      float_length_m, float_width_m: > 0. Float size along the mat's length and width. [m]
    Raises: A float larger than the mat, a limit that is not above 0, or anything not finite.
      ConvergenceError: No effective size found.
    Source: Duerr (2010), Eqs 1-8.
    """
    p = require_non_negative("reaction_kN", reaction_kN)
    c1 = float(require_positive("float_length_m", float_length_m))
    c2 = float(require_positive("float_width_m", float_width_m))
    sides = (("float_length_m", c1, mat.length_m), ("float_width_m", c2, mat.width_m))
    for field, c, side in sides:
        if not c <= side:
            remedy, source = "Turn the mat or choose a larger one.", f"mat {mat.name!r}"
            raise InputError.of(field, c, f"at most {side:g} m", remedy, source=source)
    length, width = _effective_size(mat, p, c1, c2)
    pressure = (p + mat.weight_kN) / (length * width)
    allowable = _allowable(allowable_kPa, width, length)
    required = _required_length(mat, p, width, allowable_kPa, c1, (length, allowable))
    used = np.clip(required, c1, mat.length_m)
    offset = mat.thickness_m if mat.material == "timber" else 0.0
    actions = cantilever_actions(p, used, width_m=width, float_length_m=c1, shear_offset_m=offset)
    share = width / mat.width_m
    least = p / (length * width)  # the least pressure that may relieve the punching force
    punching = float_punching(
        p, least, float_length_m=c1, float_width_m=c2, mat_length_m=mat.length_m,
        mat_width_m=mat.width_m, thickness_m=mat.thickness_m,
    )  # fmt: skip
    shear_limit = mat.shear_strength_kPa / mat.strength_divisor
    parts = np.stack(
        [
            pressure / allowable,
            actions.moment_kNm / (mat.moment_capacity_kNm * share),
            actions.shear_kN / (mat.shear_capacity_kN * share),
            punching.crushing_stress_kPa / (mat.crushing_strength_kPa / mat.strength_divisor),
            punching.punching_stress_kPa / shear_limit,
        ]
    )
    return MatCheck(
        effective_length_m=length, effective_width_m=width, pressure_kPa=pressure, allowable_kPa=allowable,
        required_length_m=required, actions=actions, punching=punching, ground_utilisation=parts[0],
        bending_utilisation=parts[1], shear_utilisation=parts[2], crushing_utilisation=parts[3],
        punching_utilisation=parts[4], utilisation=parts.max(axis=0), governs=np.asarray(_CHECKS)[parts.argmax(axis=0)],
    )  # fmt: skip
