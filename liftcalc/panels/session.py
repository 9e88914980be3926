"""One hour at the workbench: a lift, its set-up, undo, reset, comparison, records.

Holds the state that the page shows; every number comes from the calculation.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from liftcalc.base.checks import Check, Verdict
from liftcalc.base.errors import ConvergenceError, InputError, LiftcalcError
from liftcalc.base.resources import demo_job_path
from liftcalc.base.units import UnitSystem
from liftcalc.facts.io import load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.position import PositionStudy, position_study
from liftcalc.panels import settings as setting
from liftcalc.panels.settings import Control, Settings, require_known
from liftcalc.records.verify import require_record
from liftcalc.run.batch import BatchLift, Row, run_lift


@dataclass(frozen=True, eq=False)
class Evaluation:
    """What one set-up gives; without an assessment there is a problem in words instead."""

    settings: Settings
    job: Job | None = None
    assessment: LiftAssessment | None = None
    position: PositionStudy | None = None
    problem: str = ""
    position_problem: str = ""

    @property
    def checks(self) -> tuple[Check, ...]:
        """Check rows; none where the set-up cannot be judged."""
        return () if self.assessment is None else self.assessment.checks

    @property
    def verdict(self) -> Verdict | None:
        """Verdict over all checks; None where the set-up cannot be judged."""
        return None if self.assessment is None else self.assessment.verdict


@dataclass
class Session:
    """The set-up in hand."""

    job: Job
    lift_id: str
    system: UnitSystem = "metric"
    job_name: str = ""
    settings: Settings = field(init=False)
    now: Evaluation = field(init=False)
    kept: Evaluation | None = field(init=False, default=None)
    _undo: list[Settings] = field(init=False, default_factory=list)
    _redo: list[Settings] = field(init=False, default_factory=list)
    _anchor: Settings | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        self._start()

    @classmethod
    def open(cls, path: str | Path | None = None, lift_id: str | None = None) -> Session:
        """Open a job file (the invented demo job if none is given) at one of its lifts."""
        file = Path(path) if path else demo_job_path()
        job = load_job(file)
        return cls(job, lift_id or job.lifts[0].id, job_name=file.name)

    @classmethod
    def from_record(cls, folder: str | Path) -> Session:
        """Open the set-up of an archived record, after its hashes are checked."""
        verified = require_record(Path(folder))
        job = parse_fact(Job, verified.json("inputs.json").get("job"), source=str(folder))
        return cls(job, job.lifts[0].id, job_name=f"record {verified.folder.name}")

    def _start(self) -> None:
        self.settings = setting.settings_of(self.job, self.lift_id)
        self._undo.clear()
        self._redo.clear()
        self._anchor = None
        self.now = self._evaluate(self.settings, None)

    def choose(self, lift_id: str) -> None:
        """Take another lift of the job; its history starts afresh, what was kept stays."""
        require_known("lift", lift_id, [lift.id for lift in self.job.lifts])
        self.lift_id = lift_id
        self._start()

    @property
    def controls(self) -> tuple[Control, ...]:
        """Controls with their present limits."""
        return setting.controls_of(self.job, self.lift_id, self.settings)

    def set(self, values: dict[str, Any], *, final: bool = True) -> dict[str, str]:
        """Set controls by name, in display units; return an error in words for each refused.

        With ``final=False`` (a slider still held) the steps between do not enter the history.
        """
        controls = {c.id: c for c in self.controls}
        accepted: dict[str, Any] = {}
        errors: dict[str, str] = {}
        for name, value in values.items():
            try:
                require_known("control", name, controls)
                accepted[name] = controls[name].accept(value, self.system)
            except InputError as error:
                errors[name] = str(error)
        if accepted:
            self._take(replace(self.settings, **accepted), final=final)
        return errors

    def _take(self, settings: Settings, *, final: bool = True) -> None:
        if self._anchor is None:
            self._anchor = self.settings
        if settings != self.settings:
            self.now = self._evaluate(settings, self.now)
            self.settings = settings
        if final:
            if self._anchor != settings:
                self._undo.append(self._anchor)
                self._redo.clear()
            self._anchor = None

    def _evaluate(self, settings: Settings, before: Evaluation | None) -> Evaluation:
        job, assessment = (None, None) if before is None else (before.job, before.assessment)
        viewed = before is not None and settings.differs_only_in_view(before.settings)
        if assessment is None or not viewed:
            try:
                job = setting.with_settings(self.job, self.lift_id, settings)
                assessment = assess_lift(job, self.lift_id)
                # studies are made when they are first asked for: ask now, so that what cannot be
                # judged is given before anything is shown
                _ = assessment.checks
            except (InputError, ConvergenceError) as error:
                return Evaluation(settings, problem=str(error))
        try:
            position = position_study(assessment.setup, settings.slew, radius_m=settings.radius)
            return Evaluation(settings, job, assessment, position)
        except InputError as error:
            return Evaluation(settings, job, assessment, position_problem=str(error))

    @property
    def can_undo(self) -> bool:
        """True if there is a step to take back."""
        return bool(self._undo)

    @property
    def can_redo(self) -> bool:
        """True if there is a step to take again."""
        return bool(self._redo)

    def undo(self) -> None:
        """Take the last step back."""
        self._go(self._undo, self._redo)

    def redo(self) -> None:
        """Take the step again that was taken back."""
        self._go(self._redo, self._undo)

    def _go(self, steps: list[Settings], others: list[Settings]) -> None:
        if steps:
            others.append(self.settings)
            self._anchor, self.settings = None, steps.pop()
            self.now = self._evaluate(self.settings, self.now)

    def reset(self) -> None:
        """Back to the set-up of the lift's facts; can be undone."""
        self._take(setting.settings_of(self.job, self.lift_id))

    def use_position(self, end: str) -> None:
        """Make the point under the hook the pick or the set-down place."""
        position = self.now.position
        if position is None:
            raise InputError.of("position", "none", "a boom position that can be reached")
        if end not in ("pick", "set_down"):
            raise InputError.of("end", end, "pick or set_down")
        place: dict[str, Any] = {end: position.place_site_m}
        self._take(replace(self.settings, **place))

    def keep(self) -> None:
        """Keep the present set-up to compare with."""
        self.kept = self.now

    def drop_kept(self) -> None:
        """End the comparison."""
        self.kept = None

    def save(self, archive: str | Path, *, prepared_by: str = "", revision: str = "A") -> list[Row]:
        """Run the present set-up through every sheet and archive the records.

        Raises: A set-up that cannot be judged. LiftcalcError: A sheet that failed.
        """
        job = self.now.job
        if job is None:
            raise InputError.of("set-up", "not judged", "one that can be judged", self.now.problem)
        folder = Path(archive).expanduser()
        folder.mkdir(parents=True, exist_ok=True)
        lift = job.lifts[0]
        task = BatchLift(
            lift=lift.id, lift_title=lift.title, job=job, archive=folder, units=self.system,
            prepared_by=prepared_by, revision=revision,
        )  # fmt: skip
        rows = run_lift(task)
        failed = [r for r in rows if not r.record]
        if failed:
            raise LiftcalcError(f"{failed[0].template}: {failed[0].message}")
        return rows
