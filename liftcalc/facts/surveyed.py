"""What a survey of a site may hold: ground zones, obstacles, lines, services, edges, levels.

Coordinates are easting and northing in metres on a local grid (or a projected one, named in ``grid``); levels in metres
above the site datum. The GeoJSON dialect is in :mod:`liftcalc.facts.site_geojson`.
"""

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from liftcalc.facts.base import (
    Coordinate,
    Day,
    Fact,
    Ident,
    Line2D,
    Line3D,
    NonNegative,
    Positive,
    Provenance,
    Ring,
    Text,
    Told,
    Words,
)
from liftcalc.facts.ground import SurveyedProfile
from liftcalc.facts.limits import LEAST

Level = Annotated[float, Field(ge=-500, le=9000)]
Reason = Annotated[Words, Field(min_length=10, max_length=400)]


class GroundZone(Fact):
    """Part of the site with one ground profile."""

    id: Ident
    polygon: Ring
    profile: Ident


class SiteObstacle(Fact):
    """Something that stands on the site, as an extruded polygon."""

    id: Ident
    kind: Literal["building", "wall", "tree", "tank", "plant", "other"]
    polygon: Ring
    base_level_m: Level
    top_level_m: Level

    def faults(self) -> Iterator[str]:
        if not self.top_level_m > self.base_level_m:
            yield f"top_level_m above base_level_m ({self.base_level_m}), not {self.top_level_m}"


class LineDead(Fact):
    """By whose document an overhead line is dead and earthed while the lift is made."""

    document: Told
    who: Told
    date: Day


class Conductor(Fact):
    """What the wind takes hold of, and the gust up to which its swing is worked."""

    diameter_mm: Annotated[float, Field(ge=LEAST, le=200)]
    mass_kg_m: Annotated[float, Field(ge=0.01, le=50)]
    wind_m_s: Annotated[float, Field(ge=LEAST, le=60)]


class OverheadLine(Fact):
    """Overhead power line; points are the attachment points of the lowest conductor.

    ``sag_m`` is the greatest mid-span sag. A voltage that is not known is given as null: the check then reads "no data"
    and never passes, unless the table in use sets a distance for it. ``conductor``: its swing in the wind is added to
    the distance; where the table in use asks for it and no data are given, the conductor counts as blown level.
    ``dead``: a smaller distance than the table's then holds on that condition alone.
    """

    id: Ident
    points: Line3D
    sag_m: NonNegative
    voltage_kV: Positive | None
    owner: Text
    provenance: Provenance
    conductor: Conductor | None = None
    dead: LineDead | None = None


class BuriedService(Fact):
    """Culvert, pipe, duct or slab below ground; with its crown at the surface it is an obstacle."""

    id: Ident
    kind: Literal["culvert", "pipe", "duct", "slab"]
    line: Line2D
    crown_depth_m: Annotated[float, Field(ge=LEAST, le=50)]
    width_m: Annotated[float, Field(ge=LEAST, le=20)]
    allowable_stress_kPa: Annotated[float, Field(ge=LEAST, le=5000)] | None
    stand_off_m: NonNegative
    provenance: Provenance


class Excavation(Fact):
    """Open excavation or basin: nothing stands inside, legs keep a set-back.

    ``supported_mats_from_m`` is how near the edge the designer of the support lets a loaded mat
    stand; where it is left out, a mat nearer than the unsupported set-back has no data.
    """

    id: Ident
    polygon: Ring
    depth_m: Annotated[float, Field(ge=LEAST, le=50)]
    supported: bool = False
    supported_mats_from_m: NonNegative | None = None

    def faults(self) -> Iterator[str]:
        if self.supported_mats_from_m is not None and not self.supported:
            yield "supported_mats_from_m only where supported is true"


class RetainingWall(Fact):
    """Retaining or flood wall along its retained (ground) face."""

    id: Ident
    line: Line2D
    retained_height_m: Annotated[float, Field(ge=LEAST, le=30)]
    allowable_surcharge_kPa: Annotated[float, Field(ge=LEAST, le=5000)] | None
    yielding: bool = False
    provenance: Provenance


class Slope(Fact):
    """Falling ground beyond a crest line."""

    id: Ident
    crest: Line2D
    height_m: Annotated[float, Field(ge=LEAST, le=50)]
    angle_deg: Annotated[float, Field(ge=LEAST, le=89)]


class Area(Fact):
    """A named area: where legs may stand, or what no load or person may enter."""

    id: Ident
    kind: Literal["stand area", "no-overfly", "people exclusion"]
    polygon: Ring


class SpotLevel(Fact):
    """Surveyed ground level."""

    easting_m: Coordinate
    northing_m: Coordinate
    level_m: Level


class Borehole(Fact):
    """Where a ground profile was found."""

    id: Ident
    easting_m: Coordinate
    northing_m: Coordinate
    profile: Ident


class SurveyedSite(Fact):
    """Everything surveyed, each part valid by itself."""

    id: Ident
    name: Text
    grid: Text
    datum: Text
    boundary: Ring
    ground: Annotated[tuple[SurveyedProfile, ...], Field(min_length=1)]
    zones: Annotated[tuple[GroundZone, ...], Field(min_length=1)]
    obstacles: tuple[SiteObstacle, ...] = ()
    overhead_lines: tuple[OverheadLine, ...] = ()
    services: tuple[BuriedService, ...] = ()
    excavations: tuple[Excavation, ...] = ()
    retaining_walls: tuple[RetainingWall, ...] = ()
    slopes: tuple[Slope, ...] = ()
    areas: tuple[Area, ...] = ()
    levels: Annotated[tuple[SpotLevel, ...], Field(min_length=3)]
    boreholes: tuple[Borehole, ...] = ()
    provenance: Provenance
    stated: dict[Text, Reason] = Field(default_factory=dict)
