"""A checker with a calculator goes from the inputs on a sheet to its verdict.

The printed calculation is read as text, by a small reader that shares nothing with the program:
each formula's symbols are replaced by the results printed above it, which must give the printed
values; these are evaluated, which must give the printed result within the rounding of what is
printed; and the last row of a section must say what the check table says.
"""

from __future__ import annotations

import ast
import math
import operator
import re
from collections.abc import Mapping
from typing import Any

import pytest
from shown import shown

from liftcalc.base import resources
from liftcalc.facts.io import load_job

LIFTS = [str(lift.id) for lift in load_job(resources.demo_job_path()).lifts]
SHEETS = [(t, lift) for t in resources.CHAIN[:4] for lift in LIFTS] + [("where_to_stand", "L6")]
MUST_BE_WORKED = 80.0
"""Utilisation [%] from which a check's calculation is printed."""

FUNCTIONS = {
    "√": math.sqrt,
    "exp": math.exp,
    "ln": math.log,
    "abs": abs,
    "min": min,
    "max": max,
    "sin": lambda x: math.sin(math.radians(x)),
    "cos": lambda x: math.cos(math.radians(x)),
    "tan": lambda x: math.tan(math.radians(x)),
    "asin": lambda x: math.degrees(math.asin(x)),
    "acos": lambda x: math.degrees(math.acos(x)),
    "atan": lambda x: math.degrees(math.atan(x)),
    "atan2": lambda y, x: math.degrees(math.atan2(y, x)),
}
OPERATORS = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: operator.pow,
}
SYMBOL = re.compile(r"[A-Za-zα-ωΑ-Ω][A-Za-zα-ωΑ-Ω0-9_'′]*")
NUMBER = re.compile(r"(?<![\w.])\d[\d\u2009]*(?:\.\d+)?")


def value_of(text: str) -> float:
    """Value of printed arithmetic; angles of sin, cos and tan in degrees."""
    python = text.replace("×", "*").replace("−", "-").replace("^", "**").replace("\u2009", "")
    python = re.sub(r"\b(sin|cos|tan) ([\d.]+)", r"\1(\2)", python).replace("√", "root")

    def walk(node: ast.AST) -> float:
        if isinstance(node, ast.Constant):
            return float(node.value)  # type: ignore[arg-type]
        if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
            return -walk(node.operand)
        if isinstance(node, ast.BinOp):
            return float(OPERATORS[type(node.op)](walk(node.left), walk(node.right)))
        assert isinstance(node, ast.Call)
        assert isinstance(node.func, ast.Name)
        name = "√" if node.func.id == "root" else node.func.id
        return float(FUNCTIONS[name](*map(walk, node.args)))

    return walk(ast.parse(python, mode="eval").body)


def printed(text: str) -> tuple[float, float]:
    """Number that a result begins with, and half its last digit."""
    match = re.match(r"[−-]?\d[\d\u2009]*(?:\.(\d+))?", text)
    assert match, f"no number in {text!r}"
    number = float(match.group().replace("−", "-").replace("\u2009", ""))
    return number, 0.5 * 10.0 ** -len(match[1] or "")


def rounding_of(text: str) -> float:
    """How far the value of printed arithmetic may be off because its numbers are rounded.

    First order: the sum over the printed decimals of what half a last digit changes.
    """
    exact, off = value_of(text), 0.0
    for match in NUMBER.finditer(text):
        decimals = match.group().partition(".")[2]
        if not decimals:
            continue  # a whole number of the formula
        number = float(match.group().replace("\u2009", ""))
        changes = []
        for side in (-0.5, 0.5):
            other = max(number + side * 10.0 ** -len(decimals), 0.0)
            changed = text[: match.start()] + f"{other:.9f}" + text[match.end() :]
            try:
                changes.append(abs(value_of(changed) - exact))
            except (ValueError, ZeroDivisionError):
                continue  # beyond the domain of a function
        off += max(changes, default=0.0)
    return off


def symbols_in(formula: str) -> list[re.Match[str]]:
    return [m for m in SYMBOL.finditer(formula) if m.group() not in FUNCTIONS]


