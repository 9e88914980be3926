"""Wind, dynamics and rigging over a path of 2,000 steps, on one core.

Run: ``pytest benchmarks/bench_wind_rigging.py --benchmark-only``
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from liftcalc.dynamics.hoisting import slewing_effect
from liftcalc.rigging.assembly import RiggingItem, WeakestItem, weakest_item
from liftcalc.rigging.hitches import leg_rating, shackle_rating
from liftcalc.rigging.slings import bridle_tensions
from liftcalc.wind.boom import boom_wind

STEPS = 2000
RNG = np.random.default_rng(7)
ANGLE = np.linspace(35.0, 75.0, STEPS)
RADIUS = np.linspace(8.0, 24.0, STEPS)
ROPE = np.linspace(6.0, 30.0, STEPS)
LUGS = np.array([[1.5, 1.0, 0.0], [1.5, -1.0, 0.0], [-1.5, -1.0, 0.0], [-1.5, 1.0, 0.0]])
CG = np.column_stack([RNG.uniform(-0.3, 0.3, STEPS), RNG.uniform(-0.2, 0.2, STEPS), -np.ones(STEPS)])
HOOK = CG * [1.0, 1.0, 0.0] + [0.0, 0.0, 4.0]


@pytest.mark.parametrize("profile", ["uniform", "gust"])
def test_boom_wind_2000_steps(benchmark: Any, profile: Any) -> None:
    out = benchmark(
        boom_wind,
        9.0,
        36.0,
        boom_angle_deg=ANGLE,
        foot_height_m=2.0,
        foot_radius_m=-1.0,
        foot_depth_m=1.1,
        head_depth_m=0.5,
        force_coefficient=1.6,
        wind_towards_deg=30.0,
        profile=profile,
    )
    assert out.force_kN.shape == (STEPS,)


def test_slewing_effect_2000_steps(benchmark: Any) -> None:
    out = benchmark(slewing_effect, 6.0, RADIUS, slew_speed_rev_min=0.6, rope_length_m=ROPE, acceleration_time_s=8.0)
    assert out.radius_growth_m.shape == (STEPS,)


def test_four_leg_bridle_2000_steps(benchmark: Any) -> None:
    out = benchmark(bridle_tensions, 6.0, LUGS, hook_m=HOOK, cg_m=CG)
    assert out.tension_kN.shape == (STEPS, 4)


def test_three_leg_bridle_2000_steps(benchmark: Any) -> None:
    lugs = np.array([[1.5, 0.0, 0.0], [-1.0, -1.2, 0.0], [-1.0, 1.2, 0.0]])
    out = benchmark(bridle_tensions, 6.0, lugs, hook_m=HOOK, cg_m=CG)
    assert out.tension_kN.shape == (STEPS, 3)


def test_whole_rigging_check_2000_steps(benchmark: Any) -> None:
    """Bridle, ratings of every item, the weakest named at every step."""

    def check() -> WeakestItem:
        load = np.linspace(5.0, 6.0, STEPS)
        bridle = bridle_tensions(load, LUGS, hook_m=HOOK, cg_m=CG)
        leg = leg_rating(4.6, hitch="straight", bend_ratio=4.0)
        shackle = shackle_rating(6.5, side_load_angle_deg=bridle.angle_from_vertical_deg)
        items = [RiggingItem(f"sling {i}", bridle.tension_kN[:, i], leg.rated_t, "EN 13414-1") for i in range(4)]
        items += [
            RiggingItem(f"shackle {i}", bridle.tension_kN[:, i], shackle.rated_t[:, i], "EN 13889") for i in range(4)
        ]
        return weakest_item(items)

    assert benchmark(check).governing_index.shape == (STEPS,)
