"""Drawings as SVG text for sheets: the same in every run, cut to what is drawn, with little work.

Contents: :func:`svg_text`. No formula and no published source.

``bbox_inches="tight"`` draws everything twice, and looking for the box of all that is drawn lays
out every text once more for another renderer. Here a drawing is made once, on a page with wide
margins, and the box is noted while drawing. Sizes of texts and outlines of letters depend on the
font alone; they are kept from drawing to drawing.
"""

from __future__ import annotations

import io
import os
import re
import threading
from collections.abc import Hashable
from typing import Any

import numpy as np
from matplotlib import rc_context, rcParams
from matplotlib.backends.backend_mixed import MixedModeRenderer
from matplotlib.backends.backend_svg import FigureCanvasSVG, RendererSVG
from matplotlib.figure import Figure
from matplotlib.textpath import TextToPath
from matplotlib.transforms import Bbox

from liftcalc.base.arrays import FloatArray

__all__ = ["svg_text"]

_PAD_IN = 0.08
_MARGIN_IN = 5.0
_KEPT = 4096
_STYLE: Any = {"svg.hashsalt": "liftcalc", "svg.fonttype": "path"}
_METADATA: dict[str, Any] = {"Date": None, "Creator": None}
_FAMILIES: Any = tuple(
    f"font.{n}" for n in ("sans-serif", "serif", "monospace", "cursive", "fantasy")
)
_OUTLINES: Any = ("text.hinting", "text.hinting_factor", "text.kerning_factor")
"""Settings on which the outlines of a text depend beside its own font properties."""


# what matplotlib leaves without types
_TextToPath: Any = TextToPath
_RendererSVG: Any = RendererSVG
_MixedModeRenderer: Any = MixedModeRenderer


class _Letters(_TextToPath):  # type: ignore[misc]
    """Outlines of texts: each font is looked up once and each text laid out once."""

    def __init__(self) -> None:
        super().__init__()
        self._open: dict[int, tuple[Any, Hashable]] = {}
        self._kept: dict[Hashable, Any] = {}

    def after_fork(self) -> None:
        """Let go of open fonts: parent and child would read them at one place of one file."""
        self._open.clear()

    def _keep(self, key: Hashable, value: Any) -> Any:
        if len(self._kept) >= _KEPT:
            self._kept.clear()
        self._kept[key] = value
        return value

    @staticmethod
    def _face(prop: Any) -> tuple[Hashable, ...]:
        """What chooses the font and its outlines; its size does not."""
        return (
            *(tuple(rcParams[name]) for name in _FAMILIES),
            *(rcParams.get(name) for name in _OUTLINES),
            tuple(prop.get_family()),
            prop.get_style(),
            prop.get_variant(),
            prop.get_weight(),
            prop.get_stretch(),
            str(prop.get_file()),
        )

    def _get_font(self, prop: Any) -> Any:
        face = self._face(prop)
        font = super()._get_font(prop)
        self._open[id(font)] = (font, face)  # held, so that its id stays its own
        return font

    def get_text_width_height_descent(self, s: str, prop: Any, ismath: Any) -> Any:
        if ismath:
            return super().get_text_width_height_descent(s, prop, ismath)
        key = ("size", s, self._face(prop))
        size = self._kept.get(key)
        if size is None:
            unit = prop.copy()
            unit.set_size(self.FONT_SCALE)
            size = self._keep(key, super().get_text_width_height_descent(s, unit, ismath))
        scale = prop.get_size_in_points() / self.FONT_SCALE
        return tuple(part * scale for part in size)

    def get_text_path(self, prop: Any, s: str, ismath: Any = False, **options: Any) -> Any:
        if ismath:
            return super().get_text_path(prop, s, ismath=ismath, **options)
        key = ("path", s, self._face(prop), tuple(map(str, options.values())))
        found = self._kept.get(key)
        if found is None:
            vertices, codes = super().get_text_path(prop, s, ismath=ismath, **options)
            found = self._keep(key, (np.array(vertices), np.array(codes, dtype=np.uint8)))
        return found

    def get_glyphs_with_font(
        self,
        font: Any,
        s: str,
        glyph_map: Any = None,
        return_new_glyphs_only: bool = False,
        **options: Any,
    ) -> Any:
        if id(font) not in self._open:
            return super().get_glyphs_with_font(
                font, s, glyph_map, return_new_glyphs_only, **options
            )
        key = ("line", s, self._open[id(font)][1], tuple(map(str, options.values())))
        found = self._kept.get(key)
        if found is None:
            outlines: dict[str, Any] = {}
            line, _, boxes = super().get_glyphs_with_font(font, s, outlines, **options)
            found = self._keep(key, (line, outlines, boxes))
        line, outlines, boxes = found
        known = {} if glyph_map is None else glyph_map
        new = {name: shape for name, shape in outlines.items() if name not in known}
        if not return_new_glyphs_only:
            known.update(new)
            new = known
        return line, new, boxes


