"""What all mats put on buried services, slabs and retaining walls, against what these may carry.

Sources: Boussinesq, as in :mod:`liftcalc.ground.pipes`, impact on shallow cover as for traffic;
walls: Terzaghi (1954), point loads summed: :mod:`liftcalc.ground.slopes`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from shapely.geometry import LineString, Polygon

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check
from liftcalc.base.text import amount
from liftcalc.facts.surveyed import BuriedService, RetainingWall
from liftcalc.ground.pipes import ServiceLoad, impact_factor, service_load, slab_force_kN
from liftcalc.ground.slopes import patch_wall_pressure_kPa
from liftcalc.ground.stress import MatsInPlan
from liftcalc.lift.check_rows import check_row
from liftcalc.lift.leg_ground import LegGround, mats_in_plan
from liftcalc.lift.placing import Placing
from liftcalc.lift.setup import Setup


@lru_cache(maxsize=16)
def _wall_parts(place: Placing, wall: RetainingWall, depth_m: tuple[float, ...]) -> tuple[FloatArray, FloatArray]:
    """Places along a wall, and what each mat presses there by 1 kN, shape (4, places, depths).

    Looked for opposite each mat and, since two mats may press most between them, at nine places between neighbours.
    """
    line = LineString(wall.line)
    chainage = np.array([float(line.project(m.centroid)) for m in place.mats])
    own = np.sort(chainage)
    station = np.unique(np.concatenate([own[-1:], *np.linspace(own[:-1], own[1:], 10, False)]))
    depth, parts = np.array(depth_m), []
    for mat, opposite in zip(place.mats, chainage, strict=True):
        low, high = _extents(mat, line)
        parts.append(patch_wall_pressure_kPa(1.0, depth, edge_distance_m=max(low[1], 0.0),
                                             across_m=high[1] - low[1], along_m=high[0] - low[0],
                                             wall_height_m=wall.retained_height_m,
                                             offset_along_m=(station - opposite)[:, None],
                                             wall="yielding" if wall.yielding
                                             else "rigid"))  # fmt: skip
    return station, np.array(parts)


def wall_pressure(place: Placing, forces: FloatArray, wall: RetainingWall) -> tuple[float, float]:
    """Greatest sideways pressure of all mats on a wall, and its depth."""
    depth = np.linspace(0.02, 1.0, 50) * wall.retained_height_m
    total = np.tensordot(forces, _wall_parts(place, wall, tuple(depth.tolist()))[1], 1)
    place_k, depth_k = np.unravel_index(int(np.argmax(total)), total.shape)
    return float(total[place_k, depth_k]), float(depth[depth_k])


def wall_parts_kPa(place: Placing, forces: FloatArray, wall: RetainingWall, depth_m: float) -> tuple[float, FloatArray]:
    """Place along the wall where all mats press most at that depth, and what each presses there."""
    station, of_1_kN = _wall_parts(place, wall, (depth_m,))
    parts = forces[:, None] * of_1_kN[:, :, 0]
    worst = int(np.argmax(parts.sum(axis=0)))
    return float(station[worst]), parts[:, worst]


def _extents(mat: Polygon, line: LineString) -> tuple[tuple[float, float], tuple[float, float]]:
    """Least and greatest (along, across) of a mat, seen from the nearest straight of a line."""
    corners = np.asarray(mat.exterior.coords)[:-1]
    segments = list(zip(line.coords[:-1], line.coords[1:], strict=True))
    a, b = (np.array(p[:2]) for p in min(segments, key=lambda s: float(LineString(s).distance(mat))))
    direction = (b - a) / np.linalg.norm(b - a)
    along = (corners - a) @ direction
    across = (corners - a) @ np.array([-direction[1], direction[0]])
    if across.mean() < 0:
        across = -across
    return (float(along.min()), float(across.min())), (float(along.max()), float(across.max()))


def wall_row(wall: RetainingWall, pressure_kPa: float, depth_m: float) -> Check:
    """Greatest sideways pressure against what the wall may carry; no data where nobody said."""
    limit = wall.allowable_surcharge_kPa
    return check_row("wall", pressure_kPa, limit, part=wall.id, depth=depth_m)


@dataclass(frozen=True, eq=False)
class ServiceUnderMats:
    """One service, its load in every state, and in words what a slab carries as a whole."""

    service: BuriedService
    load: ServiceLoad
    whole_slab: str


def services_under_mats(setup: Setup, legs: Sequence[LegGround],
                        pressure_kPa: FloatArray) -> tuple[ServiceUnderMats, ...]:  # fmt: skip
    """Every buried service under the pressures of all mats, shape (S, 4)."""
    weight = max(layer.unit_weight_kN_m3 for g in legs for layer in g.profile.layers)
    mats = mats_in_plan(setup, legs)
    loads = []
    for service in setup.site.services:
        line = np.array(service.line)
        load = service_load(pressure_kPa, service.crown_depth_m, mats=mats, line_x_m=line[:, 0],
                            line_y_m=line[:, 1], diameter_m=service.width_m,
                            unit_weight_kN_m3=weight,
                            impact=float(impact_factor(service.crown_depth_m)))  # fmt: skip
        words = _slab_words(service, pressure_kPa, mats, weight) if service.kind == "slab" else ""
        loads.append(ServiceUnderMats(service, load, words))
    return tuple(loads)


def _slab_words(slab: BuriedService, pressure_kPa: FloatArray, mats: MatsInPlan, unit_weight_kN_m3: float) -> str:
    """Greatest force on a slab as a whole and its mean stress, piece by piece of its line."""
    most = (0.0, 0.0)
    for a, b in zip(slab.line[:-1], slab.line[1:], strict=True):
        turn = np.arctan2(b[1] - a[1], b[0] - a[0])
        length = float(np.hypot(b[0] - a[0], b[1] - a[1]))
        if not length > 0:
            continue
        to_piece = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        x, y = to_piece @ (np.stack([mats.x_m, mats.y_m], axis=-1) - np.array(a[:2])).T
        orientation_deg = mats.orientation_deg - float(np.degrees(turn))
        turned = MatsInPlan(x, y, mats.length_m, mats.width_m, orientation_deg)
        beside = (-slab.width_m / 2, slab.width_m / 2)
        force = float(slab_force_kN(pressure_kPa, slab.crown_depth_m, mats=turned,
                                    slab_x_m=(0.0, length), slab_y_m=beside,
                                    unit_weight_kN_m3=unit_weight_kN_m3).max())  # fmt: skip
        most = max(most, (force, force / (length * slab.width_m)))
    return (f"{amount(most[0], 'force_kN')} on the slab in all, "
            f"{amount(most[1], 'pressure_kPa')} in the mean, cover included")  # fmt: skip


def service_row(one: ServiceUnderMats) -> Check:
    """Greatest stress on the crown against the owner's limit; no data where nobody stated one."""
    step = int(np.argmax(one.load.total_kPa))
    return check_row("service", float(one.load.total_kPa[step]), one.service.allowable_stress_kPa,
                     part=one.service.id, east=one.load.worst_x_m[step],
                     north=one.load.worst_y_m[step],
                     slab=f"; {one.whole_slab}" if one.whole_slab else "")  # fmt: skip
