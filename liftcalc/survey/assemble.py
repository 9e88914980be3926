"""From survey parts to a validated site.

Parts from several files (a plan as DXF, levels as CSV) make one site. What is wrong in any of
them is reported in one error, never dropped in silence.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from liftcalc.base.errors import MISSING, InputError, Problem
from liftcalc.facts.io import parse_fact
from liftcalc.facts.plausible import site_doubts
from liftcalc.facts.site import Site
from liftcalc.facts.site_geojson import crs_fault, site_dict_from_geojson
from liftcalc.survey.parts import Feature, Note, SurveyPart, SurveyReport, require_metres

_HEADER = ("id", "name", "grid", "datum", "provenance", "ground", "stated")


@dataclass(frozen=True)
class Survey:
    """A site with the account of how it came from its survey."""

    site: Site
    report: SurveyReport


def site_from_parts(parts: Sequence[SurveyPart], *, header: Mapping[str, Any] | None = None) -> Survey:
    """One validated site from the parts of a survey.

    header: id, name, grid, datum, provenance, ground and stated of the site; overrides what the
      parts say. ``whole_site_profile`` names the one ground profile of a site without zones.
    Raises: Everything that is wrong, with its place and coordinates.
    """
    if not parts:
        raise InputError.of("parts", 0, "one part of a survey or more")
    report = SurveyReport()
    problems: list[Problem] = []
    features: list[Feature] = []
    members: dict[str, Any] = {}
    for part in parts:
        report += part.report
        problems += part.problems
        features += part.features
        for key, value in part.header.items():
            if key in members and members[key] != value:
                problems.append(Problem(f"site.{key}", value, f"{members[key]!r}, as before"))
            members.setdefault(key, value)
    members.update(header or {})
    for part in parts:
        if part.crs and part.features:
            at = part.features[0].points[0]
            fault = crs_fault(part.crs, str(members.get("grid", "")), at=(at[0], at[1]))
            problems += [fault] if fault else []
    whole = members.pop("whole_site_profile", None)
    unknown = sorted(set(members) - set(_HEADER))
    if unknown:
        problems.append(Problem("site", unknown, "only " + ", ".join(_HEADER)))
    if problems:
        raise InputError(problems, source="survey")
    require_metres(features)
    if whole is not None:
        features += _whole_site(features, str(whole))
        note = Note("ground", f"profile {whole} taken for the whole site, as stated")
        report += SurveyReport(notes=(note,))
    document = {
        "type": "FeatureCollection",
        "site": {k: v for k, v in members.items() if k in _HEADER},
        "features": [_geojson(f) for f in features],
    }
    try:
        site = parse_fact(Site, site_dict_from_geojson(document), source="survey")
    except InputError as error:
        raise InputError(_with_remedies(error, report), source="survey") from None
    answered = [Note(d.what, f"stated: {site.stated[d.id]}") for d in site_doubts(site)]
    return Survey(site, report + SurveyReport(notes=tuple(answered)))


def _with_remedies(error: InputError, report: SurveyReport) -> list[Problem]:
    """The same problems, with where a missing member is given and what was left out before."""
    where = "Give it with --header, or under site in the mapping."
    problems = [replace(p, remedy=where) if p.value is MISSING and p.field in _HEADER else p for p in error.problems]
    left = [f"left out: {entry.where}, {entry.what}" for entry in report.left_out]
    return problems + [Problem("", None, text) for text in left]


def _whole_site(features: Sequence[Feature], profile: str) -> list[Feature]:
    """One ground zone over the boundary; refused where the survey has zones of its own."""
    zones = [f for f in features if f.kind == "ground zone"]
    if zones:
        raise InputError.of("whole_site_profile", profile, f"not given beside ground zones ({zones[0].where})")
    return [
        Feature("ground zone", f.points, {"id": "whole-site", "profile": profile}, f.where)
        for f in features
        if f.kind == "boundary"
    ]


def _geojson(feature: Feature) -> dict[str, Any]:
    points = [list(p) for p in feature.points]
    if feature.shape == "Polygon":
        flat = [p[:2] for p in points]
        coordinates: Any = [[*flat, flat[0]]]
    elif feature.shape == "Point":
        coordinates = points[0] if feature.kind != "borehole" else points[0][:2]
    else:
        size = 3 if feature.kind == "overhead line" else 2
        coordinates = [p[:size] for p in points]
    return {
        "type": "Feature",
        "geometry": {"type": feature.shape, "coordinates": coordinates},
        "properties": {"kind": feature.kind, **feature.properties},
    }
