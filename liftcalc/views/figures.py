"""Drawings of an assessed lift at print size, as the sheets show them.

Each function takes the assessment and returns a matplotlib Figure. No formula and no published
source.
"""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from liftcalc.base.units import UnitSystem
from liftcalc.facts.job import Job
from liftcalc.lift import LiftAssessment
from liftcalc.lift.path import load_path
from liftcalc.lift.placing import placing
from liftcalc.lift.setup import build_setup, to_site_m
from liftcalc.lift.stand_study import StandStudy
from liftcalc.views import adapters, adapters_elevation, adapters_rigging
from liftcalc.views.capacity import draw_capacity_circle
from liftcalc.views.elevation import draw_elevation
from liftcalc.views.forces import draw_leg_forces
from liftcalc.views.job import JobLift, draw_job
from liftcalc.views.locus import draw_locus
from liftcalc.views.placement import draw_margin_map
from liftcalc.views.plan import draw_plan
from liftcalc.views.rigging import RiggingView, draw_rigging
from liftcalc.views.style import new_axes
from liftcalc.views.utilisation import draw_utilisation

__all__ = [
    "capacity_figure",
    "elevation_figure",
    "forces_figure",
    "job_figure",
    "locus_figure",
    "margin_figure",
    "plan_figure",
    "rigging_figure",
    "utilisation_figure",
]


def plan_figure(lift: LiftAssessment, *, title: str = "", system: UnitSystem = "metric") -> Figure:
    """Plan of site, machine and path."""
    figure, ax = new_axes(170.0, 150.0)
    draw_plan(adapters.plan_data(lift, title=title), ax, system=system)
    return figure


def elevation_figure(lift: LiftAssessment, *, system: UnitSystem = "metric") -> Figure:
    """Elevation in the plane of the boom at the governing step."""
    figure, ax = new_axes(170.0, 150.0)
    draw_elevation(adapters_elevation.elevation_data(lift), ax, system=system)
    return figure


def capacity_figure(lift: LiftAssessment, *, system: UnitSystem = "metric") -> Figure:
    """Capacity round the slew circle at the greatest radius of the path."""
    figure, ax = new_axes(142.0, 140.0, margins_mm=(5.0, 12.0, 5.0, 8.0))
    data = adapters.capacity_data(
        lift.setup, lift.circle, radius_index=len(lift.circle.radius_m) - 1, path=lift.path
    )
    draw_capacity_circle(data, ax, system=system)
    return figure


def locus_figure(lift: LiftAssessment, *, system: UnitSystem = "metric") -> Figure:
    """Way of the resultant of all weights on the base."""
    figure, ax = new_axes(150.0, 130.0)
    draw_locus(adapters.locus_data(lift), ax, system=system)
    return figure


def forces_figure(lift: LiftAssessment, *, system: UnitSystem = "metric") -> Figure:
    """Leg force by slew at the greatest radius of the path."""
    figure, ax = new_axes(170.0, 90.0)
    draw_leg_forces(adapters.force_data(lift), ax, system=system)
    return figure


def utilisation_figure(lift: LiftAssessment, *, system: UnitSystem = "metric") -> Figure:
    """Share of each limit used along the path."""
    figure, ax = new_axes(170.0, 90.0)
    draw_utilisation(adapters.utilisation_data(lift), ax, system=system)
    return figure


def margin_figure(study: StandStudy, *, system: UnitSystem = "metric") -> Figure:
    """Margin over the site with the best places numbered."""
    figure, ax = new_axes(170.0, 110.0)
    draw_margin_map(ax, study.margin, places=study.result.places[:5], units=system)
    return figure


def rigging_figure(
    lift: LiftAssessment, *, view: RiggingView = "side", system: UnitSystem = "metric"
) -> Figure:
    """The rigging to scale in one view, with tensions, angles and the weakest item."""
    figure, ax = new_axes(150.0, 120.0)
    draw_rigging(adapters_rigging.rigging_data(lift), ax, view=view, system=system)
    return figure


def job_figure(job: Job, *, system: UnitSystem = "metric") -> Figure:
    """Every set-up and lift of the job on the site."""
    lifts = []
    for fact in job.lifts:
        setup = build_setup(job, fact.id)
        path = load_path(fact)
        slew = np.radians(path.slew_deg)
        way = path.radius_m[:, None] * np.stack([np.cos(slew), np.sin(slew)], axis=-1)
        lifts.append(
            JobLift(
                name=fact.id,
                machine=adapters.machine_drawing(setup, mats=placing(setup).mats),
                stand_m=(fact.stand.easting_m, fact.stand.northing_m),
                heading_deg=fact.stand.heading_deg,
                way_m=to_site_m(way, fact),
            )
        )
    figure, ax = new_axes(170.0, 130.0)
    persons = any(fact.persons for fact in job.lifts)
    shapes = adapters.site_shapes(job.site, job.rules, persons=persons)
    draw_job(lifts, shapes, ax, system=system)
    return figure
