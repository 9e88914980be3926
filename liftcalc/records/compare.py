"""Comparing what a record holds with what was recomputed.

Numbers agree when ``|a - b| <= absolute + relative * max(|a|, |b|)``; everything else (texts,
verdicts, the shape of the data) must be equal. Texts of the sheet that show numbers agree when the
words between the numbers are equal and every number agrees within the tolerance or within one unit
of its last shown digit, since a value on a rounding edge may be shown either way.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from liftcalc.base.errors import InputError

_LONGEST = 200
_NUMBER = re.compile(r"[-−]?\d+(?:[ \u2009,]\d{3}(?!\d))*(?:\.\d+)?(?:[eE][-+]?\d+)?")


@dataclass(frozen=True)
class Tolerance:
    """Stated tolerance of a re-check."""

    relative: float = 1e-6
    absolute: float = 1e-9

    def __post_init__(self) -> None:
        for name in ("relative", "absolute"):
            value = getattr(self, name)
            if not 0 <= value <= 0.01:
                raise InputError.of(f"{name} tolerance", value, "0 to 0.01")

    def agree(self, a: float, b: float) -> bool:
        """True when two numbers agree; NaN never does."""
        return abs(a - b) <= self.absolute + self.relative * max(abs(a), abs(b))

    def __str__(self) -> str:
        return f"relative {self.relative:g}, absolute {self.absolute:g}"


USUAL_TOLERANCE = Tolerance()


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


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def compare(
    archived: Any, recalculated: Any, tolerance: Tolerance, *, where: str = "results"
) -> tuple[list[Difference], int]:
    """Differences between two plain JSON values, and how many numbers were compared."""
    differences: list[Difference] = []
    count = 0
    todo: list[tuple[str, Any, Any]] = [(where, archived, recalculated)]
    while todo:
        path, a, b = todo.pop()
        if _is_number(a) and _is_number(b):
            count += 1
            if not tolerance.agree(a, b):
                scale = max(abs(a), abs(b))
                size = f"{abs(a - b):.3g} ({100 * abs(a - b) / scale:.3g} %)" if scale else ""
                differences.append(Difference(path, repr(a), repr(b), size))
        elif isinstance(a, dict) and isinstance(b, dict):
            for key in sorted(set(a) | set(b), reverse=True):
                if key not in a:
                    differences.append(Difference(f"{path}.{key}", "not there", _show(b[key]), ""))
                elif key not in b:
                    differences.append(Difference(f"{path}.{key}", _show(a[key]), "not there", ""))
                else:
                    todo.append((f"{path}.{key}", a[key], b[key]))
        elif isinstance(a, list) and isinstance(b, list):
            if len(a) != len(b):
                differences.append(Difference(path, f"{len(a)} items", f"{len(b)} items", ""))
            todo.extend(
                (f"{path}[{i}]", x, y)
                for i, (x, y) in reversed(list(enumerate(zip(a, b, strict=False))))
            )
        elif type(a) is not type(b) or a != b:
            differences.append(Difference(path, _show(a), _show(b), ""))
    return differences, count


def _last_digit(text: str) -> float:
    mantissa, _, exponent = text.lower().partition("e")
    decimals = len(mantissa.partition(".")[2])
    return float(10.0 ** ((int(exponent) if exponent else 0) - decimals))


def _texts_agree(a: str, b: str, tolerance: Tolerance) -> bool:
    if a == b:
        return True
    if _NUMBER.sub("#", a) != _NUMBER.sub("#", b):
        return False
    for x, y in zip(_NUMBER.findall(a), _NUMBER.findall(b), strict=True):
        first, second = (float(re.sub("[ \u2009,]", "", t).replace("−", "-")) for t in (x, y))
        step = max(_last_digit(x), _last_digit(y)) * 1.000001
        if not (tolerance.agree(first, second) or abs(first - second) <= step):
            return False
    return True


def compare_blocks(
    archived: list[Mapping[str, Any]], recalculated: list[Mapping[str, Any]], tolerance: Tolerance
) -> list[Difference]:
    """Differences between what two sheets show."""
    differences, _ = compare(list(archived), list(recalculated), tolerance, where="sheet")
    return [d for d in differences if not _texts_agree(d.archived, d.recalculated, tolerance)]


def causes(
    *, inputs_same: bool, code_same: bool, archived_versions: Mapping[str, str],
    versions: Mapping[str, str],
) -> list[str]:  # fmt: skip
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
