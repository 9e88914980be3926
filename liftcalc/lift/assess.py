"""One lift assessed as a whole; the one place that states the order of checks.

Order: what the site allows (survey), the base (leg layout), the lift along its path (capacity,
stability, height, wind, level, rigging, clearances), then legs, mats and ground.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Self

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check, Verdict, verdict
from liftcalc.crane.sectors import CapacityBySlew
from liftcalc.facts.job import Job
from liftcalc.lift import ground_study
from liftcalc.lift.above_ground import load_above_ground
from liftcalc.lift.capacity_checks import no_load_checks, path_checks
from liftcalc.lift.chart_forces import chart_force_checks
from liftcalc.lift.chart_statics import require_plausible_charts
from liftcalc.lift.edge_slip import EdgeSlip, edge_slip_checks, edge_slips
from liftcalc.lift.ground_study import GroundStudy, all_ground_checks, study_ground
from liftcalc.lift.leg_forces import LegForces, leg_forces
from liftcalc.lift.leg_setting import ShortSetting, short_settings
from liftcalc.lift.leg_springs import leg_supports
from liftcalc.lift.path import LoadPath, load_path
from liftcalc.lift.path_study import PathStudy, capacity_circle, study_path
from liftcalc.lift.placing import Placing, base_checks, mat_checks, placing
from liftcalc.lift.refine import refined_study
from liftcalc.lift.rigging_checks import rigging_checks
from liftcalc.lift.rigging_study import RiggingStudy, rigging_study
from liftcalc.lift.setup import Setup, build_setup
from liftcalc.lift.surroundings import Surroundings, surroundings
from liftcalc.lift.survey_checks import survey_checks
from liftcalc.reactions.contact import Supports

_LIFT_ROWS: tuple[str, ...] = (
    "capacity", "chart-", "stability", "level",
    "hook-block", "head-room", "hoist-rope", "radius", "boom-bending",
    "rigging", "rating", "sling", "eye", "shackle", "load-tilt", "points",
    "wind", "slew-side-pull",
    "clearance", "pinch", "load-above", "load-carried", "tail-above", "boom-above", "zone", "line", "persons",
)  # fmt: skip
"""Rows of the lift check in the order in which a checker reads them, by the start of their ids:
load and capacity, stability, boom and hook, rigging, wind, clearances, lines, persons."""


def _place_in_table(check: Check) -> int:
    """Where a row of the lift check stands; one without a place stands last."""
    found = (n for n, start in enumerate(_LIFT_ROWS) if check.id.startswith(start))
    return next(found, len(_LIFT_ROWS))


def circle_radii_m(path: LoadPath) -> FloatArray:
    """Radii at which the slew circle is studied: least, pick, set-down and greatest radius."""
    r = path.radius_m
    return np.unique([r.min(), r[0], r[-1], r.max()])


@dataclass(frozen=True, eq=False)
class LiftAssessment:
    """All studies and check rows of one lift; each study is made when first asked for.

    A study of facts that do not fit raises :class:`~liftcalc.base.errors.InputError` when it is
    asked for, so that a sheet which does not need it can still be made.
    """

    job: Job
    """The job with only what this lift needs."""
    setup: Setup
    path: LoadPath

    def given(self, **studies: Any) -> Self:
        """The same with studies that are known already; None stands for one that is not."""
        self.__dict__.update({name: one for name, one in studies.items() if one is not None})
        return self

    @cached_property
    def place(self) -> Placing:
        """Mats, levels and ground zones under the legs."""
        return placing(self.setup)

    @cached_property
    def study(self) -> PathStudy:
        """Capacity, stability and heights along the path."""
        return study_path(self.setup, self.path)

    @cached_property
    def settings(self) -> tuple[ShortSetting, ...]:
        """Capacity as planned, and with outriggers set short of the plan."""
        return short_settings(self.setup, self.path)

    @cached_property
    def circle(self) -> CapacityBySlew:
        """Capacity round the slew circle at the radii of :func:`circle_radii_m`."""
        return capacity_circle(self.setup, circle_radii_m(self.path))

    @cached_property
    def rigging(self) -> RiggingStudy:
        """Rigging geometry, tensions and weakest item."""
        return rigging_study(self.setup)

    @cached_property
    def surroundings(self) -> Surroundings:
        """Clearances along the path."""
        return surroundings(self.setup, self.path)

    @cached_property
    def along(self) -> tuple[Check, ...]:
        """Rows of machine and load along the path, without its surroundings."""
        return tuple(path_checks(self.setup, self.study))

    @cached_property
    def above(self) -> tuple[Check, ...]:
        """Rows of what moves above the surveyed ground."""
        return tuple(load_above_ground(self.setup, self.path, self.study.boom))

    @cached_property
    def supports(self) -> dict[str, Supports]:
        """Models of carrier and ground for the leg reactions."""
        return leg_supports(self.setup)

    @cached_property
    def forces(self) -> LegForces:
        """Leg reactions on the path, round the circle and without load."""
        return leg_forces(self.setup, self.path, self.supports)

    @cached_property
    def ground(self) -> GroundStudy | None:
        """Mats and ground; None where the machine tips: then the ground does not matter."""
        return study_ground(self.setup, self.place, self.forces)

    @cached_property
    def settled(self) -> Check | None:
        """The row of rated capacity after settlement, where the machine comes to rest."""
        if self.ground is None or self.ground.levelled is None:
            return None
        levelled, planned = self.ground.levelled, self.study.capacity
        return ground_study.settled_capacity_check(self.setup, levelled, self.path, planned)

    @cached_property
    def survey(self) -> tuple[Check, ...]:
        """Rows of the site survey sheet."""
        return tuple(survey_checks(self.setup, self.place))

    @cached_property
    def layout(self) -> tuple[Check, ...]:
        """Rows of the leg layout sheet."""
        rows = base_checks(self.setup, self.study) + no_load_checks(self.setup, self.study)
        return (*rows, *mat_checks(self.setup, self.place))

    @cached_property
    def lift(self) -> tuple[Check, ...]:
        """Rows of the lift check sheet."""
        rows = [*self.along, *rigging_checks(self.setup, self.rigging)]
        rows += chart_force_checks(self.setup, self.study)
        return tuple(sorted([*rows, *self.above, *self.surroundings.checks], key=_place_in_table))

    @cached_property
    def slips(self) -> tuple[EdgeSlip, ...]:
        """Mats beside an unsupported edge, each with its least safe circle."""
        return () if self.ground is None else tuple(edge_slips(self.setup, self.place, self.ground))

    @cached_property
    def bearing_rows(self) -> tuple[Check, ...]:
        """Rows of the ground pressure sheet without the edges."""
        mats, settled = self.job.mats, self.settled
        return tuple(all_ground_checks(self.setup, self.forces, self.ground, mats, settled))

    @cached_property
    def slip_rows(self) -> tuple[Check, ...]:
        """Rows of the ground pressure sheet for unsupported edges."""
        return tuple(edge_slip_checks(self.setup, list(self.slips)))

    @property
    def ground_rows(self) -> tuple[Check, ...]:
        """Rows of the ground pressure sheet."""
        return (*self.bearing_rows, *self.slip_rows)

    @property
    def checks(self) -> tuple[Check, ...]:
        """Every check row in the order of the sheets."""
        return (*self.survey, *self.layout, *self.lift, *self.ground_rows)

    @property
    def verdict(self) -> Verdict:
        return verdict(self.checks)


def assess_lift(job: Job, lift_id: str, *, steps: int | None = None) -> LiftAssessment:
    """Assess one lift of a job.

    Parameters:
      job: Job
      lift_id: str
      steps: optional. About how many steps the path is sampled at; by default every degree and 0.25
        m, and finer until the worst values no longer move (:mod:`liftcalc.lift.refine`).
    Raises: Facts that do not fit together (each named); others when a study is asked for.
    """
    own = job.for_lift(lift_id)
    require_plausible_charts(own)
    setup = build_setup(own, lift_id)
    if steps is not None:
        return LiftAssessment(own, setup, load_path(setup.lift, steps=steps))
    path, study = refined_study(setup)
    return LiftAssessment(own, setup, path).given(study=study)
