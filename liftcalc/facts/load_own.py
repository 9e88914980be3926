"""The load's own part in a lift: its lifting points, its strength between them, its tag lines."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from liftcalc.facts.base import Fact, Positive, Text
from liftcalc.facts.limits import LEAST
from liftcalc.facts.rigging import Wll


class LiftingPoints(Fact):
    """Rating of each lifting point, and up to which directions of pull it holds.

    ``angle_limit_deg``: from the load's upright; ``side_limit_deg``: out of the plane of its plate
    (90 for a point that turns or is rated any way).
    """

    wll_t: Wll
    angle_limit_deg: Annotated[float, Field(ge=0, le=90)]
    side_limit_deg: Annotated[float, Field(ge=0, le=90)]
    document: Text


class LoadSection(Fact):
    """The load as a beam: its weakest section, for bending in any upright plane.

    ``mass_along``: "uniform", spread evenly but for the stated centre of gravity; "anywhere", the
    worst of all spreads that have it.
    """

    modulus_cm3: Annotated[float, Field(ge=LEAST, le=1e6)]
    area_cm2: Annotated[float, Field(ge=LEAST, le=1e5)]
    permissible_MPa: Annotated[float, Field(ge=LEAST, le=1000)]
    mass_along: Literal["uniform", "anywhere"] = "anywhere"
    document: Text


PERSON_KN = 0.5
"""Most that an owner's rule may count a person on a tag line for: our own, no published source."""


class HeldLines(Fact):
    """Lines that keep the load from turning, and the owner's rule for what holds them.

    ``arm_m``: hook line to where a line is tied, in plan; ``down_deg``: slope of a line below the
    horizontal; ``each`` persons or anchors a line, each good for ``each_kN``.
    """

    lines: Annotated[int, Field(ge=1, le=8)]
    held_by: Literal["persons", "anchors"]
    each: Annotated[int, Field(ge=1, le=10)]
    each_kN: Positive
    arm_m: Annotated[float, Field(ge=0.1, le=50)]
    down_deg: Annotated[float, Field(ge=0, le=75)]
    reference: Text

    @model_validator(mode="after")
    def _pulled_by_hand(self) -> Self:
        if self.held_by == "persons" and not self.each_kN <= PERSON_KN:
            raise ValueError(f"each_kN at most {PERSON_KN:g} for a person, not {self.each_kN:g}")
        return self


class LoadOwn(Fact):
    """What is stated of the load itself; ``rigid_by``: document by which it may be lifted so."""

    points: LiftingPoints | None = None
    section: LoadSection | None = None
    rigid_by: Text | None = None
    tag_lines: HeldLines | None = None

    @model_validator(mode="after")
    def _one_proof(self) -> Self:
        if self.section is not None and self.rigid_by is not None:
            raise ValueError("section or rigid_by, not both: one of them is what is relied on")
        return self
