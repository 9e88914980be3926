"""Where the machine, its legs and mats stand on the surveyed site.

Contents: :class:`Placing`, :func:`placing`, :func:`survey_checks`, :func:`layout_checks`,
:func:`ground_level_m`.

Set-back from an open excavation: the owner's ratio times its depth (1.0 is common practice, no
published source). Packing and levels by plane geometry.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import ArrayLike
from scipy.interpolate import LinearNDInterpolator
from shapely.geometry import LineString, MultiPoint, Point, Polygon

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check, limit_check, no_data_check
from liftcalc.base.errors import InputError
from liftcalc.clearance.powerline import required_distance_m, sagged_line, study_zone_m
from liftcalc.crane.capacity import ESTIMATE, CapacityBySlew, SlewSector, slew_sectors
from liftcalc.crane.level import packing_height_m
from liftcalc.crane.masses import BoomState
from liftcalc.facts.ground import GroundProfile
from liftcalc.facts.mats import Mat
from liftcalc.facts.site import Site
from liftcalc.ground.zones import mat_conflicts, mat_outlines
from liftcalc.lift.conditions import CONDITION_REMEDY, condition_of
from liftcalc.lift.path import LoadPath
from liftcalc.lift.path_study import PathStudy
from liftcalc.lift.setup import Setup, to_site_m
from liftcalc.lift.surroundings import line_distance_table, line_table_words
from liftcalc.lift.wind_checks import swing_deg

__all__ = [
    "Placing",
    "beside_m",
    "ground_level_m",
    "layout_checks",
    "leg_beams",
    "mat_turn_deg",
    "mats_and_zones",
    "placing",
    "survey_checks",
]

LEAST_MARGIN_M = 0.001
GROUND_TOLERANCE_M = 0.15


@dataclass(frozen=True, eq=False)
class Placing:
    """Mats on the site and the ground levels under them, in the order FL, FR, RR, RL."""

    mats: tuple[Polygon, ...]
    level_m: FloatArray
    packing_m: FloatArray
    """Packing that brings every leg to the highest of the four ground points."""
    zones: tuple[str, ...]
    """Ground zones under each mat and beside it, comma separated; empty where there is none."""


def mat_turn_deg(setup: Setup) -> float:
    """Direction of the mats' length: along the machine."""
    return setup.lift.stand.heading_deg


@lru_cache(maxsize=8)
def _ground_surface(surveyed: tuple[tuple[float, float, float], ...]) -> LinearNDInterpolator:
    """Triangles between the spot levels; made once for a site, since that is slow."""
    spread = MultiPoint([p[:2] for p in surveyed]).convex_hull
    if not spread.area > 1e-6:
        raise InputError.of(
            "site.levels", "in one line", "levels around the stand", "Survey levels on both sides."
        )
    points = np.array(surveyed)
    return LinearNDInterpolator(points[:, :2], points[:, 2])


def ground_level_m(site: Site, easting_m: ArrayLike, northing_m: ArrayLike) -> FloatArray:
    """Ground level between the surveyed spot levels, linear over triangles.

    Raises: Fewer than three spot levels, or a point outside all triangles: nothing is extrapolated.
    """
    surveyed = tuple((s.easting_m, s.northing_m, s.level_m) for s in site.levels)
    if len(surveyed) < 3:
        raise InputError.of("site.levels", len(surveyed), "at least three spot levels")
    found = _ground_surface(surveyed)(easting_m, northing_m)
    bad = np.isnan(np.atleast_1d(found))
    if bad.any():
        k = int(np.argmax(bad))
        place = (float(np.atleast_1d(easting_m)[k]), float(np.atleast_1d(northing_m)[k]))
        raise InputError.of(
            "ground level", place, "a point between the spot levels", "Survey a level there."
        )
    return np.asarray(found, dtype=np.float64)


def _ground_below(site: Site, at_m: FloatArray) -> FloatArray:
    """Surveyed ground at site points (..., 2), NaN outside the spot levels; in an excavation its
    lowest bottom."""
    surveyed = tuple((s.easting_m, s.northing_m, s.level_m) for s in site.levels)
    ground = np.asarray(_ground_surface(surveyed)(at_m[..., 0], at_m[..., 1]))
    for pit in site.excavations:
        floor, outline = min(level for _, _, level in surveyed) - pit.depth_m, Polygon(pit.polygon)
        shapely.prepare(outline)
        inside = shapely.intersects_xy(outline, at_m[..., 0], at_m[..., 1])
        ground = np.where(inside, floor, ground)
    return ground


