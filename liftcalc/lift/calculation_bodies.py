"""The printed calculation of what moves, for clearances: hoist line, reach, underside, boom.

Contents: :func:`step_steps` (slew, radius, head), :func:`hoist_line_steps`, :func:`pendulum_steps`,
:func:`load_reach_steps`, :func:`reach_steps`, :func:`underside_steps`, :func:`boom_steps`,
:func:`outline_note`.

Source: plane geometry, as in :mod:`liftcalc.clearance.hung` and
:mod:`liftcalc.clearance.boom_bodies`.
"""

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.clearance.bodies import MovingMember, MovingPrism
from liftcalc.clearance.boom_bodies import PARTS, largest_bow
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_hook import deflected_rows
from liftcalc.lift.calculation_place import LIFT_LIST, MACHINE, PLANE, at_step, level_row, turned
from liftcalc.lift.setup import Setup

Body = MovingMember | MovingPrism
_ERROR = "over the error of the centre of gravity, table of hook height and attitude"


def step_steps(calc: Calculation, assessed: LiftAssessment, step: int) -> None:
    """Slew and radius at a step of the path for clearances."""
    path = assessed.surroundings.close.path
    if path.stage[step] != "load off":
        at_step(calc, assessed.setup, path, step)
        return
    n = 1 if 2 * step < len(path) else 2
    turned(calc, "s", "slew angle at this step", f"s_{n}", float(path.slew_deg[step]))
    calc.step("r", "radius at this step", f"r_{n}", "m", "load path",
              value=float(path.radius_m[step]))  # fmt: skip


def head_steps(calc: Calculation, assessed: LiftAssessment, step: int) -> None:
    """Height of the deflected boom head, and level of the load's underside."""
    path = assessed.surroundings.close.path
    deflected_rows(calc, assessed.setup, path, step)
    level_row(calc, assessed.setup, path, step)
    calc.step("h_b", "boom head above the load's planned underside", "h_d - (Z - Z_0)", "m.4",
              "heights on the hoist line")  # fmt: skip


def hoist_line_steps(calc: Calculation, setup: Setup) -> None:
    """Easting and northing of the hoist line."""
    for name, what, zero, turn in (
        ("x_h", "easting", "E_0", "cos"),
        ("y_h", "northing", "N_0", "sin"),
    ):
        calc.step(name, f"{what} of the hoist line", f"{zero} + r * {turn}(H + s)", "m.4", PLANE)


def out_of_level(calc: Calculation, setup: Setup) -> None:
    """How far out of level is counted."""
    calc.given("t_p", "out of level counted, toward the worst side", setup.tilt_any_percent, "%",
               "permitted on the site card, or stated where that is more")  # fmt: skip


def pendulum_steps(calc: Calculation, assessed: LiftAssessment) -> None:
    """Angle of the hoist rope as a pendulum: wind and slewing the same way."""
    total = assessed.surroundings.given[2].swing_deg
    checks = {c.id: c for c in assessed.lift}
    parts = [("psi_w", "wind-side-pull", "wind"), ("psi_s", "slew-side-pull", "slewing")]
    shown = [(name, checks[id].value, why) for name, id, why in parts if id in checks]
    values = [v for _, v, _ in shown if v is not None]
    meaning = "angle of the hoist rope as a pendulum, any way"
    if len(values) == len(shown) and abs(sum(values) - total) < 1e-9:
        for name, value, why in shown:
            calc.given(name, f"maximum angle of the hoist rope by {why}", value or 0.0, "°.4",
                       "check of this sheet")  # fmt: skip
        calc.step("psi_p", meaning, " + ".join(n for n, _, _ in shown), "°.4",
                  "wind and slewing may push the same way", value=total)  # fmt: skip
    else:
        calc.given("psi_p", meaning, total, "°.4",
                   "by wind at the highest boom head and by slewing, added")  # fmt: skip


def load_reach_steps(calc: Calculation, setup: Setup) -> None:
    """Farthest corner of the load from the hoist line, turned to any angle."""
    load, hung = setup.lift.load, setup.hung
    calc.given("o_l", "length of the load", load.length_m, "m", LIFT_LIST)
    calc.given("o_w", "width of the load", load.width_m, "m", LIFT_LIST)
    hangs = "as the load hangs, centre of gravity as stated"
    for axis, way, value in (
        ("x", "along it", hung.middle_x_m),
        ("y", "across it", hung.middle_y_m),
    ):
        calc.given(f"o_{axis}", f"middle of the load from the hoist line, {way}", value, "m.4",
                   hangs)  # fmt: skip
    calc.given("o_t", "corner farther out as the load tilts", hung.lean_m, "m.4", _ERROR)
    calc.step("R_o", "farthest corner of the load from the hoist line, turned to any angle",
              "sqrt((o_l / 2 + abs(o_x)) ** 2 + (o_w / 2 + abs(o_y)) ** 2) + o_t", "m.4", PLANE,
              value=hung.reach_m)  # fmt: skip


def dip_given(calc: Calculation, setup: Setup) -> None:
    """How far the load's lowest corner hangs below its planned underside by tilt."""
    calc.given("o_d", "lowest corner below the planned underside as the load tilts",
               setup.hung.dip_m, "m.4", _ERROR)  # fmt: skip


