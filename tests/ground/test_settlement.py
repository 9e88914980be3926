"""Settlement: limits, monotony and refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.ground.stress import elastic_settlement_m, half_space_factor, leg_stiffness_kN_m

side = st.floats(0.5, 6.0)


@settings(deadline=None)
@given(m=st.floats(1.0, 20.0))
def test_average_lies_between_corner_and_centre(m) -> None:
    corner, average, centre = (half_space_factor(m, p) for p in ("corner", "average", "centre"))
    assert corner < average < centre
    assert centre == pytest.approx(2.0 * float(corner))


def test_average_factor_agrees_with_a_numerical_mean() -> None:
    n = 160
    x = (np.arange(n) + 0.5) / n
    xx, yy = np.meshgrid(2.0 * x, x)

    def corner(a: np.ndarray, b: np.ndarray) -> np.ndarray:
        return (a * np.arcsinh(b / a) + b * np.arcsinh(a / b)) / np.pi

    whole = corner(xx, yy) + corner(2 - xx, yy) + corner(xx, 1 - yy) + corner(2 - xx, 1 - yy)
    assert half_space_factor(2.0, "average") == pytest.approx(whole.mean(), rel=1e-4)


@settings(deadline=None)
@given(a=side, b=side, grow=st.floats(1.05, 3.0))
def test_a_larger_mat_is_a_stiffer_support(a, b, grow) -> None:
    small = leg_stiffness_kN_m(2e4, 0.3, length_m=a, width_m=b)
    large = leg_stiffness_kN_m(2e4, 0.3, length_m=a * grow, width_m=b)
    assert large > small


def test_leg_stiffness_gives_back_the_average_settlement() -> None:
    k = leg_stiffness_kN_m(2e4, 0.3, length_m=2.0, width_m=1.0)
    s = elastic_settlement_m(400.0 / 2.0, 2e4, length_m=1.0, width_m=2.0, poisson=0.3, position="average")
    assert 400.0 / k == pytest.approx(float(s))


def test_methods_refuse_what_they_were_not_made_for() -> None:
    with pytest.raises(InputError, match="centre, corner, average"):
        half_space_factor(2.0, "edge")
    with pytest.raises(InputError, match=r"poisson is 0.6; allowed: 0 to 0.5"):
        elastic_settlement_m(1.0, 1.0, length_m=1.0, width_m=1.0, poisson=0.6)