def load_above_ground(setup: Setup, path: LoadPath, boom: BoomState) -> list[Check]:
    """Load's underside, counterweight tail and boom against the surveyed ground.

    While the load is carried, its lowest corner as it tilts and swings, above the highest ground
    within its reach; while it is hoisted and lowered over its own place, the planned underside,
    which starts and ends on something. Places outside the spot levels are left out, since no
    ground is known there; no row where all are.
    """
    stand = setup.lift.stand.level_m
    slew = np.radians(path.slew_deg)
    ahead = np.stack([np.cos(slew), np.sin(slew)], axis=-1)
    at = path.radius_m[:, None] * ahead
    rope = boom.head_z_m - (path.level_m - stand)
    swung = dataclasses.replace(setup.hung, swing_deg=swing_deg(setup, path, boom))
    carried = ~np.isin(path.stage, ("hoist", "lower"))
    reach = np.where(carried, swung.reach_m + rope * np.tan(np.radians(swung.swing_deg)), 0.0)
    turn = np.linspace(0.0, 2.0 * np.pi, 16, endpoint=False)
    round_it = np.concatenate(
        [np.zeros((1, 2)), *(r * np.stack([np.cos(turn), np.sin(turn)], -1) for r in (0.5, 1.0))]
    )
    load = at[:, None] + reach[:, None, None] * round_it
    level = path.level_m - np.where(carried, swung.low_m(rope), 0.0)

    # tail: a fan behind the slew axis; boom: its middle line in half metres
    x, y = np.asarray(setup.shape.tail_outline_m).T
    behind = np.concatenate([s * np.stack([x, y], -1)[x < 0] for s in (1.0, 0.75, 0.5)])
    across = np.stack([-ahead[:, 1], ahead[:, 0]], axis=-1)
    tail = behind[:, :1] * ahead[:, None] + behind[:, 1:] * across[:, None]
    share = np.linspace(0.0, 1.0, int(2.0 * setup.boom.length_m) + 2)
    foot, foot_z = setup.machine.boom.foot_u_m, setup.machine.boom.foot_z_m
    out = foot + (path.radius_m[:, None] - foot) * share
    under_boom = foot_z + (boom.head_z_m[:, None] - foot_z) * share

    rows = []
    for id, title, points, low, limit, reference, remedy in (
        (
            "load-above-ground",
            "Load's underside above the surveyed ground, carried with tilt and swing",
            load,
            level[:, None],
            -GROUND_TOLERANCE_M,
            f"survey, {GROUND_TOLERANCE_M:g} m allowed for its accuracy: common practice,"
            " no published source",
            "Correct the levels of pick, set-down and waypoints, carry higher, or survey the "
            "opening.",
        ),
        (
            "tail-above-ground",
            "Counterweight tail's underside above the surveyed ground",
            tail,
            np.full((1, 1), stand + setup.shape.tail_base_m),
            GROUND_TOLERANCE_M,
            f"survey, {GROUND_TOLERANCE_M:g} m for its accuracy: common practice, no published "
            "source",
            "Stand farther from the rising ground.",
        ),
        (
            "boom-above-ground",
            "Boom above the surveyed ground",
            out[..., None] * ahead[:, None],
            stand + under_boom - setup.shape.boom_half_width_m,
            setup.rules.clearance.boom_m,
            setup.rules.clearance.reference,
            "Raise the boom or stand farther from the rising ground.",
        ),
    ):
        above = low - _ground_below(setup.site, to_site_m(points, setup.lift))
        if np.isnan(above).all():
            continue
        step = int(np.argmin(np.min(np.where(np.isnan(above), np.inf, above), axis=1)))
        rows.append(
            limit_check(
                id,
                title,
                value=float(np.nanmin(above[step])),
                limit=limit,
                quantity="length_m",
                sense="min",
                reference=reference,
                where=path.describe(step),
                remedy=remedy,
            )
        )
    return rows


def beside_m(mat: Mat) -> float:
    """How far ground beside a mat counts as ground under it: the mat's shorter side. [m]

    Bearing fails along a surface that comes up about one width of the base away (Prandtl's
    mechanism for clay, from memory; farther in sand), so weaker ground there takes part. That it
    counts wholly is on the safe side.
    """
    return min(mat.length_m, mat.width_m)


