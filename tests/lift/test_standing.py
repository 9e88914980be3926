"""Where to stand on the demo site: room for legs, search, map, alternatives that hold."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from liftcalc.base.checks import verdict
from liftcalc.base.errors import InputError
from liftcalc.base.resources import demo_job_path
from liftcalc.base.strict_json import plain
from liftcalc.base.text import text_in_units
from liftcalc.crane.sectors import ESTIMATE
from liftcalc.facts.io import load_job
from liftcalc.facts.job import Job
from liftcalc.lift.assess import assess_lift
from liftcalc.lift.placing import base_checks
from liftcalc.lift.setup import build_setup
from liftcalc.lift.stand_rows import alternative_rows, place_rows, plan_rows, soft_rows, stand_checks, stand_values
from liftcalc.lift.stand_study import StandStudy, companions, study_stand
from liftcalc.lift.standing import (
    LADDER_KN,
    SheetCheck,
    job_at,
    leg_room,
    most_force_by_zone_kN,
    search_problem,
    soft_zones,
)
from liftcalc.placement.measure import StandPlace


@pytest.fixture(scope="module")
def demo() -> Job:
    return load_job(demo_job_path())


@pytest.fixture(scope="module")
def slab(demo: Job) -> StandStudy:
    return study_stand(demo, "L8", step_m=2.0, heading_step_deg=30.0, count=3, max_checks=800)


def moved(place: StandPlace, **changes: float) -> StandPlace:
    return replace(place, **changes)


def show(value: float | None, quantity: str) -> str:
    return f"{value} {quantity}"


def test_a_leg_beside_the_pit_is_held_back_by_its_set_back(demo: Job) -> None:
    setup = build_setup(demo, "L1")
    near = setup.lift.model_copy(
        update={"stand": setup.lift.stand.model_copy(update={"easting_m": 38.0, "northing_m": 16.2})}
    )
    job = demo.model_copy(update={"lifts": (near,)})
    rooms = {r.leg: r for r in leg_room(build_setup(job, "L1")).legs}
    assert rooms["FL"].blocked_by == ("cable-pit",)
    assert rooms["FL"].longest_m is not None
    assert rooms["FL"].longest_m < 3.2
    assert rooms["FR"].longest_m == pytest.approx(3.2)
    # northing + extension + half a mat + set-back of 1.8 m reaches the pit's edge at 21 m
    assert 16.2 + rooms["FL"].longest_m + 0.9 + 1.8 == pytest.approx(21.0, abs=0.02)


def test_every_place_found_passes_the_full_check(demo: Job, slab: StandStudy) -> None:
    assert slab.result.places
    for place in slab.result.places:
        job = job_at(demo, "L8", place)
        assert assess_lift(job, "L8").verdict.status == "within"


def test_every_place_turned_down_fails_the_full_check(demo: Job, slab: StandStudy) -> None:
    rejected = slab.result.rejected
    assert rejected
    for item in rejected[:: max(len(rejected) // 12, 1)]:
        try:
            status = assess_lift(job_at(demo, "L8", item.place), "L8").verdict.status
        except InputError:
            continue
        assert status != "within", item.reason


def test_the_move_named_for_the_slab_holds_when_followed(demo: Job, slab: StandStudy) -> None:
    ((lift, found),) = slab.helped
    assert lift == "L8"
    assert found
    for alternative in found:
        job = job_at(demo, lift, alternative.place)
        assert assess_lift(job, lift).verdict.status == "within"


def test_the_screen_of_soft_ground_turns_down_only_what_the_full_study_turns_down(demo: Job) -> None:
    setup = build_setup(demo, "L8")
    most = most_force_by_zone_kN(setup)
    assert most["bank"] < most["hardstand"]
    assessed = assess_lift(demo, "L8")
    assert assessed.ground is not None
    for leg in assessed.ground.legs:
        if leg.reaction_kN > most[leg.zone]:
            assert leg.utilisation > 1
        if leg.utilisation <= 1:
            assert leg.reaction_kN <= most[leg.zone]
    assert np.all(np.diff(LADDER_KN) > 0)


def test_lifts_that_no_place_can_help_are_left_out_and_named(demo: Job) -> None:
    served, left_out = companions(demo, "L1")
    assert served == ("L1", "L2", "L3", "L4")
    assert [lift for lift, _ in left_out] == ["L7"]
    assert left_out[0][1].startswith("no position helps. Planned wind")


def test_places_of_the_companions_never_read_as_a_pass_of_a_lift_no_place_can_help(demo: Job, slab: StandStudy) -> None:
    lifts = ("L1", "L2", "L3", "L4")
    why = "no position helps. Wind"
    study = replace(slab, asked="L7", lift_ids=lifts, left_out=(("L7", why),))
    checks = stand_checks(demo, study)
    found = verdict(checks)
    assert found.status == "not_found"
    assert found.governing.title == "No position from which L7 is within limits"
    assert found.governing.remedy == why
    served = replace(study, asked="L1")
    assert verdict(stand_checks(demo, served)).status == "found"


def test_a_search_never_says_that_a_lift_passes(demo: Job, slab: StandStudy) -> None:
    assert slab.result.places
    found = verdict(stand_checks(demo, slab))
    assert found.status == "found"
    assert found.words.startswith("Positions found: ")
    assert "as planned now, L8 is over a limit" in found.words
    none = replace(slab, result=replace(slab.result, places=()))
    assert verdict(stand_checks(demo, none)).head == "No position found"


def test_rows_and_values_of_the_study_are_plain(demo: Job, slab: StandStudy) -> None:
    assert len(place_rows(slab, show)) == len(slab.result.places) + 1
    assert plan_rows(slab, show)
    assert any(row[0] == "L8" for row in alternative_rows(slab))
    assert plain(stand_values(slab), "values")
    assert [c.status for c in stand_checks(demo, slab)] == ["found", "found"]


def test_rows_name_what_was_not_searched_what_tips_and_what_nothing_helps(demo: Job, slab: StandStudy) -> None:
    assert soft_rows(replace(slab, soft=()), show) == [("none", "every explored zone was searched")]
    ((zone, why),) = soft_rows(replace(slab, soft=(("bank", 50.0, 90.0),)), show)
    assert zone == "bank"
    assert f"less than {show(50.0, 'force_kN')}" in why
    assert f"weighs {show(90.0, 'force_kN')}" in why

    tipping = replace(slab.present, utilisation=float("inf"), leg_force_kN=float("inf"))
    first, best = place_rows(replace(slab, present=tipping), show)[:2]
    assert (first[0], *first[-2:]) == ("as planned", "no data", "tips over")
    place = slab.result.places[0]
    assert best[0] == "1"
    assert best[5] == f"{100 * place.utilisation:.0f} %"
    assert best[6] == show(place.leg_force_kN, "force_kN")

    for checks, words in ((12, ": other mats"), (400, "first 400 changes tried: other mats")):
        helpless = replace(slab, helped=(("L8", ()),), help_checks=(checks,), left_out=())
        ((lift, change),) = alternative_rows(helpless)
        assert lift == "L8"
        assert "no remedy within 15.00 m" in text_in_units(change, "metric")
        assert words in change
    none = replace(slab, helped=(), help_checks=(), left_out=())
    assert alternative_rows(none) == [("–", "every lift is within limits as planned")]
    assert plan_rows(replace(slab, plans=()), show)[0][0] == "none"
    unsettled = plan_rows(replace(slab, plans=(), plans_settled=False), show)
    assert [r[0] for r in unsettled] == ["not settled"]


def test_lifts_of_two_machines_are_not_searched_together(demo: Job) -> None:
    with pytest.raises(InputError, match="one machine on one mat"):
        search_problem(demo, ("L1", "L5"))
    with pytest.raises(InputError, match="divisor of 360"):
        search_problem(demo, ("L1",), heading_step_deg=7.0)
    with pytest.raises(InputError, match="at least one lift"):
        search_problem(demo, ())


def test_a_place_off_the_surveyed_levels_is_refused_in_words(demo: Job, slab: StandStudy) -> None:
    check = SheetCheck(demo)
    ok, reason = check(moved(slab.result.places[0], easting_m=59.9, northing_m=39.9), ("L8",))
    assert not ok
    assert "L8" in reason


def test_a_study_out_of_full_checks_says_so(demo: Job) -> None:
    short = study_stand(demo, "L8", step_m=2.0, heading_step_deg=30.0, count=3, max_checks=1)
    assert not short.stopped
    assert not short.plans_settled
    assert not short.complete
    assert plan_rows(short, show)[-1][0] == "not settled"
    none = replace(short, helped=(("L8", ()),), help_checks=(400,), left_out=())
    assert "among the first 400 changes tried" in alternative_rows(none)[0][1]
    none = replace(none, help_checks=(12,))
    words = text_in_units(alternative_rows(none)[0][1], "metric")
    assert words.startswith("no remedy within 15.00 m: ")


@pytest.mark.parametrize("lift", ["L1", "L5"])
def test_a_search_looks_no_farther_than_the_boom_reaches(demo: Job, lift: str) -> None:
    """With the boom flat, the head stands its length before its foot."""
    machine = demo.machine(demo.lift(lift).machine)
    setup = build_setup(demo, lift)
    reach = setup.boom.length_m + machine.boom.foot_u_m
    found = search_problem(demo, [lift]).lifts[0].capacity.radius_to_m
    assert found == pytest.approx(setup.boom.radius_max_m, abs=1e-5)
    assert found < reach
    assert machine.boom.foot_u_m < -0.1


def test_a_zone_is_left_out_where_it_holds_no_quarter_of_the_empty_machine(demo: Job) -> None:
    setup = build_setup(demo, "L8")
    empty = setup.masses.carrier_mass_t + setup.masses.slewing_mass_t + setup.boom.mass_t
    most = most_force_by_zone_kN(setup)
    found = soft_zones(setup)
    assert found == {
        zone: (force, pytest.approx(empty * 9.80665 / 4)) for zone, force in most.items() if force < empty * 9.80665 / 4
    }
    assert 0 < len(found) < len(most)


def test_missing_capacity_data_is_told_at_a_place_where_they_miss(demo: Job) -> None:
    lift = assess_lift(demo, "L1")
    source = lift.study.capacity.source.copy()
    source[-3:] = ESTIMATE
    study = replace(lift.study, capacity=replace(lift.study.capacity, source=source))
    rows = base_checks(lift.setup, study)
    row = next(r for r in rows if r.id == "layout-capacity-data")
    assert row.where.endswith(f", first {lift.path.describe(len(source) - 3)}")
