"""What if, on the day: answers made beforehand, each by a full check of the changed lift.

An outrigger short of the plan, more wind, a heavier reading, a machine out of level: for each the
state of the whole lift, over all rows of its four sheets. Where a setting does not carry the lift
as planned, what it does carry: the greatest gross load, the greatest radius for the planned load,
and how far of the planned slew from the pick. An answer is the last step that holds, and the step
beyond it fails; between the plan and that step the search is led by rated capacity, stability and
tipping. Never more than planned. Trial; no published source.
"""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.base.errors import LiftcalcError
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.crane.sectors import ESTIMATE
from liftcalc.lift.card import lifts_as_planned
from liftcalc.lift.leg_setting import short_of_m, shortfalls_m
from liftcalc.lift.path_study import capacity_at
from liftcalc.lift.what_if import DayChange, Outcome, WhatIf, turn_deg
from liftcalc.lift.wind_checks import gust_at_head_m_s

LOAD_STEP_T = 0.1
"""Step of the allowed gross load; above 20 t five of it. [t]"""
RADIUS_STEP_M = 0.1
"""Step of the greatest radius. [m]"""
SLEW_STEP_DEG = 5.0
"""Step of the part of the slew that holds. [deg]"""
HEAVIER_PERCENT = (5, 10, 15, 20, 25)
"""Readings of the load above the plan. [%]"""
TILT_PERCENT = (0.25, 0.5, 0.75, 1.0)
"""Levels tried, as far as the machine permits. [%]"""
TILT_WAYS = {"front low": (1, 0), "rear low": (-1, 0), "left low": (0, 1), "right low": (0, -1)}
"""Ways in which the machine is tried out of level."""
MOST_GUST_M_S = 30
"""Wind is tried no further. [m/s]"""
FAILING_STEPS = 3
"""After so many settings in a row at which nothing holds the table of an outrigger ends."""
MOST_SETTINGS = 10
"""After so many settings (1.0 m of what slides) it ends too, and farther in is planned again."""

_WITH_LOAD = ("capacity", "stability", "leg-", "ground-", "hook-block", "mat-")
"""Rows whose utilisation falls at most in proportion to the gross load."""


@dataclass(frozen=True)
class ShortAnswer:
    """Some outriggers short of the plan, and what still holds there."""

    outriggers: tuple[str, ...]
    short_m: float
    extension_m: tuple[float, ...]
    """All four. [m]"""
    outcome: Outcome
    at_any_load: Check | None
    """A row that fails whatever hangs on the hook."""
    gross_t: float | None
    """Greatest gross load that holds, at most as planned; None where none does. [t]"""
    radius_m: float | None
    """Greatest radius for the planned load. [m]"""
    turned_deg: float | None
    """Slew from the pick that holds with the planned load, of a path without waypoints. [deg]"""

    @property
    def nothing_holds(self) -> bool:
        """No load of this size, and the planned load nowhere."""
        return self.gross_t is None and self.radius_m is None and self.turned_deg is None


@dataclass(frozen=True)
class DayAnswer:
    """One other change: its size, the state, and what governs."""

    value: float
    change: DayChange
    outcome: Outcome


@dataclass(frozen=True)
class DayAnswers:
    """All answers of one lift."""

    short: tuple[ShortAnswer, ...]
    wind: tuple[DayAnswer, ...]
    load: tuple[DayAnswer, ...]
    level: tuple[tuple[float, tuple[DayAnswer, ...]], ...]
    """For each tilt, the ways of :data:`TILT_WAYS`."""


def day_answers(what: WhatIf) -> DayAnswers | None:
    """Every answer of the day card; None for a lift that must not be made as planned."""
    if not lifts_as_planned(what.planned):
        return None
    return DayAnswers(tuple(short_answers(what)), tuple(_wind(what)), tuple(_load(what)), tuple(_level(what)))


