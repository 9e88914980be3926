"""The surveyed site: ground zones, obstacles, lines, services, edges, zones, levels.

Coordinates are easting and northing in metres on a local grid (or a projected one, named in
``grid``); levels in metres above the site datum. The GeoJSON dialect is in
:mod:`liftcalc.facts.site_geojson`.
"""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator
from shapely.geometry import MultiPoint, Point, Polygon

from liftcalc.facts.base import (
    Coordinate,
    Fact,
    Faults,
    Ident,
    Line2D,
    Line3D,
    NonNegative,
    Positive,
    Provenance,
    Ring,
)
from liftcalc.facts.ground import GroundProfile
from liftcalc.facts.plausible import site_faults

__all__ = [
    "Area",
    "Borehole",
    "BuriedService",
    "Excavation",
    "GroundZone",
    "Obstacle",
    "OverheadLine",
    "RetainingWall",
    "Site",
    "Slope",
    "SpotLevel",
]

Level = Annotated[float, Field(ge=-500, le=9000)]
Reason = Annotated[str, Field(min_length=10, max_length=400)]


class GroundZone(Fact):
    """Part of the site with one ground profile."""

    id: Ident
    polygon: Ring
    profile: Ident


class Obstacle(Fact):
    """Something that stands on the site, as an extruded polygon."""

    id: Ident
    kind: Literal["building", "wall", "tree", "tank", "plant", "other"]
    polygon: Ring
    base_level_m: Level
    top_level_m: Level

    @model_validator(mode="after")
    def _height(self) -> Self:
        if not self.top_level_m > self.base_level_m:
            raise ValueError(f"top_level_m above base_level_m ({self.base_level_m})")
        return self


class OverheadLine(Fact):
    """Overhead power line; points are the attachment points of the lowest conductor.

    ``sag_m`` is the greatest mid-span sag. A voltage that is not known is given as null: the
    check then reads "no data" and never passes.
    """

    id: Ident
    points: Line3D
    sag_m: NonNegative
    voltage_kV: Positive | None
    owner: str
    provenance: Provenance


class BuriedService(Fact):
    """Culvert, pipe, duct or slab below ground along a line.

    One whose crown lies at the surface is surveyed as an obstacle or an excavation: no stress
    at depth can be worked out for it.
    """

    id: Ident
    kind: Literal["culvert", "pipe", "duct", "slab"]
    line: Line2D
    crown_depth_m: Annotated[float, Field(gt=0, le=50)]
    width_m: Annotated[float, Field(gt=0, le=20)]
    allowable_stress_kPa: Annotated[float, Field(gt=0, le=5000)] | None
    stand_off_m: NonNegative
    provenance: Provenance


class Excavation(Fact):
    """Open excavation or basin: nothing stands inside, legs keep a set-back.

    ``supported_mats_from_m`` is how near the edge the designer of the support lets a loaded mat
    stand; where it is left out, a mat nearer than the unsupported set-back has no data.
    """

    id: Ident
    polygon: Ring
    depth_m: Annotated[float, Field(gt=0, le=50)]
    supported: bool = False
    supported_mats_from_m: NonNegative | None = None

    @model_validator(mode="after")
    def _support_stated(self) -> Self:
        if self.supported_mats_from_m is not None and not self.supported:
            raise ValueError("supported_mats_from_m only where supported is true")
        return self


class RetainingWall(Fact):
    """Retaining or flood wall along its retained (ground) face."""

    id: Ident
    line: Line2D
    retained_height_m: Annotated[float, Field(gt=0, le=30)]
    allowable_surcharge_kPa: Annotated[float, Field(gt=0, le=5000)] | None
    yielding: bool = False
    provenance: Provenance


class Slope(Fact):
    """Falling ground beyond a crest line."""

    id: Ident
    crest: Line2D
    height_m: Annotated[float, Field(gt=0, le=50)]
    angle_deg: Annotated[float, Field(gt=0, le=89)]


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


class Site(Fact):
    """Everything surveyed.

    ``stated`` answers what is doubtful about it (:mod:`liftcalc.facts.plausible`): the doubt's id
    and the reason why it is so, printed as an assumption.
    """

    id: Ident
    name: str
    grid: str
    datum: str
    boundary: Ring
    ground: Annotated[tuple[GroundProfile, ...], Field(min_length=1)]
    zones: Annotated[tuple[GroundZone, ...], Field(min_length=1)]
    obstacles: tuple[Obstacle, ...] = ()
    overhead_lines: tuple[OverheadLine, ...] = ()
    services: tuple[BuriedService, ...] = ()
    excavations: tuple[Excavation, ...] = ()
    retaining_walls: tuple[RetainingWall, ...] = ()
    slopes: tuple[Slope, ...] = ()
    areas: tuple[Area, ...] = ()
    levels: Annotated[tuple[SpotLevel, ...], Field(min_length=3)]
    boreholes: tuple[Borehole, ...] = ()
    provenance: Provenance
    stated: dict[str, Reason] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        profiles = {p.id for p in self.ground}
        users: tuple[GroundZone | Borehole, ...] = (*self.zones, *self.boreholes)
        for item in users:
            if item.profile not in profiles:
                raise ValueError(
                    f"profile {item.profile!r} of {item.id} is not among {sorted(profiles)}"
                )
        ids: list[str] = []
        ids += [n.id for n in self.ground] + [n.id for n in self.zones]
        ids += [n.id for n in self.obstacles] + [n.id for n in self.overhead_lines]
        ids += [n.id for n in self.services] + [n.id for n in self.excavations]
        ids += [n.id for n in self.retaining_walls] + [n.id for n in self.slopes]
        ids += [n.id for n in self.areas]
        twice = sorted({i for i in ids if ids.count(i) > 1})
        if twice:
            raise ValueError(f"ids used once each; used twice: {', '.join(twice)}")
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

    def profile(self, id: str) -> GroundProfile:
        """The ground profile with this id; KeyError where there is none."""
        return {p.id: p for p in self.ground}[id]
