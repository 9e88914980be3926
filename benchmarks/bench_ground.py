"""Time of the ground check that the sheets run, and of its parts.

Run: pytest benchmarks/bench_ground.py --benchmark-only
"""

from __future__ import annotations

import numpy as np
import pytest

from liftcalc.base.resources import demo_job_path
from liftcalc.facts.io import load_job
from liftcalc.ground.beam import centred_beam
from liftcalc.ground.slip import SoilLayer, Surcharge, slip_check
from liftcalc.ground.stress import legs_stress_by_leg_kPa
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.ground_study import all_ground_checks, ground_study

SLEW = np.radians(np.arange(360.0))[:, None]
FORCE_KN = 300.0 + 150.0 * np.cos(SLEW - np.radians([45.0, -45.0, -135.0, 135.0]))


@pytest.fixture(scope="module")
def assessed() -> LiftAssessment:
    lift = assess_lift(load_job(demo_job_path()), "L1")
    assert lift.forces.stands
    return lift


def test_ground_study_and_its_rows_of_one_lift(benchmark, assessed: LiftAssessment) -> None:
    def check() -> int:
        study = ground_study(assessed.setup, assessed.place, assessed.forces)
        return len(all_ground_checks(assessed.setup, assessed.forces, study, assessed.job.mats))

    assert benchmark(check) > 8


def test_mat_on_elastic_ground_1440_states(benchmark) -> None:
    found = benchmark(
        centred_beam, FORCE_KN, 4.0, width_m=1.2, stiffness_kNm2=24300.0,
        subgrade_modulus_kN_m3=np.linspace(1e4, 5e4, 4), patch_m=0.6,
    )  # fmt: skip
    assert found.moment_max_kNm.shape == (360, 4)


def test_stress_of_four_legs_at_ten_thousand_points(benchmark) -> None:
    x, y = np.meshgrid(np.linspace(-6, 6, 100), np.linspace(-6, 6, 100))
    benchmark(
        legs_stress_by_leg_kPa, [100.0, 80.0, 60.0, 40.0], 1.5, leg_x_m=[3.5, 3.5, -3.5, -3.5],
        leg_y_m=[3, -3, -3, 3], length_m=4.0, width_m=1.2, x_m=x, y_m=y,
    )  # fmt: skip


def test_slip_search_of_one_edge(benchmark) -> None:
    benchmark(
        slip_check, [SoilLayer(float("inf"), 19.0, 60.0, 0.0)], height_m=3.0, slope_deg=60.0,
        surcharges=[Surcharge(150.0, 2.0, 2.0)], water_depth_m=1.0,
    )  # fmt: skip
