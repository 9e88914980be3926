"""The calculation of the greatest reaction of an outrigger, from masses and places to its strength.

The state is the one that presses the outrigger most: a step of the load path with the load, or a
slew with the empty hook. Where all weights meet the base, wind and tilt move that point by e. A
reaction is linear in the place of the resultant: moved by e toward the worst side it grows by V e
times its slope, so no side is searched for. Three models: a rigid plane on springs, a carrier whose front and rear
beams may twist, and, where an outrigger would have to pull, the three others by statics alone.

Sources: statics; plane trigonometry of a straight boom; wind: beside each row;
:mod:`liftcalc.reactions.contact` and :mod:`liftcalc.reactions.envelope`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check
from liftcalc.base.text import amount
from liftcalc.base.units import G_M_S2
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.lift import calculation_place
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_place import LIFT_LIST, MACHINE, STATICS, at_step, boom_rows
from liftcalc.lift.calculation_stability import tilt_rows
from liftcalc.lift.leg_forces import CIRCLE_SLEW_DEG, weight_on_base
from liftcalc.lift.leg_springs import ON_GROUND, least_modulus, whole_mat_spring_kN_m
from liftcalc.lift.placing import mats_and_zones
from liftcalc.lift.setup import Setup, boom_states
from liftcalc.lift.wind_checks import SUPERSTRUCTURE_DRAG, wind_terms
from liftcalc.reactions.contact import bilateral_rows

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
    vertical, centre, reach = weight_on_base(setup, [state.slew_deg], state.radius_m, load_t=state.load_t)
    c.note("State of the crane", state.where, "", "the one that presses this outrigger most")
    _place_rows(c, a, state)
    boom_rows(c, setup)
    calculation_place.masses_rows(c, setup)
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


@dataclass(frozen=True)
class _Three:
    """The reaction of an outrigger with another in the air."""

    lifted: int
    line: tuple[int, int]
    """The two other outriggers, so that the first lies left of the line between them."""
    value_kN: float


def _three(xy: FloatArray, pattern: FloatArray, leg: int, force: FloatArray, reach_m: float,
           same: bool) -> _Three | None:  # fmt: skip
    """Governing reaction with one other outrigger in the air: least, or greatest if *same* side."""
    found = []
    for lifted in range(len(xy)):
        if lifted == leg or (pattern[leg] * pattern[lifted] > 0) != same:
            continue
        if pattern[leg] * pattern[lifted] == 0:
            continue
        p, q = (n for n in range(len(xy)) if n not in (leg, lifted))

        def away(point: FloatArray, p: int, q: int) -> float:
            (bx, by), (gx, gy) = xy[q] - xy[p], point - xy[p]
            return float((bx * gy - by * gx) / np.hypot(bx, by))

        if away(xy[leg], p, q) < 0:
            p, q = q, p
        value = force[0] * (away(force[1:] / force[0], p, q) + reach_m) / away(xy[leg], p, q)
        found.append(_Three(lifted, (p, q), float(value)))
    return (max if same else min)(found, key=lambda one: one.value_kN, default=None)


def place_rows(c: Calculation, a: LiftAssessment) -> None:
    for leg, (x, y) in zip(a.setup.machine.legs, a.setup.leg_xy_m, strict=True):
        c.facts(x_of_legs=x, y_of_legs=y, of=leg.name)


def _ground_spring_rows(c: Calculation, a: LiftAssessment, k: FloatArray) -> None:
    """Springs of outrigger, mat and ground in series, for the set that governs."""
    zones = {z.id: z.profile for z in a.setup.site.zones}
    touched = mats_and_zones(a.setup)[1]
    c.facts(L_m=a.setup.mat.length_m, B_m=a.setup.mat.width_m)
    c.steps("n_m_legs I_m")
    for leg, spring, names in zip(a.setup.machine.legs, k, touched, strict=True):
        n, own = leg.name, leg.stiffness_kN_m
        ground = float(1.0 / (1.0 / spring - 1.0 / own))
        c.facts(k_o_of=own, of=n)
        profiles = sorted({zones[z] for z in names})
        factors = ((p, ground / whole_mat_spring_kN_m(a.setup, p)) for p in profiles)
        profile, factor = min(factors, key=lambda one: min(abs(np.log2(one[1]) - s) for s in (-1, 0, 1)))
        fact = a.setup.site.profile(profile)
        modulus, poisson = least_modulus(fact, a.setup.mat.width_m)
        c.facts(f_k=round(factor, 3))
        if np.isfinite(modulus):
            source = f"{profile}: minimum modulus within two mat widths"
            c.facts(source, E_s=modulus, nu_s=poisson)
            whole = "f_k * E_s * max(L_m, B_m) / ((1 - nu_s**2) * I_m)"
        else:
            c.facts(profile, k_p=fact.subgrade_modulus_kN_m3 or float("nan"))
            whole = "f_k * k_p * L_m * B_m"
        c.work("k_g_of", whole, value=ground, of=n)
        c.steps("k_of", k_of=float(spring), of=n)


def _plane_rows(c: Calculation, a: LiftAssessment, n: str, model: str, k: FloatArray) -> str:
    """A rigid plane on springs; returns the expression of the reaction."""
    if model == ON_GROUND:
        _ground_spring_rows(c, a, k)
    else:
        for leg, spring in zip(a.setup.machine.legs, k, strict=True):
            c.facts(MACHINE, k_of=float(spring), of=leg.name)
    c.steps("k_S_legs x_k y_k S_xx_legs S_yy_legs S_xy_legs D_k")
    c.work("g_x", f"k_{n} * (S_yy * (x_{n} - x_k) - S_xy * (y_{n} - y_k)) / D_k")
    c.work("g_y", f"k_{n} * (S_xx * (y_{n} - y_k) - S_xy * (x_{n} - x_k)) / D_k")
    return f"V * (k_{n} / k_S + g_x * (x_G - x_k) + g_y * (y_G - y_k) + e * sqrt(g_x**2 + g_y**2))"


def _beam_rows(c: Calculation, n: str, xy: FloatArray, row: FloatArray) -> str:
    """Front and rear beam free to twist; returns the expression of the reaction."""
    front = n[0] == "F"
    if not (np.isclose(xy[0, 0], xy[1, 0]) and np.isclose(xy[2, 0], xy[3, 0])):
        c.note("Carrier free to twist",
               "Σ R = V, Σ R x = V x_G, Σ R y = V y_G, R_FL y_FL + R_FR y_FR = p_f V y_G",
               source=f"{STATICS}; solved for this outrigger")  # fmt: skip
        c.facts(g_0=row[0])
        c.facts("the four equations, solved", g_x=row[1], g_y=row[2])
        return "V * (g_0 + g_x * x_G + g_y * y_G + e * sqrt(g_x**2 + g_y**2))"
    c.steps("p_f_legs")
    left, right = ("FL", "FR") if front else ("RL", "RR")
    other = right if n == left else left
    wide, arm = f"(y_{left} - y_{right})", "(x_FL - x_RR)"
    sign = "-" if (n == left) == front else ""
    moment = "p_f" if front else "(1 - p_f)"
    c.work("g_x", f"{sign}y_{other} / ({arm} * {wide})")
    c.work("g_y", f"{'' if n == left else '-'}{moment} / {wide}")
    far = "x_RR" if front else "x_FL"
    return f"V * (g_x * (x_G - {far}) + g_y * y_G + e * sqrt(g_x**2 + g_y**2))"


def _three_rows(c: Calculation, n: str, three: _Three) -> None:
    p, q = (LEG_NAMES[k] for k in three.line)
    lifted = LEG_NAMES[three.lifted]
    c.note("An outrigger would have to pull",
           f"outrigger {lifted} in the air, V on the three others",
           source="contact: the ground does not pull")  # fmt: skip
    c.work("l_pq", f"sqrt((x_{q} - x_{p})**2 + (y_{q} - y_{p})**2)", f"{p} to {q}")
    for at, key in (("G", "d_G_legs"), (n, "d_n_legs")):
        cross = f"((x_{q} - x_{p}) * (y_{at} - y_{p}) - (y_{q} - y_{p}) * (x_{at} - x_{p})) / l_pq"
        c.work(key, cross)
    c.steps("R_3", R_3=three.value_kN)


def reaction_section(c: Calculation, a: LiftAssessment, check: Check) -> None:
    """From masses and places to the reaction of one outrigger and its strength."""
    n = check.id.removeprefix("leg-")
    k, forces, setup = LEG_NAMES.index(n), a.forces, a.setup
    state = worst_state(a, k)
    force, reach = resultant_rows(c, a, state)
    place_rows(c, a)
    envelope = forces.empty if state.step is None else forces.on_path
    at = int(envelope.max_state[k])
    pattern = forces.supports["rigid carrier"].pattern[:, 0]
    by_model = dict(zip(envelope.carriers, envelope.by_model_kN[:, k, at].tolist(), strict=True))
    model = max(by_model, key=lambda name: by_model[name])
    pull = by_model[model]
    c.note("Carrier and ground",
           "; ".join(f"{name} {amount(value, 'force_kN')}" for name, value in by_model.items()), f"{model} governs",
           "maximum of the models, each as if the ground could pull")  # fmt: skip
    supports = forces.supports[model]
    row = bilateral_rows(supports)[k]
    if model.startswith("flexible"):
        pulled = _beam_rows(c, n, setup.leg_xy_m, row[0])
    else:  # springs of the set that presses the outrigger most
        value = row @ force + np.hypot(row[:, 1], row[:, 2]) * force[0] * reach
        springs = supports.k[:, int(value.argmax()) if supports.k.shape[1] > 1 else 0]
        pulled = _plane_rows(c, a, n, model, springs)
    xy, design = setup.leg_xy_m, float(forces.design_kN[k])
    less = _three(xy, pattern, k, force, reach, same=False)
    more = _three(xy, pattern, k, force, reach, same=True)
    high = pull if less is None else min(pull, less.value_kN)
    three, text = None, pulled
    if more is not None and more.value_kN > max(high, 0.0) * (1 + 1e-12):
        three, text = more, "max(R_0, R_3)" if pull <= high else "R_3"
    elif less is not None and less.value_kN < pull:
        three, text = less, "min(R_0, R_3)"
    if three is not None:
        c.work("R_0", pulled, value=pull)
        _three_rows(c, n, three)
    source = STATICS if three is None else "contact: no reaction below 0"
    c.work("R_of", text, source, value=design, of=n)
    c.ends(check, f"R_{n}", "S_of_legs", known=setup.machine.legs[k].capacity_kN, of=n)
