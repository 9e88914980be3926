"""Writes what stands on a screen Axes as SVG text.

The browser lays out the text; what the writer does not know it refuses, so that nothing can be
missing on the screen without a word.
"""

from collections.abc import Callable
from functools import lru_cache
from html import escape
from typing import Any

import numpy as np
from matplotlib.markers import MarkerStyle
from matplotlib.ticker import MaxNLocator

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import LiftcalcError
from liftcalc.views.screen import ScreenAxes
from liftcalc.views.style import text_size_pt

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
        self.beside_pt = 0.0
        """Width of the widest number at the left."""

    def path(self, points: FloatArray, *, close: bool) -> str:
        return _path_text(points.tobytes(), self.ax.height_pt, close)

    def hatch(self, hatch: str, colour: str) -> str:
        if hatch[0] not in "./\\x+|-":
            raise LiftcalcError(f"hatch {hatch!r} is not known to the screen writer")
        return self.patterns.setdefault((hatch, colour), f"{self.prefix}h{len(self.patterns)}")

    def line(self, points: FloatArray, style: dict[str, Any]) -> None:
        width = float(style.get("linewidth", 1.5))
        colour = style.get("color", "#1a1a1a")
        if style.get("linestyle", "-") != "none" and len(points) > 1:
            d = self.path(points, close=False)
            self.parts.append(
                f'<path d="{d}" fill="none" stroke="{colour}" stroke-width="{width:g}"{_dash(style, width)}/>'
            )
        if style.get("marker"):
            self.markers(points, style, colour)

    def markers(self, points: FloatArray, style: dict[str, Any], colour: str) -> None:
        every = style.get("markevery", (0, 1))
        chosen = points[every[0] :: every[1]] if isinstance(every, tuple) else points[every]
        rings, filled = _marker(style["marker"])
        size = float(style.get("markersize", 6.0))
        face = style.get("markerfacecolor", colour) if filled else "none"
        edge = style.get("markeredgecolor", colour)
        width = float(style.get("markeredgewidth", 1.0))
        for place in chosen[np.isfinite(chosen).all(axis=1)]:
            d = "".join(self.path(ring * size + place, close=filled) for ring in rings)
            self.parts.append(f'<path d="{d}" fill="{face}" stroke="{edge}" stroke-width="{width:g}"/>')

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

    def text(self, thing: tuple[FloatArray, str], style: dict[str, Any]) -> None:
        place, words = thing
        if not words:
            return
        x, y = float(place[0]), self.ax.height_pt - float(place[1])
        size = float(style.get("fontsize", 7.0))
        bold = style.get("fontweight") == "bold"
        lines = words.split("\n")
        step = 1.2 * size
        middle = 0.36 * size - step * (len(lines) - 1) / 2.0
        known = {"center": middle, "center_baseline": middle, "top": 0.93 * size}
        first = known.get(style.get("va", "baseline"), -step * (len(lines) - 1))
        if style.get("bbox"):
            width, height = text_size_pt(words, size, "bold" if bold else "normal")
            self.parts.append(
                f'<rect x="{x - width / 2 - 1:.1f}" y="{y - height / 2 - 0.5:.1f}" '
                f'width="{width + 2:.1f}" height="{height + 1:.1f}" fill="#fff" opacity=".85"/>'
            )
        turn = float(style.get("rotation", 0.0))
        marks = ' font-weight="bold"' if bold else ""
        marks += f' transform="rotate({-turn:g} {x:.1f} {y:.1f})"' if turn else ""
        marks += ' class="halo"' if style.get("path_effects") else ""
        body = "".join(
            f'<tspan x="{x:.1f}" y="{y + first + k * step:.1f}">{escape(line)}</tspan>' for k, line in enumerate(lines)
        )
        self.parts.append(
            f'<text font-size="{size:g}" fill="{style.get("color", "#1a1a1a")}" '
            f'text-anchor="{_ANCHOR[style.get("ha", "left")]}"{marks}>{body}</text>'
        )

    def frame(self) -> None:
        ax, box = self.ax, self.ax.get_window_extent()
        x0, x1 = box.x0, box.x1
        y0, y1 = ax.height_pt - box.y1, ax.height_pt - box.y0
        upright = [f"M{x:.1f} {y0:.1f}V{y1:.1f}" for x in (x0, x1)]
        level = [f"M{x0:.1f} {y:.1f}H{x1:.1f}" for y in (y0, y1)]
        sides = zip(("left", "right", "top", "bottom"), upright + level, strict=True)
        d = "".join(path for name, path in sides if ax.spines[name].visible)
        self.parts.append(f'<path d="{d}" fill="none" stroke="#1a1a1a" stroke-width=".6"/>')

    def ticks(self) -> None:
        ax, box = self.ax, self.ax.get_window_extent()
        x_axis, y_axis = (ax.get_xlim(), ax.xticks, True), (ax.get_ylim(), ax.yticks, False)
        for limits, given, level in (x_axis, y_axis):
            low, high = sorted(limits)
            if given is None:
                values = [float(v) for v in _TICKS.tick_values(low, high)]
                given = values, [ax.number(v) for v in values]
            for value, name in zip(*given, strict=True):
                if not low - 1e-9 <= value <= high + 1e-9:
                    continue
                place = ax.transData.transform((value, value))
                x = float(place[0]) if level else box.x0
                y = ax.height_pt - (box.y0 if level else float(place[1]))
                mark = f"M{x:.1f} {y:.1f}{'v3' if level else 'h-3'}"
                if not level:
                    self.beside_pt = max(self.beside_pt, text_size_pt(name, 7.0)[0])
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

        def words(x: float, y: float, look: str, text: str) -> None:
            self.parts.append(f'<text x="{x:.1f}" y="{y:.1f}" {look}>{escape(text)}</text>')

        lines, named = ax.title.split("\n"), 'font-size="7.5" text-anchor="middle"'
        for k, line in enumerate(lines):
            y = top - 5.0 - 10.5 * (len(lines) - 1 - k)
            words(box.x0, y, 'font-size="8.5" font-weight="bold"', line)
        if ax.xlabel:
            words((box.x0 + box.x1) / 2.0, bottom + 20, named, ax.xlabel)
        if ax.ylabel:
            x, y = max(7.0, box.x0 - self.beside_pt - 10.0), (top + bottom) / 2.0
            words(x, y, f'{named} transform="rotate(-90 {x:.1f} {y:.1f})"', ax.ylabel)

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
        ordered = sorted(ax.items, key=lambda item: (not item.clipped, item.order))
        self.parts.append(f'<g clip-path="url(#{self.prefix}c)">')
        inside = True
        write: dict[str, Callable[[Any, dict[str, Any]], None]]
        write = {"line": self.line, "shape": self.shape, "text": self.text}
        for clipped, _, kind, thing, style in ordered:
            if inside and not clipped:
                self.parts.append("</g>")
                inside = False
            write[kind](thing, style)
        if inside:
            self.parts.append("</g>")
        self.frame()
        self.ticks()
        self.titles()
        top = max(0.0, ax.above_pt - (ax.height_pt - box.y1))
        high = ax.height_pt + top + max(0.0, ax.below_pt - box.y0)
        clip_rect = (
            f'<clipPath id="{self.prefix}c"><rect x="{box.x0:.1f}" '
            f'y="{ax.height_pt - box.y1:.1f}" width="{box.width:.1f}" '
            f'height="{box.height:.1f}"/></clipPath>'
        )
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 {-top:.0f} '
            f'{ax.width_pt:.0f} {high:.0f}" role="img" '
            f'aria-label="{escape(title + ". " + description, quote=True)}" '
            'font-family="DejaVu Sans, Verdana, sans-serif" fill="#1a1a1a">'
            "<style>.halo{paint-order:stroke;stroke:#fff;stroke-width:2px;"
            "stroke-linejoin:round}text{white-space:pre}</style>"
            f"<defs>{clip_rect}{self.pattern_defs()}</defs>"
            f'<rect y="{-top:.0f}" width="100%" height="100%" fill="#fff"/>'
            f"{''.join(self.parts)}</svg>"
        )


def screen_svg(ax: ScreenAxes, *, title: str, description: str = "", prefix: str = "d") -> str:
    """The drawing as an ``svg`` element with role img.

    Parameters:
      title, description: Name of the picture, and what it shows, for a screen reader.
      prefix: Makes the ids of this picture unique on its page.
    Raises: A line style or hatch that the writer does not know.
    """
    return _Writer(ax, prefix).svg(title, description)
