"""Sections through outriggers and the ground beside them, to scale, one panel below the other."""

from functools import partial
from typing import Any

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from numpy.typing import ArrayLike

from liftcalc.base.errors import InputError
from liftcalc.base.units import UnitSystem
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.ground_sections import EDGES, Beside, Section, ground_sections
from liftcalc.views import style
from liftcalc.views.labels import Labels
from liftcalc.views.machine import MAT
from liftcalc.views.marks import dimension, to_scale
from liftcalc.views.screen import Drawable
from liftcalc.views.strokes import box, polygon, polyline
from liftcalc.views.style import INK, MM, TEXT_PT, Display, fill, text_size_pt, wrapped

LAYERS = tuple(
    fill(face, "#8a8a8a", 0.6, hatch)
    for face, hatch in (("#f3efe6", "..."), ("#e6e6e6", "---"), ("#f7f3ea", "oo"), ("#dcdcdc", "|||"))
)
BURIED, FLOAT = fill("#ffffff", INK, 1.1, "xxx"), fill("#4a4a4a")
PACKING = fill("#ffffff", INK, 0.6, "++++")
WATER: dict[str, Any] = {"color": style.BLUE, "linestyle": style.LONG_DASH, "linewidth": 1.1}
SPREAD: dict[str, Any] = {"color": INK, "linestyle": style.HIDDEN, "linewidth": 0.9}
WALL: dict[str, Any] = {"color": INK, "linewidth": 3.0, "solid_capstyle": "butt"}
MARGIN_M = 4.4
"""Room for the names of layers beside a section. [m]"""


