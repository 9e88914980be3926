"""The printed calculation of the force on a rigging item, its rating and its utilisation.

Sources: those of :mod:`liftcalc.lift.rigging_items`.
"""

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.facts.rigging import Shackle, Sling
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_place import LIFT_LIST
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
    what = "working load limit of the item, straight and in line"
    source = f"{item.id}, accessories' data: {edition_words(item.standard)}"
    c.given("L_i", what, item.wll_t, "t", source)


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
        c.given("eta_h", "factor of the hitch", CHOKE_FACTOR_EN, "", hitch_source)
        source = f"angle of choke {angle:g}°{' assumed' if stated is None else ''}: "
        source += f"{ASME_B30_9_CHOKE.document}, {ASME_B30_9_CHOKE.edition}"
        ratio = float(choke_angle_ratio(angle))
        c.given("eta_c", "factor of the angle of choke", ratio, "", source)
        factors += ["eta_h", "eta_c"]
    elif hitch == "basket":
        part = choice.basket_part_angle_deg
        c.given("beta_p", "angle of the parts from the sling leg", part, "°", LIFT_LIST)
        c.step("eta_h", "factor of the hitch", "2 * cos(beta_p)", "", "basket hitch: statics")
        factors.append("eta_h")
        if sling.kind == "wire rope" and choice.bend_diameter_mm is not None:
            ratio = choice.bend_diameter_mm / sling.diameter_mm
            c.given("D_b", "diameter of the bend", choice.bend_diameter_mm, "mm", LIFT_LIST)
            c.given("d_s", "diameter of the sling", sling.diameter_mm, "mm", "accessories' data")
            if ratio < LEAST_BASKET_BEND:
                flat, sharp = "1 - 0.76 / (D_b / d_s) ** 0.73", "1 - 0.5 / sqrt(D_b / d_s)"
                c.step("eta_b", "factor of the bend round the load", flat if ratio > 6.0 else sharp,
                       "", f"{BEND_EFFICIENCY.document} (from memory)",
                       value=float(bend_efficiency_ratio(ratio)))  # fmt: skip
                factors.append("eta_b")
    if (eye := soft_eye(gear, sling)) is not None:
        factors.append("eta_e")
        c.given("d_s", "diameter of the sling", sling.diameter_mm, "mm", "accessories' data")
        c.given("D_p", "diameter that the soft eye bears on", eye.diameter_mm, "mm",
                f"{eye.bears_on}: the thinner of pin and hook")  # fmt: skip
        what, table = "factor of the soft eye", "2003 Table 4, note 1"
        if eye.efficiency < 1.0:
            source = f"bend efficiency relative to D/d 2 (full limit, {EN_13414_1.document}:{table}"
            source += f"): {BEND_EFFICIENCY.document} (from memory)"
            bend = "(1 - 0.5 / sqrt(D_p / d_s)) / (1 - 0.5 / sqrt(2))"
            c.step("eta_e", what, bend, "", source, value=eye.efficiency)
        else:
            c.given("eta_e", what, 1.0, "", f"full limit from D/d 2: EN 13414-1:{table}")
    c.step("R_w", "rated load of the item in this use", " * ".join(factors), "t", "product")


def _shackle_rating(c: Calculation, setup: Setup, study: RiggingStudy, item: ItemUse,
                    at: Attitude) -> None:  # fmt: skip
    """R_w of the most used shackle: its limit, reduced by the side pull."""
    shackle = study.hanging.gear.shackle
    assert shackle is not None
    _wll(c, shackle)
    if item.name.endswith("at the beam"):
        c.step("R_w", "rated load of the item in this use", "L_i", "t", "pulled in line")
        return
    leg = item.worst_part if at.at_worst else item.part
    u = at.states.leg_direction[at.place, leg]
    normal = plate_normals(study.hanging.gear, study.stated)[leg]
    plate = f"lifting plate {setup.lift.rigging.lug_plate}"
    normal, sling = normal / np.linalg.norm(normal), str(leg + 1)
    for axis, way, across in zip("xy", ("along", "across"), normal, strict=False):
        what = f"square to the lifting plate, unit vector {way} the load"
        c.given(f"q_{axis}", what, float(across), ".5", plate)
    if study.beam is not None:
        sling = "s"
        for axis, way, part in zip("xy", ("along", "across"), u, strict=False):
            what = f"unit vector of the bottom sling at the shackle, {way} the load"
            c.given(f"u_s{axis}", what, float(part), ".5", "place of rest of load and beam")
    pull = f"abs(u_{sling}x * q_x + u_{sling}y * q_y)"
    what = "side pull out of the plate"
    beta = c.step("beta_s", what, f"asin({pull})", "°", "scalar product")
    k = next(k for k, (top, _) in enumerate(SIDE_LOAD_BANDS) if beta <= top + 1e-9)
    low = SIDE_LOAD_BANDS[k - 1][0] if k else 0.0
    rated = item.worst_rated_t if at.at_worst else item.rated_t
    c.given(
        "eta_s", "factor of the side pull", rated / shackle.wll_t, "",
        f"{'above ' if k else ''}{low:g}° to {SIDE_LOAD_BANDS[k][0]:g}°: {ASME_B30_26.document}, "
        f"{ASME_B30_26.edition}; bands of WAC 296-155-33905",
    )  # fmt: skip
    c.step("R_w", "rated load of the item in this use", "L_i * eta_s", "t", "product", value=rated)


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
    c.step("F_i", "force on the rigging item", expression, "kN", f"{item.name}: {source}",
           value=item.worst_kN if at.at_worst else item.force_kN, tolerance=1e-5)  # fmt: skip


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
        what = "rated load of the item in this use"
        c.given("R_w", what, beam.wll_t, "t", f"{item_name(beam.kind, beam.id)}, beam data")
    what = "utilisation of the item's rating"
    c.step("U_i", what, "100 * F_i / (R_w * g)", "%", "force / rated load")
    what = "maximum utilisation of a rating"
    c.ends(check, "U_i", "U_max", what, "%", "rated load in this use")
