"""The whole job on one drawing: every set-up and every lift on the surveyed site.

Each set-up is drawn once, with its base; each lift goes from its pick (dot) to its set-down
(cross) and carries its name.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from liftcalc.base.arrays import FloatArray
from liftcalc.base.units import UnitSystem
from liftcalc.facts.job import Job
from liftcalc.lift.along_path import hook_way_m
from liftcalc.lift.path import load_path
from liftcalc.lift.placing import placing
from liftcalc.lift.setup import build_setup
from liftcalc.views.machine import TIPPING, MachineDrawing, draw_machine, machine_drawing
from liftcalc.views.marks import key, north_arrow, to_scale
from liftcalc.views.screen import Drawable
from liftcalc.views.site_shapes import SiteShape, draw_shapes, keep_edges_clear, name_shapes, shape_key, site_shapes
from liftcalc.views.strokes import mark, polyline
from liftcalc.views.style import INK, RED, Display, new_axes, prepare_site

_WAY: dict[str, Any] = {"color": RED, "linewidth": 1.2, "linestyle": (0, (5, 2))}


@dataclass(frozen=True, eq=False)
class JobLift:
    """One lift on the job drawing."""

    name: str
    machine: MachineDrawing
    way_m: FloatArray
    """Path of the hook from pick to set-down, site coordinates (n, 2)."""


def job_lifts(job: Job) -> list[JobLift]:
    """Every lift of the job as drawn."""
    lifts = []
    for fact in job.lifts:
        setup = build_setup(job, fact.id)
        machine = machine_drawing(setup, mats=placing(setup).mats)
        lifts.append(JobLift(fact.id, machine, hook_way_m(setup, load_path(fact))))
    return lifts


def _by_setup(lifts: Sequence[JobLift]) -> list[list[JobLift]]:
    """Lifts that share machine, place, heading and legs."""
    setups: dict[tuple[object, ...], list[JobLift]] = {}
    for lift in lifts:
        machine = lift.machine
        legs = tuple(np.round(machine.extension_m, 3))
        place = (machine.name, *machine.stand_m.tolist(), machine.heading_deg, legs)
        setups.setdefault(place, []).append(lift)
    return list(setups.values())


def draw_job(
    lifts: Sequence[JobLift], shapes: Sequence[SiteShape], ax: Drawable, *, system: UnitSystem = "metric"
) -> None:
    """Draw every set-up and lift of a job over the site, to scale."""
    display = Display(system, frozenset(shape.name for shape in shapes))
    prepare_site(ax, "All crane positions and lifts", display)
    around = np.vstack([s.xy_m for s in shapes if s.kind == "boundary"] + [i.way_m for i in lifts])
    bounds = np.concatenate([around.min(axis=0) - 1.0, around.max(axis=0) + 1.0])
    labels = to_scale(ax, bounds, display)
    north_arrow(labels)
    draw_shapes(ax, shapes, display)
    setups = _by_setup(lifts)
    for members in setups:
        draw_machine(ax, members[0].machine, display)
    for lift in lifts:
        way = display.length(lift.way_m)
        polyline(ax, way, zorder=6, gid=f"load path {lift.name}", **_WAY)
        mark(ax, way[0], "o", color=RED, markersize=4, zorder=7)
        mark(ax, way[-1], "x", color=RED, markersize=5, zorder=7)
        labels.keep_line_clear(way)
    for members in setups:
        labels.keep_area_clear(display.length(members[0].machine.carrier_m))
        for mat in members[0].machine.mats_m:
            labels.keep_area_clear(display.length(mat))
    for members in setups:
        names = ", ".join(lift.name for lift in members)
        labels.add(display.length(members[0].machine.stand_m), names, colour=INK, weight="bold")
    for lift in lifts:
        labels.add(display.length(lift.way_m[-1]), lift.name, colour=RED)
    keep_edges_clear(shapes, labels)
    name_shapes(shapes, labels)
    way_key = ("load path, pick (dot) to set-down (cross)", _WAY)
    entries = [("tipping lines of a crane position", TIPPING), way_key]
    key(ax, entries + shape_key(shapes, ax, display), display)


def job_figure(job: Job, *, system: UnitSystem = "metric") -> Figure:
    """Every set-up and lift of the job on the site, at print size."""
    figure, ax = new_axes(170.0, 130.0)
    persons = any(fact.persons for fact in job.lifts)
    draw_job(job_lifts(job), site_shapes(job.site, job.rules, persons=persons), ax, system=system)
    return figure
