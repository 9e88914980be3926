"""A figure as a small SVG for the screen: same artists, written without a renderer.

Contents: :func:`figure_svg`.

The printed sheet is written by matplotlib. On the screen a drawing must follow a slider, so this
writer walks over the artists that the drawings use (lines, patches, texts, ticks) and lets the
browser draw the text. It knows no other artist and refuses what it does not know, so that
nothing can be missing on the screen without a word. No published source.
"""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.colors import to_rgba
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.markers import MarkerStyle
from matplotlib.patches import Patch
from matplotlib.text import Text
from numpy.typing import NDArray

from liftcalc.errors import LiftcalcError
from liftcalc.views.marks import text_size_pt

__all__ = ["figure_svg"]

FloatArray = NDArray[np.float64]
_HATCH_LINES = {
    "/": "M0 {s}L{s} 0",
    "\\": "M0 0L{s} {s}",
    "x": "M0 0L{s} {s}M0 {s}L{s} 0",
    "+": "M{h} 0V{s}M0 {h}H{s}",
    "|": "M{h} 0V{s}",
    "-": "M0 {h}H{s}",
}
_ANCHOR = {"left": "start", "center": "middle", "right": "end"}


def _colour(value: Any) -> tuple[str, float]:
    r, g, b, a = to_rgba(value)
    return f"#{round(r * 255):02x}{round(g * 255):02x}{round(b * 255):02x}", float(a)


class _Writer:
    """Collects the elements of one figure; lengths in points, y downwards."""

    def __init__(self, figure: Figure) -> None:
        self.scale = 72.0 / figure.dpi
        size = figure.get_size_inches() * 72.0
        self.width, self.height = float(size[0]), float(size[1])
        self.parts: list[str] = []
        self.patterns: dict[tuple[str, str], str] = {}

    def place(self, pixels: FloatArray) -> FloatArray:
        points = pixels * self.scale
        points[..., 1] = self.height - points[..., 1]
        return points

    def path(self, vertices: FloatArray, codes: NDArray[np.uint8] | None, *, close: bool) -> str:
        points = np.round(self.place(vertices), 1)
        pieces = []
        pen = False
        for k, (x, y) in enumerate(points):
            code = 2 if codes is None else int(codes[k])
            if code == 79:
                pieces.append("Z")
                pen = False
            elif not (np.isfinite(x) and np.isfinite(y)):
                pen = False
            elif code == 1 or not pen:
                pieces.append(f"M{x:g} {y:g}")
                pen = True
            else:
                pieces.append(f"L{x:g} {y:g}")
        return "".join(pieces) + ("Z" if close else "")

    def hatch(self, hatch: str, colour: str) -> str:
        name = self.patterns.get((hatch, colour))
        if name is None:
            name = f"h{len(self.patterns)}"
            self.patterns[hatch, colour] = name
        return name

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


def _dash(line: Any, width: float) -> str:
    style = line.get_linestyle()
    if style in ("-", "solid"):
        return ""
    offset_dashes = getattr(line, "_unscaled_dash_pattern", None)
    dashes = offset_dashes[1] if offset_dashes else None
    if not dashes:
        return ""
    values = " ".join(f"{d * max(width, 0.5):g}" for d in dashes)
    return f' stroke-dasharray="{values}"'


def _line(out: _Writer, line: Line2D) -> None:
    xy = np.column_stack([line.get_xdata(orig=False), line.get_ydata(orig=False)])
    pixels = line.get_transform().transform(np.asarray(xy, dtype=np.float64))
    width = line.get_linewidth()
    if line.get_linestyle() not in ("None", "none", "", " ") and width > 0 and len(xy) > 1:
        colour, alpha = _colour(line.get_color())
        fade = "" if alpha >= 1 else f' opacity="{alpha:g}"'
        d = out.path(pixels.copy(), None, close=False)
        out.parts.append(
            f'<path d="{d}" fill="none" stroke="{colour}" stroke-width="{width:g}"'
            f"{_dash(line, width)}{fade}/>"
        )
    if line.get_marker() not in (None, "None", "none", "", " "):
        _markers(out, line, pixels)


def _markers(out: _Writer, line: Line2D, pixels: FloatArray) -> None:
    every: Any = line.get_markevery()
    if isinstance(every, tuple):
        pixels = pixels[every[0] :: every[1]]
    elif isinstance(every, list):
        pixels = pixels[every]
    elif every is not None:
        raise LiftcalcError(f"marker spacing {every!r} is not known to the screen writer")
    style = MarkerStyle(line.get_marker())
    shape = style.get_path().transformed(style.get_transform())
    size = line.get_markersize() / out.scale
    face, _ = _colour(line.get_markerfacecolor())
    edge, _ = _colour(line.get_markeredgecolor())
    width = line.get_markeredgewidth()
    for x, y in pixels[np.isfinite(pixels).all(axis=1)]:
        outline = shape.interpolated(1).to_polygons(closed_only=False)
        d = "".join(
            out.path(np.asarray(ring) * size + (x, y), None, close=style.is_filled())
            for ring in outline
        )
        fill = face if style.is_filled() else "none"
        out.parts.append(f'<path d="{d}" fill="{fill}" stroke="{edge}" stroke-width="{width:g}"/>')


