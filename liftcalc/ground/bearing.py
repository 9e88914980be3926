"""Bearing capacity of a rectangular mat on level ground under vertical, central load.

Its factors by named method, the shape of the base, water in the ground, and the ultimate pressure. Forces in kN,
lengths in m, pressures in kPa and gross (they include the overburden), compression positive. Array arguments broadcast
against each other, usually as (legs, slews). A horizontal load, an eccentric load, a tilted base and sloping ground all
lower the capacity and are outside this module. The strength of ground above the base is not counted. Shape factors
belong each to its own method and are never mixed; B is the shorter side. Safety and design values are in
:mod:`liftcalc.ground.safety`.

Sources: UFC 3-220-20 (2025) sections 5-2, 5-3 (Tables 5-5 to 5-7 for Meyerhof and Brinch Hansen),
FHWA-SA-02-054 (GEC 6, 2002) section 5.2.3.2 and EN 1997-1:2004 Annex D, read in the transcription
of the package geotech-references 1.4.1, with which the tests compare: source and reference are one
transcription. Nq, Nc: Prandtl 1920, Reissner 1924. Ngamma: Meyerhof 1963, Hansen 1970, Vesic 1973.
Shape factors of Vesic 1973/1975 (from memory).
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_non_negative, require_positive

WATER_UNIT_WEIGHT_KN_M3 = 9.81
"""Unit weight of water. [kN/m3]"""
INFLUENCE_DEPTH_OVER_B = 1.5
"""Depth below the base, over its width, within which water lowers the strength."""


def unit_weight_below_kN_m3(unit_weight_kN_m3: ArrayLike, water_depth_m: ArrayLike, *, B_m: ArrayLike) -> FloatArray:
    """Effective unit weight of the ground below a base, as the self-weight term takes it. [kN/m3]

    Linear from the submerged value, with water at the base, to the bulk unit_weight_kN_m3 with water_depth_m at 1.5 B_m
    below it (the depth of influence of GEC 6); inf only where it is known to be deep. Hydrostatic, no upward seepage.
    The bulk value counts for the saturated one, which is higher.

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


Method = Literal["meyerhof", "hansen", "vesic", "en1997"]

METHODS: tuple[Method, ...] = ("meyerhof", "hansen", "vesic", "en1997")
"""Names of the methods."""
METHOD_NAMES: dict[Method, str] = {
    "meyerhof": "Meyerhof 1963",
    "hansen": "Brinch Hansen 1970",
    "vesic": "Vesić 1973",
    "en1997": "EN 1997-1:2004 Annex D",
}
"""How each method is called on the page."""
PHI_MAX_DEG = 50.0
"""Largest friction angle accepted by any method here."""

PHI_ZERO_DEG = 1e-6
"""Below this the friction angle counts as 0 (the closed forms lose their digits)."""

NC_UNDRAINED = np.pi + 2.0
"""N_c of ground without friction."""


@dataclass(frozen=True)
class BearingFactors:
    """Nc, Nq and Ngamma, each of the shape of the friction angle given."""

    Nc: FloatArray
    Nq: FloatArray
    Ngamma: FloatArray


def check_method(method: str) -> None:
    """Refuse a method name that is not one of METHODS."""
    if method not in METHODS:
        raise InputError.of("method", method, ", ".join(METHODS))


def check_phi_deg(phi_deg: ArrayLike) -> FloatArray:
    """Friction angle as an array, refused outside 0 to 50. [deg]"""
    return require_between("phi_deg", phi_deg, 0.0, PHI_MAX_DEG)


