"""None of several hundred forgeries of a record may match, and every honest record does.

A kernel runs once for the same inputs and template; everything else of a re-check is the real one.
``LIFTCALC_HONEST=200`` tries 200 honest records, and prints the PDF of every forgery, else of one
in six. ``-s`` shows how each forgery was found.
"""

from __future__ import annotations

import copy
import os
import random
import zlib
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from run.forgeries import FORGERIES, Case, Draft, Forgery, check_drafts

from liftcalc.base import resources
from liftcalc.base.errors import LiftcalcError
from liftcalc.base.strict_json import dumps
from liftcalc.facts.io import load_job
from liftcalc.facts.job import Job
from liftcalc.records.check_record import CheckOutcome, outcome_lines
from liftcalc.records.inputs import facts_of
from liftcalc.records.manifest import MANIFEST_NAME
from liftcalc.records.verify import require_record
from liftcalc.run import again
from liftcalc.run.make import SheetOrder, make_record, prepare
from liftcalc.run.recheck import recheck_record

HONEST = int(os.environ.get("LIFTCALC_HONEST", "6"))
_HASHES = ("hash does not match", "bytes; the manifest says", "by the manifest")
"""What is found of a forger who cannot count; none of the kit."""


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Case]:
    """Honest records of two lifts, re-checked with kernels; afterwards each runs but once."""
    made = {}
    for lift in ("L1", "L3"):
        archive, parent = tmp_path_factory.mktemp(lift), ""
        for template in ("site_survey", "leg_layout"):
            order = SheetOrder(template, lift=lift, parent=parent, prepared_by="A. Person")
            made[lift, template] = make_record(order, archive, pdf=True).folder
            parent = str(made[lift, template])
    for folder in made.values():
        outcome = recheck_record(folder, write=False)
        assert outcome.decision == "matches", outcome_lines(outcome)
    layout = made["L1", "leg_layout"]
    check = layout.parent / recheck_record(layout, checker="B. Checker").check_record
    ran: dict[tuple[bytes, str], Any] = {}
    real = again.execute

    def once(ready: Any, folder: Path, **options: Any) -> Any:
        key = (ready.inputs, ready.template_sha256)
        if key not in ran:
            ran[key] = real(ready, folder, **options)
        return copy.deepcopy(ran[key])

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(again, "execute", once)
        yield Case(
            survey=made["L1", "site_survey"], layout=layout, check=check,
            other_survey=made["L3", "site_survey"], other_layout=made["L3", "leg_layout"],
        )  # fmt: skip


def _recheck(folder: Path, case: Case) -> CheckOutcome:
    """Re-check; surveys that are as they were when the fixture found them right stay so."""
    surveys = (case.survey, case.other_survey)
    decided = {
        require_record(s).manifest.manifest_sha256: "matches"
        for s in surveys
        if (folder.parent / s.name).is_dir()
        and (folder.parent / s.name / MANIFEST_NAME).read_bytes() == (s / MANIFEST_NAME).read_bytes()
    }
    return recheck_record(folder, write=False, decided=decided)


def _assert_found(outcome: CheckOutcome, name: str) -> None:
    lines = "\n".join(outcome_lines(outcome))
    print(f"{name}: {lines}")
    assert outcome.decision != "matches", f"{name} was not found"
    assert outcome.code in (3, 5), lines
    assert not [f for f in outcome.findings if any(words in f for words in _HASHES)], lines


def test_what_the_kit_begins_with_matches(case: Case, tmp_path: Path) -> None:
    outcome = _recheck(case.draft().write(tmp_path / "as it was"), case)
    assert outcome.decision == "matches", outcome_lines(outcome)
    draft = case.draft()
    del draft.files["sheet.pdf"]
    outcome = _recheck(draft.write(tmp_path / "without PDF"), case)
    assert outcome.decision == "matches", outcome_lines(outcome)
    draft = case.draft()
    draft.derive()
    draft.redraw()
    assert draft.files == case.draft().files
    outcome = _recheck(draft.write(tmp_path / "derived and drawn again"), case)
    assert outcome.decision == "matches", outcome_lines(outcome)
    outcome = _recheck(Draft.of(case.check, case.survey, case.layout).write(tmp_path / "c"), case)
    assert outcome.decision == "matches", outcome_lines(outcome)


