"""Elevation in the plane of the boom, to scale: machine, boom, slings, load, ground, obstacles.

What is drawn is a :class:`~liftcalc.lift.boom_plane.BoomPlane`; nothing is calculated here but
differences of the coordinates that are dimensioned.
"""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.units import UnitSystem
from liftcalc.lift.boom_plane import BoomPlane, boom_plane
from liftcalc.views.labels import Labels
from liftcalc.views.machine import LEG_ORDER, MAT, UPPER, WEIGHT
from liftcalc.views.marks import dimension, key, to_scale
from liftcalc.views.screen import Drawable
from liftcalc.views.strokes import box, closed, mark, polygon, polyline
from liftcalc.views.style import (
    BLUE,
    CENTRE_LINE,
    GREY,
    HIDDEN,
    INK,
    RED,
    TEXT_PT,
    Display,
    figure_of,
    fill,
    prepare,
    text_size_pt,
)

GROUND_EDGE = "#b9ad93"
GROUND = fill("#efe9dc", GROUND_EDGE, 1.0, "..")
CUT = fill("#e4e4e4", hatch="xxx")
STOP: dict[str, Any] = {"color": BLUE, "linestyle": HIDDEN, "linewidth": 1.2}
BENT: dict[str, Any] = {"color": RED, "linestyle": (0, (6, 2)), "linewidth": 1.2}
STOUT: dict[str, Any] = {"color": INK, "linewidth": 2.4, "solid_capstyle": "butt"}
ROPE: dict[str, Any] = {"color": INK, "linewidth": 0.8}
SUPPORT = fill("none", width=0.0, hatch="////")
BODY = fill("#f4f4f4")
KEEP = fill("none", width=0.8, dash=(0, (2, 2)))


def _load_box(data: BoomPlane) -> FloatArray:
    u, half = data.sheave_m[0], data.load_width_m / 2.0
    return box(u - half, data.load_base_m, u + half, data.load_base_m + data.load_height_m)


def _bounds(data: BoomPlane) -> tuple[float, float, float, float]:
    end = float(data.sheave_m[0]) + data.load_width_m / 2.0
    tail = max(data.tail_radius_m, data.carrier_half_length_m)
    boxes = [b for b in data.boxes if b.u_min_m < end + 12.0]
    left = min([-tail - 2.5, *(b.u_min_m for b in boxes if b.u_min_m > -tail - 12.0)])
    beyond = end + max(4.5, 0.3 * float(data.sheave_m[1]))
    right = min(max([beyond, *(b.u_max_m for b in boxes)]), end + 14.0)
    low = min([-2.5, data.load_base_m - 2.0])
    near = data.ground_uz_m[(data.ground_uz_m[:, 0] >= left) & (data.ground_uz_m[:, 0] <= right), 1]
    if near.size:
        low = min(low, float(near.min()) - 1.5)
    high = max([float(data.sheave_m[1]) + 3.0, *(z + keep for _, _, z, keep in data.lines)])
    # room under the ground for the radius and the scale bar
    return left, low - 0.07 * (high - low), right, high


