"""What was measured at the crane before the lift, to be held against the plan.

What is left out was not measured; the sheet then says so, and does not agree.
"""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from liftcalc.facts.base import Coordinate, Day, Fact, Ident, NonNegative, Positive, Told, Words
from liftcalc.facts.lift import LegSetting
from liftcalc.facts.limits import LEAST

Tilt = Annotated[float, Field(ge=-5, le=5)]


class Tape(Fact):
    """A level distance by tape to a point of the survey. [m]"""

    point: Told
    easting_m: Coordinate
    northing_m: Coordinate
    distance_m: Positive


class Fix(Fact):
    """A place by two tapes from surveyed points, and how well they were read, either way. [m]"""

    tapes: tuple[Tape, Tape]
    error_m: Annotated[float, Field(ge=0.001, le=0.5)] = 0.02


class LegValues(Fact):
    """One value at each outrigger: a height [m], or a force as gauge or jack shows it [kN]."""

    FL: NonNegative
    FR: NonNegative
    RR: NonNegative
    RL: NonNegative

    def as_tuple(self) -> tuple[float, float, float, float]:
        """In the order FL, FR, RR, RL."""
        return (self.FL, self.FR, self.RR, self.RL)


class TrialLift(Fact):
    """The load just off its support: where it hangs, what the indicator and the outriggers show.

    ``force_error_percent``: accuracy of each outrigger's force, of its reading, either way.
    ``unladen_kN``: the same forces before the load was taken up, boom and slew the same.
    """

    slew_deg: Annotated[float, Field(ge=-360, le=360)]
    radius_m: Positive
    indicator_t: Positive | None = None
    forces_kN: LegValues | None = None
    unladen_kN: LegValues | None = None
    force_error_percent: Annotated[float, Field(ge=LEAST, le=25)] | None = None

    @model_validator(mode="after")
    def _with_their_error(self) -> Self:
        if (self.forces_kN is None) != (self.force_error_percent is None):
            raise ValueError("forces_kN and force_error_percent together")
        if self.unladen_kN is not None and self.forces_kN is None:
            raise ValueError("unladen_kN only with forces_kN")
        return self


class AsSetUp(Fact):
    """The crane as it was set up for one lift."""

    lift: Ident
    date: Day
    measured_by: Told
    legs: LegSetting | None = None
    mat: Ident | None = None
    packing_m: LegValues | None = None
    tilt_x_percent: Tilt | None = None
    tilt_y_percent: Tilt | None = None
    centre: Fix | None = None
    """Centre of rotation."""
    mark: Fix | None = None
    """A mark on the machine's centreline, ``mark_x_m`` ahead of the centre of rotation."""
    mark_x_m: Annotated[float, Field(ge=-30, le=30)] | None = None
    gust_m_s: NonNegative | None = None
    gust_at: Literal["at boom head", "at 10 m mean"] = "at boom head"
    trial: TrialLift | None = None
    remarks: Words = ""

    @model_validator(mode="after")
    def _mark_placed(self) -> Self:
        if (self.mark is None) != (self.mark_x_m is None):
            raise ValueError("mark and mark_x_m together")
        if self.mark is not None and (self.centre is None or not abs(self.mark_x_m or 0.0) >= 0.5):
            raise ValueError("mark only with centre, and mark_x_m 0.5 m or more from it")
        return self
