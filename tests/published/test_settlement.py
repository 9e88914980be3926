"""Settlement and subgrade reaction: closed forms, tables and worked examples."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from liftcalc.ground.beam import subgrade_modulus_vesic_kN_m3
from liftcalc.ground.stress import elastic_settlement_m, half_space_factor

CASES = [json.loads(line) for line in (Path(__file__).parent / "cases" / "settlement.jsonl").read_text().splitlines()]


def spring(given: dict) -> dict:
    ks = subgrade_modulus_vesic_kN_m3(
        given["Es_kPa"], given["B_m"], stiffness_kNm2=given["EI_kNm2"], poisson=given["poisson"]
    )
    return {"ks_kN_m3": ks, "ks_times_B_kPa": ks * given["B_m"]}


def elastic(given: dict, wanted: dict) -> dict:
    def settle(position: str) -> float:
        return elastic_settlement_m(
            given["q_kPa"],
            given["E_kPa"],
            length_m=given["L_m"],
            width_m=given["B_m"],
            poisson=given.get("poisson", given.get("nu")),
            position=position,
        )

    if "settlement_centre_flexible_m" in wanted:
        return {"settlement_centre_flexible_m": settle("centre")}
    out = {"s_centre_mm": 1000.0 * settle("centre")}
    return out | ({"s_corner_mm": 1000.0 * settle("corner")} if "s_corner_mm" in wanted else {})


def results(case: dict) -> dict:
    given, wanted, name = case["inputs"], case["expected"], case["id"]
    if name.startswith("ks-"):
        return spring(given)
    if "L_over_B" in given:
        return {f"Cd_{where}": half_space_factor(given["L_over_B"], where) for where in ("centre", "corner", "average")}
    return elastic(given, wanted)


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_matches_the_published_value(case: dict, agrees: Callable[..., None]) -> None:
    agrees(case, results(case))