def mats_and_zones(
    setup: Setup, within_m: float = 0.0
) -> tuple[tuple[Polygon, ...], tuple[tuple[str, ...], ...]]:
    """Outline of each mat on the site, and the ground zones under it or as near as that."""
    xy = setup.leg_site_xy_m
    mats = mat_outlines(
        xy[:, 0],
        xy[:, 1],
        length_m=setup.mat.length_m,
        width_m=setup.mat.width_m,
        orientation_deg=mat_turn_deg(setup),
    )
    names = np.array([z.id for z in setup.site.zones])
    shapes = np.array([Polygon(z.polygon) for z in setup.site.zones])
    outlines = np.array(mats)[:, None]
    under = shapely.area(shapely.intersection(outlines, shapes)) > 1e-6 * shapely.area(outlines)
    near = under | (shapely.distance(outlines, shapes) < within_m)
    return mats, tuple(tuple(names[row]) for row in near)


def placing(setup: Setup) -> Placing:
    """Mat outlines, ground levels, packing and ground zones under the four legs."""
    xy = setup.leg_site_xy_m
    mats, touched = mats_and_zones(setup, beside_m(setup.mat))
    level = ground_level_m(setup.site, xy[:, 0], xy[:, 1])
    return Placing(mats, level, packing_height_m(level), tuple(", ".join(t) for t in touched))


def _inside(setup: Setup, place: Placing) -> list[Check]:
    site = setup.site
    boundary = Polygon(site.boundary)
    stand = [Polygon(a.polygon) for a in site.areas if a.kind == "stand area"]
    allowed = shapely.union_all(stand) if stand else boundary
    zones = shapely.union_all([Polygon(z.polygon) for z in site.zones])
    rows = []
    for id, title, area, remedy in (
        ("mats-on-site", "Mat area outside the site boundary", boundary, "Move the machine."),
        (
            "mats-in-stand-area",
            "Mat area outside the area where legs may stand",
            allowed,
            "Retract or move the leg, or have the area extended by a survey.",
        ),
        (
            "mats-on-known-ground",
            "Mat area on ground that was not explored",
            zones,
            "Explore that ground, or move the leg.",
        ),
    ):
        outside = [float(m.difference(area).area) for m in place.mats]
        worst = int(np.argmax(outside))
        rows.append(
            limit_check(
                id,
                title,
                value=outside[worst],
                limit=1e-6,
                quantity="area_m2",
                reference="survey",
                where=f"leg {setup.machine.legs[worst].name}" if outside[worst] > 1e-6 else "",
                remedy=remedy,
            )
        )
    carrier = Polygon(to_site_m(np.array(setup.shape.carrier_outline_m), setup.lift))
    rows.append(
        limit_check(
            "carrier-on-site",
            "Carrier area outside the site boundary",
            value=float(carrier.difference(boundary).area),
            limit=1e-6,
            quantity="area_m2",
            reference="survey",
            remedy="Move the machine.",
        )
    )
    return rows


def leg_beams(setup: Setup) -> tuple[LineString, ...]:
    """Each leg's beam in plan: from the machine's centreline out to its float."""
    roots = np.stack([setup.leg_xy_m[:, 0], np.zeros(len(setup.leg_xy_m))], axis=-1)
    ends = np.stack([to_site_m(roots, setup.lift), setup.leg_site_xy_m], axis=1)
    return tuple(LineString(e) for e in ends)


