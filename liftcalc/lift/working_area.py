"""Where a given load may be taken: the part of the slew circle within capacity.

A cell of the (slew, radius) grid belongs to an area only if all four of its corners do, and its
outer side is the chord, not the arc: the area drawn is never larger than the capacities allow at the grid's points.
Ground under and beyond an overhead line (seen from the slew centre, the distance kept on both sides) and no-lift-over
zones belong to no area, whatever the height. Book-keeping on the capacity study; no published source.
"""

from dataclasses import dataclass

import numpy as np
import shapely

from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.base.errors import InputError, require_positive
from liftcalc.crane.sectors import ESTIMATE
from liftcalc.lift.path_study import capacity_circle
from liftcalc.lift.setup import Setup, to_machine_m
from liftcalc.lift.site_obstacles import kept_distance_m, line_distance_table

RADIUS_STEP_M = 0.25


@dataclass(frozen=True, eq=False)
class WorkingArea:
    """Areas in the machine frame, and the grid behind them."""

    gross_t: float
    slew_deg: FloatArray
    radius_m: FloatArray
    capacity_t: FloatArray
    """Shape (S, R); NaN where not rated. [t]"""
    within: shapely.Geometry
    """Gross load not above a capacity that rests on a chart and on no condition."""
    on_condition: shapely.Geometry
    """The same and what a chart carried over adds, on condition that the manufacturer confirms it;
    empty where it adds nothing."""
    no_data: shapely.Geometry
    """Gross load not above an estimate: no capacity data, not allowed."""
    barred: shapely.Geometry
    """Under or beyond an overhead line, or over a no-lift-over zone: in no area."""


def _area(good: BoolArray, slew_deg: FloatArray, radius_m: FloatArray) -> shapely.Geometry:
    """Union of the cells whose four corners are good; the slews close the circle."""
    ahead = np.roll(good, -1, axis=0)
    cells = good[:, :-1] & good[:, 1:] & ahead[:, :-1] & ahead[:, 1:]
    a = np.radians(slew_deg)
    b = np.roll(a, -1)
    parts = []
    for k, row in enumerate(cells):
        edges = np.flatnonzero(np.diff(np.concatenate([[False], row, [False]]).astype(np.int8)))
        for first, last in edges.reshape(-1, 2).tolist():  # each run of good cells
            near, far = radius_m[first], radius_m[last]
            ends = np.array([[np.cos(a[k]), np.sin(a[k])], [np.cos(b[k]), np.sin(b[k])]])
            ring = [ends[0] * near, ends[0] * far, ends[1] * far, ends[1] * near]
            parts.append(shapely.Polygon(ring))
    if not parts:
        return shapely.Polygon()
    # cells share whole sides; a thousandth closes rounding between them
    return shapely.union_all(shapely.set_precision(np.array(parts, dtype=object), 1e-6))


def _barred(setup: Setup, reach_m: float) -> shapely.Geometry:
    """Machine-frame ground that no hook may stand over, whatever the capacity.

    A voltage that is not known keeps the maximum distance of the table in use.
    """
    load = setup.lift.load
    wide = float(np.hypot(load.length_m + 2 * abs(load.cg_x_m), load.width_m + 2 * abs(load.cg_y_m)))
    half = max(wide, setup.machine.boom.width_m) / 2
    persons, parts = setup.lift.persons, []
    for line in setup.site.overhead_lines:
        keep = kept_distance_m(line, setup.rules, persons=persons)
        if keep is None:
            keep = max(line_distance_table(setup.rules, persons=persons).distance_m)
        strip = shapely.LineString(to_machine_m(line.points, setup.lift)).buffer(keep + half)
        parts += [strip, _shadow(strip, reach_m)]
    for area in setup.site.areas:
        if area.kind in ("no-overfly", "people exclusion"):
            parts.append(shapely.Polygon(to_machine_m(area.polygon, setup.lift)).buffer(half))
    return shapely.union_all(parts) if parts else shapely.Polygon()


def _shadow(shape: shapely.Polygon, reach_m: float) -> shapely.Geometry:
    """What lies beyond *shape*, seen from the slew centre, out to the reach."""
    if shape.intersects(shapely.Point(0, 0)):
        return shapely.Point(0, 0).buffer(2 * reach_m)
    ring = np.asarray(shape.exterior.coords)
    far = ring * (4 * reach_m / np.hypot(ring[:, 0], ring[:, 1]))[:, None]
    quads = [shapely.Polygon([ring[k], ring[k + 1], far[k + 1], far[k]]).buffer(0) for k in range(len(ring) - 1)]
    return shapely.union_all(quads)


def working_area(setup: Setup, gross_t: float, *, slew_step_deg: float = 2.0) -> WorkingArea:
    """Areas around the machine where a gross load is within capacity.

    Parameters:
      setup: Setup
      gross_t: > 0. Everything on the hook. [t]
      slew_step_deg: > 0. Step of the grid, which must divide 360; radii are 0.25 m apart at most.
    Returns: WorkingArea
    Raises: A load or step that is not above 0, or a slew step that does not divide 360.
    """
    load = float(require_positive("gross_t", gross_t))
    step = float(require_positive("slew_step_deg", slew_step_deg))
    if abs(360.0 / step - round(360.0 / step)) > 1e-9:
        raise InputError.of("slew_step_deg", step, "a step that divides 360 degrees")
    low, high = setup.boom.radius_min_m, setup.boom.radius_max_m
    count = max(2, int(np.ceil((high - low) / RADIUS_STEP_M)))
    radius = low + (high - low) * np.linspace(0.0, 1.0, count)
    circle = capacity_circle(setup, radius, slew_step_deg=step)
    enough = np.nan_to_num(circle.capacity_t, nan=-1.0) >= load
    data = circle.source < ESTIMATE
    argued = enough & circle.on_condition
    if argued.any():
        firm = capacity_circle(setup, radius, slew_step_deg=step, carried=False)
        argued &= ~(np.nan_to_num(firm.capacity_t, nan=-1.0) >= load)
    all_data = enough & data if argued.any() else np.zeros_like(argued)
    barred = _barred(setup, high)
    return WorkingArea(
        gross_t=load, slew_deg=circle.slew_deg, radius_m=circle.radius_m,
        capacity_t=circle.capacity_t,
        within=_area(enough & data & ~argued, circle.slew_deg, circle.radius_m).difference(barred),
        on_condition=_area(all_data, circle.slew_deg, circle.radius_m).difference(barred),
        no_data=_area(enough & ~data, circle.slew_deg, circle.radius_m).difference(barred), barred=barred,
    )  # fmt: skip
