"""The printed calculation of the load's clearance from the crane that lifts it.

Source: plane geometry, as in :mod:`liftcalc.lift.own_clearance`.
"""

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_bodies import (
    corner_drop_steps,
    dip_given,
    head_steps,
    load_reach_steps,
    out_of_level,
    pendulum_steps,
    step_steps,
)
from liftcalc.lift.calculation_place import MACHINE, PLANE
from liftcalc.lift.own_clearance import own_boxes
from liftcalc.lift.setup import Setup

_FACETS = 16


def _swung(calc: Calculation, assessed: LiftAssessment, step: int) -> None:
    """How far any point of load or beam moves as a pendulum and out of level."""
    setup, own = assessed.setup, assessed.surroundings.own
    head_steps(calc, assessed, step)
    pendulum_steps(calc, assessed)
    out_of_level(calc, setup)
    dip_given(calc, setup)
    load_reach_steps(calc, setup)
    reach = "R_o"
    if setup.hung.beam_reach_m > 0:
        _beam_reach(calc, setup)
        reach = "max(R_o, R_m)"
    calc.step("h_c", "boom head above the load's lowest corner", "h_b + o_d", "m.4", "sum",
              value=float(own.deep_m[step]))  # fmt: skip
    calc.step("g_p", "movement of the farthest point as a pendulum and out of level",
              f"2 * sqrt({reach} ** 2 + h_c ** 2) * sin(psi_p / 2) + t_p / 100 * h_c", "m.4",
              "chord of its circle about the boom head",
              value=float(own.swung_m[step]))  # fmt: skip


def _beam_reach(calc: Calculation, setup: Setup) -> None:
    calc.given("R_m", "farthest point of the beam from the hoist line", setup.hung.beam_reach_m,
               "m.4", "over the error of the centre of gravity, table of hook height and attitude")  # fmt: skip


def _limit(calc: Calculation, setup: Setup, check: Check) -> None:
    calc.given("d_0", "minimum clearance", check.limit or 0.0, "m",
               f"{setup.rules.clearance.reference}: load and rigging")  # fmt: skip
    calc.reaches(check, "d", "d_0")


def own_boom_steps(calc: Calculation, assessed: LiftAssessment, check: Check) -> None:
    """Upper corner of load or beam, on the boom's side, square to the boom's axis."""
    setup, own, hung = assessed.setup, assessed.surroundings.own, assessed.setup.hung
    step = int(np.argmin(np.maximum(own.to_boom_m - own.swung_m, 0.0)))
    step_steps(calc, assessed, step)
    _swung(calc, assessed, step)
    boom = setup.machine.boom
    calc.given("b_w", "width of the boom's section", boom.width_m, "m", MACHINE)
    calc.given("b_d", "depth of the boom's section", boom.depth_m, "m", MACHINE)
    calc.given("o_h", "height of the load", setup.lift.load.height_m, "m", "lift list")
    calc.given("o_u", "highest corner above the load's top as it tilts", hung.rise_m, "m.4",
               "over the error of the centre of gravity, table of hook height and attitude")  # fmt: skip
    corners = [("R_o", "o_h + o_u", "load")]
    if hung.beam_reach_m > 0:
        calc.given("o_b", "highest end of the beam above the load's planned underside",
                   hung.beam_top_m, "m.4", "table of hook height and attitude")  # fmt: skip
        corners.append(("R_m", "o_b", "beam"))
    plan, rise = "(r - u_f - {} / cos({}))", "(Z - Z_0 + {} - z_f)"
    exact, found = float(own.to_boom_m[step]), False
    for reach, top, what in corners:
        along, up = plan.format(reach, 180.0 / _FACETS), rise.format(top)
        square = f"{along} * sin(alpha_c) - {up} * cos(alpha_c)"
        expression = f"max({square} - sqrt(b_w ** 2 + b_d ** 2) / 2, 0)"
        if not found and abs(calc.probe(expression) - exact) < 1e-6:
            found = True
            calc.step(
                "D_n", "distance of the nearest points", expression, "m.4",
                f"upper corner of the {what} toward the boom, square to the boom's axis, less half "
                "the diagonal of its section", value=exact,
            )  # fmt: skip
    if not found:
        calc.given("D_n", "distance of the nearest points", exact, "m.4",
                   "load from the boom's axis, less half the diagonal of its section; found by "
                   "search")  # fmt: skip
    calc.step("d", "clearance", "max(D_n - g_p, 0)", "m.4", "no point comes nearer than it moves")
    _limit(calc, setup, check)


def own_carrier_steps(calc: Calculation, assessed: LiftAssessment, check: Check) -> None:
    """Hoist line from the box of carrier or outrigger, less reach and movement; and above it."""
    setup, own = assessed.setup, assessed.surroundings.own
    step = int(np.argmin(own.carrier_m.min(axis=(0, 1))))
    box, part = (int(k) for k in np.unravel_index(
        int(np.argmin(own.carrier_m[:, :, step])), own.carrier_m.shape[:2]))  # fmt: skip
    step_steps(calc, assessed, step)
    _swung(calc, assessed, step)
    low, high = own_boxes(setup)[box]
    name = "carrier" if box == 0 else f"outrigger {setup.machine.legs[box - 1].name}"
    source = f"{name}, machine data" + (" and layout, with its float" if box else "")
    for k, axis, way in ((0, "x", "forward of"), (1, "y", "left of")):
        for side, values, word in (("i", low, "lower"), ("j", high, "upper")):
            edge = f"{word} edge of that part of the crane, {way} the slew centre"
            calc.given(f"{axis}_{side}", edge, float(values[k]), "m", source)
    calc.step("P_c", "hoist line to that part of the crane, in plan",
              "sqrt(max(x_i - r * cos(s), r * cos(s) - x_j, 0) ** 2 "
              "+ max(y_i - r * sin(s), r * sin(s) - y_j, 0) ** 2)", "m.4", PLANE)  # fmt: skip
    still = bool(box and own.still[step])
    reach, under = ("R_o", "load") if part == 0 else ("max(R_o, R_m)", "beam slings")
    why = "the load is guided clear of the outriggers" if still else "reach and pendulum"
    calc.step("P_n", "free distance in plan", f"max(P_c - {reach}{'' if still else ' - g_p'}, 0)",
              "m.4", why)  # fmt: skip
    what, low = f"lowest point of the {under} above the crane's ground level", own.parts[part][1]
    if part == 0:
        corner_drop_steps(calc)
        calc.step("h_n", what, "Z - Z_0 - o_d - o_p", "m.4",
                  "underside on the load path, less tilt and pendulum",
                  value=float(low[step]))  # fmt: skip
    else:
        calc.given("h_n", what, float(low[step]), "m.4",
                   "lower ends of the slings on the load path, less tilt and pendulum")  # fmt: skip
    calc.given("h_m", "height of the carrier", setup.shape.carrier_top_m, "m", MACHINE)
    calc.step("d", "clearance", "sqrt(P_n ** 2 + max(h_n - h_m, 0) ** 2)", "m.4", PLANE,
              value=float(own.carrier_m[box, part, step]))  # fmt: skip
    _limit(calc, setup, check)
