"""Settlement of a mat, and the stiffness of the ground under a leg.

Contents
--------
half_space_factor, circle_factor, steinbrenner_factors, elastic_settlement_m,
winkler_settlement_m (spring constants: :mod:`liftcalc.ground.subgrade`), leg_stiffness_kN_m,
hough_settlement_m, consolidation_settlement_m, settlement_cautions.

Elastic theory gives the settlement that comes with the load. Clay goes on settling; that part is
calculated only from compressibility data (:func:`consolidation_settlement_m`) and is otherwise
named as a caution.

Sources: Schleicher (1926); Winterkorn and Fang (1975) as printed in FHWA-IF-02-054 (GEC 6), Table
5-12; Steinbrenner (1934) in the form of Bowles, Foundation Analysis and Design, Table 5-2; Hough
(1959) as worked in GEC 6, Appendix B; Terzaghi (1925), from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import (
    InputError,
    require_between,
    require_non_negative,
    require_positive,
)

__all__ = [
    "Position",
    "SteinbrennerFactors",
    "circle_factor",
    "consolidation_settlement_m",
    "elastic_settlement_m",
    "half_space_factor",
    "hough_settlement_m",
    "leg_stiffness_kN_m",
    "settlement_cautions",
    "steinbrenner_factors",
    "winkler_settlement_m",
]

Position = Literal["centre", "corner", "average"]


def half_space_factor(length_to_width: ArrayLike, position: Position = "centre") -> FloatArray:
    """Settlement factor of a flexible rectangle on a half space, on the shorter side B.

    Corner: (ln(m + sqrt(1+m^2)) + m ln((1 + sqrt(1+m^2))/m)) / pi with m = L/B; centre is twice
    that. Average: integral of 1/r over both the loaded and the observed area, in closed form.

    Parameters:
      length_to_width: array_like, >= 1. L/B, longer side over shorter. [-]
      position: {"centre", "corner", "average"}. Where; "average" is the mean over the area, a
        little above the settlement of a rigid mat.
    Returns: ndarray: Cd in s = Cd q B (1 - nu^2) / E. [-]
    Raises: L/B below 1, not finite, or an unknown position.
    Source: Schleicher (1926); table values in FHWA-IF-02-054 (GEC 6), Table 5-12.
    """
    m = require_between("length_to_width", length_to_width, 1.0, 1e6)
    corner = (np.arcsinh(m) + m * np.arcsinh(1.0 / m)) / np.pi
    if position == "corner":
        return np.asarray(corner)
    if position == "centre":
        return np.asarray(2.0 * corner)
    if position == "average":
        cube = (1.0 + m**3 - (1.0 + m**2) ** 1.5) / m
        return np.asarray(
            (2.0 * np.arcsinh(m) + 2.0 * m * np.arcsinh(1.0 / m) + cube / 1.5) / np.pi
        )
    raise InputError.of("position", position, "centre, corner, average")


def circle_factor(position: Literal["centre", "edge", "rigid"] = "centre") -> float:
    """Settlement factor of a loaded circle on a half space, on its diameter D.

    Parameters:
      position: {"centre", "edge", "rigid"}. Flexible circle at its centre or edge, or a rigid disc.
    Returns: float: Cd in s = Cd q D (1 - nu^2) / E. [-]
    Raises: An unknown position.
    Source: Exact theory 1, 2/pi and pi/4; FHWA-IF-02-054 (GEC 6), Table 5-12 prints 1.00, 0.64,
      0.79.
    """
    table = {"centre": 1.0, "edge": 2.0 / np.pi, "rigid": np.pi / 4.0}
    if position not in table:
        raise InputError.of("position", position, ", ".join(table))
    return float(table[position])


@dataclass(frozen=True)
class SteinbrennerFactors:
    """I1, I2 and the combined Is of a corner on a layer of limited thickness."""

    i1: FloatArray
    i2: FloatArray
    i_s: FloatArray


def steinbrenner_factors(
    length_to_width: ArrayLike, depth_to_width: ArrayLike, *, poisson: ArrayLike
) -> SteinbrennerFactors:
    """Corner settlement factors of a flexible rectangle on a layer over a rigid base.

    Parameters:
      length_to_width: array_like, > 0. L/B of the rectangle whose corner is meant. [-]
      depth_to_width: array_like, > 0. Layer thickness H over B. [-]
      poisson: array_like, 0 to 0.5. Poisson's ratio. [-]
    Returns: SteinbrennerFactors. s_corner = q B (1 - nu^2)/E Is, Is = I1 + (1 - 2 nu)/(1 - nu) I2.
    Source: Steinbrenner (1934), in the form of Bowles, Table 5-2.
    """
    m = require_positive("length_to_width", length_to_width)
    n = require_positive("depth_to_width", depth_to_width)
    nu = require_between("poisson", poisson, 0.0, 0.5)
    r_m, r_n = np.sqrt(m**2 + 1.0), np.sqrt(m**2 + n**2)
    r = np.sqrt(m**2 + n**2 + 1.0)
    i1 = (
        m * np.log((1.0 + r_m) * r_n / (m * (1.0 + r)))
        + np.log((m + r_m) * np.sqrt(1.0 + n**2) / (m + r))
    ) / np.pi
    i2 = n / (2.0 * np.pi) * np.arctan(m / (n * r))
    return SteinbrennerFactors(
        np.asarray(i1), np.asarray(i2), np.asarray(i1 + (1 - 2 * nu) / (1 - nu) * i2)
    )


def elastic_settlement_m(
    pressure_kPa: ArrayLike,
    modulus_kPa: ArrayLike,
    *,
    length_m: ArrayLike,
    width_m: ArrayLike,
    poisson: ArrayLike,
    position: Position = "centre",
    layer_thickness_m: ArrayLike | None = None,
) -> FloatArray:
    """Immediate elastic settlement of a flexible rectangular mat.

    Parameters:
      pressure_kPa: array_like, >= 0. Net contact pressure. [kPa]
      modulus_kPa: array_like, > 0. Young's modulus of the ground over the depth that matters. [kPa]
      length_m, width_m: array_like, > 0. Mat sides, in either order. [m]
      poisson: array_like, 0 to 0.5. [-]
      position: {"centre", "corner", "average"}. "average" is offered on the half space only.
      layer_thickness_m: array_like, > 0, or None. Depth to a rigid base; None is a half space. [m]
    Returns: ndarray: settlement, downwards positive. [m]
    Raises: "average" together with a layer.
    Source: Schleicher (1926) on the half space; Steinbrenner (1934) on a layer, the centre as four
      quarter rectangles.
    """
    q = require_non_negative("pressure_kPa", pressure_kPa)
    e = require_positive("modulus_kPa", modulus_kPa)
    nu = require_between("poisson", poisson, 0.0, 0.5)
    a = require_positive("length_m", length_m)
    b = require_positive("width_m", width_m)
    long, short = np.maximum(a, b), np.minimum(a, b)
    unit = q * short * (1.0 - nu**2) / e
    if layer_thickness_m is None:
        return np.asarray(unit * half_space_factor(long / short, position))
    h = require_positive("layer_thickness_m", layer_thickness_m)
    if position == "corner":
        return np.asarray(unit * steinbrenner_factors(long / short, h / short, poisson=nu).i_s)
    if position == "centre":
        # four quarters: each B/2 wide, so 4 * (B/2) = 2 B
        quarter = steinbrenner_factors(long / short, 2.0 * h / short, poisson=nu)
        return np.asarray(2.0 * unit * quarter.i_s)
    raise InputError.of("position", position, "centre or corner, when layer_thickness_m is given")


def winkler_settlement_m(pressure_kPa: ArrayLike, subgrade_modulus_kN_m3: ArrayLike) -> FloatArray:
    """Settlement of a rigid mat on springs, q / k_s.

    Parameters:
      pressure_kPa: array_like, >= 0. [kPa]
      subgrade_modulus_kN_m3: array_like, > 0. [kN/m3]
    Returns: ndarray: settlement. [m]
    Source: Definition of the coefficient of subgrade reaction (Winkler 1867).
    """
    q = require_non_negative("pressure_kPa", pressure_kPa)
    return np.asarray(q / require_positive("subgrade_modulus_kN_m3", subgrade_modulus_kN_m3))


def leg_stiffness_kN_m(
    modulus_kPa: ArrayLike,
    poisson: ArrayLike,
    *,
    length_m: ArrayLike,
    width_m: ArrayLike,
) -> FloatArray:
    """Vertical stiffness of the ground under one mat: leg force per settlement.

    Parameters:
      modulus_kPa: array_like, > 0. Young's modulus of the ground. [kPa]
      poisson: array_like, 0 to 0.5. [-]
      length_m, width_m: array_like, > 0. (Effective) mat sides. [m]
    Returns: ndarray: stiffness, force over mean settlement on a half space. [kN/m]
    Source: :func:`half_space_factor`, average.
    """
    a = require_positive("length_m", length_m)
    b = require_positive("width_m", width_m)
    unit = elastic_settlement_m(
        1.0, modulus_kPa, length_m=a, width_m=b, poisson=poisson, position="average"
    )
    return np.asarray(a * b / unit)


def hough_settlement_m(
    load_kN: ArrayLike,
    *,
    length_m: ArrayLike,
    width_m: ArrayLike,
    layer_thickness_m: ArrayLike,
    layer_mid_depth_m: ArrayLike,
    initial_stress_kPa: ArrayLike,
    bearing_capacity_index: ArrayLike,
) -> FloatArray:
    """Settlement on granular layers by Hough's logarithmic law with 2:1 spread.

    s = sum H / C' log10((s0 + ds) / s0).

    Parameters:
      load_kN: array_like, shape (...), >= 0. [kN]
      length_m, width_m: array_like, shape (...), > 0. [m]
      layer_thickness_m, layer_mid_depth_m, initial_stress_kPa, bearing_capacity_index: array_like.
        Shape (K,), all > 0: thickness, depth of the middle below the mat, effective vertical stress
        before loading, and C' of each layer. [m, m, kPa, -]
    Returns: ndarray, shape (...): settlement. [m]
    Source: Hough (1959), as worked in FHWA-IF-02-054 (GEC 6), Appendix B, Tables B1-2 and B1-3.
    """
    load = require_non_negative("load_kN", load_kN)[..., None]
    a = require_positive("length_m", length_m)[..., None]
    b = require_positive("width_m", width_m)[..., None]
    h = require_positive("layer_thickness_m", layer_thickness_m)
    z = require_positive("layer_mid_depth_m", layer_mid_depth_m)
    s0 = require_positive("initial_stress_kPa", initial_stress_kPa)
    c = require_positive("bearing_capacity_index", bearing_capacity_index)
    added = load / ((a + z) * (b + z))
    return np.asarray((h / c * np.log10((s0 + added) / s0)).sum(axis=-1))


def consolidation_settlement_m(
    stress_kPa: ArrayLike,
    thickness_m: ArrayLike,
    *,
    compressibility_m2_kN: ArrayLike,
    consolidation_m2_year: ArrayLike,
    duration_days: ArrayLike,
    drainage_paths: Literal[1, 2] = 2,
) -> FloatArray:
    """Clay settlement that has come by the end of the stay, from oedometer data.

    s = U m_v ds H. U by Terzaghi's series; the first 200 terms, which for U below 0.01 still leave
    an error under 0.002.

    Parameters:
      stress_kPa: array_like, >= 0. Mean added vertical stress in the layer. [kPa]
      thickness_m: array_like, > 0. [m]
      compressibility_m2_kN: array_like, > 0. m_v over the stress range. [m2/kN]
      consolidation_m2_year: array_like, > 0. c_v. [m2/year]
      duration_days: array_like, >= 0. How long the leg stands loaded. [days]
      drainage_paths: {1, 2}. Layer drains at one face or at both.
    Returns: ndarray: settlement beyond the immediate one. [m]
    Raises: Other than one or two drainage paths.
    Source: Terzaghi (1925), one-dimensional consolidation (from memory).
    """
    ds = require_non_negative("stress_kPa", stress_kPa)
    h = require_positive("thickness_m", thickness_m)
    mv = require_positive("compressibility_m2_kN", compressibility_m2_kN)
    cv = require_positive("consolidation_m2_year", consolidation_m2_year)
    t = require_non_negative("duration_days", duration_days) / 365.25
    if drainage_paths not in (1, 2):
        raise InputError.of("drainage_paths", drainage_paths, "1 or 2")
    tv = cv * t / (h / drainage_paths) ** 2
    root = np.pi / 2.0 * (2.0 * np.arange(200.0) + 1.0)
    left = (2.0 / root**2 * np.exp(-(root**2) * np.asarray(tv)[..., None])).sum(axis=-1)
    degree = np.clip(1.0 - left, 0.0, 1.0)  # rounding of the cut series only
    return np.asarray(np.where(tv > 0.0, degree, 0.0) * mv * ds * h)


def settlement_cautions(
    soil: Literal["clay", "silt", "sand", "gravel", "fill", "rock", "peat"],
    *,
    has_consolidation_data: bool = False,
) -> tuple[str, ...]:
    """What the elastic settlement of this ground leaves out, in words for the sheet.

    Parameters:
      soil: {"clay", "silt", "sand", "gravel", "fill", "rock", "peat"}. Main soil within the depth
        that the mat loads.
      has_consolidation_data: bool. Whether a time-dependent part has been calculated.
    Returns: tuple of str: one sentence for each caution; may be empty.
    Raises: An unknown soil.
    Source: Common practice, no published source.
    """
    known = ("clay", "silt", "sand", "gravel", "fill", "rock", "peat")
    if soil not in known:
        raise InputError.of("soil", soil, ", ".join(known))
    out: list[str] = []
    if soil in ("clay", "silt", "peat") and not has_consolidation_data:
        out.append(
            f"The ground is {soil}: it goes on settling under a standing load and no data for that "
            "were given. Re-level when the machine stands longer than one shift."
        )
    if soil == "fill":
        out.append("The ground is fill: settlement depends on how it was placed; prove it by test.")
    if soil == "peat":
        out.append(
            "Peat: elastic settlement is not a fair estimate; do not stand a leg on it unproven."
        )
    return tuple(out)
