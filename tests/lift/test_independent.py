"""The whole lift against a second, slow model written from first principles.

Nothing here calls a calculation of the package to get its expectation: the base is judged by
linear programmes over leg forces that cannot pull, the path by complex numbers in the site frame,
leg forces by least work over every set of standing legs, distances by shapely, charts row by row.
"""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from liftcalc.errors import InputError
from liftcalc.facts.io import load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift import assess_lift
from liftcalc.resources import demo_job_path


@pytest.fixture(scope="module")
def demo() -> Job:
    return load_job(demo_job_path())


def changed(job: Job, lift: str, **changes: Any) -> Job:
    """The demo job with dotted fields of one lift changed."""
    data = json.loads(job.model_dump_json())
    target = next(i for i in data["lifts"] if i["id"] == lift)
    for path, value in changes.items():
        node = target
        *parents, last = path.split("__")
        for part in parents:
            node = node[part]
        node[last] = value
    return parse_fact(Job, data)


@pytest.mark.parametrize(("axis", "toward"), [("x", 0.0), ("y", 90.0)])
def test_a_lean_toward_the_load_and_its_settlement_add_up(
    demo: Job, axis: str, toward: float
) -> None:
    """A machine set up leaning over its load settles further that way, not back to level."""
    slews = {"slew_way": "shortest"}
    at = np.radians(toward)
    place = {"easting_m": 31 + 10 * np.cos(at), "northing_m": 18.3 + 10 * np.sin(at)}
    base = {
        **slews,
        "stand__heading_deg": 0.0,
        "pick": {**place, "level_m": 4.2},
        "set_down": {**place, "level_m": 4.2},
    }
    value = {}
    for lean in (-0.6, 0.0, 0.6):
        job = changed(demo, "L3", **base, **{f"stand__tilt_{axis}_percent": lean})
        rows = {c.id: c for c in assess_lift(job, "L3").ground_rows}
        value[lean] = rows["tilt"].value
    assert value[0.0] > 0.01  # it settles toward the load
    assert value[0.6] > 0.61
    assert value[-0.6] < 0.59


def with_site(job: Job, **parts: list[dict[str, Any]]) -> Job:
    """The demo job with things added to its survey."""
    data = json.loads(job.model_dump_json())
    for name, items in parts.items():
        data["site"][name] = [*data["site"][name], *items]
    return parse_fact(Job, data)


def rows_of(checks: Any) -> dict[str, Any]:
    return {c.id: c for c in checks}


def test_a_mat_beside_the_crest_of_a_slope_does_not_pass(demo: Job) -> None:
    """Mats of L1 reach to y = 21.5; a bank of 3 m falls away from a crest 2.5 m beyond."""
    crest = {"id": "bank-crest", "crest": [[20.0, 24.0], [40.0, 24.0]], "height_m": 3.0}
    job = with_site(demo, slopes=[{**crest, "angle_deg": 40.0}])
    row = rows_of(assess_lift(job, "L1").survey)["set-back-bank-crest"]
    assert row.value == pytest.approx(24.0 - 21.5)
    assert row.status == "over"
    job = with_site(demo, slopes=[{**crest, "height_m": 2.4, "angle_deg": 40.0}])
    assert rows_of(assess_lift(job, "L1").survey)["set-back-bank-crest"].status == "within"


def test_a_wall_between_the_carrier_and_a_mat_does_not_pass(demo: Job) -> None:
    """A wall 0.2 m thick that crosses a leg's beam, though the mat stands clear beyond it."""
    wall = [[30.0, 19.8], [38.0, 19.8], [38.0, 20.0], [30.0, 20.0]]
    solid = {"id": "kerb", "kind": "wall", "base_level_m": 3.0, "top_level_m": 4.0}
    job = with_site(demo, obstacles=[{**solid, "polygon": wall}])
    row = rows_of(assess_lift(job, "L1").survey)["mat-kerb"]
    assert row.status == "over"
    assert "FL" in row.where


def test_a_mat_near_a_supported_edge_needs_the_word_of_its_designer(demo: Job) -> None:
    """Mats of L1 end 8.0 m from the forebay; the set-back without support is 1.0 x depth."""
    data = json.loads(demo.model_dump_json())
    pit = next(e for e in data["site"]["excavations"] if e["id"] == "forebay")
    for depth, stated, status in (
        (7.9, None, "within"),
        (8.1, None, "no_data"),
        (8.1, 7.9, "within"),
        (8.1, 8.1, "over"),
    ):
        pit |= {"depth_m": depth, "supported_mats_from_m": stated}
        row = rows_of(assess_lift(parse_fact(Job, data), "L1").survey)["set-back-forebay"]
        assert row.status == status, (depth, stated)


