"""Elevation in the plane of the boom, to scale: boom, hook room, slings, load, obstacles.

Contents: :func:`draw_elevation`. Boom, heights and obstacles come as numbers; nothing is
calculated here but differences of the coordinates that are dimensioned. No published source:
drawing practice.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from liftcalc.base.units import UnitSystem
from liftcalc.views.data import ElevationData
from liftcalc.views.marks import (
    KeyEntry,
    Labels,
    dimension,
    key,
    polygon,
    polyline,
    scale_bar,
    set_scale,
)
from liftcalc.views.screen import Drawable
from liftcalc.views.style import BLUE, CENTRE_LINE, GREY, HIDDEN, INK, RED, Display, prepare

__all__ = ["draw_elevation"]

GROUND: dict[str, Any] = {"facecolor": "#efe9dc", "edgecolor": INK, "linewidth": 1.0, "hatch": ".."}
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


def _box(u0: float, u1: float, z0: float, z1: float) -> list[tuple[float, float]]:
    return [(u0, z0), (u1, z0), (u1, z1), (u0, z1)]


def _bounds(data: ElevationData) -> tuple[float, float, float, float]:
    half = data.load_width_m / 2.0
    tail = max(data.tail_radius_m, data.carrier_half_length_m)
    boxes = [b for b in data.boxes if b.u_min_m < data.sheave_u_m + half + 12.0]
    left = min([-tail - 2.5, *(b.u_min_m for b in boxes if b.u_min_m > -tail - 12.0)])
    right = max([data.sheave_u_m + half + 4.5, *(b.u_max_m for b in boxes)])
    right = min(right, data.sheave_u_m + half + 14.0)
    low = min([-2.5, data.load_base_m - 2.0])
    near = data.ground_uz_m[(data.ground_uz_m[:, 0] >= left) & (data.ground_uz_m[:, 0] <= right), 1]
    if near.size:
        low = min(low, float(near.min()) - 1.5)
    high = max([data.sheave_z_m + 3.0, *(z + keep for _, _, z, keep in data.lines)])
    # room under the ground for the radius and the scale bar
    return left, low - 0.07 * (high - low), right, high


def _draw_ground(ax: Drawable, data: ElevationData, display: Display) -> None:
    profile = display.length(data.ground_uz_m)
    low = min(ax.get_ylim()) - 1.0
    ring = np.vstack([profile, [profile[-1, 0], low], [profile[0, 0], low]])
    polygon(ax, ring, zorder=0.5, gid="ground", **{**GROUND, "edgecolor": "#b9ad93"})
    polyline(ax, profile, color=INK, linewidth=1.1, zorder=3, gid="ground line")
    for box in data.boxes:
        part = np.array(_box(box.u_min_m, box.u_max_m, box.z_min_m, box.z_max_m))
        polygon(ax, display.length(part), zorder=2, gid=f"obstacle: {box.name}", **CUT)


def _draw_machine(ax: Drawable, data: ElevationData, display: Display) -> None:
    half, top = data.carrier_half_length_m, data.carrier_height_m
    carrier = np.array(_box(-half, half, 0.55 * top, top))
    style: dict[str, Any] = {"edgecolor": INK, "linewidth": 0.9}
    polygon(ax, display.length(carrier), facecolor="#f4f4f4", zorder=4, gid="carrier", **style)
    for u in np.atleast_1d(data.leg_u_m):
        leg = display.length(np.array([[u, 0.6 * top], [u, 0.12]]))
        polyline(ax, leg, color=INK, linewidth=2.2, zorder=3.8, gid="leg")
        float_ = display.length(np.array([[u - 0.45, 0.06], [u + 0.45, 0.06]]))
        polyline(ax, float_, color=INK, linewidth=2.4, zorder=3.8, solid_capstyle="butt")
    low, high = data.superstructure_z_m
    body = np.array(_box(-data.tail_radius_m, max(1.2, data.foot_u_m + 1.5), low, high))
    polygon(ax, display.length(body), facecolor="white", zorder=4.2, gid="superstructure", **style)
    axis = display.length(np.array([[0.0, -0.6], [0.0, high + 1.2]]))
    polyline(
        ax, axis, color=GREY, linestyle=CENTRE_LINE, linewidth=0.7, zorder=4.6, gid="slew axis"
    )


def _draw_boom(ax: Drawable, data: ElevationData, display: Display) -> None:
    foot = np.array([data.foot_u_m, data.foot_z_m])
    head = np.array([data.head_u_m, data.head_z_m])
    along = (head - foot) / max(float(np.hypot(*(head - foot))), 1e-9)
    side = np.array([-along[1], along[0]]) * data.boom_depth_m / 2.0
    ring = np.array([foot + side, head + side * 0.6, head - side * 0.6, foot - side])
    polygon(
        ax,
        display.length(ring),
        facecolor="white",
        edgecolor=INK,
        linewidth=1.0,
        zorder=5,
        gid="boom",
    )
    axis = display.length(np.array([foot, head]))
    polyline(ax, axis, color=GREY, linestyle=CENTRE_LINE, linewidth=0.6, zorder=5.1)
    tip = display.length(np.array([head, [data.sheave_u_m, data.sheave_z_m]]))
    polyline(ax, tip, color=INK, linewidth=1.6, zorder=5.2)
    for place, size in ((axis[0], 4.0), (tip[1], 4.0)):
        polyline(
            ax,
            [place],
            marker="o",
            markersize=size,
            color=INK,
            markerfacecolor="white",
            linestyle="none",
            zorder=5.4,
        )
    if data.bent_uz_m is not None:
        polyline(ax, display.length(data.bent_uz_m), zorder=5.3, gid="bent boom", **BENT)


def _draw_hoist(ax: Drawable, data: ElevationData, display: Display) -> None:
    u = data.sheave_u_m
    top = data.load_base_m + data.load_height_m
    rope = np.array([[u, data.sheave_z_m], [u, data.hook_z_m + data.block_height_m]])
    polyline(ax, display.length(rope), zorder=5, gid="hoist rope", **ROPE)
    block = np.array(
        _box(
            u - 0.3,
            u + 0.3,
            data.hook_z_m + 0.25 * data.block_height_m,
            data.hook_z_m + data.block_height_m,
        )
    )
    polygon(
        ax,
        display.length(block),
        facecolor=INK,
        edgecolor=INK,
        linewidth=0.5,
        zorder=5.5,
        gid="hook block",
    )
    polyline(
        ax,
        display.length(
            np.array([[u, data.hook_z_m + 0.25 * data.block_height_m], [u, data.hook_z_m]])
        ),
        color=INK,
        linewidth=1.6,
        zorder=5.4,
    )
    slings = _slings(data)
    polyline(ax, display.length(slings), zorder=5.2, gid="slings", **{**ROPE, "linewidth": 1.0})
    if data.beam_half_z_m is not None:
        bar = slings[[1, -2]]
        polyline(ax, display.length(bar), color=INK, linewidth=2.4, zorder=5.3, gid="beam")
    half = data.load_width_m / 2.0
    load = np.array(_box(u - half, u + half, data.load_base_m, top))
    polygon(
        ax,
        display.length(load),
        facecolor="#f6dcc8",
        edgecolor=RED,
        linewidth=1.1,
        zorder=5.6,
        gid="load",
    )
    stop = np.array(
        [[u - max(1.5, half), data.hook_highest_m], [u + max(1.5, half), data.hook_highest_m]]
    )
    polyline(ax, display.length(stop), zorder=5.7, gid="highest hook", **STOP)


def _slings(data: ElevationData) -> NDArray[np.float64]:
    """Line of the slings: lifting points, beam's ends where there is one, hook."""
    u, top = data.sheave_u_m, data.load_base_m + data.load_height_m
    out = [(-data.sling_half_spread_m, top)]
    if data.beam_half_z_m is not None:
        out.append((-data.beam_half_z_m[0], data.beam_half_z_m[1]))
    back = [(-x, z) for x, z in reversed(out)]
    return np.array([(u + x, z) for x, z in [*out, (0.0, data.hook_z_m), *back]])