def with_values(formula: str, results: Mapping[str, str]) -> str:
    """The formula with each symbol replaced by its printed result; negative ones in brackets."""

    def put(match: re.Match[str]) -> str:
        name = match.group()
        if name in FUNCTIONS:
            return name
        assert name in results, f"{name} of {formula!r} is printed nowhere above"
        return f"({results[name]})" if results[name].startswith("−") else results[name]

    return SYMBOL.sub(put, formula)


def wrong_rows(block: Mapping[str, Any], checks: Mapping[str, list[str]]) -> list[str]:
    """Every row of a calculation that a checker cannot follow."""
    legend = {symbol: (meaning, unit) for symbol, meaning, unit in block["symbols"]}
    wrong = [] if len(legend) == len(block["symbols"]) else ["a symbol has two meanings"]
    results: dict[str, str] = {}
    for section in block["sections"]:
        for row in section["rows"]:
            try:
                wrong += _wrong(row, results, legend, checks)
            except (AssertionError, LookupError, ValueError, SyntaxError, ZeroDivisionError) as error:
                wrong.append(f"{section['title']}: {row}: {error}")
    return wrong


def _wrong(
    row: Mapping[str, str],
    results: dict[str, str],
    legend: Mapping[str, tuple[str, str]],
    checks: Mapping[str, list[str]],
) -> list[str]:
    formula, values, result = row["formula"], row["numbers"], row["result"]
    wrong = [f"{row['what']}: {row['source']}"] if "DOES NOT FOLLOW" in row["source"] else []
    if not values:
        return wrong  # a row in words
    if "≤" in formula or "≥" in formula:  # the end of a section: value, limit, verdict
        value, limit, used, _ = checks[row["what"]]
        pair = re.split(r" [≤≥] ", values)
        if pair != [value, limit]:
            wrong.append(f"{row['what']}: {values} is not {value} and {limit} of the table")
        if used != "–" and not result.startswith(used):
            wrong.append(f"{row['what']}: {result} is not the {used} of the table")
        names = [m.group() for m in symbols_in(re.split("; ", formula)[0])]
        for name, shown_value in zip(names, (value, limit), strict=True):
            mine, half = printed(results[name])
            theirs, other = printed(shown_value)
            scale = 1000.0 if shown_value.endswith(" mm") and legend[name][1] == "m" else 1.0
            if abs(mine * scale - theirs) > half * scale + other + 1e-9:
                wrong.append(f"{row['what']}: {name} = {results[name]}, the table {shown_value}")
        if used != "–" and "utilisation" in formula:
            share = with_values(formula.partition("utilisation ")[2], results)
            theirs, half = printed(used)
            if abs(100 * value_of(share) - theirs) > 100 * rounding_of(share) + half + 1e-9:
                wrong.append(f"{row['what']}: {share} is not {used}")
        return wrong
    name, _, rest = formula.partition(" = ")
    if name not in legend:
        return [*wrong, f"{name} is not in the legend"]
    unit = legend[name][1]
    number = result.removesuffix(unit).strip() if unit != "–" else result
    if values == "given":
        if not row["source"]:
            wrong.append(f"{row['what']}: given without a source")
    else:
        expected = with_values(rest, results)
        if values not in (expected, "–"):
            wrong.append(f"{row['what']}: {values!r} is not {expected!r} of the rows above")
        got, half = printed(result)
        off = abs(value_of(expected) - got)
        if off > rounding_of(expected) + half + 1e-9:
            wrong.append(f"{row['what']}: {expected} is {value_of(expected):.6g}, not {result}")
    results[name] = number
    return wrong


def check_rows(seen: Any) -> dict[str, list[str]]:
    """Value, limit (without its sign), utilisation and state of each row of the check table."""
    (table,) = seen.kind("checks")
    columns = table["columns"]
    at = [columns.index(name) for name in ("Value", "Limit", "Utilisation", "State")]
    rows = {}
    for row in table["rows"]:
        value, limit, used, state = (row[k] for k in at)
        assert row[0] not in rows, f"two rows are called {row[0]}"
        rows[row[0]] = [value, re.sub("^[≤≥] |^estimate ", "", limit), used, state]
    return rows


