"""One lift: crane and set-up, load, rigging, from where to where."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from liftcalc.facts.base import Coordinate, Fact, Ident, NonNegative, Positive, Provenance

__all__ = ["LegSetting", "Lift", "Load", "Place", "RiggingChoice", "Stand", "Waypoint"]

Dimension = Annotated[float, Field(gt=0, le=100)]


class Place(Fact):
    """Where the load's centre stands: plan position and level of its underside."""

    easting_m: Coordinate
    northing_m: Coordinate
    level_m: Annotated[float, Field(ge=-500, le=9000)]


class Stand(Fact):
    """Where the crane stands: slew centre, ground level there, heading of +x from east."""

    easting_m: Coordinate
    northing_m: Coordinate
    level_m: Annotated[float, Field(ge=-500, le=9000)]
    heading_deg: Annotated[float, Field(ge=-360, le=360)]
    tilt_x_percent: Annotated[float, Field(ge=-5, le=5)] = 0.0
    tilt_y_percent: Annotated[float, Field(ge=-5, le=5)] = 0.0


class LegSetting(Fact):
    """Extension of each leg, machine centreline to float centre."""

    FL: Positive
    FR: Positive
    RR: Positive
    RL: Positive

    def as_tuple(self) -> tuple[float, float, float, float]:
        """Extensions in the order FL, FR, RR, RL."""
        return (self.FL, self.FR, self.RR, self.RL)


class Load(Fact):
    """What is lifted. Centre of gravity is measured from the middle of the load's box."""

    mass_t: Annotated[float, Field(gt=0, le=1500)]
    mass_basis: Literal["weighed", "maker", "calculated", "estimated"]
    length_m: Dimension
    width_m: Dimension
    height_m: Dimension
    cg_x_m: Annotated[float, Field(ge=-50, le=50)] = 0.0
    cg_y_m: Annotated[float, Field(ge=-50, le=50)] = 0.0
    cg_z_m: Annotated[float, Field(ge=-50, le=50)] = 0.0
    sail_area_m2: Annotated[float, Field(gt=0, le=5000)]
    drag_coefficient: Annotated[float, Field(gt=0, le=3)]
    contingency_percent: Annotated[float, Field(ge=0, le=100)]
    held_down: bool = False
    """True where the load may still be stuck, frozen in or bolted down: then it is refused."""

    @model_validator(mode="after")
    def _cg_inside(self) -> Self:
        for axis, size in (("x", self.length_m), ("y", self.width_m), ("z", self.height_m)):
            value = getattr(self, f"cg_{axis}_m")
            if not abs(value) <= size / 2:
                raise ValueError(f"cg_{axis}_m within the load ({-size / 2:g} to {size / 2:g} m)")
        return self


class RiggingChoice(Fact):
    """How the load hangs: slings between lifting points and hook (or beam).

    Lifting points sit at the corners of a rectangle ``point_spacing_x_m`` by
    ``point_spacing_y_m`` centred on the load's box, ``point_height_m`` above its underside.
    """

    sling: Ident
    sling_legs: Annotated[int, Field(ge=1, le=4)]
    hitch: Literal["straight", "choke", "basket"] = "straight"
    shackle: Ident | None = None
    beam: Ident | None = None
    point_spacing_x_m: NonNegative
    point_spacing_y_m: NonNegative
    point_height_m: NonNegative
    extra_mass_t: NonNegative = 0.0


class Waypoint(Fact):
    """A point the load passes: slew (machine frame), radius, level of the load's underside."""

    slew_deg: Annotated[float, Field(ge=-720, le=720)]
    radius_m: Positive
    level_m: Annotated[float, Field(ge=-500, le=9000)]


class Lift(Fact):
    """One lift of the job."""

    id: Ident
    title: str
    machine: Ident
    counterweight: Ident
    hook_block: Ident
    boom_length_m: Annotated[float, Field(gt=0, le=150)]
    stand: Stand
    legs: LegSetting
    mat: Ident
    load: Load
    rigging: RiggingChoice
    pick: Place
    set_down: Place
    carry_level_m: Annotated[float, Field(ge=-500, le=9000)]
    slew_way: Literal["shortest", "anticlockwise", "clockwise"] = "shortest"
    via: tuple[Waypoint, ...] = ()
    wind_m_s: Annotated[float, Field(ge=0, le=30)]
    persons: bool = False
    out_of_sight: bool = False
    provenance: Provenance

    @model_validator(mode="after")
    def _carry_above(self) -> Self:
        least = max(self.pick.level_m, self.set_down.level_m)
        if not self.carry_level_m >= least:
            raise ValueError(f"carry_level_m at least {least} (highest of pick and set-down)")
        return self
