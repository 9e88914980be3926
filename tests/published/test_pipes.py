"""Loads on buried pipes, culverts and slabs: Marston, prism, surface load with impact, mats."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from liftcalc.ground.pipes import (
    impact_factor,
    marston_load,
    service_load,
    slab_load,
    surface_load_on_pipe_kPa,
)

CASES = [
    json.loads(line)
    for line in (Path(__file__).parent / "cases" / "pipes.jsonl").read_text().splitlines()
]


def results(case: dict) -> dict:
    given = case["inputs"]
    if case["topic"] in ("service", "slab"):
        rest = dict(given)
        load = service_load if case["topic"] == "service" else slab_load
        found = vars(load(rest.pop("pressure_kPa"), rest.pop("cover_m"), **rest))
        return found | {"within_limit": bool(np.all(found.get("utilisation", np.inf) <= 1.0))}
    if "surface" in given:
        return {"impact_factor": impact_factor(given["cover_m"])}
    if "K_mu" in given:
        found = marston_load(
            given["gamma_kN_m3"],
            given["cover_m"],
            trench_width_m=given["trench_width_m"],
            pipe_diameter_m=given["pipe_OD_m"],
            k_mu=given["K_mu"],
        )
        return {
            "Cd": found.cd,
            "W_rigid_kN_per_m": found.rigid_kN_m,
            "W_prism_kN_per_m": found.prism_kN_m,
        }
    load = {"offset_m": given["offset_m"]}
    return {
        "p_static_kPa": surface_load_on_pipe_kPa(given["P_kN"], given["cover_m"], **load),
        "p_live_kPa": surface_load_on_pipe_kPa(
            given["P_kN"], given["cover_m"], **load, impact=given["impact_factor"]
        ),
    }


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_matches_the_published_value(case: dict, agrees: Callable[..., None]) -> None:
    agrees(case, results(case))
