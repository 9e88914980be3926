"""The table of check rows: no text is missing, and every call gives the words of its row."""

import ast
import functools
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import pytest

import liftcalc
from liftcalc.base.checks import limit_check, no_data_check, stated_check
from liftcalc.base.text import amount
from liftcalc.base.units import QUANTITIES
from liftcalc.lift.check_rows import CHECK_ROWS, check_row

TEXTS = ("title", "reference", "where", "remedy")
BUILDERS = {
    "check_row": (0, ()), "worst_step_check": (1, ("step",)), "overlap": (0, ("clash",)),
    "survey_checks._distance_check": (2, ("leg",)), "_row_check": (2, ("body", "step")),
    "line_check": (2, ("known", "table")),
    **{f"tandem_checks.{n}": (1, ("step", "owner"))
       for n in ("_distance_check", "_least_check", "_fixed_check")},
}  # fmt: skip
"""What makes a row: where its name stands among the arguments, and the words that it adds."""
NAMED_ELSEWHERE = {
    "above_ground": [n for n in CHECK_ROWS if n.endswith("above-ground")],
    "surroundings": ["clearance-own-boom", "clearance-own-carrier"],
    "tandem_checks": ["load-to-machine", "boom"],
    "capacity_checks": ["capacity", "capacity-rated-part"],
    "survey_checks": ["mats-on-site", "mats-in-stand-area", "mats-on-known-ground",
                      "carrier-on-site"],
}  # fmt: skip
"""Rows that a module asks for by a name that is no literal where it asks."""


def words_of(row: str) -> set[str]:
    """Words that the texts of a row wait for."""
    return {n.split(".")[0] for t in TEXTS for _, n, _, _ in Formatter().parse(CHECK_ROWS[row][t]) if n}


def _calls() -> Iterator[tuple[str, str, set[str]]]:
    """Every call in the package that makes a row: its name, its limit if given, its words."""
    package = Path(liftcalc.__file__).parent
    for path in sorted((*package.glob("lift/*.py"), *package.glob("plan/*.py"))):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name):
                continue
            called = node.func.id
            found = BUILDERS.get(f"{path.stem}.{called}") or BUILDERS.get(called)
            if found is None:
                continue
            at, own = found
            given = {k.arg for k in node.keywords if k.arg} | set(own) | {"part"}
            texts = [n.value for n in ast.walk(node.args[at]) if isinstance(n, ast.Constant)]
            names = [t for t in texts if t in CHECK_ROWS or f"{t} no data" in CHECK_ROWS]
            passes_on = any(k.arg is None for k in node.keywords)
            if not names and not passes_on:
                names = NAMED_ELSEWHERE.get(path.stem, [])
            if not names and path.stem != "placing":
                assert passes_on, f"{path.name}:{node.lineno}: no row"
            limit = ast.unparse(node.args[2]) if at == 0 and len(node.args) > 2 else ""
            yield from ((name, limit, given) for name in names)


calls = functools.cache(lambda: list(_calls()))


@pytest.mark.parametrize("row", CHECK_ROWS)
def test_every_row_says_what_by_whom_and_what_to_do(row: str) -> None:
    texts = CHECK_ROWS[row]
    assert set(texts) == {*TEXTS, "quantity", "sense"}
    assert texts["quantity"] in QUANTITIES
    assert texts["sense"] in ("max", "min", "stated")
    assert all(texts[t].strip() for t in ("title", "reference", "remedy"))


@pytest.mark.parametrize("row", CHECK_ROWS)
def test_every_row_is_asked_for_with_the_words_that_it_holds(row: str) -> None:
    if row.endswith(" no data"):
        asked = [w for n, limit, w in calls() if f"{n.split()[0]} no data" == row
                 and not limit.replace(".", "").isdecimal()]  # fmt: skip
        assert any(words_of(row) <= words for words in asked)
        return
    asked = [words for name, limit, words in calls() if name == row and limit != "None"]
    assert asked
    for words in asked:
        assert words_of(row) <= words


def test_a_row_is_filled_and_carries_exact_values() -> None:
    row = check_row("wall", 3.0, 4.0, part="W1", depth=1.25)
    assert row == limit_check(
        "wall-W1", "Sideways pressure on W1", value=3.0, limit=4.0, quantity="pressure_kPa",
        reference="Terzaghi 1954, point loads summed; limit: survey",
        where=f"{amount(1.25, 'length_m')} below the top, all mats",
    )  # fmt: skip
    over = check_row("wall", 5.0, 4.0, part="W1", depth=1.25)
    assert over.remedy == "Move the crane farther from the wall or use larger mats."


def test_facts_that_are_missing_leave_the_plan_incomplete() -> None:
    some, none = (check_row("plan-papers", n, 3, old="a permit") for n in (2, 0))
    assert some == stated_check(
        "plan-papers", some.title, missing=2, of=3, where="a permit",
        reference="each document's own end of validity",
        remedy="Renew them, or state the date of the lift.",
    )  # fmt: skip
    assert (some.status, none.status, none.where) == ("incomplete", "within", "3 stated")


def test_without_a_limit_a_row_never_reads_as_a_pass() -> None:
    assert check_row("wall", 3.0, None, part="W1", depth=1.25) == no_data_check(
        "wall-W1", "Sideways pressure on W1: its strength is unknown", quantity="pressure_kPa",
        value=3.0, reference="Terzaghi 1954",
        remedy="Have the wall's owner state what it may carry.",
    )  # fmt: skip
    with pytest.raises(KeyError):
        check_row("hook-block", 3.0, None, block="b", falls=4)


def test_a_condition_is_stated_with_how_it_is_met() -> None:
    words = {"condition": "the owner agrees", "met": "Ask the owner.", "depth": 1.25}
    within = check_row("wall", 3.0, 4.0, part="W1", **words)
    assert (within.status, within.remedy) == ("condition", "Ask the owner.")
    over = check_row("wall", 5.0, 4.0, part="W1", **words)
    assert (over.status, over.condition) == ("over", "")
    assert over.remedy.startswith("Move the crane")


def test_a_word_that_is_not_given_stops_the_row() -> None:
    with pytest.raises(KeyError):
        check_row("wall", 3.0, 4.0, part="W1")
