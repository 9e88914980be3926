"""The printed calculation of what moves, for clearances: hoist line, reach, underside, boom.

With the load's clearance from the crane that lifts it.

Source: plane geometry, as in :mod:`liftcalc.clearance.hung`, :mod:`liftcalc.clearance.bodies`
and :mod:`liftcalc.lift.own_clearance`.
"""

from collections.abc import Sequence

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check
from liftcalc.clearance.bodies import PARTS, MovingMember, MovingPrism, largest_bow
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_hook import deflected_rows
from liftcalc.lift.calculation_place import LIFT_LIST, MACHINE, PLANE, at_step, level_row, turned
from liftcalc.lift.calculation_stability import tilt_rows
from liftcalc.lift.own_clearance import own_boxes
from liftcalc.lift.setup import Setup

Body = MovingMember | MovingPrism
TILTED = "over the error of the centre of gravity, table of hook height and attitude"


def step_steps(c: Calculation, a: LiftAssessment, step: int) -> None:
    """Slew and radius at a step of the path for clearances."""
    path = a.surroundings.close.path
    if path.stage[step] != "load off":
        at_step(c, a.setup, path, step)
        return
    n = 1 if 2 * step < len(path) else 2
    turned(c, "s", "slew angle at this step", f"s_{n}", float(path.slew_deg[step]))
    c.step("r", "radius at this step", f"r_{n}", "m", "load path", value=float(path.radius_m[step]))


def moved_steps(c: Calculation, a: LiftAssessment, step: int) -> None:
    """Head above the load's underside, pendulum, out of level, and the load's tilt."""
    path = a.surroundings.close.path
    deflected_rows(c, a.setup, path, step)
    level_row(c, a.setup, path, step)
    what = "boom head above the load's planned underside"
    c.step("h_b", what, "h_d - (Z - Z_0)", "m.4", "heights on the hoist line")
    pendulum_steps(c, a)
    tilt_rows(c, a.setup)
    dip_given(c, a.setup)


def hoist_line_steps(c: Calculation) -> None:
    c.step("x_h", "easting of the hoist line", "E_0 + r * cos(H + s)", "m.4", PLANE)
    c.step("y_h", "northing of the hoist line", "N_0 + r * sin(H + s)", "m.4", PLANE)


def pendulum_steps(c: Calculation, a: LiftAssessment) -> None:
    """Angle of the hoist rope as a pendulum: wind and slewing the same way."""
    total, values = a.surroundings.given[2].swing_deg, {one.id: one.value for one in a.lift}
    parts = [("psi_w", "wind-side-pull", "wind"), ("psi_s", "slew-side-pull", "slewing")]
    shown = [(name, values[id], why) for name, id, why in parts if id in values]
    meaning = "angle of the hoist rope as a pendulum, any way"
    added = sum(np.nan if v is None else v for _, v, _ in shown)
    if abs(added - total) < 1e-9:  # not where one of them is missing
        for name, value, why in shown:
            what = f"maximum angle of the hoist rope by {why}"
            c.given(name, what, value or 0.0, "°.4", "check of this sheet")
        source = "wind and slewing may push the same way"
        c.step("psi_p", meaning, " + ".join(n for n, _, _ in shown), "°.4", source, value=total)
    else:
        source = "by wind at the highest boom head and by slewing, added"
        c.given("psi_p", meaning, total, "°.4", source)


def load_reach_steps(c: Calculation, setup: Setup, *, beam: bool = False) -> str:
    """Farthest corner of the load from the hoist line, turned to any angle; the reach as an
    expression, with the farthest point of the beam where *beam* is wanted and there is one.
    """
    load, hung = setup.lift.load, setup.hung
    c.given("o_l", "length of the load", load.length_m, "m", LIFT_LIST)
    c.given("o_w", "width of the load", load.width_m, "m", LIFT_LIST)
    what = "middle of the load from the hoist line"
    hangs = "as the load hangs, centre of gravity as stated"
    c.given("o_x", f"{what}, along it", hung.middle_x_m, "m.4", hangs)
    c.given("o_y", f"{what}, across it", hung.middle_y_m, "m.4", hangs)
    c.given("o_t", "corner farther out as the load tilts", hung.lean_m, "m.4", TILTED)
    c.step("R_o", "farthest corner of the load from the hoist line, turned to any angle",
           "sqrt((o_l / 2 + abs(o_x)) ** 2 + (o_w / 2 + abs(o_y)) ** 2) + o_t", "m.4", PLANE,
           value=hung.reach_m)  # fmt: skip
    if not beam or hung.beam_reach_m <= 0:
        return "R_o"
    what = "farthest point of the beam from the hoist line"
    c.given("R_m", what, hung.beam_reach_m, "m.4", TILTED)
    return "max(R_o, R_m)"


def dip_given(c: Calculation, setup: Setup) -> None:
    """How far the load's lowest corner hangs below its planned underside by tilt."""
    what = "lowest corner below the planned underside as the load tilts"
    c.given("o_d", what, setup.hung.dip_m, "m.4", TILTED)


def section_given(c: Calculation, setup: Setup) -> None:
    boom = setup.machine.boom
    c.given("b_w", "width of the boom's section", boom.width_m, "m", MACHINE)
    c.given("b_d", "depth of the boom's section", boom.depth_m, "m", MACHINE)


