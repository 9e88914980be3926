"""One lift: crane and set-up, load, rigging, from where to where."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from liftcalc.facts.base import Coordinate, Fact, Ident, Metres, NonNegative, Positive, Provenance, Text, Words
from liftcalc.facts.limits import LEAST

LEAST_ALLOWANCE_PERCENT = {"calculated": 3.0, "estimated": 10.0}
"""Added to a mass that nobody weighed or guarantees: common practice, no published source."""
ROUND_SHARE, ROUND_DRAG = 0.785, 0.6
"""Of its greatest upright face, the outline of a round body (pi/4); drag of a round tube in strong
wind, ISO 4302 (from memory). Less catches less wind than any closed load of this size."""


class Place(Fact):
    """Plan position plumb under the hook, and level of the load's underside.

    The hook stands over the load's centre of gravity, so that is whose position it is; the middle of the load's box
    lies ``cg_x_m`` and ``cg_y_m`` away from it. Radius, path, clearances and drawings all use it so.
    """

    easting_m: Coordinate
    northing_m: Coordinate
    level_m: Annotated[float, Field(ge=-500, le=9000)]


class Stand(Fact):
    """Where the crane stands: slew centre, ground level there, heading of +x from east.

    ``tilt_x_percent`` is positive where the machine leans toward +x (its front is low),
    ``tilt_y_percent`` where it leans toward +y (its left side is low). ``level_within_percent``:
    how level the crew sets it and keeps it, where that is less than the machine's limit and 1 %.
    """

    easting_m: Coordinate
    northing_m: Coordinate
    level_m: Annotated[float, Field(ge=-500, le=9000)]
    heading_deg: Annotated[float, Field(ge=-360, le=360)]
    tilt_x_percent: Annotated[float, Field(ge=-5, le=5)] = 0.0
    tilt_y_percent: Annotated[float, Field(ge=-5, le=5)] = 0.0
    level_within_percent: Annotated[float, Field(ge=0.1, le=1)] | None = None


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
    """What is lifted. Centre of gravity is measured from the middle of the load's box.

    ``cg_error_*_m`` is how far the centre of gravity may lie from its stated place, either way;
    left out, 5 % of the load's size along that axis is assumed and printed. ``sail_reason``: why
    the wind takes hold of less than a closed load of this size, as of a lattice; printed.
    """

    mass_t: Annotated[float, Field(ge=0.001, le=1500)]
    mass_basis: Literal["weighed", "maker", "calculated", "estimated"]
    length_m: Metres
    width_m: Metres
    height_m: Metres
    cg_x_m: Annotated[float, Field(ge=-50, le=50)] = 0.0
    cg_y_m: Annotated[float, Field(ge=-50, le=50)] = 0.0
    cg_z_m: Annotated[float, Field(ge=-50, le=50)] = 0.0
    cg_error_x_m: NonNegative | None = None
    cg_error_y_m: NonNegative | None = None
    cg_error_z_m: NonNegative | None = None
    sail_area_m2: Annotated[float, Field(ge=LEAST, le=5000)]
    drag_coefficient: Annotated[float, Field(ge=LEAST, le=3)]
    sail_reason: Words = ""
    contingency_percent: Annotated[float, Field(ge=0, le=100)]
    held_down: bool = False
    """True where the load may still be stuck, frozen in or bolted down: then it is refused."""

    @model_validator(mode="after")
    def _cg_inside(self) -> Self:
        for axis, size in (("x", self.length_m), ("y", self.width_m), ("z", self.height_m)):
            value = getattr(self, f"cg_{axis}_m")
            if not abs(value) <= size / 2:
                raise ValueError(f"cg_{axis}_m within the load ({-size / 2:g} to {size / 2:g} m), not {value:g}")
        return self

    @model_validator(mode="after")
    def _no_lighter_and_no_smaller_than_it_may_be(self) -> Self:
        least = LEAST_ALLOWANCE_PERCENT.get(self.mass_basis, 0.0)
        if not self.contingency_percent >= least:
            raise ValueError(
                f"contingency_percent at least {least:g} with mass_basis {self.mass_basis!r}, not "
                f"{self.contingency_percent:g} (common practice, no published source)"
            )
        area = ROUND_SHARE * max(self.length_m, self.width_m) * self.height_m
        for name, floor in (("sail_area_m2", area), ("drag_coefficient", ROUND_DRAG)):
            value = getattr(self, name)
            if not (value >= floor or self.sail_reason.strip()):
                raise ValueError(
                    f"{name} at least {floor:.3g}, as of a round body that fills the load's box, "
                    f"not {value:g}; where less is meant, sail_reason says why"
                )
        return self


class RiggingChoice(Fact):
    """How the load hangs: slings between lifting points and hook (or beam).

    Lifting points sit at the corners of a rectangle ``point_spacing_x_m`` by ``point_spacing_y_m`` centred on the
    load's box, ``point_height_m`` above its underside; two legs have theirs along x, one leg in the middle.

    ``leg_lengths``: "equal", every leg has the sling's length, so that the hook stands over the middle of the lifting
    points and the load tilts by its centre of gravity; "adjusted", legs shortened until the hook stands over the stated
    centre of gravity, the longest at full length. ``leg_length_m``: lifting point to hook or beam where that is not the
    sling's own length; a choke hitch needs it, a basket hitch is half the sling where it is left out. ``top_sling``:
    sling above a spreader; the same as ``sling`` where left out. ``choke_angle_deg``: angle of choke; 120 degrees is
    assumed and printed where left out. ``basket_part_angle_deg``: angle of each part of a basket from the line of its
    leg. ``bend_diameter_mm``: diameter the basket bends round; at least 25 rope diameters is assumed and printed where
    left out. ``hook_diameter_mm``: thickness of the hook where the eyes bear. ``lug_plate``: direction of the lifting
    points' plates in plan; "toward hook" for plates set to the slings or lifting points that turn. ``tilt_limit_deg``:
    the greatest tilt of the load that the owner accepts.
    """

    sling: Ident
    sling_legs: Annotated[int, Field(ge=1, le=4)]
    hitch: Literal["straight", "choke", "basket"] = "straight"
    shackle: Ident | None = None
    beam: Ident | None = None
    top_sling: Ident | None = None
    leg_lengths: Literal["equal", "adjusted"] = "equal"
    leg_length_m: Annotated[float, Field(ge=LEAST, le=60)] | None = None
    choke_angle_deg: Annotated[float, Field(ge=0, le=180)] | None = None
    basket_part_angle_deg: Annotated[float, Field(ge=0, le=60)] = 0.0
    bend_diameter_mm: Annotated[float, Field(ge=LEAST, le=5000)] | None = None
    hook_diameter_mm: Annotated[float, Field(ge=LEAST, le=1000)] | None = None
    lug_plate: Literal["along x", "along y", "toward hook"] = "along x"
    tilt_limit_deg: Annotated[float, Field(ge=LEAST, le=30)] = 5.0
    point_spacing_x_m: NonNegative
    point_spacing_y_m: NonNegative
    point_height_m: NonNegative
    extra_mass_t: NonNegative = 0.0

    @model_validator(mode="after")
    def _hitch_data(self) -> Self:
        if self.top_sling is not None and self.beam is None:
            raise ValueError("top_sling only with a beam")
        for name, hitch in (
            ("choke_angle_deg", "choke"), ("bend_diameter_mm", "basket"),
            ("basket_part_angle_deg", "basket"),
        ):  # fmt: skip
            default = type(self).model_fields[name].default
            if getattr(self, name) != default and self.hitch != hitch:
                raise ValueError(f"{name} only with a {hitch} hitch")
        if self.sling_legs == 1 and (self.point_spacing_x_m or self.point_spacing_y_m):
            raise ValueError("point_spacing_x_m and point_spacing_y_m 0 with sling_legs 1")
        if self.sling_legs == 2 and self.point_spacing_y_m:
            raise ValueError("point_spacing_y_m 0 with sling_legs 2: both points lie along x")
        return self


class Deduction(Fact):
    """What the manufacturer's chart deducts for, as a mass at the hook.

    An auxiliary block that hangs, a stowed or erected jib, an auxiliary head; ``reference`` is the page that states it.
    """

    name: Annotated[Text, Field(min_length=1, max_length=80)]
    mass_t: Annotated[float, Field(ge=LEAST, le=100)]
    reference: Annotated[Text, Field(min_length=1)]


class Waypoint(Fact):
    """A point the load passes: slew (machine frame), radius, level of the load's underside."""

    slew_deg: Annotated[float, Field(ge=-720, le=720)]
    radius_m: Positive
    level_m: Annotated[float, Field(ge=-500, le=9000)]


