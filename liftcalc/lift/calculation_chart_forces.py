"""Outrigger force, beam moment and carrier twist where a chart is carried over, in the calculation.

Both maxima are calculated alike: on the actual base with the planned load, and on the base of the
chart with its rating. From all weights to the resultant, moved by wind and tilt where the case has
them; reactions of a rigid plane on the outriggers' springs; the step that a carrier free to twist
asks for; the step that keeps every outrigger from pulling.

Source: those of :mod:`liftcalc.lift.chart_forces` and :mod:`liftcalc.reactions.contact`.
"""

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check
from liftcalc.base.units import G_M_S2
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_place import LIFT_LIST, MACHINE, PLANE, STATICS, at_step
from liftcalc.lift.calculation_stability import machine_rows, tilt_rows
from liftcalc.lift.calculation_state import spring_rows
from liftcalc.lift.calculation_wind import force_rows, gust_rows
from liftcalc.lift.chart_forces import CASES, ChartForce, ForceState, chart_forces
from liftcalc.lift.setup import Setup, boom_states
from liftcalc.lift.wind_checks import wind_terms
from liftcalc.reactions.carrier import carrier_supports
from liftcalc.reactions.contact import bilateral_kN

LAST = {
    "chart-outrigger-force": ("R_f", "force on the outrigger", "kN"),
    "chart-outrigger-beam": ("M_b", "moment of the outrigger beam at the carrier's side", "kNm"),
    "chart-carrier-twist": ("M_x", "twist of the carrier", "kNm"),
}


def chart_force_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """What outriggers and carrier bear here, against their maximum on the base of the chart."""
    setup, study = a.setup, a.study
    one = next(f for f in chart_forces(setup, study) if f.id == check.id)
    c.note("Case that governs", CASES[one.here.case][0], "", STATICS)
    if not np.isfinite(one.here.value):
        c.note(check.title, "in this case the crane may tip: no maximum", check.words, STATICS)
        return
    at_step(c, setup, study.path, one.step)
    here = _side(c, setup, one, one.here, "h", "planned")
    c.note("The same on the base of the chart", one.table.chart_id, "",
           "maximum over its slews and rated radii")  # fmt: skip
    state, source = one.there, f"chart {one.table.chart_id}"
    c.given("s", "slew angle at this step", state.slew_deg % 360.0, "°", source)
    c.given("r", "radius at this step", state.radius_m, "m", source)
    c.given("C_c", "rating of the chart on its own base at this radius", state.load_t, "t",
            f"{source}, boom {setup.boom.length_m:g} m")  # fmt: skip
    there = _side(c, setup, one, state, "c", "on the base of the chart")
    if check.limit is None:
        c.note(check.title, "more than on the base of the chart", check.words, check.reference)
        return
    c.reaches(check, here, there)


def _side(c: Calculation, setup: Setup, one: ChartForce, state: ForceState, mark: str,
          words: str) -> str:  # fmt: skip
    """All rows of one of the two maxima; the symbol that they end at."""
    machine_rows(c, setup)
    moved = CASES[state.case][2]
    load = "Q" if mark == "h" else "C_c"
    c.step("W_f", "mass on the hook that is counted", f"phi_2 * {load}" if moved else load, "t",
           "with the hoist factor" if moved else "still")  # fmt: skip
    vertical, place = _resultant_rows(c, setup, state, moved=moved)
    source = LIFT_LIST if mark == "h" else f"chart {one.table.chart_id}"
    for leg, (x, y) in zip(setup.machine.legs, state.legs_m.tolist(), strict=True):
        n = leg.name
        c.given(f"x_{n}", f"place of outrigger {n}, forward of the slew centre", x, "m", MACHINE)
        c.given(f"y_{n}", f"place of outrigger {n}, to the left", y, "m", source)
        c.given(f"k_{n}", f"spring of outrigger {n}", leg.stiffness_kN_m, "kN/m", MACHINE, digits=0)
    suffix = _reaction_rows(c, setup, state, vertical, place)
    symbol, meaning, unit = LAST[one.id]
    name, meaning = f"{symbol}{mark}", f"{meaning}, {words}"
    return _end_row(c, setup, state, name, meaning=meaning, unit=unit, suffix=suffix)


def _resultant_rows(c: Calculation, setup: Setup, state: ForceState, *,
                    moved: bool) -> tuple[float, FloatArray]:  # fmt: skip
    c.given("g", "acceleration of free fall", G_M_S2, "m/s²", "standard value", digits=5)
    c.step("M_f", "mass of the crane with it", "m_c + m_s + m_B + W_f", "t", "sum")
    c.step("V", "vertical force on the outriggers", "M_f * g", "kN", STATICS)
    c.step("U", "moment of what slews, about the slew axis", "m_s * u_s + m_B * u_B + W_f * r",
           "tm", STATICS)  # fmt: skip
    ends = {"x": "forward of the slew centre", "y": "left of the slew centre"}
    for axis, turn in (("x", "cos"), ("y", "sin")):
        c.step(f"{axis}_V", f"resultant, {ends[axis]}", f"(m_c * {axis}_c + U * {turn}(s)) / M_f",
               "m", STATICS, digits=4)  # fmt: skip
    if moved:
        _moved_rows(c, setup, state)
    for axis, turn in (("x", "cos"), ("y", "sin")):
        place, source = f"{axis}_V", "still and level"
        if moved:
            place, source = f"{axis}_V + o_f * e_f * {turn}(psi)", STATICS
        c.step(f"{axis}_P", f"resultant that is counted, {ends[axis]}", place, "m", source,
               digits=4)  # fmt: skip
    return c.value("V") or 0.0, np.array([c.value("x_P"), c.value("y_P")])


