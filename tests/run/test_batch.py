"""A batch: bad lifts, dead kernels and killed workers leave the rest going; it resumes."""

from __future__ import annotations

import csv
import html
import os
import re
import shutil
import signal
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import nbformat
import openpyxl
import pytest

from liftcalc.base import resources
from liftcalc.base.errors import InputError
from liftcalc.base.text import CAUTION_LINE, INVENTED_LINE
from liftcalc.facts.io import load_job
from liftcalc.facts.job import Job
from liftcalc.records.manifest import PART_PREFIX
from liftcalc.records.register import scan
from liftcalc.records.verify import verify_record
from liftcalc.run.batch import BatchLift, Row, plan, run_batch, run_batch_on_cluster, worst_code
from liftcalc.run.summary import HEADS, summary_text, write_summary

SPOIL = """
if lift == "L1": raise ValueError("spoiled on purpose")
if lift == "L2":
    import os; os._exit(1)
if lift == "L3":
    import time; time.sleep(60)
"""


@pytest.fixture(scope="module")
def job(toy_job: Path) -> Job:
    return load_job(toy_job)


def _tasks(job: Job, archive: Path, templates: Path, *lifts: str, **given: Any) -> list[BatchLift]:
    return plan(job, archive, templates=templates, lifts=lifts, **given)


def _results(rows: list[Row]) -> dict[tuple[str, str], dict[str, Any]]:
    found = {}
    for row in rows:
        results = verify_record(Path(row.folder)).json("results.json")
        results.pop("parent")  # pins a manifest, which holds the time
        found[row.lift, row.template] = results
    return found


def test_every_lift_goes_through_every_sheet_and_a_second_run_makes_nothing(
    job: Job, archive: Path, toy_templates: Path
) -> None:
    lifts = ("L1", "L2", "L6")
    seen: list[Row] = []
    rows = run_batch(_tasks(job, archive, toy_templates, *lifts), workers=2, on_row=seen.append)
    assert [(r.lift, r.template) for r in rows] == [(x, t) for x in lifts for t in resources.CHAIN]
    assert {(r.lift, r.template) for r in seen} == {(r.lift, r.template) for r in rows}
    assert {r.status for r in rows} == {"made"}
    assert {r.verdict for r in rows if r.lift == "L6"} == {"over"}
    assert all(r.remedy == "Split the load." for r in rows if r.lift == "L6")
    assert worst_code(rows) == 1
    assert worst_code([r for r in rows if r.lift == "L1"]) == 0
    assert all(verify_record(Path(r.folder)).ok for r in rows)
    again = run_batch(_tasks(job, archive, toy_templates, *lifts), workers=2)
    assert {r.status for r in again} == {"already there"}
    assert [r.folder for r in again] == [r.folder for r in rows]
    fresh = run_batch(_tasks(job, archive, toy_templates, "L1", fresh=True), workers=1)
    assert {r.status for r in fresh} == {"made"}
    assert _results(fresh) == {k: v for k, v in _results(rows).items() if k[0] == "L1"}


def test_only_what_is_missing_broken_or_changed_is_made_again(job: Job, archive: Path, toy_templates: Path) -> None:
    lifts = ("L1", "L2")
    rows = run_batch(_tasks(job, archive, toy_templates, *lifts), workers=2)
    broken = Path(next(r.folder for r in rows if (r.lift, r.template) == ("L2", "lift_check")))
    broken.chmod(0o755)
    (broken / "results.json").chmod(0o644)
    (broken / "results.json").write_bytes(b"{}")
    heavier = job.lifts[0].model_copy(
        update={"load": job.lifts[0].load.model_copy(update={"contingency_percent": 12.5})}
    )
    changed = job.model_copy(update={"lifts": (heavier, *job.lifts[1:])})
    again = run_batch(_tasks(changed, archive, toy_templates, *lifts), workers=2)
    assert {(r.lift, r.template): r.status for r in again} == {
        **{("L1", t): "made" for t in resources.CHAIN},
        ("L2", "site_survey"): "already there",
        ("L2", "leg_layout"): "already there",
        ("L2", "lift_check"): "made",
        ("L2", "ground_pressure"): "made",
        ("L2", "lift_plan"): "made",
    }
    states = {e.record: e.state for e in scan(archive)}
    for old, new in zip(rows, again, strict=True):
        if new.status == "made":
            manifest = verify_record(Path(new.folder)).manifest
            assert manifest is not None
            assert [link.record for link in manifest.revises] == [old.record]
            gone = "damaged" if old.folder == str(broken) else "superseded"
            assert states[old.record] == gone
            assert states[new.record] == "prepared"
    assert {r.lift for r in again if r.message} == {"L1", "L2"}
    assert "L1: revision A was made before and is superseded. For another issue" in summary_text(again)
    next_letter = _tasks(changed, archive, toy_templates, "L1", revision="B")
    revised = run_batch(next_letter, workers=1)
    assert {r.status for r in revised} == {"made"}
    assert not any(r.message for r in (*rows, *revised))
    back = run_batch(_tasks(changed, archive, toy_templates, "L1"), workers=1)
    assert {r.status for r in back} == {"already there"}
    assert "L1: the sheets already there are superseded by later ones." in summary_text(back)


