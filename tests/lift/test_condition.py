"""A lift that passes only by a chart carried over: its state, everywhere it is told."""

from __future__ import annotations

import dataclasses
import json
from typing import Any

import numpy as np
import pytest
from matplotlib.text import Text
from printing import printed_in

from liftcalc.base.checks import MAKER_CONFIRMS
from liftcalc.base.errors import InputError
from liftcalc.base.resources import demo_job_path
from liftcalc.base.text import text_in_units
from liftcalc.crane.sectors import CARRIED, CONFIRMED, SMALLER
from liftcalc.facts.io import load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift.along_path import limit_uses
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_chart import capacity_rows
from liftcalc.lift.calculation_gross import gross_section
from liftcalc.lift.calculation_place import at_step, place_section
from liftcalc.lift.card import card_headline, card_rows
from liftcalc.lift.conditions import CONDITION_REMEDY
from liftcalc.lift.path_study import capacity_circle
from liftcalc.lift.report import provenance_rows
from liftcalc.lift.sensitivity import lift_sensitivity
from liftcalc.lift.standing import SheetCheck, job_at
from liftcalc.lift.working_area import working_area
from liftcalc.placement.measure import StandPlace
from liftcalc.views.style import new_axes
from liftcalc.views.working_area import draw_working_area, working_area_data

ON_CONDITION = {"capacity", "layout-capacity-data", "capacity-settled"}
LAYOUT_TITLE = "Part of the load path without capacity data"
SHORT = {"FL": 2.5, "FR": 1.4, "RR": 1.4, "RL": 2.5}
"""Legs of L5 on a base that no chart is made for and that contains only the retracted one."""


@pytest.fixture(scope="module")
def demo() -> Job:
    """The demo job without the manufacturer's confirmation that it holds."""
    return load_job(demo_job_path()).model_copy(update={"confirmations": ()})


printed = printed_in("metric")


def with_legs(job: Job, legs: dict[str, float], **changes: Any) -> Job:
    """The demo job with other legs, and fields, of lift L5, and nothing in its way."""
    data = json.loads(job.model_dump_json())
    data["site"]["obstacles"] = []
    data["rules"]["zones"]["closed"] = []  # places that stood there before
    lift = next(i for i in data["lifts"] if i["id"] == "L5")
    lift["legs"] = legs
    lift.update(changes)
    return parse_fact(Job, data)


@pytest.fixture(scope="module")
def carried(demo: Job) -> LiftAssessment:
    return assess_lift(with_legs(demo, SHORT), "L5")


def test_a_lift_that_passes_only_by_a_carried_chart_is_on_condition(carried: LiftAssessment) -> None:
    assert carried.verdict.status == "condition"
    assert {c.id for c in carried.verdict.conditional} == ON_CONDITION
    assert carried.verdict.failed == ()
    for check in carried.verdict.conditional:
        assert check.condition == MAKER_CONFIRMS
        assert check.remedy == CONDITION_REMEDY
        assert "on condition on" in check.where
    assert carried.verdict.head == f"Within limits on condition: {MAKER_CONFIRMS}"
    assert card_headline(carried).startswith(f"DO NOT LIFT UNTIL {MAKER_CONFIRMS}")


def test_a_load_that_a_contained_base_carries_needs_no_condition(demo: Job, carried: LiftAssessment) -> None:
    """Only the steps at which the retracted chart is not enough rest on the argument."""
    capacity, gross = carried.study.capacity, carried.setup.gross_t
    used = set(capacity.source.tolist())
    assert used == {CARRIED, SMALLER}
    light = with_legs(demo, SHORT)
    data = json.loads(light.model_dump_json())
    lift = next(i for i in data["lifts"] if i["id"] == "L5")
    lift["load"]["mass_t"] = 0.05
    calm = assess_lift(parse_fact(Job, data), "L5")
    rows = {c.id: c for c in calm.checks}
    assert calm.setup.gross_t < gross
    assert set(calm.study.capacity.source.tolist()) == {SMALLER}
    assert {rows[i].status for i in ON_CONDITION} == {"within"}


