"""The handbook of methods: formula, source and limits of every calculation, from its docstring.

Contents: :class:`Entry`, :func:`calculation_modules`, :func:`entries`, :func:`handbook_markdown`.

The docstrings are the one place where a method is told; this module only collects them, so that
the handbook can never say something else than the code. No calculation, no published source.
"""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
from dataclasses import dataclass
from types import ModuleType

import liftcalc

__all__ = ["Entry", "calculation_modules", "entries", "handbook_markdown", "sections"]

_NOT_CALCULATION = {
    "batch",
    "checks",
    "cli",
    "engine",
    "errors",
    "facts",
    "handbook",
    "lift",
    "nursery",
    "panels",
    "records",
    "resources",
    "sheets",
    "survey",
    "views",
    "workers",
}
_SECTION = re.compile(r"^([A-Z][A-Za-z ]+)\n-{3,}$", re.MULTILINE)


@dataclass(frozen=True)
class Entry:
    """One public calculation function."""

    module: str
    name: str
    signature: str
    summary: str
    sections: dict[str, str]


def calculation_modules() -> list[ModuleType]:
    """Every module of the calculation floor, in order of name."""
    found = []
    for info in pkgutil.walk_packages(liftcalc.__path__, "liftcalc."):
        parts = info.name.split(".")
        if parts[1] in _NOT_CALCULATION or parts[1].startswith("_"):
            continue
        found.append(importlib.import_module(info.name))
    return sorted(found, key=lambda m: m.__name__)


def sections(docstring: str) -> tuple[str, dict[str, str]]:
    """Summary and sections of a numpy-style docstring."""
    text = inspect.cleandoc(docstring)
    pieces = _SECTION.split(text)
    body = {name: content.strip() for name, content in zip(pieces[1::2], pieces[2::2], strict=True)}
    return pieces[0].strip(), body


def entries(module: ModuleType) -> list[Entry]:
    """Public functions defined in a module, in the order of its source."""
    functions = [
        (name, item)
        for name, item in inspect.getmembers(module, inspect.isfunction)
        if name in getattr(module, "__all__", ()) and item.__module__ == module.__name__
    ]
    functions.sort(key=lambda pair: pair[1].__code__.co_firstlineno)
    result = []
    for name, item in functions:
        summary, body = sections(item.__doc__ or "")
        names = ", ".join(inspect.signature(item).parameters)
        result.append(Entry(module.__name__, name, f"{name}({names})", summary, body))
    return result


def _quoted(text: str) -> str:
    return "\n".join(f"> {line}".rstrip() for line in text.splitlines())


def handbook_markdown(module: ModuleType) -> str:
    """One chapter: what the module says of itself, then each function."""
    summary, body = sections(module.__doc__ or "")
    lines = [f"## `{module.__name__}`", "", summary, ""]
    for title in ("Method", "Methods", "Notes", "Sources"):
        if title in body:
            lines += [f"**{title}.**", "", _quoted(body[title]), ""]
    for entry in entries(module):
        lines += [f"### `{entry.signature}`", "", entry.summary, ""]
        for title in ("Parameters", "Returns", "Raises", "Notes", "References"):
            if title in entry.sections:
                lines += [f"*{title}*", "", "```text", entry.sections[title], "```", ""]
    return "\n".join(lines)
