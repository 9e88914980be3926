"""The rigging drawn to scale: load, lifting points, slings, beam, hook, centre of gravity.

Forces, angles and utilisations come as numbers; nothing is calculated here but projections and the
differences that are dimensioned.
"""

from dataclasses import dataclass
from functools import partial
from typing import Any, Literal, get_args

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError
from liftcalc.base.units import UnitSystem
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.rigging_items import item_name
from liftcalc.lift.rigging_study import RiggingStudy
from liftcalc.views import style
from liftcalc.views.labels import Labels
from liftcalc.views.marks import KeyEntry, dimension, key, scale_bar, set_scale
from liftcalc.views.strokes import box, closed, mark, polygon, polyline
from liftcalc.views.style import BLUE, GREY, HIDDEN, INK, RED, TEXT_PT, Display, new_axes, prepare

CG_WORDS = "centre of gravity"
_SEVERAL = {"sling leg": "sling legs", "top sling": "top slings", "bottom sling at end": "bottom slings at ends"}
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
PLUMB: dict[str, Any] = {"color": GREY, "linewidth": 0.7, "linestyle": style.CENTRE_LINE}
LOAD: dict[str, Any] = {"facecolor": "#f4f0e8", "edgecolor": INK, "linewidth": 1.1}


@dataclass(frozen=True, eq=False)
class RiggingLine:
    """One sling leg or beam: ends in the load's coordinates, its force and how far it is used.

    The force is tension in a sling, compression in a beam. ``angle_deg`` is the true angle from
    the horizontal, not the projected one; None for a beam.
    """

    name: str
    kind: Literal["sling", "beam"]
    start_m: FloatArray
    end_m: FloatArray
    force_kN: float
    utilisation_percent: float | None = None
    angle_deg: float | None = None


@dataclass(frozen=True, eq=False)
class RiggingDrawing:
    """Everything the rigging drawing shows, in the load's own coordinates.

    x along its length, y across, z up from its underside, origin at the middle of its box in plan.
    """

    load_size_m: tuple[float, float, float]
    lugs_m: FloatArray
    hook_m: FloatArray
    cg_m: FloatArray
    lines: tuple[RiggingLine, ...]
    weakest: str = ""
    title: str = "Rigging"


def _percent(study: RiggingStudy, name: str) -> float | None:
    used = next((item.utilisation for item in study.items if item.name == name), np.nan)
    return 100.0 * used if np.isfinite(used) else None


def _beam(study: RiggingStudy) -> list[RiggingLine]:
    state, ends, beam = study.stated, study.stated.beam_ends_m, study.beam
    if ends is None or beam is None or state.compression_kN is None or state.end_kN is None:
        return []
    pressed = state.top_tension_kN is not None
    name = "beam" if pressed else "lifting beam"
    force = float(state.compression_kN[0] if pressed else state.end_kN[0].sum())
    used = _percent(study, item_name(beam.kind, beam.id))
    return [RiggingLine(name, "beam", ends[0, 0], ends[0, 1], study.factor * force, used)]


def _slings(study: RiggingStudy) -> list[RiggingLine]:
    state, ends, hook = study.stated, study.stated.beam_ends_m, study.hook_m
    rows: list[tuple[str, FloatArray, FloatArray, float, float]] = []
    if ends is not None and state.top_tension_kN is not None and state.top_angle_deg is not None:
        for k, end in enumerate(ends[0]):
            force, angle = (float(v[0, k]) for v in (state.top_tension_kN, state.top_angle_deg))
            rows.append((f"top sling {k + 1}", end, hook, force, angle))
    for k, lug in enumerate(study.lugs_m):
        end = int(lug[0] > 0)
        name = f"sling leg {k + 1}" if ends is None else f"bottom sling at end {end + 1}"
        upper = hook if ends is None else ends[0, end]
        force, angle = (float(v[0, k]) for v in (state.leg_tension_kN, state.leg_angle_deg))
        rows.append((name, lug, upper, force, angle))
    return [
        RiggingLine(name, "sling", start, end, force * study.factor, _percent(study, name), angle)
        for name, start, end, force, angle in rows
    ]


def rigging_data(lift: LiftAssessment) -> RiggingDrawing:
    """Drawing data of the rigging with the centre of gravity as stated."""
    study, load = lift.rigging, lift.setup.lift.load
    size, lines = (load.length_m, load.width_m, load.height_m), (*_beam(study), *_slings(study))
    return RiggingDrawing(size, study.lugs_m, study.hook_m, study.cg_m, lines, study.weakest.name)


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
        name = f"{_SEVERAL.get(stem, stem)} {numbers}"
    worst = max(group, key=lambda line: line.force_kN)
    text = f"{name}\n{display.text(worst.force_kN, 'force_kN')}"
    if worst.kind == "beam":
        text += " carried" if worst.name == "lifting beam" else " compression"
    if worst.angle_deg is not None:
        text += f" at {display.text(worst.angle_deg, 'angle_deg')}"
    if worst.utilisation_percent is not None:
        text += f"\nutilisation {display.text(worst.utilisation_percent, 'percent')}"
    if any(_is_weakest(line, weakest) for line in group):
        text += ", governs"
    return text


