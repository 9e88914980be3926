"""The printed calculation of what moves, for clearances: hoist line, reach, underside, boom.

With the load's clearance from the crane that lifts it.

Source: plane geometry, as in :mod:`liftcalc.clearance.crane_bodies`,
:mod:`liftcalc.clearance.bodies` and :mod:`liftcalc.lift.surroundings`.
"""

from collections.abc import Sequence

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check
from liftcalc.clearance.bodies import PARTS, MovingMember, MovingPrism, largest_bow
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_hook import deflected_rows
from liftcalc.lift.calculation_place import PLANE, at_step, level_row, turned
from liftcalc.lift.calculation_stability import tilt_rows
from liftcalc.lift.setup import Setup
from liftcalc.lift.surroundings import own_boxes

Body = MovingMember | MovingPrism


def step_steps(c: Calculation, a: LiftAssessment, step: int) -> None:
    """Slew and radius at a step of the path for clearances."""
    path = a.surroundings.close.path
    if path.stage[step] != "load off":
        at_step(c, a.setup, path, step)
        return
    n = 1 if 2 * step < len(path) else 2
    turned(c, "s", f"s_{n}", float(path.slew_deg[step]))
    c.work("r", f"r_{n}", value=float(path.radius_m[step]))


def moved_steps(c: Calculation, a: LiftAssessment, step: int) -> None:
    """Head above the load's underside, pendulum, out of level, and the load's tilt."""
    path = a.surroundings.close.path
    deflected_rows(c, a.setup, path, step)
    level_row(c, a.setup, path, step)
    c.steps("h_b")
    pendulum_steps(c, a)
    tilt_rows(c, a.setup)
    dip_given(c, a.setup)


def pendulum_steps(c: Calculation, a: LiftAssessment) -> None:
    """Angle of the hoist rope as a pendulum: wind and slewing the same way."""
    total, values = a.surroundings.given[2].swing_deg, {one.id: one.value for one in a.lift}
    parts = {"psi_w": "wind-side-pull", "psi_s": "slew-side-pull"}
    shown = {name: values[id] for name, id in parts.items() if id in values}
    added = sum(np.nan if v is None else v for v in shown.values())
    if abs(added - total) < 1e-9:  # not where one of them is missing
        c.facts(**{name: value or 0.0 for name, value in shown.items()})
        c.work("psi_p", " + ".join(shown), value=total)
    else:
        c.facts("by wind at the highest boom head and by slewing, added", psi_p=total)


def load_reach_steps(c: Calculation, setup: Setup, *, beam: bool = False) -> str:
    """Farthest corner of the load from the hoist line, turned to any angle; the reach as an
    expression, with the farthest point of the beam where *beam* is wanted and there is one.
    """
    load, hung = setup.lift.load, setup.hung
    c.facts(o_l=load.length_m, o_w=load.width_m)
    c.facts(o_x=hung.middle_x_m, o_y=hung.middle_y_m, o_t=hung.lean_m)
    c.steps("R_o", R_o=hung.reach_m)
    if not beam or hung.beam_reach_m <= 0:
        return "R_o"
    c.facts(R_m=hung.beam_reach_m)
    return "max(R_o, R_m)"


def dip_given(c: Calculation, setup: Setup) -> None:
    """How far the load's lowest corner hangs below its planned underside by tilt."""
    c.facts(o_d=setup.hung.dip_m)


def section_given(c: Calculation, setup: Setup) -> None:
    boom = setup.machine.boom
    c.facts(b_w=boom.width_m, b_d=boom.depth_m)


def half_width_m(body: Body, step: int) -> float:
    """How wide a body is taken about its outline or axis at a step."""
    return float((body.half_width_m if isinstance(body, MovingMember) else body.spread_m)[step])


def point_given(c: Calculation, n: int, axes: str, point_m: Sequence[float] | FloatArray,
                source: str) -> None:  # fmt: skip
    """Coordinates *axes* of the nearest point *n*."""
    c.facts(source, **{f"{axis}_{n}": float(point_m["xyz".index(axis)]) for axis in axes})


def reach_steps(c: Calculation, a: LiftAssessment, body: Body, step: int) -> None:
    """Hoist line, and reach R_p of what hangs from it in plan: outline, pendulum, out of level."""
    setup, exact = a.setup, half_width_m(body, step)
    c.steps("x_h y_h")
    moved_steps(c, a, step)
    level = " + t_p / 100 * h_d"
    if body.name == "hook block":
        own = "b_k"
        c.facts(b_k=setup.hung.block_half_width_m)
    elif body.name == "hoist rope":
        own = "b_r"
        c.facts(b_r=setup.shape.rope_half_width_m)
        level = " + t_p / 100 * sqrt(r ** 2 + h_d ** 2)"
    else:
        own = load_reach_steps(c, setup, beam=body.name == "rigging")
    expression = f"{own} + (h_b + o_d) * tan(psi_p){level}"
    inward = exact - c.probe(expression)
    if body.name == "hoist rope" and inward > 1e-9:
        c.facts(b_i=inward)
        expression += " + b_i"
    c.work("R_p", expression, value=exact)


