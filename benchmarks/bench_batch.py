"""Batch and re-check against the clock (pytest-benchmark; nothing here is a test).

Run with ``pytest benchmarks/bench_batch.py -s``. ``LIFTCALC_BENCH_LIFTS`` sets how many lifts the
batch has (40 by default, four sheets each). In one run, on the same sheets with the same inputs:

* plain: ``papermill.execute_notebook`` in a loop, each executed notebook then turned into HTML by
  nbconvert's ``HTMLExporter``;
* ours: ``liftcalc.run.batch.run_batch`` on two workers, with everything a record holds (page,
figures,
  hashes, fsync), in an archive of its own.

Also: the re-check of the whole batch. The register has ``bench_register.py``.
"""

from __future__ import annotations

import json
import os
import time
from pathlib import Path
from typing import Any

import papermill
from nbconvert import HTMLExporter

from liftcalc.base import resources
from liftcalc.facts.io import load_job
from liftcalc.facts.job import Job
from liftcalc.run.batch import plan, run_batch
from liftcalc.run.recheck import recheck_many

LIFTS = int(os.environ.get("LIFTCALC_BENCH_LIFTS", "40"))
WORKERS = int(os.environ.get("LIFTCALC_BENCH_WORKERS", "2"))
PDF = os.environ.get("LIFTCALC_BENCH_PDF", "") == "1"


def big_job() -> Job:
    """The demo job with its lifts repeated under new ids."""
    job = load_job(resources.demo_job_path())
    lifts = [job.lifts[k % len(job.lifts)].model_copy(update={"id": f"L{k + 1}"}) for k in range(LIFTS)]
    return job.model_copy(update={"lifts": tuple(lifts)})


def run_plain(archive: Path, folder: Path) -> float:
    """Plain papermill in a loop over the inputs of the records in *archive*; wall time [s]."""
    folder.mkdir()
    sheets = sorted(archive.glob("*/inputs.json"))
    started = time.perf_counter()
    for number, inputs in enumerate(sheets):
        template = json.loads(inputs.read_bytes())["template"]
        lift = json.loads(inputs.read_bytes())["parameters"]["lift"]
        output = folder / f"{number}.ipynb"
        papermill.execute_notebook(
            resources.template_path(template),
            output,
            parameters={"job": str(inputs), "lift": lift, "results_file": str(folder / f"{number}.json")},
            progress_bar=False,
        )
        page, _ = HTMLExporter().from_filename(str(output))
        (folder / f"{number}.html").write_text(page, encoding="utf-8")
    return time.perf_counter() - started


def test_batch_against_plain_papermill_and_recheck(tmp_path: Path, capsys: Any) -> None:
    archive = tmp_path / "archive"
    started = time.perf_counter()
    rows = run_batch(plan(big_job(), archive, pdf=PDF), workers=WORKERS)
    ours = time.perf_counter() - started
    assert len(rows) == 4 * LIFTS
    assert all(row.status == "made" for row in rows)

    folders = [Path(row.folder) for row in rows]
    started = time.perf_counter()
    outcomes = recheck_many(folders, workers=WORKERS, checker="benchmark")
    again = time.perf_counter() - started
    assert {o.decision for o in outcomes} == {"matches"}

    plain = run_plain(archive, tmp_path / "plain")
    with capsys.disabled():
        print(f"\n{len(rows)} sheets, {WORKERS} workers, PDF {'on' if PDF else 'off'}")
        print(f"plain papermill in a loop: {plain:.1f} s ({plain / len(rows):.2f} s a sheet)")
        print(f"batch: {ours:.1f} s, {ours / plain:.3f} of plain (at most 0.17)")
        print(f"re-check: {again:.1f} s, {again / ours:.2f} of the batch (at most 1.2)")
