"""A re-check runs nothing from the archive, finds what differs, and writes down what it found."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import nbformat
import pytest
from run.forgeries import Draft
from writable import unlock

from liftcalc.base import resources
from liftcalc.base.errors import InputError
from liftcalc.base.strict_json import dumps, loads, sha256_hex
from liftcalc.records.check_record import CheckOutcome, outcome_lines
from liftcalc.records.compare import Tolerance, compare, rounded_otherwise
from liftcalc.records.environment import versions_of
from liftcalc.records.log import append
from liftcalc.records.manifest import Manifest
from liftcalc.records.register import scan
from liftcalc.records.verify import Verified, verify_record
from liftcalc.run.recheck import recheck_many, recheck_record

Forge = Callable[..., Manifest]


@pytest.fixture
def copied(copied: Path, made_chain: tuple[Path, ...]) -> Path:
    """The copy with the sheet before beside it."""
    shutil.copytree(made_chain[0], copied.parent / made_chain[0].name)
    return copied


def _recheck(folder: Path, templates: Path, **given: Any) -> CheckOutcome:
    return recheck_record(folder, templates=templates, **{"write": False, **given})


def test_a_copied_record_matches_and_without_the_sheet_before_is_not_wholly_verified(
    copied: Path, made_chain: tuple[Path, ...], toy_templates: Path
) -> None:
    outcome = _recheck(copied, toy_templates)
    assert outcome.decision == "matches", outcome_lines(outcome)
    assert (outcome.code, outcome.unverified) == (0, [])
    assert outcome.numbers_compared >= 7
    before = copied.parent / made_chain[0].name
    before.rename(copied.parent / ".elsewhere")
    outcome = _recheck(copied, toy_templates)
    assert (outcome.decision, outcome.code) == ("numbers match, page not verified", 5)
    assert [before.name in text for text in outcome.unverified] == [True]


def test_the_check_record_names_checker_decision_and_record(copied: Path, toy_templates: Path) -> None:
    before = {p: p.read_bytes() for p in copied.rglob("*") if p.is_file()}
    outcome = _recheck(copied, toy_templates, write=True, checker="B. Checker")
    folder = copied.parent / outcome.check_record
    verified = verify_record(folder)
    assert verified.ok
    document = verified.json("check.json")
    record = verify_record(copied).manifest
    assert record is not None
    assert document["checker"] == "B. Checker"
    assert document["decision"] == "matches"
    assert document["manifest_sha256"] == record.manifest_sha256
    assert verified.manifest is not None
    assert verified.manifest.checks == record.link
    assert before == {p: p.read_bytes() for p in copied.rglob("*") if p.is_file()}
    states = {e.record: (e.state, e.checked_by) for e in scan(copied.parent)}
    assert states[copied.name] == ("checked", "B. Checker")
    again = _recheck(folder, toy_templates)
    assert again.decision == "matches"
    assert again.findings + again.unverified == []


def test_check_records_can_go_elsewhere(copied: Path, toy_templates: Path, tmp_path: Path) -> None:
    outcome = _recheck(copied, toy_templates, write=True, out=tmp_path / "checks")
    assert (tmp_path / "checks" / outcome.check_record / "check.html").is_file()
    (tmp_path / "file").touch()
    with pytest.raises(InputError, match="archive"):
        _recheck(copied, toy_templates, write=True, out=tmp_path / "file" / "x")


def test_a_number_changed_and_sealed_anew_is_shown_in_a_table(copied: Path, forge: Forge, toy_templates: Path) -> None:
    results = loads((copied / "results.json").read_bytes())
    true = results["values"]["weight_kN"]
    results["values"]["weight_kN"] = true * 0.9
    forge(copied, {"results.json": dumps(results)})
    assert verify_record(copied).ok  # nothing but calculating anew can find this
    outcome = _recheck(copied, toy_templates)
    assert outcome.decision == "differs"
    assert outcome.code == 3
    (difference,) = outcome.differences
    assert difference.where == "results.values.weight_kN"
    assert float(difference.archived) == pytest.approx(0.9 * true)
    assert float(difference.recalculated) == pytest.approx(true)
    assert "10 %" in difference.size
    text = "\n".join(outcome_lines(outcome))
    assert "results.values.weight_kN" in text
    assert "cause: none known" in text


def test_a_difference_within_the_tolerance_is_not_wholly_verified(
    copied: Path, forge: Forge, toy_templates: Path
) -> None:
    def recheck_of(factor: float, **given: Any) -> CheckOutcome:
        draft = Draft.of(copied)
        draft.json("results.json", lambda r: r["values"].update(weight_kN=true * factor))
        draft.redraw()
        names = ("results.json", "sheet.html", "sheet.pdf")
        forge(copied, {name: draft.files[name] for name in names})
        return _recheck(copied, toy_templates, **given)

    true = loads((copied / "results.json").read_bytes())["values"]["weight_kN"]
    assert recheck_of(1 + 1e-13).decision == "matches"  # as another processor may give it
    near = recheck_of(1 + 1e-9)
    assert (near.decision, near.code) == ("numbers match, page not verified", 5)
    assert near.unverified[0].startswith("results.values.weight_kN: ")
    assert recheck_of(1 + 1e-9, tolerance=Tolerance(1e-12, 0.0)).decision == "differs"


def test_code_altered_in_the_archive_is_named_and_never_run(
    copied: Path, forge: Forge, toy_templates: Path, tmp_path: Path
) -> None:
    marker = tmp_path / "ran"
    evil = f"open({str(marker)!r}, 'w').write('x')"
    notebook = loads((copied / "sheet.ipynb").read_bytes())
    notebook["cells"][-1]["source"] += f"\n{evil}"
    # The forger also names the altered code as the template.
    forge(copied, {"sheet.ipynb": dumps(notebook)}, template_sha256=resources.source_hash(notebook))
    outcome = _recheck(copied, toy_templates)
    assert outcome.decision == "numbers match, page not verified"
    assert "NO published state" in outcome.unverified[0]
    assert f"-{evil}" in outcome.notes
    forge(copied, template_sha256=resources.template_hash("leg_layout", toy_templates))
    outcome = _recheck(copied, toy_templates)
    assert outcome.decision == "differs"
    assert "its code or text is not that of the template" in outcome.findings[0]
    assert not marker.exists()


def test_code_hidden_in_the_cell_of_parameters_is_named_and_never_run(
    copied: Path, forge: Forge, toy_templates: Path, tmp_path: Path
) -> None:
    marker = tmp_path / "ran"
    notebook = loads((copied / "sheet.ipynb").read_bytes())
    for cell in notebook["cells"]:
        if "injected-parameters" in cell["metadata"].get("tags", []):
            cell["source"] += f"\nopen({str(marker)!r}, 'w').write('x')"
    forge(copied, {"sheet.ipynb": dumps(notebook)})
    outcome = _recheck(copied, toy_templates)
    assert outcome.decision == "differs"
    assert [d.where for d in outcome.differences] == ["sheet.cells[2].source"]
    assert not marker.exists()


def test_python_files_beside_the_inputs_are_not_imported(copied: Path, toy_templates: Path, tmp_path: Path) -> None:
    marker = tmp_path / "ran"
    for name in ("numpy.py", "sitecustomize.py", "liftcalc.py"):
        (copied / name).write_text(f"open({str(marker)!r}, 'w').write('x')")
    outcome = _recheck(copied, toy_templates)
    assert outcome.decision == "differs"
    assert len(outcome.findings) == 3
    assert not marker.exists()


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [("sheet.html", b"0", b"1"), ("sheet.pdf", b"0", b"1"), ("figures/weight.svg", b">0.", b">1.")],
)
def test_a_page_that_shows_something_else_is_named(
    copied: Path, forge: Forge, toy_templates: Path, name: str, old: bytes, new: bytes
) -> None:
    data = (copied / name).read_bytes()
    assert old in data
    forge(copied, {name: data.replace(old, new, 1)})
    outcome = _recheck(copied, toy_templates)
    assert outcome.decision == "differs"
    assert any(text.startswith(f"{name}: ") for text in outcome.findings)


def test_a_notebook_that_shows_another_number_is_named(copied: Path, forge: Forge, toy_templates: Path) -> None:
    text = (copied / "sheet.ipynb").read_bytes()
    shown = b"within limits"
    assert shown in text
    forge(copied, {"sheet.ipynb": text.replace(shown, b"inside limits")})
    outcome = _recheck(copied, toy_templates)
    assert outcome.decision == "differs"
    assert any(d.where.startswith("sheet.cells") for d in outcome.differences)


def test_inputs_that_name_another_parent_are_named(copied: Path, forge: Forge, toy_templates: Path) -> None:
    inputs = loads((copied / "inputs.json").read_bytes())
    inputs["parent"]["link"]["manifest_sha256"] = "1" * 64
    forge(copied, {"inputs.json": dumps(inputs)})
    outcome = _recheck(copied, toy_templates)
    assert outcome.decision == "differs"
    assert any("parents is" in text for text in outcome.findings)


def test_a_changed_parent_at_hand_is_named(copied: Path, made_chain: tuple[Path, ...], toy_templates: Path) -> None:
    parent = copied.parent / made_chain[0].name
    assert _recheck(copied, toy_templates).decision == "matches"
    (parent / "results.json").chmod(0o644)
    (parent / "results.json").write_bytes(b"{}")
    outcome = _recheck(copied, toy_templates)
    assert outcome.findings == [f"the sheet before, {parent.name}, is not whole"]


def test_changed_inputs_give_differences_with_their_places(copied: Path, forge: Forge, toy_templates: Path) -> None:
    inputs = loads((copied / "inputs.json").read_bytes())
    inputs["job"]["lifts"][0]["load"]["mass_t"] *= 1.01
    forge(copied, {"inputs.json": dumps(inputs)})
    outcome = _recheck(copied, toy_templates)
    assert outcome.decision == "differs"
    assert "results.values.weight_kN" in {d.where for d in outcome.differences}


@pytest.mark.parametrize(
    "change",
    [
        lambda i: i["job"]["lifts"][0]["load"].update(mass_t=-1),
        lambda i: i.update(job=None),
        lambda i: i.update(parameters=[]),
        lambda i: i["parameters"].update(units="imperial"),
        lambda i: i["parameters"].update(extra=1),
        lambda i: i["parent"].update(results=3),
        lambda i: i["parent"].update(link=3),
        lambda i: i.update(schema="other"),
    ],
)
def test_inputs_that_are_no_inputs_give_a_finding_and_no_crash(
    copied: Path, forge: Forge, toy_templates: Path, change: Callable[[Any], None]
) -> None:
    inputs = loads((copied / "inputs.json").read_bytes())
    change(inputs)
    forge(copied, {"inputs.json": dumps(inputs)})
    outcome = _recheck(copied, toy_templates)
    assert outcome.decision == "differs"
    assert outcome.findings


@pytest.mark.parametrize(
    "change",
    [
        lambda n: n.update(cells=3),
        lambda n: n.update(cells=[3]),
        lambda n: n["cells"][0].update(metadata=None),
        lambda n: n["cells"][0]["metadata"].update(tags=5),
        lambda n: n["cells"][3].update(outputs=3),
        lambda n: n["cells"][3].update(outputs=[None]),
        lambda n: [c.update(outputs=[{"output_type": "display_data"}]) for c in n["cells"]],
        lambda n: [
            c.update(
                outputs=[
                    {"output_type": "display_data", "data": {"application/vnd.liftcalc.block+json": {"kind": "evil"}}}
                ]
            )
            for c in n["cells"]
        ],
        lambda n: n["cells"][1].update(source={"a": 1}),
    ],
)
def test_a_notebook_that_is_none_gives_a_finding_and_no_crash(
    copied: Path, forge: Forge, toy_templates: Path, change: Callable[[Any], object]
) -> None:
    notebook = loads((copied / "sheet.ipynb").read_bytes())
    change(notebook)
    forge(copied, {"sheet.ipynb": dumps(notebook)})
    outcome = _recheck(copied, toy_templates)
    assert outcome.decision == "differs"
    assert outcome.findings


def test_another_template_re_runs_and_says_which_lines_and_numbers_are_others(
    copied: Path, toy: Callable[..., nbformat.NotebookNode], tmp_path: Path
) -> None:
    nbformat.write(toy("leg_layout", limit="99.0"), tmp_path / "leg_layout.ipynb")
    outcome = _recheck(copied, tmp_path)
    assert (outcome.decision, outcome.code) == ("differs", 3)
    assert "results.checks[0].limit" in {d.where for d in outcome.differences}
    assert "recheck --environment" in outcome.unverified[0]
    lines = [note for note in outcome.notes if "99.0" in note or "60.0" in note]
    assert [line[0] for line in lines] == ["-", "+"]


def test_another_library_version_is_named_as_a_cause(copied: Path, forge: Forge, toy_templates: Path) -> None:
    results = loads((copied / "results.json").read_bytes())
    results["values"]["weight_kN"] += 1
    lock = re.sub(rb"\nnumpy==[^\n]*", b"\nnumpy==1.0.0", (copied / "environment.txt").read_bytes())
    again = {"versions": versions_of(lock), "environment_sha256": sha256_hex(lock)}
    code = {"code_sha256": "1" * 64}
    forge(copied, {"results.json": dumps(results), "environment.txt": lock})
    forge(copied, **again, **code)
    outcome = _recheck(copied, toy_templates)
    text = " ".join(outcome.causes)
    assert "numpy: made with 1.0.0" in text
    assert "another state of liftcalc's code" in text


def test_broken_records_are_reported_and_never_run(copied: Path, toy_templates: Path) -> None:
    (copied / "inputs.json").write_bytes(b"{}")
    outcome = _recheck(copied, toy_templates, write=True)
    assert outcome.decision == "differs"
    assert outcome.numbers_compared == 0
    document = json.loads((copied.parent / outcome.check_record / "check.json").read_bytes())
    assert "inputs.json: has 2 bytes" in document["findings"][0]
    missing = _recheck(copied.with_name("nothing"), toy_templates, write=True)
    assert (missing.decision, missing.check_record) == ("not a record", "")
    assert outcome_lines(missing) == ["nothing: not a record", "  found: there is no such folder"]
    assert missing.code == 3


def test_many_records_are_checked_by_workers_in_their_order(
    made_chain: tuple[Path, ...], toy_templates: Path, archive: Path
) -> None:
    folders = [*made_chain, archive / "nothing"]
    found = recheck_many(folders, workers=2, templates=toy_templates, out=archive, checker="C")
    assert [o.decision for o in found] == ["matches", "matches", "not a record"]
    assert len([e for e in scan(archive) if e.kind == "check"]) == 2


def test_compare_finds_every_kind_of_difference() -> None:
    a = {"x": 1.0, "y": [1, 2], "z": "a", "t": True, "n": None, "gone": 1}
    b = {"x": 2.0, "y": [1, 2, 3], "z": "b", "t": 1, "n": 0, "new": 1}
    found, count = compare(a, b, Tolerance())
    places = {d.where for d in found}
    assert places == {f"results.{k}" for k in ("x", "y", "z", "t", "n", "gone", "new")}
    assert count == 3
    assert compare(a, a, Tolerance())[0] == []
    nan = float("nan")
    assert compare({"x": nan}, {"x": nan}, Tolerance())[0]


@pytest.mark.parametrize(
    ("a", "b", "same"),
    [
        ("41.2 kN", "41.3 kN", True),
        ("41.2 kN", "41.2 kN", True),
        ("41 kN", "42 kN", False),
        ("DIN 4124", "DIN 4125", False),
        ("BH1 at 2.5 m", "BH2 at 2.5 m", False),
        ("EN 1991.1", "EN 1991.2", True),
        ("12.3.4", "12.3.5", False),
        ("a1.5", "a1.6", False),
        ("41.2 kN", "41.4 kN", False),
        ("41.2 kN", "41.2 t", False),
        ("1 234.5 m", "1 234.6 m", True),
        ("1\u2009999.9 m", "2\u2009000.0 m", False),
        ("1,999.9 ft", "2,001.0 ft", False),
        ("−3.00", "3.00", False),
        ("within limits", "over a limit", False),
        ("leg 1 of 2", "leg 1 of 4", False),
    ],
)
def test_only_a_last_digit_of_a_fraction_may_be_rounding(a: str, b: str, same: bool) -> None:
    assert rounded_otherwise(a, b) is same
    long = "x" * 500
    (difference,) = [*compare({"a": long + a}, {"a": long + b + " "}, Tolerance())[0]]
    assert difference.size == ""


@pytest.mark.parametrize("value", [-1.0, 0.5, 1e-5, float("nan")])
def test_a_tolerance_that_would_hide_differences_is_refused(value: float) -> None:
    with pytest.raises(InputError, match="tolerance is"):
        Tolerance(relative=value)


def test_the_log_of_the_archive_must_name_the_record_as_it_is(copied: Path, forge: Forge, toy_templates: Path) -> None:
    manifest = verify_record(copied).manifest
    assert manifest is not None
    append(copied.parent, "withdrawn", "another", manifest.manifest_sha256)
    assert _recheck(copied, toy_templates).decision == "matches"
    log = copied.parent / "log.jsonl"
    before = log.read_bytes()
    for what in ("record", "withdrawn"):
        append(copied.parent, what, copied.name, manifest.manifest_sha256)
        words = f"the log of its archive names it a second time, as {what}"
        assert words in _recheck(copied, toy_templates).findings
        log.write_bytes(before)
    results = loads((copied / "results.json").read_bytes())
    results["values"]["weight_kN"] *= 1 + 1e-9
    forge(copied, {"results.json": dumps(results)})
    outcome = _recheck(copied, toy_templates)
    assert "the log of its archive names another state of it" in outcome.findings
    log.write_bytes(log.read_bytes().replace(b"beginning", b"record", 1))
    assert any("log.jsonl: " in text for text in _recheck(copied, toy_templates).findings)


def test_the_sheet_before_is_read_once_and_decided_by_its_manifest(
    copied: Path, made_chain: tuple[Path, ...], toy_templates: Path, forge: Forge,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    before = copied.parent / made_chain[0].name
    if not before.exists():
        shutil.copytree(made_chain[0], before)
    unlock(before)
    reads: list[str] = []

    def reading(folder: Path) -> Verified:
        reads.append(folder.name)
        return verify_record(folder)

    for room in ("links", "recheck"):
        monkeypatch.setattr(f"liftcalc.run.{room}.verify_record", reading)
    assert _recheck(copied, toy_templates).decision == "matches"
    assert sorted(reads) == sorted([copied.name, before.name])
    by_place = {before.name: "matches", str(before): "matches"}
    forge(before, {"sheet.html": (before / "sheet.html").read_bytes() + b" "})
    assert _recheck(copied, toy_templates, decided=by_place).decision == "differs"


def test_a_date_to_come_is_named(copied: Path, toy_templates: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("liftcalc.run.links.utc_now", lambda: "2020-01-01T00:00:00Z")
    assert "it is dated in the future" in _recheck(copied, toy_templates).notes
