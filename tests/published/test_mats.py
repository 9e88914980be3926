"""Mats and timbers: cantilever form, beam stresses, adjusted timber strengths."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from liftcalc.ground.mat_properties import MatProperties
from liftcalc.ground.mats import bearing_length_required_m, cantilever_actions
from liftcalc.ground.timber import (
    TIMBER_GRADES,
    TimberGrade,
    adjusted_strengths,
    load_duration_factor,
    size_factor,
    wet_service_factors,
)

CASES = [
    json.loads(line)
    for line in (Path(__file__).parent / "cases" / "mats.jsonl").read_text().splitlines()
]


PSI_KPA = 6.894757293168


def solid(width: float, depth: float) -> MatProperties:
    return MatProperties(
        "row", 3.0, width, depth, 1.0, "timber", 9e6, 1e4, 1e3, 4e3, strength_basis="allowable"
    )


def cantilever(given: dict) -> dict:
    b, d = given["B_m"], given["d_m"]
    area = (given["P_kN"] + given["W_mat_kN"]) / given["qa_kPa"]
    length = bearing_length_required_m(
        given["P_kN"], given["qa_kPa"], width_m=b, self_weight_kN=given["W_mat_kN"]
    )
    found = cantilever_actions(
        given["P_kN"], length, width_m=b, float_length_m=given["C_float_m"], shear_offset_m=d
    )
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


NO_COLUMN = dict.fromkeys(
    ("Ft_psi", "Fc_psi", "Emin_psi", "CM_Fc"), "a mat is neither pulled nor a column"
)


def timber(case: dict) -> dict:
    given = case["inputs"]
    if "species" in given:
        grade = TIMBER_GRADES[given["species"], given["class"], given["grade"]]
        return {
            "Fb_psi": grade.bending_kPa / PSI_KPA,
            "Fv_psi": grade.shear_kPa / PSI_KPA,
            "Fc_perp_psi": grade.crushing_kPa / PSI_KPA,
            "E_psi": grade.modulus_kPa / PSI_KPA,
            "Fb_MPa": grade.bending_kPa / 1000.0,
            "Fv_MPa": grade.shear_kPa / 1000.0,
            "Fc_perp_MPa": grade.crushing_kPa / 1000.0,
            "E_MPa": grade.modulus_kPa / 1000.0,
        }
    if "load_duration" in given:
        return {"CD": load_duration_factor(given["load_duration"])}
    if "moisture" in given:
        factors = wet_service_factors(given["moisture"].split()[0])
        return {
            "CM_Fb": factors["bending"],
            "CM_Fv": factors["shear"],
            "CM_Fc_perp": factors["crushing"],
            "CM_E": factors["modulus"],
        }
    if "depth_in" in given:
        return {"CF_bending": size_factor(given["depth_in"] * 0.0254)}
    duration = {1.25: "seven days", 1.15: "two months"}[given["CD"]]
    depth = {1.0: 0.3, 0.987: 13.5 * 0.0254}[given["CF"]]
    values = [PSI_KPA * given[k] for k in ("Fb_psi", "Fv_psi", "Fc_perp_psi")]
    found = adjusted_strengths(
        TimberGrade(*values, 1e7, "row"), depth, duration=duration, moisture="wet"
    )
    return {
        "Fb_adj_psi": found.bending_kPa / PSI_KPA,
        "Fv_adj_psi": found.shear_kPa / PSI_KPA,
        "Fc_perp_adj_psi": found.crushing_kPa / PSI_KPA,
        "Fb_adj_MPa": found.bending_kPa / 1000.0,
        "Fv_adj_MPa": found.shear_kPa / 1000.0,
    }


def results(case: dict) -> dict:
    given, name = case["inputs"], case["id"]
    if name.startswith("tm-"):
        return timber(case)
    if "q_allow_kPa" in given:
        return {
            "A_req_m2": bearing_length_required_m(given["P_kN"], given["q_allow_kPa"], width_m=1.0)
        }
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
