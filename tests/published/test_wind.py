"""Wind rows against standards, weather services and worked sheets."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from liftcalc.wind.boom import boom_wind
from liftcalc.wind.pressure import (
    dynamic_pressure_kPa,
    gust_factor,
    gust_wind_speed_m_s,
    mean_wind_speed_of_gust_m_s,
    permissible_wind,
    wind_force_kN,
)
from liftcalc.wind.tables import beaufort_number

ROWS = [json.loads(line) for line in (Path(__file__).parent / "cases" / "wind.jsonl").read_text().splitlines()]


def test_row_count() -> None:
    assert len(ROWS) == 34


def _pressure(given: dict[str, Any]) -> dict[str, float]:
    speed, density = given["wind_speed_m_s"], given["air_density_kg_m3"]
    q = dynamic_pressure_kPa(speed, air_density_kg_m3=density)
    return {"dynamic_pressure_N_m2": 1000.0 * float(q), "pressure_coefficient_q_over_v2": 1000.0 * float(q) / speed**2}


def _force(given: dict[str, Any]) -> dict[str, float]:
    q = dynamic_pressure_kPa(given["wind_speed_m_s"], air_density_kg_m3=given["air_density_kg_m3"])
    force = wind_force_kN(q, given["load_area_m2"], force_coefficient=given["force_coefficient"])
    return {"dynamic_pressure_N_m2": 1000.0 * float(q), "wind_force_kN": float(force)}


def _permissible(given: dict[str, Any]) -> dict[str, float]:
    out = permissible_wind(
        given["chart_wind_speed_m_s"],
        given["load_mass_t"],
        area_m2=given["projected_area_m2"],
        force_coefficient=given["force_coefficient"],
        reference_area_per_mass_m2_t=given["reference_area_per_mass_m2_t"],
    )
    return {
        "wind_area_m2": float(out.wind_area_m2),
        "permissible_wind_speed_m_s": float(out.permissible_wind_speed_m_s),
    }


def _vessel_sheet(given: dict[str, Any]) -> dict[str, float]:
    v = given["chart_wind_speed_m_s"]
    area = given["load_diameter_m"] * given["load_length_m"]
    out = permissible_wind(
        v,
        given["load_mass_t"],
        area_m2=area,
        force_coefficient=given["load_force_coefficient"],
        reference_area_per_mass_m2_t=given["standard_area_per_mass_m2_t"] * given["standard_force_coefficient"],
    )
    q = dynamic_pressure_kPa(v)
    reference = wind_force_kN(
        q,
        given["standard_area_per_mass_m2_t"] * given["load_mass_t"],
        force_coefficient=given["standard_force_coefficient"],
    )
    limit = float(out.permissible_wind_speed_m_s)
    return {
        "dynamic_pressure_N_m2": 1000.0 * float(q),
        "load_area_m2": area,
        "reference_wind_force_N": 1000.0 * float(reference),
        "permissible_pressure_N_m2": 1000.0 * float(dynamic_pressure_kPa(limit)),
        "permissible_wind_speed_m_s": limit,
    }


def _mast(given: dict[str, Any]) -> dict[str, float]:
    speed = 40.0 * np.sqrt(given["pressure_kPa"])  # q = v^2 / 1600 kPa
    out = boom_wind(
        speed,
        given["mast_height_m"],
        boom_angle_deg=90.0,
        foot_height_m=0.0,
        foot_depth_m=given["mast_width_m"],
        head_depth_m=given["mast_width_m"],
        force_coefficient=given["force_coefficient"],
    )
    return {"force_kN": float(out.force_kN), "moment_kNm": float(out.moment_kNm), "height_m": float(out.height_m)}


def _inclined_member(given: dict[str, Any]) -> dict[str, float]:
    out = boom_wind(
        40.0 * np.sqrt(given["pressure_kPa"]),  # q = v^2 / 1600 kPa
        given["member_area_m2"],
        boom_angle_deg=0.0,
        foot_height_m=2.0,
        foot_depth_m=1.0,
        head_depth_m=1.0,
        force_coefficient=given["force_coefficient"],
        wind_towards_deg=given["member_angle_to_wind_deg"],
    )
    return {"force_kN": float(out.force_kN)}


def _got(row: dict[str, Any]) -> dict[str, float]:
    given = row["inputs"]
    if "standard_area_per_mass_m2_t" in given:
        return _vessel_sheet(given)
    if "chart_wind_speed_m_s" in given:
        return _permissible(given)
    if "rope_length_m" in given:
        return _force(given)
    if "mean_wind_at_10m_m_s" in given:
        height = given["height_m"]
        gust = gust_wind_speed_m_s(given["mean_wind_at_10m_m_s"], height)
        return {"gust_factor": float(gust_factor(height)), "gust_wind_speed_m_s": float(gust)}
    if "gust_limit_at_boom_head_m_s" in given:
        mean = mean_wind_speed_of_gust_m_s(given["gust_limit_at_boom_head_m_s"], given["boom_head_height_m"])
        return {"permissible_mean_wind_at_10m_m_s": float(mean)}
    if "beaufort_number" in given:
        return {
            name: speed for name, speed in row["expected"].items() if beaufort_number(speed) == given["beaufort_number"]
        }
    if "mast_height_m" in given:
        return _mast(given)
    if "member_angle_to_wind_deg" in given:
        return _inclined_member(given)
    if "air_density_kg_m3" in given:
        return _pressure(given)
    return {"beaufort_number": int(beaufort_number(given["wind_speed_m_s"]))}


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_row(row: dict[str, Any]) -> None:
    got, want = _got(row), row["expected"]
    assert want.keys() <= got.keys()
    for name, value in want.items():
        assert np.isclose(got[name], value, rtol=max(row["rel_tol"], 1e-9), atol=0.0), name
