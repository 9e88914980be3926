"""Corrections to the bearing capacity factors: shape, depth, load inclination, slopes.

Corrections belong to their own method and are never mixed. B is the shorter effective side;
angles in degrees; the ground slope is positive falling away from the base; the base tilt is
positive where it lowers resistance.

Sources: UFC 3-220-20 (2025) Tables 5-5 to 5-8 and section 5-3.3 (Terzaghi, Meyerhof, Brinch Hansen;
read in a digitised edition); EN 1997-1:2004 Annex D.3, D.4; Vesic 1973/1975 (from memory).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_non_negative, require_positive
from liftcalc.ground.factors import (
    NC_UNDRAINED,
    PHI_ZERO_DEG,
    BearingFactors,
    Method,
    bearing_factors,
    check_method,
    check_phi_deg,
)

_TAN_ZERO = float(np.tan(np.radians(PHI_ZERO_DEG)))


@dataclass(frozen=True)
class Corrections:
    """One correction for each of the three terms: cohesion, overburden, self-weight.

    Each has the shape of what it depends on, and broadcasts with the others.
    """

    c: FloatArray
    q: FloatArray
    gamma: FloatArray


def side_ratio(B_m: ArrayLike, L_m: ArrayLike) -> FloatArray:
    """B/L of a base, refused unless B is the shorter side."""
    B, L = require_positive("B_m", B_m), require_positive("L_m", L_m)
    if not np.all(B <= L * (1.0 + 1e-9)):
        raise InputError.of("B_m", float(np.max(B)), "at most L_m", "B is the shorter side.")
    return np.minimum(B / L, 1.0)


def _kp(phi: FloatArray) -> FloatArray:
    return np.asarray(np.tan(np.pi / 4.0 + phi / 2.0) ** 2)


def _pack(c: ArrayLike, q: ArrayLike, gamma: ArrayLike) -> Corrections:
    return Corrections(
        np.asarray(c, dtype=np.float64),
        np.asarray(q, dtype=np.float64),
        np.asarray(gamma, dtype=np.float64),
    )


NO_CORRECTION = _pack(1.0, 1.0, 1.0)
"""No effect."""


def _c_from_q(i_q: FloatArray, f: BearingFactors, tan: FloatArray) -> FloatArray:
    """Cohesion correction from the overburden one: x_q - (1 - x_q)/(Nc tan phi)."""
    divisor = np.where(tan > _TAN_ZERO, f.Nc * tan, 1.0)
    return np.asarray(np.where(tan > _TAN_ZERO, i_q - (1.0 - i_q) / divisor, 1.0))


def shape_factors_of(
    f: BearingFactors, phi_deg: FloatArray, ratio: FloatArray, *, method: Method
) -> Corrections:
    """Shape factors from checked input: bearing factors, phi and B/L."""
    phi = np.radians(phi_deg)
    if method == "meyerhof":
        s_q = np.where(phi_deg > 10.0, 1.0 + 0.1 * _kp(phi) * ratio, 1.0)
        return _pack(1.0 + 0.2 * _kp(phi) * ratio, s_q, s_q)
    if method == "hansen":
        s_c = 1.0 + f.Nq / f.Nc * np.cos(phi) * ratio
        return _pack(s_c, 1.0 + np.sin(phi) * ratio, 1.0 - 0.4 * ratio)
    if method == "vesic":
        s_c = 1.0 + f.Nq / f.Nc * ratio
        return _pack(s_c, 1.0 + np.tan(phi) * ratio, 1.0 - 0.4 * ratio)
    if method == "terzaghi":
        return _pack(1.0 + 0.3 * ratio, 1.0, 1.0 - 0.2 * ratio)
    s_q = 1.0 + np.sin(phi) * ratio
    spread = np.where(f.Nq > 1.0, f.Nq - 1.0, 1.0)
    s_c = np.where(f.Nq > 1.0, (s_q * f.Nq - 1.0) / spread, 1.0 + ratio / NC_UNDRAINED)
    return _pack(s_c, s_q, 1.0 - 0.3 * ratio)


def _hansen_k(depth_m: ArrayLike, B_m: ArrayLike) -> FloatArray:
    deep = require_non_negative("depth_m", depth_m) / require_positive("B_m", B_m)
    return np.asarray(np.where(deep <= 1.0, deep, np.arctan(deep)))


def depth_factors(
    phi_deg: ArrayLike, depth_m: ArrayLike, B_m: ArrayLike, *, method: Method = "en1997"
) -> Corrections:
    """Depth factors for the drained case; B is the actual (not effective) width. [m]

    They count the strength of the ground above the base, so use them only where that ground is as
    good as the ground below and stays in place. Meyerhof: dc = 1 + 0.2 sqrt(Kp) D/B, dq = dgamma =
    1 + 0.1 sqrt(Kp) D/B above 10 degrees. Hansen and Vesic: with k = D/B, for D > B atan(D/B): dq =
    1 + 2 k tan(phi)(1 - sin phi)^2, dgamma = 1, dc = dq - (1 - dq)/(Nc tan phi), at most 1 + 0.4 k.
    EN 1997-1 Annex D and Terzaghi give none: 1. The step of k at D = B is the authors' own.

    Parameters:
      phi_deg: 0 to 50 (Terzaghi 45). Friction angle. [deg]
      depth_m: >= 0. Depth of the base below ground. [m]
      B_m: > 0. Width of the base. [m]
      method: {"meyerhof", "hansen", "vesic", "en1997", "terzaghi"}
    Source: UFC 3-220-20 Tables 5-6, 5-8 and section 5-3.3; Vesic 1975.
    """
    check_method(method)
    degrees = check_phi_deg(phi_deg, method)
    k = _hansen_k(depth_m, B_m)
    phi = np.radians(degrees)
    if method in ("en1997", "terzaghi"):
        return NO_CORRECTION
    if method == "meyerhof":
        root = np.sqrt(_kp(phi)) * np.asarray(depth_m, dtype=np.float64) / np.asarray(B_m)
        d_q = np.where(degrees > 10.0, 1.0 + 0.1 * root, 1.0)
        return _pack(1.0 + 0.2 * root, d_q, d_q)
    tan = np.tan(phi)
    d_q = 1.0 + 2.0 * k * tan * (1.0 - np.sin(phi)) ** 2
    plain = 1.0 + 0.4 * k
    exact = _c_from_q(d_q, bearing_factors(degrees, method), tan)
    d_c = np.where(tan > _TAN_ZERO, np.minimum(exact, plain), plain)
    return _pack(d_c, d_q, 1.0)


def inclination_exponent(
    B_m: ArrayLike, L_m: ArrayLike, H_B_kN: ArrayLike, H_L_kN: ArrayLike
) -> FloatArray:
    """Exponent m of the Vesic and EN 1997-1 inclination factors.

    mB = (2 + B/L)/(1 + B/L), mL = (2 + L/B)/(1 + L/B), m = mL cos^2 + mB sin^2 of the angle
    between the horizontal load and the long side (EN 1997-1:2004 Annex D.4).

    Parameters:
      B_m, L_m: > 0, B <= L. Effective sides. [m]
      H_B_kN, H_L_kN: Horizontal load along B and along L, either sign. [kN]
    Returns: ndarray: m, from 1 to 2. [-]
    Raises: A side that is not above 0, or B above L.
    """
    ratio = side_ratio(B_m, L_m)
    H_B, H_L = np.abs(np.asarray(H_B_kN, np.float64)), np.abs(np.asarray(H_L_kN, np.float64))
    squared = H_B**2 + H_L**2
    share_B = np.where(squared > 0.0, H_B**2 / np.where(squared > 0.0, squared, 1.0), 1.0)
    m_B = (2.0 + ratio) / (1.0 + ratio)
    m_L = (2.0 + 1.0 / ratio) / (1.0 + 1.0 / ratio)
    return np.asarray(m_L * (1.0 - share_B) + m_B * share_B)


def inclination_factors(
    phi_deg: ArrayLike,
    B_m: ArrayLike,
    *,
    L_m: ArrayLike,
    V_kN: ArrayLike,
    H_B_kN: ArrayLike = 0.0,
    H_L_kN: ArrayLike = 0.0,
    c_kPa: ArrayLike = 0.0,
    base_tilt_deg: ArrayLike = 0.0,
    method: Method = "en1997",
) -> Corrections:
    """Load inclination factors for the drained case; V >= 0, B <= L effective sides.

    With H the resultant of H_B and H_L and N = V + A' c cot(phi): Vesic, EN 1997-1: iq = (1 -
    H/N)^m, igamma = (1 - H/N)^(m+1). Hansen: iq = (1 - 0.5 H/N)^5, igamma = (1 - (0.7 - tilt/450)
    H/N)^5. Both: ic = iq - (1 - iq)/(Nc tan phi). Meyerhof: ic = iq = (1 - theta/90)^2, igamma = (1
    - theta/phi)^2, and 0 where theta >= phi, theta = atan(H/V). A negative factor becomes 0: the
    base slides before it fails in bearing. Terzaghi gives none: a horizontal load is refused.

    Parameters:
      phi_deg: 0 to 50 (Terzaghi 45). Friction angle. [deg]
      B_m, L_m: > 0, B <= L. Effective sides. [m]
      V_kN: >= 0. Vertical load. [kN]
      H_B_kN, H_L_kN: Horizontal load along B and along L, either sign. [kN]
      c_kPa: >= 0. Effective cohesion. [kPa]
      base_tilt_deg: Tilt of the base, as :func:`base_factors`; used by Hansen. [deg]
      method: {"meyerhof", "hansen", "vesic", "en1997", "terzaghi"}
    Raises: A case for which the method gives no factor.
    Source: UFC 3-220-20 Tables 5-6, 5-8; EN 1997-1:2004 Annex D.4; Vesic 1975.
    """
    check_method(method)
    degrees = check_phi_deg(phi_deg, method)
    B, L = require_positive("B_m", B_m), require_positive("L_m", L_m)
    V = require_non_negative("V_kN", V_kN)
    c = require_non_negative("c_kPa", c_kPa)
    H = np.hypot(np.asarray(H_B_kN, np.float64), np.asarray(H_L_kN, np.float64))
    phi = np.radians(degrees)
    tan = np.tan(phi)
    if method == "terzaghi":
        if not np.all(H == 0.0):
            raise InputError.of(
                "H_kN", float(np.max(H)), "0 for this method", "Choose a method with inclination."
            )
        return NO_CORRECTION
    if method == "meyerhof":
        theta = np.degrees(np.arctan2(H, V))
        i_q = (1.0 - theta / 90.0) ** 2
        share = theta / np.where(degrees > 0.0, degrees, 1.0)
        i_gamma = np.where((degrees > 0.0) & (share < 1.0), (1.0 - share) ** 2, 0.0)
        return _pack(i_q, i_q, np.where(H > 0.0, i_gamma, 1.0))
    if np.any((H > 0.0) & (degrees < PHI_ZERO_DEG)):
        raise InputError.of(
            "phi_deg", 0.0, "greater than 0 with a horizontal load", "Use the undrained case."
        )
    normal = V + B * L * c / np.where(tan > _TAN_ZERO, tan, 1.0)
    load_ratio = np.where(H > 0.0, H / np.where(normal > 0.0, normal, np.finfo(float).tiny), 0.0)
    if method == "hansen":
        tilt = np.asarray(base_tilt_deg, dtype=np.float64)
        i_q = np.maximum(1.0 - 0.5 * load_ratio, 0.0) ** 5
        i_gamma = np.maximum(1.0 - (0.7 - tilt / 450.0) * load_ratio, 0.0) ** 5
    else:
        m = inclination_exponent(B, L, H_B_kN, H_L_kN)
        rest = np.maximum(1.0 - load_ratio, 0.0)
        i_q, i_gamma = rest**m, rest ** (m + 1.0)
    i_c = np.maximum(_c_from_q(i_q, bearing_factors(degrees, method), tan), 0.0)
    return _pack(i_c, i_q, i_gamma)


def base_factors(
    phi_deg: ArrayLike, base_tilt_deg: ArrayLike, *, method: Method = "en1997"
) -> Corrections:
    """Base tilt factors for the drained case; tilt 0 to 45 degrees.

    Vesic, EN 1997-1: bq = bgamma = (1 - a tan phi)^2, bc = bq - (1 - bq)/(Nc tan phi). Hansen: bq =
    exp(-2 a tan phi), bgamma = exp(-2.7 a tan phi), bc from bq likewise. Meyerhof and Terzaghi give
    none: a tilt is refused. a in radians.

    Parameters:
      phi_deg: 0 to 50 (Terzaghi 45). Friction angle. [deg]
      base_tilt_deg: 0 to 45. Tilt of the base from level. [deg]
      method: {"meyerhof", "hansen", "vesic", "en1997", "terzaghi"}
    Raises: A case for which the method gives no factor.
    Source: EN 1997-1:2004 Annex D.4; UFC 3-220-20 Table 5-8; Vesic 1975.
    """
    check_method(method)
    degrees = check_phi_deg(phi_deg, method)
    tilt = np.radians(require_between("base_tilt_deg", base_tilt_deg, 0.0, 45.0))
    if method in ("meyerhof", "terzaghi"):
        if not np.all(tilt == 0.0):
            raise InputError.of("base_tilt_deg", base_tilt_deg, f"0 for the {method} method")
        return NO_CORRECTION
    tan = np.tan(np.radians(degrees))
    if method == "hansen":
        b_q, b_gamma = np.exp(-2.0 * tilt * tan), np.exp(-2.7 * tilt * tan)
    else:
        b_q = np.maximum(1.0 - tilt * tan, 0.0) ** 2
        b_gamma = b_q
    b_c = np.where(
        tan > _TAN_ZERO,
        _c_from_q(b_q, bearing_factors(degrees, method), tan),
        1.0 - 2.0 * tilt / NC_UNDRAINED,
    )
    return _pack(np.maximum(b_c, 0.0), b_q, b_gamma)


def ground_factors(
    phi_deg: ArrayLike, ground_slope_deg: ArrayLike, *, method: Method = "en1997"
) -> Corrections:
    """Ground slope factors for the drained case: ground falling from the edge of the base.

    Valid for a slope not steeper than phi and at most 45 degrees, both refused beyond. Hansen: gq =
    ggamma = (1 - 0.5 tan b)^5. Vesic: gq = ggamma = (1 - tan b)^2. Both: gc = gq - (1 - gq)/(Nc tan
    phi). EN 1997-1 Annex D, Meyerhof and Terzaghi give none: a slope is refused.

    Parameters:
      phi_deg: 0 to 50 (Terzaghi 45). Friction angle. [deg]
      ground_slope_deg: 0 to 45, at most phi_deg. Fall of the ground from the edge of the base.
        [deg]
      method: {"meyerhof", "hansen", "vesic", "en1997", "terzaghi"}
    Raises: A case for which the method gives no factor.
    Source: UFC 3-220-20 Table 5-8; Vesic 1975 (from memory).
    """
    check_method(method)
    degrees = check_phi_deg(phi_deg, method)
    slope = require_between("ground_slope_deg", ground_slope_deg, 0.0, 45.0)
    if not np.any(slope > 0.0):
        return NO_CORRECTION
    if method not in ("hansen", "vesic"):
        raise InputError.of(
            "ground_slope_deg", float(np.max(slope)), f"0 for the {method} method",
            "Use the hansen or vesic method, or stand farther from the slope.",
        )  # fmt: skip
    if not np.all(slope <= degrees):
        raise InputError.of(
            "ground_slope_deg", float(np.max(slope)), "at most phi_deg",
            "A drained slope steeper than its friction angle does not stand.",
        )  # fmt: skip
    tan_slope = np.tan(np.radians(slope))
    g_q = (1.0 - 0.5 * tan_slope) ** 5 if method == "hansen" else (1.0 - tan_slope) ** 2
    tan = np.tan(np.radians(degrees))
    g_c = np.maximum(_c_from_q(g_q, bearing_factors(degrees, method), tan), 0.0)
    return _pack(g_c, g_q, g_q)
