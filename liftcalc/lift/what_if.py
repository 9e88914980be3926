"""A lift as it is found on the day: one thing changed, and what the full check then says.

Each change is a change of the lift's facts (:func:`changed_lift`), so that whoever doubts an answer
can make the whole assessment of that lift. :class:`WhatIf` answers many changes of one lift
faster: a study that a change cannot move is taken from an assessment in which everything it reads is the same. Its
answers are those of the full check, which the tests make from the start. Trial; no published source.
"""

import dataclasses
import math
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from pydantic import ValidationError

from liftcalc.base.checks import Check, Status
from liftcalc.base.errors import LiftcalcError
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.crane.sectors import ESTIMATE
from liftcalc.facts.base import Fact
from liftcalc.facts.lift import Lift, Place
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.close_path import path_corners
from liftcalc.lift.ground_study import relevelled
from liftcalc.lift.leg_setting import at_extensions
from liftcalc.lift.path import bearing_and_radius, load_path
from liftcalc.lift.path_study import capacity_at
from liftcalc.lift.refine import refined_study
from liftcalc.lift.setup import Setup, build_setup

RANK: tuple[Status, ...] = ("within", "condition", "no_data", "over")
"""States from the best to the worst."""
_GROUPS = ("layout", "along", "survey", "bearing_rows", "slip_rows", "lift")
"""Rows of the four sheets, those first that are made soonest."""
_WITHOUT_LEGS = ("rigging", "surroundings", "above")
_OF_LEGS = ("place", "survey", "supports")
_UNTILTED = ("study", "layout", "forces", "slips", *_OF_LEGS, *_WITHOUT_LEGS)
_OF_LOAD = ("layout-capacity-data", "least-side-share")
"""Rows of the base that load and path move; the others hang on where the outriggers stand alone."""
_F = TypeVar("_F", bound=Fact)


@dataclass(frozen=True)
class DayChange:
    """What is other than planned; whatever is not stated is as planned."""

    extension_m: tuple[float, ...] | None = None
    """Outriggers FL, FR, RR, RL. [m]"""
    gross_t: float | None = None
    """Load on the hook, everything below the boom head. [t]"""
    radius_m: float | None = None
    """No place farther out than this: those beyond it come in along their own slew, and the load
    hangs there at the height of carrying. [m]"""
    turned_deg: float | None = None
    """The path ends after so much slew from the pick, at the height of carrying. [deg]"""
    gust_m_s: float | None = None
    """3 s gust at the boom head. [m/s]"""
    tilt_percent: tuple[float, float] | None = None
    """Fall toward the front and toward the left at which the machine stands. [%]"""


@dataclass(frozen=True)
class Outcome:
    """State of the whole lift, and the first row found in that state."""

    status: Status
    check: Check | None = None
    problem: str = ""
    """Why something could not be checked at all."""

    @property
    def holds(self) -> bool:
        """Within limits, if only on condition."""
        return self.status in ("within", "condition")


def _with(fact: _F, **update: Any) -> _F:
    return type(fact).model_validate({**dict(fact), **update})


def _lighter_or_heavier(planned: Setup, gross_t: float) -> float:
    """Mass of the load that makes the gross load, rounded down to a tenth of a gram. [t]"""
    load = planned.lift.load
    factor = 1 + load.contingency_percent / 100
    mass = load.mass_t + (gross_t - planned.gross_t) / factor
    return math.floor(mass * 1e7 + 0.01) / 1e7


def _nearer(lift: Lift, place: Place, radius_m: float) -> Place:
    """A place no farther out; one that comes in is a place at the height of carrying."""
    radius = bearing_and_radius(lift, place)[1]
    if radius <= radius_m:
        return place
    share, stand = (radius_m - 1e-9) / radius, lift.stand
    return Place(easting_m=stand.easting_m + share * (place.easting_m - stand.easting_m),
                 northing_m=stand.northing_m + share * (place.northing_m - stand.northing_m),
                 level_m=lift.carry_level_m)  # fmt: skip


