"""Surveyed things in plan: each kind with its own line, hatch and words.

Drawing practice: hatches for materials, dashes for what lies below or above ground.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Literal

import numpy as np
import shapely

from liftcalc.base.arrays import FloatArray
from liftcalc.base.text import amount
from liftcalc.facts.job import Rules
from liftcalc.facts.site import Site
from liftcalc.lift.site_obstacles import kept_distance_m
from liftcalc.views.labels import Labels
from liftcalc.views.marks import KeyEntry
from liftcalc.views.screen import Drawable
from liftcalc.views.strokes import closed, polygon, polyline
from liftcalc.views.style import GREY, INK, Display, fill

ShapeKind = Literal[
    "boundary", "ground", "obstacle", "excavation", "service", "wall", "slope", "power line",
    "stand area", "no-overfly", "people exclusion",
]  # fmt: skip


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
    title: str = ""
    """What it is called where it is not seen."""


def _xy(points: Sequence[tuple[float, ...]]) -> FloatArray:
    return np.array([p[:2] for p in points], dtype=np.float64)


def site_shapes(site: Site, rules: Rules, *, persons: bool) -> tuple[SiteShape, ...]:
    """Everything surveyed that a plan shows."""
    shapes = [SiteShape("boundary", "boundary", _xy(site.boundary))]
    shapes += [SiteShape(z.id, "ground", _xy(z.polygon)) for z in site.zones]
    shapes += [SiteShape(a.id, a.kind, _xy(a.polygon)) for a in site.areas]
    for e in site.excavations:
        note = f"{amount(e.depth_m, 'length_m')} deep"
        shapes.append(SiteShape(e.id, "excavation", _xy(e.polygon), note=note))
    for s in site.services:
        note = f"crown {amount(s.crown_depth_m, 'length_m')} below ground"
        shapes.append(SiteShape(s.id, "service", _xy(s.line), False, note, s.width_m))
    for wall in site.retaining_walls:
        note = f"retains {amount(wall.retained_height_m, 'length_m')}"
        shapes.append(SiteShape(wall.id, "wall", _xy(wall.line), False, note))
    shapes += [SiteShape(s.id, "slope", _xy(s.crest), False) for s in site.slopes]
    for obstacle in site.obstacles:
        note = f"{obstacle.kind}, top level {amount(obstacle.top_level_m, 'length_m')}"
        shapes.append(SiteShape(obstacle.id, "obstacle", _xy(obstacle.polygon), note=note))
    for line in site.overhead_lines:
        keep = kept_distance_m(line, rules, persons=persons)
        title, note = "overhead line, voltage unknown", "clearance: ask the owner"
        if line.voltage_kV is not None:
            title = f"{line.voltage_kV:g} kV overhead line"
        if keep is not None:
            note = f"clearance {amount(keep, 'length_m', 'up')}"
        name = f"{line.id}: {title}"
        shape = SiteShape(name, "power line", _xy(line.points), False, note, keep or 0.0, title)
        shapes.append(shape)
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
        return fill(self.face, self.edge, self.width, self.hatch, self.dash)

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
    "stand area": ShapeLook("permitted outrigger area", GREY, (0, (5, 3)), 0.8, "none", "", 1.1),
    "no-overfly": ShapeLook("no-lift-over zone", INK, (0, (3, 1.5)), 0.9, "#f3e3d7", "---", 1.3),
    "people exclusion": ShapeLook("exclusion zone", INK, (0, (1, 1.5)), 1.1, "none", "..", 1.3),
}
NOTES_FROM_PT = 330.0
KEPT = fill("#f7eadf", width=0.7, dash=(0, (2, 3)))
"""Strip along an overhead line in which nothing may come."""


@lru_cache(maxsize=256)
def _band(points: tuple[tuple[float, float], ...], width: float) -> FloatArray:
    shape = shapely.LineString(points).buffer(width / 2.0, cap_style="flat", join_style="mitre")
    return np.asarray(shape.exterior.coords)


def _plain(xy: FloatArray) -> tuple[tuple[float, float], ...]:
    """Points as plain numbers: the survey stays as it is while a slider moves."""
    return tuple((x, y) for x, y in xy[:, :2].tolist())


def draw_shapes(ax: Drawable, shapes: Sequence[SiteShape], display: Display) -> None:
    """Draw the shapes, without their names."""
    for shape in shapes:
        look, ring = SHAPE_LOOKS[shape.kind], _ring(shape, display)
        style: dict[str, Any] = {"zorder": look.order, "gid": f"{shape.kind}: {shape.name}"}
        if ring is not None and shape.kind != "power line":
            polygon(ax, ring, **style, **look.patch())
            continue
        polyline(ax, display.length(shape.xy_m), **style, **look.line())
        if ring is not None:
            polygon(ax, ring, zorder=0.8, gid=f"clearance strip: {shape.name}", **KEPT)


def _window(ax: Drawable) -> tuple[float, float, float, float]:
    """What the drawing shows: left, bottom, right, top."""
    (x0, x1), (y0, y1) = sorted(ax.get_xlim()), sorted(ax.get_ylim())
    return x0, y0, x1, y1


def name_shapes(shapes: Sequence[SiteShape], labels: Labels) -> None:
    """Name and note of each shape that the drawing shows.

    A shape with room for it is named inside, where least is hidden; a small one beside it.
    """
    ax, display = labels.ax, labels.display
    window = _window(ax)
    wide_pt = ax.get_window_extent().width * 72.0 / ax.figure.dpi
    if wide_pt < NOTES_FROM_PT:  # a small picture: names alone, and what to keep from a line
        shapes = [s if s.kind == "power line" else replace(s, note="") for s in shapes]
    solid = ("obstacle", "excavation", "service", "no-overfly", "people exclusion")
    beside = []
    for shape in shapes:
        if shape.kind == "boundary" or not in_window(shape, ax, display):
            continue
        ring = _ring(shape, display)
        if ring is None or not labels.add_inside(ring, _name(shape), **_text_look(shape)):
            beside.append((shape, ring))
    for shape, ring in beside:
        if ring is not None and shape.kind in solid:
            labels.keep_area_clear(ring)
    for shape, ring in beside:
        place = _label_place(_plain(display.length(shape.xy_m)), shape.closed, window)
        if place is None:
            continue
        places, toward = np.array([place]), np.array([90.0])
        if ring is not None and shape.kind in solid:
            places, toward = _edge_places(_plain(ring), place, window)
        labels.add(places, _name(shape), toward_deg=toward, **_text_look(shape))


def keep_edges_clear(shapes: Sequence[SiteShape], labels: Labels) -> None:
    """Keep names off lines, off edges that stand alone and off buried services."""
    for shape in shapes:
        xy, ring = labels.display.length(shape.xy_m), _ring(shape, labels.display)
        if shape.kind == "service" and ring is not None:
            labels.keep_area_clear(ring, share=0.5)
        elif not shape.closed:
            labels.keep_line_clear(xy)
        elif shape.kind == "boundary" or SHAPE_LOOKS[shape.kind].face == "none":
            labels.keep_line_clear(closed(xy), radius_pt=1.0)


def _ring(shape: SiteShape, display: Display) -> FloatArray | None:
    """Outline of what a shape covers in plan; None for a line without width.

    An overhead line covers the ground below the distance kept on both its sides.
    """
    xy = display.length(shape.xy_m)
    if shape.closed or not shape.width_m > 0:
        return xy if shape.closed else None
    sides = 2.0 if shape.kind == "power line" else 1.0
    return _band(_plain(xy), sides * float(display.length(shape.width_m)))


@lru_cache(maxsize=512)
def _edge_places(
    ring: tuple[tuple[float, float], ...], middle: tuple[float, float], window: tuple[float, float, float, float]
) -> tuple[FloatArray, FloatArray]:
    """Points on the edge of what is seen of a shape, and the directions in which they lie."""
    seen = shapely.Polygon(ring).buffer(0).intersection(shapely.box(*window))
    reach = 2.0 * float(np.hypot(window[2] - window[0], window[3] - window[1]))
    toward = np.array([90.0, -90.0, 0.0, 180.0])
    places = []
    for degrees in np.radians(toward):
        end = (middle[0] + reach * np.cos(degrees), middle[1] + reach * np.sin(degrees))
        line = shapely.LineString([middle, end]).intersection(seen)
        ends = np.vstack([np.asarray(g.coords) for g in getattr(line, "geoms", [line])])
        places.append(max(ends, key=lambda c: np.hypot(*(c - middle))))
    return np.array(places), toward


def _name(shape: SiteShape) -> str:
    return shape.name + (f"\n{shape.note}" if shape.note else "")


def _text_look(shape: SiteShape) -> dict[str, Any]:
    pale = shape.kind in ("ground", "stand area")
    return {"colour": GREY if pale else INK, "ground": not pale}


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
    """Whether any of what is drawn of the shape lies in what the drawing shows."""
    look, ring = SHAPE_LOOKS[shape.kind], _ring(shape, display)
    if ring is None or shape.kind == "power line":
        return _shown(display.length(shape.xy_m), ax, closed=False)
    if shape.closed and look.face == "none" and not look.hatch:  # its edge alone is drawn
        return _shown(closed(ring), ax, closed=False)
    return _shown(ring, ax)


def shape_key(
    shapes: Sequence[SiteShape], ax: Drawable, display: Display, *, strips_drawn: bool = True
) -> list[KeyEntry]:
    """Key entries of the kinds that the drawing shows, each once."""
    entries = []
    for kind, look in SHAPE_LOOKS.items():
        if kind == "power line":
            strips = (_ring(s, display) for s in shapes if s.kind == kind and strips_drawn)
            if any(ring is not None and _shown(ring, ax) for ring in strips):
                entries.append(("clearance strip of an overhead line", KEPT))
        if not any(s.kind == kind and in_window(s, ax, display) for s in shapes):
            continue
        as_line = kind in ("wall", "slope", "power line", "boundary")
        entries.append((look.words, look.line() if as_line else look.patch()))
    return entries


def _shown(xy: FloatArray, ax: Drawable, *, closed: bool = True) -> bool:
    """Whether the drawing shows some of a line or of what a closed shape covers."""
    return _label_place(_plain(xy), closed, _window(ax)) is not None
