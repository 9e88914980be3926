"""Push on a wall: Terzaghi's point and line load, Teng's strip, mats."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from liftcalc.ground.walls import (
    MIN_SURCHARGE_KPA,
    line_wall_pressure_kPa,
    line_wall_thrust,
    patch_wall_pressure_kPa,
    point_wall_pressure_kPa,
    point_wall_thrust,
    strip_wall_pressure_kPa,
)

CASES = [
    json.loads(line)
    for line in (Path(__file__).parent / "cases" / "walls.jsonl").read_text().splitlines()
]

WORKING = dict.fromkeys(
    ("m", "n", "alpha_deg", "beta_deg"), "ratios and angles of the row's own geometry"
)


def results(case: dict) -> dict:
    given, name = case["inputs"], case["id"]
    if case["topic"] == "patch":
        rest = dict(given)
        load, depth = rest.pop("load_kN"), rest.pop("depth_m")
        return {"sigma_h_kPa": patch_wall_pressure_kPa(load, depth, **rest)}
    if "strip_near_m" in given:
        strip = {
            "edge_distance_m": given["strip_near_m"],
            "width_m": given["strip_far_m"] - given["strip_near_m"],
        }
        q, z = given["q_kPa"], given["depth_m"]
        return {
            "sigma_h_free_field_kPa": strip_wall_pressure_kPa(q, z, **strip, wall="none"),
            "sigma_h_rigid_wall_kPa": strip_wall_pressure_kPa(q, z, **strip),
        }
    if name == "lw-min-surcharge":
        return {
            "min_lateral_construction_surcharge_kPa": MIN_SURCHARGE_KPA,
            "min_lateral_construction_surcharge_psf": MIN_SURCHARGE_KPA / 0.04788026,
        }
    if "strip_width_m" in given:
        pressure = strip_wall_pressure_kPa(
            given["q_kPa"],
            given["z_m"],
            edge_distance_m=given["edge_distance_m"],
            width_m=given["strip_width_m"],
        )
        return {"sigma_h_kPa": pressure}
    place = {"distance_m": given["distance_m"], "wall_height_m": given["wall_height_m"]}
    height = {"wall_height_m": given["wall_height_m"]}
    if "QL_kN_per_m" in given:
        load = given["QL_kN_per_m"]
        return {
            "sigma_h_kPa": line_wall_pressure_kPa(load, given["z_m"], **place),
            "resultant_kN_per_m": line_wall_thrust(
                load, given["distance_m"], **height
            ).resultant_kN_m,
        }
    along = given["distance_m"] * np.tan(np.radians(given["psi_deg"]))
    thrust = point_wall_thrust(given["Q_kN"], given["distance_m"], **height)
    return {
        "sigma_h_kPa": point_wall_pressure_kPa(given["Q_kN"], given["z_m"], **place),
        "sigma_h_offset_kPa": point_wall_pressure_kPa(
            given["Q_kN"], given["z_m"], **place, offset_along_m=along
        ),
        "resultant_kN_per_m": thrust.resultant_kN_m,
        "resultant_depth_m": thrust.depth_m,
    }


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_matches_the_published_value(case: dict, agrees: Callable[..., None]) -> None:
    agrees(case, results(case), not_given=WORKING)
