"""From one assessed lift to the plain data that the drawings take, and to print figures.

Contents: ``plan_data``, ``elevation_data``, ``capacity_data``, ``locus_data``,
``force_data``, ``utilisation_data``, ``site_shapes``, and ``*_figure`` functions that draw each
at print size. Book-keeping only: no formula and no published source.
"""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure
from shapely.geometry import Polygon

from liftcalc.capacity import SOURCES, CapacityBySlew
from liftcalc.facts.site import Site
from liftcalc.lift.capacity_checks import PathStudy
from liftcalc.lift.leg_forces import LegForces
from liftcalc.lift.path import LoadPath
from liftcalc.lift.placing import Placing
from liftcalc.lift.setup import Setup, to_site_m
from liftcalc.units import UnitSystem
from liftcalc.views.capacity import draw_capacity_circle
from liftcalc.views.data import (
    CapacityData,
    Curve,
    ElevationBox,
    ElevationData,
    ForceData,
    LocusData,
    MachineDrawing,
    PlanData,
    SiteShape,
    UtilisationData,
)
from liftcalc.views.elevation import draw_elevation
from liftcalc.views.forces import draw_leg_forces
from liftcalc.views.locus import draw_locus
from liftcalc.views.plan import draw_plan
from liftcalc.views.style import new_axes
from liftcalc.views.utilisation import draw_utilisation

__all__ = [
    "capacity_data",
    "capacity_figure",
    "elevation_data",
    "elevation_figure",
    "force_data",
    "forces_figure",
    "locus_data",
    "locus_figure",
    "plan_data",
    "plan_figure",
    "site_shapes",
    "utilisation_data",
    "utilisation_figure",
]


def site_shapes(site: Site) -> tuple[SiteShape, ...]:
    """Everything surveyed, as shapes in plan."""
    shapes = [SiteShape("site boundary", "boundary", np.array(site.boundary))]
    shapes += [SiteShape(z.id, "ground", np.array(z.polygon)) for z in site.zones]
    shapes += [
        SiteShape(o.id, "obstacle", np.array(o.polygon), note=f"top {o.top_level_m:.1f} m")
        for o in site.obstacles
    ]
    shapes += [
        SiteShape(e.id, "excavation", np.array(e.polygon), note=f"{e.depth_m:.1f} m deep")
        for e in site.excavations
    ]
    shapes += [
        SiteShape(s.id, "service", np.array(s.line), closed=False, width_m=s.width_m)
        for s in site.services
    ]
    shapes += [
        SiteShape(w.id, "wall", np.array(w.line), closed=False) for w in site.retaining_walls
    ]
    shapes += [SiteShape(s.id, "slope", np.array(s.crest), closed=False) for s in site.slopes]
    shapes += [
        SiteShape(
            line.id,
            "power line",
            np.array([p[:2] for p in line.points]),
            closed=False,
            note="voltage unknown" if line.voltage_kV is None else f"{line.voltage_kV:g} kV",
        )
        for line in site.overhead_lines
    ]
    shapes += [SiteShape(a.id, a.kind, np.array(a.polygon)) for a in site.areas]
    return tuple(shapes)


def _machine(setup: Setup, place: Placing, forces: LegForces | None) -> MachineDrawing:
    carrier = setup.machine.carrier
    half = carrier.width_m / 2
    legs = setup.machine.legs
    roots = np.array([[leg.x_m, leg.side * min(half, leg.extension_min_m)] for leg in legs])
    finite = forces is not None and bool(np.all(np.isfinite(forces.design_kN)))
    return MachineDrawing(
        carrier_xy_m=np.array(setup.shape.carrier_outline_m),
        leg_root_xy_m=roots,
        leg_xy_m=setup.leg_xy_m,
        extension_m=np.array(setup.lift.legs.as_tuple()),
        base_xy_m=setup.base.vertices_m,
        tail_radius_m=setup.shape.tail_radius_m,
        boom_width_m=setup.machine.boom.width_m,
        reaction_kN=forces.design_kN if forces is not None and finite else None,
        mat_xy_m=tuple(_to_machine(setup, m) for m in place.mats),
        mat_text=f"{setup.mat.length_m:g} x {setup.mat.width_m:g} m",
        name=setup.machine.name,
    )


def _to_machine(setup: Setup, mat: Polygon) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    stand = setup.lift.stand
    a = np.radians(stand.heading_deg)
    moved = np.asarray(mat.exterior.coords)[:-1] - [stand.easting_m, stand.northing_m]
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    return np.asarray(moved @ turn, dtype=np.float64)


