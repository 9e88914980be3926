"""Buried things: search along the line, superposition, unknown limits."""

from __future__ import annotations

import numpy as np
import pytest
from geotech_references.dm7_1.chapter4 import (
    flexible_pipe_prism_load,
    flexible_pipe_trench_load,
    rigid_pipe_trench_load,
    trench_load_coefficient,
)

from liftcalc.errors import InputError
from liftcalc.ground.pipes import impact_factor, marston_load, service_load, slab_load
from liftcalc.ground.stress import rectangle_stress_kPa

LEGS = {
    "leg_x_m": [3.0, 3.0, -3.0, -3.0],
    "leg_y_m": [2.5, -2.5, -2.5, 2.5],
    "length_m": 2.0,
    "width_m": 1.0,
}


def test_marston_agrees_with_a_geotechnical_reference_package() -> None:
    found = marston_load(18.0, 2.0, trench_width_m=1.0, pipe_diameter_m=0.6, k_mu=0.15)
    cd = trench_load_coefficient(2.0, 1.0, 0.5, 0.3)
    assert found.cd == pytest.approx(cd, rel=1e-9)
    assert found.rigid_kN_m == pytest.approx(rigid_pipe_trench_load(cd, 18.0, 1.0), rel=1e-9)
    assert found.flexible_kN_m == pytest.approx(
        flexible_pipe_trench_load(cd, 18.0, 1.0, 0.6), rel=1e-9
    )
    assert found.prism_kN_m == pytest.approx(flexible_pipe_prism_load(18.0, 2.0, 0.6), rel=1e-9)


def test_impact_never_grows_with_cover() -> None:
    factor = impact_factor(np.linspace(0.0, 3.0, 301))
    assert np.all(np.diff(factor) <= 0.0)
    assert factor[0] == 1.5
    assert factor[-1] == 1.0


def test_the_worst_point_of_a_pipe_below_a_leg_is_below_that_leg() -> None:
    q = np.array([[150.0, 20.0, 20.0, 20.0], [20.0, 150.0, 20.0, 20.0]])
    found = service_load(
        q,
        1.2,
        **LEGS,
        line_x_m=[3.0, 3.0],
        line_y_m=[-8.0, 8.0],
        diameter_m=0.4,
        unit_weight_kN_m3=18.0,
        limit_kPa=100.0,
    )
    assert found.worst_y_m == pytest.approx([2.5, -2.5], abs=0.1)
    assert found.live_kPa[0] == pytest.approx(found.by_leg_kPa[0].sum())
    assert found.live_kPa[0] == pytest.approx(
        float(rectangle_stress_kPa(150.0, 1.2, length_m=2.0, width_m=1.0)), rel=0.03
    )
    assert found.total_kPa == pytest.approx(found.live_kPa + 1.2 * 18.0)
    assert found.utilisation == pytest.approx(found.total_kPa / 100.0)


def test_a_pipe_without_a_known_limit_is_unsafe() -> None:
    found = service_load(
        [1.0, 1.0, 1.0, 1.0],
        3.0,
        **LEGS,
        line_x_m=[40.0, 50.0],
        line_y_m=[40.0, 50.0],
        diameter_m=0.4,
        unit_weight_kN_m3=18.0,
    )
    assert found.utilisation == np.inf


def test_a_line_without_length_is_refused() -> None:
    with pytest.raises(InputError, match="two or more different points"):
        service_load(
            [1.0] * 4,
            1.0,
            **LEGS,
            line_x_m=[1.0, 1.0],
            line_y_m=[2.0, 2.0],
            diameter_m=0.4,
            unit_weight_kN_m3=18.0,
        )


def test_slab_mean_agrees_with_a_fine_sum_and_lies_below_the_peak() -> None:
    q = [150.0, 0.0, 60.0, 30.0]
    found = slab_load(
        q, 1.0, **LEGS, slab_x_m=(0.0, 5.0), slab_y_m=(0.0, 4.0), unit_weight_kN_m3=18.0
    )
    n = 250
    x = (np.arange(n) + 0.5) / n * 5.0
    y = (np.arange(n) + 0.5) / n * 4.0
    xx, yy = np.meshgrid(x, y)
    fine = sum(
        rectangle_stress_kPa(p, 1.0, length_m=2.0, width_m=1.0, x_m=xx - lx, y_m=yy - ly)
        for p, lx, ly in zip(q, LEGS["leg_x_m"], LEGS["leg_y_m"], strict=True)
    )
    assert found.live_mean_kPa == pytest.approx(fine.mean(), rel=1e-3)
    assert found.live_max_kPa == pytest.approx(fine.max(), rel=1e-3)
    assert found.total_force_kN == pytest.approx((fine.mean() + 18.0) * 20.0, rel=1e-3)
