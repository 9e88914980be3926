"""Check rows of the site survey: area, ground known, edges, services, levels, overhead lines.

Set-back from an open excavation: the owner's ratio times its depth (1.0 is common practice, no
published source). Other sources beside each row.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from liftcalc.base.checks import Check
from liftcalc.clearance.powerline import sagged_line, study_zone_m
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.facts.surveyed import Excavation, OverheadLine
from liftcalc.lift.check_rows import check_row
from liftcalc.lift.placing import Placing, ground_level_m, leg_beams
from liftcalc.lift.setup import Setup, to_site_m
from liftcalc.lift.site_obstacles import kept_distance_m, line_check


def carrier_on_site(setup: Setup) -> Polygon:
    """Outline of the carrier on the site."""
    return Polygon(to_site_m(np.array(setup.shape.carrier_outline_m), setup.lift))


def allowed_area(setup: Setup, check_id: str) -> tuple[BaseGeometry, str]:
    """Where mats or carrier must lie wholly for a check of that name, and what it is."""
    site = setup.site
    stand = [Polygon(a.polygon) for a in site.areas if a.kind == "stand area"]
    if check_id == "mats-on-known-ground":
        return shapely.union_all([Polygon(z.polygon) for z in site.zones]), "explored ground"
    if check_id == "mats-in-stand-area" and stand:
        return shapely.union_all(stand), "permitted outrigger area"
    return Polygon(site.boundary), "site boundary"


def _inside(setup: Setup, place: Placing) -> list[Check]:
    """Greatest part of a mat, or of the carrier, that lies outside the area it must lie in."""
    rows = []
    for id in ("mats-on-site", "mats-in-stand-area", "mats-on-known-ground", "carrier-on-site"):
        shapes = [carrier_on_site(setup)] if id == "carrier-on-site" else place.mats
        outside = [float(s.difference(allowed_area(setup, id)[0]).area) for s in shapes]
        worst = int(np.argmax(outside))
        of_leg = len(shapes) > 1 and outside[worst] > 1e-6
        leg = f"outrigger {LEG_NAMES[worst]}" if of_leg else ""
        rows.append(check_row(id, outside[worst], 1e-6, leg=leg))
    return rows


def _distance_check(
    parts: Sequence[BaseGeometry], shape: BaseGeometry, name: str, part: str, limit: float | None, **words: Any
) -> Check:
    """Least distance in plan from the parts of an outrigger to a shape, of all four."""
    distance = [float(one.distance(shape)) for one in parts]
    worst = int(np.argmin(distance))
    limit = None if limit is None else max(limit, 1e-6)
    return check_row(name, distance[worst], limit, part=part, leg=LEG_NAMES[worst], **words)


def _keep_off(setup: Setup, place: Placing) -> list[Check]:
    """Mats and outrigger beams against obstacles, mats against edges and services."""
    site, mats, rules = setup.site, place.mats, setup.rules.ground
    with_beams = [m.union(beam) for m, beam in zip(mats, leg_beams(setup), strict=True)]
    ratio, owner = rules.edge_set_back_ratio, rules.reference
    return [
        *(_distance_check(with_beams, Polygon(o.polygon), "mat", o.id, 0.0)
          for o in site.obstacles),
        *(_pit_check(setup, place, pit) for pit in site.excavations),
        *(_distance_check(mats, LineString(s.crest), "set-back slope", s.id, ratio * s.height_m,
                          ratio=ratio, owner=owner) for s in site.slopes),
        *(_distance_check(mats, LineString(s.line).buffer(s.width_m / 2, cap_style="flat"),
                          "stand-off", s.id, s.stand_off_m) for s in site.services),
    ]  # fmt: skip


def _pit_check(setup: Setup, place: Placing, pit: Excavation) -> Check:
    """Set-back from an excavation, or the distance that the designer of its support states."""
    rules, edge, mats = setup.rules.ground, Polygon(pit.polygon), place.mats
    if pit.supported and pit.supported_mats_from_m is not None:
        limit = pit.supported_mats_from_m
        return _distance_check(mats, edge, "set-back supported", pit.id, limit)
    need = rules.edge_set_back_ratio * pit.depth_m
    unknown = pit.supported and 0 < min(float(mat.distance(edge)) for mat in mats) < need
    return _distance_check(mats, edge, "set-back", pit.id, None if unknown else need, need=need,
                           ratio=rules.edge_set_back_ratio, owner=rules.reference)  # fmt: skip


def survey_checks(setup: Setup, place: Placing) -> list[Check]:
    """What the site says about this crane position: area, ground, edges, services, levels."""
    stand = setup.lift.stand
    level = float(ground_level_m(setup.site, stand.easting_m, stand.northing_m))
    names = {zone for text in place.zones for zone in text.split(", ")}
    under = {zone.profile for zone in setup.site.zones if zone.id in names}
    return [
        *_inside(setup, place), *_keep_off(setup, place),
        check_row("packing", float(np.ptp(place.level_m)), 0.5),
        check_row("stand-level", abs(level - stand.level_m), 0.15, level=level),
        *(check_row("voids", None, None, part=profile.id, voids=profile.voids)
          for profile in setup.site.ground
          if profile.id in under and profile.voids != "none found"),
        *(_line_check(setup, line) for line in setup.site.overhead_lines),
    ]  # fmt: skip


def _line_check(setup: Setup, line: OverheadLine) -> Check:
    """Crane position to an overhead line in plan."""
    persons = setup.lift.persons
    kept = kept_distance_m(line, setup.rules, persons=persons)
    if kept is None:
        return check_row("survey-line", None, None, part=line.id, owner=line.owner)
    distance = float(_stand_point(setup).distance(LineString([p[:2] for p in line.points])))
    return line_check(line, setup.rules, "survey-line", distance, kept, persons=persons)


def _stand_point(setup: Setup) -> Point:
    return Point(setup.lift.stand.easting_m, setup.lift.stand.northing_m)


def line_reach_rows(setup: Setup) -> list[tuple[str, float, float, bool]]:
    """For each line: name, height of the lowest point, study zone, and whether the boom reaches it.

    Reach is the boom's length at its least angle round the stand: the machine *could* get nearer
    than the study zone, so the steps of 29 CFR 1926.1408 apply.
    """
    rows = []
    for line in setup.site.overhead_lines:
        points = sagged_line(np.array(line.points), sag_m=line.sag_m).points_m
        zone = float(study_zone_m(line.voltage_kV)) if line.voltage_kV else float("nan")
        reach = setup.boom.radius_max_m + (0.0 if np.isnan(zone) else zone)
        distance = LineString(points[:, :2]).distance(_stand_point(setup))
        rows.append((line.id, float(points[:, 2].min()), zone, bool(distance <= reach)))
    return rows
