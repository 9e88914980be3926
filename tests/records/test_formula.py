"""Formulas are set with indices and exponents, and nothing in them is read as markup."""

from __future__ import annotations

import pytest

from liftcalc.records.formula import formula_parts, row_groups, step_parts
from liftcalc.records.pages import block_html


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("Q = 2", [("text", "Q = 2")]),
        ("φ_2 × R_FL", [("text", "φ"), ("sub", "2"), ("text", " × R"), ("sub", "FL")]),
        ("x_a_1", [("text", "x"), ("sub", "a,1")]),
        ("v^2 / 1600", [("text", "v"), ("sup", "2"), ("text", " / 1600")]),
        ("h^(1 / 3)", [("text", "h"), ("sup", "1 / 3")]),
        ("(7.0)^−0.5", [("text", "(7.0)"), ("sup", "−0.5")]),
        ("chart demo_50, site_survey", [("text", "chart demo_50, site_survey")]),
        ("", []),
    ],
)
def test_indices_and_exponents_are_found(text: str, parts: list[tuple[str, str]]) -> None:
    assert formula_parts(text) == parts


@pytest.mark.parametrize(
    ("formula", "numbers", "result", "line"),
    [
        ("m", "given", "4.200 t", "m = 4.200 t"),
        ("Q = m × k", "4.2 × 1.1", "4.62 t", "Q = m × k = 4.2 × 1.1 = 4.62 t"),
        ("F = S", "–", "3.00 kN", "F = S = 3.00 kN"),
        ("Q ≤ C; share Q / C", "5 t ≤ 7 t", "71 %", "Q ≤ C: 5 t ≤ 7 t; share Q / C = 71 %"),
        ("n ≤ N", "1 ≤ 2", "within limits", "n ≤ N: 1 ≤ 2; within limits"),
        ("read at row 14 m", "", "7.30 t", "read at row 14 m: 7.30 t"),
        ("", "", "209 steps", "209 steps"),
        ("in words", "", "", "in words"),
    ],
)  # fmt: skip
def test_a_row_of_the_calculation_reads_as_one_line(formula: str, numbers: str, result: str, line: str) -> None:
    parts = step_parts({"formula": formula, "numbers": numbers, "result": result})
    assert "".join(text for _, text in parts) == line
    assert (("strong", result) in parts) == bool(result)


def test_given_values_stand_together_and_no_row_is_lost_or_moved() -> None:
    kinds = ["given"] * 3 + ["1 + 2", ""] + ["given"] * 40 + ["–"]
    rows = [{"numbers": kind, "what": str(n)} for n, kind in enumerate(kinds)]
    groups = row_groups(rows)
    assert [row for group in groups for row in group] == rows
    assert [len(group) for group in groups] == [3, 1, 1, 16, 16, 8, 1]
    assert row_groups([]) == []


def test_a_formula_is_escaped_on_the_page() -> None:
    row = {"what": "<a>", "formula": "x_<b>_1 = <i>y_2</i>^2", "numbers": "–", "result": "<u>"}
    rows = [row | {"source": "<p>"}, row | {"source": "<p>", "numbers": "given"}]
    section = {"title": "<s>", "where": "<q>", "rows": rows}
    block = {"kind": "calculation", "title": "T", "lead": "", "sections": [section], "symbols": [["y_2", "<m>", "<n>"]]}
    page = block_html(block)
    for tag in ("a", "b", "i", "u", "s", "q", "m", "n"):
        assert f"<{tag}>" not in page
    assert "y<sub>2</sub>" in page
