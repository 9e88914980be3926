"""Boom geometry: limits, inverses, jibs and hook room."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.crane.boom import (
    boom_angle_deg,
    boom_pose,
    fixed_jib_pose,
    head_reduced_mass_t,
    luffing_jib_pose,
    radius_range_m,
)
from liftcalc.crane.hook_room import hook_room

lengths = st.floats(8.0, 60.0)
feet = st.floats(-2.5, 1.0)
angles = st.floats(1.0, 85.0)
offsets = st.floats(0.0, 0.8)


def boom_radius_m(length, angle_deg, *, foot_u_m, head_offset_m):
    """Radius of the load sheave of a straight boom at an angle."""
    angle = np.radians(angle_deg)
    return foot_u_m + length * np.cos(angle) + head_offset_m * np.sin(angle)


@settings(deadline=None)
@given(length=lengths, foot=feet, angle=angles, offset=offsets)
def test_angle_is_the_inverse_of_radius(length: float, foot: float, angle: float, offset: float) -> None:
    radius = boom_radius_m(length, angle, foot_u_m=foot, head_offset_m=offset)
    if angle <= np.degrees(np.arctan2(offset, length)):
        return  # below the farthest reach the upper solution is another pose
    found = boom_angle_deg(length, radius, foot_u_m=foot, head_offset_m=offset)
    assert found == pytest.approx(angle, abs=1e-4)


@settings(deadline=None)
@given(length=lengths, foot=feet, angle=angles, offset=offsets, height=st.floats(0.5, 3.5))
def test_pose_is_a_triangle_with_the_stated_sides(
    length: float, foot: float, angle: float, offset: float, height: float
) -> None:
    radius = boom_radius_m(length, angle, foot_u_m=foot, head_offset_m=offset)
    pose = boom_pose(length, radius, foot_u_m=foot, foot_z_m=height, head_offset_m=offset)
    head = np.hypot(pose.head_u_m - pose.foot_u_m, pose.head_z_m - pose.foot_z_m)
    sheave = np.hypot(pose.sheave_u_m - pose.head_u_m, pose.sheave_z_m - pose.head_z_m)
    diagonal = np.hypot(pose.sheave_u_m - foot, pose.sheave_z_m - height)
    assert head == pytest.approx(length, rel=1e-9)
    assert sheave == pytest.approx(offset, abs=1e-9)
    assert diagonal == pytest.approx(np.hypot(length, offset), rel=1e-9)
    assert pose.sheave_u_m == pytest.approx(radius, rel=1e-9, abs=1e-9)


@settings(deadline=None)
@given(length=lengths, foot=feet, low=st.floats(0.0, 40.0), high=st.floats(45.0, 88.0), e=offsets)
def test_radius_range_encloses_every_allowed_angle(
    length: float, foot: float, low: float, high: float, e: float
) -> None:
    least, greatest = radius_range_m(length, foot_u_m=foot, angle_min_deg=low, angle_max_deg=high, head_offset_m=e)
    radii = boom_radius_m(length, np.linspace(low, high, 181), foot_u_m=foot, head_offset_m=e)
    assert radii.min() >= least - 1e-9
    assert radii.max() <= greatest + 1e-9
    assert radii.min() == pytest.approx(least, abs=1e-9)
    assert radii.max() == pytest.approx(greatest, abs=0.01)


@settings(deadline=None)
@given(length=lengths, angle=st.floats(20.0, 80.0), jib=st.floats(3.0, 20.0), bend=st.floats(0, 40))
def test_fixed_jib_keeps_its_offset_and_both_lengths(length: float, angle: float, jib: float, bend: float) -> None:
    a = np.radians(angle)
    radius = -1.0 + length * np.cos(a) + jib * np.cos(a - np.radians(bend))
    # at its greatest radius the head is level with the foot: below that another pose reaches as far
    assume(length * np.sin(a) + jib * np.sin(a - np.radians(bend)) > 0.1)
    pose = fixed_jib_pose(length, radius, jib_length_m=jib, jib_offset_deg=bend, foot_u_m=-1.0, foot_z_m=2.0)
    assert pose.boom_angle_deg - pose.jib_angle_deg == pytest.approx(bend, abs=1e-9)
    assert pose.boom_angle_deg == pytest.approx(angle, abs=1e-4)
    assert pose.sheave_u_m == pytest.approx(radius, abs=1e-9)
    reach = np.hypot(pose.sheave_u_m - pose.joint_u_m, pose.sheave_z_m - pose.joint_z_m)
    assert reach == pytest.approx(jib, rel=1e-9)


def test_fixed_jib_without_offset_is_a_longer_boom() -> None:
    jib = fixed_jib_pose(20.0, 14.0, jib_length_m=8.0, jib_offset_deg=0.0, foot_u_m=-1.2, foot_z_m=2.0)
    boom = boom_pose(28.0, 14.0, foot_u_m=-1.2, foot_z_m=2.0)
    assert jib.sheave_z_m == pytest.approx(boom.sheave_z_m)


@settings(deadline=None)
@given(angle=st.floats(60.0, 88.0), jib_angle=st.floats(5.0, 80.0))
def test_luffing_jib_is_the_inverse_of_its_angle(angle: float, jib_angle: float) -> None:
    radius = 0.5 + 30 * np.cos(np.radians(angle)) + 18 * np.cos(np.radians(jib_angle))
    pose = luffing_jib_pose(30.0, radius, boom_angle_deg=angle, jib_length_m=18.0, foot_u_m=0.5, foot_z_m=2.0)
    assert pose.jib_angle_deg == pytest.approx(jib_angle, abs=1e-6)


def test_radius_beyond_the_boom_is_refused_with_the_greatest_radius() -> None:
    with pytest.raises(InputError, match=r"radius_m is 29\.0; allowed: at most 28\.800"):
        boom_angle_deg(30.0, [20.0, 29.0], foot_u_m=-1.2)


def test_luffing_jib_names_nearest_and_farthest_radius() -> None:
    with pytest.raises(InputError, match=r"10\.000 to 30\.000"):
        luffing_jib_pose(20.0, 9.0, boom_angle_deg=0.0, jib_length_m=10.0, foot_u_m=0.0, foot_z_m=2.0)


@pytest.mark.parametrize("low", [82.0, 90.0, np.nan])
def test_limits_in_the_wrong_order_are_refused(low: float) -> None:
    with pytest.raises(InputError, match="angle_min_deg"):
        radius_range_m(30.0, foot_u_m=0.0, angle_min_deg=low, angle_max_deg=82.0)


@pytest.mark.parametrize("bad", [0.0, -3.0, np.nan, np.inf])
def test_boom_length_must_be_positive(bad: float) -> None:
    with pytest.raises(InputError, match="length_m"):
        boom_pose(bad, 5.0, foot_u_m=-1.0, foot_z_m=2.0)


def test_centre_of_gravity_beyond_the_head_is_refused() -> None:
    with pytest.raises(InputError, match="at most the boom length"):
        head_reduced_mass_t(8.0, 30.0, boom_cg_from_foot_m=30.1)


def test_broadcast_lengths_by_radii() -> None:
    pose = boom_pose(np.array([[20.0], [30.0]]), np.array([6.0, 9.0, 12.0]), foot_u_m=-1.2, foot_z_m=2.2)
    assert all(np.shape(v) == (2, 3) for v in vars(pose).values())
    assert np.all(np.diff(pose.boom_angle_deg, axis=1) < 0)
    assert np.all(np.diff(pose.sheave_z_m, axis=1) < 0)


@settings(deadline=None)
@given(
    sheave=st.floats(10.0, 60.0),
    base=st.floats(-5.0, 30.0),
    load=st.floats(0.0, 5.0),
    sling=st.floats(0.0, 8.0),
    block=st.floats(0.5, 4.0),
)
def test_hook_room_adds_up_along_the_hoist_line(
    sheave: float, base: float, load: float, sling: float, block: float
) -> None:
    room = hook_room(sheave, base, load_height_m=load, sling_height_m=sling, two_block_distance_m=block)
    total = base + load + sling + room.headroom_m + block
    assert total == pytest.approx(sheave, abs=1e-9)
    assert room.hook_highest_m == pytest.approx(sheave - block)


def test_too_tall_a_sling_gives_a_negative_headroom_not_an_error() -> None:
    room = hook_room(20.0, 12.0, load_height_m=3.0, sling_height_m=5.0, two_block_distance_m=2.0)
    assert room.headroom_m == pytest.approx(-2.0)


def test_a_boom_below_ten_degrees_under_level_is_taken_for_a_mistake() -> None:
    for angle, allowed in ((-10.0, True), (-10.1, False), (90.0, True), (90.1, False)):
        given = {"length_m": 20.0, "foot_u_m": -1.0, "angle_min_deg": min(angle, 60.0)}
        if angle > 60.0:
            given = {"length_m": 20.0, "foot_u_m": -1.0, "angle_min_deg": 10.0, "angle_max_deg": angle}
        else:
            given["angle_max_deg"] = 80.0
        if allowed:
            radius_range_m(given.pop("length_m"), **given)
        else:
            with pytest.raises(InputError, match="-10 to 90"):
                radius_range_m(given.pop("length_m"), **given)
