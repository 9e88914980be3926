"""Bearing capacity of a strong layer over a weak one.

In each case the value never exceeds that of the upper layer alone, and the result says which of the two it is.

Sources: Meyerhof 1974; Meyerhof and Hanna 1978 (textbook form; chart of Ks as numbers in the
package geofound 1.1.4); Brown and Meyerhof 1969 (from memory, the rules for rectangles and for
similar layers read in UFC 3-220-20 section 5-3.6.2).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import require_between, require_non_negative, require_positive
from liftcalc.ground.bearing import NC_UNDRAINED, bearing_factors, side_ratio

KS_PHI_DEG = np.array([20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0])
"""Friction angles at which the curves of Ks were read. [deg]"""
KS_RATIO = np.array([0.0, 0.2, 0.4, 1.0])
"""Ratios q2/q1 of the curves."""
KS = np.array(
    [
        [0.93, 0.93, 1.16, 1.56, 2.26, 3.35, 4.82],
        [1.55, 1.85, 2.33, 3.11, 4.38, 6.14, 9.24],
        [2.49, 2.86, 3.78, 5.18, 7.30, 11.02, 19.2],
        [3.27, 4.42, 6.07, 8.37, 12.1, 21.1, 39.8],
    ]
)
"""Ks, one line for each ratio, read off the chart that geofound 1.1.4 holds as numbers. Columns:
20 deg | 25 deg | 30 deg | 35 deg | 40 deg | 45 deg | 50 deg."""
KS_ALLOWANCE = 0.9
"""Factor on Ks, for the reading and for straight lines between the values."""
NC_STRIP, NC_CIRCLE = 5.14, 6.05
"""N_c of a strip and of a circle on one clay."""


@dataclass(frozen=True)
class LayeredCapacity:
    """Gross ultimate pressure of a base on two layers, and which layer decides."""

    q_ult_kPa: FloatArray
    q_punch_kPa: FloatArray
    q_upper_layer_only_kPa: FloatArray
    governing: NDArray[np.str_]


def _decide(punch: FloatArray, upper: FloatArray) -> LayeredCapacity:
    punch, upper = np.broadcast_arrays(punch, upper)
    governing = np.where(punch < upper, "punching into the lower layer", "upper layer alone")
    return LayeredCapacity(np.minimum(punch, upper), np.array(punch), np.array(upper), governing)


def punching_coefficient(phi_upper_deg: ArrayLike, q2_over_q1: ArrayLike) -> FloatArray:
    """Coefficient Ks for punching through sand, from the published chart, less 10 %. [-]

    For phi_upper_deg 20 to 50 and q2_over_q1 0 to 1, strip capacity of the lower layer over that of
    the upper, both at the surface: 5.14 cu / (0.5 gamma B Ngamma) with Meyerhof's Ngamma. Straight lines between the
    curves and between 5 degree steps; the curves bend upward in phi, so 10 % is taken off for that and for the reading.

    Source: Meyerhof and Hanna 1978, chart as numbers in geofound 1.1.4.
    """
    phi = require_between("phi_upper_deg", phi_upper_deg, 20.0, 50.0)
    ratio = require_between("q2_over_q1", q2_over_q1, 0.0, 1.0)
    i = np.clip(np.searchsorted(KS_PHI_DEG, phi, side="right") - 1, 0, len(KS_PHI_DEG) - 2)
    j = np.clip(np.searchsorted(KS_RATIO, ratio, side="right") - 1, 0, len(KS_RATIO) - 2)
    x = (phi - KS_PHI_DEG[i]) / (KS_PHI_DEG[i + 1] - KS_PHI_DEG[i])
    y = (ratio - KS_RATIO[j]) / (KS_RATIO[j + 1] - KS_RATIO[j])
    low = KS[j, i] * (1 - x) + KS[j, i + 1] * x
    high = KS[j + 1, i] * (1 - x) + KS[j + 1, i + 1] * x
    return np.asarray(KS_ALLOWANCE * (low * (1 - y) + high * y))


def sand_over_clay(
    B_m: ArrayLike,
    L_m: ArrayLike,
    *,
    thickness_m: ArrayLike,
    phi_upper_deg: ArrayLike,
    unit_weight_upper_kN_m3: ArrayLike,
    cu_lower_kPa: ArrayLike,
    depth_m: ArrayLike = 0.0,
    Ks: ArrayLike | None = None,
) -> LayeredCapacity:
    """Capacity of a base on sand or gravel over clay, by punching.

    q = (1 + 0.2 B/L) 5.14 cu + gamma H^2 (1 + B/L)(1 + 2 D/H) Ks tan(phi)/B + gamma D, at most the
    sand alone: gamma D Nq (1 + B/L tan phi) + 0.5 gamma B Ngamma (1 - 0.4 B/L) with Vesic's Ngamma.
    Vertical load. With the chart's Ks a stronger sand can come out up to 10 % lower where H is
    about 1.5 B or more, since q2/q1 falls: a trait of the chart.

    Parameters:
      B_m, L_m: Effective sides, B <= L. [m]
      thickness_m: > 0. Of the granular layer below the base. [m]
      phi_upper_deg: 20 to 50 [deg]
      unit_weight_upper_kN_m3: > 0. Effective (submerged where water stands in the layer). [kN/m3]
      cu_lower_kPa: > 0 [kPa]
      depth_m: >= 0. Of the base, in the same layer. [m]
      Ks: optional. Chart value; default :func:`punching_coefficient`, and where the clay is the
        stronger (q2/q1 > 1) the chart's last curve, limited by the sand alone as always.
    Source: Meyerhof and Hanna 1978; UFC 3-220-20 section 5-3.6.4.
    """
    ratio = side_ratio(B_m, L_m)
    B = np.asarray(B_m, dtype=np.float64)
    H = require_positive("thickness_m", thickness_m)
    phi_deg = require_between("phi_upper_deg", phi_upper_deg, 20.0, 50.0)
    gamma = require_positive("unit_weight_upper_kN_m3", unit_weight_upper_kN_m3)
    cu = require_positive("cu_lower_kPa", cu_lower_kPa)
    D = require_non_negative("depth_m", depth_m)
    tan = np.tan(np.radians(phi_deg))
    if Ks is None:
        q1 = 0.5 * gamma * B * bearing_factors(phi_deg, "meyerhof").Ngamma
        Ks = punching_coefficient(phi_deg, np.minimum(NC_STRIP * cu / q1, 1.0))
    Ks = require_positive("Ks", Ks)
    shear = gamma * H**2 * (1.0 + ratio) * (1.0 + 2.0 * D / H) * Ks * tan / B
    punch = (1.0 + 0.2 * ratio) * NC_UNDRAINED * cu + shear + gamma * D
    f = bearing_factors(phi_deg, "vesic")
    upper = gamma * D * f.Nq * (1.0 + ratio * tan)
    upper = upper + 0.5 * gamma * B * f.Ngamma * (1.0 - 0.4 * ratio)
    return _decide(np.asarray(punch), np.asarray(upper))


def clay_over_clay(
    B_m: ArrayLike, L_m: ArrayLike, *, thickness_m: ArrayLike, cu_upper_kPa: ArrayLike, cu_lower_kPa: ArrayLike
) -> LayeredCapacity:
    """Net capacity of stiff clay cu_upper_kPa, thickness_m H thick, over softer cu_lower_kPa.

    Strip: 1.5 H/B + 5.14 cu2/cu1 <= 5.14; circle: 3 H/B + 6.05 cu2/cu1 <= 6.05; rectangle in proportion to B/L of the
    effective sides B_m <= L_m; 10 % less where 0.7 < cu2/cu1 < 1; q = cu1 Nc with that modified Nc, for vertical load.
    A lower layer that is stronger brings nothing: then the upper layer alone.

    Source: Brown and Meyerhof 1969; UFC 3-220-20 Eq. 5-25 and section 5-3.6.2.
    """
    ratio = side_ratio(B_m, L_m)
    h = require_positive("thickness_m", thickness_m) / np.asarray(B_m, dtype=np.float64)
    cu1 = require_positive("cu_upper_kPa", cu_upper_kPa)
    strength = require_positive("cu_lower_kPa", cu_lower_kPa) / cu1
    strip = np.minimum(1.5 * h + NC_STRIP * strength, NC_STRIP)
    circle = np.minimum(3.0 * h + NC_CIRCLE * strength, NC_CIRCLE)
    near = np.where((strength > 0.7) & (strength < 1.0), 0.9, 1.0)
    modified = near * (circle * ratio + strip * (1.0 - ratio))
    upper = cu1 * (NC_CIRCLE * ratio + NC_STRIP * (1.0 - ratio))
    return _decide(np.asarray(cu1 * modified), np.asarray(upper))