def _draw_lines(ax: Drawable, data: ElevationData, display: Display, labels: Labels) -> None:
    turn = np.radians(np.arange(0.0, 361.0, 6.0))
    for name, u, z, keep in data.lines:
        ring = np.column_stack([u + keep * np.cos(turn), z + keep * np.sin(turn)])
        polygon(ax, display.length(ring), zorder=4, gid=f"distance kept: {name}", **KEEP)
        labels.keep_line_clear(display.length(ring))
        place = display.length(np.array([u, z]))
        polyline(
            ax,
            [place],
            marker="P",
            markersize=6,
            color=INK,
            linestyle="none",
            zorder=6,
            gid=f"power line: {name}",
        )
        labels.add(place, f"{name}\nkeep {display.text(keep, 'length_m')}", toward_deg=60.0)


def _dimensions(ax: Drawable, data: ElevationData, labels: Labels, display: Display) -> None:
    def shown(u: float, z: float) -> tuple[float, float]:
        return float(display.length(u)), float(display.length(z))

    def text(value: float) -> str:
        return display.text(value, "length_m")

    top = data.load_base_m + data.load_height_m
    u, half = data.sheave_u_m, data.load_width_m / 2.0
    low = min(ax.get_ylim())
    floor = float(low / float(display.length(1.0)))
    level = min(0.0, float(data.ground_uz_m[:, 1].min()))
    z = level - 0.35 * (level - floor)
    dimension(
        ax, labels, shown(0.0, z), shown(u, z), f"radius {text(u)}", offset_pt=0.0, colour=INK
    )
    dimension(
        ax,
        labels,
        shown(data.foot_u_m, data.foot_z_m),
        shown(data.head_u_m, data.head_z_m),
        f"boom {text(data.boom_length_m)} at {data.boom_angle_deg:.1f}°",
        offset_pt=11.0 + 36.0 * data.boom_depth_m / max(data.boom_length_m, 1.0),
    )
    chain = [
        (data.hook_highest_m, data.sheave_z_m, "hoist stop"),
        (data.hook_z_m, data.hook_highest_m, "room"),
        (top, data.hook_z_m, "slings"),
        (data.load_base_m, top, "load"),
    ]
    for below, above, word in chain:
        if abs(above - below) < 0.05:
            continue
        where = (shown(u + half, above), shown(u + half, below))
        middle = shown(u + half, (above + below) / 2.0)
        dimension(ax, labels, *where, "", offset_pt=14.0)
        side = labels.to_data(labels.at_pt(middle)[0] + 17.0, labels.at_pt(middle)[1])
        labels.add(
            side,
            f"{word} {text(above - below)}",
            toward_deg=0.0,
            ground=True,
        )
    base = shown(u, data.load_base_m)
    labels.add(base, f"underside at {text(data.load_base_m)}", toward_deg=-90.0, ground=True)
    sheave = shown(u, data.sheave_z_m)
    labels.add(sheave, f"sheave at {text(data.sheave_z_m)}", toward_deg=60.0, gap_pt=3.0)
    if data.bent_uz_m is not None:
        labels.add(
            shown(*data.bent_uz_m[len(data.bent_uz_m) // 2]),
            "bent under load (estimate)",
            toward_deg=150.0,
            gap_pt=3.0,
            colour=RED,
        )


def draw_elevation(
    data: ElevationData,
    ax: Drawable,
    *,
    system: UnitSystem = "metric",
    standard_scale: bool = True,
    with_key: bool = True,
) -> Drawable:
    """Draw the elevation to scale with its dimensions in place.

    Parameters:
      data: ElevationData
      ax: Axes. Filled wholly; limits are set so that the drawing is to scale.
      system: "metric" or "us"
      standard_scale, with_key: bool. Nearest round drawing scale; key below the Axes.
    Returns: Axes. The same Axes.
    """
    display = Display(system)
    unit = display.unit("length_m")
    prepare(
        ax,
        title=display.words(data.title),
        xlabel=f"Distance from the slew axis [{unit}]",
        ylabel=f"Height above stand level [{unit}]",
        plan=True,
    )
    bounds = display.length(np.array(_bounds(data)))
    scale = set_scale(ax, tuple(bounds), system=system, standard=standard_scale)
    labels = Labels(ax)
    scale_bar(ax, labels, display, scale=scale if standard_scale else None)
    _draw_ground(ax, data, display)
    _draw_machine(ax, data, display)
    _draw_boom(ax, data, display)
    _draw_hoist(ax, data, display)
    _keep_clear(data, labels, display)
    _draw_lines(ax, data, display, labels)
    _dimensions(ax, data, labels, display)
    for box in data.boxes:
        place = display.length(np.array([(box.u_min_m + box.u_max_m) / 2.0, box.z_max_m]))
        height = display.text(box.z_max_m, "length_m")
        labels.add(place, f"{box.name}\ntop {height}", toward_deg=90.0, ground=True)
    if with_key:
        key(ax, _key(data))
    return ax


def _keep_clear(data: ElevationData, labels: Labels, display: Display) -> None:
    points = [[data.foot_u_m, data.foot_z_m], [data.head_u_m, data.head_z_m]]
    labels.keep_line_clear(display.length(np.array(points)), radius_pt=5.0)
    u = data.sheave_u_m
    hoist = [[u, data.sheave_z_m], [u, data.load_base_m]]
    labels.keep_line_clear(display.length(np.array(hoist)), radius_pt=6.0)
    half, top = data.load_width_m / 2.0, data.load_base_m + data.load_height_m
    load = np.array(_box(u - half, u + half, data.load_base_m, top))
    labels.keep_line_clear(display.length(np.vstack([load, load[:1]])), radius_pt=4.0)
    slings = _slings(data)
    labels.keep_line_clear(display.length(slings), radius_pt=4.0)
    if data.bent_uz_m is not None:
        labels.keep_line_clear(display.length(data.bent_uz_m))
    for box in data.boxes:
        ring = np.array(_box(box.u_min_m, box.u_max_m, box.z_min_m, box.z_max_m))
        labels.keep_line_clear(display.length(np.vstack([ring, ring[:1]])))


def _key(data: ElevationData) -> list[KeyEntry]:
    entries = [KeyEntry("highest hook (hoist stop)", line=STOP)]
    if data.bent_uz_m is not None:
        entries.append(KeyEntry("boom bent under load (estimate)", line=BENT))
    if data.boxes:
        entries.append(KeyEntry("obstacle in this plane", patch=CUT))
    if data.lines:
        entries.append(KeyEntry("distance kept from a line", patch=KEEP))
    entries.append(KeyEntry("ground", patch={**GROUND, "edgecolor": "#b9ad93"}))
    return entries
