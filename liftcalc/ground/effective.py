"""Effective unit weight of ground with water in it.

Sources: UFC 3-220-20 (2025) section 5-3.2 and FHWA-SA-02-054 (GEC 6, 2002) section 5.2.3.2, both
read in the transcription of the package geotech-references 1.4.1.
"""

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_positive

WATER_UNIT_WEIGHT_KN_M3 = 9.81
"""Unit weight of water. [kN/m3]"""
INFLUENCE_DEPTH_OVER_B = 1.5
"""Depth below the base, over its width, within which water lowers the strength."""


def unit_weight_below_kN_m3(
    unit_weight_kN_m3: ArrayLike, water_depth_m: ArrayLike, *, B_m: ArrayLike
) -> FloatArray:
    """Effective unit weight of the ground below a base, as the self-weight term takes it. [kN/m3]

    Linear from the submerged value, with water at the base, to the bulk value with water 1.5 B
    below it (the depth of influence of GEC 6). Hydrostatic, no upward seepage. The bulk value
    counts for the saturated one, which is higher.

    Parameters:
      unit_weight_kN_m3: > 0. Bulk; must exceed that of water, 9.81, where water counts. [kN/m3]
      water_depth_m: >= 0, may be inf. Depth of the water table below the base; inf only where it is
        known to be deep. [m]
      B_m: > 0. Width of the base. [m]
    Returns: ndarray of the common shape. [kN/m3]
    Raises: No water depth; a unit weight at or below that of water where water counts.
    Source: UFC 3-220-20 section 5-3.2; FHWA-SA-02-054 (GEC 6) section 5.2.3.2 (influence depth).
    """
    B, bulk = require_positive("B_m", B_m), require_positive("unit_weight_kN_m3", unit_weight_kN_m3)
    water = np.asarray(water_depth_m, dtype=np.float64)
    if not np.all(water >= 0.0):
        raise InputError.of(
            "water_depth_m", water_depth_m, "0 or greater (inf if known to be deep)",
            "Measure the water level; if it is unknown, take it at the surface.",
        )  # fmt: skip
    wet = np.any(water < INFLUENCE_DEPTH_OVER_B * B)
    if wet and not np.all(bulk > WATER_UNIT_WEIGHT_KN_M3):
        need = f"greater than {WATER_UNIT_WEIGHT_KN_M3} (water) below the water table"
        raise InputError.of("unit_weight_kN_m3", float(np.min(bulk)), need)
    submerged = bulk - WATER_UNIT_WEIGHT_KN_M3
    share = np.clip(water / (INFLUENCE_DEPTH_OVER_B * B), 0.0, 1.0)
    below = submerged + share * (bulk - submerged)
    return np.asarray(np.where(share >= 1.0, bulk, below))
