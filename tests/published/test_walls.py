"""Push on a wall: Terzaghi's point load, and mats."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from liftcalc.ground.slopes import patch_wall_pressure_kPa, point_wall_pressure_kPa

CASES = [json.loads(line) for line in (Path(__file__).parent / "cases" / "walls.jsonl").read_text().splitlines()]

WORKING = dict.fromkeys(("m", "n", "alpha_deg", "beta_deg"), "ratios and angles of the row's own geometry")


def results(case: dict) -> dict:
    given = case["inputs"]
    if case["topic"] == "patch":
        rest = dict(given)
        load, depth = rest.pop("load_kN"), rest.pop("depth_m")
        return {"sigma_h_kPa": patch_wall_pressure_kPa(load, depth, **rest)}
    place = {"distance_m": given["distance_m"], "wall_height_m": given["wall_height_m"]}
    along = given["distance_m"] * np.tan(np.radians(given["psi_deg"]))
    depth = np.linspace(0.0, given["wall_height_m"], 2001)
    pressure = point_wall_pressure_kPa(given["Q_kN"], depth, **place)
    push = np.trapezoid(pressure, depth)
    return {
        "sigma_h_kPa": point_wall_pressure_kPa(given["Q_kN"], given["z_m"], **place),
        "sigma_h_offset_kPa": point_wall_pressure_kPa(given["Q_kN"], given["z_m"], **place, offset_along_m=along),
        "resultant_kN_per_m": push,
        "resultant_depth_m": np.trapezoid(pressure * depth, depth) / push,
    }


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_matches_the_published_value(case: dict, agrees: Callable[..., None]) -> None:
    agrees(case, results(case), not_given=WORKING)