class _Renderer(_RendererSVG):  # type: ignore[misc]
    """SVG renderer that notes the box of all that is drawn, in points from the lower left."""

    def __init__(self, *args: Any, letters: _Letters, **options: Any) -> None:
        super().__init__(*args, **options)
        self._text2path = letters
        self.low = np.array([np.inf, np.inf])
        self.high = -self.low
        self.sure = True

    def _note(self, gc: Any, points: FloatArray, around: float = 0.0) -> None:
        clip = None if gc is None else gc.get_clip_rectangle()
        if clip is not None:
            points, around = clip.get_points(), 0.0
        if not len(points):
            return
        low, high = np.nanmin(points, axis=0) - around, np.nanmax(points, axis=0) + around
        if (low <= 0.5).all() and (high >= [self.width - 0.5, self.height - 0.5]).all():
            return  # the page itself
        np.fmin(self.low, low, out=self.low)
        np.fmax(self.high, high, out=self.high)

    def draw_path(self, gc: Any, path: Any, transform: Any, rgbFace: Any = None) -> None:
        super().draw_path(gc, path, transform, rgbFace)
        points = path.vertices
        if path.codes is not None:
            points = points[path.codes != path.CLOSEPOLY]  # where it closes to is no point of it
        self._note(gc, transform.transform(points), gc.get_linewidth() / 2.0)

    def draw_markers(
        self,
        gc: Any,
        marker_path: Any,
        marker_trans: Any,
        path: Any,
        trans: Any,
        rgbFace: Any = None,
    ) -> None:
        super().draw_markers(gc, marker_path, marker_trans, path, trans, rgbFace)
        size = np.abs(marker_trans.transform(marker_path.vertices)).max(initial=0.0)
        self._note(gc, trans.transform(path.vertices), float(size))

    def draw_text(
        self,
        gc: Any,
        x: float,
        y: float,
        s: str,
        prop: Any,
        angle: float,
        ismath: Any = False,
        mtext: Any = None,
    ) -> None:
        super().draw_text(gc, x, y, s, prop, angle, ismath, mtext)
        width, height, descent = self.get_text_width_height_descent(s, prop, ismath)
        turn = np.radians(angle)
        c, s_ = np.cos(turn), np.sin(turn)
        box = np.array([(a, b) for a in (0.0, width) for b in (-descent, height - descent)])
        corners = box @ np.array([[c, s_], [-s_, c]])
        self._note(gc, corners + np.array([x, self.height - y]))

    def _box_unknown(self, gc: Any) -> None:
        if gc.get_clip_rectangle() is None:
            self.sure = False
        else:
            self._note(gc, np.zeros((1, 2)))

    def draw_path_collection(self, gc: Any, *args: Any, **options: Any) -> None:
        super().draw_path_collection(gc, *args, **options)
        self._box_unknown(gc)

    def draw_image(self, gc: Any, x: float, y: float, im: Any, transform: Any = None) -> None:
        super().draw_image(gc, x, y, im, transform)
        self._box_unknown(gc)

    def draw_quad_mesh(self, gc: Any, *args: Any, **options: Any) -> None:
        super().draw_quad_mesh(gc, *args, **options)
        self._box_unknown(gc)

    def draw_gouraud_triangles(self, gc: Any, *args: Any, **options: Any) -> None:
        super().draw_gouraud_triangles(gc, *args, **options)
        self._box_unknown(gc)


