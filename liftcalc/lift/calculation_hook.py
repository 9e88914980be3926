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
from liftcalc.lift.calculation_place import MACHINE, at_step, boom_rows, level_row
from liftcalc.lift.path import LoadPath
from liftcalc.lift.setup import Setup, rope_off_drum_m

_BEAM = "beam tables and Euler load (from memory); estimate"


def hook_block_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    block = a.setup.hook_block
    c.ends(check, "Q", "R_b", f"{MACHINE}, {block.id}", known=block.capacity_t)


def _stiffness_rows(c: Calculation, setup: Setup) -> bool:
    """Rows of the beam that the boom is taken for; False where no stiffness is stated."""
    stiffness = setup.boom.bending_stiffness_kNm2
    if stiffness is None:
        return False
    boom_rows(c, setup)
    c.given(*GRAVITY)
    c.given(*CIRCLE)
    c.facts(B_s=stiffness)
    c.steps("F_h W_B w_1 w_0 delta_W N_E")
    return True


def deflected_rows(c: Calculation, setup: Setup, path: LoadPath, step: int) -> None:
    """Height of the loaded boom head, bent by load and own weight, at the radius in reach."""
    bend, problem = boom_bend(setup, path.radius_m)  # of a path with one problem, all
    tip, chord = float(bend.tip_m[step]), float(bend.chord_m[step])
    if not problem and _stiffness_rows(c, setup):
        c.steps("delta_P")
        c.facts(delta_0=tip / SHAPE_MARGIN)
        c.steps("alpha_a N_a")
        c.work("delta_1", value=tip / SHAPE_MARGIN, tolerance=1e-4)
        c.work("delta", f"{SHAPE_MARGIN:g} * delta_1", value=tip)
    else:
        boom_rows(c, setup)
        c.facts(problem or bend_words(setup), delta=tip)
    c.steps("L_c alpha_c h_d", L_c=chord, alpha_c=float(bend.chord_deg[step]))


def head_room_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Clearance of the hook block above the distance at which hoisting must stop."""
    setup, path, step = a.setup, a.path, int(np.argmin(a.study.head_room_m))
    boom, block = setup.machine.boom, setup.hook_block
    at_step(c, setup, path, step)
    deflected_rows(c, setup, path, step)
    level_row(c, setup, path, step)
    c.facts(h_k=setup.hanging.hook_height_m, k_b=boom.two_block_clearance_m, k_h=block.height_m)
    c.steps("k", k=float(a.study.head_room_m[step]))
    rule = setup.rules.clearance
    c.ends(check, "k", "k_p_hook", rule.reference, known=rule.head_room_m)


def rope_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Hoist rope off the drum with the hook at its lowest."""
    c.facts(t_r=a.setup.machine.superstructure.tail_radius_m)
    c.steps("l_o", l_o=rope_off_drum_m(a.setup))
    c.ends(check, "l_o", "l_d", f"{MACHINE}, wraps that stay on the drum taken off")


def radius_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Radius against that of the boom at its lowest or highest angle."""
    setup, path, most = a.setup, a.path, check.sense == "max"
    boom = setup.machine.boom
    at_step(c, setup, path, int(np.argmax(path.radius_m) if most else np.argmin(path.radius_m)))
    c.facts(L=setup.boom.length_m, u_f=boom.foot_u_m)
    if most:
        c.facts(alpha_0=boom.angle_min_deg)
        low = "u_f + L * cos(alpha_0)"
        if boom.angle_min_deg < 0:
            low = "u_f + L * cos(max(alpha_0, 0))"
        c.work("r_x", low, value=setup.boom.radius_max_m)
        c.reaches(check, "r", "r_x")
        return
    c.facts(alpha_x=boom.angle_max_deg, r_m=setup.machine.radius_min_m)
    c.steps("r_n", r_n=setup.boom.radius_min_m)
    c.reaches(check, "r", "r_n")


def stated_tilt_rows(c: Calculation, setup: Setup) -> None:
    stand = setup.lift.stand
    c.facts(t_x=stand.tilt_x_percent, t_y=stand.tilt_y_percent)


def level_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Tilt stated against what is permitted."""
    stated_tilt_rows(c, a.setup)
    c.steps("t_l")
    c.ends(check, "t_l", "t_m", check.reference, known=a.setup.permitted_tilt_percent)


def setting_section(c: Calculation, setup: Setup, path: LoadPath) -> None:
    """How far short of the pick radius the boom is set before the load comes on the hook."""
    pick, _ = boom_settings(setup, path)
    loaded = pick.loaded
    c.section(None, "Boom to be set short of the pick radius (estimate)")
    if loaded is None or not _stiffness_rows(c, setup):
        c.note("Deflection of the boom", pick.problem, "no estimate: set the boom by the manufacturer's data", _BEAM)
        return
    tip, straight = float(loaded.tip_deflection_m), float(loaded.straight_radius_m)
    angle = float(loaded.boom_angle_deg)
    empty = (pick.unloaded_radius_m - straight) / math.sin(math.radians(angle))
    c.steps("delta_P")
    c.facts(r_s=straight)
    c.steps("alpha_s G_L", alpha_s=angle)
    c.facts(d_L=tip)
    c.work("D_L", value=tip, tolerance=1e-4)
    c.facts(m_b=setup.hook_block.mass_t)
    c.steps("F_0 delta_O G_O")
    c.facts(d_O=empty)
    c.work("D_O", value=empty, tolerance=1e-4)
    c.work("r_g", value=pick.loaded_radius_m, tolerance=1e-5)
    c.work("r_o", value=pick.unloaded_radius_m, tolerance=1e-5)
    c.steps("r_d", r_d=pick.short_m)
