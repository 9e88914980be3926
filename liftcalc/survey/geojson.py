"""Site survey from and to GeoJSON.

The dialect: :mod:`liftcalc.facts.site_geojson`. Source: RFC 7946 (geometry).
"""

import json
from pathlib import Path
from typing import Any

from liftcalc.base.errors import InputError, Problem
from liftcalc.facts.io import read_data
from liftcalc.facts.site import Site
from liftcalc.facts.site_geojson import KINDS, crs_name, require_countable, site_dict_to_geojson
from liftcalc.survey.parts import Feature, Note, SurveyPart, write_new
from liftcalc.survey.repair import repaired_part


def read_geojson(path: str | Path) -> SurveyPart:
    """Features of a GeoJSON file, each with ``properties.kind``; and its ``site`` member, if any.

    What is of no known kind is left out and named; what is not valid is in ``problems``.
    Raises: Unreadable, not a FeatureCollection, or coordinates in degrees.
    """
    data = read_data(path)
    name = Path(path).name
    if not isinstance(data, dict) or data.get("type") != "FeatureCollection":
        kind = data.get("type") if isinstance(data, dict) else type(data).__name__
        raise InputError.of("type", kind, "FeatureCollection", source=str(path))
    if not isinstance(data.get("features"), list):
        raise InputError.of("features", type(data.get("features")).__name__, "a list", source=str(path))
    require_countable(data["features"])
    features, left_out = [], []
    problems: list[Problem] = []
    for n, item in enumerate(data["features"]):
        where = f"{name}, feature {n}"
        feature, why, wrong = _feature(item, where)
        if wrong is not None:
            problems.append(wrong)
        elif feature is None:
            left_out.append(Note(where, why))
        else:
            features.append(feature)
    header = data.get("site", {})
    return repaired_part(
        features, left_out=left_out, problems=problems, closed=False,
        header=dict(header) if isinstance(header, dict) else {}, crs=crs_name(data),
    )  # fmt: skip


def _feature(item: Any, where: str) -> tuple[Feature | None, str, Problem | None]:
    """A feature, or why it is left out, or what is wrong."""
    if not isinstance(item, dict) or not isinstance(item.get("properties"), dict):
        return None, "", Problem(where, "no properties", "an object with properties")
    properties = dict(item["properties"])
    kind = properties.pop("kind", None)
    if not isinstance(kind, str) or kind not in KINDS:
        return None, f"kind {kind!r} is not known (known: {', '.join(KINDS)})", None
    geometry = item.get("geometry")
    expected = KINDS[kind][1]
    if not isinstance(geometry, dict) or geometry.get("type") != expected:
        given = geometry.get("type") if isinstance(geometry, dict) else geometry
        return None, "", Problem(f"{where} ({kind})", given, f"geometry of type {expected}")
    points = geometry.get("coordinates")
    if expected == "Polygon":
        if not isinstance(points, list) or len(points) != 1:
            rings = len(points) if isinstance(points, list) else 0
            return None, "", Problem(f"{where} ({kind})", f"{rings} rings", "one ring, no holes")
        points = points[0]
    elif expected == "Point":
        points = [points]
    if not isinstance(points, list) or not all(isinstance(p, list) for p in points):
        points = []
    odd = [v for p in points for v in p if type(v) not in (int, float) or not abs(v) <= 1e300]
    if odd:
        return None, "", Problem(f"{where} ({kind})", odd[0], "coordinates that are numbers")
    clean = tuple(tuple(float(v) for v in p) for p in points)
    if not clean or not {len(p) for p in clean} <= {2, 3}:
        return None, "", Problem(f"{where} ({kind})", "no coordinates", "pairs or triples")
    return Feature(kind, clean, properties, f"{where} ({kind})"), "", None


def write_geojson(site: Site, path: str | Path) -> Path:
    """Write a site as GeoJSON; an existing file is not overwritten."""
    document = site_dict_to_geojson(site.model_dump(mode="json"))
    text = json.dumps(document, indent=1, ensure_ascii=False)
    return write_new(path, (text + "\n").encode("utf-8"))
