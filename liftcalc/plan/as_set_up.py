"""The crane as it was set up, held against the plan and calculated again.

The indicator shows 95 to 110 % of the true load: WAC 296-56-60085(2); 29 CFR 1917.46(a)(1)(ii)
(both seen in an excerpt). A reading R therefore stands for a load of up to R / 0.95, and the lift
is calculated again with it. What the outriggers' forces say of the load: :mod:`liftcalc.plan.fix`.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from pydantic import ValidationError

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check, stated_check
from liftcalc.base.errors import InputError
from liftcalc.base.text import Show, amount
from liftcalc.base.words import STATE_WORDS
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.facts.as_set_up import AsSetUp, Fix
from liftcalc.facts.base import input_error
from liftcalc.facts.job import Job
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.check_rows import check_row
from liftcalc.lift.leg_forces import weight_on_base
from liftcalc.lift.placing import TOLERANCE_M
from liftcalc.lift.wind_checks import stop_gust_m_s
from liftcalc.plan.checks import plan_checks
from liftcalc.plan.fix import MeasuredLoad, fixed_place_m, load_from_forces
from liftcalc.plan.place_tolerance import place_tolerances_m
from liftcalc.plan.rules import RuleAnswers
from liftcalc.plan.trial_lift import SHOWS_LEAST, force_checks, path_checks, reading_checks
from liftcalc.wind.pressure import gust_wind_speed_m_s

MACHINE_ERROR_PERCENT = 2.0
"""Taken for the machine's own weight where the outriggers were not read unladen: our own
assumption, no published source. [%]"""
PACKING_WITHIN_M = 0.05
"""How far packing may be off the plan: our own rule, no published source. [m]"""
READ_M = 0.005
"""Half of the last figure to which a length is read and printed. [m]"""
DIFFERENCE_COLUMNS = ("Quantity", "Planned", "Measured", "Difference", "Outcome")
AGAIN_COLUMNS = ("Check", "Planned", "Utilisation planned", "Measured", "Utilisation measured",
                 "Limit", "State as set up")  # fmt: skip
_AGREES, _DIFFERS = "agrees with the plan", "differs from the plan"


@dataclass(frozen=True, eq=False)
class AsSetUpStudy:
    """One lift as planned and as set up."""

    job: Job
    """With :attr:`~liftcalc.facts.job.Job.as_set_up`."""

    @property
    def fact(self) -> AsSetUp:
        """What was measured."""
        if self.job.as_set_up is None:
            raise InputError.of("as_set_up", None, "what was measured at the crane")
        if self.job.as_set_up.lift not in (ids := [lift.id for lift in self.job.lifts]):
            raise InputError.of("as_set_up.lift", self.job.as_set_up.lift, f"one of {', '.join(ids)}")
        return self.job.as_set_up

    @cached_property
    def planned(self) -> LiftAssessment:
        """The lift as planned."""
        return assess_lift(self.job, self.fact.lift)

    @cached_property
    def measured(self) -> LiftAssessment:
        """The lift on the base, place and level that were measured."""
        return assess_lift(self._job(), self.fact.lift)

    @cached_property
    def heavier(self) -> LiftAssessment | None:
        """The same with the greatest load that the reading stands for; None without a reading."""
        trial = self.fact.trial
        if trial is None or trial.indicator_t is None:
            return None
        gross = trial.indicator_t / SHOWS_LEAST
        if gross <= self.planned.setup.gross_t:
            return self.measured
        load = self.planned.setup.lift.load
        more = gross - self.planned.setup.gross_t
        mass = load.mass_t + more / (1 + load.contingency_percent / 100)
        return assess_lift(self._job(mass_t=mass), self.fact.lift)

    @cached_property
    def head_m(self) -> float:
        """Greatest height of the boom head on the planned path. [m]"""
        return float(self.planned.study.boom.head_z_m.max())

    @property
    def gust_m_s(self) -> float | None:
        """Measured 3 s gust at the boom head, of a mean by the wind's profile; None: no wind."""
        speed = self.fact.gust_m_s
        if speed is None or self.fact.gust_at == "at boom head":
            return speed
        return float(gust_wind_speed_m_s(speed, max(self.head_m, 10.0)))

    def _job(self, **load: float) -> Job:
        """The job with what was measured, and the day of it, in place of what was planned."""
        fact, lift = self.fact, self.job.lift(self.fact.lift)
        stand: dict[str, Any] = {
            name: value for name in ("tilt_x_percent", "tilt_y_percent") if (value := getattr(fact, name)) is not None
        }
        if fact.centre is not None:
            stand["easting_m"], stand["northing_m"] = self.centre_m[0].tolist()
        if fact.mark is not None:
            stand["heading_deg"] = self.heading_deg
        changed = {"legs": fact.legs or lift.legs, "mat": fact.mat or lift.mat,
                   "stand": lift.stand.model_copy(update=stand),
                   "load": lift.load.model_copy(update=load)}  # fmt: skip
        try:
            job, plan = self.job.with_lift(lift.model_copy(update=changed)), self.job.plan
        except ValidationError as error:
            raise input_error(error, source="as_set_up") from None
        dated = None if plan is None else plan.model_copy(update={"date": fact.date})
        return job.model_copy(update={"plan": dated})

    def _fixed(self, fix: Fix, near_m: FloatArray) -> tuple[FloatArray, float]:
        points = [(t.easting_m, t.northing_m) for t in fix.tapes]
        read = [t.distance_m for t in fix.tapes]
        return fixed_place_m(points, read, near_m=near_m, error_m=fix.error_m)

    @cached_property
    def centre_m(self) -> tuple[FloatArray, float]:
        """Centre of rotation by the tapes, and its error. [m]"""
        stand = self.job.lift(self.fact.lift).stand
        assert self.fact.centre is not None
        return self._fixed(self.fact.centre, np.array([stand.easting_m, stand.northing_m]))

    @cached_property
    def mark_m(self) -> tuple[FloatArray, float]:
        """The centreline's mark from the centre of rotation by the tapes, and its error. [m]"""
        assert self.fact.mark is not None
        way = np.radians(self.job.lift(self.fact.lift).stand.heading_deg)
        centre, error = self.centre_m
        near = centre + (self.fact.mark_x_m or 0.0) * np.array([np.cos(way), np.sin(way)])
        mark, more = self._fixed(self.fact.mark, near)
        return mark - centre, float(np.hypot(error, more))

    @property
    def heading_deg(self) -> float:
        """Heading of the machine's front by the mark on its centreline, as near the plan's."""
        planned = self.job.lift(self.fact.lift).stand.heading_deg
        ahead = self.mark_m[0] * np.sign(self.fact.mark_x_m or 0.0)
        turn = float(np.degrees(np.arctan2(ahead[1], ahead[0]))) - planned
        return planned + (turn + 180.0) % 360.0 - 180.0

    @property
    def mark_off_m(self) -> float:
        """How far the mark is from where it is stated to be, along the centreline. [m]"""
        return float(np.hypot(*self.mark_m[0])) - abs(self.fact.mark_x_m or 0.0)

    @cached_property
    def place_error_m(self) -> float:
        """How far any outrigger may be off the place measured, by the tapes' errors. [m]"""
        error, turn = self.centre_m[1], 0.0
        if self.fact.mark is not None:
            turn = self.mark_m[1] / abs(self.fact.mark_x_m or 0.0)
        return float(np.hypot(error, turn * np.hypot(*self.measured.setup.leg_xy_m.T).max()))

    @cached_property
    def hung(self) -> MeasuredLoad | None:
        """What hangs on the hook by the outriggers' forces."""
        trial = self.fact.trial
        if trial is None or trial.forces_kN is None or trial.force_error_percent is None:
            return None
        setup, share = self.measured.setup, trial.force_error_percent
        if trial.unladen_kN is not None:
            without = np.array(trial.unladen_kN.as_tuple())
        else:
            total, at, _ = weight_on_base(setup, trial.slew_deg, trial.radius_m, load_t=0.0)
            rows = np.vstack([np.ones(4), setup.leg_xy_m.T])
            sums = np.array([total[0], *(total[0] * at[0])])
            without = np.linalg.lstsq(rows, sums, rcond=None)[0]
            # one error of the whole weight, not four that partly cancel
            share = MACHINE_ERROR_PERCENT * without.sum() / float(np.linalg.norm(without))
        return load_from_forces(
            trial.forces_kN.as_tuple(), without, legs_m=setup.leg_xy_m,
            error_percent=trial.force_error_percent, without_error_kN=np.abs(without) * share / 100,
        )  # fmt: skip


