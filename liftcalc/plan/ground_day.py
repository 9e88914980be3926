"""The ground on the morning at the crane: what stands beside each outrigger, what is not checked.

Platform and tests have their own tables: :mod:`liftcalc.plan.ground_platform` and
:mod:`liftcalc.plan.ground_proof`. Texts: ``ground_day.csv`` beside this module. Source of the wet
factor: :mod:`liftcalc.ground.timber`.
"""

from liftcalc.base.checks import Check
from liftcalc.base.files import rows_beside
from liftcalc.base.text import amount
from liftcalc.ground.timber import load_duration_factor, wet_service_factors
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.check_rows import check_row
from liftcalc.lift.ground_sections import EDGES, Section, ground_sections
from liftcalc.lift.ground_tables import Row
from liftcalc.plan.ground_platform import platform_checks

DAY_COLUMNS = ("Subject", "Statement", "Source")
_TEXTS = {row.pop("key"): tuple(row.values()) for row in rows_beside(__file__)}


def wet_mat_check(a: LiftAssessment) -> list[Check]:
    """Crushing of a timber mat below the float when it is wet, as a mat on the ground is.

    Strengths that are not stated for wet timber are reduced by the wet service factor.
    """
    mat = a.setup.mat
    if a.ground is None or mat.material != "timber":
        return []
    factor = 1.0 if mat.service == "wet" else wet_service_factors("wet")["crushing"]
    worst = max(a.ground.legs, key=lambda g: g.mat_utilisation["crushing"])
    used = 100.0 * worst.mat_utilisation["crushing"] / factor
    return [check_row("mat-wet", used, 100.0, leg=worst.name, mat=mat.id, factor=factor,
                      service=mat.service or "no known")]  # fmt: skip


def ground_checks(a: LiftAssessment) -> list[Check]:
    """Rows that the lift plan adds for the ground: platform, and timber mats when wet."""
    return [*platform_checks(a), *wet_mat_check(a)]


def _section_words(s: Section) -> str:
    words = [] if s.nearest else ["nothing beside it within reach: mat on its layers"]
    for b in s.things:
        depth = amount(b.thing.depth_m, "length_m", "up" if b.thing.kind in EDGES else "down")
        what = {"wall": "retains", "slope": "falls", "excavation": "depth"}
        gap = f", {amount(s.gap_m, 'length_m', 'down')} from the mat"
        words.append(f"{b.thing.name} ({b.thing.kind}), {what.get(b.thing.kind, 'cover')} {depth}"
                     + (gap if b.thing.name == s.nearest else ""))  # fmt: skip
    return "; ".join(words)


def day_rows(a: LiftAssessment) -> list[Row]:
    """Sections, fill, slabs, voids, services and timber: what is so, and what is not checked."""
    if a.ground is None:
        return [_TEXTS["none"]]
    site, mat, fill = a.setup.site, a.setup.mat, a.setup.rules.ground.platform_fill
    rows: list[Row] = [
        (f"section, outrigger {', '.join(s.legs)}", _section_words(s), "survey; drawing to scale")
        for s in ground_sections(a)
    ]

    def row(key: str, **words: object) -> None:
        rows.append(tuple(text.format(**words) for text in _TEXTS[key]))

    if fill is None:
        row("no fill")
    else:
        row("fill", name=fill.name, phi=fill.phi_deg, source=fill.provenance.words,
            weight=amount(fill.unit_weight_kN_m3, "unit_weight_kN_m3"),
            water="drained and kept so" if fill.drained else "not drained: full of water",
            used="laid where a mat alone does not do" if fill.used
            else "not stated to be laid")  # fmt: skip
    slabs = ", ".join(s.id for s in site.services if s.kind == "slab")
    row("slabs" if slabs else "no slab", slabs=slabs)
    for profile in {g.profile.id: g.profile for g in a.ground.legs}.values():
        row("voids", id=profile.id, voids=profile.voids, source=profile.provenance.words)
    if site.services:
        row("services")
    if mat.material == "timber":
        row("timber", service=mat.service or "unknown, taken as dry", factor=load_duration_factor("ten years"))
    row("readings")
    return rows
