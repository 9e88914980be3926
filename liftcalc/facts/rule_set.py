"""Rule sets: when a lift is critical, which shares are allowed, what a plan must state, by owner.

Each text has its owner, edition and clause, and says whether it was seen or is from memory. A job
may choose several; each is answered by itself.
"""

from collections.abc import Iterator
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from liftcalc.facts.base import Fact, Ident, Text, Told
from liftcalc.facts.limits import LEAST

Read = Literal["seen", "memory", "project"]
Percent = Annotated[float, Field(ge=LEAST, le=100)]
Stated = Literal[
    "operator's belief", "centre of gravity may change", "sling length changes", "submerged",
    "hazardous contents", "unknown weight", "pick and carry", "beside a railway",
]  # fmt: skip
"""Questions that only the plan can answer, yes or no."""
Asked = Literal[
    "share of rated capacity", "share beyond a radius", "share of rigging", "persons", "out of view", "unusual rigging",
    "over or between lines", "unequal outriggers", "not rated all round", "other reason", "more than one crane",
]  # fmt: skip
"""Questions that the calculation or the lift list answers."""


class Trigger(Fact):
    """One question that makes a lift critical, and what a yes then demands.

    ``share_percent`` belongs to the shares; ``radius_percent``: of the greatest permitted radius
    of the configuration, beyond which the share counts.
    """

    asks: Asked | Stated
    share_percent: Percent | None = None
    radius_percent: Percent | None = None
    clause: Told
    read: Read
    demands: tuple[Text, ...] = ()

    @model_validator(mode="after")
    def _with_its_share(self) -> Self:
        for name, wanted in (("share_percent", self.asks.startswith("share")),
                             ("radius_percent", self.asks == "share beyond a radius")):  # fmt: skip
            if (getattr(self, name) is not None) != wanted:
                raise ValueError(f"{name} {'with' if wanted else 'not with'} asks {self.asks!r}")
        return self


class ShareLimit(Fact):
    """A utilisation that must not be passed, always or where a question is answered with yes."""

    of: Literal["rated capacity", "rigging"]
    most_percent: Percent
    where: Stated | Literal["always"] = "always"
    clause: Told
    read: Read


class Required(Fact):
    """A text of the lift plan that the rule set asks for; ``when`` it does."""

    text: Ident
    when: Literal["always", "critical", "persons"] = "always"
    clause: Told
    read: Read


class RuleSet(Fact):
    """What one owner asks of a lift and of its plan."""

    id: Ident
    owner: Told
    edition: Told
    triggers: tuple[Trigger, ...] = ()
    shares: tuple[ShareLimit, ...] = ()
    requires: tuple[Required, ...] = ()

    def faults(self) -> Iterator[str]:
        """A rule set by which any plan would be complete."""
        if not (self.triggers or self.shares or self.requires):
            yield "triggers, shares or requires: one that asks for nothing completes any plan"
