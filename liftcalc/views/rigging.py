"""The rigging drawn to scale: load, lifting points, slings, beam, hook, centre of gravity.

Contents
--------
:class:`RiggingLine`, :class:`RiggingDrawing`, :func:`bridle_drawing`, :func:`spreader_drawing`,
:func:`draw_rigging`.

Data and an Axes in, the Axes out. Forces, angles and utilisations come as numbers; nothing is
calculated here but projections and the differences that are dimensioned. Coordinates are the
load's own: x along its length, y across, z up from its underside, origin at the middle of its
box in plan. No published source: drawing practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, get_args

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import ArrayLike, NDArray

from liftcalc.errors import InputError
from liftcalc.units import UnitSystem
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
from liftcalc.views.style import BLUE, CENTRE_LINE, GREY, HIDDEN, INK, RED, Display, prepare

__all__ = [
    "RiggingDrawing",
    "RiggingLine",
    "RiggingView",
    "bridle_drawing",
    "draw_rigging",
    "spreader_drawing",
]

FloatArray = NDArray[np.float64]
RiggingView = Literal["side", "end", "plan"]
LineKind = Literal["sling", "beam"]

# View: columns of x and y on the paper, words for the axes and the title.
_VIEWS: dict[RiggingView, tuple[tuple[int, int], str, str, str]] = {
    "side": ((0, 2), "Along the load", "Height above the underside", "side view"),
    "end": ((1, 2), "Across the load, from the middle", "Height above the underside", "end view"),
    "plan": ((0, 1), "Along the load", "Across the load", "plan"),
}
SLING: dict[str, Any] = {"color": INK, "linewidth": 1.3}
WORST: dict[str, Any] = {"color": RED, "linewidth": 2.6, "linestyle": (0, (7, 1.5))}
SLACK: dict[str, Any] = {"color": GREY, "linewidth": 1.0, "linestyle": HIDDEN}
BEAM: dict[str, Any] = {"color": BLUE, "linewidth": 4.5, "solid_capstyle": "butt"}
PLUMB: dict[str, Any] = {"color": GREY, "linewidth": 0.7, "linestyle": CENTRE_LINE}
LOAD: dict[str, Any] = {"facecolor": "#f4f0e8", "edgecolor": INK, "linewidth": 1.1}


@dataclass(frozen=True)
class RiggingLine:
    """One sling leg or beam: ends in the load's coordinates, its force and how far it is used.

    The force is tension in a sling, compression in a beam. ``angle_deg`` is the true angle from
    the horizontal, not the projected one; None for a beam.
    """

    name: str
    kind: LineKind
    start_m: FloatArray
    end_m: FloatArray
    force_kN: float
    utilisation_percent: float | None = None
    angle_deg: float | None = None


@dataclass(frozen=True)
class RiggingDrawing:
    """Everything the rigging drawing shows."""

    load_size_m: tuple[float, float, float]
    lugs_m: FloatArray
    hook_m: FloatArray
    cg_m: FloatArray
    lines: tuple[RiggingLine, ...]
    weakest: str = ""
    title: str = "Rigging"


def _numbers(values: ArrayLike | None, count: int) -> list[float | None]:
    if values is None:
        return [None] * count
    array = np.broadcast_to(np.asarray(values, dtype=np.float64), (count,))
    return [float(v) for v in array]


def bridle_drawing(
    load_size_m: tuple[float, float, float],
    lugs_m: ArrayLike,
    *,
    hook_m: ArrayLike,
    cg_m: ArrayLike,
    tension_kN: ArrayLike,
    angle_deg: ArrayLike,
    utilisation_percent: ArrayLike | None = None,
    weakest: str = "",
    title: str = "Rigging",
) -> RiggingDrawing:
    """Drawing data of slings that run from the lifting points straight to the hook.

    Parameters
    ----------
    load_size_m : length, width, height of the load's box. [m]
    lugs_m : array_like, shape (n, 3); hook_m, cg_m : shape (3,). [m]
    tension_kN, angle_deg, utilisation_percent : array_like, shape (n,)
        Per leg; utilisation may be left out.
    weakest : str
        Name of the governing item ("sling leg 2"); drawn so that it is seen.
    title : str
    """
    lugs = np.asarray(lugs_m, dtype=np.float64)
    hook = np.asarray(hook_m, dtype=np.float64)
    count = len(lugs)
    used = _numbers(utilisation_percent, count)
    force, angle = _numbers(tension_kN, count), _numbers(angle_deg, count)
    lines = tuple(
        RiggingLine(
            f"sling leg {k + 1}", "sling", lugs[k], hook, float(force[k] or 0.0), used[k], angle[k]
        )
        for k in range(count)
    )
    return RiggingDrawing(
        load_size_m, lugs, hook, np.asarray(cg_m, dtype=np.float64), lines, weakest, title
    )


def spreader_drawing(
    load_size_m: tuple[float, float, float],
    lugs_m: ArrayLike,
    *,
    hook_m: ArrayLike,
    cg_m: ArrayLike,
    beam_ends_m: ArrayLike,
    top_tension_kN: ArrayLike,
    top_angle_deg: ArrayLike,
    bottom_tension_kN: ArrayLike,
    compression_kN: float,
    utilisation_percent: dict[str, float] | None = None,
    weakest: str = "",
    title: str = "Rigging",
) -> RiggingDrawing:
    """Drawing data of a load under a spreader or lifting beam.

    Parameters
    ----------
    load_size_m, lugs_m, hook_m, cg_m, weakest, title
        As :func:`bridle_drawing`; every lug hangs from the nearer end of the beam.
    beam_ends_m : array_like, shape (2, 3). [m]
        End 1 at -x, end 2 at +x.
    top_tension_kN, top_angle_deg, bottom_tension_kN : array_like, shape (2,)
        Per end; the bottom tension is that of each bottom sling at the end.
    compression_kN : float
    utilisation_percent : dict of name to percent
        Names: "top sling 1", "top sling 2", "bottom sling at end 1", "bottom sling at end 2",
        "beam".
    """
    lugs = np.asarray(lugs_m, dtype=np.float64)
    hook = np.asarray(hook_m, dtype=np.float64)
    ends = np.asarray(beam_ends_m, dtype=np.float64)
    used = utilisation_percent or {}
    top, angle, bottom = (
        _numbers(v, 2) for v in (top_tension_kN, top_angle_deg, bottom_tension_kN)
    )
    lines = [RiggingLine("beam", "beam", ends[0], ends[1], compression_kN, used.get("beam"))]
    for k in range(2):
        name = f"top sling {k + 1}"
        force = float(top[k] or 0.0)
        lines.append(RiggingLine(name, "sling", ends[k], hook, force, used.get(name), angle[k]))
    for lug in lugs:
        k = int(np.argmin(np.linalg.norm(ends[:, :2] - lug[:2], axis=1)))
        name = f"bottom sling at end {k + 1}"
        force = float(bottom[k] or 0.0)
        lines.append(RiggingLine(name, "sling", lug, ends[k], force, used.get(name)))
    cg = np.asarray(cg_m, dtype=np.float64)
    return RiggingDrawing(load_size_m, lugs, hook, cg, tuple(lines), weakest, title)


def _groups(data: RiggingDrawing, columns: list[int]) -> list[list[RiggingLine]]:
    """Lines that fall on each other in this view, in drawing order."""
    groups: dict[tuple[float, ...], list[RiggingLine]] = {}
    for line in data.lines:
        ends = np.round(np.array([line.start_m[columns], line.end_m[columns]]), 6)
        groups.setdefault(tuple(ends.ravel()), []).append(line)
    return list(groups.values())


def _look(group: list[RiggingLine], weakest: str) -> dict[str, Any]:
    if any(line.name == weakest for line in group):
        return WORST if group[0].kind == "sling" else {**BEAM, "color": RED}
    if group[0].kind == "beam":
        return BEAM
    return SLING if max(line.force_kN for line in group) > 1e-9 else SLACK


def _words(group: list[RiggingLine], weakest: str, display: Display) -> str:
    """Name, greatest force, angle and use of lines that fall on each other."""
    names = sorted({line.name for line in group})
    name = names[0]
    if len(names) > 1:
        stem = name.rstrip("0123456789")
        numbers = [n.removeprefix(stem) for n in names]
        plural = "legs" if stem.strip().endswith("leg") else stem.strip()
        name = (
            f"{stem.strip().removesuffix('leg')}{plural} " if "leg" in stem else f"{stem.strip()} "
        )
        name += ", ".join(numbers)
    worst = max(group, key=lambda line: line.force_kN)
    text = f"{name}\n{display.text(worst.force_kN, 'force_kN', 1)}"
    if worst.kind == "beam":
        text += " pressed"
    if worst.angle_deg is not None:
        text += f" at {worst.angle_deg:.0f}°"
    if worst.utilisation_percent is not None:
        text += f"\n{worst.utilisation_percent:.0f} % used"
    if weakest in names:
        text += ", weakest"
    return text


def _outline(data: RiggingDrawing, view: RiggingView) -> FloatArray:
    length, width, height = data.load_size_m
    a = {"side": length, "end": width, "plan": length}[view] / 2.0
    low, high = {"side": (0.0, height), "end": (0.0, height), "plan": (-width / 2, width / 2)}[view]
    return np.array([[-a, low], [a, low], [a, high], [-a, high]])


def _bounds(
    data: RiggingDrawing, view: RiggingView, columns: list[int]
) -> tuple[float, float, float, float]:
    points = [_outline(data, view), data.lugs_m[:, columns], data.hook_m[None, columns]]
    for line in data.lines:
        points.append(np.array([line.start_m[columns], line.end_m[columns]]))
    every = np.vstack(points)
    low, high = every.min(axis=0), every.max(axis=0)
    room = 0.18 * float(max(high - low))
    return (
        float(low[0]) - 1.9 * room,
        float(low[1]) - 1.2 * room,
        float(high[0]) + 1.9 * room,
        float(high[1]) + 0.6 * room,
    )


def _draw_marks(ax: Axes, data: RiggingDrawing, columns: list[int], display: Display) -> None:
    lugs = display.length(data.lugs_m[:, columns])
    for lug in lugs:
        polyline(
            ax,
            [lug],
            marker="s",
            markersize=4.0,
            color=INK,
            markerfacecolor="white",
            linestyle="none",
            zorder=6,
            gid="lifting point",
        )
    hook = display.length(data.hook_m[columns])
    polyline(
        ax,
        [hook],
        marker="o",
        markersize=7.0,
        color=INK,
        markerfacecolor="white",
        markeredgewidth=1.6,
        linestyle="none",
        zorder=7,
        gid="hook",
    )
    cg = display.length(data.cg_m[columns])
    for marker, size, face in (("o", 8.0, "white"), ("+", 8.0, "white")):
        polyline(
            ax,
            [cg],
            marker=marker,
            markersize=size,
            color=INK,
            markerfacecolor=face,
            linestyle="none",
            zorder=7,
            gid="centre of gravity",
        )


def _dimensions(
    ax: Axes, data: RiggingDrawing, view: RiggingView, labels: Labels, display: Display
) -> None:
    columns = list(_VIEWS[view][0])
    outline = _outline(data, view)
    right, low, high = outline[1, 0], outline[0, 1], outline[2, 1]
    left = outline[0, 0]

    def text(value: float) -> str:
        return display.text(value, "length_m")

    def at(x: float, y: float) -> FloatArray:
        return display.length(np.array([x, y]))

    size = {"side": "length", "end": "width", "plan": "length"}[view]
    dimension(
        ax, labels, at(left, low), at(right, low), f"{size} {text(right - left)}", offset_pt=-13.0
    )
    tall = "width" if view == "plan" else "height"
    dimension(
        ax, labels, at(left, low), at(left, high), f"{tall} {text(high - low)}", offset_pt=12.0
    )
    if view != "plan":
        hook = float(data.hook_m[2])
        edge = max(
            [
                right,
                *(float(p[columns[0]]) for line in data.lines for p in (line.start_m, line.end_m)),
            ]
        )
        lug = float(data.lugs_m[:, 2].min())
        dimension(
            ax,
            labels,
            at(edge, hook),
            at(edge, lug),
            f"hook above lifting points {text(hook - lug)}",
            offset_pt=26.0,
        )


def draw_rigging(
    data: RiggingDrawing,
    ax: Axes,
    *,
    view: RiggingView = "side",
    system: UnitSystem = "metric",
    standard_scale: bool = True,
    with_key: bool = True,
) -> Axes:
    """Draw the rigging to scale in one view, with forces, angles and the weakest item.

    Parameters
    ----------
    data : RiggingDrawing
    ax : Axes
        Filled wholly; limits are set so that the drawing is to scale.
    view : {"side", "end", "plan"}
    system : "metric" or "us"
    standard_scale, with_key : bool
        Nearest round drawing scale; key below the Axes.

    Returns
    -------
    Axes
        The same Axes.

    Raises
    ------
    InputError
        Unknown view.
    """
    if view not in get_args(RiggingView):
        raise InputError.of("view", view, ", ".join(get_args(RiggingView)))
    pair, xword, yword, word = _VIEWS[view]
    columns = list(pair)
    display = Display(system)
    unit = display.unit("length_m")
    prepare(
        ax,
        title=f"{data.title}, {word}",
        xlabel=f"{xword} [{unit}]",
        ylabel=f"{yword} [{unit}]",
        plan=True,
    )
    bounds = display.length(np.array(_bounds(data, view, columns)))
    scale = set_scale(ax, tuple(bounds), system=system, standard=standard_scale)
    labels = Labels(ax)
    scale_bar(ax, labels, display, scale=scale if standard_scale else None)
    outline = display.length(_outline(data, view))
    polygon(ax, outline, zorder=2, gid="load", **LOAD)
    labels.keep_line_clear(np.vstack([outline, outline[:1]]))
    plumb = display.length(np.array([data.hook_m[columns], data.cg_m[columns]]))
    if view != "plan":
        polyline(ax, plumb, zorder=3, gid="plumb line", **PLUMB)
        labels.keep_line_clear(plumb)
    groups = _groups(data, columns)
    for group in groups:
        ends = display.length(np.array([group[0].start_m[columns], group[0].end_m[columns]]))
        gid = ", ".join(sorted({line.name for line in group}))
        polyline(ax, ends, zorder=5, gid=gid, **_look(group, data.weakest))
        labels.keep_line_clear(ends)
    _draw_marks(ax, data, columns, display)
    _dimensions(ax, data, view, labels, display)
    middle = float(display.length(data.hook_m[columns[0]]))
    for group in groups:
        ends = display.length(np.array([group[0].start_m[columns], group[0].end_m[columns]]))
        place = ends.mean(axis=0)
        toward = 0.0 if place[0] >= middle else 180.0
        if group[0].kind == "beam":
            place, toward = 0.7 * ends[0] + 0.3 * ends[1], -90.0
        labels.add(place, _words(group, data.weakest, display), toward_deg=toward, ground=True)
    labels.add(
        display.length(data.hook_m[columns]), "hook", toward_deg=90.0, gap_pt=3.0, leader=False
    )
    labels.add(
        display.length(data.cg_m[columns]), "centre of gravity", toward_deg=-60.0, gap_pt=3.0
    )
    if with_key:
        key(ax, _key(data))
    return ax


def _key(data: RiggingDrawing) -> list[KeyEntry]:
    looks = [_look([line], data.weakest) for line in data.lines]
    entries = [KeyEntry("load", patch=LOAD)]
    for look, text in (
        (SLING, "sling, with tension and true angle from the horizontal"),
        (WORST, "weakest item"),
        (SLACK, "slack sling"),
        (BEAM, "beam"),
        (PLUMB, "plumb line through the hook"),
    ):
        if look is PLUMB or look in looks:
            entries.append(KeyEntry(text, line=look))
    mark = {"color": INK, "linestyle": "none", "markerfacecolor": "white"}
    entries.append(KeyEntry("lifting point", line={**mark, "marker": "s", "markersize": 4.0}))
    return entries
