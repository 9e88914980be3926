"""Check rows of the site survey: area, ground known, edges, services, levels, overhead lines.

Set-back from an open excavation: the owner's ratio times its depth (1.0 is common practice, no
published source). Other sources beside each row.
"""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from liftcalc.base.checks import Check, limit_check, no_data_check
from liftcalc.base.text import amount
from liftcalc.clearance.powerline import sagged_line, study_zone_m
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.facts.surveyed import Excavation, OverheadLine
from liftcalc.lift.placing import Placing, ground_level_m, leg_beams
from liftcalc.lift.setup import Setup, to_site_m
from liftcalc.lift.site_obstacles import kept_distance_m, line_check

_MOVE = "Move the machine or retract the outrigger."
_BRIDGE = "Move the machine, or bridge the service by a designed slab."
_AREAS = (
    ("mats-on-site", "Mat area outside the site boundary", "Move the machine."),
    ("mats-in-stand-area", "Mat area outside the permitted outrigger area",
     "Retract or move the outrigger, or have the area extended by a survey."),
    ("mats-on-known-ground", "Mat area on unexplored ground",
     "Explore that ground, or move the outrigger."),
    ("carrier-on-site", "Carrier area outside the site boundary", "Move the machine."),
)  # fmt: skip
"""Checks of area: name, title, remedy."""


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
    for id, title, remedy in _AREAS:
        shapes = [carrier_on_site(setup)] if id == "carrier-on-site" else place.mats
        outside = [float(s.difference(allowed_area(setup, id)[0]).area) for s in shapes]
        worst = int(np.argmax(outside))
        of_leg = len(shapes) > 1 and outside[worst] > 1e-6
        where = f"outrigger {LEG_NAMES[worst]}" if of_leg else ""
        rows.append(limit_check(id, title, value=outside[worst], limit=1e-6, quantity="area_m2",
                                reference="survey", where=where, remedy=remedy))  # fmt: skip
    return rows


def _distance_check(
    parts: Sequence[BaseGeometry], shape: BaseGeometry, id: str, title: str, *,
    limit: float, reference: str, remedy: str = _MOVE,
) -> Check:  # fmt: skip
    """Least distance in plan from the parts of an outrigger to a shape, of all four."""
    distance = [float(part.distance(shape)) for part in parts]
    worst = int(np.argmin(distance))
    return limit_check(id, title, value=distance[worst], limit=max(limit, 1e-6),
                       quantity="length_m", sense="min", reference=reference,
                       where=f"outrigger {LEG_NAMES[worst]}", remedy=remedy)  # fmt: skip


def _keep_off(setup: Setup, place: Placing) -> list[Check]:
    """Mats and outrigger beams against obstacles, mats against edges and services."""
    site, mats, rules = setup.site, place.mats, setup.rules.ground
    with_beams = [m.union(beam) for m, beam in zip(mats, leg_beams(setup), strict=True)]
    rows, ratio = [], rules.edge_set_back_ratio
    by_height = f"{ratio:g} x height: {rules.reference}"
    for o in site.obstacles:
        title = f"Clearance, mat or outrigger beam to {o.id}"
        rows.append(_distance_check(with_beams, Polygon(o.polygon), f"mat-{o.id}", title,
                                    limit=0.0, reference="survey"))  # fmt: skip
    rows += [_pit_check(setup, place, pit) for pit in site.excavations]
    for slope in site.slopes:
        title, need = f"Set-back, mat to crest of {slope.id}", ratio * slope.height_m
        rows.append(_distance_check(mats, LineString(slope.crest), f"set-back-{slope.id}", title,
                                    limit=need, reference=by_height))  # fmt: skip
    for s in site.services:
        strip = LineString(s.line).buffer(s.width_m / 2, cap_style="flat")
        title = f"Clearance in plan, mat to {s.id}"
        rows.append(_distance_check(mats, strip, f"stand-off-{s.id}", title, limit=s.stand_off_m,
                                    reference="stand-off on the survey",
                                    remedy=_BRIDGE))  # fmt: skip
    return rows


