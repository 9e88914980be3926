"""The card lets the crew do what was checked, and no more."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from liftcalc.base.resources import demo_job_path
from liftcalc.crane.sectors import ESTIMATE
from liftcalc.facts.io import load_job
from liftcalc.facts.job import Job
from liftcalc.facts.lift import Waypoint
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.card import _level_words, card_headline, card_legs, card_rows
from liftcalc.lift.wind_checks import wind_limit_rows

Assess = Callable[..., LiftAssessment]


def show(value: float | None, quantity: str) -> str:
    return f"{value:.3f}"


def assessed(lift: str, **changes: Any) -> LiftAssessment:
    job = load_job(demo_job_path())
    one = job.lift(lift).model_copy(update=changes)
    others = [item for item in job.lifts if item.id != lift]
    return assess_lift(Job.model_validate({**dict(job), "lifts": (one, *others)}), lift)


def card(lift: LiftAssessment) -> dict[str, str]:
    return dict(card_rows(lift, show))


@pytest.mark.parametrize("wind", [0.0, 3.0, 7.0])
def test_the_crew_stops_above_the_wind_that_was_checked(wind: float) -> None:
    """At the chart's 9.8 m/s this load swings nearer to everything than any row says."""
    lift = assessed("L3", wind_m_s=wind)
    assert next(c for c in lift.lift if c.id == "wind").limit > 7.0
    assert card(lift)["Stop for wind above"].startswith(f"{wind:.3f} ")
    rows = {r[0]: r for r in wind_limit_rows(lift.setup, lift.path, lift.study.boom, show)}
    assert rows["Stop above, measured at the boom head"][1] == f"{wind:.3f}"


def test_the_stop_for_a_forecast_mean_is_its_gust_at_the_head() -> None:
    lift = assessed("L3", wind_m_s=3.0, wind_basis="at 10 m mean")
    gust = 3.0 * ((lift.study.boom.head_z_m.max() / 10.0) ** 0.14 + 0.4)
    assert card(lift)["Stop for wind above"].startswith(f"{gust:.3f} ")


def test_the_way_of_the_load_names_each_corner_in_order() -> None:
    lift = assessed("L3")
    parts = card(lift)["Way of the load, no other"].split("; then ")
    path = lift.path
    assert len(parts) == 5
    assert parts[0].startswith("from slew")
    assert [p.split(" to ")[0] for p in parts[1:]] == ["hoist", "slew", "luff", "lower"]
    assert f"radius {path.radius_m[0]:.3f}" in parts[0]
    assert f"radius {path.radius_m.min():.3f}" in parts[2]
    assert f"underside at level {path.level_m[-1]:.3f}" in parts[-1]


def test_a_way_that_turns_back_is_told_with_its_whole_sweep() -> None:
    via = tuple(Waypoint(slew_deg=s, radius_m=9.0, level_m=5.4) for s in (-110.0, -150.0))
    lift = assessed("L3", via=via)
    words = card(lift)
    low, high = lift.path.slew_deg.min(), lift.path.slew_deg.max()
    assert high > max(lift.path.slew_deg[[0, -1]])
    ends = [f"{(s + 180) % 360 - 180:.0f}°" for s in (low, high)]
    assert words["Slew"].startswith(f"there and back, anticlockwise from {ends[0]} to {ends[1]}")
    assert "travel to slew -150°, radius 9.000" in words["Way of the load, no other"]


def test_an_estimate_is_not_told_to_the_crew_as_a_rating() -> None:
    lift = assessed("L3")
    capacity = lift.study.capacity
    unrated = dataclasses.replace(capacity, source=np.full_like(capacity.source, ESTIMATE))
    lift.__dict__["study"] = dataclasses.replace(lift.study, capacity=unrated)
    told = card(lift)["Load on the hook, everything below the boom head"]
    assert "rated nothing here" in told
    assert np.isfinite(capacity.capacity_t).all()


@pytest.mark.parametrize("heading", [0.0, 30.0, 135.0, -100.0])
def test_the_front_is_told_as_a_bearing_from_north(heading: float) -> None:
    lift = assessed("L3")
    stand = lift.setup.lift.stand.model_copy(update={"heading_deg": heading})
    turned = lift.setup.lift.model_copy(update={"stand": stand})
    lift = dataclasses.replace(lift, setup=dataclasses.replace(lift.setup, lift=turned))
    front = np.exp(1j * np.radians(heading))  # east + i north
    bearing = np.degrees(np.arctan2(front.real, front.imag)) % 360
    assert f"front toward {bearing:.0f}° from north" in card(lift)["Stand of the slew centre"]