def test_bad_lifts_leave_the_rest_going(
    job: Job, archive: Path, tmp_path: Path, toy: Callable[..., nbformat.NotebookNode]
) -> None:
    templates = tmp_path / "templates"
    templates.mkdir()
    for name in resources.CHAIN:
        extra = SPOIL if name == "leg_layout" else ""
        nbformat.write(toy(name, extra=extra), templates / f"{name}.ipynb")
    tasks = _tasks(job, archive, templates, *(f"L{n}" for n in range(1, 7)), timeout_s=15)
    rows = run_batch(tasks, workers=2)
    by_sheet = {(r.lift, r.template): r for r in rows}
    assert len(by_sheet) == 6 * len(resources.CHAIN)
    expected = {
        "L1": ("program", "ValueError: spoiled on purpose. This is a fault of the program"),
        "L2": ("kernel", "kernel died"),
        "L3": ("timeout", "longer than 15 s|took too long"),
    }
    for lift, (kind, words) in expected.items():
        assert by_sheet[lift, "site_survey"].status == "made"
        failed = by_sheet[lift, "leg_layout"]
        assert (failed.status, failed.kind) == ("failed", kind), failed
        assert any(word in failed.message for word in words.split("|"))
        assert "Traceback" not in failed.message
        assert {by_sheet[lift, t].status for t in resources.CHAIN[2:]} == {"not run"}
    for lift in ("L4", "L5", "L6"):
        assert {by_sheet[lift, t].status for t in resources.CHAIN} == {"made"}
    assert worst_code(rows) == 4
    assert {r.code for r in rows if r.status == "failed"} == {4}
    assert not [p for p in archive.iterdir() if p.name.startswith(PART_PREFIX)]
    assert all(e.state == "prepared" for e in scan(archive))
    text = summary_text(rows)
    assert "L1, leg layout: failed: sheet leg_layout stopped: ValueError" in text
    assert "30 sheets: 18 made, 0 already there, 12 without a record." in text


@pytest.mark.skipif(sys.platform != "linux", reason="needs /proc")
def test_a_killed_worker_is_replaced_and_its_lift_is_told(job: Job, archive: Path, toy_templates: Path) -> None:
    def kill(row: Row) -> None:
        if (row.lift, row.template) == ("L4", "site_survey"):
            for pid in _workers_of(os.getpid()):
                os.kill(pid, signal.SIGKILL)

    rows = run_batch(_tasks(job, archive, toy_templates, "L4", "L5"), workers=1, on_row=kill)
    found = {(r.lift, r.template): r for r in rows}
    assert found["L4", "site_survey"].status == "made"
    lost = [found["L4", t] for t in resources.CHAIN[1:] if found["L4", t].status == "failed"]
    assert [r.kind for r in lost] == ["kernel"]
    assert "its process ended (exit code -9)" in lost[0].message
    assert {found["L5", t].status for t in resources.CHAIN} == {"made"}
    assert not [p for p in archive.iterdir() if p.name.startswith(PART_PREFIX)]


def _workers_of(pid: int) -> list[int]:
    """Worker processes directly below *pid*, from /proc."""
    found = []
    for entry in Path("/proc").iterdir():
        try:
            parent = (entry / "stat").read_text().rpartition(")")[2].split()[1]
            command = (entry / "cmdline").read_bytes()
        except OSError:
            continue
        if int(parent) == pid and b"liftcalc.run.workers" in command:
            found.append(int(entry.name))
    return found