def short_answers(what: WhatIf) -> Iterator[ShortAnswer]:
    """Each outrigger by itself and all together, step by step short of the plan."""
    setup = what.planned.setup
    for which in ((0,), (1,), (2,), (3,), (0, 1, 2, 3)):
        failing = tried = 0
        before: tuple[float, ...] = setup.lift.legs.as_tuple()
        for short in shortfalls_m(setup, which):
            extension = short_of_m(setup, which, short)
            if extension == before:
                continue
            before = extension
            one = _short_answer(what, tuple(LEG_NAMES[k] for k in which), short, extension)
            yield one
            tried, failing = tried + 1, failing + 1 if one.nothing_holds else 0
            if failing == FAILING_STEPS or tried == MOST_SETTINGS:
                break


def _short_answer(what: WhatIf, names: tuple[str, ...], short_m: float, extension_m: tuple[float, ...]) -> ShortAnswer:
    planned, change = what.planned.setup, DayChange(extension_m=extension_m)
    outcome = what.state(change)
    never = None if outcome.holds else what.at_any_load(change)
    gross = radius = turned = None
    if outcome.holds:
        gross, radius = planned.gross_t, float(what.planned.path.radius_m.max())
        turned = None if planned.lift.via else abs(turn_deg(planned.lift))
    elif never is None:
        gross = allowed_gross_t(what, extension_m)
        radius = greatest_radius_m(what, extension_m)
        turned = None if planned.lift.via else turn_that_holds_deg(what, extension_m)
    return ShortAnswer(names, short_m, extension_m, outcome, never, gross, radius, turned)


def _last_that_holds(what: WhatIf, change: Callable[[int], DayChange], *, start: int, least: int,
                     most: int,
                     lower: Callable[[int], int] = lambda n: n - 1) -> int | None:  # fmt: skip
    """The step at which the lift holds and one beyond which it fails; None where none holds.

    *lower* says from a step that fails how far below it the next may hold.
    """
    n, failed = min(start, most), most + 1
    while n >= least and what.fails(change(n)):
        n, failed = min(lower(n), n - 1), n
    if n < least:
        return None
    while n + 1 < failed and not what.fails(change(n + 1)):
        n += 1
    return n


def allowed_gross_t(what: WhatIf, extension_m: tuple[float, ...]) -> float | None:
    """Greatest gross load that holds on these extensions, rounded down. [t]"""
    planned = what.planned.setup
    step = LOAD_STEP_T * (1 if planned.gross_t <= 20 else 5)
    load = planned.lift.load
    bare = planned.gross_t - load.mass_t * (1 + load.contingency_percent / 100)
    try:
        study = what.assessed(DayChange(extension_m=extension_m)).study
        if (study.capacity.source >= ESTIMATE).any():
            return None
        carried = min(planned.usable_ratio * float(study.capacity.capacity_t.min()),
                      float(study.stability_t.min()), float(study.tipping_t.min()))  # fmt: skip
    except LiftcalcError:
        return None

    def change(n: int) -> DayChange:
        return DayChange(extension_m=extension_m, gross_t=n * step)

    def lower(n: int) -> int:
        row = what.state(change(n)).check
        if row is None or not row.utilisation or not row.id.startswith(_WITH_LOAD):
            return n - 1
        return math.floor(n / row.utilisation + 1e-9)

    most = math.ceil(planned.gross_t / step - 1e-9) - 1
    n = _last_that_holds(what, change, start=math.floor(carried / step + 1e-9), lower=lower,
                         least=math.floor(bare / step) + 1, most=most)  # fmt: skip
    return None if n is None else round(n * step, 9)


