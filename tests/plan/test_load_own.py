"""Rows of the plan on the load itself and on the accessories: within, over, missing by name."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import Any

import pytest

from liftcalc.base.checks import Check
from liftcalc.base.errors import InputError
from liftcalc.base.units import G_M_S2
from liftcalc.facts.io import parse_fact
from liftcalc.facts.load_own import HeldLines
from liftcalc.facts.rigging import RegisterItem
from liftcalc.lift.assess import LiftAssessment
from liftcalc.plan.accessories import accessory_checks, accessory_rows
from liftcalc.plan.load_own import load_own_checks, load_own_rows, tag_line_kN

Assess = Callable[..., LiftAssessment]
Row = Callable[[Iterable[Check], str], Check]
LINES = {
    "lines": 2, "held_by": "persons", "each": 1, "each_kN": 0.25, "arm_m": 2.0, "down_deg": 30.0,
    "reference": "owner",
}  # fmt: skip


def own(assess: Assess, id: str, **changes: Any) -> LiftAssessment:
    """A lift with fields of what its plan says of it changed; ``part__field`` of the load's own."""

    def change(job: Any, lift: Any) -> None:
        said = job["plan"]["lifts"][id]

        for path, value in changes.items():
            *parts, last = path.split("__")
            node = said
            for part in parts:
                node = node[part]
            node[last] = value

    return assess(id, change)


def test_the_pull_at_a_lifting_point_is_that_of_the_sling_above_it(assess: Assess, row: Row) -> None:
    a = own(assess, "L1")
    check = row(load_own_checks(a), "own-point-force")
    assert a.rigging.worst is not None
    legs = a.rigging.worst.leg_tension_kN.max() * a.rigging.factor
    assert check.value == pytest.approx(legs / G_M_S2)
    assert check.status == "within"
    weak = own(assess, "L1", load_own__points={
        "wll_t": 2.7, "angle_limit_deg": 8.0, "side_limit_deg": 5.0, "document": "d"})  # fmt: skip
    for id in ("own-point-force", "own-point-angle", "own-point-side"):
        assert row(load_own_checks(weak), id).status == "over"


def test_the_angle_of_a_pull_is_that_of_the_slings_triangle(assess: Assess, row: Row) -> None:
    def centred(job: Any, lift: Any) -> None:
        lift["load"] |= {"cg_x_m": 0.0, "cg_error_x_m": 0.0, "cg_error_y_m": 0.0}

    a = assess("L4", centred)
    check = row(load_own_checks(a), "own-point-angle")
    assert check.value == pytest.approx(math.degrees(math.asin(2.0 / 6.0)), abs=1e-6)


def test_what_is_not_stated_of_the_load_is_missing_by_name(assess: Assess, row: Row) -> None:
    checks = load_own_checks(own(assess, "L1", load_own=None))
    assert [c.id for c in checks] == ["own-points", "own-bending"]
    assert {c.status for c in checks} == {"incomplete"}
    assert "load_own.points" in checks[0].remedy
    stated = row(load_own_checks(own(assess, "L1")), "own-bending")
    assert stated.status == "within"
    assert "PS-201" in stated.reference


def test_bending_of_a_spool_by_hand(assess: Assess, row: Row) -> None:
    """L4, centre of gravity in the middle: 5 m on points 4 m apart at 0.9 m, slings of 6 m."""

    def centred(job: Any, lift: Any) -> None:
        lift["load"] |= {"cg_x_m": 0.0, "cg_error_x_m": 0.0, "cg_error_y_m": 0.0}

    a = assess("L4", centred)
    check = row(load_own_checks(a), "own-bending")
    weight = 2.9 * 1.1 * G_M_S2 * a.rigging.factor
    hung = a.setup.hanging.gear.hung_t * G_M_S2 * a.rigging.factor
    sagging = weight / 5 * (4.0**2 / 8 - 0.5**2 / 2)
    pressed = hung / 2 * 2.0 / math.sqrt(6.0**2 - 2.0**2)
    stress = 1000 * (sagging + pressed * 0.4) / 610.0 + 10 * pressed / 92.0
    assert check.value == pytest.approx(100 * stress / 80.0, rel=1e-3)
    anywhere = row(load_own_checks(own(assess, "L4", load_own__section__mass_along="anywhere")),
                   "own-bending")  # fmt: skip
    assert anywhere.value is not None
    assert check.value is not None
    assert anywhere.value > 1.5 * check.value


def test_a_load_that_would_not_hang_rates_nothing(assess: Assess, row: Row) -> None:
    def off(job: Any, lift: Any) -> None:
        lift["load"]["cg_error_x_m"] = 2.3  # beyond the lifting points, 2 m from the middle

    a = assess("L4", off)
    assert a.rigging.worst is None
    assert row(load_own_checks(a), "own-point-force").status == "over"


def test_tag_lines_hold_the_turning_of_the_wind() -> None:
    lines = HeldLines.model_validate(LINES)
    # F (0.2 b + e) / arm / cos 30: 2 kN, 5 m wide, 0.1 m off, one of the two lines holds
    assert tag_line_kN(2.0, width_m=5.0, off_m=0.1, lines=lines) == pytest.approx(
        2.0 * 1.1 / 2.0 / math.cos(math.pi / 6)
    )
    four = lines.model_copy(update={"lines": 4})
    assert tag_line_kN(2.0, width_m=5.0, off_m=0.1, lines=four) == pytest.approx(
        tag_line_kN(2.0, width_m=5.0, off_m=0.1, lines=lines) / 2
    )


