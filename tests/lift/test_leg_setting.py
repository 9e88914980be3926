"""Outriggers set short of the plan: each row is what the full check says of that layout."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from liftcalc.base.resources import demo_job_path
from liftcalc.base.text import Safe, format_value
from liftcalc.facts.confirmation import Confirmation
from liftcalc.facts.io import load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.facts.lift import Lift
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.card import card_legs, card_rows
from liftcalc.lift.leg_setting import (
    SETTING_COLUMNS,
    ShortSetting,
    setting_lines,
    setting_rows,
    setting_values,
    short_settings,
)

NAMES = ("FL", "FR", "RR", "RL")


@pytest.fixture(scope="module")
def demo() -> Job:
    return load_job(demo_job_path())


def with_legs(job: Job, lift: str, legs: dict[str, float], **machine: Any) -> Job:
    data = json.loads(job.model_dump_json())
    target = next(i for i in data["lifts"] if i["id"] == lift)
    target["legs"] |= legs
    moved = parse_fact(Lift, target)
    data["confirmations"] = [  # the job refuses one that no lift is set for
        one for one in data["confirmations"] if parse_fact(Confirmation, one).concerns(moved)
    ]
    for one in data["machines"]:
        one.update(machine)
    return parse_fact(Job, data)


def settings_of(a: LiftAssessment) -> dict[str, ShortSetting]:
    planned, *short = short_settings(a.setup, a.path)
    return {"planned": planned} | {(one.outriggers[0] if len(one.outriggers) == 1 else "all"): one for one in short}


def row(a: LiftAssessment) -> Any:
    return next(c for c in a.lift if c.id == "capacity")


def show(value: float | None, quantity: str, safe: Safe = "") -> str:
    return format_value(value, quantity, safe=safe)


def test_one_step_short_turns_71_percent_into_153_and_the_sheet_and_the_card_say_so(demo: Job) -> None:
    a = assess_lift(demo, "L1")
    assert row(a).status == "within"
    found = settings_of(a)
    assert found["planned"].used_ratio == pytest.approx(0.713, abs=0.001)
    assert found["planned"].status == "within"
    assert found["FL"].used_ratio == pytest.approx(1.53, abs=0.005)
    assert found["FL"].status == found["RL"].status == found["all"].status == "over"
    assert found["FL"].least_m == (2.3,)  # not a millimetre
    assert found["FR"].status == "within"
    assert found["FR"].least_m == (2.3,)  # its own stroke is longer: down to the chart's base

    table = {r[0]: dict(zip(SETTING_COLUMNS, r, strict=True)) for r in
             setting_rows(a.settings, show)}  # fmt: skip
    assert table["as planned"]["Utilisation"] == "71 %"
    assert table["FL"]["Not less than"] == "2.30 m"
    assert (table["FL"]["If set"], table["FL"]["Utilisation"]) == ("2.25 m", "153 %")
    assert table["FL"]["State"] == "over a limit"
    assert table["FR"]["Rated as planned down to"] == "2.30 m"

    card = dict(card_rows(a, show))["Outriggers"]
    assert "never short of it" in card
    assert "No tolerance is stated" in card
    assert "FL at 2.25 m; or RL at 2.25 m" in card
    assert "153 % in place of 71 %, over a limit" in card
    assert [r[1] for r in card_legs(a, show)] == ["2.30 m", "3.20 m", "3.20 m", "2.30 m"]


@pytest.mark.parametrize("lift", ["L1", "L2", "L4", "L5", "L6", "L8"])
def test_every_row_is_what_the_full_check_says_of_that_layout(demo: Job, lift: str) -> None:
    a = assess_lift(demo, lift)
    for name, one in settings_of(a).items():
        legs = dict(zip(NAMES, a.setup.lift.legs.as_tuple(), strict=True))
        legs |= dict(zip(one.outriggers or NAMES, one.extension_m, strict=True))
        full = assess_lift(with_legs(demo, lift, legs), lift)
        check = row(full)
        assert check.status == one.status, name
        assert check.value / check.limit * demo.rules.utilisation_limit_percent / 100 == (
            pytest.approx(one.used_ratio, rel=1e-9)
        )


@pytest.mark.parametrize("lift", ["L1", "L2", "L8"])
def test_the_least_setting_holds_and_a_millimetre_less_does_not(demo: Job, lift: str) -> None:
    a = assess_lift(demo, lift)
    order = ("within", "condition", "no_data", "over")
    plan = order.index(row(a).status)
    for one in list(settings_of(a).values())[1:]:
        for less, holds in ((0.0, True), (0.001, False)):
            legs = {
                n: max(e - less, leg.extension_min_m)
                for n, e, leg in zip(one.outriggers, one.least_m, a.setup.machine.legs, strict=False)
            }
            if not holds and all(e <= 1.25 for e in one.least_m):
                continue  # fully in
            full = assess_lift(with_legs(demo, lift, legs), lift)
            assert (order.index(row(full).status) <= plan) is holds, (one.outriggers, legs)


def confirmed(job: Job, lift: str, **changes: Any) -> Job:
    """The job with the manufacturer's word for the lift's own layout, and no other."""
    target = job.lift(lift)
    told = {
        "id": "C9", "who": "A. Example", "document": "letter 9", "date": "2026-05-01",
        "machine": target.machine, "counterweight": target.counterweight,
        "boom_length_m": target.boom_length_m, "leg_extension_m": target.legs.model_dump(),
        "sector_deg": (0, 360), "radius_m": 30.0, "capacity_t": 30.0,
        "provenance": {"kind": "invented", "note": "for the test"}, **changes,
    }  # fmt: skip
    return parse_fact(Job, {**json.loads(job.model_dump_json()), "confirmations": [told]})


def test_each_row_of_a_lift_on_condition_says_so(demo: Job) -> None:
    a = assess_lift(demo, "L4")
    assert row(a).status == "condition"
    rows = {r[0]: dict(zip(SETTING_COLUMNS, r, strict=True)) for r in
            setting_rows(a.settings, show)}  # fmt: skip
    for name in ("as planned", "FR", "RR"):
        assert rows[name]["State"] == "within limits on condition"
    assert rows["FL"]["State"] == rows["all together"]["State"] == "over a limit"
    card = dict(card_rows(a, show))["Outriggers"]
    assert "FL at 2.25 m; or RL at 2.25 m" in card
    assert "FR at 1.85 m" not in card  # short, but rated as before: no leave to set it so
    assert "in place of 82 %, within limits" not in card


def test_what_was_confirmed_does_not_hold_for_an_outrigger_set_short_of_it(demo: Job) -> None:
    a = assess_lift(confirmed(demo, "L4"), "L4")
    assert row(a).status == "within"
    found = settings_of(a)
    assert found["planned"].status == "within"
    for name in ("FR", "RR"):
        short = {name: found[name].extension_m[0]}
        full = row(assess_lift(with_legs(confirmed(demo, "L4"), "L4", short), "L4"))
        assert full.status == found[name].status == "condition"
        assert found[name].least_m == (1.9,)  # not a millimetre short of what was confirmed
    less = demo.lift("L4").legs.model_dump() | {"FR": 1.6, "RR": 1.6}
    found = settings_of(assess_lift(confirmed(demo, "L4", leg_extension_m=less), "L4"))
    assert found["FR"].status == "within"
    assert found["FR"].least_m == (1.6,)


def test_a_pinned_outrigger_goes_to_the_next_pin(demo: Job) -> None:
    a = assess_lift(with_legs(demo, "L5", {"FR": 3.7, "RR": 3.7}), "L5")
    found = settings_of(a)
    assert found["FL"].extension_m == (1.4,)
    assert found["FR"].extension_m == (2.5,)
    assert found["FL"].status == "over"
    assert found["FL"].least_m == (2.5,)
    assert found["FR"].least_m == (1.4,)  # down to what the job's confirmation covers
    alone = demo.model_copy(update={"confirmations": ()})
    found = settings_of(assess_lift(with_legs(alone, "L5", {"FR": 3.7, "RR": 3.7}), "L5"))
    assert found["FR"].least_m == (2.5,)


def test_an_outrigger_that_is_fully_in_is_said_to_be_so(demo: Job) -> None:
    a = assess_lift(with_legs(demo, "L3", {"FR": 1.25, "RR": 1.25}), "L3")
    rows = {r[0]: r for r in setting_rows(a.settings, show)}
    assert rows["FR"][2] == "fully in"
    assert not any("FR at" in line for line in setting_lines(a.setup, a.settings, show))


def test_a_stated_tolerance_is_used_and_told(demo: Job) -> None:
    job = with_legs(demo, "L1", {}, setting_tolerance_m=0.02)
    a = assess_lift(job, "L1")
    assert settings_of(a)["FL"].least_m == (2.28,)
    assert "allows 20 mm short of a mark" in setting_lines(a.setup, a.settings, show)[0]
    near = row(assess_lift(with_legs(demo, "L1", {"FL": 2.28}, setting_tolerance_m=0.02), "L1"))
    beyond = row(assess_lift(with_legs(demo, "L1", {"FL": 2.279}, setting_tolerance_m=0.02), "L1"))
    assert (near.status, beyond.status) == ("within", "over")
    assert row(assess_lift(with_legs(demo, "L1", {"FL": 2.28}), "L1")).status == "over"


def test_a_setting_is_printed_rounded_up_in_both_unit_systems() -> None:
    assert format_value(2.3, "extension_m") == "2.30 m"
    assert format_value(2.301, "extension_m") == "2.31 m"
    for metres in np.linspace(1.0, 4.0, 301):
        feet = float(format_value(float(metres), "extension_m", "us").split()[0])
        assert feet * 0.3048 >= metres - 1e-8


def test_the_numbers_for_the_record_are_those_of_the_rows(demo: Job) -> None:
    a = assess_lift(demo, "L1")
    values = setting_values(a.settings)
    assert values["short_setting"][0] == "FL at 2.250 m: 153 %, over"
    assert values["least_setting_m"][:4] == [2.3, 2.3, 2.3, 2.3]
