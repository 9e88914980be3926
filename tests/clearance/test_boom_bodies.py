"""Bodies of a machine that leans enclose every lean of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from shapely import Point, Polygon

from liftcalc.base.errors import InputError
from liftcalc.clearance.bodies import CraneShape, MovingMember, MovingPrism, leaned_bodies, leaned_shape
from liftcalc.clearance.crane_bodies import HungLoad, crane_bodies

SHAPE = CraneShape(
    boom_foot_x_m=-1.0, boom_foot_z_m=2.5, boom_half_width_m=0.6,
    tail_outline_m=((0.5, -1.3), (0.5, 1.3), (-4.0, 1.3), (-4.2, 0.0), (-4.0, -1.3)),
    tail_base_m=1.2, tail_top_m=3.4,
    carrier_outline_m=((6.6, -1.3), (6.6, 1.3), (-4.4, 1.3), (-4.4, -1.3)),
    carrier_base_m=0.2, carrier_top_m=1.6,
)  # fmt: skip
LOAD = HungLoad(3.0, 2.0, 2.5, 2.0)


@given(
    lean=st.floats(1e-6, 3.0), toward=st.floats(0.0, 360.0), slew=st.floats(-180.0, 180.0),
    radius=st.floats(4.0, 20.0), part=st.floats(0.0, 1.0),
)  # fmt: skip
@settings(deadline=None)
def test_bodies_of_a_leaning_machine_lie_inside_the_leaned_bodies(
    lean: float, toward: float, slew: float, radius: float, part: float
) -> None:
    """Every body leaned as a rigid body by any part of the lean; the load hangs plumb."""
    centre = np.array([100.0, 200.0, 3.0])
    place = {
        "easting_m": centre[0], "northing_m": centre[1], "level_m": centre[2], "heading_deg": 20.0,
        "slew_deg": slew, "radius_m": radius, "head_height_m": 25.0, "load_base_height_m": 4.0,
    }  # fmt: skip
    plain = {b.name: b for b in crane_bodies(SHAPE, LOAD, **place)}
    wide = crane_bodies(leaned_shape(SHAPE, lean), LOAD, **place)
    boom = plain["boom"]
    assert isinstance(boom, MovingMember)
    head = boom.end_m[0]
    enclosing = {b.name: b for b in leaned_bodies(wide, lean, centre_m=centre, head_m=boom.end_m)}
    tilt = np.arctan(part * lean / 100.0)
    turn = Rotation.from_rotvec(tilt * np.array([-np.sin(np.radians(toward)), np.cos(np.radians(toward)), 0.0]))

    def leaned(p: np.ndarray) -> np.ndarray:
        return turn.apply(np.atleast_2d(p) - centre) + centre

    moved = enclosing["boom"]
    assert isinstance(moved, MovingMember)
    axis = leaned(boom.start_m + np.linspace(0, 1, 9)[:, None] * (boom.end_m - boom.start_m))
    start, along = moved.start_m[0], moved.end_m[0] - moved.start_m[0]
    t = np.clip((axis - start) @ along / (along @ along), 0, 1)
    gap = np.linalg.norm(axis - start - t[:, None] * along, axis=1)
    assert np.all(gap + boom.half_width_m[0] <= moved.half_width_m[0] + 1e-9)
    for name in ("counterweight tail", "carrier"):
        old, new = plain[name], enclosing[name]
        assert isinstance(old, MovingPrism)
        assert isinstance(new, MovingPrism)
        for z in (old.base_m[0], old.top_m[0]):
            corners = np.column_stack([old.corners_m[0], np.full(len(old.corners_m[0]), z)])
            for p in leaned(corners):
                assert Polygon(new.corners_m[0]).buffer(1e-9).contains(Point(p[:2]))
                left_out = 1e-9 + tilt**2 / 2 * np.linalg.norm(p - centre)
                assert new.base_m[0] - left_out <= p[2] <= new.top_m[0] + left_out
    way = leaned(head)[0] - head
    left_out = 1e-9 + tilt**2 / 2 * np.linalg.norm(head - centre)  # as the module states
    for name in ("load", "rigging"):
        old, new = plain[name], enclosing[name]
        assert isinstance(old, MovingPrism)
        assert isinstance(new, MovingPrism)
        assert np.hypot(way[0], way[1]) + old.spread_m[0] <= new.spread_m[0] + left_out
        assert new.base_m[0] <= old.base_m[0] + min(way[2], 0.0) + left_out
        assert new.top_m[0] >= old.top_m[0] + max(way[2], 0.0) - left_out
    rope, new_rope = plain["hoist rope"], enclosing["hoist rope"]
    assert isinstance(rope, MovingMember)
    assert isinstance(new_rope, MovingMember)
    assert np.linalg.norm(way) + rope.half_width_m[0] <= new_rope.half_width_m[0] + 1e-9


def test_a_level_machine_is_left_as_it_is_and_a_steep_one_refused() -> None:
    assert leaned_shape(SHAPE, 0.0) is SHAPE
    for bad in (-0.1, 5.1, float("nan")):
        with pytest.raises(InputError, match="lean_percent"):
            leaned_shape(SHAPE, bad)
        with pytest.raises(InputError, match="lean_percent"):
            leaned_bodies((), bad, centre_m=np.zeros(3), head_m=np.zeros((1, 3)))
    turned = leaned_shape(replace(SHAPE), 1.0)
    assert turned.tail_radius_m > SHAPE.tail_radius_m + 0.03
