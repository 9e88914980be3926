"""Slopes, packing and the plane through settled legs: edges of the valid range."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.crane.legs import packing_height_m, resultant_slope_percent
from liftcalc.crane.masses import tilted_radius_m


@settings(deadline=None)
@given(st.lists(st.floats(-3, 3), min_size=4, max_size=4))
def test_packing_brings_all_legs_to_one_level_and_one_leg_needs_none(level):
    packing = packing_height_m(level)
    assert np.ptp(np.array(level) + packing) < 1e-12
    assert packing.min() == 0.0


def test_resultant_slope_is_never_less_than_either_part():
    assert resultant_slope_percent(0.0, -0.7) == 0.7
    assert resultant_slope_percent([0.3, 0.4], [0.4, 0.3]) == pytest.approx([0.5, 0.5])


def test_leaning_back_shortens_and_leaning_forward_lengthens_the_radius():
    assert tilted_radius_m(10.0, 30.0, tilt_toward_load_deg=0.0) == 10.0
    assert tilted_radius_m(10.0, 30.0, tilt_toward_load_deg=-0.5) < 10.0


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: packing_height_m([0, 0, np.inf, 0]), "ground_level_m"),
        (lambda: tilted_radius_m(10.0, 30.0, tilt_toward_load_deg=5.1), "-5 to 5"),
        (lambda: tilted_radius_m(10.0, -1.0, tilt_toward_load_deg=0.1), "head_height_m"),
    ],
)
def test_bad_input_is_refused(call, text):
    with pytest.raises(InputError, match=text):
        call()
