"""Distances in space against a collision library (python-fcl, BSD).

Bodies and obstacles are the package's own shapes; the library gets them as triangles (prisms),
capsules (members) and capsules without thickness (spans of a line).
"""

from __future__ import annotations

import dataclasses
import itertools
from typing import Any

import fcl  # type: ignore[import-untyped]
import numpy as np
import pytest
import shapely

from liftcalc.base import resources
from liftcalc.clearance.bodies import MovingMember, MovingPrism
from liftcalc.clearance.least import Obstacle, least_clearances
from liftcalc.clearance.powerline import sagged_line
from liftcalc.clearance.solids import Prism
from liftcalc.facts.io import load_job
from liftcalc.lift.assess import assess_lift


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
    return fcl.CollisionObject(fcl.Capsule(radius, length), fcl.Transform(turn, (start + end) / 2.0))


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
        body: Any = MovingMember("boom", start[None, :], end[None, :], one(half))
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
        row = least_clearances([body], [Obstacle("it", "wall", Prism(fixed, 0.0, 5.0), 0.3)]).rows[0]
        wall = convex_prism(fixed, 0.0, 5.0)
        each = [apart(convex_prism(rings[k], base[k], base[k] + 2.0), wall) for k in range(n)]
        assert row.distance_m == pytest.approx(min(each), abs=1e-4), case
        assert each[row.step] == pytest.approx(min(each), abs=1e-4)


def as_the_library_has_it(body: Any, step: int) -> Any:
    """A crane's body at one step: capsule, or the prism whose spread is drawn by 256 corners.

    The corners lie on the true outline, so that the solid is never larger than the body.
    """
    if isinstance(body, MovingMember):
        return capsule(body.start_m[step], body.end_m[step], float(body.half_width_m[step]))
    plan = shapely.MultiPoint(body.corners_m[step]).convex_hull
    outline = plan.buffer(float(body.spread_m[step]), quad_segs=64)
    corners = np.asarray(shapely.geometry.polygon.orient(outline).exterior.coords)[:-1]
    return convex_prism(corners, float(body.base_m[step]), float(body.top_m[step]))


def test_whole_cranes_are_never_farther_off_than_the_library_has_them(case_count: Any) -> None:
    job = load_job(resources.demo_job_path())
    lifts = ["L1", "L4", "L5", "L6"]  # one of them with a spreader beam
    bodies: dict[str, tuple[Any, ...]] = {
        id: assess_lift(job, id).surroundings.close_bodies for id in lifts
    }  # bent, leaned and swung as the clearances were measured
    names = {"boom", "hoist rope", "hook block", "rigging", "load", "counterweight tail", "carrier"}
    assert all({b.name for b in found} == names for found in bodies.values())
    rng = np.random.default_rng(45)
    apart_at_all = 0
    for case in range(max(case_count("distance") // 3, 40)):
        found = bodies[lifts[case % len(lifts)]]
        step = int(rng.integers(len(found[0].half_width_m)))
        pose = [one_step(b, step) for b in found]
        near = pose[int(rng.integers(len(pose)))]
        about = near.end_m[0, :2] if isinstance(near, MovingMember) else near.corners_m[0, 0]
        outline = ring(rng, about + rng.uniform(-12, 12, 2))
        base = rng.uniform(0, 12)
        wall = Prism(outline, base, base + rng.uniform(0.5, 8))
        solid = convex_prism(wall.polygon_m, wall.base_m, wall.top_m)
        ends = np.column_stack([about + rng.uniform(-25, 25, (2, 2)), rng.uniform(8, 30, 2)])
        line = sagged_line(ends, sag_m=rng.uniform(0.2, 2.0))
        wires = [capsule(a, b, 1e-6) for a, b in itertools.pairwise(np.asarray(line.points_m))]
        rows = least_clearances(
            pose, [Obstacle("wall", "wall", wall, 0.5), Obstacle("line", "overhead line", line, 3.0)]
        ).rows
        assert len(rows) >= 2 * len(names)
        solids: dict[str, list[Any]] = {}
        for body in pose:
            solids.setdefault(body.name, []).append(as_the_library_has_it(body, 0))
        for name, own in solids.items():
            for obstacle, others, slack in (("wall", [solid], 0.002), ("line", wires, None)):
                true = min(apart(a, b) for a in own for b in others)
                row = min((r for r in rows if r.body == name and r.obstacle == obstacle), key=lambda r: r.distance_m)
                apart_at_all += true > 0
                assert row.distance_m <= true + 1e-4, (case, name, obstacle)
                if slack is None:  # lines are measured from 16 facets about the spread
                    spread = max(getattr(b, "spread_m", [0.0])[0] for b in pose if b.name == name)
                    slack = 0.06 + 0.02 * spread
                assert row.distance_m >= true - slack, (case, name, obstacle)
    assert apart_at_all > 100


def one_step(body: Any, step: int) -> Any:
    """The body at one step of its path only."""
    fields = (f.name for f in dataclasses.fields(body) if f.name != "name")
    return dataclasses.replace(body, **{f: getattr(body, f)[step : step + 1] for f in fields})
