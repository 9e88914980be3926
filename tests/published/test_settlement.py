"""Settlement and subgrade reaction: closed forms, tables and worked examples."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from liftcalc.ground.settlement import (
    circle_factor,
    elastic_settlement_m,
    half_space_factor,
    hough_settlement_m,
    steinbrenner_factors,
)
from liftcalc.ground.subgrade import (
    SUBGRADE_RANGES_KN_M3,
    subgrade_modulus_bearing_kN_m3,
    subgrade_modulus_elastic_kN_m3,
    subgrade_modulus_sowers_kN_m3,
    subgrade_modulus_terzaghi_kN_m3,
    subgrade_modulus_vesic_kN_m3,
)

CASES = [
    json.loads(line)
    for line in (Path(__file__).parent / "cases" / "settlement.jsonl").read_text().splitlines()
]


def spring(case: dict) -> dict:
    given, kind = case["inputs"], case["id"].split("-")[1]
    if kind == "vesic":
        ks = subgrade_modulus_vesic_kN_m3(
            given["Es_kPa"],
            given["B_m"],
            stiffness_kNm2=given["EI_kNm2"],
            poisson=given["poisson"],
        )
        return {"ks_kN_m3": ks, "ks_times_B_kPa": ks * given["B_m"]}
    if kind == "elastic":
        ks = subgrade_modulus_elastic_kN_m3(given["Es_kPa"], given["B_m"], poisson=given["poisson"])
        return {"ks_kN_m3": ks}
    if kind == "sowers":
        ks = subgrade_modulus_sowers_kN_m3(
            given["k_plate_kN_m3"],
            given["B_m"],
            plate_width_m=given["Bp_m"],
            exponent=given["n"],
        )
        return {"ks_kN_m3": ks}
    if kind == "terzaghi":
        plate, width = given["k_plate_0p3m_kN_m3"], given["B_m"]
        square, rect = (
            subgrade_modulus_terzaghi_kN_m3(plate, width, length_m=length, soil=given["soil"])
            for length in (width, given["L_m"])
        )
        return {"k_square_kN_m3": square, "k_rect_kN_m3": rect}
    if "qa_kPa" in given:
        return {"ks_kN_m3": subgrade_modulus_bearing_kN_m3(given["qa_kPa"], given["SF"])}
    soil = given["soil"] + (", UFC 3-220-20" if kind == "ufc" else "")
    low, high = SUBGRADE_RANGES_KN_M3[soil]
    found = {"ks_min_kN_m3": low, "ks_max_kN_m3": high}
    return found | {"ks_min_pci": low / 271.447, "ks_max_pci": high / 271.447}


def elastic(given: dict, wanted: dict) -> dict:
    def settle(position: str) -> float:
        return elastic_settlement_m(
            given["q_kPa"],
            given["E_kPa"],
            length_m=given["L_m"],
            width_m=given["B_m"],
            poisson=given.get("poisson", given.get("nu")),
            position=position,
            layer_thickness_m=given.get("H_m"),
        )

    if "settlement_centre_flexible_m" in wanted:
        return {"settlement_centre_flexible_m": settle("centre")}
    out = {"s_centre_mm": 1000.0 * settle("centre")}
    return out | ({"s_corner_mm": 1000.0 * settle("corner")} if "s_corner_mm" in wanted else {})


def results(case: dict) -> dict:
    given, wanted, name = case["inputs"], case["expected"], case["id"]
    if name.startswith("ks-"):
        return spring(case)
    if "H_over_B" in given:
        found = steinbrenner_factors(given["L_over_B"], given["H_over_B"], poisson=given["poisson"])
        return {"I1": found.i1, "I2": found.i2, "Is": found.i_s}
    if "L_over_B" in given:
        return {
            f"Cd_{where}": half_space_factor(given["L_over_B"], where)
            for where in ("centre", "corner", "average")
        }
    if "shape" in given:
        return {"Cd": circle_factor(given["shape"].split(", ")[1])}
    if "Cprime" in given:
        settlement = hough_settlement_m(
            given["q_kPa"] * given["B_m"] * given["L_m"],
            length_m=given["L_m"],
            width_m=given["B_m"],
            layer_thickness_m=given["H_m"],
            layer_mid_depth_m=given["z_mid_m"],
            initial_stress_kPa=np.array(given["sigma_v0_kPa"], dtype=float),
            bearing_capacity_index=given["Cprime"],
        )
        return {"settlement_mm": 1000.0 * settlement}
    return elastic(given, wanted)


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_matches_the_published_value(case: dict, agrees: Callable[..., None]) -> None:
    agrees(case, results(case))
