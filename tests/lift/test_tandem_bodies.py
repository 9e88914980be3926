"""The whole load of two machines, wherever it may be: never nearer to anything than it reads.

Statics and poses here are worked out anew: equations of equilibrium solved as a linear system,
rigid poses drawn at random, distances from a collision library.
"""

from __future__ import annotations

import json
from typing import Any

import fcl
import numpy as np
import pytest
import shapely

from liftcalc.base.resources import demo_job_path
from liftcalc.base.units import G_M_S2
from liftcalc.clearance.bodies import MovingMember, MovingPrism
from liftcalc.clearance.least import Obstacle, least_clearances
from liftcalc.clearance.solids import Prism
from liftcalc.facts.io import load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift.tandem import TandemAssessment, assess_tandem
from liftcalc.lift.tandem_bodies import apart_m, gear_bodies, load_bodies, load_body, machine_parts, sway_of
from liftcalc.lift.tandem_checks import common_checks, tandem_checks, tandem_verdict


def demo_with(**changes: Any) -> Job:
    """The demo job with dotted fields of its tandem lift changed; ``m0``, ``m1`` are machines."""
    data = json.loads(load_job(demo_job_path()).model_dump_json())
    for path, value in changes.items():
        node: Any = data["tandem_lifts"][0]
        *parents, last = path.split("__")
        for part in parents:
            node = node["machines"][int(part[1])] if part in ("m0", "m1") else node[part]
        node[last] = value
    return parse_fact(Job, data)


@pytest.mark.parametrize("length_m", [18.0, 20.0, 22.0, 24.0])
@pytest.mark.parametrize("carry_m", [4.1, 4.6])
def test_a_load_that_passes_through_a_carrier_is_over(length_m: float, carry_m: float) -> None:
    """The ends of a long load lie far beyond its lifting points, over both carriers."""
    job = demo_with(load__length_m=length_m, load__mass_t=6.0, carry_level_m=carry_m)
    found = assess_tandem(job, "T1", steps=60)
    rows = {c.id: c for c in common_checks(found)}
    for k in (1, 2):
        assert rows[f"load-to-machine-{k}"].value == 0.0
        assert rows[f"load-to-machine-{k}"].status == "over"
    assert tandem_verdict(found).status == "over"
    # the level load lies inside the carrier's box at some step, by an outline clipped by hand
    load, carrier = load_body(found), found.plumb[0].surroundings.bodies[-1]
    assert isinstance(carrier, MovingPrism)
    inside = [
        _overlap(ring, carrier.corners_m[0]) and base < carrier.top_m[0]
        for ring, base in zip(load.corners_m, load.base_m, strict=True)
    ]
    assert any(inside)


def _overlap(one: np.ndarray, other: np.ndarray) -> bool:
    """Whether two convex outlines have no separating edge."""
    for ring, _ in ((one, other), (other, one)):
        edge = np.roll(ring, -1, axis=0) - ring
        for normal in np.stack([edge[:, 1], -edge[:, 0]], axis=-1):
            a, b = one @ normal, other @ normal
            if a.max() <= b.min() or b.max() <= a.min():
                return False
    return True


