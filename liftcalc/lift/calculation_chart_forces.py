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
from liftcalc.lift.calculation_place import LIFT_LIST, STATICS, at_step
from liftcalc.lift.calculation_stability import machine_rows, tilt_rows
from liftcalc.lift.calculation_wind import force_rows, gust_rows
from liftcalc.lift.chart_forces import CASES, ChartForce, ForceState, chart_forces
from liftcalc.lift.setup import Setup, boom_states
from liftcalc.lift.wind_checks import wind_terms
from liftcalc.reactions.carrier import carrier_supports
from liftcalc.reactions.contact import bilateral_kN

LAST = {"chart-outrigger-force": "R_f", "chart-outrigger-beam": "M_b", "chart-carrier-twist": "M_x"}
"""Symbol of each maximum, to which "h" adds here and "c" on the base of the chart."""


def chart_force_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """What outriggers and carrier bear here, against their maximum on the base of the chart."""
    setup, study = a.setup, a.study
    one = next(f for f in chart_forces(setup, study) if f.id == check.id)
    c.note("Case that governs", CASES[one.here.case][0], "", STATICS)
    if not np.isfinite(one.here.value):
        c.note(check.title, "in this case the crane may tip: no maximum", check.words, STATICS)
        return
    at_step(c, setup, study.path, one.step)
    here = _side(c, setup, one, one.here, "h")
    c.note("The same on the base of the chart", one.table.chart_id, "", "maximum over its slews and rated radii")
    state, source = one.there, f"chart {one.table.chart_id}"
    c.facts(source, s=state.slew_deg % 360.0, r=state.radius_m)
    c.facts(f"{source}, boom {setup.boom.length_m:g} m", C_c=state.load_t)
    there = _side(c, setup, one, state, "c")
    if check.limit is None:
        c.note(check.title, "more than on the base of the chart", check.words, check.reference)
        return
    c.reaches(check, here, there)


def _side(c: Calculation, setup: Setup, one: ChartForce, state: ForceState, mark: str) -> str:
    """All rows of one of the two maxima; the symbol that they end at."""
    machine_rows(c, setup)
    moved = CASES[state.case][2]
    load = "Q" if mark == "h" else "C_c"
    why = "with the hoist factor" if moved else "still"
    c.work("W_f", f"phi_2 * {load}" if moved else load, why)
    vertical, place = _resultant_rows(c, setup, state, moved=moved)
    source = LIFT_LIST if mark == "h" else f"chart {one.table.chart_id}"
    for leg, (x, y) in zip(setup.machine.legs, state.legs_m.tolist(), strict=True):
        c.facts(x_of=x, of=leg.name)
        c.facts(source, y_of=y, of=leg.name)
        c.facts(k_of_chart_forces=leg.stiffness_kN_m, of=leg.name)
    suffix = _reaction_rows(c, setup, state, vertical, place)
    return _end_row(c, setup, state, f"{LAST[one.id]}{mark}", suffix)


def _resultant_rows(c: Calculation, setup: Setup, state: ForceState, *, moved: bool) -> tuple[float, FloatArray]:
    c.facts(g=G_M_S2)
    c.steps("M_f V U x_V y_V")
    if moved:
        _moved_rows(c, setup, state)
        c.work("x_P", "x_V + o_f * e_f * cos(psi)", STATICS)
        c.work("y_P", "y_V + o_f * e_f * sin(psi)", STATICS)
    else:
        c.steps("x_P y_P")
    return c.value("V") or 0.0, np.array([c.value("x_P"), c.value("y_P")])


def _moved_rows(c: Calculation, setup: Setup, state: ForceState) -> None:
    """The resultant moved by wind and tilt, all to one side."""
    boom = boom_states(setup.machine, setup.boom, np.array([state.radius_m]))
    gust_rows(c, setup, float(boom.head_z_m[0]))
    force_rows(c, setup, wind_terms(setup, boom))
    tilt_rows(c, setup)
    c.steps("h_f e_f")
    c.facts(psi=state.direction_deg, o_f=state.outward)


def _reaction_rows(c: Calculation, setup: Setup, state: ForceState, vertical_kN: float, place_m: FloatArray) -> str:
    """Reactions of a rigid plane, and the step along the pattern that balances itself.

    Returns the expression to add to a reaction "B_#", empty where there is no step.
    """
    c.steps("k_S x_S_springs y_S J_xx J_yy J_xy J_D w_x w_y")
    for n in LEG_NAMES:
        c.steps("B_of_chart_forces", of=n)
    flexible = CASES[state.case][1] == "flexible"
    springs = [leg.stiffness_kN_m for leg in setup.machine.legs]
    supports = carrier_supports(state.legs_m, springs, carriers=("rigid", "flexible"))
    force = np.array([[vertical_kN], *(vertical_kN * place_m)[:, None]])
    pulled = bilateral_kN(supports["flexible" if flexible else "rigid"], force)[:, 0]
    lifted = [n for n, r in zip(LEG_NAMES, pulled, strict=True) if r < -1e-9 * vertical_kN]
    if not flexible and not lifted:
        return ""
    c.steps("n_FL n_FR n_RR n_RL")  # forces on the four outriggers that balance one another
    parts = ["t_f"] if flexible else []
    if flexible:
        c.steps("A_f p_f t_f")
    if lifted:
        steps = np.where(pulled < 0, np.abs(pulled / supports["rigid"].pattern[:, 0]), 0.0)
        worst = LEG_NAMES[int(steps.argmax())]  # at which the step along the pattern ends
        lift = f"(B_{worst} + t_f * n_{worst})" if flexible else f"B_{worst}"
        c.note("An outrigger would have to pull", f"outrigger {worst} clear of the ground", "",
               "contact: the ground does not pull")  # fmt: skip
        c.work("t_c", f"-{lift} / n_{worst}")
        parts.append("t_c")
    return f" + ({' + '.join(parts)}) * n_#"


def _end_row(c: Calculation, setup: Setup, state: ForceState, name: str, suffix: str) -> str:
    def reaction(n: str) -> str:
        return f"(B_{n}{suffix.replace('#', n)})" if suffix else f"B_{n}"

    if state.place >= 8:
        a, b = ("FL", "FR") if state.place == 8 else ("RR", "RL")
        expression = f"abs({reaction(a)} * y_{a} + {reaction(b)} * y_{b})"
    else:
        n = LEG_NAMES[state.place % 4]
        expression = reaction(n)
        if state.place >= 4:
            c.facts(b_c=setup.machine.carrier.width_m)
            expression = f"{expression} * max(abs(y_{n}) - b_c / 2, 0)"
    c.work(name, expression, value=state.value)
    return name
