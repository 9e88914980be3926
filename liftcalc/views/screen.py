"""A light Axes for the screen, quick enough for a slider.

The printed sheet is drawn by matplotlib. On the screen a drawing must follow a slider, so :class:`ScreenAxes` only
keeps what the drawings put on it (lines, shapes, texts, ticks); :mod:`liftcalc.views.screen_svg` writes it down as SVG
and the browser lays out the text. It offers only what the drawings use and lacks the rest, so that nothing can be
missing on the screen without a word.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from types import SimpleNamespace
from typing import Any, NamedTuple

import numpy as np
from matplotlib.axes import Axes
from matplotlib.transforms import Bbox
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray

_MM_PT = 72.0 / 25.4


class _Linear:
    """Scale and shift of each coordinate."""

    def __init__(self, scale: FloatArray, shift: FloatArray) -> None:
        self._scale, self._shift = scale, shift

    def transform(self, points: ArrayLike) -> FloatArray:
        moved: FloatArray = np.asarray(points, dtype=np.float64) * self._scale + self._shift
        return moved

    def inverted(self) -> _Linear:
        return _Linear(1.0 / self._scale, -self._shift / self._scale)


class _Spine:
    """One side of the frame; all have one width and colour on the screen."""

    def __init__(self) -> None:
        self.visible = True

    def set_visible(self, visible: bool) -> None:
        self.visible = visible

    def set_linewidth(self, width: float) -> None: ...

    def set_color(self, colour: str) -> None: ...


class Mark(NamedTuple):
    """One thing drawn: a "line" (points), a "shape" (rings) or a "text" (place and words)."""

    clipped: bool
    order: float
    kind: str
    what: Any
    style: dict[str, Any]


Ticks = tuple[list[float], list[str]]


def number_text(value: float) -> str:
    """A tick's number with a true minus sign."""
    return f"{value:.10g}".replace("-", "\u2212")


class ScreenAxes:
    """Takes a drawing; coordinates and sizes as on a printed Axes."""

    def __init__(
        self,
        width_mm: float,
        height_mm: float,
        *,
        margins_mm: tuple[float, float, float, float] = (14.0, 12.0, 4.0, 8.0),
    ) -> None:
        self.figure = SimpleNamespace(dpi=72.0)  # one point is one pixel
        self.width_pt, self.height_pt = width_mm * _MM_PT, height_mm * _MM_PT
        left, bottom, right, top = (m * _MM_PT for m in margins_mm)
        self._box = Bbox.from_extents(left, bottom, self.width_pt - right, self.height_pt - top)
        self.spines = {name: _Spine() for name in ("left", "right", "top", "bottom")}
        self.items: list[Mark] = []
        self._x, self._y = (0.0, 1.0), (0.0, 1.0)
        self._data: _Linear | None = None
        self.xticks: Ticks | None = None
        self.yticks: Ticks | None = None
        self.title = self.xlabel = self.ylabel = ""
        self.above_pt = self.below_pt = 0.0
        """What title and key need above and below the frame; the picture grows with them."""
        self.number: Callable[[float], str] = number_text
        """Text of a tick's number."""

    def get_window_extent(self) -> Bbox:
        """The Axes on the picture, in points."""
        return self._box

    def tick_params(self, **style: Any) -> None:
        """Ticks have one look on the screen."""

    def set_aspect(self, aspect: str, *, adjustable: str) -> None:
        """Plans set limits of equal scale themselves."""

    def set_xlabel(self, text: str, **style: Any) -> None:
        """Name of the horizontal axis."""
        self.xlabel = text

    def set_ylabel(self, text: str, **style: Any) -> None:
        """Name of the vertical axis."""
        self.ylabel = text

    def set_title(self, text: str, **style: Any) -> None:
        """Title at the upper left."""
        self.title = text

    def set_xlim(self, low: float, high: float) -> None:
        """Horizontal limits."""
        self._x, self._data = (float(low), float(high)), None

    def set_ylim(self, low: float, high: float) -> None:
        """Vertical limits."""
        self._y, self._data = (float(low), float(high)), None

    def get_xlim(self) -> tuple[float, float]:
        """Horizontal limits."""
        return self._x

    def get_ylim(self) -> tuple[float, float]:
        """Vertical limits."""
        return self._y

    def _named(self, ticks: ArrayLike, labels: Sequence[str] | None) -> Ticks:
        places = np.asarray(ticks, dtype=np.float64).ravel().tolist()
        return places, list(labels) if labels is not None else [self.number(t) for t in places]

    def set_xticks(self, ticks: ArrayLike, labels: Sequence[str] | None = None) -> None:
        """Places and names of the ticks below."""
        self.xticks = self._named(ticks, labels)

    def set_yticks(self, ticks: ArrayLike, labels: Sequence[str] | None = None) -> None:
        """Places and names of the ticks at the left."""
        self.yticks = self._named(ticks, labels)

    @property
    def transData(self) -> _Linear:
        """From data to points."""
        if self._data is None:
            box, low, high = self._box, *np.column_stack([self._x, self._y])
            scale = np.array([box.width, box.height]) / (high - low)
            self._data = _Linear(scale, np.array([box.x0, box.y0]) - scale * low)
        return self._data

    def points_from(self, x: float, y: float) -> _Linear:
        """From points counted from a place given in Axes fractions."""
        box = self._box
        return _Linear(np.ones(2), np.array([box.x0 + x * box.width, box.y0 + y * box.height]))

    def _add(self, kind: str, thing: Any, style: dict[str, Any], default_order: float) -> None:
        order = float(style.get("zorder", default_order))
        clip = bool(style.get("clip_on", kind != "text" or "transform" not in style))
        self.items.append(Mark(clip, order, kind, thing, style))

    def stroke(self, xy: FloatArray, style: dict[str, Any]) -> None:
        """Add a line with the keyword arguments of a matplotlib line."""
        self._add("line", style.get("transform", self.transData).transform(xy), style, 2.0)

    def shape(self, rings: Sequence[FloatArray], style: dict[str, Any]) -> None:
        """Add closed rings with the keyword arguments of a matplotlib patch."""
        transform = style.get("transform", self.transData)
        self._add("shape", [transform.transform(r) for r in rings], style, 1.0)

    def text(self, x: float, y: float, text: str, **style: Any) -> None:
        """Add a text with the keyword arguments of a matplotlib text."""
        place = style.get("transform", self.transData).transform((x, y))
        self._add("text", (place, text), style, 3.0)


Drawable = Axes | ScreenAxes
