"""Tension of the legs of a symmetrical bridle, and the number of legs that count.

Contents: :func:`leg_load_factor`, :func:`carrying_legs`, :class:`SymmetricBridle`,
:func:`symmetric_bridle`.

Sources: Statics. Number of legs counted on a rigid load: two of four (US practice) or three (EN leg
factor 2.1), factors seen.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_positive
from liftcalc.base.units import G_M_S2

__all__ = [
    "CarryingRule",
    "SymmetricBridle",
    "carrying_legs",
    "leg_load_factor",
    "symmetric_bridle",
]

CarryingRule = Literal["two of four", "three of four", "all"]

MIN_ANGLE_FROM_HORIZONTAL_DEG = 30.0
"""No published sling table goes flatter (60 degrees from the vertical)."""


def leg_load_factor(angle_from_horizontal_deg: ArrayLike) -> FloatArray:
    """Tension of a leg over its share of the load: 1/sin(angle).

    Parameters:
      angle_from_horizontal_deg: array_like, shape (...), 30 to 90. [deg]
    Returns: ndarray, shape (...)
    Raises: Angle outside 30 to 90 or not finite.
    Source: Statics; printed as a table in trade handbooks (seen).
    """
    angle = require_between(
        "angle_from_horizontal_deg",
        angle_from_horizontal_deg,
        MIN_ANGLE_FROM_HORIZONTAL_DEG,
        90.0,
    )
    return np.asarray(1.0 / np.sin(np.radians(angle)))


def carrying_legs(legs: Literal[1, 2, 3, 4], rule: CarryingRule) -> int:
    """Number of legs counted as carrying a rigid load.

    Parameters:
      legs: {1, 2, 3, 4}
      rule: {"two of four", "three of four", "all"}. US practice counts two of four, the EN leg
        factor 2.1 three. "all" only where the legs share by a device (equalising plate, chain hoist
        with a load cell).
    Returns: int
    Raises: Legs not 1 to 4; unknown rule.
    Source: US practice; EN 13414-1 leg factor (seen).
    """
    if legs not in (1, 2, 3, 4):
        raise InputError.of("legs", legs, "1, 2, 3 or 4")
    if rule not in get_args(CarryingRule):
        raise InputError.of("rule", rule, ", ".join(get_args(CarryingRule)))
    if legs < 4 or rule == "all":
        return int(legs)
    return 2 if rule == "two of four" else 3


@dataclass(frozen=True)
class SymmetricBridle:
    """Tension in each leg of a symmetrical bridle."""

    legs_carrying: int
    leg_load_factor: FloatArray
    tension_kN: FloatArray
    horizontal_kN: FloatArray


def symmetric_bridle(
    load_t: ArrayLike,
    angle_from_horizontal_deg: ArrayLike,
    *,
    legs: Literal[1, 2, 3, 4],
    rule: CarryingRule = "two of four",
) -> SymmetricBridle:
    """Tension of each leg of a bridle symmetrical about the plumb line: T = W/(n sin(angle)).

    Parameters:
      load_t: array_like, shape (...), > 0. [t]
      angle_from_horizontal_deg: array_like, 30 to 90. [deg]
      legs: {1, 2, 3, 4}
      rule: {"two of four", "three of four", "all"}
    Returns: SymmetricBridle. ``horizontal_kN`` is the inward pull of each leg on its lug.
    Source: Statics.
    """
    mass = require_positive("load_t", load_t)
    factor = leg_load_factor(angle_from_horizontal_deg)
    angle = np.radians(np.asarray(angle_from_horizontal_deg, dtype=np.float64))
    count = carrying_legs(legs, rule)
    tension = np.asarray(mass * G_M_S2 / count * factor)
    return SymmetricBridle(count, factor, tension, np.asarray(tension * np.cos(angle)))