def test_the_lighter_machines_line_leans_more_and_its_capacity_is_read_there() -> None:
    """The stated angle on the heavy side, the same pull on the light side, by own statics."""
    job = demo_with(
        load__mass_t=5.5,
        lug_distance_m=[2.0, 5.0],
        level_error_m=0.3,
        m1__derating_factor=0.22,
        m1__stand__easting_m=43.5,
    )
    found = assess_tandem(job, "T1", steps=120)
    tandem, shares = found.tandem, found.shares
    rng = np.random.default_rng(7)
    most = np.zeros(2)
    for _ in range(4000):
        corner = rng.random() < 0.5  # the extremes lie in the corners of the errors
        e, d, p = (rng.choice([-1.0, 1.0]) if corner else rng.uniform(-1, 1) for _ in range(3))
        one = rng.integers(2)
        tilt = np.arcsin(d * tandem.level_error_m / 7.0)
        turn = np.array([[np.cos(tilt), -np.sin(tilt)], [np.sin(tilt), np.cos(tilt)]])
        a, b = (tandem.lug_distance_m[0] + e * tandem.cg_error_m, tandem.lug_distance_m[1] - e * tandem.cg_error_m)
        (x1, z1), (x2, z2) = (turn @ np.array(v) for v in ((-a, 0.6), (b, 0.6)))
        tangent = np.tan(np.radians(p * tandem.out_of_plumb_error_deg))
        # V1 + V2 = W; H the pull toward +x on lug 1 and toward -x on lug 2; moments about the
        # centre of gravity; the stated line's tangent
        lean = [tangent, 0.0] if one == 0 else [0.0, tangent]
        v1, v2, h = np.linalg.solve(
            np.array([[1, 1, 0], [x1, x2, z2 - z1], [lean[0], lean[1], -1.0]]), np.array([5.5, 0.0, 0.0])
        )
        most = np.maximum(most, np.degrees(np.arctan(np.abs(h) / np.array([v1, v2]))))
    np.testing.assert_allclose(shares.max_out_of_plumb_deg, most, rtol=1e-9)
    assert most[1] == pytest.approx(4.27, abs=0.01)
    rows = {c.id: c for c in tandem_checks(found)}
    assert rows["out-of-plumb-2"].value >= most[1]
    assert rows["out-of-plumb-2"].status == "over"
    assert rows["machine-2-capacity"].status == "over"
    assert rows["machine-2-capacity"].utilisation is not None
    assert rows["machine-2-capacity"].utilisation >= 1.094
    assert found.pulled[1].path.radius_m.max() >= 14.30


def test_wind_on_the_load_is_shared_by_where_it_acts() -> None:
    """Moments about one lifting point: wind across at the middle gives each line half."""
    job = demo_with(lug_distance_m=[1.0, 6.0], load__sail_area_m2=20.0)
    found = assess_tandem(job, "T1", steps=60)
    areas = [m.setup.lift.load.sail_area_m2 for m in found.plumb]
    assert min(areas) >= 10.0 - 1e-9
    assert sum(areas) <= 40.0
    # along the load both lines swing by one way u: V1 u / L1 + V2 u / L2 = F
    shares = found.shares.nominal.share_t
    for k, m in enumerate(found.plumb):
        lines = [p.study.boom.head_z_m - (p.path.level_m + 1.2 - p.setup.lift.stand.level_m) for p in found.plumb]
        pull = shares[k] / lines[k] / (shares[0] / lines[0] + shares[1] / lines[1])
        assert areas[k] >= 20.0 * pull.max() - 1e-9
        least = float(found.shares.min_share_t[k]) * G_M_S2
        q = 0.5 * 1.25 * 6.0**2 / 1000.0
        angle = np.degrees(np.arctan(q * 1.4 * areas[k] / least))
        assert sway_of(found).wind_deg[k] == pytest.approx(angle, rel=0.01)
        assert m.setup.lift.load.sail_area_m2 == areas[k]


def _pose(
    found: TandemAssessment, step: int, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray, list[np.ndarray]] | None:
    """One true pose of the rigid load within the stated errors: turn, middle, lifting points."""
    t, sway = found.tandem, sway_of(found)
    apart = sum(t.lug_distance_m)
    along = found.way.along()[step]
    places = []
    level = found.way.level_m[step] + t.load.height_m / 2 + t.lug_above_cg_m[0]
    high = [0.0, 0.0]
    high[rng.integers(2)] = rng.uniform(-1, 1) * t.level_error_m
    for k, m in enumerate(found.plumb):
        head = m.study.boom.head_z_m[step] + m.setup.lift.stand.level_m
        line = head - level
        lean = np.radians(sway.lean_deg[k] * rng.choice([1.0, rng.random()]))
        way = rng.uniform(0, 2 * np.pi)
        plan = found.way.lug_m(t, k)[step]
        off = line * np.sin(lean) * np.array([np.cos(way), np.sin(way)])
        places.append(np.array([*(plan + off), level + line * (1 - np.cos(lean)) + high[k]]))
    # the load is rigid: the second point goes where its distance is right, if its line allows
    across = places[1] - places[0]
    rest = apart**2 - across[2] ** 2
    plan = across[:2] * np.sqrt(rest) / np.hypot(*across[:2])
    places[1] = places[0] + np.array([*plan, across[2]])
    nominal = found.way.lug_m(t, 1)[step]
    if np.hypot(*(places[1][:2] - nominal)) > sway.off_m[step, 1]:
        return None
    assert along @ plan > 0
    ex = (places[1] - places[0]) / apart
    ey = np.cross([0.0, 0.0, 1.0], ex)
    ey /= np.linalg.norm(ey)
    ez = np.cross(ex, ey)
    roll = np.radians(rng.uniform(-1, 1) * (sway.roll_deg + sway.lean_deg.max()))
    turn = np.stack([ex, np.cos(roll) * ey + np.sin(roll) * ez, -np.sin(roll) * ey + np.cos(roll) * ez], axis=1)
    middle = (places[0] + places[1]) / 2 - t.lug_above_cg_m[0] * turn[:, 2]
    return turn, middle, places


