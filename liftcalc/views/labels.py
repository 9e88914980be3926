"""Texts of a drawing that keep clear of each other and of what is drawn.

Places are found from the font's own measures, not from a renderer: the same data give the same
drawing on every machine, and the drawing on the screen, which has no renderer, is placed alike.

Two maintained, permissive libraries were tried on the plans of the demo lifts and not taken. Both measure by
matplotlib's renderer. adjustText 1.4 pushes texts apart for a second of time: three runs on one plan gave three
pictures, one with an overlap, and it knows of no lines. textalloc 1.2 is as deterministic as this module and searches
alike, but knows only forbidden and free ground: it left an obstacle's name out, which a plan may not.
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
Spot = tuple[float, float]
GROUND_BOX = {"boxstyle": "square,pad=0.15", "facecolor": "white", "edgecolor": "none", "alpha": 0.85}
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
def _places_inside(points: bytes, frame: Box, width: float, height: float) -> tuple[FloatArray, FloatArray]:
    """Middles of a text that lies inside a closed shape, and how far each is off its middle."""
    area = _seen(points, frame)
    if area.area < 4.0 * width * height:
        return np.zeros((0, 2)), np.zeros(0)
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
        box, scale = ax.get_window_extent(), self._to_pt
        self.frame: Box = (scale * box.x0, scale * box.y0, scale * box.x1, scale * box.y1)
        """The Axes on the figure: left, bottom, right, top, in points."""
        self._boxes: list[Box] = []
        self._soft: list[FloatArray] = []
        self._known: tuple[tuple[int, int], FloatArray, FloatArray] | None = None

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
        inside = (centre > (left, bottom)) & (centre < (right, top))
        centre = centre[inside[:, 0] & inside[:, 1]]
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
        hidden = self._hidden(np.hstack([centres - half, centres + half]))
        k = int(np.argmin(hidden + 0.05 * away))
        if hidden[k] > 0.15 * width * height:
            return False
        self.write(self.to_data(*centres[k]), text, colour=colour, **style)
        return True

    def reserve(self, box: Box) -> None:
        """Take a box (points on the figure) that is used by something else."""
        self._boxes.append(box)

    def _hidden(self, boxes: FloatArray) -> FloatArray:
        """What each of *boxes* (n, 4) would hide: texts weigh 100, what is kept clear 0.6."""
        size = len(self._boxes), len(self._soft)
        if self._known is None or self._known[0] != size:
            every = np.vstack([np.zeros((0, 4)), *([self._boxes] if size[0] else []), *self._soft])
            weight = np.where(np.arange(len(every)) < size[0], 100.0, 0.6)
            self._known = size, np.ascontiguousarray(every.T), weight
        _, (left, bottom, right, top), weight = self._known
        (x0, y0), (x1, y1) = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
        near = np.flatnonzero((right > x0) & (top > y0) & (left < x1) & (bottom < y1))
        width = np.minimum(boxes[:, 2:3], right[near]) - np.maximum(boxes[:, :1], left[near])
        height = np.minimum(boxes[:, 3:], top[near]) - np.maximum(boxes[:, 1:2], bottom[near])
        area: FloatArray = (np.maximum(width, 0.0) * np.maximum(height, 0.0)) @ weight[near]
        return area

    def fits(self, place: ArrayLike, text: str, *, size_pt: float = TEXT_PT) -> bool:
        """True if a text centred on the place covers no other text."""
        px, py = self.at_pt(place)
        width, height = text_size_pt(self.display.words(text), size_pt)
        left, right, bottom, top = px - width / 2, px + width / 2, py - height / 2, py + height / 2
        return not any(left < x1 and x0 < right and bottom < y1 and y0 < top for x0, y0, x1, y1 in self._boxes)

    def _cheapest(
        self, at: Spot, half: FloatArray, toward_deg: float, gap_pt: float, best: float
    ) -> tuple[float, Spot] | None:
        """Cost and centre of the cheapest place for a box of half size *half* near *at*.

        None where none is cheaper than *best*.
        """
        turns = np.radians(toward_deg + self.TURNS)
        unit = np.column_stack([np.cos(turns), np.sin(turns)])
        low, high = np.array(self.frame).reshape(2, 2) + np.array([[1.0], [-1.0]])
        off_turn, margin = 0.02 * np.abs(self.TURNS), half + np.array([1.0, 0.5])
        place: FloatArray | None = None
        for first in range(0, len(self.RINGS), 2):
            # a farther ring costs at least this much: nothing out there can be cheaper
            if best <= self.FARTHER * self.RINGS[first]:
                break
            rings = self.RINGS[first : first + 2]
            # the box touches the ring with the side that faces the point
            reach = (rings[:, None, None] + gap_pt) * unit[None] + unit[None] * half
            centres = (np.array(at) + reach).reshape(-1, 2)
            start, end = centres - margin, centres + margin
            outside = np.maximum(low - start, 0.0) + np.maximum(end - high, 0.0)
            cost = (self.FARTHER * rings[:, None] + off_turn).ravel()
            cost += 40.0 * (outside[:, 0] + outside[:, 1])
            cost += self._hidden(np.hstack([start, end]))
            k = int(np.argmin(cost))
            if cost[k] < best:
                best, place = float(cost[k]), centres[k]
        return None if place is None else (best, (float(place[0]), float(place[1])))

    def add(
        self, place: ArrayLike, text: str, *, toward_deg: ArrayLike = 45.0,
        size_pt: float = TEXT_PT, colour: str = INK, weight: str = "normal", leader: bool = True,
        gap_pt: float = 0.0, **style: Any,
    ) -> None:  # fmt: skip
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
        style |= {"size_pt": size_pt, "colour": colour, "weight": weight}
        self.write(self.to_data(cx, cy), text, take=False, **style)

    def write(
        self, place: ArrayLike, text: str, *, size_pt: float = TEXT_PT, colour: str = INK,
        weight: str = "normal", rotation: float = 0.0, take: bool = True, ground: bool = False,
        **style: Any,
    ) -> None:  # fmt: skip
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
        style |= {"fontsize": size_pt, "color": colour, "fontweight": weight}
        style |= {"rotation": rotation, "rotation_mode": "anchor", "ha": "center", "va": "center"}
        style |= {"zorder": 9, "path_effects": HALO, "linespacing": 1.15}
        self.ax.text(float(x), float(y), text, **style)
