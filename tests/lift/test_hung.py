"""What hangs below the boom head: bodies, where the hook stands, and what it weighs."""

from __future__ import annotations

import dataclasses
import itertools
import json
from typing import Any

import fcl  # type: ignore[import-untyped]
import numpy as np
import pytest
from demo_changes import assessed as changed
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from liftcalc.base.checks import Check
from liftcalc.base.errors import InputError
from liftcalc.clearance.bodies import CraneShape, MovingPrism
from liftcalc.clearance.crane_bodies import HungLoad, beam_body, crane_bodies, load_to_boom_m, swing_dip_m, swing_rise_m
from liftcalc.clearance.least import Obstacle, least_clearances
from liftcalc.clearance.solids import Prism
from liftcalc.facts.io import lifts_from_rows, parse_fact
from liftcalc.facts.job import Job
from liftcalc.facts.machine import Machine
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.boom_plane import boom_plane
from liftcalc.lift.calculation import Calculation
from liftcalc.lift.calculation_gross import gross_section
from liftcalc.lift.hanging import hang_states
from liftcalc.lift.path import load_path
from liftcalc.lift.position import position_study
from liftcalc.lift.rigging_checks import height_rows
from liftcalc.lift.setup import build_setup
from liftcalc.lift.tandem import assess_tandem
from liftcalc.views.plan import plan_data

SHAPE = CraneShape(
    boom_foot_x_m=-1.0,
    boom_foot_z_m=2.5,
    boom_half_width_m=0.6,
    tail_outline_m=((-4.2, -1.3), (0.5, -1.3), (0.5, 1.3), (-4.2, 1.3)),
    tail_base_m=1.2,
    tail_top_m=3.4,
    carrier_outline_m=((-4.0, -1.3), (6.0, -1.3), (6.0, 1.3), (-4.0, 1.3)),
    carrier_base_m=0.4,
    carrier_top_m=1.6,
)
HEAD = 30.0
RADIUS = 14.0


def rows_of(lift: LiftAssessment) -> dict[str, Check]:
    return {c.id: c for c in lift.lift}


def bodies_of(load: HungLoad, base: float, **more: Any) -> dict[str, Any]:
    return {
        b.name: b
        for b in crane_bodies(
            SHAPE,
            load,
            easting_m=0.0,
            northing_m=0.0,
            level_m=0.0,
            heading_deg=0.0,
            slew_deg=0.0,
            radius_m=RADIUS,
            head_height_m=HEAD,
            load_base_height_m=base,
            **more,
        )
    }


def box_corners(load: HungLoad) -> np.ndarray:
    x, y = load.length_m / 2, load.width_m / 2
    return np.array(
        [
            (load.middle_x_m + i * x, load.middle_y_m + j * y, k * load.height_m)
            for i in (-1, 1)
            for j in (-1, 1)
            for k in (0, 1)
        ]
    )


def random_load(rng: np.random.Generator) -> HungLoad:
    return HungLoad(
        *(float(v) for v in rng.uniform(0.5, 6.0, 2)),
        height_m=float(rng.uniform(0.3, 3.0)),
        gear_height_m=float(rng.uniform(2.0, 7.0)),
        swing_deg=float(rng.uniform(0.0, 12.0)),
        middle_x_m=float(rng.uniform(-1.0, 1.0)),
        middle_y_m=float(rng.uniform(-1.0, 1.0)),
        block_height_m=1.2,
        block_half_width_m=0.35,
    )


def swung(load: HungLoad, rng: np.random.Generator, hang: float) -> Rotation:
    """A turn of the load about its rope, then a swing of the rope any way, up to its greatest."""
    way, share = rng.uniform(0.0, 2 * np.pi), rng.choice([0.3, 0.7, 1.0])
    axis = np.array([np.cos(way), np.sin(way), 0.0])
    swing = Rotation.from_rotvec(np.radians(load.swing_deg) * share * axis)
    return swing * Rotation.from_euler("z", rng.uniform(0.0, 360.0), degrees=True)