class _Elevation:
    """One elevation being drawn: numbers in metres go on the Axes in display units."""

    def __init__(self, data: BoomPlane, labels: Labels) -> None:
        self.data, self.ax, self.labels, self.display = data, labels.ax, labels, labels.display

    def line(self, points_m: ArrayLike, **style: Any) -> None:
        polyline(self.ax, self.display.length(points_m), **style)

    def shape(self, ring_m: ArrayLike, **style: Any) -> None:
        polygon(self.ax, self.display.length(ring_m), **style)

    def text(self, value_m: float) -> str:
        return self.display.text(value_m, "length_m")

    def name(self, u_m: float, z_m: float, text: str, **style: Any) -> None:
        self.labels.add(self.display.length([u_m, z_m]), text, **style)

    @property
    def floor_m(self) -> float:
        """Lower edge of the ground drawn: the scale bar stands below it."""
        left, bottom = self.labels.frame[:2]
        return self.labels.to_data(left, bottom + 22.0)[1] / float(self.display.length(1.0))

    def ground(self) -> None:
        profile, low = self.data.ground_uz_m, self.floor_m
        x0, x1 = (x / float(self.display.length(1.0)) for x in sorted(self.ax.get_xlim()))
        if len(profile):
            ring = np.vstack([profile, [profile[-1, 0], low], [profile[0, 0], low]])
            self.shape(ring, zorder=0.5, gid="ground", **GROUND)
            self.line(profile, color=INK, linewidth=1.1, zorder=3, gid="ground line")
            self.labels.keep_line_clear(self.display.length(closed(ring)))
        known = [(x0, float(profile[0, 0])), (float(profile[-1, 0]), x1)] if len(profile) else []
        for start, end in known or [(x0, x1)]:
            if end - start > 0.06 * (x1 - x0):
                self.unsurveyed(start, end, low)
        for b in self.data.boxes:
            ring = box(b.u_min_m, b.z_min_m, b.u_max_m, b.z_max_m)
            self.shape(ring, zorder=2, gid=f"obstacle: {b.name}", **CUT)
            self.support(b.u_min_m, b.u_max_m, b.z_min_m)
        if self.data.rests:
            load = _load_box(self.data)
            self.support(float(load[0, 0]), float(load[1, 0]), self.data.load_base_m)

    def unsurveyed(self, start: float, end: float, low: float) -> None:
        """Say where the ground is not known, in place of drawing any."""
        for u in (start, end):
            if np.isclose(self.data.ground_uz_m[:, 0], u).any():
                self.line([[u, low], [u, low + 1.2]], color=INK, linestyle=HIDDEN, linewidth=0.8)
        bottom = self.labels.at_pt(self.display.length([0.0, low]))[1]
        left, right = (self.labels.at_pt(self.display.length([u, low]))[0] for u in (start, end))
        words = "no levels surveyed"
        wide = text_size_pt(words, TEXT_PT)[0] + 6.0
        if right - left < wide:
            words = words.replace(" ", "\n", 2)
        # at the frame, away from what hangs or stands in between
        outer = left + wide / 2.0 if start == min(start, 0.0) else right - wide / 2.0
        middle = (left + right) / 2.0
        place = self.labels.to_data(middle if "\n" in words else outer, bottom + 6.0)
        self.labels.write(place, words, colour=GREY)

    def support(self, left: float, right: float, z: float) -> None:
        """What a thing stands on where no ground is surveyed at its foot: its level is known."""
        profile, middle = self.data.ground_uz_m, (left + right) / 2.0
        known = len(profile) > 0 and profile[0, 0] <= middle <= profile[-1, 0]
        if known and z < float(np.interp(middle, *profile.T)) + 0.15:
            return
        pad = 0.6
        self.line([[left - pad, z], [right + pad, z]], color=INK, linewidth=1.1, zorder=3)
        self.shape(box(left - pad, z - 0.4, right + pad, z), zorder=1.9, gid="support", **SUPPORT)

    def machine(self) -> None:
        data = self.data
        half, top = data.carrier_half_length_m, data.carrier_height_m
        self.shape(box(-half, 0.35 * top, half, top), zorder=4, gid="carrier", **BODY)
        beam, pad = 0.55 * top, data.mat_thickness_m
        for (left, right), name in zip(data.mats_m, LEG_ORDER, strict=False):
            self.shape(box(left, 0.0, right, pad), zorder=3.7, gid=f"mat {name}", **MAT)
        for u in np.atleast_1d(data.leg_u_m).tolist():
            root = float(np.clip(u, -half, half))
            self.line([[root, beam], [u, beam], [u, pad]], zorder=3.8, gid="outrigger", **STOUT)
            foot = box(u - data.float_m / 2.0, pad, u + data.float_m / 2.0, pad + 0.12)
            self.shape(foot, facecolor=INK, zorder=3.9, gid="float")
        low, high = data.superstructure_z_m
        rear, front = data.upper_m or (-data.tail_radius_m, max(1.2, float(data.foot_m[0]) + 1.5))
        self.shape(box(rear, low, front, high), zorder=4.2, gid="superstructure", **UPPER)
        for ring in self.counterweight():
            self.shape(ring, zorder=4.3, gid="counterweight", **WEIGHT)
        axis = {"color": GREY, "linestyle": CENTRE_LINE, "linewidth": 0.7}
        self.line([[0.0, -0.6], [0.0, high + 1.2]], zorder=4.6, gid="slew axis", **axis)

    def counterweight(self) -> list[FloatArray]:
        if self.data.counterweight_m is None:
            return []
        back, fore, under, over = self.data.counterweight_m
        return [box(back, under, fore, over)]

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
            self.line(data.bent_uz_m, zorder=5.3, gid="deflected boom", **BENT)

    def hoist(self) -> None:
        data, u, hook = self.data, float(self.data.sheave_m[0]), self.data.hook_z_m
        top, low = hook + data.block_height_m, hook + 0.25 * data.block_height_m
        self.line([(u, float(data.sheave_m[1])), (u, top)], zorder=5, gid="hoist rope", **ROPE)
        body = {"facecolor": INK, "edgecolor": INK, "linewidth": 0.5}
        self.shape(box(u - 0.3, low, u + 0.3, top), zorder=5.5, gid="hook block", **body)
        self.line([[u, low], [u, hook]], color=INK, linewidth=1.6, zorder=5.4)
        slings = _slings(data)
        self.line(slings, color=INK, linewidth=1.0, zorder=5.2, gid="slings")
        if data.beam_half_z_m is not None:
            self.line(slings[[1, -2]], color=INK, linewidth=2.4, zorder=5.3, gid="beam")
        body = {"facecolor": "#f6dcc8", "edgecolor": RED, "linewidth": 1.1}
        self.shape(_load_box(data), zorder=5.6, gid="load", **body)
        half, stop = max(1.5, data.load_width_m / 2.0), data.hook_highest_m
        self.line([[u - half, stop], [u + half, stop]], zorder=5.7, gid="upper hoist limit", **STOP)

    def lines(self) -> None:
        turn = np.radians(np.arange(0.0, 361.0, 6.0))
        circle = np.column_stack([np.cos(turn), np.sin(turn)])
        for name, u, z, keep in self.data.lines:
            ring = np.array([u, z]) + keep * circle
            self.shape(ring, zorder=4, gid=f"clearance: {name}", **KEEP)
            self.labels.keep_line_clear(self.display.length(ring))
            place = self.display.length([u, z])
            mark(self.ax, place, "P", markersize=6, zorder=6, gid=f"power line: {name}")
            clear = self.display.text(keep, "length_m", "up")
            self.name(u, z, f"{name}\nclearance {clear}", toward_deg=60.0)

    def keep_clear(self) -> None:
        data, load = self.data, _load_box(self.data)
        u, z = data.sheave_m.tolist()
        kept: list[tuple[ArrayLike, float]] = [
            ([data.foot_m, data.head_m], 5.0),
            ([(u, z), (u, data.load_base_m)], 6.0),
            (closed(load), 4.0),
            (_slings(data), 4.0),
            *([] if data.bent_uz_m is None else [(data.bent_uz_m, 2.5)]),
        ]
        rear, front = data.upper_m or (-data.tail_radius_m, 1.5)
        half = data.carrier_half_length_m
        low, high = data.superstructure_z_m
        bodies = [box(rear, low, front, high), box(-half, 0.0, half, data.carrier_height_m)]
        for ring in (*bodies, *self.counterweight()):
            self.labels.keep_area_clear(self.display.length(ring))
        for b in data.boxes:
            kept.append((closed(box(b.u_min_m, b.z_min_m, b.u_max_m, b.z_max_m)), 2.5))
        for line, radius_pt in kept:
            self.labels.keep_line_clear(self.display.length(line), radius_pt=radius_pt)

    def dimension(self, start_m: ArrayLike, end_m: ArrayLike, text: str, offset_pt: float) -> None:
        start, end = self.display.length(start_m), self.display.length(end_m)
        dimension(self.labels, start, end, text, offset_pt=offset_pt)

    def dimensions(self) -> None:
        data, u = self.data, float(self.data.sheave_m[0])
        top, edge = data.load_base_m + data.load_height_m, u + data.load_width_m / 2.0
        level = min([0.0, *data.ground_uz_m[:, 1].tolist()])
        z = level - 0.5 * (level - self.floor_m)
        self.dimension([0.0, z], [u, z], f"radius {self.text(u)}", 0.0)
        text = f"boom {self.text(data.boom_length_m)} at "
        text += self.display.text(data.boom_angle_deg, "angle_deg")
        beside = 11.0 + 36.0 * data.boom_depth_m / max(data.boom_length_m, 1.0)
        self.dimension(data.foot_m, data.head_m, text, beside)
        chain = [
            (data.hook_highest_m, float(data.sheave_m[1]), "{} to\nupper hoist limit"),
            (data.hook_z_m, data.hook_highest_m, "hook travel left {}"),
            (top, data.hook_z_m, "slings {}"),
            (data.load_base_m, top, "load {}"),
        ]
        for below, above, word in chain:
            if abs(above - below) < 0.05:
                continue
            self.dimension([edge, above], [edge, below], "", 14.0)
            x, y = self.labels.at_pt(self.display.length([edge, (above + below) / 2.0]))
            text = word.format(self.text(above - below))
            self.labels.add(self.labels.to_data(x + 17.0, y), text, toward_deg=0.0, ground=True)
        text = f"underside of load at {self.text(data.load_base_m)}"
        text += f"\n({data.rests} level as stated)" if data.rests else ""
        self.name(u, data.load_base_m, text, toward_deg=-90.0, ground=True)
        text = f"boom head at {self.text(float(data.sheave_m[1]))}"
        self.name(u, float(data.sheave_m[1]), text, toward_deg=60.0, gap_pt=3.0)
        if data.bent_uz_m is not None:
            bent_u, bent_z = data.bent_uz_m[len(data.bent_uz_m) // 2]
            look: dict[str, Any] = {"toward_deg": 150.0, "gap_pt": 3.0, "colour": RED}
            self.name(bent_u, bent_z, "deflected boom (estimate)", **look)

    def name_boxes(self) -> None:
        for b in self.data.boxes:
            text = f"{b.name}\ntop {self.text(b.z_max_m)}"
            self.name((b.u_min_m + b.u_max_m) / 2.0, b.z_max_m, text, toward_deg=90.0, ground=True)


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
    names = frozenset({*(b.name for b in data.boxes), *(n for n, *_ in data.lines)})
    display = Display(system, names)
    title, unit = f"Elevation: {data.place or 'in the plane of the boom'}", display.unit("length_m")
    across, up = f"Distance from the slew axis [{unit}]", "Height above ground at slew centre"
    prepare(ax, display, title, across, f"{up} [{unit}]", plan=True)
    drawing = _Elevation(data, to_scale(ax, _bounds(data), display, standard=standard_scale))
    drawing.ground()
    drawing.machine()
    drawing.boom()
    drawing.hoist()
    drawing.keep_clear()
    drawing.lines()
    drawing.dimensions()
    drawing.name_boxes()
    entries = (
        (True, "upper hoist limit", STOP),
        (data.bent_uz_m is not None, "deflected boom (estimate)", BENT),
        (data.boxes, "obstacle in this plane", CUT),
        (data.lines, "clearance of an overhead line", KEEP),
        (len(data.ground_uz_m), "ground as surveyed", GROUND),
        (data.counterweight_m is not None, "counterweight", WEIGHT),
        (data.mats_m, "mat", MAT),
    )
    key(ax, [(words, look) for drawn, words, look in entries if drawn], display)


elevation_figure = figure_of(boom_plane, draw_elevation, 170.0, 150.0)
"""Elevation in the plane of the boom at the governing step, at print size."""
