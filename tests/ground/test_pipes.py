"""Buried things: search along the line, superposition, unknown limits."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import dblquad
from shapely import contains_xy
from shapely.geometry import LineString

from liftcalc.base.errors import InputError
from liftcalc.ground.pipes import impact_factor, service_load, slab_force_kN
from liftcalc.ground.stress import MatsInPlan, rectangle_stress_kPa

LEGS = MatsInPlan(
    x_m=np.array([3.0, 3.0, -3.0, -3.0]),
    y_m=np.array([2.5, -2.5, -2.5, 2.5]),
    length_m=np.full(4, 2.0),
    width_m=np.full(4, 1.0),
)


def test_impact_never_grows_with_cover() -> None:
    factor = impact_factor(np.linspace(0.0, 3.0, 301))
    assert np.all(np.diff(factor) <= 0.0)
    assert factor[0] == 1.5
    assert factor[-1] == 1.0


def test_the_worst_point_of_a_pipe_below_a_leg_is_below_that_leg() -> None:
    q = np.array([[150.0, 20.0, 20.0, 20.0], [20.0, 150.0, 20.0, 20.0]])
    found = service_load(
        q, 1.2, mats=LEGS, line_x_m=[3.0, 3.0], line_y_m=[-8.0, 8.0], diameter_m=0.4, unit_weight_kN_m3=18.0
    )
    assert found.worst_y_m == pytest.approx([2.5, -2.5], abs=0.1)
    assert found.live_kPa[0] == pytest.approx(
        float(rectangle_stress_kPa(150.0, 1.2, length_m=2.0, width_m=1.0)), rel=0.03
    )
    assert found.total_kPa == pytest.approx(found.live_kPa + 1.2 * 18.0)


def test_a_line_without_length_is_refused() -> None:
    with pytest.raises(InputError, match="two or more different points"):
        service_load(
            [1.0] * 4, 1.0, mats=LEGS, line_x_m=[1.0, 1.0], line_y_m=[2.0, 2.0], diameter_m=0.4, unit_weight_kN_m3=18.0
        )


def test_force_on_a_slab_agrees_with_a_fine_sum() -> None:
    q = [150.0, 0.0, 60.0, 30.0]
    found = slab_force_kN(q, 1.0, mats=LEGS, slab_x_m=(0.0, 5.0), slab_y_m=(0.0, 4.0), unit_weight_kN_m3=18.0)
    n = 250
    x = (np.arange(n) + 0.5) / n * 5.0
    y = (np.arange(n) + 0.5) / n * 4.0
    xx, yy = np.meshgrid(x, y)
    fine = sum(
        rectangle_stress_kPa(p, 1.0, length_m=2.0, width_m=1.0, x_m=xx - lx, y_m=yy - ly)
        for p, lx, ly in zip(q, LEGS.x_m, LEGS.y_m, strict=True)
    )
    assert found == pytest.approx((fine.mean() + 18.0) * 20.0, rel=1e-3)


def test_a_wide_culvert_is_pressed_most_on_its_near_edge() -> None:
    """Own quadrature of Boussinesq's point load over the mats, at the edge and all over."""

    def stress_kPa(x: float, y: float, z: float) -> float:
        total = 0.0
        for p, lx, ly in zip(q, LEGS.x_m, LEGS.y_m, strict=True):
            part, _ = dblquad(
                lambda v, u: 3 * z**3 / (2 * np.pi) / ((x - u) ** 2 + (y - v) ** 2 + z**2) ** 2.5,
                lx - 1.0,
                lx + 1.0,
                ly - 0.5,
                ly + 0.5,
            )
            total += p * part
        return total

    q = [150.0, 40.0, 30.0, 60.0]
    cover, width, middle = 0.9, 1.8, 4.9  # the crown's near edge lies at x = 4.0, beside the mats
    found = service_load(
        q, cover, mats=LEGS, line_x_m=[middle, middle], line_y_m=[-8.0, 8.0], diameter_m=width, unit_weight_kN_m3=18.0
    )
    edge = max(stress_kPa(middle - width / 2, y, cover) for y in np.linspace(2.0, 2.6, 13))
    assert found.live_kPa == pytest.approx(edge, rel=1e-3)
    assert found.worst_x_m == pytest.approx(4.0)
    assert edge > 2.5 * stress_kPa(middle, 2.5, cover)  # the middle alone, as once looked at


@pytest.mark.parametrize("seed", range(6))
def test_no_spot_of_a_bent_crown_carries_more_than_was_found(seed: int) -> None:
    rng = np.random.default_rng(seed)
    x, y = np.cumsum(rng.uniform(-3.0, 4.0, (2, 4)), axis=1)
    width, cover = rng.uniform(0.3, 4.0), rng.uniform(0.5, 2.0)
    q = rng.uniform(0.0, 200.0, (5, 4))
    found = service_load(q, cover, mats=LEGS, line_x_m=x, line_y_m=y, diameter_m=width, unit_weight_kN_m3=18.0)
    crown = LineString(np.stack([x, y], axis=-1)).buffer(width / 2, cap_style="flat")
    low_x, low_y, high_x, high_y = crown.bounds
    spots = np.stack(np.meshgrid(np.arange(low_x, high_x, 0.04), np.arange(low_y, high_y, 0.04)), axis=-1).reshape(
        -1, 2
    )
    spots = spots[contains_xy(crown, spots[:, 0], spots[:, 1])]
    live = sum(
        rectangle_stress_kPa(
            q[:, k, None], cover, length_m=2.0, width_m=1.0,
            x_m=spots[:, 0] - LEGS.x_m[k], y_m=spots[:, 1] - LEGS.y_m[k],
        )
        for k in range(4)
    )  # fmt: skip
    most = live.max(axis=1)
    near = most > 0.95 * most.max()  # states far below the worst are searched less closely
    assert np.all(found.live_kPa >= most * np.where(near, 1 - 2e-3, 1 - 2e-2))
