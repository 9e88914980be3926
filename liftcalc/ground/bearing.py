"""Ultimate bearing capacity of a rectangular mat: undrained, drained and c-phi ground.

Forces in kN, lengths in m, pressures in kPa and gross (they include the overburden),
compression positive. Array arguments broadcast against each other, usually as (legs, slews).
Safety and design values are in :mod:`liftcalc.ground.safety`.

Sources: UFC 3-220-20 (2025) sections 5-2, 5-3 (read in a digitised edition); EN 1997-1:2004 Annex
D; Vesic 1975 (from memory).
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_finite, require_non_negative, require_positive
from liftcalc.ground.corrections import (
    NO_CORRECTION,
    Corrections,
    base_factors,
    depth_factors,
    ground_factors,
    inclination_factors,
    shape_factors_of,
)
from liftcalc.ground.effective import EffectiveArea, effective_area, groundwater
from liftcalc.ground.factors import (
    PHI_ZERO_DEG,
    BearingFactors,
    Method,
    bearing_factors,
    check_method,
    check_phi_deg,
)
from liftcalc.ground.undrained import UndrainedCorrections, undrained_corrections

Basis = Literal["undrained", "drained"]


@dataclass(frozen=True, eq=False)
class Footing:
    """A rectangular base: sides in any order, depth at most twice the effective width.

    ``surcharge_kPa`` is a lasting effective pressure beside the base besides the ground itself;
    ``use_depth_factors`` False leaves out the strength of the ground above the base.
    """

    B_m: ArrayLike
    L_m: ArrayLike
    depth_m: ArrayLike = 0.0
    base_tilt_deg: ArrayLike = 0.0
    ground_slope_deg: ArrayLike = 0.0
    surcharge_kPa: ArrayLike = 0.0
    use_depth_factors: bool = True


@dataclass(frozen=True, eq=False)
class UndrainedSoil:
    """Saturated clay by its undrained shear strength, in total stress."""

    cu_kPa: ArrayLike
    unit_weight_kN_m3: ArrayLike


@dataclass(frozen=True, eq=False)
class DrainedSoil:
    """Ground by effective cohesion (>= 0) and friction angle (above 0, at most 50; Terzaghi 45).

    ``water_depth_m`` below ground, inf only if known to be deep; the saturated unit weight holds
    below it, the bulk value unless given.
    """

    c_kPa: ArrayLike
    phi_deg: ArrayLike
    unit_weight_kN_m3: ArrayLike
    water_depth_m: ArrayLike
    saturated_unit_weight_kN_m3: ArrayLike | None = None


@dataclass(frozen=True, eq=False)
class BaseLoad:
    """Load on the base; V needed with a horizontal load when drained, 0 for a leg in the air."""

    V_kN: ArrayLike | None = None
    H_B_kN: ArrayLike = 0.0
    H_L_kN: ArrayLike = 0.0
    eccentricity_B_m: ArrayLike = 0.0
    eccentricity_L_m: ArrayLike = 0.0


CENTRED = BaseLoad()


@dataclass(frozen=True)
class BearingCapacity:
    """Ultimate bearing capacity with every factor a checker would ask for.

    q_ult_kPa acts on the effective area; resistance_kN = q_ult_kPa * A_eff_m2. The three
    q_*_term add up to q_ult_kPa. For undrained ground ``corrections`` holds the phi = 0
    factors and shape, depth, inclination, base, ground are None; for drained ground the
    other way round. ``slides`` and ``area.outside`` tell where the capacity is 0 and why;
    ``governing`` says it in words: "general shear", "sliding" or "load outside the mat".
    """

    basis: Basis
    method: Method
    area: EffectiveArea
    Nc: FloatArray
    Nq: FloatArray
    Ngamma: FloatArray
    shape: Corrections | None
    depth: Corrections | None
    inclination: Corrections | None
    base: Corrections | None
    ground: Corrections | None
    corrections: UndrainedCorrections | None
    overburden_kPa: FloatArray
    unit_weight_below_kN_m3: FloatArray
    q_c_term_kPa: FloatArray
    q_q_term_kPa: FloatArray
    q_gamma_term_kPa: FloatArray
    q_ult_kPa: FloatArray
    resistance_kN: FloatArray
    slides: NDArray[np.bool_]

    @property
    def governing(self) -> NDArray[np.str_]:
        """What governs, in words, in the shape of q_ult_kPa."""
        words = np.where(
            self.area.outside,
            "load outside the mat",
            np.where(self.slides, "sliding", "general shear"),
        )
        return np.broadcast_to(words, self.q_ult_kPa.shape)


def bearing_capacity(
    footing: Footing,
    soil: UndrainedSoil | DrainedSoil,
    *,
    load: BaseLoad = CENTRED,
    method: Method = "en1997",
) -> BearingCapacity:
    """Ultimate bearing capacity of a rectangular base on uniform ground.

    Drained: q = c Nc sc dc ic bc gc + q0 Nq sq dq iq bq gq + 0.5 gamma B' Ngamma sg dg ig bg gg.
    Undrained: q = cu Nc (correction) + q0, q0 the total overburden; with the Vesic method on
    sloping ground also -sin(slope) gamma B' (Ngamma = -2 sin slope). General shear of uniform
    ground, so not for loose ground or layers (see layers). With a horizontal load the Meyerhof
    shape factors are 1 and what the Hansen sc and sq add to 1 is multiplied by ic and iq (API RP
    2GEO 2011; sgamma keeps its lower value without load). Where the base slides (H > A' cu, or H >
    A' c + V tan phi) or the load is outside the mat it is 0.

    Parameters:
      footing: Footing
      soil: UndrainedSoil or DrainedSoil. Saturated clay by total stress, or ground by effective
        stress.
      load: BaseLoad
      method: {"meyerhof", "hansen", "vesic", "en1997", "terzaghi"}
    Returns: BearingCapacity, arrays of the common shape of what they depend on (without a
      horizontal load V_kN has no influence and its shape does not count).
    Raises: A base deeper than twice its width, a friction angle of 0 when drained, or a horizontal
      load without a vertical one; a load or slope that the method has no factor for.
    Source: UFC 3-220-20 Eqs 5-15, 5-17; EN 1997-1:2004 Eqs D.1, D.2; Vesic 1975.
    """
    check_method(method)
    base = _base_under_load(footing, load)
    if isinstance(soil, UndrainedSoil):
        return _undrained(footing, base, soil, load, method)
    return _drained(footing, base, soil, load, method)


@dataclass(frozen=True)
class _Base:
    """Effective sides, and the horizontal load along them."""

    area: EffectiveArea
    B: FloatArray
    L: FloatArray
    width: FloatArray
    depth: FloatArray
    depth_for_factors: FloatArray
    along_B: FloatArray
    along_L: FloatArray
    surcharge: FloatArray


def _base_under_load(footing: Footing, load: BaseLoad) -> _Base:
    area = effective_area(
        footing.B_m,
        footing.L_m,
        eccentricity_B_m=load.eccentricity_B_m,
        eccentricity_L_m=load.eccentricity_L_m,
    )
    surcharge = require_non_negative("surcharge_kPa", footing.surcharge_kPa)
    width = np.minimum(np.asarray(footing.B_m, np.float64), np.asarray(footing.L_m, np.float64))
    depth = require_non_negative("depth_m", footing.depth_m)
    if not np.all(2.0 * width >= depth):
        raise InputError.of(
            "depth_m", float(np.max(depth)), "at most twice the width",
            "This is not a shallow base.",
        )  # fmt: skip
    h_B, h_L = require_finite("H_B_kN", load.H_B_kN), require_finite("H_L_kN", load.H_L_kN)
    turned = bool(np.any(area.turned))
    return _Base(
        area=area,
        # a load outside the mat has no area; any positive side keeps the factors finite there
        B=np.where(area.outside, 1.0, area.B_eff_m),
        L=np.where(area.outside, 1.0, area.L_eff_m),
        width=width,
        depth=depth,
        depth_for_factors=depth if footing.use_depth_factors else np.zeros(()),
        along_B=np.where(area.turned, h_L, h_B) if turned else h_B,
        along_L=np.where(area.turned, h_B, h_L) if turned else h_L,
        surcharge=surcharge,
    )


def _undrained(
    footing: Footing, base: _Base, soil: UndrainedSoil, load: BaseLoad, method: Method
) -> BearingCapacity:
    bulk = require_positive("unit_weight_kN_m3", soil.unit_weight_kN_m3)
    cu = require_positive("cu_kPa", soil.cu_kPa)
    fix = undrained_corrections(
        base.B,
        base.L,
        cu_kPa=cu,
        depth_ratio=base.depth_for_factors / base.width,
        V_kN=load.V_kN,
        H_B_kN=base.along_B,
        H_L_kN=base.along_L,
        base_tilt_deg=footing.base_tilt_deg,
        ground_slope_deg=footing.ground_slope_deg,
        method=method,
    )
    overburden = bulk * base.depth + base.surcharge
    slope = np.radians(np.asarray(footing.ground_slope_deg, np.float64))
    N_gamma = np.asarray(-2.0 * np.sin(slope) if method == "vesic" else 0.0)
    return _assemble(
        "undrained", method, base.area, fix.slides, bulk, overburden,
        BearingFactors(np.asarray(fix.Nc), np.ones(()), N_gamma),
        (cu * fix.Nc * fix.total, overburden, 0.5 * bulk * base.B * N_gamma),
        corrections=fix,
    )  # fmt: skip


def _drained(
    footing: Footing, base: _Base, soil: DrainedSoil, load: BaseLoad, method: Method
) -> BearingCapacity:
    bulk = require_positive("unit_weight_kN_m3", soil.unit_weight_kN_m3)
    c = require_non_negative("c_kPa", soil.c_kPa)
    phi = check_phi_deg(soil.phi_deg, method)
    if not np.all(phi >= PHI_ZERO_DEG):
        raise InputError.of("phi_deg", 0.0, "greater than 0 when drained", "Else undrained.")
    H = np.hypot(base.along_B, base.along_L)
    inclined = bool(np.any(H > 0.0))
    if inclined and load.V_kN is None:
        raise InputError.of("V_kN", None, "a vertical load with a horizontal one")
    V = require_non_negative("V_kN", 1.0 if load.V_kN is None else load.V_kN)
    if not inclined:
        V, H = np.ones(()), np.zeros(())
    water = groundwater(
        base.depth,
        soil.water_depth_m,
        B_m=base.width,
        unit_weight_kN_m3=bulk,
        saturated_unit_weight_kN_m3=soil.saturated_unit_weight_kN_m3,
    )
    overburden = water.overburden_kPa + base.surcharge
    below = water.unit_weight_below_kN_m3
    f = bearing_factors(phi, method)
    factors = _drained_factors(f, phi, footing, base, V if inclined else None, c, method)
    s, d, i, b, g = factors
    return _assemble(
        "drained", method, base.area,
        np.asarray(base.B * base.L * c + V * np.tan(np.radians(phi)) < H),
        below, overburden, f,
        (
            c * f.Nc * s.c * d.c * i.c * b.c * g.c,
            overburden * f.Nq * s.q * d.q * i.q * b.q * g.q,
            0.5 * below * base.B * f.Ngamma * s.gamma * d.gamma * i.gamma * b.gamma * g.gamma,
        ),
        drained=factors,
    )  # fmt: skip


def _drained_factors(
    f: BearingFactors,
    phi: FloatArray,
    footing: Footing,
    base: _Base,
    inclined_V: FloatArray | None,
    c: FloatArray,
    method: Method,
) -> tuple[Corrections, Corrections, Corrections, Corrections, Corrections]:
    """Shape, depth, inclination, base and ground; *inclined_V* is None without horizontal load."""
    s = shape_factors_of(f, phi, base.B / base.L, method=method)
    d = i = b = g = NO_CORRECTION
    if np.any(base.depth_for_factors != 0.0):
        d = depth_factors(phi, base.depth_for_factors, base.width, method=method)
    if inclined_V is not None:
        i = inclination_factors(
            phi, base.B, L_m=base.L, V_kN=inclined_V, H_B_kN=base.along_B, H_L_kN=base.along_L,
            c_kPa=c, base_tilt_deg=footing.base_tilt_deg, method=method,
        )  # fmt: skip
        if method == "meyerhof":
            H = np.hypot(base.along_B, base.along_L)
            s = Corrections(*(np.where(H > 0.0, 1.0, v) for v in (s.c, s.q, s.gamma)))
        elif method == "hansen":
            s = Corrections(1.0 + i.c * (s.c - 1.0), 1.0 + i.q * (s.q - 1.0), s.gamma)
    if np.any(np.asarray(footing.base_tilt_deg) != 0.0):
        b = base_factors(phi, footing.base_tilt_deg, method=method)
    if np.any(np.asarray(footing.ground_slope_deg) != 0.0):
        g = ground_factors(phi, footing.ground_slope_deg, method=method)
    return s, d, i, b, g


def _assemble(
    basis: Basis,
    method: Method,
    area: EffectiveArea,
    slides: NDArray[np.bool_],
    weight_below: FloatArray,
    overburden: FloatArray,
    factors: BearingFactors,
    terms: tuple[FloatArray, FloatArray, FloatArray],
    *,
    drained: tuple[Corrections, Corrections, Corrections, Corrections, Corrections] | None = None,
    corrections: UndrainedCorrections | None = None,
) -> BearingCapacity:
    dead = slides | area.outside
    q_ult = np.where(dead, 0.0, np.maximum(terms[0] + terms[1] + terms[2], 0.0))
    q_c, q_q, q_gamma = (np.broadcast_to(t, q_ult.shape) for t in terms)
    if dead.any():
        q_c, q_q, q_gamma = (np.where(dead, 0.0, t) for t in (q_c, q_q, q_gamma))
    s, d, i, b, g = drained or (None,) * 5
    return BearingCapacity(
        basis=basis, method=method, area=area,
        Nc=factors.Nc, Nq=factors.Nq, Ngamma=factors.Ngamma,
        shape=s, depth=d, inclination=i, base=b, ground=g, corrections=corrections,
        overburden_kPa=np.asarray(overburden), unit_weight_below_kN_m3=np.asarray(weight_below),
        q_c_term_kPa=q_c, q_q_term_kPa=q_q, q_gamma_term_kPa=q_gamma,
        q_ult_kPa=q_ult, resistance_kN=q_ult * area.A_eff_m2,
        slides=np.asarray(slides),
    )  # fmt: skip
