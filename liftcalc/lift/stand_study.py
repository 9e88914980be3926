"""Where to stand for the lifts of a job: the search, the map, the plans and the alternatives.

Contents: :class:`StandStudy`, :func:`study_stand`, :func:`companions`, :func:`stand_checks`,
:func:`place_rows`, :func:`plan_rows`, :func:`alternative_rows`, :func:`stand_values`.

Lifts that fail for a reason no place can change (wind, rigging, hook block) are left out and
named. Methods in :mod:`liftcalc.placement`; no published source of its own.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from liftcalc.base.checks import Check, limit_check, search_check
from liftcalc.base.errors import LiftcalcError
from liftcalc.facts.job import Job
from liftcalc.lift.assess import assess_lift
from liftcalc.lift.setup import build_setup
from liftcalc.lift.standing import group_check, search_problem, soft_zones
from liftcalc.lift.study_progress import (
    CHECKING,
    HELPING,
    MAPPING,
    PLANNING,
    READING,
    SEARCHING,
    StudyProgress,
)
from liftcalc.placement.alternatives import Alternative, alternatives, measured_place
from liftcalc.placement.search import SearchResult, StandPlace, StopAsked, search
from liftcalc.placement.setups import (
    MarginMap,
    Poses,
    SetupPlan,
    margin_map,
    pareto_plans,
    plan_setups,
)

__all__ = [
    "StandStudy",
    "alternative_rows",
    "companions",
    "job_rows",
    "place_rows",
    "plan_rows",
    "soft_rows",
    "stand_checks",
    "stand_values",
    "study_stand",
]

_PLACE_INDEPENDENT = (
    "wind",
    "rigging",
    "sling-table",
    "hook-block",
    "sling-angle",
    "points-above-cg",
)
_HELP_CHECKS = 400
_HELP_WITHIN_M = 15.0
_STOPPED = "stopped before all was tried: more may be found"
Show = Callable[[float | None, str], str]


@dataclass(frozen=True, eq=False)
class StandStudy:
    """What the search found for the lifts that share a machine and a mat."""

    asked: str
    """Lift for which the study was made."""
    lift_ids: tuple[str, ...]
    """Lifts for which a place was searched; the asked one may have been left out."""
    asked_state: str
    """State in words of the asked lift as it is planned now."""
    left_out: tuple[tuple[str, str], ...]
    present: StandPlace
    result: SearchResult
    margin: MarginMap
    plans: tuple[SetupPlan, ...]
    helped: tuple[tuple[str, tuple[Alternative, ...]], ...]
    step_m: float
    heading_step_deg: float
    soft: tuple[tuple[str, float, float], ...]
    """Zones not searched: name, what the mat carries there, a quarter of the empty machine [kN]."""
    stopped: bool
    """Whether it was stopped before it was through, in whatever phase."""
    plans_settled: bool
    """False when the full checks for the plans were spent before the best were known."""
    help_checks: tuple[int, ...]
    """Full checks made for each lift of ``helped``."""

    @property
    def complete(self) -> bool:
        """False when the study was stopped, or ran out of full checks."""
        return self.result.complete and self.plans_settled and not self.stopped


def companions(job: Job, lift_id: str) -> tuple[tuple[str, ...], tuple[tuple[str, str], ...]]:
    """Lifts of the same machine and mat that some place could serve; and the others, with why."""
    own = job.for_lift(lift_id).lifts[0]
    served: list[str] = []
    left_out: list[tuple[str, str]] = []
    for lift in job.lifts:
        if (lift.machine, lift.mat) != (own.machine, own.mat):
            continue
        try:
            rows = assess_lift(job, lift.id).lift
        except LiftcalcError as error:
            why = str(error).splitlines()[0]
            left_out.append((lift.id, f"not checked, so not searched for. {why}"))
            continue
        failed = [c for c in rows if c.id in _PLACE_INDEPENDENT and c.status != "within"]
        if failed:
            why = f"{failed[0].title}: {failed[0].remedy}"
            left_out.append((lift.id, f"no place helps. {why}"))
        else:
            served.append(lift.id)
    return tuple(served), tuple(left_out)


def study_stand(
    job: Job,
    lift_id: str,
    *,
    step_m: float = 1.0,
    heading_step_deg: float = 15.0,
    count: int = 10,
    max_checks: int = 3000,
    progress: Callable[[int, int], None] | None = None,
    phase: Callable[[str], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> StandStudy:
    """Search for the best places of a lift and its companions, and for what would help failures.

    ``progress`` is called with parts done and parts in all, over everything below; the parts never
    fall, and are full only when the study is through. ``phase`` is called with words for what is
    being done (:mod:`liftcalc.lift.study_progress`). ``stop`` is asked between headings and between
    full checks of one lift; True ends the study with what was found so far, and marks it
    incomplete, whatever phase it has reached.

    Raises: As :func:`liftcalc.lift.standing.search_problem`; every lift left out.
    """
    told = StudyProgress(progress, phase, stop)
    told.begin(READING)
    ids, left_out = companions(job, lift_id)
    ids = ids or (lift_id,)
    problem = search_problem(job, ids, step_m=step_m, heading_step_deg=heading_step_deg)
    whole = float(problem.poses * len(ids))
    told.expect(SEARCHING, whole)
    told.expect(CHECKING, told.check_work(2 * count, len(ids)))
    told.expect(PLANNING, whole + told.check_work(count, 1))
    told.expect(MAPPING, whole / 10)
    failing = _failing(job, ids, told)
    around = whole / len(ids)
    for one in failing:
        told.expect(HELPING, around + told.check_work(count, 1), of=one)
    one_by_one = group_check(job)
    judged = 0

    def judge(place: StandPlace, names: tuple[str, ...]) -> tuple[bool, str]:
        nonlocal judged
        judged += 1
        for name in names:
            if told.stop():
                raise StopAsked
            passed = one_by_one(place, (name,))
            if not passed[0]:
                return passed
        return True, ""

    result = search(
        problem,
        lambda place: judge(place, ids),
        count=count,
        apart_m=2.0,
        apart_deg=30.0,
        max_checks=max_checks,
        progress=told.passes(SEARCHING, whole),
        checked=told.checks(CHECKING, len(ids), wanted=count, most=max_checks),
        stop=told.stop,
    )
    told.end(SEARCHING)
    told.end(CHECKING)
    plans: tuple[SetupPlan, ...] = ()
    poses = Poses(problem)
    before = judged
    if not told.stop():
        told.begin(PLANNING)
        plans = plan_setups(
            problem,
            judge,
            most_setups=min(len(ids), 3),
            max_checks=max_checks,
            progress=told.passes(PLANNING, whole),
            checked=told.checks(PLANNING, 1, wanted=count, most=max_checks),
            stop=told.stop,
            poses=poses,
        )
        told.end(PLANNING)
    settled = judged - before < max_checks
    lift = job.for_lift(lift_id).lifts[0]
    present = measured_place(
        problem,
        easting_m=lift.stand.easting_m,
        northing_m=lift.stand.northing_m,
        heading_deg=lift.stand.heading_deg,
        extension_m=lift.legs.as_tuple(),
    )
    helped, help_checks = [], []
    for one in failing:
        if told.stop():
            break
        before = judged
        told.begin(HELPING)
        where = job.for_lift(one).lifts[0]
        found = alternatives(
            search_problem(job, (one,), step_m=step_m, heading_step_deg=heading_step_deg),
            lambda place, names=(one,): judge(place, names),  # type: ignore[misc]
            easting_m=where.stand.easting_m,
            northing_m=where.stand.northing_m,
            heading_deg=where.stand.heading_deg,
            extension_m=where.legs.as_tuple(),
            within_m=_HELP_WITHIN_M,
            max_checks=_HELP_CHECKS,
            progress=told.passes(HELPING, around, of=one),
            checked=told.checks(HELPING, 1, wanted=3, most=1200, of=one),
            stop=told.stop,
        )
        told.end(HELPING, of=one)
        if found or not told.stopped:  # nothing found before a stop does not mean that nothing is
            helped.append((one, found))
            help_checks.append(judged - before)
    if not told.stop():
        told.begin(MAPPING)
    margin = margin_map(
        problem, progress=told.passes(MAPPING, whole / 10), stop=told.stop, poses=poses
    )
    told.finish()
    return StandStudy(
        asked=lift_id,
        asked_state=_state(job, lift_id),
        lift_ids=ids,
        left_out=left_out,
        present=present,
        result=result,
        margin=margin,
        plans=pareto_plans(plans),
        helped=tuple(helped),
        step_m=step_m,
        heading_step_deg=heading_step_deg,
        soft=tuple((zone, *found) for zone, found in soft_zones(build_setup(job, ids[0])).items()),
        stopped=told.stopped,
        plans_settled=settled,
        help_checks=tuple(help_checks),
    )


def _state(job: Job, lift_id: str) -> str:
    """State in words of a lift as planned, in the middle of a sentence."""
    try:
        head = assess_lift(job, lift_id).verdict.head
    except LiftcalcError:
        return "not to be assessed: its facts do not fit"
    return head[0].lower() + head[1:]


def _failing(job: Job, ids: tuple[str, ...], told: StudyProgress) -> list[str]:
    """Lifts that do not pass where they stand."""
    found = []
    for one in ids:
        if told.stop():
            break
        if assess_lift(job, one).verdict.status != "within":
            found.append(one)
    return found


def soft_rows(study: StandStudy, show: Show) -> list[tuple[str, ...]]:
    """Ground that was not searched, and why."""
    rows: list[tuple[str, ...]] = [
        (
            zone,
            f"the mat carries less than {show(most, 'force_kN')} there; a quarter of the empty "
            f"machine weighs {show(quarter, 'force_kN')}",
        )
        for zone, most, quarter in study.soft
    ]
    return rows or [("none", "every explored zone was searched")]


def stand_checks(job: Job, study: StandStudy) -> list[Check]:
    """A place for every lift at once, and its utilisation; a lift asked for and left out fails."""
    names = ", ".join(study.lift_ids)
    grid = f"every {study.step_m:g} m and {study.heading_step_deg:g}°"
    rows = [
        limit_check(
            "places",
            f"Positions from which {names} are within every limit (as planned now, "
            f"{study.asked} is {study.asked_state})",
            value=float(len(study.result.places)),
            limit=1.0,
            quantity="ratio",
            sense="min",
            reference=f"search over the stand area, {grid}; full check of the sheets",
            remedy="Plan more than one set-up, another machine, or change the stand area. "
            "Layouts that the manufacturer would have to confirm are not counted.",
        )
    ]
    if study.asked not in study.lift_ids:
        # The places above serve its companions only: they must not read as a pass of this lift.
        rows.append(
            limit_check(
                "places-asked",
                f"Positions from which {study.asked} is within every limit",
                value=0.0,
                limit=1.0,
                quantity="ratio",
                sense="min",
                reference="full check of the sheets where it is planned",
                remedy=dict(study.left_out)[study.asked],
            )
        )
    if study.result.places:
        rows.append(
            limit_check(
                "best-place",
                "Capacity used at the best position",
                value=100 * study.result.places[0].utilisation,
                limit=job.rules.utilisation_limit_percent,
                quantity="percent",
                reference="maker's charts of bases inside the actual one; owner's rule",
                where=_where(study.result.places[0]),
            )
        )
    return [search_check(row) for row in rows]


def _where(place: StandPlace) -> str:
    return (
        f"{place.easting_m:.2f} m E, {place.northing_m:.2f} m N, heading {place.heading_deg:.0f}°"
    )


def place_rows(study: StandStudy, show: Show) -> list[tuple[str, ...]]:
    """The present place and the best ones."""
    rows: list[tuple[str, ...]] = []
    for name, place in (
        ("as planned", study.present),
        *((str(n + 1), p) for n, p in enumerate(study.result.places)),
    ):
        legs = " / ".join(show(e, "length_m") for e in place.extension_m)
        force = place.leg_force_kN
        rows.append(
            (
                name,
                show(place.easting_m, "length_m"),
                show(place.northing_m, "length_m"),
                show(place.heading_deg, "angle_deg"),
                legs,
                "no data" if place.utilisation == float("inf") else f"{place.utilisation:.0%}",
                "tips" if force == float("inf") else show(force, "force_kN"),
            )
        )
    return rows


def plan_rows(study: StandStudy, show: Show) -> list[tuple[str, ...]]:
    """Plans that no other betters in margin, set-ups and mat area."""
    rows: list[tuple[str, ...]] = [
        (
            str(plan.setups),
            f"{plan.utilisation:.0%}",
            show(plan.leg_force_kN, "force_kN"),
            show(plan.mat_area_m2, "area_m2"),
            "; ".join(
                f"{', '.join(names)} from {_where(place)}"
                for names, place in zip(plan.lifts, plan.places, strict=True)
            ),
        )
        for plan in study.plans
    ]
    if study.stopped:
        rows.append(("not finished", "–", "–", "–", _STOPPED))
    elif not study.plans_settled:
        rows.append(
            ("not settled", "–", "–", "–", "the full checks were spent: search one lift alone")
        )
    return rows or [("none", "–", "–", "–", "no place serves every lift")]


def alternative_rows(study: StandStudy) -> list[tuple[str, str]]:
    """For each lift that fails where it stands: the smallest changes that make it pass."""
    rows = [(lift, alternative.words) for lift, found in study.helped for alternative in found]
    rows += [
        (
            lift,
            f"nothing within {_HELP_WITHIN_M:g} m helps"
            + (f" among the first {checks} changes tried" if checks >= _HELP_CHECKS else "")
            + ": other mats, another machine or a larger stand area",
        )
        for (lift, found), checks in zip(study.helped, study.help_checks, strict=True)
        if not found
    ]
    rows += list(study.left_out)
    if study.stopped:
        rows.append(("not finished", _STOPPED))
    return rows or [("–", "every lift passes where it stands")]


def job_rows(job: Job, show: Show) -> list[tuple[str, ...]]:
    """Every lift of the job where it is planned now: machine, stand, load, verdict."""
    rows: list[tuple[str, ...]] = []
    for lift in job.lifts:
        where = (
            f"{show(lift.stand.easting_m, 'length_m')} E, "
            f"{show(lift.stand.northing_m, 'length_m')} N"
        )
        try:
            assessed = assess_lift(job, lift.id)
            gross = show(assessed.setup.gross_t, "mass_t")
            words = assessed.verdict.words
        except LiftcalcError as error:
            gross, words = "–", str(error).splitlines()[0]
        rows.append((lift.id, lift.title, lift.machine, where, gross, words))
    return rows


def stand_values(study: StandStudy) -> dict[str, Any]:
    """Numbers that a re-check compares."""
    return {
        "lifts": list(study.lift_ids),
        "asked_as_planned": study.asked_state,
        "left_out": [lift for lift, _ in study.left_out],
        "poses": study.result.poses,
        "fitting": study.result.fitting,
        "complete": study.complete,
        "places": len(study.result.places),
        "utilisation": [p.utilisation for p in study.result.places],
        "easting_m": [p.easting_m for p in study.result.places],
        "northing_m": [p.northing_m for p in study.result.places],
        "heading_deg": [p.heading_deg for p in study.result.places],
        "leg_force_kN": [p.leg_force_kN for p in study.result.places],
        "setups": [plan.setups for plan in study.plans],
    }