@pytest.mark.parametrize("id", ["L1", "L2", "L3", "L5", "L7"])
def test_the_card_tells_the_radii_and_the_turn_of_the_path(id: str) -> None:
    lift = assessed(id)
    path, words = lift.path, card(lift)
    least, most = (f"{f(path.radius_m):.3f}" for f in (min, max))
    assert words["Radius"].startswith(f"{least} to {most}: no farther out")
    assert (
        f"({lift.study.capacity.radius_m[lift.study.governing_step]:.2f} m"
        in (words["Load on the hook, everything below the boom head"])
    )
    way = "anticlockwise" if path.slew_deg[-1] > path.slew_deg[0] else "clockwise"
    ends = [np.degrees(np.angle(np.exp(1j * np.radians(path.slew_deg[k])))) for k in (0, -1)]
    assert words["Slew"].startswith(f"{way} from {ends[0]:.0f}° to {ends[1]:.0f}° (0° over")


def test_cards_of_the_demo_turn_both_ways_and_luff() -> None:
    """Else the test before would not tell one way, or one radius, from the other."""
    paths = [assessed(id).path for id in ("L1", "L2", "L3", "L5", "L7")]
    turns = {float(np.sign(p.slew_deg[-1] - p.slew_deg[0])) for p in paths}
    assert turns == {-1.0, 1.0}
    assert any(np.ptp(p.radius_m) > 1.0 for p in paths)


@pytest.mark.parametrize(
    ("uses_up", "words"),
    [
        (0.0, "set up within 1.0 %"),
        (0.7, "set up within 0.3 %"),  # 1 - 0.7 is a little more than 0.3
        (0.89, "set up within 0.1 %"),
        (0.16, "set up within 0.8 %"),
        (0.905, "settling alone may use it up"),
        (1.4, "settling alone may use it up"),
    ],
)
def test_the_machine_is_set_up_so_level_that_settling_keeps_it_within(
    uses_up: float, words: str
) -> None:
    plane = SimpleNamespace(slope_max_percent=np.array([0.0, uses_up]))
    ground = SimpleNamespace(levelled=SimpleNamespace(plane=plane))
    setup = SimpleNamespace(permitted_tilt_percent=1.0)
    assert words in _level_words(SimpleNamespace(setup=setup, ground=ground))  # type: ignore[arg-type]


def test_a_tenth_that_rounding_hides_is_given_away() -> None:
    plane = SimpleNamespace(slope_max_percent=np.array([0.1]))
    ground = SimpleNamespace(levelled=SimpleNamespace(plane=plane))
    setup = SimpleNamespace(permitted_tilt_percent=0.1 + 0.7)  # 0.7999999999999999
    told = _level_words(SimpleNamespace(setup=setup, ground=ground))  # type: ignore[arg-type]
    assert "set up within 0.7 %" in told


def test_each_outrigger_of_the_card_has_its_setting_packing_and_force() -> None:
    lift = assessed("L4")
    rows = card_legs(lift, show)
    assert [r[0] for r in rows] == ["FL", "FR", "RR", "RL"]
    for k, row in enumerate(rows):
        assert row[1] == f"{lift.setup.lift.legs.as_tuple()[k]:.3f}"
        assert row[3] == f"{1000 * lift.place.packing_m[k]:.3f}"
        assert row[4] == f"{lift.forces.design_kN[k]:.3f}"
    assert any(float(row[3]) > 1 for row in rows)


def test_the_crew_carries_no_higher_than_was_checked() -> None:
    """Higher shortens the head room and brings the load nearer to an overhead line."""
    told = card(assessed("L3"))["Carry height"]
    assert told.startswith("underside of the load at level 5.400, no lower and no higher")
    via = (Waypoint(slew_deg=-110.0, radius_m=9.0, level_m=7.25),)
    told = card(assessed("L3", via=via))["Carry height"]
    assert told.startswith("underside of the load at level 5.400 to 7.250, as told, no lower")


def test_rope_on_the_drum_is_a_check_row_or_a_thing_for_the_crew_to_look_up() -> None:
    """L1 sets down in the forebay: needed by own sum of falls, boom and the way to the drum."""
    job = load_job(demo_job_path())
    lift, machine = job.lift("L1"), next(m for m in job.machines if m.id == job.lift("L1").machine)
    found = assessed("L1")
    boom, path = machine.boom, found.path
    head = boom.foot_z_m + np.sqrt(25.0**2 - (path.radius_m - boom.foot_u_m) ** 2)
    hook = path.level_m + found.rigging.hanging.hook_height_m - lift.stand.level_m
    falls = machine.hook_block(lift.hook_block).falls
    drum = 25.0 + machine.superstructure.tail_radius_m + boom.foot_u_m
    needed = falls * (head - hook).max() + drum
    assert "hoist-rope" not in {c.id for c in found.lift}
    words = card(found)["Hoist rope, not checked"]
    assert needed - 1e-3 <= float(words.split()[0]) <= needed + falls * 0.3
    for length, status in ((needed - 1.0, "over"), (needed + falls * 0.3, "within")):
        stated = machine.model_copy(update={"rope_length_m": length})
        rest = [m for m in job.machines if m.id != machine.id]
        changed = Job.model_validate({**dict(job), "machines": (stated, *rest)})
        found = assess_lift(changed, "L1")
        row = next(c for c in found.lift if c.id == "hoist-rope")
        assert (row.status, row.limit) == (status, length)
        assert row.value == pytest.approx(float(words.split()[0]), abs=1e-3)
        assert "Hoist rope, not checked" not in card(found)


