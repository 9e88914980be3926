"""Set-back rules at excavations and slopes."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from liftcalc.ground.slopes import (
    edge_clearance_m,
    footing_set_back_m,
    influence_line_distance_m,
    pit_depth_set_back_m,
    plant_set_back_m,
)

CASES = [json.loads(line) for line in (Path(__file__).parent / "cases" / "slopes.jsonl").read_text().splitlines()]


def results(case: dict) -> dict:
    given = case["inputs"]
    if "slope_height_m" in given:
        return {"footing_setback_crest_m": footing_set_back_m(given["slope_height_m"])}
    if "gross_mass_t" in given:
        return {"min_edge_distance_m": plant_set_back_m(given["gross_mass_t"])}
    if "soil" in given:
        return {"min_support_to_edge_m": pit_depth_set_back_m(given["pit_depth_m"], given["soil"])}
    if "pad_edge_to_crest_m" in given:
        need = influence_line_distance_m(given["pit_depth_m"])
        return {"required_distance_m": need, "clear_of_influence": bool(given["pad_edge_to_crest_m"] >= need)}
    return {"min_edge_distance_m": edge_clearance_m(), "min_edge_distance_ft": edge_clearance_m() / 0.3048}


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_matches_the_published_value(case: dict, agrees: Callable[..., None]) -> None:
    agrees(case, results(case))