@pytest.mark.parametrize("seed", range(40))
def test_no_corner_of_a_turned_and_swung_load_leaves_its_body(seed: int) -> None:
    rng = np.random.default_rng(seed)
    load, base = random_load(rng), float(rng.uniform(0.0, 10.0))
    box = bodies_of(load, base)["load"]
    head = np.array([RADIUS, 0.0, HEAD])
    for _ in range(60):
        turn = swung(load, rng, HEAD - base)
        corners = head + turn.apply(box_corners(load) + np.array([0.0, 0.0, base - HEAD]))
        assert corners[:, 2].min() >= box.base_m[0] - 1e-9
        assert corners[:, 2].max() <= box.top_m[0] + 1e-9
        assert np.hypot(*(corners[:, :2] - head[:2]).T).max() <= box.spread_m[0] + 1e-9


@pytest.mark.parametrize("seed", range(40))
def test_distance_of_a_swung_load_is_never_larger_than_a_collision_library_finds(seed: int) -> None:
    rng = np.random.default_rng(100 + seed)
    load, base = random_load(rng), float(rng.uniform(2.0, 10.0))
    bodies = bodies_of(load, base)
    size = rng.uniform(0.5, 6.0, 3)
    away, bearing = rng.uniform(3.0, 9.0), rng.uniform(0.0, 2 * np.pi)
    centre = np.array([RADIUS + away * np.cos(bearing), away * np.sin(bearing), base * 0.6])
    low, high = centre - size / 2, centre + size / 2
    plan = np.array([(low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1])])
    wall = Obstacle("wall", "wall", Prism(plan, float(low[2]), float(high[2])), 0.3)
    got = least_clearances([bodies["load"]], [wall]).rows[0].distance_m
    fixed = fcl.CollisionObject(fcl.Box(*size), fcl.Transform(centre))
    middle = np.array([load.middle_x_m, load.middle_y_m, base - HEAD + load.height_m / 2])
    least = np.inf
    for _ in range(150):
        turn = swung(load, rng, HEAD - base)
        place = np.array([RADIUS, 0.0, HEAD]) + turn.apply(middle)
        moving = fcl.CollisionObject(
            fcl.Box(load.length_m, load.width_m, load.height_m), fcl.Transform(turn.as_matrix(), place)
        )
        least = min(least, fcl.distance(fixed, moving, fcl.DistanceRequest(), fcl.DistanceResult()))
    assert got <= max(least, 0.0) + 1e-6


def test_dip_and_rise_by_hand_and_by_trying_every_angle() -> None:
    # a corner 2.5 m out, 20 m below the head, swung 3 degrees
    assert float(swing_dip_m(2.5, 20.0, swing_deg=3.0)) == pytest.approx(
        2.5 * np.sin(np.radians(3.0)) - 20.0 * (1 - np.cos(np.radians(3.0))), abs=1e-12
    )
    angle = np.radians(np.linspace(0.0, 30.0, 30_001))
    for reach, depth in ((0.0, 5.0), (1.0, 5.0), (4.0, 5.0)):
        low = depth * np.cos(angle) + reach * np.sin(angle) - depth
        assert float(swing_dip_m(reach, depth, swing_deg=30.0)) == pytest.approx(low.max(), abs=1e-7)
        high = depth - depth * np.cos(angle) + reach * np.sin(angle)
        assert float(swing_rise_m(reach, depth, swing_deg=30.0)) == pytest.approx(high.max())
    with pytest.raises(InputError, match="swing_deg"):
        swing_dip_m(1.0, 1.0, swing_deg=50.0)
    with pytest.raises(InputError, match="reach_m"):
        swing_rise_m(-1.0, 1.0, swing_deg=5.0)


def test_wrong_hung_shapes_are_refused_with_every_problem() -> None:
    with pytest.raises(InputError, match=r"(?s)middle_x_m.*beam_reach_m"):
        HungLoad(1.0, 1.0, 1.0, 1.0, middle_x_m=float("nan"), beam_reach_m=-1.0)


