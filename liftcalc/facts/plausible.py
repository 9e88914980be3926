"""What is doubtful about a survey: one report, which a site must pass or answer.

A drawing of another unit than it states, degrees, easting and northing exchanged and levels of
another datum all parse, and leave a trace: a site of 6 cm or 50 km, things far outside their own
boundary, ground far from the bases of what stands on it, a conductor on the ground. Such a trace
stops the site, unless its ``stated`` member answers it with a reason, printed on every sheet.

The limits are this project's own, on the side of asking; no published source.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon

from liftcalc.facts.surveyed import SurveyedSite

LEAST_EXTENT_M, GREATEST_EXTENT_M = 5.0, 5000.0
"""Longer side of the boundary, else the unit is in doubt. [m]"""
OUTSIDE_M = 100.0
"""Things lie within this of the boundary, or within the site's own length if that is more. [m]"""
BASE_M, BASE_SLOPE = 3.0, 0.1
"""An obstacle's base lies this near the nearest spot level, and 0.1 m more for each metre to it."""
LINE_LOW_M, LINE_HIGH_M = 2.0, 150.0
"""Lowest conductor, sag taken off, above the nearest spot level. [m]"""
LEVEL_RANGE_M = 50.0
"""Between the highest and the lowest spot level. [m]"""
ONE_PLACE_M, TWICE_M = 0.01, 0.1
"""Two levels at one place differ by no more than the second. [m]"""
_ONE_BY_ONE = 5


@dataclass(frozen=True)
class Doubt:
    """One thing that is hardly so: the id to answer it by, and what was found."""

    id: str
    what: str


def site_doubts(site: SurveyedSite) -> tuple[Doubt, ...]:
    """Everything doubtful about a site, whether or not it is answered in ``site.stated``."""
    looks = (_extent, _outside, _levels, _bases, _lines, _boreholes)
    return tuple(doubt for look in looks for doubt in look(site))


def site_faults(site: SurveyedSite) -> tuple[str, ...]:
    """Doubts that the site does not answer, and answers to no doubt; each a sentence."""
    doubts = site_doubts(site)
    known = {d.id for d in doubts}
    allowed = ", ".join(sorted(known)) or "none"
    return (
        *(
            f"doubtful: {d.what}. Correct the survey; where it is so, answer it among the site's "
            f"own fields with stated: {{{d.id}: the reason}}"
            for d in doubts
            if d.id not in site.stated
        ),
        *(f"stated.{id} answers no doubt; allowed: {allowed}" for id in site.stated if id not in known),
    )


def _extent(site: SurveyedSite) -> Iterator[Doubt]:
    west, south, east, north = Polygon(site.boundary).bounds
    wide, high = east - west, north - south
    if not LEAST_EXTENT_M <= max(wide, high) <= GREATEST_EXTENT_M:
        size = " m by ".join(f"{m:.0f}" if m >= 10 else f"{m:.2g}" for m in (wide, high))
        yield Doubt(
            "extent", f"the boundary is {size} m, which another unit or degrees would give; "
            "coordinates are metres on the site's grid",
        )  # fmt: skip


def _things(site: SurveyedSite) -> list[tuple[str, shapely.Geometry]]:
    areas: tuple[Any, ...] = (*site.zones, *site.obstacles, *site.excavations, *site.areas)
    lines = [(line.id, [p[:2] for p in line.points]) for line in site.overhead_lines]
    walls: tuple[Any, ...] = (*site.services, *site.retaining_walls)
    lines += [(wall.id, list(wall.line)) for wall in walls]
    lines += [(slope.id, list(slope.crest)) for slope in site.slopes]
    out: list[tuple[str, shapely.Geometry]] = [(a.id, Polygon(a.polygon)) for a in areas]
    return out + [(id, LineString(points)) for id, points in lines]


def _points(site: SurveyedSite) -> NDArray[np.object_]:
    return np.asarray(shapely.points([(s.easting_m, s.northing_m) for s in site.levels]))


