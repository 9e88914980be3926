"""Margin over the site: where the machine may stand, how much it is used there, the best places.

Contents: :func:`draw_margin_map`, :data:`CLASSES`.

North is up the page. Classes of utilisation differ by tone, by hatch and by a labelled line
between them, so that the map prints in black and white. Sources: drawing practice.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm, ListedColormap

from liftcalc.base.units import UnitSystem
from liftcalc.placement.search import StandPlace
from liftcalc.placement.setups import MarginMap
from liftcalc.views.marks import KeyEntry, key
from liftcalc.views.style import HEAD_PT, INK, RED, TEXT_PT, Display, prepare

__all__ = ["CLASSES", "draw_margin_map"]

CLASSES: tuple[tuple[float, str, str, str], ...] = (
    (0.50, "#00795A", "", "to 50 % used"),
    (0.75, "#79b8a4", "", "50 to 75 %"),
    (0.90, "#cfe3da", "", "75 to 90 %"),
    (1.00, "#f6dcc8", "....", "90 to 100 %"),
    (np.inf, "#ffffff", "////", "over the limit or no data"),
)
"""Upper end, fill, hatch and words of each class of utilisation."""


def draw_margin_map(
    ax: Axes,
    margin: MarginMap,
    *,
    places: Sequence[StandPlace] = (),
    units: UnitSystem = "metric",
    title: str = "Where to stand: least utilisation over all lifts, best heading",
) -> Axes:
    """Draw the margin map, with numbered best places and their headings.

    Parameters:
      ax: Axes
      margin: MarginMap
      places: sequence of StandPlace. Drawn as numbers in order, with a stroke along the heading.
      units: display units
      title: str
    Returns: Axes
    """
    display = Display(units)
    east, north = display.length(margin.easting_m), display.length(margin.northing_m)
    value = np.where(np.isfinite(margin.utilisation), margin.utilisation, 9.0)
    bounds = [0.0, *(c[0] for c in CLASSES[:-1]), 10.0]
    colours = ListedColormap([c[1] for c in CLASSES])
    shown = np.ma.masked_array(value, mask=~margin.fits)
    ax.pcolormesh(
        east, north, shown, cmap=colours, norm=BoundaryNorm(bounds, colours.N), shading="nearest"
    )
    if min(value.shape) > 1:
        hatched = np.where(margin.fits, value, 0.0)
        ax.contourf(
            east,
            north,
            hatched,
            levels=[CLASSES[2][0], CLASSES[3][0], 10.0],
            colors="none",
            hatches=[CLASSES[3][2], CLASSES[4][2]],
        )
        levels = [c[0] for c in CLASSES[:-1] if value.min() < c[0]]
        if levels:
            lines = ax.contour(
                east,
                north,
                np.where(margin.fits, np.minimum(value, 2.0), np.nan),
                levels=levels,
                colors=INK,
                linewidths=0.6,
            )
            ax.clabel(lines, fmt=lambda v: f"{100 * v:.0f} %", fontsize=TEXT_PT, inline=True)
    blocked = np.ma.masked_array(np.ones(value.shape), mask=margin.fits)
    ax.pcolormesh(
        east, north, blocked, cmap=ListedColormap(["#b5b5b5"]), shading="nearest", rasterized=True
    )
    for rank, place in enumerate(places, start=1):
        x, y = display.length([place.easting_m, place.northing_m])
        reach = float(display.length(1.6))
        angle = np.radians(place.heading_deg)
        ax.plot(
            [x, x + reach * np.cos(angle)],
            [y, y + reach * np.sin(angle)],
            color=RED,
            linewidth=1.4,
            gid=f"heading of place {rank}",
        )
        ax.text(
            x,
            y,
            str(rank),
            fontsize=HEAD_PT,
            color="white",
            ha="center",
            va="center",
            bbox={"boxstyle": "circle,pad=0.18", "facecolor": RED, "edgecolor": "white"},
            zorder=6,
        )
    unit = display.unit("length_m")
    prepare(ax, title=title, xlabel=f"Easting [{unit}]", ylabel=f"Northing [{unit}]", plan=True)
    edge = {"edgecolor": INK, "linewidth": 0.4}
    entries = [
        KeyEntry(words, patch={"facecolor": fill, "hatch": hatch, **edge})
        for _, fill, hatch, words in CLASSES
    ]
    key(ax, [*entries, KeyEntry("no room to stand", patch={"facecolor": "#b5b5b5", **edge})])
    return ax
