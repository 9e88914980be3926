"""Pressure under rigid bases: middle third, triangle, both axes, two tracks."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from liftcalc.ground.contact import (
    rectangle_base_pressure,
    strip_base_pressure,
    two_track_pressure,
)

CASES = [
    json.loads(line)
    for line in (Path(__file__).parent / "cases" / "contact.jsonl").read_text().splitlines()
]


def results(case: dict) -> dict:
    given, wanted = case["inputs"], case["expected"]
    if "outrigger_load_t" in given:
        force = given["outrigger_load_t"] * given["g_m_s2"]
        mean = strip_base_pressure(
            force, given["mat_effective_length_m"], width_m=given["mat_effective_width_m"]
        ).q_mean_kPa
        return {"bearing_pressure_kPa": mean, "bearing_pressure_t_m2": mean / given["g_m_s2"]}
    if "eccentricity_m" in given:  # a metre of wall, or a mat off centre along its length
        length = given.get("base_width_m", given.get("mat_length_along_eccentricity_m"))
        eccentric = strip_base_pressure(
            given.get("vertical_load_per_m_kN_m", given.get("vertical_load_kN")),
            length,
            width_m=given.get("mat_width_m", 1.0),
            eccentricity_m=given["eccentricity_m"],
        )
        return {
            "max_pressure_kPa": eccentric.q_max_kPa,
            "min_pressure_kPa": eccentric.q_min_kPa,
            "contact_length_m": eccentric.contact_length_m,
        }
    if "track_gauge_m" in given:
        two = two_track_pressure(
            given["W_kN"],
            given["track_gauge_m"],
            track_width_m=given["track_width_m"],
            bearing_length_m=given["track_bearing_length_m"],
            offset_across_m=given["x_offset_m"],
            offset_along_m=given["y_offset_m"],
        )
        return {
            "V_light_kN": two.light_load_kN,
            "V_heavy_kN": two.heavy_load_kN,
            "q_max_heavy_kPa": two.heavy.q_max_kPa,
            "q_max_light_kPa": two.light.q_max_kPa,
        }
    if "eB_m" in given:
        found = rectangle_base_pressure(
            given["V_kN"],
            given["L_m"],
            width_m=given["B_m"],
            eccentricity_length_m=given["eL_m"],
            eccentricity_width_m=given["eB_m"],
        )
        everything = {
            "q_corner_max_kPa": found.q_max_kPa,
            "q_corner_min_kPa": found.q_min_kPa,
            "inside_kern": bool(found.inside_kern),
            "contact_fraction": found.contact_fraction,
        }
        return {name: value for name, value in everything.items() if name in wanted}
    # the rows of the middle-third rule put the eccentricity along B, the track rows along L
    along, across = ("B_m", "L_m") if case["topic"] == "eccentric pressure" else ("L_m", "B_m")
    strip = strip_base_pressure(
        given["V_kN"], given[along], width_m=given[across], eccentricity_m=given["e_m"]
    )
    everything = {
        "q_max_kPa": strip.q_max_kPa,
        "q_min_kPa": strip.q_min_kPa,
        "q_mean_kPa": strip.q_mean_kPa,
        "q_meyerhof_kPa": strip.q_effective_kPa,
        "contact_length_m": strip.contact_length_m,
    }
    return {name: value for name, value in everything.items() if name in wanted}


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_matches_the_published_value(case: dict, agrees: Callable[..., None]) -> None:
    agrees(case, results(case))
