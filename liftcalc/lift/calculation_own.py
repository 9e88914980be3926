"""The printed calculation of the load's clearance from the crane that lifts it.

Source: plane geometry, as in :mod:`liftcalc.lift.own_clearance`.
"""

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_bodies import (
    TILTED,
    corner_drop_steps,
    load_reach_steps,
    moved_steps,
    section_given,
    step_steps,
)
from liftcalc.lift.calculation_place import LIFT_LIST, MACHINE, PLANE
from liftcalc.lift.own_clearance import own_boxes
from liftcalc.lift.setup import Setup

_FACETS = 16


def _swung(c: Calculation, a: LiftAssessment, step: int) -> None:
    """How far any point of load or beam moves as a pendulum and out of level."""
    own = a.surroundings.own
    step_steps(c, a, step)
    moved_steps(c, a, step)
    reach = load_reach_steps(c, a.setup, beam=True)
    what = "boom head above the load's lowest corner"
    c.step("h_c", what, "h_b + o_d", "m.4", "sum", value=float(own.deep_m[step]))
    c.step("g_p", "movement of the farthest point as a pendulum and out of level",
           f"2 * sqrt({reach} ** 2 + h_c ** 2) * sin(psi_p / 2) + t_p / 100 * h_c", "m.4",
           "chord of its circle about the boom head", value=float(own.swung_m[step]))  # fmt: skip


def _ends(c: Calculation, setup: Setup, check: Check) -> None:
    source = f"{setup.rules.clearance.reference}: load and rigging"
    c.ends(check, "d", "d_0", "minimum clearance", "m", source)


def own_boom_steps(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Upper corner of load or beam, on the boom's side, square to the boom's axis."""
    setup, own, hung = a.setup, a.surroundings.own, a.setup.hung
    step = int(np.argmin(np.maximum(own.to_boom_m - own.swung_m, 0.0)))
    _swung(c, a, step)
    section_given(c, setup)
    c.given("o_h", "height of the load", setup.lift.load.height_m, "m", LIFT_LIST)
    what = "highest corner above the load's top as it tilts"
    c.given("o_u", what, hung.rise_m, "m.4", TILTED)
    corners = [("R_o", "o_h + o_u", "load")]
    if hung.beam_reach_m > 0:
        what = "highest end of the beam above the load's planned underside"
        c.given("o_b", what, hung.beam_top_m, "m.4", "table of hook height and attitude")
        corners.append(("R_m", "o_b", "beam"))
    exact, diagonal = float(own.to_boom_m[step]), "sqrt(b_w ** 2 + b_d ** 2) / 2"
    what = "distance of the nearest points"
    for reach, top, body in corners:
        along = f"(r - u_f - {reach} / cos({180.0 / _FACETS})) * sin(alpha_c)"
        expression = f"max({along} - (Z - Z_0 + {top} - z_f) * cos(alpha_c) - {diagonal}, 0)"
        if abs(c.probe(expression) - exact) < 1e-6:
            source = f"upper corner of the {body} toward the boom, square to the boom's axis, less "
            source += "half the diagonal of its section"
            c.step("D_n", what, expression, "m.4", source, value=exact)
            break
    else:
        source = "load from the boom's axis, less half the diagonal of its section; found by search"
        c.given("D_n", what, exact, "m.4", source)
    c.step("d", "clearance", "max(D_n - g_p, 0)", "m.4", "no point comes nearer than it moves")
    _ends(c, setup, check)


def own_carrier_steps(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Hoist line from the box of carrier or outrigger, less reach and movement; and above it."""
    setup, own = a.setup, a.surroundings.own
    step = int(np.argmin(own.carrier_m.min(axis=(0, 1))))
    at_step = own.carrier_m[:, :, step]
    box, part = (int(k) for k in np.unravel_index(int(np.argmin(at_step)), at_step.shape))
    _swung(c, a, step)
    low, high = own_boxes(setup)[box]
    name = "carrier" if box == 0 else f"outrigger {setup.machine.legs[box - 1].name}"
    source = f"{name}, machine data" + (" and layout, with its float" if box else "")
    for k, axis, way in ((0, "x", "forward of"), (1, "y", "left of")):
        for side, values, word in (("i", low, "lower"), ("j", high, "upper")):
            edge = f"{word} edge of that part of the crane, {way} the slew centre"
            c.given(f"{axis}_{side}", edge, float(values[k]), "m", source)
    c.step("P_c", "hoist line to that part of the crane, in plan",
           "sqrt(max(x_i - r * cos(s), r * cos(s) - x_j, 0) ** 2 "
           "+ max(y_i - r * sin(s), r * sin(s) - y_j, 0) ** 2)", "m.4", PLANE)  # fmt: skip
    still = bool(box and own.still[step])
    reach, under = ("R_o", "load") if part == 0 else ("max(R_o, R_m)", "beam slings")
    why = "the load is guided clear of the outriggers" if still else "reach and pendulum"
    free = f"max(P_c - {reach}{'' if still else ' - g_p'}, 0)"
    c.step("P_n", "free distance in plan", free, "m.4", why)
    what = f"lowest point of the {under} above the crane's ground level"
    lowest = float(own.parts[part][1][step])
    if part == 0:
        corner_drop_steps(c)
        source = "underside on the load path, less tilt and pendulum"
        c.step("h_n", what, "Z - Z_0 - o_d - o_p", "m.4", source, value=lowest)
    else:
        source = "lower ends of the slings on the load path, less tilt and pendulum"
        c.given("h_n", what, lowest, "m.4", source)
    c.given("h_m", "height of the carrier", setup.shape.carrier_top_m, "m", MACHINE)
    c.step("d", "clearance", "sqrt(P_n ** 2 + max(h_n - h_m, 0) ** 2)", "m.4", PLANE,
           value=float(own.carrier_m[box, part, step]))  # fmt: skip
    _ends(c, setup, check)
