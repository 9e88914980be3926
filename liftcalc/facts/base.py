"""What every fact shares: a frozen strict model, provenance, polygons, clear errors.

Contents: :class:`Fact`, :class:`Provenance`, field types (``Positive``, ``NonNegative``,
``Coordinate``), polygon and line validators, :func:`input_error` (pydantic's error in our words).
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

import shapely
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError
from shapely.geometry import LineString, Polygon
from shapely.validation import explain_validity

from liftcalc.errors import InputError, Problem

__all__ = [
    "Coordinate",
    "Fact",
    "Ident",
    "Line2D",
    "Line3D",
    "NonNegative",
    "Point2D",
    "Positive",
    "Provenance",
    "Ring",
    "input_error",
]


class Fact(BaseModel):
    """Base of every fact: frozen, strict, no unknown fields, no NaN or infinity."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, strict=True, allow_inf_nan=False, ser_json_inf_nan="strings"
    )


class Provenance(Fact):
    """Where a fact comes from; printed beside it on the sheet."""

    kind: Literal[
        "maker's chart", "maker's data", "survey", "weighed", "published", "assumed", "invented"
    ]
    note: str = ""


Ident = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]{0,39}$")]
Positive = Annotated[float, Field(gt=0)]
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


def _path(loc: tuple[int | str, ...]) -> str:
    text = ""
    for part in loc:
        text += f"[{part}]" if isinstance(part, int) else (f".{part}" if text else str(part))
    return text or "input"


def _short(value: object) -> object:
    if isinstance(value, dict) and isinstance(value.get("id"), str):
        value = value["id"]  # a rule over several fields failed: name the fact, not its content
    text = repr(value)
    return value if len(text) <= 80 else text[:77] + "..."


def input_error(error: ValidationError, *, source: str = "") -> InputError:
    """Turn pydantic's error into one :class:`InputError` that lists every wrong field."""
    problems = []
    for item in error.errors(include_url=False):
        allowed = item["msg"]
        for prefix in ("Input should be ", "Value error, "):
            allowed = allowed.removeprefix(prefix)
        if item["type"] == "extra_forbidden":
            allowed = "no such field is known; check the spelling"
        if item["type"] == "missing":
            problems.append(Problem(_path(item["loc"]), "missing", "a value must be given"))
            continue
        problems.append(Problem(_path(item["loc"]), _short(item["input"]), allowed))
    return InputError(problems, source=source)
