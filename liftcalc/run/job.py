"""A whole job at once: its batch, and what is laid beside the records (summary, book)."""

import os
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from liftcalc.base import resources
from liftcalc.base.errors import InputError, missing_extra
from liftcalc.base.files import write_file
from liftcalc.base.units import UnitSystem
from liftcalc.facts.io import load_job
from liftcalc.lift.chart_statics import require_plausible_charts
from liftcalc.records.inputs import validate_parameters
from liftcalc.records.pdf import pdf_wanted
from liftcalc.run.batch import BatchLift, Row, plan, run_batch, run_batch_on_cluster
from liftcalc.run.book import book_pdf
from liftcalc.run.summary import with_states, write_summary


@dataclass(frozen=True)
class JobRun:
    """Outcome of every sheet, and the files about all of them."""

    rows: list[Row]
    files: list[Path]
    invented: bool = False


def usable_cores() -> int:
    """How many cores this process may use."""
    try:
        return max(1, len(os.sched_getaffinity(0)))
    except AttributeError:
        return max(1, os.cpu_count() or 1)


def _cluster(scheduler: str) -> Any:
    try:
        from distributed import Client
    except ImportError:
        raise missing_extra("cluster", f"scheduler {scheduler}") from None
    try:
        return Client(scheduler, timeout=20)  # type: ignore[no-untyped-call]
    except (OSError, ValueError) as error:
        raise InputError.of("scheduler", scheduler, f"the address of a dask scheduler ({error})") from None


def _run_tasks(tasks: list[BatchLift], workers: int, scheduler: str) -> list[Row]:
    """Run the tasks and show on the terminal how far they are."""
    from tqdm import tqdm

    total = len(tasks) * len(set(resources.template_names()) & set(resources.CHAIN))
    with tqdm(total=total, unit="sheet", desc="Sheets", file=sys.stderr, disable=None, mininterval=0.2) as bar:

        def step(row: Row) -> None:
            bar.update()

        if not scheduler:
            return run_batch(tasks, workers=workers, on_row=step)
        with _cluster(scheduler) as client:
            return run_batch_on_cluster(tasks, client, on_row=step)


def run_job(
    job_path: Path, archive: Path, *, lift_file: Path | None = None, units: UnitSystem = "metric",
    revision: str = "A", prepared_by: str = "", pdf: bool | None = None, workers: int | None = None,
    scheduler: str = "", annex: bool = False, **options: Any,
) -> JobRun:  # fmt: skip
    """Run every lift of a job file through every sheet; *options* are those of :func:`plan`."""
    validate_parameters("site_survey", units=units, revision=revision, prepared_by=prepared_by)
    printed = pdf_wanted(pdf)
    job = load_job(job_path, lifts=lift_file)
    require_plausible_charts(job)
    tasks = plan(job, archive, units=units, revision=revision, prepared_by=prepared_by, pdf=printed, **options)
    rows = with_states(_run_tasks(tasks, workers or usable_cores(), scheduler))
    folders = [Path(row.folder) for row in rows if row.folder]
    if not folders:
        return JobRun(rows, [], job.invented)
    title = f"{job.id}: {job.title}"
    files = write_summary(rows, archive, title=title, units=units, invented=job.invented)
    if printed:
        files.append(archive / f"{job.id}.pdf")
        write_file(files[-1], book_pdf(folders, title=title, annex=annex))
    return JobRun(rows, files, job.invented)