def reach_steps(calc: Calculation, assessed: LiftAssessment, body: Body, step: int) -> None:
    """Reach R_p of what hangs, in plan from the hoist line: outline, pendulum, out of level."""
    setup, hung = assessed.setup, assessed.setup.hung
    head_steps(calc, assessed, step)
    pendulum_steps(calc, assessed)
    out_of_level(calc, setup)
    dip_given(calc, setup)
    swung, level = "(h_b + o_d) * tan(psi_p)", " + t_p / 100 * h_d"
    source = "outline, pendulum at the load's depth, boom head out of level"
    if body.name == "hook block":
        calc.given("b_k", "half width of the hook block", hung.block_half_width_m, "m", MACHINE)
        own = "b_k"
    elif body.name == "hoist rope":
        calc.given("b_r", "half width of the hoist rope", setup.shape.rope_half_width_m, "m",
                   "rope bundle, our own allowance")  # fmt: skip
        own, level = "b_r", " + t_p / 100 * sqrt(r ** 2 + h_d ** 2)"
    else:
        load_reach_steps(calc, setup)
        own = "R_o"
        if body.name == "rigging" and hung.beam_reach_m > 0:
            calc.given("R_m", "farthest point of the beam from the hoist line", hung.beam_reach_m,
                       "m.4", _ERROR)  # fmt: skip
            own = "max(R_o, R_m)"
    width = body.half_width_m if isinstance(body, MovingMember) else body.spread_m
    expression, exact = f"{own} + {swung}{level}", float(width[step])
    inward = exact - calc.probe(expression)
    if body.name == "hoist rope" and inward > 1e-9:
        calc.given("b_i", "hoist rope inclined to the boom head that springs up", inward, "m.4",
                   "load coming off; boom deflection (estimate)")  # fmt: skip
        expression += " + b_i"
    calc.step("R_p", "reach of the moving body, in plan", expression, "m.4", source, value=exact)


def corner_drop_steps(calc: Calculation, *, above: str = "h_b") -> None:
    """How much lower the load's lowest corner comes as a pendulum.

    *above* is the symbol of the boom head above the load's planned underside.
    """
    what = "boom head above the load's lowest corner"
    calc.step("h_c", what, f"{above} + o_d", "m.4", "sum")
    calc.step("psi_c", "angle of the pendulum at which a corner is lowest",
              "min(psi_p, atan2(R_o, h_c))", "°.4",
              "derivative of the pendulum's drop")  # fmt: skip
    calc.step("o_p", "lowest corner still lower as a pendulum",
              "R_o * sin(psi_c) - h_c * (1 - cos(psi_c))", "m.4", PLANE)  # fmt: skip


def underside_steps(calc: Calculation, assessed: LiftAssessment, step: int, level_m: float) -> None:
    """Level z_1 of the load's lowest corner: tilt, pendulum, out of level."""
    corner_drop_steps(calc)
    calc.step("z_1", "level of the nearest point of the moving body",
              "Z - o_d - o_p - t_p / 100 * r", "m.4",
              "underside, less tilt of the load, pendulum and crane out of level",
              value=level_m)  # fmt: skip


def boom_steps(
    calc: Calculation, assessed: LiftAssessment, body: Body, step: int, axis_m: FloatArray
) -> None:
    """Nearest point of the boom's axis, and how wide the boom is taken about it."""
    setup, close = assessed.setup, assessed.surroundings.close
    boom, bodies = setup.machine.boom, assessed.surroundings.close_bodies
    assert isinstance(body, MovingMember)
    part = [b for b in bodies if b.name == "boom"].index(body)
    calc.given("b_w", "width of the boom's section", boom.width_m, "m", MACHINE)
    calc.given("b_d", "depth of the boom's section", boom.depth_m, "m", MACHINE)
    tip, _, _ = close.bend.eased(close.eased)
    calc.given("delta_n", "deflection of the boom head at this step", float(tip[step]), "m.4",
               "beam tables (estimate)")  # fmt: skip
    calc.given("b_b", "bow of this part of the boom above its chord, share of the deflection",
               largest_bow(part), "", f"beam shape, part {part + 1} of {len(PARTS) - 1} from the "
               "foot")  # fmt: skip
    centre = np.array([setup.lift.stand.easting_m, setup.lift.stand.northing_m,
                       setup.lift.stand.level_m])  # fmt: skip
    ends = (body.start_m[step], body.end_m[step])
    farthest = max(float(np.linalg.norm(end - centre)) for end in ends)
    calc.given("L_n", "farther end of this part from the slew centre on the ground", farthest,
               "m.4", PLANE)  # fmt: skip
    out_of_level(calc, setup)
    calc.step("R_a", "reach of the moving body, about the boom's axis",
              "sqrt(b_w ** 2 + b_d ** 2) / 2 + b_b * delta_n / 2 + t_p / 100 * L_n", "m.4",
              "half diagonal of the section, half the bow, crane out of level",
              value=float(body.half_width_m[step]))  # fmt: skip
    for name, what, value in zip("xyz", ("easting", "northing", "level"), axis_m, strict=True):
        calc.given(f"{name}_4", f"{what} of the nearest point of the boom's axis", float(value),
                   "m.4", "deflected boom at this step")  # fmt: skip


def outline_note(assessed: LiftAssessment, body: str) -> str:
    """On which outline the nearest point of tail or carrier lies."""
    setup = assessed.setup
    tail = f"tail radius {setup.shape.tail_radius_m:.3f} m" if "tail" in body else "machine data"
    return (
        f"outline of the {body}, {tail}, spread by {setup.tilt_any_percent:g} % out of level; "
        "found by search"
    )
