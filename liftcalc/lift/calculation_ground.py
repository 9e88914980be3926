"""The calculation of the ground pressure sheet, from the inputs to each check that governs.

Calculated are the governing check, each check at or above 80 % of its limit, and always reaction,
pressure and allowable pressure of the outrigger that governs. What is found by iteration or search
is given with its result; what follows from it is calculated again.

Sources: beside each row.
"""

from collections.abc import Sequence

from liftcalc.base.checks import Check, verdict
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_beside import (
    neighbour_section,
    service_section,
    slip_section,
    wall_section,
)
from liftcalc.lift.calculation_gross import gross_section
from liftcalc.lift.calculation_legs import reaction_section
from liftcalc.lift.calculation_level import settled_section, tilt_section
from liftcalc.lift.calculation_mat import (
    bending_section,
    effective_rows,
    settlement_section,
    strength_section,
)
from liftcalc.lift.calculation_mechanism import Way, allowable_rows
from liftcalc.lift.calculation_place import place_section
from liftcalc.lift.ground_facts import ground_profile, leg_spacing_m
from liftcalc.lift.ground_study import GroundStudy
from liftcalc.lift.leg_ground import LegGround

NEAR = 0.80
"""Utilisation from which a check is calculated."""
_OF_LEG = ("ground-neighbours", "ground", "mat-bending", "mat", "settlement", "leg")
_SECTIONS_OF_LEG = {"mat": strength_section, "mat-bending": bending_section,
                    "settlement": settlement_section}  # fmt: skip


def _split(check: Check) -> tuple[str, str]:
    """Kind of a check and its outrigger; no outrigger for what concerns the crane as a whole."""
    kind, _, name = check.id.rpartition("-")
    return (kind, name) if kind in _OF_LEG else (check.id, "")


def _worked(study: GroundStudy, checks: Sequence[Check]) -> list[Check]:
    """Checks whose calculation is printed: of outriggers with what they rest on, then the rest."""
    governing = verdict(checks).governing
    # the outrigger of the governing check; else the one whose ground comes nearest its limit
    nearest = max(study.legs, key=lambda g: g.pressure_kPa / max(g.allowable_kPa, 1e-9)).name
    first = _split(governing)[1] or nearest
    wanted = {f"leg-{first}", f"ground-{first}"}
    shown = [c for c in checks if c.value is not None and c.limit is not None]
    for c in shown:
        near = c.utilisation is not None and c.utilisation >= NEAR
        if near or c.status == "over" or c.id == governing.id:
            kind, name = _split(c)
            wanted |= {c.id} | ({f"leg-{name}"} if name else set())
            wanted |= {f"ground-{name}"} if name and kind != "leg" else set()
    order = ("leg", "ground", "mat", "mat-bending", "settlement", "ground-neighbours")

    def rank(c: Check) -> tuple[int, int, int]:
        kind, name = _split(c)
        if not name:
            return 9, 0, 0
        place = [g.name for g in study.legs].index(name)
        return 0, -1 if name == first else place, order.index(kind)

    return sorted((c for c in shown if c.id in wanted), key=rank)


def ground_calculation(a: LiftAssessment, checks: Sequence[Check]) -> Calculation:
    """The calculation of a ground pressure sheet; *checks* are the rows that it shows."""
    c, study = Calculation(), a.ground
    if study is None:
        c.section(None, "Outriggers")
        c.note("No equilibrium", "the resultant of all weights leaves the base on this path",
               "the crane tips over: DO NOT LIFT", "statics; see the lift check")  # fmt: skip
        return c
    place_section(c, a.setup, a.path)
    gross_section(c, a.setup)
    for check in _worked(study, checks):
        _work(c, a, study, check)
    governing = verdict(checks).governing
    if governing.value is None or governing.limit is None:
        c.section(governing)
        c.note(governing.title, governing.remedy, governing.words, governing.reference)
    return c


def _work(c: Calculation, a: LiftAssessment, study: GroundStudy, check: Check) -> None:
    kind, name = _split(check)
    g = next((g for g in study.legs if g.name == name), None)
    if g is None:
        found = (section for start, section in _OF_SITE.items() if check.id.startswith(start))
        if (section := next(found, None)) is not None:
            c.section(check)
            section(c, a, study, check)
        return
    c.section(check)
    if kind == "leg":
        reaction_section(c, a, check)
    elif kind == "ground":
        ground_section(c, a, g, check)
    elif kind == "ground-neighbours":
        neighbour_section(c, a, study, g, check)
    else:
        _SECTIONS_OF_LEG[kind](c, a, g, check)


def ground_section(c: Calculation, a: LiftAssessment, g: LegGround, check: Check) -> None:
    """Effective area, pressure, and what the ground allows there, by its governing mechanism."""
    effective_rows(c, a, g)
    c.note("Mechanism that governs", f"{g.mechanism}, {g.layer}, zone {g.zone}",
           "others: table of mechanisms",
           "the lowest of every mechanism of every layer")  # fmt: skip
    allowable_rows(c, a.setup, governing_way(a, g))
    c.reaches(check, f"p_{g.name}", f"q_{g.name}")


def governing_way(a: LiftAssessment, g: LegGround) -> Way:
    """The mechanism that governs one outrigger."""
    return Way(g, ground_profile(g.profile, a.setup.mat.width_m), g.mechanism, g.layer,
               g.allowable_kPa, leg_spacing_m(a.setup), "q_of")  # fmt: skip


_OF_SITE = {"tilt": tilt_section, "capacity-settled": settled_section, "service-": service_section,
            "wall-": wall_section, "slip-": slip_section}  # fmt: skip
"""Sections of what concerns the crane or the site as a whole, by the start of the check's id."""