def _outline(data: RiggingDrawing, view: RiggingView) -> FloatArray:
    length, width, height = data.load_size_m
    a = (width if view == "end" else length) / 2.0
    low, high = (-width / 2, width / 2) if view == "plan" else (0.0, height)
    return box(-a, low, a, high)


def _bounds(
    data: RiggingDrawing, view: RiggingView, *, m_per_pt: float, text_pt: float
) -> tuple[float, float, float, float]:
    """Limits in metres: what is drawn, with room for texts and dimensions."""
    columns = list(_VIEWS[view][0])
    ends = np.array([[line.start_m[columns], line.end_m[columns]] for line in data.lines])
    points = [_outline(data, view), data.lugs_m[:, columns], data.hook_m[None, columns]]
    every, middle = np.vstack([*points, ends.reshape(-1, 2)]), ends.mean(axis=1)[:, 0]
    low, high = every.min(axis=0), every.max(axis=0)
    left = min(low[0] - 22.0 * m_per_pt, middle.min() - text_pt * m_per_pt)
    right = max(high[0] + 22.0 * m_per_pt, middle.max() + text_pt * m_per_pt)
    if view != "plan":
        right += 16.0 * m_per_pt
    return left, low[1] - 52.0 * m_per_pt, right, high[1] + 20.0 * m_per_pt


def _fit(ax: Axes, data: RiggingDrawing, view: RiggingView, display: Display) -> float:
    """Set limits and scale so that every sling's text finds room on its own side."""
    width_pt = ax.get_window_extent().width * 72.0 / (ax.figure.dpi if ax.figure else 72.0)
    text_pt = min(92.0, 0.3 * width_pt)  # on a narrow drawing the texts get what they can have
    scale = 0.0
    for _ in range(8):
        bounds = _bounds(data, view, m_per_pt=scale * 0.0254 / 72.0, text_pt=text_pt)
        x0, y0, x1, y1 = display.length(bounds).tolist()
        needed = set_scale(ax, (x0, y0, x1, y1), system=display.system)
        if needed <= scale * (1.0 + 1e-9):
            break
        scale = needed
    return scale


