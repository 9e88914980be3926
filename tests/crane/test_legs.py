"""Leg points, base polygon, tipping lines."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPoint, Point

from liftcalc.base.errors import InputError
from liftcalc.crane.legs import LEG_NAMES, base_polygon, contains_base, leg_points_m, same_base

EXTENSION = st.floats(1.0, 5.0)
EXTENSIONS = st.tuples(EXTENSION, EXTENSION, EXTENSION, EXTENSION)
LEG_X = (3.6, 3.6, -3.8, -3.8)


def base_of(extensions):
    return base_polygon(leg_points_m(LEG_X, extensions))


def test_leg_points_lie_left_and_right_in_order():
    points = leg_points_m(LEG_X, [3.0, 2.0, 1.5, 2.5])
    assert points.tolist() == [[3.6, 3.0], [3.6, -2.0], [-3.8, -1.5], [-3.8, 2.5]]


def test_leg_points_broadcast_over_many_layouts():
    points = leg_points_m(LEG_X, np.full((7, 5, 4), 2.0))
    assert points.shape == (7, 5, 4, 2)


def test_leg_points_name_every_leg_outside_its_stroke():
    with pytest.raises(InputError) as error:
        leg_points_m(LEG_X, [3.3, 2.0, 0.9, 2.5], extension_min_m=1.0, extension_max_m=3.2)
    text = str(error.value)
    assert "extension_m of outrigger FL is 3.3; allowed: 1 to 3.2 m" in text
    assert "extension_m of outrigger RR is 0.9; allowed: 1 to 3.2 m" in text
    assert "FR" not in text


def test_leg_points_at_the_ends_of_the_stroke_are_allowed():
    points = leg_points_m(LEG_X, [1.0, 3.2, 1.0, 3.2], extension_min_m=1.0, extension_max_m=3.2)
    assert np.abs(points[:, 1]).tolist() == [1.0, 3.2, 1.0, 3.2]


@pytest.mark.parametrize("bad", [np.nan, np.inf, -0.1])
def test_leg_points_refuse_bad_extensions(bad):
    with pytest.raises(InputError, match="extension_m"):
        leg_points_m(LEG_X, [2.0, bad, 2.0, 2.0])


def test_leg_points_refuse_wrong_shapes():
    with pytest.raises(InputError, match="last axis is FL, FR, RR, RL"):
        leg_points_m(LEG_X, [2.0, 2.0, 2.0])


@settings(deadline=None)
@given(EXTENSIONS, st.tuples(st.floats(-8, 8), st.floats(-8, 8)))
def test_hull_and_margin_agree_with_shapely(extensions, point):
    base = base_of(extensions)
    hull = MultiPoint(base.leg_xy_m).convex_hull
    assert base.area_m2 == pytest.approx(hull.area, rel=1e-9)
    assert np.hypot(*base.normals.T) == pytest.approx(1.0)
    margin = float((base.normals @ point - base.offsets_m).min())
    if hull.contains(Point(point)):
        assert margin == pytest.approx(hull.exterior.distance(Point(point)), abs=1e-9)
    else:  # outside, the line most exceeded is never farther than the polygon
        assert -hull.distance(Point(point)) - 1e-9 <= margin <= 1e-9


@settings(deadline=None)
@given(EXTENSIONS)
def test_corners_run_anticlockwise_and_lines_join_their_legs(extensions):
    base = base_of(extensions)
    n = len(base.edge_legs)
    for e, (a, b) in enumerate(base.edge_legs):
        for leg in (a, b):
            point = base.leg_xy_m[LEG_NAMES.index(leg)]
            assert base.normals[e] @ point == pytest.approx(base.offsets_m[e], abs=1e-9)
        corner = [base.vertices_m[(e + k) % n] for k in range(3)]
        step, following = corner[1] - corner[0], corner[2] - corner[1]
        assert step[0] * following[1] - step[1] * following[0] > 0
    assert base.line_names[0] == "-".join(base.edge_legs[0])


@settings(deadline=None)
@given(EXTENSIONS, st.integers(0, 3), st.floats(0.0, 2.0))
def test_extending_a_leg_keeps_the_old_base_inside(extensions, leg, more):
    longer = list(extensions)
    longer[leg] += more
    assert contains_base(base_of(longer), base_of(extensions))


def test_same_base_needs_both_to_contain_each_other():
    wide, narrow = base_of([3, 3, 3, 3]), base_of([3, 2, 2, 3])
    assert same_base(wide, base_of([3.0, 3.0, 3.0, 3.0]))
    assert contains_base(wide, narrow)
    assert not contains_base(narrow, wide)
    assert not same_base(wide, narrow)


def test_a_leg_inside_the_others_holds_no_tipping_line():
    base = base_polygon([[5.0, 0.0], [-3.0, -3.0], [-2.9, 0.2], [-3.0, 3.0]])
    assert {leg for edge in base.edge_legs for leg in edge} == {"FL", "FR", "RL"}


def test_a_missing_leg_is_refused_unless_the_data_provide_for_it():
    points = leg_points_m(LEG_X, [3.0] * 4)
    down = (True, True, True, False)
    with pytest.raises(InputError, match=r"not set down: RL.*all four outriggers set down"):
        base_polygon(points, set_down=down)
    base = base_polygon(points, set_down=down, allow_missing_leg=True)
    assert len(base.edge_legs) == 3
    assert np.isnan(base.leg_xy_m[3]).all()
    with pytest.raises(InputError, match="at least 3 outriggers"):
        base_polygon(points, set_down=(True, True, False, False), allow_missing_leg=True)


@pytest.mark.parametrize(
    "points",
    [
        [[3, 0], [1, 0], [-1, 0], [-3, 0]],
        [[3, 3], [3, 3], [3, 3], [3, 3]],
        [[3, 3], [3, 3], [-3, 3], [-3, 3]],
        [[3, 1e-4], [3, -1e-4], [-3, -1e-4], [-3, 1e-4]],
    ],
)
def test_legs_that_span_no_area_are_refused(points):
    with pytest.raises(InputError, match="outriggers that span an area"):
        base_polygon(points)


def test_base_polygon_refuses_points_that_are_not_numbers():
    with pytest.raises(InputError, match="leg_xy_m"):
        base_polygon([[3, 3], [3, np.nan], [-3, -3], [-3, 3]])
    with pytest.raises(InputError, match=r"shape \(4, 2\)"):
        base_polygon([[3, 3], [3, -3], [-3, -3]])


def test_base_cannot_be_altered():
    base = base_of([3, 3, 3, 3])
    with pytest.raises(ValueError, match="read-only"):
        base.offsets_m[0] = 1.0
