"""Small faults of surveyed features repaired, and what is wrong beyond that.

Repaired without asking: points repeated within 1 mm, rings left open by at most 50 mm.
Everything else that is not valid is stated with its coordinates and never guessed at.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from shapely.geometry import Polygon
from shapely.validation import explain_validity

from liftcalc.base.errors import Problem
from liftcalc.survey.parts import Feature, Note, Point, SurveyPart, SurveyReport, require_metres

REPEATED_M = 1e-3
"""Points nearer together than this are one point. [m]"""
CLOSE_GAP_M = 0.05
"""Rings and joints of lines open by no more than this are closed. [m]"""
GREATEST_M = 1e7
"""Coordinates beyond this are on no grid in metres. [m]"""


def repaired_part(
    features: Sequence[Feature],
    *,
    left_out: Sequence[Note],
    problems: Sequence[Problem],
    closed: bool,
    header: dict[str, Any] | None = None,
    crs: str = "",
) -> SurveyPart:
    """Part of a survey from its features as read, small faults repaired; degrees are refused."""
    require_metres(features)
    good: list[Feature] = []
    repairs: list[Note] = []
    faults = list(problems)
    for feature in features:
        kept, notes, wrong = repaired(feature, closed=closed)
        repairs += notes
        faults += wrong
        good += [kept] if kept is not None else []
    taken = tuple(Note(feature.where, feature.kind) for feature in good)
    report = SurveyReport(taken, tuple(left_out), tuple(repairs))
    return SurveyPart(tuple(good), report, tuple(faults), header or {}, crs)


def repaired(feature: Feature, *, closed: bool = True) -> tuple[Feature | None, list[Note], list[Problem]]:
    """The feature repaired (None where there are problems), what was repaired, what is wrong.

    closed: Whether the source says that the ring is closed.
    """
    where, notes = feature.where, []
    points: list[Point] = [tuple(float(v) for v in p) for p in feature.points]
    problem = _wrong_coordinates(points, where)
    if problem is None and feature.shape == "Point":
        if len(points) == 1:
            return feature, [], []
        problem = Problem(where, f"{len(points)} points", "one point")
    if problem is not None:
        return None, [], [problem]
    kept = points[:1]
    for point in points[1:]:
        if apart_m(point, kept[-1]) > REPEATED_M:
            kept.append(point)
    if repeats := len(points) - len(kept):
        notes.append(Note(where, f"{repeats} repeated point(s) taken away"))
    if feature.shape == "Polygon":
        gap = apart_m(kept[0], kept[-1])
        if len(kept) > 1 and (gap <= REPEATED_M or (not closed and gap <= CLOSE_GAP_M)):
            kept.pop()
            if gap > REPEATED_M:
                notes.append(Note(where, f"ring closed over {gap:.3f} m at {_words(kept[0])}"))
        elif not closed:
            problem = Problem(
                where,
                f"open by {gap:.3f} m from {_words(points[-1])} to {_words(points[0])}",
                f"a closed outline (up to {CLOSE_GAP_M:g} m is closed)",
                "Close the outline in the survey.",
            )
        problem = problem or _wrong_outline(kept, where)
    elif len(kept) < 2:
        problem = Problem(where, f"one point at {_words(kept[0])}", "a line of two points or more")
    if problem is not None:
        return None, [], [problem]
    return replace(feature, points=tuple(kept)), notes, []


def apart_m(a: Point, b: Point) -> float:
    """Distance in plan. [m]"""
    return float(np.hypot(a[0] - b[0], a[1] - b[1]))


def _words(point: Point) -> str:
    return f"({point[0]:.3f}, {point[1]:.3f})"


def _wrong_coordinates(points: Sequence[Point], where: str) -> Problem | None:
    bad = next((p for p in points if not np.isfinite(p).all()), None if points else "no point")
    if bad is not None:
        return Problem(where, bad, "finite coordinates")
    far = next((p for p in points if not np.abs(p).max() <= GREATEST_M), None)
    return None if far is None else Problem(where, far, f"coordinates within {GREATEST_M:.0e} m")


def _wrong_outline(corners: Sequence[Point], where: str) -> Problem | None:
    if len(corners) < 3:
        what = f"{len(corners)} corners at {_words(corners[0])}"
        return Problem(where, what, "three corners or more")
    outline = Polygon([p[:2] for p in corners])
    if not outline.is_valid:
        return Problem(
            where, explain_validity(outline), "an outline that does not cross or touch itself",
            "Correct the outline there in the survey.",
        )  # fmt: skip
    if not outline.area > 0:
        return Problem(where, f"no area at {_words(corners[0])}", "an area above 0")
    return None
