"""The gross load, item by item, and the hoist factor: the first rows of the calculation.

Source: US Army Corps of Engineers EM 385-1-1, form 16-3 (items, seen); EN 13001-2 / ISO 8686-1.
"""

from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_place import LIFT_LIST, MACHINE, PLANE
from liftcalc.lift.setup import Setup, longest_rope

BASIS_WORDS = {"weighed": "weighed", "maker": "stated by the manufacturer of the load",
               "calculated": "calculated", "estimated": "estimated"}  # fmt: skip
"""How the mass of the load is known."""


def gross_section(c: Calculation, setup: Setup) -> None:
    """Gross load on the hook, and the hoist factor for whatever does not allow for dynamics."""
    gross, load, lift = setup.gross, setup.lift.load, setup.lift
    block = setup.hook_block
    c.section(None, "Gross load and hoist factor")
    c.given("m", "load mass", load.mass_t, "t", f"{LIFT_LIST}: {BASIS_WORDS[load.mass_basis]}")
    c.given("c", "contingency", load.contingency_percent, "%", LIFT_LIST)
    _rigging_rows(c, setup)
    c.given("m_b", "mass of the hook block", block.mass_t, "t", MACHINE, detail=block.id)
    _rope_rows(c, setup)
    names = "; ".join(f"{d.name} {d.mass_t:g} t ({d.reference})" for d in lift.deductions)
    stated = names or "none stated: no auxiliary block hung, no jib stowed or erected"
    c.given("m_d", "deductions of the manufacturer's chart, as mass at the hook",
            float(gross.other_t), "t", f"{LIFT_LIST}: {stated}")  # fmt: skip
    c.step("Q", "gross load", "m * (1 + c / 100) + m_r + m_b + m_f + m_d", "t", "sum",
           value=setup.gross_t)  # fmt: skip
    hoist, source = setup.hoist, "EN 13001-2 / ISO 8686-1 (constants second-hand from EN 1991-3)"
    by_class = f"{source}; hoisting class {setup.machine.hoisting_class}"
    c.given("phi_min", "hoist factor at speed 0", hoist.phi2_min, "", by_class)
    c.given("beta_2", "growth of the hoist factor with speed", hoist.beta2_s_m, "s/m", by_class)
    c.given("v_h", "hoisting speed", float(hoist.hoist_speed_m_s), "m/s", MACHINE)
    least = setup.rules.dynamic_factor_min
    expression = "phi_min + beta_2 * v_h"
    if least > float(hoist.phi2):
        c.given("phi_0", "minimum hoist factor of the job", least, "", "rules of the job")
        expression = f"max({expression}, phi_0)"
    c.step("phi_2", "hoist factor", expression, "", source, value=float(gross.dynamic_factor))


def _rigging_rows(c: Calculation, setup: Setup) -> None:
    gear, choice = setup.hanging.gear, setup.lift.rigging
    count, terms = choice.sling_legs, []
    sling, shackle, top, beam = gear.sling, gear.shackle, gear.top_sling, gear.beam
    c.given("n_l", "number of sling legs", count, ".0", LIFT_LIST)
    c.given("m_l", "mass of one sling", sling.mass_t, "t.4", "accessories", detail=sling.id)
    terms.append("n_l * m_l")
    if top:
        c.given("m_t", "mass of one top sling", top.mass_t, "t.4", "accessories", detail=top.id)
        terms.append("2 * m_t")
    if shackle:
        c.given("n_h", "number of shackles", count + (2 if top else 0), ".0", LIFT_LIST)
        c.given("m_h", "mass of one shackle", shackle.mass_t, "t.4", "accessories",
                detail=shackle.id)  # fmt: skip
        terms.append("n_h * m_h")
    if beam:
        c.given("m_e", "mass of the beam", beam.mass_t, "t", "accessories", detail=beam.id)
        terms.append("m_e")
    if choice.extra_mass_t:
        c.given("m_x", "further rigging", choice.extra_mass_t, "t", LIFT_LIST)
        terms.append("m_x")
    c.step("m_r", "rigging", " + ".join(terms), "t", "sum", value=float(setup.gross.rigging_t))


def _rope_rows(c: Calculation, setup: Setup) -> None:
    """Longest rope of one fall below the boom head, and the mass of all falls."""
    lift, machine, block = setup.lift, setup.machine, setup.hook_block
    foot, length, above = machine.boom, lift.boom_length_m, setup.hanging.hook_height_m
    _, near, down = longest_rope(lift, machine, above)
    c.given("L", "boom length", length, "m", LIFT_LIST)
    c.given("u_f", "place of the boom foot, toward the boom", foot.foot_u_m, "m", MACHINE)
    c.given("z_f", "height of the boom foot", foot.foot_z_m, "m", MACHINE)
    c.given("Z_0", "ground level at the slew centre", lift.stand.level_m, "m", LIFT_LIST)
    where = "where the hoist rope is longest"
    c.given("r_l", f"radius {where}", near, "m", "load path")
    c.given("Z_l", f"level of the load's underside {where}", down, "m", "load path")
    c.given("h_k", "hook above the load's lowest point", above, "m",
            "table of hook height and attitude")  # fmt: skip
    longest = "Z_0 + z_f + sqrt(L**2 - (r_l - u_f)**2) - (Z_l + h_k)"
    if setup.rope_length_m > 0 and abs(c.probe(longest) - setup.rope_length_m) < 1e-6:
        c.step("l_f", "longest hoist rope of one fall below the boom head", longest, "m", PLANE,
               value=setup.rope_length_m)  # fmt: skip
    else:
        c.given("l_f", "longest hoist rope of one fall below the boom head",
                setup.rope_length_m, "m", "load path")  # fmt: skip
    c.given("n_f", "falls of the hoist rope", block.falls, ".0", MACHINE)
    stated = block.rope_kg_m is not None
    allowance = "rope not stated: 0.4 kg/m for each tonne of pull of one fall, our own allowance"
    c.given("w_f", "mass of the hoist rope", machine.rope_mass_kg_m(block), "kg/m",
            MACHINE if stated else allowance)  # fmt: skip
    c.step("m_f", "mass of the hoist rope below the boom head", "n_f * l_f * w_f / 1000", "t.4",
           "mass of all falls", value=float(setup.gross.rope_t))  # fmt: skip
