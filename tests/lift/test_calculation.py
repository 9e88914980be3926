"""The printed calculation: formulas, values, one meaning a symbol, and what must not pass."""

from __future__ import annotations

import ast
import csv
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from liftcalc.base.checks import limit_check
from liftcalc.base.errors import InputError
from liftcalc.lift import calculation
from liftcalc.lift.calculation import ROWS, Calculation

CHECK = limit_check(
    "capacity",
    "Gross load / rated capacity",
    value=7.728,
    limit=5.8,
    quantity="mass_t",
    reference="chart",
    where="at pick",
)


def made() -> Calculation:
    c = Calculation()
    c.section(CHECK)
    c.given("m", "load mass", 6.2, "t", "load list")
    c.given("c", "contingency", 10.0, "%", "load list")
    c.given("m_r", "rigging", 0.908, "t", "load list")
    c.given("C", "rated capacity", 5.8, "t", "chart")
    return c


def rows(c: Calculation) -> list[dict[str, str]]:
    return list(c.block()["sections"][-1]["rows"])


def test_a_step_prints_formula_values_and_result() -> None:
    c = made()
    c.step("Q", "gross load", "m * (1 + c / 100) + m_r", "t", "sum", value=7.728)
    c.reaches(CHECK, "Q", "C")
    step, verdict = rows(c)[-2:]
    assert step["formula"] == "Q = m × (1 + c / 100) + m_r"
    assert step["numbers"] == "6.200 × (1 + 10.00 / 100) + 0.908"
    assert (step["what"], step["result"]) == ("Gross load", "7.728 t")
    assert verdict["formula"] == "Q ≤ C; utilisation Q / C"
    assert verdict["result"] == "133.2 %, over a limit"
    assert c.mismatches == []
    assert c.reached == {"capacity": "133.2 %"}


@pytest.mark.parametrize(
    ("expression", "printed", "value"),
    [
        ("-(m - c) ** 2", "−(m − c)^2", -14.44),
        ("m - (c - m_r)", "m − (c − m_r)", -2.892),
        ("m / (c * 2)", "m / (c × 2)", 0.31),
        ("sqrt(m ** 2 + c ** 2)", "√(m^2 + c^2)", 11.766),
        ("m * sin(c + 20)", "m × sin(c + 20)", 3.1),
        ("atan2(m, m)", "atan2(m, m)", 45.0),
        ("max(m, c) - min(m, m_r)", "max(m, c) − min(m, m_r)", 9.092),
        ("(m * c) ** 0.5 / -m", "(m × c)^0.5 / (−m)", -1.27),
    ],
)
def test_an_expression_keeps_its_brackets(expression: str, printed: str, value: float) -> None:
    c = made()
    assert c.step("x", "number", expression, "-", "test") == pytest.approx(value, abs=1e-3)
    assert rows(c)[-1]["formula"] == f"x = {printed}"


def test_a_symbol_has_one_meaning() -> None:
    c = made()
    with pytest.raises(InputError, match="one meaning"):
        c.given("c", "distance of the centre of gravity", 1.0, "m", "machine")
    with pytest.raises(InputError, match="one meaning"):
        c.given("m", "load mass", 6200.0, "kg", "load list")


def test_a_step_uses_only_what_was_given() -> None:
    with pytest.raises(InputError, match="given symbols"):
        made().step("Q", "gross load", "m + unknown", "t", "sum")
    with pytest.raises(InputError, match="given symbols"):
        made().step("Q", "gross load", "__import__('os')", "t", "sum")
    with pytest.raises(InputError, match="a section before"):
        Calculation().given("m", "load mass", 1.0, "t", "load list")


def test_a_value_that_does_not_follow_says_so() -> None:
    c = made()
    c.step("Q", "gross load", "m + m_r", "t", "sum", value=7.728)
    assert "DOES NOT FOLLOW" in rows(c)[-1]["source"]
    assert len(c.mismatches) == 1


def test_a_check_reached_with_another_value_is_seen() -> None:
    c = made()
    c.step("Q", "gross load", "m + m_r", "t", "sum")
    c.reaches(CHECK, "Q", "C")
    assert len(c.mismatches) == 1
    assert "DOES NOT FOLLOW" in rows(c)[-1]["source"]


