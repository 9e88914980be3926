"""Where to stand for the lifts of a job: the search, the map, the plans and the alternatives.

Lifts that fail for a reason no place can change (wind, rigging, hook block) are left out and
named. Methods in :mod:`liftcalc.placement`; no published source of its own.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from liftcalc.base.errors import LiftcalcError
from liftcalc.facts.job import Job
from liftcalc.facts.lift import Lift
from liftcalc.lift.assess import assess_lift
from liftcalc.lift.setup import build_setup
from liftcalc.lift.standing import SheetCheck, search_problem, soft_zones
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
from liftcalc.placement.measure import SearchProblem, StandPlace
from liftcalc.placement.search import SearchResult, search
from liftcalc.placement.setups import (
    MarginMap,
    Poses,
    SetupPlan,
    margin_map,
    pareto_plans,
    plan_setups,
)

_PLACE_INDEPENDENT = ("wind", "rigging", "sling-table", "hook-block", "sling-angle",
                      "points-above-cg")  # fmt: skip
HELP_CHECKS = 400
HELP_WITHIN_M = 15.0


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
    job: Job
    """The job searched, for its site."""

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
            left_out.append((lift.id, f"no position helps. {why}"))
        else:
            served.append(lift.id)
    return tuple(served), tuple(left_out)


def study_stand(
    job: Job, lift_id: str, *, step_m: float = 1.0, heading_step_deg: float = 15.0, count: int = 10,
    max_checks: int = 3000, progress: Callable[[int, int], None] | None = None,
    phase: Callable[[str], None] | None = None, stop: Callable[[], bool] | None = None,
) -> StandStudy:  # fmt: skip
    """Search for the best places of a lift and its companions, and for what would help failures.

    ``progress`` is called with parts done and parts in all, over everything below; the parts never
    fall, and are full only when the study is through. ``phase`` is called with words for what is
    being done (:mod:`liftcalc.lift.study_progress`). ``stop`` is asked between headings and between
    full checks of one lift; True ends the study with what was found so far, and marks it
    incomplete, whatever phase it has reached.

    Raises: As :func:`liftcalc.lift.standing.search_problem`; every lift left out.
    """
    # long: the phases of one study in their order
    tally = StudyProgress(progress, phase, stop)
    tally.begin(READING)
    ids, left_out = companions(job, lift_id)
    ids = ids or (lift_id,)
    problem = search_problem(job, ids, step_m=step_m, heading_step_deg=heading_step_deg)
    whole = float(problem.poses * len(ids))
    tally.expect(SEARCHING, whole)
    tally.expect(CHECKING, tally.check_work(2 * count, len(ids)))
    tally.expect(PLANNING, whole + tally.check_work(count, 1))
    tally.expect(MAPPING, whole / 10)
    # lifts that do not pass where they stand
    failing = [
        i for i in ids if not tally.stop() and assess_lift(job, i).verdict.status != "within"
    ]
    for one in failing:
        tally.expect(HELPING, whole / len(ids) + tally.check_work(count, 1), of=one)
    check = SheetCheck(job, stop=tally.stop)
    result = search(problem, check.of(*ids), count=count, apart_m=2.0, apart_deg=30.0,
                    max_checks=max_checks, progress=tally.passes(SEARCHING, whole),
                    checked=tally.checks(CHECKING, len(ids), wanted=count, most=max_checks),
                    stop=tally.stop)  # fmt: skip
    tally.end(SEARCHING)
    tally.end(CHECKING)
    plans: tuple[SetupPlan, ...] = ()
    poses, before = Poses(problem), check.made
    if not tally.stop():
        tally.begin(PLANNING)
        plans = plan_setups(problem, check, most_setups=min(len(ids), 3), max_checks=max_checks,
                            progress=tally.passes(PLANNING, whole),
                            checked=tally.checks(PLANNING, 1, wanted=count, most=max_checks),
                            stop=tally.stop, poses=poses)  # fmt: skip
        tally.end(PLANNING)
    settled = check.made - before < max_checks
    helped = []
    for one in failing:
        if tally.stop():
            break
        alone = search_problem(job, (one,), step_m=step_m, heading_step_deg=heading_step_deg)
        helpful = _helpful(alone, check, job.for_lift(one).lifts[0], tally, whole / len(ids))
        if helpful[0] or not tally.stopped:  # a stop with nothing found says nothing
            helped.append((one, *helpful))
    if not tally.stop():
        tally.begin(MAPPING)
    margin = margin_map(
        problem, progress=tally.passes(MAPPING, whole / 10), stop=tally.stop, poses=poses
    )
    tally.finish()
    return StandStudy(
        asked=lift_id, asked_state=_state(job, lift_id), lift_ids=ids, left_out=left_out,
        present=measured_place(problem, **_as_planned(job.for_lift(lift_id).lifts[0])),
        result=result, margin=margin, plans=pareto_plans(plans),
        helped=tuple((one, changes) for one, changes, _ in helped), step_m=step_m,
        heading_step_deg=heading_step_deg,
        soft=tuple((zone, *kN) for zone, kN in soft_zones(build_setup(job, ids[0])).items()),
        stopped=tally.stopped, plans_settled=settled,
        help_checks=tuple(checks for _, _, checks in helped), job=job,
    )  # fmt: skip


def _as_planned(lift: Lift) -> dict[str, Any]:
    """Stand point, heading and legs of a lift."""
    return {
        "easting_m": lift.stand.easting_m, "northing_m": lift.stand.northing_m,
        "heading_deg": lift.stand.heading_deg, "extension_m": lift.legs.as_tuple(),
    }  # fmt: skip


def _helpful(problem: SearchProblem, check: SheetCheck, lift: Lift, tally: StudyProgress,
             work: float) -> tuple[tuple[Alternative, ...], int]:  # fmt: skip
    """Smallest changes that make one lift pass, and the full checks made for it."""
    before = check.made
    tally.begin(HELPING)
    changes = alternatives(problem, check.of(lift.id), **_as_planned(lift), within_m=HELP_WITHIN_M,
                           max_checks=HELP_CHECKS, progress=tally.passes(HELPING, work, of=lift.id),
                           checked=tally.checks(HELPING, 1, wanted=3, most=1200, of=lift.id),
                           stop=tally.stop)  # fmt: skip
    tally.end(HELPING, of=lift.id)
    return changes, check.made - before


def _state(job: Job, lift_id: str) -> str:
    """State in words of a lift as planned, in the middle of a sentence."""
    try:
        found = assess_lift(job, lift_id).verdict
    except LiftcalcError:
        return "not assessed: its facts do not fit"
    used = found.governing.utilisation
    share = "" if used is None else f", {100 * used:.0f} %"
    return found.head[0].lower() + found.head[1:] + share
