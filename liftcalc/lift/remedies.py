"""What would bring a failing check within its limit, each change tried with every check first.

A row's own remedy says in words what kind of change helps. Here changes with numbers are made to
the lift, and the whole assessment is repeated: a change is named only if the check is then within
its limit and no check fails that did not fail before. What still fails after it is named too. No
published source: trial.
"""

import dataclasses
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from pydantic import ValidationError

from liftcalc.base.checks import Check, Verdict
from liftcalc.base.errors import LiftcalcError
from liftcalc.base.text import amount
from liftcalc.facts.job import Job
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.placing import ground_level_m

_NEARER_M = (0.5, 1.0, 2.0, 4.0)
_LIGHTER = (0.9, 0.75, 0.5)
_REACH = ("capacity", "stability", "layout-capacity", "leg-", "persons-capacity", "radius-greatest")
_GROUND = ("ground-", "mat-", "settlement", "service-", "bearing")
_Trial = tuple[str, str, dict[str, Any]]
"""Kind of change, its words, and the fields of the lift that it sets."""


@dataclass(frozen=True)
class Change:
    """A change that was tried and is enough."""

    words: str
    outcome: str
    update: dict[str, Any]
    """Fields of the lift that it sets."""


def tried_remedies(assessed: LiftAssessment, rows: Sequence[Check]) -> tuple[Check, ...]:
    """The same rows; each failing one with the changes that were tried and found to be enough."""
    known: dict[str, Verdict | None] = {}
    shown = []
    for row in rows:
        found = enough(assessed, row, known=known)
        text = row.remedy
        if found:
            words = "; or ".join(f"{c.words} ({c.outcome})" for c in found)
            text = f"{text} Tried with every check, and enough: {words}.".strip()
        elif row.status == "over" and next(_changes(assessed, row), None) is not None:
            text = f"{text} None of the changes tried is enough without failing another check."
        shown.append(dataclasses.replace(row, remedy=text.strip()))
    return tuple(shown)


def enough(assessed: LiftAssessment, row: Check, *,
           known: dict[str, Verdict | None] | None = None) -> tuple[Change, ...]:  # fmt: skip
    """Changes that bring one failing row within its limit and make no other check fail.

    The first kinds of change that were enough, the smallest of each; none for a row that is not over, or where the lift
    as planned cannot be judged as a whole. *known* keeps what was tried, for the next row of the same lift.
    """
    known = {} if known is None else known
    if row.status != "over":
        return ()
    try:
        before = {c.id for c in assessed.checks if c.status != "within"}
    except LiftcalcError:
        return ()
    found: dict[str, Change] = {}
    for kind, words, update in _changes(assessed, row):
        if kind in found:
            continue
        if words not in known:
            known[words] = _after(assessed, update)
        after = known[words]
        if after is None:
            continue
        failing = {c.id: c.title for c in (*after.failed, *after.conditional)}
        if row.id in failing or not failing.keys() <= before:
            continue
        left = "; ".join(failing.values())
        outcome = f"not within yet: {left}" if left else "every check within"
        found[kind] = Change(words, outcome, update)
    return tuple(found.values())[:3]


def _after(assessed: LiftAssessment, update: dict[str, Any]) -> Verdict | None:
    """Verdict after a change; None where the lift cannot be made or judged so."""
    job, lift = assessed.job, assessed.setup.lift
    plain = {**dict(lift), **update}
    try:
        changed = Job.model_validate({**dict(job), "lifts": (type(lift).model_validate(plain),)})
        return assess_lift(changed, lift.id).verdict
    except (LiftcalcError, ValidationError):
        return None


def _changes(assessed: LiftAssessment, row: Check) -> Iterator[_Trial]:
    """Changes worth trying for a failing row, the smallest first."""
    if row.id.startswith(_REACH):
        yield from _extended(assessed)
        for _, words, legs in _extended(assessed):
            for _, on, mat in _other_mats(assessed):
                yield "outriggers and mats", f"{words} on {on}", {**legs, **mat}
        yield from _nearer(assessed)
        yield from _lighter(assessed)
    if row.id.startswith(_GROUND):
        yield from _other_mats(assessed)
    if row.id in ("clearance-load", "clearance-rigging"):
        yield from _higher(assessed)


def _extended(assessed: LiftAssessment) -> Iterator[_Trial]:
    legs, lift = assessed.setup.machine.legs, assessed.setup.lift
    full = {leg.name: leg.extension_max_m for leg in legs}
    if full != dict(lift.legs):
        words = ", ".join(f"{name} {amount(value, 'extension_m')}" for name, value in full.items())
        yield "outriggers", f"extend every outrigger fully ({words})", {"legs": full}


def _nearer(assessed: LiftAssessment) -> Iterator[_Trial]:
    """The crane moved straight toward the hook at the step that governs capacity."""
    setup, study = assessed.setup, assessed.study
    slew = np.radians(study.path.slew_deg[study.governing_step] + setup.lift.stand.heading_deg)
    for way in _NEARER_M:
        east = round(setup.lift.stand.easting_m + way * float(np.cos(slew)), 3)
        north = round(setup.lift.stand.northing_m + way * float(np.sin(slew)), 3)
        try:
            level = round(float(ground_level_m(setup.site, east, north)), 3)
        except LiftcalcError:
            return
        stand = {"easting_m": east, "northing_m": north, "level_m": level}
        yield ("position", f"move the crane {amount(way, 'length_m')} toward the hook, to "
               f"{amount(east, 'length_m')} E, {amount(north, 'length_m')} N",
               {"stand": {**dict(setup.lift.stand), **stand}})  # fmt: skip


def _lighter(assessed: LiftAssessment) -> Iterator[_Trial]:
    load = assessed.setup.lift.load
    for share in _LIGHTER:
        mass = round(load.mass_t * share - 0.005, 2)
        if mass > 0:
            yield ("load", f"take {amount(load.mass_t - mass, 'mass_t', 'up')} off the load, to "
                   f"{amount(mass, 'mass_t', 'down')}", {"load": {**dict(load),
                                                                  "mass_t": mass}})  # fmt: skip


def _other_mats(assessed: LiftAssessment) -> Iterator[_Trial]:
    for mat in sorted(assessed.job.mats, key=lambda m: m.length_m * m.width_m):
        if mat.id != assessed.setup.mat.id:
            yield "mat", f"mats {mat.name}", {"mat": mat.id}


def _higher(assessed: LiftAssessment) -> Iterator[_Trial]:
    lift, path = assessed.setup.lift, assessed.path
    for rise in (0.25, 0.5, 1.0, 2.0):
        level = round(max(lift.carry_level_m, float(path.level_m.max())) + rise, 2)
        words = f"carry the load's underside at level {amount(level, 'length_m', 'up')}"
        yield "level", words, {"carry_level_m": level}
