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
from liftcalc.lift.calculation_place import LIFT_LIST, at_step, boom_rows, masses_rows
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
    if state.step is not None:
        at_step(c, a.setup, a.path, state.step)
        c.work("Q_h", "", "EN 13001-2 / ISO 8686-1", value=state.load_t)
        return
    c.facts(state.where, s=state.slew_deg, r=state.radius_m)
    c.facts(Q_h=state.load_t, detail="hook block alone")


def wind_rows(c: Calculation, setup: Setup, state: State) -> str:
    """Forces of the planned wind and their heights; returns the expression of their moment."""
    boom = boom_states(setup.machine, setup.boom, np.array([state.radius_m]))
    terms, machine, lift = wind_terms(setup, boom), setup.machine, setup.lift
    mean = lift.wind_basis == "at 10 m mean"
    upper = machine.superstructure
    c.facts(f"{LIFT_LIST}, {_BASIS[lift.wind_basis]}", v_w=lift.wind_m_s)
    c.facts(A_b_state=setup.boom.sail_area_m2, c_b=machine.boom.drag_coefficient)
    boom_force, boom_z = float(terms.boom_force_kN[0]), float(terms.boom_z_m[0])
    if mean:
        c.facts(F_wb=boom_force, z_wb=boom_z)
    else:
        c.work("F_wb", "", _WIND, value=boom_force)
        c.work("z_wb", "", "middle of the boom", value=boom_z)
    c.facts(z_ws=terms.superstructure_z_m, A_s=upper.sail_area_m2, c_s=SUPERSTRUCTURE_DRAG)

    def speed(z: str) -> str:
        return f"(v_w * ((max({z}, 10) / 10)**0.14 + 0.4))" if mean else "v_w"

    source = f"{_WIND}; gust: {_GUST}" if mean else _WIND
    on_upper = float(terms.superstructure_force_kN[0])
    c.work("F_ws", f"{speed('z_ws')}**2 / 1600 * A_s * c_s", source, value=on_upper)
    moment = "F_wb * z_wb + F_ws * z_ws"
    if state.step is None:
        return moment
    load = lift.load
    c.facts(A_L=load.sail_area_m2, c_D=load.drag_coefficient)
    on_load = float(terms.load_force_kN[0])
    c.work("F_wl", f"{speed('h_h')}**2 / 1600 * A_L * c_D", source, value=on_load)
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
    c.facts(g_mat=G_M_S2)
    c.steps("m_G")
    c.work("V", "m_G * g", value=vertical[0])
    c.work("U", "m_s * u_s + m_B * u_B + Q_h * r")
    c.steps("x_G y_G", x_G=centre[0, 0], y_G=centre[0, 1])
    tilt_rows(c, setup)
    c.steps("h_G")
    c.work("M_w_state", wind_rows(c, setup, state))
    c.steps("e", e=reach[0])
    v = float(vertical[0])
    return np.array([v, *(v * centre[0])]), float(reach[0])
