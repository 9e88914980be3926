"""The greatest shortfall of each outrigger at which every check is still as good as planned.

Looked for between the plan and what rated capacity alone would allow
(:mod:`liftcalc.lift.leg_setting`), in the steps of the day card: the full check is made at the
setting given, half way to it and one step beyond. Trial; no published source.
"""

from dataclasses import dataclass

from liftcalc.base.checks import Check
from liftcalc.base.text import Show, amount
from liftcalc.base.words import STATE_WORDS
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.lift.leg_setting import short_of_m, shortfalls_m, tolerance_words
from liftcalc.lift.what_if import RANK, DayChange, Outcome, WhatIf

SHORTFALL_COLUMNS = ("Outrigger", "Planned", "Every check holds as planned down to", "Shortfall, maximum", "Beyond")
_LEAST_BEYOND_M = 0.001


@dataclass(frozen=True)
class Shortfall:
    """One outrigger, or all of them."""

    outriggers: tuple[str, ...]
    short_m: float
    """Greatest shortfall at which the state is no worse than planned. [m]"""
    extension_m: tuple[float, ...]
    """These outriggers at that shortfall. [m]"""
    beyond_m: float
    """The shortfall tried beyond it; 0 where they are fully in. [m]"""
    beyond: Outcome


def greatest_shortfalls(what: WhatIf) -> tuple[Shortfall, ...]:
    """Each outrigger, then all together; nothing where the lift must not be made as planned."""
    setup, rank = what.planned.setup, RANK.index(what.planned.verdict.status)
    if rank > RANK.index("condition"):
        return ()
    found = []
    for one in what.planned.settings[1:]:
        which = tuple(LEG_NAMES.index(name) for name in one.outriggers)
        rated = max(p - e for p, e in zip(one.planned_m, one.least_m, strict=True))
        steps = [s for s in shortfalls_m(setup, which) if s < rated - 1e-9]
        found.append(_greatest(what, which, [*steps, rated] if rated > 1e-9 else [], rank))
    return tuple(found)


def _greatest(what: WhatIf, which: tuple[int, ...], steps: list[float], rank: int) -> Shortfall:
    setup = what.planned.setup

    def state(short_m: float) -> Outcome:
        return what.state(DayChange(extension_m=short_of_m(setup, which, short_m)))

    def holds(n: int) -> bool:
        return RANK.index(state(steps[n]).status) <= rank

    low, high = -1, len(steps)
    if steps and holds(high - 1) and holds((high - 1) // 2):
        low = high - 1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    short = steps[low] if low >= 0 else 0.0
    beyond = steps[low + 1] if low + 1 < len(steps) else short + _LEAST_BEYOND_M
    planned, extension = setup.lift.legs.as_tuple(), short_of_m(setup, which, short)
    farther = short_of_m(setup, which, beyond)
    if farther == extension:
        beyond = 0.0
    return Shortfall(tuple(LEG_NAMES[k] for k in which), short,
                     tuple(extension[k] for k in which),
                     max(planned[k] - farther[k] for k in which),
                     state(beyond) if beyond else Outcome("within"))  # fmt: skip


def shortfall_rows(what: WhatIf, show: Show) -> list[tuple[str, ...]]:
    """Each outrigger: planned, minimum setting by every check, shortfall, and what fails beyond."""
    rows = []
    planned = dict(zip(LEG_NAMES, what.planned.setup.lift.legs.as_tuple(), strict=True))
    for one in greatest_shortfalls(what):
        rows.append((
            one.outriggers[0] if len(one.outriggers) == 1 else "all together",
            ", ".join(show(planned[name], "extension_m") for name in one.outriggers),
            ", ".join(show(e, "extension_m") for e in one.extension_m),
            show(one.short_m, "extension_m") if one.short_m else "none",
            _beyond_words(one),
        ))  # fmt: skip
    words = tolerance_words(what.planned.setup, show)
    return [*rows, ("setting tolerance", "–", "–", "–", words)] if rows else []


def _beyond_words(one: Shortfall) -> str:
    if not one.beyond_m:
        return "fully in"
    short = f"at {amount(1000 * one.beyond_m, 'small_length_mm')} short: "
    return short + outcome_words(one.beyond)


def outcome_words(outcome: Outcome) -> str:
    """State, and the row that decides it."""
    row: Check | None = outcome.check
    if row is None:
        return outcome.problem or STATE_WORDS[outcome.status]
    if outcome.holds:
        return row.words
    used = "" if row.utilisation is None else f" {100 * row.utilisation:.0f} %"
    return f"{row.words} ({row.title}{used})"
