"""Several people at one archive: one current record of each sheet, and nobody is refused."""

from __future__ import annotations

import dataclasses
import os
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

import pytest

from liftcalc.base import resources
from liftcalc.base.errors import InputError
from liftcalc.facts.io import load_job
from liftcalc.records.log import found_in, missing, read_log
from liftcalc.records.manifest import Link, Manifest
from liftcalc.records.verify import require_record, verify_record
from liftcalc.run import make
from liftcalc.run.batch import plan, run_batch
from liftcalc.run.make import Made, SheetOrder, make_record, prepare, revising

PROCESSES = int(os.environ.get("LIFTCALC_WRITERS", "2"))
LIFTS = ("L1", "L6")
SHEETS = {(lift, template) for lift in LIFTS for template in resources.CHAIN}


def _batch(job: str, archive: str, templates: str, revision: str) -> None:
    tasks = plan(load_job(job), Path(archive), lifts=LIFTS, templates=Path(templates), revision=revision)
    rows = run_batch(tasks, workers=1)
    assert {r.status for r in rows} <= {"made", "already there"}, rows


def _at_once(job: Path, archive: Path, templates: Path, letters: Iterable[str]) -> None:
    batches = [
        subprocess.Popen(
            [sys.executable, __file__, str(job), str(archive), str(templates), letter], stderr=subprocess.PIPE
        )
        for letter in letters
    ]
    for batch in batches:
        said = batch.communicate()[1].decode()
        assert batch.returncode == 0, said


def _manifests(archive: Path) -> list[Manifest]:
    found = [require_record(folder).manifest for folder in sorted(archive.glob("[!.]*/"))]
    return [manifest for manifest in found if manifest is not None]


def _current(archive: Path) -> list[Manifest]:
    found = _manifests(archive)
    revised = {link.manifest_sha256 for m in found for link in m.revises}
    now = [m for m in found if m.manifest_sha256 not in revised]
    # and none of them builds on a sheet that was revised
    assert not {link.manifest_sha256 for m in now for link in m.parents} & revised
    return now


@pytest.mark.slow
def test_batches_started_at_once_leave_one_current_record_of_each_sheet(
    toy_job: Path, toy_templates: Path, archive: Path
) -> None:
    for letter in ("A", "B"):
        _at_once(toy_job, archive, toy_templates, letter * PROCESSES)
        now = _current(archive)
        assert sorted((m.lift, m.template) for m in now) == sorted(SHEETS)
        assert {m.revision for m in now} == {letter}
    entries = _manifests(archive)
    assert len(entries) == 2 * len(SHEETS)
    log = read_log(archive)
    assert log is not None
    assert not log.problem
    assert len(log.lines) == len(entries)
    assert missing(archive) == ([], [])
    print(f"{PROCESSES} batches at once, twice: {len(entries)} records, {len(SHEETS)} current")


@pytest.fixture
def order(toy_job: Path) -> SheetOrder:
    return SheetOrder("site_survey", job=str(toy_job), lift="L1", prepared_by="A. Person")


def _beside(monkeypatch: pytest.MonkeyPatch, archive: Path, templates: Path, other: SheetOrder) -> list[Made]:
    """While the next sheet is being composed, somebody else archives *other*."""
    real, done = make.compose, list[Made]()

    def compose(*given: object, **more: object) -> object:
        monkeypatch.setattr(make, "compose", real)
        done.append(make_record(other, archive, templates=templates))
        return real(*given, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(make, "compose", compose)
    return done


def test_the_same_sheet_made_by_another_meanwhile_is_taken_and_not_made_twice(
    order: SheetOrder, archive: Path, toy_templates: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    theirs = _beside(monkeypatch, archive, toy_templates, order)
    mine = make_record(order, archive, templates=toy_templates)
    assert mine.reused
    assert mine.folder == theirs[0].folder
    assert list(found_in(archive)) == [mine.manifest.record]
    assert not list(archive.glob(".part-*"))


def test_another_state_archived_meanwhile_is_revised_and_the_page_says_so(
    order: SheetOrder, archive: Path, toy_templates: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = dataclasses.replace(order, prepared_by="B. Person")
    theirs = _beside(monkeypatch, archive, toy_templates, other)
    mine = make_record(order, archive, templates=toy_templates)
    assert mine.manifest.revises == (theirs[0].manifest.link,)
    assert theirs[0].manifest.record in (mine.folder / "sheet.html").read_text(encoding="utf-8")
    assert verify_record(mine.folder).ok


def test_the_same_run_twice_gives_one_record_and_fresh_makes_a_revision(
    order: SheetOrder, archive: Path, toy_templates: Path
) -> None:
    first = make_record(order, archive, templates=toy_templates)
    again = make_record(order, archive, templates=toy_templates)
    assert (again.reused, again.folder) == (True, first.folder)
    fresh = make_record(order, archive, templates=toy_templates, fresh=True)
    assert not fresh.reused
    assert fresh.manifest.revises == (first.manifest.link,)
    assert _current(archive) == [fresh.manifest]


def test_who_goes_back_under_the_same_letter_gets_a_current_record(
    order: SheetOrder, archive: Path, toy_templates: Path
) -> None:
    other = dataclasses.replace(order, prepared_by="B. Person")
    made = [make_record(o, archive, templates=toy_templates) for o in (order, other, order)]
    assert not any(m.reused for m in made)
    assert [m.manifest.revises for m in made[1:]] == [(m.manifest.link,) for m in made[:2]]
    assert _current(archive) == [made[2].manifest]


def test_an_earlier_letter_ordered_again_does_not_overtake_the_later_one(
    order: SheetOrder, archive: Path, toy_templates: Path
) -> None:
    later = dataclasses.replace(order, revision="B")
    first, second, back = (make_record(o, archive, templates=toy_templates) for o in (order, later, order))
    assert back.reused
    assert back.folder == first.folder
    assert back.superseded_by == [second.manifest.record]


def test_all_that_is_current_is_revised_where_there_are_several(
    order: SheetOrder, archive: Path, toy_templates: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as before:  # as an archive written without the second look
        before.setattr(make, "records_of_sheet", lambda *given: [])
        twins = [make_record(order, archive, templates=toy_templates) for _ in range(2)]
    assert len(_current(archive)) == 2
    made = make_record(order, archive, templates=toy_templates)
    assert not made.reused
    assert set(made.manifest.revises) == {t.manifest.link for t in twins}
    assert _current(archive) == [made.manifest]


def test_a_record_that_is_not_current_any_more_cannot_be_revised(
    order: SheetOrder, archive: Path, toy_templates: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = make_record(order, archive, templates=toy_templates)
    later = dataclasses.replace(order, revision="B")
    ready = prepare(later, templates=toy_templates)
    revision = revising(later, ready, first.folder)
    assert revision.revises == (Link(**first.manifest.link.model_dump()),)
    theirs = _beside(monkeypatch, archive, toy_templates, revision)
    words = r"revises is .*allowed: a record that is current: .*Somebody has revised it meanwhile"
    with pytest.raises(InputError, match=words) as caught:
        make_record(revision, archive, templates=toy_templates)
    assert theirs[0].manifest.record in str(caught.value)
    assert not list(archive.glob(".part-*"))
    with pytest.raises(InputError, match=words):
        revising(later, ready, first.folder)
    assert _current(archive) == [theirs[0].manifest]


if __name__ == "__main__":
    _batch(*sys.argv[1:5])
