"""Boom, rope, rigging, load, tail and carrier as bodies in the site frame, along a path.

Model
-----
The boom is a straight member of round section (give half the diagonal of the real section, so
that the model encloses it). The counterweight tail and the carrier are upright prisms.

The load is an upright box. Held by tag lines it keeps its angle; left free it is the upright cylinder about the hoist
line that encloses every turning of the box, whose middle lies off that line where its centre of gravity does, and every
tilt of it. Wind swings it by a stated angle in any direction, which spreads its plan by L tan(swing), L being the
length from the head to the load's underside, and moves its corners up and down. The rigging is an upright prism from
the load's top to the hook over the load's plan, which encloses the slings; a beam that is longer spreads it, from the
lower ends of its slings up. The hook block is an upright cylinder.

Everything that hangs is taken as one rigid body that leans with its rope about the boom head. A point at the plan
distance r from the hoist line and the depth L below the head, swung by an angle up to a, comes lower by at most r
sin(a) - L (1 - cos(a)) where a is less than atan(r / L), and rises by at most r sin(a) + L (1 - cos(a)): the trailing
corner of a wide load dips below its planned underside.

Coordinates: site frame (easting, northing, level); heading of the machine's +x anticlockwise from
east; slew anticlockwise from +x. Heights are above the stand level under the slew centre.

Sources: plane geometry. Deflection of the boom is not modelled here: pass the deflected radius.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import (
    InputError,
    Problem,
    field_problems,
    require_between,
    require_finite,
    require_non_negative,
    require_positive,
)
from liftcalc.clearance.bodies import Body, CraneShape, MovingMember, MovingPrism, placed_m
from liftcalc.clearance.solids import member_rings_m


@dataclass(frozen=True)
class HungLoad:
    """The load on the hook and what it hangs from, for clearances only.

    Parameters:
      length_m, width_m, height_m: Box that encloses the load; length lies along the boom when it is not turned. [m]
      gear_height_m: Hook to the load's top. [m]
      turning: ``held``: tag lines keep the angle; ``free``: it may turn to any angle.
      swing_deg: Greatest swing of the rope off the vertical by wind or motion. [deg]
      middle_x_m, middle_y_m: Middle of the box from the hoist line, along and across the load: the
        hook stands over the centre of gravity. [m]
      lean_m, dip_m, rise_m: How much farther in plan, lower and higher than the upright box any
        corner of the load may hang, since it tilts by its centre of gravity. [m]
      beam_reach_m: Greatest plan distance of a beam's ends from the hoist line; 0: no beam. [m]
      beam_base_m, beam_top_m: Lowest and highest place of its ends above the load's planned underside. [m]
      beam_slings_base_m: Lower ends of the slings below a beam, above the load's planned underside. [m]
      block_height_m, block_half_width_m: Hook block above the hook. [m]
    """

    length_m: float
    width_m: float
    height_m: float
    gear_height_m: float
    turning: Literal["held", "free"] = "free"
    swing_deg: float = 0.0
    middle_x_m: float = 0.0
    middle_y_m: float = 0.0
    lean_m: float = 0.0
    dip_m: float = 0.0
    rise_m: float = 0.0
    beam_reach_m: float = 0.0
    beam_base_m: float = 0.0
    beam_top_m: float = 0.0
    beam_slings_base_m: float = 0.0
    block_height_m: float = 0.0
    block_half_width_m: float = 0.0

    def __post_init__(self) -> None:
        problems = field_problems(
            self,
            positive=("length_m", "width_m", "height_m", "gear_height_m"),
            finite=("middle_x_m", "middle_y_m"),
            non_negative=(
                "lean_m", "dip_m", "rise_m", "beam_reach_m", "beam_base_m", "beam_top_m",
                "beam_slings_base_m", "block_height_m", "block_half_width_m",
            ),
        )  # fmt: skip
        if self.turning not in ("held", "free"):
            problems.append(Problem("turning", self.turning, "held or free"))
        if not 0 <= self.swing_deg <= 45:
            problems.append(Problem("swing_deg", self.swing_deg, "0 to 45"))
        if problems:
            raise InputError(problems, source="load")

    @property
    def reach_m(self) -> float:
        """Greatest plan distance of the load from the hoist line, not swung. [m]"""
        half = (self.length_m / 2 + abs(self.middle_x_m), self.width_m / 2 + abs(self.middle_y_m))
        return float(np.hypot(*half)) + self.lean_m

    def dips_m(self, reach_m: ArrayLike, depth_m: FloatArray) -> FloatArray:
        """How much lower a point comes by the swing; depth below the head at rest. [m]"""
        return swing_dip_m(reach_m, np.maximum(depth_m, 0.0), swing_deg=self.swing_deg)

    def rises_m(self, reach_m: ArrayLike, depth_m: FloatArray) -> FloatArray:
        """How much higher a point comes by the swing; depth below the head at rest. [m]"""
        return swing_rise_m(reach_m, np.maximum(depth_m, 0.0), swing_deg=self.swing_deg)

    def low_m(self, head_above_base_m: ArrayLike) -> FloatArray:
        """How far the load's lowest corner may hang below the planned underside. [m]"""
        depth = np.asarray(head_above_base_m, dtype=np.float64) + self.dip_m
        return np.asarray(self.dip_m + self.dips_m(self.reach_m, depth))


