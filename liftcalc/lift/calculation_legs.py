"""The calculation of the greatest reaction of an outrigger, from masses and places to its strength.

The state is the one that presses the outrigger most: a step of the load path with the load, or a
slew with the empty hook (:mod:`liftcalc.lift.calculation_state`). A reaction is linear in the place
of the resultant: moved by e toward the worst side it grows by V e times its slope, so no side is
searched for. Three models: a rigid plane on springs, a carrier whose front and rear beams may
twist, and, where an outrigger would have to pull, the three others by statics alone.

Sources: statics; :mod:`liftcalc.reactions.contact` and :mod:`liftcalc.reactions.envelope`.
"""

from dataclasses import dataclass

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check
from liftcalc.base.text import amount
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_place import MACHINE, STATICS
from liftcalc.lift.calculation_state import resultant_rows, worst_state
from liftcalc.lift.leg_springs import ON_GROUND, least_modulus, whole_mat_spring_kN_m
from liftcalc.lift.placing import mats_and_zones
from liftcalc.reactions.contact import bilateral_rows


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
        profile, factor = min(
            factors, key=lambda one: min(abs(np.log2(one[1]) - s) for s in (-1, 0, 1))
        )
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
           "; ".join(f"{name} {amount(value, 'force_kN')}" for name, value in by_model.items()),
           f"{model} governs",
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
