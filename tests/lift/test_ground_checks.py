"""Each row of the ground sheet: within, over its limit, and where data are missing."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest

from liftcalc.base.checks import Check
from liftcalc.base.resources import demo_job_path
from liftcalc.base.text import text_in_units
from liftcalc.facts.io import load_job
from liftcalc.facts.surveyed import RetainingWall
from liftcalc.ground.check import NeighbourStress
from liftcalc.ground.stress import rectangle_stress_kPa
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.ground_services import service_row, services_under_mats, wall_row
from liftcalc.lift.ground_study import (
    GroundStudy,
    all_ground_checks,
    bearing_row,
    bending_row,
    level_row,
    neighbour_row,
    settlement_row,
    strength_row,
)
from liftcalc.lift.leg_ground import LegGround, mat_trial

NAN = float("nan")


@pytest.fixture(scope="module")
def lift() -> LiftAssessment:
    return assess_lift(load_job(demo_job_path()), "L1")


@pytest.fixture(scope="module")
def study(lift: LiftAssessment) -> GroundStudy:
    assert lift.ground is not None
    return lift.ground


def told(row: Check) -> tuple[Any, ...]:
    return row.id, row.status, row.value, row.limit


def leg(study: GroundStudy, **change: Any) -> LegGround:
    return dataclasses.replace(study.legs[0], **change)


def test_bearing_names_mechanism_and_force(lift: LiftAssessment, study: GroundStudy) -> None:
    g = leg(study)
    row = bearing_row(lift.setup, study, g, lift.job.mats)
    assert told(row) == ("ground-FL", "within", g.pressure_kPa, g.allowable_kPa)
    assert g.mechanism in row.reference
    assert study.safety_words in row.reference
    assert f"⟦{g.reaction_kN!r} force_kN⟧" in row.where
    assert row.remedy == ""


def test_bearing_over_its_limit_names_a_mat_that_passes(lift: LiftAssessment, study: GroundStudy) -> None:
    g = leg(study, pressure_kPa=260.0, allowable_kPa=250.0)
    row = bearing_row(lift.setup, study, g, lift.job.mats)
    assert told(row) == ("ground-FL", "over", 260.0, 250.0)
    named = next(m for m in lift.job.mats if f"Use mat {m.id} " in row.remedy)
    assert mat_trial(lift.setup, g, named).utilisation <= 1.0
    smaller = [m for m in lift.job.mats if m.length_m * m.width_m < named.length_m * named.width_m]
    assert all(mat_trial(lift.setup, g, m).utilisation > 1.0 for m in smaller)


def test_bearing_without_a_mat_that_passes_asks_for_a_platform(lift: LiftAssessment, study: GroundStudy) -> None:
    row = bearing_row(lift.setup, study, leg(study, pressure_kPa=260.0, allowable_kPa=250.0), ())
    need = (study.legs[0].reaction_kN + 10.0) / 250.0
    assert f"⟦{need!r} area_m2 up⟧" in row.remedy
    assert "granular platform" in row.remedy


@pytest.mark.parametrize(("pressure", "status"), [(99.0, "within"), (101.0, "over")])
def test_neighbours_are_judged_by_the_layer_below(
    lift: LiftAssessment, study: GroundStudy, pressure: float, status: str
) -> None:
    added = NeighbourStress(pressure, 100.0, 1.25, "undrained bearing", "soft clay", 2.5, "BH1")
    row = neighbour_row(lift.setup, study, leg(study, neighbours=added))
    assert told(row) == ("ground-neighbours-FL", status, pressure, 100.0)
    words = text_in_units(row.where, "metric")
    assert "2.50 m below" in words
    assert "1.25 times" in words
    assert "soft clay" in words
    assert bool(row.remedy) == (status == "over")


def test_ground_of_one_layer_has_no_row_of_neighbours(lift: LiftAssessment, study: GroundStudy) -> None:
    alike = dataclasses.replace(study)
    alone = tuple(dataclasses.replace(g, neighbours=None) for g in study.legs)
    alike.__dict__["legs"] = alone
    ids = [c.id for c in all_ground_checks(lift.setup, lift.forces, study, (), lift.settled)]
    without = [c.id for c in all_ground_checks(lift.setup, lift.forces, alike, (), lift.settled)]
    assert [i for i in ids if "neighbours" not in i] == without
    assert len(ids) == len(without) + 4


def test_the_strength_used_most_is_the_one_shown(study: GroundStudy) -> None:
    used = {"bending": 0.4, "shear": 1.02, "crushing": 0.3, "punching": 0.9}
    row = strength_row(study.mat, leg(study, mat_utilisation=used))
    assert told(row) == ("mat-FL", "over", 102.0, 100.0)
    assert ", shear, at" in row.where
    within = strength_row(study.mat, leg(study, mat_utilisation={**used, "shear": 0.2}))
    assert within.value == pytest.approx(90.0)
    assert ", punching, at" in within.where


@pytest.mark.parametrize(
    ("moment", "status", "value"), [(40.0, "within", 80.0), (60.0, "over", 120.0), (NAN, "no_data", None)]
)
def test_bending_on_springs(study: GroundStudy, moment: float, status: str, value: float | None) -> None:
    bent = dataclasses.replace(study.legs[0].elastic_bending, moment_kNm=moment, capacity_kNm=50.0)
    row = bending_row(study.mat, leg(study, elastic_bending=bent))
    assert (row.id, row.status) == ("mat-bending-FL", status)
    assert row.value == pytest.approx(value)
    assert bool(row.remedy) == (status != "within")


@pytest.mark.parametrize(("settled", "status"), [(0.001, "within"), (0.4, "over"), (NAN, "no_data")])
def test_settlement(lift: LiftAssessment, study: GroundStudy, settled: float, status: str) -> None:
    row = settlement_row(lift.setup, leg(study, settlement_m=settled))
    assert (row.id, row.status) == ("settlement-FL", status)
    assert row.value == (None if status == "no_data" else pytest.approx(1000 * settled))
    assert bool(row.remedy) == (status != "within")


def test_level_with_settlement(lift: LiftAssessment, study: GroundStudy) -> None:
    assert study.levelled is not None
    row = level_row(lift.setup, study.levelled, "")
    assert row.status == "within"
    assert row.value == pytest.approx(float(study.levelled.level.slope_percent.max()))
    assert row.limit == lift.setup.permitted_tilt_percent
    assert level_row(lift.setup, None, "").status == "no_data"
    runaway = level_row(lift.setup, None, "no state of rest")
    assert runaway.status == "over"
    assert runaway.reference == "no state of rest"


def over_service(lift: LiftAssessment, **change: Any) -> tuple[Any, Sequence[Any]]:
    """L1 with the demo's service run under the front left leg, changed as stated."""
    x, y = lift.setup.leg_site_xy_m[0]
    service = lift.job.site.services[0].model_copy(
        update={"line": ((x - 4.0, y), (x + 4.0, y)), "stand_off_m": 0.0, "kind": "pipe"} | change
    )
    setup = dataclasses.replace(lift.setup, site=lift.setup.site.model_copy(update={"services": (service,)}))
    assert lift.ground is not None
    pressure = np.array([[g.pressure_kPa for g in lift.ground.legs]])
    return setup, services_under_mats(setup, lift.ground.legs, pressure)


