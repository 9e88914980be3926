"""Ground: layers from the surface down, groundwater, voids, presumptive class."""

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from liftcalc.facts.base import Fact, Ident, Provenance, Text
from liftcalc.facts.limits import LEAST


class Layer(Fact):
    """One layer; give cu for undrained strength, phi (and c) for drained strength, or both."""

    name: Text
    thickness_m: Annotated[float, Field(ge=LEAST, le=100)]
    unit_weight_kN_m3: Annotated[float, Field(ge=8, le=27)]
    cu_kPa: Annotated[float, Field(ge=LEAST, le=1000)] | None = None
    phi_deg: Annotated[float, Field(ge=0, le=50)] | None = None
    c_kPa: Annotated[float, Field(ge=0, le=500)] | None = None
    youngs_modulus_kPa: Annotated[float, Field(ge=500, le=5e6)] | None = None
    poisson: Annotated[float, Field(ge=0, le=0.5)] | None = None
    liquid_limit_percent: Annotated[float, Field(ge=20, le=200)] | None = None
    """With the plasticity index: what a reading of vane or blow count says of a clay."""
    plasticity_index_percent: Annotated[float, Field(ge=LEAST, le=200)] | None = None

    def faults(self) -> Iterator[str]:
        if self.cu_kPa is None and self.phi_deg is None:
            yield "cu_kPa or phi_deg (a layer without a strength cannot carry an outrigger)"
        if self.c_kPa is not None and self.phi_deg is None:
            yield "phi_deg beside c_kPa (give 0 for a purely cohesive layer)"


class PlatformFill(Fact):
    """Granular fill of which a working platform is laid in place of the ground below a mat.

    ``used`` says that a platform is laid wherever a mat alone does not do. A platform that is not
    stated to be drained, and kept so, is taken as full of water.
    """

    name: Text
    unit_weight_kN_m3: Annotated[float, Field(ge=15, le=25)]
    phi_deg: Annotated[float, Field(ge=35, le=45)]
    permissible_depth_m: Annotated[float, Field(ge=0.1, le=5)]
    drained: bool = False
    used: bool = False
    provenance: Provenance


class PresumptiveClass(Fact):
    """A class of a published presumptive table."""

    table: Text
    name: Text


class SurveyedProfile(Fact):
    """Layers top down below one ground zone.

    Exactly one of ``water_depth_m`` (depth of the water table below the surface) and ``no_water_to_m`` (depth to which
    none was found) is given: a missing water level is refused. Voids that are unknown are unsafe.
    """

    id: Ident
    layers: Annotated[tuple[Layer, ...], Field(min_length=1)]
    water_depth_m: Annotated[float, Field(ge=0, le=500)] | None = None
    no_water_to_m: Annotated[float, Field(ge=LEAST, le=500)] | None = None
    voids: Literal["none found", "unknown", "present"]
    presumptive: PresumptiveClass | None = None
    subgrade_modulus_kN_m3: Annotated[float, Field(ge=500, le=1e6)] | None = None
    provenance: Provenance

    def faults(self) -> Iterator[str]:
        if (self.water_depth_m is None) == (self.no_water_to_m is None):
            yield "exactly one of water_depth_m and no_water_to_m"
