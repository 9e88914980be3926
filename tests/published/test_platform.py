"""Working platform and layered-ground rows: a published sheet, and forms worked elsewhere."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from liftcalc.ground.bearing import UndrainedSoil, bearing_capacity
from liftcalc.ground.layers import clay_over_clay, sand_over_clay
from liftcalc.ground.platform import working_platform
from liftcalc.ground.safety import global_factor
from liftcalc.ground.stress import spread_stress_kPa

CASES = [json.loads(line) for line in (Path(__file__).parent / "cases" / "platform.jsonl").read_text().splitlines()]


def br470_clay(given: dict) -> dict:
    r = working_platform(
        given["W_m"], given["L_m"], q_kPa=given["q_char_kPa"],
        phi_platform_deg=given["phi_platform_deg"],
        unit_weight_platform_kN_m3=given["gamma_platform_kN_m3"], cu_kPa=given["cu_kPa"],
        water="below the platform", Kp_tan_delta=given["Kp_tan_delta"],
        Ngamma_platform=given["Ngamma_platform"],
        load_factors=(given["load_factor_no_platform"], given["load_factor_platform"]),
    )  # fmt: skip
    return {
        "sc": r.s_c, "sp": r.s_p, "sgamma": r.s_gamma, "Rd_subgrade_kPa": r.resistance_subgrade_kPa,
        "platform_needed": r.governing != "no platform needed",
        "Rd_platform_kPa": r.resistance_platform_kPa,
        "platform_strong_enough": r.governing != "platform fails itself", "D_m": r.thickness_m,
    }  # fmt: skip


def br470_granular(given: dict) -> dict:
    found = {}
    for case in (1, 2):
        r = working_platform(
            given["W_m"], given[f"L{case}_m"], q_kPa=given[f"q{case}k_kPa"],
            phi_platform_deg=given["phi_platform_deg"],
            unit_weight_platform_kN_m3=given["gamma_platform_kN_m3"],
            phi_subgrade_deg=given["phi_subgrade_deg"],
            unit_weight_subgrade_kN_m3=given["gamma_subgrade_kN_m3"],
            water="below the platform", load_case=case, Kp_tan_delta=given["Kp_tan_delta"],
            Ngamma_platform=given["Ngamma_platform"], Ngamma_subgrade=given["Ngamma_subgrade"],
        )  # fmt: skip
        found |= {
            f"sgamma_{case}": r.s_gamma, f"sp_{case}": r.s_p,
            f"Rd_subgrade_{case}_kPa": r.resistance_subgrade_kPa,
            f"Rd_platform_{case}_kPa": r.resistance_platform_kPa, f"D_{case}_m": r.thickness_m,
        }  # fmt: skip
        assert r.load_factors == (
            given[f"load_factor_no_platform_{case}"], given[f"load_factor_platform_{case}"],
        )  # fmt: skip
    return found


def spread_check(given: dict) -> dict:
    k, H = given["spread_horizontal_per_vertical"], given["H_m"]
    wide, long = given["B_m"] + 2 * k * H, given["L_m"] + 2 * k * H
    pressure = spread_stress_kPa(given["P_kN"], H, length_m=given["L_m"], width_m=given["B_m"], spread_h_per_v=k)
    found = {
        "B_at_depth_m": wide,
        "L_at_depth_m": long,
        "q_from_load_kPa": pressure,
        "q_total_kPa": pressure + given["gamma_platform_kN_m3"] * H,
    }
    if "cu_kPa" in given:
        clay = bearing_capacity(wide, long, UndrainedSoil(given["cu_kPa"]))
        allowed_kPa = clay.q_ult_kPa / global_factor(given["FS"]).resistance
        found = found | {
            "q_ult_net_clay_kPa": clay.q_ult_kPa,
            "q_allow_net_kPa": allowed_kPa,
            "utilisation": pressure / allowed_kPa,
        }
    return found


def results(case: dict) -> dict:
    given, name = case["inputs"], case["id"]
    if name == "wp-br470-sheet-granular":
        return br470_granular(given)
    if name.startswith("wp-br470-cohesive"):
        return br470_clay(given)
    if name.startswith("wp-meyerhof-hanna"):
        return vars(
            sand_over_clay(
                given["B_m"], given["L_m"], thickness_m=given["H_below_base_m"],
                phi_upper_deg=given["phi_upper_deg"],
                unit_weight_upper_kN_m3=given["gamma_upper_kN_m3"],
                cu_lower_kPa=given["cu_lower_kPa"], depth_m=given["D_m"], Ks=given["Ks"],
            )
        )  # fmt: skip
    if name.startswith("wp-brown-meyerhof"):
        strength = {"cu_upper_kPa": 1.0, "cu_lower_kPa": given["cu_lower_over_upper"]}
        H = given["H_over_B"]
        strip = clay_over_clay(1.0, 1.0e9, thickness_m=H, **strength)
        circle = clay_over_clay(1.0, 1.0, thickness_m=H, **strength)
        return {"Nc_strip": strip.q_punch_kPa, "Nc_circle": circle.q_punch_kPa}
    if name.startswith("wp-spread"):
        return spread_check(given)
    raise AssertionError(f"no test for row {name}")


@pytest.mark.parametrize("case", [pytest.param(c, id=c["id"]) for c in CASES])
def test_published_platform_row(case: dict) -> None:
    found = results(case)
    for key, expected in case["expected"].items():
        assert np.asarray(found[key]) == pytest.approx(expected, rel=case["rel_tol"]), key
