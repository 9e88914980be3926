"""The one error family, and the range tests that every calculation uses.

The ``require_*`` functions return the argument as a float array or raise :class:`InputError` with
the field, the first offending value and what is allowed. NaN fails every one of them.
"""

from __future__ import annotations

import reprlib
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.foreign import visible

_GREATEST = float(np.finfo(np.float64).max)
_LEAST = float(np.finfo(np.float64).smallest_subnormal)


class _Missing:
    def __repr__(self) -> str:
        return "missing"


MISSING = _Missing()
"""Value of a :class:`Problem` whose field was not given at all."""


_REPR = reprlib.Repr()
_REPR.maxstring = _REPR.maxother = _REPR.maxlong = 120
_REPR.maxlist = _REPR.maxtuple = _REPR.maxset = _REPR.maxdict = 20
_MOST_PROBLEMS = 40


@dataclass(frozen=True)
class Problem:
    """One wrong input: which field, what was given, what is allowed, what to do.

    Without a field, *allowed* is the whole sentence.
    """

    field: str
    value: object
    allowed: str
    remedy: str = ""

    def __str__(self) -> str:
        field = visible(self.field, 300)
        if not field:
            text = self.allowed if self.allowed.endswith("?") else f"{self.allowed}."
        elif self.value is MISSING:
            text = f"{field} is missing; {self.allowed}."
        else:
            text = f"{field} is {visible(_REPR.repr(self.value), 120)}; allowed: {self.allowed}."
        return f"{text} {self.remedy}".rstrip()


class LiftcalcError(Exception):
    """Base of every error that the package raises on purpose; *kind*: see :func:`failure_code`."""

    kind: str = "input"

    def _render_traceback_(self) -> list[str]:
        # A notebook shows the message, which says what to do, and not the way through the code.
        return [f"{type(self).__name__}: {self}"]


class InputError(LiftcalcError, ValueError):
    """Input outside what is allowed; lists every problem found, not just the first."""

    def __init__(self, problems: Problem | Iterable[Problem], *, source: str = "") -> None:
        self.problems: tuple[Problem, ...] = (problems,) if isinstance(problems, Problem) else tuple(problems)
        self.source = source
        shown = "\n".join(map(str, self.problems[:_MOST_PROBLEMS])).split("\n")
        lines = [visible(line) for line in shown]  # a library's words may quote a foreign file
        more = len(self.problems) - _MOST_PROBLEMS
        lines += [f"And {more} more of such faults."] if more > 0 else []
        super().__init__((f"{visible(source, 300)}: " if source else "") + "\n".join(lines))

    @classmethod
    def of(cls, field: str, value: object, allowed: str, remedy: str = "", *, source: str = "") -> InputError:
        """Build the error for a single field."""
        return cls(Problem(field, value, allowed, remedy), source=source)


def refuse_unless(*tests: tuple[object, str, object, str], source: str = "") -> None:
    """Refuse, in one error, every field whose test fails: test, field, value, what is allowed."""
    found = [Problem(field, value, allowed) for holds, field, value, allowed in tests if not holds]
    if found:
        raise InputError(found, source=source)


def unreadable(path: object, reason: object) -> InputError:
    """A file that the system does not let us read, with the system's reason in plain words."""
    words = str(getattr(reason, "strerror", None) or reason)
    plain = {
        "No such file or directory": "no such file",
        "Is a directory": "it is a folder, and a file is needed",
        "Permission denied": "no permission",
        "is missing": "no such file",
        "is a folder, not a file": "it is a folder, and a file is needed",
        "cannot be opened (Permission denied)": "no permission",
        "is not a regular file": "a device, pipe or socket is not a regular file",
    }
    return InputError.of("", None, f"Cannot read {visible(path, 300)}: {plain.get(words, words)}")


PROGRAM_FAULT = "This is a fault of the program, not of your input."


def failure_code(kind: str) -> int:
    """Exit code of a sheet or command that failed: a crash is never stated as a refusal."""
    return {"record": 3, "program": 4, "kernel": 4, "timeout": 4}.get(kind, 2)


def missing_extra(extra: str, what: str) -> InputError:
    """The refusal of *what* needs libraries that are not installed, with how to install them."""
    return InputError.of(
        "", None, f"{what[0].upper()}{what[1:]} needs the extra {extra!r}, which is not installed",
        f'Install it in the folder of the project: python -m pip install ".[{extra}]"',
    )  # fmt: skip


class CapacityError(LiftcalcError):
    """No rated capacity can be read: the chart does not cover what was asked."""


class ConvergenceError(LiftcalcError):
    """An iteration did not converge; no result is given."""


class RecordError(LiftcalcError):
    """An archived record is broken, altered or cannot be re-run."""

    kind = "record"


def _within(array: FloatArray, low: float, high: float) -> bool:
    """Whether every element lies in the closed range; NaN and an empty array do not.

    A few values are compared one by one, many by the least and greatest of them: these tests run
    thousands of times for one sheet.
    """
    if array.size <= 8:
        values = array.ravel().tolist()
        for value in values:
            if not low <= value <= high:
                return False
        return bool(values)
    return low <= float(array.min()) and float(array.max()) <= high


def _require(field: str, value: ArrayLike, low: float, high: float, allowed: str) -> FloatArray:
    try:
        array = np.asarray(value, dtype=np.float64)
    except (TypeError, ValueError):
        raise InputError.of(field, value, "a number or an array of numbers") from None
    if not _within(array, low, high):
        bad = array[~((array >= low) & (array <= high))]
        if bad.size:
            raise InputError.of(field, float(bad[0]), allowed)
    return array


def require_finite(field: str, value: ArrayLike) -> FloatArray:
    """Return *value* as a float array, or raise if any element is not finite."""
    return _require(field, value, -_GREATEST, _GREATEST, "a finite number")


def require_positive(field: str, value: ArrayLike) -> FloatArray:
    """Return *value* as a float array, or raise unless every element is finite and > 0."""
    return _require(field, value, _LEAST, _GREATEST, "greater than 0")


def require_non_negative(field: str, value: ArrayLike) -> FloatArray:
    """Return *value* as a float array, or raise unless every element is finite and >= 0."""
    return _require(field, value, 0.0, _GREATEST, "0 or greater")


def require_between(field: str, value: ArrayLike, low: float, high: float) -> FloatArray:
    """Return *value* as a float array, or raise unless ``low <= value <= high`` everywhere."""
    return _require(field, value, low, high, f"{low:g} to {high:g}")


def field_problems(
    record: object, *, finite: Iterable[str] = (), positive: Iterable[str] = (), non_negative: Iterable[str] = ()
) -> list[Problem]:
    """Fields of a record that hold no such number, one problem each, to be raised together."""
    problems = []
    for names, low, allowed in (
        (finite, -_GREATEST, "a finite number"),
        (positive, _LEAST, "greater than 0"),
        (non_negative, 0.0, "0 or greater"),
    ):
        for name in names:
            value = getattr(record, name)
            if not low <= value <= _GREATEST:
                problems.append(Problem(name, value, allowed))
    return problems
