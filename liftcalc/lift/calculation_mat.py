"""The calculation of a mat: effective size, pressure, strength, beam on the ground, settlement.

Sources: Duerr 2010, Eqs 1 to 7; ACI 318-19, 22.6.4 (from memory); Hetényi 1946; Vesić 1961;
Schleicher 1926.
"""

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.base.units import G_M_S2
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.ground.beam import centred_beam_shape
from liftcalc.ground.mats import MatCheck
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation, least_of
from liftcalc.lift.calculation_legs import FACTOR, HALF_SPACE
from liftcalc.lift.calculation_place import MACHINE
from liftcalc.lift.ground_facts import mat_properties
from liftcalc.lift.leg_ground import LegGround, mat_check_of
from liftcalc.lift.leg_springs import least_modulus

MAT = "mat data"
DUERR = "Duerr (2010), Effective Bearing Length of Crane Mats, Eqs 3 to 7"
_ACI = "ACI 318-19, 22.6.4: perimeter half a thickness around the float (from memory)"
_HETENYI = "Hetényi 1946, free beam on springs, patch in its middle"


def mat_rows(c: Calculation, a: LiftAssessment) -> None:
    """Size, weight and allowable strengths of the mat."""
    mat = mat_properties(a.setup.mat)
    c.given("L_m", "length of the mat", mat.length_m, "m", MAT)
    c.given("B_m", "width of the mat", mat.width_m, "m", MAT)
    c.given("t_m", "thickness of the mat", mat.thickness_m, "m", MAT)
    c.given("m_m", "mass of the mat", mat.mass_t, "t", MAT)
    c.given("g", "standard gravity", G_M_S2, "m/s²", "ISO 80000-3", digits=5)
    c.step("W", "weight of the mat", "m_m * g", "kN", "weight", value=mat.weight_kN)
    basis = f"{mat.strength_basis} strengths"
    halved = f"{basis} halved: common practice, no published source"
    if mat.strength_divisor == 1:
        halved = "1: allowable strengths"
    c.given("gamma_m", "divisor of the mat's strengths", mat.strength_divisor, "", halved, digits=2)
    c.given("f_b", "bending strength of the mat", mat.bending_strength_kPa, "kPa", MAT, digits=0)
    c.given("f_v", "shear strength of the mat", mat.shear_strength_kPa, "kPa", MAT, digits=0)
    _stated_or(c, mat.section_modulus_m3, mat.z_m3, "Z_m", "section modulus", "B_m * t_m**2 / 6",
               unit="m³", digits=6)  # fmt: skip
    _stated_or(c, mat.shear_area_m2, mat.shear_m2, "A_v", "shear area", "B_m * t_m / 1.5",
               unit="m²", digits=5)  # fmt: skip
    timber = mat.material == "timber"
    offset = mat.thickness_m if timber else 0.0
    said = "the thickness: timber" if timber else "at the float's edge: not timber"
    c.given("d_v", "distance from the float at which shear counts", offset, "m", said)


def _stated_or(
    c: Calculation, stated: float | None, value: float, name: str, what: str, rectangle: str,
    *, unit: str, digits: int,
) -> None:  # fmt: skip
    """A property of the mat's section as its data state it, else that of a rectangle."""
    meaning = f"{what} of the mat"
    if stated is None:
        c.step(name, meaning, rectangle, unit, "rectangle", value=value, digits=digits)
    else:
        c.given(name, meaning, value, unit, MAT, digits=digits)


def _capacity_rows(c: Calculation, share: str) -> None:
    moment = ("M_a", "allowable bending moment of the effective size")
    force = ("V_a", "allowable shear force of the effective size")
    c.step(*moment, f"Z_m * f_b / gamma_m * {share} / B_m", "kNm", DUERR, digits=3)
    c.step(*force, f"A_v * f_v / gamma_m * {share} / B_m", "kN", DUERR, digits=3)


def _length_rows(c: Calculation, n: str, side: str, most: str, result: tuple[str, str]) -> None:
    """How far strength lets the mat spread the force along one side."""
    force, shear = c.value(f"R_{n}") or 0.0, c.value("V_a") or 0.0
    bending = f"{side} + 4 * M_a / R_{n} + sqrt(4 * M_a / R_{n} * (2 * {side} + 4 * M_a / R_{n}))"
    c.step("l_M", "length that bending allows", bending, "m", f"{DUERR}, solved for the length")
    ends = ["l_M", most]
    if force > 2 * shear:
        shear_length = f"({side} + 2 * d_v) / (1 - 2 * V_a / R_{n})"
        c.step("l_V", "length that shear allows", shear_length, "m", f"{DUERR}, solved likewise")
        ends.insert(1, "l_V")
    else:
        c.note("Shear", f"R_{n} ≤ 2 V_a", "any length", DUERR)
    c.step(*result, f"min({', '.join(ends)})", "m", "the minimum, within the mat")


