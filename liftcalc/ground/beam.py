"""A mat as a beam of real stiffness on elastic ground.

Deflection and pressure are positive downwards and in compression; a bending moment that stretches
the underside of the mat is positive; shear is the slope of the moment.

Sources: Hetenyi, Beams on Elastic Foundation (1946): infinite beam under a point and a patch load,
finite beam by end correction. Lift-off of a weightless mat: the part that touches is a free beam
whose ends neither press nor lift (own statement, checked against a frame library with
compression-only springs). Spring of the ground under a beam: Vesic (1961), from memory.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_non_negative, require_positive

Contact = Literal["compression only", "linear"]


def subgrade_modulus_vesic_kN_m3(
    modulus_kPa: ArrayLike, width_m: ArrayLike, *, stiffness_kNm2: ArrayLike, poisson: ArrayLike
) -> FloatArray:
    """Coefficient of subgrade reaction under a beam: k_s, pressure per settlement. [kN/m3]

    k_s B = 0.65 (Es B^4 / EI)^(1/12) Es / (1 - nu^2), with modulus_kPa Es of the ground, *poisson*
    nu (0 to 0.5), and stiffness_kNm2 EI over the width_m B. Derived for long beams; for a short,
    stiff mat it is close to, not equal to, the elastic half space.

    Source: Vesic (1961), as in Bowles, Eq. 9-6 (formula from memory).
    """
    es, b = require_positive("modulus_kPa", modulus_kPa), require_positive("width_m", width_m)
    ei = require_positive("stiffness_kNm2", stiffness_kNm2)
    nu = require_between("poisson", poisson, 0.0, 0.5)
    return np.asarray(0.65 * (es * b**4 / ei) ** (1.0 / 12.0) * es / (1.0 - nu**2) / b)


def characteristic_per_m(
    subgrade_modulus_kN_m3: ArrayLike, width_m: ArrayLike, *, stiffness_kNm2: ArrayLike
) -> FloatArray:
    """How stiff a mat is against its ground, an inverse length: (k_s b / (4 EI))^(1/4). [1/m]

    k_s is subgrade_modulus_kN_m3, EI the stiffness_kNm2 over width_m b. Times the length: below
    about 1 the mat is rigid, above pi the ends of a centrally loaded mat lift.

    Source: Hetenyi (1946).
    """
    k = require_positive("subgrade_modulus_kN_m3", subgrade_modulus_kN_m3)
    b, ei = require_positive("width_m", width_m), require_positive("stiffness_kNm2", stiffness_kNm2)
    return np.asarray((k * b / (4.0 * ei)) ** 0.25)


@dataclass(frozen=True)
class CentredBeamShape:
    """Deflection, moment, shear and pressure along a mat loaded in its middle."""

    x_m: FloatArray
    deflection_m: FloatArray
    moment_kNm: FloatArray
    shear_kN: FloatArray
    pressure_kPa: FloatArray
    contact_length_m: FloatArray


def _infinite(x: FloatArray, a: FloatArray, lam: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Unit load on an endless beam at x >= 0: k w, M and V; patch half width a (0: point)."""

    def wave(u: FloatArray) -> tuple[FloatArray, FloatArray]:
        fall = np.exp(-lam * u)
        return fall * np.cos(lam * u), fall * np.sin(lam * u)

    point = lam * a < 1e-6  # a patch this narrow is a point to ten digits
    q = 1.0 / np.where(point, 1.0, 2.0 * a)
    (near_c, near_s), (far_c, far_s), (c, s) = wave(np.abs(x - a)), wave(x + a), wave(x)
    side = np.where(x < a, -1.0, 1.0)
    w = np.where(x < a, 2.0, 0.0) + side * near_c - far_c
    m = -side * near_s + far_s
    v = far_c - far_s - (near_c - near_s)
    return (
        np.where(point, lam / 2.0 * (c + s), q / 2.0 * w),
        np.where(point, (c - s) / (4.0 * lam), q / (4.0 * lam**2) * m),
        np.where(point, -c / 2.0, q / (4.0 * lam) * v),
    )


