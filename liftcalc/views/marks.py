"""Marks of a drawing: labels that keep clear of each other, dimensions, scale bar, north, key.

Only plain lines, patches and texts are used, so that a drawing can also be written as a small
SVG for the screen. Label places are found from the font's own measures, not from a renderer: the
same data give the same drawing on every machine. No published source: drawing practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib import patheffects
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, PathPatch, Polygon
from matplotlib.path import Path
from matplotlib.text import Text
from matplotlib.transforms import Affine2D, ScaledTranslation, Transform
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.views.fonts import text_size_pt
from liftcalc.views.screen import Drawable, ScreenAxes, Stroke
from liftcalc.views.style import INK, TEXT_PT, Display, room_outside

__all__ = [
    "KeyEntry",
    "Labels",
    "dimension",
    "key",
    "north_arrow",
    "points_from",
    "polygon",
    "polyline",
    "scale_bar",
    "set_scale",
    "text_size_pt",
]

Box = tuple[float, float, float, float]
GROUND_BOX = {
    "boxstyle": "square,pad=0.15",
    "facecolor": "white",
    "edgecolor": "none",
    "alpha": 0.85,
}
HALO = [patheffects.withStroke(linewidth=2.0, foreground="white")]
METRIC_SCALES = tuple(
    step * power
    for power in (10, 100, 1000)
    for step in (2, 2.5, 3, 4, 5, 6, 7.5, 8, 10, 12.5, 15, 17.5)
)
US_SCALES = tuple(12 * n for n in (2, 4, 5, 8, 10, 15, 16, 20, 30, 40, 50, 60, 80, 100, 200, 400))


def points_from(ax: Drawable, x: float, y: float) -> Any:
    """Transform of points (1/72 in) counted from a place given in Axes fractions."""
    if isinstance(ax, ScreenAxes):
        return ax.points_from(x, y)
    figure = ax.figure
    assert figure is not None
    scale: Transform = Affine2D().scale(1.0 / 72.0) + figure.dpi_scale_trans
    return scale + ScaledTranslation(x, y, ax.transAxes)  # type: ignore[arg-type]


def polyline(ax: Drawable, xy: ArrayLike, **style: Any) -> Line2D | Stroke:
    """Add a line without touching the limits."""
    points = np.asarray(xy, dtype=np.float64)
    if isinstance(ax, ScreenAxes):
        return ax.stroke(points, style)
    line = Line2D(points[:, 0], points[:, 1], **style)
    # add_artist, unlike add_line, does not search the limits again
    ax.add_artist(line)
    return line


def _anticlockwise(ring: FloatArray) -> FloatArray:
    x, y = ring[:, 0], ring[:, 1]
    area = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    return ring if area >= 0.0 else ring[::-1]


def polygon(ax: Drawable, xy: ArrayLike, *, holes: Sequence[ArrayLike] = (), **style: Any) -> None:
    """Add a closed shape, with holes if any, without touching the limits."""
    ring = np.asarray(xy, dtype=np.float64)
    # a hole runs the other way round, so that every filling rule leaves it open
    inner = [_anticlockwise(np.asarray(h, dtype=np.float64))[::-1] for h in holes]
    if isinstance(ax, ScreenAxes):
        ax.shape([ring, *inner], style)
        return
    if not inner:
        patch: Patch = Polygon(ring, closed=True, **style)
    else:
        vertices: list[FloatArray] = []
        codes: list[Any] = []
        for part in (_anticlockwise(ring), *inner):
            closed = part if np.array_equal(part[0], part[-1]) else np.vstack([part, part[:1]])
            vertices.append(closed)
            codes += [Path.MOVETO, *[Path.LINETO] * (len(closed) - 2), Path.CLOSEPOLY]
        patch = PathPatch(Path(np.vstack(vertices), codes), **style)
    if patch.get_hatch():
        patch.set_hatch_linewidth(0.45)
    ax.add_artist(patch)


class Labels:
    """Places texts near their points so that no two texts cover each other."""

    RINGS = np.array((5.0, 11.0, 18.0, 27.0, 38.0, 52.0, 70.0, 92.0))
    TURNS = np.array([((j + 1) // 2) * (22.5 if j % 2 else -22.5) for j in range(16)])

    def __init__(self, ax: Drawable) -> None:
        figure = ax.figure
        assert figure is not None
        self.ax = ax
        self._to_pt = 72.0 / figure.dpi
        self._matrix = ax.transData
        self._inverse = ax.transData.inverted()
        window = ax.get_window_extent()
        scale = self._to_pt
        self.frame: Box = (
            scale * window.x0,
            scale * window.y0,
            scale * window.x1,
            scale * window.y1,
        )
        """The Axes on the figure: left, bottom, right, top, in points."""
        self._boxes: list[Box] = []
        self._soft: list[FloatArray] = []

    @property
    def boxes(self) -> tuple[Box, ...]:
        """Boxes taken by texts so far: left, bottom, right, top, in points on the figure."""
        return tuple(self._boxes)

    def at_pt(self, place: ArrayLike) -> tuple[float, float]:
        """Place of a data point on the figure, in points."""
        px, py = self._matrix.transform(np.asarray(place, dtype=np.float64))
        return float(px) * self._to_pt, float(py) * self._to_pt

    def to_data(self, x_pt: float, y_pt: float) -> tuple[float, float]:
        """Data point of a place on the figure given in points."""
        x, y = self._inverse.transform((x_pt / self._to_pt, y_pt / self._to_pt))
        return float(x), float(y)

    def keep_clear(self, place: ArrayLike, *, radius_pt: float = 4.0) -> None:
        """Keep texts away from a point where possible."""
        centre = np.tile(self.at_pt(place), 2)[None, :]
        self._soft.append(centre + radius_pt * np.array([-1.0, -1.0, 1.0, 1.0]))

    def keep_line_clear(self, xy: ArrayLike, *, radius_pt: float = 2.5) -> None:
        """Keep texts off a line where possible."""
        pixels = self._matrix.transform(np.asarray(xy, dtype=np.float64)) * self._to_pt
        pixels = pixels[np.isfinite(pixels).all(axis=1)]
        if len(pixels) < 2:
            return
        way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(pixels, axis=0).T))])
        at = np.linspace(0.0, way[-1], max(2, min(400, int(way[-1] / 5.0))))
        centre = np.column_stack([np.interp(at, way, pixels[:, k]) for k in (0, 1)])
        left, bottom, right, top = self.frame
        inside = (centre[:, 0] > left) & (centre[:, 0] < right)
        inside &= (centre[:, 1] > bottom) & (centre[:, 1] < top)
        centre = centre[inside]
        self._soft.append(np.hstack([centre - radius_pt, centre + radius_pt]))

    def reserve(self, box: Box) -> None:
        """Take a box (points on the figure) that is used by something else."""
        self._boxes.append(box)

    @staticmethod
    def _overlap(boxes: FloatArray, taken: FloatArray) -> FloatArray:
        """Area that each of *boxes* (n, 4) shares with all of *taken* (m, 4) together."""
        if not len(taken):
            return np.zeros(len(boxes))
        low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
        near = (taken[:, 2:] > low).all(axis=1) & (taken[:, :2] < high).all(axis=1)
        taken = taken[near]
        wide = np.minimum(boxes[:, None, 2], taken[:, 2])
        wide -= np.maximum(boxes[:, None, 0], taken[:, 0])
        tall = np.minimum(boxes[:, None, 3], taken[:, 3])
        tall -= np.maximum(boxes[:, None, 1], taken[:, 1])
        area: FloatArray = (np.maximum(wide, 0.0) * np.maximum(tall, 0.0)).sum(axis=1)
        return area

    def fits(self, place: ArrayLike, text: str, *, size_pt: float = TEXT_PT) -> bool:
        """True if a text centred on the place covers no other text."""
        px, py = self.at_pt(place)
        width, height = text_size_pt(text, size_pt)
        box = np.array([[px - width / 2, py - height / 2, px + width / 2, py + height / 2]])
        return not float(self._overlap(box, np.array(self._boxes).reshape(-1, 4))[0]) > 0.0

    def _cheapest(
        self, at: tuple[float, float], half: FloatArray, toward_deg: float, gap_pt: float
    ) -> tuple[float, float]:
        """Centre of the cheapest place for a box of half size *half* near *at*, in points."""
        turns = np.radians(toward_deg + self.TURNS)
        unit = np.column_stack([np.cos(turns), np.sin(turns)])
        taken = np.array(self._boxes).reshape(-1, 4)
        soft = np.vstack(self._soft) if self._soft else np.zeros((0, 4))
        best, place = np.inf, np.array(at)
        for first in range(0, len(self.RINGS), 2):
            # a farther ring costs at least this much: nothing out there can be cheaper
            if best <= 2.0 * first:
                break
            rings = self.RINGS[first : first + 2]
            # the box touches the ring with the side that faces the point
            reach = (rings[:, None, None] + gap_pt) * unit[None] + unit[None] * half
            centres = (np.array(at) + reach).reshape(-1, 2)
            cost = 2.0 * np.repeat(np.arange(first, first + len(rings)), len(turns))
            cost = cost + np.tile(0.02 * np.abs(self.TURNS), len(rings))
            boxes = np.hstack([centres - half - [1.0, 0.5], centres + half + [1.0, 0.5]])
            cost += 40.0 * self._outside(boxes) + 100.0 * self._overlap(boxes, taken)
            cost += 0.6 * self._overlap(boxes, soft)
            k = int(np.argmin(cost))
            if cost[k] < best:
                best, place = float(cost[k]), centres[k]
        return float(place[0]), float(place[1])

    def _outside(self, boxes: FloatArray) -> FloatArray:
        """How far each box reaches out of the Axes, in points."""
        left, bottom, right, top = self.frame
        outside = np.clip(left + 1.0 - boxes[:, 0], 0.0, None)
        outside += np.clip(bottom + 1.0 - boxes[:, 1], 0.0, None)
        outside += np.clip(boxes[:, 2] - right + 1.0, 0.0, None)
        outside += np.clip(boxes[:, 3] - top + 1.0, 0.0, None)
        return outside

    def add(
        self,
        place: ArrayLike,
        text: str,
        *,
        toward_deg: float = 45.0,
        size_pt: float = TEXT_PT,
        colour: str = INK,
        weight: str = "normal",
        leader: bool = True,
        gap_pt: float = 0.0,
        **style: Any,
    ) -> Text | None:
        """Write *text* near a data point, first choice in the direction *toward_deg*.

        The nearest place wins that lies inside the Axes, covers no other text and, if there is
        one, no line or point kept clear. A text far from its point gets a leader line.
        """
        px, py = self.at_pt(place)
        width, height = text_size_pt(text, size_pt, weight)
        half = np.array([width, height]) / 2.0
        cx, cy = self._cheapest((px, py), half, toward_deg, gap_pt)
        box = (cx - half[0], cy - half[1], cx + half[0], cy + half[1])
        self._boxes.append(box)
        distance = max(box[0] - px, px - box[2], box[1] - py, py - box[3], 0.0)
        if leader and distance > 9.0 + gap_pt:
            near = (min(max(px, box[0]), box[2]), min(max(py, box[1]), box[3]))
            polyline(
                self.ax,
                [self.to_data(px, py), self.to_data(*near)],
                color=colour,
                linewidth=0.5,
                zorder=8,
                gid="leader",
            )
        return self.write(
            self.to_data(cx, cy),
            text,
            size_pt=size_pt,
            colour=colour,
            weight=weight,
            take=False,
            **style,
        )

    def write(
        self,
        place: ArrayLike,
        text: str,
        *,
        size_pt: float = TEXT_PT,
        colour: str = INK,
        weight: str = "normal",
        rotation: float = 0.0,
        take: bool = True,
        ground: bool = False,
        **style: Any,
    ) -> Text | None:
        """Write *text* centred on a data point, on a white ground if it lies on a hatch."""
        x, y = np.asarray(place, dtype=np.float64)
        if ground:
            style["bbox"] = GROUND_BOX
        if take:
            px, py = self.at_pt(place)
            width, height = text_size_pt(text, size_pt, weight)
            c, s = abs(np.cos(np.radians(rotation))), abs(np.sin(np.radians(rotation)))
            w, h = (c * width + s * height) / 2.0, (s * width + c * height) / 2.0
            self._boxes.append((px - w, py - h, px + w, py + h))
        return self.ax.text(
            float(x),
            float(y),
            text,
            fontsize=size_pt,
            color=colour,
            fontweight=weight,
            rotation=rotation,
            rotation_mode="anchor",
            ha="center",
            va="center",
            zorder=9,
            path_effects=HALO,
            linespacing=1.15,
            **style,
        )


def dimension(
    ax: Drawable,
    labels: Labels,
    start: ArrayLike,
    end: ArrayLike,
    text: str,
    *,
    offset_pt: float = 12.0,
    colour: str = INK,
) -> Text | None:
    """Dimension between two points, its line moved square to it (left of start to end)."""
    a, b = np.array(labels.at_pt(start)), np.array(labels.at_pt(end))
    along = b - a
    span = float(np.hypot(*along))
    if not span > 0:
        raise ValueError("a dimension needs two different points")
    along /= span
    side = np.array([-along[1], along[0]])
    sign = 1.0 if offset_pt >= 0 else -1.0
    shift = side * offset_pt
    a1, b1 = a + shift, b + shift
    style: dict[str, Any] = {"color": colour, "linewidth": 0.5, "zorder": 7, "gid": "dimension"}
    if abs(offset_pt) > 3.0:
        for p, q in ((a, a1), (b, b1)):
            polyline(
                ax,
                [labels.to_data(*(p + side * sign * 2)), labels.to_data(*(q + side * sign * 3))],
                **style,
            )
    line = [labels.to_data(*a1), labels.to_data(*b1)]
    polyline(ax, line, **style)
    labels.keep_line_clear(line)
    tick = (along + side) * 2.6
    for p in (a1, b1):
        polyline(
            ax,
            [labels.to_data(*(p - tick)), labels.to_data(*(p + tick))],
            **{**style, "linewidth": 1.0},
        )
    if not text:
        return None
    angle = float(np.degrees(np.arctan2(along[1], along[0])))
    up = 1.0
    if angle > 90.0 + 1e-6 or angle <= -90.0 + 1e-6:
        angle += 180.0 if angle <= 0 else -180.0
        up = -1.0
    middle = (a1 + b1) / 2.0 + side * up * 5.5
    return labels.write(labels.to_data(*middle), text, rotation=angle, colour=colour)


def set_scale(
    ax: Drawable,
    bounds: tuple[float, float, float, float],
    *,
    system: str = "metric",
    standard: bool = True,
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


def _nice(length: float) -> float:
    power = 10.0 ** np.floor(np.log10(length))
    return float(max(s * power for s in (1.0, 2.0, 5.0) if s * power <= length))


def scale_bar(
    ax: Drawable, labels: Labels, display: Display, *, scale: float | None = None
) -> None:
    """Scale bar of four parts at the lower left, with the drawing scale where it is round."""
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
    box = (left - 5.0, bottom - 5.0, left + width_pt + 8.0 + text_wide, bottom + 8.0)
    corner = [labels.to_data(box[0], box[1]), labels.to_data(box[2], box[3])]
    ring = [
        corner[0],
        (corner[1][0], corner[0][1]),
        corner[1],
        (corner[0][0], corner[1][1]),
    ]
    polygon(ax, ring, facecolor="white", edgecolor="none", zorder=9, alpha=0.9)
    for k in range(4):
        x = x0 + k * length / 4.0
        polygon(
            ax,
            [(x, y0), (x + length / 4, y0), (x + length / 4, y0 + height), (x, y0 + height)],
            facecolor=INK if k % 2 == 0 else "white",
            edgecolor=INK,
            linewidth=0.6,
            zorder=10,
            gid="scale bar",
        )
    labels.reserve(box)
    tx, ty = labels.to_data(left + width_pt + 4.0, bottom + 1.5)
    ax.text(tx, ty, text, fontsize=TEXT_PT, color=INK, ha="left", va="center", zorder=10)


def north_arrow(ax: Drawable, labels: Labels, *, north_deg: float = 90.0) -> None:
    """North arrow at the upper right; *north_deg* is the way of north on the paper."""
    cx, cy = labels.frame[2] - 16.0, labels.frame[3] - 22.0
    a = np.radians(north_deg)
    along, side = np.array([np.cos(a), np.sin(a)]), np.array([-np.sin(a), np.cos(a)])
    centre = np.array([cx, cy])
    tip, tail = centre + along * 13.0, centre - along * 13.0
    for sign, face in ((1.0, INK), (-1.0, "white")):
        ring = [tip, centre + side * sign * 5.0 - along * 7.0, centre - along * 3.0]
        polygon(
            ax,
            [labels.to_data(*p) for p in ring],
            facecolor=face,
            edgecolor=INK,
            linewidth=0.6,
            zorder=10,
            gid="north",
        )
    place = labels.to_data(*tail)
    ax.text(
        *place,
        "N",
        fontsize=8.0,
        fontweight="bold",
        ha="center",
        va="center",
        zorder=10,
        path_effects=HALO,
    )
    labels.reserve((cx - 12.0, cy - 20.0, cx + 12.0, cy + 16.0))


@dataclass(frozen=True)
class KeyEntry:
    """One entry of the key: a line sample or a filled sample, and its words."""

    text: str
    line: dict[str, Any] | None = None
    patch: dict[str, Any] | None = None


def key(ax: Drawable, entries: Sequence[KeyEntry], *, below_pt: float = 30.0) -> float:
    """Key under the Axes, wrapped to its width; returns its height in points."""
    figure = ax.figure
    assert figure is not None
    width = ax.get_window_extent().width * 72.0 / figure.dpi
    transform = points_from(ax, 0.0, 0.0)
    x, y, row = 0.0, -below_pt, TEXT_PT * 1.6
    for entry in entries:
        wide = 24.0 + text_size_pt(entry.text, TEXT_PT)[0] + 10.0
        if x > 0.0 and x + wide > width + 6.0:
            x, y = 0.0, y - row
        if entry.patch is not None:
            ring = [(x, y - 3.5), (x + 20.0, y - 3.5), (x + 20.0, y + 3.5), (x, y + 3.5)]
            polygon(ax, ring, transform=transform, clip_on=False, **entry.patch)
        if entry.line is not None:
            sample = [(x, y), (x + 10.0, y), (x + 20.0, y)]
            line = polyline(ax, sample, transform=transform, clip_on=False, **entry.line)
            if entry.line.get("marker"):
                line.set_markevery([1])
        ax.text(
            x + 24.0,
            y,
            entry.text,
            transform=transform,
            fontsize=TEXT_PT,
            color=INK,
            ha="left",
            va="center_baseline",
            clip_on=False,
        )
        x += wide
    depth = row - y
    if not isinstance(ax, ScreenAxes):
        room_outside(ax, below_pt=depth)
    return depth
