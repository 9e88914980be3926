"""Leg reactions for 21,600 states (360 slews x 60 radii), against a general frame library.

Run: pytest benchmarks/bench_reactions.py --benchmark-only
The last item prints the ratio of the time per state; timings are not asserted.
"""

from __future__ import annotations

import runpy
import time
from pathlib import Path

import numpy as np
import pytest

from liftcalc.reactions.carrier import carrier_supports, leg_reactions_kN
from liftcalc.reactions.envelope import reach_envelope

LEGS = np.array([[3.6, 3.5], [3.6, -2.2], [-3.8, -1.4], [-3.8, 3.5]])
SPRINGS = np.array([25e3, 8e3, 16e3, 40e3])
SLEW = np.radians(np.arange(360.0))[:, None]
ARM = np.linspace(0.2, 2.2, 60)
XY = np.stack([ARM * np.cos(SLEW), ARM * np.sin(SLEW)], axis=-1)
FORCE = np.linspace(500.0, 620.0, 60)

MODELS = {
    "rigid": {},
    "rigid, springs and settlement": {"leg_stiffness_kN_m": SPRINGS},
    "flexible": {"carrier": "flexible"},
    "stated twist stiffness": {
        "carrier": "stiffness",
        "leg_stiffness_kN_m": SPRINGS,
        "torsional_stiffness_kNm_rad": 3e4,
    },
}


@pytest.mark.parametrize("model", MODELS)
def test_21600_states(benchmark, model):
    got = benchmark(leg_reactions_kN, FORCE, XY, leg_xy_m=LEGS, **MODELS[model])
    assert got.reaction_kN.shape == (360, 60, 4)


def test_envelope_of_both_models_over_21600_states(benchmark):
    supports = carrier_supports(LEGS, None, carriers=("rigid", "flexible"))
    force = np.broadcast_to(FORCE, XY.shape[:-1]).ravel()
    env = benchmark(reach_envelope, supports, force, XY.reshape(-1, 2), reach_m=0.05)
    assert env.worst_kN > 0


def test_one_state_with_the_frame_library(benchmark, capsys):
    tests = Path(__file__).parents[1] / "tests" / "published" / "test_reactions_frame.py"
    frame = runpy.run_path(str(tests))["frame_reactions_kN"]
    sample = iter(np.random.default_rng(1).integers(0, [360, 40], (60, 2)))

    def one_of_the_states():
        i, j = next(sample)
        return (FORCE[j], XY[i, j], LEGS, SPRINGS, 3e4, 0.0), {}

    benchmark.pedantic(frame, setup=one_of_the_states, rounds=50)
    model = MODELS["stated twist stiffness"]
    times = []
    for _ in range(30):
        start = time.perf_counter()
        leg_reactions_kN(FORCE, XY, leg_xy_m=LEGS, **model)
        times.append(time.perf_counter() - start)
    ours = np.median(times) / XY[..., 0].size
    if benchmark.stats is not None:
        frame_s = benchmark.stats.stats.median
        with capsys.disabled():
            print(
                f"\nper state: frame library {frame_s * 1e3:.2f} ms, here {ours * 1e9:.0f} ns, "
                f"{frame_s / ours:,.0f} times faster"
            )
