"""Drawings of the ground sheet: a mat in plan, its pressure, and the stress below it."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes

from liftcalc.base.units import UnitSystem
from liftcalc.views.ground_data import DepthDrawing, MatDrawing
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
from liftcalc.views.style import BLUE, CURVES, GREY, INK, Display, prepare

__all__ = ["draw_mat_plan", "draw_mat_pressure", "draw_stress_with_depth"]


MAT: dict[str, Any] = {"facecolor": "#f3ead8", "edgecolor": INK, "linewidth": 1.0}
EFFECTIVE: dict[str, Any] = {
    "facecolor": "#cfe3f1",
    "edgecolor": BLUE,
    "linewidth": 0.9,
    "hatch": "////",
}
FLOAT: dict[str, Any] = {"facecolor": "#8a8a8a", "edgecolor": INK, "linewidth": 0.9}
LIMIT: dict[str, Any] = {"color": INK, "linestyle": "-", "linewidth": 2.0}
ELASTIC = CURVES[1]
LAYER: dict[str, Any] = {"color": GREY, "linestyle": (0, (8, 3)), "linewidth": 0.7}
WATER: dict[str, Any] = {"color": BLUE, "linestyle": (0, (3, 2)), "linewidth": 0.9}


def _box(half_x: float, half_y: float) -> list[tuple[float, float]]:
    return [(-half_x, -half_y), (half_x, -half_y), (half_x, half_y), (-half_x, half_y)]


def draw_mat_plan(
    data: MatDrawing, ax: Axes, *, system: UnitSystem = "metric", with_key: bool = True
) -> Axes:
    """Draw a mat from above with its float and the part that was found to bear.

    Parameters:
      data: MatDrawing
      ax: Axes
      system: "metric" or "us"
      with_key: bool
    Returns: Axes. The same Axes, with equal scales.
    """
    display = Display(system)
    unit = display.unit("length_m")
    prepare(
        ax,
        title=data.title,
        xlabel=f"Along the mat [{unit}]",
        ylabel=f"Across [{unit}]",
        plan=True,
    )

    def show(value: float) -> float:
        return float(display.length(value))

    half_l, half_w = show(data.length_m) / 2.0, show(data.width_m) / 2.0
    room = 0.42 * max(half_l, half_w)
    scale = set_scale(
        ax,
        (-half_l - room, -half_w - room, half_l + room, half_w + room),
        system=system,
    )
    labels = Labels(ax)
    scale_bar(ax, labels, display, scale=scale)
    polygon(ax, _box(half_l, half_w), zorder=1, gid="mat", **MAT)
    eff_l, eff_w = show(data.effective_length_m) / 2.0, show(data.effective_width_m) / 2.0
    polygon(ax, _box(eff_l, eff_w), zorder=2, gid="effective area", **EFFECTIVE)
    float_l, float_w = show(data.float_length_m) / 2.0, show(data.float_width_m) / 2.0
    polygon(ax, _box(float_l, float_w), zorder=3, gid="float", **FLOAT)
    labels.reserve((*labels.at_pt((-float_l, -float_w)), *labels.at_pt((float_l, float_w))))

    def text(value: float) -> str:
        return display.text(value, "length_m")

    # dimensions grow outwards: the effective size next to the mat, the whole size beyond it
    up = labels.at_pt((0.0, half_w))[1] - labels.at_pt((0.0, eff_w))[1]
    side = labels.at_pt((half_l, 0.0))[0] - labels.at_pt((eff_l, 0.0))[0]
    for whole, bears, ends, inner_ends, gap, far in (
        (
            data.length_m,
            data.effective_length_m,
            ((-half_l, half_w), (half_l, half_w)),
            ((-eff_l, eff_w), (eff_l, eff_w)),
            up + 9.0,
            26.0,
        ),
        (
            data.width_m,
            data.effective_width_m,
            ((half_l, half_w), (half_l, -half_w)),
            ((eff_l, eff_w), (eff_l, -eff_w)),
            side + 17.0,
            35.0,
        ),
    ):
        if whole - bears > 0.0005:
            dimension(ax, labels, *inner_ends, f"{text(bears)} bears", offset_pt=gap)
            dimension(ax, labels, *ends, text(whole), offset_pt=far)
        else:
            dimension(ax, labels, *ends, f"{text(whole)} (all)", offset_pt=17.0)
    float_text = f"float {text(data.float_length_m)} × {text(data.float_width_m)}"
    labels.add((-float_l, -float_w), float_text, toward_deg=225.0, ground=True, gap_pt=2.0)
    labels.add(
        (-half_l, -half_w),
        f"{data.mat_name}, {text(data.thickness_m)} thick",
        toward_deg=-80.0,
        leader=False,
        ground=True,
    )
    if with_key:
        key(
            ax,
            [
                KeyEntry("mat", patch=MAT),
                KeyEntry("part that bears, found from its strength", patch=EFFECTIVE),
                KeyEntry("float of the leg", patch=FLOAT),
            ],
        )
    return ax


def draw_mat_pressure(
    data: MatDrawing, ax: Axes, *, system: UnitSystem = "metric", with_key: bool = True
) -> Axes:
    """Draw the pressure under a mat, downwards, with what the ground allows.

    Parameters:
      data: MatDrawing
      ax: Axes
      system: "metric" or "us"
      with_key: bool
    Returns: Axes. The same Axes; pressure grows downwards, the mat above it is not to scale.
    """
    display = Display(system)
    unit, p_unit = display.unit("length_m"), display.unit("pressure_kPa")
    prepare(
        ax,
        title=data.title,
        xlabel=f"Along the mat, from the middle of the float [{unit}]",
        ylabel=f"Pressure on the ground [{p_unit}]",
    )

    def press(value: Any) -> Any:
        return display.show(value, "pressure_kPa")

    half = float(display.length(data.length_m)) / 2.0
    eff = float(display.length(data.effective_length_m)) / 2.0
    pad = float(display.length(data.float_length_m)) / 2.0
    even, limit = float(press(data.pressure_kPa)), float(press(data.allowable_kPa))
    elastic = np.asarray(press(data.elastic_pressure_kPa))
    peak = max(even, float(elastic.max()) if elastic.size else 0.0)
    deepest = max(peak, limit if limit <= 2.5 * peak else 0.0)
    ax.set_xlim(-1.25 * half, 1.25 * half)
    ax.set_ylim(1.25 * deepest, -0.62 * deepest)
    ax.set_yticks([t for t in ax.get_yticks() if 0.0 <= t <= 1.25 * deepest])
    labels = Labels(ax)
    mat_h, pad_h = 0.12 * deepest, 0.08 * deepest
    polygon(
        ax,
        [(-half, -mat_h), (half, -mat_h), (half, 0.0), (-half, 0.0)],
        zorder=3,
        gid="mat",
        **MAT,
    )
    polygon(
        ax,
        [(-pad, -mat_h - pad_h), (pad, -mat_h - pad_h), (pad, -mat_h), (-pad, -mat_h)],
        zorder=3,
        gid="float",
        **FLOAT,
    )
    polygon(
        ax,
        [(-eff, 0.0), (eff, 0.0), (eff, even), (-eff, even)],
        zorder=1,
        gid="even pressure",
        **EFFECTIVE,
    )
    top = -mat_h - pad_h
    polyline(
        ax, [(0.0, top - 0.22 * deepest), (0.0, top)], color=INK, linewidth=1.4, gid="leg force"
    )
    polyline(
        ax,
        [(-0.03 * half, top - 0.07 * deepest), (0.0, top), (0.03 * half, top - 0.07 * deepest)],
        color=INK,
        linewidth=1.4,
    )
    edge = [(-eff, 0.0), (-eff, even), (eff, even), (eff, 0.0)]
    labels.keep_line_clear(edge)
    if elastic.size:
        x = np.asarray(display.length(data.elastic_x_m))
        curve = np.column_stack([x, elastic])
        polyline(ax, curve, zorder=4, gid="elastic pressure", **ELASTIC.line())
        labels.keep_line_clear(curve)
    shown = limit <= 2.5 * peak
    if shown:
        ends = [(-half, limit), (half, limit)]
        polyline(ax, ends, zorder=5, gid="allowable", **LIMIT)
        labels.keep_line_clear(ends)
    dimension(
        ax,
        labels,
        (-half, -mat_h),
        (half, -mat_h),
        f"{display.text(data.length_m, 'length_m')} mat",
        offset_pt=30.0,
    )
    labels.add(
        (0.0, top - 0.2 * deepest),
        f"leg force {display.text(data.reaction_kN, 'force_kN')}",
        toward_deg=20.0,
        weight="bold",
        leader=False,
        gap_pt=1.0,
        ground=True,
    )
    labels.add(
        (-0.5 * eff, even),
        f"{display.text(data.pressure_kPa, 'pressure_kPa', 0)} over "
        f"{display.text(data.effective_length_m, 'length_m')}",
        toward_deg=90.0,
        weight="bold",
        ground=True,
        leader=False,
    )
    note = f"allowable {display.text(data.allowable_kPa, 'pressure_kPa', 0)}"
    if shown:
        labels.add((half, limit), note, toward_deg=-120.0, leader=False, ground=True)
    else:
        labels.add(
            (0.75 * half, 1.2 * deepest), f"{note}: below this drawing", toward_deg=120.0,
            leader=False, ground=True,
        )  # fmt: skip
    if elastic.size:
        k = int(np.argmax(elastic))
        polyline(
            ax,
            [(float(x[k]), float(elastic[k]))],
            marker="o",
            markersize=4.0,
            color=ELASTIC.colour,
            linestyle="none",
            zorder=6,
            gid="peak",
        )
        labels.add(
            (float(x[k]), float(elastic[k])),
            f"peak {display.text(float(data.elastic_pressure_kPa[k]), 'pressure_kPa', 0)}",
            toward_deg=80.0,
            ground=True,
        )
    if with_key:
        entries = [
            KeyEntry("even pressure on the part that bears, mat weight included", patch=EFFECTIVE)
        ]
        if elastic.size:
            entries.append(KeyEntry("pressure on elastic ground", line=ELASTIC.line()))
        if shown:
            entries.append(KeyEntry("allowable pressure", line=LIMIT))
        key(ax, entries)
    return ax


def draw_stress_with_depth(
    data: DepthDrawing, ax: Axes, *, system: UnitSystem = "metric", with_key: bool = True
) -> Axes:
    """Draw the vertical stress that the legs add below the middle of one mat.

    Parameters:
      data: DepthDrawing
      ax: Axes
      system: "metric" or "us"
      with_key: bool
    Returns: Axes. The same Axes; depth grows downwards.
    """
    display = Display(system)
    unit, p_unit = display.unit("length_m"), display.unit("pressure_kPa")
    prepare(
        ax,
        title=data.title,
        xlabel=f"Added vertical stress [{p_unit}]",
        ylabel=f"Depth below the mat [{unit}]",
    )
    z = np.asarray(display.length(data.depth_m))
    curves = (
        ("all legs, Boussinesq", data.all_legs_kPa),
        ("this leg alone, Boussinesq", data.own_kPa),
        ("this leg, mean by 2:1 spread", data.mean_2to1_kPa),
    )
    values = [np.asarray(display.show(v, "pressure_kPa")) for _, v in curves]
    right = 1.12 * max(float(v.max()) for v in values)
    ax.set_xlim(0.0, right if right > 0.0 else 1.0)
    ax.set_ylim(float(z[-1]), 0.0)
    labels = Labels(ax)
    for (name, _), value, look in zip(curves, values, CURVES, strict=False):
        curve = np.column_stack([value, z])
        line = polyline(ax, curve, zorder=4, gid=name, **look.line())
        line.set_marker(look.marker)
        line.set_markersize(3.5)
        line.set_markevery((20, 45))
        labels.keep_line_clear(curve)
    edge = ax.get_xlim()[1]
    for top, name in zip(data.layer_top_m, data.layer_name, strict=True):
        level = float(display.length(top))
        if level > 0.0:
            polyline(ax, [(0.0, level), (edge, level)], zorder=2, gid=f"top of {name}", **LAYER)
            labels.keep_line_clear([(0.0, level), (edge, level)])
            k = int(np.argmin(np.abs(z - level)))
            text = display.text(float(data.all_legs_kPa[k]), "pressure_kPa", 0)
            labels.add(
                (float(values[0][k]), level), text, toward_deg=-20.0, weight="bold", ground=True
            )
    if data.water_depth_m is not None and data.water_depth_m < float(data.depth_m[-1]):
        level = float(display.length(data.water_depth_m))
        polyline(ax, [(0.0, level), (edge, level)], zorder=2, gid="water", **WATER)
        labels.keep_line_clear([(0.0, level), (edge, level)])
        labels.add((0.97 * edge, level), "water", toward_deg=150.0, leader=False, colour=BLUE)
    for top, name in zip(data.layer_top_m, data.layer_name, strict=True):
        level = float(display.length(top))
        labels.add((0.97 * edge, level), name, toward_deg=215.0, leader=False, ground=True)
    if with_key:
        entries = [
            KeyEntry(name, line={**look.line(), "marker": look.marker, "markersize": 3.5})
            for (name, _), look in zip(curves, CURVES, strict=False)
        ]
        entries.append(KeyEntry("top of a layer", line=LAYER))
        key(ax, entries)
    return ax
