"""Plan of the lift: site, machine, legs, base polygon, mats, load path and swing, to scale.

Contents: :func:`draw_plan`, :func:`draw_machine`, :func:`draw_path`, :func:`plan_bounds`.
North is up the page; coordinates are the site's. No formula but the turn from machine to site
coordinates. No published source: drawing practice.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from liftcalc.base.arrays import FloatArray
from liftcalc.base.plan import to_site
from liftcalc.base.units import UnitSystem
from liftcalc.views.data import LEG_ORDER, PlanData
from liftcalc.views.marks import (
    KeyEntry,
    Labels,
    dimension,
    key,
    north_arrow,
    polygon,
    polyline,
    scale_bar,
    set_scale,
)
from liftcalc.views.screen import Drawable
from liftcalc.views.site_shapes import draw_shapes, in_window, name_shapes, shape_key
from liftcalc.views.style import BLUE, CENTRE_LINE, GREY, INK, LONG_DASH, RED, Display, prepare

__all__ = ["draw_machine", "draw_path", "draw_plan", "plan_bounds"]


TIPPING: dict[str, Any] = {"color": BLUE, "linestyle": LONG_DASH, "linewidth": 1.1}
GOVERNING: dict[str, Any] = {"color": BLUE, "linestyle": "-", "linewidth": 2.4}
PATH: dict[str, Any] = {"color": RED, "linestyle": (0, (5, 2)), "linewidth": 1.6}
MAT: dict[str, Any] = {"facecolor": "#ede3cf", "edgecolor": INK, "linewidth": 0.7, "hatch": "///"}
TAIL: dict[str, Any] = {"color": GREY, "linestyle": CENTRE_LINE, "linewidth": 0.9}


def _site(data: PlanData, xy: FloatArray, display: Display) -> FloatArray:
    return display.length(
        to_site(
            xy,
            easting_m=data.easting_m,
            northing_m=data.northing_m,
            heading_deg=data.heading_deg,
        )
    )


def _circle(radius: float, start_deg: float = 0.0, end_deg: float = 360.0) -> FloatArray:
    steps = max(2, int(abs(end_deg - start_deg) / 3.0) + 1)
    a = np.radians(np.linspace(start_deg, end_deg, steps))
    return radius * np.column_stack([np.cos(a), np.sin(a)])


def plan_bounds(data: PlanData, *, margin_m: float = 1.5) -> tuple[float, float, float, float]:
    """Bounds (x0, y0, x1, y1) of machine, boom, path and load, in metres.

    An overhead line that the boom can reach is in the frame, at its nearest point.
    """
    machine = data.machine
    parts = [
        machine.carrier_xy_m,
        machine.leg_xy_m,
        *machine.mat_xy_m,
        _circle(machine.tail_radius_m),
        _circle(data.radius_m, data.slew_deg, data.slew_deg),
    ]
    points = [
        to_site(
            np.vstack(parts),
            easting_m=data.easting_m,
            northing_m=data.northing_m,
            heading_deg=data.heading_deg,
        )
    ]
    if data.path_xy_m is not None:
        points.append(data.path_xy_m)
    points += list(data.load_xy_m)
    centre = np.array([data.easting_m, data.northing_m])
    for shape in data.shapes:
        if shape.kind == "power line":
            near = _nearest(shape.xy_m, centre)
            if np.hypot(*(near - centre)) <= data.reach_m + shape.width_m:
                points.append(near[None, :])
    every = np.vstack(points)
    low, high = every.min(axis=0) - margin_m, every.max(axis=0) + margin_m
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _nearest(line: FloatArray, point: FloatArray) -> FloatArray:
    """Point of a line (n, 2) nearest to *point*."""
    way = shapely.LineString(line[:, :2])
    near = way.interpolate(way.project(shapely.Point(point)))
    return np.array([near.x, near.y])


def draw_machine(ax: Drawable, data: PlanData, display: Display, *, boom: bool = True) -> Drawable:
    """Carrier, legs, mats, base polygon, tail swing and boom, without texts."""
    machine = data.machine
    for name, xy in zip(LEG_ORDER, machine.mat_xy_m, strict=False):
        polygon(ax, _site(data, xy, display), zorder=3, gid=f"mat {name}", **MAT)
    _draw_base(ax, data, display)
    polygon(
        ax,
        _site(data, machine.carrier_xy_m, display),
        facecolor="#f4f4f4",
        edgecolor=INK,
        linewidth=1.0,
        zorder=4,
        gid="carrier",
    )
    roots = _site(data, machine.leg_root_xy_m, display)
    feet = _site(data, machine.leg_xy_m, display)
    for name, root, foot in zip(LEG_ORDER, roots, feet, strict=True):
        polyline(ax, [root, foot], color=INK, linewidth=3.2, zorder=4.2, gid=f"leg {name}")
        polyline(ax, [root, foot], color="white", linewidth=1.8, zorder=4.3)
        polyline(
            ax,
            [foot],
            color=INK,
            marker="s",
            markersize=4.5,
            linestyle="none",
            zorder=5,
            gid=f"float {name}",
        )
    tail = _site(data, _circle(machine.tail_radius_m), display)
    polyline(ax, tail, zorder=4.5, gid="tail swing", **TAIL)
    if boom:
        _draw_boom(ax, data, display)
    return ax


def _draw_base(ax: Drawable, data: PlanData, display: Display) -> None:
    base = _site(data, data.machine.base_xy_m, display)
    closed = np.vstack([base, base[:1]])
    polyline(ax, closed, zorder=3.6, gid="tipping lines", **TIPPING)
    edge = data.machine.governing_edge
    if edge is not None:
        polyline(ax, closed[edge : edge + 2], zorder=3.7, gid="governing tipping line", **GOVERNING)


def _draw_boom(ax: Drawable, data: PlanData, display: Display) -> None:
    a = np.radians(data.slew_deg)
    along, side = np.array([np.cos(a), np.sin(a)]), np.array([-np.sin(a), np.cos(a)])
    tail = -along * min(1.2, data.machine.tail_radius_m / 2)
    half = data.machine.boom_width_m / 2.0
    head = along * data.radius_m
    ring = [tail + side * half, head + side * half * 0.6, head - side * half * 0.6]
    ring.append(tail - side * half)
    polygon(
        ax,
        _site(data, np.array(ring), display),
        facecolor="white",
        edgecolor=INK,
        linewidth=0.9,
        zorder=6,
        alpha=0.92,
        gid="boom",
    )
    axis = _site(data, np.array([[0.0, 0.0], head]), display)
    polyline(ax, axis, color=INK, linestyle=CENTRE_LINE, linewidth=0.6, zorder=6.1)
    polyline(
        ax,
        axis[:1],
        color=INK,
        marker="o",
        markersize=5,
        markerfacecolor="white",
        linestyle="none",
        zorder=6.2,
        gid="slew centre",
    )


def draw_path(ax: Drawable, data: PlanData, display: Display) -> Drawable:
    """Load outlines at both ends, way of the hook, arrow heads."""
    for k, ring in enumerate(data.load_xy_m):
        polygon(
            ax,
            display.length(ring),
            facecolor="#f6dcc8" if k == 0 else "white",
            edgecolor=RED,
            linewidth=1.0,
            linestyle="-" if k == 0 else (0, (4, 2)),
            zorder=6.5,
            gid="load at pick" if k == 0 else "load at set-down",
        )
    if data.path_xy_m is None or len(data.path_xy_m) < 2:
        return ax
    path = display.length(data.path_xy_m)
    polyline(ax, path, zorder=6.8, gid="load path", **PATH)
    steps = np.hypot(*np.diff(path, axis=0).T)
    way = np.concatenate([[0.0], np.cumsum(steps)])
    if way[-1] <= 0:
        return ax
    window = ax.get_window_extent()
    dpi = ax.figure.dpi if ax.figure is not None else 100.0
    size = 5.5 / 72.0 * dpi * abs(ax.get_xlim()[1] - ax.get_xlim()[0]) / window.width
    for share in (0.3, 0.7):
        k = int(np.clip(np.searchsorted(way, share * way[-1]), 1, len(path) - 1))
        step = path[k] - path[k - 1]
        length = float(np.hypot(*step))
        if length == 0.0:
            continue
        along = step / length
        side = np.array([-along[1], along[0]])
        middle = path[k - 1] + along * (share * way[-1] - way[k - 1])
        tip = middle + along * size
        polygon(
            ax,
            [
                tip,
                middle - along * size * 0.6 + side * size * 0.6,
                middle - along * size * 0.6 - side * size * 0.6,
            ],
            facecolor=RED,
            edgecolor="white",
            linewidth=0.5,
            zorder=7,
            gid="way",
        )
    return ax


def _name_legs(ax: Drawable, data: PlanData, labels: Labels, display: Display) -> None:
    machine = data.machine
    feet = _site(data, machine.leg_xy_m, display)
    for k, name in enumerate(LEG_ORDER):
        text = f"{name}  {display.text(float(machine.extension_m[k]), 'length_m')}"
        if machine.reaction_kN is not None:
            force = float(machine.reaction_kN[k])
            text += f"\n{display.text(force, 'force_kN')}" if force > 0 else "\nlifts off"
        x, y = float(machine.leg_xy_m[k, 0]), float(machine.leg_xy_m[k, 1])
        away = float(np.degrees(np.arctan2(y, x))) + data.heading_deg
        labels.add(feet[k], text, toward_deg=away, weight="bold", gap_pt=7.0, gid=f"text {name}")


def _dimension_base(ax: Drawable, data: PlanData, labels: Labels, display: Display) -> None:
    """Spread of the front and of the rear legs, and distance between the two."""
    legs = data.machine.leg_xy_m
    feet = _site(data, legs, display)
    rows = (("front", 0, 1), ("rear", 3, 2))
    for where, left, right in rows:
        spread = float(np.hypot(*(legs[left] - legs[right])))
        text = display.text(spread, "length_m")
        first, second = (right, left) if where == "front" else (left, right)
        dimension(ax, labels, feet[first], feet[second], text, offset_pt=-26.0)
    side = 0 if abs(legs[0, 1]) + abs(legs[3, 1]) <= abs(legs[1, 1]) + abs(legs[2, 1]) else 1
    front, rear = (feet[0], feet[3]) if side == 0 else (feet[1], feet[2])
    ends = (rear, front) if side == 0 else (front, rear)
    length = float(abs(legs[0, 0] - legs[3, 0]))
    dimension(
        ax,
        labels,
        ends[0],
        ends[1],
        display.text(length, "length_m"),
        offset_pt=30.0,
    )


def _name_radii(ax: Drawable, data: PlanData, labels: Labels, display: Display) -> None:
    centre = _site(data, np.zeros((1, 2)), display)[0]
    path = data.path_xy_m
    if path is None:
        head = _site(data, _circle(data.radius_m, data.slew_deg, data.slew_deg)[:1], display)[0]
        text = f"R {display.text(data.radius_m, 'length_m')}"
        labels.add(head, text, toward_deg=data.slew_deg + data.heading_deg, weight="bold")
        return
    shown = display.length(path)
    for name, place, marker in (("Pick", 0, "o"), ("Set-down", -1, "X")):
        radius = float(np.hypot(*(shown[place] - centre)))
        away = float(np.degrees(np.arctan2(*(shown[place] - centre)[::-1])))
        polyline(
            ax,
            shown[place : place + 1] if place == 0 else shown[-1:],
            marker=marker,
            color=RED,
            markersize=6.5,
            markeredgecolor="white",
            markeredgewidth=0.6,
            linestyle="none",
            zorder=8,
            gid=name,
        )
        text = f"{name}\nR {radius:.2f}\u00a0{display.unit('length_m')}"
        labels.add(shown[place], text, toward_deg=away, weight="bold", gap_pt=5.0)
    labels.keep_line_clear(shown[:: max(1, len(shown) // 60)])


def draw_plan(
    data: PlanData,
    ax: Drawable,
    *,
    system: UnitSystem = "metric",
    bounds_m: tuple[float, float, float, float] | None = None,
    standard_scale: bool = True,
    dimensions: bool = True,
    with_key: bool = True,
    site_key: bool = True,
) -> Drawable:
    """Draw the plan: site, machine, legs with extension and force, mats, base, path and swing.

    Parameters:
      data: PlanData
      ax: Axes. Filled wholly; limits are set so that the plan is to scale.
      system: "metric" or "us". Display units.
      bounds_m: (x0, y0, x1, y1), optional. Part of the site to show; machine, path and load if left
        out. [m]
      standard_scale: bool. Take the nearest round drawing scale.
      dimensions, with_key, site_key: bool. Dimensions of the base; key below the Axes, with the
        kinds of site shapes in it.
    Returns: Axes. The same Axes.
    """
    display = Display(system)
    unit = display.unit("length_m")
    prepare(
        ax, title=data.title, xlabel=f"Easting [{unit}]", ylabel=f"Northing [{unit}]", plan=True
    )
    bounds = display.length(np.array(bounds_m or plan_bounds(data, margin_m=3.0)))
    scale = set_scale(ax, tuple(bounds), system=system, standard=standard_scale)
    labels = Labels(ax)
    scale_bar(ax, labels, display, scale=scale if standard_scale else None)
    north_arrow(ax, labels)
    draw_shapes(ax, data.shapes, display)
    draw_machine(ax, data, display)
    draw_path(ax, data, display)
    _keep_clear(data, labels, display)
    if dimensions:
        _dimension_base(ax, data, labels, display)
    _name_legs(ax, data, labels, display)
    _name_radii(ax, data, labels, display)
    name_shapes(ax, data.shapes, labels, display)
    _point_to_lines(ax, data, labels, display)
    if with_key:
        key(
            ax,
            [
                *_machine_key(data, display),
                *(shape_key(data.shapes, ax, display) if site_key else []),
            ],
        )
    return ax


def _point_to_lines(ax: Drawable, data: PlanData, labels: Labels, display: Display) -> None:
    """An overhead line outside the frame is named at the border nearest to it."""
    (x0, x1), (y0, y1) = sorted(ax.get_xlim()), sorted(ax.get_ylim())
    centre = np.array([data.easting_m, data.northing_m])
    for shape in data.shapes:
        if shape.kind != "power line" or in_window(shape, ax, display):
            continue
        near = _nearest(shape.xy_m, centre)
        away = float(np.hypot(*(near - centre)))
        shown = display.length(near)
        border = np.clip(shown, [x0, y0], [x1, y1])
        toward = float(np.degrees(np.arctan2(*(near - centre)[::-1])))
        text = f"overhead line {shape.name}: {display.text(away, 'length_m')} from slew centre"
        labels.add(border, text, toward_deg=toward + 180.0, weight="bold", gap_pt=8.0)


def _keep_clear(data: PlanData, labels: Labels, display: Display) -> None:
    head = _site(data, _circle(data.radius_m, data.slew_deg, data.slew_deg)[:1], display)[0]
    centre = _site(data, np.zeros((1, 2)), display)[0]
    labels.keep_line_clear([centre, head], radius_pt=4.0)
    for ring in data.load_xy_m:
        shown = display.length(ring)
        labels.keep_line_clear(np.vstack([shown, shown[:1]]))
    base = _site(data, data.machine.base_xy_m, display)
    labels.keep_line_clear(np.vstack([base, base[:1]]))
    for root, foot in zip(
        _site(data, data.machine.leg_root_xy_m, display),
        _site(data, data.machine.leg_xy_m, display),
        strict=True,
    ):
        labels.keep_line_clear([root, foot])
        labels.keep_clear(foot, radius_pt=7.0)


def _machine_key(data: PlanData, display: Display) -> list[KeyEntry]:
    entries = [KeyEntry("tipping line", line=TIPPING)]
    if data.machine.governing_edge is not None:
        entries.append(KeyEntry("governing tipping line", line=GOVERNING))
    entries.append(KeyEntry("tail swing", line=TAIL))
    if data.path_xy_m is not None:
        entries.append(KeyEntry("way of the hook", line=PATH))
    if data.machine.mat_xy_m:
        text = f"mat {display.words(data.machine.mat_text)}".strip()
        entries.append(KeyEntry(text, patch=MAT))
    return entries
