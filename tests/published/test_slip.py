"""Slip circles: another open-source slice program, stability numbers, a survey problem."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from liftcalc.ground.slip import SoilLayer, Surcharge, slip_check

CASES = [
    json.loads(line)
    for line in (Path(__file__).parent / "cases" / "slip.jsonl").read_text().splitlines()
]


def results(case: dict) -> dict:
    given = case["inputs"]
    soil = SoilLayer(float("inf"), given["unit_weight_kN_m3"], given["c_kPa"], given["phi_deg"])
    loads = (
        [Surcharge(given["q_kPa"], given["edge_distance_m"], given["width_m"])]
        if "q_kPa" in given
        else []
    )
    found = slip_check(
        [soil],
        height_m=given["height_m"],
        slope_deg=given["slope_deg"],
        surcharges=loads,
        water_depth_m=None,
    )
    return {"safety_factor": found.safety_factor}


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
