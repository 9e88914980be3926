"""Marks of a drawing: scale and scale bar, north, dimensions, key.

Drawing practice.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.views.labels import HALO, Labels
from liftcalc.views.screen import Drawable
from liftcalc.views.strokes import box, direction_deg, points_from, polygon, polyline
from liftcalc.views.style import INK, TEXT_PT, Display, fill, room_outside, text_size_pt

KeyEntry = tuple[str, dict[str, Any]]
"""Words of one entry of the key and the look of its sample: filled, or else a line."""
METRIC_SCALES = tuple(
    step * power for power in (10, 100, 1000) for step in (2, 2.5, 3, 4, 5, 6, 7.5, 8, 10, 12.5, 15, 17.5)
)
US_SCALES = tuple(12 * n for n in (2, 4, 5, 8, 10, 15, 16, 20, 30, 40, 50, 60, 80, 100, 200, 400))


def dimension(labels: Labels, start: ArrayLike, end: ArrayLike, text: str, *, offset_pt: float = 12.0) -> None:
    """Dimension between two points, its line moved square to it (left of start to end).

    Where the line is too short for the text, the text stands beside it.
    """
    ax = labels.ax
    a, b = np.array(labels.at_pt(start)), np.array(labels.at_pt(end))
    along = b - a
    span = float(np.hypot(*along))
    if not span > 0:
        raise ValueError("a dimension needs two different points")
    along /= span
    side = np.array([-along[1], along[0]])
    sign = 1.0 if offset_pt >= 0 else -1.0
    a1, b1 = a + side * offset_pt, b + side * offset_pt
    style: dict[str, Any] = {"color": INK, "linewidth": 0.5, "zorder": 7, "gid": "dimension"}
    if abs(offset_pt) > 3.0:
        for p, q in ((a, a1), (b, b1)):
            ends = (p + side * sign * 2, q + side * sign * 3)
            polyline(ax, [labels.to_data(*end) for end in ends], **style)
    line = [labels.to_data(*a1), labels.to_data(*b1)]
    polyline(ax, line, **style)
    labels.keep_line_clear(line)
    tick = (along + side) * 2.6
    style["linewidth"] = 1.0
    for p in (a1, b1):
        polyline(ax, [labels.to_data(*end) for end in (p - tick, p + tick)], **style)
    if not text:
        return
    if span < text_size_pt(labels.display.words(text), TEXT_PT)[0] + 8.0:
        toward = direction_deg(side * sign)
        place = labels.to_data(*(0.8 * a1 + 0.2 * b1))  # clear of the text of one farther out
        labels.add(place, text, toward_deg=toward, gap_pt=2.0, ground=True)
        return
    angle = direction_deg(along)
    up = 1.0
    if angle > 90.0 + 1e-6 or angle <= -90.0 + 1e-6:
        angle += 180.0 if angle <= 0 else -180.0
        up = -1.0
    middle = (a1 + b1) / 2.0 + side * up * 5.5
    labels.write(labels.to_data(*middle), text, rotation=angle)


def set_scale(
    ax: Drawable, bounds: tuple[float, float, float, float], *, system: str = "metric", standard: bool = True
) -> float:
    """Set limits that hold *bounds* (x0, y0, x1, y1 in display units) and return the scale 1:N.

    With ``standard`` the nearest round drawing scale that still holds the bounds is taken.
    """
    figure = ax.figure
    assert figure is not None
    window = ax.get_window_extent()
    unit_in = 12.0 if system == "us" else 1.0 / 0.0254
    wide, high = window.width / figure.dpi, window.height / figure.dpi
    x0, y0, x1, y1 = bounds
    need = max((x1 - x0) * unit_in / wide, (y1 - y0) * unit_in / high)
    if standard:
        scales = US_SCALES if system == "us" else METRIC_SCALES
        need = next((float(n) for n in scales if n >= need), need)
    cx, cy = (x0 + x1) / 2.0, (y0 + y1) / 2.0
    dx, dy = wide * need / unit_in / 2.0, high * need / unit_in / 2.0
    ax.set_xlim(cx - dx, cx + dx)
    ax.set_ylim(cy - dy, cy + dy)
    return float(need)


def to_scale(ax: Drawable, bounds_m: ArrayLike, display: Display, *, standard: bool = True) -> Labels:
    """Set limits that hold *bounds_m* (x0, y0, x1, y1) to scale, with a scale bar."""
    x0, y0, x1, y1 = display.length(bounds_m).tolist()
    scale = set_scale(ax, (x0, y0, x1, y1), system=display.system, standard=standard)
    labels = Labels(ax, display)
    scale_bar(labels, scale=scale if standard else None)
    return labels


def _nice(length: float) -> float:
    power = 10.0 ** np.floor(np.log10(length))
    return float(max(s * power for s in (1.0, 2.0, 5.0) if s * power <= length))


def scale_bar(labels: Labels, *, scale: float | None = None) -> None:
    """Scale bar of four parts at the lower left, with the drawing scale where it is round."""
    ax, display = labels.ax, labels.display
    low, high = ax.get_xlim()
    length = _nice((high - low) * 0.28)
    left, bottom = labels.frame[0] + 8.0, labels.frame[1] + 9.0
    x0, y0 = labels.to_data(left, bottom)
    height = labels.to_data(left, bottom + 3.0)[1] - y0
    unit = display.unit("length_m")
    width_pt = labels.at_pt((x0 + length, y0))[0] - left
    text = f"{length:g} {unit}"
    if scale is not None:
        text += f"   Scale 1:{scale:.0f} when printed full size"
    text_wide = text_size_pt(text, TEXT_PT)[0]
    taken = (left - 5.0, bottom - 5.0, left + width_pt + 8.0 + text_wide, bottom + 8.0)
    ring = box(*labels.to_data(*taken[:2]), *labels.to_data(*taken[2:]))
    polygon(ax, ring, facecolor="white", edgecolor="none", zorder=9, alpha=0.9)
    for k in range(4):
        x = x0 + k * length / 4.0
        look = fill("white" if k % 2 else INK, width=0.6)
        polygon(ax, box(x, y0, x + length / 4, y0 + height), zorder=10, gid="scale bar", **look)
    labels.reserve(taken)
    tx, ty = labels.to_data(left + width_pt + 4.0, bottom + 1.5)
    ax.text(tx, ty, text, fontsize=TEXT_PT, color=INK, ha="left", va="center", zorder=10)


def north_arrow(labels: Labels) -> None:
    """North arrow at the upper right, north up the paper."""
    x, y = labels.frame[2] - 16.0, labels.frame[3] - 22.0
    for side, face in ((-5.0, INK), (5.0, "white")):
        ring = [labels.to_data(*p) for p in ((x, y + 13.0), (x + side, y - 7.0), (x, y - 3.0))]
        polygon(labels.ax, ring, zorder=10, gid="north", **fill(face, width=0.6))
    look: dict[str, Any] = {"fontsize": 8.0, "fontweight": "bold", "ha": "center", "va": "center"}
    labels.ax.text(*labels.to_data(x, y - 13.0), "N", zorder=10, path_effects=HALO, **look)
    labels.reserve((x - 12.0, y - 20.0, x + 12.0, y + 16.0))


def key(ax: Drawable, entries: Sequence[KeyEntry], display: Display, *, below_pt: float = 30.0) -> None:
    """Key under the Axes, wrapped to its width."""
    figure = ax.figure
    assert figure is not None
    width = ax.get_window_extent().width * 72.0 / figure.dpi
    transform = points_from(ax, 0.0, 0.0)
    x, y, row = 0.0, -below_pt, TEXT_PT * 1.6
    beside: dict[str, Any] = {"transform": transform, "clip_on": False}
    style = {**beside, "fontsize": TEXT_PT, "color": INK, "ha": "left", "va": "center_baseline"}
    for text, look in entries:
        words = display.words(text)
        width_pt = 24.0 + text_size_pt(words, TEXT_PT)[0] + 10.0
        if x > 0.0 and x + width_pt > width + 6.0:
            x, y = 0.0, y - row
        if "facecolor" in look:
            polygon(ax, box(x, y - 3.5, x + 20.0, y + 3.5), **beside, **look)
        else:
            sample = [(x, y), (x + 10.0, y), (x + 20.0, y)]
            polyline(ax, sample, **{**beside, "markevery": [1], **look})
        ax.text(x + 24.0, y, words, **style)
        x += width_pt
    room_outside(ax, below_pt=row - y)
