"""Granular working platform on weaker ground: strength and needed thickness.

Punching through a strong layer (Meyerhof-Hanna, Brown-Meyerhof) is in :mod:`liftcalc.ground.layers`.

Sources: BRE report BR 470 (2004), Working platforms for tracked plant: the granular form read in a
public calculation sheet, the clay form and the limits from memory. EN 1997-1:2004 Annex C (passive
pressure; from memory, it gives Rankine's value at delta = 0).
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_non_negative, require_positive
from liftcalc.ground.bearing import NC_UNDRAINED, WATER_UNIT_WEIGHT_KN_M3, bearing_factors

BR470_LOAD_FACTORS: dict[int, tuple[float, float]] = {1: (2.0, 1.6), 2: (1.5, 1.2)}
"""Load case: (factor without platform, factor with platform). Case 1: the driver can do
nothing about a beginning failure (standing, travelling, handling); case 2: he can."""

_CU_LOW_KPA, _CU_HIGH_KPA = 20.0, 80.0
_MAX_D_OVER_W = 1.5


def passive_coefficient_tan_delta(phi_deg: ArrayLike, *, delta_over_phi: float = 2.0 / 3.0) -> FloatArray:
    """Kp tan(delta) for punching through a fill, Kp the normal component.

    2 m_w = acos(sin d / sin phi) - phi - d; 2 m_t = 90 - phi; Kp = (1 + sin phi sin(2 m_w + phi))/(1 - sin phi) exp(2
    (m_t - m_w) tan phi). It lies below the values BR 470 prints (3.1 at 35 degrees, 5.5 at 40), so it asks for a
    thicker platform; give those values as ``Kp_tan_delta`` to follow the report.

    Parameters:
      phi_deg: Friction angle of the fill, 25 to 45. [deg]
      delta_over_phi: Mobilised wall friction over phi, 0 to 1. BR 470 takes 2/3.
    Returns: ndarray: Kp tan(delta). [-]
    Source: EN 1997-1:2004 Annex C.2 (stated there to be on the safe side).
    """
    degrees = require_between("phi_deg", phi_deg, 25.0, 45.0)
    ratio = require_between("delta_over_phi", delta_over_phi, 0.0, 1.0)
    phi = np.radians(degrees)
    delta = ratio * phi
    two_mw = np.arccos(np.minimum(np.sin(delta) / np.sin(phi), 1.0)) - phi - delta
    two_mt = np.pi / 2.0 - phi
    Kp = (1.0 + np.sin(phi) * np.sin(two_mw + phi)) / (1.0 - np.sin(phi))
    Kp = Kp * np.exp((two_mt - two_mw) * np.tan(phi))
    return np.asarray(Kp * np.tan(delta), dtype=np.float64)


@dataclass(frozen=True)
class PlatformDesign:
    """Result of the BR 470 form; arrays of the common shape of the inputs.

    thickness_m is NaN where the platform cannot help (its own bearing fails) and 0 where the ground carries the load
    without one. ``governing`` is "no platform needed", "punching", "minimum thickness", "platform fails itself" or
    "beyond the method" (D > 1.5 W). ``ok`` is false for the last two.
    """

    resistance_subgrade_kPa: FloatArray
    resistance_platform_kPa: FloatArray
    punching_per_m2: FloatArray
    thickness_punching_m: FloatArray
    thickness_m: FloatArray
    resistance_with_platform_kPa: FloatArray
    s_c: FloatArray
    s_p: FloatArray
    s_gamma: FloatArray
    Kp_tan_delta: FloatArray
    Ngamma_platform: FloatArray
    load_factors: tuple[float, float]
    governing: NDArray[np.str_]
    ok: NDArray[np.bool_]


def working_platform(
    W_m: ArrayLike,
    L_m: ArrayLike,
    *,
    q_kPa: ArrayLike,
    phi_platform_deg: ArrayLike,
    unit_weight_platform_kN_m3: ArrayLike,
    cu_kPa: ArrayLike | None = None,
    phi_subgrade_deg: ArrayLike | None = None,
    unit_weight_subgrade_kN_m3: ArrayLike | None = None,
    water: Literal["below the platform", "at the surface"] = "at the surface",
    load_case: Literal[1, 2] = 1,
    load_factors: tuple[float, float] | None = None,
    Kp_tan_delta: ArrayLike | None = None,
    Ngamma_platform: ArrayLike | None = None,
    Ngamma_subgrade: ArrayLike | None = None,
) -> PlatformDesign:
    """Thickness of an unreinforced granular platform under a pad, by the BR 470 form.

    Clay: R = cu Nc sc, granular: R = 0.5 gamma_s W Ngamma_s s_gamma. No platform is needed where R >= f0 q. Else the
    platform itself must carry: 0.5 gamma_p W Ngamma_p s_gamma >= f1 q, and R + gamma_p D^2 Kp tan(delta) sp / W >= f1 q
    gives D = sqrt(W (f1 q - R)/(gamma_p Kp tan(delta) sp)), not less than the lesser of W/2 and 0.3 m, and D <= 1.5 W.
    sc = 1 + 0.2 W/L, sp = 1 + W/L, s_gamma = 1 - 0.3 W/L. Made for tracked plant on level ground; edges, slopes and
    soft spots are outside it.

    Parameters:
      W_m, L_m: > 0. Width and length of the pad, W <= L. [m]
      q_kPa: >= 0. Service (characteristic) pressure of the pad. [kPa]
      phi_platform_deg: 35 to 45 [deg]
      unit_weight_platform_kN_m3: array_like [kN/m3]
      cu_kPa: 20 to 80. Undrained strength of a clay subgrade; or else [kPa]
      phi_subgrade_deg, unit_weight_subgrade_kN_m3: Of a granular subgrade (phi 25 to 45). [deg, kN/m3]
      water: "at the surface" takes submerged weights (platform and granular subgrade); the bulk
        weights need a platform that drains and is kept drained.
      load_case: {1, 2}. See BR470_LOAD_FACTORS; ``load_factors`` replaces it with (without, with platform).
      Kp_tan_delta, Ngamma_platform, Ngamma_subgrade: optional. Replace
        :func:`passive_coefficient_tan_delta` and the Vesic Ngamma.
    Raises: Outside the limits above; cu below 20 kPa needs a specialist, above 80 kPa the method was not made for it.
    Source: BRE BR 470 (2004), main text and Appendix A.
    """
    # long: the checks of both ground kinds and load cases in the order of the report
    W, L = require_positive("W_m", W_m), require_positive("L_m", L_m)
    if not np.all(W <= L * (1.0 + 1e-9)):
        raise InputError.of("W_m", float(np.max(W)), "at most L_m", "W is the shorter side.")
    q = require_non_negative("q_kPa", q_kPa)
    phi_p = require_between("phi_platform_deg", phi_platform_deg, 35.0, 45.0)
    gamma_p = require_positive("unit_weight_platform_kN_m3", unit_weight_platform_kN_m3)
    f0, f1 = BR470_LOAD_FACTORS[load_case] if load_factors is None else load_factors
    require_between("load_factors", (f0, f1), 1.0, 5.0)
    if water not in ("below the platform", "at the surface"):
        raise InputError.of("water", water, "below the platform, at the surface")
    wet = WATER_UNIT_WEIGHT_KN_M3 if water == "at the surface" else 0.0
    gamma_p = require_positive("unit_weight_platform_kN_m3 less that of water", gamma_p - wet)
    ratio = np.minimum(W / L, 1.0)
    s_c, s_p, s_gamma = 1.0 + 0.2 * ratio, 1.0 + ratio, 1.0 - 0.3 * ratio
    if (cu_kPa is None) == (phi_subgrade_deg is None):
        both = (cu_kPa, phi_subgrade_deg)
        raise InputError.of("cu_kPa, phi_subgrade_deg", both, "exactly one of them")
    if cu_kPa is not None:
        cu = require_between("cu_kPa", cu_kPa, _CU_LOW_KPA, _CU_HIGH_KPA)
        subgrade = cu * NC_UNDRAINED * s_c
    else:
        granular = 0.0 if phi_subgrade_deg is None else phi_subgrade_deg
        phi_s = require_between("phi_subgrade_deg", granular, 25.0, 45.0)
        if unit_weight_subgrade_kN_m3 is None:
            raise InputError.of("unit_weight_subgrade_kN_m3", None, "a value with granular ground")
        gamma_s = require_positive("unit_weight_subgrade_kN_m3", unit_weight_subgrade_kN_m3)
        gamma_s = require_positive("unit_weight_subgrade_kN_m3 less that of water", gamma_s - wet)
        N_s = bearing_factors(phi_s, "vesic").Ngamma if Ngamma_subgrade is None else Ngamma_subgrade
        subgrade = 0.5 * gamma_s * W * require_positive("Ngamma_subgrade", N_s) * s_gamma
    N_p = bearing_factors(phi_p, "vesic").Ngamma if Ngamma_platform is None else Ngamma_platform
    N_p = require_positive("Ngamma_platform", N_p)
    K = passive_coefficient_tan_delta(phi_p) if Kp_tan_delta is None else Kp_tan_delta
    K = require_positive("Kp_tan_delta", K)
    platform = 0.5 * gamma_p * W * N_p * s_gamma
    per_m2 = gamma_p * K * s_p / W
    bare_ok = subgrade >= f0 * q
    D = np.sqrt(np.maximum(f1 * q - subgrade, 0.0) / per_m2)
    floor = np.minimum(0.5 * W, 0.3)
    self_ok = platform >= f1 * q
    deep = _MAX_D_OVER_W * W < D
    thickness = np.where(bare_ok, 0.0, np.where(self_ok & ~deep, np.maximum(D, floor), np.nan))
    governing = np.select(
        [bare_ok, ~self_ok, deep, floor > D],
        ["no platform needed", "platform fails itself", "beyond the method", "minimum thickness"],
        "punching",
    )
    with_platform = np.where(bare_ok, subgrade, np.minimum(subgrade + per_m2 * np.nan_to_num(thickness) ** 2, platform))
    shape = governing.shape

    def full(value: ArrayLike) -> FloatArray:
        return np.array(np.broadcast_to(np.asarray(value, np.float64), shape))

    return PlatformDesign(
        resistance_subgrade_kPa=full(subgrade), resistance_platform_kPa=full(platform), punching_per_m2=full(per_m2),
        thickness_punching_m=full(D), thickness_m=full(thickness), resistance_with_platform_kPa=full(with_platform),
        s_c=full(s_c), s_p=full(s_p), s_gamma=full(s_gamma), Kp_tan_delta=full(K), Ngamma_platform=full(N_p),
        load_factors=(float(f0), float(f1)), governing=governing,
        ok=np.asarray(bare_ok | (self_ok & ~deep)),
    )  # fmt: skip
