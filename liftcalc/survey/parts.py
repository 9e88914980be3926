"""What every survey reader gives: features with their origin, and what became of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from liftcalc.base.errors import InputError, Problem
from liftcalc.base.files import write_file
from liftcalc.base.foreign import visible
from liftcalc.facts.site_geojson import KINDS

Point = tuple[float, ...]

POLYGON_KINDS = tuple(k for k, (_, shape, _) in KINDS.items() if shape == "Polygon")
LINE_KINDS = tuple(k for k, (_, shape, _) in KINDS.items() if shape == "LineString")


@dataclass(frozen=True)
class Feature:
    """One surveyed thing, before it is validated as a fact.

    points: (easting, northing) or (easting, northing, level) of the corners (ring not closed), of
      the line or of the one point. [m]
    where: Where it was found: file, and entity, row or member.
    """

    kind: str
    points: tuple[Point, ...]
    properties: dict[str, Any] = field(default_factory=dict)
    where: str = ""

    @property
    def shape(self) -> str:
        """Geometry type that the kind asks for: Polygon, LineString or Point."""
        return KINDS[self.kind][1]


@dataclass(frozen=True)
class Note:
    """One line of the report."""

    where: str
    what: str


@dataclass(frozen=True)
class SurveyReport:
    """What was taken, left out and repaired, and notes on units and coordinates."""

    taken: tuple[Note, ...] = ()
    left_out: tuple[Note, ...] = ()
    repaired: tuple[Note, ...] = ()
    notes: tuple[Note, ...] = ()

    def __add__(self, other: SurveyReport) -> SurveyReport:
        both = zip(vars(self).values(), vars(other).values(), strict=True)
        return SurveyReport(*(own + more for own, more in both))

    def counts(self) -> dict[str, int]:
        """Number of features taken of each kind."""
        return dict(Counter(entry.what for entry in self.taken))

    def lines(self) -> list[str]:
        """The report in words, one line each."""
        taken = ", ".join(f"{n} {kind}" for kind, n in self.counts().items())
        out = [f"Taken: {taken or 'nothing'}."]
        told = {"Left out": self.left_out, "Repaired": self.repaired, "Note": self.notes}
        for title, entries in told.items():
            out += [visible(f"{title}: {e.where}: {e.what}", 300) for e in entries]
        return out


@dataclass(frozen=True)
class SurveyPart:
    """Features from one file, what is wrong with it, and the account so far."""

    features: tuple[Feature, ...]
    report: SurveyReport
    problems: tuple[Problem, ...] = ()
    header: dict[str, Any] = field(default_factory=dict)
    crs: str = ""
    """Coordinate system that the file states and nothing has changed from yet."""


def write_new(path: str | Path, content: bytes) -> Path:
    """Write a new file, whole or not at all; an existing one is never replaced."""
    remedy = "Choose another name; nothing is overwritten."
    write_file(Path(path), content, field="path", new=remedy)
    return Path(path)


def circle_around(x: float, y: float, radius_m: float) -> tuple[Point, ...]:
    """Sixteen corners around a circle (outside it), for tree crowns and round tanks. [m]"""
    corners = 16
    angle = 2 * np.pi * np.arange(corners) / corners
    reach = radius_m / np.cos(np.pi / corners)
    return tuple(
        (float(x + reach * c), float(y + reach * s)) for c, s in zip(np.cos(angle), np.sin(angle), strict=True)
    )


def require_metres(features: Sequence[Feature]) -> None:
    """Refuse coordinates that can only be degrees: all things within half a unit."""
    xy = np.array([p[:2] for f in features for p in f.points])
    if len(features) > 1 and np.isfinite(xy).all():
        extent = np.ptp(xy, axis=0)
        if not extent.max() > 0.5 and np.all(np.abs(xy) <= 360.0):
            raise InputError.of(
                "coordinates", tuple(xy[0].tolist()),
                "metres; all points lie within half a unit, as degrees would",
                "Change degrees to the site's own grid before; a drawing of a wrong unit is read "
                "with units and units_override in the mapping.",
            )  # fmt: skip
