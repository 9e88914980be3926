"""Coefficient of subgrade reaction: the spring that the ground is under a mat.

Contents
--------
subgrade_modulus_vesic_kN_m3, subgrade_modulus_elastic_kN_m3, subgrade_modulus_bearing_kN_m3,
subgrade_modulus_terzaghi_kN_m3, subgrade_modulus_sowers_kN_m3, SUBGRADE_RANGES_KN_M3.

Sources: Vesic (1961); Bowles, Foundation Analysis and Design, 5th ed., Table 9-1, Eqs 9-6 and 9-9;
Terzaghi (1955), from memory; Sowers (1977) as in UFC 3-220-20 (2025), Eq. 5-36.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_positive

__all__ = [
    "SUBGRADE_RANGES_KN_M3",
    "subgrade_modulus_bearing_kN_m3",
    "subgrade_modulus_elastic_kN_m3",
    "subgrade_modulus_sowers_kN_m3",
    "subgrade_modulus_terzaghi_kN_m3",
    "subgrade_modulus_vesic_kN_m3",
]


_PCI = 271.447138  # kN/m3 in one pound per cubic inch
SUBGRADE_RANGES_KN_M3: dict[str, tuple[float, float]] = {
    "loose sand": (4800.0, 16000.0),
    "medium dense sand": (9600.0, 80000.0),
    "dense sand": (64000.0, 128000.0),
    "clayey medium dense sand": (32000.0, 80000.0),
    "silty medium dense sand": (24000.0, 48000.0),
    "clay, qa <= 200 kPa": (12000.0, 24000.0),
    "clay, 200 < qa <= 800 kPa": (24000.0, 48000.0),
    "loose sand, UFC 3-220-20": (20.0 * _PCI, 60.0 * _PCI),
}
"""Guide ranges only; Bowles, 5th ed., Table 9-1, seen in public reprints; clay above 800 kPa has
a lower end only (48 000) and is not listed. UFC 3-220-20 (2025) Table 5-13, after Bowles 1996."""


def subgrade_modulus_vesic_kN_m3(
    modulus_kPa: ArrayLike, width_m: ArrayLike, *, stiffness_kNm2: ArrayLike, poisson: ArrayLike
) -> FloatArray:
    """Coefficient of subgrade reaction under a beam of bending stiffness EI.

    k_s B = 0.65 (Es B^4 / EI)^(1/12) Es / (1 - nu^2). Derived for long beams; for a short, stiff
    mat it is close to, not equal to, the elastic half space.

    Parameters:
      modulus_kPa: array_like, > 0. Young's modulus of the ground. [kPa]
      width_m: array_like, > 0. Width of the beam. [m]
      stiffness_kNm2: array_like, > 0. EI of the beam over that width. [kNm2]
      poisson: array_like, 0 to 0.5. [-]
    Returns: ndarray: k_s, pressure per settlement. [kN/m3]
    Source: Vesic (1961), as in Bowles, Eq. 9-6 (formula from memory).
    """
    es = require_positive("modulus_kPa", modulus_kPa)
    b = require_positive("width_m", width_m)
    ei = require_positive("stiffness_kNm2", stiffness_kNm2)
    nu = require_between("poisson", poisson, 0.0, 0.5)
    return np.asarray(0.65 * (es * b**4 / ei) ** (1.0 / 12.0) * es / (1.0 - nu**2) / b)


def subgrade_modulus_elastic_kN_m3(
    modulus_kPa: ArrayLike, width_m: ArrayLike, *, poisson: ArrayLike
) -> FloatArray:
    """Coefficient of subgrade reaction Es / (B (1 - nu^2)).

    Parameters:
      modulus_kPa: array_like, > 0. [kPa]
      width_m: array_like, > 0. [m]
      poisson: array_like, 0 to 0.5. [-]
    Returns: ndarray: k_s. [kN/m3]
    Source: Bowles, 5th ed., Eq. 9-6a.
    """
    es = require_positive("modulus_kPa", modulus_kPa)
    b = require_positive("width_m", width_m)
    nu = require_between("poisson", poisson, 0.0, 0.5)
    return np.asarray(es / (b * (1.0 - nu**2)))


def subgrade_modulus_bearing_kN_m3(
    allowable_kPa: ArrayLike, safety_factor: ArrayLike
) -> FloatArray:
    """Coefficient of subgrade reaction guessed from an allowable pressure, 40 SF q_a.

    Rests on 25 mm of settlement at failure; a first guess only.

    Parameters:
      allowable_kPa: array_like, > 0. [kPa]
      safety_factor: array_like, >= 1. The factor by which the allowable pressure lies below
        failure. [-]
    Returns: ndarray: k_s. [kN/m3]
    Source: Bowles, 5th ed., Eq. 9-9.
    """
    qa = require_positive("allowable_kPa", allowable_kPa)
    sf = require_between("safety_factor", safety_factor, 1.0, 10.0)
    return np.asarray(40.0 * sf * qa)


def subgrade_modulus_terzaghi_kN_m3(
    plate_modulus_kN_m3: ArrayLike,
    width_m: ArrayLike,
    *,
    length_m: ArrayLike,
    soil: Literal["sand", "clay"],
) -> FloatArray:
    """Subgrade reaction of a mat, scaled from a plate test with a 0.3 m plate.

    Square: sand k ((B + 0.3)/(2B))^2, clay k 0.3/B. Long: times (m + 0.5)/(1.5 m), m = L/B, which
    Terzaghi gives for clay; used here for both.

    Parameters:
      plate_modulus_kN_m3: array_like, > 0. From the 0.3 m plate. [kN/m3]
      width_m, length_m: array_like, >= 0.3. Mat sides, length not less than width. [m]
      soil: {"sand", "clay"}
    Returns: ndarray: k_s of the mat. [kN/m3]
    Raises: Anything outside the range above; a mat smaller than the plate; length below width.
    Source: Terzaghi (1955), from memory.
    """
    k = require_positive("plate_modulus_kN_m3", plate_modulus_kN_m3)
    b = require_between("width_m", width_m, 0.3, 1e3)
    length = require_between("length_m", length_m, 0.3, 1e3)
    m = require_between("length_m / width_m", length / b, 1.0, 1e4)
    if soil == "sand":
        square = k * ((b + 0.3) / (2.0 * b)) ** 2
    elif soil == "clay":
        square = k * 0.3 / b
    else:
        raise InputError.of("soil", soil, "sand or clay")
    return np.asarray(square * (m + 0.5) / (1.5 * m))


def subgrade_modulus_sowers_kN_m3(
    plate_modulus_kN_m3: ArrayLike,
    width_m: ArrayLike,
    *,
    plate_width_m: ArrayLike,
    exponent: ArrayLike = 0.7,
) -> FloatArray:
    """Subgrade reaction of a mat from a plate test by a power law.

    Parameters:
      plate_modulus_kN_m3: array_like, > 0. [kN/m3]
      width_m: array_like, > 0, at most 1.5. Width of the mat. [m]
      plate_width_m: array_like, > 0. Width of the plate, not above that of the mat. [m]
      exponent: array_like, 0.5 to 0.7. The larger, the softer (default). [-]
    Returns: ndarray: k_s = k_p (B_p / B)^n. [kN/m3]
    Raises: Anything outside the range above: the law is not given for wider mats.
    Source: UFC 3-220-20 (2025), Eq. 5-36, after Sowers (1977).
    """
    k = require_positive("plate_modulus_kN_m3", plate_modulus_kN_m3)
    b = require_between("width_m", width_m, 1e-3, 1.5)
    bp = require_positive("plate_width_m", plate_width_m)
    n = require_between("exponent", exponent, 0.5, 0.7)
    ratio = require_between("plate_width_m / width_m", bp / b, 1e-6, 1.0)
    return np.asarray(k * ratio**n)
