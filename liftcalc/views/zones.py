"""Exclusion zones on the site plan: each with its own hatch and line, and the barrier's corners."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import shapely
from matplotlib.figure import Figure

from liftcalc.base.arrays import FloatArray
from liftcalc.base.units import UnitSystem
from liftcalc.lift.assess import LiftAssessment
from liftcalc.views import style
from liftcalc.views.machine import draw_boom, draw_machine, draw_superstructure
from liftcalc.views.marks import key, north_arrow, to_scale
from liftcalc.views.plan import PATH, draw_path, plan_data
from liftcalc.views.site_shapes import draw_shapes, keep_edges_clear, name_shapes, shape_key
from liftcalc.views.strokes import closed, direction_deg, mark, polygon, polyline
from liftcalc.views.style import INK, Display, fill

LOOKS: dict[str, dict[str, Any]] = {
    "boom": fill("#f4f4f4", INK, 1.1, "", style.LONG_DASH),
    "fall": fill("#fdf0e2", INK, 1.0, "//", "--"),
    "load": fill("#f6dcc8", style.RED, 1.3, "\\\\\\"),
    "tail": fill("#dfe9f1", INK, 1.2, "..", style.CENTRE_LINE),
    "base": fill("none", INK, 1.0, "", style.DOTTED),
}
"""Looks of the zones, in the order in which they are drawn."""
BARRIER: dict[str, Any] = {"color": INK, "linewidth": 2.4, "linestyle": "-"}


def zones_figure(
    lift: LiftAssessment, areas: Mapping[str, tuple[str, shapely.Geometry]], corners_m: FloatArray,
    *, system: UnitSystem = "metric",
) -> Figure:  # fmt: skip
    """Zones over the site plan to scale, its levels and ground left out, the barrier round them.

    Parameters:
      areas: name and area of each zone by its id, one for each of :data:`LOOKS`.
      corners_m: shape (N, 2). Corners of the barrier, numbered in this order. [m]
    """
    plan = plan_data(lift, title=f"Exclusion zones, lift {lift.setup.lift.id}: {lift.setup.lift.title}")
    shapes = [s if s.kind == "power line" else replace(s, note="") for s in plan.shapes
              if s.kind not in ("ground", "stand area", "service", "slope")]  # fmt: skip
    machine, (figure, ax) = plan.machine, style.new_axes(170.0, 150.0)
    display = Display(system, frozenset({plan.title, *(s.name for s in shapes)}))
    style.prepare_site(ax, plan.title, display)
    bounds = [*(corners_m.min(axis=0) - 3.0), *(corners_m.max(axis=0) + 3.0)]
    labels = to_scale(ax, bounds, display)
    north_arrow(labels)
    entries = []
    for order, (id, look) in enumerate(LOOKS.items()):
        title, area = areas[id]
        entries.append((title, look))
        for part in shapely.get_parts(area):
            ring, *holes = (display.length(shapely.get_coordinates(r)) for r in (part.exterior, *part.interiors))
            polygon(ax, ring, holes=holes, zorder=0.6 + 0.02 * order, gid=f"zone {id}", **look)
            edge = {"color": look["edgecolor"], "linestyle": look["linestyle"]}
            polyline(ax, ring, zorder=3.0, linewidth=look["linewidth"], gid=f"edge {id}", **edge)
    draw_shapes(ax, shapes, display)
    draw_machine(ax, machine, display)
    draw_superstructure(ax, machine, display, slew_deg=plan.slew_deg)
    draw_boom(ax, machine, display, slew_deg=plan.slew_deg, radius_m=plan.radius_m)
    draw_path(ax, plan, display)
    shown, stand = display.length(corners_m), display.length(machine.stand_m)
    polyline(ax, closed(shown), zorder=7.5, gid="barrier", **BARRIER)
    labels.keep_line_clear(closed(shown), radius_pt=5.0)
    labels.keep_clear(stand, radius_pt=25.0)
    for k, corner in enumerate(shown, start=1):
        mark(ax, corner, "s", markersize=4.5, zorder=8, gid=f"corner {k}")
        (x, y), half = labels.at_pt(corner), 5.0
        labels.reserve((x - half, y - half, x + half, y + half))
        labels.add(corner, str(k), toward_deg=direction_deg(corner - stand), weight="bold", gap_pt=6.0, leader=False)
    keep_edges_clear(shapes, labels)
    name_shapes(shapes, labels)
    key(ax, [("barrier, corners numbered", BARRIER), *entries, ("load path", PATH),
             *shape_key(shapes, ax, display)], display)  # fmt: skip
    return figure
