"""Boom and hook in the calculation: deflected boom, clearance of the hook block, rope and radii.

Source: those of :mod:`liftcalc.crane.boom_bending` and :mod:`liftcalc.crane.hook_room`.
"""

import math

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.crane.boom_bending import SHAPE_MARGIN
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.boom_setting import bend_words, boom_bend, boom_settings
from liftcalc.lift.calculation import CIRCLE, GRAVITY, Calculation
from liftcalc.lift.calculation_place import LIFT_LIST, MACHINE, PLANE, at_step, boom_rows, level_row
from liftcalc.lift.path import LoadPath
from liftcalc.lift.setup import Setup, rope_off_drum_m

_BEAM = "beam tables and Euler load (from memory); estimate"
_BY_LOAD = ("delta_P", "deflection of a level boom by the gross load", "F_h * L**3 / (3 * B_s)",
            "m.4", _BEAM)  # fmt: skip


def hook_block_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    block = a.setup.hook_block
    c.given("R_b", "rated load of the hook block", block.capacity_t, "t", f"{MACHINE}, {block.id}")
    c.reaches(check, "Q", "R_b")


def _stiffness_rows(c: Calculation, setup: Setup) -> bool:
    """Rows of the beam that the boom is taken for; False where no stiffness is stated."""
    stiffness = setup.boom.bending_stiffness_kNm2
    if stiffness is None:
        return False
    boom_rows(c, setup)
    c.given(*GRAVITY)
    c.given(*CIRCLE)
    c.given("B_s", "bending stiffness of the boom", stiffness, "kNm².0", MACHINE)
    c.step("F_h", "weight of the gross load", "Q * g", "kN", "weight")
    c.step("W_B", "weight of the boom", "m_B * g", "kN", "weight")
    c.step("w_1", "growth of the boom's weight along it", "6 * W_B * (2 * x_B - L) / L**3",
           "kN/m².6", "linear spread with the stated centre of gravity")  # fmt: skip
    c.step("w_0", "weight of the boom per length at its foot", "W_B / L - w_1 * L / 2", "kN/m.5",
           "linear spread with the stated centre of gravity")  # fmt: skip
    c.step("delta_W", "deflection of a level boom by its weight",
           "(w_0 * L**4 / 8 + 11 * w_1 * L**5 / 120) / B_s", "m.4", _BEAM)  # fmt: skip
    c.step("N_E", "Euler load of the boom", "pi**2 * B_s / (4 * L**2)", "kN", "Euler")
    return True


def deflected_rows(c: Calculation, setup: Setup, path: LoadPath, step: int) -> None:
    """Height of the loaded boom head, bent by load and own weight, at the radius in reach."""
    bend, problem = boom_bend(setup, path.radius_m)  # of a path with one problem, all
    tip, chord = float(bend.tip_m[step]), float(bend.chord_m[step])
    if not problem and _stiffness_rows(c, setup):
        c.step(*_BY_LOAD)
        c.given("delta_0", "deflection of the boom head, found by iteration", tip / SHAPE_MARGIN,
                "m.5", _BEAM)  # fmt: skip
        c.step("alpha_a", "angle of the boom at its foot, deflected boom",
               "acos((r - u_f) / (L - 0.12 * delta_0**2 / L)) + atan(delta_0 / L)", "°",
               "the loaded hook hangs at the radius")  # fmt: skip
        c.step("N_a", "axial force of the deflected boom", "(F_h + W_B / 2) * sin(alpha_a)",
               "kN", _BEAM)  # fmt: skip
        c.step("delta_1", "deflection of the boom head, converged value",
               "(delta_P + delta_W) * cos(alpha_a) / (1 - N_a / N_E)", "m.5", _BEAM,
               value=tip / SHAPE_MARGIN, tolerance=1e-4)  # fmt: skip
        c.step("delta", "deflection of the boom head that is counted",
               f"{SHAPE_MARGIN:g} * delta_1", "m.4", "3 % for what the beam formulas leave out",
               value=tip)  # fmt: skip
    else:
        boom_rows(c, setup)
        c.given("delta", "deflection of the boom head that is counted", tip, "m.4",
                problem or bend_words(setup))  # fmt: skip
    c.step("L_c", "chord of the deflected boom", "L - 0.12 * delta**2 / L", "m",
           "beam shapes", value=chord)  # fmt: skip
    c.step("alpha_c", "angle of the chord of the deflected boom", "acos((r - u_f) / L_c)", "°",
           PLANE, value=float(bend.chord_deg[step]))  # fmt: skip
    c.step("h_d", "height of the boom head, deflected boom", "z_f + L_c * sin(alpha_c)", "m", PLANE)


def head_room_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Clearance of the hook block above the distance at which hoisting must stop."""
    setup, path, step = a.setup, a.path, int(np.argmin(a.study.head_room_m))
    boom, block = setup.machine.boom, setup.hook_block
    at_step(c, setup, path, step)
    deflected_rows(c, setup, path, step)
    level_row(c, setup, path, step)
    c.given("h_k", "hook above the load's lowest point", setup.hanging.hook_height_m, "m",
            "table of hook height and attitude")  # fmt: skip
    c.given("k_b", "distance kept by the hoist limit switch", boom.two_block_clearance_m, "m",
            MACHINE)  # fmt: skip
    c.given("k_h", "height of the hook block", block.height_m, "m", MACHINE)
    c.step("k", "clearance of the hook block above the anti-two-block distance",
           "h_d - k_b - k_h - (Z - Z_0 + h_k)", "m", "heights on the hoist line",
           value=float(a.study.head_room_m[step]))  # fmt: skip
    rule = setup.rules.clearance
    c.given("k_p", "clearance asked of the hook block", rule.head_room_m, "m", rule.reference)
    c.reaches(check, "k", "k_p")


def rope_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Hoist rope off the drum with the hook at its lowest."""
    machine = a.setup.machine
    c.given("t_r", "tail radius of the superstructure", machine.superstructure.tail_radius_m,
            "m", MACHINE)  # fmt: skip
    c.step("l_o", "hoist rope off the drum", "n_f * l_f + L + max(t_r + u_f, 0)", "m",
           "falls, along the boom, and to a drum at the tail",
           value=rope_off_drum_m(a.setup))  # fmt: skip
    c.ends(check, "l_o", "l_d", "hoist rope that may leave the drum", "m",
           f"{MACHINE}, wraps that stay on the drum taken off")  # fmt: skip


