"""The load's path from pick to set-down, sampled and refined.

A path is a chain of legs in (slew, radius, level of the load's underside): hoist at the pick, luff to the smaller of
the two radii, slew at it, luff to the set-down radius, lower; or through the waypoints that the lift names. Slewing at
the smaller radius is the careful order: capacity falls with radius. Geometry only.
"""

import dataclasses
import itertools
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check
from liftcalc.base.text import amount
from liftcalc.facts.lift import Lift, Place
from liftcalc.lift.check_rows import CHECK_ROWS, check_row

Stage = Literal["hoist", "luff", "slew", "travel", "lower"]

STAGE_WORDS: dict[str, str] = {
    "hoist": "at pick, hoisting", "luff": "luffing", "slew": "slewing",
    "travel": "between waypoints", "lower": "at set-down, lowering",
}  # fmt: skip
"""What moves during each stage, in words."""


@dataclass(frozen=True, eq=False)
class LoadPath:
    """Steps of a load path; all arrays have shape (N,)."""

    slew_deg: FloatArray
    radius_m: FloatArray
    level_m: FloatArray
    """Level of the load's underside above the site datum."""
    stage: tuple[str, ...]
    distance_m: FloatArray
    """Distance along the load path from the pick."""
    refinement: str = ""
    """How fine the steps are and what halving them moves, in words; empty where not tried."""

    @property
    def hook_m(self) -> FloatArray:
        """Place of the hook at each step, machine frame, shape (N, 2)."""
        slew = np.radians(self.slew_deg)
        return np.asarray(self.radius_m[:, None] * np.stack([np.cos(slew), np.sin(slew)], axis=-1))

    def __len__(self) -> int:
        return len(self.slew_deg)

    def describe(self, step: int, *, numbered: bool = True) -> str:
        """Where a step is, in words; steps are counted from 1."""
        stage = self.stage[step]
        if stage == "load off":
            words = f"at {'pick' if 2 * step < len(self) else 'set-down'}, load coming off"
        else:
            words = STAGE_WORDS[stage]
        number = f" (step {step + 1} of {len(self)})" if numbered else ""
        return (
            f"{words}{number}: slew {amount(float(self.slew_deg[step]), 'slew_deg')}, radius "
            f"{amount(float(self.radius_m[step]), 'length_m')}"
        )


def path_at(path: LoadPath, where: FloatArray) -> LoadPath:
    """The path at rising places, counted in its own steps (2.5: half way from step 2 to step 3)."""
    steps = np.arange(len(path), dtype=np.float64)
    before = np.ceil(where - 1e-12).astype(int)  # a new step belongs to the stage it lies in

    def at(values: FloatArray) -> FloatArray:
        return np.asarray(np.interp(where, steps, values), dtype=np.float64)

    return dataclasses.replace(path, slew_deg=at(path.slew_deg), radius_m=at(path.radius_m),
                               level_m=at(path.level_m), stage=tuple(path.stage[k] for k in before),
                               distance_m=at(path.distance_m))  # fmt: skip


def bearing_and_radius(lift: Lift, place: Place) -> tuple[float, float]:
    """Slew angle (-180 to 180, machine frame) and radius of a place on the site."""
    east = place.easting_m - lift.stand.easting_m
    north = place.northing_m - lift.stand.northing_m
    slew = np.degrees(np.arctan2(north, east)) - lift.stand.heading_deg
    return float((slew + 180.0) % 360.0 - 180.0), float(np.hypot(east, north))


def _turn(start: float, end: float, way: str) -> float:
    """End angle reached from start by the stated way round (may pass 180)."""
    turn = (end - start) % 360.0
    if way == "clockwise" or (way == "shortest" and turn > 180.0):
        turn -= 360.0
    return start + turn


def load_path(lift: Lift, *, steps: int | None = None, slew_step_deg: float = 1.0,
              length_step_m: float = 0.25) -> LoadPath:  # fmt: skip
    """Sample the lift's path at most *slew_step_deg* and *length_step_m* apart.

    With *steps* given, about that many steps are spread over the path instead. Corners are always steps themselves.
    """
    pick_slew, pick_radius = bearing_and_radius(lift, lift.pick)
    set_slew, set_radius = bearing_and_radius(lift, lift.set_down)
    carry = lift.carry_level_m
    corners: list[tuple[float, float, float, Stage]] = [
        (pick_slew, pick_radius, level, "hoist") for level in (lift.pick.level_m, carry)
    ]
    if lift.via:
        slew = pick_slew
        for point in lift.via:
            slew = _turn(slew, point.slew_deg, "shortest")
            corners.append((slew, point.radius_m, point.level_m, "travel"))
        set_slew = _turn(slew, set_slew, "shortest")
        corners.append((set_slew, set_radius, carry, "travel"))
    else:
        set_slew = _turn(pick_slew, set_slew, lift.slew_way)
        least = min(pick_radius, set_radius)
        corners += [(pick_slew, least, carry, "luff"), (set_slew, least, carry, "slew"),
                    (set_slew, set_radius, carry, "luff")]  # fmt: skip
    corners.append((set_slew, set_radius, lift.set_down.level_m, "lower"))

    spans = []
    for a, b in itertools.pairwise(corners):
        turn, reach, rise = abs(b[0] - a[0]), abs(b[1] - a[1]), abs(b[2] - a[2])
        spans.append(max(turn / slew_step_deg, reach / length_step_m, rise / length_step_m))
    if steps is not None:
        total = sum(spans) or 1.0
        spans = [s * steps / total for s in spans]
    pairs = zip(itertools.pairwise(corners), spans, strict=True)
    moving = [(a, b, span) for (a, b), span in pairs if span > 0.0]
    parts: list[FloatArray] = [np.array([corners[0][:3]])]
    stages: list[str] = [moving[0][1][3] if moving else "hoist"]
    for a, b, span in moving:
        share = np.linspace(0.0, 1.0, int(np.ceil(span)) + 1)[1:, None]
        start, end = np.array(a[:3]), np.array(b[:3])
        parts.append(start + share * (end - start))
        stages += [b[3]] * len(share)
    slew, radius, level = np.concatenate(parts).T
    turn = np.radians(slew)
    xyz = np.stack([radius * np.cos(turn), radius * np.sin(turn), level], axis=-1)
    way = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(xyz, axis=0), axis=1))])
    return LoadPath(slew, radius, level, tuple(stages), way)


def worst_step_check(path: LoadPath, name: str, value: FloatArray | float,
                     limit: FloatArray | float, *, numbered: bool = True,
                     **words: Any) -> Check:  # fmt: skip
    """Row of the step with the worst value; where *limit* has the steps, with the minimum limit.

    Of equal steps the first.
    """
    steps = limit if isinstance(limit, np.ndarray) else value
    least = steps is limit or CHECK_ROWS[name]["sense"] == "min"
    step = int(np.argmin(steps) if least else np.argmax(steps))
    one = [float(x[step]) if isinstance(x, np.ndarray) else x for x in (value, limit)]
    return check_row(name, *one, step=path.describe(step, numbered=numbered), **words)
