"""Wind in the calculation: gust, pressure and forces, permissible wind, and the rope off plumb.

Source: those of :mod:`liftcalc.lift.wind_checks`.
"""

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.dynamics.swing import slewing_effect
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import CIRCLE, GRAVITY, Calculation
from liftcalc.lift.calculation_place import LIFT_LIST, MACHINE, at_step, boom_rows, level_row
from liftcalc.lift.persons import PERSONS_GUST_M_S
from liftcalc.lift.setup import Setup
from liftcalc.lift.wind_checks import (
    SIDE_PULL_LIMIT_DEG,
    SIDE_PULL_SOURCE,
    SUPERSTRUCTURE_DRAG,
    WindTerms,
    gust_at_head_m_s,
    permissible_gust_m_s,
    slewing_angle_deg,
    wind_angle_deg,
    wind_terms,
)

_PRESSURE = "q = ρ v² / 2, ρ = 1.25 kg/m³ (EN 13001-2, second-hand)"
_FORCE = "F = q A C (ISO 4302, from memory)"
_PROFILE = "EN 13001-2 / EN 13000 / FEM 5.016 (from memory); below 10 m as at 10 m"


def gust_rows(c: Calculation, setup: Setup, head_z_m: float) -> None:
    """3 s gust at the boom head, whose height h_h is in reach."""
    speed = setup.lift.wind_m_s
    meaning = "gust at the boom head, 3 s"
    if setup.lift.wind_basis == "at boom head":
        c.given("v", meaning, speed, "m/s", LIFT_LIST)
        return
    c.given("v_m", "planned wind, 10 minute mean at 10 m", speed, "m/s", LIFT_LIST)
    c.step("v", meaning, "v_m * ((max(h_h, 10) / 10)**0.14 + 0.4)", "m/s", _PROFILE,
           value=float(gust_at_head_m_s(setup, head_z_m)))  # fmt: skip


def _head_pressure_row(c: Calculation) -> None:
    c.step("q_v", "wind pressure at the boom head", "v**2 / 1600", "kPa.4", _PRESSURE)


def _load_rows(c: Calculation, setup: Setup) -> None:
    load = setup.lift.load
    c.given("A", "sail area of the load", load.sail_area_m2, "m²", LIFT_LIST)
    c.given("C_d", "drag coefficient of the load", load.drag_coefficient, "", LIFT_LIST)


def _load_force_row(c: Calculation, setup: Setup, force_kN: float) -> None:
    _load_rows(c, setup)
    c.step("F_l", "wind on the load, with the gust at the boom head", "q_v * A * C_d", "kN",
           _FORCE, value=force_kN)  # fmt: skip


def force_rows(c: Calculation, setup: Setup, terms: WindTerms) -> None:
    """Wind on boom, superstructure and load at one step, and where it acts."""
    machine, upper = setup.machine, setup.machine.superstructure
    _head_pressure_row(c)
    c.given("A_B", "sail area of the boom", setup.boom.sail_area_m2, "m²", MACHINE)
    c.given("C_B", "drag coefficient of the boom", machine.boom.drag_coefficient, "", MACHINE)
    on_boom, height = float(terms.boom_force_kN[0]), float(terms.boom_z_m[0])
    force, acts = "wind on the boom, square to it", "height at which the wind on the boom acts"
    middle = "mid-height of the superstructure"
    if setup.lift.wind_basis == "at boom head":
        c.step("F_b", force, "q_v * A_B * C_B", "kN", _FORCE, value=on_boom)
        c.step("z_w", acts, "z_f + L * sin(alpha) / 2", "m", "middle of a strip", value=height)
    else:
        _profile_rows(c, terms)
    c.given("z_m", middle, terms.superstructure_z_m, "m", MACHINE)
    c.given("A_u", "sail area of the superstructure", upper.sail_area_m2, "m²", MACHINE)
    c.given("C_w", "drag coefficient of the superstructure", SUPERSTRUCTURE_DRAG, "",
            "own value, of a box; no published source")  # fmt: skip
    pressure = "q_v"
    if setup.lift.wind_basis != "at boom head":
        pressure = "q_u"
        c.step("q_u", "wind pressure at the superstructure",
               "(v_m * ((max(z_m, 10) / 10)**0.14 + 0.4))**2 / 1600", "kPa.4",
               _PRESSURE)  # fmt: skip
    c.step("F_u", "wind on the superstructure", f"{pressure} * A_u * C_w", "kN", _FORCE,
           value=float(terms.superstructure_force_kN[0]))  # fmt: skip
    _load_force_row(c, setup, float(terms.load_force_kN[0]))


