"""Each answer of the day card is what the full check, made from the start, says of that lift."""

from __future__ import annotations

import random
from collections.abc import Callable
from functools import cache

import pytest

from liftcalc.base.resources import demo_job_path
from liftcalc.base.text import amount, format_value, text_in_units
from liftcalc.facts.io import load_job
from liftcalc.facts.job import Job
from liftcalc.lift.assess import assess_lift
from liftcalc.lift.setup import build_setup
from liftcalc.lift.shortfall import greatest_shortfalls
from liftcalc.lift.what_if import DayChange, Outcome, WhatIf, changed_lift, turn_deg, whole_state
from liftcalc.plan.day_answers import (
    LOAD_STEP_T,
    RADIUS_STEP_M,
    SLEW_STEP_DEG,
    DayAnswer,
    DayAnswers,
    ShortAnswer,
    day_answers,
)
from liftcalc.plan.day_tables import day_tables

Cell = tuple[str, Callable[[], None]]


@cache
def demo() -> Job:
    return load_job(demo_job_path())


def changed(job: Job, lift: str, change: DayChange) -> Job:
    """The job whose full check is the answer to a change."""
    return job.with_lift(changed_lift(build_setup(job, lift), change))


@cache
def answers(lift: str) -> DayAnswers:
    found = day_answers(WhatIf(assess_lift(demo(), lift)))
    assert found is not None
    return found


@cache
def state(lift: str, change: DayChange) -> str:
    """The state by an assessment that shares nothing with any other."""
    a = assess_lift(changed(demo(), lift, change), lift)
    found = whole_state(a).status
    assert a.verdict.status == found
    return found


def holds(lift: str, change: DayChange) -> bool:
    return state(lift, change) in ("within", "condition")


def short_cells(lift: str, one: ShortAnswer) -> list[Cell]:
    e = one.extension_m
    planned = assess_lift(demo(), lift)
    gross, whole = planned.setup.gross_t, abs(turn_deg(planned.setup.lift))
    most = float(planned.path.radius_m.max())

    def of_state() -> None:
        assert state(lift, DayChange(extension_m=e)) == one.outcome.status

    def of_load() -> None:
        if one.gross_t is None:
            tried = [LOAD_STEP_T * n for n in range(1, int(gross / LOAD_STEP_T) + 1)]
            bare = gross - planned.setup.lift.load.mass_t * (1 + planned.setup.lift.load.contingency_percent / 100)
            for t in (t for t in tried if t > bare + 0.01):
                assert not holds(lift, DayChange(extension_m=e, gross_t=t))
            return
        assert one.gross_t <= gross
        assert holds(lift, DayChange(extension_m=e, gross_t=one.gross_t))
        if one.gross_t + LOAD_STEP_T < gross:
            assert not holds(lift, DayChange(extension_m=e, gross_t=one.gross_t + LOAD_STEP_T))
        elif one.gross_t < gross:
            assert not holds(lift, DayChange(extension_m=e))

    def of_radius() -> None:
        if one.radius_m is None:
            least = planned.setup.boom.radius_min_m
            for r in (least + 0.1, (least + most) / 2, most - 0.1):
                assert not holds(lift, DayChange(extension_m=e, radius_m=round(r, 1)))
            return
        assert one.radius_m <= most
        assert holds(lift, DayChange(extension_m=e, radius_m=one.radius_m))
        if one.radius_m < most:
            beyond = DayChange(extension_m=e, radius_m=round(one.radius_m + RADIUS_STEP_M, 9))
            assert not holds(lift, beyond)

    def of_slew() -> None:
        if one.turned_deg is None:
            assert not holds(lift, DayChange(extension_m=e, turned_deg=SLEW_STEP_DEG))
            return
        assert one.turned_deg <= whole
        assert holds(lift, DayChange(extension_m=e, turned_deg=one.turned_deg))
        if one.turned_deg < whole:
            beyond = min(one.turned_deg + SLEW_STEP_DEG, whole)
            assert not holds(lift, DayChange(extension_m=e, turned_deg=beyond))

    name = f"{'+'.join(one.outriggers)} {one.short_m:g}"
    return [
        (f"{name} state", of_state), (f"{name} load", of_load), (f"{name} radius", of_radius),
        (f"{name} slew", of_slew),
    ]  # fmt: skip


def cells(lift: str) -> list[Cell]:
    """Every cell of the card, each with the full checks that it stands for."""
    found = answers(lift)
    every: list[Cell] = [c for one in found.short for c in short_cells(lift, one)]
    rest = (*found.wind, *found.load, *(one for _, ways in found.level for one in ways))
    for one in rest:

        def same(one=one) -> None:  # type: ignore[no-untyped-def]
            assert state(lift, one.change) == one.outcome.status

        every.append((f"{one.change}", same))
    return every


