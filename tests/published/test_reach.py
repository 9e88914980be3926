"""Legs under wind from any side and a lean toward any side: statics of a rectangle by hand."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from liftcalc.crane.legs import LEG_NAMES, base_polygon
from liftcalc.crane.masses import BoomState, MachineMasses
from liftcalc.lift import leg_forces
from liftcalc.reactions.carrier import carrier_supports
from liftcalc.reactions.envelope import reach_envelope

CASES = [json.loads(line) for line in (Path(__file__).parent / "cases" / "reach.jsonl").read_text().splitlines()]


def on_legs(given: dict) -> dict:
    """A rigid carrier, so that the closed form of a plate on four springs holds."""
    found = reach_envelope(
        carrier_supports(given["leg_xy_m"], None, carriers=("rigid",)),
        [given["vertical_kN"]],
        [given["resultant_xy_m"]],
        reach_m=[given["reach_m"]],
    )
    return {
        "reaction_kN": found.reaction_kN[0],
        "legs_lifted": ",".join(n for n, up in zip(LEG_NAMES, found.lifted[0], strict=True) if up),
        "unstable": bool(found.unstable[0]),
    }


def leaning(given: dict, monkeypatch: pytest.MonkeyPatch) -> dict:
    """Weights and wind as the row states them in place of a machine's facts."""
    one = np.ones(1)
    boom = BoomState(
        radius_m=given["radius_m"] * one, mass_t=given["boom_t"], u_m=given["boom_u_m"] * one,
        head_mass_t=0.0, z_m=given["boom_z_m"] * one, head_z_m=given["head_z_m"] * one,
        angle_deg=60.0 * one,
    )  # fmt: skip
    wind = SimpleNamespace(
        boom_force_kN=given["boom_wind_kN"], boom_z_m=given["boom_wind_z_m"],
        superstructure_force_kN=given["body_wind_kN"], superstructure_z_m=given["body_wind_z_m"],
        load_force_kN=given["load_wind_kN"],
    )  # fmt: skip
    monkeypatch.setattr(leg_forces, "boom_states", lambda *_: boom)
    monkeypatch.setattr(leg_forces, "wind_terms", lambda *_: wind)
    setup = SimpleNamespace(
        machine=SimpleNamespace(hook_block=lambda _: SimpleNamespace(mass_t=given["block_t"])),
        boom=None,
        lift=SimpleNamespace(hook_block=""),
        base=base_polygon([[4.0, 3.0], [4.0, -3.0], [-4.0, -3.0], [-4.0, 3.0]]),
        masses=MachineMasses(
            given["carrier_t"], 0.0, 0.0, given["slewing_t"], 0.0,
            carrier_z_m=given["carrier_z_m"], slewing_z_m=given["slewing_z_m"],
        ),
        tilt_any_percent=100 * np.tan(np.radians(given["lean_deg"])),
    )  # fmt: skip
    vertical, at, reach = leg_forces.weight_on_base(setup, 0.0, given["radius_m"], load_t=given["load_t"])
    return {"vertical_kN": vertical[0], "resultant_x_m": at[0, 0], "reach_m": reach[0]}


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_matches_the_published_value(case: dict, agrees: Callable[..., None], monkeypatch: pytest.MonkeyPatch) -> None:
    given = case["inputs"]
    agrees(case, leaning(given, monkeypatch) if case["topic"] == "lean" else on_legs(given))
