"""Rows of a search for crane positions, from a study written by hand: no search is run."""

from math import inf
from types import SimpleNamespace
from typing import Any

import pytest

from liftcalc.base.checks import verdict
from liftcalc.base.text import text_in_units
from liftcalc.facts.job import Job
from liftcalc.lift.stand_rows import (
    alternative_rows,
    job_rows,
    place_rows,
    plan_rows,
    soft_rows,
    stand_checks,
    stand_values,
)
from liftcalc.lift.stand_study import HELP_CHECKS, StandStudy
from liftcalc.placement.measure import StandPlace
from liftcalc.placement.search import SearchResult
from liftcalc.placement.setups import SetupPlan


def show(value: float, quantity: str, safe: str = "") -> str:
    return f"{value:.1f} {quantity}"


def place(utilisation: float = 0.625, force: float = 210.0) -> StandPlace:
    legs = (2.3, 3.2, 3.2, 2.3)
    return StandPlace(30.0, 18.5, 95.0, legs, utilisation, (utilisation,), force, 0, 0)


def study(**given: Any) -> StandStudy:
    made = SearchResult(places=(place(),), poses=12, fitting=7, complete=True, rejected=(), measured=7)
    return StandStudy(**({
        "asked": "L8", "lift_ids": ("L8", "L1"), "asked_state": "over a limit", "left_out": (),
        "present": place(0.9, 250.0), "result": made, "margin": None,
        "plans": (), "helped": (), "step_m": 1.0, "heading_step_deg": 15.0, "soft": (),
        "stopped": False, "plans_settled": True, "help_checks": (), "job": None,
    } | given))  # fmt: skip


def none_found(**given: Any) -> StandStudy:
    empty = SearchResult(places=(), poses=12, fitting=7, complete=True, rejected=(), measured=7)
    return study(result=empty, **given)


ONE = ("30.0 length_m", "18.5 length_m", "95.0 slew_deg")
LEGS = "2.3 extension_m / 3.2 extension_m / 3.2 extension_m / 2.3 extension_m"


def test_place_rows_hold_the_planned_place_and_then_the_best() -> None:
    assert place_rows(study(), show) == [
        ("as planned", *ONE, LEGS, "90 %", "250.0 force_kN"),
        ("1", *ONE, LEGS, "62 %", "210.0 force_kN"),
    ]


def test_a_planned_place_that_no_chart_rates_or_that_tips_says_so() -> None:
    row = place_rows(none_found(present=place(inf, inf)), show)[0]
    assert row[-2:] == ("no data", "tips over")


def test_plan_rows_name_set_ups_and_their_lifts() -> None:
    both = (("L1",), ("L8", "L2"))
    plan = SetupPlan(places=(place(), place()), lifts=both, utilisation=0.7, leg_force_kN=230.0, mat_area_m2=26.0)
    spot = "30.00 m E, 18.50 m N, heading 95.0°"
    ((*cells, words),) = plan_rows(study(plans=(plan,)), show)
    assert cells == ["2", "70 %", "230.0 force_kN", "26.0 area_m2"]
    assert text_in_units(words, "metric") == f"L1 from {spot}; L8, L2 from {spot}"
    assert "98.43 ft E, 60.70 ft N, heading 95.0°" in text_in_units(words, "us")
    assert plan_rows(study(), show)[0][0] == "none"
    assert plan_rows(study(plans_settled=False), show)[0][0] == "not settled"
    stopped = plan_rows(study(plans=(plan,), stopped=True, plans_settled=False), show)
    assert [row[0] for row in stopped] == ["2", "not finished"]


def test_alternative_rows_say_what_helps_and_after_how_many_trials_nothing_did() -> None:
    helps: Any = SimpleNamespace(words="move 0.5 m to the rear")
    few, many = 10, HELP_CHECKS
    rows = alternative_rows(
        study(
            helped=(("L8", (helps,)), ("L6", ()), ("L7", ())),
            help_checks=(3, few, many),
            left_out=(("L4", "needs another mat"),),
        )
    )
    assert rows[0] == ("L8", "move 0.5 m to the rear")
    assert rows[1][0] == "L6"
    assert "changes tried" not in rows[1][1]
    assert rows[2][0] == "L7"
    assert f"among the first {many} changes tried" in rows[2][1]
    assert rows[3] == ("L4", "needs another mat")
    assert alternative_rows(study())[0] == ("–", "every lift is within limits as planned")
    assert alternative_rows(study(stopped=True))[-1][0] == "not finished"


def test_soft_rows_name_zone_and_forces() -> None:
    ((zone, words),) = soft_rows(study(soft=(("bank", 50.0, 90.0),)), show)
    assert zone == "bank"
    assert "50.0 force_kN" in words
    assert "90.0 force_kN" in words
    assert soft_rows(study(), show)[0][0] == "none"


def test_a_found_position_is_no_pass_and_none_found_fails(demo: Job) -> None:
    rows = {row.id: row for row in stand_checks(demo, study())}
    assert set(rows) == {"places", "best-place"}
    assert rows["best-place"].value == pytest.approx(62.5)
    assert rows["places"].value == 1
    assert rows["places"].title == (
        "1 position from which L8, L1 are within limits (as planned now, L8 is over a limit)"
    )
    assert rows["places"].quantity == "count"
    assert verdict(list(rows.values())).status == "found"
    lost = stand_checks(demo, none_found())
    assert [row.id for row in lost] == ["places"]
    assert verdict(lost).head == "No position found"


def test_a_lift_that_was_left_out_fails_though_its_companions_are_served(demo: Job) -> None:
    left = study(asked="L6", left_out=(("L6", "needs a larger machine"),))
    row = next(row for row in stand_checks(demo, left) if row.id == "places-asked")
    assert row.value == 0
    assert row.remedy == "needs a larger machine"
    assert verdict(stand_checks(demo, left)).status != "found"


def test_stand_values_are_the_numbers_of_the_places() -> None:
    values = stand_values(study(left_out=(("L6", "why"),)))
    assert values["places"] == 1
    assert values["poses"] == 12
    assert values["fitting"] == 7
    assert values["utilisation"] == [0.625]
    assert values["leg_force_kN"] == [210.0]
    assert (values["easting_m"], values["northing_m"]) == ([30.0], [18.5])
    assert values["left_out"] == ["L6"]
    assert values["complete"] is True
    assert stand_values(study(stopped=True))["complete"] is False


def test_job_rows_tell_state_of_every_lift_and_what_could_not_be_assessed(demo: Job) -> None:
    rows = {row[0]: row for row in job_rows(demo, show)}
    assert rows["L1"][2:5] == ("demo-50", "31.0 length_m E, 18.3 length_m N", "5.2 mass_t")
    assert rows["L1"][5].startswith("Within limits.")
    assert rows["L6"][5].startswith("Over a limit: Gross load / rated capacity")
    assert "on condition" in rows["L4"][5]
    lift = demo.lifts[0]
    far = lift.model_copy(update={"pick": lift.pick.model_copy(update={"easting_m": lift.pick.easting_m + 500})})
    broken = demo.model_copy(update={"lifts": (far,)})
    assert job_rows(broken, show)[0][4] == "–"