def _path_site(setup: Setup, path: LoadPath) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    slew = np.radians(path.slew_deg)
    xy = path.radius_m[:, None] * np.stack([np.cos(slew), np.sin(slew)], axis=-1)
    return to_site_m(xy, setup.lift)


def plan_data(
    setup: Setup,
    place: Placing,
    path: LoadPath,
    *,
    forces: LegForces | None = None,
    step: int = 0,
    title: str = "Plan",
) -> PlanData:
    """Plan of site, machine and path, boom at one step."""
    stand, load = setup.lift.stand, setup.lift.load
    half = np.array([load.length_m, load.width_m]) / 2
    box = np.array([[1, 1], [-1, 1], [-1, -1], [1, -1]]) * half
    ends = (setup.lift.pick, setup.lift.set_down)
    return PlanData(
        machine=_machine(setup, place, forces),
        easting_m=stand.easting_m,
        northing_m=stand.northing_m,
        heading_deg=stand.heading_deg,
        slew_deg=float(path.slew_deg[step]),
        radius_m=float(path.radius_m[step]),
        shapes=site_shapes(setup.site),
        path_xy_m=_path_site(setup, path),
        load_xy_m=tuple(box + np.array([p.easting_m, p.northing_m]) for p in ends),
        title=title,
    )


def elevation_data(setup: Setup, study: PathStudy, *, step: int | None = None) -> ElevationData:
    """The plane of the boom at one step (by default the governing one)."""
    k = study.governing_step if step is None else step
    machine, lift = setup.machine, setup.lift
    boom, stand = study.boom, lift.stand
    head_u, head_z = float(boom.radius_m[k]), float(boom.head_z_m[k])
    base = float(study.path.level_m[k]) - stand.level_m
    hook = base + lift.rigging.point_height_m + setup.sling_height_m
    block = machine.hook_block(lift.hook_block)
    direction = np.radians(stand.heading_deg + study.path.slew_deg[k])
    along = np.array([np.cos(direction), np.sin(direction)])
    legs = setup.leg_site_xy_m - [stand.easting_m, stand.northing_m]
    boxes = []
    for obstacle in setup.site.obstacles:
        cut = _cut(np.array(obstacle.polygon) - [stand.easting_m, stand.northing_m], along)
        if cut is not None:
            boxes.append(
                ElevationBox(
                    obstacle.id,
                    *cut,
                    obstacle.base_level_m - stand.level_m,
                    obstacle.top_level_m - stand.level_m,
                )
            )
    u = np.array([-8.0, max(head_u, 4.0) + 6.0])
    return ElevationData(
        foot_u_m=machine.boom.foot_u_m,
        foot_z_m=machine.boom.foot_z_m,
        head_u_m=head_u,
        head_z_m=head_z,
        sheave_u_m=head_u,
        sheave_z_m=head_z,
        boom_length_m=setup.boom.length_m,
        boom_angle_deg=float(boom.angle_deg[k]),
        boom_depth_m=machine.boom.depth_m,
        tail_radius_m=setup.shape.tail_radius_m,
        superstructure_z_m=(machine.superstructure.bottom_z_m, machine.superstructure.top_z_m),
        carrier_half_length_m=machine.carrier.width_m / 2,
        carrier_height_m=machine.carrier.height_m,
        leg_u_m=legs @ along,
        hook_z_m=hook,
        block_height_m=block.height_m,
        load_base_m=base,
        load_height_m=lift.load.height_m,
        load_width_m=lift.load.width_m,
        sling_half_spread_m=max(lift.rigging.point_spacing_y_m, lift.rigging.point_spacing_x_m) / 2,
        hook_highest_m=head_z - block.height_m - machine.boom.two_block_clearance_m,
        ground_uz_m=np.stack([u, np.zeros_like(u)], axis=-1),
        boxes=tuple(boxes),
        level_m=stand.level_m,
        title=f"Elevation in the plane of the boom, {study.path.describe(k)}",
    )


def _cut(
    ring: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
    along: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
) -> tuple[float, float] | None:
    """Where the plane of the boom cuts a polygon, as distances from the slew axis."""
    from shapely.geometry import LineString

    far = 80.0
    met = LineString([-far * along, far * along]).intersection(Polygon(ring))
    if met.is_empty:
        return None
    points = np.array([c for part in getattr(met, "geoms", [met]) for c in part.coords])
    u = points @ along
    if u.max() < -6.0:
        return None
    return float(u.min()), float(u.max())


