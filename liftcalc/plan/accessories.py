"""Accessories of a lift as single items: tag, last and next examination, document.

Sources: LOLER regulation 9 (UK; 6 months for accessories, from memory); standard lift plan form of
USACE New England (rigging inspected, tagged; seen in an excerpt). The day that counts is the one
that the register states for the next examination.
"""

from collections import Counter

from liftcalc.base.checks import Check
from liftcalc.facts.plan import Plan
from liftcalc.facts.rigging import RegisterItem
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.check_rows import check_row

GEAR_COLUMNS = ("Kind", "Needed", "Tag", "Last examination", "Next examination", "Document", "On the day of the lift")


def _needed(a: LiftAssessment) -> Counter[str]:
    """How many of each kind the lift takes; sling legs counted one by one."""
    gear, count = a.setup.hanging.gear, a.setup.lift.rigging.sling_legs
    need = Counter({gear.sling.id: count})
    if gear.top_sling is not None:
        need[gear.top_sling.id] += 2
    if gear.shackle is not None:
        need[gear.shackle.id] += count + (2 if gear.top_sling else 0)
    if gear.beam is not None:
        need[gear.beam.id] += 1
    return need


def _chosen(a: LiftAssessment, kind: str) -> list[RegisterItem]:
    """The items of a kind that the lift names, or all of that kind where it names none."""
    tags = a.job.plan.gear_tags if a.job.plan else ()
    return [x for x in a.job.accessories.tagged if x.kind == kind and (not tags or x.tag in tags)]


def accessory_checks(a: LiftAssessment) -> list[Check]:
    """Each kind with enough items in date on the day of the lift; what is named and is not so, by its tag."""
    plan = a.job.plan or Plan()
    day, known = plan.date, {x.tag: x for x in a.job.accessories.tagged}
    need, rows = _needed(a), []
    if day is None:
        return [check_row("accessories-day", 1, 1)]
    wrong = [
        t
        for t in plan.gear_tags
        if t not in known or known[t].kind not in need or not known[t].last <= day <= known[t].next
    ]
    if plan.gear_tags:
        tags = ", ".join(wrong or plan.gear_tags)
        rows.append(check_row("accessories-named", len(wrong), 0.0, tags=tags))
    for kind, count in need.items():
        items = _chosen(a, kind)
        if not items:
            named = "named" if plan.gear_tags else "in the register"
            rows.append(check_row("accessories none", 1, 1, part=kind, named=named))
            continue
        good = [x for x in items if x.last <= day <= x.next]
        old = ", ".join(x.tag for x in items if x not in good)
        rows.append(check_row(
            "accessories", sum(x.legs for x in good), count, part=kind, day=day,
            next=min(x.next for x in items), old=old or "more of them",
            condition=f"{old}: out of date, not used" if old else "",
        ))  # fmt: skip
    return rows


def accessory_rows(a: LiftAssessment) -> list[tuple[str, ...]]:
    """The register of what the lift uses."""
    day = a.job.plan.date if a.job.plan else None
    rows: list[tuple[str, ...]] = []
    for kind, count in _needed(a).items():
        items = _chosen(a, kind)
        rows += [
            (kind, str(count), x.tag, x.last, x.next, x.document,
             "date of the lift missing" if day is None
             else "examination in date" if x.last <= day <= x.next else "EXPIRED: not used")
            for x in items
        ]  # fmt: skip
        rows += [] if items else [(kind, str(count), "none in the register", "–", "–", "–", "examination not stated")]
    return rows
