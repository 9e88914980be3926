"""The crane: masses, geometry, boom, counterweights, hook blocks and its four legs.

All positions are in the machine frame (origin at the slew centre on the ground, x forward,
y left, z up); ``u`` is the horizontal distance from the slew axis along the boom direction,
negative behind. A leg's extension is measured from the machine centreline to its float centre.
"""

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from liftcalc.facts.base import Fact, Ident, MassT, NonNegative, Positive, Provenance, Text
from liftcalc.facts.limits import LEAST

LegName = Literal["FL", "FR", "RR", "RL"]
LEG_NAMES: tuple[LegName, ...] = ("FL", "FR", "RR", "RL")
Offset = Annotated[float, Field(ge=-30, le=30)]


class Carrier(Fact):
    """Everything that does not slew, legs included."""

    mass_t: MassT
    cg_x_m: Offset
    cg_y_m: Offset
    cg_z_m: Annotated[float, Field(ge=0, le=5)]
    front_x_m: Annotated[float, Field(ge=LEAST, le=30)]
    rear_x_m: Annotated[float, Field(le=-LEAST, ge=-30)]
    width_m: Annotated[float, Field(ge=LEAST, le=6)]
    height_m: Annotated[float, Field(ge=LEAST, le=6)]
    torsional_stiffness_kNm_rad: Annotated[float, Field(ge=LEAST, le=1e9)]

    def faults(self) -> Iterator[str]:
        if not self.rear_x_m < self.cg_x_m < self.front_x_m:
            yield f"cg_x_m {self.cg_x_m} between rear_x_m and front_x_m"
        if not abs(self.cg_y_m) < self.width_m / 2:
            yield f"cg_y_m {self.cg_y_m} within half of width_m ({self.width_m / 2:g})"
        if not self.cg_z_m <= self.height_m:
            yield f"cg_z_m {self.cg_z_m} at most height_m ({self.height_m})"


class Superstructure(Fact):
    """The slewing part without counterweight and boom."""

    mass_t: MassT
    cg_u_m: Offset
    cg_z_m: Annotated[float, Field(ge=0, le=8)]
    tail_radius_m: Annotated[float, Field(ge=LEAST, le=15)]
    width_m: Annotated[float, Field(ge=LEAST, le=8)]
    bottom_z_m: Annotated[float, Field(ge=0, le=8)]
    top_z_m: Annotated[float, Field(ge=LEAST, le=10)]
    sail_area_m2: NonNegative

    def faults(self) -> Iterator[str]:
        if not self.top_z_m > self.bottom_z_m:
            yield f"top_z_m above bottom_z_m ({self.bottom_z_m}), not {self.top_z_m}"
        if not abs(self.cg_u_m) <= self.tail_radius_m:
            yield f"cg_u_m {self.cg_u_m} within tail_radius_m ({self.tail_radius_m})"
        if not self.cg_z_m <= self.top_z_m:
            yield f"cg_z_m {self.cg_z_m} at most top_z_m ({self.top_z_m})"


class Counterweight(Fact):
    """One counterweight that may be fitted; mass 0 means none fitted."""

    id: Ident
    mass_t: Annotated[float, Field(ge=0, le=500)]
    cg_u_m: Annotated[float, Field(le=0, ge=-20)]
    cg_z_m: Annotated[float, Field(ge=0, le=10)]
    tail_radius_m: Annotated[float, Field(ge=LEAST, le=20)]
    tail_width_m: Annotated[float, Field(ge=LEAST, le=10)]

    def faults(self) -> Iterator[str]:
        if not self.tail_radius_m > self.tail_width_m / 2:
            yield (
                f"tail_radius_m above half of tail_width_m ({self.tail_width_m / 2:g}), not "
                f"{self.tail_radius_m:g}: it reaches to the tail's corners"
            )
        if self.mass_t and not -self.cg_u_m < self.tail_radius_m:
            yield (
                f"cg_u_m {self.cg_u_m} nearer than tail_radius_m ({self.tail_radius_m}): a mass "
                "lies inside its own outline"
            )