@pytest.mark.parametrize("forgery", FORGERIES, ids=lambda f: f"{f.kind}, {f.name}")
def test_a_forgery_does_not_match(forgery: Forgery, case: Case, tmp_path: Path) -> None:
    name = f"{forgery.kind}, {forgery.name}"
    pdf = HONEST >= 200 or zlib.crc32(name.encode()) % 6 == 0
    _assert_found(_recheck(forgery.write(case, tmp_path, pdf=pdf), case), name)


def test_a_forged_check_record_does_not_match(case: Case, tmp_path: Path) -> None:
    tried = 0
    for name, draft in check_drafts(case):
        _assert_found(_recheck(draft.write(tmp_path / str(tried)), case), f"check record, {name}")
        tried += 1
    assert tried >= 15


def test_the_preparers_word_is_all_that_a_forger_can_alter(case: Case, tmp_path: Path) -> None:
    """Time and digits of the name are nobody's but the preparer's: log and signature hold them."""
    draft = case.draft()
    draft.manifest["prepared_utc"] = "2019-01-01T00:00:00Z"
    draft.rename()
    draft.redraw()
    assert _recheck(draft.write(tmp_path), case).decision == "matches"


def test_the_kit_alters_every_part_of_a_record(case: Case) -> None:
    kinds = Counter(f.kind for f in FORGERIES)
    assert sum(kinds.values()) >= 300
    assert len(kinds) >= 18
    names = {f.name for f in FORGERIES if f.kind == "manifest field"}
    assert {*case.draft().manifest} - {"files", "chain_sha256", "manifest_sha256"} <= names


def _varied(job: Job, draw: random.Random) -> Job:
    """The job with other loads, places and words."""
    plain = facts_of(job)
    for lift in plain["lifts"]:
        lift["load"]["mass_t"] = round(lift["load"]["mass_t"] * draw.uniform(0.4, 1.0), 3)
        lift["title"] = f"{lift['title']} ({draw.randrange(1000)}, µ–ü)"
    plain["rules"]["critical_share_percent"] = draw.choice([60.0, 75.0, 80.0])
    plain["rules"]["ground"]["factor_of_safety"] = draw.choice([2.0, 2.5, 3.0])
    return Job.model_validate_json(dumps(plain))


def test_every_honest_record_matches(tmp_path: Path) -> None:
    """Varied lifts, loads, units and revisions, with kernels; refused ones are drawn again."""
    draw = random.Random(20)
    job = load_job(resources.demo_job_path())
    matched = refused = 0
    while matched < HONEST and refused < 20 + HONEST:
        other, lift = _varied(job, draw), draw.choice(job.lifts).id
        units, revision = draw.choice(["metric", "us"]), draw.choice("ABC")
        archive, parent = tmp_path / str(matched + refused), ""
        for template in resources.CHAIN[: draw.randint(1, len(resources.CHAIN))]:
            order = SheetOrder(
                template, lift=lift, parent=parent, units=units, revision=revision,
                prepared_by=draw.choice(["", "Å. Person"]),
            )  # fmt: skip
            try:
                made = make_record(order, archive, prepared=prepare(order, job=other), pdf=draw.random() < 0.3)
            except LiftcalcError:
                refused += 1
                break
            parent = str(made.folder)
            outcome = recheck_record(made.folder, write=False)
            assert outcome.decision == "matches", "\n".join(outcome_lines(outcome))
            matched += 1
    assert matched >= HONEST, f"only {matched}, and {refused} refused"
