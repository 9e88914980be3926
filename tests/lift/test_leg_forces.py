"""Leg forces of one lift on unequal ground, with wind and lean from any side."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize

from liftcalc.base.resources import demo_job_path
from liftcalc.facts.io import load_job
from liftcalc.facts.job import Job
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.leg_forces import weight_on_base
from liftcalc.lift.leg_springs import ON_GROUND


@pytest.fixture(scope="module")
def demo() -> Job:
    return load_job(demo_job_path())


def astride(demo: Job, **legs: float) -> LiftAssessment:
    """L8 turned so that its front left leg alone stands on the soft bank, on steel mats."""
    (lift,) = demo.for_lift("L8").lifts
    stand = lift.stand.model_copy(update={"heading_deg": 30.0, "northing_m": 19.0})
    lift = lift.model_copy(update={"mat": "steel-2.4", "stand": stand})
    machines = tuple(
        m.model_copy(
            update={
                "legs": tuple(
                    leg.model_copy(update={"capacity_kN": legs.get(leg.name, leg.capacity_kN)}) for leg in m.legs
                )
            }
        )
        for m in demo.machines
    )
    return assess_lift(demo.model_copy(update={"lifts": (lift,), "machines": machines}), "L8")


def plane_on_springs_kN(total_kN: float, at: np.ndarray, legs: np.ndarray, springs: np.ndarray) -> np.ndarray:
    """Reactions under a rigid plate on springs that cannot pull: the least of the potential."""
    basis = np.column_stack([np.ones(4), legs])
    right = total_kN * np.array([1.0, *at])

    def potential(plane: np.ndarray) -> tuple[float, np.ndarray]:
        sink = np.maximum(basis @ plane, 0.0)
        return float(springs @ sink**2 / 2 - right @ plane), basis.T @ (springs * sink) - right

    start = np.array([total_kN / springs.sum(), 0.0, 0.0])
    found = minimize(potential, start, jac=True, method="BFGS", options={"gtol": 1e-8})
    return np.asarray(springs * np.maximum(basis @ found.x, 0.0))


def test_a_soft_bank_under_one_leg_loads_the_legs_beside_it(demo: Job) -> None:
    a = astride(demo)
    assert [z.split(", ") for z in a.place.zones] == [["hardstand", "bank"], *[["hardstand"]] * 3]
    # stiffness of the ground as the survey's moduli give it: half space, steel mat 2.4 m x 1.8 m
    ground = np.array([16.6e3, 60.9e3, 60.9e3, 60.9e3])
    springs = 1 / (1 / 60e3 + 1 / ground)
    load = float(a.setup.gross.dynamic_gross_t)
    worst, equal = np.zeros(4), np.zeros(4)
    steps = range(0, len(a.path), 5)
    slew, radius = a.path.slew_deg[::5], a.path.radius_m[::5]
    total, at, reach = weight_on_base(a.setup, slew, radius, load_t=load)
    toward = np.radians(slew)
    at = at + reach[:, None] * np.stack([np.cos(toward), np.sin(toward)], axis=-1)
    for k in range(len(steps)):
        own = plane_on_springs_kN(float(total[k]), at[k], a.setup.leg_xy_m, springs)
        worst = np.maximum(worst, own)
        even = plane_on_springs_kN(float(total[k]), at[k], a.setup.leg_xy_m, np.full(4, 60e3))
        equal = np.maximum(equal, even)
    assert worst[3] > 1.2 * equal[3]  # 215 kN and 173 kN with the machine level
    assert np.all(a.forces.design_kN >= worst - 0.1)
    assert a.forces.on_path.max_carrier[3] == ON_GROUND
    # ground half or twice as stiff as surveyed is covered too, each kind for itself
    for bank, hard in ((0.5, 1.0), (0.5, 2.0), (2.0, 0.5), (0.7, 1.6)):
        scaled = ground * [bank, hard, hard, hard]
        for k in range(0, len(steps), 7):
            own = plane_on_springs_kN(float(total[k]), at[k], a.setup.leg_xy_m, 1 / (1 / 60e3 + 1 / scaled))
            assert np.all(a.forces.design_kN >= own - 0.1)


def test_a_leg_too_weak_for_its_share_on_unequal_ground_is_over(demo: Job) -> None:
    rows = {c.id: c for c in astride(demo, RL=190.0).ground_rows}
    assert rows["leg-RL"].status == "over"
    assert rows["leg-FL"].status == "within"


def test_forces_of_unequal_ground_reach_mats_and_ground(demo: Job) -> None:
    a = astride(demo)
    assert a.ground is not None
    for k, leg in enumerate(a.ground.legs):
        assert leg.reaction_kN == a.forces.design_kN[k]


def test_ground_of_unknown_modulus_is_never_a_pass(demo: Job) -> None:
    site = demo.site
    blind = tuple(
        p.model_copy(
            update={
                "subgrade_modulus_kN_m3": None,
                "layers": tuple(x.model_copy(update={"youngs_modulus_kPa": None}) for x in p.layers),
            }
        )
        for p in site.ground
    )
    job = demo.model_copy(update={"site": site.model_copy(update={"ground": blind})})
    a = assess_lift(job, "L1")
    rows = {c.id: c.status for c in a.ground_rows}
    assert rows["settlement-FL"] == rows["tilt"] == "no_data"
    assert a.verdict.status != "within"


def test_the_lean_that_the_card_permits_loads_every_leg(demo: Job) -> None:
    """As level as can be, as permitted (1 %), and leaned by more than that toward any side."""

    def design(**stand: float) -> np.ndarray:
        (lift,) = demo.for_lift("L1").lifts
        lift = lift.model_copy(update={"stand": lift.stand.model_copy(update=stand)})
        job = demo.model_copy(update={"lifts": (lift,)})
        return assess_lift(job, "L1").forces.design_kN

    level, permitted = design(level_within_percent=0.1), design()
    assert np.all(permitted > level + 1.0)
    assert np.all(design(tilt_x_percent=0.4, tilt_y_percent=-0.4) == permitted)
    one, other = (design(tilt_x_percent=x, tilt_y_percent=y) for x, y in ((2.0, 0.0), (0.0, -2.0)))
    assert np.all(one > permitted + 1.0)
    assert one == pytest.approx(other)
