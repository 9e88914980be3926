"""The lift as a sequence with hold points, from the load path that was checked.

Each step of the sequence is a stretch of the path; its clearance is the one with the smallest
margin of all bodies and obstacles on that stretch alone. At a hold point the lift stops until the
lift supervisor lets it go on. Sources: plane geometry; the trial lift by common practice, no published source; trial
lift and proof for persons, WAC 296-155-55115 (seen in an excerpt) and 29 CFR 1926.1431 (from memory).
"""

import dataclasses
import itertools
from collections.abc import Iterator

import numpy as np

from liftcalc.base.files import rows_beside
from liftcalc.base.text import Show, filled
from liftcalc.base.words import slew_words
from liftcalc.clearance.bodies import MovingMember
from liftcalc.clearance.least import Body, ClearanceRow, least_clearances
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.site_obstacles import site_obstacles

SEQUENCE_COLUMNS = ("No.", "Step", "Slew", "Radius", "Level", "Clearance to the closest obstacle", "Hold point")
TRIAL_LIFT_M = (0.1, 0.3)
"""Trial lift: as high off its support, common practice, no published source. [m]"""
_STEPS = {row.pop("key"): row for row in rows_beside(__file__)}
"""What is done in each step, and what lets it go on; stages of the path by their names."""


def _stretches(lift: LiftAssessment) -> Iterator[tuple[str, int, int]]:
    """Runs of one stage among the close steps of the path: stage, first and last step.

    Where the load comes off at either end belongs to the hoisting and the lowering.
    """
    stages = lift.surroundings.close.path.stage
    half = len(stages) / 2
    named = [("hoist" if k < half else "lower") if name == "load off" else name for k, name in enumerate(stages)]
    for name, run in itertools.groupby(range(len(named)), key=named.__getitem__):
        steps = list(run)
        yield name, steps[0], steps[-1]


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


def _clearance(row: ClearanceRow | None, show: Show) -> str:
    return "nothing near" if row is None else (
        f"{row.body} to {row.obstacle}: "
        f"{show(max(row.distance_m - row.between_steps_m, 0.0), 'length_m', 'down')}; keep "
        f"{show(row.required_m, 'length_m', 'up')}"
    )  # fmt: skip


def sequence_rows(lift: LiftAssessment, show: Show) -> list[tuple[str, ...]]:
    """The sequence with its hold points: attach, trial lift, each stretch of the path, release."""
    path, persons = lift.surroundings.close.path, lift.setup.lift.persons
    before = ("brief", "attach", *(["persons"] if persons else []), "trial")
    steps = [
        *((name, 0, "–") for name in before),
        *((stage, last, _clearance(_nearest(lift, first, last), show)) for stage, first, last in _stretches(lift)),
        *((name, len(path) - 1, "–") for name in ("land", "stow")),
    ]
    rows: list[tuple[str, ...]] = []
    for n, (name, k, nearest) in enumerate(steps, start=1):
        step, hold = filled(_STEPS[name].values(), {"trial": TRIAL_LIFT_M}, show)
        slew = float(path.slew_deg[k])
        rows.append((
            str(n), step, f"{show(slew, 'slew_deg')} ({slew_words(slew)})",
            show(float(path.radius_m[k]), "length_m"), show(float(path.level_m[k]), "length_m"), nearest, hold,
        ))  # fmt: skip
    return rows
