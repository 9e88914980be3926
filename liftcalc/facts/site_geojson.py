"""Site survey as GeoJSON (RFC 7946 geometry on a local grid).

A FeatureCollection with a ``site`` member (id, name, grid, datum, provenance) and features
whose ``properties.kind`` tells what each is. Coordinates are easting, northing (and level) in
metres on the grid named there: RFC 7946 section 4 asks for longitude and latitude unless the
parties have agreed otherwise, and this file says so in ``site.grid``.
"""

from __future__ import annotations

from typing import Any

from liftcalc.errors import InputError, Problem

__all__ = ["KINDS", "site_dict_from_geojson", "site_dict_to_geojson"]

# kind: (field of Site, geometry type, field that takes the geometry)
KINDS: dict[str, tuple[str, str, str]] = {
    "boundary": ("boundary", "Polygon", ""),
    "ground zone": ("zones", "Polygon", "polygon"),
    "obstacle": ("obstacles", "Polygon", "polygon"),
    "overhead line": ("overhead_lines", "LineString", "points"),
    "buried service": ("services", "LineString", "line"),
    "excavation": ("excavations", "Polygon", "polygon"),
    "retaining wall": ("retaining_walls", "LineString", "line"),
    "slope": ("slopes", "LineString", "crest"),
    "area": ("areas", "Polygon", "polygon"),
    "spot level": ("levels", "Point", ""),
    "borehole": ("boreholes", "Point", ""),
}
_SUBKIND = {"obstacle": "obstacle_kind", "buried service": "service_kind", "area": "area_kind"}


def site_dict_from_geojson(data: Any) -> dict[str, Any]:
    """Plain dict for :class:`~liftcalc.facts.site.Site` from a parsed GeoJSON document.

    Raises
    ------
    InputError
        Not a FeatureCollection, an unknown kind, a wrong geometry type, a polygon with holes.
    """
    if not isinstance(data, dict) or data.get("type") != "FeatureCollection":
        raise InputError.of(
            "type", getattr(data, "get", lambda _: data)("type"), "FeatureCollection"
        )
    site: dict[str, Any] = dict(data.get("site", {}))
    problems: list[Problem] = []
    for n, feature in enumerate(data.get("features", [])):
        where = f"features[{n}]"
        try:
            properties = dict(feature["properties"])
            geometry = feature["geometry"]
            coordinates = geometry["coordinates"]
            kind = properties.pop("kind")
        except (KeyError, TypeError):
            problems.append(Problem(where, "incomplete", "geometry, coordinates, properties.kind"))
            continue
        if kind not in KINDS:
            problems.append(Problem(f"{where}.properties.kind", kind, ", ".join(KINDS)))
            continue
        field, expected, target = KINDS[kind]
        if geometry.get("type") != expected:
            problems.append(Problem(f"{where}.geometry.type", geometry.get("type"), expected))
            continue
        if expected == "Polygon":
            if len(coordinates) != 1:
                problems.append(Problem(where, f"{len(coordinates)} rings", "one ring, no holes"))
                continue
            coordinates = [p[:2] for p in coordinates[0]]
        if kind in _SUBKIND:
            properties["kind"] = properties.pop(_SUBKIND[kind], None)
        if kind == "boundary":
            if "boundary" in site:
                problems.append(Problem(where, "second boundary", "one boundary"))
            site["boundary"] = coordinates
            continue
        if kind == "spot level":
            if len(coordinates) != 3:
                problems.append(Problem(where, coordinates, "easting, northing, level"))
                continue
            properties |= dict(
                zip(("easting_m", "northing_m", "level_m"), coordinates, strict=True)
            )
        elif kind == "borehole":
            properties |= {"easting_m": coordinates[0], "northing_m": coordinates[1]}
        else:
            properties[target] = coordinates
        site.setdefault(field, []).append(properties)
    if problems:
        raise InputError(problems, source="GeoJSON survey")
    return site


def site_dict_to_geojson(site: dict[str, Any]) -> dict[str, Any]:
    """GeoJSON document from a dumped Site; inverse of :func:`site_dict_from_geojson`."""
    features: list[dict[str, Any]] = []

    def add(kind: str, shape: str, coordinates: Any, properties: dict[str, Any]) -> None:
        features.append(
            {
                "type": "Feature",
                "geometry": {"type": shape, "coordinates": coordinates},
                "properties": {"kind": kind, **properties},
            }
        )

    for kind, (field, shape, target) in KINDS.items():
        if kind == "boundary":
            ring = [list(p) for p in site["boundary"]]
            add(kind, shape, [[*ring, ring[0]]], {})
            continue
        for item in site.get(field, ()):
            properties = dict(item)
            if kind == "spot level":
                where = [properties.pop(k) for k in ("easting_m", "northing_m", "level_m")]
                add(kind, shape, where, properties)
                continue
            if kind == "borehole":
                where = [properties.pop(k) for k in ("easting_m", "northing_m")]
                add(kind, shape, where, properties)
                continue
            coordinates = [list(p) for p in properties.pop(target)]
            if kind in _SUBKIND:
                properties[_SUBKIND[kind]] = properties.pop("kind")
            if shape == "Polygon":
                coordinates = [[*coordinates, coordinates[0]]]
            add(kind, shape, coordinates, properties)
    members = ("id", "name", "grid", "datum", "provenance", "ground")
    return {
        "type": "FeatureCollection",
        "site": {k: site[k] for k in members if k in site},
        "features": features,
    }