@pytest.mark.slow
@pytest.mark.parametrize(("lift", "count"), [("L1", 200), ("L2", 20), ("L3", 20), ("L4", 30), ("L5", 30)])
def test_random_cells_equal_full_checks_from_the_start(lift: str, count: int) -> None:
    every = cells(lift)
    for name, check in random.Random(7).sample(every, min(count, len(every))):
        try:
            check()
        except AssertionError as error:
            raise AssertionError(f"{lift} {name}: {error}") from error


def test_one_leg_short_by_a_step_costs_a_third_of_the_load() -> None:
    rows = {(one.outriggers, one.short_m): one for one in answers("L1").short}
    first = rows[("FL",), 0.1]
    assert first.outcome.status == "over"
    assert first.outcome.check is not None
    assert first.outcome.check.id == "capacity"
    assert (first.gross_t, first.radius_m, first.turned_deg) == (3.4, 9.9, None)
    for _, check in short_cells("L1", first):
        check()
    assert rows[("FR",), 0.9].outcome.status == "within"


def test_the_table_of_an_outrigger_ends_after_a_metre_or_where_nothing_holds_three_times() -> None:
    for lift in ("L1", "L2"):
        for names in {one.outriggers for one in answers(lift).short}:
            some = [one for one in answers(lift).short if one.outriggers == names]
            nothing = len(some) >= 3 and all(one.nothing_holds for one in some[-3:])
            assert nothing or some[-1].short_m == 1.0
    tables = day_tables(assess_lift(demo(), "L1").setup, answers("L1"), amount)
    farther = [rows[-1] for title, _, rows in tables if "short" in title]
    assert {row[0] for row in farther} == {"farther in"}
    assert farther[0][1] == "✗ not tried: plan again"
    assert [one.short_m for one in answers("L5").short] == [1.1, 1.1, 1.1]  # to the next pin


def test_a_lift_that_must_not_be_made_gets_no_answers() -> None:
    assert day_answers(WhatIf(assess_lift(demo(), "L6"))) is None


def test_rated_capacity_alone_would_let_an_outrigger_farther_in_than_every_check_does() -> None:
    what = WhatIf(assess_lift(demo(), "L2"))
    least = {one.outriggers: one for one in greatest_shortfalls(what)}
    rated = {one.outriggers: one.least_m for one in what.planned.settings[1:]}
    assert rated["FR",] == (1.25,)
    assert least["FR",].extension_m == (2.2,)
    assert least["FR",].beyond.check is not None
    assert least["FR",].beyond.check.id == "backward-stability"
    assert state("L2", DayChange(extension_m=(2.3, 2.2, 3.2, 2.3))) == "within"
    assert state("L2", DayChange(extension_m=(2.3, 2.1, 3.2, 2.3))) == "over"


def test_the_greatest_shortfall_agrees_with_the_rows_of_the_card() -> None:
    for lift in ("L1", "L2"):
        what = WhatIf(assess_lift(demo(), lift))
        for one in greatest_shortfalls(what):
            for row in (r for r in answers(lift).short if r.outriggers == one.outriggers):
                if row.short_m <= one.short_m + 1e-9:
                    assert row.outcome.status == "within"


def test_a_heavier_load_and_a_cut_path_are_the_lift_that_they_say() -> None:
    a = assess_lift(demo(), "L1")
    heavier = assess_lift(changed(demo(), "L1", DayChange(gross_t=6.0)), "L1")
    assert heavier.setup.gross_t == pytest.approx(6.0, abs=1e-6)
    assert heavier.setup.gross_t <= 6.0
    cut = assess_lift(changed(demo(), "L1", DayChange(turned_deg=45.0)), "L1").path
    assert abs(cut.slew_deg[-1] - a.path.slew_deg[0]) == pytest.approx(45.0)
    assert cut.level_m[-1] == a.setup.lift.carry_level_m
    assert (cut.slew_deg[-1] - cut.slew_deg[0]) * (a.path.slew_deg[-1] - a.path.slew_deg[0]) > 0
    near = assess_lift(changed(demo(), "L1", DayChange(radius_m=9.9)), "L1").path
    assert near.radius_m.max() == pytest.approx(9.9, abs=1e-6)
    assert near.radius_m.max() <= 9.9
    assert abs(near.slew_deg[-1] - near.slew_deg[0]) == pytest.approx(abs(a.path.slew_deg[-1] - a.path.slew_deg[0]))


def test_a_reading_on_the_card_stands_for_the_load_that_its_indicator_may_hide() -> None:
    """On paper: an indicator shows 95 % of the load at the least, so 5.19 t may be 5.46 t."""
    one = DayAnswer(5, DayChange(gross_t=5.46), Outcome("within"))
    setup = build_setup(load_job(demo_job_path()), "L1")
    tables = {t[0]: t for t in day_tables(setup, DayAnswers((), (), (one,), ()), format_value)}
    (row,) = tables["Load reads more than planned"][2]
    assert text_in_units(row[0], "metric") == "5.18 t: up to 5.46 t, +5 %"
