"""Settled legs: plane, slope and radius by plane geometry."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from liftcalc.ground.level import level_check, levelled_state, plane_fit

CASES = [json.loads(line) for line in (Path(__file__).parent / "cases" / "ground_level.jsonl").read_text().splitlines()]


def results(case: dict) -> dict:
    given = case["inputs"]
    if "pitch_percent" in given:
        found = level_check(given["pitch_percent"], given["roll_percent"], limit_percent=given["limit_percent"])
        return {"resultant_slope_percent": found.slope_percent, "within_limit": bool(found.within_limit)}
    if "settlement_mm" in given:
        plane = plane_fit(
            -np.array(given["settlement_mm"]) / 1000.0, leg_x_m=given["leg_x_m"], leg_y_m=given["leg_y_m"]
        )
        return {  # the rows count a rise, liftcalc a lean
            "mean_slope_x_percent": -100.0 * plane.tilt_x,
            "mean_slope_y_percent": -100.0 * plane.tilt_y,
            "max_slope_percent": plane.slope_max_percent,
            "twist_residual_mm": list(1000.0 * plane.twist_m),
        }
    # the ground tilts the machine by the row's angle whatever the reactions are
    x, y = np.array([4.0, 4.0, -4.0, -4.0]), np.array([3.0, -3.0, -3.0, 3.0])
    drop = np.tan(np.radians(given["tilt_toward_load_deg"])) * x
    state = levelled_state(
        lambda radius, aside: np.full(4, 100.0),
        lambda force: 0.5 + drop,
        leg_x_m=x,
        leg_y_m=y,
        slew_deg=0.0,
        radius_m=given["load_radius_level_m"],
        head_height_m=given["boom_head_height_above_pivot_m"],
        limit_percent=1.0,
    )
    return {"load_radius_tilted_m": state.radius_m, "radius_increase_m": state.radius_growth_m}


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_matches_the_published_value(case: dict, agrees: Callable[..., None]) -> None:
    agrees(case, results(case))
