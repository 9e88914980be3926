"""The printed calculation of every rigging check: force, rating, utilisation, angles, tilt.

How the load hangs (:mod:`liftcalc.lift.calculation_slings`, under a beam
:mod:`liftcalc.lift.calculation_beam`) is printed once for each place of the centre of gravity that
a check looks at.

Sources: those of the checks.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_beam import beam_steps
from liftcalc.lift.calculation_place import LIFT_LIST
from liftcalc.lift.calculation_ratings import item_steps
from liftcalc.lift.calculation_slings import Attitude, bridle_steps, tilt_steps, weight_steps
from liftcalc.lift.gear import cg_as_stated_m
from liftcalc.lift.rigging_checks import eye_item, side_item
from liftcalc.lift.rigging_study import RiggingStudy
from liftcalc.lift.setup import Setup


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
        weight_steps(c, setup, study)
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
    """The flattest sling in the hook or below a beam, as stated and over the error of the centre
    of gravity.
    """
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
