"""The calculation of a mat, and of level and capacity after the ground has settled below all four.

A mat: effective size, pressure, strength, beam on the ground, settlement. Reaction, settlement,
tilt and radius are iterated to agreement (:mod:`liftcalc.ground.level`); the reactions that agree
are given, and what follows from them is calculated again.

Sources: Duerr 2010, Eqs 1 to 7; ACI 318-19, 22.6.4 (from memory); Hetényi 1946; Vesić 1961;
Schleicher 1926; least squares; plane geometry; :mod:`liftcalc.lift.calculation_chart`.
"""

import dataclasses

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.base.units import G_M_S2
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.ground.beam import centred_beam_shape
from liftcalc.ground.mats import MatCheck
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation, least_of
from liftcalc.lift.calculation_chart import capacity_rows, usable_rows
from liftcalc.lift.calculation_legs import place_rows, sum_of
from liftcalc.lift.calculation_place import at_step, boom_rows
from liftcalc.lift.ground_facts import mat_properties
from liftcalc.lift.ground_study import GroundStudy, radius_growth_m
from liftcalc.lift.leg_ground import LegGround, mat_check_of
from liftcalc.lift.leg_springs import least_modulus
from liftcalc.lift.path_study import capacity_at, study_path
from liftcalc.lift.persons import PERSONS_CAPACITY_SHARE

MAT = "mat data"
DUERR = "Duerr (2010), Effective Bearing Length of Crane Mats, Eqs 3 to 7"


def mat_rows(c: Calculation, a: LiftAssessment) -> None:
    """Size, weight and allowable strengths of the mat."""
    mat = mat_properties(a.setup.mat)
    c.facts(L_m=mat.length_m, B_m=mat.width_m, t_m_mat=mat.thickness_m, m_m=mat.mass_t)
    c.facts(g_mat=G_M_S2)
    c.steps("W", W=mat.weight_kN)
    halved = f"{mat.strength_basis} strengths halved: common practice, no published source"
    if mat.strength_divisor == 1:
        halved = "1: allowable strengths"
    c.facts(halved, gamma_m=mat.strength_divisor)
    c.facts(f_b=mat.bending_strength_kPa, f_v=mat.shear_strength_kPa)
    _stated_or(c, mat.section_modulus_m3, Z_m=mat.z_m3)
    _stated_or(c, mat.shear_area_m2, A_v=mat.shear_m2)
    timber = mat.material == "timber"
    said = "the thickness: timber" if timber else "at the float's edge: not timber"
    c.facts(said, d_v=mat.thickness_m if timber else 0.0)


def _stated_or(c: Calculation, stated: float | None, **value: float) -> None:
    """A property of the mat's section as its data state it, else that of a rectangle."""
    if stated is None:
        c.steps(*value, **value)
    else:
        c.facts(MAT, **value)


def _capacity_rows(c: Calculation, share: str) -> None:
    c.work("M_a", f"Z_m * f_b / gamma_m * {share} / B_m")
    c.work("V_a", f"A_v * f_v / gamma_m * {share} / B_m")


def _length_rows(c: Calculation, n: str, side: str, most: str, result: str) -> None:
    """How far strength lets the mat spread the force along one side."""
    force, shear = c.value(f"R_{n}") or 0.0, c.value("V_a") or 0.0
    bending = f"{side} + 4 * M_a / R_{n} + sqrt(4 * M_a / R_{n} * (2 * {side} + 4 * M_a / R_{n}))"
    c.work("l_M", bending)
    ends = ["l_M", most]
    if force > 2 * shear:
        c.work("l_V", f"({side} + 2 * d_v) / (1 - 2 * V_a / R_{n})")
        ends.insert(1, "l_V")
    else:
        c.note("Shear", f"R_{n} ≤ 2 V_a", "any length", DUERR)
    c.work(result, f"min({', '.join(ends)})", "the minimum, within the mat", of=n)


def effective_rows(c: Calculation, a: LiftAssessment, g: LegGround) -> None:
    """Effective length and width under one outrigger, and the pressure on it."""
    mat, n = mat_properties(a.setup.mat), g.name
    leg = a.setup.machine.legs[LEG_NAMES.index(n)]
    mat_rows(c, a)
    c.facts(w_L=leg.float_length_m, w_B=leg.float_width_m)
    if mat.across == "spread":
        c.steps("B_of", B_of=g.effective_width_m, of=n)
    else:
        c.facts("found by iteration: a plate bends both ways", B_of=g.effective_width_m, of=n)
    _capacity_rows(c, f"B_{n}")
    _length_rows(c, n, "w_L", "L_m", "L_of")
    if mat.across != "spread":
        _capacity_rows(c, f"L_{n}")
        _length_rows(c, n, "w_B", "B_m", "B_2")
    source = "vertical equilibrium, uniform on the effective area"
    c.work("p_of", "", source, value=g.pressure_kPa, of=n)