def bearing_factors(phi_deg: ArrayLike, method: Method = "en1997") -> BearingFactors:
    """Bearing capacity factors of a strip on level ground, for phi_deg 0 to 50 and a *method*.

    Nq = exp(pi tan phi) tan^2(45 + phi/2); Nc = (Nq - 1) cot phi, at phi = 0: 2 + pi. Ngamma:
    Meyerhof (Nq - 1) tan 1.4 phi; Hansen 1.5 (Nq - 1) tan phi; Vesic 2 (Nq + 1) tan phi; EN 1997-1
    2 (Nq - 1) tan phi (rough base, delta >= phi/2).

    Source: Prandtl 1920; Reissner 1924; Meyerhof 1963; Hansen 1970; Vesic 1973; EN 1997-1:2004 Annex D.4.
    """
    check_method(method)
    degrees = check_phi_deg(phi_deg)
    phi = np.radians(degrees)
    tan = np.tan(phi)
    level = degrees < PHI_ZERO_DEG
    safe_tan = np.where(level, 1.0, tan)
    Nq = np.where(level, 1.0, np.exp(np.pi * tan) * np.tan(np.pi / 4.0 + phi / 2.0) ** 2)
    Nc = np.where(level, NC_UNDRAINED, (Nq - 1.0) / safe_tan)
    if method == "meyerhof":
        Ngamma = (Nq - 1.0) * np.tan(1.4 * phi)
    elif method == "hansen":
        Ngamma = 1.5 * (Nq - 1.0) * tan
    elif method == "vesic":
        Ngamma = 2.0 * (Nq + 1.0) * tan
    else:
        Ngamma = 2.0 * (Nq - 1.0) * tan
    return BearingFactors(np.asarray(Nc), np.asarray(Nq), np.asarray(Ngamma))


@dataclass(frozen=True)
class ShapeFactors:
    """One factor for each of the three terms: cohesion, overburden, self-weight."""

    c: FloatArray
    q: FloatArray
    gamma: FloatArray


def side_ratio(B_m: ArrayLike, L_m: ArrayLike) -> FloatArray:
    """B/L of a base, refused unless B is the shorter side."""
    B, L = require_positive("B_m", B_m), require_positive("L_m", L_m)
    if not np.all(B <= L * (1.0 + 1e-9)):
        raise InputError.of("B_m", float(np.max(B)), "at most L_m", "B is the shorter side.")
    return np.minimum(B / L, 1.0)


def _pack(c: ArrayLike, q: ArrayLike, gamma: ArrayLike) -> ShapeFactors:
    return ShapeFactors(*(np.asarray(value, dtype=np.float64) for value in (c, q, gamma)))


def undrained_shape_factors(ratio: FloatArray, *, method: Method) -> ShapeFactors:
    """Shape factors of saturated clay (phi = 0) from B/L: on cohesion alone."""
    return _pack(1.0 + ratio / NC_UNDRAINED if method == "vesic" else 1.0 + 0.2 * ratio, 1.0, 1.0)


def drained_shape_factors(f: BearingFactors, phi_deg: FloatArray, ratio: FloatArray, *, method: Method) -> ShapeFactors:
    """Shape factors of ground with friction from bearing factors, phi [deg] and B/L."""
    phi = np.radians(phi_deg)
    if method == "meyerhof":
        passive = np.tan(np.pi / 4.0 + phi / 2.0) ** 2
        s_q = np.where(phi_deg > 10.0, 1.0 + 0.1 * passive * ratio, 1.0)
        return _pack(1.0 + 0.2 * passive * ratio, s_q, s_q)
    if method == "hansen":
        s_c = 1.0 + f.Nq / f.Nc * np.cos(phi) * ratio
        return _pack(s_c, 1.0 + np.sin(phi) * ratio, 1.0 - 0.4 * ratio)
    if method == "vesic":
        s_c = 1.0 + f.Nq / f.Nc * ratio
        return _pack(s_c, 1.0 + np.tan(phi) * ratio, 1.0 - 0.4 * ratio)
    s_q = 1.0 + np.sin(phi) * ratio
    spread = np.where(f.Nq > 1.0, f.Nq - 1.0, 1.0)
    s_c = np.where(f.Nq > 1.0, (s_q * f.Nq - 1.0) / spread, 1.0 + ratio / NC_UNDRAINED)
    return _pack(s_c, s_q, 1.0 - 0.3 * ratio)


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
      soil: UndrainedSoil or DrainedSoil. Saturated clay by total stress, or ground by effective stress.
      surcharge_kPa: >= 0. Lasting pressure beside the base, q0: total undrained, effective drained. [kPa]
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
