"""One lift assessed as a whole; the one place where the order of checks is told.

Contents: :class:`LiftAssessment`, :func:`assess_lift`, :func:`survey_assessment`.

Order: what the site allows (survey), the base (leg layout), the lift along its path (capacity,
stability, height, wind, level, rigging, clearances), then legs, mats and ground.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from liftcalc.capacity import CapacityBySlew
from liftcalc.checks import Check, Verdict, verdict
from liftcalc.facts.job import Job
from liftcalc.lift.capacity_checks import PathStudy, capacity_circle, path_checks, study_path
from liftcalc.lift.ground_study import GroundStudy, ground_checks, ground_study
from liftcalc.lift.leg_forces import LegForces, leg_checks, leg_forces
from liftcalc.lift.path import LoadPath, load_path
from liftcalc.lift.placing import Placing, layout_checks, placing, survey_checks
from liftcalc.lift.rigging_checks import RiggingStudy, rigging_checks, rigging_study
from liftcalc.lift.setup import Setup, build_setup
from liftcalc.lift.surroundings import Surroundings, surroundings

__all__ = ["LiftAssessment", "assess_lift", "circle_radii_m"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class LiftAssessment:
    """All studies and check rows of one lift."""

    setup: Setup
    path: LoadPath
    place: Placing
    study: PathStudy
    circle: CapacityBySlew
    """Capacity round the slew circle at the radii of :func:`circle_radii_m`."""
    surroundings: Surroundings
    rigging: RiggingStudy
    forces: LegForces
    ground: GroundStudy | None
    """None where the machine tips on its path: then the ground does not matter any more."""
    survey: tuple[Check, ...]
    layout: tuple[Check, ...]
    lift: tuple[Check, ...]
    ground_rows: tuple[Check, ...]

    @property
    def checks(self) -> tuple[Check, ...]:
        """Every check row in the order told."""
        return (*self.survey, *self.layout, *self.lift, *self.ground_rows)

    @property
    def verdict(self) -> Verdict:
        """Verdict over every check."""
        return verdict(self.checks)


def circle_radii_m(path: LoadPath) -> FloatArray:
    """Radii at which the slew circle is studied: least, pick, set-down and greatest radius."""
    r = path.radius_m
    return np.unique([r.min(), r[0], r[-1], r.max()])


def assess_lift(job: Job, lift_id: str, *, steps: int | None = None) -> LiftAssessment:
    """Assess one lift of a job.

    Parameters
    ----------
    job : Job
    lift_id : str
    steps : int, optional
        About how many steps the path is sampled at; by default every degree and 0.25 m.

    Raises
    ------
    InputError
        Facts that do not fit together, or that cannot be judged (each named).
    """
    own = job.for_lift(lift_id)
    setup = build_setup(own, lift_id)
    path = load_path(setup.lift, steps=steps)
    place = placing(setup)
    study = study_path(setup, path)
    circle = capacity_circle(setup, circle_radii_m(path))
    rigging = rigging_study(setup, own)
    around = surroundings(setup, path, head_height_m=study.boom.head_z_m)
    forces = leg_forces(setup, path)
    ground = None
    rows = leg_checks(setup, forces)
    if np.all(np.isfinite(forces.design_kN)):
        ground = ground_study(setup, place, forces)
        rows += ground_checks(setup, ground)
    return LiftAssessment(
        setup=setup,
        path=path,
        place=place,
        study=study,
        circle=circle,
        surroundings=around,
        rigging=rigging,
        forces=forces,
        ground=ground,
        survey=tuple(survey_checks(setup, place)),
        layout=tuple(layout_checks(setup, place, study, circle)),
        lift=tuple(
            path_checks(setup, study) + rigging_checks(setup, rigging) + list(around.checks)
        ),
        ground_rows=tuple(rows),
    )
