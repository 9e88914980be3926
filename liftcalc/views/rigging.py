"""The rigging drawn to scale: load, lifting points, slings, beam, hook, centre of gravity.

Contents: :func:`draw_rigging`. Data (:mod:`liftcalc.views.rigging_data`) and an Axes in, the
Axes out. Forces, angles and utilisations come as numbers; nothing is calculated here but
projections and the differences that are dimensioned. No published source: drawing practice.
"""

from __future__ import annotations

from typing import Any, Literal, get_args

import numpy as np
from matplotlib.axes import Axes

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError
from liftcalc.base.units import UnitSystem
from liftcalc.views.marks import (
    KeyEntry,
    Labels,
    dimension,
    key,
    polygon,
    polyline,
    scale_bar,
    set_scale,
    text_size_pt,
)
from liftcalc.views.rigging_data import RiggingDrawing, RiggingLine
from liftcalc.views.style import (
    BLUE,
    CENTRE_LINE,
    GREY,
    HIDDEN,
    INK,
    RED,
    TEXT_PT,
    Display,
    prepare,
)

__all__ = [
    "RiggingView",
    "draw_rigging",
]

RiggingView = Literal["side", "end", "plan"]

# View: columns of x and y on the paper, words for the axes and the title.
_VIEWS: dict[RiggingView, tuple[tuple[int, int], str, str, str]] = {
    "side": ((0, 2), "Along the load, from its middle", "Height above the underside", "side view"),
    "end": ((1, 2), "Across the load, from its middle", "Height above the underside", "end view"),
    "plan": ((0, 1), "Along the load, from its middle", "Across the load", "plan"),
}
SLING: dict[str, Any] = {"color": INK, "linewidth": 1.3}
WORST: dict[str, Any] = {"color": RED, "linewidth": 2.6, "linestyle": (0, (7, 1.5))}
SLACK: dict[str, Any] = {"color": GREY, "linewidth": 1.0, "linestyle": HIDDEN}
BEAM: dict[str, Any] = {"color": BLUE, "linewidth": 4.5, "solid_capstyle": "butt"}
WORST_BEAM: dict[str, Any] = {**BEAM, "color": RED, "linestyle": (0, (2.5, 0.5))}
LEVEL: dict[str, Any] = {"color": GREY, "linewidth": 0.4, "zorder": 2.5}
LEVEL_LEADER: dict[str, Any] = {"color": INK, "linewidth": 0.5}
PLUMB: dict[str, Any] = {"color": GREY, "linewidth": 0.7, "linestyle": CENTRE_LINE}
LOAD: dict[str, Any] = {"facecolor": "#f4f0e8", "edgecolor": INK, "linewidth": 1.1}


def _groups(data: RiggingDrawing, columns: list[int]) -> list[list[RiggingLine]]:
    """Lines that fall on each other in this view, in drawing order."""
    groups: dict[tuple[float, ...], list[RiggingLine]] = {}
    for line in data.lines:
        ends = np.round(np.array([line.start_m[columns], line.end_m[columns]]), 6)
        groups.setdefault(tuple(ends.ravel()), []).append(line)
    return list(groups.values())


def _is_weakest(line: RiggingLine, weakest: str) -> bool:
    """Whether a line is the governing item; a beam may also be named by its kind and number."""
    named_beam = line.kind == "beam" and weakest.startswith(("spreader", "lifting beam"))
    return line.name == weakest or named_beam


def _look(group: list[RiggingLine], weakest: str) -> dict[str, Any]:
    if any(_is_weakest(line, weakest) for line in group):
        return WORST if group[0].kind == "sling" else WORST_BEAM
    if group[0].kind == "beam":
        return BEAM
    return SLING if max(line.force_kN for line in group) > 1e-9 else SLACK


def _words(group: list[RiggingLine], weakest: str, display: Display) -> str:
    """Name, greatest force, angle and use of lines that fall on each other."""
    names = sorted({line.name for line in group})
    name = names[0]
    if len(names) > 1:
        stem = name.rstrip("0123456789")
        numbers = ", ".join(n.removeprefix(stem) for n in names)
        stem = stem.strip()
        for one, several in (("sling leg", "sling legs"), ("top sling", "top slings")):
            stem = several if stem == one else stem
        name = f"{stem.replace('sling at end', 'slings at ends')} {numbers}"
    worst = max(group, key=lambda line: line.force_kN)
    text = f"{name}\n{display.text(worst.force_kN, 'force_kN', 1)}"
    if worst.kind == "beam":
        text += " carried" if worst.name == "lifting beam" else " pressed"
    if worst.angle_deg is not None:
        text += f" at {worst.angle_deg:.0f}°"
    if worst.utilisation_percent is not None:
        text += f"\n{worst.utilisation_percent:.0f} % used"
    if any(_is_weakest(line, weakest) for line in group):
        text += ", weakest"
    return text


