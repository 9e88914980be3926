"""What moves in a lift, as bodies in the site frame: boom, jib, rope, rigging, load, tail, carrier.

Model
-----
Boom and jib are straight members of round section (give half the diagonal of the real section,
so that the model encloses it). The load is an upright box. Held by tag lines it keeps its angle;
left free it is the upright cylinder about the hoist line that encloses every turning of the box,
whose middle lies off that line where its centre of gravity does, and every tilt of it. Wind swings
it by a stated angle in any direction, which spreads its plan by L tan(swing), L being the length
from the head to the load's underside, and moves its corners up and down
(:mod:`liftcalc.clearance.hung`).
The rigging is an upright prism from the load's top to the hook over the load's plan, which encloses
the slings; a beam that is longer spreads it, from the lower ends of its slings up. The hook block
is an upright cylinder. The counterweight tail and the carrier are upright prisms.

Coordinates: site frame (easting, northing, level); heading of the machine's +x anticlockwise from
east; slew anticlockwise from +x. Heights are above the stand level under the slew centre.

Sources: geometry only. Deflection of the boom is not modelled here: pass the deflected radius.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import (
    InputError,
    Problem,
    require_between,
    require_finite,
    require_positive,
)
from liftcalc.clearance.hung import HungLoad, swing_dip_m, swing_rise_m
from liftcalc.clearance.solids import member_rings_m

__all__ = [
    "CraneShape",
    "HungLoad",
    "MovingMember",
    "MovingPrism",
    "crane_bodies",
    "load_to_boom_m",
    "tail_outline_m",
]


@dataclass(frozen=True, eq=False)
class MovingMember:
    """A straight member of round section at every step of a path.

    Parameters:
      name: str
      start_m, end_m: ndarray, shape (n, 3). Ends of the axis at each step, site frame. [m]
      half_width_m: ndarray, shape (n,). Radius of the section that encloses the member. [m]
    """

    name: str
    start_m: FloatArray
    end_m: FloatArray
    half_width_m: FloatArray


@dataclass(frozen=True, eq=False)
class MovingPrism:
    """An upright prism that moves rigidly in plan, at every step of a path.

    Parameters:
      name: str
      corners_m: ndarray, shape (n, k, 2). Plan corners at each step, anticlockwise (k = 1: a point
        that *spread_m* makes a cylinder). [m]
      base_m, top_m: ndarray, shape (n,). Levels. [m]
      spread_m: ndarray, shape (n,). Distance by which the plan is spread on every side. [m]
    """

    name: str
    corners_m: FloatArray
    base_m: FloatArray
    top_m: FloatArray
    spread_m: FloatArray

    def outline_m(self, step: NDArray[np.int64] | None = None, *, facets: int = 16) -> FloatArray:
        """Convex outline that encloses the spread plan, shape (n, k + facets, 2). [m]

        For the steps given, or for all.

        The spread is a regular polygon drawn around the circle, so the outline is outside the
        true one by at most ``spread_m * (1 / cos(pi / facets) - 1)``, on the safe side. Needs a
        convex plan.
        """
        corners = self.corners_m if step is None else self.corners_m[step]
        spread = self.spread_m if step is None else self.spread_m[step]
        k = corners.shape[1]
        first = corners[0]
        if k == 1:
            edge_angle = np.zeros(0)
            base_angle = np.zeros(len(corners))
        else:
            edge = np.roll(first, -1, axis=0) - first
            edge_angle = np.arctan2(edge[:, 1], edge[:, 0])
            along = corners[:, 1] - corners[:, 0]
            base_angle = np.arctan2(along[:, 1], along[:, 0])
            edge_angle = np.mod(edge_angle - base_angle[0] + 1e-9, 2.0 * np.pi)
        tangent = (np.arange(facets) + 0.5) * 2.0 * np.pi / facets
        order = np.argsort(np.concatenate([edge_angle, tangent]), kind="stable")
        corner, facet = 0, 0
        corner_of, facet_of = [], []
        for item in order:
            corner_of.append(corner % k)
            facet_of.append(facet % facets)
            if item < edge_angle.size:
                corner = int(item) + 1
            else:
                facet = int(item) - edge_angle.size + 1
        # facet j lies between tangents j - 1 and j; its vertex points half a facet clockwise
        # of the direction square to tangent j
        vertex_angle = tangent[facet_of] - np.pi / 2.0 - np.pi / facets + base_angle[:, None]
        reach = spread[:, None] / np.cos(np.pi / facets)
        vertex = np.stack([np.cos(vertex_angle), np.sin(vertex_angle)], axis=-1)
        return np.asarray(corners[:, corner_of] + reach[..., None] * vertex)


@dataclass(frozen=True)
class CraneShape:
    """Outer shape of a machine, for clearances only.

    Parameters:
      boom_foot_x_m, boom_foot_z_m: Boom foot pin in the superstructure's frame (x toward the head).
        [m]
      boom_half_width_m, jib_half_width_m, rope_half_width_m: Half the diagonal of the greatest
        section; half the width of the rope bundle. [m]
      tail_outline_m: Plan corners of counterweight and rear superstructure, superstructure frame,
        convex. [m]
      tail_base_m, tail_top_m: Heights above the stand. [m]
      carrier_outline_m: Plan corners of the carrier, machine frame, convex. [m]
      carrier_base_m, carrier_top_m: Heights above the stand. [m]
    """

    boom_foot_x_m: float
    boom_foot_z_m: float
    boom_half_width_m: float
    tail_outline_m: tuple[tuple[float, float], ...]
    tail_base_m: float
    tail_top_m: float
    carrier_outline_m: tuple[tuple[float, float], ...]
    carrier_base_m: float
    carrier_top_m: float
    jib_half_width_m: float = 0.0
    rope_half_width_m: float = 0.1

    def __post_init__(self) -> None:
        problems: list[Problem] = []
        for name in ("boom_foot_x_m", "boom_foot_z_m", "tail_base_m", "carrier_base_m"):
            if not np.isfinite(getattr(self, name)):
                problems.append(Problem(name, getattr(self, name), "a finite number"))
        for name in ("boom_half_width_m", "jib_half_width_m", "rope_half_width_m"):
            value = getattr(self, name)
            if not (value >= 0 and np.isfinite(value)):
                problems.append(Problem(name, value, "0 or greater"))
        for part in ("tail", "carrier"):
            outline = np.asarray(getattr(self, f"{part}_outline_m"), dtype=float)
            if outline.ndim != 2 or outline.shape[1] != 2 or len(outline) < 3:
                problems.append(
                    Problem(f"{part}_outline_m", outline.tolist(), "three corners or more")
                )
            elif not _is_convex(outline):
                problems.append(Problem(f"{part}_outline_m", outline.tolist(), "a convex outline"))
            base, top = getattr(self, f"{part}_base_m"), getattr(self, f"{part}_top_m")
            if not top > base:
                problems.append(Problem(f"{part}_top_m", top, f"above {part}_base_m, {base}"))
        if problems:
            raise InputError(problems, source="crane shape")

    @property
    def tail_radius_m(self) -> float:
        """Greatest distance of the tail from the slew axis. [m]"""
        return float(np.max(np.hypot(*np.asarray(self.tail_outline_m).T)))


def tail_outline_m(
    tail_radius_m: float, tail_width_m: float, *, front_m: float = 0.5, chords: int = 8
) -> tuple[tuple[float, float], ...]:
    """Plan of a rounded counterweight tail, superstructure frame, drawn around its arc.

    A rectangle whose rear corners lie on the tail radius leaves out what a rounded tail has behind
    their chord; where the maker states only the radius, take the arc.

    Parameters:
      tail_radius_m: float, > 0. Tail swing radius: no part of the tail is farther from the slew
        axis. [m]
      tail_width_m: float, > 0, at most twice the radius
      front_m: float. How far forward of the slew axis the plan reaches. [m]
      chords: int, >= 2. Chords along the rear arc; its corners lie outside it, by at most
        ``tail_radius_m * (1 / cos(a) - 1)``, a being half the angle of one chord.
    Returns: tuple of (x, y), anticlockwise, convex
    Raises: Fewer than two chords; a front behind the rear corners.
    """
    radius = float(require_positive("tail_radius_m", tail_radius_m))
    width = float(require_between("tail_width_m", tail_width_m, 1e-6, 2.0 * radius))
    front = float(require_finite("front_m", front_m))
    if chords < 2:
        raise InputError.of("chords", chords, "2 or more")
    half = float(np.arcsin(width / (2.0 * radius)))
    if not front > -radius * np.cos(half):
        raise InputError.of("front_m", front_m, "in front of the rear corners")
    step = half / chords
    # tangents to the arc at the chords' middles meet at these corners, outside the arc
    angle = np.pi + np.linspace(-half, half, chords + 1)
    tangent = angle[:-1] + step
    inner = tangent[:-1] + step
    reach = radius / np.cos(step)
    rear = [(reach * np.cos(a), reach * np.sin(a)) for a in inner]
    y = width / 2.0
    # where the first and last tangent meet the sides of the tail
    side = [(radius - abs(np.sin(a)) * y) / np.cos(a) for a in (tangent[0], tangent[-1])]
    outline = [(front, y), (side[0], y), *rear, (side[1], -y), (front, -y)]
    return tuple((float(px), float(py)) for px, py in outline)


def _is_convex(outline: FloatArray) -> bool:
    step = np.roll(outline, -1, axis=0) - outline
    after = np.roll(step, -1, axis=0)
    turn = step[:, 0] * after[:, 1] - step[:, 1] * after[:, 0]
    return bool(np.all(turn > -1e-9) or np.all(turn < 1e-9)) and bool(np.any(np.abs(turn) > 1e-9))


def _placed(
    outline: Sequence[tuple[float, float]], east: FloatArray, north: FloatArray, angle: FloatArray
) -> FloatArray:
    """Plan outline turned by angle [rad] and moved, shape (n, k, 2), anticlockwise.

    In memory each corner's path lies in one piece, as the search for clearances takes it.
    """
    x, y = np.asarray(outline, dtype=np.float64).T
    if x[:-1] @ y[1:] - x[1:] @ y[:-1] + x[-1] * y[0] - x[0] * y[-1] < 0:
        x, y = x[::-1], y[::-1]
    x, y = x[:, None], y[:, None]
    c, s = np.cos(angle), np.sin(angle)
    placed = np.empty((2, len(x), len(c)))
    np.subtract(east + c * x, s * y, out=placed[0])
    np.add(north + s * x, c * y, out=placed[1])
    return placed.transpose(2, 1, 0)


def crane_bodies(
    shape: CraneShape,
    load: HungLoad | None,
    *,
    easting_m: ArrayLike,
    northing_m: ArrayLike,
    level_m: ArrayLike,
    heading_deg: ArrayLike,
    slew_deg: ArrayLike,
    radius_m: ArrayLike,
    head_height_m: ArrayLike,
    load_base_height_m: ArrayLike = 0.0,
    load_yaw_deg: ArrayLike = 0.0,
    yaw_from: Literal["boom", "east"] = "boom",
    jib_start_radius_m: ArrayLike | None = None,
    jib_start_height_m: ArrayLike | None = None,
    parts: Literal["all", "boom and load"] = "all",
) -> tuple[MovingMember | MovingPrism, ...]:
    """Bodies of machine and load at every step of a path.

    Parameters:
      shape: CraneShape
      load: HungLoad or None. None: nothing on the hook; then rope and block are left out as well.
      easting_m, northing_m, level_m: array_like, shape (n,) or (). Slew centre on the ground. [m]
      heading_deg, slew_deg: array_like, shape (n,) or (). Heading of +x from east, and slew from
        +x, both anticlockwise. [deg]
      radius_m: array_like, shape (n,) or (), > 0. Slew axis to hook, loaded. [m]
      head_height_m: array_like, shape (n,) or (). Head sheave (jib tip with a jib) above the stand.
        [m]
      load_base_height_m: array_like, shape (n,) or (). Underside of the load above the stand. [m]
      load_yaw_deg, yaw_from: Angle of the load's length, from the boom or from east (a load that
        keeps its bearing while the boom slews). [deg]
      jib_start_radius_m, jib_start_height_m: array_like, shape (n,) or (), optional. Boom head
        where a jib starts. [m]
      parts: {"all", "boom and load"}. All bodies, or none of those that stand behind and below the
        boom: tail and carrier.
    Returns: tuple of MovingMember and MovingPrism, in the order boom, jib, hoist rope, hook block
      (where it has a width), rigging, load, counterweight tail, carrier.
    Raises: Not finite, radius not above 0, or a head that is not above hook and load.
    """
    if parts not in ("all", "boom and load"):
        raise InputError.of("parts", parts, "all, boom and load")
    east, north, level, heading, slew, radius, head, base, yaw = np.broadcast_arrays(
        *(
            np.atleast_1d(a)
            for a in (
                require_finite("easting_m", easting_m),
                require_finite("northing_m", northing_m),
                require_finite("level_m", level_m),
                require_finite("heading_deg", heading_deg),
                require_finite("slew_deg", slew_deg),
                require_positive("radius_m", radius_m),
                require_finite("head_height_m", head_height_m),
                require_finite("load_base_height_m", load_base_height_m),
                require_finite("load_yaw_deg", load_yaw_deg),
            )
        )
    )
    n = east.shape[0]
    ahead = np.radians(heading + slew)
    cos, sin = np.cos(ahead), np.sin(ahead)

    def at(r: FloatArray | float, z: FloatArray | float) -> FloatArray:
        place = np.empty((3, n))
        place[0], place[1], place[2] = east + r * cos, north + r * sin, level + z
        return place.T

    tip = at(radius, head)
    foot = at(shape.boom_foot_x_m, shape.boom_foot_z_m)
    bodies: list[MovingMember | MovingPrism] = []
    if jib_start_radius_m is None and jib_start_height_m is None:
        bodies.append(MovingMember("boom", foot, tip, np.full(n, shape.boom_half_width_m)))
    elif jib_start_radius_m is None or jib_start_height_m is None:
        raise InputError.of("jib_start_radius_m", jib_start_radius_m, "given with its height")
    else:
        knee = at(
            require_finite("jib_start_radius_m", jib_start_radius_m),
            require_finite("jib_start_height_m", jib_start_height_m),
        )
        bodies.append(MovingMember("boom", foot, knee, np.full(n, shape.boom_half_width_m)))
        bodies.append(MovingMember("jib", knee, tip, np.full(n, shape.jib_half_width_m)))
    if load is not None:
        hang = head - base
        slack = hang - load.height_m - load.gear_height_m
        if not np.all(slack >= 0):
            worst = int(np.argmin(slack))
            raise InputError.of(
                "head_height_m",
                float(head[worst]),
                f"at least {float(base[worst]) + load.height_m + load.gear_height_m:.3f} m, "
                f"load, rigging and hook under the head (step {worst})",
                "Raise the boom, lengthen it or shorten the rigging.",
            )
        bodies += _hung_bodies(shape, load, tip, level + base, yaw, ahead, yaw_from)
    if parts == "boom and load":
        return tuple(bodies)
    zero = np.zeros(n)
    bodies.append(
        MovingPrism(
            "counterweight tail",
            _placed(shape.tail_outline_m, east, north, ahead),
            level + shape.tail_base_m,
            level + shape.tail_top_m,
            zero,
        )
    )
    bodies.append(
        MovingPrism(
            "carrier",
            _placed(shape.carrier_outline_m, east, north, np.radians(heading)),
            level + shape.carrier_base_m,
            level + shape.carrier_top_m,
            zero,
        )
    )
    return tuple(bodies)


def _beam(load: HungLoad, tip: FloatArray, base: FloatArray) -> MovingPrism:
    """The beam alone, turned to any angle and swung."""
    low, high = base + load.beam_base_m, base + load.beam_top_m
    below = [np.maximum(tip[:, 2] - z, 0.0) for z in (low, high)]
    swing, reach = load.swing_deg, load.beam_reach_m
    return MovingPrism(
        "beam",
        tip[:, None, :2],
        low - swing_dip_m(reach, below[0], swing_deg=swing),
        high + swing_rise_m(reach, below[1], swing_deg=swing),
        reach + below[0] * np.tan(np.radians(swing)),
    )


def _hung_bodies(
    shape: CraneShape,
    load: HungLoad,
    tip: FloatArray,
    base: FloatArray,
    yaw_deg: FloatArray,
    ahead: FloatArray,
    yaw_from: str,
) -> list[MovingMember | MovingPrism]:
    """Rope, block, rigging and load below the heads *tip* (n, 3), the load's base at *base*."""
    hang = tip[:, 2] - base
    swung = (hang + load.dip_m) * np.tan(np.radians(load.swing_deg))
    hook = base + load.height_m + load.gear_height_m
    below = tip[:, 2] - hook
    under = tip[:, None, :2]

    def rise(reach: float, depth: FloatArray) -> FloatArray:
        return swing_rise_m(reach, np.maximum(depth, 0.0), swing_deg=load.swing_deg)

    def dip(reach: float, depth: FloatArray) -> FloatArray:
        return swing_dip_m(reach, np.maximum(depth, 0.0), swing_deg=load.swing_deg)

    l2, w2 = load.length_m / 2.0, load.width_m / 2.0
    if load.turning == "free":
        plan, reach = under, load.reach_m
    else:
        if yaw_from not in ("boom", "east"):
            raise InputError.of("yaw_from", yaw_from, "boom or east")
        angle = np.radians(yaw_deg) + (ahead if yaw_from == "boom" else 0.0)
        x, y = load.middle_x_m, load.middle_y_m
        box = ((x + l2, y + w2), (x - l2, y + w2), (x - l2, y - w2), (x + l2, y - w2))
        plan, reach = _placed(box, tip[:, 0], tip[:, 1], angle), load.lean_m
    most = load.reach_m
    bottom = base - load.low_m(hang)
    top = base + load.height_m + load.rise_m
    bodies: list[MovingMember | MovingPrism] = [
        MovingMember(
            "hoist rope", np.column_stack([tip[:, :2], hook]), tip, shape.rope_half_width_m + swung
        )
    ]
    if load.block_half_width_m > 0:
        wide = load.block_half_width_m
        head = np.minimum(hook + load.block_height_m, tip[:, 2])
        bodies.append(
            MovingPrism(
                "hook block",
                under,
                hook - dip(wide, below),
                np.maximum(head, hook + 1e-3) + rise(wide, below),
                wide + swung,
            )
        )
    # slings are straight: what rises most is one of their ends
    peak = np.maximum(hook + rise(0.0, below), top + rise(most, tip[:, 2] - top))
    rigging = MovingPrism("rigging", plan, base + load.height_m, peak, reach + swung)
    if load.beam_reach_m > 0:
        beam = _beam(load, tip, base)
        start = base + min(load.beam_slings_base_m, load.height_m)
        wide = max(load.beam_reach_m, most)
        rigging = MovingPrism(
            "rigging",
            under if wide > most or load.turning == "held" else plan,
            start - dip(wide, tip[:, 2] - start),
            np.maximum(peak, beam.top_m),
            wide + swung,
        )
    bodies.append(rigging)
    bodies.append(
        MovingPrism("load", plan, bottom, top + rise(most, tip[:, 2] - top), reach + swung)
    )
    return bodies


