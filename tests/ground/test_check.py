"""One mat on one ground agrees with its pieces; the other legs add to the layers below."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from liftcalc.base.errors import InputError
from liftcalc.ground.allowable import allowable_pressure
from liftcalc.ground.beam import centred_beam_shape, subgrade_modulus_vesic_kN_m3
from liftcalc.ground.check import BearingRule, elastic_bending, mat_on_ground, neighbour_stress
from liftcalc.ground.mat_properties import MatProperties
from liftcalc.ground.profile import GroundLayer, GroundProfile
from liftcalc.ground.safety import EN1997_DA1, global_factor
from liftcalc.ground.stress import MatsInPlan, rectangle_stress_kPa

TIMBER = MatProperties("timber", 4.0, 1.2, 0.3, 0.9, "timber", 9e6, 11e3, 1.2e3, 4e3, strength_basis="allowable")
FILL = GroundLayer("fill", 1.0, 19.0, phi_deg=34.0, youngs_modulus_kPa=3e4, poisson=0.3)
CLAY = GroundLayer("clay", float("inf"), 18.5, cu_kPa=60.0, youngs_modulus_kPa=1.2e4, poisson=0.5)
YARD = GroundProfile((FILL, CLAY), water_depth_m=1.5, voids="none found")
BANK = GroundProfile((CLAY,), water_depth_m=2.0, voids="none found")
RULE = BearingRule((global_factor(2.5),), "en1997")
FLOAT = {"float_length_m": 0.6, "float_width_m": 0.6}
X, Y = np.array([3.5, 3.5, -3.5, -3.5]), np.array([3.0, -3.0, -3.0, 3.0])


def mats(scale: float = 1.0) -> MatsInPlan:
    return MatsInPlan(scale * X, scale * Y, np.full(4, 3.2), np.full(4, 1.2))


@pytest.mark.parametrize("safety", [(global_factor(2.5),), EN1997_DA1], ids=["global", "partial"])
def test_bearing_is_that_of_the_effective_size_under_leg_and_mat(safety) -> None:
    force = np.array([120.0, 280.0, 430.0])
    rule = BearingRule(safety, "vesic", spacing_m=5.0)
    found = mat_on_ground(TIMBER, force, YARD, rule, **FLOAT)
    width, length = found.check.effective_width_m, found.check.effective_length_m
    alone = allowable_pressure(
        YARD, width, L_m=length, safety=safety, method="vesic", spacing_m=5.0
    )  # fmt: skip
    assert found.bearing.q_allowable_kPa == pytest.approx(alone.q_allowable_kPa)
    assert found.check.allowable_kPa == pytest.approx(alone.q_allowable_kPa)
    assert found.check.pressure_kPa == pytest.approx((force + TIMBER.weight_kN) / (width * length))


def test_a_mat_bends_on_the_softer_of_both_springs() -> None:
    given = {"width_m": 0.9, "float_length_m": 0.6, "modulus_kPa": 1.2e4, "poisson": 0.5}
    stiffness = TIMBER.stiffness_kNm2 * 0.9 / 1.2
    vesic = subgrade_modulus_vesic_kN_m3(1.2e4, 0.9, stiffness_kNm2=stiffness, poisson=0.5)
    for surveyed in (None, 2.0 * float(vesic), 0.5 * float(vesic)):
        found = elastic_bending(TIMBER, 300.0, **given, surveyed_kN_m3=surveyed)
        spring = min(float(vesic), surveyed or np.inf)
        beam = centred_beam_shape(
            300.0, 4.0, width_m=0.9, stiffness_kNm2=stiffness, subgrade_modulus_kN_m3=spring,
            patch_m=0.6, x_m=0.0,
        )  # fmt: skip
        assert found.subgrade_kN_m3 == pytest.approx(spring)
        assert found.moment_kNm == pytest.approx(float(beam.moment_kNm))
        assert found.capacity_kNm == pytest.approx(TIMBER.moment_capacity_kNm * 0.75)


def test_bending_on_ground_without_a_spring_is_unknown() -> None:
    given = {"width_m": 1.2, "float_length_m": 0.6, "modulus_kPa": np.nan, "poisson": np.nan}
    found = elastic_bending(TIMBER, 300.0, **given, surveyed_kN_m3=None)
    assert np.isnan(found.utilisation)
    known = elastic_bending(TIMBER, 300.0, **given, surveyed_kN_m3=2e4)
    assert known.utilisation > 0.0


def test_neighbours_add_the_stress_of_their_rectangles() -> None:
    pressure = np.array([[100.0, 50.0, 60.0, 80.0], [90.0, 150.0, 60.0, 80.0]])
    (found,) = neighbour_stress(YARD, RULE, legs=[0], mats=mats(), pressure_kPa=pressure)
    assert found is not None
    share = [
        float(rectangle_stress_kPa(1.0, 1.0, length_m=3.2, width_m=1.2, x_m=3.5 - x, y_m=3.0 - y))
        for x, y in zip(X, Y, strict=True)
    ]
    by_state = pressure @ np.array(share) / share[0]
    assert found.pressure_kPa == pytest.approx(by_state.max())
    assert found.factor == pytest.approx(by_state.max() / pressure[np.argmax(by_state), 0])
    assert found.factor > 1.0
    assert (found.layer, found.depth_m) == ("clay", 1.0)
    alone = allowable_pressure(YARD, 1.2, L_m=3.2, safety=RULE.safety, method="en1997")
    deeper = [float(m.q_allowable_kPa) for m in alone.mechanisms if m.layer == "clay"]
    assert found.allowable_kPa == pytest.approx(min(deeper))
    assert found.utilisation == pytest.approx(found.pressure_kPa / found.allowable_kPa)


def test_legs_close_together_load_deeper_layers_more() -> None:
    q = np.full((1, 4), 100.0)
    near, far = (neighbour_stress(YARD, RULE, legs=[2], mats=mats(s), pressure_kPa=q)[0] for s in (0.45, 1.0))
    assert near is not None
    assert far is not None
    assert near.factor > far.factor > 1.0
    assert near.allowable_kPa == far.allowable_kPa  # the spread is the leg's own in both


def test_ground_of_one_layer_has_nothing_deeper_to_check() -> None:
    q = np.full((1, 4), 100.0)
    on_bank = {"mats": mats(), "pressure_kPa": q}
    assert neighbour_stress(BANK, RULE, legs=[0], **on_bank) == [None]


def test_legs_together_are_judged_as_each_alone() -> None:
    q = np.array([[100.0, 50.0, 60.0, 80.0], [90.0, 150.0, 60.0, 80.0]])
    plan = {"mats": mats(0.6), "pressure_kPa": q}
    together = neighbour_stress(YARD, RULE, legs=[0, 1, 3], **plan)
    for n, leg in enumerate((0, 1, 3)):
        (alone,) = neighbour_stress(YARD, RULE, legs=[leg], **plan)
        assert together[n] == alone


def test_bad_ground_and_bad_force_are_refused() -> None:
    with pytest.raises(InputError, match="reaction_kN is nan"):
        mat_on_ground(TIMBER, [np.nan], YARD, RULE, **FLOAT)
    with pytest.raises(InputError, match="voids"):
        mat_on_ground(TIMBER, 200.0, replace(YARD, voids="unknown"), RULE, **FLOAT)
    with pytest.raises(InputError, match=r"at most 1\.2 m"):
        mat_on_ground(TIMBER, 200.0, YARD, RULE, float_length_m=0.6, float_width_m=1.3)