def test_a_carrier_across_the_boundary_does_not_pass(demo: Job) -> None:
    """The carrier reaches 6.6 m ahead of the slew centre, its front mats only 4.2 m."""
    data = json.loads(demo.model_dump_json())
    data["site"]["boundary"] = [[0.0, 0.0], [36.0, 0.0], [36.0, 40.0], [0.0, 40.0]]
    row = rows_of(assess_lift(parse_fact(Job, data), "L1").survey)["carrier-on-site"]
    assert row.status == "over"
    assert row.value == pytest.approx((31 + 6.6 - 36) * 2.55)


def test_a_step_over_its_rating_is_not_hidden_by_steps_without_data(demo: Job) -> None:
    """Charts for the sector of the set-down only: the rest has no data, that sector is over."""
    data = json.loads(demo.model_dump_json())
    for chart in data["charts"]:
        chart["sector_deg"] = [40.0, 70.0]
    a = assess_lift(parse_fact(Job, data), "L6")
    rows = rows_of(a.lift)
    assert rows["capacity"].status == "no_data"
    assert rows["capacity-rated-part"].status == "over"
    assert rows["capacity-rated-part"].limit == 5.8  # read on the chart, row 16 m
    assert a.verdict.status == "over"
    whole = rows_of(assess_lift(demo, "L6").lift)
    assert "capacity-rated-part" not in whole


def test_a_wide_load_hoisted_against_its_own_boom_does_not_pass(demo: Job) -> None:
    """Corner of the turned load against the boom's under side, by the distance point to line."""
    size = {"load__length_m": 8.0, "load__width_m": 3.0, "load__height_m": 1.0}
    points = {"rigging__point_height_m": 0.9, "load__sail_area_m2": 3.0}
    for carry in (5.4, 14.0, 18.0, 20.0):
        a = assess_lift(changed(demo, "L4", carry_level_m=carry, **size, **points), "L4")
        row = rows_of(a.lift)["clearance-own-boom"]
        boom = a.setup.machine.boom
        half, thick = np.hypot(8.0, 3.0) / 2, np.hypot(boom.width_m, boom.depth_m) / 2
        least = np.inf
        for radius, level in zip(a.path.radius_m, a.path.level_m, strict=True):
            angle = np.arccos((radius - boom.foot_u_m) / 30.0)
            du = radius - half - boom.foot_u_m
            dz = level + 1.0 - a.setup.lift.stand.level_m - boom.foot_z_m
            least = min(least, du * np.sin(angle) - dz * np.cos(angle) - thick)
        assert row.value == pytest.approx(max(least, 0.0), abs=0.1)  # a turned load as 16 sides
        assert row.status == ("within" if row.value >= 0.3 else "over")
    assert row.status == "over"
    assert rows_of(a.lift)["head-room"].status == "within"  # hook room alone would pass it


def test_a_load_slewed_low_over_the_carrier_does_not_pass(demo: Job) -> None:
    """From left to right over the front of the carrier, underside 0.5 m above the ground."""
    low = {"easting_m": 31.0, "level_m": 3.5}
    job = changed(
        demo,
        "L3",
        pick={**low, "northing_m": 18.3 + 6.0},
        set_down={**low, "northing_m": 18.3 - 6.0},
        carry_level_m=3.5,
        slew_way="clockwise",
    )
    row = rows_of(assess_lift(job, "L3").lift)["clearance-own-carrier"]
    assert row.value == 0.0
    assert row.status == "over"


def test_four_mats_are_not_planned_with_two(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    for mat in data["mats"]:
        mat["quantity"] = 2
    row = rows_of(assess_lift(parse_fact(Job, data), "L1").layout)["mats-on-shelf"]
    assert (row.value, row.limit, row.status) == (4.0, 2.0, "over")


def test_missing_data_other_than_capacity_are_not_called_capacity_data(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    for profile in data["site"]["ground"]:
        profile["subgrade_modulus_kN_m3"] = None
        for layer in profile["layers"]:
            layer["youngs_modulus_kPa"] = None
    a = assess_lift(parse_fact(Job, data), "L1")
    assert a.verdict.status == "no_data"
    assert a.verdict.words.startswith("No data for a check: ")
    assert rows_of(a.ground_rows)["tilt"].words == "NO DATA"


def test_spot_levels_in_one_line_are_refused_in_words(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    data["site"]["levels"] = [
        {"easting_m": float(i), "northing_m": float(i), "level_m": 3.0} for i in range(4)
    ]
    with pytest.raises(InputError, match="in one line"):
        _ = assess_lift(parse_fact(Job, data), "L1").survey


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            {
                "slew_way": "clockwise",
                "via": [{"slew_deg": 180.0, "radius_m": 9.3, "level_m": 6.0}],
            },
            "the points tell the way round",
        ),
        ({"rigging__point_spacing_x_m": 5.0}, "lifting points belong to the load"),
        ({"rigging__point_height_m": 9.0}, "lifting points belong to the load"),
    ],
)
def test_facts_that_would_be_passed_over_are_refused(
    demo: Job, change: dict[str, Any], words: str
) -> None:
    with pytest.raises(InputError, match=words):
        changed(demo, "L1", **change)