def _row(name: str, planned: float, measured: float, quantity: str, show: Show, *, agrees: bool) -> tuple[str, ...]:
    return (name, show(planned, quantity), show(measured, quantity),
            show(measured - planned, quantity), _AGREES if agrees else _DIFFERS)  # fmt: skip


def difference_rows(study: AsSetUpStudy, show: Show) -> list[tuple[str, ...]]:
    """Every measured quantity beside the plan."""
    fact, setup = study.fact, study.planned.setup
    lift, rows = setup.lift, []
    if fact.legs is not None:
        for name, plan, got in zip(LEG_NAMES, lift.legs.as_tuple(), fact.legs.as_tuple(), strict=True):
            rows.append(_row(f"Extension of outrigger {name}", plan, got, "length_m", show,
                             agrees=-1e-9 <= got - plan <= 2 * READ_M + 1e-9))  # fmt: skip
    if fact.mat is not None:
        rows.append(("Mat", lift.mat, fact.mat, "–", _AGREES if fact.mat == lift.mat else _DIFFERS))
    if fact.packing_m is not None:
        for name, plan, got in zip(LEG_NAMES, study.planned.place.packing_m.tolist(),
                                   fact.packing_m.as_tuple(), strict=True):  # fmt: skip
            near = abs(got - plan) <= PACKING_WITHIN_M
            rows.append(_row(f"Packing of outrigger {name}", 1000 * plan, 1000 * got,
                             "small_length_mm", show, agrees=near))  # fmt: skip
    for axis, words in (("x", "front low"), ("y", "left low")):
        got = getattr(fact, f"tilt_{axis}_percent")
        if got is not None:
            rows.append(_row(f"Tilt, {words} positive", 0.0, got, "percent", show,
                             agrees=abs(got) <= setup.permitted_tilt_percent))  # fmt: skip
    if fact.centre is not None:
        place, error = study.centre_m
        for k, name in enumerate(("easting_m", "northing_m")):
            plan = getattr(lift.stand, name)
            word = f"Centre of rotation, {name[:-2]} (± {amount(error, 'length_m', 'up')})"
            rows.append(_row(word, plan, float(place[k]), "length_m", show, agrees=abs(place[k] - plan) <= TOLERANCE_M))
    if fact.mark is not None:
        (ahead, error), stated = study.mark_m, abs(fact.mark_x_m or 0.0)
        turn = float(np.degrees(np.arctan2(error, stated)))
        plan, got = lift.stand.heading_deg, study.heading_deg
        rows.append(_row(f"Heading (± {amount(turn, 'angle_deg', 'up')})", plan, got, "angle_deg",
                         show, agrees=abs(got - plan) <= 1.0))  # fmt: skip
        rows.append(_row(f"Mark from the centre of rotation (± {amount(error, 'length_m', 'up')})",
                         stated, float(np.hypot(*ahead)), "length_m", show,
                         agrees=abs(study.mark_off_m) <= error))  # fmt: skip
    return rows + _trial_rows(study, show)


