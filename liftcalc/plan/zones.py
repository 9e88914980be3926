"""Exclusion zones of one lift: which ground is kept clear of people, and whom that concerns.

Tail swing, the load's swept footprint, the fall zone, the boom's fall sector and the crane's base, each over the load
path in the steps and with the spread (pendulum, bent boom, lean) by which clearances are checked; their union, a
barrier of few corners round it, and every surveyed area, building and buried service that they meet. How far a load and
a boom fall is the owner's rule (``rules.zones``): no published universal formula was found.

Sources: 29 CFR 1926.1424(a)(2)(ii), barriers round the swing radius, and 1926.1425, keeping clear
of the load and its fall zone (both seen in an excerpt); geometry :mod:`liftcalc.plan.swept`. Words
of each zone: ``zones.csv`` beside this module.
"""

import dataclasses
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely

from liftcalc.base.arrays import FloatArray
from liftcalc.base.files import rows_beside
from liftcalc.base.text import amount
from liftcalc.clearance.bodies import MovingMember, MovingPrism
from liftcalc.facts.site import Site
from liftcalc.facts.zone_rule import OUTSIDE, ClosedPlace, TagLines, ZoneRule
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.placing import ground_below_m
from liftcalc.lift.setup import Setup
from liftcalc.plan.swept import disc_points_m, grown, outward_polygon, sector_area, swept_area

_WORDS = {row.pop("id"): row for row in rows_beside(__file__)}
_BUILT = {"building": "building", "plant": "plant", "tank": "tank", "other": "structure"}
_AREAS = {"no-overfly": "no-lift-over zone", "people exclusion": "surveyed exclusion zone"}


@dataclass(frozen=True, eq=False)
class ExclusionZone:
    """One zone: its name, its ground, what it covers, and by whose rule."""

    id: str
    title: str
    area: shapely.Geometry
    rule: str
    source: str


@dataclass(frozen=True, eq=False)
class Meeting:
    """A surveyed place that zones reach, and who keeps people out of it."""

    id: str
    kind: str
    area_m2: dict[str, float]
    """Area of it within each zone, and within all ("all"), by zone id."""
    peopled: bool
    """Whether people may be there unless somebody keeps them out."""
    closed: ClosedPlace | None

    @property
    def open_m2(self) -> float:
        """Area within the zones that is not stated as closed."""
        return 0.0 if self.closed or not self.peopled else self.area_m2["all"]


@dataclass(frozen=True, eq=False)
class ExclusionZones:
    """All zones of a lift, what they meet, and the barrier round them."""

    zones: tuple[ExclusionZone, ...]
    union: shapely.Geometry
    meetings: tuple[Meeting, ...]
    corners_m: FloatArray
    """Barrier's corners on the site's grid, anticlockwise, shape (n, 2)."""
    stand_m: FloatArray
    tail_radius_m: float
    """Of the tail with its margin, the machine's lean included."""

    @property
    def drawn(self) -> dict[str, tuple[str, shapely.Geometry]]:
        """Title and area of each zone by its id, for the drawing."""
        return {z.id: (z.title.lower(), z.area) for z in self.zones}

    @property
    def barrier(self) -> shapely.Polygon:
        """Ground inside the barrier."""
        return shapely.Polygon(self.corners_m)


@lru_cache(maxsize=2)
def exclusion_zones(lift: LiftAssessment) -> ExclusionZones | None:
    """Zones of a lift by the owner's rule; None where the job states none."""
    setup, rule = lift.setup, lift.setup.rules.zones
    if rule is None:
        return None
    stand = np.array([setup.lift.stand.easting_m, setup.lift.stand.northing_m])
    carrier, tail = (_moving(lift, n)[0].corners_m for n in ("carrier", "counterweight tail"))
    base = shapely.union_all([*lift.place.mats, shapely.MultiPoint(carrier[0])])
    radius, keep = float(np.hypot(*(tail - stand).reshape(-1, 2).T).max()), setup.rules.clearance
    disc = shapely.Polygon(disc_points_m(stand[None], [radius])[0])
    zones = (_zone("tail", grown(disc, keep.tail_m), margin=amount(keep.tail_m, "length_m"),
                   owner=keep.tail_source),
             *_load_zones(lift, rule), _boom_zone(lift, rule, stand),
             _zone("base", base.convex_hull))  # fmt: skip
    union = shapely.union_all([z.area for z in zones])
    corners, met = outward_polygon(union), _meetings(setup.site, rule, zones, union)
    return ExclusionZones(zones, union, met, corners, stand, radius + keep.tail_m)


def _zone(id: str, area: shapely.Geometry, **words: object) -> ExclusionZone:
    told = {name: text.format(**words) for name, text in _WORDS[id].items()}
    return ExclusionZone(id=id, area=area, **told)


def _moving(lift: LiftAssessment, *names: str) -> list[MovingPrism]:
    bodies = lift.surroundings.close_bodies
    return [b for b in bodies if isinstance(b, MovingPrism) and b.name in names]


def held_load(load: MovingPrism, setup: Setup, tag: TagLines) -> MovingPrism:
    """The load in plan where tag lines hold it: a hull of its box at the angles it may have."""
    hung, count = setup.hung, int(np.ceil(tag.within_deg / 2.5)) + 1
    half = np.array([hung.length_m, hung.width_m]) / 2.0
    x, y = (half * [(1, 1), (-1, 1), (-1, -1), (1, -1)] + [hung.middle_x_m, hung.middle_y_m]).T
    turn = np.radians(tag.angle_deg + np.linspace(-tag.within_deg, tag.within_deg, count))[:, None]
    placed = (x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn))
    hull = shapely.MultiPoint(np.stack(placed, axis=-1).reshape(-1, 2)).convex_hull
    bulge = hung.reach_m * (1.0 - np.cos(np.radians(tag.within_deg) / (count - 1)))
    return dataclasses.replace(
        load, corners_m=load.corners_m + np.asarray(hull.exterior.coords)[:-1],
        spread_m=load.spread_m - hung.reach_m + hung.lean_m + bulge,
    )  # fmt: skip


