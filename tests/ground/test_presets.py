"""Ground presets: valid facts, never usable as they stand, and on the careful side."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from liftcalc.base.errors import InputError
from liftcalc.facts.ground import SurveyedProfile
from liftcalc.facts.io import parse_fact, read_data
from liftcalc.ground.allowable import allowable_pressure
from liftcalc.ground.presumptive import presumptive_rows
from liftcalc.ground.profile import GroundLayer, GroundProfile
from liftcalc.ground.safety import global_factor

PATH = Path(__file__).parents[2] / "shared" / "ground" / "presets.yaml"
PRESETS = {row["id"]: parse_fact(SurveyedProfile, row) for row in read_data(PATH)}
# Range of BS 8004:1986 Table 1 (from memory) for the ground that the preset is named after.
PRINTED = {
    "clay-soft": "soft clays and silts",
    "clay-firm": "firm clays",
    "clay-stiff": "stiff clays",
    "sand-loose": "loose sand",
    "sand-medium-dense": "medium dense sand",
    "gravel-dense": "dense gravel, or dense sand and gravel",
}


def plain(fact: SurveyedProfile) -> GroundProfile:
    layers = tuple(
        GroundLayer(**layer.model_dump(exclude={"liquid_limit_percent", "plasticity_index_percent"}))
        for layer in fact.layers
    )
    return GroundProfile(layers, fact.water_depth_m, fact.no_water_to_m, fact.voids, fact.id)


def allowable_kPa(preset: str) -> float:
    ground = replace(plain(PRESETS[preset]), voids="none found")
    r = allowable_pressure(ground, 1.2, L_m=1.2, safety=global_factor(2.5))
    return float(r.q_allowable_kPa)


@pytest.mark.parametrize("preset", PRESETS)
def test_no_preset_passes_before_somebody_has_looked_for_voids(preset) -> None:
    fact = PRESETS[preset]
    assert fact.provenance.kind == "assumed"
    assert fact.water_depth_m == 0.0
    with pytest.raises(InputError, match="voids is 'unknown'"):
        allowable_pressure(plain(fact), 1.2, L_m=1.2, safety=global_factor(2.5))
    assert allowable_kPa(preset) > 0


@pytest.mark.parametrize(("preset", "soil"), PRINTED.items())
def test_presets_allow_no_more_than_the_published_range(preset, soil) -> None:
    row = next(r for r in presumptive_rows("bs8004") if r.soil_class == soil)
    upper = row.high_kPa if row.high_kPa is not None else row.low_kPa
    assert allowable_kPa(preset) <= upper


def test_order_of_the_presets_is_the_order_of_the_ground() -> None:
    assert allowable_kPa("clay-soft") < allowable_kPa("clay-firm") < allowable_kPa("clay-stiff")
    assert allowable_kPa("sand-loose") < allowable_kPa("sand-medium-dense")
    assert allowable_kPa("sand-medium-dense") < allowable_kPa("gravel-dense")
    assert allowable_kPa("clay-stiff-over-soft") < allowable_kPa("clay-stiff")
    assert allowable_kPa("platform-on-soft-clay") < allowable_kPa("platform-on-firm-clay")
