"""A site as a DXF plan to scale on named layers.

Model space is in metres, one layer for each kind (:data:`liftcalc.survey.mapping.LAYERS`), names
and levels as texts on layers of their own. Obstacles carry their base as elevation and their
height as thickness. Every field of a fact travels with its entity as extended data, so that the
drawing reads back as the same site. The layout "plan" shows it to scale on a sheet.

Sources: DXF reference of the format's publisher, as implemented by ezdxf; ISO 5455 scales and
ISO 216 sheet sizes (from memory).
"""

import io
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, missing_extra
from liftcalc.base.text import CAUTION_LINE, INVENTED_LINE
from liftcalc.facts.site import Site
from liftcalc.facts.site_geojson import site_dict_to_geojson
from liftcalc.survey.dxf_entities import APP_ID
from liftcalc.survey.mapping import LAYER_TABLE, LAYERS
from liftcalc.survey.parts import write_new

_SCALES = (20, 50, 100, 200, 500, 1000, 2000, 5000)
"""Scales a plan may be drawn to (1 : n)."""

_SHEET_MM = (420.0, 297.0)  # A3
_TEXT_M = 0.6


def write_dxf(site: Site, path: str | Path) -> Path:
    """Write the site as a DXF plan on A3, to the largest scale that fits; nothing is overwritten.

    Raises: A site that fits at no scale, an existing file, or ezdxf (extra ``cad``) not installed.
    """
    try:
        from ezdxf.filemanagement import new
    except ImportError:
        raise missing_extra("cad", f"DXF file {path}") from None
    document = new("R2010", setup=True)
    document.header["$INSUNITS"] = 6
    document.header["$MEASUREMENT"] = 1
    document.appids.add(APP_ID)
    for row in LAYER_TABLE:  # colours by the index of the format; each has a line of its own too
        colour, weight = int(row["colour"]), int(row["line_weight"])
        document.layers.add(row["layer"], color=colour, linetype=row["line_type"], lineweight=weight)
    for layer in ("NAMES", "LEVEL-TEXTS", "SHEET"):
        document.layers.add(layer, color=7, lineweight=13)
    space = document.modelspace()
    features = site_dict_to_geojson(site.model_dump(mode="json"))["features"]
    every = np.vstack([_draw(space, feature) for feature in features])
    marks = [*([INVENTED_LINE] if site.provenance.kind == "invented" else []), CAUTION_LINE]
    west, south = every.min(axis=0).tolist()
    for n, mark in enumerate(marks, start=2):  # in the model too: not everyone opens the layout
        _write(space, mark, west, south - 2 * n * _TEXT_M)
    _layout(document, every, site.name, marks)
    text = io.StringIO()
    document.write(text)
    return write_new(path, text.getvalue().encode(document.output_encoding, "replace"))


def _write(space: Any, text: str, x: float, y: float, *, height: float = _TEXT_M, layer: str = "SHEET") -> None:
    space.add_text(text, height=height, dxfattribs={"layer": layer, "insert": (x, y)})


def _draw(space: Any, feature: dict[str, Any]) -> FloatArray:
    """Draw one feature of the site's GeoJSON; returns its plan points."""
    fields = dict(feature["properties"])
    kind = fields.pop("kind")
    geometry, coordinates = feature["geometry"]["type"], feature["geometry"]["coordinates"]
    attributes: dict[str, Any] = {"layer": LAYERS[kind]}
    if geometry == "Polygon":
        points = [tuple(p[:2]) for p in coordinates[0][:-1]]
        if kind == "obstacle":
            attributes["elevation"] = fields["base_level_m"]
            attributes["thickness"] = fields["top_level_m"] - fields["base_level_m"]
        entity = space.add_lwpolyline(points, close=True, dxfattribs=attributes)
    elif geometry == "LineString":
        points = [tuple(p[:2]) for p in coordinates]
        if kind == "overhead line":
            entity = space.add_polyline3d([tuple(p) for p in coordinates], dxfattribs=attributes)
        else:
            entity = space.add_lwpolyline(points, dxfattribs=attributes)
    else:
        points = [tuple(coordinates[:2])]
        entity = space.add_point(tuple(coordinates), dxfattribs=attributes)
        if kind == "spot level":
            look: dict[str, Any] = {"height": _TEXT_M * 0.7, "layer": "LEVEL-TEXTS"}
            _write(space, f"{coordinates[2]:.2f}", points[0][0] + 0.2, points[0][1], **look)
    text = json.dumps(fields, ensure_ascii=True)
    entity.set_xdata(APP_ID, [(1000, text[i : i + 250]) for i in range(0, len(text), 250)])
    if "id" in fields:
        _write(space, fields["id"], *np.mean(points, axis=0).tolist(), layer="NAMES")
    return np.asarray(points, dtype=np.float64)


def _layout(document: Any, points: FloatArray, title: str, marks: Sequence[str]) -> None:
    """Paper layout with one viewport to scale, scale bar, title and cautions."""
    width, height = _SHEET_MM
    margin, foot = 10.0, 22.0
    free = np.array([width - 2 * margin, height - 2 * margin - foot])
    low, high = points.min(axis=0), points.max(axis=0)
    need = np.maximum(high - low, 1.0) * 1.04 * 1000.0  # mm on the ground
    least = float((need / free).max())
    scale = next((s for s in _SCALES if s >= least), None)
    if scale is None:
        raise InputError.of("sheet", "A3", f"a sheet for a site of {need.max() / 1000:.0f} m")
    layout = document.layouts.new("plan")
    layout.page_setup(size=(width, height), margins=(0, 0, 0, 0), units="mm")
    layout.add_viewport(
        center=(width / 2, margin + foot + free[1] / 2), size=(float(free[0]), float(free[1])),
        view_center_point=tuple((0.5 * (low + high)).tolist()),
        view_height=float(free[1]) * scale / 1000.0, dxfattribs={"layer": "SHEET"},
    )  # fmt: skip
    sheet = {"layer": "SHEET"}
    right, top = width - margin, height - margin
    frame = [(margin, margin), (right, margin), (right, top), (margin, top)]
    layout.add_lwpolyline(frame, close=True, dxfattribs=sheet)
    for text, size, x, y in (
        (title, 5.0, margin + 4, margin + foot - 8),
        (f"Scale 1 : {scale}. North up. Metres on the site grid.", 3.0, margin + 4, margin + 8),
        (" ".join(marks), 2.5, margin + 4, margin + 3),
    ):
        _write(layout, text, x, y, height=size)
    bar = 10.0 * 1000.0 / scale
    start, up = right - 10 - bar, margin + 12
    layout.add_lwpolyline([(start, up), (start + bar, up)], dxfattribs=sheet)
    _write(layout, "10 m", start, margin + 14, height=3.0)
