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
from liftcalc.lift.calculation_legs import place_rows
from liftcalc.lift.calculation_mat import stiffness_rows
from liftcalc.lift.calculation_place import LIFT_LIST, at_step, boom_rows
from liftcalc.lift.calculation_state import sum_of
from liftcalc.lift.ground_level import radius_growth_m
from liftcalc.lift.ground_study import GroundStudy
from liftcalc.lift.path_study import capacity_at, study_path
from liftcalc.lift.persons import PERSONS_CAPACITY_SHARE

_FOUND = "found by iteration: reaction, settlement, tilt and radius agree"
_SQUARES = "best-fit plane through the outriggers that stand"


def effective_area_rows(c: Calculation, study: GroundStudy) -> None:
    """Effective sizes of all mats, where no section before calculated them."""
    table = "table of mats and ground"
    for g in study.legs:
        sides = ("L", "length", g.effective_length_m), ("B", "width", g.effective_width_m)
        for letter, what, value in sides:
            name = f"{letter}_{g.name}"
            if c.value(name) is None:
                c.given(name, f"effective {what} of the mat under {g.name}", value, "m", table)


def _plane_rows(c: Calculation, a: LiftAssessment, study: GroundStudy, step: int) -> None:
    """Settlements, their plane, and the tilt of the crane in both directions."""
    state = study.levelled
    assert state is not None
    place_rows(c, a)
    effective_area_rows(c, study)
    for k, g in enumerate(study.legs):
        stiffness_rows(c, a, g)
        c.given(f"R_{g.name}", f"reaction of outrigger {g.name}", state.reaction_kN[step, k], "kN",
                _FOUND, detail="at this step")  # fmt: skip
        c.step(f"d_{g.name}", f"settlement of outrigger {g.name}", f"R_{g.name} / K_{g.name}", "m",
               "ground stiffness", value=state.settlement_m[step, k], digits=6,
               detail="at this step")  # fmt: skip
    names = [n for n, up in zip(LEG_NAMES, state.reaction_kN[step] > 0, strict=True) if up]
    count = len(names)
    for letter, what in (("x", "x"), ("y", "y"), ("d", "settlement")):
        mean = f"({sum_of(f'{letter}_#', names)}) / {count}"
        c.step(f"{letter}_M", f"mean {what} of the outriggers that stand", mean, "m", _SQUARES,
               digits=6)  # fmt: skip
    for pair in ("xx", "yy", "xy", "xd", "yd"):
        one, other = pair
        product = f"({one}_# - {one}_M) * ({other}_# - {other}_M)"
        if one == other:
            product = f"({one}_# - {one}_M)**2"
        meaning = f"sum of products {one} {other}"
        c.step(f"J_{pair}", meaning, sum_of(product, names), "m²", _SQUARES, digits=6)
    c.step("D_J", "determinant of the sums", "J_xx * J_yy - J_xy**2", "m⁴", _SQUARES, digits=5)
    stand = a.setup.lift.stand
    for axis, what, expression, stated in (
        ("x", "forward", "(J_yy * J_xd - J_xy * J_yd) / D_J", stand.tilt_x_percent),
        ("y", "to the left", "(J_xx * J_yd - J_xy * J_xd) / D_J", stand.tilt_y_percent),
    ):
        c.given(f"t_{axis}0", f"fall {what} as set up", stated, "%", LIFT_LIST)
        c.step(f"t_{axis}", f"fall {what} with settlement", f"t_{axis}0 + 100 * {expression}", "%",
               _SQUARES, digits=5)  # fmt: skip


def tilt_section(c: Calculation, a: LiftAssessment, study: GroundStudy, check: Check) -> None:
    """Slope of the crane where it is greatest, against what is permitted."""
    state = study.levelled
    if state is None:
        return
    step = int(np.argmax(state.level.slope_percent))
    c.note("Step", a.path.describe(step), "", "where the crane is most out of level")
    _plane_rows(c, a, study, step)
    slope = float(state.level.slope_percent[step])
    c.step("t_G", "out of level, steepest", "sqrt(t_x**2 + t_y**2)", "%", "plane geometry",
           value=slope, digits=4)  # fmt: skip
    permitted = a.setup.permitted_tilt_percent
    c.given("t_a", "permitted out of level", permitted, "%", "machine data and lift list, 1 % most")
    c.reaches(check, "t_G", "t_a")


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
    toward = ("tau_0", "tilt toward the load as set up"), ("tau", "tilt toward the load, settled")
    c.step(*toward[0], "atan((t_x0 * cos(s) + t_y0 * sin(s)) / 100)", "°", "plane geometry",
           digits=5)  # fmt: skip
    c.step(*toward[1], "atan((t_x * cos(s) + t_y * sin(s)) / 100)", "°", "plane geometry", digits=5)
    turn = "rotation about the slew centre on the ground"
    c.step("r_0", "radius as set up", "r * cos(tau_0) + h_h * sin(tau_0)", "m", turn, digits=4)
    c.step("r_d", "radius with the settlement", "r * cos(tau) + h_h * sin(tau)", "m", turn,
           value=float(state.radius_m[step]), digits=4)  # fmt: skip
    c.step("D_r", "growth of the radius", "max(r_d - r_0, 0)", "m", "settlement alone",
           value=float(growth[step]), digits=4)  # fmt: skip
    planned = float(path.radius_m[step])
    c.given("r_P", "planned radius", planned, "m", "radius under load on the crane as set up")
    c.step("r", "radius at this step", "r_P + D_r", "m", "load path", value=float(radius[step]),
           detail="settled")  # fmt: skip
    capacity_rows(c, setup, study_path(setup, dataclasses.replace(path, radius_m=radius)), step)
    share = setup.rules.utilisation_limit_percent
    usable_rows(c, check, min(share, 100 * PERSONS_CAPACITY_SHARE) if setup.lift.persons else share)
