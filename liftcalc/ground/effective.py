"""The base that counts and the stress that counts: effective area, effective stress.

Sources: Meyerhof 1953 and UFC 3-220-20 (2025) section 5-2.3 (read in a digitised edition);
FHWA-IF-02-054 (GEC 6) section 5.2.3.2.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.base.errors import InputError, require_finite, require_non_negative, require_positive

WATER_UNIT_WEIGHT_KN_M3 = 9.81
_INFLUENCE_DEPTH_OVER_B = 1.5
_NO_AREA_M = 1e-9


@dataclass(frozen=True)
class EffectiveArea:
    """Effective base: B_eff_m <= L_eff_m, whichever side of the mat they lie along."""

    B_eff_m: FloatArray
    L_eff_m: FloatArray
    A_eff_m2: FloatArray
    turned: BoolArray
    """True where the short effective side lies along L of the mat."""
    lifts: BoolArray
    """True where the load is outside the kern, so part of the base has no contact."""
    outside: BoolArray
    """True where the load is outside the mat: nothing carries it."""


def effective_area(
    B_m: ArrayLike,
    L_m: ArrayLike,
    *,
    eccentricity_B_m: ArrayLike = 0.0,
    eccentricity_L_m: ArrayLike = 0.0,
) -> EffectiveArea:
    """Effective area of a rectangular base under an eccentric load.

    B' = B - 2 |e_B|, L' = L - 2 |e_L|, A' = B' L'; if L' < B' they swap roles. Kern: 6 e_B/B + 6
    e_L/L <= 1. A load outside the mat has A' = 0.

    Parameters:
      B_m, L_m: > 0. Sides of the base, in any order. [m]
      eccentricity_B_m, eccentricity_L_m: Distance of the load from the centre along B and L, either
        sign. [m]
    Returns: EffectiveArea, arrays of the common shape
    Source: Meyerhof 1953; UFC 3-220-20 Eqs 5-6, 5-8 to 5-10; EN 1997-1:2004 Annex D.4.
    """
    B, L = require_positive("B_m", B_m), require_positive("L_m", L_m)
    e_B = np.abs(require_finite("eccentricity_B_m", eccentricity_B_m))
    e_L = np.abs(require_finite("eccentricity_L_m", eccentricity_L_m))
    along_B, along_L = np.broadcast_arrays(B - 2.0 * e_B, L - 2.0 * e_L)
    outside = (along_B <= _NO_AREA_M) | (along_L <= _NO_AREA_M)
    lifts = 6.0 * e_B / B + 6.0 * e_L / L > 1.0 + 1e-12
    short, long = np.minimum(along_B, along_L), np.maximum(along_B, along_L)
    return EffectiveArea(
        B_eff_m=np.where(outside, 0.0, short),
        L_eff_m=np.where(outside, 0.0, long),
        A_eff_m2=np.where(outside, 0.0, short * long),
        turned=np.asarray(along_L < along_B),
        lifts=np.asarray(lifts | outside),
        outside=np.asarray(outside),
    )


@dataclass(frozen=True)
class Groundwater:
    """Effective overburden at the base and unit weight of the ground below it."""

    overburden_kPa: FloatArray
    unit_weight_below_kN_m3: FloatArray


def groundwater(
    depth_m: ArrayLike,
    water_depth_m: ArrayLike,
    *,
    B_m: ArrayLike,
    unit_weight_kN_m3: ArrayLike,
    saturated_unit_weight_kN_m3: ArrayLike | None = None,
) -> Groundwater:
    """Effective overburden, and the unit weight that goes with the self-weight term.

    Below the base the unit weight goes linearly from the submerged value, with water at or above
    the base, to the bulk value with water 1.5 B below it (the depth of influence of GEC 6).
    Hydrostatic, no upward seepage.

    Parameters:
      depth_m: >= 0. Depth of the base below ground. [m]
      water_depth_m: >= 0, may be inf. Depth of the water table below ground; inf only where it is
        known to be deep. [m]
      B_m: > 0. Width of the base. [m]
      unit_weight_kN_m3, saturated_unit_weight_kN_m3: Bulk unit weight above the water, and
        saturated below it (default: the bulk value, which is the lower and so the safer). Saturated
        must exceed that of water, 9.81.
    Returns: Groundwater, arrays of the common shape
    Raises: No water depth where it is needed; a saturated unit weight at or below that of water.
    Source: UFC 3-220-20 section 5-3.2; FHWA-IF-02-054 (GEC 6) section 5.2.3.2 (influence depth).
    """
    D = require_non_negative("depth_m", depth_m)
    B = require_positive("B_m", B_m)
    bulk = require_positive("unit_weight_kN_m3", unit_weight_kN_m3)
    if saturated_unit_weight_kN_m3 is None:
        saturated = bulk
    else:
        saturated = require_positive("saturated_unit_weight_kN_m3", saturated_unit_weight_kN_m3)
    w = np.asarray(water_depth_m, dtype=np.float64)
    if not np.all(w >= 0.0):
        raise InputError.of(
            "water_depth_m", water_depth_m, "0 or greater (inf if known to be deep)",
            "Measure the water level; if it is unknown, take it at the surface.",
        )  # fmt: skip
    wet = np.any(w < D + _INFLUENCE_DEPTH_OVER_B * B)
    if wet and not np.all(saturated > WATER_UNIT_WEIGHT_KN_M3):
        raise InputError.of(
            "saturated_unit_weight_kN_m3",
            float(np.min(saturated)),
            f"greater than {WATER_UNIT_WEIGHT_KN_M3} (water) below the water table",
        )
    submerged = saturated - WATER_UNIT_WEIGHT_KN_M3
    overburden = bulk * np.minimum(w, D) + submerged * np.maximum(D - w, 0.0)
    share = np.clip((w - D) / (_INFLUENCE_DEPTH_OVER_B * B), 0.0, 1.0)
    below = submerged + share * (bulk - submerged)
    return Groundwater(np.asarray(overburden), np.asarray(np.where(share >= 1.0, bulk, below)))
