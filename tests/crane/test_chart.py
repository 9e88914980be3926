"""Reading a rated capacity chart: the unsafe side between rows, nothing beyond them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.crane.chart import ChartTable, rated_capacity_t, slew_in_sector
from liftcalc.crane.legs import base_polygon

BASE = base_polygon([[3, 3], [3, -3], [-3, -3], [-3, 3]])
LENGTHS = np.array([10.0, 20.0, 30.0])
RADII = np.array([3.0, 5.0, 8.0, 12.0])
CAPACITY = np.array([[40.0, 30.0, 18.0, np.nan], [np.nan, 26.0, 17.0, 9.0], [np.nan, 20.0, 16.0, 10.0]])


def table(**changes) -> ChartTable:
    values = {"chart_id": "t", "boom_length_m": LENGTHS, "radius_m": RADII, "capacity_t": CAPACITY, "base": BASE}
    return ChartTable(**{**values, **changes})


@pytest.mark.parametrize(
    ("length", "radius", "expected"),
    [
        (10, 3, 40),  # on a row
        (10, 3.01, 30),  # next larger radius
        (10, 4.999, 30),
        (15, 5, 26),  # lesser of both lengths
        (25, 12, 9),  # lesser of both, though the longer boom rates more
        (25, 9, 9),
    ],
)
def test_between_rows_the_unsafe_side_counts(length, radius, expected):
    assert rated_capacity_t(table(), length, radius_m=radius) == expected


@pytest.mark.parametrize(
    ("length", "radius"),
    [
        (10, 2.99),  # nearer than the first row
        (30, 12.01),  # beyond the last row
        (9.99, 5),
        (30.01, 5),
        (10, 8.5),  # next row not rated
        (20, 4.0),  # row below not rated
        (15, 3.0),  # one of both lengths not rated
        (10, 12),
    ],
)
@pytest.mark.parametrize("way", ["none", "linear"])
def test_beyond_or_beside_unrated_cells_nothing_is_rated(length, radius, way):
    assert np.isnan(rated_capacity_t(table(), length, radius_m=radius, interpolation=way))


@settings(deadline=None)
@given(st.floats(10, 30), st.floats(3, 12))
def test_unsafe_side_is_never_above_a_neighbour_or_the_linear_value(length, radius):
    step = rated_capacity_t(table(), length, radius_m=radius)
    linear = rated_capacity_t(table(), length, radius_m=radius, interpolation="linear")
    assert np.isnan(step) == np.isnan(linear)
    if not np.isnan(step):
        assert step <= linear + 1e-9


@settings(deadline=None)
@given(st.floats(10, 30), st.floats(3, 12), st.floats(3, 12))
def test_rated_capacity_does_not_rise_with_radius_on_a_falling_chart(length, r1, r2):
    near, far = rated_capacity_t(table(), length, radius_m=[min(r1, r2), max(r1, r2)])
    if not (np.isnan(near) or np.isnan(far)):
        assert far <= near


def test_reading_broadcasts():
    out = rated_capacity_t(table(), LENGTHS[:, None], radius_m=RADII)
    assert np.array_equal(out, CAPACITY, equal_nan=True)


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"radius_m": [3.0, 3.0, 8.0, 12.0]}, "radius_m.*strictly increasing"),
        ({"boom_length_m": [30.0, 20.0, 10.0]}, "boom_length_m.*strictly increasing"),
        ({"capacity_t": CAPACITY[:2]}, "capacity_t.*row for each boom length"),
        ({"capacity_t": np.full((3, 4), np.nan)}, "some rated capacity"),
        ({"capacity_t": np.where(CAPACITY == 9, 0.0, CAPACITY)}, "greater than 0"),
        ({"capacity_t": np.where(CAPACITY == 9, np.inf, CAPACITY)}, "greater than 0"),
        ({"rule": "guess"}, "test_load, tipping_fraction or unknown"),
        ({"sector_deg": (0.0, np.nan)}, "sector_deg"),
        ({"radius_m": [np.nan, 5.0, 8.0, 12.0]}, "radius_m"),
    ],
)
def test_a_broken_chart_is_refused(changes, text):
    with pytest.raises(InputError, match=text):
        table(**changes)


@pytest.mark.parametrize("bad", [np.nan, 0.0, -3.0])
def test_bad_radius_is_refused(bad):
    with pytest.raises(InputError, match="radius_m"):
        rated_capacity_t(table(), 10, radius_m=bad)


def test_chart_is_copied_and_cannot_be_altered():
    source = CAPACITY.copy()
    chart = table(capacity_t=source)
    source[0, 0] = 99.0
    assert chart.capacity_t[0, 0] == 40.0
    with pytest.raises(ValueError, match="read-only"):
        chart.capacity_t[0, 0] = 1.0


@pytest.mark.parametrize(
    ("sector", "inside", "outside"),
    [
        ((0, 360), [0, 90, 359.9, 720], []),
        ((-180, 180), [0, 180, 270], []),
        ((350, 10), [350, 0, 10, 370, -5], [11, 349, 180]),
        ((90, 180), [90, 135, 180], [89.9, 180.1, 0]),
        ((45, 45), [45, 405], [44, 46]),
    ],
)
def test_sectors_may_wrap_and_include_their_ends(sector, inside, outside):
    assert slew_in_sector(np.array(inside, float), sector).all()
    assert not slew_in_sector(np.array(outside, float), sector).any()
