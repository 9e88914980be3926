"""Boom geometry and bending on large arrays: ``pytest benchmarks/bench_boom.py``."""

from __future__ import annotations

import numpy as np
from pytest_benchmark.fixture import BenchmarkFixture

from liftcalc.crane.boom import boom_pose
from liftcalc.crane.boom_bending import deflected_boom

LENGTHS = np.linspace(12.0, 40.0, 60)[:, None]
SHARES = np.linspace(0.3, 0.85, 360)[None, :]
RADII = LENGTHS * SHARES


def test_pose_of_21600_booms(benchmark: BenchmarkFixture) -> None:
    pose = benchmark(boom_pose, LENGTHS, RADII, foot_u_m=-1.2, foot_z_m=2.1)
    assert pose.sheave_z_m.shape == (60, 360)


def test_bending_of_21600_booms(benchmark: BenchmarkFixture) -> None:
    found = benchmark(
        deflected_boom,
        LENGTHS,
        RADII,
        hook_load_t=4.0,
        boom_mass_t=8.0,
        boom_cg_from_foot_m=0.42 * LENGTHS,
        bending_stiffness_kNm2=1.5e6,
        foot_u_m=-1.2,
    )
    assert (found.radius_m >= found.straight_radius_m).all()
