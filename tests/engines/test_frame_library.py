"""Carrier on legs and ground springs in series, against a frame library (PyNite, MIT)."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from liftcalc.reactions.carrier import leg_reactions_kN


def _frame() -> Any:
    path = Path(__file__).parents[1] / "published" / "test_reactions_frame.py"
    spec = importlib.util.spec_from_file_location("reactions_frame", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def test_reactions_on_legs_in_series_with_unlike_ground_are_the_librarys(case_count: Any) -> None:
    frame = _frame()
    for seed in range(5000, 5000 + case_count("frame")):
        rng = np.random.default_rng(seed)
        state = frame.random_state(seed, spread=rng.choice([0.5, 1.0]))
        leg, ground = state["leg_stiffness_kN_m"], 10 ** rng.uniform(3.9, 5.0, 4)
        state["leg_stiffness_kN_m"] = 1.0 / (1.0 / leg + 1.0 / ground)
        library, _ = frame.frame_reactions_kN(**state)
        where = state.pop("resultant_xy_m")
        vertical = state.pop("vertical_kN")
        mine = leg_reactions_kN(vertical, where, carrier="stiffness", **state).reaction_kN
        assert mine == pytest.approx(library, abs=1e-4 * vertical), seed
