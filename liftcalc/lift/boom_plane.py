"""The vertical plane of the boom at one step of the path: boom, hook, load and all that it cuts.

The plane cuts obstacles, lines and ground; geometry of a plane and polygons, no published source. The bent boom is an
estimate (:mod:`liftcalc.crane.boom_bending`) and left out where the method does not hold.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from shapely import LineString, MultiPoint, Point, Polygon
from shapely.geometry.base import BaseGeometry

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError
from liftcalc.clearance.powerline import sagged_line
from liftcalc.crane.boom import boom_pose
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.boom_setting import boom_bend
from liftcalc.lift.path_study import hook_room_at
from liftcalc.lift.placing import ground_level_m
from liftcalc.lift.setup import Setup
from liftcalc.lift.site_obstacles import kept_distance_m

BEHIND_M = 12.0
AHEAD_M = 16.0


@dataclass(frozen=True)
class PlaneBox:
    """An obstacle cut by the plane of the boom."""

    name: str
    u_min_m: float
    u_max_m: float
    z_min_m: float
    z_max_m: float


@dataclass(frozen=True, eq=False)
class BoomPlane:
    """The plane of the boom: u from the slew axis toward the load, z above the stand level."""

    foot_m: FloatArray
    """Boom foot, (u, z); the same for head and sheave."""
    head_m: FloatArray
    sheave_m: FloatArray
    boom_length_m: float
    boom_angle_deg: float
    boom_depth_m: float
    tail_radius_m: float
    superstructure_z_m: tuple[float, float]
    carrier_half_length_m: float
    carrier_height_m: float
    leg_u_m: FloatArray
    hook_z_m: float
    hook_highest_m: float
    block_height_m: float
    load_base_m: float
    load_height_m: float
    load_width_m: float
    sling_half_spread_m: float
    ground_uz_m: FloatArray
    """Ground along the plane as far as levels are surveyed, (n, 2); empty where none are."""
    boxes: tuple[PlaneBox, ...] = ()
    lines: tuple[tuple[str, float, float, float], ...] = ()
    """Overhead lines cut by the plane: name, u, z, distance to keep. [m]"""
    bent_uz_m: FloatArray | None = None
    """Axis of the bent boom, (n, 2), an estimate."""
    beam_half_z_m: tuple[float, float] | None = None
    """Half length of a beam under the hook, and its height. [m]"""
    place: str = ""
    """Where on the path, in words."""
    upper_m: tuple[float, float] | None = None
    """Rear and front of the superstructure, along u. [m]"""
    counterweight_m: tuple[float, float, float, float] | None = None
    """Rear, front, underside and top of the counterweight, drawn evenly about its cg. [m]"""
    mats_m: tuple[tuple[float, float], ...] = ()
    """Ends of each mat along u, in the order of the outriggers. [m]"""
    mat_thickness_m: float = 0.0
    float_m: float = 0.5
    rests: str = ""
    """Where the load still stands, "pick" or "set-down"; empty while it hangs."""


def _unit(turn_deg: float) -> FloatArray:
    a = np.radians(turn_deg)
    return np.array([np.cos(a), np.sin(a)])


def _parts(shape: BaseGeometry, kind: type[BaseGeometry]) -> list[BaseGeometry]:
    return [g for g in getattr(shape, "geoms", [shape]) if isinstance(g, kind) and not g.is_empty]


def _boxes(setup: Setup, plane: LineString) -> tuple[PlaneBox, ...]:
    stand = setup.lift.stand.level_m
    boxes = []
    for thing in setup.site.obstacles:
        for part in _parts(plane.intersection(Polygon(thing.polygon)), LineString):
            ends = sorted(plane.project(Point(p[:2])) - BEHIND_M for p in part.coords)
            boxes.append(PlaneBox(thing.id, ends[0], ends[-1], thing.base_level_m - stand, thing.top_level_m - stand))
    return tuple(boxes)


def _lines(setup: Setup, plane: LineString) -> tuple[tuple[str, float, float, float], ...]:
    stand = setup.lift.stand.level_m
    cuts = []
    for line in setup.site.overhead_lines:
        points = sagged_line(np.array(line.points), sag_m=line.sag_m).points_m
        keep = kept_distance_m(line, setup.rules, persons=setup.lift.persons) or 0.0
        known = line.voltage_kV is not None
        name = f"{line.id}, {line.voltage_kV:g} kV" if known else f"{line.id}, voltage unknown"
        for a, b in pairwise(points):
            cut = plane.intersection(LineString([a[:2], b[:2]]))
            if not isinstance(cut, Point) or cut.is_empty:
                continue
            share = np.hypot(cut.x - a[0], cut.y - a[1]) / max(np.hypot(*(b - a)[:2]), 1e-9)
            level = float(a[2] + share * (b[2] - a[2]))
            cuts.append((name, float(plane.project(cut)) - BEHIND_M, level - stand, keep))
    return tuple(cuts)


def _ground(setup: Setup, plane: LineString) -> FloatArray:
    levels = setup.site.levels
    hull = MultiPoint([(s.easting_m, s.northing_m) for s in levels]).convex_hull.buffer(-1e-6)
    known = _parts(plane.intersection(hull), LineString)
    if not known:
        return np.zeros((0, 2))  # nothing is invented where nothing was surveyed
    part = known[0]
    way = np.linspace(0.0, part.length, max(2, int(part.length / 0.5)))
    points = np.array([part.interpolate(s).coords[0] for s in way])
    level = ground_level_m(setup.site, points[:, 0], points[:, 1]) - setup.lift.stand.level_m
    start = plane.project(Point(part.coords[0][:2])) - BEHIND_M
    return np.column_stack([start + way, level])


def _bent(setup: Setup, radius_m: float) -> FloatArray | None:
    bend, problem = boom_bend(setup, np.array([radius_m]))
    if problem or setup.boom.bending_stiffness_kNm2 is None:
        return None  # no estimate: nothing is drawn
    t = np.linspace(0.0, 1.0, 25)[:, None]
    along = _unit(float(bend.chord_deg[0]))
    square = np.array([-along[1], along[0]])
    bow = t * (1.0 - 1.5 * t + 0.5 * t * t)  # of a cantilever under an end force, above its chord
    foot = np.array([setup.machine.boom.foot_u_m, setup.machine.boom.foot_z_m])
    return np.asarray(foot + t * bend.chord_m * along + bow * bend.tip_m * square)


def _counterweight(setup: Setup) -> tuple[float, float, float, float] | None:
    weight = setup.machine.counterweight(setup.lift.counterweight)
    if not weight.mass_t > 0.0:
        return None
    rear, under = -weight.tail_radius_m, setup.machine.superstructure.bottom_z_m
    return rear, 2.0 * weight.cg_u_m - rear, under, max(2.0 * weight.cg_z_m - under, under + 0.1)


def _mats(assessment: LiftAssessment, bearing_deg: float) -> tuple[tuple[float, float], ...]:
    """Ends of each mat along the plane."""
    stand, along = assessment.setup.lift.stand, _unit(bearing_deg)
    place, rings = [stand.easting_m, stand.northing_m], (m.exterior for m in assessment.place.mats)
    ways = [(np.asarray(ring.coords)[:, :2] - place) @ along for ring in rings]
    return tuple((float(way.min()), float(way.max())) for way in ways)


def boom_plane(assessment: LiftAssessment, *, step: int | None = None) -> BoomPlane:
    """The plane of the boom at a step of the path; the governing step if left out.

    Raises: A step that the path does not have.
    """
    setup, path = assessment.setup, assessment.path
    k = assessment.study.governing_step if step is None else step
    if not 0 <= k < len(path):
        raise InputError.of("step", k, f"0 to {len(path) - 1}")
    machine, lift, hung = setup.machine, setup.lift, setup.hung
    boom, upper, load = machine.boom, machine.superstructure, lift.load
    slew, radius = float(path.slew_deg[k]), float(path.radius_m[k])
    base = float(path.level_m[k]) - lift.stand.level_m
    pose = boom_pose(setup.boom.length_m, radius, foot_u_m=boom.foot_u_m, foot_z_m=boom.foot_z_m,
                     head_offset_m=boom.head_offset_m)  # fmt: skip
    room = hook_room_at(setup, path.radius_m[[k]], path.level_m[[k]])
    # in plan, from behind the machine to beyond the load
    ends = np.array([[-BEHIND_M], [radius + AHEAD_M]]) * _unit(slew + lift.stand.heading_deg)
    plane = LineString(np.array([lift.stand.easting_m, lift.stand.northing_m]) + ends)
    along, carrier = _unit(slew), machine.carrier
    carrier_ends = [abs(x * float(along[0])) for x in (carrier.front_x_m, carrier.rear_x_m)]
    across = (load.length_m + 2 * abs(hung.middle_x_m), load.width_m + 2 * abs(hung.middle_y_m))
    beam = (hung.beam_reach_m, base + (hung.beam_base_m + hung.beam_top_m) / 2)
    return BoomPlane(
        foot_m=np.array([boom.foot_u_m, boom.foot_z_m]),
        head_m=np.array([float(pose.head_u_m), float(pose.head_z_m)]),
        sheave_m=np.array([float(pose.sheave_u_m), float(pose.sheave_z_m)]),
        boom_length_m=setup.boom.length_m, boom_angle_deg=float(pose.boom_angle_deg), boom_depth_m=boom.depth_m,
        tail_radius_m=machine.counterweight(lift.counterweight).tail_radius_m,
        superstructure_z_m=(upper.bottom_z_m, upper.top_z_m),
        carrier_half_length_m=max(*carrier_ends, carrier.width_m / 2.0),
        carrier_height_m=carrier.height_m, leg_u_m=(setup.leg_xy_m * along).sum(axis=1),
        hook_z_m=room.hook_needed_m.item(), hook_highest_m=room.hook_highest_m.item(),
        block_height_m=setup.hook_block.height_m, load_base_m=base, load_height_m=load.height_m,
        load_width_m=max(across),
        sling_half_spread_m=max(lift.rigging.point_spacing_x_m, lift.rigging.point_spacing_y_m) / 2,
        ground_uz_m=_ground(setup, plane), boxes=_boxes(setup, plane), lines=_lines(setup, plane),
        bent_uz_m=_bent(setup, radius), beam_half_z_m=None if hung.beam_reach_m == 0 else beam, place=path.describe(k),
        upper_m=(-upper.tail_radius_m, upper.width_m / 2.0), counterweight_m=_counterweight(setup),
        mats_m=_mats(assessment, slew + lift.stand.heading_deg),
        mat_thickness_m=setup.mat.thickness_m, float_m=machine.legs[0].float_length_m,
        rests="pick" if k == 0 else "set-down" if k == len(path) - 1 else "",
    )  # fmt: skip
