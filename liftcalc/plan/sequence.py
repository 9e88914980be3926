"""The lift as a sequence with hold points, from the load path that was checked.

Each step of the sequence is a stretch of the path; its clearance is the one with the smallest
margin of all bodies and obstacles on that stretch alone. At a hold point the lift stops until the
lift supervisor lets it go on. Sources: plane geometry; the trial lift by common practice, no
published source; trial lift and proof for persons, WAC 296-155-55115 (seen in an excerpt) and 29
CFR 1926.1431 (from memory).
"""

import dataclasses
from collections.abc import Iterator

import numpy as np

from liftcalc.base.text import Show, amount
from liftcalc.base.words import slew_words
from liftcalc.clearance.bodies import MovingMember
from liftcalc.clearance.least import Body, ClearanceRow, least_clearances
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.site_obstacles import site_obstacles

SEQUENCE_COLUMNS = ("No.", "Step", "Slew", "Radius", "Level", "Clearance to the closest obstacle",
                    "Hold point")  # fmt: skip
TRIAL_LIFT_M = (0.1, 0.3)
"""Trial lift: as high off its support, common practice, no published source. [m]"""
_STEP_WORDS = {
    "hoist": "Hoist plumb", "luff": "Luff", "slew": "Slew", "lower": "Lower",
    "travel": "Slew and luff through the waypoints",
}  # fmt: skip
_HOLD = {
    "hoist": "all clear above and beside, load steady",
    "luff": "radius read on the indicator, within the card's limits",
    "slew": "load path clear, nobody below or in the exclusion zone, tail clear",
    "travel": "load path clear, nobody below or in the exclusion zone, tail clear",
    "lower": "landing clear, level and able to carry the load",
}


def _stretches(lift: LiftAssessment) -> Iterator[tuple[str, int, int]]:
    """Runs of one stage among the close steps of the path: stage, first and last step.

    Where the load comes off at either end belongs to the hoisting and the lowering.
    """
    stage = list(lift.surroundings.close.path.stage)
    for k, name in enumerate(stage):
        if name == "load off":
            stage[k] = "hoist" if 2 * k < len(stage) else "lower"
    start = 0
    for k in range(1, len(stage) + 1):
        if k == len(stage) or stage[k] != stage[start]:
            yield stage[start], start, k - 1
            start = k


def _part(body: Body, first: int, last: int) -> Body:
    """A body at some of its steps."""
    names = ("start_m", "end_m", "half_width_m") if isinstance(body, MovingMember) else (
        "corners_m", "base_m", "top_m", "spread_m")  # fmt: skip
    return dataclasses.replace(body, **{n: getattr(body, n)[first : last + 1] for n in names})


def _nearest(lift: LiftAssessment, first: int, last: int) -> ClearanceRow | None:
    """The clearance with the smallest margin on a stretch."""
    setup, around = lift.setup, lift.surroundings
    swing = around.given[2].swing_deg
    obstacles = site_obstacles(setup.site, setup.rules, persons=setup.lift.persons)
    bodies = [_part(body, first, last) for body in around.close_bodies]
    off = around.close.off_straight_m * (1.0 + np.tan(np.radians(swing)))
    return least_clearances(bodies, obstacles, off_straight_m=off).governing


def sequence_rows(lift: LiftAssessment, show: Show) -> list[tuple[str, ...]]:
    """The sequence with its hold points: attach, trial lift, each stretch of the path, release."""
    path = lift.surroundings.close.path
    rows: list[tuple[str, ...]] = []

    def place(k: int) -> tuple[str, str, str]:
        slew = float(path.slew_deg[k])
        return (f"{show(slew, 'slew_deg')} ({slew_words(slew)})",
                show(float(path.radius_m[k]), "length_m"),
                show(float(path.level_m[k]), "length_m"))  # fmt: skip

    def add(step: str, at: tuple[str, str, str], nearest: str, hold: str) -> None:
        rows.append((str(len(rows) + 1), step, *at, nearest, hold))

    start, end = place(0), place(len(path) - 1)
    low, high = (amount(x, "length_m") for x in TRIAL_LIFT_M)
    add(
        "Brief the team; close the exclusion zones; set up, measure and record as set up",
        start,
        "–",
        "lift supervisor releases the lift; wind and weather within the limits",
    )
    add(
        "Attach the rigging as drawn, hook plumb over the centre of gravity; load free of "
        "whatever holds it",
        start,
        "–",
        "rigging checked by the rigger, edges protected",
    )
    if lift.setup.lift.persons:
        add("Without persons: trial lift to every place, each shift and after every change; proof "
            "of the platform at 125 %", start, "–",
            "WAC 296-155-55115, 29 CFR 1926.1431: passed and recorded")  # fmt: skip
    add(f"Trial lift: {low} to {high} off the support, hold", start, "–",
        "indicator reading within the card's limit, load level, brakes hold, outriggers and mats "
        "do not move, machine still level")  # fmt: skip
    for stage, first, last in _stretches(lift):
        row = _nearest(lift, first, last)
        clearance = "nothing near" if row is None else (
            f"{row.body} to {row.obstacle}: "
            f"{show(max(row.distance_m - row.between_steps_m, 0.0), 'length_m', 'down')}; keep "
            f"{show(row.required_m, 'length_m', 'up')}"
        )  # fmt: skip
        add(f"{_STEP_WORDS[stage]} to", place(last), clearance, _HOLD[stage])
    add(
        "Land; slacken in steps; release only when the load stands by itself",
        end,
        "–",
        "load stable and secured before the rigging is taken off",
    )
    add(
        "Hoist the empty rigging clear; stow the boom as the manual says",
        end,
        "–",
        "nobody holds the rigging while it is hoisted",
    )
    return rows
