"""Tipping and legs that cannot pull, against a rigid-body engine (MuJoCo, Apache-2.0).

The machine is one rigid body with free heave, roll and pitch. Each leg is a spring that can only
press: a cord from high above that pulls up as its leg goes down, and is slack otherwise. The
engine integrates in time until all is at rest, or until the machine goes over.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import mujoco
import numpy as np
import pytest

from liftcalc.base.units import G_M_S2
from liftcalc.crane.legs import base_polygon
from liftcalc.crane.masses import MachineMasses, straight_boom
from liftcalc.crane.stability import tipping_load
from liftcalc.reactions.carrier import leg_reactions_kN

HIGH_M = 1000.0


@dataclass(frozen=True)
class Settled:
    """Forces of the legs at rest, or the way over."""

    stands: bool
    reaction_kN: np.ndarray


def settle(legs: np.ndarray, stiffness_kN_m: np.ndarray, masses: list[tuple[float, tuple[float, ...]]]) -> Settled:
    """The body on its legs under its own weight, from a little above the springs' rest."""
    total_kg = 1000.0 * sum(m for m, _ in masses)
    k = 1000.0 * np.asarray(stiffness_kN_m)
    c = 2.0 * np.sqrt(k * total_kg / 4)
    parts = "".join(
        f'<geom type="sphere" size="0.01" mass="{1000 * m!r}" pos="{p[0]!r} {p[1]!r} {p[2]!r}" '
        'contype="0" conaffinity="0"/>'
        for m, p in masses
    )
    above = "".join(f'<site name="a{i}" pos="{x!r} {y!r} {HIGH_M!r}"/>' for i, (x, y) in enumerate(legs.tolist()))
    below = "".join(f'<site name="b{i}" pos="{x!r} {y!r} 0"/>' for i, (x, y) in enumerate(legs.tolist()))
    cords = "".join(
        f'<spatial springlength="0 {HIGH_M!r}" stiffness="{float(k[i])!r}" '
        f'damping="{float(c[i])!r}">'
        f'<site site="a{i}"/><site site="b{i}"/></spatial>'
        for i in range(4)
    )
    model = mujoco.MjModel.from_xml_string(
        f'<mujoco><option timestep="0.001" gravity="0 0 {-G_M_S2!r}" integrator="implicit"/>'
        f'<worldbody>{above}<body name="crane"><joint type="slide" axis="0 0 1"/>'
        f'<joint type="hinge" axis="1 0 0"/><joint type="hinge" axis="0 1 0"/>{parts}{below}</body>'
        f"</worldbody><tendon>{cords}</tendon></mujoco>"
    )
    data: Any = mujoco.MjData(model)
    for pass_ in range(160):
        if pass_ == 100:  # slack cords brake too: let a machine go that is not at rest by now
            if np.abs(data.qvel).max() < 1e-6:
                break
            model.tendon_damping[:] = 0.0
        mujoco.mj_step(model, data, 200)
        if np.abs(data.qpos[1:]).max() > 0.04:
            return Settled(False, np.full(4, np.nan))
        if np.abs(data.qvel).max() < 1e-8 and np.abs(data.qacc).max() < 1e-5:
            break
    stretch = np.maximum(np.asarray(data.ten_length) - HIGH_M, 0.0)
    return Settled(True, k * stretch / 1000.0)


def _machine(rng: np.random.Generator) -> MachineMasses:
    return MachineMasses(
        carrier_mass_t=rng.uniform(18, 36),
        carrier_x_m=rng.uniform(-0.8, 0.8),
        carrier_y_m=rng.uniform(-0.1, 0.1),
        carrier_z_m=1.0,
        slewing_mass_t=rng.uniform(10, 20),
        slewing_u_m=-rng.uniform(0.3, 1.6),
        slewing_z_m=2.0,
    )


def _bodies(
    machine: MachineMasses, boom_t: float, boom_u: float, radius: float, load_t: float, slew: float
) -> list[tuple[float, tuple[float, ...]]]:
    c, s = float(np.cos(np.radians(slew))), float(np.sin(np.radians(slew)))
    u = machine.slewing_u_m
    return [
        (machine.carrier_mass_t, (machine.carrier_x_m, machine.carrier_y_m, 0.0)),
        (machine.slewing_mass_t, (u * c, u * s, 0.0)),
        (boom_t, (boom_u * c, boom_u * s, 0.0)),
        (load_t, (radius * c, radius * s, 0.0)),
    ]  # heights play no part: the base stays level but for the springs


def test_the_engine_tips_where_the_package_says(draw_legs: Any, case_count: Any) -> None:
    rng = np.random.default_rng(41)
    for case in range(case_count("tipping")):
        legs, machine = draw_legs(rng), _machine(rng)
        slew, radius = rng.uniform(0, 360), rng.uniform(6, 22)
        boom = straight_boom(
            np.array([radius]), 25.0, mass_t=rng.uniform(4, 9), cg_from_foot_m=11.0,
            foot_u_m=-1.0, foot_z_m=2.0,
        )  # fmt: skip
        found = tipping_load(np.array([slew]), boom, base=base_polygon(legs), masses=machine, layout="pairs")
        limit = float(found.tipping_t[0])
        if not 3.0 < limit < 200:
            continue
        for share, stands in ((0.995, True), (1.005, False)):
            bodies = _bodies(machine, float(boom.mass_t), float(boom.u_m[0]), radius, share * limit, slew)
            assert settle(legs, np.full(4, 5e5), bodies).stands == stands, (case, share, limit)


def test_leg_forces_equal_the_engines_with_unlike_springs_and_legs_in_the_air(draw_legs: Any, case_count: Any) -> None:
    rng = np.random.default_rng(42)
    lifted = 0
    for case in range(case_count("contact")):
        legs = draw_legs(rng)
        stiffness = 10 ** rng.uniform(4.7, 5.6, 4)
        weight_t = rng.uniform(25, 90)
        at = rng.dirichlet(np.full(4, rng.choice([0.4, 1.0, 4.0]))) * 0.94 + 0.015
        where = at @ legs
        engine = settle(legs, stiffness, [(weight_t, (float(where[0]), float(where[1]), 0.0))])
        assert engine.stands
        mine = leg_reactions_kN(
            weight_t * G_M_S2, where, leg_xy_m=legs, carrier="rigid", leg_stiffness_kN_m=stiffness
        ).reaction_kN
        lifted += int((engine.reaction_kN < 1e-6).any())
        assert mine == pytest.approx(engine.reaction_kN, abs=2e-3 * weight_t * G_M_S2), case
    assert lifted > case_count("contact") // 8
