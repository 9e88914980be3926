"""Outriggers and carrier against the chart's own base: a rigid rectangle by hand."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from liftcalc.base.units import G_M_S2
from liftcalc.crane.chart import ChartTable
from liftcalc.crane.legs import base_polygon
from liftcalc.crane.sectors import CARRIED
from liftcalc.lift import chart_forces

CASES = [json.loads(line) for line in (Path(__file__).parent / "cases" / "chart_forces.jsonl").read_text().splitlines()]
NAMES = {"chart-outrigger-force": "outrigger", "chart-outrigger-beam": "beam", "chart-carrier-twist": "twist"}


def corners(base_m: list[float]) -> np.ndarray:
    return np.array([[1, 1], [1, -1], [-1, -1], [-1, 1]]) * np.array(base_m) / 2


def results(given: dict, monkeypatch: pytest.MonkeyPatch) -> dict:
    """The machine's weight stands in the middle of the base; only the load turns."""

    def weight_on_base(_: Any, slew_deg: Any, radius_m: Any, *, load_t: Any) -> Any:
        force = given["machine_kN"] + G_M_S2 * load_t + 0.0 * slew_deg
        arm = G_M_S2 * load_t * radius_m / force
        turn = np.radians(slew_deg)
        at = np.stack([arm * np.cos(turn), arm * np.sin(turn)], axis=-1)
        return force, at, np.full(force.shape, given["reach_m"])

    monkeypatch.setattr(chart_forces, "weight_on_base", weight_on_base)
    radius = given["radius_m"]
    chart = ChartTable(
        "invented", np.array([20.0]), np.array([radius]), np.array([[given["rated_t"]]]),
        base_polygon(corners(given["chart_base_m"])), sector_deg=tuple(given["sector_deg"]),
    )  # fmt: skip
    leg = SimpleNamespace(stiffness_kN_m=given["leg_stiffness_kN_m"])
    setup = SimpleNamespace(
        machine=SimpleNamespace(
            legs=[leg] * 4, carrier=SimpleNamespace(width_m=given["carrier_width_m"]), interpolation_allowed=False
        ),
        gross=SimpleNamespace(dynamic_factor=given["dynamic_factor"]),
        gross_t=given["gross_t"],
        leg_xy_m=corners(given["base_m"]),
        base=base_polygon(corners(given["base_m"])),
        tables=(chart,),
        boom=SimpleNamespace(length_m=20.0, radius_min_m=2.0, radius_max_m=18.0),
        confirmations=(),
    )
    study = SimpleNamespace(
        capacity=SimpleNamespace(source=np.array([CARRIED]), chart=np.array([0]), radius_m=np.array([radius])),
        path=SimpleNamespace(slew_deg=np.array([given["slew_deg"]]), describe=str),
    )
    found = {}
    for row in chart_forces.chart_force_checks(setup, study):
        name = NAMES[row.id]
        found |= {f"{name}_value": row.value, f"{name}_limit": row.limit, f"{name}_over": row.status == "over"}
    return found


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_matches_the_published_value(case: dict, agrees: Callable[..., None], monkeypatch: pytest.MonkeyPatch) -> None:
    agrees(case, results(case["inputs"], monkeypatch))
