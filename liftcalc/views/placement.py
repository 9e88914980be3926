"""Governing utilisation over the site: where the crane may stand, and the best positions.

At each place the maximum over the lifts is shown, at the heading where that is least. North is up the page. Classes of
utilisation differ by tone, by hatch and by a line between them, so that the map prints in black and white; a place
where the crane does not fit is grey, and what was not searched is left white.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.base.units import UnitSystem
from liftcalc.lift.stand_study import StandStudy
from liftcalc.placement.measure import StandPlace
from liftcalc.placement.setups import MarginMap
from liftcalc.views.labels import Labels
from liftcalc.views.marks import key, set_scale
from liftcalc.views.site_shapes import SHAPE_LOOKS, SiteShape, in_window, shape_key, site_shapes
from liftcalc.views.strokes import mark, polygon, polyline
from liftcalc.views.style import HEAD_PT, INK, RED, Display, fill, new_axes, prepare_site

CLASSES: tuple[tuple[float, str, str, str], ...] = (
    (0.50, "#00795A", "", "up to 50 %"),
    (0.75, "#79b8a4", "", "50 to 75 %"),
    (0.90, "#cfe3da", "", "75 to 90 %"),
    (1.00, "#f6dcc8", "....", "90 to 100 %"),
    (np.inf, "#ffffff", "////", "over the limit or no data"),
)
"""Upper end, fill, hatch and words of each class of utilisation."""
_OUTLINED = ("boundary", "obstacle", "excavation", "wall", "slope", "power line")
NO_ROOM = "#b5b5b5"
SPOT_PT = 7.0


def _edges(at: FloatArray, step: float) -> FloatArray:
    """Borders of the cells around points on a line, halfway between them; *step* of one alone."""
    half = np.diff(at) / 2.0 if len(at) > 1 else np.array([step / 2.0])
    inner = at[:-1] + half if len(at) > 1 else at[:0]
    return np.concatenate([[at[0] - half[0]], inner, [at[-1] + half[-1]]])


def _draw_classes(ax: Axes, margin: MarginMap, display: Display) -> None:
    """Fill each class, hatch the two worst, and draw the lines between classes."""
    east, north = display.length(margin.easting_m), display.length(margin.northing_m)
    value = np.where(np.isfinite(margin.utilisation), margin.utilisation, 9.0)
    step = float(np.diff(east if len(east) > 1 else north)[0]) if value.size > 1 else 1.0
    x, y = _edges(east, step), _edges(north, step)
    ax.set(xlim=x[[0, -1]], ylim=y[[0, -1]])

    def paint(where: BoolArray, face: str, name: str) -> None:
        row, column = np.nonzero(where)
        cells = shapely.box(x[column], y[row], x[column + 1], y[row + 1])
        for part in shapely.get_parts(shapely.coverage_union_all(cells)):
            rings = [np.asarray(ring.coords) for ring in (part.exterior, *part.interiors)]
            look = {"facecolor": face, "edgecolor": "none", "linewidth": 0.0, "gid": name}
            polygon(ax, rings[0], holes=rings[1:], **look)

    edges = [c[0] for c in CLASSES[:-1]]
    chosen = np.searchsorted(edges, value, side="right")
    for k, (_, face, _, words) in enumerate(CLASSES):
        paint(margin.fits & (chosen == k), face, words)
    if min(value.shape) > 1:
        hatched = np.where(margin.fits, value, 0.0)
        hatches = [CLASSES[3][2], CLASSES[4][2]]
        levels = [*edges[-2:], 10.0]
        ax.contourf(east, north, hatched, levels=levels, colors="none", hatches=hatches)
        levels = [edge for edge in edges if value.min() < edge]
        if levels:
            ridge = np.where(margin.fits, np.minimum(value, 2.0), np.nan)
            ax.contour(east, north, ridge, levels=levels, colors=INK, linewidths=0.6)
    paint(~margin.fits, NO_ROOM, "no room")


def _apart_pt(centres: FloatArray) -> FloatArray:
    """Places of the numbers, in points, pushed apart where they would lie on each other."""
    spots = centres.copy()
    for _ in range(200):
        moved = False
        for i in range(len(spots)):
            for j in range(i):
                step = spots[i] - spots[j]
                gap = float(np.hypot(*step))
                if gap >= 2.0 * SPOT_PT - 1e-6:
                    continue
                # of two at one place each goes its own way, the same in every run
                turn = np.radians(40.0 + 137.5 * i)
                way = step / gap if gap > 1e-6 else np.array([np.cos(turn), np.sin(turn)])
                push = (SPOT_PT + 0.05 - gap / 2.0) * way
                spots[i], spots[j], moved = spots[i] + push, spots[j] - push, True
        if not moved:
            break
    return spots


def _number_places(ax: Axes, labels: Labels, places: Sequence[StandPlace], display: Display) -> None:
    spot = {"boxstyle": "circle,pad=0.18", "facecolor": RED, "edgecolor": "white"}
    middle: dict[str, Any] = {"ha": "center", "va": "center", "zorder": 6, "bbox": spot}
    middle |= {"fontsize": HEAD_PT, "color": "white"}
    at = [display.length([p.easting_m, p.northing_m]) for p in places]
    numbers = _apart_pt(np.array([labels.at_pt(p) for p in at]).reshape(-1, 2))
    for rank, (place, (x, y), number) in enumerate(zip(places, at, numbers, strict=True), start=1):
        reach, angle = float(display.length(1.6)), np.radians(place.heading_deg)
        xs, ys = [x, x + reach * np.cos(angle)], [y, y + reach * np.sin(angle)]
        ax.plot(xs, ys, color=RED, linewidth=1.4, gid=f"heading of place {rank}")
        mark(ax, (x, y), "o", color=RED, markersize=3.0, zorder=5.5, gid=f"place {rank}")
        beside = np.array(labels.to_data(*number))
        polyline(ax, np.array([(x, y), beside]), color=RED, linewidth=0.7, zorder=5.4)
        ax.text(float(beside[0]), float(beside[1]), str(rank), **middle)
        labels.keep_clear(beside, radius_pt=SPOT_PT)


def draw_margin_map(
    ax: Axes,
    margin: MarginMap,
    *,
    places: Sequence[StandPlace] = (),
    shapes: Sequence[SiteShape] = (),
    system: UnitSystem = "metric",
) -> None:
    """Draw the map over the surveyed site, the best positions numbered in order with headings."""
    display = Display(system, frozenset(shape.name for shape in shapes))
    prepare_site(ax, "Governing utilisation of all lifts, at the best heading", display)
    _draw_classes(ax, margin, display)
    shown = [s for s in shapes if s.kind in _OUTLINED]
    corners = np.column_stack([ax.get_xlim(), ax.get_ylim()])
    around = np.vstack([corners, *(display.length(s.xy_m) for s in shown if s.kind == "boundary")])
    bounds = (*around.min(axis=0).tolist(), *around.max(axis=0).tolist())
    set_scale(ax, bounds, system=system, standard=False)
    labels = Labels(ax, display)
    for shape in shown:
        ring = display.length(shape.xy_m)
        look, gid = SHAPE_LOOKS[shape.kind], f"{shape.kind}: {shape.name}"
        if shape.closed:
            polygon(ax, ring, zorder=4, gid=gid, **look.patch() | {"facecolor": "none"})
        else:
            polyline(ax, ring, zorder=4, gid=gid, **look.line())
    _number_places(ax, labels, places, display)
    for shape in shown:
        if shape.kind != "boundary" and in_window(shape, ax, display):
            middle = display.length(shape.xy_m).mean(axis=0)
            labels.add(middle, shape.name, toward_deg=90.0, ground=True)
    entries = [(words, fill(face, width=0.4, hatch=hatch)) for _, face, hatch, words in CLASSES]
    entries.append(("crane does not fit", fill(NO_ROOM, width=0.4)))
    entries.append(("white, no hatch: not searched", fill("white", width=0.4)))
    key(ax, entries + shape_key(shown, ax, display, strips_drawn=False), display)


def margin_figure(study: StandStudy, *, system: UnitSystem = "metric") -> Figure:
    """The map over the site with every best position numbered, at print size."""
    figure, ax = new_axes(170.0, 110.0)
    job = study.job
    shapes = site_shapes(job.site, job.rules, persons=any(one.persons for one in job.lifts))
    draw_margin_map(ax, study.margin, places=study.result.places, shapes=shapes, system=system)
    return figure