def test_a_given_value_is_printed_once_but_a_changed_one_again() -> None:
    c = made()
    before = len(rows(c))
    c.given("m", "load mass", 6.2, "t", "load list")
    assert len(rows(c)) == before
    c.section(None, "Another place")
    c.given("m", "load mass", 7.0, "t", "load list")
    assert [row["result"] for row in rows(c)] == ["7.000 t"]


def test_the_legend_names_each_symbol_once() -> None:
    symbols = made().block()["symbols"]
    assert symbols == [
        ["m", "load mass", "t"],
        ["c", "contingency", "%"],
        ["m_r", "rigging", "t"],
        ["C", "rated capacity", "t"],
    ]


TABLE = Path(calculation.__file__).with_suffix(".csv")
MODULES = sorted(TABLE.parent.glob("calculation*.py"))


def test_the_table_of_rows_names_each_quantity_once_with_formulas_that_can_be_read() -> None:
    lines = list(csv.reader(TABLE.read_text(encoding="utf-8").splitlines()))
    assert {len(line) for line in lines} == {6}
    keys = [line[0] for line in lines[1:]]
    assert len(keys) == len(set(keys)) == len(ROWS)
    assert keys == sorted(keys, key=lambda key: (key.casefold(), key))
    assert {"of", "detail"}.isdisjoint(keys), "these are arguments"
    for key, row in ROWS.items():
        assert key.isidentifier()
        assert row.meaning
        if row.formula:
            ast.parse(row.formula.replace("#", "FL"), mode="eval")


def named(node: ast.expr | None) -> set[str]:
    """Keys of rows that an expression of the code may name."""
    match node:
        case ast.Constant(value=str() as text):
            return set(text.split())
        case ast.JoinedStr(values=parts):
            one = "".join(re.escape(str(p.value)) if isinstance(p, ast.Constant) else r"\w+" for p in parts)
            return {key for key in ROWS if re.fullmatch(one, key)}
        case ast.IfExp(body=one, orelse=other):
            return named(one) | named(other)
    return set()


def stated(call: ast.Call, place: int) -> bool:
    """Whether a call states its argument at a place itself."""
    empty = len(call.args) <= place or getattr(call.args[place], "value", None) == ""
    return not empty


def calls() -> Iterator[tuple[str, str, ast.Call]]:
    """Where a module prints rows of the table, by which method."""
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
                yield f"{path.name}:{node.lineno}", node.func.attr, node


def test_every_row_that_is_asked_for_has_what_it_prints() -> None:
    wrong = []
    for where, method, call in calls():
        plain = bool(call.args) and not isinstance(call.args[0], ast.JoinedStr)
        if method == "facts":
            keys = {k.arg for k in call.keywords if k.arg} - {"of", "detail"}
            wrong += [f"{where} {key}" for key in sorted(keys - ROWS.keys())]
            keys &= ROWS.keys() if not stated(call, 0) else set()
            wrong += [f"{where} {key}: no source" for key in sorted(keys) if not ROWS[key].source]
        elif method in ("steps", "work") and plain:
            keys = named(call.args[0])
            if method == "steps":
                keys |= {k.arg for k in call.keywords if k.arg} - {"of", "detail"}
            wrong += [f"{where} {key}" for key in sorted(keys - ROWS.keys())]
            for key in sorted(keys & ROWS.keys()):
                if not (ROWS[key].formula or (method == "work" and stated(call, 1))):
                    wrong.append(f"{where} {key}: no formula")
                if not (ROWS[key].source or (method == "work" and stated(call, 2))):
                    wrong.append(f"{where} {key}: no source")
        elif method == "ends":
            keys = named(call.args[2])
            wrong += [f"{where} {key}" for key in sorted(keys - ROWS.keys())]
    assert wrong == []


def test_every_row_of_the_table_is_asked_for() -> None:
    texts = [path.read_text(encoding="utf-8") for path in MODULES]
    words = set(re.findall(r"\w+", " ".join(texts)))
    made = set()
    for text in texts:
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.JoinedStr) and len(node.values) > 1:
                made |= named(node)
    assert sorted(set(ROWS) - words - made) == []


def test_a_row_of_one_outrigger_is_printed_with_its_name() -> None:
    c = made()
    c.facts("mats list", x_of=2.5, of="FL")
    assert rows(c)[-1] == {
        "what": "Place of outrigger FL, forward of the slew centre", "formula": "x_FL",
        "numbers": "given", "result": "2.500 m", "source": "mats list",
    }  # fmt: skip
    with pytest.raises(InputError, match="of the steps"):
        c.steps("", Q=1.0)
