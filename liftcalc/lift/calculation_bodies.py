"""The printed calculation of what moves, for clearances: hoist line, reach, underside, boom.

With the load's clearance from the crane that lifts it, and what moves above the surveyed ground:
the point, its level, the ground there.

Source: plane geometry, as in :mod:`liftcalc.clearance.crane_bodies`, :mod:`liftcalc.clearance.bodies`,
:mod:`liftcalc.lift.surroundings` and :mod:`liftcalc.lift.above_ground`.
"""

from collections.abc import Sequence

import numpy as np
from shapely.geometry import Point, Polygon

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check
from liftcalc.clearance.bodies import PARTS, MovingMember, MovingPrism, largest_bow
from liftcalc.lift.above_ground import AboveGround, above_ground
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_hook import deflected_rows
from liftcalc.lift.calculation_place import PLANE, at_step, boom_rows, level_row, turned
from liftcalc.lift.calculation_plan import level_rows
from liftcalc.lift.calculation_stability import tilt_rows
from liftcalc.lift.setup import Setup, to_site_m
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
    c.facts(o_d=a.setup.hung.dip_m)


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


def section_given(c: Calculation, setup: Setup) -> None:
    boom = setup.machine.boom
    c.facts(b_w=boom.width_m, b_d=boom.depth_m)


def half_width_m(body: Body, step: int) -> float:
    """How wide a body is taken about its outline or axis at a step."""
    return float((body.half_width_m if isinstance(body, MovingMember) else body.spread_m)[step])


def point_given(c: Calculation, n: int, axes: str, point_m: Sequence[float] | FloatArray, source: str) -> None:
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


def boom_steps(c: Calculation, a: LiftAssessment, body: Body, step: int, axis_m: FloatArray) -> None:
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


def above_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """The body's level at its worst point, less the ground there."""
    setup, path, boom = a.setup, a.path, a.study.boom
    one = next(b for b in above_ground(setup, path, boom) if b.id == check.id)
    step, n = one.worst
    at_step(c, setup, path, step)
    boom_rows(c, setup)
    level_row(c, setup, path, step)
    c.steps("x_h y_h")
    point = np.broadcast_to(one.points_m, (len(path), *one.points_m.shape[1:]))[step, n]
    east, north = to_site_m(point, setup.lift).tolist()
    low = float(np.broadcast_to(one.low_m, one.above_m.shape)[step, n])
    rows = {"load": _load_rows, "tail": _tail_rows, "boom": _boom_rows}[check.id.partition("-")[0]]
    rows(c, a, one, east=east, north=north, low=low)
    ground = low - float(one.above_m[step, n])
    _ground_rows(c, a, east, north=north, ground_m=ground)
    c.steps("k_g", k_g=low - ground)
    source = a.setup.rules.clearance.reference if check.id.startswith("boom") else ""
    c.ends(check, "k_g", "k_q", source, known=one.limit_m)


def _load_rows(c: Calculation, a: LiftAssessment, one: AboveGround, *, east: float, north: float, low: float) -> None:
    """The load's lowest corner anywhere within its reach; hoisted and lowered, its underside."""
    step, n = one.worst
    setup, path = a.setup, a.path
    if path.stage[step] in ("hoist", "lower"):
        c.work("E_g", "x_h", "below the hook", value=east)
        c.work("N_g", "y_h", "below the hook", value=north)
        c.work("Z_p", "Z", "planned underside over its own place", value=low)
        return
    c.steps("l_p")
    pendulum_steps(c, a)
    load_reach_steps(c, setup)
    c.facts(o_d=setup.hung.dip_m)
    share = 0.0 if n == 0 else 0.5 if n <= 16 else 1.0
    turn = ((n - 1) % 16) * 22.5 if n else 0.0
    c.facts(f_g=share, a_g=turn)
    c.steps("d_g E_g N_g", E_g=east, N_g=north)
    corner_drop_steps(c, above="l_p")
    c.steps("Z_p", Z_p=low)


def _tail_rows(c: Calculation, a: LiftAssessment, one: AboveGround, *, east: float, north: float, low: float) -> None:
    """A point of the tail's outline, and its underside."""
    _, n = one.worst
    outline = np.asarray(a.setup.shape.tail_outline_m)
    behind = np.concatenate([share * outline[outline[:, 0] < 0] for share in (1.0, 0.75, 0.5)])
    along, across = behind[n].tolist()
    c.facts(u_t=along, y_t=across)
    c.work("E_g", "E_0 + u_t * cos(H + s) - y_t * sin(H + s)", value=east)
    c.work("N_g", "N_0 + u_t * sin(H + s) + y_t * cos(H + s)", value=north)
    c.facts(z_t=a.setup.shape.tail_base_m)
    c.work("Z_p", "Z_0 + z_t", "heights", value=low)


def _boom_rows(c: Calculation, a: LiftAssessment, one: AboveGround, *, east: float, north: float, low: float) -> None:
    """A point of the straight boom's middle line, and its underside."""
    _, n = one.worst
    count = int(2.0 * a.setup.boom.length_m) + 2
    c.facts(j_b=n, n_b=count - 1)
    c.steps("u_g")
    c.work("E_g", "E_0 + u_g * cos(H + s)", value=east)
    c.work("N_g", "N_0 + u_g * sin(H + s)", value=north)
    section_given(c, a.setup)
    below = "Z_0 + z_f + (h_h - z_f) * j_b / n_b - sqrt(b_w ** 2 + b_d ** 2) / 2"
    c.work("Z_p", below, "underside of the straight boom", value=low)


def _ground_rows(c: Calculation, a: LiftAssessment, east: float, *, north: float, ground_m: float) -> None:
    """The surveyed ground at the point; in an excavation its lowest bottom."""
    site = a.setup.site
    pits = [p for p in site.excavations if Polygon(p.polygon).contains(Point(east, north))]
    if not pits:
        level_rows(c, a.setup, "Z_g", at="g", place="the point looked at", level_m=ground_m)
        return
    pit = pits[-1]
    c.facts(Z_s=min(s.level_m for s in site.levels))
    c.facts(f"survey, {pit.id}", h_p=pit.depth_m)
    c.steps("Z_g", Z_g=ground_m)