def strength_section(c: Calculation, a: LiftAssessment, g: LegGround, check: Check) -> None:
    """Demand and strength of the mat at the length that the ground needs; the worst part."""
    mat, n, found = mat_properties(a.setup.mat), g.name, mat_check_of(a.setup, g)
    required = float(np.clip(found.required_length_m, c.value("w_L"), mat.length_m))
    c.facts(l_n=required)
    c.steps("l_c")
    _capacity_rows(c, f"B_{n}")
    c.facts(f_c=mat.crushing_strength_kPa)
    c.steps("M_n V_n f_n_mat", of=n)
    bent, sheared = 100 * float(found.bending_utilisation), 100 * float(found.shear_utilisation)
    crushed = 100 * float(found.crushing_utilisation)
    c.steps("u_b u_v u_c", u_b=bent, u_v=sheared, u_c=crushed)
    _punching_rows(c, a, g, found)
    c.facts(u_a=100.0)
    c.steps("u_m")
    c.reaches(check, "u_m", "u_a")


def _punching_rows(c: Calculation, a: LiftAssessment, g: LegGround, found: MatCheck) -> None:
    """Shear through the mat around the float."""
    mat, leg = mat_properties(a.setup.mat), a.setup.machine.legs[LEG_NAMES.index(g.name)]
    through = leg.float_length_m + mat.thickness_m < mat.length_m
    across = leg.float_width_m + mat.thickness_m < mat.width_m
    c.steps("b_L b_B")
    sides = [*(["b_B"] if through else []), *(["b_L"] if across else [])]
    if not sides:
        c.facts("no side of the perimeter lies within the mat", u_p=0.0)
        return
    c.work("b_p", f"2 * ({' + '.join(sides)})")
    c.steps("V_p", of=g.name)
    c.steps("u_p", u_p=100 * float(found.punching_utilisation))


def modulus_rows(c: Calculation, a: LiftAssessment, g: LegGround, *, vesic: bool) -> bool:
    """Elastic data of the ground under one outrigger; whether a modulus is known."""
    modulus, poisson = least_modulus(g.profile, a.setup.mat.width_m)
    surveyed = g.profile.subgrade_modulus_kN_m3
    known = bool(np.isfinite(modulus))
    if known:
        c.facts(f"{g.profile.id}: minimum modulus within two mat widths", E_s=modulus, nu_s=poisson)
    if surveyed is not None and (vesic or not known):
        c.facts(f"{g.profile.id}: plate test", k_p=surveyed)
    return known


def stiffness_rows(c: Calculation, a: LiftAssessment, g: LegGround) -> None:
    """Stiffness of the ground under the effective area of one outrigger's mat."""
    n = g.name
    if modulus_rows(c, a, g, vesic=False):
        c.steps("n_e_mat I_e K_of", K_of=g.stiffness_kN_m, of=n)
    else:
        whole = f"k_p * L_{n} * B_{n}"
        c.work("K_of", whole, "plate test", value=g.stiffness_kN_m, of=n)


def settlement_section(c: Calculation, a: LiftAssessment, g: LegGround, check: Check) -> None:
    """Settlement of one outrigger under its greatest reaction."""
    stiffness_rows(c, a, g)
    c.steps("d_of_mat", d_of_mat=g.settlement_m, of=g.name)
    rule = a.setup.rules.ground
    c.ends(check, f"d_{g.name}", "d_a", rule.reference, known=rule.settlement_limit_m)


def bending_section(c: Calculation, a: LiftAssessment, g: LegGround, check: Check) -> None:
    """The whole mat as a beam on the ground's springs."""
    mat, n, bent = mat_properties(a.setup.mat), g.name, g.elastic_bending
    known = modulus_rows(c, a, g, vesic=True)
    c.facts(E_m=mat.modulus_kPa)
    _stated_or(c, mat.second_moment_m4, J_m=mat.i_m4)
    c.steps("S_m", of=n)
    springs = []
    if known:
        c.steps("k_v", of=n)
        springs.append("k_v")
    if g.profile.subgrade_modulus_kN_m3 is not None:
        springs.append("k_p")
    c.work("k_s", least_of(springs), value=bent.subgrade_kN_m3)
    c.steps("lambda_", of=n)
    leg = a.setup.machine.legs[LEG_NAMES.index(n)]
    beam = centred_beam_shape(1.0, mat.length_m, width_m=g.effective_width_m,
                              stiffness_kNm2=mat.stiffness_kNm2 * g.effective_width_m / mat.width_m,
                              subgrade_modulus_kN_m3=bent.subgrade_kN_m3,
                              patch_m=leg.float_length_m, x_m=0.0)  # fmt: skip
    half = float(beam.contact_length_m) / 2
    lifts = "whole mat" if half >= mat.length_m / 2 * (1 - 1e-9) else "found by search: ends lift"
    c.facts(lifts, l_h=half)
    if leg.float_length_m >= 2 * half * (1 - 1e-9):
        c.facts(M_e=bent.moment_kNm)
    else:
        c.steps("C_h S_h m_0 m_1 v_1 m_p m_q v_p_mat v_q b_2 M_e_mat", of=n, M_e_mat=bent.moment_kNm)
    _capacity_rows(c, f"B_{n}")
    c.steps("u_e")
    c.facts(u_a=100.0)
    c.reaches(check, "u_e", "u_a")


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
