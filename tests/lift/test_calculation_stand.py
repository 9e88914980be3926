"""The calculation of a search, from studies written by hand: no search is run."""

from __future__ import annotations

import pytest
from test_calculation_survey import followed
from test_stand_rows import none_found, study

from liftcalc.facts.job import Job
from liftcalc.lift.calculation_stand import stand_calculation
from liftcalc.lift.stand_rows import stand_checks
from liftcalc.lift.stand_study import StandStudy
from liftcalc.lift.standing import search_problem
from liftcalc.placement.alternatives import measured_place
from liftcalc.placement.search import SearchResult


def as_if_found(job: Job, *lifts: str, heading_deg: float = 0.0, moved_m: float = 0.0) -> StandStudy:
    """A study whose best position is the planned one of the first lift, turned or moved."""
    plan = job.for_lift(lifts[0]).lifts[0]
    place = measured_place(
        search_problem(job, lifts),
        easting_m=plan.stand.easting_m + moved_m,
        northing_m=plan.stand.northing_m,
        heading_deg=heading_deg,
        extension_m=plan.legs.as_tuple(),
    )
    found = SearchResult(places=(place,), poses=12, fitting=7, complete=True, rejected=(), measured=7)
    return study(asked=lifts[0], lift_ids=lifts, result=found, job=job)


@pytest.mark.parametrize("lift", [f"L{n}" for n in range(1, 9)])
@pytest.mark.parametrize(("heading", "moved"), [(0.0, 0.0), (30.0, 0.0), (0.0, -1.0)])
def test_the_best_positions_utilisation_follows_from_the_chart(
    demo: Job, lift: str, heading: float, moved: float
) -> None:
    made = as_if_found(demo, lift, heading_deg=heading, moved_m=moved)
    if made.result.places[0].utilisation == float("inf"):
        pytest.skip("no chart rates this position: it would not be found")
    checks = stand_checks(demo, made)
    calc = stand_calculation(made, checks)
    assert set(calc.reached) == {"places", "best-place"}
    followed(calc, checks)


def test_of_several_lifts_the_one_that_governs_is_worked(demo: Job) -> None:
    made = as_if_found(demo, "L2", "L3", "L1")
    calc = stand_calculation(made, stand_checks(demo, made))
    rows = {row["what"]: row for s in calc.block()["sections"] for row in s["rows"]}
    assert rows["Lift that governs at this position"]["formula"] == "L1"
    assert rows["Radius of the grid point that counts, pick"]["result"] == "13.500 m"
    assert calc.value("C") == 7.3


def test_a_search_that_found_nothing_counts_to_none(demo: Job) -> None:
    made = none_found(job=demo)
    checks = stand_checks(demo, made)
    calc = stand_calculation(made, checks)
    assert set(calc.reached) == {"places"}
    followed(calc, checks)


def test_a_lift_left_out_is_counted_beside_its_companions(demo: Job) -> None:
    made = as_if_found(demo, "L1", "L2")
    left = StandStudy(**{**vars(made), "asked": "L6", "left_out": (("L6", "too heavy"),)})
    checks = stand_checks(demo, left)
    calc = stand_calculation(left, checks)
    assert set(calc.reached) == {"places", "places-asked", "best-place"}
    followed(calc, checks)