@pytest.mark.parametrize("seed", range(30))
def test_a_beam_turned_any_way_stays_in_the_rigging_and_off_the_boom(seed: int) -> None:
    rng = np.random.default_rng(200 + seed)
    load = dataclasses.replace(
        random_load(rng),
        length_m=1.2,
        width_m=1.2,
        beam_reach_m=float(rng.uniform(1.0, 4.0)),
        beam_base_m=5.0,
        beam_top_m=5.2,
        beam_slings_base_m=1.0,
    )
    load = dataclasses.replace(load, gear_height_m=8.0 - load.height_m)
    base = float(rng.uniform(2.0, 17.0))
    bodies = bodies_of(load, base)
    rigging, boom = bodies["rigging"], bodies["boom"]
    head = np.array([RADIUS, 0.0, HEAD])
    still = dataclasses.replace(load, swing_deg=0.0)
    near = float(load_to_boom_m(SHAPE, load, radius_m=RADIUS, head_height_m=HEAD, load_base_height_m=base)[0])
    without = dataclasses.replace(still, beam_reach_m=0.0)
    alone = load_to_boom_m(SHAPE, without, radius_m=RADIUS, head_height_m=HEAD, load_base_height_m=base)
    assert near <= float(alone[0]) + 1e-9
    along = boom.end_m[0] - boom.start_m[0]
    for _ in range(60):
        turn = swung(load, rng, HEAD - base)
        ends = np.array([(i * load.beam_reach_m, 0.0, base - HEAD + z) for i in (-1, 1) for z in (5.0, 5.2)])
        slings = np.array([(0.6, 0.6, base - HEAD + load.height_m), (0.0, 0.0, base - HEAD + 8.0)])
        points = head + turn.apply(np.vstack([ends, slings]))
        assert points[:4, 2].min() >= rigging.base_m[0] - 1e-9
        assert points[:, 2].max() <= rigging.top_m[0] + 1e-9
        assert np.hypot(*(points[:, :2] - head[:2]).T).max() <= rigging.spread_m[0] + 1e-9
        share = np.clip((points[:4] - boom.start_m[0]) @ along / (along @ along), 0.0, 1.0)
        off = np.linalg.norm(points[:4] - boom.start_m[0] - share[:, None] * along, axis=1)
        assert near <= max(off.min() - boom.half_width_m[0], 0.0) + 1e-9


def test_the_hook_block_is_a_body_between_hook_and_head() -> None:
    load = HungLoad(1.0, 1.0, 1.0, 4.0, block_height_m=1.2, block_half_width_m=0.35)
    block = bodies_of(load, 5.0)["hook block"]
    assert isinstance(block, MovingPrism)
    assert float(block.base_m[0]) == pytest.approx(10.0)
    assert float(block.top_m[0]) == pytest.approx(11.2)
    assert float(block.spread_m[0]) == pytest.approx(0.35)


# the demo site with one wall in place of its obstacles; the first crane position of the demo
PICK = (25.0, 11.0, 4.2)


def wall_east_of(east: float, top: float) -> dict[str, Any]:
    return {
        "id": "tower",
        "kind": "building",
        "polygon": [(east, 5.0), (east + 1.0, 5.0), (east + 1.0, 17.0), (east, 17.0)],
        "base_level_m": 3.0,
        "top_level_m": top,
    }


SPREADER = {
    "load__length_m": 1.2,
    "load__width_m": 1.2,
    "load__mass_t": 2.0,
    "load__sail_area_m2": 2.1,
    "rigging__point_spacing_x_m": 1.0,
    "rigging__point_spacing_y_m": 0.5,
    "load__cg_error_x_m": 0.0,
    "load__cg_error_y_m": 0.0,
    "set_down__easting_m": 24.0,
    "set_down__northing_m": 11.0,
    "set_down__level_m": 4.2,
    "wind_m_s": 1.0,
}