def _one_step(body: MovingPrism, step: int) -> MovingPrism:
    at = slice(step, step + 1)
    return MovingPrism(body.name, body.corners_m[at], body.base_m[at], body.top_m[at], body.spread_m[at])


def test_no_pose_of_the_load_is_nearer_to_a_box_than_it_reads() -> None:
    """300 true poses, inclined, swung, yawed and rolled, against boxes by a collision library."""
    found = assess_tandem(demo_with(level_error_m=0.3), "T1", steps=40)
    t, slices = found.tandem, load_bodies(found, sway_of(found))
    rng = np.random.default_rng(12)
    size = (t.load.length_m, t.load.width_m, t.load.height_m)
    made, near = 0, []
    while made < 300:
        step = int(rng.integers(len(found.way.level_m)))
        posed = _pose(found, step, rng)
        if posed is None:
            continue
        turn, middle, _ = posed
        made += 1
        half = rng.uniform(0.3, 2.0, 3)
        place = middle + rng.uniform(-1, 1, 3) * np.array([8.0, 8.0, 4.0])
        load = fcl.CollisionObject(fcl.Box(*size), fcl.Transform(turn, middle))
        box = fcl.CollisionObject(fcl.Box(*(2 * half)), fcl.Transform(place))
        touch = fcl.collide(load, box, fcl.CollisionRequest(), fcl.CollisionResult())
        true = 0.0 if touch else fcl.distance(load, box, fcl.DistanceRequest(), None)
        ring = place[:2] + half[:2] * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
        prism = Prism(ring, float(place[2] - half[2]), float(place[2] + half[2]))
        rows = least_clearances([_one_step(s, step) for s in slices], [Obstacle("box", "structure", prism, 0.0)]).rows
        read = min(r.distance_m for r in rows)
        assert read <= max(true, 0.0) + 1e-6
        near.append(max(true, 0.0) - read)
    assert np.median(near) < 2.5  # and the reading says something


def test_a_hook_that_is_high_brings_the_far_end_down() -> None:
    """One hook 0.3 m higher: the end beyond the other lifting point dips, and the wall is nearer.

    The level load over the wall reads 0.305 m; the load turned by hand about lifting point 2 is
    nearer, and the row is no farther than that.
    """
    found = assess_tandem(demo_with(level_error_m=0.3), "T1", steps=40)
    t = found.tandem
    level_row = load_body(found)
    beyond = (t.load.length_m - sum(t.lug_distance_m)) / 2
    dip = 0.3 / sum(t.lug_distance_m) * beyond
    lowest = np.min([s.base_m for s in load_bodies(found, sway_of(found))], axis=0)
    assert np.all(lowest <= level_row.base_m - dip)
    raised = demo_with(level_error_m=0.6)
    walls = [
        next(c for c in common_checks(assess_tandem(j, "T1", steps=40)) if "flood-wall" in c.id)
        for j in (demo_with(level_error_m=0.0), demo_with(level_error_m=0.3), raised)
    ]
    assert walls[0].value > walls[1].value > walls[2].value


def test_a_greater_error_or_wind_never_takes_the_load_farther_away() -> None:
    plain = {c.id: c for c in common_checks(assess_tandem(demo_with(), "T1", steps=40))}
    for change in (
        {"level_error_m": 0.6},
        {"out_of_plumb_error_deg": 2.5},
        {"wind_m_s": 8.0},
        {"load__cg_error_y_m": 0.1},
        {"cg_error_m": 0.5},
    ):
        rows = {c.id: c for c in common_checks(assess_tandem(demo_with(**change), "T1", steps=40))}
        worse = 0
        for id, row in plain.items():
            if id.startswith(("load-to", "gear", "boom", "head-room")):
                assert rows[id].value <= row.value + 1e-9, (change, id)
                worse += rows[id].value < row.value - 1e-9
            if id.startswith(("out-of-plumb", "load-roll", "load-tilt")):
                assert rows[id].value >= row.value - 1e-9, (change, id)
                worse += rows[id].value > row.value + 1e-9
        assert worse, change


