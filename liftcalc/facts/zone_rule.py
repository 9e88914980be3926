"""The owner's rule for exclusion zones: what is kept clear of people, and what the job closes."""

from typing import Annotated

from pydantic import Field

from liftcalc.facts.base import Fact, Ident, Told
from liftcalc.facts.limits import LEAST
from liftcalc.facts.surveyed import SurveyedSite

OUTSIDE = "outside-boundary"
"""Id of everything beyond the site's boundary: neighbours, roads, water."""
_Margin = Annotated[float, Field(ge=0, le=50)]


class TagLines(Fact):
    """Tag lines that hold one lift's load: how far its length turns from an angle, either way.

    ``angle_deg`` is anticlockwise from east; ``held_by``: who holds it, with how many lines.
    """

    lift: Ident
    angle_deg: Annotated[float, Field(ge=-360, le=360)]
    within_deg: Annotated[float, Field(ge=1, le=90)]
    held_by: Told


class ClosedPlace(Fact):
    """Who keeps people out of a surveyed area or building during the lifts, by which document.

    ``id`` is that of the survey, or ``outside-boundary``.
    """

    id: Ident
    closed_by: Told
    reference: Told

    @property
    def words(self) -> str:
        """Who, and by which document."""
        return f"{self.closed_by}: {self.reference}"


class ZoneRule(Fact):
    """How far people stay away: no published universal formula, so the owner's rule.

    A dropped load spreads, on every side of what it may hang over, by ``fall_ratio`` times its
    height above the ground below, and ``fall_margin_m`` more. A falling boom reaches as far as it
    is long, and ``boom_margin_m`` more. Without ``tag_lines`` a load turns freely.
    """

    fall_ratio: Annotated[float, Field(ge=LEAST, le=5)]
    fall_margin_m: _Margin
    boom_margin_m: _Margin
    tag_lines: tuple[TagLines, ...] = ()
    closed: tuple[ClosedPlace, ...] = ()
    owner: Told
    reference: Told

    @property
    def source(self) -> str:
        """Owner and document, printed beside each zone."""
        return f"{self.owner}: {self.reference}"

    def faults_on(self, site: SurveyedSite) -> list[str]:
        """Closed places that the survey does not know, and what is named twice, a sentence each."""
        known = {a.id for a in site.areas if a.kind != "stand area"}
        known |= {o.id for o in site.obstacles if o.kind == "building"} | {OUTSIDE}
        closed, field = [c.id for c in self.closed], "rules.zones.closed"
        allowed = f"is not among {', '.join(sorted(known))}"
        found = [f"{field}: {id} {allowed}" for id in closed if id not in known]
        for name, ids in (("closed", closed), ("tag_lines", [t.lift for t in self.tag_lines])):
            if len(set(ids)) < len(ids):
                found.append(f"rules.zones.{name}: each named once, not {', '.join(ids)}")
        return found