def _moved_rows(c: Calculation, setup: Setup, state: ForceState) -> None:
    """The resultant moved by wind and tilt, all to one side."""
    boom = boom_states(setup.machine, setup.boom, np.array([state.radius_m]))
    gust_rows(c, setup, float(boom.head_z_m[0]))
    force_rows(c, setup, wind_terms(setup, boom))
    tilt_rows(c, setup)
    c.step("h_f", "height of the common centre of gravity",
           "(m_c * z_c + m_s * z_s + m_B * z_B + W_f * h_h) / M_f", "m", STATICS)  # fmt: skip
    c.step("e_f", "resultant moved by wind and tilt",
           "(F_b * z_w + F_u * z_m + F_l * h_h) / V + h_f * t_p / 100", "m", STATICS,
           digits=4)  # fmt: skip
    c.given("psi", "direction of wind and tilt, anticlockwise from the front", state.direction_deg,
            "°", "the worst of 16")  # fmt: skip
    c.given("o_f", "corner of the polygon of directions over its circle", state.outward, "",
            "outside the circle here, on it on the base of the chart", digits=5)  # fmt: skip


def _reaction_rows(c: Calculation, setup: Setup, state: ForceState, vertical_kN: float,
                   place_m: FloatArray) -> str:  # fmt: skip
    """Reactions of a rigid plane, and the step along the pattern that balances itself.

    Returns the expression to add to a reaction "B_#", empty where there is no step.
    """
    spring_rows(c, at="S", of="J", d=("J_D", "determinant of the second moments"), digits=0)
    for a, b in (("x", "y"), ("y", "x")):
        c.step(f"w_{a}", f"slope of the plane along {a}",
               f"V * (J_{b}{b} * ({a}_P - {a}_S) - J_xy * ({b}_P - {b}_S)) / J_D", "", STATICS,
               digits=9)  # fmt: skip
    for n in LEG_NAMES:
        c.step(f"B_{n}", f"reaction of outrigger {n} on a rigid plane, as if it could pull",
               f"k_{n} * (V / k_S + w_x * (x_{n} - x_S) + w_y * (y_{n} - y_S))", "kN",
               STATICS)  # fmt: skip
    flexible = CASES[state.case][1] == "flexible"
    springs = [leg.stiffness_kN_m for leg in setup.machine.legs]
    supports = carrier_supports(state.legs_m, springs, carriers=("rigid", "flexible"))
    force = np.array([[vertical_kN], *(vertical_kN * place_m)[:, None]])
    pulled = bilateral_kN(supports["flexible" if flexible else "rigid"], force)[:, 0]
    lifted = [n for n, r in zip(LEG_NAMES, pulled, strict=True) if r < -1e-9 * vertical_kN]
    if not flexible and not lifted:
        return ""
    for n in LEG_NAMES:  # forces on the four outriggers that balance one another
        p, q, r = (other for other in LEG_NAMES if other != n)
        area = f"(x_{q} - x_{p}) * (y_{r} - y_{p}) - (x_{r} - x_{p}) * (y_{q} - y_{p})"
        c.step(f"n_{n}", f"pattern of forces that balances itself, at outrigger {n}",
               area if n in ("FL", "RR") else f"-({area})", "m²", PLANE)  # fmt: skip
    parts = ["t_f"] if flexible else []
    if flexible:
        c.step("A_f", "side moment of the front outriggers for each unit of the pattern",
               "n_FL * y_FL + n_FR * y_FR", "m³", STATICS)  # fmt: skip
        c.step("p_f", "share of the side moment that the front takes",
               "-(x_RR + x_RL) / (x_FL + x_FR - x_RR - x_RL)", "",
               "carrier free to twist, by its lengths", digits=6)  # fmt: skip
        c.step("t_f", "step of a carrier free to twist",
               "-(B_FL * y_FL + B_FR * y_FR - p_f * V * y_P) / A_f", "kN/m²", STATICS,
               digits=6)  # fmt: skip
    if lifted:
        steps = np.where(pulled < 0, np.abs(pulled / supports["rigid"].pattern[:, 0]), 0.0)
        worst = LEG_NAMES[int(steps.argmax())]  # at which the step along the pattern ends
        lift = f"(B_{worst} + t_f * n_{worst})" if flexible else f"B_{worst}"
        c.note("An outrigger would have to pull", f"outrigger {worst} clear of the ground", "",
               "contact: the ground does not pull")  # fmt: skip
        c.step("t_c", "step that keeps every outrigger from pulling", f"-{lift} / n_{worst}",
               "kN/m²", STATICS, digits=6)  # fmt: skip
        parts.append("t_c")
    return f" + ({' + '.join(parts)}) * n_#"


def _end_row(
    c: Calculation, setup: Setup, state: ForceState, name: str, *, meaning: str, unit: str,
    suffix: str,
) -> str:  # fmt: skip

    def reaction(n: str) -> str:
        return f"(B_{n}{suffix.replace('#', n)})" if suffix else f"B_{n}"

    if state.place >= 8:
        a, b = ("FL", "FR") if state.place == 8 else ("RR", "RL")
        expression = f"abs({reaction(a)} * y_{a} + {reaction(b)} * y_{b})"
    else:
        n = LEG_NAMES[state.place % 4]
        expression = reaction(n)
        if state.place >= 4:
            c.given("b_c", "width of the carrier", setup.machine.carrier.width_m, "m", MACHINE)
            expression = f"{expression} * max(abs(y_{n}) - b_c / 2, 0)"
    c.step(name, meaning, expression, unit, STATICS, value=state.value)
    return name
