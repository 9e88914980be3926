"""Mats (float pads) that spread a leg's force on the ground."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from liftcalc.facts.base import Fact, Ident, Positive, Provenance

__all__ = ["Mat"]


class Mat(Fact):
    """One mat; strengths are allowable (working) stresses unless ``strength_basis`` says else.

    Length is along the stiff direction (span of the timbers or beams).
    """

    id: Ident
    name: str
    material: Literal["timber", "steel", "composite"]
    length_m: Annotated[float, Field(gt=0, le=12)]
    width_m: Annotated[float, Field(gt=0, le=12)]
    thickness_m: Annotated[float, Field(gt=0, le=1.5)]
    mass_t: Annotated[float, Field(gt=0, le=30)]
    youngs_modulus_kPa: Positive
    bending_strength_kPa: Positive
    shear_strength_kPa: Positive
    bearing_strength_kPa: Positive
    second_moment_m4: Positive | None = None
    section_modulus_m3: Positive | None = None
    shear_area_m2: Positive | None = None
    strength_basis: Literal["allowable", "characteristic"] = "allowable"
    across: Literal["spread", "plate"] = "spread"
    """Across its length: single timbers only spread the load within their thickness ("spread");
    a plate bends both ways ("plate")."""
    quantity: Annotated[int, Field(ge=1)] = 4
    provenance: Provenance

    @model_validator(mode="after")
    def _length_is_longer(self) -> Self:
        if not self.length_m >= self.width_m:
            raise ValueError("length_m at least width_m (length is the stiff direction)")
        return self
