"""Constants and tables of a module with their meaning, for the handbook.

A public name in capitals with a docstring below it is printed, with the value that the code
uses. ``Columns: class | phi2 | ...`` in the docstring names the columns of a table.
"""

import ast
import dataclasses
import inspect
import itertools
import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import ModuleType
from typing import Any

import numpy as np

_COLUMNS = re.compile(r"\s*Columns:\s*(.+?)\.(?=\s|$)", re.DOTALL)
_Row = tuple[str, ...]


@dataclass(frozen=True)
class PrintedConstant:
    """One constant: what it means, and its value or its rows below their heads."""

    name: str
    meaning: str
    value: str
    heads: _Row
    rows: tuple[_Row, ...]
    numbers: bool = False


def constants(module: ModuleType) -> list[PrintedConstant]:
    """Public constants of a module that have a docstring, in the order of its source."""
    body = ast.parse(inspect.getsource(module)).body
    found = []
    for node, below in itertools.pairwise(body):
        target = node.targets[0] if isinstance(node, ast.Assign) else getattr(node, "target", None)
        names = [n.id for n in ast.walk(target) if isinstance(n, ast.Name)] if target else []
        if not (names and all(n.isupper() and n[0] != "_" for n in names)):
            continue
        if isinstance(below, ast.Expr) and isinstance(below.value, ast.Constant):
            values = tuple(getattr(module, n) for n in names)
            doc = inspect.cleandoc(str(below.value.value))
            found.append(_printed(", ".join(names), doc, values if len(names) > 1 else values[0]))
    return found


def _printed(name: str, doc: str, value: Any) -> PrintedConstant:
    heads, rows, alone = _table(value)
    named = _COLUMNS.search(doc)
    if named and rows:
        heads = tuple(" ".join(head.split()) for head in named[1].split("|"))
    if any(len(row) != len(heads) for row in rows):
        raise ValueError(f"{name}: a row has another number of columns than {heads}")
    return PrintedConstant(name, _COLUMNS.sub("", doc).strip(), alone, heads, rows, numbers=_has_number(value))


def _table(value: Any) -> tuple[_Row, tuple[_Row, ...], str]:
    """Heads and rows of what has several lines, and what of it is a single value."""
    if isinstance(value, np.ndarray):
        value = value.tolist()
    if isinstance(value, Mapping):
        key, item = next(iter(value.items()))
        heads = (*_heads(key), *_heads(item))
        return heads, tuple((*_cells(k), *_cells(v)) for k, v in value.items()), ""
    if _is_record(value):
        fields = {f.name: getattr(value, f.name) for f in dataclasses.fields(value)}
        long = {n: v for n, v in fields.items() if isinstance(v, tuple) and len(v) > 1}
        alone = "; ".join(f"{n}: {_cell(v)}" for n, v in fields.items() if n not in long)
        inner = next((v for v in long.values() if _is_record(v[0])), ())
        if inner:
            return _heads(inner[0]), tuple(map(_cells, inner)), alone
        rows = tuple(tuple(map(_cell, row)) for row in zip(*long.values(), strict=True))
        return tuple(long), rows, alone
    if isinstance(value, tuple | list) and value and len(_cells(value[0])) > 1:
        return _heads(value[0]), tuple(map(_cells, value)), ""
    return (), (), _cell(value)


def _has_number(value: Any) -> bool:
    if isinstance(value, Mapping):
        value = tuple(value.values())
    if isinstance(value, tuple | list):
        return any(map(_has_number, value))
    return isinstance(value, int | float | np.ndarray)


def _is_record(value: Any) -> bool:
    return dataclasses.is_dataclass(value) and not isinstance(value, type)


def _parts(item: Any) -> dict[str, Any]:
    """What a row is made of, by head; a record that has a name stands as that name."""
    if isinstance(item, Mapping):
        return dict(item)
    if _is_record(item) and not hasattr(item, "name"):
        return {f.name: getattr(item, f.name) for f in dataclasses.fields(item)}
    if isinstance(item, tuple | list):
        return {" " * (n + 1): part for n, part in enumerate(item)}
    return {" ": item}


def _heads(item: Any) -> _Row:
    return tuple(str(head).strip() for head in _parts(item))


def _cells(item: Any) -> _Row:
    return tuple(map(_cell, _parts(item).values()))


def _cell(value: Any) -> str:
    if value is None or value == "" or value == ():
        return "–"
    if isinstance(value, float):
        return "no limit" if np.isinf(value) else f"{value:.8g}"
    if isinstance(value, tuple | list):
        return ", ".join(map(_cell, value))
    return str(getattr(value, "name", value) if _is_record(value) else value)
