"""Strength of a spreader bar or lifting beam by allowable stresses.

Sources: ASME BTH-1, chapter 3 (design factor 2.0 for category A, 3.0 for B; compression, bending,
shear, combined): from memory. Lateral-torsional buckling, lugs, welds, fatigue and local buckling
are not in it: the maker's rating of a beam governs.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_non_negative, require_positive

__all__ = ["DESIGN_FACTORS", "BeamSection", "DesignCategory", "MemberCheck", "member_check"]

DesignCategory = Literal["A", "B"]

DESIGN_FACTORS: dict[DesignCategory, float] = {"A": 2.0, "B": 3.0}
"""Design factor on yield by design category (ASME BTH-1, from memory)."""
STEEL_E_GPA = 200.0
"""29 000 ksi, as in the standard (the European 210 GPa would allow 5 % more when slender)."""


@dataclass(frozen=True)
class BeamSection:
    """Section and steel of a beam: area, second moment and modulus about the bending axis.

    ``radius_of_gyration_mm`` is the least one; ``shear_area_mm2`` that of the web(s).
    """

    area_mm2: float
    modulus_mm3: float
    radius_of_gyration_mm: float
    shear_area_mm2: float
    yield_MPa: float


@dataclass(frozen=True)
class MemberCheck:
    """Stress, allowable stress and utilisation of a beam; the greatest governs."""

    design_factor: float
    slenderness: FloatArray
    compression_MPa: FloatArray
    allowable_compression_MPa: FloatArray
    bending_MPa: FloatArray
    allowable_bending_MPa: FloatArray
    shear_MPa: FloatArray
    allowable_shear_MPa: FloatArray
    compression_utilisation: FloatArray
    bending_utilisation: FloatArray
    shear_utilisation: FloatArray
    combined_utilisation: FloatArray
    utilisation: FloatArray


def member_check(
    section: BeamSection,
    length_m: ArrayLike,
    *,
    category: DesignCategory,
    compression_kN: ArrayLike = 0.0,
    bending_moment_kNm: ArrayLike = 0.0,
    shear_kN: ArrayLike = 0.0,
    effective_length_factor: float = 1.0,
) -> MemberCheck:
    """Allowable-stress check of a spreader or lifting beam.

    Cc = sqrt(2 pi^2 E/Fy). Up to Cc: Fa = (1 - (Kl/r)^2/(2 Cc^2)) Fy / (Nd (1 + 9 (Kl/r)/(40 Cc)
    - 3 (Kl/r)^3/(40 Cc^3))); above: Fa = pi^2 E/(1.15 Nd (Kl/r)^2). Fb = Fy/Nd, taken without
    the increase for compact sections and valid only where the flange cannot buckle sideways.
    Fv = Fy/(sqrt(3) Nd). Combined: fa/Fa + fb/((1 - fa/Fe) Fb), Fe the Euler stress over
    1.15 Nd.

    Parameters:
      section: BeamSection
      length_m: array_like, shape (...), > 0. [m] Length that can buckle.
      category: {"A", "B"}. A: predictable loads and surroundings, design factor 2.0; B: 3.0.
      compression_kN, bending_moment_kNm, shear_kN: array_like, >= 0
      effective_length_factor: float, 0.5 to 2.0
    Returns: MemberCheck. Utilisation 1.0 is the limit. Bending together with a compression beyond
      the allowed Euler stress has an infinite combined utilisation (it fails, it is not an error).
    Raises: Slenderness above 200.
    Source: ASME BTH-1, chapter 3 (from memory).
    """
    if category not in DESIGN_FACTORS:
        raise InputError.of("category", category, ", ".join(DESIGN_FACTORS))
    nd = DESIGN_FACTORS[category]
    area = float(require_positive("section.area_mm2", section.area_mm2))
    modulus = float(require_positive("section.modulus_mm3", section.modulus_mm3))
    gyration = float(
        require_positive("section.radius_of_gyration_mm", section.radius_of_gyration_mm)
    )
    web = float(require_positive("section.shear_area_mm2", section.shear_area_mm2))
    fy = float(require_between("section.yield_MPa", section.yield_MPa, 100.0, 1300.0))
    length = require_positive("length_m", length_m)
    axial = require_non_negative("compression_kN", compression_kN)
    moment = require_non_negative("bending_moment_kNm", bending_moment_kNm)
    shear = require_non_negative("shear_kN", shear_kN)
    k = float(require_between("effective_length_factor", effective_length_factor, 0.5, 2.0))

    slenderness = require_between("slenderness", k * length * 1000.0 / gyration, 0.0, 200.0)
    e_MPa = STEEL_E_GPA * 1000.0
    cc = np.sqrt(2.0 * np.pi**2 * e_MPa / fy)
    ratio = slenderness / cc
    short = (1.0 - 0.5 * ratio**2) * fy / (nd * (1.0 + 9.0 * ratio / 40.0 - 3.0 * ratio**3 / 40.0))
    euler = np.pi**2 * e_MPa / (1.15 * nd * slenderness**2)
    fa_allow = np.where(slenderness <= cc, short, euler)
    fb_allow = np.asarray(fy / nd)
    fv_allow = np.asarray(fy / (np.sqrt(3.0) * nd))
    fa = axial * 1000.0 / area
    fb = moment * 1e6 / modulus
    fv = shear * 1000.0 / web
    # Beyond the Euler stress a bent bar has no state of balance: no finite utilisation.
    left = 1.0 - fa / euler
    amplified = np.where(left > 0.0, fb / (np.where(left > 0.0, left, 1.0) * fb_allow), np.inf)
    combined = fa / fa_allow + np.where(fb > 0.0, amplified, 0.0)
    utilisation = np.maximum(combined, fv / fv_allow)
    return MemberCheck(
        design_factor=nd,
        slenderness=slenderness,
        compression_MPa=np.asarray(fa),
        allowable_compression_MPa=np.asarray(fa_allow),
        bending_MPa=np.asarray(fb),
        allowable_bending_MPa=fb_allow,
        shear_MPa=np.asarray(fv),
        allowable_shear_MPa=fv_allow,
        compression_utilisation=np.asarray(fa / fa_allow),
        bending_utilisation=np.asarray(fb / fb_allow),
        shear_utilisation=np.asarray(fv / fv_allow),
        combined_utilisation=np.asarray(combined),
        utilisation=np.asarray(utilisation),
    )
