"""Working area of a given load on the site plan: where may it be taken, where is no data."""

from dataclasses import dataclass

import numpy as np
import shapely

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import MAKER_CONFIRMS
from liftcalc.base.units import UnitSystem
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.setup import to_site_m
from liftcalc.lift.working_area import WorkingArea
from liftcalc.views.machine import draw_machine
from liftcalc.views.marks import key, north_arrow, to_scale
from liftcalc.views.plan import PlanData, draw_path, plan_bounds, plan_data
from liftcalc.views.screen import Drawable
from liftcalc.views.site_shapes import draw_shapes, keep_edges_clear, name_shapes
from liftcalc.views.strokes import closed, polygon
from liftcalc.views.style import BLUE, GREY, INK, RED, Display, fill, prepare_site

WITHIN = fill("#cfe3f1", BLUE, 1.6)
NO_DATA = fill("none", GREY, 1.0, "////", (0, (3, 2)))
ON_CONDITION = fill("none", RED, 1.2, "..", (0, (6, 2, 1, 2)))
BARRED = fill("none", INK, 0.9, "xx", (0, (1, 1.5)))
Areas = tuple[tuple[FloatArray, tuple[FloatArray, ...]], ...]
"""Outer ring and holes of each area, site coordinates."""


@dataclass(frozen=True, eq=False)
class WorkingAreaData:
    """Where a given load may be taken."""

    plan: PlanData
    load_t: float
    within: Areas
    """Areas with capacity and no condition."""
    on_condition: Areas = ()
    """The same and what holds only on condition that the manufacturer confirms the layout."""
    no_data: Areas = ()
    """Areas with no capacity data, only an estimate."""
    barred: Areas = ()
    """Within reach, but under or beyond an overhead line or over a no-lift-over zone."""


def working_area_data(assessment: LiftAssessment, area: WorkingArea) -> WorkingAreaData:
    """Working area over the site plan."""
    lift = assessment.setup.lift

    def ring(line: shapely.LinearRing) -> FloatArray:
        return to_site_m(np.asarray(line.coords)[:-1, :2], lift)

    def rings(shape: shapely.Geometry) -> Areas:
        return tuple(
            (ring(p.exterior), tuple(ring(h) for h in p.interiors))
            for p in getattr(shape, "geoms", [shape])
            if isinstance(p, shapely.Polygon) and not p.is_empty
        )

    reach = shapely.Point(0, 0).buffer(assessment.setup.boom.radius_max_m)
    return WorkingAreaData(
        plan=plan_data(assessment), load_t=area.gross_t, within=rings(area.within),
        on_condition=rings(area.on_condition), no_data=rings(area.no_data),
        barred=rings(area.barred.intersection(reach)),
    )  # fmt: skip


def _bounds(data: WorkingAreaData) -> FloatArray:
    x0, y0, x1, y1 = plan_bounds(data.plan, margin_m=2.0)
    areas = (*data.within, *data.on_condition, *data.no_data)
    every = np.vstack([[(x0, y0), (x1, y1)], *(ring for ring, _ in areas)])
    return np.concatenate([every.min(axis=0) - [1.0, 2.5], every.max(axis=0) + 1.0])


def draw_working_area(data: WorkingAreaData, ax: Drawable, *, system: UnitSystem = "metric") -> None:
    """Draw where the load may be taken, over the site plan, to scale.

    What is within capacity is solid with a heavy edge; no data is hatched with a dashed edge and
    what is barred cross-hatched: neither reads as allowed.
    """
    plan = data.plan
    display = Display(system, frozenset(shape.name for shape in plan.shapes))
    load = display.text(data.load_t, "mass_t")
    title = f"Area within rated capacity for {load} (clearances not checked)"
    prepare_site(ax, title, display)
    labels = to_scale(ax, _bounds(data), display, standard=False)
    north_arrow(labels)
    within, asked = f"{load} within rated capacity", f"on condition: {MAKER_CONFIRMS}"
    missing = "no capacity data (not allowed)"
    shut = "strip of an overhead line or no-lift-over zone (not allowed)"
    kinds = (
        ("within capacity", within, data.within, 1.65, WITHIN | {"alpha": 0.75}),
        ("on condition", asked, data.on_condition, 1.62, ON_CONDITION),
        ("no capacity data", missing, data.no_data, 1.6, NO_DATA),
        ("barred", shut, data.barred, 1.7, BARRED),
    )
    entries = [(within, WITHIN)]
    for gid, words, areas, order, look in kinds:
        for ring, holes in areas:
            inner = [display.length(h) for h in holes]
            polygon(ax, display.length(ring), holes=inner, zorder=order, gid=gid, **look)
        if areas and areas is not data.within:
            entries.append((words, look))
    draw_shapes(ax, plan.shapes, display)
    draw_machine(ax, plan.machine, display)
    draw_path(ax, plan, display)
    centre = display.length(plan.machine.stand_m)
    labels.keep_clear(centre, radius_pt=20.0)
    for ring, _ in data.within:
        labels.keep_line_clear(display.length(closed(ring)))
    keep_edges_clear(plan.shapes, labels)
    name_shapes(plan.shapes, labels)
    if not data.within:
        words = "nowhere within rated capacity"
        labels.add(centre, words, toward_deg=90.0, weight="bold", gap_pt=15.0)
    key(ax, entries, display)