def _outside(site: SurveyedSite) -> Iterator[Doubt]:
    boundary = Polygon(site.boundary)
    west, south, east, north = boundary.bounds
    reach = max(OUTSIDE_M, east - west, north - south)
    things, points = _things(site), _points(site)
    shapes = np.concatenate([np.array([shape for _, shape in things], dtype=object), points])
    gap = shapely.distance(boundary, shapes)
    far = np.flatnonzero(~(gap <= reach))
    if far.size:
        k = int(far[0])
        first = things[k][0] if k < len(things) else f"the spot level at {shapes[k].coords[0]}"
        exchanged = boundary.distance(_exchanged(shapes[k])) <= reach
        yield Doubt(
            "outside",
            f"{far.size} of {len(shapes)} things lie more than {reach:.0f} m outside the boundary, "
            f"{first} first" + (", as with easting and northing exchanged" if exchanged else ""),
        )
        if exchanged:
            return
    buildings = np.array([Polygon(o.polygon) for o in site.obstacles], dtype=object)
    for name, group in (("spot levels", points), ("obstacles", buildings)):
        outside = int(np.sum(shapely.distance(boundary, group) > 5.0))
        if outside >= 2 and not np.any(shapely.distance(boundary, _exchanged(group)) > 5.0):
            yield Doubt(
                "exchanged",
                f"{outside} of {len(group)} {name} lie outside the boundary, and none with easting "
                "and northing exchanged",
            )
            return


def _exchanged(shapes: Any) -> Any:
    """Shapes with easting and northing exchanged."""
    return shapely.transform(shapes, lambda xy: xy[:, ::-1])


def _levels(site: SurveyedSite) -> Iterator[Doubt]:
    level = np.array([s.level_m for s in site.levels])
    middle = float(np.median(level))
    if abs(middle) > 3.0 and np.any(level == 0.0):
        yield Doubt(
            "levels-zero",
            f"{int(np.sum(level == 0.0))} spot levels are 0 among levels about {middle:.2f} m, as "
            "points without a level are",
        )
    elif np.ptp(level) > LEVEL_RANGE_M:
        yield Doubt("levels-range", f"spot levels reach from {level.min():.2f} to {level.max():.2f} m")
    seen: dict[tuple[int, int], float] = {}
    for s in site.levels:
        place = (round(s.easting_m / ONE_PLACE_M), round(s.northing_m / ONE_PLACE_M))
        before = seen.setdefault(place, s.level_m)
        if abs(before - s.level_m) > TWICE_M:
            yield Doubt(
                "levels-twice",
                f"two levels, {before:g} and {s.level_m:g} m, at ({s.easting_m:.2f}, {s.northing_m:.2f})",
            )
            return


def _bases(site: SurveyedSite) -> Iterator[Doubt]:
    if not site.obstacles:
        return
    shapes = np.array([Polygon(o.polygon) for o in site.obstacles], dtype=object)
    points = _points(site)
    near = shapely.STRtree(points).nearest(shapes)
    gaps = shapely.distance(shapes, points[near])
    odd = []
    for o, n, gap in zip(site.obstacles, near, gaps, strict=True):
        ground = site.levels[int(n)].level_m
        if not abs(o.base_level_m - ground) <= BASE_M + BASE_SLOPE * float(gap):
            words = f"{o.id} stands at {o.base_level_m:g} m, where the nearest spot level, "
            odd.append(Doubt(f"base-{o.id}", f"{words}{gap:.1f} m away, is {ground:.2f} m"))
    if len(odd) > _ONE_BY_ONE:
        first = "; ".join(d.what for d in odd[:3])
        odd = [Doubt("bases", f"{len(odd)} of {len(shapes)} obstacles: {first}; ...")]
    yield from odd


def _lines(site: SurveyedSite) -> Iterator[Doubt]:
    points, boundary = _points(site), Polygon(site.boundary)
    tree = shapely.STRtree(points)
    for line in site.overhead_lines:
        near = tree.nearest(shapely.points([p[:2] for p in line.points]))
        above = np.array([p[2] - site.levels[int(n)].level_m for p, n in zip(line.points, near, strict=True)])
        if not (above.min() - line.sag_m >= LINE_LOW_M and above.max() <= LINE_HIGH_M):
            yield Doubt(
                f"line-{line.id}",
                f"the conductors of {line.id} lie {above.min():.1f} to {above.max():.1f} m above "
                f"the ground, less {line.sag_m:g} m of sag",
            )
        for e, n, _ in (line.points[0], line.points[-1]):
            if boundary.contains(Point(e, n)):
                yield Doubt(
                    f"end-{line.id}",
                    f"{line.id} ends inside the boundary, at ({e:.1f}, {n:.1f}), where conductors "
                    "go on unless they are led down or into a building",
                )
                break


def _boreholes(site: SurveyedSite) -> Iterator[Doubt]:
    zones = [(z, Polygon(z.polygon)) for z in site.zones]
    for hole in site.boreholes:
        at = Point(hole.easting_m, hole.northing_m)
        around = [z for z, shape in zones if shape.covers(at)]
        if around and all(z.profile != hole.profile for z in around):
            yield Doubt(
                f"borehole-{hole.id}",
                f"borehole {hole.id} found profile {hole.profile}, and lies in zone "
                f"{around[0].id}, whose profile is {around[0].profile}",
            )
