"""Dip and rise of what hangs on a swung rope: pendulum geometry."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from liftcalc.clearance.crane_bodies import HungLoad, swing_dip_m, swing_rise_m

CASES = [json.loads(line) for line in (Path(__file__).parent / "cases" / "hung.jsonl").read_text().splitlines()]


def results(case: dict) -> dict:
    given = dict(case["inputs"])
    if case["topic"] == "low":
        head = given.pop("head_above_base_m")
        return {"low_m": HungLoad(**given).low_m(head)}
    at, swing = (given["reach_m"], given["depth_m"]), given["swing_deg"]
    return {"dip_m": swing_dip_m(*at, swing_deg=swing), "rise_m": swing_rise_m(*at, swing_deg=swing)}


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_matches_the_published_value(case: dict, agrees: Callable[..., None]) -> None:
    agrees(case, results(case))
