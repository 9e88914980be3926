"""Reaction of each outrigger for every slew angle, its maximum, lift-off and limit."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.text import amount
from liftcalc.base.units import UnitSystem
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.position import PositionStudy
from liftcalc.views.labels import Labels
from liftcalc.views.machine import LEG_ORDER
from liftcalc.views.marks import KeyEntry, key
from liftcalc.views.screen import Drawable
from liftcalc.views.strokes import box, closed, mark, polygon, polyline
from liftcalc.views.style import CURVES, GREY, INK, Display, figure_of, fill, prepare

LIMIT: dict[str, Any] = {"color": INK, "linestyle": "-", "linewidth": 2.0}
NOW: dict[str, Any] = {"color": INK, "linestyle": (0, (1, 1.5)), "linewidth": 1.2}
TIPS = fill("#f3e3d7", GREY, 0.4, "xx")
BAND = fill("#eeeeee", GREY, 0.4, "..")


@dataclass(frozen=True, eq=False)
class ForceData:
    """Reactions at every slew, (n, 4); compression positive, 0 where an outrigger lifts off."""

    slew_deg: FloatArray
    reaction_kN: FloatArray
    path_slew_deg: tuple[float, float] | None = None
    at_slew_deg: float | None = None
    limit_kN: float | None = None
    title: str = "Outrigger reaction against slew angle"


def force_data(assessment: LiftAssessment, *, at: PositionStudy | None = None) -> ForceData:
    """Reactions round the slew circle, at the path's maximum radius or at a position."""
    forces, slews = (assessment if at is None else at).forces, assessment.path.slew_deg
    circle = forces.circle_reaction_kN
    low, high = float(np.min(slews)), float(np.max(slews))
    turn = 360.0 * np.floor(low / 360.0)
    return ForceData(
        slew_deg=np.arange(361.0),
        reaction_kN=closed(circle),
        path_slew_deg=(low - turn, high - turn) if high - turn <= 360.0 and high > low else None,
        at_slew_deg=None if at is None else at.slew_deg,
        limit_kN=min(leg.capacity_kN for leg in assessment.setup.machine.legs),
        title="Outrigger reaction against slew angle, incl. hoist factor\n"
        f"radius {amount(forces.circle_radius_m, 'length_m')}",
    )


def draw_leg_forces(data: ForceData, ax: Drawable, *, system: UnitSystem = "metric") -> None:
    """Draw four curves, one an outrigger, each with its own line and marker."""
    display = Display(system)
    turn = "Slew angle, 0 over the front, anticlockwise [°]"
    prepare(ax, display, data.title, turn, f"Outrigger reaction [{display.unit('force_kN')}]")
    slew, force = data.slew_deg, display.show(data.reaction_kN, "force_kN")
    greatest = float(np.nanmax(force)) if np.isfinite(force).any() else 0.0
    limit = None if data.limit_kN is None else float(display.show(data.limit_kN, "force_kN"))
    if limit is not None and limit > 1.6 * greatest:
        limit = None  # far above what is drawn
    first, last = float(slew[0]), float(slew[-1])
    top = 1.22 * max(greatest, limit or 0.0) or 1.0
    ax.set_xlim(first, last)
    ax.set_ylim(0.0, top)
    if last - first >= 180.0:
        width_in = ax.get_window_extent().width / (ax.figure.dpi if ax.figure else 72.0)
        ax.set_xticks(np.arange(first, last + 1.0, 30.0 if width_in > 3.5 else 60.0))
    labels = Labels(ax, display)
    entries = _draw_curves(labels, slew, force)
    if data.path_slew_deg is not None:
        _band(ax, *data.path_slew_deg, zorder=0.5, gid="slew range of the load path", **BAND)
        entries.append(("slew range of the load path", BAND))
    if _mark_tipping(ax, labels, slew, force):
        entries.append(("no equilibrium: the crane tips", TIPS))
    if greatest > 0.0:
        _mark_maximum(labels, slew, data.reaction_kN)
    if limit is not None:
        line = [(first, limit), (last, limit)]
        polyline(ax, line, zorder=3, gid="limit", **LIMIT)
        labels.keep_line_clear(line)
        text = f"outrigger limit {display.text(data.limit_kN or 0.0, 'force_kN')}"
        labels.add((first, limit), text, toward_deg=55.0, leader=False, ground=True)
    if data.at_slew_deg is not None:
        x = first + (data.at_slew_deg - first) % 360.0
        polyline(ax, [(x, 0.0), (x, top)], zorder=3, gid="slew now", **NOW)
        entries.append((f"slew {display.text(data.at_slew_deg, 'slew_deg')}", NOW))
    key(ax, entries, display)


def _draw_curves(labels: Labels, slew: FloatArray, force: FloatArray) -> list[KeyEntry]:
    entries = []
    for k, (name, look) in enumerate(zip(LEG_ORDER, CURVES, strict=False)):
        curve = np.column_stack([slew, force[:, k]])
        style = {**look.line(), "marker": look.marker, "markersize": 4.0}
        every = (int(k * len(slew) / 32), max(1, len(slew) // 8))
        polyline(labels.ax, curve, zorder=4, gid=f"force {name}", markevery=every, **style)
        labels.keep_line_clear(curve)
        entries.append((f"outrigger {name}", style))
    return entries


def _band(ax: Drawable, low: float, high: float, **style: Any) -> None:
    polygon(ax, box(low, 0.0, high, ax.get_ylim()[1]), **style)


def _mark_tipping(ax: Drawable, labels: Labels, slew: FloatArray, force: FloatArray) -> bool:
    """Hatch the slews without equilibrium; True if there are any."""
    lost = np.isnan(force).any(axis=1)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], lost, [False]]).astype(int)))
    for first, end in zip(edges[::2], edges[1::2], strict=True):
        a, b = float(slew[first]), float(slew[min(end, len(slew) - 1)])
        _band(ax, a, b, zorder=0.6, gid="tips", **TIPS)
        place = ((a + b) / 2.0, ax.get_ylim()[1] / 2.0)
        labels.add(place, "tips", weight="bold", ground=True, leader=False)
    return bool(lost.any())


def _mark_maximum(labels: Labels, slew: FloatArray, force_kN: FloatArray) -> None:
    display = labels.display
    force = display.show(force_kN, "force_kN")
    row, column = np.unravel_index(int(np.nanargmax(force)), force.shape)
    place = (float(slew[row]), float(force[row, column]))
    look = {"markersize": 7, "markeredgecolor": "white", "zorder": 6}
    mark(labels.ax, place, "v", gid="maximum reaction", **look)
    most = display.text(float(force_kN[row, column]), "force_kN")
    text = f"{LEG_ORDER[int(column)]} maximum {most} at {display.text(slew[row], 'slew_deg')}"
    labels.add(place, text, toward_deg=90.0, weight="bold", gap_pt=2.0, ground=True)
    for k, name in enumerate(LEG_ORDER):
        lifted = force[:, k] <= 0.0
        if lifted.any():
            middle = int(np.flatnonzero(lifted)[lifted.sum() // 2])
            labels.add((float(slew[middle]), 0.0), f"{name} lifts off", toward_deg=90.0)


forces_figure = figure_of(force_data, draw_leg_forces, 170.0, 90.0)
"""Outrigger reactions by slew at the maximum radius of the path, at print size."""
