"""Sections through outriggers and the ground beside them, to scale, one panel an outrigger."""

from functools import partial
from typing import Any

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from numpy.typing import ArrayLike

from liftcalc.base.units import UnitSystem
from liftcalc.lift.assess import LiftAssessment
from liftcalc.plan.ground_sections import Beside, Section, ground_sections
from liftcalc.views.labels import Labels
from liftcalc.views.machine import MAT
from liftcalc.views.marks import dimension, to_scale
from liftcalc.views.screen import Drawable
from liftcalc.views.strokes import box, polygon, polyline
from liftcalc.views.style import (
    BLUE,
    HIDDEN,
    INK,
    LONG_DASH,
    MM,
    TEXT_PT,
    Display,
    fill,
    prepare,
    text_size_pt,
)

LAYERS = tuple(
    fill(face, "#8a8a8a", 0.6, hatch)
    for face, hatch in (("#f3efe6", "..."), ("#e6e6e6", "---"), ("#f7f3ea", "oo"),
                        ("#dcdcdc", "|||"))
)  # fmt: skip
BURIED = fill("#ffffff", INK, 1.1, "xxx")
FLOAT = fill("#4a4a4a")
PACKING = fill("#ffffff", INK, 0.6, "++++")
MARGIN_M = 4.0
"""Room for the names of layers beside a section. [m]"""
WATER: dict[str, Any] = {"color": BLUE, "linestyle": LONG_DASH, "linewidth": 1.1}
SPREAD: dict[str, Any] = {"color": INK, "linestyle": HIDDEN, "linewidth": 0.9}
WALL: dict[str, Any] = {"color": INK, "linewidth": 3.0, "solid_capstyle": "butt"}


