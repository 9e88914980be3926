"""Mats beside an edge: the slip rows appear, follow the distance, and never pass unknown."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from shapely import LineString, box
from shapely.affinity import rotate

from liftcalc.base.resources import demo_job_path
from liftcalc.facts.io import load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.ground.slip import Surcharge, slip_check
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.edge_slip import _width_across_m, set_back_table
from liftcalc.lift.ground_tables import leg_ground_rows, settlement_rows


@pytest.fixture(scope="module")
def demo() -> Job:
    return load_job(demo_job_path())


def beside_pit(job: Job, northing_m: float, **pit: Any) -> LiftAssessment:
    data = json.loads(job.model_dump_json())
    lift = data["lifts"][0]
    lift["stand"] |= {"easting_m": 38.0, "northing_m": northing_m, "level_m": 3.02}
    data["site"]["excavations"][1] |= pit
    return assess_lift(parse_fact(Job, data), "L1")


def show(value: float | None, quantity: str) -> str:
    return f"{value} {quantity}"


def test_a_mat_beside_an_unsupported_pit_is_checked_for_slip(demo: Job) -> None:
    near = beside_pit(demo, 17.4)
    row = next(c for c in near.ground_rows if c.id == "slip-cable-pit")
    assert row.limit == 1.5
    assert row.value is not None
    slips = [s for s in near.slips if s.result is not None]
    assert slips
    least = min(s.result.safety_factor for s in slips if s.result)
    assert row.value == pytest.approx(least)


def test_the_slip_of_a_leg_is_that_of_its_ground_with_its_mat_as_a_strip(demo: Job) -> None:
    near = beside_pit(demo, 17.4)
    slip = next(s for s in near.slips if s.strength == "undrained")
    assert near.ground is not None
    leg = next(g for g in near.ground.legs if g.name == slip.leg)
    from liftcalc.lift.edge_slip import _layers

    force = leg.reaction_kN + near.ground.mat.weight_kN
    again = slip_check(
        _layers(leg.profile, undrained=True, factored=False),
        height_m=1.8,
        slope_deg=90.0,
        surcharges=[Surcharge(force / 1.8**2, slip.distance_m, 1.8)],
        water_depth_m=leg.profile.water_depth_m,
    )
    assert slip.result is not None
    assert slip.result.safety_factor == pytest.approx(again.safety_factor, rel=1e-6)


def test_a_deeper_pit_is_never_safer(demo: Job) -> None:
    factors = []
    for depth in (1.6, 2.4, 3.2):
        row = next(c for c in beside_pit(demo, 17.4, depth_m=depth).ground_rows if "slip" in c.id)
        factors.append(row.value if row.value is not None else 0.0)
    assert np.all(np.diff(factors) <= 1e-6)


def test_mats_far_from_an_edge_need_no_slip_row(demo: Job) -> None:
    assert not assess_lift(demo, "L1").slips
    assert not beside_pit(demo, 17.4, supported=True).slips


def test_the_set_back_table_lists_published_rules_for_each_edge(demo: Job) -> None:
    near = beside_pit(demo, 17.4)
    rows = set_back_table(near.setup, near.place)
    assert {row[0] for row in rows} == {"cable-pit"}
    assert all(row[-1] for row in rows)
    assert {row[5] for row in rows} <= {"met", "not met"}


def test_tables_of_a_machine_that_tips_are_empty_not_wrong(demo: Job) -> None:
    assert leg_ground_rows(None, show) == []
    assert settlement_rows(None, show) == []
    stands = assess_lift(demo, "L1")
    assert len(leg_ground_rows(stands.ground, show)) == 4
    assert len(settlement_rows(stands.ground, show)) == 5


def test_the_width_of_a_mat_is_taken_square_to_the_edge() -> None:
    edge = LineString([(-10.0, 0.0), (10.0, 0.0)])
    mat = box(-1.2, 1.0, 1.2, 2.0)
    assert _width_across_m(mat, edge) == pytest.approx(1.0)
    turned = rotate(mat, 30.0, origin="centroid")
    half = np.radians(30.0)
    assert _width_across_m(turned, edge) == pytest.approx(np.cos(half) + 2.4 * np.sin(half))
