"""Each row of the site survey sheet, just within and just over its limit, and without data.

L1 stands at 31.0 m E, 18.3 m N with its heading along east, on square mats of 1.8 m: their centres
are at 34.3 m E and 27.5 m E, 20.6 m N (left) and 15.1 m N (right).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import pytest

from liftcalc.base.checks import Check
from liftcalc.base.text import text_in_units
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.survey_checks import line_reach_rows, survey_checks

Assess = Callable[..., LiftAssessment]
Row = Callable[[Iterable[Check], str], Check]


def survey(assess: Assess, change: Callable[[Any, Any], object]) -> list[Check]:
    lift = assess("L1", change)
    return survey_checks(lift.setup, lift.place)


def test_the_demo_lift_stands_within_every_row_of_the_survey(assess: Assess) -> None:
    rows = survey(assess, lambda job, lift: None)
    assert [c.id for c in rows if c.status != "within"] == []
    assert [c.id for c in rows] == [
        "mats-on-site", "mats-in-stand-area", "mats-on-known-ground", "carrier-on-site",
        "mat-flood-wall", "mat-pump-house", "mat-switch-kiosk", "mat-control-room", "mat-poplar",
        "set-back-forebay", "set-back-cable-pit", "stand-off-culvert", "packing", "stand-level",
        "survey-line-line-33",
    ]  # fmt: skip


def square(west: float, south: float, east: float, north: float) -> list[list[float]]:
    return [[west, south], [east, south], [east, north], [west, north]]


def boundary(west: float, east: float) -> Callable[[Any, Any], object]:
    return lambda job, lift: job["site"].update(boundary=square(west, 0.0, east, 40.0))


@pytest.mark.parametrize(
    ("id", "change", "area_m2", "where"),
    [
        # two mats on the left and right of the front: 0.2 m of 1.8 m outside each
        ("mats-on-site", boundary(0.0, 35.0), 0.2 * 1.8, {"outrigger FL", "outrigger FR"}),
        # the carrier's front is at 37.6 m E: 0.6 m of its 2.55 m width
        ("carrier-on-site", boundary(0.0, 37.0), 0.6 * 2.55, {""}),
        (
            "mats-in-stand-area",
            lambda job, lift: job["site"]["areas"][0].update(
                polygon=square(27.0, 7.0, 56.0, 27.0)
            ),
            0.4 * 1.8,
            {"outrigger RR", "outrigger RL"},
        ),
        (
            "mats-on-known-ground",
            lambda job, lift: job["site"]["zones"][0].update(
                polygon=square(0.0, 14.5, 60.0, 23.35)
            ),
            0.3 * 1.8,
            {"outrigger FR", "outrigger RR"},
        ),
    ],
)  # fmt: skip
def test_what_lies_outside_its_area_is_measured_and_named(
    assess: Assess, row: Row, id: str, change: Any, area_m2: float, where: set[str]
) -> None:
    found = row(survey(assess, change), id)
    assert found.status == "over"
    assert found.value == pytest.approx(area_m2, abs=1e-9)
    assert found.where in where
    assert found.remedy


def obstacle(west: float, south: float, east: float, north: float) -> Any:
    def change(job: Any, lift: Any) -> None:
        job["site"]["obstacles"] = [
            {
                "id": "crate", "kind": "plant", "polygon": square(west, south, east, north),
                "base_level_m": 3.0, "top_level_m": 3.1,
            }
        ]  # fmt: skip

    return change


def test_a_leg_beam_keeps_off_an_obstacle_as_a_mat_does(assess: Assess, row: Row) -> None:
    # between the carrier's side (19.575 m N) and the mat's (19.7 m N), where only the beam passes
    under_beam = row(survey(assess, obstacle(34.2, 19.6, 34.4, 19.65)), "mat-crate")
    assert under_beam.status == "over"
    assert under_beam.value == 0.0
    assert under_beam.where == "outrigger FL"
    beside = row(survey(assess, obstacle(35.5, 20.0, 36.0, 21.0)), "mat-crate")
    assert beside.status == "within"
    assert beside.value == pytest.approx(35.5 - 35.2)


def pit(south: float, **data: Any) -> Any:
    def change(job: Any, lift: Any) -> None:
        job["site"]["excavations"] = [
            {
                "id": "pit", "polygon": square(30.0, south, 40.0, 30.0), "depth_m": 1.0,
                "supported": False, "supported_mats_from_m": None,
            }
            | data
        ]  # fmt: skip

    return change


def test_the_set_back_from_an_edge_is_the_owners_ratio_of_its_depth(assess: Assess, row: Row) -> None:
    # the front left mat's edge is at 21.5 m N
    just = row(survey(assess, pit(22.5)), "set-back-pit")
    assert (just.status, just.limit) == ("within", 1.0)
    assert just.value == pytest.approx(1.0)
    near = row(survey(assess, pit(22.49)), "set-back-pit")
    assert near.status == "over"
    assert "have the excavation supported" in near.remedy

    def ratio(job: Any, lift: Any) -> None:
        pit(22.5)(job, lift)
        job["rules"]["ground"]["edge_set_back_ratio"] = 1.5

    more = row(survey(assess, ratio), "set-back-pit")
    assert (more.status, more.limit) == ("over", 1.5)


def test_near_a_supported_edge_only_the_designers_word_counts(assess: Assess, row: Row) -> None:
    unknown = row(survey(assess, pit(22.2, supported=True)), "set-back-pit")
    assert unknown.status == "no_data"
    assert unknown.value == pytest.approx(0.7)
    assert unknown.where == "outrigger FL"
    assert "keep 1.00 m" in text_in_units(unknown.remedy, "metric")
    # from the set-back on nothing hangs on the support; a mat in the pit is over, supported or not
    assert row(survey(assess, pit(22.5, supported=True)), "set-back-pit").status == "within"
    assert row(survey(assess, pit(21.0, supported=True)), "set-back-pit").status == "over"
    for stated, status in ((0.7, "within"), (0.71, "over")):
        told = row(survey(assess, pit(22.2, supported=True, supported_mats_from_m=stated)), "set-back-pit")
        assert (told.status, told.limit) == (status, stated)
        assert told.reference.startswith("designer of the support")


def test_the_set_back_from_a_crest_is_the_owners_ratio_of_the_height(assess: Assess, row: Row) -> None:
    def slope(height_m: float) -> Any:
        def change(job: Any, lift: Any) -> None:
            job["site"]["slopes"] = [
                {
                    "id": "fall", "crest": [[0.0, 23.0], [60.0, 23.0]], "height_m": height_m,
                    "angle_deg": 30.0,
                }
            ]  # fmt: skip

        return change

    assert row(survey(assess, slope(1.5)), "set-back-fall").status == "within"
    over = row(survey(assess, slope(1.6)), "set-back-fall")
    assert (over.status, over.limit) == ("over", 1.6)
    assert over.value == pytest.approx(1.5)
    assert "height" in over.reference


@pytest.mark.parametrize(("stand_off_m", "status"), [(0.8, "within"), (0.81, "over")])
def test_the_stand_off_of_a_service_is_kept_from_its_side(
    assess: Assess, row: Row, stand_off_m: float, status: str
) -> None:
    def change(job: Any, lift: Any) -> None:
        # 1.2 m wide, its near side at 22.3 m N: 0.8 m from the mats' edge at 21.5 m N
        job["site"]["services"][0] |= {
            "line": [[20.0, 22.9], [45.0, 22.9]], "width_m": 1.2, "stand_off_m": stand_off_m,
        }  # fmt: skip

    found = row(survey(assess, change), "stand-off-culvert")
    assert found.status == status
    assert found.value == pytest.approx(0.8)
    assert found.limit == stand_off_m
    assert found.where == "outrigger FL"


def test_packing_and_stand_level_hold_to_the_surveyed_ground(assess: Assess, row: Row) -> None:
    def tilted(rise: float) -> Any:
        """Ground that rises by so much a metre toward north, level 3 m at the crane."""

        def change(job: Any, lift: Any) -> None:
            for spot in job["site"]["levels"]:
                spot["level_m"] = 3.0 + rise * (spot["northing_m"] - 18.3)
            lift["stand"]["level_m"] = 3.0

        return change

    # the legs are 5.5 m apart: 0.5 m at most
    assert row(survey(assess, tilted(0.09)), "packing").status == "within"
    steep = row(survey(assess, tilted(0.092)), "packing")
    assert steep.status == "over"
    assert steep.value == pytest.approx(0.092 * 5.5)
    for level, status in ((3.14, "within"), (3.16, "over"), (2.84, "over")):

        def stated(job: Any, lift: Any, level: float = level) -> None:
            tilted(0.0)(job, lift)
            lift["stand"]["level_m"] = level

        found = row(survey(assess, stated), "stand-level")
        assert found.status == status
        assert found.value == pytest.approx(abs(level - 3.0))
    assert text_in_units(found.remedy, "metric") == ("State the level of the crane position as 3.00 m.")


@pytest.mark.parametrize("voids", ["unknown", "present"])
def test_voids_not_ruled_out_leave_the_survey_without_data(assess: Assess, row: Row, voids: str) -> None:
    def change(job: Any, lift: Any) -> None:
        for profile in job["site"]["ground"]:
            profile["voids"] = voids

    rows = survey(assess, change)
    found = row(rows, "voids-BH1")
    assert found.status == "no_data"
    assert voids in found.title
    assert [c.id for c in rows if c.id.startswith("voids-")] == ["voids-BH1"]

    def nearer(job: Any, lift: Any) -> None:
        change(job, lift)
        lift["stand"]["northing_m"] += 0.1

    # 1.75 m from the bank (BH2), less than the mat's 1.8 m: its ground takes part
    beside = survey(assess, nearer)
    assert [c.id for c in beside if c.id.startswith("voids-")] == ["voids-BH1", "voids-BH2"]


def test_a_line_asks_for_its_table_distance_and_for_its_voltage(assess: Assess, row: Row) -> None:
    def line(northing: float, voltage: float | None) -> Any:
        def change(job: Any, lift: Any) -> None:
            job["site"]["overhead_lines"][0] |= {
                "points": [[-5.0, northing, 13.0], [65.0, northing, 13.0]], "voltage_kV": voltage,
            }  # fmt: skip

        return change

    # 29 CFR 1926.1408 Table A: 10 ft up to 50 kV, which the table of the package has as 3.05 m
    near = row(survey(assess, line(18.3 - 3.0, 33.0)), "survey-line-line-33")
    assert near.status == "over"
    assert near.value == pytest.approx(3.0)
    assert near.limit == pytest.approx(3.05, abs=0.005)
    far = row(survey(assess, line(18.3 - 3.1, 33.0)), "survey-line-line-33")
    assert far.status == "within"
    unknown = row(survey(assess, line(2.0, None)), "survey-line-line-33")
    assert unknown.status == "no_data"
    assert unknown.remedy == "Ask invented network operator."


def test_a_line_is_reached_from_the_booms_reach_and_its_study_zone(assess: Assess) -> None:
    def at(northing: float, voltage: float | None) -> tuple[str, float, float, bool]:
        def change(job: Any, lift: Any) -> None:
            job["site"]["overhead_lines"][0] |= {
                "points": [[-500.0, northing, 13.0], [500.0, northing, 13.0]], "sag_m": 0.5,
                "voltage_kV": voltage,
            }  # fmt: skip

        ((name, lowest, zone, reached),) = line_reach_rows(assess("L1", change).setup)
        return name, lowest, zone, reached

    reach = assess("L1").setup.boom.radius_max_m
    name, lowest, zone, reached = at(18.3 - reach, 33.0)
    assert (name, reached) == ("line-33", True)
    assert lowest == pytest.approx(12.5)
    assert zone > 3.0
    assert at(18.3 - reach - zone + 0.01, 33.0)[3]
    assert not at(18.3 - reach - zone - 0.01, 33.0)[3]
    assert at(18.3 - reach + 0.01, None)[3]
    assert not at(18.3 - reach - 0.01, None)[3]
