"""Where two machines' load, ropes and booms may be, as bodies that enclose every state of them.

The load is rigid and hangs at two lifting points. Whatever the lines do, a point of the line through both moves by (1 -
t) d1 + t d2, where d1 and d2 are the movements of the lifting points and t runs from 0 at the first to 1 at the second,
beyond them at the load's ends. Each lifting point may be off its place in plan by its line's length times the tangent
of its lean, any way: out of plumb as stated or as the other line pulls it, swung by wind and by slewing; up or down by
the level error, and up as a pendulum rises. The rest of the load turns about that line with it, and rolls as far as its
centre of gravity may lie beside it and as it swings. The load is cut into slices across, each an upright prism that
encloses all of this: no distance is more than the true one in any such state.

Geometry and statics; no published source. The superstructure is taken as a disc of the tail's
swing radius, since the machine data state no other outline of it.
"""

import dataclasses
from dataclasses import dataclass

import numpy as np
import shapely

from liftcalc.base.arrays import FloatArray
from liftcalc.base.units import G_M_S2
from liftcalc.clearance.bodies import MovingMember, MovingPrism
from liftcalc.clearance.members import Moving
from liftcalc.clearance.solids import Prism, member_prism_distance_m, segment_segment_distance_m
from liftcalc.facts.tandem import TandemLift
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.hanging import CG_ERROR_SHARE
from liftcalc.lift.placing import leg_beams
from liftcalc.lift.tandem import TandemAssessment, line_length_m, lug_level_m
from liftcalc.lift.wind_checks import MOST_SWING_DEG, swing_deg, wind_terms

Body = MovingMember | MovingPrism
SLICES = 10
_OWN = ("boom", "load", "counterweight tail", "carrier")
_BELOW_M = 3.0
"""How far below the stand the prisms of legs and mats start: below anything that is carried."""


@dataclass(frozen=True, eq=False)
class Sway:
    """How far both lines and the load may be off their place; last axis machine 1, machine 2."""

    stated_deg: FloatArray
    """Line out of plumb as stated or as the other line pulls it, shape (2,)."""
    wind_deg: FloatArray
    """Line out of plumb by wind, its least share resisting, shape (2,)."""
    lean_deg: FloatArray
    """All together with slewing, shape (2,)."""
    off_m: FloatArray
    """Lifting point off its place in plan at every step, shape (N, 2)."""
    rise_m: FloatArray
    """Lifting point higher as it swings, shape (N, 2)."""
    gear_off_m: FloatArray
    """The part of *off_m* that the swing of each machine's own rope does not hold, (N, 2)."""
    stated_off_m: FloatArray
    """The part of *off_m* that boom head or load may be off, lines as stated, shape (N, 2)."""
    tilt_deg: float
    """Of the load along, by the level error."""
    roll_deg: float
    """Of the load about the line of its lifting points, centre of gravity off across."""


def _roll_deg(a: TandemAssessment) -> float:
    """90 where the load may turn over."""
    load, (one, two) = a.tandem.load, a.tandem.lug_distance_m
    pivot = []
    for above, m in zip(a.tandem.lug_above_cg_m, a.plumb, strict=True):
        choice = m.setup.lift.rigging
        paired = choice.sling_legs > 1 and choice.point_spacing_y_m > 0
        # slings spread across hold the load, which then rolls about the hook
        pivot.append(above + (m.setup.sling_height_m if paired else 0.0))
    arm = (pivot[0] * two + pivot[1] * one) / (one + two)
    across, up = (
        CG_ERROR_SHARE * size if error is None else error
        for error, size in ((load.cg_error_y_m, load.width_m), (load.cg_error_z_m, load.height_m))
    )
    arm -= up
    return float(np.degrees(np.arctan2(across, arm))) if arm > 1e-6 else 90.0


def sway_of(a: TandemAssessment) -> Sway:
    """Sway of both lines and the load along the way."""
    tandem = a.tandem
    lug = lug_level_m(tandem)
    wind, turns, total, length = [], [], [], []
    for k, m in enumerate(a.plumb):
        boom = m.study.boom
        force = float(wind_terms(m.setup, boom).load_force_kN.max())
        wind.append(np.degrees(np.arctan2(force, float(a.shares.min_share_t[k]) * G_M_S2)))
        turn = swing_deg(m.setup, m.path, boom)
        turns.append(turn)
        total.append(a.shares.max_out_of_plumb_deg[k] + wind[-1] + turn)
        line = line_length_m(m.setup, m.path.level_m + lug, m.path.radius_m)
        length.append(np.maximum(line, 0.0))
    lean = np.minimum(np.array(total), MOST_SWING_DEG)
    line = np.stack(length, axis=-1)
    rise = line * (1.0 - np.cos(np.radians(lean)))
    apart = sum(tandem.lug_distance_m)
    up = tandem.lug_above_cg_m[1] - tandem.lug_above_cg_m[0]
    differ = tandem.level_error_m + float(np.abs(rise[:, 0] - rise[:, 1]).max())
    reach = np.hypot(apart, up)
    turned = np.arcsin(np.clip((up + np.array([differ, -differ])) / reach, -1.0, 1.0))
    tilt = float(np.degrees(np.abs(turned - np.arcsin(up / reach)).max()))
    off = line * np.tan(np.radians(lean))
    return Sway(stated_deg=a.shares.max_out_of_plumb_deg, wind_deg=np.array(wind), lean_deg=lean,
                off_m=off, rise_m=rise,
                gear_off_m=np.maximum(off - line * np.tan(np.radians(turns)), 0.0),
                stated_off_m=line * np.tan(np.radians(a.shares.max_out_of_plumb_deg)),
                tilt_deg=tilt, roll_deg=_roll_deg(a))  # fmt: skip


