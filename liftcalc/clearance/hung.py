"""What hangs below the boom head, for clearances: load, lifting beam, slings and hook block.

Model
-----
The load is an upright box. Held by tag lines it keeps its angle; left free it is the upright
cylinder about the hoist line that encloses every turning of the box, whose middle lies off that
line where its centre of gravity does, and every tilt of it. Wind swings it by a stated angle in any
direction, which spreads its plan by L tan(swing), L being the length from the head to the load's
underside, and moves its corners up and down. The rigging is an upright prism from the load's top to
the hook over the load's plan, which encloses the slings; a beam that is longer spreads it, from the
lower ends of its slings up. The hook block is an upright cylinder.

Everything that hangs is taken as one rigid body that leans with its rope about the boom head. A
point at the plan distance r from the hoist line and the depth L below the head, swung by an angle
up to a, comes lower by at most r sin(a) - L (1 - cos(a)) where a is less than atan(r / L), and
rises by at most r sin(a) + L (1 - cos(a)): the trailing corner of a wide load dips below its
planned underside.

Sources: plane geometry.
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
    require_non_negative,
)
from liftcalc.clearance.bodies import Body, MovingMember, MovingPrism, placed_m


@dataclass(frozen=True)
class HungLoad:
    """The load on the hook and what it hangs from, for clearances only.

    Parameters:
      length_m, width_m, height_m: Box that encloses the load; length lies along the boom when it is
        not turned. [m]
      gear_height_m: Hook to the load's top. [m]
      turning: ``held``: tag lines keep the angle; ``free``: it may turn to any angle.
      swing_deg: Greatest swing of the rope off the vertical by wind or motion. [deg]
      middle_x_m, middle_y_m: Middle of the box from the hoist line, along and across the load: the
        hook stands over the centre of gravity. [m]
      lean_m, dip_m, rise_m: How much farther in plan, lower and higher than the upright box any
        corner of the load may hang, since it tilts by its centre of gravity. [m]
      beam_reach_m: Greatest plan distance of a beam's ends from the hoist line; 0: no beam. [m]
      beam_base_m, beam_top_m: Lowest and highest place of its ends above the load's planned
        underside. [m]
      beam_slings_base_m: Lower ends of the slings below a beam, above the load's planned underside.
        [m]
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
    """How much lower than at rest a point comes on a rope that swings.

    Parameters:
      reach_m: >= 0. Plan distance of the point from the hoist line. [m]
      depth_m: >= 0. Of the point below the head at rest. [m]
      swing_deg: 0 to 45. Greatest swing off the vertical, any way. [deg]
    Returns: ndarray: r sin(t) - L (1 - cos(t)) at t = min(a, atan(r / L)), >= 0. [m]
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
    load: HungLoad,
    tip: FloatArray,
    base: FloatArray,
    *,
    angle: FloatArray,
    rope_half_width_m: float,
) -> list[Body]:
    """Rope, hook block (where it has a width), rigging and load below the boom heads (n, 3).

    *base* is the level of the load's planned underside, *angle* [rad] that of its length, where
    held.
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
        MovingMember(
            "hoist rope", np.column_stack([tip[:, :2], hook]), tip, rope_half_width_m + swung
        )
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
    return [
        *bodies,
        rigging,
        MovingPrism("load", plan, base - load.low_m(hang), highest, reach + swung),
    ]