@pytest.mark.parametrize(("template", "lift"), SHEETS)
def test_each_printed_row_follows_from_what_is_printed_above_it(template: str, lift: str) -> None:
    seen = shown(template, lift, "metric")
    (block,) = seen.kind("calculation")
    assert sum(len(section["rows"]) for section in block["sections"]) > 3
    assert wrong_rows(block, check_rows(seen)) == []


@pytest.mark.parametrize(("template", "lift"), SHEETS)
def test_the_governing_check_and_each_near_its_limit_is_reached(template: str, lift: str) -> None:
    seen = shown(template, lift, "metric")
    (block,) = seen.kind("calculation")
    reached = {
        row["what"]
        for section in block["sections"]
        for row in section["rows"]
        if "≤" in row["formula"] or "≥" in row["formula"]
    }
    (verdict,) = seen.kind("verdict")
    missing = []
    for title, (value, limit, used, state) in check_rows(seen).items():
        near = used != "–" and printed(used)[0] >= MUST_BE_WORKED
        numbers = value != "–" and limit != "–"
        over = state.startswith("over") and numbers
        governs = verdict["governing"].startswith(title) and numbers
        if (near or over or governs) and title not in reached:
            missing.append(f"{title}: {used}, {state}")
    assert missing == []


LEGEND = [["a", "length", "m"], ["φ_2", "factor", "–"], ["b", "product", "m"], ["l", "limit", "m"]]
ROWS = [
    ("Length", "a", "given", "2.000 m", "facts"),
    ("Factor", "φ_2", "given", "1.5000", "facts"),
    ("Limit", "l", "given", "4.000 m", "facts"),
    ("Product", "b = a × φ_2", "2.000 × 1.5000", "3.000 m", "sum"),
    ("Check", "b ≤ l; utilisation b / l", "3.00 m ≤ 4.00 m", "75.0 %, within limits", "rule"),
]


def _faulty(row: int, cell: int, text: str) -> list[str]:
    """What is wrong with a good calculation after one cell of it is changed."""
    rows = [list(one) for one in ROWS]
    rows[row][cell] = text
    keys = ("what", "formula", "numbers", "result", "source")
    section = {"title": "", "rows": [dict(zip(keys, one, strict=True)) for one in rows]}
    checks = {"Check": ["3.00 m", "4.00 m", "75.0 %", "within limits"]}
    return wrong_rows({"symbols": LEGEND, "sections": [section]}, checks)


def test_a_good_calculation_is_followed() -> None:
    assert _faulty(0, 0, "Length") == []


@pytest.mark.parametrize(
    ("row", "cell", "text"),
    [
        (0, 3, "2.100 m"),  # a given value that is not the one used below
        (0, 4, ""),  # no source
        (0, 1, "z"),  # a symbol without a legend
        (3, 1, "b = a × c"),  # a symbol printed nowhere
        (3, 2, "2.000 × 1.6000"),  # values that are not those above
        (3, 3, "3.010 m"),  # a result that does not follow
        (3, 4, "sum; DOES NOT FOLLOW from the values shown"),
        (2, 3, "4.100 m"),  # a limit that the table does not say
        (4, 2, "3.00 m ≤ 5.00 m"),
        (4, 3, "60.0 %, within limits"),
    ],
)
def test_a_row_that_does_not_follow_is_seen(row: int, cell: int, text: str) -> None:
    assert _faulty(row, cell, text) != []


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("2.00 × (1 + 10 / 100)", 2.2),
        ("√(3.0^2 + 4.0^2) − 1", 4.0),
        ("2 × sin 30.00 × cos(60)", 0.5),
        ("−(1.5) × (−2.0)", 3.0),
        ("atan2(1, 1) + max(2, 3)", 48.0),
        ("1\u2009000.0 / 4", 250.0),
    ],
)
def test_printed_arithmetic_is_read(text: str, value: float) -> None:
    assert value_of(text) == pytest.approx(value)