def _outline(data: RiggingDrawing, view: RiggingView) -> FloatArray:
    length, width, height = data.load_size_m
    a = {"side": length, "end": width, "plan": length}[view] / 2.0
    low, high = {"side": (0.0, height), "end": (0.0, height), "plan": (-width / 2, width / 2)}[view]
    return np.array([[-a, low], [a, low], [a, high], [-a, high]])


def _bounds(
    data: RiggingDrawing, view: RiggingView, room: dict[str, float]
) -> tuple[float, float, float, float]:
    """Limits in metres: the drawn things, with *room* in metres for texts and dimensions."""
    columns = list(_VIEWS[view][0])
    points = [_outline(data, view), data.lugs_m[:, columns], data.hook_m[None, columns]]
    middles = []
    for line in data.lines:
        ends = np.array([line.start_m[columns], line.end_m[columns]])
        points.append(ends)
        middles.append(ends.mean(axis=0))
    every, mid = np.vstack(points), np.array(middles)
    low, high = every.min(axis=0), every.max(axis=0)
    left = min(float(low[0]) - room["edge"], float(mid[:, 0].min()) - room["text"])
    right = max(float(high[0]) + room["edge"], float(mid[:, 0].max()) + room["text"])
    if view != "plan":
        right += room["dimension"]
    return left, float(low[1]) - room["below"], right, float(high[1]) + room["above"]


def _fit(
    ax: Axes, data: RiggingDrawing, view: RiggingView, display: Display, *, standard: bool
) -> float:
    """Set limits and scale so that every sling's text finds room on its own side."""
    per_m = float(display.length(1.0))
    figure = ax.figure
    assert figure is not None
    wide_pt = ax.get_window_extent().width * 72.0 / figure.dpi
    room_pt = {"edge": 22.0, "below": 52.0, "above": 20.0, "dimension": 16.0}
    # on a narrow drawing the texts get what they can have
    room_pt["text"] = min(92.0, 0.3 * wide_pt)
    scale = 0.0
    m_per_pt = 0.0
    for _ in range(8):
        room = {name: pt * m_per_pt for name, pt in room_pt.items()}
        bounds = np.array(_bounds(data, view, room)) * per_m
        found = set_scale(ax, tuple(bounds), system=display.system, standard=standard)
        if found <= scale * (1.0 + 1e-9):
            break
        scale = found
        m_per_pt = scale * 0.0254 / 72.0
    return scale


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


def _dimension(
    ax: Axes, labels: Labels, start: FloatArray, end: FloatArray, text: str, offset_pt: float
) -> None:
    """Dimension with its text on the line, or beside it where the line is too short."""
    a, b = np.array(labels.at_pt(start)), np.array(labels.at_pt(end))
    along = b - a
    span = float(np.hypot(*along))
    if span > text_size_pt(text, TEXT_PT)[0] + 8.0:
        dimension(ax, labels, start, end, text, offset_pt=offset_pt)
        return
    dimension(ax, labels, start, end, "", offset_pt=offset_pt)
    side = np.array([-along[1], along[0]]) / span * offset_pt
    place = labels.to_data(*((a + b) / 2.0 + side))
    labels.add(place, text, toward_deg=float(np.degrees(np.arctan2(side[1], side[0]))), gap_pt=2.0)


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
    corner = at(left, low)
    _dimension(ax, labels, corner, at(right, low), f"{size} {text(right - left)}", -13.0)
    tall = "width" if view == "plan" else "height"
    _dimension(ax, labels, corner, at(left, high), f"{tall} {text(high - low)}", 12.0)
    if view != "plan":
        hook = float(data.hook_m[2])
        lug = float(data.lugs_m[:, 2].min())
        # at the right edge of the drawing, so that the slings' texts find room beside them
        edge = labels.to_data(labels.frame[2] - 10.0, 0.0)[0]
        top, bottom = display.length(hook), display.length(lug)
        hook_at = display.length(data.hook_m[columns])
        level = np.vstack([hook_at, np.array([edge, float(top)])])
        polyline(ax, level, gid="level", **LEVEL)
        polyline(
            ax, np.vstack([at(right, lug), np.array([edge, float(bottom)])]), gid="level", **LEVEL
        )
        what = f"rigging height {text(hook - lug)}"
        _dimension(ax, labels, np.array([edge, top]), np.array([edge, bottom]), what, 0.0)


