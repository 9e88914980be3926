"""A mat beside an edge: rules and slip check together."""

from __future__ import annotations

from dataclasses import replace

import pytest

from liftcalc.base.errors import InputError
from liftcalc.ground.edge import edge_check, slip_layers
from liftcalc.ground.profile import GroundLayer, GroundProfile
from liftcalc.ground.slip import Surcharge, slip_check

CLAY = GroundLayer("clay", float("inf"), 19.0, cu_kPa=60.0, phi_deg=26.0, c_kPa=5.0)
FILL = GroundLayer("fill", 1.0, 18.0, phi_deg=33.0)
GROUND = GroundProfile((FILL, CLAY), water_depth_m=4.0, voids="none found")
CASE = {
    "distance_m": 3.5,
    "depth_m": 2.5,
    "slope_deg": 60.0,
    "pressure_kPa": 110.0,
    "mat_across_m": 1.8,
    "gross_mass_t": 38.0,
    "soil": "natural cohesive",
    "required_factor": 1.3,
}


def test_both_strengths_are_checked_and_the_lower_counts() -> None:
    found = edge_check(GROUND, **CASE)
    assert [s.strength for s in found.slips] == ["undrained", "drained"]
    factors = [s.loaded.safety_factor for s in found.slips]
    assert found.safety_factor == min(factors)
    assert found.utilisation == pytest.approx(1.3 / min(factors))
    alone = slip_check(
        slip_layers(GROUND, "drained", needed_depth_m=5.0),
        height_m=2.5,
        slope_deg=60.0,
        surcharges=[Surcharge(110.0, 3.5, 1.8)],
        water_depth_m=4.0,
        through="surcharge",
    )
    assert factors[1] == pytest.approx(alone.safety_factor)


def test_clay_with_one_strength_is_checked_once() -> None:
    only = GroundProfile(
        (replace(CLAY, phi_deg=None, c_kPa=None),), water_depth_m=1.0, voids="none found"
    )
    found = edge_check(only, **CASE)
    assert len(found.slips) == 1
    assert found.slips[0].loaded.includes_surcharge


def test_rules_bind_beside_the_slip_check() -> None:
    assert edge_check(GROUND, **CASE).rules_met
    near = edge_check(GROUND, **(CASE | {"distance_m": 1.5}))
    assert not near.rules_met
    assert near.safety_factor <= edge_check(GROUND, **CASE).safety_factor * 1.01


def test_a_face_that_cannot_stand_is_told() -> None:
    sand = GroundProfile(
        (replace(FILL, thickness_m=float("inf")),), water_depth_m=9.0, voids="none found"
    )
    found = edge_check(sand, **CASE)
    assert any("does not stand by itself" in c for c in found.cautions)


def test_ground_beside_an_edge_must_be_known() -> None:
    shallow = GroundProfile(
        (replace(CLAY, thickness_m=4.0),), water_depth_m=1.0, voids="none found"
    )
    with pytest.raises(InputError, match="Explore deeper"):
        edge_check(shallow, **CASE)
    table = GroundLayer(
        "ballast", float("inf"), 18.0, presumptive_kPa=200.0, presumptive_source="x"
    )
    with pytest.raises(InputError, match="a presumptive value only"):
        edge_check(GroundProfile((table,), water_depth_m=1.0, voids="none found"), **CASE)
    with pytest.raises(InputError, match="water_depth_m"):
        edge_check(replace(GROUND, water_depth_m=None), **CASE)
    with pytest.raises(InputError, match=r"required_factor is 0.9"):
        edge_check(GROUND, **(CASE | {"required_factor": 0.9}))