def _keep_off(setup: Setup, place: Placing) -> list[Check]:
    site, names = setup.site, [leg.name for leg in setup.machine.legs]
    rules = setup.rules.ground
    things: list[tuple[str, str, shapely.Geometry, float, str, str]] = []
    with_beams = [m.union(beam) for m, beam in zip(place.mats, leg_beams(setup), strict=True)]
    for obstacle in site.obstacles:
        things.append(
            (
                f"mat-{obstacle.id}",
                f"Mat or leg beam to {obstacle.id}",
                Polygon(obstacle.polygon),
                1e-6,
                "survey",
                "Move the machine or retract the leg.",
            )
        )
    words = f"{rules.edge_set_back_ratio:g} x depth: {rules.reference}"
    rows: list[Check] = []
    for pit in site.excavations:
        id, edge = f"set-back-{pit.id}", Polygon(pit.polygon)
        need = rules.edge_set_back_ratio * pit.depth_m
        remedy = "Move the machine or retract the leg, or have the excavation supported."
        reason = words
        if pit.supported and pit.supported_mats_from_m is not None:
            need = pit.supported_mats_from_m
            reason = "designer of the support, stated on the survey"
            remedy = "Move the machine or retract the leg."
        elif pit.supported:
            gaps = [float(m.distance(edge)) for m in place.mats]
            if 0 < min(gaps) < need:
                rows.append(
                    no_data_check(
                        id,
                        f"Mat to the edge of {pit.id}: what its support may carry is unknown",
                        quantity="length_m",
                        value=min(gaps),
                        reference=f"supported excavation, nearer than {words}",
                        where=f"leg {names[int(np.argmin(gaps))]}",
                        remedy="Ask the designer of the support how near a loaded mat may stand, "
                        f"or keep {need:.2f} m from the edge.",
                    )
                )
                continue
        title = f"Mat to the edge of {pit.id}"
        things.append((id, title, edge, max(need, 1e-6), reason, remedy))
    for slope in site.slopes:
        things.append(
            (
                f"set-back-{slope.id}",
                f"Mat to the crest of {slope.id}",
                LineString(slope.crest),
                max(rules.edge_set_back_ratio * slope.height_m, 1e-6),
                f"{rules.edge_set_back_ratio:g} x height: {rules.reference}",
                "Move the machine or retract the leg.",
            )
        )
    for service in site.services:
        line = LineString(service.line).buffer(service.width_m / 2, cap_style="flat")
        things.append(
            (
                f"stand-off-{service.id}",
                f"Mat to {service.id} (in plan)",
                line,
                max(service.stand_off_m, 1e-6),
                "stand-off on the survey",
                "Move the machine, or bridge the service by a designed slab.",
            )
        )
    for id, title, shape, need, reference, remedy in things:
        parts = with_beams if id.startswith("mat-") else place.mats
        gaps = [float(m.distance(shape)) for m in parts]
        worst = int(np.argmin(gaps))
        rows.append(
            limit_check(
                id,
                title,
                value=gaps[worst],
                limit=need,
                quantity="length_m",
                sense="min",
                reference=reference,
                where=f"leg {names[worst]}",
                remedy=remedy,
            )
        )
    return rows


def survey_checks(setup: Setup, place: Placing) -> list[Check]:
    """What the site itself says about this stand: area, ground known, edges, services, levels."""
    rows = _inside(setup, place) + _keep_off(setup, place)
    slope = float(np.ptp(place.level_m))
    rows.append(
        limit_check(
            "packing",
            "Height difference of the ground under the four legs",
            value=slope,
            limit=0.5,
            quantity="length_m",
            reference="0.5 m of packing and jack stroke: common practice, no published source",
            remedy="Choose flatter ground or prepare a level pad.",
        )
    )
    at = Point(setup.lift.stand.easting_m, setup.lift.stand.northing_m)
    level = float(
        ground_level_m(setup.site, setup.lift.stand.easting_m, setup.lift.stand.northing_m)
    )
    rows.append(
        limit_check(
            "stand-level",
            "Stated stand level against the surveyed level",
            value=abs(level - setup.lift.stand.level_m),
            limit=0.15,
            quantity="length_m",
            reference="survey; 0.15 m allowed for packing: common practice, no published source",
            remedy=f"State the stand level as {level:.2f} m.",
        )
    )
    for profile in _profiles_touched(setup, place):
        if profile.voids != "none found":
            rows.append(
                no_data_check(
                    f"voids-{profile.id}",
                    f"Voids below {profile.id}: {profile.voids}",
                    quantity="ratio",
                    reference="29 CFR 1926.1402; unknown is unsafe",
                    remedy="Have voids, tanks and old workings looked for before the machine "
                    "stands there.",
                )
            )
    for line in setup.site.overhead_lines:
        if line.voltage_kV is None:
            rows.append(
                no_data_check(
                    f"survey-line-{line.id}",
                    f"Voltage of overhead line {line.id}",
                    quantity="voltage_kV",
                    reference="29 CFR 1926.1407 to 1411",
                    remedy=f"Ask {line.owner}.",
                )
            )
            continue
        span = LineString([p[:2] for p in line.points])
        table = line_distance_table(setup.rules, persons=setup.lift.persons)
        need = float(required_distance_m(line.voltage_kV, table=table))
        rows.append(
            limit_check(
                f"survey-line-{line.id}",
                f"Stand to overhead line {line.id} in plan ({line.voltage_kV:g} kV)",
                value=float(at.distance(span)),
                limit=need,
                quantity="length_m",
                sense="min",
                reference=line_table_words(setup.rules, persons=setup.lift.persons),
                remedy="Stand farther away or have the line made dead and earthed.",
            )
        )
    return rows


