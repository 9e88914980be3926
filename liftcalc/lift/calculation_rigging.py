"""The printed calculation of every rigging check: force, rating, utilisation, angles, tilt.

How the load hangs (:mod:`liftcalc.lift.calculation_slings`) is printed once for each place of the
centre of gravity that a check looks at.

Sources: those of the checks and of :mod:`liftcalc.lift.rigging_items`.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.facts.rigging import Shackle, Sling
from liftcalc.lift import calculation_slings, rigging_items
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_place import LIFT_LIST
from liftcalc.lift.calculation_slings import Attitude, beam_steps, bridle_steps, tilt_steps
from liftcalc.lift.gear import cg_as_stated_m
from liftcalc.lift.rigging_checks import eye_item, side_item
from liftcalc.lift.rigging_items import ItemUse, edition_words, item_name, plate_normals, soft_eye
from liftcalc.lift.rigging_study import RiggingStudy
from liftcalc.lift.setup import Setup
from liftcalc.rigging import hitches
from liftcalc.rigging.hitches import CHOKE_FACTOR_EN, SIDE_LOAD_BANDS, choke_angle_ratio
from liftcalc.rigging.tables import ASME_B30_9_CHOKE, ASME_B30_26, BEND_EFFICIENCY, EN_13414_1


def _wll(c: Calculation, item: Sling | Shackle) -> None:
    source = f"{item.id}, accessories' data: {edition_words(item.standard)}"
    c.facts(source, L_i=item.wll_t)


def _sling_rating(c: Calculation, setup: Setup, study: RiggingStudy, sling: Sling, hitch: str) -> None:
    """R_w of one sling leg: its limit, hitch, bend and eyes."""
    choice, gear = setup.lift.rigging, study.hanging.gear
    _wll(c, sling)
    factors = ["L_i"]
    if hitch == "choke":
        stated = choice.choke_angle_deg
        angle = rigging_items.CHOKE_ANGLE_DEG if stated is None else stated
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
            if ratio < rigging_items.LEAST_BASKET_BEND:
                flat, sharp = "1 - 0.76 / (D_b / d_s) ** 0.73", "1 - 0.5 / sqrt(D_b / d_s)"
                bent, source = flat if ratio > 6.0 else sharp, BEND_EFFICIENCY.document
                used = float(hitches.bend_efficiency_ratio(ratio))
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


def _shackle_rating(c: Calculation, setup: Setup, study: RiggingStudy, item: ItemUse, at: Attitude) -> None:
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


def item_steps(c: Calculation, setup: Setup, study: RiggingStudy, item: ItemUse, at: Attitude, check: Check) -> None:
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


@dataclass(frozen=True)
class _Plan:
    """One check: how the load hangs for it, and the steps of its own."""

    check: Check
    at: Attitude | None
    steps: Callable[[Calculation], None]
    forces: bool = False
    """Whether the steps read the tensions."""


def _item(setup: Setup, study: RiggingStudy, check: Check) -> _Plan:
    """Force on one item over its rating."""
    worst = check.id == "rigging-cg"
    if check.id.startswith("eye-"):
        item = eye_item(study, check.id.removeprefix("eye-"))
    elif worst or check.id == "shackle-side":
        item = study.greatest if worst else side_item(study)
    else:
        item = next(i for i in study.items if i.name == study.weakest.name)
    assert item is not None
    part, used = item.worst_part if worst else item.part, item
    # a maximum as stated belongs to the sling leg, as its worst case does
    leg = part if part < len(study.lugs_m) and study.beam is None else 0
    at = Attitude(study, worst, item.worst_place if worst else 0, leg)

    def steps(c: Calculation) -> None:
        item_steps(c, setup, study, used, at, check)

    return _Plan(check, at, steps, forces=True)


def _table(setup: Setup, study: RiggingStudy, check: Check) -> _Plan:
    """Weight of what hangs on the sling set against the limit of the set."""
    (table,) = (t for t in study.tables if np.isfinite(t.wll_t))
    gear, beam = study.hanging.gear, study.beam
    hung = "m * (1 + c / 100) + m_r" + (" - m_e" if beam and gear.top_sling is None else "")
    assert beam or table.still_t == gear.hung_t

    def steps(c: Calculation) -> None:
        calculation_slings.weight_steps(c, setup, study)
        c.work("T_s", hung, value=table.still_t)
        c.ends(check, "T_s", "L_s", f"{table.what}: {table.edition}")

    return _Plan(check, None, steps)


def _tilt(setup: Setup, study: RiggingStudy, check: Check) -> _Plan:
    worst = study.worst
    assert worst is not None

    def steps(c: Calculation) -> None:
        if study.beam is None:
            tilt_steps(c)
        c.ends(check, "tau_l", "tau_max")

    return _Plan(check, Attitude(study, True, int(np.argmax(worst.tilt_deg))), steps)


def _angle(setup: Setup, study: RiggingStudy, check: Check) -> _Plan:
    """The flattest sling in the hook or below a beam, as stated and over the error of the centre of gravity."""
    name, each = "theta_b" if study.beam else "theta_{}", []
    for worst, states in enumerate((study.stated, study.worst)):
        if states is None:
            continue
        angles = states.leg_angle_deg
        if states.top_angle_deg is not None and check.id == "sling-angle":
            angles, name = states.top_angle_deg, "theta_t{}"
        place, leg = (int(k) for k in np.unravel_index(int(np.argmin(angles)), angles.shape))
        each.append((float(angles[place, leg]), bool(worst), place, leg))
    _, at_worst, place, leg = min(each)

    def steps(c: Calculation) -> None:
        if name == "theta_b":
            _below(c, study, leg)
        elif study.beam is None:
            c.steps("theta_of", of=leg + 1)
        c.ends(check, name.format(leg + 1), "theta_min")

    return _Plan(check, Attitude(study, at_worst, place), steps)


def _below(c: Calculation, study: RiggingStudy, leg: int) -> None:
    """Angle of one sling below a beam, in space: the load rolls under the beam."""
    x, y, _ = study.lugs_m[leg]
    end = 2 if x > 0 else 1
    along, across = "-" if x > 0 else "+", "-" if y > 0 else "+"
    rise = f"A_{end}z - z_r"
    aside = f"({rise}) * sin(psi_r)" + (f" {across} B_y / 2" if y else "")
    c.work("r_bx", f"A_{end}x {along} B_x / 2")
    c.work("r_by", aside)
    c.work("r_bz", f"z_r + ({rise}) * cos(psi_r)")
    c.steps("theta_b")


def _above(setup: Setup, study: RiggingStudy, check: Check) -> _Plan:
    """Lifting points over the highest possible centre of gravity."""
    lift = setup.lift
    load, height = lift.load, lift.rigging.point_height_m
    assumed = f"not stated: 5 % of the load's size, {load.height_m:g} m, assumed"
    error = float(study.hanging.error_m[2])
    source = LIFT_LIST if load.cg_error_z_m is not None else assumed

    def steps(c: Calculation) -> None:
        c.facts(z_p=height, G_0z=float(cg_as_stated_m(lift)[2]))
        c.facts(source, delta_z=error)
        c.steps("d_p")
        c.ends(check, "d_p", "d_p0")

    return _Plan(check, None, steps)


_BY_ID: tuple[tuple[str, Callable[[Setup, RiggingStudy, Check], _Plan]], ...] = (
    ("rigging", _item), ("sling-table", _table), ("eye-", _item), ("shackle-side", _item),
    ("load-tilt", _tilt), ("sling-angle", _angle), ("points-above-cg", _above),
)  # fmt: skip
"""Which check is calculated how, by how its id begins."""


def rigging_sections(c: Calculation, a: LiftAssessment, checks: Sequence[Check]) -> list[str]:
    """Add the calculation of every rigging check among *checks*; returns their ids.

    How the load hangs is a section of its own before the checks that read it.
    """
    setup, study = a.setup, a.rigging
    plans = [
        make(setup, study, check)
        for check in checks
        if check.value is not None and check.limit is not None  # else its own row says what misses
        for prefix, make in _BY_ID
        if check.id.startswith(prefix)
    ]
    # checks that look at one attitude stand together, in the order of the first of each
    for at in dict.fromkeys(plan.at for plan in plans):
        mine = [plan for plan in plans if plan.at == at]
        if at is not None:
            c.section(None, at.title)
            if study.beam is None:
                bridle_steps(c, setup, at, forces=any(plan.forces for plan in mine))
            else:
                beam_steps(c, setup, at)
        for plan in mine:
            c.section(plan.check)
            plan.steps(c)
    return [plan.check.id for plan in plans]
