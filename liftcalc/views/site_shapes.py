"""Surveyed things in plan: each kind with its own line, hatch and words.

Contents: :data:`SHAPE_LOOKS`, :func:`draw_shapes`, :func:`shape_key`. No published source:
drawing practice (hatches for materials, dashes for what lies below or above ground).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.views.data import ShapeKind, SiteShape
from liftcalc.views.marks import KeyEntry, Labels, polygon, polyline
from liftcalc.views.screen import Drawable
from liftcalc.views.style import GREY, INK, Display

__all__ = ["SHAPE_LOOKS", "ShapeLook", "draw_shapes", "in_window", "name_shapes", "shape_key"]


@dataclass(frozen=True)
class ShapeLook:
    """Line and fill of one kind of shape."""

    words: str
    edge: str
    dash: Any
    width: float
    face: str = "none"
    hatch: str = ""
    order: float = 1.0

    def patch(self) -> dict[str, Any]:
        """Keyword arguments of a patch."""
        return {
            "edgecolor": self.edge,
            "linestyle": self.dash,
            "linewidth": self.width,
            "facecolor": self.face,
            "hatch": self.hatch or None,
        }

    def line(self) -> dict[str, Any]:
        """Keyword arguments of a line."""
        return {"color": self.edge, "linestyle": self.dash, "linewidth": self.width}


SHAPE_LOOKS: dict[ShapeKind, ShapeLook] = {
    "boundary": ShapeLook("site boundary", GREY, (0, (14, 3, 2, 3, 2, 3)), 1.0, order=1.2),
    "ground": ShapeLook("ground zone", GREY, (0, (2, 2)), 0.6, "#f6f3ec", "", 0.5),
    "obstacle": ShapeLook("obstacle", INK, "-", 0.9, "#e4e4e4", "xxx", 2.0),
    "excavation": ShapeLook("excavation", INK, "-", 0.9, "#ffffff", "\\\\\\", 1.5),
    "service": ShapeLook("buried service", GREY, (0, (6, 2)), 0.8, "#efefef", "|||", 1.4),
    "wall": ShapeLook("retaining wall", INK, "-", 2.2, order=2.1),
    "slope": ShapeLook("crest of slope", INK, (0, (8, 2, 1, 2)), 1.0, order=2.1),
    "power line": ShapeLook("overhead line", INK, (0, (10, 3, 2, 3)), 1.2, order=2.4),
    "stand area": ShapeLook("stand area", GREY, (0, (5, 3)), 0.8, "none", "", 1.1),
    "no-overfly": ShapeLook("no load above", INK, (0, (3, 1.5)), 0.9, "#f3e3d7", "---", 1.3),
    "people exclusion": ShapeLook("keep people out", INK, (0, (1, 1.5)), 1.1, "none", "..", 1.3),
}
KEPT_DISTANCE: dict[str, Any] = {"color": INK, "linestyle": (0, (2, 3)), "linewidth": 0.7}


@lru_cache(maxsize=256)
def _band_of(points: tuple[tuple[float, float], ...], width: float) -> FloatArray:
    from shapely.geometry import LineString

    shape = LineString(points).buffer(width / 2.0, cap_style="flat", join_style="mitre")
    return np.asarray(shape.exterior.coords)


def _band(xy: FloatArray, width: float) -> FloatArray:
    return _band_of(_plain(xy), width)


def _plain(xy: FloatArray) -> tuple[tuple[float, float], ...]:
    """Points as plain numbers: the survey stays as it is while a slider moves."""
    return tuple((x, y) for x, y in xy[:, :2].tolist())


def draw_shapes(ax: Drawable, shapes: Sequence[SiteShape], display: Display) -> Drawable:
    """Draw the shapes, without their names."""
    for shape in shapes:
        look = SHAPE_LOOKS[shape.kind]
        xy = display.length(shape.xy_m)
        if shape.closed:
            polygon(ax, xy, zorder=look.order, gid=f"{shape.kind}: {shape.name}", **look.patch())
        elif shape.kind == "service" and shape.width_m > 0:
            band = _band(xy, float(display.length(shape.width_m)))
            polygon(ax, band, zorder=look.order, gid=f"service: {shape.name}", **look.patch())
        else:
            line = look.line()
            polyline(ax, xy, zorder=look.order, gid=f"{shape.kind}: {shape.name}", **line)
            if shape.width_m > 0:
                band = _band(xy, 2.0 * float(display.length(shape.width_m)))
                polygon(
                    ax,
                    band,
                    facecolor="none",
                    edgecolor=KEPT_DISTANCE["color"],
                    linestyle=KEPT_DISTANCE["linestyle"],
                    linewidth=KEPT_DISTANCE["linewidth"],
                    zorder=look.order,
                    gid=f"distance kept: {shape.name}",
                )
    return ax


def name_shapes(
    ax: Drawable, shapes: Sequence[SiteShape], labels: Labels, display: Display
) -> None:
    """Name and note of each shape that the drawing shows, where they cover no other text."""
    x0, x1 = sorted(ax.get_xlim())
    y0, y1 = sorted(ax.get_ylim())
    for shape in shapes:
        if not shape.closed and shape.kind != "service":
            labels.keep_line_clear(display.length(shape.xy_m))
    for shape in shapes:
        if shape.kind == "boundary":
            continue
        xy = display.length(shape.xy_m)
        place = _label_place(_plain(xy), shape.closed, (x0, y0, x1, y1))
        if place is None:
            continue
        text = shape.name + (f"\n{display.words(shape.note)}" if shape.note else "")
        colour = GREY if shape.kind in ("ground", "stand area") else INK
        on_hatch = bool(SHAPE_LOOKS[shape.kind].hatch)
        labels.add(place, text, toward_deg=90.0, colour=colour, ground=on_hatch)


@lru_cache(maxsize=512)
def _label_place(
    points: tuple[tuple[float, float], ...],
    closed: bool,
    window: tuple[float, float, float, float],
) -> tuple[float, float] | None:
    """Middle of the part of the shape that the drawing shows; None if it shows none."""
    from shapely import box
    from shapely.geometry import LineString
    from shapely.geometry import Polygon as Ring

    shape = Ring(points) if closed else LineString(points)
    if not shape.is_valid:
        shape = shape.buffer(0)
    seen = shape.intersection(box(*window))
    if seen.is_empty:
        return None
    point = seen.representative_point() if closed else seen.interpolate(0.5, normalized=True)
    return float(point.x), float(point.y)


def in_window(shape: SiteShape, ax: Drawable, display: Display) -> bool:
    """Whether any of the shape lies in what the drawing shows."""
    window = (*sorted(ax.get_xlim()), *sorted(ax.get_ylim()))
    x0, x1, y0, y1 = window
    xy = _plain(display.length(shape.xy_m))
    return _label_place(xy, shape.closed, (x0, y0, x1, y1)) is not None


def shape_key(shapes: Sequence[SiteShape], ax: Drawable, display: Display) -> list[KeyEntry]:
    """Key entries of the kinds that the drawing shows, each once."""
    entries = []
    for kind, look in SHAPE_LOOKS.items():
        if not any(s.kind == kind and in_window(s, ax, display) for s in shapes):
            continue
        if kind in ("wall", "slope", "power line", "boundary"):
            entries.append(KeyEntry(look.words, line=look.line()))
            if kind == "power line":
                entries.append(KeyEntry("distance kept from it", line=KEPT_DISTANCE))
        else:
            entries.append(KeyEntry(look.words, patch=look.patch()))
    return entries
