"""The whole job on one drawing: every set-up and every lift on the surveyed site.

Contents: :class:`JobLift`, :func:`draw_job`.

Each set-up is drawn once, with its base; each lift goes from its pick (dot) to its set-down
(cross) and carries its name. Ordinary drawing practice; no formula and no published source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.units import UnitSystem
from liftcalc.views.data import MachineDrawing, PlanData, SiteShape
from liftcalc.views.marks import (
    KeyEntry,
    Labels,
    key,
    north_arrow,
    polyline,
    scale_bar,
    set_scale,
)
from liftcalc.views.plan import TIPPING, draw_machine
from liftcalc.views.screen import Drawable
from liftcalc.views.site_shapes import draw_shapes, name_shapes, shape_key
from liftcalc.views.style import INK, RED, Display, prepare

__all__ = ["JobLift", "draw_job"]

_WAY = {"color": RED, "linewidth": 1.2, "linestyle": (0, (5, 2))}


@dataclass(frozen=True, eq=False)
class JobLift:
    """One lift on the job drawing."""

    name: str
    machine: MachineDrawing
    stand_m: tuple[float, float]
    heading_deg: float
    way_m: FloatArray
    """Way of the hook from pick to set-down, site frame (n, 2)."""


def draw_job(
    lifts: Sequence[JobLift],
    shapes: Sequence[SiteShape],
    ax: Drawable,
    *,
    system: UnitSystem = "metric",
    title: str = "All set-ups and lifts",
) -> Drawable:
    """Draw every set-up and lift of a job over the site; returns the same Axes."""
    display = Display(system)
    unit = display.unit("length_m")
    prepare(ax, title=title, xlabel=f"Easting [{unit}]", ylabel=f"Northing [{unit}]", plan=True)
    around = np.vstack([s.xy_m for s in shapes if s.kind == "boundary"] + [i.way_m for i in lifts])
    low, high = around.min(axis=0) - 1.0, around.max(axis=0) + 1.0
    bounds = display.length(np.array([low[0], low[1], high[0], high[1]]))
    scale = set_scale(ax, tuple(bounds), system=system)
    labels = Labels(ax)
    scale_bar(ax, labels, display, scale=scale)
    north_arrow(ax, labels)
    draw_shapes(ax, shapes, display)
    setups: dict[tuple[object, ...], list[JobLift]] = {}
    for lift in lifts:
        legs = tuple(np.round(lift.machine.extension_m, 3))
        place = (lift.machine.name, lift.stand_m, lift.heading_deg, legs)
        setups.setdefault(place, []).append(lift)
    for members in setups.values():
        first = members[0]
        plan = PlanData(
            machine=first.machine,
            easting_m=first.stand_m[0],
            northing_m=first.stand_m[1],
            heading_deg=first.heading_deg,
            slew_deg=0.0,
            radius_m=1.0,
        )
        draw_machine(ax, plan, display, boom=False)
    for lift in lifts:
        way = display.length(lift.way_m)
        polyline(ax, way, zorder=6, gid=f"way {lift.name}", **_WAY)
        polyline(ax, way[:1], color=RED, marker="o", markersize=4, linestyle="none", zorder=7)
        polyline(ax, way[-1:], color=RED, marker="x", markersize=5, linestyle="none", zorder=7)
        labels.keep_line_clear(way)
    for members in setups.values():
        names = ", ".join(lift.name for lift in members)
        labels.add(display.length(np.array(members[0].stand_m)), names, colour=INK, weight="bold")
    for lift in lifts:
        labels.add(display.length(lift.way_m[-1]), lift.name, colour=RED)
    name_shapes(ax, shapes, labels, display)
    key(
        ax,
        [
            KeyEntry("tipping lines of a set-up", line=dict(TIPPING)),
            KeyEntry("way of a load, pick (dot) to set-down (cross)", line=dict(_WAY)),
            *shape_key(shapes, ax, display),
        ],
    )
    return ax