def test_a_load_hung_from_the_height_of_its_centre_of_gravity_may_turn_over() -> None:
    low = demo_with(
        lug_above_cg_m=[0.05, 0.05],  # as much as the centre of gravity may be higher than stated
        m0__rigging__point_height_m=0.65,
        m1__rigging__point_height_m=0.65,
    )
    rows = {c.id: c for c in common_checks(assess_tandem(low, "T1", steps=20))}
    assert rows["load-roll"].value == 90.0
    assert rows["load-roll"].status == "over"


def test_moving_bodies_are_no_farther_apart_than_a_collision_library_says() -> None:
    rng = np.random.default_rng(3)

    def member() -> tuple[MovingMember, fcl.CollisionObject]:
        a, b = rng.uniform(-5, 5, (2, 3))
        wide = rng.uniform(0.1, 0.6)
        axis = (b - a) / np.linalg.norm(b - a)
        side = np.cross(axis, [1.0, 0.3, 0.2])
        side /= np.linalg.norm(side)
        turn = np.stack([side, np.cross(axis, side), axis], axis=1)
        shape = fcl.Capsule(wide, float(np.linalg.norm(b - a)))
        return (
            MovingMember("boom", a[None], b[None], np.array([wide])),
            fcl.CollisionObject(shape, fcl.Transform(turn, (a + b) / 2)),
        )

    def prism() -> tuple[MovingPrism, fcl.CollisionObject]:
        half, middle, angle = rng.uniform(0.3, 3, 3), rng.uniform(-5, 5, 3), rng.uniform(0, 6)
        c, s = np.cos(angle), np.sin(angle)
        turn = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])
        ring = half[:2] * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
        ring = middle[:2] + ring @ turn[:2, :2].T
        low, high = np.array([middle[2] - half[2]]), np.array([middle[2] + half[2]])
        return (
            MovingPrism("load", ring[None], low, high, np.zeros(1)),
            fcl.CollisionObject(fcl.Box(*(2 * half)), fcl.Transform(turn, middle)),
        )

    apart = 0
    for _ in range(400):
        (one, a), (other, b) = ((member, prism)[rng.integers(2)]() for _ in range(2))
        touch = fcl.collide(a, b, fcl.CollisionRequest(), fcl.CollisionResult())
        true = 0.0 if touch else max(fcl.distance(a, b, fcl.DistanceRequest(), None), 0.0)
        read = float(apart_m(one, other)[0])
        assert read == pytest.approx(true, abs=2e-3)
        apart += true > 0.1
    assert apart > 100


def test_ropes_and_hooks_of_close_lifting_points_are_found_to_meet() -> None:
    found = assess_tandem(demo_with(lug_distance_m=[0.8, 0.8], level_error_m=0.2, load__length_m=4.0), "T1", steps=20)
    rows = {c.id: c for c in common_checks(found)}
    assert rows["gear-to-gear"].status == "over"
    for k in (0, 1):
        gear = gear_bodies(found, k, sway_of(found))
        assert {b.name for b in gear} >= {"hoist rope", "rigging"}


def test_what_spreads_two_prisms_counts_between_them() -> None:
    square = np.array([[[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]])
    level = (np.array([0.0]), np.array([2.0]))
    one = MovingPrism("one", square, *level, np.array([0.5]))
    for aside, high, gap in ((6.0, 0.0, 4.2), (6.0, 5.0, np.hypot(4.2, 3.0)), (1.5, 5.0, 3.0)):
        other = MovingPrism("other", square + np.array([aside, 0.0]), level[0] + high, level[1] + high, np.array([0.3]))
        assert apart_m(one, other) == pytest.approx([gap])
        assert apart_m(other, one) == pytest.approx([gap])


def test_the_superstructure_is_enclosed_whichever_way_it_turns() -> None:
    found = assess_tandem(load_job(demo_job_path()), "T1", steps=20)
    for k, m in enumerate(found.plumb):
        parts = dict(machine_parts(m, k))
        ring = parts[f"machine {k + 1}, superstructure"].polygon_m
        stand = m.setup.lift.stand
        edge = shapely.Polygon(ring).exterior
        away = edge.distance(shapely.Point(stand.easting_m, stand.northing_m))
        assert away == pytest.approx(m.setup.shape.tail_radius_m, rel=1e-6)