def test_own_chart_and_step_down_stay_unconditional(demo: Job) -> None:
    for lift in demo.lifts:
        assessed = assess_lift(demo, lift.id)
        rows = [c for c in assessed.checks if c.id in ON_CONDITION]
        carries = bool((assessed.study.capacity.source == CARRIED).any())
        assert any(c.status == "condition" for c in rows) <= carries
    own = assess_lift(with_legs(demo, dict.fromkeys(SHORT, 2.5)), "L5")
    assert {c.status for c in own.checks if c.id in ON_CONDITION} == {"within"}


def confirmation(job: Job, **changes: Any) -> dict[str, Any]:
    """What the invented manufacturer confirms for L5 on SHORT, with fields changed."""
    lift = job.lift("L5")
    return {
        "id": "C1",
        "who": "A. Example, product support",
        "document": "letter 17",
        "date": "2026-05-01",
        "machine": lift.machine,
        "counterweight": lift.counterweight,
        "boom_length_m": lift.boom_length_m,
        "leg_extension_m": SHORT,
        "sector_deg": [-45.0, 90.0],
        "radius_m": 20.0,
        "capacity_t": 3.5,
        "provenance": {"kind": "invented", "note": "for the test"},
        **changes,
    }


def with_confirmations(job: Job, *stated: dict[str, Any], legs: dict[str, float] = SHORT) -> Job:
    data = json.loads(with_legs(job, legs).model_dump_json())
    return parse_fact(Job, {**data, "confirmations": list(stated)})


@pytest.fixture(scope="module")
def resolved(demo: Job) -> LiftAssessment:
    return assess_lift(with_confirmations(demo, confirmation(demo)), "L5")


def test_a_confirmation_resolves_the_condition_and_is_printed_as_a_source(
    demo: Job, carried: LiftAssessment, resolved: LiftAssessment
) -> None:
    assert carried.verdict.status == "condition"
    assert resolved.verdict.status == "within"
    assert assess_lift(with_confirmations(demo), "L5").verdict.status == "condition"
    found, before = resolved.study.capacity, carried.study.capacity
    was = before.source == CARRIED
    assert set(found.source[was].tolist()) == {CONFIRMED}
    np.testing.assert_array_equal(found.capacity_t[was], np.minimum(before.capacity_t[was], 3.5))
    assert found.capacity_t.max() <= 3.5
    told = "confirmed by A. Example, product support, letter 17, 2026-05-01"
    name = "Manufacturer's confirmation C1"
    rows = {row[0]: row for row in provenance_rows(resolved.setup, resolved.job)}
    assert rows[name][2] == f"{told} (invented: for the test)"
    covers = text_in_units(rows[name][1], "metric")
    assert "3.50 t at most, up to 20.00 m radius, slew 315.0° (front right) anti" in covers
    assert "anticlockwise to 90.0° (over the left side), boom 32.00 m" in covers
    assert told in dict(card_rows(resolved, printed))[name]
    calc, step = Calculation(), int(np.argmax(found.source))
    place_section(calc, resolved.setup, resolved.path)
    gross_section(calc, resolved.setup)
    at_step(calc, resolved.setup, resolved.path, step)
    capacity_rows(calc, resolved.setup, resolved.study, step)
    assert calc.mismatches == []
    assert calc.value("C") == pytest.approx(float(found.capacity_t[step]))
    sources = [row["source"] for part in calc.block()["sections"] for row in part["rows"]]
    assert told in sources
    assert "confirmed" not in str(provenance_rows(carried.setup, carried.job))


def test_the_row_names_the_confirmation_where_it_governs(demo: Job) -> None:
    tight = assess_lift(with_confirmations(demo, confirmation(demo, capacity_t=3.1)), "L5")
    row = next(c for c in tight.lift if c.id == "capacity")
    assert (row.status, row.limit) == ("within", 3.1)
    assert "confirmed by A. Example" in row.reference