def line_reach_rows(setup: Setup) -> list[tuple[str, float, float, bool]]:
    """For each line: name, height of the lowest point, study zone, and whether the boom reaches it.

    Reach is the boom's length at its least angle round the stand: the machine *could* get nearer
    than the study zone, so the steps of 29 CFR 1926.1408 apply.
    """
    rows = []
    at = np.array([setup.lift.stand.easting_m, setup.lift.stand.northing_m])
    for line in setup.site.overhead_lines:
        points = sagged_line(np.array(line.points), sag_m=line.sag_m).points_m
        zone = float(study_zone_m(line.voltage_kV)) if line.voltage_kV else float("nan")
        span = LineString(points[:, :2])
        reach = setup.boom.radius_max_m + (0.0 if np.isnan(zone) else zone)
        rows.append(
            (line.id, float(points[:, 2].min()), zone, bool(span.distance(Point(at)) <= reach))
        )
    return rows


def _profiles_touched(setup: Setup, place: Placing) -> list[GroundProfile]:
    names = {z.strip() for text in place.zones for z in text.split(",") if z.strip()}
    ids = {z.profile for z in setup.site.zones if z.id in names}
    return [p for p in setup.site.ground if p.id in ids]


def layout_checks(
    setup: Setup, place: Placing, study: PathStudy, circle: CapacityBySlew
) -> list[Check]:
    """The base: mats apart, slew centre inside, capacity data for every slew of the path."""
    names = [leg.name for leg in setup.machine.legs]
    clashes = mat_conflicts(place.mats, names=names)
    rows = [
        limit_check(
            "mats-apart",
            "Overlap of mats" + (f" {clashes[0].mat} and {clashes[0].other}" if clashes else ""),
            value=max((c.overlap_m2 for c in clashes), default=0.0),
            limit=1e-6,
            quantity="area_m2",
            reference="plane geometry",
            remedy="Use smaller mats or extend the legs.",
        )
    ]
    rows.append(
        limit_check(
            "mats-on-shelf",
            f"Mats {setup.mat.id} missing on the shelf: {len(place.mats)} needed, "
            f"{setup.mat.quantity} there",
            value=float(max(len(place.mats) - setup.mat.quantity, 0)),
            limit=1e-6,
            quantity="ratio",
            reference="mats list",
            remedy="Choose a mat of which there are four, or fetch more.",
        )
    )
    inside = float(-setup.base.offsets_m.max())
    rows.append(
        limit_check(
            "slew-centre-inside",
            "Slew centre inside the nearest tipping line",
            value=inside,
            limit=LEAST_MARGIN_M,
            quantity="length_m",
            sense="min",
            reference="statics",
            where=setup.base.line_names[int(np.argmax(setup.base.offsets_m))],
            remedy="Extend the legs on that side.",
        )
    )
    missing = study.capacity.source >= ESTIMATE
    share = float(missing.mean() * 100)
    if missing.any():
        step = int(np.argmax(missing))
        rows.append(
            no_data_check(
                "layout-capacity-data",
                f"Capacity data for this layout: missing on {share:.0f} % of the path",
                quantity="mass_t",
                value=setup.gross_t,
                reference="29 CFR 1926.1404(q): legs set as the chart provides",
                where=study.path.describe(step),
                remedy="Set the legs to a base of the charts, or ask the maker for this layout.",
            )
        )
    else:
        condition, where = condition_of(study.capacity, study.path)
        rows.append(
            limit_check(
                "layout-capacity-data",
                "Part of the path without capacity data",
                value=share,
                limit=1e-6,
                quantity="percent",
                reference="29 CFR 1926.1404(q): legs set as the chart provides",
                where=where.removeprefix("; "),
                remedy=CONDITION_REMEDY,
                condition=condition,
            )
        )
    return rows


def sectors_at(circle: CapacityBySlew, radius_index: int) -> tuple[SlewSector, ...]:
    """Slew sectors by governing source at one radius of the circle."""
    return slew_sectors(circle, radius_index=radius_index)
