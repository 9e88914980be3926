"""What a hostile record tries to hide beside what the re-check looks at."""

from __future__ import annotations

import copy
import shutil
from pathlib import Path
from typing import Any

import matplotlib
import pytest
from run.forgeries import Draft

from liftcalc.base import resources
from liftcalc.base.strict_json import loads, sha256_hex
from liftcalc.records.blocks import BLOCK_MIME
from liftcalc.records.check_record import check_page
from liftcalc.records.compare import Tolerance, compare
from liftcalc.records.register import scan
from liftcalc.records.verify import verify_record
from liftcalc.run.recheck import recheck_record
from liftcalc.sheets import use_print_style


@pytest.fixture
def draft(copied: Path, made_chain: tuple[Path, ...]) -> Draft:
    """An honest record in the forger's hands, the sheet before beside it."""
    made = Draft.of(copied, made_chain[0])
    shutil.rmtree(copied)
    return made


def test_a_drawing_in_the_notebook_cannot_stand_in_for_the_one_that_is_looked_at(
    draft: Draft, archive: Path, toy_templates: Path
) -> None:
    name = next(n for n in draft.files if n.endswith(".svg"))
    true = draft.files[name].decode()
    draft.files[name] = true.replace("</svg>", "<text>400 kPa, released</text></svg>").encode()

    def hide(output: dict[str, Any]) -> None:
        if output["data"].get(BLOCK_MIME, {}).get("kind") == "figure":
            output["data"]["image/svg+xml"] = true

    draft.outputs(hide)
    outcome = recheck_record(draft.write(archive), write=False, templates=toy_templates)
    assert outcome.decision == "differs"
    assert "a drawing of its own" in " ".join(outcome.findings)


def test_a_record_revises_another_once(draft: Draft, archive: Path, toy_templates: Path) -> None:
    old = {name: draft.link()[name] for name in ("record", "manifest_sha256")}
    draft.beside.append(draft.write(archive / "before"))
    draft.manifest["revises"] = [old, old]
    draft.rename()
    draft.redraw()
    outcome = recheck_record(draft.write(archive), write=False, templates=toy_templates)
    assert [text for text in outcome.findings if "twice" in text], outcome


@pytest.mark.parametrize("time", ["2026-13-45T99:99:99Z", "0000-00-00T00:00:00Z"])
def test_a_time_that_no_calendar_has_is_refused(draft: Draft, archive: Path, time: str) -> None:
    draft.manifest["prepared_utc"] = time
    draft.rename()
    (finding,) = verify_record(draft.write(archive)).findings
    assert "prepared_utc" in str(finding)


def test_an_empty_folder_is_no_part_of_a_record(draft: Draft, archive: Path) -> None:
    folder = draft.write(archive)
    (folder / "figures" / "approved").mkdir()
    assert [str(f) for f in verify_record(folder).findings] == ["figures/approved/: is an empty folder"]


def test_a_long_chain_of_sheets_that_do_not_come_before_is_not_followed(
    draft: Draft, archive: Path, toy_templates: Path
) -> None:
    for digits in ("00000001", "00000002"):
        before = copy.deepcopy(draft)
        before.beside, before.drafts = [], []
        parent = {
            "link": before.link(), "template": before.manifest["template"],
            "results": loads(before.files["results.json"]),
        }  # fmt: skip
        draft.drafts.append(before)
        draft.json("inputs.json", lambda i, parent=parent: i.update(parent=parent))
        draft.derive()
        draft.rename(digits)
        draft.redraw()
    outcome = recheck_record(draft.write(archive), write=False, templates=toy_templates)
    assert [text for text in outcome.findings if "comes before" in text], outcome
    assert not [text for text in outcome.findings if "was made again" in text]


def test_what_lies_in_a_check_record_and_is_not_made_again_is_named(
    copied: Path, made_chain: tuple[Path, ...], toy_templates: Path
) -> None:
    archive = copied.parent
    shutil.copytree(made_chain[0], archive / made_chain[0].name)
    given: dict[str, Any] = {"templates": toy_templates}
    check = Draft.of(archive / recheck_record(copied, **given).check_record)
    (archive / "log.jsonl").unlink()
    check.files["figures/released.svg"] = b"<svg/>"
    check.manifest["record"] = check.manifest["record"][:-8] + "0badcafe"
    outcome = recheck_record(check.write(archive), write=False, **given)
    assert outcome.decision == "numbers match, page not verified"
    (text,) = outcome.unverified
    assert "figures/released.svg" in text
    link = check.link()
    said = {k: link[k] for k in ("record", "manifest_sha256", "chain_sha256")}
    check.files.pop("figures/released.svg")
    check.json("check.json", lambda s: s.update(said))
    checks = {k: said[k] for k in ("record", "manifest_sha256")}
    check.manifest.update(checks=checks, parents=[link])
    check.manifest["run_key"] = sha256_hex(check.files["check.json"])
    check.manifest["record"] = check.manifest["record"][:-8] + "0badcaff"
    page = check_page(loads(check.files["check.json"]), check.manifest["prepared_utc"])
    check.files["check.html"] = page
    outcome = recheck_record(check.write(archive), write=False, **given)
    assert "it checks what is no sheet" in outcome.findings, outcome


@pytest.mark.parametrize("rows", [[[]], [None], 5, [["Date", {}, 7], 5]])
def test_a_block_that_cannot_be_shown_is_found(draft: Draft, archive: Path, toy_templates: Path, rows: Any) -> None:
    draft.block("title", lambda block: block.update(rows=rows))
    outcome = recheck_record(draft.write(archive), write=False, templates=toy_templates)
    assert (outcome.decision, outcome.code) == ("differs", 3), outcome
    assert "shown" in " ".join(outcome.findings)


def test_text_that_takes_hours_to_set_is_refused(draft: Draft, archive: Path, toy_templates: Path) -> None:
    draft.notebook(lambda nb: nb["cells"][0].update(source="*a_ " * 1_000_000))
    draft.manifest["template_sha256"] = resources.source_hash(loads(draft.files["sheet.ipynb"]))
    draft.key()
    outcome = recheck_record(draft.write(archive), write=False, templates=toy_templates)
    assert outcome.findings == ["sheet.ipynb: is not an executed notebook"]


def test_a_name_without_end_does_not_fill_the_screen() -> None:
    (difference,), _ = compare({"x" * 1_000_000: 1}, {}, Tolerance())
    assert len(difference.where) < 300


def test_one_record_with_an_odd_environment_does_not_stop_the_register(draft: Draft, archive: Path) -> None:
    draft.files["environment.txt"] = b"python==3\nplatform==x y z\n"
    (finding,) = verify_record(draft.write(archive)).findings
    assert "environment.txt" in str(finding)
    assert draft.manifest["record"] in {e.record for e in scan(archive) if e.state == "damaged"}


def test_what_a_user_has_set_for_plots_does_not_reach_a_drawing() -> None:
    with matplotlib.rc_context({"axes.facecolor": "red", "text.color": "white"}):
        use_print_style()
        drawn = matplotlib.rcParams["axes.facecolor"], matplotlib.rcParams["text.color"]
        assert (*drawn, matplotlib.rcParams["text.parse_math"]) == ("white", "black", False)