def effective_rows(c: Calculation, a: LiftAssessment, g: LegGround) -> None:
    """Effective length and width under one outrigger, and the pressure on it."""
    mat, n = mat_properties(a.setup.mat), g.name
    leg = a.setup.machine.legs[LEG_NAMES.index(n)]
    mat_rows(c, a)
    c.given("w_L", "float, along the mat's length", leg.float_length_m, "m", MACHINE)
    c.given("w_B", "float, across the mat", leg.float_width_m, "m", MACHINE)
    length = (f"L_{n}", f"effective length of the mat under {n}")
    width = (f"B_{n}", f"effective width of the mat under {n}")
    if mat.across == "spread":
        c.step(*width, "min(w_B + 2 * t_m, B_m)", "m",
               "float and the thickness on each side; single timbers do not carry across",
               value=g.effective_width_m)  # fmt: skip
    else:
        c.given(*width, g.effective_width_m, "m", "found by iteration: a plate bends both ways")
    _capacity_rows(c, f"B_{n}")
    _length_rows(c, n, "w_L", "L_m", length)
    if mat.across != "spread":
        _capacity_rows(c, f"L_{n}")
        _length_rows(c, n, "w_B", "B_m", ("B_2", "width that this length allows, the same again"))
    c.step(f"p_{n}", f"pressure under the mat of {n}", f"(R_{n} + W) / (L_{n} * B_{n})", "kPa",
           "vertical equilibrium, uniform on the effective area", value=g.pressure_kPa)  # fmt: skip


def strength_section(c: Calculation, a: LiftAssessment, g: LegGround, check: Check) -> None:
    """Demand and strength of the mat at the length that the ground needs; the worst part."""
    mat, n, found = mat_properties(a.setup.mat), g.name, mat_check_of(a.setup, g)
    required = float(np.clip(found.required_length_m, c.value("w_L"), mat.length_m))
    needed = "found by search: there the pressure is what the ground allows; within float and mat"
    c.given("l_n", "length of mat that the ground needs", required, "m", needed, digits=4)
    c.step("l_c", "overhang beyond the float", "max((l_n - w_L) / 2, 0)", "m", DUERR, digits=4)
    _capacity_rows(c, f"B_{n}")
    c.given("f_c", "crushing strength of the mat", mat.crushing_strength_kPa, "kPa", MAT, digits=0)
    c.step("M_n", "bending moment in the mat", f"R_{n} * l_c**2 / (2 * l_n)", "kNm", DUERR)
    shear = f"R_{n} * max(l_c - d_v, 0) / l_n"
    c.step("V_n", "shear force in the mat", shear, "kN", DUERR)
    crush = f"R_{n} / (w_L * w_B)"
    c.step("f_n", "crushing stress under the float", crush, "kPa", "force over the float")
    parts = {
        "bending": ("u_b", "M_n / M_a * 100", found.bending_utilisation),
        "shear": ("u_v", "V_n / V_a * 100", found.shear_utilisation),
        "crushing": ("u_c", "f_n / (f_c / gamma_m) * 100", found.crushing_utilisation),
    }
    for part, (name, expression, used) in parts.items():
        c.step(name, f"utilisation of the mat's strength in {part}", expression, "%", DUERR,
               value=100 * float(used))  # fmt: skip
    _punching_rows(c, a, g, found)
    c.given("u_a", "allowed utilisation of the mat", 100.0, "%", "mat data")
    c.step("u_m", "utilisation of the mat, maximum of its parts", "max(u_b, u_v, u_c, u_p)", "%",
           "maximum")  # fmt: skip
    c.reaches(check, "u_m", "u_a")


