"""Time of the bearing check: four legs x 360 slews on one core.

Run: ``python -m pytest benchmarks/bench_bearing.py --benchmark-only``.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from liftcalc.ground.allowable import allowable_pressure
from liftcalc.ground.bearing import DrainedSoil, bearing_capacity
from liftcalc.ground.platform import working_platform
from liftcalc.ground.profile import GroundLayer, GroundProfile
from liftcalc.ground.safety import EN1997_DA1, global_factor

GROUND = GroundProfile(
    (
        GroundLayer("granular platform", 0.5, 20.0, phi_deg=38.0),
        GroundLayer("firm clay", 2.0, 18.5, cu_kPa=45.0, phi_deg=25.0, c_kPa=2.0),
        GroundLayer("soft clay", 2.0, 17.0, cu_kPa=22.0),
        GroundLayer("gravel", math.inf, 20.0, phi_deg=36.0),
    ),
    water_depth_m=1.2,
    voids="none found",
)
B_M = np.array([1.2, 1.2, 1.5, 2.0])[:, None]
L_M = np.array([1.2, 2.0, 3.0, 2.0])[:, None]
V_KN = np.random.default_rng(1).uniform(0.0, 500.0, (4, 360))


@pytest.mark.parametrize("safety", [global_factor(2.5), EN1997_DA1], ids=["one factor", "two combinations"])
def test_full_profile_check(benchmark, safety) -> None:
    result = benchmark(allowable_pressure, GROUND, np.broadcast_to(B_M, V_KN.shape), L_m=L_M, safety=safety)
    assert result.q_allowable_kPa.shape == (4, 360)


@pytest.mark.parametrize("method", ["meyerhof", "hansen", "vesic", "en1997"])
def test_one_drained_capacity(benchmark, method) -> None:
    result = benchmark(
        bearing_capacity, np.broadcast_to(B_M, V_KN.shape), L_M,
        DrainedSoil(2.0, 30.0, 19.0, 1.0), method=method,
    )  # fmt: skip
    assert result.q_ult_kPa.shape == (4, 360)


def test_platform_thickness(benchmark) -> None:
    result = benchmark(
        working_platform, 0.9, 1.5, q_kPa=V_KN / 1.35, cu_kPa=30.0, phi_platform_deg=40.0,
        unit_weight_platform_kN_m3=20.0, water="below the platform",
    )  # fmt: skip
    assert result.thickness_m.shape == (4, 360)
