"""Leg reactions against a general frame library with compression-only supports (PyNiteFEA).

Same model on both sides: straight carrier and leg beams stiff in bending, carrier with a stated
twist stiffness, load entering at the slew axis, four vertical springs that cannot pull. The
frame's members are not infinitely stiff: EI is chosen so that their flexibility and the
rounding of the solver both stay below 1e-7 of the answer.
"""

from __future__ import annotations

import numpy as np
import pytest
from Pynite import FEModel3D

from liftcalc.reactions.carrier import leg_reactions_kN

STIFF_KNM2 = 3.0e12


def frame_reactions_kN(
    vertical_kN, resultant_xy_m, leg_xy_m, leg_stiffness_kN_m, torsional_stiffness_kNm_rad, slew_x_m
):
    """Reactions and downward leg movements from the frame library, legs FL, FR, RR, RL.

    Frame axes: X forward, Y up, Z to the right (minus the machine's y).
    """
    legs = np.asarray(leg_xy_m, dtype=float)
    front, rear = legs[:2, 0].mean(), legs[2:, 0].mean()
    m = FEModel3D()
    m.add_material("stiff", STIFF_KNM2, STIFF_KNM2, 0.3, 0.0)
    m.add_section("arm", 1.0, 1.0, 1.0, 1.0)
    gj = torsional_stiffness_kNm_rad * (front - rear)
    m.add_section("carrier", 1.0, 1.0, 1.0, gj / STIFF_KNM2)
    for name, x in (("rear", rear), ("ring", slew_x_m), ("front", front)):
        m.add_node(name, float(x), 0.0, 0.0)
    m.add_member("rear bar", "rear", "ring", "stiff", "carrier")
    m.add_member("front bar", "ring", "front", "stiff", "carrier")
    for i, (x, y) in enumerate(legs):
        m.add_node(f"leg{i}", float(x), 0.0, -float(y))
        m.add_member(f"arm{i}", "front" if i < 2 else "rear", f"leg{i}", "stiff", "arm")
        m.def_support_spring(f"leg{i}", "DY", float(leg_stiffness_kN_m[i]), "-")
    m.def_support("ring", support_DX=True, support_DZ=True, support_RY=True)
    xg, yg = resultant_xy_m
    m.add_node_load("ring", "FY", -float(vertical_kN))
    m.add_node_load("ring", "MZ", -float(vertical_kN * (xg - slew_x_m)))
    m.add_node_load("ring", "MX", -float(vertical_kN * yg))
    m.analyze(check_stability=False)
    down = np.array([-m.nodes[f"leg{i}"].DY["Combo 1"] for i in range(4)])
    return np.maximum(down, 0.0) * np.asarray(leg_stiffness_kN_m), down


def random_state(seed, *, spread=1.0):
    """One state: unequal legs, unequal springs, resultant anywhere inside the base.

    A smaller ``spread`` brings the resultant nearer to one leg, so that more legs lift.
    """
    rng = np.random.default_rng(seed)
    legs = np.array(
        [
            [3.6 + rng.uniform(-0.2, 0.2), rng.uniform(1.3, 3.6)],
            [3.6 + rng.uniform(-0.2, 0.2), -rng.uniform(1.3, 3.6)],
            [-3.8 + rng.uniform(-0.2, 0.2), -rng.uniform(1.3, 3.6)],
            [-3.8 + rng.uniform(-0.2, 0.2), rng.uniform(1.3, 3.6)],
        ]
    )
    # Any point inside, kept off the edge, where a general solver need not settle.
    weight = rng.dirichlet(np.full(4, spread)) * 0.85 + 0.15 / 4
    return {
        "vertical_kN": rng.uniform(300.0, 1200.0),
        "resultant_xy_m": weight @ legs,
        "leg_xy_m": legs,
        "leg_stiffness_kN_m": rng.uniform(5e3, 6e4, 4),
        "torsional_stiffness_kNm_rad": 10.0 ** rng.uniform(3.5, 6.0),
        "slew_x_m": rng.uniform(-1.5, 1.5),
    }


@pytest.mark.parametrize("seed", range(60))
def test_stated_twist_stiffness_equals_the_frame_library(seed):
    state = random_state(seed)
    got = leg_reactions_kN(
        state["vertical_kN"],
        state["resultant_xy_m"],
        leg_xy_m=state["leg_xy_m"],
        leg_stiffness_kN_m=state["leg_stiffness_kN_m"],
        torsional_stiffness_kNm_rad=state["torsional_stiffness_kNm_rad"],
        slew_x_m=state["slew_x_m"],
        carrier="stiffness",
    )
    frame, down = frame_reactions_kN(**state)
    assert np.abs(got.reaction_kN - frame).max() <= 1e-6 * frame.max()
    # The gap under a lifted leg comes out of the frame's twist, with some digits less.
    assert np.abs(got.settlement_m - down).max() <= 1e-5 * np.abs(down).max()
    assert np.array_equal(got.lifted, frame == 0.0)


def test_random_states_contain_lifted_and_seated_machines():
    lifted = [
        bool(leg_reactions_kN(s["vertical_kN"], s["resultant_xy_m"], leg_xy_m=s["leg_xy_m"]).lifted.any())
        for s in map(random_state, range(60))
    ]
    assert 10 <= sum(lifted) <= 50


@pytest.mark.parametrize("seed", range(60, 75))
def test_rigid_carrier_is_the_frame_library_with_a_very_stiff_carrier(seed):
    state = random_state(seed) | {"torsional_stiffness_kNm_rad": 1e12}
    got = leg_reactions_kN(
        state["vertical_kN"],
        state["resultant_xy_m"],
        leg_xy_m=state["leg_xy_m"],
        leg_stiffness_kN_m=state["leg_stiffness_kN_m"],
    )
    frame, _ = frame_reactions_kN(**state)
    assert np.abs(got.reaction_kN - frame).max() <= 1e-6 * frame.max()


@pytest.mark.parametrize("seed", range(75, 95))
def test_flexible_carrier_is_the_frame_library_with_a_very_soft_carrier(seed):
    # Soft enough that the carrier's twist stiffness is below a thousandth of the legs' own in
    # roll. Softer still, the frame turns by many radians where a leg lifts and loses digits:
    # at 0.1 kNm/rad its reactions are off by some percent, and equilibrium with them.
    state = random_state(seed, spread=0.3) | {"torsional_stiffness_kNm_rad": 100.0}
    got = leg_reactions_kN(
        state["vertical_kN"],
        state["resultant_xy_m"],
        leg_xy_m=state["leg_xy_m"],
        slew_x_m=state["slew_x_m"],
        carrier="flexible",
    )
    frame, _ = frame_reactions_kN(**state)
    assert np.abs(got.reaction_kN - frame).max() <= 5e-4 * frame.max()