def half_width_m(body: Body, step: int) -> float:
    """How wide a body is taken about its outline or axis at a step."""
    return float((body.half_width_m if isinstance(body, MovingMember) else body.spread_m)[step])


def point_given(c: Calculation, n: int, of: str, axes: str, point_m: Sequence[float] | FloatArray,
                source: str) -> None:  # fmt: skip
    """Coordinates *axes* of the nearest point *n*."""
    words = {"x": "easting", "y": "northing", "z": "level"}
    for axis in axes:
        what, value = f"{words[axis]} of the nearest point of {of}", point_m["xyz".index(axis)]
        c.given(f"{axis}_{n}", what, float(value), "m.4", source)


def reach_steps(c: Calculation, a: LiftAssessment, body: Body, step: int) -> None:
    """Hoist line, and reach R_p of what hangs from it in plan: outline, pendulum, out of level."""
    setup, exact = a.setup, half_width_m(body, step)
    hoist_line_steps(c)
    moved_steps(c, a, step)
    level = " + t_p / 100 * h_d"
    if body.name == "hook block":
        width, own = setup.hung.block_half_width_m, "b_k"
        c.given(own, "half width of the hook block", width, "m", MACHINE)
    elif body.name == "hoist rope":
        source, own = "rope bundle, our own allowance", "b_r"
        c.given(own, "half width of the hoist rope", setup.shape.rope_half_width_m, "m", source)
        level = " + t_p / 100 * sqrt(r ** 2 + h_d ** 2)"
    else:
        own = load_reach_steps(c, setup, beam=body.name == "rigging")
    expression = f"{own} + (h_b + o_d) * tan(psi_p){level}"
    inward = exact - c.probe(expression)
    if body.name == "hoist rope" and inward > 1e-9:
        what = "hoist rope inclined to the boom head that springs up"
        c.given("b_i", what, inward, "m.4", "load coming off; boom deflection (estimate)")
        expression += " + b_i"
    source = "outline, pendulum at the load's depth, boom head out of level"
    c.step("R_p", "reach of the moving body, in plan", expression, "m.4", source, value=exact)


def corner_drop_steps(c: Calculation, *, above: str = "h_b") -> None:
    """How much lower the load's lowest corner comes as a pendulum.

    *above* is the symbol of the boom head above the load's planned underside.
    """
    what = "boom head above the load's lowest corner"
    c.step("h_c", what, f"{above} + o_d", "m.4", "sum")
    what = "angle of the pendulum at which a corner is lowest"
    why = "derivative of the pendulum's drop"
    c.step("psi_c", what, "min(psi_p, atan2(R_o, h_c))", "°.4", why)
    what = "lowest corner still lower as a pendulum"
    c.step("o_p", what, "R_o * sin(psi_c) - h_c * (1 - cos(psi_c))", "m.4", PLANE)


def underside_steps(c: Calculation, level_m: float) -> None:
    """Level z_1 of the load's lowest corner: tilt, pendulum, out of level."""
    corner_drop_steps(c)
    source = "underside, less tilt of the load, pendulum and crane out of level"
    c.step("z_1", "level of the nearest point of the moving body", "Z - o_d - o_p - t_p / 100 * r",
           "m.4", source, value=level_m)  # fmt: skip


def boom_steps(c: Calculation, a: LiftAssessment, body: Body, step: int,
               axis_m: FloatArray) -> None:  # fmt: skip
    """Nearest point of the boom's axis, and how wide the boom is taken about it."""
    setup, close, stand = a.setup, a.surroundings.close, a.setup.lift.stand
    assert isinstance(body, MovingMember)
    part = [b for b in a.surroundings.close_bodies if b.name == "boom"].index(body)
    section_given(c, setup)
    tip, what = close.bend.eased(close.eased)[0], "deflection of the boom head at this step"
    c.given("delta_n", what, float(tip[step]), "m.4", "beam tables (estimate)")
    what = "bow of this part of the boom above its chord, share of the deflection"
    source = f"beam shape, part {part + 1} of {len(PARTS) - 1} from the foot"
    c.given("b_b", what, largest_bow(part), "", source)
    centre = np.array([stand.easting_m, stand.northing_m, stand.level_m])
    ends = np.stack([body.start_m[step], body.end_m[step]]) - centre
    what = "farther end of this part from the slew centre on the ground"
    c.given("L_n", what, float(np.linalg.norm(ends, axis=1).max()), "m.4", PLANE)
    tilt_rows(c, setup)
    c.step("R_a", "reach of the moving body, about the boom's axis",
           "sqrt(b_w ** 2 + b_d ** 2) / 2 + b_b * delta_n / 2 + t_p / 100 * L_n", "m.4",
           "half diagonal of the section, half the bow, crane out of level",
           value=float(body.half_width_m[step]))  # fmt: skip
    point_given(c, 4, "the boom's axis", "xyz", axis_m, "deflected boom at this step")


def outline_note(a: LiftAssessment, body: str) -> str:
    """On which outline the nearest point of tail or carrier lies."""
    setup = a.setup
    tail = f"tail radius {setup.shape.tail_radius_m:.3f} m" if "tail" in body else "machine data"
    spread = f"spread by {setup.tilt_any_percent:g} % out of level; found by search"
    return f"outline of the {body}, {tail}, {spread}"


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