def turn_deg(lift: Lift) -> float:
    """Slew from pick to set-down, anticlockwise above 0; of a path without waypoints. [deg]"""
    slew = load_path(lift, steps=1).slew_deg
    return float(slew[-1] - slew[0])


def _cut(lift: Lift, turned_deg: float) -> dict[str, Any]:
    """The set-down moved to where the load hangs after so much slew, still carried."""
    start, radius = bearing_and_radius(lift, lift.pick)
    radius = min(radius, bearing_and_radius(lift, lift.set_down)[1])
    way = math.copysign(1.0, turn_deg(lift))
    bearing = math.radians(lift.stand.heading_deg + start + way * turned_deg)
    place = Place(easting_m=lift.stand.easting_m + radius * math.cos(bearing),
                  northing_m=lift.stand.northing_m + radius * math.sin(bearing),
                  level_m=lift.carry_level_m)  # fmt: skip
    return {"set_down": place, "slew_way": "anticlockwise" if way > 0 else "clockwise"}


def changed_lift(planned: Setup, change: DayChange) -> Lift:
    """The lift's facts after a change.

    Raises: pydantic's ValidationError where the facts then cannot be so.
    """
    lift, update = planned.lift, dict[str, Any]()
    if change.extension_m is not None:
        update["legs"] = _with(lift.legs, **dict(zip(LEG_NAMES, change.extension_m, strict=True)))
    if change.gross_t is not None:
        update["load"] = _with(lift.load, mass_t=_lighter_or_heavier(planned, change.gross_t))
    if change.radius_m is not None:
        for name in ("pick", "set_down"):
            update[name] = _nearer(lift, getattr(lift, name), change.radius_m)
        update["via"] = tuple(_with(w, radius_m=min(w.radius_m, change.radius_m)) for w in lift.via)
    if change.turned_deg is not None:
        update |= _cut(lift, change.turned_deg)
    if change.gust_m_s is not None:
        update |= {"wind_m_s": change.gust_m_s, "wind_basis": "at boom head"}
    if change.tilt_percent is not None:
        x, y = change.tilt_percent
        update["stand"] = _with(lift.stand, tilt_x_percent=x, tilt_y_percent=y)
    return _with(lift, **update)


def whole_state(a: LiftAssessment) -> Outcome:
    """The worst state of all rows of the four sheets; what cannot be checked has no data.

    The first row over its limit is enough, and the rows after it are not made.
    """
    worst = Outcome("within")
    for group in _GROUPS:
        try:
            rows: tuple[Check, ...] = getattr(a, group)
        except LiftcalcError as error:
            if worst.status != "no_data":
                worst = Outcome("no_data", problem=str(error))
            continue
        for row in rows:
            if RANK.index(row.status) > RANK.index(worst.status):
                worst = Outcome(row.status, row)
        if worst.status == "over":
            break
    return worst


