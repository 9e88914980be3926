"""The gross load, item by item, and the hoist factor: the first rows of the calculation.

Source: US Army Corps of Engineers EM 385-1-1, form 16-3 (items, seen); EN 13001-2 / ISO 8686-1.
"""

from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_place import LIFT_LIST, MACHINE
from liftcalc.lift.setup import Setup, longest_rope

BASIS_WORDS = {"weighed": "weighed", "maker": "stated by the manufacturer of the load",
               "calculated": "calculated", "estimated": "estimated"}  # fmt: skip
"""How the mass of the load is known."""


def gross_section(c: Calculation, setup: Setup) -> None:
    """Gross load on the hook, and the hoist factor for whatever does not allow for dynamics."""
    gross, load, lift, block = setup.gross, setup.lift.load, setup.lift, setup.hook_block
    c.section(None, "Gross load and hoist factor")
    c.facts(f"{LIFT_LIST}: {BASIS_WORDS[load.mass_basis]}", m=load.mass_t)
    c.facts(c=load.contingency_percent)
    _rigging_rows(c, setup)
    c.facts(m_b=block.mass_t, detail=block.id)
    _rope_rows(c, setup)
    names = "; ".join(f"{d.name} {d.mass_t:g} t ({d.reference})" for d in lift.deductions)
    stated = names or "none stated: no auxiliary block hung, no jib stowed or erected"
    c.facts(f"{LIFT_LIST}: {stated}", m_d=float(gross.other_t))
    c.steps("Q", Q=setup.gross_t)
    hoist, source = setup.hoist, "EN 13001-2 / ISO 8686-1 (constants second-hand from EN 1991-3)"
    by_class = f"{source}; hoisting class {setup.machine.hoisting_class}"
    c.facts(by_class, phi_min=hoist.phi2_min, beta_2=hoist.beta2_s_m)
    c.facts(v_h=float(hoist.hoist_speed_m_s))
    least = setup.rules.dynamic_factor_min
    expression = "phi_min + beta_2 * v_h"
    if least > float(hoist.phi2):
        c.facts(phi_0=least)
        expression = f"max({expression}, phi_0)"
    c.work("phi_2", expression, value=float(gross.dynamic_factor))


def _rigging_rows(c: Calculation, setup: Setup) -> None:
    gear, choice = setup.hanging.gear, setup.lift.rigging
    count, terms = choice.sling_legs, []
    sling, shackle, top, beam = gear.sling, gear.shackle, gear.top_sling, gear.beam
    c.facts(n_l=count)
    c.facts(m_l=sling.mass_t, detail=sling.id)
    terms.append("n_l * m_l")
    if top:
        c.facts(m_t=top.mass_t, detail=top.id)
        terms.append("2 * m_t")
    if shackle:
        c.facts(n_h=count + (2 if top else 0))
        c.facts(m_h=shackle.mass_t, detail=shackle.id)
        terms.append("n_h * m_h")
    if beam:
        c.facts(m_e=beam.mass_t, detail=beam.id)
        terms.append("m_e")
    if choice.extra_mass_t:
        c.facts(m_x=choice.extra_mass_t)
        terms.append("m_x")
    c.work("m_r", " + ".join(terms), value=float(setup.gross.rigging_t))


def _rope_rows(c: Calculation, setup: Setup) -> None:
    """Longest rope of one fall below the boom head, and the mass of all falls."""
    lift, machine, block = setup.lift, setup.machine, setup.hook_block
    foot, length, above = machine.boom, lift.boom_length_m, setup.hanging.hook_height_m
    _, near, down = longest_rope(lift, machine, above)
    c.facts(L=length, u_f=foot.foot_u_m, z_f=foot.foot_z_m, Z_0=lift.stand.level_m)
    c.facts(r_l=near, Z_l=down, h_k=above)
    longest = "Z_0 + z_f + sqrt(L**2 - (r_l - u_f)**2) - (Z_l + h_k)"
    if setup.rope_length_m > 0 and abs(c.probe(longest) - setup.rope_length_m) < 1e-6:
        c.steps("l_f", l_f=setup.rope_length_m)
    else:
        c.facts("load path", l_f=setup.rope_length_m)
    c.facts(n_f=block.falls)
    stated = block.rope_kg_m is not None
    allowance = "rope not stated: 0.4 kg/m for each tonne of pull of one fall, our own allowance"
    c.facts(MACHINE if stated else allowance, w_f=machine.rope_mass_kg_m(block))
    c.steps("m_f", m_f=float(setup.gross.rope_t))
