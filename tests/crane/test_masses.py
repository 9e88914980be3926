"""Boom state of a straight boom."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.crane.boom import boom_pose
from liftcalc.crane.masses import straight_boom

BOOM = {"mass_t": 8.5, "cg_from_foot_m": 10.1, "foot_u_m": -1.3, "foot_z_m": 2.4}


@settings(deadline=None)
@given(st.floats(3.0, 23.0), st.floats(0.0, 1.0))
def test_boom_state_agrees_with_the_pose_of_the_boom(radius, offset):
    state = straight_boom([radius], 25.0, **BOOM, head_offset_m=offset)
    pose = boom_pose(25.0, radius, foot_u_m=-1.3, foot_z_m=2.4, head_offset_m=offset)
    assert state.head_z_m[0] == pytest.approx(float(pose.sheave_z_m))
    assert radius == pytest.approx(float(pose.sheave_u_m))
    cg_u_m = -1.3 + 10.1 * np.cos(np.radians(pose.boom_angle_deg))
    assert state.u_m[0] == pytest.approx(float(cg_u_m))


def test_the_boom_turns_about_its_foot():
    """The centre of gravity keeps its distance from the foot at every radius."""
    state = straight_boom(np.arange(3.0, 23.0), 25.0, **BOOM)
    assert np.hypot(state.u_m + 1.3, state.z_m - 2.4) == pytest.approx(10.1)
    assert np.hypot(state.radius_m + 1.3, state.head_z_m - 2.4) == pytest.approx(25.0)


def test_boom_state_at_both_ends_of_its_reach():
    state = straight_boom([1e-6, 23.7], 25.0, **BOOM)
    assert state.angle_deg[1] == pytest.approx(0.0, abs=1e-5)
    with pytest.raises(InputError, match=r"radius_m is 23\.71"):
        straight_boom([23.71], 25.0, **BOOM)
    with pytest.raises(InputError, match="between horizontal and vertical"):
        straight_boom([1.0], 25.0, **{**BOOM, "foot_u_m": 1.3})


def test_unknown_foot_height_leaves_heights_unknown_but_radii_known():
    state = straight_boom([10.0], 25.0, mass_t=8.5, cg_from_foot_m=10.1, foot_u_m=-1.3)
    assert np.isnan(state.z_m).all()
    assert np.isnan(state.head_z_m).all()
    assert np.isfinite(state.u_m).all()
    assert state.head_mass_t == pytest.approx(8.5 * 10.1 / 25.0)
