"""Way of the resultant of all weights over the base during the lift, against margin lines.

Contents: :func:`draw_locus`. The margin lines are rings given with their names; nothing is
calculated here. No published source: drawing practice.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from liftcalc.base.units import UnitSystem
from liftcalc.views.data import LEG_ORDER, LocusData
from liftcalc.views.marks import KeyEntry, Labels, key, polyline, scale_bar, set_scale
from liftcalc.views.screen import Drawable
from liftcalc.views.style import BLUE, GREY, INK, LONG_DASH, RED, Display, prepare

__all__ = ["draw_locus"]

BASE: dict[str, Any] = {"color": BLUE, "linestyle": LONG_DASH, "linewidth": 1.6}
WAY: dict[str, Any] = {"color": RED, "linestyle": "-", "linewidth": 2.0}
EMPTY: dict[str, Any] = {"color": INK, "linestyle": (0, (2, 1.5)), "linewidth": 1.2}
MARGIN: dict[str, Any] = {"color": GREY, "linestyle": "-", "linewidth": 0.6}


def draw_locus(
    data: LocusData,
    ax: Drawable,
    *,
    system: UnitSystem = "metric",
    standard_scale: bool = True,
    with_key: bool = True,
) -> Drawable:
    """Draw base polygon, margin lines and the way of the resultant, to scale.

    Parameters:
      data: LocusData. Machine frame: forward is to the right, left is up.
      ax: Axes
      system: "metric" or "us"
      standard_scale, with_key: bool
    Returns: Axes. The same Axes.
    """
    display = Display(system)
    unit = display.unit("length_m")
    prepare(
        ax,
        title=data.title,
        xlabel=f"Forward of the slew centre [{unit}]",
        ylabel=f"Left of the slew centre [{unit}]",
        plan=True,
    )
    base = display.length(data.base_xy_m)
    closed = np.vstack([base, base[:1]])
    way = display.length(data.resultant_xy_m)
    every = np.vstack([base, way])
    low, high = every.min(axis=0), every.max(axis=0)
    pad = 0.12 * float((high - low).max())
    scale = set_scale(
        ax,
        (low[0] - pad, low[1] - pad * 1.6, high[0] + pad, high[1] + pad),
        system=system,
        standard=standard_scale,
    )
    labels = Labels(ax)
    scale_bar(ax, labels, display, scale=scale if standard_scale else None)
    polyline(ax, closed, zorder=3, gid="tipping lines", **BASE)
    for name, ring in data.contours:
        shown = display.length(ring)
        line = np.vstack([shown, shown[:1]])
        polyline(ax, line, zorder=2, gid=f"margin {name}", **MARGIN)
    polyline(
        ax,
        [(0.0, 0.0)],
        marker="+",
        markersize=8,
        color=INK,
        linestyle="none",
        zorder=4,
        gid="slew centre",
    )
    _draw_way(ax, data, labels, display)
    labels.keep_line_clear(closed)
    _name(ax, data, labels, display)
    if with_key:
        entries = [
            KeyEntry("tipping line", line=BASE),
            KeyEntry("equal margin", line=MARGIN),
            KeyEntry("resultant along the lift", line=WAY),
        ]
        if data.empty_xy_m is not None:
            entries.append(KeyEntry("resultant without load", line=EMPTY))
        key(ax, entries)
    return ax


def _draw_way(ax: Drawable, data: LocusData, labels: Labels, display: Display) -> None:
    way = display.length(data.resultant_xy_m)
    if data.empty_xy_m is not None:
        polyline(ax, display.length(data.empty_xy_m), zorder=4.4, gid="without load", **EMPTY)
    polyline(ax, way, zorder=5, gid="resultant", **WAY)
    labels.keep_line_clear(way)
    ends = (("pick", 0, "o"), ("set-down", len(way) - 1, "X"), ("worst", data.worst, "v"))
    for name, k, marker in ends:
        polyline(
            ax,
            way[k : k + 1],
            marker=marker,
            markersize=7 if name == "worst" else 6,
            color=INK if name == "worst" else RED,
            markeredgecolor="white",
            markeredgewidth=0.6,
            linestyle="none",
            zorder=6 if name == "worst" else 5.5,
            gid=name,
        )
        labels.keep_clear(way[k], radius_pt=5.0)


def _name(ax: Drawable, data: LocusData, labels: Labels, display: Display) -> None:
    way = display.length(data.resultant_xy_m)
    centre = display.length(data.base_xy_m).mean(axis=0)
    worst_text = "worst"
    for name, k in (("pick", 0), ("set-down", len(way) - 1)):
        if k == data.worst:
            worst_text = f"worst, at {name}"
            continue
        labels.add(way[k], name, toward_deg=_away(centre - way[k]))
    place = way[data.worst]
    labels.add(place, worst_text, toward_deg=_away(centre - place), weight="bold", gap_pt=2.0)
    if data.leg_xy_m is not None:
        for leg, foot in zip(LEG_ORDER, display.length(data.leg_xy_m), strict=True):
            labels.add(foot, leg, toward_deg=_away(foot - centre), weight="bold", leader=False)
    for inside, ring in data.contours:
        name = display.words(inside)
        shown = display.length(ring)
        ahead = np.roll(shown, -1, axis=0)
        level = np.abs(ahead - shown)[:, 0] >= np.abs(ahead - shown)[:, 1]
        middles = ((shown + ahead) / 2.0)[level if level.any() else slice(None)]
        # written on the line, on the side that is farthest from the way
        gaps = np.hypot(*(middles[:, None, :] - way[None, :, :]).transpose(2, 0, 1)).min(axis=1)
        place = middles[int(np.argmax(gaps))]
        if labels.fits(place, name):
            labels.write(place, name, colour=GREY, ground=True)


def _away(step: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> float:
    return float(np.degrees(np.arctan2(step[1], step[0])))