def test_an_interrupted_batch_ends_its_workers_and_resumes(job: Job, archive: Path, toy_templates: Path) -> None:
    def interrupt(row: Row) -> None:
        if row.template == "leg_layout":
            raise KeyboardInterrupt

    tasks = _tasks(job, archive, toy_templates, "L1", "L2")
    with pytest.raises(KeyboardInterrupt):
        run_batch(tasks, workers=2, on_row=interrupt)
    assert not [p for p in archive.iterdir() if p.name.startswith(PART_PREFIX)]
    kept = {e.record for e in scan(archive)}
    assert kept
    rows = run_batch(_tasks(job, archive, toy_templates, "L1", "L2"), workers=2)
    assert {r.record for r in rows if r.status == "already there"} == kept
    assert len(rows) == 2 * len(resources.CHAIN)


def test_the_summary_is_written_as_csv_xlsx_and_page_with_links(
    job: Job, archive: Path, toy_templates: Path, tmp_path: Path
) -> None:
    rows = run_batch(_tasks(job, archive, toy_templates, "L6"), workers=1)
    rows.append(Row("L9", "=1+1", "site_survey", "failed", kind="input", message="<b>\x00"))
    write_summary(rows, archive, title="A & B")
    write_summary(rows, archive, title="A & B", invented=True)  # replaces the one before
    with (archive / "summary.csv").open(encoding="utf-8", newline="") as stream:
        table = list(csv.DictReader(stream))
    assert [line["lift"] for line in table] == ["L6"] * 5 + ["L9"]
    assert table[-1]["lift_title"] == "'=1+1"
    assert {(line["caution"], line["invented"]) for line in table} == {(CAUTION_LINE, INVENTED_LINE)}
    assert [line["state"] for line in table] == ["over a limit"] * 5 + ["failed"]
    sheet = openpyxl.load_workbook(archive / "summary.xlsx").active
    assert [cell.value for cell in sheet[1]] == list(HEADS.values())
    assert [sheet.cell(n, 1).value for n in (7, 9, 10)] == ["L9", INVENTED_LINE, CAUTION_LINE]
    assert sheet.cell(2, 7).hyperlink.target == f"{rows[0].record}/sheet.html"
    assert CAUTION_LINE in sheet.oddFooter.left.text
    page = (archive / "summary.html").read_text(encoding="utf-8")
    assert f'href="{rows[0].record}/sheet.html"' in page
    assert "&lt;b&gt;" in page
    assert html.escape(CAUTION_LINE) in page
    assert INVENTED_LINE in page
    assert "site_survey" not in re.sub(r'href="[^"]*"|<a .*?</a>', "", page)
    assert (archive / rows[0].record / "sheet.html").is_file()


@pytest.mark.parametrize(
    ("change", "words"), [({"lifts": ["L99"]}, "lift is 'L99'"), ({"templates": Path("/nothing")}, "templates is")]
)
def test_a_batch_that_cannot_start_is_one_clear_error(
    job: Job, archive: Path, toy_templates: Path, change: dict[str, Any], words: str
) -> None:
    with pytest.raises(InputError, match=words):
        plan(job, archive, **{"templates": toy_templates, **change})


@pytest.mark.parametrize("workers", [0, -1, 10_000])
def test_a_senseless_number_of_workers_is_refused(job: Job, archive: Path, toy_templates: Path, workers: int) -> None:
    with pytest.raises(InputError, match="workers is"):
        run_batch(_tasks(job, archive, toy_templates, "L1"), workers=workers)


@pytest.mark.slow
def test_the_same_batch_runs_on_a_dask_cluster(job: Job, archive: Path, toy_templates: Path, tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed")
    local = run_batch(_tasks(job, archive, toy_templates, "L1", "L6"), workers=2)
    other = tmp_path / "cluster-archive"
    with (
        distributed.LocalCluster(n_workers=1, threads_per_worker=1, dashboard_address=None, processes=True) as cluster,
        distributed.Client(cluster) as client,
    ):
        rows = run_batch_on_cluster(_tasks(job, other, toy_templates, "L1", "L6"), client)
    assert {r.status for r in rows} == {"made"}
    assert _results(rows) == _results(local)
    shutil.rmtree(other, ignore_errors=True)
