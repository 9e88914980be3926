"""The answers of the day as tables for the crew; settings in a row with one answer share a row."""

import itertools
import math
from collections.abc import Iterator, Sequence

from liftcalc.base.checks import Status
from liftcalc.base.text import Show, amount
from liftcalc.base.words import STATE_WORDS
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.lift.leg_setting import short_of_m
from liftcalc.lift.setup import Setup
from liftcalc.lift.what_if import Outcome
from liftcalc.plan.day_answers import FAILING_STEPS, TILT_WAYS, DayAnswer, DayAnswers, ShortAnswer
from liftcalc.plan.trial_lift import SHOWS_LEAST

Table = tuple[str, tuple[str, ...], Sequence[tuple[str, ...]]]
"""Title, columns and rows."""

MARKS: dict[Status, str] = {"within": "✓", "condition": "(✓)", "no_data": "?", "over": "✗"}
"""Beside the words of a state, so that it is found without reading."""
HOW_TO_READ = (
    "Each answer is the full check of this lift, over every row of its four sheets, with one thing "
    "changed and all else as planned; two changes at once are not answered. Between two settings "
    "the worse answer counts.",
    "No answer is leave to go on: what differs from the plan goes to the lift supervisor, and "
    "needs a new sheet before the lift.",
    "Load: the maximum gross load (everything below the boom head), of this load's size and on "
    "its planned path. Radius: how far out the planned load may go, at the carry height, "
    "over the planned slews. Slew: how far of the planned slew from the pick the planned load may "
    "go. Each is the last step that holds; the next one fails.",
)
_LOAD_COLUMNS = ("Reading, and load it may stand for", "State", "What to do")
_SHORT_COLUMNS = ("Set at", "State", "Load", "Radius", "Slew")


def state_text(outcome: Outcome) -> str:
    """Mark and words of a state, and the row that decides it where it does not hold."""
    mark, row = MARKS[outcome.status], outcome.check
    if row is None:
        return f"{mark} {outcome.problem or STATE_WORDS[outcome.status]}"
    return f"{mark} {row.words}" + ("" if outcome.holds else f": {row.title}")


def day_tables(setup: Setup, found: DayAnswers, show: Show) -> list[Table]:
    """Outrigger by outrigger, then wind, load and level."""
    tables: list[Table] = []
    planned = dict(zip(LEG_NAMES, setup.lift.legs.as_tuple(), strict=True))
    for names, some in itertools.groupby(found.short, key=lambda one: one.outriggers):
        alone = len(names) == 1
        title = f"Outrigger {names[0]} short" if alone else "All outriggers short together"
        if alone:
            title += f" of its {show(planned[names[0]], 'extension_m')}"
        tables.append((title, _SHORT_COLUMNS, list(_short_rows(setup, list(some), show))))
    wind = [(show(one.value, "speed_m_s"), *_governed(one)) for one in found.wind]
    load = [_load_row(one, show) for one in found.load]
    return [
        *tables, ("Stronger wind", ("3 s gust at the boom head", "State", "Governs"), wind),
        ("Load reads more than planned", _LOAD_COLUMNS, load),
        ("Machine set up out of level", ("Out of level", "State"), _level_rows(found)),
    ]  # fmt: skip


def _answer(one: ShortAnswer) -> tuple[object, ...]:
    """What two settings must share to share a row."""
    return (state_text(one.outcome), one.at_any_load and one.at_any_load.title, one.gross_t,
            one.radius_m, one.turned_deg)  # fmt: skip


def _short_rows(setup: Setup, answers: list[ShortAnswer], show: Show) -> Iterator[tuple[str, ...]]:
    for _, group in itertools.groupby(answers, key=_answer):
        some = list(group)
        yield (_settings(some[0], some[-1], show), *_cells(some[0], show, bool(setup.lift.via)))
    last = answers[-FAILING_STEPS:]
    if len(last) == FAILING_STEPS and all(one.nothing_holds for one in last):
        none = f"✗ not tried: nothing holds at {FAILING_STEPS} settings in a row"
        yield ("farther in", none, "none", "none", "none")
        return
    which = tuple(LEG_NAMES.index(name) for name in answers[-1].outriggers)
    if short_of_m(setup, which, math.inf) != answers[-1].extension_m:
        yield ("farther in", "✗ not tried: plan again", "none", "none", "none")


def _settings(first: ShortAnswer, last: ShortAnswer, show: Show) -> str:
    """From the first to the last setting, each step between them checked."""

    def text(a: float, b: float) -> str:
        low, high = show(a, "extension_m"), show(b, "extension_m")
        return low if low == high else f"{low} to {high}"

    short = f"{text(first.short_m, last.short_m)} short"
    if len(first.outriggers) > 1:
        return short
    k = LEG_NAMES.index(first.outriggers[0])
    return f"{text(first.extension_m[k], last.extension_m[k])} ({short})"


def _cells(one: ShortAnswer, show: Show, via: bool) -> tuple[str, ...]:
    if one.outcome.holds:
        return (state_text(one.outcome), *["as planned"] * 3)
    state = state_text(one.outcome)
    if one.at_any_load is not None:
        state = f"✗ {one.at_any_load.words} at any load: {one.at_any_load.title}"
    turned = "– (path by waypoints)" if via else "none"
    if one.turned_deg is not None:
        turned = f"first {show(one.turned_deg, 'angle_deg', 'down')}"
    return (
        state,
        "none" if one.gross_t is None else show(one.gross_t, "mass_t", "down"),
        "none" if one.radius_m is None else show(one.radius_m, "length_m", "down"),
        turned,
    )


def _governed(one: DayAnswer) -> tuple[str, str]:
    row = one.outcome.check
    if row is None:
        return state_text(one.outcome), "–"
    used = "" if row.utilisation is None else f", {100 * row.utilisation:.0f} %"
    return f"{MARKS[one.outcome.status]} {row.words}", f"{row.title}{used}"


def _level_rows(found: DayAnswers) -> list[tuple[str, ...]]:
    """Each tilt, the ways with one answer in one row."""
    rows: dict[tuple[float, str], list[str]] = {}
    for tilt, answers in found.level:
        for way, one in zip(TILT_WAYS, answers, strict=True):
            rows.setdefault((tilt, state_text(one.outcome)), []).append(way)
    return [(f"{tilt:g} %, {', '.join(ways)}", state) for (tilt, state), ways in rows.items()]


def _load_row(one: DayAnswer, show: Show) -> tuple[str, str, str]:
    gross = one.change.gross_t or 0.0
    reading = amount(SHOWS_LEAST * gross, "mass_t", "down")
    state = state_text(one.outcome)
    if one.outcome.holds:
        do = "Lower the load. Find out what is heavier; lift only on a new sheet."
    else:
        do = "Lower at once, no slewing and no luffing out. Do not lift."
    return f"{reading}: up to {amount(gross, 'mass_t')}, +{one.value:.0f} %", state, do