def no_data(job: Any, lift: Any) -> None:
    """The demo lifts stand on less than full outriggers: these charts do not rate all of it."""
    job["charts"] = [c for c in job["charts"] if "full" in c["id"]]


@pytest.mark.parametrize("id", ["L1", "L2", "L3"])
def test_the_card_of_a_lift_within_every_limit_says_so_and_who_governs(
    assess: Assess, id: str
) -> None:
    words = "Planned within every limit. The operator's chart and limiter govern."
    assert card_headline(assess(id)) == words


def test_a_lift_on_condition_is_not_lifted_until_the_condition_is_met(assess: Assess) -> None:
    words = card_headline(assess("L4"))
    assert words.startswith("DO NOT LIFT UNTIL the manufacturer confirms this layout: planned")
    assert words.endswith("The operator's chart and limiter govern.")


def test_a_lift_over_its_capacity_is_not_lifted_and_says_what_fails(assess: Assess) -> None:
    lift = assess("L6")
    words = card_headline(lift)
    assert words.startswith("DO NOT LIFT AS PLANNED: Gross load to rated capacity; ")
    assert "within" not in words
    gross = float(lift.setup.gross_t)
    assert gross > 5.8  # rated at 16 m by the chart of the intermediate base
    assert card(lift)["Load on the hook, everything below the boom head"] == (
        f"{gross:.3f} at most; rated 5.800 at the worst point "
        f"({lift.path.radius_m.max():.2f} m radius)"
    )


@pytest.mark.parametrize("id", ["L1", "L2", "L3", "L4", "L5"])
def test_without_capacity_data_the_card_never_reads_as_within(assess: Assess, id: str) -> None:
    lift = assess(id, no_data)
    assert lift.verdict.status == "no_data"
    words = card_headline(lift)
    assert words.startswith("DO NOT LIFT AS PLANNED: Capacity data for this layout: missing on ")
    assert "within" not in words
    rated = card(lift)["Load on the hook, everything below the boom head"]
    assert "; rated nothing here at the worst point" in rated


def test_the_headline_names_at_most_three_of_what_fails(assess: Assess) -> None:
    lift = assess("L6", lambda job, one: one["load"].update(mass_t=20.0))
    failed = [c.title for c in lift.verdict.failed]
    assert len(failed) > 3
    assert card_headline(lift) == f"DO NOT LIFT AS PLANNED: {'; '.join(failed[:3])}"


def test_the_card_tells_a_clockwise_lift_as_clockwise(assess: Assess) -> None:
    """L2 goes from the lorry behind the crane to the pump bay at its left, by the rear left."""
    lift = assess("L2")
    assert (np.diff(lift.path.slew_deg) <= 0.0).all()
    assert card(lift)["Slew"].startswith("clockwise from -116° to 81° (0° over the front")


def test_a_leg_that_nothing_holds_down_is_told_as_tipping_and_unknown_ground_as_unknown(
    assess: Assess,
) -> None:
    lift = assess("L6")
    forces = lift.forces.design_kN.copy()
    forces[0] = np.inf
    lift.__dict__["forces"] = SimpleNamespace(design_kN=forces)
    lift.__dict__["place"] = dataclasses.replace(lift.place, zones=(None, *lift.place.zones[1:]))
    rows = card_legs(lift, show)
    assert rows[0][4:] == ("tips over", "unknown")
    assert rows[1][4:] == (f"{forces[1]:.3f}", "hardstand")
    assert [r[1] for r in rows] == ["2.300", "3.200", "3.200", "2.300"]


def test_a_rope_that_is_stated_and_a_line_that_is_far_leave_no_row(assess: Assess) -> None:
    def change(job: Any, one: Any) -> None:
        job["site"]["overhead_lines"] = []
        for machine in job["machines"]:
            machine["rope_length_m"] = 250.0

    names = list(card(assess("L1")))
    assert {"Hoist rope, not checked", "Overhead line"} <= set(names)
    left = list(card(assess("L1", change)))
    assert left == [n for n in names if n not in ("Hoist rope, not checked", "Overhead line")]
