"""Leg shares and resultant against rows worked by quadratic programme."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from liftcalc.legs import LEG_NAMES, base_polygon
from liftcalc.masses import MachineMasses, straight_boom
from liftcalc.moments import leg_shares, resultant, side_shares
from liftcalc.units import G_M_S2

CASES = [
    json.loads(line)
    for line in (Path(__file__).parent / "cases" / "moments.jsonl").read_text().splitlines()
]


@pytest.mark.parametrize("case", CASES, ids=[c["id"] for c in CASES])
def test_leg_shares_row(case: dict) -> None:
    given, expected = case["inputs"], case["expected"]
    base = base_polygon(np.column_stack([given["leg_x_m"], given["leg_y_m"]]))
    if "carrier_mass_t" in given:
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
        state = {"base": base, "masses": masses, "load_t": given["hook_load_t"]}
        at = resultant(given["slew_deg"], boom, **state)
        assert at.total_t[0, 0] * G_M_S2 == pytest.approx(expected["total_vertical_kN"], rel=1e-8)
        assert at.x_m[0, 0] == pytest.approx(expected["resultant_x_m"], abs=1e-8)
        if "resultant_y_m" in expected:
            assert at.y_m[0, 0] == pytest.approx(expected["resultant_y_m"], abs=1e-8)
        shares = side_shares(given["slew_deg"], boom, **state)
        vertical, share = float(at.total_t[0, 0]) * G_M_S2, shares.leg_share[0, 0]
        assert shares.side_share[0, 0] == pytest.approx(
            [share[:2].sum(), share[2:].sum(), share[[0, 3]].sum(), share[1:3].sum()]
        )
    else:
        vertical = given["total_vertical_kN"]
        share = leg_shares(given["resultant_x_m"], given["resultant_y_m"], base=base)
    reaction = vertical * share
    wanted = np.array(expected["leg_reaction_kN"])
    tol = max(case["rel_tol"], 1e-8) * wanted.max()
    assert reaction == pytest.approx(wanted, abs=tol)
    assert {LEG_NAMES[i] for i in np.flatnonzero(share < 1e-9)} == set(expected["lifted_legs"])
