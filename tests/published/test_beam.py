"""Mats on elastic ground: Hetenyi, and a general frame library's finite elements."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from liftcalc.ground.beam import centred_beam_shape, characteristic_per_m

CASES = [json.loads(line) for line in (Path(__file__).parent / "cases" / "beam.jsonl").read_text().splitlines()]


def hetenyi(given: dict) -> dict:
    ground = {
        "width_m": given["width_m"],
        "stiffness_kNm2": given["E_kPa"] * given["width_m"] * given["depth_m"] ** 3 / 12.0,
        "subgrade_modulus_kN_m3": given["subgrade_modulus_kN_m3"],
    }
    end = given["length_m"] / 2.0
    shape = centred_beam_shape(given["P_kN"], given["length_m"], **ground, x_m=[0.0, end], contact="linear")
    return {
        "deflection_centre_m": shape.deflection_m[0],
        "moment_centre_kNm": shape.moment_kNm[0],
        "deflection_end_m": shape.deflection_m[1],
        "pressure_centre_kPa": shape.pressure_kPa[0],
        "pressure_end_kPa": shape.pressure_kPa[1],
    }


def endless(given: dict) -> dict:
    k, e_i = given["k_N_per_m2"] / 1000.0, given["E_Pa"] * given["I_m4"] / 1000.0
    lam = float(characteristic_per_m(k, 1.0, stiffness_kNm2=e_i))
    long = {"width_m": 1.0, "stiffness_kNm2": e_i, "subgrade_modulus_kN_m3": k}
    x = np.linspace(0.0, 5.0, 20001)
    shape = centred_beam_shape(given["P_N"] / 1000.0, 60.0, **long, x_m=x, contact="linear")
    return {
        "lambda_per_m": lam,
        "w0_mm": 1000.0 * shape.deflection_m[0],
        "M0_kNm": shape.moment_kNm[0],
        "first_zero_deflection_m": x[np.argmax(shape.deflection_m < 0.0)],
    }


def finite(given: dict) -> dict:
    e_i = given["E_Pa"] / 1000.0 * given["b_m"] * given["h_m"] ** 3 / 12.0
    ks, length = given["ks_N_m3"] / 1000.0, given["L_m"]
    assert given["load_x_m"] == length / 2.0
    mat = {
        "width_m": given["b_m"],
        "stiffness_kNm2": e_i,
        "subgrade_modulus_kN_m3": ks,
        "patch_m": given.get("load_width_m", 0.0),
        "contact": "compression only" if given.get("compression_only") else "linear",
    }
    found = centred_beam_shape(given["P_kN"], length, **mat, x_m=0.0)
    x = np.linspace(-length / 2.0, length / 2.0, 2001)
    shape = centred_beam_shape(given["P_kN"], length, **mat, x_m=x)
    lam = characteristic_per_m(ks, given["b_m"], stiffness_kNm2=e_i)
    w = 1000.0 * shape.deflection_m
    return {
        "lambda_per_m": lam,
        "lambda_L": lam * length,
        "w_under_load_mm": w[1000],
        "w_mid_mm": w[1000],
        "w_left_end_mm": w[0],
        "w_right_end_mm": w[-1],
        "w_max_mm": w.max(),
        "M_max_kNm": found.moment_kNm,
        "M_min_kNm": shape.moment_kNm.min(),
        "M_mid_kNm": shape.moment_kNm[1000],
        "p_max_kPa": found.pressure_kPa,
        "p_left_end_kPa": shape.pressure_kPa[0],
        "p_right_end_kPa": shape.pressure_kPa[-1],
        "sigma_b_max_MPa": found.moment_kNm * 6.0 / given["b_m"] / given["h_m"] ** 2 / 1000.0,
        "contact_length_m": found.contact_length_m,
    }


def results(case: dict) -> dict:
    given, wanted = case["inputs"], case["expected"]
    if "depth_m" in given:
        return hetenyi(given)
    if "I_m4" in given:
        return endless(given)
    return {name: value for name, value in finite(given).items() if name in wanted}


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_matches_the_published_value(case: dict, agrees: Callable[..., None]) -> None:
    agrees(case, results(case))
