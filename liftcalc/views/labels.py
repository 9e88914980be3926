"""Texts of a drawing that keep clear of each other and of what is drawn.

Places are found from the font's own measures, not from a renderer: the same data give the same
drawing on every machine, and the drawing on the screen, which has no renderer, is placed alike.

Two maintained, permissive libraries were tried on the plans of the demo lifts and not taken. Both
measure by matplotlib's renderer. adjustText 1.4 pushes texts apart for a second of time: three runs
on one plan gave three pictures, one with an overlap, and it knows of no lines. textalloc 1.2 is as
deterministic as this module and searches alike, but knows only forbidden and free ground: it left
an obstacle's name out, which a plan may not.
"""

from functools import lru_cache
from typing import Any

import numpy as np
import shapely
from matplotlib import patheffects
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.views.screen import Drawable
from liftcalc.views.strokes import polyline
from liftcalc.views.style import INK, TEXT_PT, Display, text_size_pt

Box = tuple[float, float, float, float]
GROUND_BOX = {
    "boxstyle": "square,pad=0.15",
    "facecolor": "white",
    "edgecolor": "none",
    "alpha": 0.85,
}
HALO = [patheffects.withStroke(linewidth=2.0, foreground="white")]


TILE_PT = 6.0


@lru_cache(maxsize=256)
def _seen(points: bytes, frame: Box) -> shapely.Geometry:
    """The part of a closed shape, corners in points, that lies inside the frame."""
    shape = shapely.Polygon(np.frombuffer(points).reshape(-1, 2))
    shape = shape if shape.is_valid else shape.buffer(0)
    return shape.intersection(shapely.box(*frame))


@lru_cache(maxsize=256)
def _tiles(points: bytes, frame: Box) -> FloatArray:
    """Boxes that fill what is seen of a closed shape."""
    area = _seen(points, frame)
    if area.is_empty:
        return np.zeros((0, 4))
    x0, y0, x1, y1 = area.bounds
    x, y = np.meshgrid(np.arange(x0, x1, TILE_PT), np.arange(y0, y1, TILE_PT))
    centre = np.column_stack([x.ravel(), y.ravel()]) + TILE_PT / 2.0
    inside = centre[shapely.contains_xy(area, centre)]
    return np.hstack([inside - TILE_PT / 2.0, inside + TILE_PT / 2.0])


@lru_cache(maxsize=256)
def _places_inside(
    points: bytes, frame: Box, width: float, height: float
) -> tuple[FloatArray, FloatArray]:
    """Middles of a text that lies inside a closed shape, and how far each is off its middle."""
    area = _seen(points, frame)
    none = np.zeros((0, 2)), np.zeros(0)
    if area.area < 4.0 * width * height:
        return none
    half = np.array([width, height]) / 2.0 + [2.0, 1.0]
    x0, y0, x1, y1 = area.bounds
    x, y = (np.linspace(a, b, 15) for a, b in ((x0, x1), (y0, y1)))
    centres = np.array([(a, b) for a in x for b in y])
    fits = shapely.contains(area, shapely.box(*np.hstack([centres - half, centres + half]).T))
    middle = np.asarray(area.representative_point().coords[0])
    return centres[fits], np.hypot(*(centres[fits] - middle).T)


