"""Templates and notebooks keep the rules that the contributor guide states."""

from __future__ import annotations

import ast
import json
import re
from pathlib import Path
from typing import Any

import pytest

from liftcalc.base import resources
from liftcalc.records.inputs import SheetParameters

TEMPLATES = sorted(resources.templates_dir().glob("*.ipynb"))
NOTEBOOKS = sorted(resources.notebooks_dir().glob("*.ipynb"))
TAGS = {"parameters", "nbval-ignore-output"}
PATH = re.compile(r"(?<![\w.:/])/(?:tmp|home|work|root|usr|var)/|[A-Z]:\\\\")


def name_of(path: Path) -> str:
    return path.stem


def cells(path: Path) -> list[dict[str, Any]]:
    """Cells with their source as one text."""
    read = json.loads(path.read_text(encoding="utf-8"))["cells"]
    return [{**cell, "source": "".join(cell["source"])} for cell in read]


def code_cells(path: Path) -> list[dict[str, Any]]:
    return [cell for cell in cells(path) if cell["cell_type"] == "code"]


def tags(cell: dict[str, Any]) -> set[str]:
    return set(cell["metadata"].get("tags", []))


def problems_of_code(source: str, *, may_try: bool) -> list[str]:
    """What a cell must not hold."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            found.append(f"defines {node.name}")
        if isinstance(node, ast.Try) and not may_try:
            found.append("catches errors")
    lines = [line for line in source.splitlines() if not re.match(r"\s*$|import |from ", line)]
    if len(lines) > 10:
        found.append(f"has {len(lines)} lines besides imports")
    return found


def problems_of_template(name: str, code: list[dict[str, Any]]) -> list[str]:
    """Everything in which a template breaks the rules."""
    found = []
    if tags(code[0]) != {"parameters"}:
        found.append("first cell is not the parameters cell")
    lines = code[0]["source"].splitlines()
    given = {}
    for line in lines:
        match = re.fullmatch(r'(\w+): str = "([^"]*)"  # [^=]+', line)
        if match is None:
            found.append(f"parameter line {line!r}")
        else:
            given[match[1]] = match[2]
    fields = {n: f.default for n, f in SheetParameters.model_fields.items() if n != "template"}
    if given != fields:
        found.append("parameters are not those of every sheet")
    if f'sheets.begin(\n    "{name}"' not in code[1]["source"]:
        found.append("second cell does not begin this sheet")
    if "sheet.conclude(" not in code[-1]["source"]:
        found.append("last cell does not conclude the sheet")
    text = "\n".join(cell["source"] for cell in code)
    for needed in ("title_block(", "verdict_block(", "check_table(", "provenance(", "cautions("):
        if f"sheet.{needed}" not in text:
            found.append(f"no sheet.{needed[:-1]}")
    for cell in code:
        found += problems_of_code(cell["source"], may_try=False)
        if not tags(cell) <= TAGS:
            found.append(f"tags {sorted(tags(cell) - TAGS)}")
        if ("nbval-ignore-output" in tags(cell)) != any(
            kept in cell["source"] for kept in ("sheet.figure(", "sheet.attach(")
        ):
            found.append("only cells of drawings and files, and all of them, go without compared output")
        if cell["execution_count"] is None:
            found.append("a cell was not run: nothing would be compared")
    return found


@pytest.mark.parametrize("path", TEMPLATES, ids=name_of)
def test_template_keeps_the_rules(path: Path) -> None:
    assert problems_of_template(path.stem, code_cells(path)) == []
    assert path.stem in resources.SHEET_TITLES


@pytest.mark.parametrize("path", NOTEBOOKS, ids=name_of)
def test_notebook_keeps_the_rules(path: Path) -> None:
    for cell in code_cells(path):
        assert problems_of_code(cell["source"], may_try=True) == []
        assert tags(cell) <= TAGS


@pytest.mark.parametrize("path", NOTEBOOKS, ids=name_of)
def test_notebook_carries_the_cautions_and_marks_what_is_invented(path: Path) -> None:
    text = "\n".join(cell["source"] for cell in cells(path)) + json.dumps(
        [cell.get("outputs", []) for cell in code_cells(path)]
    )
    assert re.search(r"rated capacity limiter", text)
    assert re.search(r"planning aid", text, re.IGNORECASE)
    if "demo" in text:
        assert "nvented" in text


@pytest.mark.parametrize("path", TEMPLATES + NOTEBOOKS, ids=name_of)
def test_stored_outputs_hold_no_path_no_error_and_no_mark_of_a_value(path: Path) -> None:
    for cell in code_cells(path):
        for output in cell["outputs"]:
            assert output["output_type"] != "error"
            assert not PATH.search(json.dumps(output)), output
            assert "⟦" not in json.dumps(output, ensure_ascii=False), output


@pytest.mark.parametrize("path", NOTEBOOKS, ids=name_of)
def test_notebook_without_a_panel_has_outputs_to_compare(path: Path) -> None:
    code = code_cells(path)
    if not any("open_workbench" in cell["source"] for cell in code):
        assert all(cell["execution_count"] for cell in code)
        assert any(cell["outputs"] and not tags(cell) for cell in code)


@pytest.mark.parametrize(
    ("find", "replace", "problem"),
    [
        ("sheet.conclude(", "print(", "last cell does not conclude the sheet"),
        ('"leg_layout"', '"lift_check"', "second cell does not begin this sheet"),
        ('lift: str = "L1"', 'lift: str = "L2"', "parameters are not those of every sheet"),
        ("sheet.cautions(", "print(", "no sheet.cautions"),
        ("sheet.verdict_block(checks)", "def f(): pass", "defines f"),
        ("sheet.check_table(checks)", "try:\n    x = 1\nexcept Exception:\n    pass", "catches"),
    ],
)
def test_the_check_itself_sees_a_template_that_breaks_a_rule(find: str, replace: str, problem: str) -> None:
    code = code_cells(resources.template_path("leg_layout"))
    assert any(find in cell["source"] for cell in code)
    for cell in code:
        cell["source"] = cell["source"].replace(find, replace)
    assert any(problem in found for found in problems_of_template("leg_layout", code))


@pytest.mark.parametrize("tag", ["skip-execution", "raises-exception", "nbval-skip"])
def test_the_check_itself_sees_a_tag_that_hides_a_cell(tag: str) -> None:
    code = code_cells(resources.template_path("leg_layout"))
    code[3]["metadata"]["tags"] = [tag]
    assert f"tags ['{tag}']" in problems_of_template("leg_layout", code)
