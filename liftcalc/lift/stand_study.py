"""Where to stand for the lifts of a job: the search, the map, the plans and the alternatives.

Lifts that fail for a reason no place can change (wind, rigging, hook block) are left out and
named. Methods in :mod:`liftcalc.placement`; no published source of its own.

Progress is counted in positions measured for one lift at one heading; a full check of one lift
costs as much as many of these. How many full checks a search needs is not known beforehand: it is
estimated again after each, from the share of places that passed so far. An estimate that grows
would set the bar back; the bar then waits until the work has caught up.
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
from liftcalc.placement import setups
from liftcalc.placement.alternatives import Alternative, alternatives, measured_place
from liftcalc.placement.measure import SearchProblem, StandPlace
from liftcalc.placement.search import SearchResult, search
from liftcalc.placement.setups import MarginMap, Poses, SetupPlan, margin_map, plan_setups

PARTS = 1000
"""Parts of the whole that progress is counted in."""
READING = "reading the lifts"
SEARCHING = "searching"
CHECKING = "checking in full"
PLANNING = "planning set-ups"
HELPING = "finding remedies"
MAPPING = "mapping utilisation"
_CHECK = 20_000.0
"""A full check of one lift, in positions measured for one lift at one heading."""


class _Task:
    """One piece of a phase: what it should cost at first sight, and what its parts say."""

    def __init__(self, first: float) -> None:
        self.first = first
        self.done: list[float] = []
        self.expected: list[float] = []

    def part(self) -> int:
        self.done.append(0.0)
        self.expected.append(0.0)
        return len(self.done) - 1

    @property
    def whole(self) -> float:
        return max(self.first, sum(self.expected))


class StudyProgress:
    """Collects what is done of every phase, and reports the fraction of the whole.

    Parameters:
      progress: callable, optional. Called with (parts done, :data:`PARTS`). The parts never fall,
        and are full only at the end.
      phase: callable, optional. Called with words for the work whenever another phase begins.
      stop: callable, optional. Asked often; True ends the study.
    """

    def __init__(
        self, progress: Callable[[int, int], None] | None, phase: Callable[[str], None] | None,
        stop: Callable[[], bool] | None,
    ) -> None:  # fmt: skip
        self._progress, self._phase, self._stop = progress, phase, stop
        self._now = ""
        self._parts = 0
        self._tasks: dict[tuple[str, str], _Task] = {}
        self.stopped = False
        """Whether the study was asked to stop before it was through."""

    def stop(self) -> bool:
        """Whether to stop; once stopped, always."""
        if not self.stopped and self._stop is not None and self._stop():
            self.stopped = True
        return self.stopped

    def begin(self, phase: str) -> None:
        """Say that another phase begins, or goes on."""
        if phase != self._now:
            self._now = phase
            if self._phase is not None:
                self._phase(phase)

    def expect(self, phase: str, work: float, *, of: str = "") -> None:
        """Say what a phase (of one lift) should cost, before it begins."""
        self._tasks[phase, of] = _Task(work)

    def end(self, phase: str, *, of: str = "") -> None:
        """A phase (of one lift) is through: what it should have cost beyond falls away."""
        task = self._tasks.get((phase, of))
        if task is not None and not self.stopped:
            task.first = 0.0
            task.expected = list(task.done)
            self._report()

    def passes(self, phase: str, work: float, *, of: str = "") -> Callable[[int, int], None]:
        """Callback for passes over the grid, each set of them costing *work*.

        Another set begins when the number done falls back.
        """
        task = self._tasks.setdefault((phase, of), _Task(0.0))
        part, before, last = task.part(), 0.0, 0

        def advance(done: int, whole: int) -> None:
            nonlocal before, last
            self.begin(phase)
            if done < last:
                before += work
            last = done
            task.done[part] = before + work * done / max(whole, 1)
            task.expected[part] = before + work
            self._report()

        return advance

    def checks(self, phase: str, lifts: int, *, wanted: int, most: int, of: str = "") -> Callable[[int, int], None]:
        """Callback for full checks of *lifts* each, until *wanted* passed or *most* were made."""
        task = self._tasks.setdefault((phase, of), _Task(0.0))
        part = task.part()

        def advance(checks: int, passed: int) -> None:
            self.begin(phase)
            total = checks * wanted / passed if passed else 2.0 * checks
            total = max(min(total, float(most)), float(checks)) if passed < wanted else checks
            task.done[part] = self.check_work(checks, lifts)
            task.expected[part] = self.check_work(total, lifts)
            self._report()

        return advance

    @staticmethod
    def check_work(checks: float, lifts: int) -> float:
        """What so many full checks of *lifts* each should cost."""
        return _CHECK * lifts * checks

    def finish(self) -> None:
        """All is done: the bar is full, unless the study was stopped."""
        if not self.stopped and self._progress is not None:
            self._parts = PARTS
            self._progress(PARTS, PARTS)

    def _report(self) -> None:
        if self._progress is None:
            return
        whole = sum(task.whole for task in self._tasks.values())
        done = sum(sum(task.done) for task in self._tasks.values())
        parts = int(PARTS * done / whole) if whole > 0 else 0
        self._parts = max(self._parts, min(parts, PARTS - 1))
        self._progress(self._parts, PARTS)


_PLACE_INDEPENDENT = ("wind", "rigging", "sling-table", "hook-block", "sling-angle", "points-above-cg")
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

    ``progress`` is called with parts done and parts in all, over everything below; the parts never fall, and are full
    only when the study is through. ``phase`` is called with words for what is being done. ``stop`` is asked between
    headings and between full checks of one lift; True ends the study with what was found so far, and marks it
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
    failing = [i for i in ids if not tally.stop() and assess_lift(job, i).verdict.status != "within"]
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
    margin = margin_map(problem, progress=tally.passes(MAPPING, whole / 10), stop=tally.stop, poses=poses)
    tally.finish()
    return StandStudy(
        asked=lift_id, asked_state=_state(job, lift_id), lift_ids=ids, left_out=left_out,
        present=measured_place(problem, **_as_planned(job.for_lift(lift_id).lifts[0])),
        result=result, margin=margin, plans=setups.pareto_plans(plans),
        helped=tuple((one, changes) for one, changes, _ in helped), step_m=step_m, heading_step_deg=heading_step_deg,
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
