"""The card lets the crew do what was checked, and no more."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from printing import printed_in

from liftcalc.base.resources import demo_job_path
from liftcalc.base.text import CAUTION_LINE, DECIMALS, Safe, format_value, text_in_units
from liftcalc.base.units import UnitSystem, from_si
from liftcalc.crane.sectors import ESTIMATE
from liftcalc.facts.io import load_job
from liftcalc.facts.job import Job
from liftcalc.facts.lift import Waypoint
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.card import (
    INVENTED,
    NO_LIMITS,
    _level_words,
    card_blanks,
    card_headline,
    card_legs,
    card_rows,
    leg_rows,
    lifts_as_planned,
    limit_rows,
)
from liftcalc.lift.wind_checks import wind_limit_rows

printed = printed_in("metric")
Assess = Callable[..., LiftAssessment]


def show(value: float | None, quantity: str, safe: Safe = "") -> str:
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


def test_the_load_path_names_each_corner_in_order_and_what_changes_there() -> None:
    lift = assessed("L3")
    parts = card(lift)["Load path (no other)"].split("; then ")
    path = lift.path
    assert len(parts) == 5
    assert parts[0].startswith("from slew")
    assert [p.split(" to ")[0] for p in parts[1:]] == ["hoist", "slew", "luff", "lower"]
    assert f"radius {path.radius_m[0]:.3f}" in parts[0]
    assert f"level {path.level_m[0]:.3f} (underside of the load, above site datum)" in parts[0]
    assert parts[1] == f"hoist to level {path.level_m.max():.3f}"
    assert parts[2].startswith(f"slew to {path.slew_deg[-1]:.3f} (")
    assert parts[3] == f"luff to radius {path.radius_m[-1]:.3f}"
    assert parts[-1] == f"lower to level {path.level_m[-1]:.3f}"


def test_a_path_that_turns_back_is_given_with_its_whole_sweep() -> None:
    via = tuple(Waypoint(slew_deg=s, radius_m=9.0, level_m=5.4) for s in (-110.0, -150.0))
    lift = assessed("L3", via=via)
    words = dict(limit_rows(lift, show))
    low, high = lift.path.slew_deg.min(), lift.path.slew_deg.max()
    assert high > max(lift.path.slew_deg[[0, -1]])
    assert words["Slew"].startswith(f"there and back, anticlockwise from {low:.3f} (")
    assert f" to {high:.3f} (" in words["Slew"]
    assert "travel to slew -150.000 (rear right)" in words["Load path (no other)"]


def test_an_estimate_is_not_given_to_the_crew_as_a_rating() -> None:
    lift = assessed("L3")
    capacity = lift.study.capacity
    unrated = dataclasses.replace(capacity, source=np.full_like(capacity.source, ESTIMATE))
    lift.__dict__["study"] = dataclasses.replace(lift.study, capacity=unrated)
    assert lift.verdict.status == "no_data"
    assert "rated capacity at" not in str(card_rows(lift, show))
    assert "Maximum load, everything below the boom head" not in card(lift)
    assert np.isfinite(capacity.capacity_t).all()


@pytest.mark.parametrize("heading", [0.0, 30.0, 135.0, -100.0])
def test_the_front_is_told_as_a_bearing_from_north(heading: float) -> None:
    lift = assessed("L3")
    stand = lift.setup.lift.stand.model_copy(update={"heading_deg": heading})
    turned = lift.setup.lift.model_copy(update={"stand": stand})
    lift = dataclasses.replace(lift, setup=dataclasses.replace(lift.setup, lift=turned))
    front = np.exp(1j * np.radians(heading))  # east + i north
    bearing = np.degrees(np.arctan2(front.real, front.imag)) % 360
    shown = dict(limit_rows(lift, printed))["Crane position (centre of rotation)"]
    assert f"front toward {bearing:.1f}° clockwise from north" in shown


@pytest.mark.parametrize("id", ["L1", "L2", "L3", "L4", "L5"])
def test_the_card_gives_the_radii_and_the_sweep_of_the_path(id: str) -> None:
    lift = assessed(id)
    path, words = lift.path, card(lift)
    least, most = (f"{f(path.radius_m):.3f}" for f in (min, max))
    assert words["Maximum radius"].startswith(f"{most}: no farther out")
    assert words["Minimum radius"] == least
    assert (
        f"({lift.study.capacity.radius_m[lift.study.governing_step]:.3f} radius)"
        in (words["Maximum load, everything below the boom head"])
    )
    way = "anticlockwise" if path.slew_deg[-1] > path.slew_deg[0] else "clockwise"
    assert words["Slew"].startswith(f"{way} from {path.slew_deg[0]:.3f} (")
    assert f" to {path.slew_deg[-1]:.3f} (" in words["Slew"]
    assert words["Slew"].endswith("0° over the front, anticlockwise seen from above")


@pytest.mark.parametrize(
    ("id", "start", "end", "between"),
    [
        ("L1", "over the left side", "rear right", "over the rear"),
        ("L4", "rear right", "front left", "over the rear, over the left side"),
        ("L5", "front right", "front left", "over the front"),
    ],
)
def test_the_sweep_is_also_said_in_words(id: str, start: str, end: str, between: str) -> None:
    lift = assessed(id)
    words = dict(card_rows(lift, printed))["Slew"]
    assert re.search(rf"° \({start}\) {between} to \d+\.\d° \({end}\), nowhere else", words)
    # said from the path itself: where hook stands seen from the driver's seat
    x, y = lift.path.hook_m[0]
    assert ("left" in start) is bool(y > abs(x) / 3)
    assert ("right" in start) is bool(y < -abs(x) / 3)


LIMITS: dict[str, tuple[str, str, int]] = {
    "Maximum radius": (r"^([\d.,\u2009]+) (?:m|ft):", "length_m", -1),
    "Minimum radius": (r"^([\d.,\u2009]+) ", "length_m", 1),
    "Maximum load, everything below the boom head": (r"^([\d.,\u2009]+) ", "mass_t", -1),
    "Stop for wind above": (r"^([\d.]+) ", "speed_m_s", -1),
    "Overhead line": (r"keep ([\d.]+) ", "length_m", 1),
    "Hoist rope, not checked": (r"^([\d.,\u2009]+) ", "length_m", 1),
}
"""Row, its number, quantity, and on which side of the exact value it must lie."""


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("id", ["L1", "L2", "L3", "L4", "L5"])
def test_what_the_crew_reads_is_rounded_to_the_safe_side(id: str, units: UnitSystem) -> None:
    lift = assessed(id)
    exact: dict[str, float] = {}

    def exactly(value: float | None, quantity: str, safe: Safe = "") -> str:
        return f"<{float(from_si(value or 0.0, quantity, units))!r}>"

    printed = printed_in(units)
    for name, text in card_rows(lift, exactly):
        if name in LIMITS:
            number = re.search(r"<([\d.]+)>", text.partition("keep ")[2] or text)
            assert number, text
            exact[name] = float(number[1])
    rows = dict(card_rows(lift, printed))
    assert set(exact) == set(LIMITS)
    for name, (pattern, quantity, side) in LIMITS.items():
        found = re.search(pattern, text_in_units(rows[name], units))
        assert found, rows[name]
        value = float(found[1].replace(",", "").replace("\u2009", ""))
        step = 10.0 ** -DECIMALS[quantity][units == "us"]
        assert 0 <= side * (value - exact[name]) + 2e-6 * step < 1.001 * step, (name, value)
    forces = [row[4] for row in card_legs(lift, printed)]
    assert forces == [printed(force, "force_kN") for force in lift.forces.design_kN]


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("id", ["L1", "L2", "L3", "L4", "L5"])
def test_one_number_has_one_text_on_the_card_and_none_lies_outside_the_sweep(id: str, units: UnitSystem) -> None:
    lift = assessed(id)
    texts: dict[tuple[str, float], set[str]] = {}

    printed = printed_in(units)

    def recorded(value: float | None, quantity: str, safe: Safe = "") -> str:
        text = printed(value, quantity, safe)
        assert value is not None
        texts.setdefault((quantity, round(value, 6)), set()).add(text)
        return text

    card_rows(lift, recorded)
    assert len(texts) > 8
    assert {k: t for k, t in texts.items() if len(t) > 1} == {}
    path = lift.path
    for quantity, values in (("slew_deg", path.slew_deg), ("length_m", path.radius_m)):
        step = 10.0 ** -DECIMALS[quantity][units == "us"]
        for end, side in ((values.min(), 1), (values.max(), -1)):
            (text,) = texts[quantity, round(float(end), 6)]
            shown = float(text.rstrip("°").split()[0])
            off = shown - from_si(end, quantity, units)
            off = (off + 180) % 360 - 180 if quantity == "slew_deg" else off
            assert -1e-6 <= side * off < step, (quantity, end, text)
    slews = [float(t.rstrip("°")) for (q, _), both in texts.items() if q == "slew_deg" for t in both]
    assert slews
    assert all(0.0 <= s < 360.0 for s in slews)


def test_cards_of_the_demo_turn_both_ways_and_luff() -> None:
    """Else the test before would not tell one way, or one radius, from the other."""
    paths = [assessed(id).path for id in ("L1", "L2", "L3", "L4", "L5")]
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
        (0.905, "settlement alone may use it up"),
        (1.4, "settlement alone may use it up"),
    ],
)
def test_the_machine_is_set_up_so_level_that_settling_keeps_it_within(uses_up: float, words: str) -> None:
    plane = SimpleNamespace(slope_max_percent=np.array([0.0, uses_up]))
    ground = SimpleNamespace(levelled=SimpleNamespace(plane=plane))
    setup = SimpleNamespace(permitted_tilt_percent=1.0)
    lift: Any = SimpleNamespace(setup=setup, ground=ground)
    assert words in _level_words(lift, printed)


def test_a_tenth_that_rounding_hides_is_given_away() -> None:
    plane = SimpleNamespace(slope_max_percent=np.array([0.1]))
    ground = SimpleNamespace(levelled=SimpleNamespace(plane=plane))
    setup = SimpleNamespace(permitted_tilt_percent=0.1 + 0.7)  # 0.7999999999999999
    lift: Any = SimpleNamespace(setup=setup, ground=ground)
    assert "set up within 0.7 %" in _level_words(lift, printed)


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
    assert told.endswith("Levels are above site datum, on which the ground at the crane is at 3.030")
    via = (Waypoint(slew_deg=-110.0, radius_m=9.0, level_m=7.25),)
    told = card(assessed("L3", via=via))["Carry height"]
    assert told.startswith("underside of the load at level 5.400 to 7.250, no lower")


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
def test_the_card_of_a_lift_within_every_limit_says_so_and_who_governs(assess: Assess, id: str) -> None:
    assert lifts_as_planned(assess(id))
    words = "Planned within limits. The operator's chart and limiter govern."
    assert card_headline(assess(id)) == words


def test_a_lift_on_condition_is_not_lifted_until_the_condition_is_met(assess: Assess) -> None:
    assert lifts_as_planned(assess("L4"))
    words = card_headline(assess("L4"))
    assert words.startswith("DO NOT LIFT UNTIL the manufacturer confirms this layout: planned")
    assert words.endswith("The operator's chart and limiter govern.")


def refused(lift: LiftAssessment) -> dict[str, str]:
    """The card of a lift that must not be made: it says so and gives nothing to lift by."""
    rows = card_rows(lift, printed)
    names = [INVENTED[0], "Caution", "Lift", "Machine", "Checks that fail", NO_LIMITS[0]]
    assert [name for name, _ in rows] == names
    words = dict(rows)
    assert words["Caution"] == CAUTION_LINE
    assert words[NO_LIMITS[0]].startswith("No limits are given")
    for check in lift.verdict.failed:
        assert f"{check.title} ({check.words})" in words["Checks that fail"]
    assert card_legs(lift, printed) == []
    assert card_blanks(lift) == ()
    limits = (lift.setup.gross_t, *lift.path.radius_m, *lift.path.slew_deg, lift.setup.lift.wind_m_s)
    given = f"{words['Machine']} {words[NO_LIMITS[0]]}"
    for value, quantity in zip(limits, ("mass_t", *["length_m"] * 2), strict=False):
        assert format_value(value, quantity) not in given
    return words


@pytest.mark.parametrize("id", ["L6", "L7", "L8"])
def test_a_lift_over_a_limit_is_not_lifted_says_what_fails_and_gives_no_limits(assess: Assess, id: str) -> None:
    lift = assess(id)
    assert lift.verdict.status == "over"
    assert not lifts_as_planned(lift)
    words = card_headline(lift)
    assert words.startswith(f"DO NOT LIFT AS PLANNED: {lift.verdict.failed[0].title}")
    assert "within" not in words
    refused(lift)


@pytest.mark.parametrize("id", ["L1", "L2", "L3", "L4", "L5"])
def test_without_capacity_data_the_card_never_reads_as_within(assess: Assess, id: str) -> None:
    lift = assess(id, no_data)
    assert lift.verdict.status == "no_data"
    assert not lifts_as_planned(lift)
    words = card_headline(lift)
    assert words.startswith("DO NOT LIFT AS PLANNED: Capacity data for this layout (no capacity data)")
    assert "within" not in words
    refused(lift)


def test_the_cautions_and_the_invented_mark_are_on_every_card(assess: Assess) -> None:
    for id in ("L1", "L4", "L8"):
        assert card(assess(id))["Caution"] == CAUTION_LINE
        assert card_rows(assess(id), show)[0] == INVENTED
    one = assess("L1")
    real = dataclasses.replace(one, job=one.job.model_copy(update={"invented": False}))
    assert [name for name, _ in card_rows(real, show)][:2] == ["Caution", "Lift"]


def test_the_headline_names_three_of_what_fails_and_how_many_more(assess: Assess) -> None:
    lift = assess("L6", lambda job, one: one["load"].update(mass_t=20.0))
    failed = [f"{c.title} (over a limit)" for c in lift.verdict.failed]
    assert len(failed) > 3
    start = f"DO NOT LIFT AS PLANNED: {'; '.join(failed[:3])}"
    assert card_headline(lift) == f"{start}; and {len(failed) - 3} more"


def test_a_clockwise_lift_is_clockwise_on_the_card(assess: Assess) -> None:
    """L2 goes from the lorry behind the crane to the pump bay at its left, by the rear left."""
    lift = assess("L2")
    assert (np.diff(lift.path.slew_deg) <= 0.0).all()
    slew = dict(card_rows(lift, printed))["Slew"]
    assert slew.startswith("clockwise from 244.2° (rear right) over the rear to 81.4° (over the left side), nowhere")


def test_unknown_ground_is_unknown_on_the_card_and_what_tips_is_said(assess: Assess) -> None:
    lift = assess("L4")
    assert lift.verdict.status == "condition"
    forces = lift.forces.design_kN.copy()
    forces[0] = np.inf
    lift.__dict__["forces"] = SimpleNamespace(design_kN=forces)
    lift.__dict__["place"] = dataclasses.replace(lift.place, zones=(None, *lift.place.zones[1:]))
    rows = card_legs(lift, show)
    assert rows[0][4:] == ("tips over", "unknown")
    assert rows[1][4:] == (f"{forces[1]:.3f}", "hardstand")
    assert [r[1] for r in rows] == [f"{e:.3f}" for e in lift.setup.lift.legs.as_tuple()]


def test_a_rope_that_is_stated_and_a_line_that_is_far_leave_no_row(assess: Assess) -> None:
    def change(job: Any, one: Any) -> None:
        job["site"]["overhead_lines"] = []
        for machine in job["machines"]:
            machine["rope_length_m"] = 250.0

    names = list(card(assess("L1")))
    assert {"Hoist rope, not checked", "Overhead line"} <= set(names)
    left = list(card(assess("L1", change)))
    assert left == [n for n in names if n not in ("Hoist rope, not checked", "Overhead line")]


def test_the_plan_tells_of_the_outriggers_of_a_lift_that_its_card_does_not() -> None:
    """L8 is not lifted as planned: no card's row, and the plan's with what hinders it."""
    lift = assessed("L8")
    assert card_legs(lift, printed) == []
    rows = leg_rows(lift, printed)
    assert [row[0] for row in rows] == ["FL", "FR", "RR", "RL"]
    assert [row[4] for row in rows] == [printed(float(f), "force_kN") for f in lift.forces.design_kN]
    assert {row[2] for row in rows} == {lift.setup.mat.name}
    fine = assessed("L1")
    assert leg_rows(fine, printed) == list(card_legs(fine, printed))