def test_too_few_persons_on_a_tag_line_are_over(assess: Assess, row: Row) -> None:
    assert row(load_own_checks(own(assess, "L7")), "own-tag-lines").status == "within"
    few = own(assess, "L7", load_own__tag_lines__each=1)
    assert row(load_own_checks(few), "own-tag-lines").status == "over"
    none = own(assess, "L1")
    assert any(r[:2] == ("Tag line", "none stated") for r in load_own_rows(
        none, load_own_checks(none)))  # fmt: skip


def test_a_choked_load_has_no_lifting_point_to_rate(assess: Assess) -> None:
    def choke(job: Any, lift: Any) -> None:
        lift["rigging"] |= {"hitch": "choke", "leg_length_m": 5.0}

    a = assess("L4", choke)
    checks = load_own_checks(a)
    assert not [c for c in checks if "point" in c.id]
    assert ("Lifting points", "none: the sling goes round the load") in [r[:2] for r in load_own_rows(a, checks)]


def test_an_expired_item_counts_only_by_its_kind_and_is_over_where_it_is_named(assess: Assess, row: Row) -> None:
    by_kind = row(accessory_checks(own(assess, "L7")), "accessories-round-4m-3")
    assert by_kind.status == "condition"
    assert "R4-05" in by_kind.condition
    shackles = [f"S3-0{k}" for k in range(1, 5)]
    good = own(assess, "L7", gear_tags=[*(f"R4-0{k}" for k in range(1, 5)), *shackles])
    assert {c.status for c in accessory_checks(good)} == {"within"}
    bad = own(assess, "L7", gear_tags=[*(f"R4-0{k}" for k in range(2, 6)), *shackles])
    checks = accessory_checks(bad)
    named = row(checks, "accessories-named")
    assert (named.status, named.where) == ("over", "R4-05")
    assert row(checks, "accessories-round-4m-3").status == "over"  # three of four left
    assert any("EXPIRED" in r[-1] for r in accessory_rows(bad))


@pytest.mark.parametrize(("day", "status"), [("2027-03-14", "within"), ("2027-03-15", "over")])
def test_the_day_of_the_next_examination_is_the_last_in_date(assess: Assess, row: Row, day: str, status: str) -> None:
    a = own(assess, "L1", date=day)
    assert row(accessory_checks(a), "accessories-wire-6m-20").status == status


def test_no_day_no_register_and_unknown_tags_are_named(assess: Assess, row: Row) -> None:
    def no_day(job: Any, lift: Any) -> None:
        job["plan"]["date"] = None

    def no_register(job: Any, lift: Any) -> None:
        job["accessories"]["tagged"] = []

    (only,) = accessory_checks(assess("L1", no_day))
    assert (only.status, only.where) == ("incomplete", "date of the lift missing")
    bare = accessory_checks(assess("L1", no_register))
    assert {c.status for c in bare} == {"incomplete"}
    assert any("wire-6m-20" in c.where for c in bare)
    odd = accessory_checks(own(assess, "L1", gear_tags=["W6-99", "C5-01"]))
    assert row(odd, "accessories-named").where == "W6-99, C5-01"  # no such tag; not of its kinds


def test_a_spreader_counts_its_top_slings_and_shackles(assess: Assess, row: Row) -> None:
    checks = accessory_checks(own(assess, "L6"))
    assert row(checks, "accessories-chain-5m-13").limit == 6
    assert row(checks, "accessories-shackle-6.5").limit == 6
    assert row(checks, "accessories-spreader-4m").limit == 1


def test_a_register_of_unknown_kinds_double_tags_or_turned_dates_is_refused(assess: Assess) -> None:
    item = {"tag": "X", "kind": "wire-6m-20", "last": "2026-01-01", "next": "2026-07-01",
            "document": "d"}  # fmt: skip
    for items, words in (
        ([{**item, "kind": "no-such"}], "X of no-such"), ([item, item], "tags used once each"),
        ([{**item, "next": "2025-07-01"}], "next after last"),
    ):  # fmt: skip
        with pytest.raises(InputError, match=words):
            assess("L1", lambda job, lift, x=items: job["accessories"].update(tagged=x))


def test_a_person_does_not_pull_what_a_winch_pulls() -> None:
    line = {"lines": 2, "held_by": "persons", "each": 1, "arm_m": 2.0, "down_deg": 30.0,
            "reference": "rule 1"}  # fmt: skip
    assert parse_fact(HeldLines, {**line, "each_kN": 0.25}).each_kN == 0.25
    with pytest.raises(InputError, match=r"each_kN at most 0\.5 for a person"):
        parse_fact(HeldLines, {**line, "each_kN": 250.0})  # newtons typed as kilonewtons


@pytest.mark.parametrize(
    ("changed", "words"),
    [({"next": "2036-01-01"}, "next within 366 days of last"), ({"document": "-"}, "says some")],
)  # fmt: skip
def test_an_examination_has_a_document_and_is_not_good_for_years(changed: dict[str, str], words: str) -> None:
    item = {"tag": "A1", "kind": "wire", "last": "2026-01-01", "next": "2026-07-01",
            "document": "report 1"}  # fmt: skip
    assert parse_fact(RegisterItem, item).tag == "A1"
    with pytest.raises(InputError, match=words):
        parse_fact(RegisterItem, {**item, **changed})