def _name_cg(labels: Labels, data: RiggingDrawing, view: RiggingView, display: Display) -> None:
    """Name the centre of gravity inside the load, or beside it where the load is small."""
    text = "centre of gravity"
    columns = list(_VIEWS[view][0])
    place = display.length(data.cg_m[columns])
    at, edge = labels.at_pt(place), labels.at_pt(display.length(_outline(data, view)[2]))
    width, height = text_size_pt(text, TEXT_PT)
    inside = edge[0] - at[0] > width + 12.0 and edge[1] - at[1] > 0.5 * height + 2.0
    gap = 3.0 if inside else max(edge[0] - at[0] + 6.0, 3.0)
    labels.add(place, text, toward_deg=-1.0, gap_pt=gap)
    if gap > 9.0:
        end = labels.to_data(at[0] + gap, at[1])
        polyline(labels.ax, np.array([place, end]), gid="leader", zorder=3.5, **LEVEL_LEADER)


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

    Parameters:
      data: RiggingDrawing
      ax: Axes. Filled wholly, at least 110 mm wide for all texts to stand clear; limits are set so
        that the drawing is to scale.
      view: {"side", "end", "plan"}
      system: "metric" or "us"
      standard_scale, with_key: bool. Nearest round drawing scale; key below the Axes.
    Returns: Axes. The same Axes.
    Raises: Unknown view.
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
    scale = _fit(ax, data, view, display, standard=standard_scale)
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
        look = _look(group, data.weakest)
        polyline(ax, ends, zorder=5, gid=gid, **look)
        if np.allclose(ends[0], ends[1]):  # seen end on
            spot = {"marker": "s", "markersize": 5.0, "color": look["color"]}
            polyline(ax, ends[:1], linestyle="none", zorder=5.5, gid=f"{gid}, end on", **spot)
        labels.keep_line_clear(ends)
    _draw_marks(ax, data, columns, display)
    _dimensions(ax, data, view, labels, display)
    middle = float(display.length(data.hook_m[columns[0]]))
    for group in groups:
        ends = display.length(np.array([group[0].start_m[columns], group[0].end_m[columns]]))
        if view == "plan" and np.hypot(*(ends[1] - ends[0])) < 0.2 * np.ptp(ax.get_xlim()) / 4.0:
            continue  # all but end on: told in the other views
        place = ends.mean(axis=0)
        toward = 0.0 if place[0] >= middle else 180.0
        if group[0].kind == "beam":
            place, toward = 0.7 * ends[0] + 0.3 * ends[1], -90.0
        labels.add(place, _words(group, data.weakest, display), toward_deg=toward, ground=True)
    labels.add(
        display.length(data.hook_m[columns]), "hook", toward_deg=90.0, gap_pt=3.0, leader=False
    )
    _name_cg(labels, data, view, display)
    if data.weakest and not any(_is_weakest(line, data.weakest) for line in data.lines):
        corner = labels.to_data(labels.frame[0] + 4.0, labels.frame[3] - 4.0)
        labels.add(corner, f"weakest: {data.weakest}", toward_deg=-45.0, leader=False)
    if with_key:
        key(ax, _key(data))
    return ax


def _key(data: RiggingDrawing) -> list[KeyEntry]:
    looks = [_look([line], data.weakest) for line in data.lines]
    entries = [KeyEntry("load", patch=LOAD)]
    for look, text in (
        (SLING, "sling, with tension and true angle from the horizontal"),
        (WORST, "weakest item"),
        (WORST_BEAM, "weakest item, a beam"),
        (SLACK, "slack sling"),
        (BEAM, "beam"),
        (PLUMB, "plumb line through the hook"),
    ):
        if look is PLUMB or look in looks:
            entries.append(KeyEntry(text, line=look))
    mark = {"color": INK, "linestyle": "none", "markerfacecolor": "white"}
    entries.append(KeyEntry("lifting point", line={**mark, "marker": "s", "markersize": 4.0}))
    return entries
