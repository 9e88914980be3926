"""Lifting accessories on the shelf: slings, shackles, spreader and lifting beams."""

from datetime import date
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from liftcalc.facts.base import Day, Fact, Ident, NonNegative, Provenance, Text, Told
from liftcalc.facts.limits import LEAST

Wll = Annotated[float, Field(ge=LEAST, le=1000)]
Millimetres = Annotated[float, Field(ge=LEAST, le=1000)]


class Sling(Fact):
    """One sling leg: working load limit in a straight vertical pull.

    ``eye`` matters for wire rope only: a thimble keeps its own bend, a soft eye bends round the
    pin or hook. Where it is not stated, the eye counts as soft.
    """

    id: Ident
    kind: Literal["wire rope", "chain", "web", "roundsling"]
    wll_t: Wll
    length_m: Annotated[float, Field(ge=LEAST, le=60)]
    diameter_mm: Millimetres
    mass_t: NonNegative
    standard: Text
    eye: Literal["thimble", "soft eye"] | None = None
    provenance: Provenance


class Shackle(Fact):
    """Shackle with its working load limit in line; a sling's eye bears on its pin."""

    id: Ident
    wll_t: Wll
    pin_diameter_mm: Millimetres
    pin: Literal["screw pin", "bolt", "round pin"] = "screw pin"
    mass_t: NonNegative
    standard: Text
    provenance: Provenance


class LiftingBeam(Fact):
    """Spreader (two top slings, compression) or lifting beam (hook in its middle, bending).

    ``span_m`` lies between the slings' places at its ends; ``length_m`` is the beam from end to
    end: where it is left out, a tenth more than the span is assumed and printed.
    """

    id: Ident
    kind: Literal["spreader", "lifting beam"]
    wll_t: Wll
    span_m: Annotated[float, Field(ge=LEAST, le=40)]
    length_m: Annotated[float, Field(ge=LEAST, le=45)] | None = None
    mass_t: NonNegative
    min_top_angle_deg: Annotated[float, Field(ge=30, le=90)] = 45.0
    provenance: Provenance

    @property
    def overall_m(self) -> float:
        """From end to end; our own allowance where it is not stated. [m]"""
        return 1.1 * self.span_m if self.length_m is None else self.length_m

    @model_validator(mode="after")
    def _as_long_as_its_span(self) -> Self:
        if not self.overall_m >= self.span_m:
            raise ValueError(f"length_m at least span_m ({self.span_m:g}), not {self.length_m:g}")
        return self


MOST_DAYS = 366
"""Longest time between two examinations of an accessory: LOLER 6 months, ASME B30.9 a year (both
from memory). [days]"""


class RegisterItem(Fact):
    """One accessory with its own tag: of which kind on the shelf it is, and when it was examined.

    ``legs``: sling legs that it makes up, where it is a set of several.
    """

    tag: Ident
    kind: Ident
    legs: Annotated[int, Field(ge=1, le=4)] = 1
    last: Day
    next: Day
    document: Told

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if not self.next > self.last:
            raise ValueError(f"next after last ({self.last}), not {self.next}")
        if (date.fromisoformat(self.next) - date.fromisoformat(self.last)).days > MOST_DAYS:
            raise ValueError(f"next within {MOST_DAYS} days of last ({self.last}), not {self.next}")
        return self


class Accessories(Fact):
    """The shelf, and the register of the single items that are on it."""

    slings: tuple[Sling, ...] = ()
    shackles: tuple[Shackle, ...] = ()
    beams: tuple[LiftingBeam, ...] = ()
    tagged: tuple[RegisterItem, ...] = ()

    @model_validator(mode="after")
    def _each_tag_once(self) -> Self:
        kinds = {x.id for group in (self.slings, self.shackles, self.beams) for x in group}
        tags = [item.tag for item in self.tagged]
        for item in self.tagged:
            if item.kind not in kinds or tags.count(item.tag) > 1:
                raise ValueError(f"tagged: tags used once each, of a kind on the shelf, not {item.tag} of {item.kind}")
        return self