def _profile_rows(c: Calculation, terms: WindTerms) -> None:
    """Wind on the boom where it grows with height: integrals of the squared gust factor."""
    head, foot = c.value("h_h") or 0.0, c.value("z_f") or 0.0
    profile = f"{_PROFILE}; integral over the height of the boom"
    force, acts = "wind on the boom, square to it", "height at which the wind on the boom acts"
    first = "mean of the squared gust factor over the height of the boom"
    second = "the same, weighted by height"
    if head <= 10.0 or head - foot < 0.5:
        c.step("K_1", first, "((max(h_h, 10) / 10)**0.14 + 0.4)**2", "", profile)
        c.step("K_2", second, "K_1 * (h_h + z_f) / 2", "m", profile)
    else:

        def upto(z: str) -> str:
            return f"(({z} / 10)**1.28 / 1.28 + 0.8 * ({z} / 10)**1.14 / 1.14 + 0.16 * {z} / 10)"

        def weighted(z: str) -> str:
            return (
                f"(({z} / 10)**2.28 / 2.28 + 0.8 * ({z} / 10)**2.14 / 2.14 + 0.08 * ({z} / 10)**2)"
            )

        low = "max(z_f, 10)"
        c.step("K_1", first,
               f"(1.96 * ({low} - z_f) + 10 * ({upto('h_h')} - {upto(low)})) / (h_h - z_f)", "",
               profile)  # fmt: skip
        c.step("K_2", second,
               f"(0.98 * ({low}**2 - z_f**2) + 100 * ({weighted('h_h')} - {weighted(low)}))"
               " / (h_h - z_f)", "m", profile)  # fmt: skip
    c.step("F_b", force, "v_m**2 / 1600 * K_1 * A_B * C_B", "kN", _FORCE, tolerance=1e-3,
           value=float(terms.boom_force_kN[0]))  # fmt: skip
    c.step("z_w", acts, "K_2 / K_1", "m", "resultant of the strip", tolerance=1e-3,
           value=float(terms.boom_z_m[0]))  # fmt: skip


def wind_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Planned gust at the boom head against what the load's sail allows."""
    _highest_rows(c, a)
    setup, machine = a.setup, a.setup.machine
    c.given("m", "load mass", setup.lift.load.mass_t, "t", LIFT_LIST)
    _load_rows(c, setup)
    area = "sail area for each tonne assumed by the chart"
    c.given("a_r", area, machine.standard_sail_area_m2_t, "m²/t", MACHINE)
    c.given("C_r0", "drag coefficient assumed by the chart",
            machine.standard_drag_coefficient, "", MACHINE)  # fmt: skip
    c.given("v_c", "wind for which machine and charts are valid", setup.wind_limit_m_s, "m/s",
            "the minimum of machine data and charts, 3 s gust at the boom head")  # fmt: skip
    terms = ["v_c * sqrt(a_r * C_r0 * m / (A * C_d))", "v_c"]
    if setup.lift.persons:
        c.given("v_20", "wind above which no persons are lifted", PERSONS_GUST_M_S, "m/s",
                "29 CFR 1926.1431(k)(8): 20 mph")  # fmt: skip
        terms.append("v_20")
    c.step("v_p", "permissible wind for this load, 3 s gust at the boom head",
           f"min({', '.join(terms)})", "m/s", "EN 13000 practice (from memory)",
           value=permissible_gust_m_s(setup))  # fmt: skip
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
    c.given("v_20", "wind above which no persons are lifted", PERSONS_GUST_M_S, "m/s",
            "29 CFR 1926.1431(k)(8): 20 mph")  # fmt: skip
    c.reaches(check, "v", "v_20")


def _limit_angle_row(c: Calculation) -> None:
    c.given("gamma_p", "permitted angle of the hoist rope off plumb", SIDE_PULL_LIMIT_DEG, "°",
            SIDE_PULL_SOURCE)  # fmt: skip


def side_pull_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Angle of the hoist rope by wind on the load."""
    setup, path, boom = a.setup, a.path, a.study.boom
    terms = wind_terms(setup, boom)
    angle = wind_angle_deg(setup, terms.load_force_kN)
    step = int(np.argmax(angle))
    at_step(c, setup, path, step)
    boom_rows(c, setup)
    gust_rows(c, setup, float(boom.head_z_m[step]))
    _head_pressure_row(c)
    _load_force_row(c, setup, float(terms.load_force_kN[step]))
    c.given(*GRAVITY)
    c.step("gamma_w", "angle of the hoist rope by wind", "atan(F_l / (m * g))", "°",
           "statics; the mass of the load alone resists", value=float(angle[step]))  # fmt: skip
    _limit_angle_row(c)
    c.reaches(check, "gamma_w", "gamma_p")


def slewing_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Angle of the hoist rope by slewing, started or stopped suddenly."""
    setup, path, boom = a.setup, a.path, a.study.boom
    angle = slewing_angle_deg(setup, path, boom)
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
    c.given("n_s", "slewing speed", machine.slew_speed_rpm, "rev/min", MACHINE)
    c.given("t_s", "time in which slewing is stopped", machine.slew_stop_time_s, "s", MACHINE)
    c.step("omega", "angular speed of slewing", "n_s * pi / 30", "rad/s.5", "kinematics")
    c.step("l_p", "boom head to the load's underside", "h_h - (Z - Z_0)", "m", "plane geometry",
           value=rope)  # fmt: skip
    c.step("gamma_t", "angle by stopping, doubled for a sudden stop",
           "2 * atan(r * omega / (t_s * g))", "°", "pendulum",
           value=float(moved.peak_tangential_angle_deg))  # fmt: skip
    c.given("gamma_0", "angle outward while slewing, found by iteration",
            float(moved.equilibrium_angle_deg), "°.4", "conical pendulum")  # fmt: skip
    c.step("gamma_c", "angle outward while slewing",
           "atan(omega**2 * (r + l_p * sin(gamma_0)) / g)", "°",
           "conical pendulum; converged value",
           value=float(moved.equilibrium_angle_deg))  # fmt: skip
    c.step("gamma_s", "angle of the hoist rope by slewing", "sqrt(gamma_t**2 + gamma_c**2)",
           "°", "both at once", value=float(angle[step]))  # fmt: skip
    _limit_angle_row(c)
    c.reaches(check, "gamma_s", "gamma_p")
