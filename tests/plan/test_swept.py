"""Swept areas against closed forms, and what holds of them whatever the numbers."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError
from liftcalc.plan.swept import SETTING_M, disc_points_m, grown, outward_polygon, sector_area, swept_area

WIDER = 0.005
"""Arcs drawn outside, and hulls on the hollow side of a curve: this share at most."""


def way(radius_m: float, start_deg: float, end_deg: float) -> FloatArray:
    turn = np.radians(np.linspace(start_deg, end_deg, 400))
    return radius_m * np.stack([np.cos(turn), np.sin(turn)], axis=-1)


def discs(places: FloatArray, radius_m: float) -> FloatArray:
    return disc_points_m(places, np.full(len(places), radius_m))


def encloses(area: shapely.Geometry, exact_m2: float) -> None:
    assert exact_m2 <= area.area <= exact_m2 * (1.0 + WIDER)


@pytest.mark.parametrize(("radius", "half", "turn"), [(13.0, 1.5, 158.0), (9.0, 3.0, 40.0)])
def test_a_disc_that_slews_sweeps_an_annular_sector_with_round_ends(radius: float, half: float, turn: float) -> None:
    exact = math.radians(turn) * 2.0 * radius * half + math.pi * half**2
    encloses(swept_area(discs(way(radius, 20.0, 20.0 + turn), half)), exact)


def test_a_disc_that_luffs_sweeps_a_stadium() -> None:
    line = np.stack([np.linspace(9.0, 14.0, 60), np.zeros(60)], axis=-1)
    encloses(swept_area(discs(line, 1.2)), 5.0 * 2.4 + math.pi * 1.2**2)


def test_a_disc_that_only_hoists_stays_a_disc() -> None:
    encloses(swept_area(discs(np.tile([3.0, 4.0], (30, 1)), 2.0)), math.pi * 4.0)
    encloses(swept_area(discs(np.array([[3.0, 4.0]]), 2.0)), math.pi * 4.0)


@pytest.mark.parametrize("turn", [1.0, 90.0, 158.6, 250.0, 359.0, 360.0, 500.0])
def test_a_sector_encloses_its_closed_form(turn: float) -> None:
    encloses(
        sector_area((5.0, 7.0), 23.7, start_deg=-40.0, end_deg=turn - 40.0),
        math.radians(min(turn, 360.0)) * 23.7**2 / 2.0,
    )


def test_a_boom_that_never_slews_falls_along_a_line_with_its_margin() -> None:
    line = sector_area((0.0, 0.0), 20.0, start_deg=30.0, end_deg=30.0)
    exact = 20.0 * 3.0 + math.pi * 1.5**2
    area = grown(line, 1.5).area
    assert exact <= area <= exact * 1.03  # 2 cm wider on each side
    with pytest.raises(InputError, match="end_deg"):
        sector_area((0.0, 0.0), 20.0, start_deg=30.0, end_deg=20.0)
    with pytest.raises(InputError, match="end_deg"):
        sector_area((0.0, 0.0), 20.0, start_deg=30.0, end_deg=math.nan)


def test_growth_of_a_convex_area_is_that_of_steiner() -> None:
    box = shapely.box(0.0, 0.0, 8.0, 3.0)
    exact = 24.0 + 22.0 * 0.6 + math.pi * 0.36
    assert exact <= grown(box, 0.6).area <= exact + 0.03 * 26.0
    with pytest.raises(InputError, match="by_m"):
        grown(box, -0.1)


PATHS = st.lists(st.tuples(st.floats(-60, 60), st.floats(3, 30), st.floats(0.2, 6)), min_size=1, max_size=12)


def area_of(path: list[tuple[float, float, float]], more_m: float = 0.0) -> shapely.Geometry:
    slew, radius, half = (np.array(v) for v in zip(*path, strict=True))
    turn = np.radians(slew)
    places = radius[:, None] * np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    return swept_area(disc_points_m(places, half + more_m), run=3)


@given(PATHS, st.integers(4, 16))
def test_the_outward_polygon_contains_the_zone_has_few_corners_and_can_be_set_out(
    path: list[tuple[float, float, float]], most: int
) -> None:
    area = shapely.union(area_of(path), shapely.box(-4.0, -3.0, 5.0, 3.0))
    corners = outward_polygon(area, most=most)
    ring = shapely.Polygon(corners)
    assert ring.is_valid
    assert ring.contains(area)
    assert 3 <= len(corners) <= most
    assert shapely.is_ccw(ring.exterior)
    np.testing.assert_allclose(corners / SETTING_M, np.round(corners / SETTING_M), atol=1e-6)


def test_the_outward_polygon_of_apart_zones_contains_all_and_nothing_is_refused() -> None:
    area = shapely.union(shapely.Point(0, 0).buffer(2.0), shapely.Point(20, 0).buffer(1.0))
    assert shapely.Polygon(outward_polygon(area)).contains(area)
    with pytest.raises(InputError, match="area"):
        outward_polygon(shapely.Polygon())


@given(PATHS, st.floats(0.0, 3.0))
def test_a_larger_margin_never_makes_a_zone_smaller(path: list[tuple[float, float, float]], more_m: float) -> None:
    small = area_of(path)
    assert area_of(path, more_m).buffer(1e-9).contains(small)
    wide = grown(small, more_m)
    assert wide.contains(small)
    assert wide.contains(small.buffer(more_m, quad_segs=64).buffer(-1e-9))


@given(PATHS, st.floats(-360, 360), st.floats(-500, 500), st.floats(-500, 500))
def test_a_turned_and_moved_path_sweeps_the_same_area(
    path: list[tuple[float, float, float]], turn: float, east: float, north: float
) -> None:
    slew, radius, half = (np.array(v) for v in zip(*path, strict=True))
    angle = np.radians(slew + turn)
    places = radius[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=-1) + [east, north]
    moved = swept_area(disc_points_m(places, half), run=3)
    assert moved.area == pytest.approx(area_of(path).area, rel=WIDER)
