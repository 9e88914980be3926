"""Mats in plan: outlines and overlaps."""

from __future__ import annotations

import pytest
import shapely

from liftcalc.ground.zones import mat_conflicts, mat_outlines

X = [4.0, 4.0, -4.0, -4.0]
Y = [3.0, -3.0, -3.0, 3.0]


def mats(**more) -> tuple[shapely.Polygon, ...]:
    return mat_outlines(X, Y, **({"length_m": 2.0, "width_m": 1.0} | more))


def test_outlines_have_their_size_place_and_turn() -> None:
    found = mats(orientation_deg=[0.0, 90.0, 30.0, 45.0])
    assert [m.area for m in found] == pytest.approx([2.0] * 4)
    assert found[0].bounds == pytest.approx((3.0, 2.5, 5.0, 3.5))
    assert found[1].bounds == pytest.approx((3.5, -4.0, 4.5, -2.0))
    assert found[2].centroid.coords[0] == pytest.approx((-4.0, -3.0))


def test_clear_mats_are_no_conflict_and_mats_may_touch() -> None:
    assert mat_conflicts(mats()) == ()
    touching = mat_outlines([0.0, 2.0], [0.0, 0.0], length_m=2.0, width_m=1.0)
    assert mat_conflicts(touching, names=("A", "B")) == ()


def test_mats_that_overlap_are_named_with_their_area() -> None:
    crossing = mat_outlines([0.0, 1.5], [0.0, 0.5], length_m=2.0, width_m=1.0)
    (found,) = mat_conflicts(crossing, names=("A", "B"))
    assert (found.mat, found.other) == ("A", "B")
    assert found.overlap_m2 == pytest.approx(0.25)
