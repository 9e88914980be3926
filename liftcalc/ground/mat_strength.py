"""Forces in a mat, the length its strength can serve, punching by the float.

Sources: Duerr, "Effective Bearing Length of Crane Mats" (2010), Eqs 1-8 (cantilever form; the
beam-based procedure of the same paper is not used). Punching at half the thickness around the
float: ACI 318-19, 22.6.4 (from memory).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_non_negative, require_positive


def bearing_length_required_m(
    reaction_kN: ArrayLike,
    allowable_kPa: ArrayLike,
    *,
    width_m: ArrayLike,
    self_weight_kN: ArrayLike = 0.0,
) -> FloatArray:
    """Mat length that brings the pressure down to what the ground allows.

    Parameters:
      reaction_kN: >= 0. [kN]
      allowable_kPa: > 0. Allowable ground pressure. [kPa]
      width_m: > 0. Width that bears. [m]
      self_weight_kN: >= 0. [kN]
    Returns: ndarray: (P + W) / (q_a B). [m]
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
    """Bending moment and shear in a mat over a chosen bearing length.

    Lc = (L - C)/2, q = P/(L B), M = q B Lc^2/2, V = q B (Lc - d); none below zero.

    Parameters:
      reaction_kN: >= 0. [kN]
      bearing_length_m: > 0. Length over which the ground pushes back evenly. [m]
      width_m: > 0. [m]
      float_length_m: > 0. Float side along the mat. [m]
      shear_offset_m: >= 0. Distance from the float face at which shear is taken: the thickness for
        timber, 0 for steel. [m]
    Returns: CantileverActions
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
    """Greatest length over which a mat can spread a leg's load without failing.

    Bending: P (L - C)^2 / (8 L) = M_a, solved for L. Shear: P ((L - C)/2 - d) / L = V_a, that is L
    = (C + 2d)/(1 - 2 V_a/P), without limit when P <= 2 V_a.

    Parameters:
      reaction_kN: >= 0. [kN]
      mat_length_m: > 0. [m]
      float_length_m: > 0, at most the mat length. [m]
      moment_capacity_kNm, shear_capacity_kN: > 0. Allowable, over the width that bears. [kNm, kN]
      shear_offset_m: >= 0. As in :func:`cantilever_actions`. [m]
    Returns: ndarray: least of both limits and of the mat's own length. [m]
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

    v = (R - q A_in) / (u d). A round float may be given as a square of the same area.

    Parameters:
      reaction_kN: >= 0. [kN]
      mat_pressure_kPa: >= 0. Ground pressure from the leg alone, which relieves the punching force.
        [kPa]
      float_length_m, float_width_m: > 0. [m]
      mat_length_m, mat_width_m, thickness_m: > 0. [m]
    Returns: Punching. The perimeter has only those sides that lie within the mat; with none,
      punching cannot occur and its stress is 0.
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