def _box(a: TandemAssessment, start_m: float, end_m: float) -> FloatArray:
    """Plan corners of the load between two places along it from its middle, shape (N, 4, 2)."""
    tandem, along = a.tandem, a.way.along()
    across = np.stack([-along[:, 1], along[:, 0]], axis=-1)
    # middle of the lifting points is the middle of the box
    shift = (tandem.lug_distance_m[1] - tandem.lug_distance_m[0]) / 2
    middle = np.stack([a.way.east_m, a.way.north_m], axis=-1) + shift * along
    side = tandem.load.width_m / 2
    corners = (end_m, side), (start_m, side), (start_m, -side), (end_m, -side)
    return np.stack([middle + u * along + v * across for u, v in corners], axis=1)


def load_body(a: TandemAssessment) -> MovingPrism:
    """The load at every step as planned: level, lines plumb."""
    level, half = a.way.level_m, a.tandem.load.length_m / 2
    top = level + a.tandem.load.height_m
    return MovingPrism("load", _box(a, -half, half), level, top, np.zeros(len(level)))


def _turned_m(tandem: TandemLift, sway: Sway, yaw: FloatArray) -> tuple[FloatArray, FloatArray]:
    """How far the load's corners move in plan and in height as its section turns with it."""
    wide = tandem.load.width_m / 2
    high = max(
        abs(end - lug) for end in (-tandem.load.height_m / 2, tandem.load.height_m / 2) for lug in tandem.lug_above_cg_m
    )
    roll = np.radians(min(sway.roll_deg + float(sway.lean_deg.max()), 90.0))
    tilt = np.radians(sway.tilt_deg)
    sr, cr, st, ct = np.sin(roll), 1 - np.cos(roll), np.sin(tilt), 1 - np.cos(tilt)
    rolled = wide * sr + high  # height of a corner over the line, rolled
    plan = wide * cr + high * sr + rolled * st
    plan = plan + 2.0 * np.sin(yaw / 2.0) * (wide + high * sr + rolled * st)
    height = wide * sr + high * cr + rolled * ct
    return plan, np.full(yaw.shape, height)


def load_bodies(a: TandemAssessment, sway: Sway) -> tuple[MovingPrism, ...]:
    """Slices of the load, each enclosing every state of it; all named load."""
    tandem = a.tandem
    apart = sum(tandem.lug_distance_m)
    turn = np.clip(sway.off_m.sum(axis=1) / (apart * np.cos(np.radians(sway.tilt_deg))), 0.0, 1.0)
    plan, height = _turned_m(tandem, sway, np.arcsin(turn))
    half = tandem.load.length_m / 2
    cuts = np.linspace(-half, half, SLICES + 1)
    off, rise, level = sway.off_m, sway.rise_m, a.way.level_m
    out = []
    for start, end in zip(cuts[:-1].tolist(), cuts[1:].tolist(), strict=True):
        spread, down, up = (np.zeros(len(level)) for _ in range(3))
        for x in (start, end):  # each grows away from the lifting points: greatest at an end
            t = 0.5 + x / apart
            one, two = abs(1.0 - t), abs(t)
            error = tandem.level_error_m * max(one, two)
            spread = np.maximum(spread, one * off[:, 0] + two * off[:, 1])
            up = np.maximum(up, error + one * rise[:, 0] + two * rise[:, 1])
            lower = max(t - 1.0, 0.0) * rise[:, 0] + max(-t, 0.0) * rise[:, 1]
            down = np.maximum(down, error + lower)
        top = level + tandem.load.height_m + up + height
        out.append(MovingPrism("load", _box(a, start, end), level - down - height, top, spread + plan))
    return tuple(out)


