"""Hoisting, slewing and gross load rows against standards and Newton."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from liftcalc.base.units import G_M_S2
from liftcalc.dynamics.gross import gross_load_t
from liftcalc.dynamics.hoisting import hoist_factor, slewing_effect

ROWS = [json.loads(line) for line in (Path(__file__).parent / "cases" / "dynamics.jsonl").read_text().splitlines()]


def test_row_count() -> None:
    assert len(ROWS) == 11


def _hoist(given: dict[str, Any]) -> dict[str, float]:
    speed = given.get("hoist_speed_m_s", given.get("steady_creep_speed_m_s"))
    out = hoist_factor(speed, given["hoisting_class"])
    load = given.get("hoist_load_t", 1.0)
    gross = gross_load_t(load, dynamic_factor=out.phi2)
    return {
        "phi2_min": out.phi2_min,
        "beta2_s_m": out.beta2_s_m,
        "phi2": float(out.phi2),
        "dynamic_hook_load_t": float(gross.dynamic_gross_t),
    }


def _gross(given: dict[str, Any]) -> dict[str, Any]:
    out = gross_load_t(
        given["load_t"],
        rigging_t=given["slings_t"] + given["shackles_t"] + given["spreader_t"],
        hook_block_t=given["hook_block_t"],
        rope_t=given["rope_below_head_t"],
        other_t=given["stowed_jib_effect_t"],
    )
    used = float(out.static_gross_t) / given["chart_capacity_t"]
    return {"gross_load_t": float(out.static_gross_t), "capacity_used_ratio": used, "within_chart": used <= 1.0}


def _got(given: dict[str, Any]) -> dict[str, Any]:
    if "hoisting_class" in given:
        return _hoist(given)
    if "slings_t" in given:
        return _gross(given)
    slew = slewing_effect(
        given.get("load_t", 1.0),
        given["load_radius_m"],
        slew_speed_rev_min=given["slew_speed_rev_min"],
        rope_length_m=given.get("rope_length_m", given.get("conical_pendulum_rope_m", 20.0)),
        acceleration_time_s=given.get("acceleration_time_s"),
    )
    return {
        "equilibrium_angle_deg": float(slew.equilibrium_angle_deg),
        "tangential_force_kN": float(slew.side_load_ratio) * given.get("load_t", 1.0) * G_M_S2 / 2,
        "tangential_angle_deg": float(slew.peak_tangential_angle_deg) / 2,
    }


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_row(row: dict[str, Any]) -> None:
    assert row["inputs"].get("g_m_s2", G_M_S2) == G_M_S2
    got, want = _got(row["inputs"]), row["expected"]
    for name, value in want.items():
        if isinstance(value, bool):
            assert got[name] is value
        else:
            assert got[name] == pytest.approx(value, rel=max(row["rel_tol"], 1e-9), abs=1e-9)
