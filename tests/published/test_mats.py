"""Mats and timbers: cantilever form, beam stresses, factors of wet and loaded timber."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from liftcalc.ground.mat_properties import MatProperties
from liftcalc.ground.mats import bearing_length_required_m, cantilever_actions
from liftcalc.ground.timber import load_duration_factor, wet_service_factors

CASES = [json.loads(line) for line in (Path(__file__).parent / "cases" / "mats.jsonl").read_text().splitlines()]


def solid(width: float, depth: float) -> MatProperties:
    return MatProperties("row", 3.0, width, depth, 1.0, "timber", 9e6, 1e4, 1e3, 4e3, strength_basis="allowable")


def cantilever(given: dict) -> dict:
    b, d = given["B_m"], given["d_m"]
    area = (given["P_kN"] + given["W_mat_kN"]) / given["qa_kPa"]
    length = bearing_length_required_m(given["P_kN"], given["qa_kPa"], width_m=b, self_weight_kN=given["W_mat_kN"])
    found = cantilever_actions(given["P_kN"], length, width_m=b, float_length_m=given["C_float_m"], shear_offset_m=d)
    mat = solid(b, d)
    return {
        "A_req_m2": area,
        "L_req_m": length,
        "Lc_m": found.cantilever_m,
        "q_kPa": found.pressure_kPa,
        "M_kNm": found.moment_kNm,
        "fb_MPa": found.moment_kNm / mat.z_m3 / 1000.0,
        "V_kN": found.shear_kN,
        "fv_MPa": found.shear_kN / mat.shear_m2 / 1000.0,
    }


NO_COLUMN = dict.fromkeys(("Ft_psi", "Fc_psi", "Emin_psi", "CM_Fc"), "a mat is neither pulled nor a column")


def timber(case: dict) -> dict:
    given = case["inputs"]
    if "load_duration" in given:
        return {"CD": load_duration_factor(given["load_duration"])}
    factors = wet_service_factors(given["moisture"].split()[0])
    return {
        "CM_Fb": factors["bending"],
        "CM_Fv": factors["shear"],
        "CM_Fc_perp": factors["crushing"],
        "CM_E": factors["modulus"],
    }


def results(case: dict) -> dict:
    given, name = case["inputs"], case["id"]
    if name.startswith("tm-"):
        return timber(case)
    if "q_allow_kPa" in given:
        return {"A_req_m2": bearing_length_required_m(given["P_kN"], given["q_allow_kPa"], width_m=1.0)}
    if "M_kNm" in given:
        mat = solid(given["b_m"], given["d_m"])
        return {
            "S_m3": mat.z_m3,
            "I_m4": mat.i_m4,
            "fb_MPa": given["M_kNm"] / mat.z_m3 / 1000.0,
            "fv_MPa": given["V_kN"] / mat.shear_m2 / 1000.0,
        }
    return cantilever(given)


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_matches_the_published_value(case: dict, agrees: Callable[..., None]) -> None:
    agrees(case, results(case), not_given=NO_COLUMN)