def _punching_rows(c: Calculation, a: LiftAssessment, g: LegGround, found: MatCheck) -> None:
    """Shear through the mat around the float."""
    mat, n = mat_properties(a.setup.mat), g.name
    leg = a.setup.machine.legs[LEG_NAMES.index(n)]
    through = leg.float_length_m + mat.thickness_m < mat.length_m
    across = leg.float_width_m + mat.thickness_m < mat.width_m
    c.step("b_L", "perimeter, its side along the mat", "min(w_L + t_m, L_m)", "m", _ACI)
    c.step("b_B", "perimeter, its side across the mat", "min(w_B + t_m, B_m)", "m", _ACI)
    sides = [*(["b_B"] if through else []), *(["b_L"] if across else [])]
    used = ("u_p", "utilisation of the mat's strength in punching")
    if not sides:
        c.given(*used, 0.0, "%", "no side of the perimeter lies within the mat")
        return
    c.step("b_p", "perimeter within the mat", f"2 * ({' + '.join(sides)})", "m", _ACI)
    force = f"max(R_{n} - R_{n} / (L_{n} * B_{n}) * b_L * b_B, 0)"
    c.step("V_p", "punching force, less the pressure below it", force, "kN", _ACI)
    c.step(*used, "V_p / (b_p * t_m) / (f_v / gamma_m) * 100", "%", _ACI,
           value=100 * float(found.punching_utilisation))  # fmt: skip


def modulus_rows(c: Calculation, a: LiftAssessment, g: LegGround, *, vesic: bool) -> bool:
    """Elastic data of the ground under one outrigger; whether a modulus is known."""
    modulus, poisson = least_modulus(g.profile, a.setup.mat.width_m)
    surveyed = g.profile.subgrade_modulus_kN_m3
    known = bool(np.isfinite(modulus))
    if known:
        source = f"{g.profile.id}: minimum modulus within two mat widths"
        c.given("E_s", "Young's modulus of the ground", modulus, "kPa", source, digits=0)
        c.given("nu_s", "Poisson's ratio of the ground", poisson, "", source)
    if surveyed is not None and (vesic or not known):
        what = "subgrade modulus, surveyed"
        c.given("k_p", what, surveyed, "kN/m³", f"{g.profile.id}: plate test", digits=0)
    return known


def stiffness_rows(c: Calculation, a: LiftAssessment, g: LegGround) -> None:
    """Stiffness of the ground under the effective area of one outrigger's mat."""
    n = g.name
    name, what = f"K_{n}", f"ground stiffness under {n}"
    if not modulus_rows(c, a, g, vesic=False):
        whole = f"k_p * L_{n} * B_{n}"
        c.step(name, what, whole, "kN/m", "plate test", value=g.stiffness_kN_m, digits=1)
        return
    longer = f"max(L_{n}, B_{n})"
    c.step("n_e", "longer over shorter effective side", f"{longer} / min(L_{n}, B_{n})", "",
           "ratio", digits=5)  # fmt: skip
    c.step("I_e", "settlement factor of the effective area", FACTOR.format("n_e"), "", HALF_SPACE)
    c.step(name, what, f"E_s * {longer} / ((1 - nu_s**2) * I_e)", "kN/m", HALF_SPACE,
           value=g.stiffness_kN_m, digits=1)  # fmt: skip


def settlement_section(c: Calculation, a: LiftAssessment, g: LegGround, check: Check) -> None:
    """Settlement of one outrigger under its greatest reaction."""
    n = g.name
    stiffness_rows(c, a, g)
    what = f"settlement of outrigger {n}"
    c.step(f"d_{n}", what, f"R_{n} / K_{n}", "m", HALF_SPACE, value=g.settlement_m, digits=5)
    rule = a.setup.rules.ground
    c.given("d_a", "allowed settlement", rule.settlement_limit_m, "m", rule.reference)
    c.reaches(check, f"d_{n}", "d_a")