def greatest_radius_m(what: WhatIf, extension_m: tuple[float, ...]) -> float | None:
    """Greatest radius to which the planned load may go over the planned slews, rounded down. [m]"""
    setup, path = what.setup(DayChange(extension_m=extension_m)), what.planned.path
    least = math.ceil(setup.boom.radius_min_m / RADIUS_STEP_M - 1e-9)
    most = math.ceil(float(path.radius_m.max()) / RADIUS_STEP_M - 1e-9) - 1
    radii = RADIUS_STEP_M * np.arange(least, most + 1)
    if not radii.size:
        return None
    places = np.unique(np.stack([path.slew_deg, path.radius_m], axis=-1)[::4], axis=0)
    radius = np.minimum(places[:, 1], radii[:, None] - 1e-9)
    slew = np.broadcast_to(places[:, 0], radius.shape)
    rated = capacity_at(setup, slew.ravel(), radius.ravel())
    enough = (rated.source < ESTIMATE) & (rated.capacity_t * setup.usable_ratio >= setup.gross_t * (1 - 1e-6))
    carries = enough.reshape(radius.shape).all(axis=1)
    start = least + int(np.flatnonzero(carries)[-1]) if carries.any() else least
    n = _last_that_holds(what, lambda n: DayChange(extension_m=extension_m,
                                                radius_m=round(n * RADIUS_STEP_M, 9)),
                         start=start, least=least, most=most)  # fmt: skip
    return None if n is None else round(n * RADIUS_STEP_M, 9)


def turn_that_holds_deg(what: WhatIf, extension_m: tuple[float, ...]) -> float | None:
    """How far of the planned slew from the pick holds with the planned load, rounded down. [deg]

    The whole slew where only what comes after it fails.
    """
    whole = abs(turn_deg(what.planned.setup.lift))
    last = math.ceil(whole / SLEW_STEP_DEG - 1e-9)

    def change(n: int) -> DayChange:
        return DayChange(extension_m=extension_m, turned_deg=min(n * SLEW_STEP_DEG, whole))

    if last < 1 or what.fails(change(1)):
        return None
    path = what.planned.path
    rated = capacity_at(what.setup(DayChange(extension_m=extension_m)), path.slew_deg, path.radius_m)
    short = (rated.source >= ESTIMATE) | ~(
        rated.capacity_t * what.planned.setup.usable_ratio >= what.planned.setup.gross_t
    )
    turned = abs(float(path.slew_deg[np.argmax(short)] - path.slew_deg[0])) if short.any() else 0.0
    n = _last_that_holds(what, change, start=max(math.floor(turned / SLEW_STEP_DEG), 1), least=1, most=last)
    return None if n is None else min(n * SLEW_STEP_DEG, whole)


def _governed(what: WhatIf, value: float, change: DayChange) -> DayAnswer:
    """The state after a change, and the row that governs all rows of the lift."""
    outcome = what.state(change)
    if outcome.problem:
        return DayAnswer(value, change, outcome)
    verdict = what.assessed(change).verdict
    return DayAnswer(value, change, Outcome(verdict.status, verdict.governing))


def _wind(what: WhatIf) -> Iterator[DayAnswer]:
    """Each whole metre a second above the planned gust, up to the first that does not hold."""
    setup = what.planned.setup
    planned = float(gust_at_head_m_s(setup, float(what.planned.study.boom.head_z_m.max())))
    for gust in range(math.floor(planned + 1e-9) + 1, MOST_GUST_M_S + 1):
        one = _governed(what, gust, DayChange(gust_m_s=float(gust)))
        yield one
        if not one.outcome.holds:
            return


def _load(what: WhatIf) -> Iterator[DayAnswer]:
    """Each reading above the planned gross load."""
    planned = what.planned.setup.gross_t
    for more in HEAVIER_PERCENT:
        yield _governed(what, more, DayChange(gross_t=round(planned * (1 + more / 100), 6)))


def _level(what: WhatIf) -> Iterator[tuple[float, tuple[DayAnswer, ...]]]:
    """Each tilt that machine and lift permit, each way."""
    permitted = what.planned.setup.permitted_tilt_percent
    for tilt in TILT_PERCENT:
        if tilt <= permitted + 1e-9:
            changes = [DayChange(tilt_percent=(tilt * x, tilt * y)) for x, y in TILT_WAYS.values()]
            yield tilt, tuple(DayAnswer(tilt, c, what.state(c)) for c in changes)