@pytest.mark.parametrize(("cover", "impact"), [(0.25, 1.5), (0.4, 1.35), (0.8, 1.15), (1.3, 1.0)])
def test_a_service_feels_the_legs_with_impact_by_its_cover(
    lift: LiftAssessment, study: GroundStudy, cover: float, impact: float
) -> None:
    setup, (one,) = over_service(lift, crown_depth_m=cover, allowable_stress_kPa=60.0)
    turn = np.radians(setup.lift.stand.heading_deg)
    live = 0.0
    for g, (x, y) in zip(study.legs, setup.leg_site_xy_m, strict=True):
        dx, dy = one.load.worst_x_m[0] - x, one.load.worst_y_m[0] - y
        live += float(
            rectangle_stress_kPa(
                g.pressure_kPa, cover, length_m=g.effective_length_m, width_m=g.effective_width_m,
                x_m=dx * np.cos(turn) + dy * np.sin(turn),
                y_m=dy * np.cos(turn) - dx * np.sin(turn),
            )
        )  # fmt: skip
    weight = max(a.unit_weight_kN_m3 for g in study.legs for a in g.profile.layers)
    row = service_row(one)
    assert row.value == pytest.approx(impact * live + weight * cover, rel=1e-9)
    assert live > 0.3 * study.legs[0].pressure_kPa
    assert row.status == ("over" if row.value > 60.0 else "within")
    assert bool(row.remedy) == (row.status == "over")


def test_a_service_of_unknown_strength_has_no_data_and_shows_its_stress(lift: LiftAssessment) -> None:
    _, (one,) = over_service(lift, allowable_stress_kPa=None)
    row = service_row(one)
    assert (row.status, row.limit) == ("no_data", None)
    assert row.value == pytest.approx(float(one.load.total_kPa[0]))
    assert "owner" in row.remedy


def test_a_slab_says_what_it_carries_as_a_whole(lift: LiftAssessment) -> None:
    _, (one,) = over_service(lift, kind="slab", width_m=3.0, allowable_stress_kPa=1000.0)
    assert "kN on the slab in all" in text_in_units(service_row(one).where, "metric")
    _, (pipe,) = over_service(lift, allowable_stress_kPa=1000.0)
    assert pipe.whole_slab == ""
    assert "slab" not in service_row(pipe).where


@pytest.mark.parametrize(("limit", "status"), [(12.0, "within"), (8.0, "over"), (None, "no_data")])
def test_a_wall_against_what_it_may_carry(lift: LiftAssessment, limit: float | None, status: str) -> None:
    wall: RetainingWall = lift.job.site.retaining_walls[0]
    row = wall_row(wall.model_copy(update={"allowable_surcharge_kPa": limit}), 10.0, 1.25)
    assert (row.id, row.status, row.value, row.limit) == (f"wall-{wall.id}", status, 10.0, limit)
    assert bool(row.remedy) == (status != "within")
