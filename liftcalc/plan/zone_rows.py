"""Exclusion zones as tables, check rows, and the lines of site card and day card.

Words and roundings only; sources stand beside each zone (:mod:`liftcalc.plan.zones`).
"""

import numpy as np

from liftcalc.base.checks import Check, stated_check
from liftcalc.base.text import Show
from liftcalc.lift.check_rows import CHECK_ROWS, check_row
from liftcalc.plan.zones import ExclusionZones

ZONE_COLUMNS = ("Zone", "Area", "What it covers", "Owner, source")
MEETING_COLUMNS = ("Place", "Kind", "Reached by", "Area within the zones", "Closed by")
CORNER_COLUMNS = ("Corner", "Easting", "Northing", "From slew centre", "Bearing from grid north", "Slew angle")
NOT_STATED = "The job states no owner's rule for exclusion zones (rules.zones): they are missing."


def zone_checks(zones: ExclusionZones | None) -> list[Check]:
    """A row that the rule is stated, and one for each place of people that zones reach.

    What nobody is stated to close is over its limit by its whole area.
    """
    rows = [stated_check("exclusion-zones", "Exclusion zones: the owner's rule", of=1,
                         missing=int(zones is None), where=NOT_STATED,
                         reference=CHECK_ROWS["exclusion"]["reference"],
                         remedy="State ratio and margins under rules.zones.")]  # fmt: skip
    for m in () if zones is None else (m for m in zones.meetings if m.peopled):
        closed = f"closed by {m.closed.words}" if m.closed else "not stated as closed by anybody"
        rows.append(check_row("exclusion", m.open_m2, 0.0, part=m.id, kind=m.kind, closed=closed))
    return rows


def zone_rows(zones: ExclusionZones | None, show: Show) -> list[tuple[str, str, str, str]]:
    """Each zone, all together, and the barrier: area, extent, source."""
    if zones is None:
        return [("MISSING", "", NOT_STATED, "")]
    return [
        *((z.title, show(float(z.area.area), "area_m2", "up"), z.rule, z.source)
          for z in zones.zones),
        ("All zones together", show(float(zones.union.area), "area_m2", "up"), "", ""),
        (f"Within the barrier, {len(zones.corners_m)} corners",
         show(float(zones.barrier.area), "area_m2", "up"),
         f"line {show(float(zones.barrier.length), 'length_m', 'up')}",
         "simplified outward: every zone lies inside"),
    ]  # fmt: skip


def meeting_rows(zones: ExclusionZones, show: Show) -> list[tuple[str, ...]]:
    """Every surveyed place that zones reach: by which, how much of it, and who keeps people out."""
    rows: list[tuple[str, ...]] = []
    for m in zones.meetings:
        by = ", ".join(f"{z.title.lower()} {show(m.area_m2[z.id], 'area_m2', 'up')}"
                       for z in zones.zones if m.area_m2[z.id] > 0)  # fmt: skip
        closed = "NOBODY STATED" if m.peopled else "no public area or building"
        rows.append((m.id, m.kind, by, show(m.area_m2["all"], "area_m2", "up"), m.closed.words if m.closed else closed))
    return rows or [("none", "", "", "", "")]


def corner_rows(zones: ExclusionZones, show: Show, *, heading_deg: float) -> list[tuple[str, ...]]:
    """Setting out of the barrier: on the site's grid, and from the slew centre.

    Bearings run clockwise from grid north, slew angles anticlockwise from the front, which points
    *heading_deg* anticlockwise from east.
    """
    away = zones.corners_m - zones.stand_m
    turn = np.degrees(np.arctan2(away[:, 1], away[:, 0]))
    quantities = (*["length_m"] * 3, "slew_deg", "slew_deg")
    every = np.column_stack([zones.corners_m, np.hypot(*away.T), 90.0 - turn, turn - heading_deg])
    return [(str(k), *(show(v, q) for v, q in zip(row, quantities, strict=True)))
            for k, row in enumerate(every.tolist(), start=1)]  # fmt: skip


def zone_lines(zones: ExclusionZones | None, show: Show) -> list[tuple[str, str]]:
    """Lines of site card and day card: what is kept clear, and what is put up."""
    if zones is None:
        return [("Exclusion zones", f"NOT STATED. {NOT_STATED}")]
    shut = [f"{m.id} ({m.closed.closed_by})" for m in zones.meetings if m.closed is not None]
    unshut = [m.id for m in zones.meetings if m.open_m2 > 0]
    return [
        ("Exclusion zone", f"{show(float(zones.barrier.area), 'area_m2', 'up')}, barrier to put up "
         f"{show(float(zones.barrier.length), 'length_m', 'up')}"),
        ("Tail swing, nobody within", f"{show(zones.tail_radius_m, 'length_m', 'up')} from the "
         "slew centre"),
        ("Areas closed to people", ", ".join(shut) or "no public area or building is reached"),
        *([("NOT CLOSED", ", ".join(unshut))] if unshut else []),
    ]  # fmt: skip


def zone_values(zones: ExclusionZones | None) -> dict[str, object]:
    """Numbers that a re-check compares."""
    if zones is None:
        return {"exclusion_zones": "missing"}
    return {
        "exclusion_area_m2": {z.id: float(z.area.area) for z in zones.zones},
        "exclusion_union_m2": float(zones.union.area), "barrier_m": float(zones.barrier.length),
        "barrier_corners_m": zones.corners_m.tolist(), "tail_clear_m": zones.tail_radius_m,
    }  # fmt: skip