class Lift(Fact):
    """One lift of the job."""

    id: Ident
    title: Text
    machine: Ident
    counterweight: Ident
    hook_block: Ident
    boom_length_m: Annotated[float, Field(ge=LEAST, le=150)]
    stand: Stand
    legs: LegSetting
    mat: Ident
    load: Load
    rigging: RiggingChoice
    deductions: tuple[Deduction, ...] = ()
    """Added to the gross load; left out, the machine carries nothing that its chart deducts for."""
    pick: Place
    set_down: Place
    carry_level_m: Annotated[float, Field(ge=-500, le=9000)]
    slew_way: Literal["shortest", "anticlockwise", "clockwise"] = "shortest"
    via: tuple[Waypoint, ...] = ()
    wind_m_s: Annotated[float, Field(ge=0, le=30)]
    wind_basis: Literal["at boom head", "at 10 m mean"] = "at boom head"
    """What ``wind_m_s`` is: the 3 s gust at the boom head, or the 10 minute mean at 10 m."""
    persons: bool = False
    out_of_sight: bool = False
    unusual_rigging: bool = False
    critical_reason: Words = ""
    """Any other reason for which the lift is critical, in words: the operator's belief, a load
    that is submerged or hazardous, a centre of gravity that may change."""
    provenance: Provenance

    @model_validator(mode="after")
    def _carry_above(self) -> Self:
        least = max(self.pick.level_m, self.set_down.level_m)
        if not self.carry_level_m >= least:
            raise ValueError(
                f"carry_level_m at least {least:g} (highest of pick and set-down), not {self.carry_level_m:g}"
            )
        return self

    @model_validator(mode="after")
    def _one_way_round(self) -> Self:
        if self.via and self.slew_way != "shortest":
            raise ValueError(
                f"slew_way 'shortest' with via points, not {self.slew_way!r}: the points name the "
                "way round, each by the shorter turn from the one before"
            )
        return self

    @model_validator(mode="after")
    def _points_on_the_load(self) -> Self:
        for name, size in (
            ("point_spacing_x_m", self.load.length_m),
            ("point_spacing_y_m", self.load.width_m),
            ("point_height_m", self.load.height_m),
        ):
            value = getattr(self.rigging, name)
            if not value <= size + 1e-9:
                raise ValueError(
                    f"rigging.{name} at most {size:g} m, not {value:g} m: lifting points belong to "
                    "the load, so its length, width and height enclose them"
                )
        return self