def swing_dip_m(reach_m: ArrayLike, depth_m: ArrayLike, *, swing_deg: ArrayLike) -> FloatArray:
    """How much lower than at rest a point comes on a rope that swings, >= 0. [m]

    r sin(t) - L (1 - cos(t)) at t = min(a, atan(r / L)): reach_m r in plan from the hoist line, depth_m L below the
    head at rest, and swing_deg a, 0 to 45, the greatest off the vertical, any way.

    Source: Rotation of a point in a plane; the greatest value by its derivative.
    """
    reach = require_non_negative("reach_m", reach_m)
    depth = require_non_negative("depth_m", depth_m)
    most = np.radians(require_between("swing_deg", swing_deg, 0.0, 45.0))
    angle = np.minimum(most, np.arctan2(reach, depth))
    return np.asarray(reach * np.sin(angle) - depth * (1.0 - np.cos(angle)))


def swing_rise_m(reach_m: ArrayLike, depth_m: ArrayLike, *, swing_deg: ArrayLike) -> FloatArray:
    """How much higher than at rest a point comes that swings: r sin(a) + L (1 - cos(a)). [m]

    reach_m, depth_m and swing_deg as :func:`swing_dip_m`; it rises the more the farther it swings.
    Source: Rotation of a point in a plane.
    """
    reach = require_non_negative("reach_m", reach_m)
    depth = require_non_negative("depth_m", depth_m)
    most = np.radians(require_between("swing_deg", swing_deg, 0.0, 45.0))
    return np.asarray(reach * np.sin(most) + depth * (1.0 - np.cos(most)))


def beam_body(load: HungLoad, tip: FloatArray, base: FloatArray) -> MovingPrism:
    """The beam alone, turned to any angle and swung, below boom heads (n, 3)."""
    low, high = base + load.beam_base_m, base + load.beam_top_m
    below_low, below_high = (np.maximum(tip[:, 2] - level, 0.0) for level in (low, high))
    return MovingPrism(
        "beam", tip[:, None, :2], low - load.dips_m(load.beam_reach_m, below_low),
        high + load.rises_m(load.beam_reach_m, below_high),
        load.beam_reach_m + below_low * np.tan(np.radians(load.swing_deg)),
    )  # fmt: skip


def hung_bodies(
    load: HungLoad, tip: FloatArray, base: FloatArray, *, angle: FloatArray, rope_half_width_m: float
) -> list[Body]:
    """Rope, hook block (where it has a width), rigging and load below the boom heads (n, 3).

    *base* is the level of the load's planned underside, *angle* [rad] that of its length, where held.
    """
    head = tip[:, 2]
    hang = head - base
    swung = (hang + load.dip_m) * np.tan(np.radians(load.swing_deg))
    hook = base + load.height_m + load.gear_height_m
    below = head - hook
    under = tip[:, None, :2]
    if load.turning == "free":
        plan, reach = under, load.reach_m
    else:
        x, y, l2, w2 = load.middle_x_m, load.middle_y_m, load.length_m / 2.0, load.width_m / 2.0
        box = ((x + l2, y + w2), (x - l2, y + w2), (x - l2, y - w2), (x + l2, y - w2))
        plan, reach = placed_m(box, tip[:, 0], tip[:, 1], angle), load.lean_m
    bodies: list[Body] = [
        MovingMember("hoist rope", np.column_stack([tip[:, :2], hook]), tip, rope_half_width_m + swung)
    ]
    if load.block_half_width_m > 0:
        half = load.block_half_width_m
        top_of_block = np.maximum(np.minimum(hook + load.block_height_m, head), hook + 1e-3)
        bodies.append(
            MovingPrism(
                "hook block", under, hook - load.dips_m(half, below),
                top_of_block + load.rises_m(half, below), half + swung,
            )
        )  # fmt: skip
    most = load.reach_m
    top = base + load.height_m + load.rise_m
    highest = top + load.rises_m(most, head - top)
    # slings are straight: what rises most is one of their ends
    peak = np.maximum(hook + load.rises_m(0.0, below), highest)
    rigging = MovingPrism("rigging", plan, base + load.height_m, peak, reach + swung)
    if load.beam_reach_m > 0:
        start = base + min(load.beam_slings_base_m, load.height_m)
        out = max(load.beam_reach_m, most)
        rigging = MovingPrism(
            "rigging", under if out > most or load.turning == "held" else plan,
            start - load.dips_m(out, head - start),
            np.maximum(peak, beam_body(load, tip, base).top_m), out + swung,
        )  # fmt: skip
    return [*bodies, rigging, MovingPrism("load", plan, base - load.low_m(hang), highest, reach + swung)]


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
) -> tuple[Body, ...]:
    """Bodies of machine and load at every step of a path.

    Parameters:
      load: HungLoad or None. None: nothing on the hook; then rope and block are left out as well.
      easting_m, northing_m, level_m: shape (n,) or (). Slew centre on the ground. [m]
      heading_deg, slew_deg: shape (n,) or (). Heading of +x from east, and slew from +x, both anticlockwise. [deg]
      radius_m: shape (n,) or (), > 0. Slew axis to hook, loaded. [m]
      head_height_m: shape (n,) or (). Head sheave above the stand. [m]
      load_base_height_m: shape (n,) or (). Underside of the load above the stand. [m]
    Returns: tuple of MovingMember and MovingPrism, in the order boom, hoist rope, hook block
      (where it has a width), rigging, load, counterweight tail, carrier.
    Raises: A head that is not above hook and load.
    """
    given = (
        ("easting_m", easting_m), ("northing_m", northing_m), ("level_m", level_m),
        ("heading_deg", heading_deg), ("slew_deg", slew_deg),
        ("radius_m", require_positive("radius_m", radius_m)), ("head_height_m", head_height_m),
        ("load_base_height_m", load_base_height_m),
    )  # fmt: skip
    east, north, level, heading, slew, radius, head, base = np.broadcast_arrays(
        *(np.atleast_1d(require_finite(name, value)) for name, value in given)
    )
    ahead = np.radians(heading + slew)
    boom = _boom(shape, np.stack([east, north, level]), ahead, radius, head)
    bodies: list[Body] = [boom]
    if load is not None:
        _require_room_under_head(load, head, base)
        bodies += hung_bodies(load, boom.end_m, level + base, angle=ahead, rope_half_width_m=shape.rope_half_width_m)
    for name, outline, low, high, turned in (
        ("counterweight tail", shape.tail_outline_m, shape.tail_base_m, shape.tail_top_m, ahead),
        ("carrier", shape.carrier_outline_m, shape.carrier_base_m, shape.carrier_top_m, np.radians(heading)),
    ):
        plan = placed_m(outline, east, north, turned)
        bodies.append(MovingPrism(name, plan, level + low, level + high, np.zeros(len(level))))
    return tuple(bodies)