def _patch(out: _Writer, patch: Patch) -> None:
    path = patch.get_path().transformed(patch.get_transform())
    if path.codes is not None and bool(np.isin(path.codes, (3, 4)).any()):
        path = path.interpolated(1).cleaned(curves=False)
    d = out.path(np.array(path.vertices, dtype=np.float64), path.codes, close=True)  # type: ignore[arg-type]
    face, face_alpha = _colour(patch.get_facecolor())
    edge, edge_alpha = _colour(patch.get_edgecolor())
    width = patch.get_linewidth()
    stroke = f' stroke="{edge}" stroke-width="{width:g}"{_dash(patch, width)}'
    if edge_alpha == 0 or width == 0:
        stroke = ""
    fill = f'fill="{face}"' if face_alpha > 0 else 'fill="none"'
    if 0 < face_alpha < 1:
        fill += f' fill-opacity="{face_alpha:g}"'
    out.parts.append(f'<path d="{d}" {fill}{stroke}/>')
    hatch = patch.get_hatch()
    if hatch:
        name = out.hatch(hatch, edge if edge_alpha > 0 else "#6b6b6b")
        out.parts.append(f'<path d="{d}" fill="url(#@{name})"/>')


def _text(out: _Writer, text: Text) -> None:
    words = text.get_text()
    if not words:
        return
    x, y = out.place(text.get_transform().transform(text.get_unitless_position()))
    size = float(text.get_fontsize())
    colour, _ = _colour(text.get_color())
    lines = words.split("\n")
    step = 1.2 * size
    align = text.get_verticalalignment()
    if align in ("center", "center_baseline"):
        first = 0.36 * size - step * (len(lines) - 1) / 2.0
    elif align == "top":
        first = 0.93 * size
    else:
        first = -step * (len(lines) - 1) - (0.22 * size if align == "bottom" else 0.0)
    weight = text.get_fontweight()
    bold = ' font-weight="bold"' if weight in ("bold", 700) else ""
    anchor = _ANCHOR[str(text.get_horizontalalignment())]
    turn = text.get_rotation()
    rotate = f' transform="rotate({-turn:g} {x:.1f} {y:.1f})"' if turn else ""
    halo = ' class="halo"' if text.get_path_effects() else ""
    if text.get_bbox_patch() is not None:
        wide, high = text_size_pt(words, size, "bold" if bold else "normal")
        out.parts.append(
            f'<rect x="{x - wide / 2 - 1:.1f}" y="{y - high / 2 - 0.5:.1f}" width="{wide + 2:.1f}" '
            f'height="{high + 1:.1f}" fill="#fff" opacity=".85"/>'
        )
    body = "".join(
        f'<tspan x="{x:.1f}" y="{y + first + k * step:.1f}">{escape(line)}</tspan>'
        for k, line in enumerate(lines)
    )
    out.parts.append(
        f'<text font-size="{size:g}" fill="{colour}" text-anchor="{anchor}"'
        f"{bold}{rotate}{halo}>{body}</text>"
    )


def _ticks(out: _Writer, ax: Axes) -> None:
    frame = ax.get_window_extent()
    for axis, horizontal in ((ax.xaxis, True), (ax.yaxis, False)):
        low, high = sorted(axis.get_view_interval())
        values = np.asarray(axis.get_majorticklocs(), dtype=np.float64)
        names = axis.get_major_formatter().format_ticks(list(values))
        for value, name in zip(values, names, strict=True):
            if not low - 1e-9 <= value <= high + 1e-9:
                continue
            point = ax.transData.transform((value, 0.0) if horizontal else (0.0, value))
            px = (point[0], frame.y0) if horizontal else (frame.x0, point[1])
            x, y = out.place(np.array(px, dtype=np.float64))
            d = f"M{x:.1f} {y:.1f}v3" if horizontal else f"M{x:.1f} {y:.1f}h-3"
            out.parts.append(f'<path d="{d}" stroke="#1a1a1a" stroke-width=".6"/>')
            tx, ty = (x, y + 10.5) if horizontal else (x - 5, y + 2.5)
            anchor = "middle" if horizontal else "end"
            out.parts.append(
                f'<text x="{tx:.1f}" y="{ty:.1f}" font-size="7" text-anchor="{anchor}">'
                f"{escape(name)}</text>"
            )


