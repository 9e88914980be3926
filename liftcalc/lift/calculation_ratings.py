"""The printed calculation of the force on a rigging item, its rating and its utilisation.

Sources: those of :mod:`liftcalc.lift.rigging_items`.
"""

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.facts.rigging import Shackle, Sling
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_slings import Attitude
from liftcalc.lift.rigging_items import (
    CHOKE_ANGLE_DEG,
    LEAST_BASKET_BEND,
    ItemUse,
    edition_words,
    item_name,
    plate_normals,
    soft_eye,
)
from liftcalc.lift.rigging_study import RiggingStudy
from liftcalc.lift.setup import Setup
from liftcalc.rigging.hitches import (
    CHOKE_FACTOR_EN,
    SIDE_LOAD_BANDS,
    bend_efficiency_ratio,
    choke_angle_ratio,
)
from liftcalc.rigging.tables import ASME_B30_9_CHOKE, ASME_B30_26, BEND_EFFICIENCY, EN_13414_1


def _wll(c: Calculation, item: Sling | Shackle) -> None:
    source = f"{item.id}, accessories' data: {edition_words(item.standard)}"
    c.facts(source, L_i=item.wll_t)


def _sling_rating(c: Calculation, setup: Setup, study: RiggingStudy, sling: Sling,
                  hitch: str) -> None:  # fmt: skip
    """R_w of one sling leg: its limit, hitch, bend and eyes."""
    choice, gear = setup.lift.rigging, study.hanging.gear
    _wll(c, sling)
    factors = ["L_i"]
    if hitch == "choke":
        stated = choice.choke_angle_deg
        angle = CHOKE_ANGLE_DEG if stated is None else stated
        hitch_source = f"choke hitch: {EN_13414_1.document}:{EN_13414_1.edition}"
        c.facts(hitch_source, eta_h=CHOKE_FACTOR_EN)
        source = f"angle of choke {angle:g}°{' assumed' if stated is None else ''}: "
        source += f"{ASME_B30_9_CHOKE.document}, {ASME_B30_9_CHOKE.edition}"
        c.facts(source, eta_c=float(choke_angle_ratio(angle)))
        factors += ["eta_h", "eta_c"]
    elif hitch == "basket":
        c.facts(beta_p=choice.basket_part_angle_deg)
        c.steps("eta_h")
        factors.append("eta_h")
        if sling.kind == "wire rope" and choice.bend_diameter_mm is not None:
            ratio = choice.bend_diameter_mm / sling.diameter_mm
            c.facts(D_b=choice.bend_diameter_mm, d_s=sling.diameter_mm)
            if ratio < LEAST_BASKET_BEND:
                flat, sharp = "1 - 0.76 / (D_b / d_s) ** 0.73", "1 - 0.5 / sqrt(D_b / d_s)"
                bent, source = flat if ratio > 6.0 else sharp, BEND_EFFICIENCY.document
                used = float(bend_efficiency_ratio(ratio))
                c.work("eta_b", bent, f"{source} (from memory)", value=used)
                factors.append("eta_b")
    if (eye := soft_eye(gear, sling)) is not None:
        factors.append("eta_e")
        c.facts(d_s=sling.diameter_mm)
        c.facts(f"{eye.bears_on}: the thinner of pin and hook", D_p=eye.diameter_mm)
        if eye.efficiency < 1.0:
            table = f"{EN_13414_1.document}:2003 Table 4, note 1"
            source = f"bend efficiency relative to D/d 2 (full limit, {table}): "
            source += f"{BEND_EFFICIENCY.document} (from memory)"
            c.work("eta_e", "", source, value=eye.efficiency)
        else:
            c.facts(eta_e=1.0)
    c.work("R_w", " * ".join(factors))


def _shackle_rating(c: Calculation, setup: Setup, study: RiggingStudy, item: ItemUse,
                    at: Attitude) -> None:  # fmt: skip
    """R_w of the most used shackle: its limit, reduced by the side pull."""
    shackle = study.hanging.gear.shackle
    assert shackle is not None
    _wll(c, shackle)
    if item.name.endswith("at the beam"):
        c.work("R_w", "L_i", "pulled in line")
        return
    leg = item.worst_part if at.at_worst else item.part
    u = at.states.leg_direction[at.place, leg]
    normal = plate_normals(study.hanging.gear, study.stated)[leg]
    normal, sling = normal / np.linalg.norm(normal), str(leg + 1)
    c.facts(f"lifting plate {setup.lift.rigging.lug_plate}", q_x=normal[0], q_y=normal[1])
    if study.beam is not None:
        sling = "s"
        c.facts(u_sx=u[0], u_sy=u[1])
    beta = c.work("beta_s", f"asin(abs(u_{sling}x * q_x + u_{sling}y * q_y))")
    k = next(k for k, (top, _) in enumerate(SIDE_LOAD_BANDS) if beta <= top + 1e-9)
    low = SIDE_LOAD_BANDS[k - 1][0] if k else 0.0
    rated = item.worst_rated_t if at.at_worst else item.rated_t
    band = f"{'above ' if k else ''}{low:g}° to {SIDE_LOAD_BANDS[k][0]:g}°: "
    band += f"{ASME_B30_26.document}, {ASME_B30_26.edition}; bands of WAC 296-155-33905"
    c.facts(band, eta_s=rated / shackle.wll_t)
    c.steps("R_w", R_w=rated)


def _force(c: Calculation, study: RiggingStudy, item: ItemUse, at: Attitude) -> None:
    """F_i: which tension acts on the item."""
    part = item.worst_part if at.at_worst else item.part
    expression, source = f"S_{part + 1}", "tension in this sling leg"
    if study.beam is not None:
        right = bool(study.lugs_m[part, 0] > 0) if part < len(study.lugs_m) else False
        expression, source = f"S_{2 if right else 1}", "each sling may carry the whole end"
        if len(study.lugs_m) == 2:
            source = "tension at its end"
        if item.kind == "beam":
            expression, source = f"2 * V_{part + 1}", "twice the greater end, as its rating counts"
        elif item.name.startswith("top") or item.name.endswith("at the beam"):
            expression, source = f"S_t{part + 1}", "tension in this top sling"
    force = item.worst_kN if at.at_worst else item.force_kN
    c.work("F_i", expression, f"{item.name}: {source}", value=force, tolerance=1e-5)


def item_steps(c: Calculation, setup: Setup, study: RiggingStudy, item: ItemUse, at: Attitude,
               check: Check) -> None:  # fmt: skip
    """Force on one item over its rating."""
    _force(c, study, item, at)
    gear, choice = study.hanging.gear, setup.lift.rigging
    if item.kind == "sling":
        above = item.name.startswith("top") and gear.top_sling is not None
        sling = gear.top_sling if above and gear.top_sling is not None else gear.sling
        _sling_rating(c, setup, study, sling, "straight" if above else choice.hitch)
    elif item.kind == "shackle":
        _shackle_rating(c, setup, study, item, at)
    else:
        beam = study.beam
        assert beam is not None
        c.facts(f"{item_name(beam.kind, beam.id)}, beam data", R_w=beam.wll_t)
    c.steps("U_i")
    c.ends(check, "U_i", "U_max")
