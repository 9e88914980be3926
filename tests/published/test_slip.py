"""Slip circles: another open-source slice program, stability numbers, a survey problem."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from liftcalc.ground.slip import SoilLayer, Surcharge, slip_check

CASES = [json.loads(line) for line in (Path(__file__).parent / "cases" / "slip.jsonl").read_text().splitlines()]


def results(case: dict) -> dict:
    given = case["inputs"]
    soil = SoilLayer(float("inf"), given["unit_weight_kN_m3"], given["c_kPa"], given["phi_deg"])
    loads = [Surcharge(given["q_kPa"], given["edge_distance_m"], given["width_m"])] if "q_kPa" in given else []
    found = slip_check(
        [soil], height_m=given["height_m"], slope_deg=given["slope_deg"], surcharges=loads, water_depth_m=None
    )
    return {"safety_factor": found.safety_factor}


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_matches_the_published_value(case: dict, agrees: Callable[..., None]) -> None:
    agrees(case, results(case))
