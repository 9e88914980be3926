"""Elevation in the plane of the boom, to scale: boom, hook room, slings, load, obstacles.

What is drawn is a :class:`~liftcalc.lift.boom_plane.BoomPlane`; nothing is calculated here but
differences of the coordinates that are dimensioned.
"""

from typing import Any

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.units import UnitSystem
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.boom_plane import BoomPlane, boom_plane
from liftcalc.views.labels import Labels
from liftcalc.views.marks import KeyEntry, dimension, key, to_scale
from liftcalc.views.screen import Drawable
from liftcalc.views.strokes import mark, polygon, polyline
from liftcalc.views.style import (
    BLUE,
    CENTRE_LINE,
    GREY,
    HIDDEN,
    INK,
    RED,
    Display,
    new_axes,
    prepare,
)

GROUND_EDGE = "#b9ad93"
GROUND: dict[str, Any] = {
    "facecolor": "#efe9dc",
    "edgecolor": GROUND_EDGE,
    "linewidth": 1.0,
    "hatch": "..",
}
CUT: dict[str, Any] = {"facecolor": "#e4e4e4", "edgecolor": INK, "linewidth": 0.9, "hatch": "xxx"}
STOP: dict[str, Any] = {"color": BLUE, "linestyle": HIDDEN, "linewidth": 1.2}
BENT: dict[str, Any] = {"color": RED, "linestyle": (0, (6, 2)), "linewidth": 1.2}
ROPE: dict[str, Any] = {"color": INK, "linewidth": 0.8}
KEEP: dict[str, Any] = {
    "facecolor": "none",
    "edgecolor": INK,
    "linestyle": (0, (2, 2)),
    "linewidth": 0.8,
}


def _box(u0: float, u1: float, z0: float, z1: float) -> FloatArray:
    return np.array([(u0, z0), (u1, z0), (u1, z1), (u0, z1)])


def _load_box(data: BoomPlane) -> FloatArray:
    u, half = data.sheave_m[0], data.load_width_m / 2.0
    return _box(u - half, u + half, data.load_base_m, data.load_base_m + data.load_height_m)


def _bounds(data: BoomPlane) -> tuple[float, float, float, float]:
    end = float(data.sheave_m[0]) + data.load_width_m / 2.0
    tail = max(data.tail_radius_m, data.carrier_half_length_m)
    boxes = [b for b in data.boxes if b.u_min_m < end + 12.0]
    left = min([-tail - 2.5, *(b.u_min_m for b in boxes if b.u_min_m > -tail - 12.0)])
    right = min(max([end + 4.5, *(b.u_max_m for b in boxes)]), end + 14.0)
    low = min([-2.5, data.load_base_m - 2.0])
    near = data.ground_uz_m[(data.ground_uz_m[:, 0] >= left) & (data.ground_uz_m[:, 0] <= right), 1]
    if near.size:
        low = min(low, float(near.min()) - 1.5)
    high = max([float(data.sheave_m[1]) + 3.0, *(z + keep for _, _, z, keep in data.lines)])
    # room under the ground for the radius and the scale bar
    return left, low - 0.07 * (high - low), right, high


