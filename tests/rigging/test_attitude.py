"""Loads on slings of stated length: where they hang and how they tilt."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from liftcalc.base.errors import InputError
from liftcalc.rigging.attitude import hang_on_slings
from liftcalc.rigging.slings import bridle_tensions

RECTANGLE = np.array([[1.5, 1.0, 0.0], [1.5, -1.0, 0.0], [-1.5, -1.0, 0.0], [-1.5, 1.0, 0.0]])


@settings(deadline=None)
@given(hook=st.tuples(st.floats(-0.5, 0.5), st.floats(-0.3, 0.3), st.floats(2.5, 6.0)), depth=st.floats(-2, -0.2))
def test_lengths_taken_from_a_hook_lead_back_to_that_hook(hook: tuple[float, float, float], depth: float) -> None:
    lugs = np.array([[1.5, 1.0, 0.1], [1.5, -1.0, 0.0], [-1.5, 0.0, 0.2]])
    lengths = np.linalg.norm(lugs - hook, axis=1)
    cg = (0.0, 0.0, depth)
    out = hang_on_slings(lugs, lengths, cg_m=cg)
    np.testing.assert_allclose(out.hook_m, hook, atol=1e-9)
    bridle = bridle_tensions(4.0, lugs, hook_m=out.hook_m, cg_m=cg)
    np.testing.assert_allclose(bridle.sling_length_m, lengths, rtol=1e-9)
    assert float(bridle.tilt_deg) == pytest.approx(out.tilt_deg, abs=1e-6)


def test_equal_slings_hang_a_centred_load_level_with_none_slack() -> None:
    out = hang_on_slings(RECTANGLE, [4.0] * 4, cg_m=[0, 0, -1])
    assert out.tilt_deg == pytest.approx(0.0, abs=1e-9)
    assert not out.slack.any()
    np.testing.assert_allclose(out.hook_m, [0, 0, math.sqrt(16 - 1.5**2 - 1)], atol=1e-9)


def test_a_longer_fourth_sling_hangs_slack() -> None:
    out = hang_on_slings(RECTANGLE, [4.0, 4.0, 4.0, 4.05], cg_m=[-0.05, -0.05, -1])
    np.testing.assert_array_equal(out.slack, [False, False, False, True])
    bridle = bridle_tensions(4.0, RECTANGLE[:3], hook_m=out.hook_m, cg_m=[-0.05, -0.05, -1])
    np.testing.assert_allclose(bridle.sling_length_m, 4.0)


def test_two_slings_roll_the_load_until_its_centre_lies_below() -> None:
    lugs = [[-1.0, 0.2, 0.0], [1.0, 0.2, 0.0]]
    cg = [0.1, 0.0, -1.5]
    out = hang_on_slings(lugs, [2.5, 2.4], cg_m=cg)
    bridle = bridle_tensions(3.0, lugs, hook_m=out.hook_m, cg_m=cg)
    np.testing.assert_allclose(bridle.sling_length_m, [2.5, 2.4])
    assert out.tilt_deg > 1.0


@pytest.mark.parametrize(
    ("lengths", "cg"),
    [
        ([4.0, 4.1, 4.2, 4.05], [0.1, -0.05, -1.0]),
        ([3.5, 3.5, 3.9, 3.9], [0.3, 0.1, -0.8]),
        ([4.0, 4.0, 4.0, 4.1], [0.2, 0.1, -0.5]),
    ],
)
def test_load_hangs_with_its_centre_as_low_as_the_slings_let_it(lengths: list[float], cg: list[float]) -> None:
    # Reference: scipy's SLSQP maximises the depth of the centre of gravity below the hook.
    out = hang_on_slings(RECTANGLE, lengths, cg_m=cg)
    slings = [
        {"type": "ineq", "fun": lambda h, i=i: lengths[i] ** 2 - ((h - RECTANGLE[i]) ** 2).sum()} for i in range(4)
    ]
    found = minimize(
        lambda h: -np.linalg.norm(h - np.array(cg)),
        np.array([*cg[:2], 3.0]),
        constraints=slings,
        method="SLSQP",
        options={"ftol": 1e-14, "maxiter": 500},
    )
    assert found.success
    np.testing.assert_allclose(np.linalg.norm(out.hook_m - cg), -found.fun, rtol=1e-6)


def test_the_heavy_side_sinks() -> None:
    out = hang_on_slings(RECTANGLE, [4.0] * 4, cg_m=[0.3, 0.0, -1.0])
    assert out.tilt_deg > 3.0
    assert out.low_side_deg == pytest.approx(0.0, abs=1e-6)  # towards +x, where the mass is


@pytest.mark.parametrize(
    ("lugs", "lengths", "cg", "text"),
    [
        (RECTANGLE, [1.0] * 4, [0, 0, -1], "lengths on which the load hangs"),
        (RECTANGLE[:2], [0.9, 0.9], [1.5, 0, -1], "long enough to meet"),
        (RECTANGLE[:2], [3.0, 3.0], [1.5, 0, 0], "off the line through both lifting points"),
        (RECTANGLE, [4.0] * 3, [0, 0, -1], r"shape \(4,\), one per lug"),
        (RECTANGLE[:1], [4.0], [0, 0, -1], "n = 2 to 4"),
        (RECTANGLE, [4.0] * 4, [2.5, 0, -1], "lengths on which the load hangs"),
        (RECTANGLE, [4.0, 4.0, 4.0, math.nan], [0, 0, -1], "sling_length_m is nan"),
    ],
)
def test_impossible_slings_are_refused(lugs: np.ndarray, lengths: list[float], cg: list[float], text: str) -> None:
    with pytest.raises(InputError, match=text):
        hang_on_slings(lugs, lengths, cg_m=cg)
