"""Utilisation of every check along the path, with the limit and the worst point."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.ticker import MaxNLocator

from liftcalc.base.arrays import FloatArray
from liftcalc.base.units import UnitSystem
from liftcalc.lift.along_path import LimitUse, limit_uses
from liftcalc.lift.assess import LiftAssessment
from liftcalc.views.labels import Labels
from liftcalc.views.marks import key
from liftcalc.views.screen import Drawable
from liftcalc.views.strokes import box, mark, polygon, polyline
from liftcalc.views.style import CURVES, GREY, INK, PALE, TEXT_PT, Display, figure_of, prepare, text_size_pt

LIMIT: dict[str, Any] = {"color": INK, "linestyle": "-", "linewidth": 2.0}
OVER: dict[str, Any] = {"facecolor": "#f3e3d7", "edgecolor": GREY, "linewidth": 0.0, "hatch": "xx"}


@dataclass(frozen=True, eq=False)
class UtilisationData:
    """Utilisation of each check along the path."""

    way_m: FloatArray
    curves: tuple[LimitUse, ...]
    stages: tuple[tuple[float, str], ...] = ()
    """Where each stage of the path begins: way and name."""


def utilisation_data(assessment: LiftAssessment) -> UtilisationData:
    """Share of each limit along the path."""
    path = assessment.path
    stages = []
    for k, stage in enumerate(path.stage):
        if k == 0 or stage != path.stage[k - 1]:
            stages.append((float(path.distance_m[max(k - 1, 0)]), stage))
    return UtilisationData(path.distance_m, limit_uses(assessment), tuple(stages))


def draw_utilisation(data: UtilisationData, ax: Drawable, *, system: UnitSystem = "metric") -> None:
    """Draw one curve a check in percent of its limit and mark the worst point."""
    display = Display(system)
    xlabel = f"Distance along load path [{display.unit('length_m')}]"
    prepare(ax, display, "Utilisation along path", xlabel, "Utilisation [%]")
    way = display.length(data.way_m)
    values = 100.0 * np.vstack([c.share for c in data.curves])
    finite = values[np.isfinite(values)]
    top = min(max(120.0, 1.12 * float(finite.max()) if finite.size else 0.0), 300.0)
    x0, x1 = float(way[0]), float(way[-1])
    x1 = x1 if x1 > x0 else x0 + 1.0
    # room for the mark of a maximum at an end, and for the names at the right
    names_pt = max(text_size_pt(display.words(c.name), TEXT_PT)[0] for c in data.curves)
    wide_pt = ax.get_window_extent().width * 72.0 / ax.figure.dpi
    pad = 0.015 * (x1 - x0)
    right = x1 + (x1 - x0) * (names_pt + 12.0) / max(wide_pt - names_pt - 12.0, 0.5 * wide_pt)
    ax.set_xlim(x0 - pad, right)
    ax.set_ylim(0.0, top)
    ticks = MaxNLocator(nbins=8, steps=[1, 2, 2.5, 5, 10]).tick_values(x0, x1)
    ax.set_xticks([t for t in ticks if x0 <= t <= x1])
    labels = Labels(ax, display)
    polygon(ax, box(x0 - pad, 100.0, right, top), zorder=0.5, gid="over the limit", **OVER)
    limit = [(x0 - pad, 100.0), (right, 100.0)]
    polyline(ax, limit, zorder=3, gid="limit", **LIMIT)
    labels.keep_line_clear(limit)
    entries = []
    for k, (curve, value) in enumerate(zip(data.curves, values, strict=True)):
        look = CURVES[k % len(CURVES)]
        style = {**look.line(), "marker": look.marker, "markersize": 4.0}
        line = np.column_stack([way, np.minimum(value, top * 2)])
        every = (int(k * len(way) / 48), max(1, len(way) // 6))
        polyline(ax, line, zorder=4, gid=f"utilisation {curve.name}", markevery=every, **style)
        entries.append((curve.name, style))
        good = np.isfinite(value)
        if good.any():
            labels.keep_line_clear(np.column_stack([way, value])[good])
    if finite.size:
        row, column = np.unravel_index(int(np.nanargmax(values)), values.shape)
        place = (float(way[column]), min(float(values[row, column]), 0.97 * top))
        mark(ax, place, "v", markersize=7, markeredgecolor="white", zorder=6, gid="maximum")
        most = display.text(float(values[row, column]), "percent")
        text = f"maximum {most}: {data.curves[int(row)].name}"
        labels.add(place, text, toward_deg=90.0, weight="bold", gap_pt=2.0, ground=True)
    _name_ends(data, x1, values, labels, top=top)
    for start, name in data.stages:
        x = float(display.length(start))
        polyline(ax, [(x, 0.0), (x, top)], color=PALE, linewidth=0.7, zorder=1, gid=f"at {name}")
        labels.add((x, 0.0), name, toward_deg=80.0, colour=GREY, leader=False)
    key(ax, [*entries, ("limit", LIMIT)], display)


def _name_ends(data: UtilisationData, x: float, values: FloatArray, labels: Labels, *, top: float) -> None:
    """Name of each curve at the right of its end, in the order of the ends, one a line."""
    last = [float(v[np.isfinite(v)][-1]) for v in values if np.isfinite(v).any()]
    names = [c.name for c, v in zip(data.curves, values, strict=True) if np.isfinite(v).any()]
    step = labels.to_data(0.0, 9.0)[1] - labels.to_data(0.0, 0.0)[1]
    low = 0.6 * step
    for end, name in sorted(zip(last, names, strict=True)):
        low = max(low, min(end, top))
        width = text_size_pt(labels.display.words(name), TEXT_PT)[0]
        place, height = labels.at_pt((x, low))
        labels.write(labels.to_data(place + 6.0 + width / 2.0, height), name, ground=True)
        low += step


utilisation_figure = figure_of(utilisation_data, draw_utilisation, 170.0, 90.0)
"""Share of each limit used along the path, at print size."""
