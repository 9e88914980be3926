"""The whole ground check: agrees with its pieces, leg by leg and state by state."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from liftcalc.base.errors import InputError
from liftcalc.ground.allowable import allowable_pressure
from liftcalc.ground.beam import centred_beam
from liftcalc.ground.check import LegGround, leg_ground_check
from liftcalc.ground.check_rows import crew_instruction, worst_rows
from liftcalc.ground.mats import MatProperties, mat_check
from liftcalc.ground.profile import GroundLayer, GroundProfile
from liftcalc.ground.safety import EN1997_DA1, global_factor
from liftcalc.ground.settlement import elastic_settlement_m
from liftcalc.ground.stress import legs_stress_kPa
from liftcalc.ground.subgrade import subgrade_modulus_vesic_kN_m3

TIMBER = MatProperties(
    "timber", 4.0, 1.2, 0.3, 0.9, "timber", 9e6, 11e3, 1.2e3, 4e3, strength_basis="allowable"
)
STEEL = MatProperties(
    "steel",
    3.0,
    2.4,
    0.2,
    1.9,
    "steel",
    2.1e8,
    160e3,
    90e3,
    150e3,
    strength_basis="allowable",
    across="plate",
    section_modulus_m3=1.4e-3,
    second_moment_m4=1.4e-4,
    shear_area_m2=0.01,
)
FILL = GroundLayer("fill", 1.0, 19.0, phi_deg=34.0, youngs_modulus_kPa=3e4, poisson=0.3)
CLAY = GroundLayer("clay", float("inf"), 18.5, cu_kPa=60.0, youngs_modulus_kPa=1.2e4, poisson=0.5)
YARD = GroundProfile((FILL, CLAY), water_depth_m=1.5, voids="none found")
BANK = GroundProfile(
    (replace(CLAY, name="stiff clay", cu_kPa=90.0),), water_depth_m=2.0, voids="none found"
)


def legs() -> list[LegGround]:
    place = zip(
        ("FL", "FR", "RR", "RL"), (3.5, 3.5, -3.5, -3.5), (3.0, -3.0, -3.0, 3.0), strict=True
    )
    found = [LegGround(n, x, y, TIMBER, 0.6, 0.6, YARD) for n, x, y in place]
    found[1] = replace(found[1], mat=STEEL, orientation_deg=90.0)
    found[3] = replace(found[3], profile=BANK)
    return found


def forces() -> np.ndarray:
    slew = np.radians(np.arange(0.0, 360.0, 30.0))[:, None]
    return 280.0 + 150.0 * np.cos(slew - np.radians([40.0, -40.0, -140.0, 140.0]))


@pytest.mark.parametrize("safety", [global_factor(2.5), EN1997_DA1], ids=["global", "partial"])
def test_every_leg_agrees_with_the_functions_called_one_by_one(safety) -> None:
    found = leg_ground_check(forces(), legs(), safety=safety)
    for i, leg in enumerate(legs()):
        for k in (0, 4, 9):
            p = forces()[k, i]

            def limit(width: np.ndarray, length: np.ndarray) -> np.ndarray:
                return allowable_pressure(
                    leg.profile,  # noqa: B023
                    width,
                    L_m=length,
                    V_kN=p + leg.mat.weight_kN,  # noqa: B023
                    safety=safety,
                ).q_allowable_kPa

            alone = mat_check(
                leg.mat, p, allowable_kPa=limit, float_length_m=0.6, float_width_m=0.6
            )
            assert found.pressure_kPa[k, i] == pytest.approx(float(alone.pressure_kPa))
            assert found.allowable_kPa[k, i] == pytest.approx(float(alone.allowable_kPa))
            assert found.mats[i].bending_utilisation[k] == pytest.approx(
                float(alone.bending_utilisation), rel=1e-5, abs=1e-6
            )
            assert found.utilisation[k, i] >= float(alone.utilisation) - 1e-5
            length, width = float(alone.effective_length_m), float(alone.effective_width_m)
            assert found.settlement_m[k, i] == pytest.approx(
                float(
                    elastic_settlement_m(
                        p / length / width,
                        1.2e4,
                        length_m=length,
                        width_m=width,
                        poisson=0.5,
                        position="average",
                    )
                )
            )
            stiffness = leg.mat.stiffness_kNm2 * width / leg.mat.width_m
            beam = centred_beam(
                p,
                leg.mat.length_m,
                width_m=width,
                stiffness_kNm2=stiffness,
                subgrade_modulus_kN_m3=subgrade_modulus_vesic_kN_m3(
                    1.2e4, width, stiffness_kNm2=stiffness, poisson=0.5
                ),
                patch_m=0.6,
            )
            used = float(beam.moment_max_kNm) / (
                leg.mat.moment_capacity_kNm * width / leg.mat.width_m
            )
            assert found.elastic_bending_utilisation[k, i] == pytest.approx(used)


def test_neighbours_are_the_stress_of_all_legs_over_their_own() -> None:
    found = leg_ground_check(forces(), legs(), safety=global_factor(2.5))
    k, i = 3, 0
    total = legs_stress_kPa(
        found.pressure_kPa[k],
        1.0,
        leg_x_m=[leg.x_m for leg in legs()],
        leg_y_m=[leg.y_m for leg in legs()],
        length_m=[m.effective_length_m[k] for m in found.mats],
        width_m=[m.effective_width_m[k] for m in found.mats],
        orientation_deg=[leg.orientation_deg for leg in legs()],
        x_m=3.5,
        y_m=3.0,
    )
    own = legs_stress_kPa(
        found.pressure_kPa[k, :1],
        1.0,
        leg_x_m=[3.5],
        leg_y_m=[3.0],
        length_m=found.mats[0].effective_length_m[k],
        width_m=found.mats[0].effective_width_m[k],
        x_m=3.5,
        y_m=3.0,
    )
    assert found.neighbour_factor[k, i] == pytest.approx(float(total / own))
    # no layer below the bank's clay: nothing to add
    assert np.all(found.neighbour_utilisation[:, 3] == 0.0)


def test_legs_close_together_load_deeper_layers_more() -> None:
    near = [replace(leg, x_m=leg.x_m * 0.45, y_m=leg.y_m * 0.45) for leg in legs()]
    apart = leg_ground_check(forces(), legs(), safety=global_factor(2.5))
    close = leg_ground_check(forces(), near, safety=global_factor(2.5))
    assert np.all(close.neighbour_factor[:, 0] > apart.neighbour_factor[:, 0])
    assert np.all(close.neighbour_utilisation[:, 0] > apart.neighbour_utilisation[:, 0])


def test_a_lifted_leg_carries_only_its_mat() -> None:
    force = forces()
    force[2, 1] = 0.0
    found = leg_ground_check(force, legs(), safety=global_factor(2.5))
    assert found.pressure_kPa[2, 1] == pytest.approx(STEEL.weight_kN / STEEL.area_m2)
    assert np.isfinite(found.utilisation).all()


def test_rows_tell_the_worst_state_with_its_reference() -> None:
    found = leg_ground_check(forces(), legs(), safety=global_factor(2.5))
    rows = worst_rows(found, settlement_limit_m=0.025)
    first = next(r for r in rows if r.leg == "FL" and r.name == "ground pressure")
    assert first.state == int(np.argmax(found.ground_utilisation[:, 0]))
    assert first.value / first.limit == pytest.approx(first.utilisation)
    assert "fill" in first.reference or "clay" in first.reference
    assert {r.leg for r in rows} == {"FL", "FR", "RR", "RL"}
    for row in rows:
        assert row.reference
        if row.value is not None and row.name != "deeper layer under all legs":
            assert row.value / row.limit == pytest.approx(row.utilisation, rel=1e-9)
    worst = max(r.utilisation for r in rows if r.name != "settlement")
    assert worst == pytest.approx(float(found.utilisation.max()))


def test_ground_without_a_modulus_is_told_as_missing_never_as_passed() -> None:
    bare = GroundProfile(
        (replace(CLAY, youngs_modulus_kPa=None),), water_depth_m=1.0, voids="none found"
    )
    one = [LegGround("FL", 0.0, 0.0, TIMBER, 0.6, 0.6, bare)]
    found = leg_ground_check([[200.0]], one, safety=global_factor(2.5))
    assert np.isnan(found.settlement_m).all()
    missing = [r for r in worst_rows(found, settlement_limit_m=0.02) if r.value is None]
    assert {r.name for r in missing} == {"settlement", "mat bending on elastic ground"}
    assert all(r.utilisation == np.inf for r in missing)


def test_bad_ground_and_bad_force_are_refused() -> None:
    with pytest.raises(InputError, match="reaction_kN"):
        leg_ground_check([[1.0, 2.0, 3.0]], legs(), safety=global_factor(2.5))
    with pytest.raises(InputError, match="reaction_kN is nan"):
        leg_ground_check([[1.0, np.nan, 3.0, 1.0]], legs(), safety=global_factor(2.5))
    unknown = [replace(leg, profile=replace(YARD, voids="unknown")) for leg in legs()]
    with pytest.raises(InputError, match="voids"):
        leg_ground_check([[1.0, 2.0, 3.0, 4.0]], unknown, safety=global_factor(2.5))


def test_the_crew_is_told_mat_packing_and_proof() -> None:
    line = crew_instruction("FL", TIMBER, packing_m=0.06, pressure_kPa=120.0, ground=CLAY)
    assert line == (
        "FL: mat timber (4.00 x 1.20 x 0.30 m), packing 60 mm, on clay; before the lift "
        "hand vane at three points: not below 60 kPa."
    )
    sand = crew_instruction("RR", TIMBER, packing_m=0.0, pressure_kPa=120.0, ground=FILL)
    assert "no packing" in sand
    assert "plate test to 180 kPa" in sand


def test_the_spring_of_a_mat_is_that_of_an_even_pressure_on_a_half_space() -> None:
    """Mean settlement of a rectangle by the fourfold integral of 1/r, in closed form."""
    found = leg_ground_check(forces(), legs(), safety=global_factor(2.5))
    for i in range(4):
        a = np.asarray(found.mats[i].effective_length_m)
        b = np.asarray(found.mats[i].effective_width_m)
        fourfold = 2 * a * a * b * np.arcsinh(b / a) + 2 * a * b * b * np.arcsinh(a / b)
        fourfold += 2 / 3 * (a**3 + b**3 - np.hypot(a, b) ** 3)
        spring = np.pi * 1.2e4 * (a * b) ** 2 / ((1 - 0.5**2) * fourfold)
        assert found.stiffness_kN_m[:, i] == pytest.approx(spring, rel=1e-6)
        assert found.settlement_m[:, i] == pytest.approx(forces()[:, i] / spring, rel=1e-6)
