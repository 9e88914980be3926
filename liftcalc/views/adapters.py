"""From an assessed lift to the plain data of each drawing.

Contents: :func:`site_shapes`, :func:`machine_drawing`, :func:`plan_data`, :func:`capacity_data`,
:func:`locus_data`, :func:`force_data`, :func:`utilisation_data`, :func:`working_area_data`.
The elevation's are in :mod:`liftcalc.views.adapters_elevation`. Selection and renaming only: every
number comes from a study. No published source.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError
from liftcalc.clearance.powerline import required_distance_m
from liftcalc.crane.sectors import ESTIMATE, NOT_RATED, CapacityBySlew
from liftcalc.facts.job import Rules
from liftcalc.facts.site import Site
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.path import LoadPath
from liftcalc.lift.position import PositionStudy
from liftcalc.lift.setup import Setup, to_machine_m, to_site_m
from liftcalc.lift.site_obstacles import line_distance_table
from liftcalc.lift.working_area import WorkingArea
from liftcalc.views.data import (
    CapacityData,
    Curve,
    ForceData,
    LocusData,
    MachineDrawing,
    PlanData,
    SiteShape,
    UtilisationData,
    WorkingAreaData,
)

__all__ = [
    "SOURCE_WORDS",
    "capacity_data",
    "force_data",
    "locus_data",
    "machine_drawing",
    "plan_data",
    "site_shapes",
    "utilisation_data",
    "working_area_data",
]


SOURCE_WORDS = (
    "governed by the chart of this base",
    "governed by a chart carried over (on condition)",
    "governed by a smaller-base chart",
    "governed by a chart carried over, confirmed",
    "estimate only: no capacity data",
    "not rated",
)


def _xy(points: Sequence[tuple[float, ...]]) -> FloatArray:
    return np.array([p[:2] for p in points], dtype=np.float64)


def site_shapes(site: Site, rules: Rules, *, persons: bool) -> tuple[SiteShape, ...]:
    """Everything surveyed that a plan shows."""
    shapes = [SiteShape("boundary", "boundary", _xy(site.boundary))]
    shapes += [SiteShape(z.id, "ground", _xy(z.polygon)) for z in site.zones]
    for area in site.areas:
        shapes.append(SiteShape(area.id, area.kind, _xy(area.polygon)))
    for hole in site.excavations:
        note = f"{hole.depth_m:g} m deep"
        shapes.append(SiteShape(hole.id, "excavation", _xy(hole.polygon), note=note))
    for service in site.services:
        shapes.append(
            SiteShape(
                service.id,
                "service",
                _xy(service.line),
                closed=False,
                note=f"crown {service.crown_depth_m:g} m down",
                width_m=service.width_m,
            )
        )
    for wall in site.retaining_walls:
        note = f"retains {wall.retained_height_m:g} m"
        shapes.append(SiteShape(wall.id, "wall", _xy(wall.line), closed=False, note=note))
    for slope in site.slopes:
        shapes.append(SiteShape(slope.id, "slope", _xy(slope.crest), closed=False))
    for thing in site.obstacles:
        note = f"{thing.kind}, top level {thing.top_level_m:g} m"
        shapes.append(SiteShape(thing.id, "obstacle", _xy(thing.polygon), note=note))
    for line in site.overhead_lines:
        known = line.voltage_kV is not None
        keep = (
            float(
                required_distance_m(
                    line.voltage_kV, table=line_distance_table(rules, persons=persons)
                )
            )
            if line.voltage_kV is not None
            else 0.0
        )
        shapes.append(
            SiteShape(
                line.id,
                "power line",
                _xy(line.points),
                closed=False,
                note=f"{line.voltage_kV:g} kV, keep {keep:.2f} m" if known else "voltage unknown",
                width_m=keep,
            )
        )
    return tuple(shapes)


def machine_drawing(
    setup: Setup,
    *,
    mats: Sequence[shapely.Polygon] = (),
    reaction_kN: FloatArray | None = None,
    governing_line: str | None = None,
) -> MachineDrawing:
    """The machine as drawn in plan; mats in site coordinates, as placed."""
    carrier = setup.machine.carrier
    legs = setup.leg_xy_m
    half = carrier.width_m / 2.0
    roots = np.column_stack([legs[:, 0], np.clip(legs[:, 1], -half, half)])
    outline = np.array(
        [
            (carrier.front_x_m, -half),
            (carrier.front_x_m, half),
            (carrier.rear_x_m, half),
            (carrier.rear_x_m, -half),
        ]
    )
    names = setup.base.line_names
    edge = names.index(governing_line) if governing_line in names else None
    return MachineDrawing(
        carrier_xy_m=outline,
        leg_root_xy_m=roots,
        leg_xy_m=legs,
        extension_m=np.array(setup.lift.legs.as_tuple()),
        base_xy_m=setup.base.vertices_m,
        tail_radius_m=setup.machine.counterweight(setup.lift.counterweight).tail_radius_m,
        boom_width_m=setup.machine.boom.width_m,
        reaction_kN=reaction_kN,
        mat_xy_m=tuple(to_machine_m(np.asarray(m.exterior.coords)[:-1], setup.lift) for m in mats),
        mat_text=f"{setup.mat.length_m:g} × {setup.mat.width_m:g} m",
        governing_edge=edge,
        name=setup.machine.name,
    )


def _path_site(setup: Setup, path: LoadPath) -> FloatArray:
    a = np.radians(path.slew_deg)
    xy = path.radius_m[:, None] * np.column_stack([np.cos(a), np.sin(a)])
    keep = np.concatenate([[True], np.hypot(*np.diff(xy, axis=0).T) > 1e-9])
    return to_site_m(xy[keep], setup.lift)


def _load_outlines(setup: Setup) -> tuple[FloatArray, ...]:
    load, lift = setup.lift.load, setup.lift
    middle = np.array([setup.hung.middle_x_m, setup.hung.middle_y_m])
    half = np.array([load.length_m, load.width_m]) / 2.0
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * half
    places = (lift.pick, lift.set_down)
    return tuple(corners + middle + np.array([p.easting_m, p.northing_m]) for p in places)


def plan_data(
    assessment: LiftAssessment, *, at: PositionStudy | None = None, title: str = ""
) -> PlanData:
    """Plan with the boom at *at*, or at the governing step of the path."""
    setup, study = assessment.setup, assessment.study
    lift = setup.lift
    step = study.governing_step
    if at is None:
        slew, radius = float(assessment.path.slew_deg[step]), float(assessment.path.radius_m[step])
        reaction = assessment.forces.path_reaction_kN[step]
        line = study.tipping_line[step]
    else:
        slew, radius = at.slew_deg, at.radius_m
        reaction, line = at.forces.path_reaction_kN[0], at.study.tipping_line[0]
    machine = machine_drawing(
        setup,
        mats=assessment.place.mats,
        reaction_kN=None if np.isnan(reaction).any() else reaction,
        governing_line=line,
    )
    return PlanData(
        machine=machine,
        easting_m=lift.stand.easting_m,
        northing_m=lift.stand.northing_m,
        heading_deg=lift.stand.heading_deg,
        slew_deg=slew,
        radius_m=radius,
        shapes=site_shapes(setup.site, setup.rules, persons=setup.lift.persons),
        path_xy_m=_path_site(setup, assessment.path),
        load_xy_m=_load_outlines(setup),
        reach_m=setup.boom.radius_max_m,
        title=title or f"Plan, lift {lift.id}: {lift.title}",
    )


def capacity_data(
    setup: Setup,
    circle: CapacityBySlew,
    *,
    radius_index: int = 0,
    path: LoadPath | None = None,
    at_slew_deg: float | None = None,
) -> CapacityData:
    """Capacity around the slew circle at one of the radii studied."""
    if not 0 <= radius_index < len(circle.radius_m):
        raise InputError.of("radius_index", radius_index, f"0 to {len(circle.radius_m) - 1}")
    legs = setup.leg_xy_m
    return CapacityData(
        slew_deg=circle.slew_deg,
        capacity_t=circle.capacity_t[:, radius_index],
        source=circle.source[:, radius_index].astype(np.int64),
        sources=SOURCE_WORDS,
        gross_load_t=setup.gross_t,
        radius_m=float(circle.radius_m[radius_index]),
        boom_length_m=setup.boom.length_m,
        leg_angle_deg=np.degrees(np.arctan2(legs[:, 1], legs[:, 0])),
        path_slew_deg=None if path is None else np.unique(path.slew_deg),
        at_slew_deg=at_slew_deg,
        estimates=frozenset({ESTIMATE, NOT_RATED}),
    )


def locus_data(assessment: LiftAssessment, *, step_m: float = 0.5, lines: int = 4) -> LocusData:
    """Way of the resultant, and lines of equal distance from the nearest tipping line."""
    setup, study = assessment.setup, assessment.study
    base = shapely.Polygon(setup.base.vertices_m)
    contours = []
    for k in range(1, lines + 1):
        inner = base.buffer(-k * step_m, join_style="mitre")
        if inner.is_empty or not isinstance(inner, shapely.Polygon):
            break
        ring = np.asarray(inner.exterior.coords)[:-1]
        contours.append((f"{k * step_m:g} m inside", ring))
    return LocusData(
        base_xy_m=setup.base.vertices_m,
        resultant_xy_m=np.column_stack([study.resultant_x_m, study.resultant_y_m]),
        station=assessment.path.distance_m,
        worst=int(np.argmin(study.margin_m)),
        contours=tuple(contours),
        leg_xy_m=setup.leg_xy_m,
    )


def force_data(assessment: LiftAssessment, *, at: PositionStudy | None = None) -> ForceData:
    """Leg forces round the slew circle, at the path's greatest radius or at a position."""
    setup = assessment.setup
    forces = assessment.forces if at is None else at.forces
    circle = forces.circle_reaction_kN
    slew = np.arange(361.0)
    low, high = (float(f(assessment.path.slew_deg)) for f in (np.min, np.max))
    turn = 360.0 * np.floor(low / 360.0)
    span = (low - turn, high - turn) if high - turn <= 360.0 and high > low else None
    limits = {leg.capacity_kN for leg in setup.machine.legs}
    radius = forces.circle_radius_m
    return ForceData(
        slew_deg=slew,
        reaction_kN=np.vstack([circle, circle[:1]]),
        path_slew_deg=span,
        at_slew_deg=None if at is None else at.slew_deg,
        limit_kN=min(limits),
        title=f"Leg force by slew angle\nradius {radius:.2f} m, hoist factor in",
    )


