"""Working area of a given load on the site plan: where may it be taken, where is no data.

Contents: :func:`draw_working_area`. The areas come as rings; nothing is calculated here. No
published source: drawing practice.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from liftcalc.base.checks import MAKER_CONFIRMS
from liftcalc.base.units import UnitSystem
from liftcalc.views.data import WorkingAreaData
from liftcalc.views.marks import (
    KeyEntry,
    Labels,
    key,
    north_arrow,
    polygon,
    scale_bar,
    set_scale,
)
from liftcalc.views.plan import draw_machine, draw_path, plan_bounds
from liftcalc.views.screen import Drawable
from liftcalc.views.site_shapes import draw_shapes, name_shapes, shape_key
from liftcalc.views.style import BLUE, GREY, INK, RED, Display, prepare

__all__ = ["draw_working_area"]

WITHIN: dict[str, Any] = {"facecolor": "#cfe3f1", "edgecolor": BLUE, "linewidth": 1.6}
NO_DATA: dict[str, Any] = {
    "facecolor": "none",
    "edgecolor": GREY,
    "linewidth": 1.0,
    "linestyle": (0, (3, 2)),
    "hatch": "////",
}
ON_CONDITION: dict[str, Any] = {
    "facecolor": "none",
    "edgecolor": RED,
    "linewidth": 1.2,
    "linestyle": (0, (6, 2, 1, 2)),
    "hatch": "..",
}
BARRED: dict[str, Any] = {
    "facecolor": "none",
    "edgecolor": INK,
    "linewidth": 0.9,
    "linestyle": (0, (1, 1.5)),
    "hatch": "xx",
}


def _bounds(data: WorkingAreaData) -> tuple[float, float, float, float]:
    low_x, low_y, high_x, high_y = plan_bounds(data.plan, margin_m=2.0)
    for ring, _ in (*data.within, *data.on_condition, *data.no_data):
        low_x, low_y = min(low_x, ring[:, 0].min()), min(low_y, ring[:, 1].min())
        high_x, high_y = max(high_x, ring[:, 0].max()), max(high_y, ring[:, 1].max())
    return float(low_x) - 1.0, float(low_y) - 2.5, float(high_x) + 1.0, float(high_y) + 1.0


def draw_working_area(
    data: WorkingAreaData,
    ax: Drawable,
    *,
    system: UnitSystem = "metric",
    standard_scale: bool = True,
    with_key: bool = True,
    site_key: bool = True,
) -> Drawable:
    """Draw where the load may be taken, over the site plan, to scale.

    Parameters:
      data: WorkingAreaData. ``within`` is solid with a heavy edge; ``no_data`` is hatched with a
        dashed edge, and ``barred`` cross-hatched: neither reads as allowed.
      ax: Axes
      system: "metric" or "us"
      standard_scale, with_key, site_key: bool
    Returns: Axes. The same Axes.
    """
    display = Display(system)
    unit = display.unit("length_m")
    load = display.text(data.load_t, "mass_t")
    prepare(
        ax,
        title=f"{data.title}\n{load} on the hook",
        xlabel=f"Easting [{unit}]",
        ylabel=f"Northing [{unit}]",
        plan=True,
    )
    bounds = display.length(np.array(_bounds(data)))
    scale = set_scale(ax, tuple(bounds), system=system, standard=standard_scale)
    labels = Labels(ax)
    scale_bar(ax, labels, display, scale=scale if standard_scale else None)
    north_arrow(ax, labels)
    for ring, holes in data.no_data:
        polygon(
            ax,
            display.length(ring),
            holes=[display.length(h) for h in holes],
            zorder=1.6,
            gid="no capacity data",
            **NO_DATA,
        )
    for ring, holes in data.on_condition:
        polygon(
            ax,
            display.length(ring),
            holes=[display.length(h) for h in holes],
            zorder=1.62,
            gid="on condition",
            **ON_CONDITION,
        )
    for ring, holes in data.within:
        polygon(
            ax,
            display.length(ring),
            holes=[display.length(h) for h in holes],
            zorder=1.65,
            gid="within capacity",
            alpha=0.75,
            **WITHIN,
        )
    for ring, holes in data.barred:
        polygon(
            ax,
            display.length(ring),
            holes=[display.length(h) for h in holes],
            zorder=1.7,
            gid="barred",
            **BARRED,
        )
    draw_shapes(ax, data.plan.shapes, display)
    draw_machine(ax, data.plan, display, boom=False)
    draw_path(ax, data.plan, display)
    centre = display.length(np.array([data.plan.easting_m, data.plan.northing_m]))
    labels.keep_clear(centre, radius_pt=20.0)
    for ring, _ in data.within:
        labels.keep_line_clear(display.length(np.vstack([ring, ring[:1]])))
    name_shapes(ax, data.plan.shapes, labels, display)
    if not data.within:
        labels.add(centre, "nowhere within capacity", toward_deg=90.0, weight="bold", gap_pt=15.0)
    if with_key:
        entries = [KeyEntry(f"{load} within capacity", patch=WITHIN)]
        if data.on_condition:
            entries.append(KeyEntry(f"on condition: {MAKER_CONFIRMS}", patch=ON_CONDITION))
        if data.no_data:
            entries.append(KeyEntry("no capacity data (not allowed)", patch=NO_DATA))
        if data.barred:
            entries.append(
                KeyEntry("overhead line or zone with no load above (not allowed)", patch=BARRED)
            )
        key(ax, [*entries, *(shape_key(data.plan.shapes, ax, display) if site_key else [])])
    return ax
