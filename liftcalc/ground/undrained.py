"""Corrections to Nc for saturated clay loaded undrained (phi = 0).

Sources: EN 1997-1:2004 Annex D.3; UFC 3-220-20 (2025) Tables 5-5 to 5-7 (read in a digitised
edition); API RP 2GEO (2011), read in a public package; Vesic 1975 (from memory).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_non_negative, require_positive
from liftcalc.ground.corrections import inclination_exponent, side_ratio
from liftcalc.ground.factors import NC_TERZAGHI_UNDRAINED, NC_UNDRAINED, Method, check_method


@dataclass(frozen=True)
class UndrainedCorrections:
    """Corrections for phi = 0: shape, depth, inclination, base, ground, and their product.

    For the Hansen method the five are the additive terms (0 = no effect) and ``total`` is
    1 + s + d - i - b - g; for the others they multiply.
    """

    s: FloatArray
    d: FloatArray
    i: FloatArray
    b: FloatArray
    g: FloatArray
    total: FloatArray
    Nc: float
    slides: NDArray[np.bool_]


def undrained_corrections(
    B_m: ArrayLike,
    L_m: ArrayLike,
    *,
    cu_kPa: ArrayLike,
    depth_ratio: ArrayLike = 0.0,
    V_kN: ArrayLike | None = None,
    H_B_kN: ArrayLike = 0.0,
    H_L_kN: ArrayLike = 0.0,
    base_tilt_deg: ArrayLike = 0.0,
    ground_slope_deg: ArrayLike = 0.0,
    method: Method = "en1997",
) -> UndrainedCorrections:
    """Corrections to Nc for saturated clay loaded undrained (phi = 0).

    EN 1997-1 D.3: sc = 1 + 0.2 B/L, ic = (1 + sqrt(1 - H/(A' cu)))/2, bc = 1 - 2a/(pi + 2). Hansen
    (additive): s = 0.2 (1 - 2 i) B/L, d = 0.4 k, i = (1 - sqrt(1 - H/(A' cu)))/2, b = a/(pi/2 + 1),
    g = slope/(pi/2 + 1). Vesic: sc = 1 + (B/L)/Nc, dc = 1 + 0.4 k, ic = 1 - m H/(A' cu Nc), bc = 1
    - 2a/Nc, gc = 1 - 2 slope/Nc. Meyerhof: sc = 1 + 0.2 B/L (1 with a horizontal load), dc = 1 +
    0.2 D/B, ic = (1 - theta/90)^2. Terzaghi: Nc = 5.71, sc = 1 + 0.3 B/L. A horizontal load above
    A' cu slides: ``slides`` is true there and the total is 0. The UFC text prints its sum with + i;
    the sign here is Hansen's own, by which a horizontal load lowers the capacity.

    Parameters:
      B_m, L_m: Effective sides, B <= L. [m]
      cu_kPa: > 0. [kPa]
      depth_ratio: >= 0. D/B of the actual base. [-]
      V_kN: optional. Needed by the Meyerhof method with a horizontal load. [kN]
      H_B_kN, H_L_kN: Horizontal load along B and L. [kN]
      base_tilt_deg, ground_slope_deg: 0 to 45. Tilt of the base, and fall of the ground from its
        edge. [deg]
      method: {"meyerhof", "hansen", "vesic", "en1997", "terzaghi"}
    Returns: UndrainedCorrections, arrays of the common shape
    Raises: A case for which the method gives no factor.
    Source: EN 1997-1:2004 Annex D.3; UFC 3-220-20 Tables 5-5 to 5-7; Vesic 1975; the shape term
      under an inclined load as in API RP 2GEO (2011), read in a public package.
    """
    check_method(method)
    ratio = side_ratio(B_m, L_m)
    cu = require_positive("cu_kPa", cu_kPa)
    deep = require_non_negative("depth_ratio", depth_ratio)
    k = np.where(deep <= 1.0, deep, np.arctan(deep))
    H = np.hypot(np.asarray(H_B_kN, np.float64), np.asarray(H_L_kN, np.float64))
    tilt = np.radians(require_between("base_tilt_deg", base_tilt_deg, 0.0, 45.0))
    slope = np.radians(require_between("ground_slope_deg", ground_slope_deg, 0.0, 45.0))
    sliding = np.asarray(B_m, np.float64) * np.asarray(L_m, np.float64) * cu
    slides = np.asarray(sliding < H)
    root = np.sqrt(np.maximum(1.0 - H / sliding, 0.0))
    zero, one = np.zeros(()), np.ones(())
    unsupported = {
        "meyerhof": ("base_tilt_deg", "ground_slope_deg"),
        "en1997": ("ground_slope_deg",),
        "terzaghi": ("base_tilt_deg", "ground_slope_deg", "H_kN"),
    }.get(method, ())
    given = {"base_tilt_deg": tilt, "ground_slope_deg": slope, "H_kN": H}
    for field in unsupported:
        if not np.all(given[field] == 0.0):
            raise InputError.of(field, float(np.max(given[field])), f"0 for the {method} method")
    Nc: float = NC_UNDRAINED
    if method == "hansen":
        i = 0.5 - 0.5 * root
        s, d = 0.2 * ratio * (1.0 - 2.0 * i), 0.4 * k
        b, g = tilt / (np.pi / 2.0 + 1.0), slope / (np.pi / 2.0 + 1.0)
        total = 1.0 + s + d - i - b - g
    else:
        s, d, i, b, g = 1.0 + 0.2 * ratio, one, 0.5 + 0.5 * root, 1.0 - 2.0 * tilt / Nc, one
        if method == "vesic":
            m = inclination_exponent(B_m, L_m, H_B_kN, H_L_kN)
            s, d, g = 1.0 + ratio / Nc, 1.0 + 0.4 * k, 1.0 - 2.0 * slope / Nc
            i = np.maximum(1.0 - m * H / (sliding * Nc), 0.0)
        elif method == "meyerhof":
            if np.any(H > 0.0) and V_kN is None:
                raise InputError.of("V_kN", None, "a vertical load with a horizontal one")
            V = one if V_kN is None else require_non_negative("V_kN", V_kN)
            s = np.where(H > 0.0, 1.0, s)
            d = 1.0 + 0.2 * deep
            i = (1.0 - np.degrees(np.arctan2(H, V)) / 90.0) ** 2
        elif method == "terzaghi":
            Nc, s = NC_TERZAGHI_UNDRAINED, 1.0 + 0.3 * ratio
        total = s * d * i * b * g
    total = np.where(slides, 0.0, np.maximum(total, 0.0)) + zero
    s, d, i, b, g, total = (np.array(p) for p in np.broadcast_arrays(s, d, i, b, g, total))
    return UndrainedCorrections(s, d, i, b, g, total, Nc, slides)
