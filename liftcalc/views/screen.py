"""A light Axes for the screen: the same drawings as small SVG texts, quick enough for a slider.

Contents: :class:`ScreenAxes`, :class:`Stroke`, :data:`Drawable`.

The printed sheet is drawn by matplotlib. On the screen a drawing must follow a slider, so
:class:`ScreenAxes` takes what the drawings put on it (lines, shapes, texts, ticks) and writes it
down as SVG at once; the browser lays out the text. It offers only what the drawings use and refuses
the rest, so that nothing can be missing on the screen without a word. No published source.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from html import escape
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.markers import MarkerStyle
from matplotlib.ticker import MaxNLocator
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import LiftcalcError
from liftcalc.views.fonts import text_size_pt

__all__ = ["Drawable", "ScreenAxes", "Stroke"]

_MM_PT = 72.0 / 25.4
_HATCH_LINES = {
    "/": "M0 {s}L{s} 0",
    "\\": "M0 0L{s} {s}",
    "x": "M0 0L{s} {s}M0 {s}L{s} 0",
    "+": "M{h} 0V{s}M0 {h}H{s}",
    "|": "M{h} 0V{s}",
    "-": "M0 {h}H{s}",
}
_ANCHOR = {"left": "start", "center": "middle", "right": "end"}
_TICKS = MaxNLocator(nbins=8, steps=[1, 2, 2.5, 3, 5, 10])


class _Box:
    """The Axes on the picture, in points from the lower left corner."""

    def __init__(self, x0: float, y0: float, x1: float, y1: float) -> None:
        self.x0, self.y0, self.x1, self.y1 = x0, y0, x1, y1
        self.width, self.height = x1 - x0, y1 - y0


class _Linear:
    """Scale and shift of each coordinate."""

    def __init__(self, scale: FloatArray, shift: FloatArray) -> None:
        self._scale, self._shift = scale, shift

    def transform(self, points: ArrayLike) -> FloatArray:
        moved: FloatArray = np.asarray(points, dtype=np.float64) * self._scale + self._shift
        return moved

    def inverted(self) -> _Linear:
        return _Linear(1.0 / self._scale, -self._shift / self._scale)


class _Paper:
    """Stands for the figure: one point is one pixel."""

    dpi = 72.0


class _Spine:
    def __init__(self) -> None:
        self._visible = True

    def set_visible(self, visible: bool) -> None:
        self._visible = visible

    def get_visible(self) -> bool:
        return self._visible

    def set_linewidth(self, width: float) -> None:
        """Frames have one width on the screen."""

    def set_color(self, colour: str) -> None:
        """Frames have one colour on the screen."""


class Stroke:
    """A line whose markers may still be set, as with a matplotlib line."""

    def __init__(self, points: FloatArray, style: dict[str, Any]) -> None:
        self.points, self.style = points, style

    def set_marker(self, marker: str) -> None:
        """Marker at the points chosen by :meth:`set_markevery`."""
        self.style["marker"] = marker

    def set_markersize(self, size_pt: float) -> None:
        """Size of the markers in points."""
        self.style["markersize"] = size_pt

    def set_markevery(self, every: tuple[int, int] | list[int]) -> None:
        """First point and step, or the points themselves."""
        self.style["markevery"] = every


_Item = tuple[float, int, bool, str, Any, dict[str, Any]]


class ScreenAxes:
    """Takes a drawing and writes it as SVG; coordinates and sizes as on a printed Axes."""

    def __init__(
        self,
        width_mm: float,
        height_mm: float,
        *,
        margins_mm: tuple[float, float, float, float] = (14.0, 12.0, 4.0, 8.0),
    ) -> None:
        self.figure = _Paper()
        self.width_pt, self.height_pt = width_mm * _MM_PT, height_mm * _MM_PT
        left, bottom, right, top = (m * _MM_PT for m in margins_mm)
        self._box = _Box(left, bottom, self.width_pt - right, self.height_pt - top)
        self.clear()

    def clear(self) -> None:
        """Take everything off."""
        self.spines = {name: _Spine() for name in ("left", "right", "top", "bottom")}
        self._items: list[_Item] = []
        self._x, self._y = (0.0, 1.0), (0.0, 1.0)
        self._xticks: tuple[list[float], list[str]] | None = None
        self._yticks: tuple[list[float], list[str]] | None = None
        self._title = self._xlabel = self._ylabel = ""

    def get_window_extent(self) -> _Box:
        """The Axes on the picture, in points."""
        return self._box

    def tick_params(self, **style: Any) -> None:
        """Ticks have one look on the screen."""

    def set_aspect(self, aspect: str, *, adjustable: str) -> None:
        """Plans set limits of equal scale themselves."""

    def set_xlabel(self, text: str, **style: Any) -> None:
        """Name of the horizontal axis."""
        self._xlabel = text

    def set_ylabel(self, text: str, **style: Any) -> None:
        """Name of the vertical axis."""
        self._ylabel = text

    def set_title(self, text: str, **style: Any) -> None:
        """Title at the upper left."""
        self._title = text

    def set_xlim(self, low: float, high: float) -> None:
        """Horizontal limits."""
        self._x = (float(low), float(high))

    def set_ylim(self, low: float, high: float) -> None:
        """Vertical limits."""
        self._y = (float(low), float(high))

    def get_xlim(self) -> tuple[float, float]:
        """Horizontal limits."""
        return self._x

    def get_ylim(self) -> tuple[float, float]:
        """Vertical limits."""
        return self._y

    def set_xticks(self, ticks: ArrayLike, labels: Sequence[str] | None = None) -> None:
        """Places and names of the ticks below."""
        self._xticks = self._named(ticks, labels)

    def set_yticks(self, ticks: ArrayLike, labels: Sequence[str] | None = None) -> None:
        """Places and names of the ticks at the left."""
        self._yticks = self._named(ticks, labels)

    @staticmethod
    def _named(ticks: ArrayLike, labels: Sequence[str] | None) -> tuple[list[float], list[str]]:
        places = [float(t) for t in np.asarray(ticks, dtype=np.float64).ravel()]
        names = list(labels) if labels is not None else [_number(t) for t in places]
        return places, names

    @property
    def transData(self) -> _Linear:
        """From data to points."""
        box = self._box
        scale = np.array(
            [box.width / (self._x[1] - self._x[0]), box.height / (self._y[1] - self._y[0])]
        )
        shift = np.array([box.x0, box.y0]) - scale * np.array([self._x[0], self._y[0]])
        return _Linear(scale, shift)

    def points_from(self, x: float, y: float) -> _Linear:
        """From points counted from a place given in Axes fractions."""
        box = self._box
        return _Linear(np.ones(2), np.array([box.x0 + x * box.width, box.y0 + y * box.height]))

    def _add(self, kind: str, thing: Any, style: dict[str, Any], default_order: float) -> None:
        order = float(style.get("zorder", default_order))
        clip = bool(style.get("clip_on", kind != "text" or "transform" not in style))
        self._items.append((order, len(self._items), clip, kind, thing, style))

    def stroke(self, xy: FloatArray, style: dict[str, Any]) -> Stroke:
        """Add a line with the keyword arguments of a matplotlib line."""
        line = Stroke(style.get("transform", self.transData).transform(xy), style)
        self._add("line", line, style, 2.0)
        return line

    def shape(self, rings: Sequence[FloatArray], style: dict[str, Any]) -> None:
        """Add closed rings with the keyword arguments of a matplotlib patch."""
        transform = style.get("transform", self.transData)
        self._add("shape", [transform.transform(r) for r in rings], style, 1.0)

    def text(self, x: float, y: float, text: str, **style: Any) -> None:
        """Add a text with the keyword arguments of a matplotlib text."""
        place = style.get("transform", self.transData).transform((x, y))
        self._add("text", (place, text), style, 3.0)

    @property
    def words(self) -> list[str]:
        """Every text of the drawing, title and axis names included."""
        texts = [thing[1] for _, _, _, kind, thing, _ in self._items if kind == "text"]
        return [*texts, self._title, self._xlabel, self._ylabel]

    @property
    def things(self) -> list[tuple[str, FloatArray]]:
        """Name and points of each named line and shape, in points on the picture."""
        found = []
        for _, _, _, kind, thing, style in self._items:
            if kind != "text" and style.get("gid"):
                points = thing.points if kind == "line" else np.vstack(thing)
                found.append((str(style["gid"]), points))
        return found

    def svg(self, *, title: str, description: str = "", prefix: str = "d") -> str:
        """The drawing as SVG text.

        Parameters:
          title, description: str. Name of the picture, and what it shows, for a screen reader.
          prefix: str. Makes the ids of this picture unique on its page.
        Returns: str. An ``svg`` element with role img.
        """
        return _Writer(self, prefix).svg(title, description)


Drawable = Axes | ScreenAxes


def _number(value: float) -> str:
    return f"{value:.10g}".replace("-", "\u2212")


@lru_cache(maxsize=64)
def _marker(marker: str) -> tuple[tuple[FloatArray, ...], bool]:
    style = MarkerStyle(marker)
    shape = style.get_path().transformed(style.get_transform())
    rings = tuple(np.asarray(r) for r in shape.to_polygons(closed_only=False))
    return rings, bool(style.is_filled())


def _dash(style: dict[str, Any], width: float) -> str:
    dash = style.get("linestyle", "-")
    if dash in ("-", "solid"):
        return ""
    if not isinstance(dash, tuple):
        raise LiftcalcError(f"line style {dash!r} is not known to the screen writer")
    # as on paper, dashes grow with the line
    return ' stroke-dasharray="' + " ".join(f"{d * max(width, 0.5):g}" for d in dash[1]) + '"'


@lru_cache(maxsize=2048)
def _path_text(points: bytes, height_pt: float, close: bool) -> str:
    """Path data of points (n, 2) given as bytes; much of a drawing is the same move after move."""
    xy = np.frombuffer(points, dtype=np.float64).reshape(-1, 2)
    good: list[bool] = np.isfinite(xy.sum(axis=1)).tolist()
    xs, ys = xy[:, 0].tolist(), (height_pt - xy[:, 1]).tolist()
    if all(good):
        pairs = [f"{a:.1f} {b:.1f}" for a, b in zip(xs, ys, strict=True)]
        return "M" + "L".join(pairs) + ("Z" if close else "")
    pieces, pen = [], False
    for a, b, known in zip(xs, ys, good, strict=True):
        if known:
            pieces.append(f"{'L' if pen else 'M'}{a:.1f} {b:.1f}")
        pen = known
    return "".join(pieces) + ("Z" if close else "")


class _Writer:
    """Writes the items of one Axes; y downwards."""

    def __init__(self, ax: ScreenAxes, prefix: str) -> None:
        self.ax, self.prefix = ax, prefix
        self.parts: list[str] = []
        self.patterns: dict[tuple[str, str], str] = {}

    def path(self, points: FloatArray, *, close: bool) -> str:
        return _path_text(points.tobytes(), self.ax.height_pt, close)

    def hatch(self, hatch: str, colour: str) -> str:
        if hatch[0] not in "./\\x+|-":
            raise LiftcalcError(f"hatch {hatch!r} is not known to the screen writer")
        return self.patterns.setdefault((hatch, colour), f"{self.prefix}h{len(self.patterns)}")

    def line(self, line: Stroke, style: dict[str, Any]) -> None:
        width = float(style.get("linewidth", 1.5))
        colour = style.get("color", "#1a1a1a")
        if style.get("linestyle", "-") != "none" and len(line.points) > 1:
            d = self.path(line.points, close=False)
            self.parts.append(
                f'<path d="{d}" fill="none" stroke="{colour}" stroke-width="{width:g}"'
                f"{_dash(style, width)}/>"
            )
        if style.get("marker"):
            self.markers(line, style, colour)

    def markers(self, line: Stroke, style: dict[str, Any], colour: str) -> None:
        every = style.get("markevery", (0, 1))
        chosen = (
            line.points[every[0] :: every[1]] if isinstance(every, tuple) else line.points[every]
        )
        rings, filled = _marker(style["marker"])
        size = float(style.get("markersize", 6.0))
        face = style.get("markerfacecolor", colour) if filled else "none"
        edge = style.get("markeredgecolor", colour)
        width = float(style.get("markeredgewidth", 1.0))
        for place in chosen[np.isfinite(chosen).all(axis=1)]:
            d = "".join(self.path(ring * size + place, close=filled) for ring in rings)
            self.parts.append(
                f'<path d="{d}" fill="{face}" stroke="{edge}" stroke-width="{width:g}"/>'
            )

    def shape(self, rings: list[FloatArray], style: dict[str, Any]) -> None:
        d = "".join(self.path(r, close=True) for r in rings)
        face, edge = style.get("facecolor", "none"), style.get("edgecolor", "none")
        width = float(style.get("linewidth", 1.0))
        stroke = ""
        if edge != "none" and width > 0:
            stroke = f' stroke="{edge}" stroke-width="{width:g}"{_dash(style, width)}'
        fade = f' opacity="{style["alpha"]:g}"' if style.get("alpha") is not None else ""
        self.parts.append(f'<path d="{d}" fill="{face}"{stroke}{fade} fill-rule="evenodd"/>')
        if style.get("hatch"):
            name = self.hatch(style["hatch"], edge if edge != "none" else "#6b6b6b")
            self.parts.append(f'<path d="{d}" fill="url(#{name})"{fade} fill-rule="evenodd"/>')

    def text(self, place: FloatArray, words: str, style: dict[str, Any]) -> None:
        if not words:
            return
        x, y = float(place[0]), self.ax.height_pt - float(place[1])
        size = float(style.get("fontsize", 7.0))
        bold = style.get("fontweight") == "bold"
        lines = words.split("\n")
        step = 1.2 * size
        first = {
            "center": 0.36 * size - step * (len(lines) - 1) / 2.0,
            "center_baseline": 0.36 * size - step * (len(lines) - 1) / 2.0,
            "top": 0.93 * size,
        }.get(style.get("va", "baseline"), -step * (len(lines) - 1))
        if style.get("bbox"):
            wide, high = text_size_pt(words, size, "bold" if bold else "normal")
            self.parts.append(
                f'<rect x="{x - wide / 2 - 1:.1f}" y="{y - high / 2 - 0.5:.1f}" '
                f'width="{wide + 2:.1f}" height="{high + 1:.1f}" fill="#fff" opacity=".85"/>'
            )
        turn = float(style.get("rotation", 0.0))
        marks = ' font-weight="bold"' if bold else ""
        marks += f' transform="rotate({-turn:g} {x:.1f} {y:.1f})"' if turn else ""
        marks += ' class="halo"' if style.get("path_effects") else ""
        body = "".join(
            f'<tspan x="{x:.1f}" y="{y + first + k * step:.1f}">{escape(line)}</tspan>'
            for k, line in enumerate(lines)
        )
        self.parts.append(
            f'<text font-size="{size:g}" fill="{style.get("color", "#1a1a1a")}" '
            f'text-anchor="{_ANCHOR[style.get("ha", "left")]}"{marks}>{body}</text>'
        )

    def frame(self) -> None:
        ax, box = self.ax, self.ax.get_window_extent()
        x0, x1 = box.x0, box.x1
        y0, y1 = ax.height_pt - box.y1, ax.height_pt - box.y0
        sides = {
            "left": f"M{x0:.1f} {y0:.1f}V{y1:.1f}",
            "right": f"M{x1:.1f} {y0:.1f}V{y1:.1f}",
            "top": f"M{x0:.1f} {y0:.1f}H{x1:.1f}",
            "bottom": f"M{x0:.1f} {y1:.1f}H{x1:.1f}",
        }
        d = "".join(path for name, path in sides.items() if ax.spines[name].get_visible())
        self.parts.append(f'<path d="{d}" fill="none" stroke="#1a1a1a" stroke-width=".6"/>')

    def ticks(self) -> None:
        ax, box = self.ax, self.ax.get_window_extent()
        for limits, given, level in ((ax._x, ax._xticks, True), (ax._y, ax._yticks, False)):
            low, high = sorted(limits)
            places, names = given or ScreenAxes._named(_TICKS.tick_values(low, high), None)
            for value, name in zip(places, names, strict=True):
                if not low - 1e-9 <= value <= high + 1e-9:
                    continue
                at = ax.transData.transform((value, value))
                x = float(at[0]) if level else box.x0
                y = ax.height_pt - (box.y0 if level else float(at[1]))
                mark = f"M{x:.1f} {y:.1f}{'v3' if level else 'h-3'}"
                tx, ty = (x, y + 10.5) if level else (x - 5.0, y + 2.5)
                anchor = "middle" if level else "end"
                self.parts.append(
                    f'<path d="{mark}" stroke="#1a1a1a" stroke-width=".6"/>'
                    f'<text x="{tx:.1f}" y="{ty:.1f}" font-size="7" text-anchor="{anchor}">'
                    f"{escape(name)}</text>"
                )

    def titles(self) -> None:
        ax, box = self.ax, self.ax.get_window_extent()
        top, bottom = ax.height_pt - box.y1, ax.height_pt - box.y0
        lines = ax._title.split("\n")
        for k, line in enumerate(lines):
            y = top - 5.0 - 10.5 * (len(lines) - 1 - k)
            self.parts.append(
                f'<text x="{box.x0:.1f}" y="{y:.1f}" font-size="8.5" font-weight="bold">'
                f"{escape(line)}</text>"
            )
        if ax._xlabel:
            x = (box.x0 + box.x1) / 2.0
            self.parts.append(
                f'<text x="{x:.1f}" y="{bottom + 20:.1f}" font-size="7.5" '
                f'text-anchor="middle">{escape(ax._xlabel)}</text>'
            )
        if ax._ylabel:
            x, y = box.x0 - 30.0, (top + bottom) / 2.0
            self.parts.append(
                f'<text x="{x:.1f}" y="{y:.1f}" font-size="7.5" text-anchor="middle" '
                f'transform="rotate(-90 {x:.1f} {y:.1f})">{escape(ax._ylabel)}</text>'
            )

    def pattern_defs(self) -> str:
        texts = []
        for (hatch, colour), name in self.patterns.items():
            size = 18.0 / max(1, len(hatch))
            if hatch[0] == ".":
                r = size / 9.0
                body = f'<circle cx="{size / 2:g}" cy="{size / 2:g}" r="{r:g}" fill="{colour}"/>'
            else:
                line = _HATCH_LINES[hatch[0]].format(s=f"{size:g}", h=f"{size / 2:g}")
                body = f'<path d="{line}" stroke="{colour}" stroke-width=".5" fill="none"/>'
            texts.append(
                f'<pattern id="{name}" width="{size:g}" height="{size:g}" '
                f'patternUnits="userSpaceOnUse">{body}</pattern>'
            )
        return "".join(texts)

    def svg(self, title: str, description: str) -> str:
        ax, box = self.ax, self.ax.get_window_extent()
        ordered = sorted(ax._items, key=lambda item: (not item[2], item[0], item[1]))
        self.parts.append(f'<g clip-path="url(#{self.prefix}c)">')
        inside = True
        for _, _, clip, kind, thing, style in ordered:
            if inside and not clip:
                self.parts.append("</g>")
                inside = False
            if kind == "line":
                self.line(thing, style)
            elif kind == "shape":
                self.shape(thing, style)
            else:
                self.text(thing[0], thing[1], style)
        if inside:
            self.parts.append("</g>")
        self.frame()
        self.ticks()
        self.titles()
        clip_rect = (
            f'<clipPath id="{self.prefix}c"><rect x="{box.x0:.1f}" '
            f'y="{ax.height_pt - box.y1:.1f}" width="{box.width:.1f}" '
            f'height="{box.height:.1f}"/></clipPath>'
        )
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {ax.width_pt:.0f} '
            f'{ax.height_pt:.0f}" role="img" '
            f'aria-label="{escape(title + ". " + description, quote=True)}" '
            'font-family="DejaVu Sans, Verdana, sans-serif" fill="#1a1a1a">'
            "<style>.halo{paint-order:stroke;stroke:#fff;stroke-width:2px;"
            "stroke-linejoin:round}text{white-space:pre}</style>"
            f"<defs>{clip_rect}{self.pattern_defs()}</defs>"
            f'<rect width="100%" height="100%" fill="#fff"/>{"".join(self.parts)}</svg>'
        )