def _frame(out: _Writer, ax: Axes) -> None:
    box = ax.get_window_extent()
    corners = out.place(np.array([[box.x0, box.y0], [box.x1, box.y1]], dtype=np.float64))
    (x0, y1), (x1, y0) = corners
    sides = {
        "left": f"M{x0:.1f} {y0:.1f}V{y1:.1f}",
        "right": f"M{x1:.1f} {y0:.1f}V{y1:.1f}",
        "top": f"M{x0:.1f} {y0:.1f}H{x1:.1f}",
        "bottom": f"M{x0:.1f} {y1:.1f}H{x1:.1f}",
    }
    d = "".join(path for name, path in sides.items() if ax.spines[name].get_visible())
    out.parts.append(f'<path d="{d}" fill="none" stroke="#1a1a1a" stroke-width=".6"/>')


def _titles(out: _Writer, ax: Axes) -> None:
    box = ax.get_window_extent()
    (x0, y1), (x1, y0) = out.place(np.array([[box.x0, box.y0], [box.x1, box.y1]], dtype=float))
    title = ax.get_title(loc="left").split("\n")
    for k, line in enumerate(title):
        y = y0 - 5.0 - 10.5 * (len(title) - 1 - k)
        out.parts.append(
            f'<text x="{x0:.1f}" y="{y:.1f}" font-size="8.5" font-weight="bold">'
            f"{escape(line)}</text>"
        )
    if ax.get_xlabel():
        out.parts.append(
            f'<text x="{(x0 + x1) / 2:.1f}" y="{y1 + 20:.1f}" font-size="7.5" '
            f'text-anchor="middle">{escape(ax.get_xlabel())}</text>'
        )
    if ax.get_ylabel():
        x, y = x0 - 30.0, (y0 + y1) / 2.0
        out.parts.append(
            f'<text x="{x:.1f}" y="{y:.1f}" font-size="7.5" text-anchor="middle" '
            f'transform="rotate(-90 {x:.1f} {y:.1f})">{escape(ax.get_ylabel())}</text>'
        )


def _write_artists(out: _Writer, artists: Iterable[Artist]) -> None:
    for artist in sorted(artists, key=lambda a: a.get_zorder()):
        if not artist.get_visible():
            continue
        if isinstance(artist, Line2D):
            _line(out, artist)
        elif isinstance(artist, Text):
            _text(out, artist)
        elif isinstance(artist, Patch):
            _patch(out, artist)
        else:
            raise LiftcalcError(f"{type(artist).__name__} is not known to the screen writer")


def figure_svg(figure: Figure, *, title: str, description: str = "", prefix: str = "d") -> str:
    """The figure as SVG text, drawn from its artists.

    Parameters
    ----------
    figure : Figure
        Axes with lines, patches and texts only.
    title, description : str
        Name of the picture, and what it shows, for a screen reader.
    prefix : str
        Makes the ids of this picture unique on its page.

    Returns
    -------
    str
        An ``svg`` element with role img.

    Raises
    ------
    LiftcalcError
        An artist that the writer does not know.
    """
    out = _Writer(figure)
    clips = []
    for k, ax in enumerate(figure.axes):
        window = ax.get_window_extent()
        corners = np.array([[window.x0, window.y1], [window.x1, window.y0]], dtype=np.float64)
        (x0, y0), (x1, y1) = out.place(corners)
        name = f"{prefix}c{k}"
        clips.append(
            f'<clipPath id="{name}"><rect x="{x0:.1f}" y="{y0:.1f}" '
            f'width="{x1 - x0:.1f}" height="{y1 - y0:.1f}"/></clipPath>'
        )
        artists: list[Artist] = [*ax.lines, *ax.patches, *ax.texts, *ax.collections, *ax.images]
        inside = [a for a in artists if a.get_clip_on()]
        outside = [a for a in artists if not a.get_clip_on()]
        out.parts.append(f'<g clip-path="url(#{name})">')
        _write_artists(out, inside)
        out.parts.append("</g>")
        _write_artists(out, outside)
        _frame(out, ax)
        _ticks(out, ax)
        _titles(out, ax)
    body = "".join(out.parts).replace("url(#@", f"url(#{prefix}")
    defs = out.pattern_defs().replace('id="h', f'id="{prefix}h')
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {out.width:.0f} {out.height:.0f}" '
        f'role="img" aria-label="{escape(title + ". " + description, quote=True)}" '
        'font-family="DejaVu Sans, Verdana, sans-serif" fill="#1a1a1a">'
        "<style>.halo{paint-order:stroke;stroke:#fff;stroke-width:2px;stroke-linejoin:round}text{white-space:pre}"
        f"</style><defs>{''.join(clips)}{defs}</defs>"
        f'<rect width="100%" height="100%" fill="#fff"/>{body}</svg>'
    )