def _trial_rows(study: AsSetUpStudy, show: Show) -> list[tuple[str, ...]]:
    """The trial lift: radius, reading, and the load by the outriggers' forces."""
    fact, setup, trial = study.fact, study.planned.setup, study.fact.trial
    rows = []
    if (gust := study.gust_m_s) is not None:
        stop = stop_gust_m_s(setup, study.head_m)
        rows.append(_row(f"Gust, measured {fact.gust_at}; planned: stop above", stop, gust,
                         "speed_m_s", show, agrees=gust <= stop))  # fmt: skip
    if trial is None:
        return rows
    most, gross = float(study.planned.path.radius_m.max()), setup.gross_t
    rows.append(_row("Radius at the trial lift; planned: maximum", most, trial.radius_m, "length_m",
                     show, agrees=trial.radius_m <= most + READ_M))  # fmt: skip
    if trial.indicator_t is not None:
        rows.append(_row("Reading of the load indicator; planned: gross load", gross,
                         trial.indicator_t, "mass_t", show,
                         agrees=trial.indicator_t <= gross * (1 + 1e-9)))  # fmt: skip
    if (hung := study.hung) is not None:
        word = f"Load by the outriggers' forces (± {amount(hung.load_error_t, 'mass_t', 'up')})"
        rows.append(_row(word, gross, hung.load_t, "mass_t", show, agrees=hung.load_t <= gross * (1 + 1e-6)))
    return rows


def again_rows(study: AsSetUpStudy, show: Show) -> list[tuple[str, ...]]:
    """Checks that the measured set-up moves, or that fail on it: planned and as set up."""
    before = {c.id: c for c in study.planned.checks}
    rows: list[tuple[str, ...]] = []
    for check in study.measured.checks:
        old = before.get(check.id)
        used = (old.utilisation if old is not None else None, check.utilisation)
        moved = old is None or abs((used[1] or 0.0) - (used[0] or 0.0)) > 0.005
        if moved or check.status != "within":
            words = ["–" if u is None else f"{100 * u:.0f} %" for u in used]
            rows.append((
                check.title, "–" if old is None else show(old.value, check.quantity), words[0],
                show(check.value, check.quantity), words[1], show(check.limit, check.quantity), check.words,
            ))  # fmt: skip
    return rows or [("No check moves by more than 0.5 % of its limit", *["–"] * 5, "as planned")]


