"""The gross load, item by item, and the hoist factor: the first rows of the calculation.

Source: US Army Corps of Engineers EM 385-1-1, form 16-3 (items, seen); EN 13001-2 / ISO 8686-1.
"""

import numpy as np

from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_place import LIFT_LIST, MACHINE, PLANE
from liftcalc.lift.path import load_path
from liftcalc.lift.setup import Setup

BASIS_WORDS = {
    "weighed": "weighed",
    "maker": "stated by the manufacturer of the load",
    "calculated": "calculated",
    "estimated": "estimated",
}
"""How the mass of the load is known."""


def gross_section(calc: Calculation, setup: Setup) -> None:
    """Gross load on the hook, and the hoist factor for whatever does not allow for dynamics."""
    gross, load, lift = setup.gross, setup.lift.load, setup.lift
    block = setup.hook_block
    calc.section(None, "Gross load and hoist factor")
    basis = f"{LIFT_LIST}: {BASIS_WORDS[load.mass_basis]}"
    calc.given("m", "load mass", load.mass_t, "t", basis)
    calc.given("c", "contingency", load.contingency_percent, "%", LIFT_LIST)
    _rigging_rows(calc, setup)
    calc.given("m_b", "mass of the hook block", block.mass_t, "t", MACHINE, detail=block.id)
    _rope_rows(calc, setup)
    names = "; ".join(f"{d.name} {d.mass_t:g} t ({d.reference})" for d in lift.deductions)
    stated = names or "none stated: no auxiliary block hung, no jib stowed or erected"
    calc.given("m_d", "deductions of the manufacturer's chart, as mass at the hook",
               float(gross.other_t), "t", f"{LIFT_LIST}: {stated}")  # fmt: skip
    calc.step("Q", "gross load", "m * (1 + c / 100) + m_r + m_b + m_f + m_d", "t", "sum",
              value=setup.gross_t)  # fmt: skip
    hoist, source = setup.hoist, "EN 13001-2 / ISO 8686-1 (constants second-hand from EN 1991-3)"
    by_class = f"{source}; hoisting class {setup.machine.hoisting_class}"
    calc.given("phi_min", "hoist factor at speed 0", hoist.phi2_min, "", by_class)
    calc.given("beta_2", "growth of the hoist factor with speed", hoist.beta2_s_m, "s/m", by_class)
    calc.given("v_h", "hoisting speed", float(hoist.hoist_speed_m_s), "m/s", MACHINE)
    least = setup.rules.dynamic_factor_min
    expression = "phi_min + beta_2 * v_h"
    if least > float(hoist.phi2):
        calc.given("phi_0", "minimum hoist factor of the job", least, "", "rules of the job")
        expression = f"max({expression}, phi_0)"
    calc.step("phi_2", "hoist factor", expression, "", source,
              value=float(gross.dynamic_factor))  # fmt: skip


def _rigging_rows(calc: Calculation, setup: Setup) -> None:
    gear, choice = setup.hanging.gear, setup.lift.rigging
    count, terms = choice.sling_legs, []
    sling, shackle, top, beam = gear.sling, gear.shackle, gear.top_sling, gear.beam
    calc.given("n_l", "number of sling legs", count, ".0", LIFT_LIST)
    calc.given("m_l", "mass of one sling", sling.mass_t, "t.4", "accessories",
               detail=sling.id)  # fmt: skip
    terms.append("n_l * m_l")
    if top:
        calc.given("m_t", "mass of one top sling", top.mass_t, "t.4", "accessories",
                   detail=top.id)  # fmt: skip
        terms.append("2 * m_t")
    if shackle:
        number = count + (2 if top else 0)
        calc.given("n_h", "number of shackles", number, ".0", LIFT_LIST)
        calc.given("m_h", "mass of one shackle", shackle.mass_t, "t.4", "accessories",
                   detail=shackle.id)  # fmt: skip
        terms.append("n_h * m_h")
    if beam:
        calc.given("m_e", "mass of the beam", beam.mass_t, "t", "accessories", detail=beam.id)
        terms.append("m_e")
    if choice.extra_mass_t:
        calc.given("m_x", "further rigging", choice.extra_mass_t, "t", LIFT_LIST)
        terms.append("m_x")
    calc.step("m_r", "rigging", " + ".join(terms), "t", "sum",
              value=float(setup.gross.rigging_t))  # fmt: skip


def _rope_rows(calc: Calculation, setup: Setup) -> None:
    """Longest rope of one fall below the boom head, and the mass of all falls."""
    lift, machine, block = setup.lift, setup.machine, setup.hook_block
    foot, length = machine.boom, lift.boom_length_m
    path, above = load_path(lift), setup.hanging.hook_height_m
    run = np.clip(path.radius_m - foot.foot_u_m, 0.0, length)
    head = lift.stand.level_m + foot.foot_z_m + np.sqrt(length**2 - run**2)
    pair = np.arange(len(path) - 1) if len(path) > 1 else np.zeros(1, dtype=int)
    later = np.minimum(pair + 1, len(path) - 1)
    high = np.where(head[later] >= head[pair], later, pair)
    low = np.where(path.level_m[later] <= path.level_m[pair], later, pair)
    k = int(np.argmax(head[high] - path.level_m[low]))
    near, down = int(high[k]), int(low[k])
    calc.given("L", "boom length", length, "m", LIFT_LIST)
    calc.given("u_f", "place of the boom foot, toward the boom", foot.foot_u_m, "m", MACHINE)
    calc.given("z_f", "height of the boom foot", foot.foot_z_m, "m", MACHINE)
    calc.given("Z_0", "ground level at the slew centre", lift.stand.level_m, "m", LIFT_LIST)
    where = "where the hoist rope is longest"
    calc.given("r_l", f"radius {where}", float(path.radius_m[near]), "m", "load path")
    calc.given("Z_l", f"level of the load's underside {where}", float(path.level_m[down]), "m",
               "load path")  # fmt: skip
    calc.given("h_k", "hook above the load's lowest point", above, "m",
               "table of hook height and attitude")  # fmt: skip
    longest = "Z_0 + z_f + sqrt(L**2 - (r_l - u_f)**2) - (Z_l + h_k)"
    if setup.rope_length_m > 0 and abs(calc.probe(longest) - setup.rope_length_m) < 1e-6:
        calc.step("l_f", "longest hoist rope of one fall below the boom head", longest, "m", PLANE,
                  value=setup.rope_length_m)  # fmt: skip
    else:
        calc.given("l_f", "longest hoist rope of one fall below the boom head",
                   setup.rope_length_m, "m", "load path")  # fmt: skip
    calc.given("n_f", "falls of the hoist rope", block.falls, ".0", MACHINE)
    stated = block.rope_kg_m is not None
    allowance = "rope not stated: 0.4 kg/m for each tonne of pull of one fall, our own allowance"
    calc.given("w_f", "mass of the hoist rope", machine.rope_mass_kg_m(block), "kg/m",
               MACHINE if stated else allowance)  # fmt: skip
    calc.step("m_f", "mass of the hoist rope below the boom head", "n_f * l_f * w_f / 1000", "t.4",
              "mass of all falls", value=float(setup.gross.rope_t))  # fmt: skip