@pytest.mark.parametrize(
    ("changes", "status"),
    [
        ({"sector_deg": [60.0, 90.0]}, "condition"),
        ({"sector_deg": [-45.0, 50.0]}, "condition"),
        ({"radius_m": 19.0}, "condition"),
        ({"capacity_t": 1.0}, "over"),
        ({"leg_extension_m": {"FL": 1.4, "FR": 1.4, "RR": 1.4, "RL": 1.4}}, "within"),
    ],
)
def test_a_confirmation_holds_only_for_what_it_says(demo: Job, changes: dict[str, Any], status: str) -> None:
    found = assess_lift(with_confirmations(demo, confirmation(demo, **changes)), "L5")
    assert found.verdict.status == status
    for check in found.verdict.conditional:
        assert "on condition on" in check.where


def test_partial_confirmations_add_up_and_say_what_is_left(demo: Job) -> None:
    near = confirmation(demo, radius_m=18.0)
    part = assess_lift(with_confirmations(demo, near), "L5")
    row = next(c for c in part.lift if c.id == "capacity")
    assert row.status == "condition"
    left = part.study.capacity.on_condition
    assert part.study.capacity.radius_m[left].min() > 18.0
    near_m = part.study.capacity.radius_m[left].min()
    assert f"radius {near_m:.2f} m to 19.95 m" in text_in_units(row.where, "metric")
    far = confirmation(demo, id="C2", capacity_t=3.0)
    whole = assess_lift(with_confirmations(demo, near, far), "L5")
    assert whole.verdict.status == "within"
    within = whole.study.capacity.radius_m <= 18.0
    assert whole.study.capacity.capacity_t[~within].max() <= 3.0


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"machine": "demo-50"}, "no lift of the job has machine 'demo-50'"),
        ({"counterweight": "cw-20"}, "counterweight 'cw-20'"),
        ({"boom_length_m": 36.0}, "boom_length_m 36"),
        ({"leg_extension_m": {**SHORT, "FR": 2.5}}, r"outriggers at \(2.5, 2.5, 1.4, 2.5\) m"),
        ({"date": "1 May 2026"}, "a date such as 2026-05-01"),
        ({"date": "2026-13-01"}, "a date such as 2026-05-01"),
        ({"who": "  "}, "who"),
        ({"document": ""}, "document"),
        ({"provenance": {"kind": "assumed"}}, "the manufacturer's own word"),
        ({"capacity_t": 0.0}, "capacity_t"),
        ({"radius_m": -1.0}, "radius_m"),
        ({"note": "more"}, "note"),
    ],
)
def test_a_confirmation_that_nothing_reads_or_that_says_too_little_is_refused(
    demo: Job, changes: dict[str, Any], words: str
) -> None:
    with pytest.raises(InputError, match=words):
        with_confirmations(demo, confirmation(demo, **changes))
    for field in confirmation(demo):
        with pytest.raises(InputError, match=field):
            with_confirmations(demo, {k: v for k, v in confirmation(demo).items() if k != field})


def test_an_invented_confirmation_is_refused_in_a_job_that_is_not(demo: Job) -> None:
    data = json.loads(with_confirmations(demo, confirmation(demo)).model_dump_json())
    with pytest.raises(InputError, match="C1: invented, in a job that is not"):
        parse_fact(Job, {**data, "invented": False})


def test_a_confirmation_never_raises_a_capacity_and_never_makes_data(demo: Job) -> None:
    """Whatever is confirmed: not above chart or argument, and no data stay no data."""
    rng = np.random.default_rng(3)
    for _ in range(12):
        legs = dict(zip(SHORT, rng.choice([1.4, 2.5, 3.7], 4).tolist(), strict=True))
        told = confirmation(
            demo, leg_extension_m=legs, capacity_t=float(rng.uniform(0.5, 90)), radius_m=90.0,
            sector_deg=sorted(rng.uniform(-180, 180, 2).tolist()),
        )  # fmt: skip
        without = assess_lift(with_confirmations(demo, legs=legs), "L5")
        with_it = assess_lift(with_confirmations(demo, told, legs=legs), "L5")
        a, b = (capacity_circle(x.setup, np.arange(8.0, 25.0, 2.0)) for x in (without, with_it))
        same = np.isnan(a.capacity_t) == np.isnan(b.capacity_t)
        assert same.all()
        assert np.all(~(b.capacity_t > a.capacity_t + 1e-12))
        assert np.array_equal(a.has_capacity_data, b.has_capacity_data)
        assert np.all(b.on_condition <= a.on_condition)