def bending_section(c: Calculation, a: LiftAssessment, g: LegGround, check: Check) -> None:
    """The whole mat as a beam on the ground's springs."""
    mat, n, bent = mat_properties(a.setup.mat), g.name, g.elastic_bending
    known = modulus_rows(c, a, g, vesic=True)
    c.given("E_m", "Young's modulus of the mat", mat.modulus_kPa, "kPa", MAT, digits=0)
    _stated_or(c, mat.second_moment_m4, mat.i_m4, "J_m", "second moment of area",
               "B_m * t_m**3 / 12", unit="m⁴", digits=8)  # fmt: skip
    stiff = "bending stiffness of the effective width"
    c.step("S_m", stiff, f"E_m * J_m * B_{n} / B_m", "kNm²", "E I", digits=2)
    springs = []
    if known:
        vesic = f"0.65 * (E_s * B_{n}**4 / S_m)**(1 / 12) * E_s / (1 - nu_s**2) / B_{n}"
        c.step("k_v", "subgrade modulus, Vesić", vesic, "kN/m³", "Vesić 1961 (from memory)",
               digits=2)  # fmt: skip
        springs.append("k_v")
    if g.profile.subgrade_modulus_kN_m3 is not None:
        springs.append("k_p")
    c.step("k_s", "subgrade modulus that counts", least_of(springs), "kN/m³",
           "the softer bends the mat more", value=bent.subgrade_kN_m3, digits=2)  # fmt: skip
    c.step("lambda_", "characteristic of the beam", f"(k_s * B_{n} / (4 * S_m))**0.25", "1/m",
           _HETENYI, digits=5)  # fmt: skip
    leg = a.setup.machine.legs[LEG_NAMES.index(n)]
    beam = centred_beam_shape(1.0, mat.length_m, width_m=g.effective_width_m,
                              stiffness_kNm2=mat.stiffness_kNm2 * g.effective_width_m / mat.width_m,
                              subgrade_modulus_kN_m3=bent.subgrade_kN_m3,
                              patch_m=leg.float_length_m, x_m=0.0)  # fmt: skip
    half = float(beam.contact_length_m) / 2
    lifts = "whole mat" if half >= mat.length_m / 2 * (1 - 1e-9) else "found by search: ends lift"
    c.given("l_h", "half the length in contact", half, "m", lifts, digits=5)
    moment = ("M_e", "bending moment under the float")
    if leg.float_length_m >= 2 * half * (1 - 1e-9):
        c.given(*moment, bent.moment_kNm, "kNm", "float as long as the contact: no bending")
    else:
        _beam_rows(c)
        under = f"R_{n} * (m_0 - b_2 / (2 * lambda_**2))"
        c.step(*moment, under, "kNm", _HETENYI, value=bent.moment_kNm, digits=3)
    _capacity_rows(c, f"B_{n}")
    c.step("u_e", "utilisation of the mat in bending on the ground", "M_e / M_a * 100", "%", MAT)
    c.given("u_a", "allowed utilisation of the mat", 100.0, "%", "mat data")
    c.reaches(check, "u_e", "u_a")


def _beam_rows(c: Calculation) -> None:
    """Moment at the middle of an endless beam, and the correction for its free ends."""
    deg = "57.29577951308"
    near, far, ends = "(l_h - w_L / 2)", "(l_h + w_L / 2)", "lambda_ * l_h"

    def wave(of: str, u: str) -> str:
        return f"exp(-(lambda_ * {u})) * {of}(lambda_ * {u} * {deg})"

    grow, fall = f"exp({ends})", f"exp(-({ends}))"
    c.step("C_h", "hyperbolic cosine of λ l_h", f"({grow} + {fall}) / 2", "", _HETENYI, digits=6)
    c.step("S_h", "hyperbolic sine of λ l_h", f"({grow} - {fall}) / 2", "", _HETENYI, digits=6)
    cos, sin = (f"{of}({ends} * {deg})" for of in ("cos", "sin"))
    rows = (
        ("m_0", "moment of a unit load, endless beam, middle",
         f"{wave('sin', '(w_L / 2)')} / (2 * lambda_**2 * w_L)"),
        ("m_1", "the same where contact ends",
         f"({wave('sin', far)} - {wave('sin', near)}) / (4 * lambda_**2 * w_L)"),
        ("v_1", "shear force of a unit load there",
         f"({wave('cos', far)} - {wave('sin', far)} - {wave('cos', near)} + {wave('sin', near)})"
         " / (4 * lambda_ * w_L)"),
        ("m_p", "moment of the first even solution there", f"S_h * {sin} / (2 * lambda_**2)"),
        ("m_q", "moment of the second even solution there", f"-(C_h * {cos}) / (2 * lambda_**2)"),
        ("v_p", "shear force of the first there", f"(C_h * {sin} + S_h * {cos}) / (2 * lambda_)"),
        ("v_q", "shear force of the second there", f"(C_h * {sin} - S_h * {cos}) / (2 * lambda_)"),
        ("b_2", "share of the second, so that the end is free",
         "(v_p * m_1 - m_p * v_1) / (m_p * v_q - m_q * v_p)"),
    )  # fmt: skip
    units = {"v_1": "", "m_p": "m²", "m_q": "m²", "b_2": "1/m"}
    for name, what, expression in rows:
        c.step(name, what, expression, units.get(name, "m"), _HETENYI, digits=7)