def utilisation_data(assessment: LiftAssessment) -> UtilisationData:
    """Share of each limit along the path."""
    setup, study, path = assessment.setup, assessment.study, assessment.path
    data = study.capacity.source < ESTIMATE
    limit = np.array([leg.capacity_kN for leg in setup.machine.legs])
    argued = study.capacity.on_condition
    curves = [Curve("rated capacity", np.where(data & ~argued, study.utilisation, np.nan))]
    if argued.any():
        words = "rated capacity, on condition"
        curves.append(Curve(words, np.where(argued, study.utilisation, np.nan)))
    if not data.all():
        curves.append(
            Curve("estimate, no capacity data", np.where(data, np.nan, study.utilisation))
        )
    curves += [
        Curve("stability on this base", setup.gross_t / study.stability_t),
        Curve("leg strength", (assessment.forces.path_reaction_kN / limit).max(axis=1)),
    ]
    marks = []
    for k, stage in enumerate(path.stage):
        if k == 0 or stage != path.stage[k - 1]:
            marks.append((float(path.distance_m[max(k - 1, 0)]), stage))
    return UtilisationData(station=path.distance_m, curves=tuple(curves), marks=tuple(marks))


def _rings(shape: shapely.Geometry) -> tuple[tuple[FloatArray, tuple[FloatArray, ...]], ...]:
    parts = getattr(shape, "geoms", [shape])
    return tuple(
        (
            np.asarray(p.exterior.coords)[:-1, :2],
            tuple(np.asarray(h.coords)[:-1, :2] for h in p.interiors),
        )
        for p in parts
        if isinstance(p, shapely.Polygon) and not p.is_empty
    )


def _reach(assessment: LiftAssessment) -> shapely.Geometry:
    return shapely.Point(0, 0).buffer(assessment.setup.boom.radius_max_m)


def working_area_data(assessment: LiftAssessment, area: WorkingArea) -> WorkingAreaData:
    """Working area over the site plan."""
    lift = assessment.setup.lift

    def placed(
        shape: shapely.Geometry,
    ) -> tuple[tuple[FloatArray, tuple[FloatArray, ...]], ...]:
        return tuple(
            (to_site_m(ring, lift), tuple(to_site_m(h, lift) for h in holes))
            for ring, holes in _rings(shape)
        )

    return WorkingAreaData(
        plan=plan_data(assessment),
        load_t=area.gross_t,
        within=placed(area.within),
        on_condition=placed(area.on_condition),
        barred=placed(area.barred.intersection(_reach(assessment))),
        no_data=placed(area.no_data),
    )