def corner_drop_steps(c: Calculation, *, above: str = "h_b") -> None:
    """How much lower the load's lowest corner comes as a pendulum.

    *above* is the symbol of the boom head above the load's planned underside.
    """
    c.work("h_c", f"{above} + o_d")
    c.steps("psi_c o_p")


def underside_steps(c: Calculation, level_m: float) -> None:
    """Level z_1 of the load's lowest corner: tilt, pendulum, out of level."""
    corner_drop_steps(c)
    c.steps("z_1", z_1=level_m)


def boom_steps(c: Calculation, a: LiftAssessment, body: Body, step: int,
               axis_m: FloatArray) -> None:  # fmt: skip
    """Nearest point of the boom's axis, and how wide the boom is taken about it."""
    setup, close, stand = a.setup, a.surroundings.close, a.setup.lift.stand
    assert isinstance(body, MovingMember)
    part = [b for b in a.surroundings.close_bodies if b.name == "boom"].index(body)
    section_given(c, setup)
    c.facts(delta_n=float(close.bend.eased(close.eased)[0][step]))
    c.facts(f"beam shape, part {part + 1} of {len(PARTS) - 1} from the foot", b_b=largest_bow(part))
    centre = np.array([stand.easting_m, stand.northing_m, stand.level_m])
    ends = np.stack([body.start_m[step], body.end_m[step]]) - centre
    c.facts(L_n=float(np.linalg.norm(ends, axis=1).max()))
    tilt_rows(c, setup)
    c.steps("R_a", R_a=float(body.half_width_m[step]))
    point_given(c, 4, "xyz", axis_m, "deflected boom at this step")


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
    c.steps("h_c", h_c=float(own.deep_m[step]))
    chord = f"2 * sqrt({reach} ** 2 + h_c ** 2) * sin(psi_p / 2) + t_p / 100 * h_c"
    c.work("g_p", chord, value=float(own.swung_m[step]))


def _ends(c: Calculation, setup: Setup, check: Check) -> None:
    c.ends(check, "d", "d_0", f"{setup.rules.clearance.reference}: load and rigging")


def own_boom_steps(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """Upper corner of load or beam, on the boom's side, square to the boom's axis."""
    setup, own, hung = a.setup, a.surroundings.own, a.setup.hung
    step = int(np.argmin(np.maximum(own.to_boom_m - own.swung_m, 0.0)))
    _swung(c, a, step)
    section_given(c, setup)
    c.facts(o_h=setup.lift.load.height_m, o_u=hung.rise_m)
    corners = [("R_o", "o_h + o_u", "load")]
    if hung.beam_reach_m > 0:
        c.facts(o_b=hung.beam_top_m)
        corners.append(("R_m", "o_b", "beam"))
    exact, diagonal = float(own.to_boom_m[step]), "sqrt(b_w ** 2 + b_d ** 2) / 2"
    for reach, top, body in corners:
        along = f"(r - u_f - {reach} / cos({180.0 / _FACETS})) * sin(alpha_c)"
        expression = f"max({along} - (Z - Z_0 + {top} - z_f) * cos(alpha_c) - {diagonal}, 0)"
        if abs(c.probe(expression) - exact) < 1e-6:
            source = f"upper corner of the {body} toward the boom, square to the boom's axis, less "
            source += "half the diagonal of its section"
            c.work("D_n", expression, source, value=exact)
            break
    else:
        c.facts(D_n=exact)
    c.steps("d")
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
    c.facts(source, x_i=float(low[0]), x_j=float(high[0]), y_i=float(low[1]), y_j=float(high[1]))
    c.steps("P_c")
    still = bool(box and own.still[step])
    reach = "R_o" if part == 0 else "max(R_o, R_m)"
    why = "the load is guided clear of the outriggers" if still else "reach and pendulum"
    free = f"max(P_c - {reach}{'' if still else ' - g_p'}, 0)"
    c.work("P_n", free, why)
    lowest = float(own.parts[part][1][step])
    if part == 0:
        corner_drop_steps(c)
        c.steps("h_n", h_n=lowest)
    else:
        c.facts(h_n_beam=lowest)
    c.facts(h_m=setup.shape.carrier_top_m)
    nearest = float(own.carrier_m[box, part, step])
    c.work("d", "sqrt(P_n ** 2 + max(h_n - h_m, 0) ** 2)", PLANE, value=nearest)
    _ends(c, setup, check)