class Boom(Fact):
    """Telescopic boom; tuples run with ``lengths_m`` (shortest first)."""

    foot_u_m: Offset
    foot_z_m: Annotated[float, Field(ge=LEAST, le=8)]
    lengths_m: tuple[Annotated[float, Field(ge=LEAST, le=120)], ...]
    mass_t: MassT
    cg_from_foot_m: tuple[Positive, ...]
    bending_stiffness_kNm2: tuple[Positive, ...] | None
    """Of an equivalent uniform boom at each length; null where the manufacturer gives none: a
    stated allowance then takes its place."""
    sail_area_m2: tuple[Positive, ...]
    drag_coefficient: Annotated[float, Field(ge=LEAST, le=3)]
    width_m: Annotated[float, Field(ge=LEAST, le=3)]
    depth_m: Annotated[float, Field(ge=LEAST, le=3)]
    head_offset_m: Annotated[float, Field(ge=0, le=0)] = 0.0
    """Must be 0: give the boom length to the load sheave, an offset head is not modelled."""
    angle_min_deg: Annotated[float, Field(ge=-5, le=60)]
    angle_max_deg: Annotated[float, Field(ge=LEAST, le=88)]
    two_block_clearance_m: Annotated[float, Field(ge=0, le=10)]

    def faults(self) -> Iterator[str]:
        n = len(self.lengths_m)
        if n < 1 or any(b <= a for a, b in zip(self.lengths_m, self.lengths_m[1:], strict=False)):
            yield "lengths_m rising from the shortest boom length"
        for name in ("cg_from_foot_m", "bending_stiffness_kNm2", "sail_area_m2"):
            values = getattr(self, name)
            if values is not None and len(values) != n:
                yield f"{name} must have {n} values, one for each boom length"
        most = 2.1e8 * self.width_m * self.depth_m**3 / 12
        if max(self.bending_stiffness_kNm2 or (0.0,)) > most:
            yield (
                f"bending_stiffness_kNm2 at most {most:.3g}, of a solid steel section, not "
                f"{max(self.bending_stiffness_kNm2 or (0.0,)):.3g}"
            )
        for cg, length in zip(self.cg_from_foot_m, self.lengths_m, strict=True):
            if not cg < length:
                yield f"cg_from_foot_m {cg} must be less than boom length {length}"
        if not self.angle_max_deg > self.angle_min_deg:
            yield (f"angle_max_deg above angle_min_deg ({self.angle_min_deg:g}), not {self.angle_max_deg:g}")


class HookBlock(Fact):
    """Hook block with the rope falls it is reeved for.

    ``rope_kg_m`` is the mass of the hoist rope, of one fall, and ``width_m`` the greatest width of
    the block: where they are left out, our own allowances are taken and printed.
    """

    id: Ident
    mass_t: Annotated[float, Field(ge=LEAST, le=50)]
    capacity_t: Annotated[float, Field(ge=LEAST, le=2000)]
    height_m: Annotated[float, Field(ge=LEAST, le=6)]
    falls: Annotated[int, Field(ge=1, le=40)]
    rope_kg_m: Annotated[float, Field(ge=LEAST, le=30)] | None = None
    width_m: Annotated[float, Field(ge=LEAST, le=5)] | None = None

    @property
    def across_m(self) -> float:
        """Width; as wide as it is high where that is not stated. [m]"""
        return self.height_m if self.width_m is None else self.width_m


