"""The site that lifts are planned on: a survey whose parts fit together and can be so."""

from collections import Counter
from collections.abc import Sequence
from typing import Any, Self

from pydantic import model_validator
from shapely.geometry import MultiPoint, Point, Polygon

from liftcalc.facts.base import Faults
from liftcalc.facts.ground import SurveyedProfile
from liftcalc.facts.plausible import site_faults
from liftcalc.facts.surveyed import Borehole, GroundZone, SurveyedSite


class Site(SurveyedSite):
    """Everything surveyed.

    ``stated`` answers what is doubtful about it (:mod:`liftcalc.facts.plausible`): the doubt's id
    and the reason why it is so, printed as an assumption.
    """

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        profiles = {p.id for p in self.ground}
        users: tuple[GroundZone | Borehole, ...] = (*self.zones, *self.boreholes)
        for item in users:
            if item.profile not in profiles:
                raise ValueError(f"profile {item.profile!r} of {item.id} is not among {sorted(profiles)}")
        named: tuple[Sequence[Any], ...] = (
            self.ground, self.zones, self.obstacles, self.overhead_lines, self.services,
            self.excavations, self.retaining_walls, self.slopes, self.areas,
        )  # fmt: skip
        ids = Counter(item.id for group in named for item in group)
        twice = sorted(i for i, count in ids.items() if count > 1)
        if twice:
            raise ValueError(f"ids used once each; used twice: {', '.join(twice[:20])}")
        boundary = Polygon(self.boundary)
        for hole in self.boreholes:
            if not boundary.buffer(50.0).covers(Point(hole.easting_m, hole.northing_m)):
                raise ValueError(f"borehole {hole.id} lies more than 50 m outside the boundary")
        return self

    @model_validator(mode="after")
    def _plausible(self) -> Self:
        faults = site_faults(self)
        spread = MultiPoint([(s.easting_m, s.northing_m) for s in self.levels]).convex_hull
        if not spread.area > 1e-6:
            faults += ("spot levels that span an area; these lie in one line",)
        if faults:
            raise Faults(faults)
        return self

    def profile(self, id: str) -> SurveyedProfile:
        """The ground profile with this id; KeyError where there is none."""
        return {p.id: p for p in self.ground}[id]
