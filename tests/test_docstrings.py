"""Every public calculation tells each argument with its unit, its source, and what it refuses.

The handbook is made from the docstrings, so a gap here is a gap in front of a checker. An argument
is told by a line under *Parameters*, or by its name in the text: ``name`` or *name*, or the bare
word where it cannot be an English word because it carries a unit or an underscore. A docstring may
point to another that tells the rest ("as :func:`x`"), and is then read together with it. That a
value which is not finite or outside its stated range is refused holds for all of them and is said
once, in the guide; a refusal of the function's own is told under *Raises*. An argument whose
annotation is a class of the package, or lists its words, is told by the signature, which the
handbook prints.
"""

from __future__ import annotations

import ast
import inspect
import re
from collections.abc import Callable
from pathlib import Path
from types import FunctionType
from typing import Any

import pytest

import liftcalc
from liftcalc import handbook

_REFERENCE = re.compile(r"\bas (?:in |for |by )?(?::func:`~?(?:[\w.]+\.)?(\w+)`|``(\w+)``)")
_REFUSES = re.compile(r"^Raises:|\b[Rr]aises? :class:`|\b[Rr]aises ``\w+Error``", re.MULTILINE)
_OWN_RAISE = re.compile(r"^\s*raise (?!NotImplemented)", re.MULTILINE)


def public_functions() -> dict[str, FunctionType]:
    """Public functions of the calculation floor by their full name."""
    return {
        f"{entry.module.removeprefix('liftcalc.')}.{entry.name}": getattr(module, entry.name)
        for module in handbook.calculation_modules()
        for entry in handbook.entries(module)
    }


FUNCTIONS = public_functions()
BY_NAME: dict[str, list[FunctionType]] = {}
for _name, _function in FUNCTIONS.items():
    BY_NAME.setdefault(_name.rsplit(".", 1)[1], []).append(_function)


def docstrings(function: Callable[..., Any]) -> list[str]:
    """Docstring of a function and of those it points to, at any depth."""
    found: dict[Callable[..., Any], str] = {}
    waiting = [function]
    while waiting:
        item = waiting.pop()
        if item in found:
            continue
        found[item] = inspect.getdoc(item) or ""
        for first, second in _REFERENCE.findall(found[item]):
            own = [f for f in BY_NAME.get(first or second, []) if f.__module__ == item.__module__]
            waiting += own or BY_NAME.get(first or second, [])
    return list(found.values())


def told(name: str, text: str) -> bool:
    """Does a docstring tell the argument *name*?"""
    word = rf"(?<![\w]){re.escape(name)}(?![\w])"
    _, body = handbook.sections(text)
    heads = [line.partition(":")[0] for line in body.get("Parameters", "").splitlines() if not line.startswith(" ")]
    if any(re.search(word, head) for head in heads):
        return True
    if "_" in name or len(name) == 1:
        return re.search(word, text) is not None
    return re.search(rf"``{word}``|\*{word}\*", text) is not None


def untold_arguments(function: FunctionType) -> list[str]:
    """Arguments that no docstring tells."""
    texts = docstrings(function)
    return [
        name
        for name in inspect.signature(function).parameters
        if name not in handbook.told_by_signature(function) and not any(told(name, text) for text in texts)
    ]


def has_source(function: Callable[..., Any]) -> bool:
    """Own References, or the Sources of its module."""
    module = inspect.getmodule(function)
    about = inspect.cleandoc((module and module.__doc__) or "")
    if re.search(r"^Sources?(?::|\n-{3,})", about, re.MULTILINE):
        return True
    return any("Source" in handbook.sections(text)[1] for text in docstrings(function))


def hides_a_refusal(function: Callable[..., Any]) -> bool:
    """Has it a ``raise`` of its own that no docstring tells?"""
    code = inspect.getsource(function).replace(function.__doc__ or "", "")
    return bool(_OWN_RAISE.search(code)) and not any(map(_REFUSES.search, docstrings(function)))


@pytest.mark.parametrize("name", FUNCTIONS)
def test_docstring_tells_arguments_source_and_refusals(name: str) -> None:
    function = FUNCTIONS[name]
    assert untold_arguments(function) == []
    assert has_source(function), "no Source, and no Sources in the module"
    assert not hides_a_refusal(function), "raises, and does not say when"


def test_what_another_room_calls_is_told_in_full() -> None:
    """A helper of its own room may be told without sections; what others call may not."""
    short = {
        (module.__name__, name)
        for module in handbook.calculation_modules()
        for name, item in inspect.getmembers(module, inspect.isfunction)
        if item.__module__ == module.__name__ and not name.startswith("_")
    } - {(e.module, e.name) for m in handbook.calculation_modules() for e in handbook.entries(m)}
    package = Path(liftcalc.__file__).parent
    used = []
    for path in package.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module:
                room = node.module.removeprefix("liftcalc.").split(".")[0]
                if room != path.relative_to(package).parts[0]:
                    used += [(node.module, a.name) for a in node.names]
    assert short & set(used) == set()


def test_the_calculation_floor_is_found() -> None:
    assert len(FUNCTIONS) > 180


def good(load_t: float, base: float) -> float:
    """Load with ``base``.

    Parameters:
      load_t: float. Load. [t]
    Raises: A load below 0.
    """
    if not load_t >= 0.0:
        raise ValueError
    return load_t + base


def bad(load_t: float, base: float) -> float:
    """Load on a base."""
    if not load_t >= 0.0:
        raise ValueError
    return load_t + base


def test_the_check_itself_sees_what_is_untold() -> None:
    assert untold_arguments(good) == []
    assert not hides_a_refusal(good)
    assert untold_arguments(bad) == ["load_t", "base"]
    assert hides_a_refusal(bad)
    assert not has_source(bad)
