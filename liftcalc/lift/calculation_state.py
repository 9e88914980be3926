"""The calculation of where all weights meet the base, and how far wind and tilt move that point.

One state of the crane: slew, radius, and what hangs on the hook. Symbols: :class:`State` names the
facts; V, x_G, y_G and e are what :mod:`liftcalc.lift.calculation_legs` goes on with.

Sources: statics; plane trigonometry of a straight boom; wind: beside each row.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.units import G_M_S2
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_place import (
    LIFT_LIST,
    MACHINE,
    STATICS,
    at_step,
    boom_rows,
    masses_rows,
)
from liftcalc.lift.calculation_stability import tilt_rows
from liftcalc.lift.leg_forces import CIRCLE_SLEW_DEG, weight_on_base
from liftcalc.lift.setup import Setup, boom_states
from liftcalc.lift.wind_checks import SUPERSTRUCTURE_DRAG, wind_terms

_WIND = "ISO 4302 (from memory): F = q A c, wind square on the boom"
_BASIS = {"at 10 m mean": "10 minute mean at 10 m", "at boom head": "3 s gust at the boom head"}
_GUST = "EN 13001-2 / EN 13000 / FEM 5.016 (from memory)"


def sum_of(term: str, names: Sequence[str] = LEG_NAMES) -> str:
    """The sum of a term over outriggers, "#" being the name of each."""
    return " + ".join(term.replace("#", n) for n in names)


def spring_rows(c: Calculation, *, at: str, of: str, d: tuple[str, str], digits: int) -> None:
    """Sum, centre and second moments of the springs.

    *at* and *of* are the letters of centre and moments; *d*: symbol and meaning of the determinant.
    """
    c.step("k_S", "sum of the springs", sum_of("k_#"), "kN/m", "sum", digits=digits)
    for axis, what in (("x", "forward"), ("y", "to the left")):
        middle = f"({sum_of(f'k_# * {axis}_#')}) / k_S"
        c.step(f"{axis}_{at}", f"centre of the springs, {what}", middle, "m", STATICS,
               digits=5 - digits)  # fmt: skip
    x, y = f"(x_# - x_{at})", f"(y_# - y_{at})"
    for pair, term in (("xx", f"{x}**2"), ("yy", f"{y}**2"), ("xy", f"{x} * {y}")):
        what = f"second moment of the springs, {pair}"
        c.step(f"{of}_{pair}", what, sum_of(f"k_# * {term}"), "kNm", STATICS, digits=digits)
    c.step(*d, f"{of}_xx * {of}_yy - {of}_xy**2", "kN²m²", STATICS, digits=0)


@dataclass(frozen=True)
class State:
    """One state of the crane: with the load at a step of the path, or with the empty hook."""

    step: int | None
    """Of the load path; None with the empty hook."""
    slew_deg: float
    radius_m: float
    load_t: float
    where: str


def worst_state(a: LiftAssessment, leg: int) -> State:
    """The state in which an outrigger has its greatest reaction."""
    setup, forces = a.setup, a.forces
    if forces.on_path.max_kN[leg] >= forces.empty.max_kN[leg]:
        step, path = int(forces.on_path.max_state[leg]), forces.path
        load = float(setup.gross.dynamic_gross_t)
        slew, radius = float(path.slew_deg[step]), float(path.radius_m[step])
        return State(step, slew % 360.0, radius, load, path.describe(step))
    slew = float(CIRCLE_SLEW_DEG[int(forces.empty.max_state[leg])])
    radius = max(setup.boom.radius_min_m, 1e-3)
    block = setup.hook_block.mass_t
    return State(None, slew, radius, block, "empty hook, boom at its minimum radius")


def _place_rows(c: Calculation, a: LiftAssessment, state: State) -> None:
    """Slew and radius of the state, and the mass on the hook."""
    hook = ("Q_h", "what hangs on the hook")
    if state.step is not None:
        at_step(c, a.setup, a.path, state.step)
        c.step(*hook, "phi_2 * Q", "t", "EN 13001-2 / ISO 8686-1", value=state.load_t)
        return
    c.given("s", "slew angle at this step", state.slew_deg, "°", state.where)
    c.given("r", "radius at this step", state.radius_m, "m", state.where)
    c.given(*hook, state.load_t, "t", MACHINE, detail="hook block alone")


def wind_rows(c: Calculation, setup: Setup, state: State) -> str:
    """Forces of the planned wind and their heights; returns the expression of their moment."""
    boom = boom_states(setup.machine, setup.boom, np.array([state.radius_m]))
    terms, machine, lift = wind_terms(setup, boom), setup.machine, setup.lift
    mean = lift.wind_basis == "at 10 m mean"
    upper = machine.superstructure
    c.given("v_w", "planned wind", lift.wind_m_s, "m/s", f"{LIFT_LIST}, {_BASIS[lift.wind_basis]}")
    c.given("A_b", "sail area of the boom", setup.boom.sail_area_m2, "m²", MACHINE)
    c.given("c_b", "drag coefficient of the boom", machine.boom.drag_coefficient, "", MACHINE)
    force = ("F_wb", "wind force on the boom")
    height = ("z_wb", "height of the wind force on the boom")
    boom_force, boom_z = float(terms.boom_force_kN[0]), float(terms.boom_z_m[0])
    if mean:
        summed = f"{_WIND}; the gust at every height, {_GUST}, integrated over the boom"
        c.given(*force, boom_force, "kN", summed, digits=4)
        c.given(*height, boom_z, "m", summed)
    else:
        c.step(*force, "v_w**2 / 1600 * A_b * c_b", "kN", _WIND, value=boom_force, digits=4)
        c.step(*height, "z_f + L * sin(alpha) / 2", "m", "middle of the boom", value=boom_z)
    c.given("z_ws", "middle of the superstructure, height", terms.superstructure_z_m, "m", MACHINE)
    c.given("A_s", "sail area of the superstructure", upper.sail_area_m2, "m²", MACHINE)
    c.given("c_s", "drag coefficient of the superstructure", SUPERSTRUCTURE_DRAG, "", _WIND)

    def speed(z: str) -> str:
        return f"(v_w * ((max({z}, 10) / 10)**0.14 + 0.4))" if mean else "v_w"

    source = f"{_WIND}; gust: {_GUST}" if mean else _WIND
    on_upper = float(terms.superstructure_force_kN[0])
    c.step("F_ws", "wind force on the superstructure", f"{speed('z_ws')}**2 / 1600 * A_s * c_s",
           "kN", source, value=on_upper, digits=4)  # fmt: skip
    moment = "F_wb * z_wb + F_ws * z_ws"
    if state.step is None:
        return moment
    load = lift.load
    c.given("A_L", "sail area of the load", load.sail_area_m2, "m²", LIFT_LIST)
    c.given("c_D", "drag coefficient of the load", load.drag_coefficient, "", LIFT_LIST)
    c.step("F_wl", "wind force on the load", f"{speed('h_h')}**2 / 1600 * A_L * c_D", "kN", source,
           value=float(terms.load_force_kN[0]), digits=4)  # fmt: skip
    return f"{moment} + F_wl * h_h"


def resultant_rows(c: Calculation, a: LiftAssessment, state: State) -> tuple[FloatArray, float]:
    """V, x_G, y_G and e for one state; returns (V, V x_G, V y_G) [kN, kNm] and e [m]."""
    setup = a.setup
    vertical, centre, reach = weight_on_base(
        setup, [state.slew_deg], state.radius_m, load_t=state.load_t
    )
    c.note("State of the crane", state.where, "", "the one that presses this outrigger most")
    _place_rows(c, a, state)
    boom_rows(c, setup)
    masses_rows(c, setup)
    c.given("g", "standard gravity", G_M_S2, "m/s²", "ISO 80000-3", digits=5)
    c.step("m_G", "total mass", "m_c + m_s + m_B + Q_h", "t", "sum")
    c.step("V", "vertical force on the outriggers", "m_G * g", "kN", STATICS, value=vertical[0])
    slewing = "m_s * u_s + m_B * u_B + Q_h * r"
    c.step("U", "moment of what slews, about the slew axis", slewing, "tm", STATICS)
    for name, what, of, at in (("x", "forward", "cos", 0), ("y", "to the left", "sin", 1)):
        c.step(f"{name}_G", f"resultant on the base, {what} of the slew axis",
               f"(m_c * {name}_c + U * {of}(s)) / m_G", "m", STATICS, value=centre[0, at],
               digits=4)  # fmt: skip
    tilt_rows(c, setup)
    heights = "(m_c * z_c + m_s * z_s + m_B * z_B + Q_h * h_h) / m_G"
    c.step("h_G", "height of the centre of gravity of all", heights, "m", STATICS)
    c.step("M_w", "overturning moment of the wind", wind_rows(c, setup, state), "kNm", STATICS)
    c.step("e", "shift of the resultant by wind and tilt, toward any side",
           "M_w / V + h_G * t_p / 100", "m", STATICS, value=reach[0], digits=4)  # fmt: skip
    v = float(vertical[0])
    return np.array([v, *(v * centre[0])]), float(reach[0])