class _Elevation:
    """One elevation being drawn: numbers in metres go on the Axes in display units."""

    def __init__(self, data: BoomPlane, ax: Drawable, labels: Labels, display: Display) -> None:
        self.data, self.ax, self.labels, self.display = data, ax, labels, display

    def line(self, points_m: ArrayLike, **style: Any) -> None:
        polyline(self.ax, self.display.length(points_m), **style)

    def shape(self, ring_m: ArrayLike, **style: Any) -> None:
        polygon(self.ax, self.display.length(ring_m), **style)

    def text(self, value_m: float) -> str:
        return self.display.text(value_m, "length_m")

    def name(self, u_m: float, z_m: float, text: str, **style: Any) -> None:
        self.labels.add(self.display.length([u_m, z_m]), text, **style)

    def ground(self) -> None:
        profile = self.data.ground_uz_m
        low = (min(self.ax.get_ylim()) - 1.0) / float(self.display.length(1.0))
        ring = np.vstack([profile, [profile[-1, 0], low], [profile[0, 0], low]])
        self.shape(ring, zorder=0.5, gid="ground", **GROUND)
        self.line(profile, color=INK, linewidth=1.1, zorder=3, gid="ground line")
        for box in self.data.boxes:
            ring = _box(box.u_min_m, box.u_max_m, box.z_min_m, box.z_max_m)
            self.shape(ring, zorder=2, gid=f"obstacle: {box.name}", **CUT)

    def machine(self) -> None:
        data, look = self.data, {"edgecolor": INK, "linewidth": 0.9}
        half, top = data.carrier_half_length_m, data.carrier_height_m
        carrier = _box(-half, half, 0.55 * top, top)
        self.shape(carrier, facecolor="#f4f4f4", zorder=4, gid="carrier", **look)
        for u in np.atleast_1d(data.leg_u_m):
            leg, pad = [[u, 0.6 * top], [u, 0.12]], [[u - 0.45, 0.06], [u + 0.45, 0.06]]
            self.line(leg, color=INK, linewidth=2.2, zorder=3.8, gid="leg")
            self.line(pad, color=INK, linewidth=2.4, zorder=3.8, solid_capstyle="butt")
        low, high = data.superstructure_z_m
        body = _box(-data.tail_radius_m, max(1.2, float(data.foot_m[0]) + 1.5), low, high)
        self.shape(body, facecolor="white", zorder=4.2, gid="superstructure", **look)
        axis = {"color": GREY, "linestyle": CENTRE_LINE, "linewidth": 0.7}
        self.line([[0.0, -0.6], [0.0, high + 1.2]], zorder=4.6, gid="slew axis", **axis)

    def boom(self) -> None:
        data, foot, head = self.data, self.data.foot_m, self.data.head_m
        along = (head - foot) / max(float(np.hypot(*(head - foot))), 1e-9)
        side = np.array([-along[1], along[0]]) * data.boom_depth_m / 2.0
        ring = [foot + side, head + side * 0.6, head - side * 0.6, foot - side]
        body = {"facecolor": "white", "edgecolor": INK, "linewidth": 1.0}
        self.shape(ring, zorder=5, gid="boom", **body)
        self.line([foot, head], color=GREY, linestyle=CENTRE_LINE, linewidth=0.6, zorder=5.1)
        self.line([head, data.sheave_m], color=INK, linewidth=1.6, zorder=5.2)
        for place in (foot, data.sheave_m):
            pin = {"markersize": 4.0, "markerfacecolor": "white", "zorder": 5.4}
            mark(self.ax, self.display.length(place), "o", **pin)
        if data.bent_uz_m is not None:
            self.line(data.bent_uz_m, zorder=5.3, gid="bent boom", **BENT)

    def hoist(self) -> None:
        data, u, hook = self.data, float(self.data.sheave_m[0]), self.data.hook_z_m
        top, low = hook + data.block_height_m, hook + 0.25 * data.block_height_m
        self.line([(u, float(data.sheave_m[1])), (u, top)], zorder=5, gid="hoist rope", **ROPE)
        body = {"facecolor": INK, "edgecolor": INK, "linewidth": 0.5}
        self.shape(_box(u - 0.3, u + 0.3, low, top), zorder=5.5, gid="hook block", **body)
        self.line([[u, low], [u, hook]], color=INK, linewidth=1.6, zorder=5.4)
        slings = _slings(data)
        self.line(slings, color=INK, linewidth=1.0, zorder=5.2, gid="slings")
        if data.beam_half_z_m is not None:
            self.line(slings[[1, -2]], color=INK, linewidth=2.4, zorder=5.3, gid="beam")
        body = {"facecolor": "#f6dcc8", "edgecolor": RED, "linewidth": 1.1}
        self.shape(_load_box(data), zorder=5.6, gid="load", **body)
        half, stop = max(1.5, data.load_width_m / 2.0), data.hook_highest_m
        self.line([[u - half, stop], [u + half, stop]], zorder=5.7, gid="highest hook", **STOP)

    def lines(self) -> None:
        turn = np.radians(np.arange(0.0, 361.0, 6.0))
        circle = np.column_stack([np.cos(turn), np.sin(turn)])
        for name, u, z, keep in self.data.lines:
            ring = np.array([u, z]) + keep * circle
            self.shape(ring, zorder=4, gid=f"distance kept: {name}", **KEEP)
            self.labels.keep_line_clear(self.display.length(ring))
            place = self.display.length([u, z])
            mark(self.ax, place, "P", markersize=6, zorder=6, gid=f"power line: {name}")
            self.name(u, z, f"{name}\nkeep {self.text(keep)}", toward_deg=60.0)

    def keep_clear(self) -> None:
        data, load = self.data, _load_box(self.data)
        u, z = data.sheave_m.tolist()
        kept: list[tuple[ArrayLike, float]] = [
            ([data.foot_m, data.head_m], 5.0),
            ([(u, z), (u, data.load_base_m)], 6.0),
            (np.vstack([load, load[:1]]), 4.0),
            (_slings(data), 4.0),
            *([] if data.bent_uz_m is None else [(data.bent_uz_m, 2.5)]),
        ]
        for box in data.boxes:
            ring = _box(box.u_min_m, box.u_max_m, box.z_min_m, box.z_max_m)
            kept.append((np.vstack([ring, ring[:1]]), 2.5))
        for line, radius_pt in kept:
            self.labels.keep_line_clear(self.display.length(line), radius_pt=radius_pt)

    def dimension(self, start_m: ArrayLike, end_m: ArrayLike, text: str, offset_pt: float) -> None:
        start, end = self.display.length(start_m), self.display.length(end_m)
        dimension(self.ax, self.labels, start, end, text, offset_pt=offset_pt)

    def dimensions(self) -> None:
        data, u = self.data, float(self.data.sheave_m[0])
        top, edge = data.load_base_m + data.load_height_m, u + data.load_width_m / 2.0
        floor = min(self.ax.get_ylim()) / float(self.display.length(1.0))
        level = min(0.0, float(data.ground_uz_m[:, 1].min()))
        z = level - 0.35 * (level - floor)
        self.dimension([0.0, z], [u, z], f"radius {self.text(u)}", 0.0)
        text = f"boom {self.text(data.boom_length_m)} at {data.boom_angle_deg:.1f}°"
        beside = 11.0 + 36.0 * data.boom_depth_m / max(data.boom_length_m, 1.0)
        self.dimension(data.foot_m, data.head_m, text, beside)
        chain = [
            (data.hook_highest_m, float(data.sheave_m[1]), "hoist stop"),
            (data.hook_z_m, data.hook_highest_m, "room"),
            (top, data.hook_z_m, "slings"),
            (data.load_base_m, top, "load"),
        ]
        for below, above, word in chain:
            if abs(above - below) < 0.05:
                continue
            self.dimension([edge, above], [edge, below], "", 14.0)
            x, y = self.labels.at_pt(self.display.length([edge, (above + below) / 2.0]))
            text = f"{word} {self.text(above - below)}"
            self.labels.add(self.labels.to_data(x + 17.0, y), text, toward_deg=0.0, ground=True)
        text = f"underside at {self.text(data.load_base_m)}"
        self.name(u, data.load_base_m, text, toward_deg=-90.0, ground=True)
        text = f"sheave at {self.text(float(data.sheave_m[1]))}"
        self.name(u, float(data.sheave_m[1]), text, toward_deg=60.0, gap_pt=3.0)
        if data.bent_uz_m is not None:
            bent_u, bent_z = data.bent_uz_m[len(data.bent_uz_m) // 2]
            look: dict[str, Any] = {"toward_deg": 150.0, "gap_pt": 3.0, "colour": RED}
            self.name(bent_u, bent_z, "bent under load (estimate)", **look)

    def name_boxes(self) -> None:
        for box in self.data.boxes:
            text = f"{box.name}\ntop {self.text(box.z_max_m)}"
            middle = (box.u_min_m + box.u_max_m) / 2.0
            self.name(middle, box.z_max_m, text, toward_deg=90.0, ground=True)


def _slings(data: BoomPlane) -> FloatArray:
    """Line of the slings: lifting points, beam's ends where there is one, hook."""
    u, top = float(data.sheave_m[0]), data.load_base_m + data.load_height_m
    left = [(-data.sling_half_spread_m, top)]
    if data.beam_half_z_m is not None:
        left.append((-data.beam_half_z_m[0], data.beam_half_z_m[1]))
    right = [(-x, z) for x, z in reversed(left)]
    return np.array([(u + x, z) for x, z in [*left, (0.0, data.hook_z_m), *right]])


def draw_elevation(
    data: BoomPlane, ax: Drawable, *, system: UnitSystem = "metric", standard_scale: bool = True
) -> None:
    """Draw the elevation to scale with its dimensions in place."""
    display = Display(system)
    unit = display.unit("length_m")
    place = f" at {data.place}" if data.place else " in the plane of the boom"
    prepare(
        ax,
        title=f"Elevation{display.words(place)}",
        xlabel=f"Distance from the slew axis [{unit}]",
        ylabel=f"Height above stand level [{unit}]",
        plan=True,
    )
    labels = to_scale(ax, _bounds(data), display, standard=standard_scale)
    drawing = _Elevation(data, ax, labels, display)
    drawing.ground()
    drawing.machine()
    drawing.boom()
    drawing.hoist()
    drawing.keep_clear()
    drawing.lines()
    drawing.dimensions()
    drawing.name_boxes()
    entries = [KeyEntry("highest hook (hoist stop)", line=STOP)]
    if data.bent_uz_m is not None:
        entries.append(KeyEntry("boom bent under load (estimate)", line=BENT))
    if data.boxes:
        entries.append(KeyEntry("obstacle in this plane", patch=CUT))
    if data.lines:
        entries.append(KeyEntry("distance kept from a line", patch=KEEP))
    key(ax, [*entries, KeyEntry("ground", patch=GROUND)])


def elevation_figure(lift: LiftAssessment, *, system: UnitSystem = "metric") -> Figure:
    """Elevation in the plane of the boom at the governing step, at print size."""
    figure, ax = new_axes(170.0, 150.0)
    draw_elevation(boom_plane(lift), ax, system=system)
    return figure
