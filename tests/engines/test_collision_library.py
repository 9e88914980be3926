"""Distances in space against a collision library (python-fcl, BSD).

Bodies and obstacles are the package's own shapes; the library gets them as triangles (prisms),
capsules (members) and capsules without thickness (spans of a line).
"""

from __future__ import annotations

import itertools
from typing import Any

import fcl  # type: ignore[import-untyped]
import numpy as np
import pytest
import shapely

from liftcalc.bodies import MovingMember, MovingPrism
from liftcalc.clearance import Obstacle, least_clearances
from liftcalc.powerline import sagged_line
from liftcalc.solids import Prism


def convex_prism(ring: np.ndarray, base: float, top: float) -> Any:
    """Convex prism as a solid of the library."""
    n = len(ring)
    points = np.vstack([np.column_stack([ring, np.full(n, z)]) for z in (base, top)])
    faces: list[list[int]] = [list(range(n - 1, -1, -1)), list(range(n, 2 * n))]
    faces += [[k, (k + 1) % n, n + (k + 1) % n, n + k] for k in range(n)]
    flat = np.concatenate([[len(f), *f] for f in faces])
    return fcl.CollisionObject(fcl.Convex(points, len(faces), flat), fcl.Transform())


def capsule(start: np.ndarray, end: np.ndarray, radius: float) -> Any:
    """A round member with round ends."""
    along = end - start
    length = float(np.linalg.norm(along))
    z = along / length
    x = np.cross(z, [1.0, 0.0, 0.0] if abs(z[0]) < 0.9 else [0.0, 1.0, 0.0])
    x /= np.linalg.norm(x)
    turn = np.column_stack([x, np.cross(z, x), z])
    return fcl.CollisionObject(
        fcl.Capsule(radius, length), fcl.Transform(turn, (start + end) / 2.0)
    )


def apart(a: Any, b: Any) -> float:
    """Distance by the library; 0 where the two meet."""
    if fcl.collide(a, b, fcl.CollisionRequest(), fcl.CollisionResult()):
        return 0.0
    found = float(fcl.distance(a, b, fcl.DistanceRequest(), fcl.DistanceResult()))
    return max(found, 0.0)


def ring(rng: np.random.Generator, centre: np.ndarray) -> np.ndarray:
    """A convex outline of 3 to 8 corners, anticlockwise."""
    cloud = centre + rng.uniform(-4.0, 4.0, (rng.integers(6, 12), 2))
    hull = shapely.MultiPoint(cloud).convex_hull
    return np.asarray(shapely.geometry.polygon.orient(hull).exterior.coords)[:-1]


def one(value: float) -> np.ndarray:
    return np.array([value])


def drawn(rng: np.random.Generator) -> tuple[Any, Any, Any, float]:
    """A moving body at one step, as the package's and as the library's, and its spread."""
    centre = rng.uniform(-12, 12, 2)
    if rng.random() < 0.5:
        start = rng.uniform(-8, 8, 3) + np.array([*centre, 12])
        end = rng.uniform(-8, 8, 3) + np.array([*centre, 14])
        half = rng.uniform(0.05, 0.8)
        body = MovingMember("boom", start[None, :], end[None, :], one(half))
        return body, capsule(start, end, half), start, half
    outline = ring(rng, centre)
    base = rng.uniform(2, 14)
    top = base + rng.uniform(0.3, 5)
    body = MovingPrism("load", outline[None, :, :], one(base), one(top), one(0.0))
    return body, convex_prism(outline, base, top), outline, 0.0


def test_distances_to_prisms_and_lines_are_the_librarys(case_count: Any) -> None:
    rng = np.random.default_rng(43)
    met = 0
    for case in range(case_count("distance")):
        body, solid, _, _ = drawn(rng)
        if rng.random() < 0.7:
            outline = ring(rng, rng.uniform(-14, 14, 2))
            base = rng.uniform(-2, 8)
            top = base + rng.uniform(0.5, 12)
            shape: Any = Prism(outline, base, top)
            true = apart(solid, convex_prism(outline, base, top))
            kind: Any = "building"
        else:
            points = np.array(
                [[-30.0, rng.uniform(-8, 8), rng.uniform(9, 16)],
                 [30.0, rng.uniform(-8, 8), rng.uniform(9, 16)]]
            )  # fmt: skip
            shape = sagged_line(points, sag_m=rng.uniform(0.2, 1.5))
            nodes = np.asarray(shape.points_m)
            true = min(apart(solid, capsule(a, b, 1e-6)) for a, b in itertools.pairwise(nodes))
            kind = "overhead line"
        row = least_clearances([body], [Obstacle("it", kind, shape, 0.5)]).rows[0]
        met += true == 0.0
        # never farther than the library has it, and no nearer than what lines are rounded by
        assert row.distance_m <= true + 1e-4, case
        assert row.distance_m >= true - (0.06 if kind == "overhead line" else 1e-4), case
    assert met > 0


def test_a_path_of_many_steps_finds_the_librarys_nearest_step(case_count: Any) -> None:
    rng = np.random.default_rng(44)
    for case in range(max(case_count("distance") // 12, 5)):
        n, outline = 40, ring(rng, np.zeros(2))
        way = np.column_stack([np.linspace(-15, 15, n), rng.uniform(-6, 6) * np.ones(n)])
        turn = np.linspace(0, rng.uniform(0, np.pi), n)
        c, s = np.cos(turn), np.sin(turn)
        rings = np.stack(
            [c[:, None] * outline[:, 0] - s[:, None] * outline[:, 1],
             s[:, None] * outline[:, 0] + c[:, None] * outline[:, 1]], axis=-1,
        ) + way[:, None, :]  # fmt: skip
        base = np.linspace(1, 6, n)
        body = MovingPrism("load", rings, base, base + 2.0, np.zeros(n))
        fixed = ring(rng, np.array([2.0, rng.uniform(-9, 9)]))
        row = least_clearances([body], [Obstacle("it", "wall", Prism(fixed, 0.0, 5.0), 0.3)]).rows[
            0
        ]
        wall = convex_prism(fixed, 0.0, 5.0)
        each = [apart(convex_prism(rings[k], base[k], base[k] + 2.0), wall) for k in range(n)]
        assert row.distance_m == pytest.approx(min(each), abs=1e-4), case
        assert each[row.step] == pytest.approx(min(each), abs=1e-4)
