"""One load on two machines: what hangs where, how far it may go wrong, and from where to where."""

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from liftcalc.facts.base import Coordinate, Fact, Ident, NonNegative, Positive, Provenance, Text
from liftcalc.facts.lift import Deduction, LegSetting, Load, RiggingChoice, Stand
from liftcalc.facts.limits import LEAST

POINT_TOLERANCE_M = 0.02
"""How far two statements of one lifting point's height may differ. [m]"""


class LoadPose(Fact):
    """Where the load is: plan place of its centre of gravity, level of its underside, bearing.

    ``bearing_deg`` is the direction from lifting point 1 to lifting point 2, anticlockwise from east.
    """

    easting_m: Coordinate
    northing_m: Coordinate
    level_m: Annotated[float, Field(ge=-500, le=9000)]
    bearing_deg: Annotated[float, Field(ge=-720, le=720)]


class TandemMachine(Fact):
    """One of the two machines, its stand and what hangs on its hook.

    ``derating_factor`` is the share of the rated capacity that the engineer allows; it has no default on purpose.
    """

    machine: Ident
    counterweight: Ident
    hook_block: Ident
    boom_length_m: Annotated[float, Field(ge=LEAST, le=150)]
    stand: Stand
    legs: LegSetting
    mat: Ident
    rigging: RiggingChoice
    deductions: tuple[Deduction, ...] = ()
    derating_factor: Annotated[float, Field(ge=LEAST, le=1)]


class TandemLift(Fact):
    """Two machines on one rigid load, one lifting point each.

    ``lug_distance_m`` is from the centre of gravity along the load to lifting point 1 and to
    lifting point 2; ``lug_above_cg_m`` how much higher than it they lie. The load's own box is
    centred between its lifting points' middle and measured along them; its ``cg_*`` must be 0:
    the lifting points are given from the centre of gravity. Errors are either way.
    """

    id: Ident
    title: Text
    load: Load
    machines: tuple[TandemMachine, TandemMachine]
    lug_distance_m: tuple[Positive, Positive]
    lug_above_cg_m: tuple[Annotated[float, Field(ge=-20, le=20)], Annotated[float, Field(ge=-20, le=20)]] = (0.0, 0.0)
    level_error_m: NonNegative
    out_of_plumb_error_deg: Annotated[float, Field(ge=0, le=10)]
    cg_error_m: NonNegative
    derating_reference: Text
    pick: LoadPose
    set_down: LoadPose
    carry_level_m: Annotated[float, Field(ge=-500, le=9000)]
    wind_m_s: Annotated[float, Field(ge=0, le=30)]
    wind_basis: Literal["at boom head", "at 10 m mean"] = "at boom head"
    provenance: Provenance

    def faults(self) -> Iterator[str]:
        if problems := "; ".join(self._problems()):
            yield problems

    def _problems(self) -> Iterator[str]:
        least = max(self.pick.level_m, self.set_down.level_m)
        if not self.carry_level_m >= least:
            yield f"carry_level_m at least {least:g} (highest of pick and set-down)"
        if not sum(self.lug_distance_m) <= self.load.length_m + 1e-9:
            yield f"lug_distance_m together at most the load's length ({self.load.length_m:g} m)"
        if any((self.load.cg_x_m, self.load.cg_y_m, self.load.cg_z_m)):
            yield "load.cg_x_m, cg_y_m and cg_z_m 0: lifting points are given from it"
        if self.load.cg_error_x_m is not None:
            yield "load.cg_error_x_m left out: cg_error_m states it, along the load"
        for k, (above, one) in enumerate(zip(self.lug_above_cg_m, self.machines, strict=True)):
            height = self.load.height_m / 2 + above
            if not abs(one.rigging.point_height_m - height) <= POINT_TOLERANCE_M:
                yield (
                    f"machines[{k}].rigging.point_height_m {height:g} m, not "
                    f"{one.rigging.point_height_m:g} m: half the load's height and lug_above_cg_m"
                )
            elif not one.rigging.point_height_m <= self.load.height_m + 1e-9:
                yield (
                    f"machines[{k}].rigging.point_height_m at most load.height_m "
                    f"({self.load.height_m:g} m): lifting points belong to the load"
                )
        if not self.cg_error_m < min(self.lug_distance_m):
            yield "cg_error_m less than either lug_distance_m"
        if not self.level_error_m < sum(self.lug_distance_m):
            yield "level_error_m less than the distance of the lifting points"
        if not self.derating_reference.strip():
            yield "derating_reference: who states the derating, and by which rule"