_MEASURED = {
    "legs": "extension of every outrigger", "mat": "mats", "packing_m": "packing",
    "tilt_x_percent": "tilt along the machine", "tilt_y_percent": "tilt across it",
    "centre": "centre of rotation by two tapes", "mark": "heading by a mark on the centreline",
    "gust_m_s": "wind", "trial": "trial lift",
}  # fmt: skip


def set_up_checks(study: AsSetUpStudy) -> list[Check]:
    """The plan as set up, on its day; what was not measured; place, reading, forces, wind."""
    fact = study.fact
    missing = [word for name, word in _MEASURED.items() if getattr(fact, name) is None]
    if fact.trial is not None and fact.trial.indicator_t is None:
        missing.append("reading of the load indicator")
    plan = plan_checks(study.measured, RuleAnswers(study.measured))
    rows = [
        *(c for c in plan if c.id != "plan-place"), *_place_checks(study),
        stated_check(
            "measured", "Quantities that were not measured", missing=len(missing), of=len(_MEASURED) + 1,
            where=", ".join(missing), reference="the as-set-up sheet", remedy="Measure them before the lift.",
        ),
    ]  # fmt: skip
    if (gust := study.gust_m_s) is not None:
        stop = stop_gust_m_s(study.measured.setup, study.head_m)
        rows.append(check_row("measured-gust", gust, stop, at=fact.gust_at))
    if fact.mark is not None:
        rows.append(check_row("measured-mark", abs(study.mark_off_m), study.mark_m[1]))
    if fact.trial is not None:
        most = float(study.planned.path.radius_m.max()) + READ_M
        rows.append(check_row("measured-radius", fact.trial.radius_m, most))
        rows += path_checks(fact.trial, study.measured)
        rows += reading_checks(fact.trial, study.planned, study.heavier)
        rows += force_checks(fact.trial, study.planned, study.hung)
    return rows


def _place_checks(study: AsSetUpStudy) -> list[Check]:
    """How exactly the place is known against what keeps every check there; packing."""
    fact, rows = study.fact, list[Check]()
    if fact.centre is not None and (room := place_tolerances_m(study.measured)):
        side = min(room, key=lambda name: room[name])
        rows.append(check_row("measured-place", study.place_error_m, room[side], side=side))
    if fact.packing_m is not None:
        off = np.abs(study.planned.place.packing_m - fact.packing_m.as_tuple())
        limit = 1000 * PACKING_WITHIN_M
        rows.append(check_row("measured-packing", 1000 * float(off.max()), limit))
    return rows


def verdict_rows(study: AsSetUpStudy) -> list[tuple[str, str, str]]:
    """The whole lift as planned, as set up, and with the maximum load for the reading."""
    each = [("as planned", study.planned), ("as set up", study.measured)]
    if study.heavier is not None:
        each.append(("as set up, maximum load for this reading", study.heavier))
    return [(name, STATE_WORDS[a.verdict.status], a.verdict.governing.title) for name, a in each]


def measured_rows(study: AsSetUpStudy) -> list[tuple[str, str, str]]:
    """Who measured, when, by which tapes."""
    fact = study.fact
    tapes = [
        (name, f"{tape.point}: {amount(tape.distance_m, 'length_m')}")
        for name, fix in (("Tape to the centre of rotation", fact.centre),
                          ("Tape to the mark on the centreline", fact.mark))
        if fix is not None for tape in fix.tapes
    ]  # fmt: skip
    source = f"measured by {fact.measured_by}, {fact.date}"
    return [(name, value, source) for name, value in (*tapes, ("Remarks", fact.remarks or "–"))]


def set_up_values(study: AsSetUpStudy) -> dict[str, Any]:
    """Numbers for the record."""
    lift = study.measured.setup.lift
    values: dict[str, Any] = {
        "easting_m": lift.stand.easting_m, "northing_m": lift.stand.northing_m,
        "heading_deg": lift.stand.heading_deg, "extension_m": list(lift.legs.as_tuple()),
    }  # fmt: skip
    if (hung := study.hung) is not None:
        values |= {"load_by_forces_t": hung.load_t, "load_by_forces_error_t": hung.load_error_t}
    if study.heavier is not None:
        values["greatest_load_t"] = study.heavier.setup.gross_t
    return values
