"""A record is made only by a template that ran to its conclusion, on inputs that were checked."""

from __future__ import annotations

import dataclasses
import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import nbformat
import pytest
from writable import unlock

from liftcalc.base import resources
from liftcalc.base.errors import InputError, RecordError
from liftcalc.base.strict_json import dumps
from liftcalc.records.html import drawing_path
from liftcalc.records.manifest import Manifest
from liftcalc.records.verify import verify_record
from liftcalc.run import execute
from liftcalc.run.execute import SheetError
from liftcalc.run.make import SheetOrder, make_record, prepare


@pytest.fixture
def order(toy_job: Path) -> SheetOrder:
    return SheetOrder("lift_check", job=str(toy_job), lift="L2", prepared_by="A. Person")


def _spoiled(tmp_path: Path, toy: Callable[..., nbformat.NotebookNode], extra: str, **tags: Any) -> Path:
    folder = tmp_path / "templates"
    folder.mkdir()
    notebook = toy("lift_check", extra=extra)
    for cell in notebook.cells:
        if cell.source == extra and tags:
            cell.metadata["tags"] = tags["tags"]
    nbformat.write(notebook, folder / "lift_check.ipynb")
    return folder


def test_a_record_holds_inputs_results_page_figures_and_notebook(made_chain: tuple[Path, ...]) -> None:
    verified = verify_record(made_chain[1])
    inputs, results = verified.json("inputs.json"), verified.json("results.json")
    assert inputs["parameters"] == {
        "job": "inputs.json",
        "lift": "L2",
        "parent": "",
        "prepared_by": "A. Person",
        "results_file": "results.json",
        "revision": "A",
        "units": "metric",
    }
    assert [lift["id"] for lift in inputs["job"]["lifts"]] == ["L2"]
    # Weight = mass x standard gravity (BIPM, exact), summed over the two sheets of the chain.
    weight = inputs["job"]["lifts"][0]["load"]["mass_t"] * 9.80665
    assert results["values"]["weight_kN"] == pytest.approx(weight, rel=1e-12)
    assert results["values"]["sum_kN"] == pytest.approx(2 * weight, rel=1e-12)
    notebook = verified.json("sheet.ipynb")
    assert b"image/svg+xml" not in verified.content["sheet.ipynb"]
    links = [
        d["text/markdown"]
        for c in notebook["cells"]
        for o in c.get("outputs", [])
        if "text/markdown" in (d := o.get("data", {}))
    ]
    drawings = [k for k in verified.content if k.startswith("figures/")]
    assert links == [f"![Drawing]({name})" for name in drawings] == [f"![Drawing]({drawing_path('weight')})"]
    assert f'src="{drawings[0]}"'.encode() in verified.content["sheet.html"]


def test_the_page_needs_no_network_and_no_script(made_chain: tuple[Path, ...]) -> None:
    page = (made_chain[1] / "sheet.html").read_text(encoding="utf-8")
    assert "<script" not in page
    assert "http:" not in page
    assert "https:" not in page
    assert "default-src 'none'" in page
    assert "Weight of the load" in page
    assert "widget" not in page