class _Panel:
    """One section being drawn; numbers in metres go on the Axes in display units."""

    def __init__(self, data: Section, ax: Drawable, system: UnitSystem) -> None:
        names = {b.thing.name for b in data.things}
        names |= {layer.name for _, profile in data.bands for layer in profile.layers}
        self.data, self.ax, self.display = data, ax, Display(system, frozenset(names))
        self.text = partial(self.display.text, quantity="length_m")
        u, _, now = data.surface_m.T
        self.ground = float(np.interp(0.0, u, now))
        deep = self.ground - 1.5 * max(data.mat_m[1] - data.mat_m[0], 1.4)
        self.low = min([deep, *(b.bottom_m - 0.5 for b in data.things)])
        unit, legs = self.display.unit("length_m"), ", ".join(data.legs)
        many = f"s {legs} ({data.leg.name} drawn)" if len(data.legs) > 1 else f" {legs}"
        beside = f" and {data.nearest}" if data.nearest else f": nothing beside, {data.leg.zone}"
        title = f"Section through outrigger{many}{beside}"
        style.prepare(ax, self.display, title, f"Distance from the middle of the float [{unit}]", f"Level [{unit}]")
        right = MARGIN_M if len(data.bands) > 1 else 0.0
        bounds = (float(u[0]) - MARGIN_M, self.low - 0.6, float(u[-1]) + right, self.ground + 1.9)
        self.labels: Labels = to_scale(ax, bounds, self.display)

    def line(self, points: ArrayLike, **look: Any) -> None:
        polyline(self.ax, self.display.length(points), **look)

    def shape(self, ring: ArrayLike, **look: Any) -> None:
        polygon(self.ax, self.display.length(ring), **look)

    def at_pt(self, u: float, z: float) -> tuple[float, float]:
        return self.labels.at_pt(self.display.length([u, z]))

    def name(self, u: float, z: float, text: str, toward: float, **look: Any) -> None:
        self.labels.add(self.display.length([u, z]), text, toward_deg=toward, ground=True, **look)

    def dimension(self, ends: ArrayLike, text: str, offset_pt: float) -> None:
        start, end = self.display.length(ends)
        dimension(self.labels, start, end, text, offset_pt=offset_pt)

    def soil(self) -> None:
        u, was, now = self.data.surface_m.T
        sides: dict[int, list[tuple[float, float, str]]] = {0: [], -1: []}
        for (start, end), profile in self.data.bands:
            inside = (u >= start - 1e-9) & (u <= end + 1e-9)
            x, old, new = u[inside], was[inside], now[inside]
            k, bottom = 0 if start <= u[0] + 1e-6 else -1, 0.0
            for n, layer in enumerate(profile.layers):
                top, bottom = bottom, bottom + layer.thickness_m
                above, below = (np.maximum(np.minimum(old - z, new), self.low) for z in (top, bottom))
                if np.any(above > below + 0.01):
                    ring = np.column_stack([[*x, *x[::-1]], [*above, *below[::-1]]])
                    look = LAYERS[n % len(LAYERS)]
                    self.shape(ring, zorder=0.6, gid=f"layer: {layer.name}", **look)
                    words = f"{profile.id}: {layer.name}\n{self.text(top)} to {self.text(bottom)}"
                    sides[k].append((float(above[k] + below[k]) / 2.0, float(x[k]), words))
            water = profile.water_depth_m
            if water is not None and old[k] - water > self.low:
                level = np.minimum(old - water, new)
                self.line(np.column_stack([x, level]), zorder=3, gid="water", **WATER)
                words = f"water {self.text(water)}\nbelow ground"
                sides[k].append((float(level[k]), float(x[k]), words))
        for k, side in ((0, -1.0), (-1, 1.0)):
            self.beside(sides[k], side, self.at_pt(float(u[k]), 0.0)[0] + side * 14.0)

    def beside(self, named: list[tuple[float, float, str]], side: float, from_pt: float) -> None:
        """Names in the margin (level, distance, words), from the top down, none on another."""
        under = np.inf
        for level, u, plain in sorted(named, reverse=True):
            words = wrapped(self.display.words(plain), 105.0, TEXT_PT)
            width, height = text_size_pt(words, TEXT_PT)
            x, y = self.at_pt(u, level)
            place = min(y, under - height / 2.0)
            under, middle = place - height / 2.0 - 1.0, from_pt + side * (width / 2.0 + 2.0)
            ends = [self.labels.to_data(*p) for p in ((x, y), (from_pt, place))]
            polyline(self.ax, ends, color=INK, linewidth=0.5, zorder=8, gid="leader")
            self.labels.write(self.labels.to_data(middle, place), words)

    def draw(self) -> None:
        data = self.data
        u, _, now = data.surface_m.T
        self.soil()
        look: dict[str, Any] = {"color": INK, "linewidth": 1.3, "zorder": 4, "gid": "ground line"}
        for known, dash in ((data.surveyed, "-"), (~data.surveyed, style.HIDDEN)):
            self.line(np.column_stack([u, np.where(known, now, np.nan)]), linestyle=dash, **look)
        self.labels.keep_line_clear(self.display.length(np.column_stack([u, now])))
        self.mat()
        for thing in data.things:
            self.thing(thing)
        if data.gap_m > 0.005:
            level = self.ground + data.thickness_m + 0.1
            ends = [(data.mat_m[1], level), (data.mat_m[1] + data.gap_m, level)]
            self.dimension(ends, self.text(data.gap_m, safe="down"), 10.0)
        if not data.surveyed.all():
            k = int(np.flatnonzero(~data.surveyed)[-1])
            self.name(u[k] - 0.8, now[k], "level not surveyed", -90.0, leader=False)

    def mat(self) -> None:
        data, z, half = self.data, self.ground, self.data.float_m
        top = z + data.thickness_m
        tip = top + data.packing_m + 0.1
        self.shape(box(data.mat_m[0], z, data.mat_m[1], top), zorder=5, gid="mat", **MAT)
        if data.packing_m > 0.0005:
            self.shape(box(-half, top, half, tip - 0.1), zorder=5.1, gid="packing", **PACKING)
        self.shape(box(-half, tip - 0.1, half, tip), zorder=5.2, gid="float", **FLOAT)
        head = [[0.0, tip + 0.9], [0.0, tip], [-0.07, tip + 0.16], [0.07, tip + 0.16], [0.0, tip]]
        self.line(head, color=INK, linewidth=1.3, zorder=6, gid="reaction")
        force = f"{data.leg.name} {self.display.text(data.leg.reaction_kN, 'force_kN')}"
        self.labels.write(self.display.length([0.0, tip + 1.1]), force, weight="bold")
        packing = self.display.text(1000 * data.packing_m, "small_length_mm")
        words = f"mat {data.mat}\npacking {packing}\nground at {self.text(z)}"
        width, height = text_size_pt(self.display.words(words), TEXT_PT)
        x, y = self.at_pt(data.mat_m[0], z)
        self.labels.write(self.labels.to_data(x - width / 2 - 4, y + height / 2 + 3), words)
        deep = min(z - self.low, 4.0 * data.bears_m)
        for way in (-1.0, 1.0):
            edge = way * data.bears_m
            spread = [[edge, z], [edge + way * 0.5 * deep, z - deep]]
            self.line(spread, zorder=3.5, gid="load spread", **SPREAD)
            self.labels.keep_line_clear(self.display.length(spread))

    def thing(self, b: Beside) -> None:
        name, kind, (near, far) = b.thing.name, b.thing.kind, b.span_m
        if kind in EDGES:
            ends = [(near, b.top_m), (near, b.bottom_m)]
            if kind == "wall":
                self.line(ends, zorder=5, gid=name, **WALL)
            self.dimension(ends, self.text(b.thing.depth_m, safe="up"), 12.0)
            self.name(near, b.top_m, name, 50.0)
            return
        self.shape(box(near, b.bottom_m, far, b.top_m), zorder=4.5, gid=name, **BURIED)
        middle = (near + far) / 2.0
        cover = self.text(b.thing.depth_m, safe="down")
        self.dimension([(middle, b.top_m + b.thing.depth_m), (middle, b.top_m)], cover, 0.0)
        words = name if kind in name else f"{name} ({kind})"
        words += "" if kind == "pipe" else "\nheight not surveyed"
        self.name(middle, b.bottom_m, words, -90.0)


def sections_figure(lift: LiftAssessment, *, system: UnitSystem = "metric") -> Figure:
    """Up to four sections on one sheet, below each other.

    Raises: A crane that tips over: there is no ground to draw.
    """
    sections = ground_sections(lift)
    if not sections:
        raise InputError.of("lift", lift.setup.lift.id, "a crane that stays on its outriggers")
    wide, each = 172.0, min(82.0, 236.0 / len(sections))
    high = each * len(sections)
    figure = Figure(figsize=(wide * MM, high * MM), dpi=100)
    FigureCanvasAgg(figure)
    for n, section in enumerate(sections):
        bottom = high - each * (n + 1) + 10.0
        place = (12.0 / wide, bottom / high, (wide - 15.0) / wide, (each - 18.0) / high)
        _Panel(section, figure.add_axes(place), system).draw()
    return figure
