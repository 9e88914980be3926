"""Kill -9 at random moments: no partial record is accepted, the batch resumes to the same results.

At no moment does the archive's log break, does a record read as deleted or brought in, or has a
sheet two current records.

``LIFTCALC_KILLS`` sets how many kills (4 by default; 200 takes some ten minutes).
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from liftcalc.base import resources
from liftcalc.facts.io import load_job
from liftcalc.records.log import missing, read_log
from liftcalc.records.manifest import MANIFEST_NAME
from liftcalc.records.register import scan
from liftcalc.records.verify import verify_record
from liftcalc.run.batch import plan, run_batch

KILLS = int(os.environ.get("LIFTCALC_KILLS", "4"))
LIFTS = ("L1", "L6")


def _batch(job: str, archive: str, templates: str) -> None:
    tasks = plan(load_job(job), Path(archive), lifts=LIFTS, templates=Path(templates))
    rows = run_batch(tasks, workers=2)
    assert {r.status for r in rows} <= {"made", "already there"}, rows


def _start(job: Path, archive: Path, templates: Path) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, __file__, str(job), str(archive), str(templates)],
        start_new_session=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


def _children(pid: int) -> list[int]:
    """Processes below *pid*, from /proc."""
    parents: dict[int, list[int]] = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                stat = (entry / "stat").read_text().rpartition(")")[2].split()
            except OSError:
                continue
            parents.setdefault(int(stat[1]), []).append(int(entry.name))
    found, todo = [], [pid]
    while todo:
        below = parents.get(todo.pop(), [])
        found += below
        todo += below
    return found


def _kill(process: subprocess.Popen[bytes], *, everything: bool) -> None:
    """Kill the batch alone (its workers must then leave) or, as a power cut, all of it at once."""
    victims = [process.pid, *(_children(process.pid) if everything else [])]
    for pid in victims:
        try:
            os.kill(pid, signal.SIGKILL)
        except ProcessLookupError:
            continue
    process.wait()


def _require_sound(archive: Path) -> int:
    """The log is whole and agrees with what is there; returns how many were withdrawn."""
    assert missing(archive) == ([], [])
    found = [verify_record(folder).manifest for folder in archive.glob("[!.]*/")]
    manifests = [m for m in found if m is not None]
    assert len(manifests) == len(found)
    revised = {link.manifest_sha256 for m in manifests for link in m.revises}
    now = [(m.lift, m.template) for m in manifests if m.manifest_sha256 not in revised]
    assert len(set(now)) == len(now)
    log = read_log(archive)
    if log is None:
        assert not manifests
        return 0
    assert not log.problem
    return sum(line.what == "withdrawn" for line in log.lines)


def _results(archive: Path) -> dict[tuple[str, str], Any]:
    found: dict[tuple[str, str], Any] = {}
    for entry in scan(archive):
        if entry.state == "superseded":
            continue
        results = verify_record(archive / entry.folder).json("results.json")
        results.pop("parent")  # pins a manifest, which holds the time
        found[entry.lift, entry.template] = results
    return found


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="needs /proc")
def test_a_batch_killed_at_random_moments_resumes_to_the_same_results(
    toy_job: Path, toy_templates: Path, tmp_path: Path
) -> None:
    rng = random.Random(20260501)
    undisturbed = tmp_path / "undisturbed"
    started = time.monotonic()
    assert _start(toy_job, undisturbed, toy_templates).wait() == 0
    whole_s = time.monotonic() - started
    expected = _results(undisturbed)
    assert set(expected) == {(lift, t) for lift in LIFTS for t in resources.CHAIN}

    kills, partial, finished, withdrawn = 0, 0, 0, 0
    archive = tmp_path / "killed-0"
    while kills < KILLS:
        process = _start(toy_job, archive, toy_templates)
        try:
            process.wait(rng.uniform(0.0, whole_s))
        except subprocess.TimeoutExpired:
            _kill(process, everything=kills % 2 == 0)
            kills += 1
        # No folder under a record's name may ever be less than a whole record.
        for folder in archive.glob("[!.]*") if archive.is_dir() else ():
            if folder.is_dir():
                assert (folder / MANIFEST_NAME).is_file(), folder
                assert verify_record(folder).ok, folder
        if archive.is_dir():
            partial += any(archive.glob(".part-*"))
            _require_sound(archive)
        if process.returncode == 0:
            assert _results(archive) == expected
            withdrawn += _require_sound(archive)
            finished += 1
            shutil.rmtree(archive, ignore_errors=True)
            archive = tmp_path / f"killed-{finished}"
    time.sleep(1.5)  # workers whose owner was killed have left by now
    assert _start(toy_job, archive, toy_templates).wait() == 0
    assert _results(archive) == expected
    assert not list(archive.glob(".part-*"))
    withdrawn += _require_sound(archive)
    print(
        f"{kills} kills, {partial} left unfinished folders, {finished + 1} batches completed, "
        f"{withdrawn} records named in a log before they stood were withdrawn"
    )


@pytest.mark.skipif(sys.platform == "win32", reason="needs signals")
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_a_batch_told_to_end_leaves_no_unfinished_folder(toy_job: Path, tmp_path: Path, number: signal.Signals) -> None:
    archive = tmp_path / "archive"
    command = [sys.executable, "-m", "liftcalc.cli", "batch", str(toy_job), "--out", str(archive)]
    process = subprocess.Popen([*command, "--no-pdf"], stderr=subprocess.PIPE, text=True)
    while not list(archive.glob(".part-*")):
        assert process.poll() is None
        time.sleep(0.05)
    process.send_signal(number)
    said = process.communicate()[1]
    assert "Interrupted. Start the same command again to go on." in said
    assert process.returncode == 130
    assert not list(archive.glob(".part-*"))
    _require_sound(archive)


if __name__ == "__main__":
    _batch(*sys.argv[1:4])