def test_the_warm_engine_and_the_plain_one_make_the_same_sheet(
    order: SheetOrder, archive: Path, toy_templates: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = [make_record(order, archive, templates=toy_templates).folder]
    monkeypatch.setattr(execute, "ENGINE", "nbclient")
    made.append(make_record(order, archive, templates=toy_templates).folder)
    for name in ("results.json", "inputs.json", "sheet.ipynb", "figures/weight.svg"):
        assert (made[0] / name).read_bytes() == (made[1] / name).read_bytes(), name


@pytest.mark.parametrize(
    ("extra", "kind", "words"),
    [
        ("1 / 0", "program", "ZeroDivisionError: division by zero. This is a fault of the program"),
        ("import os; os._exit(3)", "kernel", "kernel died"),
        ("raise SystemExit", "program|kernel", "lift_check"),
        ("from liftcalc.base.errors import InputError\nraise InputError.of('a', 1, 'b')", "input", "a is 1"),
        ("from liftcalc.base.errors import RecordError\nraise RecordError('broken')", "record", "broken"),
        (
            "from liftcalc.base.errors import ConvergenceError\nraise ConvergenceError('no end')",
            "calculation",
            "no end",
        ),
        ("sheet.conclude = lambda *a: None", "kernel", "ended without its results file"),
        (
            "open('results.json', 'w').write('{}'); sheet.conclude = lambda *a: None",
            "program",
            "its results do not state schema",
        ),
        ("open('more.txt', 'w').write('x')", "record", "left files that do not belong"),
        ("weight_kN = float('nan')", "input", "values.weight_kN is nan; allowed: a finite number"),
        ("open('results.json', 'w').write('x')", "input", "never overwritten"),
    ],
)
def test_a_sheet_that_does_not_conclude_leaves_no_record(
    order: SheetOrder,
    archive: Path,
    tmp_path: Path,
    toy: Callable[..., nbformat.NotebookNode],
    extra: str,
    kind: str,
    words: str,
) -> None:
    templates = _spoiled(tmp_path, toy, extra)
    with pytest.raises((SheetError, RecordError), match=words) as caught:
        make_record(order, archive, templates=templates)
    assert getattr(caught.value, "kind", "record") in kind.split("|")
    assert "Traceback" not in str(caught.value)
    assert {path.name for path in archive.iterdir()} <= {".lock"}


def test_an_endless_sheet_is_stopped(
    order: SheetOrder, archive: Path, tmp_path: Path, toy: Callable[..., nbformat.NotebookNode]
) -> None:
    templates = _spoiled(tmp_path, toy, "import time; time.sleep(60)")
    with pytest.raises(SheetError, match="took too long") as caught:
        make_record(order, archive, templates=templates, timeout_s=1)
    assert caught.value.kind == "timeout"
    assert list(archive.iterdir()) == []


@pytest.mark.parametrize("tag", ["skip-execution", "raises-exception"])
def test_a_template_with_a_cell_that_could_vanish_is_refused(
    order: SheetOrder, archive: Path, tmp_path: Path, toy: Callable[..., nbformat.NotebookNode], tag: str
) -> None:
    templates = _spoiled(tmp_path, toy, "x = 1", tags=[tag])
    with pytest.raises(SheetError, match=tag):
        make_record(order, archive, templates=templates)


def test_every_wrong_parameter_is_named_at_once(order: SheetOrder, toy_templates: Path) -> None:
    wrong = dataclasses.replace(order, lift="", units="imperial", revision="a b", prepared_by="\n")
    with pytest.raises(InputError) as caught:
        prepare(wrong, templates=toy_templates)
    assert {p.field for p in caught.value.problems} == {"lift", "units", "revision", "prepared_by"}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"lift": "L99"}, "lift is 'L99'; allowed: one of L1"),
        ({"template": "no_such"}, "template is 'no_such'"),
        ({"job": "/no/such/job.yaml"}, "no such file"),
        ({"lift": 3}, "lift is 3"),
        ({"lift": float("nan")}, "lift is nan"),
        ({"units": None}, "units is None"),
    ],
)
def test_bad_inputs_are_refused_before_a_kernel_starts(
    order: SheetOrder, toy_templates: Path, change: dict[str, Any], words: str
) -> None:
    with pytest.raises(InputError, match=words):
        prepare(dataclasses.replace(order, **change), templates=toy_templates)


def test_a_parent_must_be_whole_of_the_same_lift_facts_and_place_in_the_chain(
    order: SheetOrder, made_chain: tuple[Path, ...], copied: Path, toy_templates: Path, toy_job: Path, tmp_path: Path
) -> None:
    survey, layout = made_chain

    def attempt(**change: Any) -> None:
        prepare(dataclasses.replace(order, **change), templates=toy_templates)

    attempt(parent=str(layout))
    with pytest.raises(InputError, match="parent is 'a site_survey record'; allowed: a leg_layout"):
        attempt(parent=str(survey))
    with pytest.raises(InputError, match="allowed: none: this sheet is the first"):
        attempt(parent=str(survey), template="site_survey")
    with pytest.raises(InputError, match="a record of lift L2'; allowed: lift L3"):
        attempt(parent=str(layout), lift="L3")
    other = tmp_path / "job.yaml"
    text = toy_job.read_text(encoding="utf-8")
    assert "\nclient: " in text
    other.write_text(text.replace("\nclient: ", "\nclient: Other "), encoding="utf-8")
    with pytest.raises(InputError, match="allowed: a record made from the same facts"):
        attempt(parent=str(layout), job=str(other))
    (copied / "results.json").write_bytes(b"{}")
    with pytest.raises(RecordError, match=r"results\.json: has 2 bytes"):
        attempt(parent=str(copied))


