"""Leg shares and resultant against rows worked by quadratic programme."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from liftcalc.base.units import G_M_S2
from liftcalc.crane.legs import LEG_NAMES, base_polygon
from liftcalc.crane.masses import MachineMasses, straight_boom
from liftcalc.reactions.moments import boom_side_share, leg_shares, resultant, side_shares

CASES = [json.loads(line) for line in (Path(__file__).parent / "cases" / "moments.jsonl").read_text().splitlines()]


SHARES = [c for c in CASES if c["topic"] == "leg_reaction"]
SIDES = [c for c in CASES if c["topic"] == "side_share"]
SIDE_NAMES = ("front", "rear", "left", "right")
BACKWARD = [c for c in CASES if c["topic"] == "backward"]


def crane(given: dict) -> tuple:
    base = base_polygon(np.column_stack([given["leg_x_m"], given["leg_y_m"]]))
    masses = MachineMasses(
        given["carrier_mass_t"],
        given["carrier_cg_x_m"],
        given["carrier_cg_y_m"],
        given["superstructure_mass_t"],
        given["superstructure_cg_radius_m"],
    )
    boom = straight_boom(
        [given["load_radius_m"]],
        given["boom_length_m"],
        mass_t=given["boom_mass_t"],
        cg_from_foot_m=given["boom_cg_from_foot_m"],
        foot_u_m=given["boom_foot_radius_m"],
    )
    return base, masses, boom


@pytest.mark.parametrize("case", SIDES, ids=[c["id"] for c in SIDES])
def test_side_share_row(case: dict) -> None:
    given, expected = case["inputs"], case["expected"]
    base, masses, boom = crane(given)
    found = side_shares(given["slew_deg"], boom, base=base, masses=masses, load_t=given["hook_load_t"])
    assert found[0, 0] == pytest.approx(expected["side_share_ratio"], abs=case["rel_tol"])
    assert SIDE_NAMES[np.argmin(found[0, 0])] == expected["least_side"]


@pytest.mark.parametrize("case", BACKWARD, ids=[c["id"] for c in BACKWARD])
def test_backward_row(case: dict) -> None:
    given, expected = case["inputs"], case["expected"]
    base, masses, boom = crane(given)
    at = resultant(given["slew_deg"], boom, base=base, masses=masses)
    share = boom_side_share(given["slew_deg"], boom, base=base, masses=masses)
    slew = np.radians(given["slew_deg"])
    found = {
        "boom_side_share_ratio": share[0, 0],
        "offset_m": -(at.x_m[0, 0] * np.cos(slew) + at.y_m[0, 0] * np.sin(slew)),
        "margin_m": at.margin_m[0, 0],
    }
    for name, value in expected.items():
        assert found[name] == pytest.approx(value, abs=case["rel_tol"]), name


@pytest.mark.parametrize("case", SHARES, ids=[c["id"] for c in SHARES])
def test_leg_shares_row(case: dict) -> None:
    given, expected = case["inputs"], case["expected"]
    base = base_polygon(np.column_stack([given["leg_x_m"], given["leg_y_m"]]))
    if "carrier_mass_t" in given:
        _, masses, boom = crane(given)
        state = {"base": base, "masses": masses, "load_t": given["hook_load_t"]}
        at = resultant(given["slew_deg"], boom, **state)
        assert at.total_t[0, 0] * G_M_S2 == pytest.approx(expected["total_vertical_kN"], rel=1e-8)
        assert at.x_m[0, 0] == pytest.approx(expected["resultant_x_m"], abs=1e-8)
        if "resultant_y_m" in expected:
            assert at.y_m[0, 0] == pytest.approx(expected["resultant_y_m"], abs=1e-8)
        shares = side_shares(given["slew_deg"], boom, **state)
        vertical = float(at.total_t[0, 0]) * G_M_S2
        share = leg_shares(at.x_m[0, 0], at.y_m[0, 0], base=base)
        assert shares[0, 0] == pytest.approx([share[:2].sum(), share[2:].sum(), share[[0, 3]].sum(), share[1:3].sum()])
    else:
        vertical = given["total_vertical_kN"]
        share = leg_shares(given["resultant_x_m"], given["resultant_y_m"], base=base)
    reaction = vertical * share
    wanted = np.array(expected["leg_reaction_kN"])
    tol = max(case["rel_tol"], 1e-8) * wanted.max()
    assert reaction == pytest.approx(wanted, abs=tol)
    assert {LEG_NAMES[i] for i in np.flatnonzero(share < 1e-9)} == set(expected["lifted_legs"])
