"""What every survey reader gives: features with their origin, and what became of them.

What is mended without asking: points repeated within 1 mm, rings left open by at most a stated
gap. Everything else that is not valid is told with its coordinates and never guessed at.

Sources: none needed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from shapely.geometry import Polygon
from shapely.validation import explain_validity

from liftcalc.base.errors import InputError, Problem
from liftcalc.facts.site_geojson import KINDS

__all__ = [
    "LINE_KINDS",
    "POLYGON_KINDS",
    "REPEATED_M",
    "Note",
    "Feature",
    "Shape",
    "SurveyPart",
    "SurveyReport",
    "circle_around",
    "mended",
    "require_metres",
]

Shape = Literal["Polygon", "LineString", "Point"]
Point = tuple[float, ...]

REPEATED_M = 1e-3
"""Points nearer together than this are one point. [m]"""

GREATEST_M = 1e7
"""Coordinates beyond this are on no grid in metres. [m]"""

POLYGON_KINDS = tuple(k for k, (_, shape, _) in KINDS.items() if shape == "Polygon")
LINE_KINDS = tuple(k for k, (_, shape, _) in KINDS.items() if shape == "LineString")


@dataclass(frozen=True)
class Feature:
    """One surveyed thing, before it is validated as a fact.

    Attributes:
      kind: str. One of the kinds of the site's GeoJSON.
      points: tuple of (easting, northing) or (easting, northing, level). Corners (ring not closed),
        line points, or the one point. [m]
      properties: dict. Fields of the fact, as in the site's GeoJSON.
      where: str. Where it was found: file, and entity, row or member.
    """

    kind: str
    points: tuple[Point, ...]
    properties: dict[str, Any] = field(default_factory=dict)
    where: str = ""

    @property
    def shape(self) -> Shape:
        """Geometry type that the kind asks for."""
        shape = KINDS[self.kind][1]
        if shape == "Polygon":
            return "Polygon"
        return "LineString" if shape == "LineString" else "Point"


@dataclass(frozen=True)
class Note:
    """One line of the report."""

    where: str
    what: str


@dataclass(frozen=True)
class SurveyReport:
    """What was taken, left out and mended, and notes on units and coordinates."""

    taken: tuple[Note, ...] = ()
    left_out: tuple[Note, ...] = ()
    mended: tuple[Note, ...] = ()
    notes: tuple[Note, ...] = ()

    def __add__(self, other: SurveyReport) -> SurveyReport:
        return SurveyReport(
            self.taken + other.taken,
            self.left_out + other.left_out,
            self.mended + other.mended,
            self.notes + other.notes,
        )

    def counts(self) -> dict[str, int]:
        """Number of features taken of each kind."""
        found: dict[str, int] = {}
        for entry in self.taken:
            found[entry.what] = found.get(entry.what, 0) + 1
        return found

    def lines(self) -> list[str]:
        """The report in words, one line each."""
        taken = ", ".join(f"{n} {kind}" for kind, n in self.counts().items())
        out = [f"Taken: {taken or 'nothing'}."]
        for title, entries in (
            ("Left out", self.left_out),
            ("Mended", self.mended),
            ("Note", self.notes),
        ):
            out += [f"{title}: {e.where}: {e.what}" for e in entries]
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


def circle_around(x: float, y: float, radius_m: float, *, corners: int = 16) -> tuple[Point, ...]:
    """Regular polygon around a circle (outside it), for tree crowns and round tanks. [m]"""
    angle = 2 * np.pi * np.arange(corners) / corners
    reach = radius_m / np.cos(np.pi / corners)
    return tuple(
        (float(x + reach * c), float(y + reach * s))
        for c, s in zip(np.cos(angle), np.sin(angle), strict=True)
    )


def require_metres(features: Sequence[Feature]) -> None:
    """Refuse coordinates that can only be degrees: all things within half a unit.

    Raises: With the first point.
    """
    xy = np.array([p[:2] for f in features for p in f.points])
    if len(features) > 1 and np.isfinite(xy).all():
        extent = np.ptp(xy, axis=0)
        if not extent.max() > 0.5 and np.all(np.abs(xy) <= 360.0):
            raise InputError.of(
                "coordinates",
                tuple(xy[0].tolist()),
                "metres; all points lie within half a unit, as degrees would",
                "Change degrees to the site's own grid before; a drawing of a wrong unit is read "
                "with units and units_override in the mapping.",
            )


def _say(point: Sequence[float]) -> str:
    return f"({point[0]:.3f}, {point[1]:.3f})"


def mended(
    feature: Feature, *, close_gap_m: float = 0.05, closed: bool = True
) -> tuple[Feature | None, list[Note], list[Problem]]:
    """The feature with small faults mended, what was mended, and what is wrong beyond that.

    Parameters:
      feature: Feature
      close_gap_m: float. A ring whose ends are no farther apart than this is closed. [m]
      closed: bool. Whether the source says that the ring is closed.
    Returns: (feature or None, mended, problems): None when there are problems.
    """
    where, notes, problems = feature.where, [], []
    points = [tuple(float(v) for v in p) for p in feature.points]
    if not points or not all(np.isfinite(p).all() for p in points):
        bad = next((p for p in points if not np.isfinite(p).all()), "no point")
        return None, [], [Problem(where, bad, "finite coordinates")]
    far = next((p for p in points if not np.abs(p).max() <= GREATEST_M), None)
    if far is not None:
        return None, [], [Problem(where, far, f"coordinates within {GREATEST_M:.0e} m")]
    if feature.shape == "Point":
        if len(points) != 1:
            return None, [], [Problem(where, f"{len(points)} points", "one point")]
        return feature, [], []
    kept = [points[0]]
    for point in points[1:]:
        if np.hypot(point[0] - kept[-1][0], point[1] - kept[-1][1]) > REPEATED_M:
            kept.append(point)
    if feature.shape == "Polygon":
        gap = float(np.hypot(kept[0][0] - kept[-1][0], kept[0][1] - kept[-1][1]))
        repeated = len(points) - len(kept)
        if len(kept) > 1 and gap <= REPEATED_M:
            kept = kept[:-1]
        elif not closed and gap <= close_gap_m and len(kept) > 1:
            kept = kept[:-1]
            notes.append(Note(where, f"ring closed over a gap of {gap:.3f} m at {_say(kept[0])}"))
        elif not closed:
            problems.append(
                Problem(
                    where,
                    f"open by {gap:.3f} m from {_say(points[-1])} to {_say(points[0])}",
                    f"a closed outline (gaps to {close_gap_m:g} m are closed)",
                    "Close the outline in the survey.",
                )
            )
        if not problems and len(kept) < 3:
            problems.append(
                Problem(where, f"{len(kept)} corners at {_say(kept[0])}", "three corners or more")
            )
        if not problems:
            outline = Polygon([p[:2] for p in kept])
            if not outline.is_valid:
                problems.append(
                    Problem(
                        where,
                        explain_validity(outline),
                        "an outline that does not cross or touch itself",
                        "Correct the outline there in the survey.",
                    )
                )
            elif not outline.area > 0:
                problems.append(Problem(where, f"no area at {_say(kept[0])}", "an area above 0"))
    else:
        repeated = len(points) - len(kept)
        if len(kept) < 2:
            problems.append(
                Problem(where, f"one point at {_say(kept[0])}", "a line of two points or more")
            )
    if problems:
        return None, [], problems
    if repeated:
        notes.insert(0, Note(where, f"{repeated} repeated point(s) taken away"))
    return Feature(feature.kind, tuple(kept), feature.properties, where), notes, []
