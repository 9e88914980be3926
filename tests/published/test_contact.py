"""Pressure under rigid bases: middle third, triangle, both axes, two tracks."""

from __future__ import annotations

import json
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
def test_matches_the_published_value(case: dict) -> None:
    found = results(case)
    assert found, "no result for this row"
    for name, value in found.items():
        expected = case["expected"][name]
        if isinstance(expected, str | bool):
            assert value == expected, f"{name}: {case['source']}"
        else:
            zero = 1e-6 * max(
                1.0, *(abs(v) for v in case["expected"].values() if not isinstance(v, str | list))
            )
            assert value == pytest.approx(expected, rel=case["rel_tol"], abs=zero), (
                f"{name}: {case['source']}"
            )
