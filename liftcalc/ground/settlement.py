"""Settlement of a mat, and the stiffness of the ground under a leg.

Elastic theory gives the settlement that comes with the load. Clay goes on settling under a standing
load; that part is not calculated.

Sources: Schleicher (1926); Winterkorn and Fang (1975) as in FHWA-SA-02-054 (GEC 6, 2002), Table
5-12, read in the transcription of the package geotech-references 1.4.1.
"""

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_non_negative, require_positive

Position = Literal["centre", "corner", "average"]


def half_space_factor(length_to_width: ArrayLike, position: Position = "centre") -> FloatArray:
    """Settlement factor of a flexible rectangle on a half space, on the shorter side B.

    Corner: (ln(m + sqrt(1+m^2)) + m ln((1 + sqrt(1+m^2))/m)) / pi with m = L/B; centre is twice
    that. Average: integral of 1/r over both the loaded and the observed area, in closed form.

    Parameters:
      length_to_width: >= 1. L/B, longer side over shorter. [-]
      position: {"centre", "corner", "average"}. Where; "average" is the mean over the area, a
        little above the settlement of a rigid mat.
    Returns: ndarray: Cd in s = Cd q B (1 - nu^2) / E. [-]
    Raises: L/B below 1, not finite, or an unknown position.
    Source: Schleicher (1926); table values in FHWA-SA-02-054 (GEC 6), Table 5-12.
    """
    m = require_between("length_to_width", length_to_width, 1.0, 1e6)
    corner = (np.arcsinh(m) + m * np.arcsinh(1.0 / m)) / np.pi
    if position == "average":
        cube = (1.0 + m**3 - (1.0 + m**2) ** 1.5) / m
        sides = 2.0 * np.arcsinh(m) + 2.0 * m * np.arcsinh(1.0 / m)
        return np.asarray((sides + cube / 1.5) / np.pi)
    if position not in ("corner", "centre"):
        raise InputError.of("position", position, "centre, corner, average")
    return np.asarray(corner if position == "corner" else 2.0 * corner)


def elastic_settlement_m(
    pressure_kPa: ArrayLike,
    modulus_kPa: ArrayLike,
    *,
    length_m: ArrayLike,
    width_m: ArrayLike,
    poisson: ArrayLike,
    position: Position = "centre",
) -> FloatArray:
    """Immediate elastic settlement of a flexible rectangular mat.

    Parameters:
      pressure_kPa: >= 0. Net contact pressure. [kPa]
      modulus_kPa: > 0. Young's modulus of the ground over the depth that matters. [kPa]
      length_m, width_m: > 0. Mat sides, in either order. [m]
      poisson: 0 to 0.5. [-]
      position: {"centre", "corner", "average"}
    Returns: ndarray: settlement, downwards positive. [m]
    Source: Schleicher (1926), half space.
    """
    q = require_non_negative("pressure_kPa", pressure_kPa)
    e = require_positive("modulus_kPa", modulus_kPa)
    nu = require_between("poisson", poisson, 0.0, 0.5)
    a, b = require_positive("length_m", length_m), require_positive("width_m", width_m)
    long, short = np.maximum(a, b), np.minimum(a, b)
    return np.asarray(q * short * (1.0 - nu**2) / e * half_space_factor(long / short, position))


def leg_stiffness_kN_m(
    modulus_kPa: ArrayLike, poisson: ArrayLike, *, length_m: ArrayLike, width_m: ArrayLike
) -> FloatArray:
    """Vertical stiffness of the ground under one mat: leg force per settlement.

    Parameters:
      modulus_kPa: > 0. Young's modulus of the ground. [kPa]
      poisson: 0 to 0.5. [-]
      length_m, width_m: > 0. (Effective) mat sides. [m]
    Returns: ndarray: stiffness, force over mean settlement on a half space. [kN/m]
    Source: :func:`half_space_factor`, average.
    """
    a, b = require_positive("length_m", length_m), require_positive("width_m", width_m)
    unit = elastic_settlement_m(
        1.0, modulus_kPa, length_m=a, width_m=b, poisson=poisson, position="average"
    )
    return np.asarray(a * b / unit)