def test_a_spreader_longer_than_its_load_meets_the_wall_that_it_reaches(demo: Job) -> None:
    # wall face 1.9 m from the hoist line, the beam 4.2 m from end to end: 2.1 m of it
    found = rows_of(changed(demo, "L6", obstacle=wall_east_of(26.9, 23.0), **SPREADER))
    assert found["clearance-rigging"].value == 0.0
    assert found["clearance-rigging"].status == "over"
    assert found["clearance-load"].value > 0.1  # the load alone would pass by
    far = rows_of(changed(demo, "L6", obstacle=wall_east_of(28.6, 23.0), **SPREADER))
    assert far["clearance-rigging"].status == "within"


OFF_CENTRE = {
    "load__length_m": 3.0,
    "load__width_m": 2.0,
    "rigging__leg_lengths": "adjusted",
    "load__cg_error_x_m": 0.0,
    "load__cg_error_y_m": 0.0,
    "load__cg_error_z_m": 0.0,
    "load__mass_t": 2.0,
    "load__sail_area_m2": 2.1,
    "wind_m_s": 1.0,
    "set_down__easting_m": 24.0,
    "set_down__northing_m": 11.0,
    "set_down__level_m": 4.2,
}


def test_a_load_off_its_centre_of_gravity_reaches_farther_by_so_much(demo: Job) -> None:
    near, far = wall_east_of(33.0, 23.0), wall_east_of(34.5, 23.0)  # 3 m and 4.5 m from the pick
    off = {"load__cg_x_m": 1.0, **OFF_CENTRE}
    before, after = (rows_of(changed(demo, "L8", obstacle=near, **c)) for c in (OFF_CENTRE, off))
    assert before["clearance-load"].status == "within"
    assert after["clearance-load"].status == "over"
    centred, moved = (changed(demo, "L8", obstacle=far, **c) for c in (OFF_CENTRE, off))
    reach = float(np.hypot(2.5, 1.0))
    assert moved.setup.hung.reach_m == pytest.approx(reach, abs=1e-9)
    one, other = (rows_of(c)["clearance-load"].value for c in (centred, moved))
    assert one is not None
    assert other is not None
    assert one - other == pytest.approx(reach - np.hypot(1.5, 1.0), abs=0.02)


def test_the_hook_stands_at_the_place_and_the_box_off_it_in_radius_and_drawing(demo: Job) -> None:
    off = changed(demo, "L8", obstacle=wall_east_of(33.0, 8.0), load__cg_x_m=1.0, **OFF_CENTRE)
    lift = off.setup.lift
    east = lift.pick.easting_m - lift.stand.easting_m
    north = lift.pick.northing_m - lift.stand.northing_m
    assert off.path.radius_m[0] == pytest.approx(np.hypot(east, north))
    ring = plan_data(off).loads_m[0]
    assert ring.mean(axis=0) == pytest.approx([lift.pick.easting_m - 1.0, lift.pick.northing_m])
    drawn = boom_plane(off)
    assert drawn.load_width_m == pytest.approx(5.0)
    words = {row[0]: row[1:] for row in height_rows(off.setup, off.rigging, shown)}
    assert words["Middle of the load's box from the hoist line"][0] == "1.000 length_m"
    assert "plumb under the hook" in words["Middle of the load's box from the hoist line"][1]


def shown(value: float | None, quantity: str) -> str:
    return f"{value:.3f} {quantity}"


