"""Ultimate bearing capacity of a rectangular mat on level ground under vertical, central load.

Forces in kN, lengths in m, pressures in kPa and gross (they include the overburden),
compression positive. Array arguments broadcast against each other, usually as (legs, slews).
A horizontal load, an eccentric load, a tilted base and sloping ground all lower the capacity and
are outside this module. The strength of ground above the base is not counted. Safety and design
values are in :mod:`liftcalc.ground.safety`.

Sources: UFC 3-220-20 (2025) sections 5-2, 5-3 and EN 1997-1:2004 Annex D, both read in the
transcription of the package geotech-references 1.4.1, with which the tests compare: source and
reference are one transcription. Vesic 1975 (from memory).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_non_negative, require_positive
from liftcalc.ground.effective import unit_weight_below_kN_m3
from liftcalc.ground.factors import (
    NC_UNDRAINED,
    PHI_ZERO_DEG,
    BearingFactors,
    Method,
    bearing_factors,
    check_method,
    check_phi_deg,
)
from liftcalc.ground.shape import (
    ShapeFactors,
    drained_shape_factors,
    side_ratio,
    undrained_shape_factors,
)


@dataclass(frozen=True, eq=False)
class UndrainedSoil:
    """Saturated clay by its undrained shear strength, in total stress."""

    cu_kPa: ArrayLike


@dataclass(frozen=True, eq=False)
class DrainedSoil:
    """Ground by effective cohesion (>= 0) and friction angle (above 0, at most 50).

    ``water_depth_m`` below the base, inf only if known to be deep. The bulk unit weight counts
    below the water too: the saturated one is higher, so this is the safer.
    """

    c_kPa: ArrayLike
    phi_deg: ArrayLike
    unit_weight_kN_m3: ArrayLike
    water_depth_m: ArrayLike


@dataclass(frozen=True)
class BearingCapacity:
    """Ultimate bearing capacity with every factor a checker would ask for.

    ``unit_weight_below_kN_m3`` is the effective one of the self-weight term; undrained it is None,
    for there is no such term.
    """

    method: Method
    factors: BearingFactors
    shape: ShapeFactors
    surcharge_kPa: FloatArray
    unit_weight_below_kN_m3: FloatArray | None
    q_ult_kPa: FloatArray


def bearing_capacity(
    B_m: ArrayLike,
    L_m: ArrayLike,
    soil: UndrainedSoil | DrainedSoil,
    *,
    surcharge_kPa: ArrayLike = 0.0,
    method: Method = "en1997",
) -> BearingCapacity:
    """Ultimate bearing capacity of a rectangular base on uniform ground, load vertical and central.

    Drained: q = c Nc sc + q0 Nq sq + 0.5 gamma B Ngamma sgamma. Undrained: q = cu Nc sc + q0.
    General shear of uniform ground, so not for loose ground or layers (see layers).

    Parameters:
      B_m, L_m: > 0, B <= L. Sides of the base. [m]
      soil: UndrainedSoil or DrainedSoil. Saturated clay by total stress, or ground by effective
        stress.
      surcharge_kPa: >= 0. Lasting pressure beside the base, q0: total undrained, effective drained.
        [kPa]
      method: {"meyerhof", "hansen", "vesic", "en1997"}
    Returns: BearingCapacity, arrays of the common shape of what they depend on
    Raises: A friction angle of 0 when drained.
    Source: UFC 3-220-20 Eqs 5-15, 5-17; EN 1997-1:2004 Eqs D.1, D.2; Vesic 1975.
    """
    check_method(method)
    ratio = side_ratio(B_m, L_m)
    B = np.asarray(B_m, np.float64)
    q0 = require_non_negative("surcharge_kPa", surcharge_kPa)
    if isinstance(soil, UndrainedSoil):
        cu = require_positive("cu_kPa", soil.cu_kPa)
        s = undrained_shape_factors(ratio, method=method)
        f = BearingFactors(np.asarray(NC_UNDRAINED), np.ones(()), np.zeros(()))
        return BearingCapacity(method, f, s, q0, None, np.asarray(cu * NC_UNDRAINED * s.c + q0))
    weight = require_positive("unit_weight_kN_m3", soil.unit_weight_kN_m3)
    c = require_non_negative("c_kPa", soil.c_kPa)
    phi = check_phi_deg(soil.phi_deg)
    if not np.all(phi >= PHI_ZERO_DEG):
        raise InputError.of("phi_deg", 0.0, "greater than 0 when drained", "Else undrained.")
    below = unit_weight_below_kN_m3(weight, soil.water_depth_m, B_m=B)
    f = bearing_factors(phi, method)
    s = drained_shape_factors(f, phi, ratio, method=method)
    q = c * f.Nc * s.c + q0 * f.Nq * s.q + 0.5 * below * B * f.Ngamma * s.gamma
    return BearingCapacity(method, f, s, q0, below, np.asarray(q))
