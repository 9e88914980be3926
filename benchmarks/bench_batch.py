"""Batch, re-check and register against the clock (pytest-benchmark; nothing here is a test).

Run with ``pytest benchmarks/bench_batch.py -s``. ``LIFTCALC_BENCH_LIFTS`` sets how many lifts the
batch has (40 by default, four sheets each). In one run, on the same sheets with the same inputs:

* plain: ``papermill.execute_notebook`` in a loop, each executed notebook then turned into HTML by
  nbconvert's ``HTMLExporter``;
* ours: ``liftcalc.run.batch.run_batch`` on two workers, with everything a record holds (page,
figures,
  hashes, fsync), in an archive of its own.

Also: the re-check of the whole batch, and the register over 5,000 records.
"""

from __future__ import annotations

import json
import os
import shutil
import time
from pathlib import Path
from typing import Any

import papermill
import pytest
from nbconvert import HTMLExporter

from liftcalc.base import resources
from liftcalc.facts.io import load_job
from liftcalc.facts.job import Job
from liftcalc.records.manifest import MANIFEST_NAME, Manifest, manifest_bytes, seal
from liftcalc.records.register import register_html, scan, select
from liftcalc.run.batch import plan, run_batch
from liftcalc.run.recheck import recheck_many

LIFTS = int(os.environ.get("LIFTCALC_BENCH_LIFTS", "40"))
WORKERS = int(os.environ.get("LIFTCALC_BENCH_WORKERS", "2"))
PDF = os.environ.get("LIFTCALC_BENCH_PDF", "") == "1"


def big_job() -> Job:
    """The demo job with its lifts repeated under new ids."""
    job = load_job(resources.demo_job_path())
    lifts = [
        job.lifts[k % len(job.lifts)].model_copy(update={"id": f"L{k + 1}"}) for k in range(LIFTS)
    ]
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
            parameters={
                "job": str(inputs),
                "lift": lift,
                "results_file": str(folder / f"{number}.json"),
            },
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


@pytest.fixture(scope="module")
def many_records(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """5,000 sealed records (manifests of a real one under new names)."""
    made = tmp_path_factory.mktemp("one")
    job = big_job().model_copy(update={"lifts": (big_job().lifts[0],)})
    row = run_batch(plan(job, made), workers=1)[0]
    source = Path(row.folder)
    archive = tmp_path_factory.mktemp("many")
    plain = Manifest.model_validate_json((source / MANIFEST_NAME).read_bytes())
    given = {name: getattr(plain, name) for name in Manifest.model_fields}
    for name in ("schema_", "chain_sha256", "manifest_sha256"):
        given.pop(name)
    for number in range(5000):
        record = f"job_L{number % 40}_site_survey_A_20260501T000000Z_{number:08x}"
        sealed = seal(**{**given, "record": record, "lift": f"L{number % 40}"})
        folder = archive / f"job-{number % 10}" / record
        folder.mkdir(parents=True)
        (folder / MANIFEST_NAME).write_bytes(manifest_bytes(sealed))
    shutil.rmtree(made, ignore_errors=True)
    return archive


def test_register_over_5000_records(benchmark: Any, many_records: Path) -> None:
    def register() -> int:
        entries = scan(many_records)
        register_html(entries, title="Register")
        return len(select(entries, lift="L3", state="prepared"))

    assert benchmark.pedantic(register, rounds=5, iterations=1) == 125
