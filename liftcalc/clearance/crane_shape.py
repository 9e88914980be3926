"""Outer shape of a machine, for clearances only.

Sources: geometry only.
"""

from dataclasses import dataclass

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import (
    InputError,
    Problem,
    field_problems,
    require_between,
    require_positive,
)


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
        problems = field_problems(
            self,
            finite=("boom_foot_x_m", "boom_foot_z_m", "tail_base_m", "carrier_base_m"),
            non_negative=("boom_half_width_m", "jib_half_width_m", "rope_half_width_m"),
        )
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


_FRONT_M = 0.5
"""How far forward of the slew axis the plan of a tail reaches. [m]"""
_CHORDS = 4
"""Chords along the rear arc of a tail."""


def tail_outline_m(tail_radius_m: float, tail_width_m: float) -> tuple[tuple[float, float], ...]:
    """Plan of a rounded counterweight tail, superstructure frame, drawn around its arc.

    A rectangle whose rear corners lie on the tail radius leaves out what a rounded tail has behind
    their chord; where the manufacturer states only the radius, take the arc. The plan lies outside
    the arc by at most ``tail_radius_m * (1 / cos(a) - 1)``, a being half the angle of a chord.

    Parameters:
      tail_radius_m: > 0. Tail swing radius: no part of the tail is farther from the slew axis. [m]
      tail_width_m: > 0, at most twice the radius
    Returns: tuple of (x, y), anticlockwise, convex
    """
    radius = float(require_positive("tail_radius_m", tail_radius_m))
    width = float(require_between("tail_width_m", tail_width_m, 1e-6, 2.0 * radius))
    half = float(np.arcsin(width / (2.0 * radius)))
    step = half / _CHORDS
    # tangents to the arc at the chords' middles meet at these corners, outside the arc
    angle = np.pi + np.linspace(-half, half, _CHORDS + 1)
    tangent = angle[:-1] + step
    inner = tangent[:-1] + step
    reach = radius / np.cos(step)
    rear = [(reach * np.cos(a), reach * np.sin(a)) for a in inner]
    y = width / 2.0
    # where the first and last tangent meet the sides of the tail
    side = [(radius - abs(np.sin(a)) * y) / np.cos(a) for a in (tangent[0], tangent[-1])]
    outline = [(_FRONT_M, y), (side[0], y), *rear, (side[1], -y), (_FRONT_M, -y)]
    return tuple((float(px), float(py)) for px, py in outline)


def _is_convex(outline: FloatArray) -> bool:
    step = np.roll(outline, -1, axis=0) - outline
    after = np.roll(step, -1, axis=0)
    turn = step[:, 0] * after[:, 1] - step[:, 1] * after[:, 0]
    return bool(np.all(turn > -1e-9) or np.all(turn < 1e-9)) and bool(np.any(np.abs(turn) > 1e-9))
