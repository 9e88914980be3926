"""Level rows: slopes, packing and settled legs by plane geometry."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from liftcalc.crane.legs import packing_height_m, resultant_slope_percent
from liftcalc.crane.masses import tilted_radius_m

CASES = [json.loads(line) for line in (Path(__file__).parent / "cases" / "level.jsonl").read_text().splitlines()]


def results(given: dict) -> dict:
    if "load_radius_level_m" in given:
        level = given["load_radius_level_m"]
        radius = tilted_radius_m(
            level, given["boom_head_height_above_pivot_m"], tilt_toward_load_deg=given["tilt_toward_load_deg"]
        )
        return {"load_radius_tilted_m": radius, "radius_increase_m": radius - level}
    if "ground_level_m" in given:
        packing = packing_height_m(given["ground_level_m"])
        return {"packing_height_m": packing, "highest_leg": given["leg_names"][int(np.argmin(packing))]}
    slope = resultant_slope_percent(given["pitch_percent"], given["roll_percent"])
    return {"resultant_slope_percent": slope, "within_limit": bool(slope <= given["limit_percent"] + 1e-12)}


@pytest.mark.parametrize("case", CASES, ids=[c["id"] for c in CASES])
def test_level_row(case: dict) -> None:
    found = results(case["inputs"])
    for name, value in case["expected"].items():
        if isinstance(value, (str, bool)):
            assert found[name] == value
        else:
            scale = float(np.max(np.abs(value)))
            tol = max(case["rel_tol"], 1e-9) * scale
            assert np.asarray(found[name]) == pytest.approx(np.asarray(value), abs=tol), name