class Labels:
    """Places texts near their points so that no two texts cover each other."""

    RINGS = np.array((5.0, 11.0, 18.0, 27.0, 38.0, 52.0, 70.0, 92.0))
    FARTHER = 0.35
    """Cost of a point farther away, in square points of a line hidden."""
    TURNS = np.array([((j + 1) // 2) * (22.5 if j % 2 else -22.5) for j in range(16)])

    def __init__(self, ax: Drawable, display: Display) -> None:
        self.display = display
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

    def keep_area_clear(self, ring: ArrayLike, *, share: float = 1.0) -> None:
        """Keep texts off a closed shape and its inside; a lesser *share* weighs less."""
        tiles = _tiles(self._in_pt(ring), self.frame)
        inset = 0.5 * TILE_PT * (1.0 - share)
        if len(tiles):
            self._soft.append(tiles + inset * np.array([1.0, 1.0, -1.0, -1.0]))

    def _in_pt(self, ring: ArrayLike) -> bytes:
        """Corners of a closed shape on the figure, in points: what a shape is remembered by."""
        points = self._matrix.transform(np.asarray(ring, dtype=np.float64)[:, :2]) * self._to_pt
        return np.ascontiguousarray(points).tobytes()

    def add_inside(self, ring: ArrayLike, text: str, *, colour: str = INK, **style: Any) -> bool:
        """Write *text* inside a closed shape where it covers no text; False where it finds no room.

        The place nearest to the shape's middle wins among those that cover least of what is kept
        clear. A shape is no room for a text that would cover a quarter of what is seen of it.
        """
        text = self.display.words(text)
        width, height = text_size_pt(text, TEXT_PT)
        centres, away = _places_inside(self._in_pt(ring), self.frame, width, height)
        if not len(centres):
            return False
        half = np.array([width, height]) / 2.0 + [2.0, 1.0]
        boxes = np.hstack([centres - half, centres + half])
        taken = np.array(self._boxes).reshape(-1, 4)
        soft = np.vstack(self._soft) if self._soft else np.zeros((0, 4))
        hidden = 100.0 * self._overlap(boxes, taken) + 0.6 * self._overlap(boxes, soft)
        k = int(np.argmin(hidden + 0.05 * away))
        if hidden[k] > 0.15 * width * height:
            return False
        self.write(self.to_data(*centres[k]), text, colour=colour, **style)
        return True

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
        width = np.minimum(boxes[:, None, 2], taken[:, 2])
        width -= np.maximum(boxes[:, None, 0], taken[:, 0])
        height = np.minimum(boxes[:, None, 3], taken[:, 3])
        height -= np.maximum(boxes[:, None, 1], taken[:, 1])
        area: FloatArray = (np.maximum(width, 0.0) * np.maximum(height, 0.0)).sum(axis=1)
        return area

    def fits(self, place: ArrayLike, text: str, *, size_pt: float = TEXT_PT) -> bool:
        """True if a text centred on the place covers no other text."""
        px, py = self.at_pt(place)
        width, height = text_size_pt(self.display.words(text), size_pt)
        box = np.array([[px - width / 2, py - height / 2, px + width / 2, py + height / 2]])
        return not float(self._overlap(box, np.array(self._boxes).reshape(-1, 4))[0]) > 0.0

    def _cheapest(
        self,
        at: tuple[float, float],
        half: FloatArray,
        toward_deg: float,
        gap_pt: float,
        best: float,
    ) -> tuple[float, tuple[float, float]] | None:
        """Cost and centre of the cheapest place for a box of half size *half* near *at*.

        None where none is cheaper than *best*.
        """
        turns = np.radians(toward_deg + self.TURNS)
        unit = np.column_stack([np.cos(turns), np.sin(turns)])
        taken = np.array(self._boxes).reshape(-1, 4)
        soft = np.vstack(self._soft) if self._soft else np.zeros((0, 4))
        place: FloatArray | None = None
        for first in range(0, len(self.RINGS), 2):
            # a farther ring costs at least this much: nothing out there can be cheaper
            if best <= self.FARTHER * self.RINGS[first]:
                break
            rings = self.RINGS[first : first + 2]
            # the box touches the ring with the side that faces the point
            reach = (rings[:, None, None] + gap_pt) * unit[None] + unit[None] * half
            centres = (np.array(at) + reach).reshape(-1, 2)
            cost = self.FARTHER * np.repeat(rings, len(turns)) + np.tile(
                0.02 * np.abs(self.TURNS), len(rings)
            )
            boxes = np.hstack([centres - half - [1.0, 0.5], centres + half + [1.0, 0.5]])
            cost += 40.0 * self._outside(boxes) + 100.0 * self._overlap(boxes, taken)
            cost += 0.6 * self._overlap(boxes, soft)
            k = int(np.argmin(cost))
            if cost[k] < best:
                best, place = float(cost[k]), centres[k]
        return None if place is None else (best, (float(place[0]), float(place[1])))

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
        toward_deg: ArrayLike = 45.0,
        size_pt: float = TEXT_PT,
        colour: str = INK,
        weight: str = "normal",
        leader: bool = True,
        gap_pt: float = 0.0,
        **style: Any,
    ) -> None:
        """Write *text* near a data point, first choice in the direction *toward_deg*.

        The nearest place wins that lies inside the Axes, covers no other text and, if there is
        one, no line or point kept clear. A text far from its point gets a leader line. Of several
        points, each with its direction, the best is taken.
        """
        text = self.display.words(text)
        width, height = text_size_pt(text, size_pt, weight)
        half = np.array([width, height]) / 2.0
        best, (cx, cy), (px, py) = np.inf, (0.0, 0.0), (0.0, 0.0)
        for point, toward in zip(np.atleast_2d(place), np.atleast_1d(toward_deg), strict=True):
            at = self.at_pt(point)
            found = self._cheapest(at, half, float(toward), gap_pt, best)
            if found is not None:
                best, (cx, cy), (px, py) = *found, at
        box = (cx - half[0], cy - half[1], cx + half[0], cy + half[1])
        self._boxes.append(box)
        distance = max(box[0] - px, px - box[2], box[1] - py, py - box[3], 0.0)
        if leader and distance > 9.0 + gap_pt:
            near = (min(max(px, box[0]), box[2]), min(max(py, box[1]), box[3]))
            line = [self.to_data(px, py), self.to_data(*near)]
            polyline(self.ax, line, color=colour, linewidth=0.5, zorder=8, gid="leader")
            self.keep_line_clear(line)
        self.write(
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
    ) -> None:
        """Write *text* centred on a data point, on a white ground if it lies on a hatch."""
        x, y = np.asarray(place, dtype=np.float64)
        text = self.display.words(text)
        if ground:
            style["bbox"] = GROUND_BOX
        if take:
            px, py = self.at_pt(place)
            width, height = text_size_pt(text, size_pt, weight)
            c, s = abs(np.cos(np.radians(rotation))), abs(np.sin(np.radians(rotation)))
            w, h = (c * width + s * height) / 2.0, (s * width + c * height) / 2.0
            self._boxes.append((px - w, py - h, px + w, py + h))
        self.ax.text(
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
