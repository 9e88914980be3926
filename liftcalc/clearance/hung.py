"""What hangs below the boom head, for clearances: load, lifting beam, slings and hook block.

Contents: :class:`HungLoad`, :func:`swing_dip_m`, :func:`swing_rise_m`.

Model
-----
Everything that hangs is taken as one rigid body that leans with its rope about the boom head. A
point at the plan distance r from the hoist line and the depth L below the head, swung by an angle
up to a, comes lower by at most r sin(a) - L (1 - cos(a)) where a is less than atan(r / L), and
rises by at most r sin(a) + L (1 - cos(a)): the trailing corner of a wide load dips below its
planned underside. Sources: plane geometry.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, Problem, require_between, require_non_negative

__all__ = ["HungLoad", "swing_dip_m", "swing_rise_m"]


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
        problems: list[Problem] = []
        for name in ("length_m", "width_m", "height_m", "gear_height_m"):
            value = getattr(self, name)
            if not (value > 0 and np.isfinite(value)):
                problems.append(Problem(name, value, "greater than 0"))
        for name in ("middle_x_m", "middle_y_m"):
            if not np.isfinite(getattr(self, name)):
                problems.append(Problem(name, getattr(self, name), "a finite number"))
        for name in (
            "lean_m", "dip_m", "rise_m", "beam_reach_m", "beam_base_m", "beam_top_m",
            "beam_slings_base_m", "block_height_m", "block_half_width_m",
        ):  # fmt: skip
            value = getattr(self, name)
            if not (value >= 0 and np.isfinite(value)):
                problems.append(Problem(name, value, "0 or greater"))
        if self.turning not in ("held", "free"):
            problems.append(Problem("turning", self.turning, "held or free"))
        if not 0 <= self.swing_deg <= 45:
            problems.append(Problem("swing_deg", self.swing_deg, "0 to 45"))
        if problems:
            raise InputError(problems, source="load")

    @property
    def reach_m(self) -> float:
        """Greatest plan distance of the load from the hoist line, not swung. [m]"""
        half = (
            self.length_m / 2 + abs(self.middle_x_m),
            self.width_m / 2 + abs(self.middle_y_m),
        )
        return float(np.hypot(*half)) + self.lean_m

    def low_m(self, head_above_base_m: ArrayLike) -> FloatArray:
        """How far the load's lowest corner may hang below the planned underside. [m]"""
        depth = np.asarray(head_above_base_m, dtype=np.float64) + self.dip_m
        swung = swing_dip_m(self.reach_m, np.maximum(depth, 0.0), swing_deg=self.swing_deg)
        return np.asarray(self.dip_m + swung)


def swing_dip_m(reach_m: ArrayLike, depth_m: ArrayLike, *, swing_deg: ArrayLike) -> FloatArray:
    """How much lower than at rest a point comes on a rope that swings.

    Parameters:
      reach_m: array_like, >= 0. Plan distance of the point from the hoist line. [m]
      depth_m: array_like, >= 0. Of the point below the head at rest. [m]
      swing_deg: array_like, 0 to 45. Greatest swing off the vertical, any way. [deg]
    Returns: ndarray: r sin(t) - L (1 - cos(t)) at t = min(a, atan(r / L)), >= 0. [m]
    Source: Rotation of a point in a plane; the greatest value by its derivative.
    """
    reach = require_non_negative("reach_m", reach_m)
    depth = require_non_negative("depth_m", depth_m)
    most = np.radians(require_between("swing_deg", swing_deg, 0.0, 45.0))
    angle = np.minimum(most, np.arctan2(reach, depth))
    return np.asarray(reach * np.sin(angle) - depth * (1.0 - np.cos(angle)))


def swing_rise_m(reach_m: ArrayLike, depth_m: ArrayLike, *, swing_deg: ArrayLike) -> FloatArray:
    """How much higher than at rest a point comes on a rope that swings.

    Parameters:
      reach_m, depth_m, swing_deg: array_like. As in :func:`swing_dip_m`.
    Returns: ndarray: r sin(a) + L (1 - cos(a)). [m]
    Raises: Anything not finite or outside the ranges of :func:`swing_dip_m`.
    Source: Rotation of a point in a plane; it rises the more the farther it swings.
    """
    reach = require_non_negative("reach_m", reach_m)
    depth = require_non_negative("depth_m", depth_m)
    most = np.radians(require_between("swing_deg", swing_deg, 0.0, 45.0))
    return np.asarray(reach * np.sin(most) + depth * (1.0 - np.cos(most)))
