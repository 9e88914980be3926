"""From an assessed lift to the elevation in the plane of the boom at one step of its path.

Contents: :func:`elevation_data`. The plane cuts obstacles, lines and ground; geometry of a plane
and polygons, no published source. The bent boom is an estimate (:mod:`liftcalc.crane.boom_bending`)
and left out where the method does not hold.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from shapely import LineString, MultiPoint, Point, Polygon
from shapely.geometry.base import BaseGeometry

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError
from liftcalc.clearance.powerline import required_distance_m, sagged_line
from liftcalc.crane.boom import boom_pose
from liftcalc.crane.hook_room import hook_room
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.boom_setting import boom_bend, loaded_head_z_m
from liftcalc.lift.setup import Setup
from liftcalc.lift.site_obstacles import line_distance_table
from liftcalc.lift.surveyed_ground import ground_level_m
from liftcalc.views.data import ElevationBox, ElevationData

__all__ = ["elevation_data"]

BEHIND_M = 12.0
AHEAD_M = 16.0


def _plane(setup: Setup, slew_deg: float, ahead_m: float) -> LineString:
    """Line of the plane in plan, from behind the machine to beyond the load."""
    a = np.radians(slew_deg + setup.lift.stand.heading_deg)
    centre = np.array([setup.lift.stand.easting_m, setup.lift.stand.northing_m])
    along = np.array([np.cos(a), np.sin(a)])
    return LineString([centre - BEHIND_M * along, centre + ahead_m * along])


def _parts(shape: BaseGeometry, kind: type[BaseGeometry]) -> list[BaseGeometry]:
    return [g for g in getattr(shape, "geoms", [shape]) if isinstance(g, kind) and not g.is_empty]


def _boxes(setup: Setup, plane: LineString) -> tuple[ElevationBox, ...]:
    stand = setup.lift.stand.level_m
    found = []
    for thing in setup.site.obstacles:
        for part in _parts(plane.intersection(Polygon(thing.polygon)), LineString):
            ends = sorted(plane.project(_point(p)) - BEHIND_M for p in part.coords)
            found.append(
                ElevationBox(
                    thing.id,
                    ends[0],
                    ends[-1],
                    thing.base_level_m - stand,
                    thing.top_level_m - stand,
                )
            )
    return tuple(found)


def _point(p: tuple[float, ...]) -> Point:
    return Point(p[0], p[1])


def _lines(setup: Setup, plane: LineString) -> tuple[tuple[str, float, float, float], ...]:
    stand = setup.lift.stand.level_m
    found = []
    for line in setup.site.overhead_lines:
        points = sagged_line(np.array(line.points), sag_m=line.sag_m).points_m
        keep, name = 0.0, f"{line.id}, voltage unknown"
        if line.voltage_kV is not None:
            table = line_distance_table(setup.rules, persons=setup.lift.persons)
            keep = float(required_distance_m(line.voltage_kV, table=table))
            name = f"{line.id}, {line.voltage_kV:g} kV"
        for a, b in pairwise(points):
            cut = plane.intersection(LineString([a[:2], b[:2]]))
            if not isinstance(cut, Point) or cut.is_empty:
                continue
            share = np.hypot(cut.x - a[0], cut.y - a[1]) / max(np.hypot(*(b - a)[:2]), 1e-9)
            level = float(a[2] + share * (b[2] - a[2]))
            found.append((name, float(plane.project(cut)) - BEHIND_M, level - stand, keep))
    return tuple(found)


def _ground(setup: Setup, plane: LineString) -> FloatArray:
    levels = setup.site.levels
    hull = MultiPoint([(s.easting_m, s.northing_m) for s in levels]).convex_hull.buffer(-1e-6)
    known = _parts(plane.intersection(hull), LineString)
    if not known:
        flat = np.array([[-BEHIND_M, 0.0], [plane.length - BEHIND_M, 0.0]])
        return flat
    part = known[0]
    at = np.linspace(0.0, part.length, max(2, int(part.length / 0.5)))
    points = np.array([part.interpolate(s).coords[0] for s in at])
    level = ground_level_m(setup.site, points[:, 0], points[:, 1]) - setup.lift.stand.level_m
    start = plane.project(_point(part.coords[0])) - BEHIND_M
    return np.column_stack([start + at, level])


def _bent(setup: Setup, radius_m: float) -> FloatArray | None:
    bend, problem = boom_bend(setup, np.array([radius_m]))
    if problem or setup.boom.bending_stiffness_kNm2 is None:
        return None  # no estimate: nothing is drawn
    t = np.linspace(0.0, 1.0, 25)[:, None]
    angle = np.radians(bend.chord_deg[0])
    along, square = (np.array(v) for v in ((np.cos(angle), np.sin(angle)),
                                           (-np.sin(angle), np.cos(angle))))  # fmt: skip
    bow = t * (1.0 - 1.5 * t + 0.5 * t * t)  # of a cantilever under an end force, above its chord
    foot = np.array([setup.machine.boom.foot_u_m, setup.machine.boom.foot_z_m])
    return np.asarray(foot + t * bend.chord_m * along + bow * bend.tip_m * square)


def elevation_data(
    assessment: LiftAssessment, *, step: int | None = None, title: str = ""
) -> ElevationData:
    """Elevation at a step of the path; the governing step if left out."""
    setup, path = assessment.setup, assessment.path
    k = assessment.study.governing_step if step is None else step
    if not 0 <= k < len(path):
        raise InputError.of("step", k, f"0 to {len(path) - 1}")
    machine, lift, hung = setup.machine, setup.lift, setup.hung
    slew, radius = float(path.slew_deg[k]), float(path.radius_m[k])
    base = float(path.level_m[k]) - lift.stand.level_m
    pose = boom_pose(
        setup.boom.length_m,
        radius,
        foot_u_m=machine.boom.foot_u_m,
        foot_z_m=machine.boom.foot_z_m,
        head_offset_m=machine.boom.head_offset_m,
    )
    foot = np.array([machine.boom.foot_u_m, machine.boom.foot_z_m])
    head = np.array([float(pose.head_u_m), float(pose.head_z_m)])
    block = machine.hook_block(lift.hook_block).height_m
    bend, _ = boom_bend(setup, np.array([radius]))
    room = hook_room(
        float(loaded_head_z_m(setup, bend)[0]),
        base,
        load_height_m=lift.rigging.point_height_m,
        sling_height_m=setup.sling_height_m,
        two_block_distance_m=machine.boom.two_block_clearance_m + block,
    )
    plane = _plane(setup, slew, radius + AHEAD_M)
    turn = np.radians(slew)
    along = np.array([np.cos(turn), np.sin(turn)])
    spacing = (lift.rigging.point_spacing_x_m, lift.rigging.point_spacing_y_m)
    upper = machine.superstructure
    return ElevationData(
        foot_u_m=float(foot[0]),
        foot_z_m=float(foot[1]),
        head_u_m=float(head[0]),
        head_z_m=float(head[1]),
        sheave_u_m=float(pose.sheave_u_m),
        sheave_z_m=float(pose.sheave_z_m),
        boom_length_m=setup.boom.length_m,
        boom_angle_deg=float(pose.boom_angle_deg),
        boom_depth_m=machine.boom.depth_m,
        tail_radius_m=machine.counterweight(lift.counterweight).tail_radius_m,
        superstructure_z_m=(upper.bottom_z_m, upper.top_z_m),
        carrier_half_length_m=float(
            np.abs(np.array([[machine.carrier.front_x_m], [machine.carrier.rear_x_m]]) * along[0])
            .max()
            .clip(machine.carrier.width_m / 2.0)
        ),
        carrier_height_m=machine.carrier.height_m,
        leg_u_m=(setup.leg_xy_m * along).sum(axis=1),
        hook_z_m=float(room.hook_needed_m),
        block_height_m=block,
        load_base_m=base,
        load_height_m=lift.load.height_m,
        load_width_m=max(
            lift.load.length_m + 2 * abs(hung.middle_x_m),
            lift.load.width_m + 2 * abs(hung.middle_y_m),
        ),
        sling_half_spread_m=max(spacing) / 2.0,
        hook_highest_m=float(room.hook_highest_m),
        ground_uz_m=_ground(setup, plane),
        boxes=_boxes(setup, plane),
        lines=_lines(setup, plane),
        bent_uz_m=_bent(setup, radius),
        level_m=lift.stand.level_m,
        beam_half_z_m=None
        if hung.beam_reach_m == 0
        else (hung.beam_reach_m, base + (hung.beam_base_m + hung.beam_top_m) / 2),
        title=title or f"Elevation at {path.describe(k)}",
    )
