"""Time of the ground check. Run: pytest benchmarks/bench_ground.py --benchmark-only

Aim: four legs x 360 slews, full ground check, at most 50 ms on one core.
"""

from __future__ import annotations

import numpy as np
import pytest

from liftcalc.ground.beam import centred_beam
from liftcalc.ground.beam_fe import beam_on_ground
from liftcalc.ground.check import LegGround, leg_ground_check
from liftcalc.ground.mats import MatProperties
from liftcalc.ground.profile import GroundLayer, GroundProfile
from liftcalc.ground.safety import EN1997_DA1, global_factor
from liftcalc.ground.slip import SoilLayer, Surcharge, slip_check
from liftcalc.ground.stress import legs_stress_kPa

SLEW = np.radians(np.arange(360.0))[:, None]
FORCE_KN = 300.0 + 150.0 * np.cos(SLEW - np.radians([45.0, -45.0, -135.0, 135.0]))
TIMBER = MatProperties(
    "timber", 4.0, 1.2, 0.3, 0.9, "timber", 9e6, 11e3, 1.2e3, 4e3, strength_basis="allowable"
)
STEEL = MatProperties(
    "steel", 3.0, 2.4, 0.2, 1.9, "steel", 2.1e8, 160e3, 90e3, 150e3, strength_basis="allowable",
    across="plate", section_modulus_m3=1.4e-3, second_moment_m4=1.4e-4, shear_area_m2=0.01,
)  # fmt: skip


def profile(cu_kPa: float) -> GroundProfile:
    return GroundProfile(
        (
            GroundLayer("fill", 1.0, 19.0, phi_deg=34.0, youngs_modulus_kPa=3e4, poisson=0.3),
            GroundLayer(
                "clay", float("inf"), 18.5, cu_kPa=cu_kPa, youngs_modulus_kPa=1.2e4, poisson=0.5
            ),
        ),
        water_depth_m=1.5,
        voids="none found",
    )


def legs(kind: str) -> list[LegGround]:
    strengths = (60.0,) * 4 if kind == "same ground" else (60.0, 61.0, 62.0, 63.0)
    mats = (TIMBER,) * 4 if kind == "same ground" else (TIMBER, STEEL, TIMBER, STEEL)
    x, y = (3.5, 3.5, -3.5, -3.5), (3.0, -3.0, -3.0, 3.0)
    return [
        LegGround(name, x[i], y[i], mats[i], 0.6, 0.6, profile(strengths[i]))
        for i, name in enumerate(("FL", "FR", "RR", "RL"))
    ]


@pytest.mark.parametrize("kind", ["same ground", "four grounds"])
@pytest.mark.parametrize("safety", [global_factor(2.5), EN1997_DA1], ids=["global", "partial"])
def test_full_ground_check_of_four_legs_over_360_slews(benchmark, kind, safety) -> None:
    found = benchmark(leg_ground_check, FORCE_KN, legs(kind), safety=safety)
    assert found.utilisation.shape == (360, 4)


def test_mat_on_elastic_ground_closed_form_1440_states(benchmark) -> None:
    found = benchmark(
        centred_beam, FORCE_KN, 4.0, width_m=1.2, stiffness_kNm2=24300.0,
        subgrade_modulus_kN_m3=np.linspace(1e4, 5e4, 4), patch_m=0.6,
    )  # fmt: skip
    assert found.moment_max_kNm.shape == (360, 4)


def test_mat_on_elastic_ground_elements_one_state(benchmark) -> None:
    benchmark(
        beam_on_ground, [400.0], [1.6], length_m=4.0, width_m=1.2, stiffness_kNm2=24300.0,
        subgrade_modulus_kN_m3=2e4, patch_m=0.6,
    )  # fmt: skip


def test_stress_of_four_legs_at_ten_thousand_points(benchmark) -> None:
    x, y = np.meshgrid(np.linspace(-6, 6, 100), np.linspace(-6, 6, 100))
    benchmark(
        legs_stress_kPa, [100.0, 80.0, 60.0, 40.0], 1.5, leg_x_m=[3.5, 3.5, -3.5, -3.5],
        leg_y_m=[3, -3, -3, 3], length_m=4.0, width_m=1.2, x_m=x, y_m=y,
    )  # fmt: skip


def test_slip_search_of_one_edge(benchmark) -> None:
    benchmark(
        slip_check, [SoilLayer(float("inf"), 19.0, 60.0, 0.0)], height_m=3.0, slope_deg=60.0,
        surcharges=[Surcharge(150.0, 2.0, 2.0)], water_depth_m=1.0, through="surcharge",
    )  # fmt: skip
