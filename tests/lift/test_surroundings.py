"""Each row of the clearances, and of what passes above the surveyed ground: within and over."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Any

import numpy as np
import pytest

from liftcalc.base.checks import Check
from liftcalc.base.errors import InputError
from liftcalc.facts.job import Job
from liftcalc.lift.above_ground import load_above_ground
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.placing import ground_level_m

Assess = Callable[..., LiftAssessment]
Row = Callable[[Iterable[Check], str], Check]


def crate(west: float, south: float, east: float, north: float, top: float) -> Any:
    """One obstacle alone on the site, with nothing else to keep clear of."""

    def change(job: Any, lift: Any) -> None:
        job["site"]["obstacles"] = [
            {
                "id": "crate", "kind": "plant", "base_level_m": 0.0, "top_level_m": top,
                "polygon": [[west, south], [east, south], [east, north], [west, north]],
            }
        ]  # fmt: skip

    return change


def area(kind: str) -> Any:
    def change(job: Any, lift: Any) -> None:
        job["site"]["areas"] = [{"id": "yard", "kind": kind, "polygon": [[24, 8], [28, 8], [28, 11], [24, 11]]}]

    return change


def test_a_low_obstacle_in_the_loads_way_is_cleared_at_the_level_that_the_remedy_names(
    assess: Assess, row: Row
) -> None:
    low = crate(21.0, 17.0, 22.0, 19.0, 5.6)
    over = row(assess("L1", low).surroundings.checks, "clearance-load")
    assert over.status == "over"
    assert over.title == "Clearance, load to crate"
    named = re.search(r"at level ([\d.]+) m or higher", over.to_dict()["remedy"])
    assert named is not None

    def higher(job: Any, lift: Any) -> None:
        low(job, lift)
        lift["carry_level_m"] = float(named.group(1))

    assert row(assess("L1", higher).surroundings.checks, "clearance-load").status == "within"


def test_a_body_that_meets_an_obstacle_is_over_by_its_whole_distance(assess: Assess, row: Row) -> None:
    # within the tail's 3.1 m, beside the carrier, as high as the superstructure
    rows = assess("L1", crate(30.0, 20.5, 32.0, 21.0, 5.0)).surroundings.checks
    tail = row(rows, "clearance-counterweight-tail")
    assert (tail.status, tail.value) == ("over", 0.0)
    assert tail.remedy == "Set up the crane farther from crate: they meet."
    carrier = row(rows, "clearance-carrier")
    # the carrier's side is at 18.3 + 1.275 m N
    assert carrier.value == pytest.approx(20.5 - 19.575, abs=0.02)
    assert carrier.status == "within"


@pytest.mark.parametrize(("gap", "status"), [(0.9, "within"), (0.5, "over")])
def test_a_person_finds_room_behind_the_counterweight(assess: Assess, row: Row, gap: float, status: str) -> None:
    """North of the tail, which passes there with the load in the south."""
    setup = assess("L1").setup
    weight = setup.machine.counterweight(setup.lift.counterweight)
    south = 18.3 + max(weight.tail_radius_m, setup.machine.superstructure.tail_radius_m) + gap
    rows = assess("L1", crate(25.0, south, 37.0, south + 0.5, 5.0)).surroundings.checks
    found = row(rows, "pinch-gap")
    assert found.limit == pytest.approx(0.6)
    # the tail is drawn a little outside its circle, and leans by 1 % of its height
    assert gap - 0.15 < found.value <= gap
    assert found.status == status
    tail = row(rows, "clearance-counterweight-tail")
    assert (tail.limit, tail.status) == (0.6, status)
    low = assess("L1", crate(25.0, south, 37.0, south + 0.5, 3.1)).surroundings.checks
    assert not [c for c in low if c.id == "pinch-gap"]  # nobody is caught above what lies so low


def test_a_machine_that_may_lean_more_sees_its_load_nearer_to_its_own_boom(assess: Assess, row: Row) -> None:
    def within(percent: float) -> Check:
        a = assess("L1", lambda job, lift: lift["stand"].update(level_within_percent=percent))
        return row(a.surroundings.checks, "clearance-own-boom")

    straight, leaning = within(0.2).value, within(1.0).value
    assert straight is not None
    assert leaning is not None
    # 0.8 % of a rope of some 10 to 25 m
    assert 0.08 < straight - leaning < 0.2


@pytest.mark.parametrize("kind", ["no-overfly", "people exclusion"])
def test_nothing_hangs_over_a_zone_whatever_its_height(assess: Assess, row: Row, kind: str) -> None:
    # the set-down of L1 is at 27.0 m E, 10.0 m N, in the yard
    found = row(assess("L1", area(kind)).surroundings.checks, "zone-yard")
    assert (found.status, found.value) == ("over", 0.0)
    zone = "no-lift-over zone" if kind == "no-overfly" else "exclusion zone"
    assert found.title.endswith(f" to {zone} yard")
    assert "yard" in found.remedy


@pytest.mark.parametrize("way", ["clockwise", "anticlockwise"])
def test_the_way_round_decides_what_the_load_passes(assess: Assess, row: Row, way: str) -> None:
    """L1 goes from north to south: anticlockwise over the west, clockwise over the east."""

    def change(job: Any, lift: Any) -> None:
        lift["slew_way"] = way
        job["site"]["areas"] = [
            {"id": "east", "kind": "people exclusion", "polygon": [[36, 14], [42, 14], [42, 22], [36, 22]]}
        ]

    a = assess("L1", change)
    assert np.sign(a.path.slew_deg[-1] - a.path.slew_deg[0]) == (1 if "anti" in way else -1)
    found = row(a.surroundings.checks, "zone-east")
    assert found.status == ("within" if "anti" in way else "over")


def test_a_line_of_unknown_voltage_has_no_data_and_a_live_one_its_distance(assess: Assess, row: Row) -> None:
    def line(voltage: float | None, northing: float = 2.0) -> Any:
        def change(job: Any, lift: Any) -> None:
            job["site"]["overhead_lines"][0] |= {
                "voltage_kV": voltage, "points": [[-5.0, northing, 13.0], [65.0, northing, 13.0]],
            }  # fmt: skip

        return change

    unknown = row(assess("L1", line(None)).surroundings.checks, "line-line-33")
    assert unknown.status == "no_data"
    assert "invented network operator" in unknown.remedy
    far = row(assess("L1", line(33.0)).surroundings.checks, "line-line-33")
    near = row(assess("L1", line(33.0, 9.5)).surroundings.checks, "line-line-33")
    assert (far.status, near.status) == ("within", "over")
    assert far.limit == near.limit == pytest.approx(3.05, abs=0.005)


def levels(level: Callable[[float, float], float]) -> Any:
    def change(job: Any, lift: Any) -> None:
        job["site"]["obstacles"] = []
        for spot in job["site"]["levels"]:
            spot["level_m"] = level(spot["easting_m"], spot["northing_m"])

    return change


def above(assess: Assess, change: Any) -> dict[str, Check]:
    a = assess("L1", change)
    return {c.id: c for c in load_above_ground(a.setup, a.path, a.study.boom)}


def test_load_tail_and_boom_keep_above_level_ground(assess: Assess) -> None:
    rows = above(assess, levels(lambda east, north: 3.03))
    assert {id: c.status for id, c in rows.items()} == {
        "load-above-ground": "within", "load-carried-above-ground": "within",
        "tail-above-ground": "within", "boom-above-ground": "within",
    }  # fmt: skip
    # the tail's underside is 1.3 m above the level that the machine stands on
    assert rows["tail-above-ground"].value == pytest.approx(1.3)


@pytest.mark.parametrize(("rise", "status"), [(1.14, "within"), (1.16, "over")])
def test_the_tail_keeps_its_distance_from_ground_that_rises(assess: Assess, rise: float, status: str) -> None:
    found = above(assess, levels(lambda east, north: 3.03 + rise))["tail-above-ground"]
    assert found.status == status
    assert found.value == pytest.approx(1.3 - rise)


@pytest.mark.parametrize(("over_m", "status"), [(0.17, "within"), (0.10, "over"), (-0.10, "over")])
def test_a_load_is_carried_above_the_ground_by_more_than_the_survey_may_be_off(
    assess: Assess, over_m: float, status: str
) -> None:
    """Level ground raised until it leaves this much below the load as it is carried."""
    level = 3.03 + above(assess, levels(lambda e, n: 3.03))["load-carried-above-ground"].value  # type: ignore[operator]
    rows = above(assess, levels(lambda e, n: level - over_m))
    found = rows["load-carried-above-ground"]
    assert (found.value, found.status) == (pytest.approx(over_m, abs=1e-9), status)
    assert rows["load-above-ground"].limit == -found.limit  # type: ignore[operator]


def test_ground_higher_than_the_load_is_carried_fails_and_the_levels_are_asked_for(assess: Assess) -> None:
    found = above(assess, levels(lambda east, north: 6.5))["load-above-ground"]
    assert found.status == "over"
    assert found.value is not None
    assert found.value < -0.15
    assert "survey the opening" in found.remedy


def test_in_an_excavation_the_ground_is_its_lowest_bottom(assess: Assess) -> None:
    """The load of L1 starts in the forebay, 1.2 m below the datum, 4.2 m below the ground."""

    def shallow(job: Any, lift: Any) -> None:
        levels(lambda east, north: 3.0)(job, lift)
        job["site"]["excavations"][0]["depth_m"] = 3.9

    deep = above(assess, levels(lambda east, north: 3.0))["load-above-ground"]
    assert deep.status == "within"
    found = above(assess, shallow)["load-above-ground"]
    assert found.status == "over"
    assert found.value == pytest.approx(-1.2 - (3.0 - 3.9), abs=1e-9)


def test_levels_are_linear_between_the_surveyed_ones_and_end_with_them(assess: Assess) -> None:
    site = assess("L1", levels(lambda east, north: 0.1 * east - 0.2 * north)).setup.site
    east, north = np.array([20.0, 31.0]), np.array([10.0, 18.3])
    assert ground_level_m(site, east, north) == pytest.approx(0.1 * east - 0.2 * north)
    with pytest.raises(InputError, match="between the spot levels"):
        ground_level_m(site, [20.0, 59.9], [10.0, 39.9])


def test_the_source_of_the_tails_distance_stands_on_the_tails_rows_alone(assess: Assess, demo: Job) -> None:
    rule = demo.rules.clearance
    assert rule.tail_reference is not None
    checks = assess("L1").surroundings.checks
    with_it = {c.id for c in checks if rule.tail_reference in c.reference}
    assert with_it == {"clearance-counterweight-tail", "pinch-gap"}
    assert rule.model_copy(update={"tail_reference": None}).tail_source == rule.reference