def test_an_archived_inputs_file_makes_the_same_sheet_again(
    made_chain: tuple[Path, ...], archive: Path, toy_templates: Path
) -> None:
    source = made_chain[1]
    order = SheetOrder("leg_layout", job=str(source / "inputs.json"), lift="L2", prepared_by="A. Person")
    made = make_record(order, archive, templates=toy_templates)
    for name in ("results.json", "inputs.json", "sheet.ipynb"):
        assert (made.folder / name).read_bytes() == (source / name).read_bytes()
    assert made.manifest.parents == verify_record(source).manifest.parents  # type: ignore[union-attr]


@pytest.mark.parametrize("forged", [False, True])
def test_a_record_of_somebody_else_is_believed_only_if_it_is_the_same_made_again(
    order: SheetOrder, archive: Path, toy_templates: Path, tmp_path: Path, forged: bool,
    monkeypatch: pytest.MonkeyPatch, forge: Callable[..., Manifest],
) -> None:  # fmt: skip
    theirs = make_record(order, archive, templates=toy_templates)
    unlock(theirs.folder)
    if forged:  # whole, and made of the same by what it says: verified as it lies there
        results = json.loads((theirs.folder / "results.json").read_bytes())
        results["checks"][0]["value"] *= 0.5
        forge(theirs.folder, {"results.json": dumps(results)})
    assert verify_record(theirs.folder).ok
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "mine"))
    mine = make_record(order, archive, templates=toy_templates)
    assert mine.reused is not forged
    assert [link.record for link in mine.manifest.revises] == [theirs.manifest.record] * forged
    again = make_record(order, archive, templates=toy_templates)
    assert (again.reused, again.folder) == (True, mine.folder)


def test_a_sheet_says_what_it_builds_on_by_trust(
    made_chain: tuple[Path, ...], archive: Path, toy_job: Path, toy_templates: Path,
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    parent = made_chain[0]
    order = SheetOrder("leg_layout", job=str(toy_job), lift="L2", parent=str(parent))
    made = make_record(order, archive, templates=toy_templates)
    assert made.on_trust == []
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "another"))
    assert made.on_trust == [parent.name]


def test_a_revision_names_the_record_it_revises(order: SheetOrder, archive: Path, toy_templates: Path) -> None:
    first = make_record(order, archive, templates=toy_templates)
    second = make_record(
        dataclasses.replace(order, revision="B", revises=(first.manifest.link,)), archive, templates=toy_templates
    )
    assert second.manifest.revises == (first.manifest.link,)
    assert first.manifest.record in (second.folder / "sheet.html").read_text(encoding="utf-8")


def test_the_hash_of_a_template_follows_its_code_and_not_its_outputs(toy: Callable[..., nbformat.NotebookNode]) -> None:
    notebook = json.loads(nbformat.writes(toy("lift_check")))
    before = resources.source_hash(notebook)
    for cell in notebook["cells"]:
        if cell["cell_type"] == "code":
            cell["execution_count"] = 7
            cell["outputs"] = [{"output_type": "stream", "name": "stdout", "text": "x"}]
    assert resources.source_hash(notebook) == before
    notebook["cells"][3]["source"] += "\n"
    assert resources.source_hash(notebook) != before


def test_a_copied_record_can_be_moved_and_stays_whole(made_chain: tuple[Path, ...], tmp_path: Path) -> None:
    target = tmp_path / "elsewhere" / made_chain[0].name
    shutil.copytree(made_chain[0], target)
    assert verify_record(target).ok


def test_a_template_changed_without_a_trace_in_size_and_time_is_read_anew(
    order: SheetOrder, archive: Path, toy_templates: Path, tmp_path: Path
) -> None:
    own = tmp_path / "own"
    shutil.copytree(toy_templates, own)
    path = own / f"{order.template}.ipynb"
    make_record(order, archive, templates=own)
    before, text = path.stat(), path.read_text(encoding="utf-8")
    assert "# Toy " in text
    path.write_text(text.replace("# Toy ", "# Top "), encoding="utf-8")
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert path.stat().st_size == before.st_size
    made = make_record(order, archive, templates=own)
    assert b"Top lift_check" in (made.folder / "sheet.html").read_bytes()
