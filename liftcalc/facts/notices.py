"""Who must have notice of a crane: aerodromes, railway tracks and roads near the site."""

from typing import Annotated, Literal

from pydantic import Field

from liftcalc.facts.base import Coordinate, Fact, Ident, Line2D, NonNegative, Text
from liftcalc.facts.surveyed import Level

NoticeRule = Literal["US 14 CFR 77.9", "UK CAA"]


class Aerodrome(Fact):
    """An aerodrome by its reference point, on the site's grid.

    ``runway_m``: its longest runway, 0 for a heliport; ``level_m``: of the runway's lowest end,
    above the site's datum. ``notice``: the document by which it was given notice.
    """

    id: Ident
    easting_m: Coordinate
    northing_m: Coordinate
    level_m: Level
    runway_m: NonNegative
    notice: Text | None = None


class Neighbour(Fact):
    """A railway track or a road, by its nearer edge; ``agreed``: document of its owner."""

    id: Ident
    kind: Literal["railway track", "road"]
    line: Line2D
    owner: Text
    agreed: Text | None = None


class Notices(Fact):
    """What is near, and the rules of notice that the job is under.

    ``nothing_nearer``: the survey or map by which nothing else lies near enough to count.
    ``height_notice``: document by which notice was given of a height that counts anywhere.
    """

    rules: Annotated[tuple[NoticeRule, ...], Field(min_length=1)]
    aerodromes: tuple[Aerodrome, ...] = ()
    neighbours: tuple[Neighbour, ...] = ()
    nothing_nearer: Text | None = None
    height_notice: Text | None = None