@pytest.mark.parametrize("lift_id", ["L3", "L4", "L6", "L7"])
@pytest.mark.parametrize("seed", range(4))
def test_a_load_tilted_by_any_centre_of_gravity_in_doubt_stays_in_its_body(demo: Job, lift_id: str, seed: int) -> None:
    setup = build_setup(demo, lift_id)
    rng = np.random.default_rng(seed)
    hang, load = setup.hanging, setup.lift.load
    hung = dataclasses.replace(setup.hung, swing_deg=float(rng.uniform(0.0, 6.0)))
    base = 4.0
    bodies = bodies_of(hung, base)
    corners = np.array(
        [
            (i * load.length_m / 2, j * load.width_m / 2, k * load.height_m)
            for i in (-1, 1)
            for j in (-1, 1)
            for k in (0, 1)
        ]
    )
    head = np.array([RADIUS, 0.0, HEAD])
    deep = HEAD - base - hang.hook_height_m
    places = hang.at_stated.cg_m[0] + rng.uniform(-1.0, 1.0, (12, 3)) * hang.error_m
    states = hang_states(hang.gear, places)
    for hook, up, k in zip(states.hook_m, states.plumb, range(12), strict=True):
        upright = Rotation.align_vectors([[0.0, 0.0, 1.0]], [up])[0]
        for _ in range(10):
            turn = swung(hung, rng, deep) * upright
            at = head + turn.apply(corners - hook + deep * -up)
            box = bodies["load"]
            assert at[:, 2].min() >= box.base_m[0] - 1e-9
            assert at[:, 2].max() <= box.top_m[0] + 1e-9
            assert np.hypot(*(at[:, :2] - head[:2]).T).max() <= box.spread_m[0] + 1e-9
            if states.beam_ends_m is not None:
                ends = head + turn.apply(states.beam_ends_m[k] - hook + deep * -up)
                rigging = bodies["rigging"]
                assert ends[:, 2].min() >= rigging.base_m[0] - 1e-9
                assert ends[:, 2].max() <= rigging.top_m[0] + 1e-9
                assert np.hypot(*(ends[:, :2] - head[:2]).T).max() <= rigging.spread_m[0] + 1e-9


