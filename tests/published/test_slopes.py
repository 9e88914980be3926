"""Set-back rules, and the bearing factor of a slope's crest."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from liftcalc.ground.corrections import ground_factors
from liftcalc.ground.slopes import (
    crest_nc,
    edge_clearance_m,
    footing_set_back,
    influence_line_distance_m,
    pit_depth_set_back_m,
    plant_set_back_m,
    trench_slope_deg,
)

CASES = [
    json.loads(line)
    for line in (Path(__file__).parent / "cases" / "slopes.jsonl").read_text().splitlines()
]


def results(case: dict) -> dict:
    given = case["inputs"]
    if "stability_number_Ns" in given:
        found = crest_nc(given["slope_deg"])
        return {"Ncq": found.nc, "reduction": found.reduction, "hansen_gc": found.hansen_gc}
    if "phi_deg" in given:
        hansen = ground_factors(given["phi_deg"], given["slope_deg"], method="hansen")
        vesic = ground_factors(given["phi_deg"], given["slope_deg"], method="vesic")
        return {"gq": hansen.q, "gq_vesic": vesic.q}
    if "slope_height_m" in given:
        rule = footing_set_back(given["slope_height_m"])
        return {"footing_setback_crest_m": rule.crest_m, "building_clearance_toe_m": rule.toe_m}
    if "soil_type" in given:
        return {"max_slope_deg": trench_slope_deg(given["soil_type"])}
    if "gross_mass_t" in given:
        return {"min_edge_distance_m": plant_set_back_m(given["gross_mass_t"])}
    if "soil" in given:
        return {"min_support_to_edge_m": pit_depth_set_back_m(given["pit_depth_m"], given["soil"])}
    if "pad_edge_to_crest_m" in given:
        need = influence_line_distance_m(
            given["pit_depth_m"], given["influence_line_deg_from_horizontal"]
        )
        return {
            "required_distance_m": need,
            "clear_of_influence": bool(given["pad_edge_to_crest_m"] >= need),
        }
    return {"min_edge_distance_m": edge_clearance_m()}


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_matches_the_published_value(case: dict) -> None:
    found = results(case)
    assert found, "no result for this row"
    for name, value in found.items():
        expected = case["expected"][name]
        if isinstance(expected, str | bool):
            assert value == expected, f"{name}: {case['source']}"
        else:
            zero = 1e-6 * max(
                1.0, *(abs(v) for v in case["expected"].values() if not isinstance(v, str | list))
            )
            assert value == pytest.approx(expected, rel=case["rel_tol"], abs=zero), (
                f"{name}: {case['source']}"
            )
