"""What every fact shares: a frozen strict model, provenance, polygons, clear errors."""

import datetime
import re
from collections.abc import Iterable, Iterator
from typing import Annotated, Any, Literal, Self

import shapely
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, model_validator
from shapely.geometry import LineString, Polygon
from shapely.validation import explain_validity

from liftcalc.base.errors import MISSING, InputError, Problem
from liftcalc.base.foreign import visible
from liftcalc.facts.limits import LEAST, MOST_LINE, MOST_TEXT
from liftcalc.facts.plain import fault_of


class Fact(BaseModel):
    """Base of every fact: frozen, strict, no unknown fields, no NaN or infinity."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False, ser_json_inf_nan="strings")

    @model_validator(mode="after")
    def _by_its_rules(self) -> Self:
        if fault := next(self.faults(), ""):
            raise ValueError(fault)
        return self

    def faults(self) -> Iterator[str]:
        """What is allowed where fields, each valid, do not go together; the first is raised."""
        return iter(())


def some_lines(text: str, *, lines: bool = True) -> str:
    """The text, unless something in it is hidden."""
    if allowed := fault_of(text, lines=lines):
        raise ValueError(allowed)
    return text


def one_line(text: str) -> str:
    """The text, unless something in it is hidden or it has line breaks."""
    return some_lines(text, lines=False)


Text = Annotated[str, Field(max_length=MOST_LINE), AfterValidator(one_line)]
"""One line in which nothing is hidden."""
_NOTHING = ("", "tbd", "tbc", "tba", "todo", "na", "notknown", "xxx")


def says_nothing(text: str) -> bool:
    """Whether a text is blank, signs only, or a word that stands for a text to come."""
    return re.sub(r"[\W_]", "", text).casefold() in _NOTHING


def _told(text: str) -> str:
    if says_nothing(text):
        raise ValueError("a text that says something")
    return text


Told = Annotated[Text, AfterValidator(_told)]
"""One line that says something: who, or which document."""
Words = Annotated[str, Field(max_length=MOST_TEXT), AfterValidator(some_lines)]
"""The same, of several lines where needed."""


def _day(value: str) -> str:
    try:
        if datetime.date.fromisoformat(value).isoformat() == value:
            return value
    except ValueError:
        pass
    raise ValueError("a date such as 2026-05-01")


Day = Annotated[str, AfterValidator(_day)]


class Provenance(Fact):
    """Where a fact comes from; printed with it on the sheet."""

    kind: Literal["maker's chart", "maker's data", "survey", "weighed", "published", "assumed", "invented"]
    note: Words = ""

    @property
    def words(self) -> str:
        """Kind and note, as printed."""
        kind = self.kind.replace("maker", "manufacturer")
        return kind + (f": {self.note}" if self.note else "")


class Faults(ValueError):
    """What is wrong between the fields of one fact, each fault a sentence of its own."""

    def __init__(self, faults: Iterable[str]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(self.faults))


Ident = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]{0,39}$")]
Positive = Annotated[float, Field(ge=LEAST)]
MassT = Annotated[float, Field(ge=0.001, le=2000)]
Metres = Annotated[float, Field(ge=0.001, le=100)]
NonNegative = Annotated[float, Field(ge=0)]
Coordinate = Annotated[float, Field(ge=-1e7, le=1e7)]
Point2D = tuple[Coordinate, Coordinate]
Point3D = tuple[Coordinate, Coordinate, Coordinate]


def _ring(points: tuple[Point2D, ...]) -> tuple[Point2D, ...]:
    if len(points) and points[0] == points[-1]:
        points = points[:-1]
    if len(set(points)) < 3:
        raise ValueError("a boundary needs at least three distinct corners")
    shape = Polygon(points)
    if not shape.convex_hull.area > 0:
        raise ValueError("a boundary that encloses an area; this one encloses no area")
    if not shape.is_valid:
        raise ValueError(f"a simple boundary; it crosses itself: {explain_validity(shape)}")
    return points if shapely.is_ccw(shape.exterior) else tuple(reversed(points))


def _line(points: tuple[Any, ...]) -> tuple[Any, ...]:
    if len(points) < 2 or not LineString([p[:2] for p in points]).length > 0:
        raise ValueError("a line needs at least two distinct points")
    return points


Ring = Annotated[tuple[Point2D, ...], AfterValidator(_ring)]
"""Corners of a simple polygon, anticlockwise, not closed."""
Line2D = Annotated[tuple[Point2D, ...], AfterValidator(_line)]
Line3D = Annotated[tuple[Point3D, ...], AfterValidator(_line)]


def _path(loc: tuple[int | str, ...], data: Any) -> str:
    """Field as it would be written in *data*, and the id of the list item it lies in."""
    text, name, node = "", "", data
    for part in loc:
        text += f"[{part}]" if isinstance(part, int) else (f".{part}" if text else str(part))
        try:
            node = node[part]
        except (KeyError, IndexError, TypeError):
            node = None
        if isinstance(part, int) and isinstance(node, dict) and isinstance(node.get("id"), str):
            name = f" ({node['id'][:40]})"
    return (text or "input") + (name if text[-1:] != "]" else "")


def _whole(loc: tuple[int | str, ...], field: str, value: dict[Any, Any], rule: str) -> Problem:
    """A rule over several fields failed: the fact is named, and the rule says what is wrong."""
    id = value["id"][:40] if isinstance(value.get("id"), str) else ""
    who = (f"{field} ({id})" if id else field) if loc else id or "input"
    return Problem("", None, f"{who}: {rule}")


_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+")
_NUMBER_AND_UNIT = re.compile(r"[+-]?\d+(?:[.,]\d+)?\s*[A-Za-z%°\"'][\w/%°\"'² ]*")


def _remedy(item: Any) -> str:
    """What to do about text that stands where a number belongs."""
    value = item["input"]
    if not item["type"].startswith(("float", "int")) or not isinstance(value, str):
        return ""
    if _DECIMAL_COMMA.fullmatch(value.strip()):
        return "Write a point for decimals."
    if _NUMBER_AND_UNIT.fullmatch(value.strip()):
        return "Give the number alone: the field's name says its unit."
    return ""


_NOT_YET = {
    "jibs": "no jibs: they cannot be planned yet and would be part of no sum. Leave jibs out, and "
    "state a stowed or erected jib in the lift's deductions, with the mass at the hook that the "
    "manufacturer's manual deducts for it"
}
"""Fields that a user may well expect and that no calculation would read: refused with the way."""


NULL_IS_UNKNOWN = {*("bending_stiffness_kNm2", "voltage_kV", "allowable_stress_kPa", "allowable_surcharge_kPa")}
"""Fields that have to be stated, null being the word for unknown."""


def _pattern_words(pattern: str) -> str:
    """What a pattern allows, in words."""
    most = re.fullmatch(r"\^\[A-Za-z0-9\]\[A-Za-z0-9_\.-\]\{0,(\d+)\}\$", pattern)
    if most:
        return f"1 to {int(most[1]) + 1} letters, digits and the signs . _ - of which the first is a letter or a digit"
    return "one line of text" if r"\x00-\x1f" in pattern else f"text of the form {pattern}"


def input_error(error: ValidationError, *, source: str = "", data: Any = None) -> InputError:
    """Turn pydantic's error into one :class:`InputError` that lists every wrong field.

    With the *data* that were read, a field of a list's item is given with the item's id.
    """
    problems = []
    items = error.errors(include_url=False)
    for item in items:
        loc, kind = item["loc"], item["type"]
        if kind == "too_short" and any(len(i["loc"]) > len(loc) and i["loc"][: len(loc)] == loc for i in items):
            continue  # empty only since each of its items is wrong, and these are named
        field = _path(loc, data)
        allowed = item["msg"]
        for prefix in ("Input should be ", "Value error, "):
            allowed = allowed.removeprefix(prefix)
        faults = item.get("ctx", {}).get("error")
        if isinstance(faults, Faults) and not loc:
            problems += [Problem("", None, fault) for fault in faults.faults]
            continue
        if kind == "missing":
            unknown = ", null where it is not known" if loc[-1] in NULL_IS_UNKNOWN else ""
            problems.append(Problem(field, MISSING, f"a value must be given{unknown}"))
            continue
        if kind == "extra_forbidden":
            allowed = _NOT_YET.get(str(loc[-1]), "no such field is known; check the spelling")
            words = f"{visible(field, 300)} is given; allowed: {allowed}"
            problems.append(Problem("", None, words))
            continue  # what another file holds is not printed
        elif kind == "string_pattern_mismatch":
            allowed = _pattern_words(item["ctx"]["pattern"])
        elif kind == "too_short":
            allowed = f"at least {item['ctx']['min_length']}"
        elif kind in ("float_type", "float_parsing", "int_type", "int_parsing"):
            allowed = "a number" if kind.startswith("float") else "a whole number"
        if kind == "value_error" and isinstance(item["input"], dict):
            problems.append(_whole(loc, field, item["input"], allowed))
            continue
        problems.append(Problem(field, item["input"], allowed, _remedy(item)))
    return InputError(problems, source=source)