def _swept(bodies: list[MovingPrism], more_m: FloatArray) -> shapely.Geometry:
    """Ground below the spread plans of bodies, spread further at each step."""
    round_ = [b for b in bodies if b.corners_m.shape[1] == 1]  # all about the hoist line
    widest = np.maximum.reduce([b.spread_m for b in round_])
    plans = [(round_[0].corners_m, widest), *((b.corners_m, b.spread_m) for b in bodies if b.corners_m.shape[1] > 1)]
    return shapely.union_all(
        [swept_area(np.hstack([disc_points_m(c, wide + more_m) for c in np.moveaxis(xy, 1, 0)])) for xy, wide in plans]
    )


def _load_zones(lift: LiftAssessment, rule: ZoneRule) -> tuple[ExclusionZone, ...]:
    """Ground that the load may hang over, and the fall zone round it."""
    setup, off = lift.setup, lift.surroundings.close.off_straight_m
    (load,), others = _moving(lift, "load"), _moving(lift, "rigging", "hook block")
    fall = rule.fall_margin_m + rule.fall_ratio * _height_m(setup, load)
    way = "load turned to any angle"
    for tag in (t for t in rule.tag_lines if t.lift == setup.lift.id):
        load = held_load(load, setup, tag)
        way = (f"load held by {tag.held_by} within {amount(tag.within_deg, 'angle_deg')} of "
               f"{amount(tag.angle_deg, 'slew_deg')} from east")  # fmt: skip
        # without a beam the rigging stays over the load
        others = [b for b in others if b.name == "hook block" or setup.hung.beam_reach_m > 0]
    under, spread = (grown(_swept([load, *others], m), off) for m in (np.zeros(len(fall)), fall))
    pendulum = amount(lift.surroundings.given[2].swing_deg, "angle_deg")
    margin, most = (amount(float(m), "length_m") for m in (rule.fall_margin_m, fall.max()))
    return (_zone("load", under, way=way, pendulum=pendulum),
            _zone("fall", spread, ratio=rule.fall_ratio, margin=margin, most=most,
                  owner=rule.source))  # fmt: skip


def _height_m(setup: Setup, load: MovingPrism) -> FloatArray:
    """Height of the load's top above the lowest ground below it, at each step.

    Where no ground is surveyed, the lowest spot level counts.
    """
    round_ = disc_points_m(load.corners_m[:, 0], load.spread_m)
    ground = ground_below_m(setup.site, np.hstack([load.corners_m, round_]))
    lowest = min(s.level_m for s in setup.site.levels)
    return np.asarray(load.top_m - np.where(np.isnan(ground), lowest, ground).min(axis=1))


def _boom_zone(lift: LiftAssessment, rule: ZoneRule, stand: FloatArray) -> ExclusionZone:
    """Sector in which a falling boom comes down."""
    setup = lift.setup
    slew = lift.surroundings.close.path.slew_deg + setup.lift.stand.heading_deg
    booms = [b for b in lift.surroundings.close_bodies if isinstance(b, MovingMember) and b.name == "boom"]
    wide, flat = 0.0, setup.boom.length_m + setup.machine.boom.foot_u_m
    reach = max(flat, setup.boom.radius_max_m)
    for b in booms:
        reach = max(reach, float(np.hypot(*(b.end_m[:, :2] - stand).T).max()))
        wide = max(wide, float(b.half_width_m.max()))
    sector = sector_area(stand, reach, start_deg=float(slew.min()), end_deg=float(slew.max()))
    return _zone("boom", grown(sector, wide + rule.boom_margin_m), owner=rule.source,
                 reach=amount(reach, "length_m", "up"),
                 margin=amount(rule.boom_margin_m, "length_m"))  # fmt: skip


def _meetings(
    site: Site, rule: ZoneRule, zones: tuple[ExclusionZone, ...], union: shapely.Geometry
) -> tuple[Meeting, ...]:
    """Every place of people, plant and buried service that a zone reaches."""
    polygon, outside = shapely.Polygon, union.difference(shapely.Polygon(site.boundary))
    places: list[tuple[str, str, shapely.Geometry, bool]] = [
        *((a.id, _AREAS[a.kind], polygon(a.polygon), True) for a in site.areas if a.kind in _AREAS),
        *((o.id, _BUILT[o.kind], polygon(o.polygon), o.kind == "building") for o in site.obstacles if o.kind in _BUILT),
        *(
            (s.id, f"buried {s.kind}", shapely.LineString(s.line).buffer(s.width_m / 2, cap_style="flat"), False)
            for s in site.services
        ),
        (OUTSIDE, "neighbours, beyond the site's boundary", outside, True),
    ]
    found, closed = [], {c.id: c for c in rule.closed}
    for id, kind, place, peopled in places:
        met = {z.id: float(z.area.intersection(place).area) for z in zones}
        met["all"] = float(union.intersection(place).area)
        if met["all"] > 1e-6:  # more than a touch
            found.append(Meeting(id, kind, met, peopled, closed.get(id)))
    return tuple(found)