def _boom(
    shape: CraneShape, centre: FloatArray, ahead: FloatArray, radius: FloatArray, head: FloatArray
) -> MovingMember:
    cos, sin = np.cos(ahead), np.sin(ahead)
    start, end = (
        np.stack([centre[0] + r * cos, centre[1] + r * sin, centre[2] + z]).T
        for r, z in ((shape.boom_foot_x_m, shape.boom_foot_z_m), (radius, head))
    )
    return MovingMember("boom", start, end, np.full(ahead.size, shape.boom_half_width_m))


def _require_room_under_head(load: HungLoad, head: FloatArray, base: FloatArray) -> None:
    slack = head - base - load.height_m - load.gear_height_m
    if not np.all(slack >= 0):
        worst = int(np.argmin(slack))
        needed = float(base[worst]) + load.height_m + load.gear_height_m
        need = f"at least {needed:.3f} m, load, rigging and hook under the head (step {worst})"
        remedy = "Raise the boom, lengthen it or shorten the rigging."
        raise InputError.of("head_height_m", float(head[worst]), need, remedy)


def load_to_boom_m(
    shape: CraneShape, load: HungLoad, *, radius_m: ArrayLike, head_height_m: ArrayLike, load_base_height_m: ArrayLike
) -> FloatArray:
    """Least distance of the load, and of a beam above it, from the boom that carries them.

    Parameters:
      shape, load: As in :func:`crane_bodies`.
      radius_m, head_height_m, load_base_height_m: shape (n,) or ()
    Returns: ndarray, shape (n,): distance, 0 where they meet. [m]
    Raises: A head that is not above hook and load.
    """
    given = (
        require_positive("radius_m", radius_m), require_finite("head_height_m", head_height_m),
        require_finite("load_base_height_m", load_base_height_m),
    )  # fmt: skip
    states = np.column_stack(np.broadcast_arrays(*map(np.atleast_1d, given)))
    # while the machine slews nothing changes between load and boom: each state once
    new = np.concatenate([[True], (states[1:] != states[:-1]).any(axis=1)])
    radius, head, base = states[new].T
    _require_room_under_head(load, head, base)
    ahead = np.zeros(radius.size)
    boom = _boom(shape, np.zeros((3, radius.size)), ahead, radius, head)
    box = hung_bodies(load, boom.end_m, base, angle=ahead, rope_half_width_m=shape.rope_half_width_m)[-1]
    assert isinstance(box, MovingPrism)
    least = _to_boom_m(boom, box)
    if load.beam_reach_m > 0:
        least = np.minimum(least, _to_boom_m(boom, beam_body(load, boom.end_m, base)))
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
        (start[:, 0], start[:, 1], start[:, 2]), (along[:, 0], along[:, 1], along[:, 2]), ring_x,
        ring_y, box.base_m, box.top_m,
    )  # fmt: skip
    return np.asarray(np.maximum(distance - boom.half_width_m, 0.0))
