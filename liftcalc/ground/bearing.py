"""Ultimate bearing capacity of a rectangular mat: undrained, drained and c-phi ground.

Forces in kN, lengths in m, pressures in kPa and gross (they include the overburden),
compression positive. Array arguments broadcast against each other, usually as (legs, slews).
Safety and design values are in :mod:`liftcalc.ground.safety`.

Sources: UFC 3-220-20 (2025) sections 5-2, 5-3 (read in a digitised edition); EN 1997-1:2004 Annex
D; Vesic 1975 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import (
    InputError,
    Problem,
    require_finite,
    require_non_negative,
    require_positive,
)
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

__all__ = ["Basis", "BearingCapacity", "bearing_capacity"]

Basis = Literal["undrained", "drained"]


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


def _missing(basis: str, given: dict[str, ArrayLike | None], unwanted: tuple[str, ...]) -> None:
    problems = [
        Problem(name, None, f"a value for the {basis} case")
        for name, value in given.items()
        if value is None and name not in unwanted
    ]
    problems += [
        Problem(name, given[name], f"nothing for the {basis} case", "It would be ignored.")
        for name in unwanted
        if given[name] is not None
    ]
    if problems:
        raise InputError(problems)


def bearing_capacity(
    B_m: ArrayLike,
    L_m: ArrayLike,
    *,
    basis: Basis,
    method: Method = "en1997",
    unit_weight_kN_m3: ArrayLike,
    cu_kPa: ArrayLike | None = None,
    c_kPa: ArrayLike | None = None,
    phi_deg: ArrayLike | None = None,
    depth_m: ArrayLike = 0.0,
    water_depth_m: ArrayLike | None = None,
    saturated_unit_weight_kN_m3: ArrayLike | None = None,
    V_kN: ArrayLike | None = None,
    H_B_kN: ArrayLike = 0.0,
    H_L_kN: ArrayLike = 0.0,
    eccentricity_B_m: ArrayLike = 0.0,
    eccentricity_L_m: ArrayLike = 0.0,
    base_tilt_deg: ArrayLike = 0.0,
    ground_slope_deg: ArrayLike = 0.0,
    surcharge_kPa: ArrayLike = 0.0,
    use_depth_factors: bool = True,
) -> BearingCapacity:
    """Ultimate bearing capacity of a rectangular base on uniform ground.

    Drained: q = c Nc sc dc ic bc gc + q0 Nq sq dq iq bq gq + 0.5 gamma B' Ngamma sg dg ig bg gg.
    Undrained: q = cu Nc (correction) + q0, q0 the total overburden; with the Vesic method on
    sloping ground also -sin(slope) gamma B' (Ngamma = -2 sin slope). General shear of uniform
    ground, so not for loose ground or layers (see layers). With a
    horizontal load the Meyerhof shape factors are 1 and what the Hansen sc and sq add to 1 is
    multiplied by ic and iq (API RP 2GEO 2011; sgamma keeps its lower value without load). Where the
    base slides (H > A' cu, or H > A' c + V tan phi) or the load is outside the mat it is 0.

    Parameters:
      B_m, L_m: array_like, > 0. Sides of the base, in any order. [m]
      basis: {"undrained", "drained"}. Undrained: saturated clay, total stress, strength cu.
        Drained: effective stress, strength c', phi' (c-phi ground where both are above 0).
      method: {"meyerhof", "hansen", "vesic", "en1997", "terzaghi"}
      unit_weight_kN_m3: array_like, > 0. Bulk unit weight. [kN/m3]
      cu_kPa: array_like, > 0. Undrained shear strength (undrained only). [kPa]
      c_kPa, phi_deg: array_like. Effective cohesion >= 0 and friction angle, 0 < phi <= 50
        (Terzaghi 45); drained only. [kPa, deg]
      depth_m: array_like, >= 0. Depth of the base below ground, at most 2 B' (shallow base). [m]
      water_depth_m: array_like. Depth of the water table; needed when drained; inf if known to be
        deep. [m]
      V_kN: array_like, >= 0. Vertical load (0 for a leg in the air), needed with a horizontal load
        when drained. [kN]
      H_B_kN, H_L_kN: array_like. Horizontal load along B and along L. [kN]
      eccentricity_B_m, eccentricity_L_m, base_tilt_deg, ground_slope_deg: array_like. See
        :mod:`liftcalc.ground.effective` and :mod:`liftcalc.ground.corrections`.
      surcharge_kPa: array_like, >= 0. Lasting effective pressure beside the base besides the ground
        itself. [kPa]
      use_depth_factors: bool. False leaves out the strength of the ground above the base.
      saturated_unit_weight_kN_m3: array_like, > 9.81, optional. Unit weight below the water table;
        the bulk value unless given. [kN/m3]
    Returns: BearingCapacity, arrays of the common shape of what they depend on (without a
      horizontal load V_kN has no influence and its shape does not count).
    Raises: A value outside its range, missing, or of no use to the case; a load or slope that the
      chosen method has no factor for.
    Source: UFC 3-220-20 Eqs 5-15, 5-17; EN 1997-1:2004 Eqs D.1, D.2; Vesic 1975.
    """
    check_method(method)
    given = {"cu_kPa": cu_kPa, "c_kPa": c_kPa, "phi_deg": phi_deg, "water_depth_m": water_depth_m}
    if basis == "undrained":
        _missing(basis, {**given, "water_depth_m": 0.0}, ("c_kPa", "phi_deg"))
    elif basis == "drained":
        _missing(basis, given, ("cu_kPa",))
    else:
        raise InputError.of("basis", basis, "undrained, drained")
    area = effective_area(
        B_m, L_m, eccentricity_B_m=eccentricity_B_m, eccentricity_L_m=eccentricity_L_m
    )
    bulk = require_positive("unit_weight_kN_m3", unit_weight_kN_m3)
    extra = require_non_negative("surcharge_kPa", surcharge_kPa)
    width = np.minimum(np.asarray(B_m, np.float64), np.asarray(L_m, np.float64))
    D = require_non_negative("depth_m", depth_m)
    if not np.all(2.0 * width >= D):
        raise InputError.of(
            "depth_m", float(np.max(D)), "at most twice the width", "This is not a shallow base."
        )
    h_B = require_finite("H_B_kN", H_B_kN)
    h_L = require_finite("H_L_kN", H_L_kN)
    along_B = np.where(area.turned, h_L, h_B) if np.any(area.turned) else h_B
    along_L = np.where(area.turned, h_B, h_L) if np.any(area.turned) else h_L
    H = np.hypot(along_B, along_L)
    # A load outside the mat has no area; any positive side keeps the factors finite there.
    B = np.where(area.outside, 1.0, area.B_eff_m)
    L = np.where(area.outside, 1.0, area.L_eff_m)
    depth_for_factors = D if use_depth_factors else np.zeros(())
    if basis == "undrained":
        cu = require_positive("cu_kPa", 0.0 if cu_kPa is None else cu_kPa)
        fix = undrained_corrections(
            B, L, cu_kPa=cu, depth_ratio=depth_for_factors / width, V_kN=V_kN,
            H_B_kN=along_B, H_L_kN=along_L, base_tilt_deg=base_tilt_deg,
            ground_slope_deg=ground_slope_deg, method=method,
        )  # fmt: skip
        overburden = bulk * D + extra
        slope = np.radians(np.asarray(ground_slope_deg, np.float64))
        N_gamma = np.asarray(-2.0 * np.sin(slope) if method == "vesic" else 0.0)
        return _assemble(
            basis, method, area, fix.slides, bulk, overburden,
            BearingFactors(np.asarray(fix.Nc), np.ones(()), N_gamma),
            (cu * fix.Nc * fix.total, overburden, 0.5 * bulk * B * N_gamma),
            corrections=fix,
        )  # fmt: skip
    c = require_non_negative("c_kPa", 0.0 if c_kPa is None else c_kPa)
    phi = check_phi_deg(0.0 if phi_deg is None else phi_deg, method)
    if not np.all(phi >= PHI_ZERO_DEG):
        raise InputError.of("phi_deg", 0.0, "greater than 0 when drained", "Else undrained.")
    inclined = bool(np.any(H > 0.0))
    if inclined and V_kN is None:
        raise InputError.of("V_kN", None, "a vertical load with a horizontal one")
    V = require_non_negative("V_kN", 1.0 if V_kN is None else V_kN)
    if not inclined:
        V, along_B, along_L, H = np.ones(()), np.zeros(()), np.zeros(()), np.zeros(())
    water = groundwater(
        D, 0.0 if water_depth_m is None else water_depth_m, B_m=width, unit_weight_kN_m3=bulk,
        saturated_unit_weight_kN_m3=saturated_unit_weight_kN_m3,
    )  # fmt: skip
    overburden = water.overburden_kPa + extra
    below = water.unit_weight_below_kN_m3
    f = bearing_factors(phi, method)
    s = shape_factors_of(f, phi, B / L, method=method)
    d = i = b = g = NO_CORRECTION
    if method == "meyerhof" and inclined:
        s = Corrections(*(np.where(H > 0.0, 1.0, v) for v in (s.c, s.q, s.gamma)))
    if np.any(depth_for_factors != 0.0):
        d = depth_factors(phi, depth_for_factors, width, method=method)
    if inclined:
        i = inclination_factors(
            phi, B, L_m=L, V_kN=V, H_B_kN=along_B, H_L_kN=along_L, c_kPa=c,
            base_tilt_deg=base_tilt_deg, method=method,
        )  # fmt: skip
    if method == "hansen" and inclined:
        s = Corrections(1.0 + i.c * (s.c - 1.0), 1.0 + i.q * (s.q - 1.0), s.gamma)
    if np.any(np.asarray(base_tilt_deg) != 0.0):
        b = base_factors(phi, base_tilt_deg, method=method)
    if np.any(np.asarray(ground_slope_deg) != 0.0):
        g = ground_factors(phi, ground_slope_deg, method=method)
    return _assemble(
        basis, method, area, np.asarray(B * L * c + V * np.tan(np.radians(phi)) < H),
        below, overburden, f,
        (
            c * f.Nc * s.c * d.c * i.c * b.c * g.c,
            overburden * f.Nq * s.q * d.q * i.q * b.q * g.q,
            0.5 * below * B * f.Ngamma * s.gamma * d.gamma * i.gamma * b.gamma * g.gamma,
        ),
        drained=(s, d, i, b, g),
    )  # fmt: skip


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
