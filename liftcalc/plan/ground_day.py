"""The ground on the morning at the crane: what stands beside each outrigger, what is not checked.

Platform and tests have their own tables: :mod:`liftcalc.plan.ground_platform` and
:mod:`liftcalc.plan.ground_proof`. Source of the wet factor: :mod:`liftcalc.ground.timber`.
"""

from liftcalc.base.checks import Check, limit_check
from liftcalc.base.text import amount
from liftcalc.ground.timber import load_duration_factor, wet_service_factors
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.ground_sections import EDGES, Section, ground_sections
from liftcalc.lift.ground_tables import Row
from liftcalc.plan.ground_platform import platform_checks

DAY_COLUMNS = ("Subject", "Statement", "Source")
_NDS = "NDS 2018, Table 2.3.2; NDS Supplement 2018, Table 4D (second-hand)"


def wet_mat_check(a: LiftAssessment) -> list[Check]:
    """Crushing of a timber mat below the float when it is wet, as a mat on the ground is.

    Strengths that are not stated for wet timber are reduced by the wet service factor.
    """
    mat = a.setup.mat
    if a.ground is None or mat.material != "timber":
        return []
    factor = 1.0 if mat.service == "wet" else wet_service_factors("wet")["crushing"]
    worst = max(a.ground.legs, key=lambda g: g.mat_utilisation["crushing"])
    stated = f"strengths stated for {mat.service or 'no known'} service"
    return [limit_check(
        "mat-wet", "Crushing of the wet timber mat", quantity="percent", limit=100.0,
        value=100.0 * worst.mat_utilisation["crushing"] / factor, reference=_NDS,
        where=f"outrigger {worst.name}, mat {mat.id}; {stated}: factor {factor:g}",
        remedy="Spread the float's force, use a mat stated for wet service, or another material.",
    )]  # fmt: skip


def ground_checks(a: LiftAssessment) -> list[Check]:
    """Rows that the lift plan adds for the ground: platform, and timber mats when wet."""
    return [*platform_checks(a), *wet_mat_check(a)]


def _section_words(s: Section) -> str:
    words = [] if s.nearest else ["nothing beside it within reach: mat on its layers"]
    for b in s.things:
        depth = amount(b.thing.depth_m, "length_m", "up" if b.thing.kind in EDGES else "down")
        what = {"wall": "retains", "slope": "falls"}.get(b.thing.kind, "depth")
        what = what if b.thing.kind in EDGES else "cover"
        gap = f", {amount(s.gap_m, 'length_m', 'down')} from the mat"
        words.append(f"{b.thing.name} ({b.thing.kind}), {what} {depth}"
                     + (gap if b.thing.name == s.nearest else ""))  # fmt: skip
    return "; ".join(words)


def day_rows(a: LiftAssessment) -> list[Row]:
    """Sections, fill, slabs, voids, services and timber: what is so, and what is not checked."""
    if a.ground is None:
        return [("Ground", "none: the crane tips over on this path", "statics")]
    site, mat, fill = a.setup.site, a.setup.mat, a.setup.rules.ground.platform_fill
    rows: list[Row] = [
        (f"section, outrigger {', '.join(s.legs)}", _section_words(s), "survey; drawing to scale")
        for s in ground_sections(a)
    ]
    if fill is None:
        rows.append(("Platform fill", "none stated: no platform is sized", "job"))
    else:
        water = "drained and kept so" if fill.drained else "not drained: full of water"
        used = "laid where a mat alone does not do" if fill.used else "not stated to be laid"
        rows.append((
            "Platform fill", f"{fill.name}; {amount(fill.unit_weight_kN_m3, 'unit_weight_kN_m3')}, "
            f"friction angle {fill.phi_deg:g}°; {water}; {used}. Mats stay over their limit on the "
            "ground pressure sheet until the laid platform is surveyed as ground.",
            fill.provenance.words,
        ))  # fmt: skip
    slabs = [s for s in site.services if s.kind == "slab"]
    words = "none stated; a mat on a suspended slab, roof or deck is outside this tool"
    if slabs:
        words = (
            f"{', '.join(s.id for s in slabs)}: force and mean stress on the whole are calculated; "
            "bending, shear, punching and supports of the slab are NOT checked. A structural "
            "engineer says what it carries with the mats in their positions."
        )
    rows.append(("Suspended slabs", words, "survey"))
    for profile in {g.profile.id: g.profile for g in a.ground.legs}.values():
        rows.append((f"Voids, {profile.id}", f"{profile.voids}; cellars, tanks, old pits and "
                     "culverts that are not surveyed are NOT looked for",
                     profile.provenance.words))  # fmt: skip
    if site.services:
        rows.append(("Culverts, pipes, ducts", "vertical stress on the crown against the owner's "
                     "limit; the bending of roof and walls and their joints are NOT checked",
                     "ground pressure sheet"))  # fmt: skip
    if mat.material == "timber":
        rows.append(("Timber mats", f"service class {mat.service or 'unknown, taken as dry'}; "
                     "no increase for a short load (factor "
                     f"{load_duration_factor('ten years'):g})", _NDS))  # fmt: skip
    rows.append(("Readings of a layer", "below five the lowest counts; a single soft spot under a "
                 "mat counts always", "Schneider 1997 (from memory)"))  # fmt: skip
    return rows
