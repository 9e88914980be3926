"""Utilisation of every check along the path, with the limit and the worst point.

Contents: :func:`draw_utilisation`. Nothing is calculated here. No published source: drawing
practice.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from liftcalc.base.units import UnitSystem
from liftcalc.views.data import UtilisationData
from liftcalc.views.marks import KeyEntry, Labels, key, polygon, polyline
from liftcalc.views.screen import Drawable
from liftcalc.views.style import CURVES, GREY, INK, PALE, Display, prepare

__all__ = ["draw_utilisation"]

LIMIT: dict[str, Any] = {"color": INK, "linestyle": "-", "linewidth": 2.0}
OVER: dict[str, Any] = {"facecolor": "#f3e3d7", "edgecolor": GREY, "linewidth": 0.0, "hatch": "xx"}


def draw_utilisation(
    data: UtilisationData, ax: Drawable, *, system: UnitSystem = "metric", with_key: bool = True
) -> Drawable:
    """Draw one curve a check in percent of its limit and mark the worst point.

    Parameters:
      data: UtilisationData. Ratios, 1 = at the limit; NaN where a check has no value.
      ax: Axes
      system: "metric" or "us"
      with_key: bool
    Returns: Axes. The same Axes.
    """
    display = Display(system)
    unit = display.unit(data.station_quantity)
    prepare(
        ax,
        title=data.title,
        xlabel=f"{data.station_label} [{unit}]" if unit else data.station_label,
        ylabel="Share of the limit [%]",
    )
    station = display.show(data.station, data.station_quantity)
    values = np.vstack([np.asarray(c.value, dtype=np.float64) for c in data.curves]) * 100.0
    limit = 100.0 * data.limit
    finite = values[np.isfinite(values)]
    top = max(1.2 * limit, 1.12 * float(finite.max()) if finite.size else 0.0)
    top = min(top, 3.0 * limit)
    x0, x1 = float(station[0]), float(station[-1])
    ax.set_xlim(x0, x1 if x1 > x0 else x0 + 1.0)
    ax.set_ylim(0.0, top)
    labels = Labels(ax)
    polygon(
        ax,
        [(x0, limit), (x1, limit), (x1, top), (x0, top)],
        zorder=0.5,
        gid="over the limit",
        **OVER,
    )
    polyline(ax, [(x0, limit), (x1, limit)], zorder=3, gid="limit", **LIMIT)
    labels.keep_line_clear([(x0, limit), (x1, limit)])
    entries = []
    for k, curve in enumerate(data.curves):
        look = CURVES[k % len(CURVES)]
        line = polyline(
            ax,
            np.column_stack([station, np.minimum(values[k], top * 2)]),
            zorder=4,
            gid=f"utilisation {curve.name}",
            **look.line(),
        )
        line.set_marker(look.marker)
        line.set_markersize(4.0)
        line.set_markevery((int(k * len(station) / 48), max(1, len(station) // 6)))
        entries.append(
            KeyEntry(curve.name, line={**look.line(), "marker": look.marker, "markersize": 4.0})
        )
        good = np.isfinite(values[k])
        if good.any():
            labels.keep_line_clear(np.column_stack([station, values[k]])[good])
    _mark_worst(ax, data, labels, station, values, top)
    for where, name in data.marks:
        x = float(display.show(where, data.station_quantity))
        polyline(ax, [(x, 0.0), (x, top)], color=PALE, linewidth=0.7, zorder=1, gid=f"at {name}")
        labels.add((x, 0.0), name, toward_deg=80.0, colour=GREY, leader=False)
    if with_key:
        key(ax, [*entries, KeyEntry("limit", line=LIMIT)])
    return ax


def _mark_worst(
    ax: Drawable,
    data: UtilisationData,
    labels: Labels,
    station: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
    values: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
    top: float,
) -> None:
    if not np.isfinite(values).any():
        return
    row, column = np.unravel_index(int(np.nanargmax(values)), values.shape)
    place = (float(station[column]), min(float(values[row, column]), 0.97 * top))
    polyline(
        ax,
        [place],
        marker="v",
        markersize=7,
        color=INK,
        markeredgecolor="white",
        linestyle="none",
        zorder=6,
        gid="worst",
    )
    text = f"worst {values[row, column]:.0f} %: {data.curves[int(row)].name}"
    labels.add(place, text, toward_deg=90.0, weight="bold", gap_pt=2.0, ground=True)
