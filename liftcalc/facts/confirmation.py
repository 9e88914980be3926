"""The manufacturer's word that a layout which no chart is made for may be used."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from pydantic import Field, field_validator

from liftcalc.facts.base import Day, Fact, Ident, Positive, Provenance, Text
from liftcalc.facts.chart import Angle, Capacity
from liftcalc.facts.lift import LegSetting
from liftcalc.facts.limits import LEAST

if TYPE_CHECKING:
    from liftcalc.facts.lift import Lift
    from liftcalc.facts.tandem import TandemMachine

_Words = Annotated[Text, Field(pattern=r"^[^\x00-\x1f\x7f]*\S[^\x00-\x1f\x7f]*$", max_length=200)]


class Confirmation(Fact):
    """What the manufacturer has confirmed for one layout; every field is needed.

    It covers the steps of a lift with this machine, counterweight and boom length whose outriggers are set as stated or
    farther out, at slews in ``sector_deg`` (anticlockwise from the first to the second; (0, 360) is the full circle)
    and up to ``radius_m``. There ``capacity_t``, hook block and slinging included, is the most that is taken.
    """

    id: Ident
    who: _Words
    """Person and office at the manufacturer."""
    document: _Words
    date: Day
    machine: Ident
    counterweight: Ident
    boom_length_m: Annotated[float, Field(ge=LEAST, le=150)]
    leg_extension_m: LegSetting
    sector_deg: tuple[Angle, Angle]
    radius_m: Positive
    capacity_t: Capacity
    provenance: Provenance

    @field_validator("provenance")
    @classmethod
    def _from_the_manufacturer(cls, value: Provenance) -> Provenance:
        if value.kind not in ("maker's chart", "maker's data", "invented"):
            raise ValueError("the manufacturer's own word: kind \"maker's data\"")
        return value

    def concerns(self, lift: Lift | TandemMachine) -> bool:
        """Whether it may cover steps of the lift: machine, counterweight, boom and layout."""
        return (
            (self.machine, self.counterweight) == (lift.machine, lift.counterweight)
            and abs(self.boom_length_m - lift.boom_length_m) <= 1e-9
            and all(getattr(lift.legs, leg) >= stated - 1e-9 for leg, stated in self.leg_extension_m)
        )

    def contradicts(self, other: Confirmation) -> bool:
        """Whether both speak of one layout and sector, and nearer in allows less.

        A letter that another has superseded must not be kept with it.
        """
        same = ("machine", "counterweight", "leg_extension_m")
        if any(getattr(self, name) != getattr(other, name) for name in same):
            return False
        if abs(self.boom_length_m - other.boom_length_m) > 1e-9:
            return False
        return _overlap(self.sector_deg, other.sector_deg) and (
            (self.radius_m - other.radius_m) * (self.capacity_t - other.capacity_t) > 0
            or (self.radius_m == other.radius_m and self.capacity_t != other.capacity_t)
        )


def _overlap(one: tuple[float, float], two: tuple[float, float]) -> bool:
    """Whether two sectors share a slew; ends count."""

    def holds(sector: tuple[float, float], slew: float) -> bool:
        turn = sector[1] - sector[0]
        return abs(turn) >= 360.0 or (slew - sector[0]) % 360.0 <= turn % 360.0

    return any(holds(one, s) for s in two) or any(holds(two, s) for s in one)
