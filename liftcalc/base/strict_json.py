"""JSON that can be hashed and JSON that may be hostile.

Source of the format: RFC 8259 (JSON); RFC 8785 is the model for one canonical form, but numbers
are written as Python's shortest round-trip repr.
"""

import hashlib
import json
import math
from collections.abc import Callable, Mapping
from typing import Any, NoReturn

import numpy as np

from liftcalc.base.errors import InputError, RecordError

MAX_DEPTH = 100
"""Deepest nesting that is read."""
_MOST_DIGITS = 300


def sha256_hex(data: bytes) -> str:
    """SHA-256 of *data* in lower-case hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def dumps(value: object) -> bytes:
    """Canonical bytes of a plain JSON value: one value has one text, with a final newline."""
    text = json.dumps(value, sort_keys=True, ensure_ascii=False, allow_nan=False, indent=1, separators=(",", ": "))
    return (text + "\n").encode("utf-8")


def _refuse_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is not a JSON number")


def _float(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise ValueError(f"{text[:40]} is too large for a number")
    return value


def _no_duplicates(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    result = dict(pairs)
    if len(result) != len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for n, key in enumerate(keys) if key in keys[:n])
        raise ValueError(f"the key {twice[:60]!r} is given twice")
    return result


def _walk(value: Any, name: str) -> None:
    level: list[Any] = [value]
    for _ in range(MAX_DEPTH):
        below: list[Any] = []
        for item in level:
            if isinstance(item, dict):
                below.extend(item.values())
                below.extend(item)
            elif isinstance(item, list):
                below.extend(item)
            elif isinstance(item, str) and not item.isascii():
                try:
                    item.encode("utf-8")
                except UnicodeEncodeError:
                    raise RecordError(f"{name}: text that is not Unicode") from None
        if not below:
            return
        level = below
    raise RecordError(f"{name}: nested deeper than {MAX_DEPTH} levels")


def loads(data: bytes | str, name: str = "JSON", *, odd: Callable[[str], Any] | None = None) -> Any:
    """Read JSON strictly; anything doubtful raises :class:`RecordError` that names *name*.

    With *odd*, a number that no float holds becomes what that makes of its text.
    """

    hooks: dict[str, Any] = {"parse_constant": _refuse_constant, "parse_float": _float}
    if odd is not None:
        hooks = {
            "parse_constant": odd,
            "parse_float": lambda t: float(t) if math.isfinite(float(t)) else odd(t),
            "parse_int": lambda t: int(t) if len(t) <= _MOST_DIGITS else odd(t),
        }
    try:
        text = data if isinstance(data, str) else data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise RecordError(f"{name}: not UTF-8 text (byte {error.start})") from None
    try:
        value = json.loads(text, object_pairs_hook=_no_duplicates, **hooks)
    except RecursionError:
        raise RecordError(f"{name}: nested deeper than {MAX_DEPTH} levels") from None
    except ValueError as error:
        raise RecordError(f"{name}: not valid JSON ({error})") from None
    _walk(value, name)
    return value


def plain(value: Any, path: str = "value", *, allow_none: bool = False) -> Any:
    """Turn *value* into plain JSON values, or raise :class:`InputError` naming the path.

    NumPy numbers and arrays become numbers and lists, tuples become lists. NaN, infinities and (unless *allow_none*)
    missing values are refused: a result that is not a number must not be archived as if it were one.
    """
    if isinstance(value, (np.generic, np.ndarray)):
        value = value.tolist()
    if isinstance(value, (bool, str, int)) or (value is None and allow_none):
        return value
    if isinstance(value, float):
        if not math.isfinite(value):
            raise InputError.of(path, value, "a finite number")
        return value
    if isinstance(value, Mapping):
        return {str(k): plain(v, f"{path}.{k}", allow_none=allow_none) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(v, f"{path}[{i}]", allow_none=allow_none) for i, v in enumerate(value)]
    given = None if value is None else type(value).__name__
    raise InputError.of(path, given, "a number, text, list or mapping")