def _unit_beam(
    x: FloatArray, half: FloatArray, a: FloatArray, lam: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Unit load on a free beam of half length ``half``: k w, M and V at 0 <= x <= half.

    The endless beam plus the two even homogeneous solutions, scaled by exp(lambda half) so that
    long beams do not overflow.
    """

    def even(u: FloatArray) -> tuple[FloatArray, ...]:
        grow, fall = np.exp(lam * (u - half)), np.exp(-lam * (u + half))
        ch, sh = (grow + fall) / 2.0, (grow - fall) / 2.0
        c, s = np.cos(lam * u), np.sin(lam * u)
        # k w = A ch cos + B sh sin; 4 EI lam^4 = k, so M and V follow with 1/(2 lam^2), 1/(2 lam)
        moment = sh * s / (2.0 * lam**2), -ch * c / (2.0 * lam**2)
        shear = ((ch * s + sign * sh * c) / (2.0 * lam) for sign in (1, -1))
        return ch * c, sh * s, *moment, *shear

    _, m_end, v_end = _infinite(half, a, lam)
    _, _, m1, m2, v1, v2 = even(half)
    det = m1 * v2 - m2 * v1
    coef_a = (-m_end * v2 + v_end * m2) / det
    coef_b = (-m1 * v_end + v1 * m_end) / det
    w, m, v = _infinite(x, a, lam)
    w1, w2, m1, m2, v1, v2 = even(x)
    parts = ((w, w1, w2), (m, m1, m2), (v, v1, v2))
    w, m, v = (own + coef_a * first + coef_b * second for own, first, second in parts)
    return w, m, v


def _contact_half(
    half: FloatArray, a: FloatArray, lam: FloatArray, contact: Contact
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Half length in contact, and whether the patch covers all of it."""
    covered = a >= half * (1.0 - 1e-9)
    safe_a = np.where(covered, half / 2.0, a)
    if contact == "linear":
        return half, covered
    # the end pressure of a free beam changes sign once within 3 pi / (4 lambda) of the patch; later
    # sign changes belong to beams whose inner part has already lifted
    low = np.maximum(safe_a, half * 1e-9)
    high = np.minimum(half, low + 0.75 * np.pi / lam)
    lifted = ~covered & (_unit_beam(high, high, safe_a, lam)[0] < 0.0)
    if not lifted.any():
        return half, covered
    for _ in range(60):
        middle = (low + high) / 2.0
        patch = np.minimum(safe_a, middle * (1.0 - 1e-9))
        presses = _unit_beam(middle, middle, patch, lam)[0] >= 0.0
        low, high = np.where(presses, middle, low), np.where(presses, high, middle)
    return np.where(lifted, low, half), covered


def centred_beam_shape(
    load_kN: ArrayLike,
    length_m: ArrayLike,
    *,
    width_m: ArrayLike,
    stiffness_kNm2: ArrayLike,
    subgrade_modulus_kN_m3: ArrayLike,
    patch_m: ArrayLike = 0.0,
    x_m: ArrayLike,
    contact: Contact = "compression only",
) -> CentredBeamShape:
    """Deflection, moment, shear and pressure at points of a mat loaded in its middle.

    The mat is weightless and does not deform in shear. A patch as long as the mat gives an even
    pressure and no bending. The greatest moment and pressure are in the middle. The answer is
    proportional to the load: a weightless mat lifts at the same place under any load.

    Parameters:
      load_kN: >= 0. [kN]
      length_m, width_m: > 0. Mat length that spans, and the width that bears. [m]
      stiffness_kNm2: > 0. EI over that width. [kNm2]
      subgrade_modulus_kN_m3: > 0. [kN/m3]
      patch_m: >= 0. Length over which the float presses evenly; 0 is a point load. [m]
      x_m: Distance from the middle, within the mat. [m]
      contact: {"compression only", "linear"}. Whether the ground may pull.
    Raises: A point beyond the mat, or anything not finite or outside the range above.
    Source: Hetenyi (1946), endless beam with end correction.
    """
    if contact not in ("compression only", "linear"):
        raise InputError.of("contact", contact, "compression only, linear")
    p = require_non_negative("load_kN", load_kN)
    length = require_positive("length_m", length_m)
    lam = characteristic_per_m(subgrade_modulus_kN_m3, width_m, stiffness_kNm2=stiffness_kNm2)
    k = np.asarray(subgrade_modulus_kN_m3, dtype=np.float64) * np.asarray(width_m, dtype=np.float64)
    a = require_non_negative("patch_m", patch_m) / 2.0
    x = np.asarray(x_m, dtype=np.float64)
    if not np.all(np.abs(x) <= length / 2.0 * (1.0 + 1e-12)):
        raise InputError.of("x_m", float(np.max(np.abs(x))), "within half the mat length")
    half, a, lam = np.broadcast_arrays(length / 2.0, a, lam)
    touch, covered = _contact_half(half, a, lam, contact)
    safe_a = np.where(covered, half / 2.0, a)
    p, length, lam, k, safe_a, touch, covered, x = np.broadcast_arrays(p, length, lam, k, safe_a, touch, covered, x)
    r = np.abs(x)
    inside = np.minimum(r, touch)
    w, m, v = _unit_beam(inside, touch, np.minimum(safe_a, touch), lam)
    # beyond the contact a weightless mat is straight: w falls by the slope at the lift-off point
    over = r - inside
    if np.any(over > 0.0):
        step = 1e-5 * touch
        back = _unit_beam(touch - step, touch, np.minimum(safe_a, touch), lam)[0]
        end = _unit_beam(touch, touch, np.minimum(safe_a, touch), lam)[0]
        # M and V vanish there, so the shape is straight to third order: one difference suffices
        w = w + (end - back) / step * over
        m, v = np.where(over > 0.0, 0.0, m), np.where(over > 0.0, 0.0, v)
    w = np.where(covered, 1.0 / length, w)
    m, v = np.where(covered, 0.0, m), np.where(covered, 0.0, v)
    deflection = p * w / k
    pressure = np.asarray(subgrade_modulus_kN_m3, dtype=np.float64) * deflection
    if contact == "compression only":
        pressure = np.maximum(pressure, 0.0)
    return CentredBeamShape(
        x_m=x, deflection_m=deflection, moment_kNm=p * m,
        shear_kN=p * v * np.where(x < 0.0, -1.0, 1.0), pressure_kPa=pressure,
        contact_length_m=2.0 * touch,
    )  # fmt: skip
