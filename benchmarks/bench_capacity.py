"""Time of stability capacity and of capacity carried to an uneven base, on one core.

Run: ``OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python -m pytest benchmarks/bench_capacity.py``.

Wanted: stability capacity of 360 slews x 60 radii within 5 times one ``np.divide`` over
360 x 60 x 4 numbers; the full capacity with six charts within 3 ms.
"""

from __future__ import annotations

import timeit

import numpy as np
import pytest

from liftcalc.crane.capacity import capacity_by_slew
from liftcalc.crane.chart import ChartTable
from liftcalc.crane.legs import base_polygon, leg_points_m
from liftcalc.crane.masses import MachineMasses, straight_boom
from liftcalc.crane.stability import stability_capacity_t

LEG_X = (3.6, 3.6, -3.8, -3.8)
MASSES = MachineMasses(22.0, 0.4, 0.0, 20.0, -2.1)
SLEW = np.arange(360.0)
RADIUS = np.linspace(4.0, 28.0, 60)
ROWS = np.arange(4.0, 28.1, 1.0)


def boom_at(radius):
    return straight_boom(radius, 30.0, mass_t=8.0, cg_from_foot_m=12.0, foot_u_m=-1.2)


def base_of(extensions):
    return base_polygon(leg_points_m(LEG_X, extensions))


UNEVEN = base_of((3.5, 2.0, 3.0, 3.5))
BOOM = boom_at(RADIUS)


def six_charts():
    charts = []
    for extension in (3.5, 3.1, 2.7, 2.2, 1.8, 1.4):
        base = base_of((extension,) * 4)
        stable = stability_capacity_t(SLEW, boom_at(ROWS), base=base, masses=MASSES)
        capacity = np.floor(np.minimum(stable.min(axis=0), 150.0 / (ROWS + 1.0)) * 10) / 10
        rated = np.where(capacity > 0, capacity, np.nan)[None]
        charts.append(ChartTable(f"{extension}", [30.0], ROWS, rated, base, "cw", rule="test_load"))
    return charts


CHARTS = six_charts()


def stability():
    return stability_capacity_t(SLEW, BOOM, base=UNEVEN, masses=MASSES)


def full(slew=SLEW, radius=RADIUS, boom=BOOM, layout="grid"):
    return capacity_by_slew(
        slew,
        radius,
        boom_length_m=30.0,
        base=UNEVEN,
        charts=CHARTS,
        counterweight="cw",
        masses=MASSES,
        boom=boom,
        layout=layout,
    )


@pytest.fixture
def numbers():
    rng = np.random.default_rng(1)
    return rng.uniform(1, 2, (360, 60, 4)), rng.uniform(1, 2, (360, 60, 4))


def test_divide_of_the_same_size(benchmark, numbers):
    benchmark(np.divide, *numbers)


def test_stability_capacity_360_slews_60_radii(benchmark, numbers):
    shape = benchmark(stability).shape
    divide = min(timeit.repeat(lambda: np.divide(*numbers), number=50, repeat=20))
    ours = min(timeit.repeat(stability, number=50, repeat=20))
    benchmark.extra_info["times one np.divide"] = round(ours / divide, 2)
    print(f"\nstability capacity: {ours / divide:.2f} times one np.divide of the same size")
    assert shape == (360, 60)


def test_full_capacity_six_charts_360_slews_60_radii(benchmark):
    result = benchmark(full)
    assert result.capacity_t.shape == (360, 60)


def test_full_capacity_along_a_path_of_2000_steps(benchmark):
    slew, radius = np.linspace(0, 200, 2000), np.linspace(6, 20, 2000)
    boom = boom_at(radius)
    result = benchmark(full, slew, radius, boom, "pairs")
    assert result.capacity_t.shape == (2000,)