class WhatIf:
    """One lift as planned, and its full check after any change."""

    def __init__(self, planned: LiftAssessment) -> None:
        self.planned = planned
        self._setups: dict[Lift, Setup] = {planned.setup.lift: planned.setup}
        self._studies: dict[object, dict[str, Any]] = {}
        self._known: dict[DayChange, Outcome] = {}
        self._last: tuple[DayChange, LiftAssessment] = (DayChange(), planned)
        self._asked: tuple[DayChange, Setup] = (DayChange(), planned.setup)

    def setup(self, change: DayChange) -> Setup:
        """Machine and load after a change; what does not move the outriggers is made once."""
        if self._asked[0] != change:
            self._asked = (change, self._setup(change))
        return self._asked[1]

    def _setup(self, change: DayChange) -> Setup:
        lift, as_planned = changed_lift(self.planned.setup, change), self.planned.setup.lift
        level = {n: getattr(as_planned.stand, n) for n in ("tilt_x_percent", "tilt_y_percent")}
        rest = _with(lift, legs=as_planned.legs, stand=_with(lift.stand, **level))
        if rest not in self._setups:
            self._setups[rest] = build_setup(self.planned.job.with_lift(rest), rest.id)
        setup = self._setups[rest]
        if lift.legs != rest.legs:
            setup = at_extensions(setup, lift.legs.as_tuple())
        if lift.stand != rest.stand:
            x, y = (math.degrees(math.atan(getattr(lift.stand, name) / 100)) for name in level)
            setup = dataclasses.replace(setup, lift=lift, tilt_x_deg=x, tilt_y_deg=y)
        return setup

    def assessed(self, change: DayChange) -> LiftAssessment:
        """The full check after a change, with the studies that are known to be the same."""
        if self._last[0] != change:
            self._keep_studies(self._last[1])
            self._last = (change, self._assessed(change))
        return self._last[1]

    def _keep_studies(self, a: LiftAssessment) -> None:
        for key, names in ((self._key_of_path(a), _WITHOUT_LEGS), (self._key_of_legs(a.setup.lift), _OF_LEGS)):
            known = {name: a.__dict__[name] for name in names if name in a.__dict__}
            self._studies.setdefault(key, {}).update(known)

    def _assessed(self, change: DayChange) -> LiftAssessment:
        setup, planned = self.setup(change), self.planned
        job = planned.job.model_copy(update={"lifts": (setup.lift,)})
        if change == DayChange(tilt_percent=change.tilt_percent) and (
            setup.tilt_any_percent == planned.setup.tilt_any_percent
        ):
            same = {name: getattr(planned, name) for name in _UNTILTED}
            ground = planned.ground and relevelled(planned.ground, setup, planned.forces)
            return LiftAssessment(job, setup, planned.path).given(**same, ground=ground)
        of_legs = self._studies.get(self._key_of_legs(setup.lift), {})
        path, study = refined_study(setup, of_legs.get("supports"))
        a = LiftAssessment(job, setup, path).given(study=study, **of_legs)
        return a.given(**self._studies.get(self._key_of_path(a), {}))

    @staticmethod
    def _key_of_legs(lift: Lift) -> object:
        """What the studies of the outriggers' places read."""
        return lift.legs, lift.wind_m_s, lift.wind_basis

    @staticmethod
    def _key_of_path(a: LiftAssessment) -> object:
        """What the studies of the path's surroundings read."""
        lift, path = a.setup.lift, a.path
        rest = (lift.load, lift.pick, lift.set_down, lift.via, lift.wind_m_s, lift.wind_basis)
        steps = (s.tobytes() for s in (path.slew_deg, path.radius_m, path.level_m))
        return *rest, lift.carry_level_m, a.setup.tilt_any_percent, *steps

    def state(self, change: DayChange) -> Outcome:
        """State of the whole lift after a change."""
        if change not in self._known:
            self._known[change] = self._state(change)
        return self._known[change]

    def _state(self, change: DayChange) -> Outcome:
        try:
            a = self.assessed(change)
        except (LiftcalcError, ValidationError) as error:
            return Outcome("no_data", problem=str(error))
        return whole_state(a)

    def fails(self, change: DayChange) -> bool:
        """Whether the state after a change is over a limit or without data.

        A corner of the path is a step of it however fine it is: where one is over its rated
        capacity, so is the lift. Capacity after settlement is the first row asked for then.
        """
        if change not in self._known:
            try:
                setup = self.setup(change)
                path = load_path(setup.lift)
                corner = path_corners(path)
                rated = capacity_at(setup, path.slew_deg[corner], path.radius_m[corner])
            except (LiftcalcError, ValidationError):
                return not self.state(change).holds
            least = setup.gross_t / setup.usable_ratio * (1 - 1e-6)
            if not np.all((rated.source < ESTIMATE) & (rated.capacity_t >= least)):
                return True
            try:
                settled = self.assessed(change).settled
            except (LiftcalcError, ValidationError):
                settled = None
            if settled is not None and settled.status in ("over", "no_data"):
                return True
        return not self.state(change).holds

    def at_any_load(self, change: DayChange) -> Check | None:
        """A row that fails where the outriggers stand, whatever hangs on the hook; None if none."""
        a = self.assessed(change)
        rows = (*a.survey, *a.layout)
        bad = (c for c in rows if c.status in ("over", "no_data") and c.id not in _OF_LOAD)
        return next(bad, None)
