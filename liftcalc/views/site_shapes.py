"""Surveyed things in plan: each kind with its own line, hatch and words.

Drawing practice: hatches for materials, dashes for what lies below or above ground.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

import numpy as np
import shapely

from liftcalc.base.arrays import FloatArray
from liftcalc.facts.job import Rules
from liftcalc.facts.site import Site
from liftcalc.lift.site_obstacles import kept_distance_m
from liftcalc.views.labels import Labels
from liftcalc.views.marks import KeyEntry
from liftcalc.views.screen import Drawable
from liftcalc.views.strokes import polygon, polyline
from liftcalc.views.style import GREY, INK, Display

ShapeKind = Literal[
    "boundary",
    "ground",
    "obstacle",
    "excavation",
    "service",
    "wall",
    "slope",
    "power line",
    "stand area",
    "no-overfly",
    "people exclusion",
]


@dataclass(frozen=True, eq=False)
class SiteShape:
    """One surveyed thing in plan, site coordinates."""

    name: str
    kind: ShapeKind
    xy_m: FloatArray
    closed: bool = True
    note: str = ""
    width_m: float = 0.0
    """Width of a service, or distance kept from a line. [m]"""


def _xy(points: Sequence[tuple[float, ...]]) -> FloatArray:
    return np.array([p[:2] for p in points], dtype=np.float64)


def site_shapes(site: Site, rules: Rules, *, persons: bool) -> tuple[SiteShape, ...]:
    """Everything surveyed that a plan shows."""
    shapes = [SiteShape("boundary", "boundary", _xy(site.boundary))]
    shapes += [SiteShape(z.id, "ground", _xy(z.polygon)) for z in site.zones]
    shapes += [SiteShape(a.id, a.kind, _xy(a.polygon)) for a in site.areas]
    for e in site.excavations:
        shapes.append(SiteShape(e.id, "excavation", _xy(e.polygon), note=f"{e.depth_m:g} m deep"))
    for service in site.services:
        note, width = f"crown {service.crown_depth_m:g} m down", service.width_m
        shapes.append(SiteShape(service.id, "service", _xy(service.line), False, note, width))
    for wall in site.retaining_walls:
        note = f"retains {wall.retained_height_m:g} m"
        shapes.append(SiteShape(wall.id, "wall", _xy(wall.line), False, note))
    shapes += [SiteShape(s.id, "slope", _xy(s.crest), False) for s in site.slopes]
    for obstacle in site.obstacles:
        note = f"{obstacle.kind}, top level {obstacle.top_level_m:g} m"
        shapes.append(SiteShape(obstacle.id, "obstacle", _xy(obstacle.polygon), note=note))
    for line in site.overhead_lines:
        keep, note = kept_distance_m(line, rules, persons=persons), "voltage unknown"
        if keep is not None:
            note = f"{line.voltage_kV:g} kV, keep {keep:.2f} m"
        shapes.append(SiteShape(line.id, "power line", _xy(line.points), False, note, keep or 0.0))
    return tuple(shapes)


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
KEPT_EDGE: dict[str, Any] = {"edgecolor": INK, "linestyle": (0, (2, 3)), "linewidth": 0.7}


@lru_cache(maxsize=256)
def _band_of(points: tuple[tuple[float, float], ...], width: float) -> FloatArray:
    shape = shapely.LineString(points).buffer(width / 2.0, cap_style="flat", join_style="mitre")
    return np.asarray(shape.exterior.coords)


def _band(xy: FloatArray, width: float) -> FloatArray:
    return _band_of(_plain(xy), width)


def _plain(xy: FloatArray) -> tuple[tuple[float, float], ...]:
    """Points as plain numbers: the survey stays as it is while a slider moves."""
    return tuple((x, y) for x, y in xy[:, :2].tolist())


def draw_shapes(ax: Drawable, shapes: Sequence[SiteShape], display: Display) -> None:
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
                gid = f"distance kept: {shape.name}"
                polygon(ax, band, facecolor="none", zorder=look.order, gid=gid, **KEPT_EDGE)


def _window(ax: Drawable) -> tuple[float, float, float, float]:
    """What the drawing shows: left, bottom, right, top."""
    (x0, x1), (y0, y1) = sorted(ax.get_xlim()), sorted(ax.get_ylim())
    return x0, y0, x1, y1


def name_shapes(
    ax: Drawable, shapes: Sequence[SiteShape], labels: Labels, display: Display
) -> None:
    """Name and note of each shape that the drawing shows, where they cover no other text."""
    window = _window(ax)
    for shape in shapes:
        if not shape.closed and shape.kind != "service":
            labels.keep_line_clear(display.length(shape.xy_m))
    for shape in shapes:
        if shape.kind == "boundary":
            continue
        xy = display.length(shape.xy_m)
        place = _label_place(_plain(xy), shape.closed, window)
        if place is None:
            continue
        text = shape.name + (f"\n{display.words(shape.note)}" if shape.note else "")
        colour = GREY if shape.kind in ("ground", "stand area") else INK
        on_hatch = bool(SHAPE_LOOKS[shape.kind].hatch)
        labels.add(place, text, toward_deg=90.0, colour=colour, ground=on_hatch)


@lru_cache(maxsize=512)
def _label_place(
    points: tuple[tuple[float, float], ...], closed: bool, window: tuple[float, float, float, float]
) -> tuple[float, float] | None:
    """Middle of the part of the shape that the drawing shows; None if it shows none."""
    shape = shapely.Polygon(points) if closed else shapely.LineString(points)
    if not shape.is_valid:
        shape = shape.buffer(0)
    seen = shape.intersection(shapely.box(*window))
    if seen.is_empty:
        return None
    point = seen.representative_point() if closed else seen.interpolate(0.5, normalized=True)
    return float(point.x), float(point.y)


def in_window(shape: SiteShape, ax: Drawable, display: Display) -> bool:
    """Whether any of the shape lies in what the drawing shows."""
    xy = _plain(display.length(shape.xy_m))
    return _label_place(xy, shape.closed, _window(ax)) is not None


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
