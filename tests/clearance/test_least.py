"""Clearances along a path: against every step worked out, shapely, and plain geometry."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely

from liftcalc.base.errors import InputError
from liftcalc.clearance.bodies import CraneShape, MovingMember, MovingPrism, tail_outline_m
from liftcalc.clearance.crane_bodies import HungLoad, crane_bodies, load_to_boom_m
from liftcalc.clearance.least import Obstacle, _groups, clearance_series, least_clearances
from liftcalc.clearance.members import Moving
from liftcalc.clearance.pinch import PINCH_GAP_M, pinch_gap
from liftcalc.clearance.powerline import sagged_line
from liftcalc.clearance.search import separated_m
from liftcalc.clearance.solids import Prism

SHAPE = CraneShape(
    boom_foot_x_m=-1.0,
    boom_foot_z_m=2.5,
    boom_half_width_m=0.6,
    tail_outline_m=((-4.2, 1.3), (-4.2, -1.3), (1.0, -1.3), (1.0, 1.3)),
    tail_base_m=1.2,
    tail_top_m=3.2,
    carrier_outline_m=((-4.0, 1.3), (-4.0, -1.3), (7.0, -1.3), (7.0, 1.3)),
    carrier_base_m=0.5,
    carrier_top_m=2.5,
)
LOAD = HungLoad(3.0, 2.0, 2.5, 2.0, turning="free", swing_deg=3.0)
STILL: dict[str, Any] = {
    "easting_m": 0.0,
    "northing_m": 0.0,
    "level_m": 0.0,
    "heading_deg": 0.0,
    "slew_deg": 0.0,
    "radius_m": 12.0,
    "head_height_m": 25.0,
    "load_base_height_m": 6.0,
}


def box(x0: float, y0: float, x1: float, y1: float, base: float, top: float) -> Prism:
    return Prism(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]), base, top)


def body(name: str, load: HungLoad | None = LOAD, **change: Any) -> MovingMember | MovingPrism:
    return next(b for b in crane_bodies(SHAPE, load, **{**STILL, **change}) if b.name == name)


def random_site(seed: int, n: int) -> tuple[Any, list[Obstacle]]:
    rng = np.random.default_rng(seed)
    t = np.linspace(0, 1, n)
    load = HungLoad(
        *rng.uniform(0.5, 4, 3),
        gear_height_m=2.0,
        turning=("free", "held")[seed % 2],
        swing_deg=float(rng.uniform(0, 4)),
    )
    bodies = crane_bodies(
        SHAPE,
        load,
        easting_m=rng.uniform(-3, 3),
        northing_m=rng.uniform(-3, 3),
        level_m=rng.uniform(0, 3),
        heading_deg=rng.uniform(-180, 180),
        slew_deg=rng.uniform(-180, 180) + rng.uniform(-200, 200) * t,
        radius_m=10 + 4 * np.sin(5 * t + seed),
        head_height_m=26 + 2 * np.cos(3 * t),
        load_base_height_m=6 + 4 * np.sin(7 * t),
    )
    obstacles = []
    while len(obstacles) < 6:
        k = int(rng.integers(3, 8))
        angle = np.sort(rng.uniform(0, 2 * np.pi, k))
        corners = rng.uniform(-30, 30, 2) + rng.uniform(1, 5, k)[:, None] * np.c_[np.cos(angle), np.sin(angle)]
        if shapely.Polygon(corners).is_valid:
            base = float(rng.choice([0.0, 8.0]))
            prism = Prism(corners, base, base + rng.uniform(1, 15))
            obstacles.append(Obstacle(f"building {len(obstacles)}", "building", prism, 0.5))
    x = rng.uniform(-30, 30, 2)
    line = sagged_line([[x[0], -50, 12], [x[1], 50, 14]], sag_m=2.0, pieces=16)
    obstacles.append(Obstacle("line", "overhead line", line, 3.048))
    zone = box(*rng.uniform(-20, 0, 2), *rng.uniform(1, 20, 2), 0.0, 1.0)
    obstacles.append(Obstacle("footpath", "people", zone, 0.0))
    return bodies, obstacles


@pytest.mark.parametrize("seed", range(20))
def test_least_equals_working_out_every_step(seed: int) -> None:
    bodies, obstacles = random_site(seed, 400)
    result = least_clearances(bodies, obstacles)
    for moving in bodies:
        for obstacle in obstacles:
            rows = [r for r in result.rows if (r.body, r.obstacle) == (moving.name, obstacle.name)]
            if obstacle.kind == "people" and moving.name not in ("load", "rigging"):
                assert not rows
                continue
            series = clearance_series([moving], [replace(obstacle, required_m=1.0)])[0] + 1.0
            assert rows[0].distance_m == pytest.approx(series.min(), abs=2e-6)
            assert series[rows[0].step] == pytest.approx(series.min(), abs=2e-6)
            gap = np.subtract(rows[0].body_point_m, rows[0].obstacle_point_m)
            if obstacle.kind == "people":
                gap = gap[:2]
            if rows[0].distance_m > 0:
                chord = getattr(obstacle.shape, "chord_error_m", 0.0)
                assert np.linalg.norm(gap) == pytest.approx(rows[0].distance_m + chord, abs=1e-6)


@pytest.mark.parametrize("seed", range(10))
def test_planes_that_part_two_bodies_never_tell_more_than_the_distance(seed: int) -> None:
    bodies, obstacles = random_site(seed, 60)
    rng = np.random.default_rng(seed)
    tight = []
    for group in _groups([Moving(b) for b in bodies], obstacles):
        m, n = group.body.size, group.bodies.n
        col, step = np.repeat(np.arange(m), n), np.tile(np.arange(n), m)
        row, which = group.body[col] * n + step, group.which[col]
        exact = group.bodies.known_m(group.fixed, row, which)
        best = rng.integers(0, n, m)
        bound = separated_m(
            group.bodies, group.fixed, best_row=group.body * n + best, which=group.which, col=col, row=row
        )
        assert np.all(bound <= exact + 1e-9)
        at_best = (step == best[col]) & (exact > 0.0)
        tight.append((exact - bound)[at_best])
    # exact at the step that the direction comes from, but where a hollow outline or a long line
    # comes nearer to the plane elsewhere
    assert np.mean(np.concatenate(tight) < 1e-9) > 0.5


@pytest.mark.parametrize("seed", range(3))
def test_least_of_a_fine_path_equals_working_out_every_step(seed: int) -> None:
    bodies, obstacles = random_site(seed, 2000)
    for row in least_clearances(bodies, obstacles).rows:
        moving = next(b for b in bodies if b.name == row.body)
        obstacle = next(o for o in obstacles if o.name == row.obstacle)
        series = clearance_series([moving], [replace(obstacle, required_m=1.0)])[0] + 1.0
        assert row.distance_m == pytest.approx(series.min(), abs=2e-6)


@pytest.mark.parametrize("seed", range(200))
def test_each_body_against_sampling_and_shapely(seed: int) -> None:
    bodies, obstacles = random_site(seed, 1)
    for row in least_clearances(bodies, obstacles[:6]).rows:
        moving = next(b for b in bodies if b.name == row.body)
        shape = next(o.shape for o in obstacles if o.name == row.obstacle)
        assert isinstance(shape, Prism)
        plan = shapely.Polygon(shape.polygon_m)
        if isinstance(moving, MovingMember):
            t = np.linspace(0, 1, 2001)[:, None]
            p = moving.start_m + t * (moving.end_m - moving.start_m)
            away = shapely.distance(plan, shapely.points(p[:, :2]))
            rise = p[:, 2] - np.clip(p[:, 2], shape.base_m, shape.top_m)
            sampled = max(float(np.hypot(away, rise).min() - moving.half_width_m[0]), 0.0)
            assert row.distance_m == pytest.approx(sampled, abs=0.02)
            assert row.distance_m <= sampled + 1e-9
        else:
            corners = moving.corners_m[0]
            own = shapely.Point(corners[0]) if len(corners) == 1 else shapely.Polygon(corners)
            away = max(own.distance(plan) - float(moving.spread_m[0]), 0.0)
            rise = max(moving.base_m[0] - shape.top_m, shape.base_m - moving.top_m[0], 0.0)
            assert row.distance_m == pytest.approx(np.hypot(away, rise), abs=1e-9)
    # load against the sagging line: points in the swung, turned load and on the chain
    load = next(b for b in bodies if b.name == "load")
    line = obstacles[6].shape
    assert isinstance(load, MovingPrism)
    s = np.linspace(0, 1, 200)[:, None]
    chain = np.vstack([a + s * (b - a) for a, b in zip(line.points_m, line.points_m[1:])])  # noqa: B905
    corners = load.corners_m[0]
    own = shapely.Point(corners[0]) if len(corners) == 1 else shapely.Polygon(corners)
    away = np.maximum(shapely.distance(own, shapely.points(chain[:, :2])) - load.spread_m[0], 0.0)
    rise = chain[:, 2] - np.clip(chain[:, 2], load.base_m[0], load.top_m[0])
    sampled = float(np.hypot(away, rise).min())
    got = next(r for r in least_clearances([load], obstacles[6:7]).rows).distance_m
    assert got <= sampled + 1e-9
    assert got >= sampled - 0.02 * load.spread_m[0] - line.chord_error_m - 0.02


@pytest.mark.parametrize("turning", ["held", "free"])
def test_outline_encloses_the_spread_plan_and_little_more(turning: str) -> None:
    load = HungLoad(3.0, 2.0, 2.5, 2.0, turning=turning, swing_deg=3.0)  # type: ignore[arg-type]
    slew = np.linspace(-180, 180, 37)
    moving = body("load", load, slew_deg=slew)
    assert isinstance(moving, MovingPrism)
    for step, outline in enumerate(moving.outline_m()):
        corners = moving.corners_m[step]
        own = shapely.Point(corners[0]) if len(corners) == 1 else shapely.Polygon(corners)
        spread = float(moving.spread_m[step])
        ring = shapely.Polygon(outline)
        assert ring.buffer(1e-9).contains(own.buffer(spread, quad_segs=64))
        assert own.buffer(spread * 1.0197 + 1e-6, quad_segs=256).buffer(1e-4).contains(ring)
        # the spread distance itself, at the middle of a facet
        assert ring.exterior.distance(own) == pytest.approx(spread, rel=1e-6)


def test_boom_width_and_tail_by_plain_geometry() -> None:
    # a wall face at x = -6: the tail's rear corner is at x = -4.2
    wall = Obstacle("wall", "wall", box(-7, -10, -6, 10, 0, 8), 0.6)
    rows = {r.body: r for r in least_clearances(crane_bodies(SHAPE, LOAD, **STILL), [wall]).rows}
    assert rows["counterweight tail"].distance_m == pytest.approx(1.8)
    assert rows["carrier"].distance_m == pytest.approx(2.0)
    # boom from (-1, 2.5): nearest to the wall at its foot, 5 m less the half width
    assert rows["boom"].distance_m == pytest.approx(5.0 - 0.6)
    # free load: enclosing circle plus swing of 19 m of rope
    reach = np.hypot(1.5, 1.0) + 19.0 * np.tan(np.radians(3.0))
    assert rows["load"].distance_m == pytest.approx(18.0 - reach)
    # the tail turns its corner towards the wall
    corner = float(np.hypot(4.2, 1.3))
    turned = body("counterweight tail", slew_deg=np.linspace(0, 60, 241))
    row = least_clearances([turned], [wall]).rows[0]
    assert row.distance_m == pytest.approx(6.0 - corner, abs=1e-4)
    assert row.step == pytest.approx(np.degrees(np.arctan2(1.3, 4.2)) * 4, abs=1)
    assert SHAPE.tail_radius_m == pytest.approx(corner)


def test_load_to_boom() -> None:
    bodies = {b.name: b for b in crane_bodies(SHAPE, LOAD, **STILL)}
    assert isinstance(bodies["boom"], MovingMember)
    np.testing.assert_allclose(bodies["boom"].end_m, [[12, 0, 25]])
    held = HungLoad(2.0, 2.0, 2.0, 1.0, turning="held")
    got = load_to_boom_m(SHAPE, held, radius_m=12.0, head_height_m=25.0, load_base_height_m=6.0)
    # nearest corner of the box's top edge (11, 8) to the line from (-1, 2.5) to (12, 25)
    along = np.array([13.0, 22.5]) / np.hypot(13.0, 22.5)
    corner = np.array([12.0, 5.5])
    gap = abs(corner[0] * along[1] - corner[1] * along[0])
    assert float(got[0]) == pytest.approx(gap - 0.6)


def test_zone_counts_load_and_rigging_at_any_height() -> None:
    zone = Obstacle("path", "people", box(10, -1, 30, 1, 0, 2), 0.0)
    result = least_clearances(crane_bodies(SHAPE, LOAD, **STILL), [zone])
    assert {r.body for r in result.rows} == {"load", "rigging"}
    assert not result.within
    assert result.governing is not None
    assert result.governing.distance_m == 0.0
    aside = Obstacle("path", "no-overfly", box(10, 5, 30, 6, 0, 2), 0.0)
    assert least_clearances(crane_bodies(SHAPE, LOAD, **STILL), [aside]).within


def test_touching_with_no_requirement_is_not_within() -> None:
    touching = Obstacle("kerb", "structure", box(-9, -9, -4.2, 9, 0, 5), 0.0)
    tail = body("counterweight tail")
    row = least_clearances([tail], [touching]).rows[0]
    assert row.distance_m == pytest.approx(0.0, abs=1e-12)
    assert not row.within
    assert clearance_series([tail], [touching])[0, 0] == -np.inf


def test_exactly_the_requirement_is_within_and_a_hair_less_is_not() -> None:
    tail = body("counterweight tail")
    gap = 6.0 - 4.2
    wall = Obstacle("wall", "wall", box(-7, -10, -6, 10, 0, 8), gap - 1e-9)
    assert least_clearances([tail], [wall]).within
    assert not least_clearances([tail], [replace(wall, required_m=gap + 1e-6)]).within


def test_more_swing_never_gives_more_clearance() -> None:
    wall = Obstacle("wall", "wall", box(20, -10, 21, 10, 0, 30), 0.5)
    line = Obstacle("line", "overhead line", sagged_line([[19, -9, 9], [19, 9, 9]], sag_m=1), 3.0)
    last = np.inf
    for swing in (0.0, 1.0, 3.0, 8.0):
        moving = body("load", replace(LOAD, swing_deg=swing))
        least = min(r.distance_m for r in least_clearances([moving], [wall, line]).rows)
        assert least < last
        last = least


def test_between_steps_covers_what_a_finer_path_finds() -> None:
    wall = Obstacle("wall", "wall", box(-7, -10, -5, 10, 0, 8), 0.1)
    coarse = body("counterweight tail", slew_deg=np.linspace(0, 60, 7))
    fine = body("counterweight tail", slew_deg=np.linspace(0, 60, 6001))
    a, b = (least_clearances([m], [wall]).rows[0] for m in (coarse, fine))
    assert b.distance_m < a.distance_m
    assert b.distance_m >= a.distance_m - a.between_steps_m


def test_pinch_gap_counts_what_can_pin_a_person() -> None:
    tail = body("counterweight tail", slew_deg=np.arange(0.0, 360.0, 1.0))
    assert isinstance(tail, MovingPrism)
    obstacles = [
        Obstacle("wall", "wall", box(-9, -9, -4.9, 9, 0, 1.0), 0.5),
        Obstacle("kerb", "structure", box(5, -9, 6, 9, 0, 0.2), 0.5),
        Obstacle("bridge", "structure", box(5, -9, 6, 9, 6.0, 8.0), 0.5),
        Obstacle("path", "people", box(5, -9, 6, 9, 0.0, 8.0), 0.5),
    ]
    gaps = pinch_gap(tail, obstacles, ground_level_m=0.0)
    assert [g.obstacle for g in gaps] == ["wall"]
    assert gaps[0].gap_m == pytest.approx(4.9 - np.hypot(4.2, 1.3), abs=1e-3)
    assert gaps[0].required_m == PINCH_GAP_M == 0.6
    assert not gaps[0].within
    assert pinch_gap(tail, obstacles, ground_level_m=0.0, required_m=0.4)[0].within
    assert pinch_gap(tail, obstacles[1:], ground_level_m=0.0) == ()
    with pytest.raises(InputError, match="required_m"):
        pinch_gap(tail, obstacles, ground_level_m=0.0, required_m=float("nan"))


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"head_height_m": 10.4}, "head_height_m"),
        ({"radius_m": 0.0}, "radius_m"),
        ({"slew_deg": float("nan")}, "slew_deg"),
    ],
)
def test_wrong_states_are_refused(change: dict[str, Any], text: str) -> None:
    given = {"load": LOAD, **STILL, **change}
    with pytest.raises(InputError, match=text):
        crane_bodies(SHAPE, given.pop("load"), **given)


def test_wrong_shapes_are_refused_with_every_problem() -> None:
    with pytest.raises(InputError, match=r"(?s)boom_half_width_m.*carrier_top_m"):
        replace(SHAPE, boom_half_width_m=float("nan"), carrier_top_m=0.1)
    with pytest.raises(InputError, match="convex"):
        replace(SHAPE, tail_outline_m=((0, 0), (4, 0), (1, 1), (0, 4)))
    with pytest.raises(InputError, match="swing_deg"):
        replace(LOAD, swing_deg=float("nan"))
    with pytest.raises(InputError, match="held or free"):
        replace(LOAD, turning="loose")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="required_m of wall"):
        Obstacle("wall", "wall", box(0, 0, 1, 1, 0, 1), float("nan"))
    with pytest.raises(InputError, match="an area"):
        Obstacle("zone", "people", sagged_line([[0, 0, 1], [1, 0, 1]]), 0.0)
    tail = body("counterweight tail")
    with pytest.raises(InputError, match="same number of steps"):
        least_clearances([tail, body("boom", slew_deg=[0.0, 1.0])], [])
    with pytest.raises(InputError, match="one body or more"):
        least_clearances([], [])
    with pytest.raises(InputError, match="bodies of wall"):
        least_clearances([tail], [Obstacle("wall", "wall", box(0, 0, 1, 1, 0, 1), 0.5, ("bom",))])
    assert least_clearances([tail], []).governing is None


@pytest.mark.parametrize("seed", range(10))
def test_the_pinch_gap_is_the_same_from_clearances_already_found(seed: int) -> None:
    bodies, obstacles = random_site(seed, 700)
    tail = next(b for b in bodies if b.name == "counterweight tail")
    assert isinstance(tail, MovingPrism)
    found = least_clearances(bodies, obstacles)
    alone = pinch_gap(tail, obstacles, ground_level_m=0.0)
    again = pinch_gap(tail, obstacles, ground_level_m=0.0, clearances=found)
    assert [(g.obstacle, g.step) for g in again] == [(g.obstacle, g.step) for g in alone]
    assert [g.gap_m for g in again] == pytest.approx([g.gap_m for g in alone], abs=1e-12)
    # a result without the tail tells nothing; the gap is then worked out
    other = least_clearances([b for b in bodies if b.name == "boom"], obstacles)
    assert pinch_gap(tail, obstacles, ground_level_m=0.0, clearances=other) == alone


def test_a_load_hoisted_along_a_wall_keeps_its_gap_in_plan_and_clears_the_top() -> None:
    wall = Obstacle("wall", "wall", box(15, -5, 16, 5, 0, 8), 0.3)
    base = np.linspace(0.0, 15.0, 500)
    hoisted = body("load", replace(LOAD, swing_deg=0.0), load_base_height_m=base)
    reach = np.hypot(1.5, 1.0)
    row = least_clearances([hoisted], [wall]).rows[0]
    assert row.distance_m == pytest.approx(3.0 - reach)
    series = clearance_series([hoisted], [wall])[0] + wall.required_m
    over = base > 8.0
    assert series[over] == pytest.approx(np.hypot(3.0 - reach, base[over] - 8.0))
    assert np.isnan(row.plan_gap_m)  # its level changes


@pytest.mark.parametrize("swing", [0.0, 3.0])
def test_a_load_that_only_moves_up_or_down_is_looked_at_on_its_whole_way(swing: float) -> None:
    wall = Obstacle("wall", "wall", box(18, -5, 19, 5, 0, 8), 0.3)
    bridge = Obstacle("bridge", "structure", box(11, 3.5, 13, 6, 14.0, 15.0), 0.3)
    lowered, hoisted = np.linspace(14.0, 0.5, 300), np.linspace(0.5, 14.0, 300)
    dipped = np.concatenate([lowered, hoisted])
    for base in (lowered, hoisted, dipped):
        bodies = crane_bodies(SHAPE, replace(LOAD, swing_deg=swing), **{**STILL, "load_base_height_m": base})
        for row in least_clearances(bodies, [wall, bridge]).rows:
            moving = next(b for b in bodies if b.name == row.body)
            shape = (wall if row.obstacle == "wall" else bridge).shape
            assert isinstance(shape, Prism)
            if isinstance(moving, MovingPrism):  # gap in plan and in height, step by step
                plan = shapely.Polygon(shape.polygon_m)
                rings = [shapely.Point(c[0]) if len(c) == 1 else shapely.Polygon(c) for c in moving.corners_m]
                away = np.maximum(shapely.distance(plan, rings) - moving.spread_m, 0.0)
                rise = np.maximum(moving.base_m - shape.top_m, shape.base_m - moving.top_m)
                each = np.hypot(away, np.maximum(rise, 0.0))
                assert row.distance_m == pytest.approx(each.min(), abs=1e-9)
                assert each[row.step] == pytest.approx(each.min(), abs=1e-9)
            obstacle = Obstacle("one", "wall", shape, 1.0)
            series = clearance_series([moving], [obstacle])[0] + 1.0
            assert row.distance_m == pytest.approx(series.min(), abs=2e-6)


def test_contact_with_a_line_is_told_at_a_step_of_contact() -> None:
    # a chain of few pieces: the first step is nearer to its pieces' bounds than the chain's error
    line = sagged_line([[0, -30, 12], [0, 30, 14]], sag_m=6.0, pieces=4)
    nothing = np.zeros(2)
    moving = MovingPrism(
        "load", np.array([[[-1.9, 13.0]], [[-0.5, 17.9]]]), nothing, np.array([6.9, 9.5]),
        np.full(2, 3.0),
    )  # fmt: skip
    obstacle = Obstacle("line", "overhead line", line, 1.0)
    series = clearance_series([moving], [obstacle])[0] + 1.0
    row = least_clearances([moving], [obstacle]).rows[0]
    assert series[0] > 1.0
    assert series[1] == row.distance_m == 0.0
    assert row.step == 1


def test_load_to_boom_is_the_same_for_a_path_as_state_by_state() -> None:
    radius = np.array([12.0, 12.0, 12.0, 11.0, 10.0, 10.0, 12.0])
    head = np.array([25.0, 25.0, 25.0, 25.5, 26.0, 26.0, 25.0])
    base = np.array([2.0, 9.0, 9.0, 9.0, 9.0, 14.0, 9.0])
    states = {"radius_m": radius, "head_height_m": head, "load_base_height_m": base}
    got = load_to_boom_m(SHAPE, LOAD, **states)
    one = [load_to_boom_m(SHAPE, LOAD, **{k: v[i] for k, v in states.items()}) for i in range(7)]
    assert got.tolist() == [float(v[0]) for v in one]
    assert got[1] == got[2] == got[6]
    assert len(set(got.tolist())) == 5


@pytest.mark.parametrize(("radius", "width"), [(4.0, 2.6), (3.5, 6.9), (5.0, 1.0)])
def test_rounded_tail_encloses_its_arc_and_little_more(radius: float, width: float) -> None:
    outline = tail_outline_m(radius, width)
    drawn = shapely.Polygon(outline)
    arc = shapely.Point(0, 0).buffer(radius, quad_segs=256)
    true = arc.intersection(shapely.box(-radius - 1, -width / 2, 0.5, width / 2))
    assert drawn.exterior.is_ccw
    assert true.difference(drawn).area < 1e-9
    assert drawn.area - true.area < 0.045 * true.area
    # and it serves as the tail of a crane shape: behind a straight rear edge the wall is nearer
    shape = replace(SHAPE, tail_outline_m=outline)
    wall = Obstacle("wall", "wall", box(-radius - 2, -9, -radius - 1, 9, 0, 8), 0.1)
    tail = next(b for b in crane_bodies(shape, LOAD, **STILL) if b.name == "counterweight tail")
    # a corner lies outside the arc by no more than the tangents at four chords make it
    beyond = radius * (1.0 / np.cos(np.arcsin(width / (2.0 * radius)) / 4.0) - 1.0)
    gap = least_clearances([tail], [wall]).rows[0].distance_m
    assert 1.0 - beyond - 1e-9 <= gap <= 1.0 + 1e-9


def test_wrong_tails_are_refused() -> None:
    with pytest.raises(InputError, match="tail_width_m"):
        tail_outline_m(3.0, 6.5)


def test_a_wall_is_not_lost_when_the_far_end_stands_high_above_another() -> None:
    """Between two walls: the member starts high beside one, and its foot is near the other."""
    channel = [(0, -20), (0, 20), (-1, 20), (-1, -21), (11, -21), (11, 20), (10, 20), (10, -20)]
    walls = Obstacle("channel", "structure", Prism(np.array(channel, float), 0.0, 5.0), 0.5)
    member = MovingMember("boom", np.array([[0.05, 19.95, 50.0]]), np.array([[9.0, 19.95, 2.0]]), np.array([0.1]))
    (row,) = least_clearances([member], [walls]).rows
    assert row.distance_m == pytest.approx(1.0 - 0.1, abs=1e-6)


@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("back", [False, True])
def test_a_wall_before_the_far_end_is_not_lost_beside_a_nearer_corner(swapped: bool, back: bool) -> None:
    corner = np.array([(0, 0), (2, 0), (2, 10), (8, 10), (8, 12), (0, 12)], dtype=float)
    ends = np.array([[5.0, 0.0, 2.0], [5.0, 9.0, 2.0]])
    if swapped:
        corner, ends = corner[::-1, ::-1].copy(), ends[:, [1, 0, 2]]
    if back:
        ends = ends[::-1]
    walls = Obstacle("corner", "structure", Prism(corner, 0.0, 5.0), 0.5)
    member = MovingMember("boom", ends[:1], ends[1:], np.array([0.1]))
    (row,) = least_clearances([member], [walls]).rows
    assert row.distance_m == pytest.approx(1.0 - 0.1, abs=1e-6)