def load_to_boom_m(
    shape: CraneShape,
    load: HungLoad,
    *,
    radius_m: ArrayLike,
    head_height_m: ArrayLike,
    load_base_height_m: ArrayLike,
    load_yaw_deg: ArrayLike = 0.0,
) -> FloatArray:
    """Least distance of the load, and of a beam above it, from the boom that carries them.

    Parameters:
      shape, load: As in :func:`crane_bodies`; *load_yaw_deg* is measured from the boom.
      radius_m, head_height_m, load_base_height_m, load_yaw_deg: array_like, shape (n,) or ()
    Returns: ndarray, shape (n,): distance, 0 where they meet. [m]
    Raises: As in :func:`crane_bodies`.
    """
    states = np.column_stack(
        np.broadcast_arrays(
            *(np.atleast_1d(v) for v in (radius_m, head_height_m, load_base_height_m, load_yaw_deg))
        )
    ).astype(np.float64)
    # while the machine slews nothing changes between load and boom: each state is worked once
    new = np.concatenate([[True], (states[1:] != states[:-1]).any(axis=1)])
    radius, head, base, yaw = states[new].T
    own = {
        body.name: body
        for body in crane_bodies(
            shape,
            load,
            easting_m=0.0,
            northing_m=0.0,
            level_m=0.0,
            heading_deg=0.0,
            slew_deg=0.0,
            radius_m=radius,
            head_height_m=head,
            load_base_height_m=base,
            load_yaw_deg=yaw,
            parts="boom and load",
        )
    }
    boom, box = own["boom"], own["load"]
    assert isinstance(boom, MovingMember)
    assert isinstance(box, MovingPrism)
    least = _to_boom_m(boom, box)
    if load.beam_reach_m > 0:
        least = np.minimum(least, _to_boom_m(boom, _beam(load, boom.end_m, base)))
    return np.asarray(least[np.cumsum(new) - 1])


def _to_boom_m(boom: MovingMember, box: MovingPrism) -> FloatArray:
    """Distance of what hangs from its boom, which lies in the plane y = 0, at every step. [m]"""
    if box.corners_m.shape[1] == 1:
        # the boom lies in the plane of symmetry of a load that turns freely, and so does the
        # nearest point: a rectangle with the same section there is as near
        reach = box.spread_m / np.cos(np.pi / 16)
        x, y = box.corners_m[:, 0, 0], box.corners_m[:, 0, 1]
        ring_x = np.stack([x + reach, x + reach, x - reach, x - reach])
        ring_y = np.stack([y - reach, y + reach, y + reach, y - reach])
    else:
        ring_x, ring_y = np.moveaxis(box.outline_m(), (2, 1), (0, 1))
    start, along = boom.start_m, boom.end_m - boom.start_m
    distance = member_rings_m(
        (start[:, 0], start[:, 1], start[:, 2]),
        (along[:, 0], along[:, 1], along[:, 2]),
        ring_x,
        ring_y,
        box.base_m,
        box.top_m,
    )
    return np.asarray(np.maximum(distance - boom.half_width_m, 0.0))