class _Sheet:
    """One view of the rigging being drawn, its limits already set."""

    def __init__(self, data: RiggingDrawing, view: RiggingView, labels: Labels) -> None:
        self.data, self.view, self.labels = data, view, labels
        self.ax, self.display = labels.ax, labels.display
        self.outline = self.display.length(_outline(data, view))
        self.groups = _groups(data, list(_VIEWS[view][0]))
        self.hook, self.cg = self.seen(data.hook_m), self.seen(data.cg_m)

    def seen(self, points_m: ArrayLike) -> FloatArray:
        """Points as this view shows them, in display units."""
        return self.display.length(np.asarray(points_m)[..., list(_VIEWS[self.view][0])])

    def draw_load(self) -> None:
        polygon(self.ax, self.outline, zorder=2, gid="load", **LOAD)
        self.labels.keep_line_clear(closed(self.outline))
        if self.view != "plan":
            plumb = [self.hook, self.cg]
            polyline(self.ax, plumb, zorder=3, gid="plumb line", **PLUMB)
            self.labels.keep_line_clear(plumb)

    def draw_lines(self) -> None:
        for group in self.groups:
            ends = self.seen([group[0].start_m, group[0].end_m])
            gid = ", ".join(sorted({line.name for line in group}))
            look = _look(group, self.data.weakest)
            polyline(self.ax, ends, zorder=5, gid=gid, **look)
            if np.allclose(ends[0], ends[1]):  # seen end on
                spot = {"markersize": 5.0, "color": look["color"], "zorder": 5.5}
                mark(self.ax, ends[0], "s", gid=f"{gid}, end on", **spot)
            self.labels.keep_line_clear(ends)

    def draw_marks(self) -> None:
        white = {"markerfacecolor": "white"}
        for lug in self.seen(self.data.lugs_m):
            mark(self.ax, lug, "s", markersize=4.0, zorder=6, gid="lifting point", **white)
        ring = {"markersize": 7.0, "markeredgewidth": 1.6}
        mark(self.ax, self.hook, "o", zorder=7, gid="hook", **ring, **white)
        for marker in ("o", "+"):
            mark(self.ax, self.cg, marker, markersize=8.0, zorder=7, gid=CG_WORDS, **white)

    def dimensions(self) -> None:
        draw = partial(dimension, self.labels)
        (left, low), (right, _), (_, high) = _outline(self.data, self.view)[:3]

        def text(value: float) -> str:
            return self.display.text(float(value), "length_m")

        corner, beside, _, over = self.outline
        size = "width" if self.view == "end" else "length"
        draw(corner, beside, f"{size} {text(right - left)}", offset_pt=-13.0)
        size = "width" if self.view == "plan" else "height"
        draw(corner, over, f"{size} {text(high - low)}", offset_pt=12.0)
        if self.view == "plan":
            return
        hook, lug = float(self.data.hook_m[2]), float(self.data.lugs_m[:, 2].min())
        # at the right edge of the drawing, so that the slings' texts find room beside them
        edge = self.labels.to_data(self.labels.frame[2] - 10.0, 0.0)[0]
        top = np.array([edge, float(self.display.length(hook))])
        bottom = np.array([edge, float(self.display.length(lug))])
        for start, end in ((self.hook, top), (self.display.length([right, lug]), bottom)):
            polyline(self.ax, [start, end], gid="level", **LEVEL)
        draw(top, bottom, f"rigging height {text(hook - lug)}", offset_pt=0.0)

    def name_lines(self) -> None:
        for group in self.groups:
            ends = self.seen([group[0].start_m, group[0].end_m])
            if self.view == "plan":
                short = 0.05 * float(np.ptp(self.ax.get_xlim()))
                if np.hypot(*(ends[1] - ends[0])) < short:
                    continue  # all but end on: named in the other views
            place = ends.mean(axis=0)
            toward = 0.0 if place[0] >= self.hook[0] else 180.0
            if group[0].kind == "beam":
                place, toward = 0.7 * ends[0] + 0.3 * ends[1], -90.0
            words = _words(group, self.data.weakest, self.display)
            self.labels.add(place, words, toward_deg=toward, ground=True)
        self.labels.add(self.hook, "hook", toward_deg=90.0, gap_pt=3.0, leader=False)

    def name_cg(self) -> None:
        """Name the centre of gravity inside the load, or beside it where the load is small."""
        (x, y), (right, high) = self.labels.at_pt(self.cg), self.labels.at_pt(self.outline[2])
        width, height = style.text_size_pt(CG_WORDS, TEXT_PT)
        inside = right - x > width + 12.0 and high - y > 0.5 * height + 2.0
        gap = 3.0 if inside else max(right - x + 6.0, 3.0)
        self.labels.add(self.cg, CG_WORDS, toward_deg=-1.0, gap_pt=gap)
        if gap > 9.0:
            leader = np.array([self.cg, self.labels.to_data(x + gap, y)])
            polyline(self.ax, leader, gid="leader", zorder=3.5, color=INK, linewidth=0.5)

    def name_weakest(self) -> None:
        """Name the weakest item in the corner where no line of the drawing is it."""
        weakest = self.data.weakest
        if weakest and not any(_is_weakest(line, weakest) for line in self.data.lines):
            left, _, _, top = self.labels.frame
            corner = self.labels.to_data(left + 4.0, top - 4.0)
            self.labels.add(corner, f"governs: {weakest}", toward_deg=-45.0, leader=False)


def draw_rigging(data: RiggingDrawing, ax: Axes, *, view: RiggingView = "side", system: UnitSystem = "metric") -> None:
    """Draw the rigging to scale in one view, with forces, angles and the weakest item.

    *ax* is at least 110 mm wide for all texts to stand clear.

    Raises: Unknown view.
    """
    if view not in get_args(RiggingView):
        raise InputError.of("view", view, ", ".join(get_args(RiggingView)))
    _, xword, yword, word = _VIEWS[view]
    display = Display(system)
    axes = (f"{words} [{display.unit('length_m')}]" for words in (xword, yword))
    prepare(ax, display, f"{data.title}, {word}", *axes, plan=True)
    scale = _fit(ax, data, view, display)
    labels = Labels(ax, display)
    scale_bar(labels, scale=scale)
    sheet = _Sheet(data, view, labels)
    sheet.draw_load()
    sheet.draw_lines()
    sheet.draw_marks()
    sheet.dimensions()
    sheet.name_lines()
    sheet.name_cg()
    sheet.name_weakest()
    key(ax, _key(data), display)


def _key(data: RiggingDrawing) -> list[KeyEntry]:
    looks = [_look([line], data.weakest) for line in data.lines]
    entries = [("load", LOAD)]
    for look, text in (
        (SLING, "sling, with tension and true angle from the horizontal"),
        (WORST, "governing item"),
        (WORST_BEAM, "governing item, a beam"),
        (SLACK, "slack sling"),
        (BEAM, "beam"),
        (PLUMB, "plumb line through the hook"),
    ):
        if look is PLUMB or look in looks:
            entries.append((text, look))
    mark = {"color": INK, "linestyle": "none", "markerfacecolor": "white"}
    entries.append(("lifting point", {**mark, "marker": "s", "markersize": 4.0}))
    return entries


def rigging_figure(lift: LiftAssessment, *, view: RiggingView = "side", system: UnitSystem = "metric") -> Figure:
    """The rigging in one view, at print size."""
    figure, ax = new_axes(150.0, 100.0)
    draw_rigging(rigging_data(lift), ax, view=view, system=system)
    return figure
