"""Comparing what a record holds with what was recomputed.

Numbers with a fraction agree when ``|a - b| <= absolute + relative * max(|a|, |b|)``. Everything
else must be equal: whole numbers, texts, verdicts, the shape of the data. A text that differs from
the recomputed one by one step of the last digit of a decimal fraction may have been rounded on
another machine: it does not agree, but is kept apart from a text that says something else.
"""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from liftcalc.base.errors import InputError

_LONGEST = 200
_FRACTION = re.compile(r"(?<![\w.])\d{1,15}\.\d{1,15}(?![\w.])")
"""A decimal fraction that is no part of a name, reference or list of numbers."""


@dataclass(frozen=True)
class Tolerance:
    """Stated tolerance of a re-check: what another machine may differ by, and no more."""

    relative: float = 1e-6
    absolute: float = 1e-9

    def __post_init__(self) -> None:
        for name in ("relative", "absolute"):
            value = getattr(self, name)
            if not 0 <= value <= 1e-6:
                raise InputError.of(f"{name} tolerance", value, "0 to 1e-6")

    def agree(self, a: float, b: float) -> bool:
        """True when two numbers agree; NaN never does, nor does 0 agree with -0."""
        if a == b:
            return math.copysign(1, a) == math.copysign(1, b)
        return abs(a - b) <= self.absolute + self.relative * max(abs(a), abs(b))

    def __str__(self) -> str:
        return f"relative {self.relative:g}, absolute {self.absolute:g}"


USUAL_TOLERANCE = Tolerance()
LAST_DIGITS = Tolerance(1e-12, 0.0)
"""What the same code and packages may differ by, on another processor."""
ROUNDED = "rounded otherwise"
"""Size of a difference between texts that may come from rounding on another machine."""


@dataclass(frozen=True)
class Difference:
    """One place where record and recalculation differ."""

    where: str
    archived: str
    recalculated: str
    size: str


def _show(value: object) -> str:
    text = repr(value) if not isinstance(value, str) else value
    return text if len(text) <= _LONGEST else text[: _LONGEST - 3] + "..."


def _ids(items: list[Any]) -> list[str]:
    """Names of the items of a list, where each has one of its own."""
    ids = [str(item["id"]) for item in items if isinstance(item, dict) and "id" in item]
    return ids if len(set(ids)) == len(items) else []


def _by_id(items: list[Any]) -> dict[str, Any]:
    named = _ids(items)
    return dict(zip(named, items, strict=True)) if named else {"items": items}


def compare(
    archived: Any, recalculated: Any, tolerance: Tolerance, *, where: str = "results"
) -> tuple[list[Difference], int]:
    """Differences between two plain JSON values, and how many numbers were compared."""
    differences: list[Difference] = []
    count = 0
    todo: list[tuple[str, Any, Any]] = [(where, archived, recalculated)]
    while todo:
        path, a, b = todo.pop()
        if isinstance(a, float) and isinstance(b, float):
            count += 1
            if not tolerance.agree(a, b):
                scale = max(abs(a), abs(b))
                size = f"{abs(a - b):.3g} ({100 * abs(a - b) / scale:.3g} %)" if scale else ""
                differences.append(Difference(path, repr(a), repr(b), size))
        elif isinstance(a, dict) and isinstance(b, dict):
            for key in sorted(set(a) | set(b), reverse=True):
                below = f"{path}.{_show(key)}"
                if key not in a:
                    differences.append(Difference(below, "not there", _show(b[key]), ""))
                elif key not in b:
                    differences.append(Difference(below, _show(a[key]), "not there", ""))
                else:
                    todo.append((below, a[key], b[key]))
        elif isinstance(a, list) and isinstance(b, list) and _ids(a) != _ids(b):
            todo.append((path, _by_id(a), _by_id(b)))
            if sorted(_ids(a)) == sorted(_ids(b)):
                differences.append(Difference(path, "another order", "", ""))
        elif isinstance(a, list) and isinstance(b, list):
            if len(a) != len(b):
                differences.append(Difference(path, f"{len(a)} items", f"{len(b)} items", ""))
            todo.extend((f"{path}[{i}]", x, y) for i, (x, y) in reversed(list(enumerate(zip(a, b, strict=False)))))
        else:
            count += type(a) is int
            if type(a) is not type(b) or a != b:
                texts = isinstance(a, str) and isinstance(b, str)
                size = ROUNDED if texts and rounded_otherwise(a, b) else ""
                differences.append(Difference(path, _show(a), _show(b), size))
    return differences, count


def rounded_otherwise(a: str, b: str) -> bool:
    """True when two texts differ only by one step of the last digit of their decimal fractions."""
    if _FRACTION.sub("#", a) != _FRACTION.sub("#", b):
        return False
    for x, y in zip(_FRACTION.findall(a), _FRACTION.findall(b), strict=True):
        digits = len(x.partition(".")[2])
        if digits != len(y.partition(".")[2]) or abs(float(x) - float(y)) > 1.000001 / 10**digits:
            return False
    return True


def compare_exactly(archived: Any, recalculated: Any, where: str) -> list[Difference]:
    """Differences without any tolerance."""
    return compare(archived, recalculated, Tolerance(0.0, 0.0), where=where)[0]


def causes(
    *, inputs_same: bool, code_same: bool, archived_versions: Mapping[str, str], versions: Mapping[str, str]
) -> list[str]:
    """Known reasons why numbers may differ, in words; the last resort says that none is known."""
    reasons = []
    if not inputs_same:
        reasons.append("the archived inputs read differently here")
    if not code_same:
        reasons.append(
            f"another state of liftcalc's code (made with {archived_versions.get('liftcalc')}, "
            f"here {versions.get('liftcalc')})"
        )
    for name in sorted(set(archived_versions) | set(versions)):
        old = archived_versions.get(name, "not stated")
        new = versions.get(name, "not installed")
        if old != new and name != "liftcalc":
            reasons.append(f"{name}: made with {old}, here {new}")
    if not reasons:
        reasons.append(
            "none known: inputs, template, code and library versions are the same, so the "
            "archived results did not come from them"
        )
    return reasons
