"""Margin over the site: where the machine may stand, how much it is used there, the best places.

North is up the page. Classes of utilisation differ by tone, by hatch and by a labelled line between
them, so that the map prints in black and white; a place without room is grey.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm, ListedColormap
from matplotlib.figure import Figure

from liftcalc.base.units import UnitSystem
from liftcalc.lift.stand_study import StandStudy
from liftcalc.placement.places import StandPlace
from liftcalc.placement.poses import MarginMap
from liftcalc.views.marks import KeyEntry, key
from liftcalc.views.style import HEAD_PT, INK, RED, TEXT_PT, Display, new_axes, prepare_site

CLASSES: tuple[tuple[float, str, str, str], ...] = (
    (0.50, "#00795A", "", "to 50 % used"),
    (0.75, "#79b8a4", "", "50 to 75 %"),
    (0.90, "#cfe3da", "", "75 to 90 %"),
    (1.00, "#f6dcc8", "....", "90 to 100 %"),
    (np.inf, "#ffffff", "////", "over the limit or no data"),
)
"""Upper end, fill, hatch and words of each class of utilisation."""
NO_ROOM = "#b5b5b5"


def _draw_classes(ax: Axes, margin: MarginMap, display: Display) -> None:
    """Fill each class, hatch the two worst, and draw the lines between classes."""
    east, north = display.length(margin.easting_m), display.length(margin.northing_m)
    value = np.where(np.isfinite(margin.utilisation), margin.utilisation, 9.0)
    edges, colours = [c[0] for c in CLASSES[:-1]], ListedColormap([c[1] for c in CLASSES])
    norm = BoundaryNorm([0.0, *edges, 10.0], colours.N)
    shown = np.ma.masked_array(value, mask=~margin.fits)
    ax.pcolormesh(east, north, shown, cmap=colours, norm=norm, shading="nearest")
    if min(value.shape) > 1:
        hatched = np.where(margin.fits, value, 0.0)
        hatches = [CLASSES[3][2], CLASSES[4][2]]
        levels = [*edges[-2:], 10.0]
        ax.contourf(east, north, hatched, levels=levels, colors="none", hatches=hatches)
        levels = [edge for edge in edges if value.min() < edge]
        if levels:
            ridge = np.where(margin.fits, np.minimum(value, 2.0), np.nan)
            lines = ax.contour(east, north, ridge, levels=levels, colors=INK, linewidths=0.6)
            ax.clabel(lines, fmt=lambda v: f"{100 * v:.0f} %", fontsize=TEXT_PT, inline=True)
    blocked, grey = np.ma.masked_array(np.ones(value.shape), mask=margin.fits), [NO_ROOM]
    ax.pcolormesh(
        east, north, blocked, cmap=ListedColormap(grey), shading="nearest", rasterized=True
    )


def draw_margin_map(
    ax: Axes, margin: MarginMap, *, places: Sequence[StandPlace] = (), system: UnitSystem = "metric"
) -> None:
    """Draw the margin map, with the best places numbered in order and their headings."""
    display = Display(system)
    _draw_classes(ax, margin, display)
    spot = {"boxstyle": "circle,pad=0.18", "facecolor": RED, "edgecolor": "white"}
    middle: dict[str, Any] = {"ha": "center", "va": "center", "zorder": 6}
    for rank, place in enumerate(places, start=1):
        x, y = display.length([place.easting_m, place.northing_m])
        reach, angle = float(display.length(1.6)), np.radians(place.heading_deg)
        xs, ys = [x, x + reach * np.cos(angle)], [y, y + reach * np.sin(angle)]
        ax.plot(xs, ys, color=RED, linewidth=1.4, gid=f"heading of place {rank}")
        ax.text(x, y, str(rank), fontsize=HEAD_PT, color="white", bbox=spot, **middle)
    prepare_site(ax, "Where to stand: least utilisation over all lifts, best heading", display)
    edge = {"edgecolor": INK, "linewidth": 0.4}
    entries = [
        KeyEntry(words, patch={"facecolor": fill, "hatch": hatch, **edge})
        for _, fill, hatch, words in CLASSES
    ]
    key(ax, [*entries, KeyEntry("no room to stand", patch={"facecolor": NO_ROOM, **edge})])


def margin_figure(study: StandStudy, *, system: UnitSystem = "metric") -> Figure:
    """Margin over the site with the best places numbered, at print size."""
    figure, ax = new_axes(170.0, 110.0)
    draw_margin_map(ax, study.margin, places=study.result.places[:5], system=system)
    return figure
