"""A whole job at once: every lift through every sheet, on several workers, resumable.

Lifts do not depend on one another, so a lift that fails, a kernel that dies or a worker that is
killed leaves the rest going. What exists already (same inputs, template and version, and whole) is
not made again, so an interrupted batch resumes by being started again.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from liftcalc.base import resources
from liftcalc.base.errors import PROGRAM_FAULT, InputError, LiftcalcError, failure_code
from liftcalc.base.words import STATE_WORDS
from liftcalc.records.archive import clear_abandoned
from liftcalc.records.html import blocks_of
from liftcalc.run.make import Made, SheetOrder, make_record, prepare
from liftcalc.run.workers import WorkItem, run_pool

if TYPE_CHECKING:
    from liftcalc.facts.job import Job


@dataclass(frozen=True)
class BatchLift:
    """One lift to pass through the chain, with what its job gives it."""

    lift: str
    lift_title: str
    job: Job = field(repr=False)
    archive: Path
    templates: Path | None = None
    units: str = "metric"
    revision: str = "A"
    prepared_by: str = ""
    pdf: bool = False
    timeout_s: float | None = None
    fresh: bool = False


@dataclass(frozen=True)
class Row:
    """Outcome of one sheet: verdict and record, or why there is none."""

    lift: str
    lift_title: str
    template: str
    status: str
    verdict: str = ""
    state: str = ""
    governing: str = ""
    remedy: str = ""
    record: str = ""
    folder: str = ""
    seconds: float = 0.0
    kind: str = ""
    message: str = ""

    @property
    def code(self) -> int:
        """Exit code this row asks for."""
        if self.status in {"made", "already there"}:
            return 0 if self.verdict == "within" else 1
        return failure_code(self.kind)


def worst_code(rows: Iterable[Row]) -> int:
    """Exit code of a batch: 4 over 3 over 2 over 1 over 0."""
    return max((row.code for row in rows), default=0)


def _chain(task: BatchLift) -> list[str]:
    return [name for name in resources.template_names(task.templates) if name in resources.CHAIN]


def _shown(folder: Path) -> dict[str, str]:
    """State of the sheet, its governing check and the remedy, in the words of the sheet."""
    notebook = json.loads((folder / "sheet.ipynb").read_bytes())
    said = next(block for block in blocks_of(notebook) if block["kind"] == "verdict")
    first = said["remedies"][0] if said["remedies"] else ["", STATE_WORDS[said["status"]], ""]
    return {"state": first[1], "governing": str(said["governing"]), "remedy": first[2]}


def _letter_again(made: Made) -> str:
    """Words where another record bears this revision, or a later one has superseded the sheet."""
    if made.reused:
        return "the sheets already there are superseded by later ones" * bool(made.superseded_by)
    revision = made.manifest.revision
    if revision not in {m.revision for m in made.before}:
        return ""
    return f"revision {revision} was made before and is superseded"


def _failed(task: BatchLift, template: str, error: Exception, seconds: float) -> Row:
    kind, text = "program", str(error)
    if isinstance(error, LiftcalcError):
        kind = error.kind
    else:
        text = f"{type(error).__name__}: {' '.join(text.split())[:1500]}. {PROGRAM_FAULT}"
    return _row(task, template, "failed", seconds=round(seconds, 3), kind=kind, message=text[:2000])


def _row(task: BatchLift, template: str, status: str, **outcome: Any) -> Row:
    return Row(task.lift, task.lift_title, template, status, **outcome)


_BEFORE = "the sheet before ({}) failed"


def _not_run(task: BatchLift, template: str, why: str) -> Row:
    """Row of a sheet that could not be tried because the sheet before is missing."""
    return _row(task, template, "not run", kind="input", message=why)


def run_lift(task: BatchLift, *, tell: Callable[[dict[str, Any]], None] | None = None) -> list[Row]:
    """Take one lift through the chain; never raises for what a sheet does.

    *tell* receives ``{"begin": template}`` before and ``{"row": ...}`` after every sheet.
    """
    rows: list[Row] = []
    report = tell or (lambda message: None)
    parent, stopped = "", ""
    for template in _chain(task):
        if stopped:
            row = _not_run(task, template, stopped)
        else:
            report({"begin": template})
            started = time.monotonic()
            try:
                order = SheetOrder(
                    template=template, lift=task.lift, parent=parent, units=task.units,
                    revision=task.revision, prepared_by=task.prepared_by,
                )  # fmt: skip
                ready = prepare(order, templates=task.templates, job=task.job)
                made = make_record(
                    order, task.archive, pdf=task.pdf, timeout_s=task.timeout_s, prepared=ready,
                    templates=task.templates, fresh=task.fresh,
                )  # fmt: skip
                row = _row(
                    task, template, "already there" if made.reused else "made",
                    verdict=made.manifest.verdict, **_shown(made.folder),
                    record=made.manifest.record, folder=str(made.folder),
                    seconds=round(time.monotonic() - started, 3), message=_letter_again(made),
                )  # fmt: skip
                parent = str(made.folder)
            except Exception as error:  # one bad lift must not stop the others
                row = _failed(task, template, error, time.monotonic() - started)
                stopped = _BEFORE.format(resources.SHEET_TITLES.get(template, template))
        rows.append(row)
        report({"row": row})
    return rows


def plan(
    job: Job, archive: Path, *, lifts: Sequence[str] = (), templates: Path | None = None, **options: Any
) -> list[BatchLift]:
    """One task for each lift of the job (or for those named); *options*: see BatchLift."""
    if not set(resources.template_names(templates)) & set(resources.CHAIN):
        raise InputError.of("templates", str(templates), "a folder that holds the templates")
    ids = [item.id for item in job.lifts]
    unknown = [lift for lift in lifts if lift not in ids]
    if unknown:
        raise InputError.of("lift", unknown[0], ", ".join(ids))
    chosen = [item for item in job.lifts if not lifts or item.id in lifts]
    return [
        BatchLift(
            lift=item.id, lift_title=item.title, job=job.for_lift(item.id),
            archive=archive.resolve(), templates=templates.resolve() if templates else None, **options,
        )
        for item in chosen
    ]  # fmt: skip


def _lost_rows(task: BatchLift, finished: int, why: str, overdue: bool) -> list[Row]:
    """Rows for what a worker that ended had not finished."""
    missing = _chain(task)[finished:]
    if not missing:
        return []
    kind = "timeout" if overdue else "kernel"
    first = _row(task, missing[0], "failed", kind=kind, message=why)
    rest = _BEFORE.format(resources.SHEET_TITLES.get(missing[0], missing[0]))
    return [first, *(_not_run(task, template, rest) for template in missing[1:])]


def run_batch(
    tasks: Sequence[BatchLift], *, workers: int = 2, on_row: Callable[[Row], None] | None = None
) -> list[Row]:
    """Run the tasks on worker processes; rows in the order of the tasks.

    A worker whose sheet takes longer than ``timeout_s`` is killed and replaced; interrupted, every
    worker is ended and what was archived stays.
    """
    if not tasks:
        return []
    archive = tasks[0].archive
    clear_abandoned(archive)
    by_lift = {task.lift: task for task in tasks}
    rows: dict[str, list[Row]] = {task.lift: [] for task in tasks}

    def add(row: Row) -> None:
        rows[row.lift].append(row)
        if on_row is not None:
            on_row(row)

    def message(item: WorkItem, content: dict[str, Any]) -> None:
        if "row" in content:
            add(content["row"])

    def lost(item: WorkItem, why: str, overdue: bool) -> None:
        for row in _lost_rows(by_lift[item.key], len(rows[item.key]), why, overdue):
            add(row)

    items = [WorkItem(t.lift, f"{__name__}:run_lift", t, t.timeout_s) for t in tasks]
    try:
        run_pool(items, workers=workers, on_message=message, on_lost=lost)
    finally:
        clear_abandoned(archive)
    return [row for task in tasks for row in rows[task.lift]]


def run_batch_on_cluster(
    tasks: Sequence[BatchLift], client: Any, *, on_row: Callable[[Row], None] | None = None
) -> list[Row]:
    """Run the tasks on a ``dask.distributed`` client whose workers share the archive's disk."""
    from distributed import as_completed

    futures = {client.submit(run_lift, task, pure=False): task for task in tasks}
    done: dict[str, list[Row]] = {}
    for future in as_completed(list(futures)):  # type: ignore[no-untyped-call]
        task = futures[future]
        error = future.exception() if future.status == "error" else None
        if error is not None:
            row = _failed(task, resources.CHAIN[0], error, 0.0)
            rest = [_not_run(task, t, "the worker was lost") for t in resources.CHAIN[1:]]
            done[task.lift] = [row, *rest]
        else:
            done[task.lift] = future.result()
        for row in done[task.lift]:
            if on_row is not None:
                on_row(row)
    return [row for task in tasks for row in done[task.lift]]