def radius_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Radius against that of the boom at its lowest or highest angle."""
    setup, path, most = a.setup, a.path, check.sense == "max"
    boom = setup.machine.boom
    at_step(c, setup, path, int(np.argmax(path.radius_m) if most else np.argmin(path.radius_m)))
    c.given("L", "boom length", setup.boom.length_m, "m", LIFT_LIST)
    c.given("u_f", "place of the boom foot, toward the boom", boom.foot_u_m, "m", MACHINE)
    if most:
        c.given("alpha_0", "minimum boom angle", boom.angle_min_deg, "°", MACHINE)
        low = "u_f + L * cos(alpha_0)"
        if boom.angle_min_deg < 0:
            low = "u_f + L * cos(max(alpha_0, 0))"
        c.step("r_x", "maximum radius of the boom", low, "m", PLANE, value=setup.boom.radius_max_m)
        c.reaches(check, "r", "r_x")
        return
    c.given("alpha_x", "maximum boom angle", boom.angle_max_deg, "°", MACHINE)
    c.given("r_m", "minimum radius of the machine", setup.machine.radius_min_m, "m", MACHINE)
    c.step("r_n", "minimum radius of the boom", "max(u_f + L * cos(alpha_x), r_m)", "m", PLANE,
           value=setup.boom.radius_min_m)  # fmt: skip
    c.reaches(check, "r", "r_n")


def stated_tilt_rows(c: Calculation, setup: Setup) -> None:
    stand = setup.lift.stand
    c.given("t_x", "tilt toward the front", stand.tilt_x_percent, "%", LIFT_LIST)
    c.given("t_y", "tilt toward the left", stand.tilt_y_percent, "%", LIFT_LIST)


def level_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Tilt stated against what is permitted."""
    stated_tilt_rows(c, a.setup)
    c.step("t_l", "tilt of the machine", "sqrt(t_x**2 + t_y**2)", "%", PLANE)
    c.given("t_m", "tilt permitted", a.setup.permitted_tilt_percent, "%", check.reference)
    c.reaches(check, "t_l", "t_m")


def setting_section(c: Calculation, setup: Setup, path: LoadPath) -> None:
    """How far short of the pick radius the boom is set before the load comes on the hook."""
    pick, _ = boom_settings(setup, path)
    loaded = pick.loaded
    c.section(None, "Boom to be set short of the pick radius (estimate)")
    if loaded is None or not _stiffness_rows(c, setup):
        c.note("Deflection of the boom", pick.problem,
               "no estimate: set the boom by the manufacturer's data", _BEAM)  # fmt: skip
        return
    tip, straight = float(loaded.tip_deflection_m), float(loaded.straight_radius_m)
    c.step(*_BY_LOAD)
    c.given("r_s", "radius of the boom if it stayed straight, found by iteration", straight,
            "m.4", _BEAM)  # fmt: skip
    c.step("alpha_s", "angle of the boom at its foot when it is set", "acos((r_s - u_f) / L)",
           "°.3", PLANE, value=float(loaded.boom_angle_deg))  # fmt: skip
    rows = ("L", "with the load", "F_h", "delta_P"), ("O", "with the empty hook", "F_0", "delta_O")
    block = setup.hook_block
    for mark, words, force, by_load in rows:
        if mark == "O":
            c.given("m_b", "mass of the hook block", block.mass_t, "t", MACHINE)
            c.step("F_0", "weight of the hook block", "m_b * g", "kN", "weight")
            c.step("delta_O", "deflection of a level boom by the hook block",
                   "F_0 * L**3 / (3 * B_s)", "m.5", _BEAM)  # fmt: skip
            turn = math.radians(float(loaded.boom_angle_deg))
            tip = (pick.unloaded_radius_m - straight) / math.sin(turn)
        c.step(f"G_{mark}", f"gain by the axial force {words}",
               f"1 / (1 - ({force} + W_B / 2) * sin(alpha_s) / N_E)", ".5", _BEAM)  # fmt: skip
        c.given(f"d_{mark}", f"deflection of the boom head {words}, found by iteration", tip,
                "m.5", _BEAM)  # fmt: skip
        c.step(f"D_{mark}", f"deflection of the boom head {words}, converged value",
               f"({by_load} + delta_W) * G_{mark} * cos(alpha_s - atan(d_{mark} / L))", "m.5",
               _BEAM, value=tip, tolerance=1e-4)  # fmt: skip
    c.step("r_g", "radius with the load on the hook", "r_s + D_L * sin(alpha_s)", "m", PLANE,
           value=pick.loaded_radius_m, tolerance=1e-5)  # fmt: skip
    c.step("r_o", "radius of the empty hook to which the boom is set",
           "r_s + D_O * sin(alpha_s)", "m", f"{_BEAM}; measure the radius with the load on",
           value=pick.unloaded_radius_m, tolerance=1e-5)  # fmt: skip
    c.step("r_d", "how far short of the pick radius the boom is set", "r_g - r_o", "m", PLANE,
           value=pick.short_m)  # fmt: skip