def capacity_data(
    setup: Setup, circle: CapacityBySlew, path: LoadPath, *, radius_index: int = -1
) -> CapacityData:
    """Capacity round the slew circle at one radius."""
    return CapacityData(
        slew_deg=circle.slew_deg,
        capacity_t=circle.capacity_t[:, radius_index],
        source=circle.source[:, radius_index].astype(np.int64),
        sources=SOURCES,
        gross_load_t=setup.gross_t,
        radius_m=float(circle.radius_m[radius_index]),
        boom_length_m=setup.boom.length_m,
        leg_angle_deg=np.degrees(np.arctan2(setup.leg_xy_m[:, 1], setup.leg_xy_m[:, 0])),
        path_slew_deg=path.slew_deg,
    )


def locus_data(setup: Setup, study: PathStudy) -> LocusData:
    """Way of the resultant on the base, with lines of equal margin."""
    base = Polygon(setup.base.vertices_m)
    contours = []
    for margin in (0.5, 1.0):
        inner = base.buffer(-margin, join_style="mitre")
        if not inner.is_empty and inner.geom_type == "Polygon":
            contours.append((f"{margin:g} m inside", np.asarray(inner.exterior.coords)[:-1]))
    return LocusData(
        base_xy_m=setup.base.vertices_m,
        resultant_xy_m=np.stack([study.resultant_x_m, study.resultant_y_m], axis=-1),
        station=study.path.distance_m,
        worst=int(np.argmin(study.margin_m)),
        contours=tuple(contours),
        leg_xy_m=setup.leg_xy_m,
    )


def force_data(setup: Setup, forces: LegForces) -> ForceData:
    """Leg forces round the circle at the greatest radius of the path."""
    slews = forces.path.slew_deg
    return ForceData(
        slew_deg=np.arange(0.0, 360.0, 1.0),
        reaction_kN=forces.circle_reaction_kN,
        path_slew_deg=(float(slews.min()), float(slews.max())),
        limit_kN=min(leg.capacity_kN for leg in setup.machine.legs),
        title=f"Leg force by slew angle at {forces.circle_radius_m:.2f} m radius",
    )


def utilisation_data(setup: Setup, study: PathStudy, forces: LegForces) -> UtilisationData:
    """Shares used along the path: capacity, stability by rule, tipping, worst leg."""
    strength = np.array([leg.capacity_kN for leg in setup.machine.legs])
    return UtilisationData(
        station=study.path.distance_m,
        curves=(
            Curve("rated capacity", study.utilisation),
            Curve("stability by rule", setup.gross_t / study.stability_t),
            Curve("tipping with wind", setup.gross_t / study.tipping_t),
            Curve("worst leg", (forces.path_reaction_kN / strength).max(axis=-1)),
        ),
    )


def plan_figure(data: PlanData, *, system: UnitSystem = "metric") -> Figure:
    """Plan at print size."""
    figure, ax = new_axes(170.0, 150.0)
    draw_plan(data, ax, system=system)
    return figure


def elevation_figure(data: ElevationData, *, system: UnitSystem = "metric") -> Figure:
    """Elevation at print size."""
    figure, ax = new_axes(170.0, 150.0)
    draw_elevation(data, ax, system=system)
    return figure


def capacity_figure(data: CapacityData, *, system: UnitSystem = "metric") -> Figure:
    """Capacity round the slew circle at print size."""
    figure, ax = new_axes(150.0, 140.0)
    draw_capacity_circle(data, ax, system=system)
    return figure


def locus_figure(data: LocusData, *, system: UnitSystem = "metric") -> Figure:
    """Resultant on the base at print size."""
    figure, ax = new_axes(150.0, 130.0)
    draw_locus(data, ax, system=system)
    return figure


def forces_figure(data: ForceData, *, system: UnitSystem = "metric") -> Figure:
    """Leg force by slew at print size."""
    figure, ax = new_axes(170.0, 90.0)
    draw_leg_forces(data, ax, system=system)
    return figure


def utilisation_figure(data: UtilisationData, *, system: UnitSystem = "metric") -> Figure:
    """Utilisation along the path at print size."""
    figure, ax = new_axes(170.0, 90.0)
    draw_utilisation(data, ax, system=system)
    return figure
