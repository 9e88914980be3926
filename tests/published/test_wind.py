"""Wind rows against standards, weather services and worked sheets."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from liftcalc import wind
from liftcalc.base.units import G_M_S2

ROWS = [
    json.loads(line)
    for line in (Path(__file__).parent / "cases" / "wind.jsonl").read_text().splitlines()
]


def test_row_count() -> None:
    assert len(ROWS) == 43


def _pressure(given: dict[str, Any]) -> dict[str, float]:
    speed, density = given["wind_speed_m_s"], given["air_density_kg_m3"]
    q = wind.dynamic_pressure_kPa(speed, air_density_kg_m3=density)
    back = wind.wind_speed_of_pressure_m_s(q, air_density_kg_m3=density)
    assert float(back) == pytest.approx(speed, rel=1e-12)
    return {
        "dynamic_pressure_N_m2": 1000.0 * float(q),
        "pressure_coefficient_q_over_v2": 1000.0 * float(q) / speed**2,
    }


def _hanging(given: dict[str, Any]) -> dict[str, float]:
    assert given["g_m_s2"] == G_M_S2
    q = wind.dynamic_pressure_kPa(
        given["wind_speed_m_s"], air_density_kg_m3=given["air_density_kg_m3"]
    )
    force = wind.wind_force_kN(
        q, given["load_area_m2"], force_coefficient=given["force_coefficient"]
    )
    out = wind.hanging_load(
        force,
        given["load_mass_t"],
        rope_length_m=given["rope_length_m"],
        load_radius_m=given["load_radius_m"],
    )
    back = wind.wind_speed_at_hang_angle_m_s(
        given["expected_rope_angle_deg"],
        given["load_mass_t"],
        area_m2=given["load_area_m2"],
        force_coefficient=given["force_coefficient"],
        air_density_kg_m3=given["air_density_kg_m3"],
    )
    assert float(back) == pytest.approx(given["wind_speed_m_s"], rel=1e-8)
    return {
        "dynamic_pressure_N_m2": 1000.0 * float(q),
        "wind_force_kN": float(out.wind_force_kN),
        "rope_angle_deg": float(out.rope_angle_deg),
        "radius_increase_m": float(out.radius_increase_m),
        "new_radius_m": float(out.new_radius_m),
        "rope_tension_kN": float(out.rope_tension_kN),
    }


def _permissible(given: dict[str, Any]) -> dict[str, float]:
    out = wind.permissible_wind(
        given["chart_wind_speed_m_s"],
        given["load_mass_t"],
        area_m2=given["projected_area_m2"],
        force_coefficient=given["force_coefficient"],
        reference_area_per_mass_m2_t=given["reference_area_per_mass_m2_t"],
    )
    return {
        "wind_area_m2": float(out.wind_area_m2),
        "area_per_mass_m2_t": float(out.area_per_mass_m2_t),
        "unlimited_wind_speed_m_s": float(out.unlimited_wind_speed_m_s),
        "permissible_wind_speed_m_s": float(out.permissible_wind_speed_m_s),
    }


def _vessel_sheet(given: dict[str, Any]) -> dict[str, float]:
    v = given["chart_wind_speed_m_s"]
    area = given["load_diameter_m"] * given["load_length_m"]
    out = wind.permissible_wind(
        v,
        given["load_mass_t"],
        area_m2=area,
        force_coefficient=given["load_force_coefficient"],
        reference_area_per_mass_m2_t=given["standard_area_per_mass_m2_t"]
        * given["standard_force_coefficient"],
    )
    q = wind.dynamic_pressure_kPa(v)
    reference = wind.wind_force_kN(
        q,
        given["standard_area_per_mass_m2_t"] * given["load_mass_t"],
        force_coefficient=given["standard_force_coefficient"],
    )
    limit = float(out.permissible_wind_speed_m_s)
    return {
        "dynamic_pressure_N_m2": 1000.0 * float(q),
        "load_area_m2": area,
        "reference_wind_force_N": 1000.0 * float(reference),
        "permissible_pressure_N_m2": 1000.0 * float(wind.dynamic_pressure_kPa(limit)),
        "permissible_wind_speed_m_s": limit,
    }


def _mast(given: dict[str, Any]) -> dict[str, float]:
    speed = wind.wind_speed_of_pressure_m_s(given["pressure_kPa"])
    out = wind.boom_wind(
        speed,
        given["mast_height_m"],
        boom_angle_deg=90.0,
        foot_height_m=0.0,
        foot_depth_m=given["mast_width_m"],
        head_depth_m=given["mast_width_m"],
        force_coefficient=given["force_coefficient"],
    )
    return {
        "force_kN": float(out.force_kN),
        "moment_kNm": float(out.moment_kNm),
        "height_m": float(out.height_m),
    }


def _inclined_member(given: dict[str, Any]) -> dict[str, float]:
    out = wind.boom_wind(
        wind.wind_speed_of_pressure_m_s(given["pressure_kPa"]),
        given["member_area_m2"],
        boom_angle_deg=0.0,
        foot_height_m=2.0,
        foot_depth_m=1.0,
        head_depth_m=1.0,
        force_coefficient=given["force_coefficient"],
        wind_towards_deg=given["member_angle_to_wind_deg"],
    )
    return {"force_kN": float(out.force_kN)}


def _storm(given: dict[str, Any]) -> dict[str, float]:
    out = wind.out_of_service_wind(
        given["wind_speed_m_s"],
        20.0,
        boom_state="laid down",
        foot_height_m=given["boom_height_m"],
        foot_depth_m=given["boom_area_m2"] / 20.0,
        head_depth_m=given["boom_area_m2"] / 20.0,
        boom_force_coefficient=given["boom_force_coefficient"],
        body_area_m2=given["body_area_m2"],
        body_force_coefficient=given["body_force_coefficient"],
        body_height_m=given["body_height_m"],
        wind_towards_deg=90.0,
        air_density_kg_m3=given["air_density_kg_m3"],
    )
    return {"force_kN": float(out.force_kN), "moment_kNm": float(out.moment_kNm)}


def _got(row: dict[str, Any]) -> dict[str, float]:
    given = row["inputs"]
    if "standard_area_per_mass_m2_t" in given:
        return _vessel_sheet(given)
    if "chart_wind_speed_m_s" in given:
        return _permissible(given)
    if "rope_length_m" in given:
        return _hanging(given | {"expected_rope_angle_deg": row["expected"]["rope_angle_deg"]})
    if "in_service_wind_class" in given:
        row_ = wind.in_service_wind(given["in_service_wind_class"])
        return {
            "in_service_pressure_N_m2": 1000.0 * row_.pressure_kPa,
            "wind_speed_rho_1_25_m_s": row_.wind_speed_m_s,
        }
    if "mean_wind_at_10m_m_s" in given:
        height = given["height_m"]
        gust = wind.gust_wind_speed_m_s(given["mean_wind_at_10m_m_s"], height)
        return {
            "gust_factor": float(wind.gust_factor(height)),
            "gust_wind_speed_m_s": float(gust),
        }
    if "gust_limit_at_boom_head_m_s" in given:
        mean = wind.mean_wind_speed_of_gust_m_s(
            given["gust_limit_at_boom_head_m_s"], given["boom_head_height_m"]
        )
        return {"permissible_mean_wind_at_10m_m_s": float(mean)}
    if "power_law_exponent" in given:
        speed = wind.power_law_wind_speed_m_s(
            given["reference_speed_m_s"],
            given["height_m"],
            reference_height_m=given["reference_height_m"],
            exponent=given["power_law_exponent"],
        )
        return {"wind_speed_m_s": float(speed)}
    if "beaufort_number" in given:
        low, high = wind.beaufort_band_m_s(given["beaufort_number"])
        for speed in (low, high):
            assert wind.beaufort_number(speed) == given["beaufort_number"]
        return {"speed_min_m_s": low, "speed_max_m_s": high}
    if "shape" in given:
        least, greatest = wind.force_coefficient_band(given["shape"])
        return {"force_coefficient_min": least, "force_coefficient_max": greatest}
    if "mast_height_m" in given:
        return _mast(given)
    if "member_angle_to_wind_deg" in given:
        return _inclined_member(given)
    if "body_area_m2" in given:
        return _storm(given)
    if "air_density_kg_m3" in given:
        return _pressure(given)
    return {"beaufort_number": int(wind.beaufort_number(given["wind_speed_m_s"]))}


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_row(row: dict[str, Any]) -> None:
    got, want = _got(row), row["expected"]
    assert want.keys() <= got.keys()
    for name, value in want.items():
        assert np.isclose(got[name], value, rtol=max(row["rel_tol"], 1e-9), atol=0.0), name
