"""Mats (float pads) that spread a leg's force on the ground."""

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from liftcalc.facts.base import Fact, Ident, Provenance, Text
from liftcalc.facts.limits import LEAST

Strength = Annotated[float, Field(ge=LEAST, le=1e6)]
"""Less than of any steel: more is another unit."""
_Section = Annotated[float, Field(ge=1e-10)]


class Mat(Fact):
    """One mat; strengths are allowable (working) stresses unless ``strength_basis`` says else.

    Length is along the stiff direction (span of the timbers or beams).
    """

    id: Ident
    name: Text
    material: Literal["timber", "steel", "composite"]
    length_m: Annotated[float, Field(ge=LEAST, le=12)]
    width_m: Annotated[float, Field(ge=LEAST, le=12)]
    thickness_m: Annotated[float, Field(ge=LEAST, le=1.5)]
    mass_t: Annotated[float, Field(ge=LEAST, le=30)]
    youngs_modulus_kPa: Annotated[float, Field(ge=LEAST, le=3e8)]
    bending_strength_kPa: Strength
    shear_strength_kPa: Strength
    bearing_strength_kPa: Strength
    second_moment_m4: _Section | None = None
    section_modulus_m3: _Section | None = None
    shear_area_m2: _Section | None = None
    strength_basis: Literal["allowable", "characteristic"] = "allowable"
    across: Literal["spread", "plate"] = "spread"
    """Across its length: single timbers only spread the load within their thickness ("spread");
    a plate bends both ways ("plate")."""
    service: Literal["dry", "wet"] | None = None
    """Moisture for which a timber mat's strengths are stated; unknown counts as dry."""
    quantity: Annotated[int, Field(ge=1)] = 4
    provenance: Provenance

    def faults(self) -> Iterator[str]:
        if not self.length_m >= self.width_m:
            yield (
                f"length_m at least width_m ({self.width_m:g}), not {self.length_m:g}: length is the stiff direction"
            )
        b, h = self.width_m, self.thickness_m
        for name, most in (
            ("second_moment_m4", b * h**3 / 12),
            ("section_modulus_m3", b * h**2 / 6),
            ("shear_area_m2", b * h),
        ):
            value = getattr(self, name)
            if value is not None and not value <= most * 1.001:
                yield f"{name} at most {most:.3g}, of a solid section, not {value:g}"
