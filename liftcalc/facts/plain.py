"""Plain data from files that others wrote, before anything is made of them.

What is doubtful or too much (:mod:`liftcalc.facts.limits`) is refused with the field that it stands in.
"""

import math
import re
import unicodedata
from pathlib import Path
from typing import Any

import yaml

from liftcalc.base import strict_json
from liftcalc.base.errors import InputError, Problem, RecordError, unreadable
from liftcalc.base.files import read_regular
from liftcalc.facts.limits import LEAST_SIZE, MOST_BYTES, MOST_TEXT, MOST_VALUES

_DIGITS = 300
_NO_WIDTH = re.compile("[\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u3164\ufe00-\ufe0f\uffa0\U000e0100-\U000e01ef]")


class OddNumber(str):
    """Digits as they stand, of what is written as a number and is none that can be used."""


def fault_of(value: Any, *, lines: bool = True) -> str:
    """What would be allowed in place of a value that is not; empty where it is.

    lines: Whether a text may have several lines.
    """
    if isinstance(value, (int, float, OddNumber)):
        if isinstance(value, str) or not abs(value) <= 1e300:  # NaN fails too
            return "a finite number"
        small = 0 < abs(value) < LEAST_SIZE
        return f"0, or at least {LEAST_SIZE:g} in size" if small else ""
    if not isinstance(value, str):
        return "" if value is None else "a number, a text, true, false or nothing"
    if len(value) > MOST_TEXT:
        return f"at most {MOST_TEXT:,} characters (here {len(value):,})"
    odd = () if value.isprintable() else {c for c in value if not (lines and c in "\t\n\r")}
    hidden = any(unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp") for c in odd)
    what = "text" if lines else "one line of text"
    seen = not hidden and not _NO_WIDTH.search(value)
    return "" if seen else f"{what} without control, direction or invisible characters"


def read_input(path: Path) -> bytes:
    """Bytes of an input file; links are followed, devices, pipes and folders refused."""
    try:
        return read_regular(path, MOST_BYTES, follow=True)
    except RecordError as error:
        raise unreadable(path, error) from None


def read_text(path: Path) -> str:
    """Text of a file in UTF-8, with or without a byte order mark; refused in any other form."""
    data = read_input(path)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError.of(
            str(path), f"byte {error.start}", "UTF-8 text", "Save it again as CSV UTF-8 or UTF-8."
        ) from None


def require_few(count: int, most: int, what: str) -> None:
    """Refuse more than *most* of *what*."""
    if not count <= most:
        remedy = "Leave out what the lifts do not need."
        raise InputError.of(f"number of {what}", count, f"at most {most:,}", remedy)


def json_data(text: str) -> Any:
    """Plain data of a JSON document; a number that is none is left for :func:`require_plain`."""
    require_few(text.count(","), MOST_VALUES, "values")
    return strict_json.loads(text, odd=OddNumber)


_Where = tuple[Any, ...]  # (that of what it lies in, key or index)


def _path(at: _Where) -> str:
    keys: list[Any] = []
    while at:
        at, key = at
        keys.append(key)
    text = ""
    for key in reversed(keys):
        text += f"[{key}]" if isinstance(key, int) else f".{key}" if text else str(key)
    return text or "input"


def require_plain(data: Any) -> Any:
    """The data, -0 turned to 0, unless a value in them is refused (:func:`fault_of`)."""
    problems: list[Problem] = []
    whole = [data]
    waiting: list[tuple[Any, _Where, int]] = [(whole, (), -1)]
    count = 0
    while waiting and len(problems) < 20:
        node, at, deep = waiting.pop()
        require_few(count := count + len(node), MOST_VALUES, "values")
        if deep > strict_json.MAX_DEPTH:
            raise InputError.of("", None, f"Nested deeper than {strict_json.MAX_DEPTH} levels")
        for key, item in node.items() if isinstance(node, dict) else enumerate(node):
            here = (at, key) if deep >= 0 else ()
            if isinstance(key, str) and (allowed := fault_of(key, lines=False)):
                problems.append(Problem(f"{_path(at)}, key", key, allowed))
            if isinstance(item, (dict, list)):
                waiting.append((item, here, deep + 1))
            elif allowed := fault_of(item):
                problems.append(Problem(_path(here), item, allowed))
            elif item == 0 and isinstance(item, float):
                node[key] = 0.0
    if problems:
        raise InputError(problems)
    return whole[0]


_CORE = {"true": True, "false": False, "null": None, "~": None, "": None}
_INTEGER = re.compile(r"[-+]?(?:0|[1-9][0-9]*)")
_FLOAT = re.compile(r"[-+]?(?:(?:0|[1-9][0-9]*)(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?")
_NO_NUMBER = re.compile(r"[-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN)")


def _scalar(event: yaml.ScalarEvent) -> Any:
    """A YAML 1.2 core scalar: ``012``, ``yes`` and ``1:30`` are text."""
    text = str(event.value)
    if not event.implicit[0]:
        return text
    if text in _CORE:
        return _CORE[text]
    if _INTEGER.fullmatch(text):
        return int(text) if len(text) <= _DIGITS else OddNumber(text)
    if _FLOAT.fullmatch(text):
        return float(text) if math.isfinite(float(text)) else OddNumber(text)
    return OddNumber(text) if _NO_NUMBER.fullmatch(text) else text


class _YamlReader:
    """The values of one YAML document, from the events of its parser."""

    def __init__(self, text: str) -> None:
        loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
        frame = (yaml.StreamStartEvent, yaml.StreamEndEvent, yaml.DocumentEndEvent)
        self.events = (e for e in yaml.parse(text, Loader=loader) if not isinstance(e, frame))
        self.known: dict[str, tuple[Any, int]] = {}
        self.count = 0

    def error(self, at: _Where, event: Any, value: Any, allowed: str) -> InputError:
        """What is wrong at this place, with its line."""
        return InputError.of(f"{_path(at)}, line {event.start_mark.line + 1}", value, allowed)

    def value(self, event: Any, at: _Where, deep: int = 0) -> Any:
        """What begins with the event and lies at this place."""
        start = self.count
        require_few(start, MOST_VALUES, "values")
        if isinstance(event, yaml.AliasEvent):
            if event.anchor not in self.known:
                raise self.error(at, event, f"*{event.anchor}", "an alias of what stands before it")
            made, size = self.known[event.anchor]
            self.count += size
            return made
        if event.tag is not None:
            raise self.error(at, event, event.tag, "no tag: values are read as they stand")
        if deep > strict_json.MAX_DEPTH:
            allowed = f"nested no deeper than {strict_json.MAX_DEPTH} levels"
            raise self.error(at, event, "deeper", allowed)
        self.count += 1
        if isinstance(event, yaml.ScalarEvent):
            made = _scalar(event)
        elif isinstance(event, yaml.SequenceStartEvent):
            made = []
            while not isinstance(event_in := next(self.events), yaml.SequenceEndEvent):
                made.append(self.value(event_in, (at, len(made)), deep + 1))
        else:
            made = {}
            while not isinstance(event_in := next(self.events), yaml.MappingEndEvent):
                key = self.value(event_in, at, deep + 1)
                if not isinstance(key, str) or isinstance(key, OddNumber) or key in made:
                    allowed = "given once" if isinstance(key, str) else "text"
                    raise self.error((at, "key"), event_in, key, allowed)
                made[key] = self.value(next(self.events), (at, key), deep + 1)
        if event.anchor:
            self.known[event.anchor] = made, self.count - start
        return made


def yaml_data(text: str) -> Any:
    """Plain data of one YAML document; an alias counts as if what it stands for were written out.

    Raises: A tag, a second document, a key that is no text or given twice, an alias of nothing, or
      more than :data:`~liftcalc.facts.limits.MOST_VALUES` values.
    """
    reader = _YamlReader(text)
    if next(reader.events, None) is None:
        return None
    value = reader.value(next(reader.events), ())
    if next(reader.events, None) is not None:
        raise InputError.of("", None, "One YAML document, not several")
    return value