_here = threading.local()
"""Fonts must not pass from thread to thread, nor from process to process."""


def _after_fork() -> None:
    if hasattr(_here, "letters"):
        _here.letters.after_fork()


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_after_fork)


class _Canvas(FigureCanvasSVG):
    """SVG canvas with the renderer above; *drawn* is the box in points, if it is known."""

    drawn: Bbox | None = None

    def print_svg(
        self,
        filename: Any,
        *,
        bbox_inches_restore: Any = None,
        metadata: Any = None,
        **_others: Any,
    ) -> None:
        if not hasattr(_here, "letters"):
            _here.letters = _Letters()
        dpi = self.figure.dpi
        self.figure.dpi = 72
        width, height = self.figure.get_size_inches()
        renderer = _Renderer(
            72 * width,
            72 * height,
            filename,
            image_dpi=dpi,
            metadata=metadata,
            letters=_here.letters,
        )
        mixed = _MixedModeRenderer(
            self.figure, width, height, dpi, renderer, bbox_inches_restore=bbox_inches_restore
        )
        self.figure.draw(mixed)
        mixed.finalize()
        if renderer.sure and np.isfinite(renderer.low).all():
            self.drawn = Bbox([renderer.low, renderer.high])


def _drawn(figure: Figure, page: Bbox) -> tuple[str, Bbox | None]:
    """The drawing on the given page, and the box of what is drawn, if it is known."""
    before = figure.canvas
    canvas = _Canvas(figure)
    buffer = io.StringIO()
    try:
        canvas.print_figure(buffer, format="svg", bbox_inches=page, metadata=dict(_METADATA))
    finally:
        figure.set_canvas(before)
    return buffer.getvalue(), canvas.drawn


def _cut_by_library(figure: Figure) -> str:
    buffer = io.StringIO()
    figure.savefig(
        buffer, format="svg", bbox_inches="tight", pad_inches=_PAD_IN, metadata=dict(_METADATA)
    )
    return buffer.getvalue()


def svg_text(figure: Figure) -> str:
    """The figure as SVG text, the same in every run, cut to what is drawn."""
    width_in, height_in = figure.get_size_inches()
    margin = _MARGIN_IN
    page = Bbox([[-margin, -margin], [width_in + margin, height_in + margin]])
    high, wide = 72 * page.height, 72 * page.width
    with rc_context(_STYLE):
        try:
            text, drawn = _drawn(figure, page)
        except (AttributeError, TypeError):
            # another release of matplotlib may name its inner parts otherwise; if the drawing
            # itself is at fault, the library's way below says so
            text, drawn = "", None
        if drawn is None or not ((drawn.p0 >= 0).all() and (drawn.p1 <= (wide, high)).all()):
            text, drawn = _cut_by_library(figure), None
    body = text[text.index("<svg") :]
    if drawn is None:
        return body
    drawn = drawn.padded(72 * _PAD_IN)
    end = body.index(">")
    head = body[:end]
    for name, value in (
        ("width", f"{drawn.width:.3f}pt"),
        ("height", f"{drawn.height:.3f}pt"),
        ("viewBox", f"{drawn.x0:.3f} {high - drawn.y1:.3f} {drawn.width:.3f} {drawn.height:.3f}"),
    ):
        head = re.sub(rf'\s{name}="[^"]*"', f' {name}="{value}"', head, count=1)
    return head + body[end:]
