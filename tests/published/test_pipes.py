"""Loads on buried pipes, culverts and slabs: surface load with impact, mats."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from liftcalc.ground.pipes import impact_factor, service_load, slab_force_kN
from liftcalc.ground.stress import MatsInPlan, rectangle_stress_kPa

CASES = [json.loads(line) for line in (Path(__file__).parent / "cases" / "pipes.jsonl").read_text().splitlines()]


def results(case: dict) -> dict:
    given = case["inputs"]
    if case["topic"] in ("service", "slab"):
        rest = dict(given)
        mats = MatsInPlan(
            x_m=np.array(rest.pop("leg_x_m")),
            y_m=np.array(rest.pop("leg_y_m")),
            length_m=rest.pop("length_m"),
            width_m=rest.pop("width_m"),
            orientation_deg=rest.pop("orientation_deg", 0.0),
        )
        q, cover = rest.pop("pressure_kPa"), rest.pop("cover_m")
        if case["topic"] == "slab":
            force = slab_force_kN(q, cover, mats=mats, **rest)
            (x0, x1), (y0, y1) = given["slab_x_m"], given["slab_y_m"]
            mean = force / ((x1 - x0) * (y1 - y0)) - given["unit_weight_kN_m3"] * cover
            return {"live_mean_kPa": mean, "total_force_kN": force}
        limit, width = rest.pop("limit_kPa", np.nan), rest.get("diameter_m", np.nan)
        found = vars(service_load(q, cover, mats=mats, **rest))
        total = found["total_kPa"]
        return found | {
            "soil_kPa": total - found["live_kPa"],
            "line_load_kN_m": total * width,
            "utilisation": total / limit,
            "within_limit": bool(np.all(total <= limit)),
        }
    if "surface" in given:
        return {"impact_factor": impact_factor(given["cover_m"])}
    # a mat of half a millimetre is a point load
    point = {"length_m": 5e-4, "width_m": 5e-4, "x_m": given["offset_m"]}
    static = rectangle_stress_kPa(given["P_kN"] / 2.5e-7, given["cover_m"], **point)
    return {"p_static_kPa": static, "p_live_kPa": static * given["impact_factor"]}


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_matches_the_published_value(case: dict, agrees: Callable[..., None]) -> None:
    agrees(case, results(case))
