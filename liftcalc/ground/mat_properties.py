"""A mat as plain numbers: size, stiffness and strength, with what follows from them.

Sources: Section properties of a rectangle; shear stress 1.5 V/A: Wood Handbook (FPL), chapter 9.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from liftcalc.base.errors import InputError, Problem
from liftcalc.base.units import G_M_S2


@dataclass(frozen=True)
class MatProperties:
    """One mat, as plain numbers.

    Parameters:
      length_m: Side that spans; the grain of timber, the beams of a framed mat run along it. [m]
      width_m, thickness_m: [m]
      mass_t: [t]
      material: {"timber", "steel", "composite"}
      modulus_kPa: Young's modulus in bending. [kPa] bending_strength_kPa, shear_strength_kPa, crushing_strength_kPa:
      Crushing is across the grain for timber, bearing on the deck for others. [kPa]
      strength_basis: {"allowable", "characteristic"}. Characteristic strengths are divided by
        ``strength_divisor`` before use.
      strength_divisor: Overall factor from characteristic to allowable (material, load, duration);
        1 for allowable strengths, above 1 for characteristic ones. [-]
      across: {"spread", "plate"}. Across its length the mat spreads the load only within its
        thickness (single timbers side by side), or bends as a plate of the same strength.
      section_modulus_m3, second_moment_m4, shear_area_m2: float or None. Of the whole width, for hollow or framed mats;
        None is a solid rectangle (shear area two thirds of b d). [m3, m4, m2]
    Raises: All wrong fields together.
    """

    name: str
    length_m: float
    width_m: float
    thickness_m: float
    mass_t: float
    material: Literal["timber", "steel", "composite"]
    modulus_kPa: float
    bending_strength_kPa: float
    shear_strength_kPa: float
    crushing_strength_kPa: float
    strength_basis: Literal["allowable", "characteristic"]
    strength_divisor: float = 1.0
    across: Literal["spread", "plate"] = "spread"
    section_modulus_m3: float | None = None
    second_moment_m4: float | None = None
    shear_area_m2: float | None = None

    def __post_init__(self) -> None:
        problems: list[Problem] = []
        positive = (
            "length_m", "width_m", "thickness_m", "mass_t", "modulus_kPa", "bending_strength_kPa",
            "shear_strength_kPa", "crushing_strength_kPa",
        )  # fmt: skip
        optional = ("section_modulus_m3", "second_moment_m4", "shear_area_m2")
        for field in positive + tuple(f for f in optional if getattr(self, f) is not None):
            value = getattr(self, field)
            if not (np.isfinite(value) and value > 0):
                problems.append(Problem(field, value, "greater than 0"))
        words = {
            "material": ("timber", "steel", "composite"),
            "across": ("spread", "plate"),
            "strength_basis": ("allowable", "characteristic"),
        }
        for field, allowed in words.items():
            if getattr(self, field) not in allowed:
                problems.append(Problem(field, getattr(self, field), ", ".join(allowed)))
        divisor = self.strength_divisor
        if self.strength_basis == "allowable":
            if divisor != 1.0:
                problems.append(Problem("strength_divisor", divisor, "1 for allowable strengths"))
        elif not (np.isfinite(divisor) and divisor > 1.0):
            above = "above 1 for characteristic strengths"
            problems.append(Problem("strength_divisor", divisor, above))
        if problems:
            raise InputError(problems, source=f"mat {self.name!r}")

    @property
    def area_m2(self) -> float:
        """Plan area. [m2]"""
        return self.length_m * self.width_m

    @property
    def weight_kN(self) -> float:
        """Own weight. [kN]"""
        return self.mass_t * G_M_S2

    @property
    def z_m3(self) -> float:
        """Section modulus of the whole width. [m3]"""
        solid = self.width_m * self.thickness_m**2 / 6.0
        return solid if self.section_modulus_m3 is None else self.section_modulus_m3

    @property
    def i_m4(self) -> float:
        """Second moment of area of the whole width. [m4]"""
        solid = self.width_m * self.thickness_m**3 / 12.0
        return solid if self.second_moment_m4 is None else self.second_moment_m4

    @property
    def stiffness_kNm2(self) -> float:
        """EI of the whole width. [kNm2]"""
        return self.modulus_kPa * self.i_m4

    @property
    def shear_m2(self) -> float:
        """Area that turns shear force into the greatest shear stress. [m2]"""
        solid = self.width_m * self.thickness_m / 1.5
        return solid if self.shear_area_m2 is None else self.shear_area_m2

    @property
    def moment_capacity_kNm(self) -> float:
        """Allowable bending moment of the whole width. [kNm]"""
        return self.z_m3 * self.bending_strength_kPa / self.strength_divisor

    @property
    def shear_capacity_kN(self) -> float:
        """Allowable shear force of the whole width. [kN]"""
        return self.shear_m2 * self.shear_strength_kPa / self.strength_divisor
