"""Locus of the resultant of all weights on the base during the lift, against margin lines."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.text import amount
from liftcalc.base.units import UnitSystem
from liftcalc.lift.along_path import margin_rings
from liftcalc.lift.assess import LiftAssessment
from liftcalc.views.labels import Labels
from liftcalc.views.machine import LEG_ORDER
from liftcalc.views.marks import key, to_scale
from liftcalc.views.screen import Drawable
from liftcalc.views.strokes import closed, direction_deg, mark, polyline
from liftcalc.views.style import BLUE, GREY, LONG_DASH, RED, Display, figure_of, prepare

BASE: dict[str, Any] = {"color": BLUE, "linestyle": LONG_DASH, "linewidth": 1.6}
WAY: dict[str, Any] = {"color": RED, "linestyle": "-", "linewidth": 2.0}
MARGIN: dict[str, Any] = {"color": GREY, "linestyle": "-", "linewidth": 0.6}


@dataclass(frozen=True, eq=False)
class LocusData:
    """Locus of the resultant of all weights, machine frame: forward is to the right."""

    base_m: FloatArray
    resultant_m: FloatArray
    worst: int
    """Step at which the resultant is nearest to a tipping line."""
    contours: tuple[tuple[str, FloatArray], ...] = ()
    """Lines of equal margin inside the base: name and ring."""
    leg_m: FloatArray | None = None
    title: str = "Resultant of all weights on the base"


def locus_data(assessment: LiftAssessment) -> LocusData:
    """Locus of the resultant, and lines of equal distance from the nearest tipping line."""
    setup, study = assessment.setup, assessment.study
    rings = margin_rings(setup.base.vertices_m)
    contours = tuple((f"{amount(gap, 'length_m')} inside", ring) for gap, ring in rings)
    way = np.column_stack([study.resultant_x_m, study.resultant_y_m])
    worst = int(np.argmin(study.margin_m))
    return LocusData(setup.base.vertices_m, way, worst, contours, setup.leg_xy_m)


def draw_locus(data: LocusData, ax: Drawable, *, system: UnitSystem = "metric", standard_scale: bool = True) -> None:
    """Draw base polygon, margin lines and the locus of the resultant, to scale."""
    display = Display(system)
    of = f"of the slew centre [{display.unit('length_m')}]"
    prepare(ax, display, data.title, f"Forward {of}", f"Left {of}", plan=True)
    every = np.vstack([data.base_m, data.resultant_m])
    low, high = every.min(axis=0), every.max(axis=0)
    pad = 0.12 * float((high - low).max())
    bounds = (low[0] - pad, low[1] - pad * 1.6, high[0] + pad, high[1] + pad)
    labels = to_scale(ax, bounds, display, standard=standard_scale)
    base = display.length(closed(data.base_m))
    polyline(ax, base, zorder=3, gid="tipping lines", **BASE)
    for name, ring in data.contours:
        polyline(ax, display.length(closed(ring)), zorder=2, gid=f"margin {name}", **MARGIN)
    mark(ax, (0.0, 0.0), "+", markersize=8, zorder=4, gid="slew centre")
    _draw_way(data, labels)
    labels.keep_line_clear(base)
    labels.keep_clear((0.0, 0.0), radius_pt=6.0)
    _name(data, labels)
    entries = [("tipping line", BASE), ("equal distance inside it", MARGIN)]
    key(ax, [*entries, ("resultant along load path", WAY)], display)


def _draw_way(data: LocusData, labels: Labels) -> None:
    ax, way = labels.ax, labels.display.length(data.resultant_m)
    polyline(ax, way, zorder=5, gid="resultant", **WAY)
    labels.keep_line_clear(way)
    edge = {"markeredgecolor": "white", "markeredgewidth": 0.6}
    mark(ax, way[0], "o", markersize=6, color=RED, zorder=5.5, gid="pick", **edge)
    mark(ax, way[-1], "X", markersize=6, color=RED, zorder=5.5, gid="set-down", **edge)
    mark(ax, way[data.worst], "v", markersize=7, zorder=6, gid="worst", **edge)
    for place in (way[0], way[-1], way[data.worst]):
        labels.keep_clear(place, radius_pt=5.0)


def _name(data: LocusData, labels: Labels) -> None:
    display = labels.display
    way = display.length(data.resultant_m)
    centre = display.length(data.base_m).mean(axis=0)
    worst_text = "nearest to a tipping line"
    for name, k in (("pick", 0), ("set-down", len(way) - 1)):
        if k == data.worst:
            worst_text = f"nearest to a tipping line, at {name}"
            continue
        labels.add(way[k], name, toward_deg=direction_deg(centre - way[k]))
    place = way[data.worst]
    toward = direction_deg(centre - place)
    labels.add(place, worst_text, toward_deg=toward, weight="bold", gap_pt=2.0)
    if data.leg_m is not None:
        for leg, foot in zip(LEG_ORDER, display.length(data.leg_m), strict=True):
            toward = direction_deg(foot - centre)
            labels.add(foot, leg, toward_deg=toward, weight="bold", leader=False)
    for name, ring in data.contours:
        shown = display.length(ring)
        ahead = np.roll(shown, -1, axis=0)
        level = np.abs(ahead - shown)[:, 0] >= np.abs(ahead - shown)[:, 1]
        middles = ((shown + ahead) / 2.0)[level if level.any() else slice(None)]
        # written on the line, on the side that is farthest from the way
        gaps = np.hypot(*(middles[:, None, :] - way[None, :, :]).transpose(2, 0, 1)).min(axis=1)
        place = middles[int(np.argmax(gaps))]
        if labels.fits(place, name):
            labels.write(place, name, colour=GREY, ground=True)


locus_figure = figure_of(locus_data, draw_locus, 150.0, 130.0)
"""Locus of the resultant of all weights on the base, at print size."""