def gear_bodies(a: TandemAssessment, machine: int, sway: Sway) -> tuple[Body, ...]:
    """Rope, hook and slings of one machine, as far out of plumb and level as they may be."""
    off, error = sway.gear_off_m[:, machine], a.tandem.level_error_m
    out: list[Body] = []
    for body in a.plumb[machine].surroundings.bodies:
        if body.name in _OWN:
            continue
        if isinstance(body, MovingMember):
            low = body.start_m - np.array([0.0, 0.0, error])
            wide = body.half_width_m + off
            out.append(dataclasses.replace(body, start_m=low, half_width_m=wide))
        else:
            top = body.top_m + error + sway.rise_m[:, machine]
            out.append(dataclasses.replace(body, base_m=body.base_m - error, top_m=top, spread_m=body.spread_m + off))
    return tuple(out)


def boom_bodies(a: TandemAssessment, machine: int, sway: Sway) -> tuple[MovingMember, ...]:
    """The boom in parts, each as wide as its head may be off its place over the load."""
    out = []
    for body in a.plumb[machine].surroundings.bodies:
        if not isinstance(body, MovingMember) or body.name != "boom":
            continue
        cuts = np.linspace(0.0, 1.0, 5)
        for f, g in zip(cuts[:-1].tolist(), cuts[1:].tolist(), strict=True):
            way = body.end_m - body.start_m
            wide = body.half_width_m + g * sway.stated_off_m[:, machine]
            start, end = body.start_m + f * way, body.start_m + g * way
            out.append(MovingMember(body.name, start, end, wide))
    return tuple(out)


def machine_parts(m: LiftAssessment, machine: int) -> list[tuple[str, Prism]]:
    """What of a machine stays where it is while it lifts, and the circle its body slews in."""
    setup, stand = m.setup, m.setup.lift.stand
    shape, level = setup.shape, stand.level_m
    carrier = next(b for b in m.surroundings.bodies if b.name == "carrier")
    assert isinstance(carrier, MovingPrism)
    name = f"machine {machine + 1}"
    around = np.radians(np.arange(32) * 360.0 / 32)
    reach = shape.tail_radius_m / np.cos(np.pi / 32)
    ring = reach * np.stack([np.cos(around), np.sin(around)], axis=-1)
    centre = np.array([stand.easting_m, stand.northing_m])
    deck = level + shape.carrier_top_m
    upper = Prism(centre + ring, level + shape.tail_base_m, level + shape.tail_top_m)
    parts = [(f"{name}, carrier", Prism(carrier.corners_m[0], level - _BELOW_M, deck)),
             (f"{name}, superstructure", upper)]  # fmt: skip
    top = float(m.place.level_m.max()) + setup.mat.thickness_m
    for leg, beam, mat in zip(setup.machine.legs, leg_beams(setup), m.place.mats, strict=True):
        wide = max(leg.float_length_m, leg.float_width_m) / 2
        outline = beam.buffer(wide, cap_style="square")
        for what, polygon, high in ((f"outrigger {leg.name}", outline, deck), ("mat", mat, top)):
            ring = np.asarray(polygon.exterior.coords)[:-1]
            parts.append((f"{name}, {what}", Prism(ring, level - _BELOW_M, max(high, level))))
    return parts


def _axis_m(body: Body) -> tuple[FloatArray, FloatArray, FloatArray] | None:
    """Ends and radius of a body that is a round member or an upright cylinder, else None."""
    if isinstance(body, MovingMember):
        return body.start_m, body.end_m, body.half_width_m
    if body.corners_m.shape[1] > 1:
        return None
    low, high = (np.column_stack([body.corners_m[:, 0], z]) for z in (body.base_m, body.top_m))
    return low, high, body.spread_m


def apart_m(one: Body, other: Body) -> FloatArray:
    """Least distance of two moving bodies at every step, less what they move between steps.

    What spreads a prism's plan counts in every direction, which is never farther than the truth.
    """
    a, b = _axis_m(one), _axis_m(other)
    if a is None and b is not None:
        return apart_m(other, one)
    if a is not None and b is not None:
        gap = segment_segment_distance_m(a[0], a[1], start_b_m=b[0], end_b_m=b[1]) - a[2] - b[2]
    else:
        assert isinstance(other, MovingPrism)
        if a is not None:
            found = member_prism_distance_m(a[0], a[1], other.corners_m, other.base_m, other.top_m)
            gap = found[0] - a[2] - other.spread_m
        else:
            assert isinstance(one, MovingPrism)
            plan = shapely.distance(shapely.polygons(one.corners_m), shapely.polygons(other.corners_m))
            plan = np.maximum(plan - one.spread_m - other.spread_m, 0.0)
            apart = np.maximum(one.base_m - other.top_m, other.base_m - one.top_m)
            gap = np.hypot(plan, np.maximum(apart, 0.0))
    if len(gap) > 1:
        gap = gap - sum(float(Moving(body).whole_m.max()) for body in (one, other)) / 2.0
    return np.asarray(np.maximum(gap, 0.0))