class _Panel:
    """One section being drawn; numbers in metres go on the Axes in display units."""

    def __init__(self, data: Section, ax: Drawable, system: UnitSystem) -> None:
        names = {b.name for b in data.things} | {x.name for b in data.bands
                                                 for x in b.profile.layers}  # fmt: skip
        self.data, self.ax, self.display = data, ax, Display(system, frozenset(names))
        self.text = partial(self.display.text, quantity="length_m")
        u, _, now = data.surface_m.T
        self.ground = float(np.interp(0.0, u, now))
        reach = max(data.mat_m[1] - data.mat_m[0], 1.4)
        self.low = min([self.ground - 1.5 * reach, *(b.bottom_m - 0.5 for b in data.things)])
        unit = self.display.unit("length_m")
        legs, one = ", ".join(data.legs), len(data.legs) == 1
        title = f"Section through outrigger{'' if one else 's'} {legs}"
        title += "" if one else f" ({data.leg.name} drawn)"
        title += f" and {data.beside}" if data.beside else f", {data.leg.zone}"
        prepare(ax, self.display, title,
                f"Distance from the middle of the float [{unit}]", f"Level [{unit}]")  # fmt: skip
        x0, x1 = float(u[0]) - MARGIN_M, float(u[-1])
        x1 += MARGIN_M if len(data.bands) > 1 else 0.0
        bounds = (x0, self.low - 0.6, x1, self.ground + 1.9)
        self.labels: Labels = to_scale(ax, bounds, self.display)

    def line(self, points: ArrayLike, **style: Any) -> None:
        polyline(self.ax, self.display.length(points), **style)

    def shape(self, ring: ArrayLike, **style: Any) -> None:
        polygon(self.ax, self.display.length(ring), **style)

    def name(self, u: float, z: float, text: str, toward: float, **style: Any) -> None:
        self.labels.add(self.display.length([u, z]), text, toward_deg=toward, ground=True, **style)

    def soil(self) -> None:
        u, was, now = self.data.surface_m.T
        left: list[tuple[float, float, str]] = []
        right: list[tuple[float, float, str]] = []
        for band in self.data.bands:
            inside = (u >= band.from_m - 1e-9) & (u <= band.to_m + 1e-9)
            x, old, new = u[inside], was[inside], now[inside]
            if x.size < 2:
                continue
            at_left = band.from_m <= u[0] + 1e-6
            k, named = (0, left) if at_left else (-1, right)
            top = 0.0
            for n, layer in enumerate(band.profile.layers):
                bottom = top + layer.thickness_m
                above = np.maximum(np.minimum(old - top, new), self.low)
                below = np.maximum(np.minimum(old - bottom, new), self.low)
                if np.any(above > below + 0.01):
                    ring = np.vstack(
                        [np.column_stack([x, above]), np.column_stack([x, below])[::-1]]
                    )
                    look = LAYERS[n % len(LAYERS)]
                    self.shape(ring, zorder=0.6, gid=f"layer: {layer.name}", **look)
                    middle = float(above[k] + below[k]) / 2.0
                    words = (
                        f"{band.profile.id}: {layer.name}\n{self.text(top)} to {self.text(bottom)}"
                    )
                    named.append((middle, float(x[k]), words))
                top = bottom
            water = band.profile.water_depth_m
            if water is not None and old[k] - water > self.low:
                level = np.column_stack([x, np.minimum(old - water, new)])
                self.line(level, zorder=3, gid="water", **WATER)
                words = f"water {self.text(water)}\nbelow ground"
                named.append((float(level[k, 1]), float(x[k]), words))
        self.beside(left, -1.0)
        self.beside(right, 1.0)

    def beside(self, named: list[tuple[float, float, str]], side: float) -> None:
        """Names of layers in the margin, from the top down, none on another."""
        under = np.inf
        for level, u, words in sorted(named, reverse=True):
            width, height = text_size_pt(self.display.words(words), TEXT_PT)
            x, y = self.labels.at_pt(self.display.length([u, level]))
            place = min(y, under - height / 2.0)
            under = place - height / 2.0 - 1.0
            outer = x + side * 14.0
            ends = [self.labels.to_data(*p) for p in ((x, y), (outer, place))]
            polyline(self.ax, ends, color=INK, linewidth=0.5, zorder=8, gid="leader")
            self.labels.write(self.labels.to_data(outer + side * (width / 2.0 + 2.0), place), words)

    def draw(self) -> None:
        self.soil()
        data = self.data
        u, _, now = data.surface_m.T
        for known, dash in ((data.surveyed, "-"), (~data.surveyed, HIDDEN)):
            shown = np.where(known, now, np.nan)
            self.line(np.column_stack([u, shown]), color=INK, linewidth=1.3, linestyle=dash,
                      zorder=4, gid="ground line")  # fmt: skip
        self.labels.keep_line_clear(self.display.length(np.column_stack([u, now])))
        self.mat()
        for thing in data.things:
            self.thing(thing)
        if data.gap_m is not None and data.gap_m > 0.005:
            level = self.ground + data.mat_thickness_m + 0.1
            ends = [(data.mat_m[1], level), (data.mat_m[1] + data.gap_m, level)]
            dimension(self.labels, *self.display.length(ends), self.text(data.gap_m, safe="down"),
                      offset_pt=10.0)  # fmt: skip
        if not data.surveyed.all():
            k = int(np.flatnonzero(~data.surveyed)[-1])
            place = (float(u[k]) - 0.8, float(now[k]))
            self.name(*place, "level not surveyed", 90.0, leader=False)

    def mat(self) -> None:
        data, z = self.data, self.ground
        top = z + data.mat_thickness_m
        under = top + data.packing_m
        self.shape(box(data.mat_m[0], z, data.mat_m[1], top), zorder=5, gid="mat", **MAT)
        if data.packing_m > 0.0005:
            self.shape(box(-data.float_m, top, data.float_m, under), zorder=5.1, gid="packing",
                       **PACKING)  # fmt: skip
        self.shape(box(-data.float_m, under, data.float_m, under + 0.1), zorder=5.2, gid="float",
                   **FLOAT)  # fmt: skip
        tip = under + 0.1
        self.line([[0.0, tip + 0.9], [0.0, tip], [-0.07, tip + 0.16], [0.07, tip + 0.16],
                   [0.0, tip]], color=INK, linewidth=1.3, zorder=6, gid="reaction")  # fmt: skip
        force = self.display.text(data.leg.reaction_kN, "force_kN")
        self.name(0.0, tip + 0.9, f"{data.leg.name} {force}", 0.0, weight="bold", leader=False)
        packing = self.display.text(1000 * data.packing_m, "small_length_mm")
        words = f"mat {data.mat}\npacking {packing}\nground at {self.text(z)}"
        width, height = text_size_pt(self.display.words(words), TEXT_PT)
        x, y = self.labels.at_pt(self.display.length([data.mat_m[0], z]))
        self.labels.write(self.labels.to_data(x - width / 2 - 4, y + height / 2 + 3), words)
        deep = min(z - self.low, 2.0 * (data.bears_m[1] - data.bears_m[0]))
        for edge, way in zip(data.bears_m, (-1.0, 1.0), strict=True):
            spread = [[edge, z], [edge + way * 0.5 * deep, z - deep]]
            self.line(spread, zorder=3.5, gid="load spread", **SPREAD)
            self.labels.keep_line_clear(self.display.length(spread))

    def thing(self, b: Beside) -> None:
        if b.kind in ("wall", "slope", "excavation"):
            if b.kind == "wall":
                self.line([[b.near_m, b.top_m], [b.near_m, b.bottom_m]], zorder=5, gid=b.name,
                          **WALL)  # fmt: skip
            ends = [(b.near_m, b.top_m), (b.near_m, b.bottom_m)]
            dimension(self.labels, *self.display.length(ends), self.text(b.deep_m), offset_pt=12.0)
            self.name(b.near_m, b.top_m, b.name, 50.0)
            return
        body = box(b.near_m, b.bottom_m, b.far_m, b.top_m)
        self.shape(body, zorder=4.5, gid=b.name, **BURIED)
        middle = (b.near_m + b.far_m) / 2.0
        ends = [(middle, b.top_m + b.deep_m), (middle, b.top_m)]
        dimension(self.labels, *self.display.length(ends), self.text(b.deep_m), offset_pt=0.0)
        kind = "" if b.kind in b.name else f" ({b.kind})"
        height = "" if b.kind == "pipe" else "\nheight not surveyed"
        self.name(b.far_m, b.top_m, f"{b.name}{kind}{height}", 30.0)


def draw_section(data: Section, ax: Drawable, *, system: UnitSystem = "metric") -> None:
    """Draw one section to scale, with its dimensions in place."""
    _Panel(data, ax, system).draw()


def sections_figure(lift: LiftAssessment, *, system: UnitSystem = "metric") -> Figure | None:
    """Up to four sections on one sheet, below each other; None where the crane tips."""
    sections = ground_sections(lift)
    if not sections:
        return None
    wide, each = 172.0, min(82.0, 236.0 / len(sections))
    high = each * len(sections)
    figure = Figure(figsize=(wide * MM, high * MM), dpi=100)
    FigureCanvasAgg(figure)
    for n, section in enumerate(sections):
        bottom = high - each * (n + 1) + 10.0
        place = (12.0 / wide, bottom / high, (wide - 15.0) / wide, (each - 18.0) / high)
        draw_section(section, figure.add_axes(place), system=system)
    return figure
