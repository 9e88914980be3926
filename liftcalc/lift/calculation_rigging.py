"""The printed calculation of every rigging check: force, rating, utilisation, angles, tilt.

Contents: :func:`rigging_sections`. How the load hangs: :mod:`liftcalc.lift.calculation_slings`,
under a beam :mod:`liftcalc.lift.calculation_beam`; it is printed once for each place of the centre
of gravity that a check looks at.

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
from liftcalc.lift.calculation_slings import (
    Attitude,
    angle_steps,
    bridle_steps,
    tilt_steps,
    weight_steps,
)
from liftcalc.lift.gear import cg_as_stated_m
from liftcalc.lift.rigging_checks import eye_item, side_item
from liftcalc.lift.rigging_items import ItemUse
from liftcalc.lift.setup import Setup


@dataclass(frozen=True)
class _Plan:
    """One check: how the load hangs for it, and the steps of its own."""

    check: Check
    at: Attitude | None
    steps: Callable[[Calculation], None]
    forces: bool = False
    """Whether the steps read the tensions."""


class _Sheet:
    """What the steps read."""

    def __init__(self, assessed: LiftAssessment) -> None:
        self.setup: Setup = assessed.setup
        self.study = assessed.rigging
        self.gear = assessed.rigging.hanging.gear

    def item(self, name: str) -> ItemUse:
        return next(i for i in self.study.items if i.name == name)

    def at(self, *, place: int = 0, leg: int = 0, worst: bool = False) -> Attitude:
        """The attitude; a maximum as stated belongs to the sling leg, as its worst case does."""
        return Attitude(self.study, worst, place, leg)


def _of_item(sheet: _Sheet, check: Check, item: ItemUse, *, worst: bool = False) -> _Plan:
    part = item.worst_part if worst else item.part
    leg = part if part < len(sheet.study.lugs_m) and sheet.study.beam is None else 0
    at = sheet.at(place=item.worst_place if worst else 0, leg=leg, worst=worst)
    return _Plan(
        check, at, lambda calc: item_steps(calc, sheet.setup, sheet.study, item, at, check),
        forces=True,
    )  # fmt: skip


def _rigging(sheet: _Sheet, check: Check) -> _Plan:
    return _of_item(sheet, check, sheet.item(sheet.study.weakest.name))


def _rigging_cg(sheet: _Sheet, check: Check) -> _Plan:
    item = sheet.study.greatest
    assert item is not None
    return _of_item(sheet, check, item, worst=True)


def _eye_check(sheet: _Sheet, check: Check) -> _Plan:
    item = eye_item(sheet.study, check.id.removeprefix("eye-"))
    assert item is not None
    return _of_item(sheet, check, item)


def _side(sheet: _Sheet, check: Check) -> _Plan:
    item = side_item(sheet.study)
    assert item is not None
    return _of_item(sheet, check, item)


def _table(sheet: _Sheet, check: Check) -> _Plan:
    """Weight of what hangs on the sling set against the limit of the set."""
    (table,) = (t for t in sheet.study.tables if np.isfinite(t.wll_t))

    def steps(calc: Calculation) -> None:
        weight_steps(calc, sheet.setup, sheet.study)
        top = sheet.study.beam is not None
        hung = "m * (1 + c / 100) + m_r"
        why = "all that hangs, without hoist factor: the mark is read so"
        if sheet.study.beam is not None and sheet.gear.top_sling is None:
            hung += " - m_e"
        calc.step("T_s", "mass on the sling set", hung, "t", why, value=table.still_t)
        text = f"{table.what}: {table.edition}"
        calc.given("L_s", "working load limit of the sling set", table.wll_t, "t", text)
        assert top or table.still_t == sheet.gear.hung_t
        calc.reaches(check, "T_s", "L_s")

    return _Plan(check, None, steps)


def _tilt(sheet: _Sheet, check: Check) -> _Plan:
    worst = sheet.study.worst
    assert worst is not None
    at = sheet.at(place=int(np.argmax(worst.tilt_deg)), worst=True)

    def steps(calc: Calculation) -> None:
        if sheet.study.beam is None:
            tilt_steps(calc)
        limit = sheet.setup.lift.rigging.tilt_limit_deg
        calc.given("tau_max", "tilt permitted to the load", limit, "°", check.reference)
        calc.reaches(check, "tau_l", "tau_max")

    return _Plan(check, at, steps)


def _angle(sheet: _Sheet, check: Check) -> _Plan:
    """The flattest sling in the hook, as stated and over the error of the centre of gravity."""
    study, name = sheet.study, "theta_{}"
    each = [(study.stated, False), *([(study.worst, True)] if study.worst else [])]
    best: tuple[float, int, int, bool] | None = None
    for states, worst in each:
        angles = states.leg_angle_deg
        if study.beam and states.top_angle_deg is not None:
            angles, name = states.top_angle_deg, "theta_t{}"
        elif study.beam:
            name = "theta_b"
        where = np.unravel_index(int(np.argmin(angles)), angles.shape)
        one = (float(angles[where]), int(where[0]), int(where[1]), worst)
        if best is None or one[0] < best[0]:
            best = one
    assert best is not None
    _, place, leg, worst = best
    at = sheet.at(place=place, worst=worst)

    def steps(calc: Calculation) -> None:
        if name == "theta_b":
            _below(calc, sheet, at, leg)
        elif study.beam is None:
            angle_steps(calc, leg)
        assert check.limit is not None
        calc.given("theta_min", "minimum sling angle from the horizontal", check.limit, "°",
                   check.reference)  # fmt: skip
        calc.reaches(check, name.format(leg + 1), "theta_min")

    return _Plan(check, at, steps)


def _below(calc: Calculation, sheet: _Sheet, at: Attitude, leg: int) -> None:
    """Angle of one sling below a beam, in space: the load rolls under the beam."""
    x, y, _ = sheet.study.lugs_m[leg]
    end = 2 if x > 0 else 1
    along, across = "-" if x > 0 else "+", "-" if y > 0 else "+"
    rise = f"A_{end}z - z_r"
    for axis, expression in (
        ("x", f"A_{end}x {along} B_x / 2"),
        ("y", f"({rise}) * sin(psi_r)" + (f" {across} B_y / 2" if y else "")),
        ("z", f"z_r + ({rise}) * cos(psi_r)"),
    ):
        way = {"x": "along the load", "y": "across the load", "z": "square to its underside"}[axis]
        calc.step(f"r_b{axis}", f"flattest bottom sling, point to beam, {way}", expression, "m",
                  "geometry", digits=4)  # fmt: skip
    calc.step("theta_b", "angle of the flattest bottom sling from the horizontal",
              "asin((-r_bx * sin(lambda_l) + r_by * cos(lambda_l) * sin(psi_r) "
              "+ r_bz * cos(lambda_l) * cos(psi_r)) / sqrt(r_bx ** 2 + r_by ** 2 + r_bz ** 2))",
              "°", "scalar product with the plumb line")  # fmt: skip


def _angle_below(sheet: _Sheet, check: Check) -> _Plan:
    study = sheet.study
    best = (float(study.stated.leg_angle_deg.min()), False)
    if study.worst is not None:
        best = min(best, (float(study.worst.leg_angle_deg.min()), True))
    states = study.worst if best[1] and study.worst is not None else study.stated
    place, leg = np.unravel_index(int(np.argmin(states.leg_angle_deg)), states.leg_angle_deg.shape)
    at = sheet.at(place=int(place), worst=best[1])

    def steps(calc: Calculation) -> None:
        _below(calc, sheet, at, int(leg))
        assert check.limit is not None
        calc.given("theta_min", "minimum sling angle from the horizontal", check.limit, "°",
                   check.reference)  # fmt: skip
        calc.reaches(check, "theta_b", "theta_min")

    return _Plan(check, at, steps)


def _above(sheet: _Sheet, check: Check) -> _Plan:
    """Lifting points over the highest possible centre of gravity."""

    def steps(calc: Calculation) -> None:
        lift, study = sheet.setup.lift, sheet.study
        height = lift.rigging.point_height_m
        calc.given("z_p", "lifting points above the load's underside", height, "m", LIFT_LIST)
        what = "centre of gravity above its underside, as stated"
        calc.given("G_0z", what, float(cg_as_stated_m(lift)[2]), "m", LIFT_LIST)
        what = "error of the centre of gravity square to its underside, either way"
        own = lift.load.cg_error_z_m is not None
        text = f"not stated: 5 % of the load's size, {lift.load.height_m:g} m, assumed"
        calc.given("delta_z", what, float(study.hanging.error_m[2]), "m",
                   LIFT_LIST if own else text)  # fmt: skip
        what = "lifting points above the highest centre of gravity"
        calc.step("d_p", what, "z_p - (G_0z + delta_z)", "m", "difference")
        assert check.limit is not None
        what = "minimum height of the points above the centre of gravity"
        calc.given("d_p0", what, check.limit, "m", "above 0: 1e-6 m", digits=6)
        calc.reaches(check, "d_p", "d_p0")

    return _Plan(check, None, steps)


_BY_ID: tuple[tuple[str, Callable[[_Sheet, Check], _Plan]], ...] = (
    ("rigging-cg", _rigging_cg),
    ("rigging", _rigging),
    ("sling-table", _table),
    ("eye-", _eye_check),
    ("shackle-side", _side),
    ("load-tilt", _tilt),
    ("sling-angle-below", _angle_below),
    ("sling-angle", _angle),
    ("points-above-cg", _above),
)
"""Which check is calculated how; the first id that fits, longest first."""


def rigging_sections(
    calc: Calculation, assessed: LiftAssessment, checks: Sequence[Check]
) -> list[str]:
    """Add the calculation of every rigging check among *checks*; returns their ids.

    How the load hangs is a section of its own before the checks that read it.
    """
    sheet, plans = _Sheet(assessed), []
    for check in checks:
        if check.value is None or check.limit is None:
            continue  # nothing to reach: what is missing stands in its own row
        found = (make for prefix, make in _BY_ID if check.id.startswith(prefix))
        if (make := next(found, None)) is not None:
            plans.append(make(sheet, check))
    # checks that look at one attitude stand together, in the order of the first of each
    order: list[Attitude | None] = []
    for plan in plans:
        if plan.at not in order:
            order.append(plan.at)
    for at in order:
        if at is not None:
            calc.section(None, at.title)
            if sheet.study.beam is None:
                forces = any(plan.forces for plan in plans if plan.at == at)
                bridle_steps(calc, sheet.setup, at, forces=forces)
            else:
                beam_steps(calc, sheet.setup, at)
        for plan in plans:
            if plan.at == at:
                calc.section(plan.check)
                plan.steps(calc)
    return [plan.check.id for plan in plans]
