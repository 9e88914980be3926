"""Site survey as GeoJSON (RFC 7946 geometry on a local grid).

A FeatureCollection with a ``site`` member (id, name, grid, datum, provenance) and features
whose ``properties.kind`` tells what each is. Coordinates are easting, northing (and level) in
metres on the grid named there: RFC 7946 section 4 asks for longitude and latitude unless the
parties have agreed otherwise, and this file says so in ``site.grid``. A ``crs`` member, as other
programs write it, must be that grid: :func:`crs_fault`.
"""

import re
from typing import Any

from liftcalc.base.errors import InputError, Problem, missing_extra
from liftcalc.facts.limits import MOST_FEATURES, MOST_POINTS
from liftcalc.facts.plain import require_few

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
_AT = {"spot level": ("easting_m", "northing_m", "level_m"), "borehole": ("easting_m", "northing_m")}
_SUBKIND = {"obstacle": "obstacle_kind", "buried service": "service_kind", "area": "area_kind"}


def crs_name(data: dict[str, Any]) -> str:
    """Name in a document's ``crs`` member, such as ``EPSG:25833``; empty where there is none."""
    crs = data.get("crs")
    if crs is None:
        return ""
    properties = crs.get("properties") if isinstance(crs, dict) else None
    name = str(properties.get("name", crs) if isinstance(properties, dict) else crs)
    code = re.search(r"EPSG\W+(?:[\d.]*\W+)?(\d+)$", name, re.IGNORECASE)
    return f"EPSG:{code.group(1)}" if code else name


def crs_fault(name: str, grid: str, *, at: tuple[float, float]) -> Problem | None:
    """Why coordinates with this ``crs`` are no metres on the site's grid; None where they are.

    The site's ``grid`` must name it, it must be a projection in metres, and at the point *at* a
    metre of it must be a metre on the ground within 0.5 %. Looked up by pyproj.
    """

    def fault(why: str) -> Problem:
        return Problem(
            "crs", name, f"the site's own grid, in metres: {why}",
            "Change the coordinates to the site's grid; where they are on it already, name the crs "
            "in site.grid.",
        )  # fmt: skip

    if not name:
        return None
    if re.search(rf"(?<![\w:]){re.escape(name)}(?!\w)", grid, re.IGNORECASE) is None:
        return fault(f"site.grid is {grid[:80]!r} and does not name it")
    try:
        from pyproj import CRS, Proj, Transformer
        from pyproj.exceptions import CRSError, ProjError
    except ImportError:
        return fault(str(missing_extra("cad", "to look it up")))
    try:
        crs = CRS.from_user_input(name)
        if not crs.is_projected or {axis.unit_name for axis in crs.axis_info} != {"metre"}:
            return fault("its unit is not the metre")
        place = Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True).transform(*at)
        scale = Proj(crs).get_factors(*place)
        lengths = (float(scale.meridional_scale), float(scale.parallel_scale))
    except (CRSError, ProjError) as error:
        return fault(f"it cannot be looked up ({error})")
    if not all(0.995 <= length <= 1.005 for length in lengths):
        return fault(f"a metre on the ground is {max(lengths):.3f} m on it")
    return None


def require_countable(features: list[Any]) -> None:
    """Refuse more points, lines and areas than a site may have, whatever else is wrong."""

    def points(coordinates: Any) -> int:
        inside = isinstance(coordinates, list) and bool(coordinates)
        if inside and isinstance(coordinates[0], list):
            return sum(points(c) for c in coordinates)
        return int(inside)

    shapes = [f.get("geometry") for f in features if isinstance(f, dict)]
    sizes = [points(s.get("coordinates")) for s in shapes if isinstance(s, dict)]
    require_few(sum(sizes), MOST_POINTS, "points of the site")
    require_few(sum(n > 1 for n in sizes), MOST_FEATURES, "lines and areas of the site")


def site_dict_from_geojson(data: Any) -> dict[str, Any]:
    """Plain dict for :class:`~liftcalc.facts.site.Site` from a parsed GeoJSON document.

    Raises: Not a FeatureCollection, an unknown kind, a wrong geometry type, a polygon with holes.
    """
    if not isinstance(data, dict) or data.get("type") != "FeatureCollection":
        raise InputError.of("type", getattr(data, "get", lambda _: data)("type"), "FeatureCollection")
    if not isinstance(data.get("site", {}), dict) or not isinstance(data.get("features"), list):
        raise InputError.of("site, features", "of another kind", "an object and a list")
    require_countable(data["features"])
    site: dict[str, Any] = dict(data.get("site", {}))
    problems: list[Problem] = []
    for n, feature in enumerate(data["features"]):
        where = f"features[{n}]"
        try:
            problem = _take(feature, where, site)
        except (AttributeError, IndexError, KeyError, TypeError):  # not of the form that is read
            problem = Problem(where, "incomplete", "geometry, coordinates, properties.kind")
        problems += [problem] if problem else []
    if name := crs_name(data):
        boundary = site.get("boundary") or [(0.0, 0.0)]
        fault = crs_fault(name, str(site.get("grid", "")), at=tuple(boundary[0][:2]))
        problems += [fault] if fault else []
    if problems:
        raise InputError(problems, source="GeoJSON survey")
    return site


def _take(feature: Any, where: str, site: dict[str, Any]) -> Problem | None:
    """Put a feature into the site's fields, or say what is wrong with it."""
    properties = dict(feature["properties"])
    geometry = feature["geometry"]
    coordinates = geometry["coordinates"]
    kind = properties.pop("kind")
    if kind not in KINDS:
        return Problem(f"{where}.properties.kind", kind, ", ".join(KINDS))
    field, expected, target = KINDS[kind]
    if geometry.get("type") != expected:
        return Problem(f"{where}.geometry.type", geometry.get("type"), expected)
    if expected == "Polygon":
        if len(coordinates) != 1:
            return Problem(where, f"{len(coordinates)} rings", "one ring, no holes")
        coordinates = [p[:2] for p in coordinates[0]]
    if kind in _SUBKIND:
        properties["kind"] = properties.pop(_SUBKIND[kind], None)
    if kind == "boundary":
        if "boundary" in site:
            return Problem(where, "second boundary", "one boundary")
        site["boundary"] = coordinates
        return None
    if kind == "spot level" and len(coordinates) != 3:
        return Problem(where, coordinates, "easting, northing, level")
    if kind in _AT:
        properties |= {name: coordinates[n] for n, name in enumerate(_AT[kind])}
    else:
        properties[target] = coordinates
    site.setdefault(field, []).append(properties)
    return None


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
            if shape == "Point":
                add(kind, shape, [properties.pop(k) for k in _AT[kind]], properties)
                continue
            coordinates = [list(p) for p in properties.pop(target)]
            if kind in _SUBKIND:
                properties[_SUBKIND[kind]] = properties.pop("kind")
            if shape == "Polygon":
                coordinates = [[*coordinates, coordinates[0]]]
            add(kind, shape, coordinates, properties)
    members = ("id", "name", "grid", "datum", "provenance", "ground", "stated")
    return {
        "type": "FeatureCollection",
        "site": {k: site[k] for k in members if k in site and (site[k] or k != "stated")},
        "features": features,
    }