def test_a_moved_lift_takes_along_only_what_is_confirmed_for_it(demo: Job, resolved: LiftAssessment) -> None:
    stand = resolved.setup.lift.stand
    place = StandPlace(stand.easting_m, stand.northing_m, stand.heading_deg, (2.5, 1.4, 1.4, 2.5), 0, (), 0, 0, 0)
    lone = SheetCheck(with_legs(demo, SHORT))(place, ("L5",))
    assert lone == (False, f"L5: {LAYOUT_TITLE}: only on condition: {MAKER_CONFIRMS}")
    job = with_confirmations(demo, confirmation(demo))
    assert SheetCheck(job)(place, ("L5",)) == (True, "")
    assert len(job_at(job, "L5", place).confirmations) == 1
    short = dataclasses.replace(place, extension_m=(1.4, 1.4, 1.4, 2.5))
    assert job_at(job, "L5", short).confirmations == ()
    assert job.for_lift("L1").confirmations == ()
    assert job.for_lift("L5").confirmations == job.confirmations


def test_pictures_tell_what_holds_only_on_condition(carried: LiftAssessment, resolved: LiftAssessment) -> None:
    words = f"on condition: {MAKER_CONFIRMS}"
    areas = []
    for lift, told in ((carried, True), (resolved, False)):
        area = working_area(lift.setup, lift.setup.gross_t, slew_step_deg=4.0)
        areas.append(area)
        assert area.on_condition.area > area.within.area + 1.0  # slews not confirmed are left
        assert area.within.difference(area.on_condition.buffer(1e-6)).is_empty
        _, ax = new_axes(170, 150)
        draw_working_area(working_area_data(lift, area), ax)
        assert any(words in text.get_text() for text in ax.figure.findobj(Text))
        names = {curve.name: curve for curve in limit_uses(lift)}
        assert ("rated capacity, on condition" in names) == told
        if told:
            firm = np.isfinite(names["rated capacity"].share)
            assert not np.any(firm & lift.study.capacity.on_condition)
    assert areas[1].within.area > areas[0].within.area + 1.0
    own = assess_lift(with_legs(carried.job, dict.fromkeys(SHORT, 2.5)), "L5")
    assert working_area(own.setup, own.setup.gross_t, slew_step_deg=4.0).on_condition.is_empty


def test_the_chance_of_passing_names_the_condition_that_it_rests_on(
    carried: LiftAssessment, resolved: LiftAssessment
) -> None:
    for lift, told in ((carried, True), (resolved, False)):
        found = lift_sensitivity(lift, number=100)
        assert any(MAKER_CONFIRMS in text for text in found.left_out) == told


@pytest.mark.parametrize(
    ("other", "refused"),
    [
        ({"radius_m": 18.0, "capacity_t": 3.0}, True),  # a later, lesser letter for less radius
        ({"capacity_t": 3.0}, True),
        ({"radius_m": 18.0, "capacity_t": 5.0}, False),  # more, nearer in: two rows of one table
        ({"radius_m": 18.0, "capacity_t": 3.0, "sector_deg": [100.0, 200.0]}, False),
        ({"radius_m": 18.0, "capacity_t": 3.0, "sector_deg": [300.0, 320.0]}, True),
        ({"radius_m": 18.0, "capacity_t": 3.0, "sector_deg": [0.0, 360.0]}, True),
    ],
)
def test_confirmations_that_contradict_each_other_are_refused(demo: Job, other: dict[str, Any], refused: bool) -> None:
    both = confirmation(demo), confirmation(demo, id="C2", **other)
    if not refused:
        assert len(with_confirmations(demo, *both).confirmations) == 2
        return
    with pytest.raises(InputError, match="confirmation C2: contradicts C1"):
        with_confirmations(demo, *both)
