"""Drawings of charts beside the fitted model: artists, not pixels."""

from __future__ import annotations

import numpy as np
import pytest

from liftcalc.calibration.result import ChartFit
from liftcalc.views.calibration import draw_chart_fit, draw_residuals
from liftcalc.views.style import new_axes


@pytest.fixture
def fits():
    radius = np.array([4.0, 6.0, 8.0, 10.0])
    rated = np.array([20.0, 14.0, 9.0, 6.0])
    used = np.array([False, True, True, True])
    model = np.array([60.0, 14.1, 8.9, 6.1])
    residual = np.where(used, 100 * (rated - model) / model, np.nan)
    one = ChartFit("one", radius, rated, used, model, model * 0.98, residual)
    two = ChartFit("two", radius, rated / 2, used, model / 2, model * 0.49, residual)
    return [one, two]


def test_chart_fit_shows_every_rating_and_keeps_the_scale_of_the_ratings(fits):
    _, ax = new_axes()
    draw_chart_fit(fits, ax, title="t")
    markers = [line for line in ax.lines if line.get_linestyle() == "None"]
    assert sum(len(line.get_xdata()) for line in markers) == 8
    hollow = [line for line in markers if line.get_markerfacecolor() == "none"]
    assert [line.get_ydata().tolist() for line in hollow] == [[20.0], [10.0]]
    assert ax.get_ylim() == pytest.approx((0.0, 23.0))
    assert ax.get_xlabel().startswith("Radius [m]\nfilled: ")
    assert ax.get_ylabel() == "Rated capacity [t]"
    assert len(ax.get_legend().get_texts()) == 2


def test_residuals_lie_about_a_zero_line_with_one_marker_each(fits):
    _, ax = new_axes()
    draw_residuals(fits, ax)
    zero, *curves = ax.lines
    assert list(zero.get_ydata()) == [0.0, 0.0]
    assert len({line.get_marker() for line in curves}) == 2
    np.testing.assert_array_equal(curves[0].get_ydata(), fits[0].relative_residual_percent)