def _pit_check(setup: Setup, place: Placing, pit: Excavation) -> Check:
    """Set-back from an excavation, or the distance that the designer of its support states."""
    rules, edge = setup.rules.ground, Polygon(pit.polygon)
    id, title = f"set-back-{pit.id}", f"Set-back, mat to edge of {pit.id}"
    need = rules.edge_set_back_ratio * pit.depth_m
    words = f"{rules.edge_set_back_ratio:g} x depth: {rules.reference}"
    if pit.supported and pit.supported_mats_from_m is not None:
        reference = "designer of the support, stated on the survey"
        return _distance_check(
            place.mats, edge, id, title, limit=pit.supported_mats_from_m, reference=reference
        )
    distance = [float(mat.distance(edge)) for mat in place.mats]
    if pit.supported and 0 < min(distance) < need:
        return no_data_check(
            id, f"{title}: load permitted on its support unknown", quantity="length_m",
            value=min(distance), reference=f"supported excavation, nearer than {words}",
            where=f"outrigger {LEG_NAMES[int(np.argmin(distance))]}",
            remedy="Ask the designer of the support how near a loaded mat may stand, or keep "
            f"{amount(need, 'length_m', 'up')} from the edge.",
        )  # fmt: skip
    remedy = "Move the machine or retract the outrigger, or have the excavation supported."
    return _distance_check(place.mats, edge, id, title, limit=need, reference=words, remedy=remedy)


def survey_checks(setup: Setup, place: Placing) -> list[Check]:
    """What the site says about this crane position: area, ground, edges, services, levels."""
    stand = setup.lift.stand
    level = float(ground_level_m(setup.site, stand.easting_m, stand.northing_m))
    return [
        *_inside(setup, place), *_keep_off(setup, place),
        limit_check(
            "packing", "Difference in ground level under the four outriggers",
            value=float(np.ptp(place.level_m)), limit=0.5, quantity="length_m",
            reference="0.5 m of packing and jack stroke: common practice, no published source",
            remedy="Choose flatter ground or prepare a level pad.",
        ),
        limit_check(
            "stand-level", "Level of the crane position, stated against surveyed",
            value=abs(level - stand.level_m), limit=0.15, quantity="length_m",
            reference="survey; 0.15 m allowed for packing: common practice, no published source",
            remedy=f"State the level of the crane position as {amount(level, 'length_m')}.",
        ),
        *_voids_checks(setup, place),
        *(_line_check(setup, line) for line in setup.site.overhead_lines),
    ]  # fmt: skip


def _voids_checks(setup: Setup, place: Placing) -> list[Check]:
    """Ground under the mats below which voids are not ruled out."""
    names = {zone for text in place.zones for zone in text.split(", ")}
    ids = {zone.profile for zone in setup.site.zones if zone.id in names}
    return [
        no_data_check(
            f"voids-{profile.id}", f"Voids below {profile.id}: {profile.voids}", quantity="ratio",
            reference="29 CFR 1926.1402; unknown is unsafe",
            remedy="Have voids, tanks and old workings looked for before the machine stands there.",
        )
        for profile in setup.site.ground
        if profile.id in ids and profile.voids != "none found"
    ]  # fmt: skip


def _line_check(setup: Setup, line: OverheadLine) -> Check:
    """Crane position to an overhead line in plan."""
    id, persons = f"survey-line-{line.id}", setup.lift.persons
    kept = kept_distance_m(line, setup.rules, persons=persons)
    if kept is None:
        return no_data_check(id, f"Voltage of overhead line {line.id}", quantity="voltage_kV",
                             reference="29 CFR 1926.1407 to 1411",
                             remedy=f"Ask {line.owner}.")  # fmt: skip
    return line_check(
        line, setup.rules, id, "Distance in plan, crane position to", persons=persons,
        distance_m=float(_stand_point(setup).distance(LineString([p[:2] for p in line.points]))),
        kept_m=kept, remedy="Move the crane farther away or have the line isolated and earthed.",
    )  # fmt: skip


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
