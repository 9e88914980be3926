"""Closed-form distances against shapely (GEOS) and against dense sampling, on random shapes."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from liftcalc.base.errors import InputError
from liftcalc.clearance.solids import (
    Prism,
    edge_square_m2,
    member_prism_distance_m,
    member_rings_m,
    ray_crossings,
    segment_segment_distance_m,
    wall_square_m2,
)

Array = NDArray[np.float64]
CASES = 200


def to_prism(a: Array, b: Array, prism: Prism) -> tuple[float, Array, Array]:
    """Distance of one segment from a prism, with the nearest points; by components the same."""
    ring = prism.polygon_m
    levels = np.array([prism.base_m]), np.array([prism.top_m])
    distance, on_member, on_prism = member_prism_distance_m(a[None], b[None], ring[None], *levels)
    start, along = a[:, None], (b - a)[:, None]
    again = member_rings_m(
        (start[0], start[1], start[2]), (along[0], along[1], along[2]),
        ring[:, :1], ring[:, 1:], *levels,
    )  # fmt: skip
    assert float(again[0]) == pytest.approx(float(distance[0]), abs=1e-9)
    return float(distance[0]), on_member[0], on_prism[0]


def random_polygon(rng: np.random.Generator, reach: float = 6.0) -> Array:
    """A simple polygon, often with inner corners."""
    while True:
        n = int(rng.integers(3, 9))
        angle = np.sort(rng.uniform(0, 2 * np.pi, n))
        r = rng.uniform(1, 5, n)
        polygon = rng.uniform(-reach, reach, 2) + np.c_[r * np.cos(angle), r * np.sin(angle)]
        shape = shapely.Polygon(polygon)
        if shape.is_valid and shape.area > 0.5:
            return polygon


@pytest.mark.parametrize("seed", range(CASES))
def test_segment_to_prism_against_sampling_with_shapely(seed: int) -> None:
    rng = np.random.default_rng(seed)
    polygon = random_polygon(rng)
    base, top = np.sort(rng.uniform(-3, 10, 2))
    prism = Prism(polygon, base, top)
    a, b = rng.uniform(-12, 12, (2, 3))
    if seed % 7 == 0:
        b[:2] = a[:2]  # upright
    if seed % 11 == 0:
        b[2] = a[2]  # level
    if seed % 13 == 0:
        b = a.copy()  # a point
    got, on_member, on_prism = to_prism(a, b, prism)
    t = np.linspace(0, 1, 4001)
    p = a + t[:, None] * (b - a)
    plan = shapely.distance(shapely.Polygon(polygon), shapely.points(p[:, :2]))
    sampled = float(np.hypot(plan, p[:, 2] - np.clip(p[:, 2], base, top)).min())
    spacing = float(np.linalg.norm(b - a)) / 4000
    assert got <= sampled + 1e-9
    assert got >= sampled - spacing - 1e-9
    assert np.linalg.norm(on_member - on_prism) == pytest.approx(got, abs=1e-7)
    assert shapely.Polygon(polygon).distance(shapely.Point(on_prism[:2])) < 1e-7


@pytest.mark.parametrize("seed", range(CASES))
def test_edges_and_rays_of_polygons_against_shapely(seed: int) -> None:
    rng = np.random.default_rng(1000 + seed)
    a, b = random_polygon(rng), random_polygon(rng, reach=9.0)
    (a0, a1), (b0, b1) = ((p, np.roll(p, -1, axis=0)) for p in (a, b))
    square = edge_square_m2(a0[:, None], a1[:, None], b0[None], b1[None]).min()
    want = shapely.distance(shapely.LinearRing(a), shapely.LinearRing(b))
    assert float(np.sqrt(square)) == pytest.approx(want, abs=1e-12)
    x, y = rng.uniform(-10, 10, (2, 1))
    hits = ray_crossings(x, y, b0[:, 0], b0[:, 1], b1[:, 0], b1[:, 1])
    inside = shapely.Polygon(b).contains(shapely.Point(x[0], y[0]))
    assert bool(hits.sum() % 2) is inside


def test_segments_in_one_plane_against_shapely() -> None:
    rng = np.random.default_rng(5)
    ends = rng.uniform(-5, 5, (4, CASES, 2))
    flat = [np.concatenate([e, np.full((CASES, 1), 3.0)], axis=1) for e in ends]
    got = segment_segment_distance_m(flat[0], flat[1], start_b_m=flat[2], end_b_m=flat[3])
    one = shapely.linestrings(np.stack([ends[0], ends[1]], axis=1))
    two = shapely.linestrings(np.stack([ends[2], ends[3]], axis=1))
    np.testing.assert_allclose(got, shapely.distance(one, two), atol=1e-9)


def test_segments_in_space_against_sampling() -> None:
    rng = np.random.default_rng(6)
    a, b, c, d = rng.uniform(-5, 5, (4, CASES, 3))
    d[:20] = c[:20] + (b - a)[:20]  # parallel
    b[20:30] = a[20:30]  # a point
    got = segment_segment_distance_m(a, b, start_b_m=c, end_b_m=d)
    t = np.linspace(0, 1, 301)
    for i in range(CASES):
        p = a[i] + t[:, None] * (b[i] - a[i])
        q = c[i] + t[:, None] * (d[i] - c[i])
        sampled = float(np.sqrt(((p[:, None] - q[None]) ** 2).sum(-1)).min())
        assert got[i] <= sampled + 1e-9
        assert got[i] >= sampled - (np.linalg.norm(b[i] - a[i]) + np.linalg.norm(d[i] - c[i])) / 600


@settings(deadline=None, max_examples=100)
@given(st.integers(0, 2**32 - 1), st.floats(-180, 180), st.floats(-50, 50), st.floats(-50, 50))
def test_turning_and_moving_everything_changes_no_distance(
    seed: int, turn_deg: float, east: float, north: float
) -> None:
    rng = np.random.default_rng(seed)
    a, b = rng.uniform(-12, 12, (2, 3))
    polygon = random_polygon(rng)
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    turn = np.array([[c, -s], [s, c]])

    def moved(p: Array) -> Array:
        return np.concatenate([p[..., :2] @ turn.T + [east, north], p[..., 2:]], axis=-1)

    first, _, _ = to_prism(a, b, Prism(polygon, 0.0, 4.0))
    second, _, _ = to_prism(moved(a), moved(b), Prism(moved(polygon), 0.0, 4.0))
    assert first == pytest.approx(second, abs=1e-8)


@pytest.mark.parametrize(
    ("start", "end", "want"),
    [
        ([3, 4, 2], [3, 4, 2], 4.0),
        ([3, 3, 9], [3, 3, 30], 5.0),
        ([13, 4, 2], [13, 4, 2], 5.0),
        ([5, -1, 2], [5, 1, 2], 0.0),
        # above the top edge, crossing its plane: the nearest point is inside the segment
        ([5, -4, 6], [5, 4, 6], 1.0),
    ],
)
def test_wall_known_values(start: list[float], end: list[float], want: float) -> None:
    a = np.array(start, dtype=np.float64)[:, None]
    d = np.array(end, dtype=np.float64)[:, None] - a
    x, y, ex, ey, low, high = (np.array([v]) for v in (0.0, 0.0, 10.0, 0.0, 0.0, 5.0))
    square, _, _ = wall_square_m2((a[0], a[1], a[2]), (d[0], d[1], d[2]), (x, y, ex, ey), low, high)
    assert float(np.sqrt(square[0])) == want


def test_prism_outline_and_levels_are_checked() -> None:
    ring = [[0, 0], [4, 0], [4, 4], [0, 4], [0, 0]]
    assert Prism(ring, 0, 3).polygon_m.shape == (4, 2)
    assert shapely.LinearRing(Prism(ring[::-1], 0, 3).polygon_m).is_ccw
    with pytest.raises(InputError, match=r"Self-intersection\[2 2\]"):
        Prism([[0, 0], [4, 4], [4, 0], [0, 4]], 0, 3)
    with pytest.raises(InputError, match="three corners"):
        Prism([[0, 0], [1, 1]], 0, 3)
    with pytest.raises(InputError, match="above base_m"):
        Prism(ring, 3, 3)
    with pytest.raises(InputError, match="above base_m"):
        Prism(ring, 0, float("nan"))
    with pytest.raises(InputError, match="finite"):
        Prism([[0, 0], [1, float("nan")], [2, 2]], 0, 3)
