"""The calculation of level and capacity after settlement: reactions, settlement, tilt, radius.

Reaction, settlement, tilt and radius are iterated to agreement (:mod:`liftcalc.ground.level`); the
reactions that agree are given, and what follows from them is calculated again.

Sources: least squares; plane geometry; :mod:`liftcalc.lift.calculation_chart`.
"""

import dataclasses

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_chart import capacity_rows, usable_rows
from liftcalc.lift.calculation_legs import place_rows, sum_of
from liftcalc.lift.calculation_mat import stiffness_rows
from liftcalc.lift.calculation_place import at_step, boom_rows
from liftcalc.lift.ground_level import radius_growth_m
from liftcalc.lift.ground_study import GroundStudy
from liftcalc.lift.path_study import capacity_at, study_path
from liftcalc.lift.persons import PERSONS_CAPACITY_SHARE

_FOUND = "found by iteration: reaction, settlement, tilt and radius agree"


def effective_area_rows(c: Calculation, study: GroundStudy) -> None:
    """Effective sizes of all mats, where no section before calculated them."""
    for g in study.legs:
        sides = {"L": g.effective_length_m, "B": g.effective_width_m}
        new = {f"{k}_of": v for k, v in sides.items() if c.value(f"{k}_{g.name}") is None}
        c.facts("table of mats and ground", of=g.name, **new)


def _plane_rows(c: Calculation, a: LiftAssessment, study: GroundStudy, step: int) -> None:
    """Settlements, their plane, and the tilt of the crane in both directions."""
    state = study.levelled
    assert state is not None
    place_rows(c, a)
    effective_area_rows(c, study)
    for k, g in enumerate(study.legs):
        stiffness_rows(c, a, g)
        c.facts(_FOUND, R_of=state.reaction_kN[step, k], of=g.name, detail="at this step")
        c.steps("d_of", d_of=state.settlement_m[step, k], of=g.name, detail="at this step")
    names = [n for n, up in zip(LEG_NAMES, state.reaction_kN[step] > 0, strict=True) if up]
    for letter in "xyd":
        c.work(f"{letter}_M", f"({sum_of(f'{letter}_#', names)}) / {len(names)}")
    for one, other in ("xx", "yy", "xy", "xd", "yd"):
        product = f"({one}_# - {one}_M) * ({other}_# - {other}_M)"
        if one == other:
            product = f"({one}_# - {one}_M)**2"
        c.work(f"J_{one}{other}_level", sum_of(product, names))
    stand = a.setup.lift.stand
    c.steps("D_J")
    c.facts(t_x0=stand.tilt_x_percent)
    c.steps("t_x_fall")
    c.facts(t_y0=stand.tilt_y_percent)
    c.steps("t_y_fall")


def tilt_section(c: Calculation, a: LiftAssessment, study: GroundStudy, check: Check) -> None:
    """Slope of the crane where it is greatest, against what is permitted."""
    state = study.levelled
    if state is None:
        return
    step = int(np.argmax(state.level.slope_percent))
    c.note("Step", a.path.describe(step), "", "where the crane is most out of level")
    _plane_rows(c, a, study, step)
    c.steps("t_G", t_G=float(state.level.slope_percent[step]))
    c.ends(check, "t_G", "t_a", known=a.setup.permitted_tilt_percent)


def settled_section(c: Calculation, a: LiftAssessment, study: GroundStudy, check: Check) -> None:
    """Settlement, tilt, radius, chart row at that radius, and the gross load against it."""
    state, setup, path = study.levelled, a.setup, a.path
    assert state is not None
    growth = radius_growth_m(setup, state, path)
    radius = path.radius_m + growth
    settled = capacity_at(setup, path.slew_deg, radius)
    least = np.flatnonzero(settled.capacity_t <= settled.capacity_t.min())
    step = int(least[np.argmax(radius[least])])
    c.note("Step", path.describe(step), "", "the step with the minimum capacity after settlement")
    at_step(c, setup, path, step)
    boom_rows(c, setup)
    _plane_rows(c, a, study, step)
    c.steps("tau_0 tau")
    c.steps("r_0 r_d_level D_r", r_d_level=float(state.radius_m[step]), D_r=float(growth[step]))
    c.facts(r_P=float(path.radius_m[step]))
    c.steps("r", r=float(radius[step]), detail="settled")
    capacity_rows(c, setup, study_path(setup, dataclasses.replace(path, radius_m=radius)), step)
    share = setup.rules.utilisation_limit_percent
    usable_rows(c, check, min(share, 100 * PERSONS_CAPACITY_SHARE) if setup.lift.persons else share)