class Leg(Fact):
    """One outrigger leg: place, stroke, float, stiffness and its own strength."""

    name: LegName
    x_m: Offset
    extension_min_m: Annotated[float, Field(ge=LEAST, le=15)]
    extension_max_m: Annotated[float, Field(ge=LEAST, le=15)]
    steps_m: tuple[Positive, ...] = ()
    float_length_m: Annotated[float, Field(ge=LEAST, le=3)]
    float_width_m: Annotated[float, Field(ge=LEAST, le=3)]
    stiffness_kN_m: Annotated[float, Field(ge=LEAST, le=1e8)]
    capacity_kN: Annotated[float, Field(ge=LEAST, le=20000)]

    @property
    def side(self) -> int:
        """+1 for a left leg (y > 0), -1 for a right leg."""
        return 1 if self.name.endswith("L") else -1

    def faults(self) -> Iterator[str]:
        if not self.extension_max_m >= self.extension_min_m:
            yield (f"extension_max_m at least extension_min_m ({self.extension_min_m}), not {self.extension_max_m}")
        for step in self.steps_m:
            if not self.extension_min_m - 1e-9 <= step <= self.extension_max_m + 1e-9:
                yield f"steps_m from {self.extension_min_m} to {self.extension_max_m}, not {step}"
        if (self.name[0] == "F") != (self.x_m > 0):
            side = "> 0" if self.name[0] == "F" else "< 0"
            yield f"x_m {self.x_m} of an outrigger with the name {self.name} must be {side}"

    def allows(self, extension_m: float) -> bool:
        """True if the leg can be set (and pinned, where it has steps) at this extension."""
        if not self.extension_min_m - 1e-9 <= extension_m <= self.extension_max_m + 1e-9:
            return False
        return not self.steps_m or any(abs(extension_m - s) < 1e-6 for s in self.steps_m)


class Machine(Fact):
    """A mobile crane as far as its manufacturer tells."""

    id: Ident
    name: Text
    class_t: Annotated[float, Field(ge=LEAST, le=2000)]
    provenance: Provenance
    carrier: Carrier
    superstructure: Superstructure
    counterweights: Annotated[tuple[Counterweight, ...], Field(min_length=1)]
    boom: Boom
    hook_blocks: Annotated[tuple[HookBlock, ...], Field(min_length=1)]
    legs: Annotated[tuple[Leg, ...], Field(min_length=4, max_length=4)]
    radius_min_m: Annotated[float, Field(ge=LEAST, le=20)]
    stability_rule: Literal["test_load", "tipping_fraction"]
    tipping_fraction: Annotated[float, Field(ge=LEAST, lt=1)] = 0.85
    wind_limit_m_s: Annotated[float, Field(ge=LEAST, le=30)]
    level_limit_percent: Annotated[float, Field(ge=LEAST, le=5)]
    interpolation_allowed: bool = False
    setting_tolerance_m: Annotated[float, Field(ge=0, le=0.1)] = 0.0
    """By how much an outrigger may fall short of a chart's mark and still count as at it; 0 unless
    the manufacturer states it."""
    rope_length_m: Annotated[float, Field(ge=LEAST, le=5000)] | None = None
    """Hoist rope that may leave the drum: its length less the wraps that must stay on. Left out,
    the length a lift needs is printed, to be held against the manufacturer's manual."""
    hoisting_class: Literal["HC1", "HC2", "HC3", "HC4"]
    hoist_speed_m_s: Annotated[float, Field(ge=LEAST, le=3)]
    slew_speed_rpm: Annotated[float, Field(ge=LEAST, le=5)]
    slew_stop_time_s: Annotated[float, Field(ge=LEAST, le=60)]
    standard_sail_area_m2_t: Annotated[float, Field(ge=LEAST, le=2)] = 1.0
    standard_drag_coefficient: Annotated[float, Field(ge=LEAST, le=2)] = 1.2

    def faults(self) -> Iterator[str]:
        if tuple(leg.name for leg in self.legs) != LEG_NAMES:
            yield f"names of the outriggers in the order {', '.join(LEG_NAMES)}"
        for group in (self.counterweights, self.hook_blocks):
            ids = [g.id for g in group]
            if len(set(ids)) != len(ids):
                yield f"ids used once each, not {ids}"

    def rope_mass_kg_m(self, block: HookBlock) -> float:
        """Of one fall of the hoist rope; our own allowance where the block does not state it.

        The allowance is 0.4 kg/m for each tonne of the greatest pull of one fall, which is above
        the mass of ordinary steel wire rope with five times that strength.
        """
        pull = max(b.capacity_t / b.falls for b in self.hook_blocks)
        return 0.4 * pull if block.rope_kg_m is None else block.rope_kg_m

    def counterweight(self, id: str) -> Counterweight:
        """The counterweight with this id; KeyError where there is none."""
        return {c.id: c for c in self.counterweights}[id]

    def hook_block(self, id: str) -> HookBlock:
        """The hook block with this id; KeyError where there is none."""
        return {h.id: h for h in self.hook_blocks}[id]
