"""Wind in the calculation: gust, pressure and forces, permissible wind, and the rope off plumb.

Source: those of :mod:`liftcalc.lift.wind_checks`.
"""

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.dynamics.hoisting import slewing_effect
from liftcalc.lift import wind_checks
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import CIRCLE, GRAVITY, Calculation
from liftcalc.lift.calculation_place import LIFT_LIST, at_step, boom_rows, level_row
from liftcalc.lift.persons import PERSONS_GUST_M_S
from liftcalc.lift.setup import Setup
from liftcalc.lift.wind_checks import SIDE_PULL_LIMIT_DEG, SIDE_PULL_SOURCE, WindTerms, wind_terms


def gust_rows(c: Calculation, setup: Setup, head_z_m: float) -> None:
    """3 s gust at the boom head, whose height h_h is in reach."""
    speed = setup.lift.wind_m_s
    if setup.lift.wind_basis == "at boom head":
        c.facts(LIFT_LIST, v=speed)
        return
    c.facts(v_m=speed)
    c.steps("v", v=float(wind_checks.gust_at_head_m_s(setup, head_z_m)))


def _load_rows(c: Calculation, setup: Setup) -> None:
    load = setup.lift.load
    c.facts(A=load.sail_area_m2, C_d=load.drag_coefficient)


def _load_force_row(c: Calculation, setup: Setup, force_kN: float) -> None:
    _load_rows(c, setup)
    c.steps("F_l", F_l=force_kN)


def force_rows(c: Calculation, setup: Setup, terms: WindTerms) -> None:
    """Wind on boom, superstructure and load at one step, and where it acts."""
    machine, upper = setup.machine, setup.machine.superstructure
    c.steps("q_v")
    c.facts(A_B=setup.boom.sail_area_m2, C_B=machine.boom.drag_coefficient)
    on_boom, height = float(terms.boom_force_kN[0]), float(terms.boom_z_m[0])
    if setup.lift.wind_basis == "at boom head":
        c.work("F_b", "q_v * A_B * C_B", value=on_boom)
        c.work("z_w", "z_f + L * sin(alpha) / 2", "middle of a strip", value=height)
    else:
        _profile_rows(c, terms)
    c.facts(z_m=terms.superstructure_z_m, A_u=upper.sail_area_m2, C_w=wind_checks.SUPERSTRUCTURE_DRAG)
    pressure = "q_v"
    if setup.lift.wind_basis != "at boom head":
        pressure = "q_u"
        c.steps("q_u_wind")
    c.work("F_u", f"{pressure} * A_u * C_w", value=float(terms.superstructure_force_kN[0]))
    _load_force_row(c, setup, float(terms.load_force_kN[0]))


def _profile_rows(c: Calculation, terms: WindTerms) -> None:
    """Wind on the boom where it grows with height: integrals of the squared gust factor."""
    head, foot = c.value("h_h") or 0.0, c.value("z_f") or 0.0
    if head <= 10.0 or head - foot < 0.5:
        c.steps("K_1 K_2")
    else:
        c.steps("K_1_profile K_2_profile")
    c.work("F_b", value=float(terms.boom_force_kN[0]), tolerance=1e-3)
    c.work("z_w", value=float(terms.boom_z_m[0]), tolerance=1e-3)


def wind_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Planned gust at the boom head against what the load's sail allows."""
    _highest_rows(c, a)
    setup, machine = a.setup, a.setup.machine
    c.facts(m=setup.lift.load.mass_t)
    _load_rows(c, setup)
    c.facts(a_r=machine.standard_sail_area_m2_t, C_r0=machine.standard_drag_coefficient)
    c.facts(v_c=setup.wind_limit_m_s)
    terms = ["v_c * sqrt(a_r * C_r0 * m / (A * C_d))", "v_c"]
    if setup.lift.persons:
        c.facts(v_20=PERSONS_GUST_M_S)
        terms.append("v_20")
    c.work("v_p", f"min({', '.join(terms)})", value=wind_checks.permissible_gust_m_s(setup))
    c.reaches(check, "v", "v_p")


def _highest_rows(c: Calculation, a: LiftAssessment) -> None:
    """Gust at the boom head where it stands highest on the path."""
    setup, boom = a.setup, a.study.boom
    if setup.lift.wind_basis != "at boom head":
        at_step(c, setup, a.path, int(np.argmax(boom.head_z_m)))
        boom_rows(c, setup)
    gust_rows(c, setup, float(boom.head_z_m.max()))


def persons_wind_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Planned gust at the boom head against that for lifting persons."""
    _highest_rows(c, a)
    c.ends(check, "v", "v_20", known=PERSONS_GUST_M_S)


def side_pull_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Angle of the hoist rope by wind on the load."""
    setup, path, boom = a.setup, a.path, a.study.boom
    terms = wind_terms(setup, boom)
    angle = wind_checks.wind_angle_deg(setup, terms.load_force_kN)
    step = int(np.argmax(angle))
    at_step(c, setup, path, step)
    boom_rows(c, setup)
    gust_rows(c, setup, float(boom.head_z_m[step]))
    c.steps("q_v")
    _load_force_row(c, setup, float(terms.load_force_kN[step]))
    c.given(*GRAVITY)
    c.steps("gamma_w", gamma_w=float(angle[step]))
    c.ends(check, "gamma_w", "gamma_p_wind", SIDE_PULL_SOURCE, known=SIDE_PULL_LIMIT_DEG)


def slewing_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Angle of the hoist rope by slewing, started or stopped suddenly."""
    setup, path, boom = a.setup, a.path, a.study.boom
    angle = wind_checks.slewing_angle_deg(setup, path, boom)
    step, machine = int(np.argmax(angle)), setup.machine
    at_step(c, setup, path, step)
    boom_rows(c, setup)
    level_row(c, setup, path, step)
    rope = float(boom.head_z_m[step] - (path.level_m[step] - setup.lift.stand.level_m))
    moved = slewing_effect(setup.gross_t, float(path.radius_m[step]),
                           slew_speed_rev_min=machine.slew_speed_rpm, rope_length_m=rope,
                           acceleration_time_s=machine.slew_stop_time_s)  # fmt: skip
    c.given(*GRAVITY)
    c.given(*CIRCLE)
    c.facts(n_s_wind=machine.slew_speed_rpm, t_s=machine.slew_stop_time_s)
    c.steps("omega l_p gamma_t", l_p=rope, gamma_t=float(moved.peak_tangential_angle_deg))
    c.facts(gamma_0=float(moved.equilibrium_angle_deg))
    c.steps("gamma_c_wind", gamma_c_wind=float(moved.equilibrium_angle_deg))
    c.steps("gamma_s", gamma_s=float(angle[step]))
    c.ends(check, "gamma_s", "gamma_p_wind", SIDE_PULL_SOURCE, known=SIDE_PULL_LIMIT_DEG)