def test_a_beam_over_a_zone_of_people_is_no_load_beside_it(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    data["site"]["areas"] = [a for a in data["site"]["areas"] if a["kind"] == "stand area"] + [
        {"id": "path", "kind": "people exclusion", "polygon": [(26.8, 5.0), (28.0, 5.0), (28.0, 17.0), (26.8, 17.0)]}
    ]
    data["rules"]["zones"]["closed"] = []  # places that stood there before
    job = parse_fact(Job, data)
    row = rows_of(changed(job, "L6", **SPREADER))["zone-path"]
    assert row.status == "over"
    assert row.title == "Clearance, rigging to exclusion zone path"


def test_a_tail_that_swings_through_a_zone_of_people_is_told(demo: Job) -> None:
    """The load hangs far away; the tail sweeps where people walk."""
    data = json.loads(demo.model_dump_json())
    data["rules"]["zones"]["closed"] = []  # places that stood there before
    stand = demo.lift("L6").stand
    tail = assess_lift(demo, "L6").surroundings.bodies
    ring = next(b for b in tail if b.name == "counterweight tail").corners_m[0]
    far = ring[np.argmax(np.hypot(*(ring - (stand.easting_m, stand.northing_m)).T))]
    x, y = (float(v) for v in far)
    square = [(x - 0.1, y - 0.1), (x + 0.1, y - 0.1), (x + 0.1, y + 0.1), (x - 0.1, y + 0.1)]
    for kind in ("no-overfly", "people exclusion"):
        data["site"]["areas"] = [a for a in data["site"]["areas"] if a["kind"] == "stand area"]
        data["site"]["areas"] += [{"id": "path", "kind": kind, "polygon": square}]
        row = rows_of(assess_lift(parse_fact(Job, data), "L6"))["zone-path"]
        assert row.status == "over"
        zone = "no-lift-over zone" if kind == "no-overfly" else "exclusion zone"
        assert row.title == f"Clearance, counterweight tail to {zone} path"
        assert "the boom may pass above" in row.reference


def test_the_ground_is_kept_by_the_lowest_corner_of_the_swung_load(demo: Job) -> None:
    lift = changed(demo, "L4", carry_level_m=4.2, set_down__level_m=4.2)
    row = rows_of(lift)["load-above-ground"]
    again = changed(demo, "L4", carry_level_m=4.2, set_down__level_m=4.2, load__width_m=4.9, load__sail_area_m2=20.0)
    low = rows_of(again)["load-above-ground"]
    assert row.value is not None
    assert low.value is not None
    assert low.value < row.value - 0.05


# --- what hangs weighs


@pytest.mark.parametrize("lift_id", [f"L{k}" for k in range(1, 9)])
def test_rope_below_the_head_is_weighed_at_its_longest_on_the_path(demo: Job, lift_id: str) -> None:
    setup = build_setup(demo, lift_id)
    lift, boom = setup.lift, setup.machine.boom
    fine = load_path(lift, steps=4000)
    run = fine.radius_m - boom.foot_u_m
    head = boom.foot_z_m + np.sqrt(lift.boom_length_m**2 - run**2)
    longest = float((head + lift.stand.level_m - fine.level_m).max()) - setup.hanging.hook_height_m
    assert setup.rope_length_m >= longest - 1e-9
    assert setup.rope_length_m <= longest + 0.6
    block = setup.machine.hook_block(lift.hook_block)
    assert block.rope_kg_m is not None
    by_hand = block.falls * longest * block.rope_kg_m / 1000
    assert float(setup.gross.rope_t) >= by_hand - 1e-9


def test_a_position_nearer_than_the_path_weighs_its_longer_rope(demo: Job) -> None:
    setup = build_setup(demo, "L1")
    near = position_study(setup, 0.0, radius_m=5.0, level_m=-1.2).setup
    # 6 falls of 1.4 kg/m from the head at 5 m radius to the hook in the forebay
    head = 2.4 + np.sqrt(25.0**2 - 6.3**2) + 3.03
    rope = head + 1.2 - setup.hanging.hook_height_m
    assert near.rope_length_m == pytest.approx(rope)
    assert near.gross_t - setup.gross_t == pytest.approx(6 * 1.4e-3 * (rope - setup.rope_length_m), abs=1e-12)
    assert float(near.gross.dynamic_gross_t) == pytest.approx(near.gross_t * float(setup.gross.dynamic_factor))
    assert position_study(setup, 0.0, radius_m=13.0, level_m=8.0).setup.gross_t == setup.gross_t


amounts = st.floats(0.01, 3.0)


@settings(max_examples=25, deadline=None)
@given(deductions=st.lists(amounts, max_size=3), extra=amounts, rope=st.floats(0.2, 4.0))
def test_gross_load_is_never_below_the_sum_of_its_stated_parts(
    demo: Job, deductions: list[float], extra: float, rope: float
) -> None:
    data = json.loads(demo.model_dump_json())
    lift = next(i for i in data["lifts"] if i["id"] == "L2")
    lift["rigging"]["extra_mass_t"] = extra
    lift["deductions"] = [
        {"name": f"part {k}", "mass_t": m, "reference": "manual, page 3 (invented)"} for k, m in enumerate(deductions)
    ]
    for machine in data["machines"]:
        for block in machine["hook_blocks"]:
            block["rope_kg_m"] = rope
    setup = build_setup(parse_fact(Job, data), "L2")
    block = setup.machine.hook_block("block-32")
    parts = setup.lift.load.mass_t * (1 + setup.lift.load.contingency_percent / 100)
    parts += extra + block.mass_t + sum(deductions) + 6 * rope * setup.rope_length_m / 1000
    slings = setup.hanging.gear.mass_t - extra
    assert slings > 0
    assert setup.gross_t >= parts + slings - 1e-9
    calc = Calculation()
    gross_section(calc, setup)
    assert calc.mismatches == []
    assert calc.value("Q") == pytest.approx(setup.gross_t)
    (section,) = calc.block()["sections"]
    sources = {row["what"]: row["source"] for row in section["rows"]}
    stated = sources["Deductions of the manufacturer's chart, as mass at the hook"]
    assert all(f"part {k} " in stated for k in range(len(deductions)))


def test_rope_and_widths_not_stated_are_taken_from_printed_allowances(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    for machine in data["machines"]:
        for block in machine["hook_blocks"]:
            del block["rope_kg_m"], block["width_m"]
    for beam in data["accessories"]["beams"]:
        del beam["length_m"]
    found = assess_lift(parse_fact(Job, data), "L6")
    block = found.setup.machine.hook_block("block-32")
    # the greatest pull of one fall is 32 t / 6 = 5.33 t: 2.13 kg/m
    assert found.setup.machine.rope_mass_kg_m(block) == pytest.approx(0.4 * 32 / 6)
    stated = build_setup(demo, "L6")
    assert float(found.setup.gross.rope_t) > float(stated.gross.rope_t)
    calc = Calculation()
    gross_section(calc, found.setup)
    rows = {r["what"]: r["source"] for r in calc.block()["sections"][0]["rows"]}
    assert "our own allowance" in rows["Mass of the hoist rope"]
    heights = {r[0]: r[2] for r in height_rows(found.setup, found.rigging, shown)}
    assert "our own allowance" in heights["Width of the hook block"]
    assert "our own allowance" in heights["Beam from end to end"]
    assert found.setup.hung.beam_reach_m > stated.hung.beam_reach_m


def test_deductions_of_a_lift_list_and_of_two_machines_reach_the_gross_load(demo: Job) -> None:
    row = {
        "id": "X",
        "deductions.1.name": "stowed jib",
        "deductions.1.mass_t": "0.25",
        "deductions.1.reference": "12",
        "deductions.2.name": "",
        "deductions.2.mass_t": "",
    }
    made = lifts_from_rows([row], source="list", provenance={"kind": "invented"})[0]
    assert made["deductions"] == [{"name": "stowed jib", "mass_t": 0.25, "reference": "12"}]
    data = json.loads(demo.model_dump_json())
    data["tandem_lifts"][0]["machines"][1]["deductions"] = made["deductions"]
    plain, heavier = (
        [m.setup.gross_t for m in assess_tandem(job, job.tandem_lifts[0].id, steps=20).plumb]
        for job in (demo, parse_fact(Job, data))
    )
    assert heavier[0] == pytest.approx(plain[0])
    assert heavier[1] == pytest.approx(plain[1] + 0.25)


def test_a_machine_file_with_jibs_is_refused_with_the_way_to_state_their_mass(demo: Job) -> None:
    data = json.loads(demo.machines[0].model_dump_json())
    data["jibs"] = [{"id": "jib-8", "length_m": 8.0, "mass_t": 0.5}]
    with pytest.raises(InputError, match=r"(?s)jibs.*cannot be planned yet.*deductions"):
        parse_fact(Machine, data)


def test_a_beam_shorter_than_its_span_is_refused(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    data["accessories"]["beams"][0]["length_m"] = 1.0
    with pytest.raises(InputError, match="length_m at least span_m"):
        parse_fact(Job, data)


@pytest.mark.parametrize("swing", [2.0, 8.0])
def test_the_beam_is_told_as_low_and_as_high_as_its_ends_swing(swing: float) -> None:
    """Each end of the beam turned about the boom head, toward it and away from it."""
    load = HungLoad(2.0, 1.0, 1.0, 3.0, swing_deg=swing, beam_reach_m=3.0, beam_base_m=2.0,
                    beam_top_m=2.4)  # fmt: skip
    tip = np.array([[10.0, 0.0, 30.0]])
    beam = beam_body(load, tip, np.array([5.0]))
    turn = np.radians(swing)
    for z, side, sign in itertools.product((7.0, 7.4), (-3.0, 3.0), (-1.0, 1.0)):
        down, out = 30.0 - z, side
        level = 30.0 - (down * np.cos(turn) + sign * out * np.sin(turn))
        assert beam.base_m[0] <= level + 1e-9
        assert beam.top_m[0] >= level - 1e-9
    assert beam.base_m[0] < 7.0 - 2.5 * np.sin(turn) + 23.0 * (1 - np.cos(turn))
