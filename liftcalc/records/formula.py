"""Formulas as they are set on a page: which characters stand below and which above the line.

A formula is kept as plain text: an index follows a short symbol and an underscore (``R_FL``, ``phi_2`` as φ_2), an
exponent a circumflex (``h^2``, ``h^(1 / 3)``). Words and names with underscores in them stay as they are.

Source: none; ordinary typesetting.
"""

import re
from collections.abc import Mapping, Sequence

_RAISED = r"\^(?:\((?P<power>[^()]*)\)|(?P<plain>−?(?:\d+(?:\.\d+)?|[A-Za-zα-ωΑ-Ω]+)))"
_LOWERED = r"(?<![^\W_])(?P<symbol>[A-Za-zα-ωΑ-Ω]{1,3})_(?P<index>[^\W_]+(?:_[^\W_]+)*)(?!\w)"
_SENTENCE = 45
"""A result longer than this is a sentence, not a value."""
_EITHER = re.compile(f"{_RAISED}|{_LOWERED}")


def formula_parts(text: str) -> list[tuple[str, str]]:
    """The text in pieces, each with its kind: "text", "sub" or "sup"; nothing in it is markup."""
    parts: list[tuple[str, str]] = []
    end = 0
    for match in _EITHER.finditer(text):
        parts.append(("text", text[end : match.start()] + (match["symbol"] or "")))
        index = match["index"]
        raised = match["plain"] if match["power"] is None else match["power"]
        parts.append(("sub", index.replace("_", ",")) if index else ("sup", raised))
        end = match.end()
    parts.append(("text", text[end:]))
    return [part for part in parts if part[1]]


def step_parts(row: Mapping[str, str]) -> list[tuple[str, str]]:
    """A row of the calculation in one line: formula = values = result, the result as "strong".

    row: a given value, a step, a check against its limit, or a note in words, as a
      :class:`~liftcalc.lift.calculation.Calculation` makes them.
    """
    formula, numbers, result = (row[key] for key in ("formula", "numbers", "result"))
    if numbers in ("", "–", "given"):
        joint = " = " if numbers else ": "
        lines = [formula, joint if formula and result else ""]
    elif " = " in formula:
        lines = [formula, " = ", numbers, " = "]
    else:  # a check: its condition with values, then what it uses of its limit
        condition, _, share = formula.partition("; ")
        lines = [condition, ": ", numbers, "; ", share, " = " if share else ""]
    kind = "strong" if len(result) <= _SENTENCE else "text"
    return [*formula_parts("".join(lines)), *([(kind, result)] if result else [])]


_MOST_GIVEN = 16


def row_groups(rows: Sequence[Mapping[str, str]]) -> list[list[Mapping[str, str]]]:
    """Rows of a section in order; up to 16 given values that follow one another in one group."""
    groups: list[list[Mapping[str, str]]] = []
    for row in rows:
        last = groups[-1] if groups else []
        given = row["numbers"] == "given"
        if given and last and last[0]["numbers"] == "given" and len(last) < _MOST_GIVEN:
            last.append(row)
        else:
            groups.append([row])
    return groups
