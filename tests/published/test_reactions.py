"""Published rows for leg reactions, worst leg and first estimates (cases/reactions.jsonl)."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from liftcalc.reactions.carrier import leg_reactions_kN, resultant
from liftcalc.reactions.envelope import (
    first_estimate_leg_load_t,
    reaction_envelope,
    worst_slew_rectangle,
)

CASES = Path(__file__).parent / "cases" / "reactions.jsonl"
ROWS = [json.loads(line) for line in CASES.read_text(encoding="utf-8").splitlines()]


def by_slew(r, i):
    """Weights and places of an invented crane given by masses and radii."""
    slew = np.radians(i["slew_deg"])
    along = np.array([np.cos(slew), np.sin(slew)])
    reach = i["load_radius_m"] - i["boom_foot_radius_m"]
    boom_radius = i["boom_foot_radius_m"] + i["boom_cg_from_foot_m"] * reach / i["boom_length_m"]
    masses = [i["carrier_mass_t"], i["superstructure_mass_t"], i["boom_mass_t"], i["hook_load_t"]]
    places = [
        [i["carrier_cg_x_m"], i["carrier_cg_y_m"]],
        i["superstructure_cg_radius_m"] * along,
        boom_radius * along,
        i["load_radius_m"] * along,
    ]
    res = resultant(np.multiply(masses, i["g_m_s2"]), places)
    got = leg_reactions_kN(
        res.vertical_kN,
        res.xy_m,
        leg_xy_m=np.c_[i["leg_x_m"], i["leg_y_m"]],
        leg_stiffness_kN_m=i["leg_stiffness_kN_m"],
    )
    return {
        "total_vertical_kN": res.vertical_kN,
        "resultant_x_m": res.xy_m[0],
        "resultant_y_m": res.xy_m[1],
        "leg_reaction_kN": got.reaction_kN,
        "lifted_legs": [n for n, up in zip(i["leg_names"], got.lifted, strict=True) if up],
    }


def by_resultant(r, i):
    """Everything the row may ask of a stated force and its place."""
    legs = np.c_[i["leg_x_m"], i["leg_y_m"]]
    state = {
        "vertical_kN": i["total_vertical_kN"],
        "resultant_xy_m": (i["resultant_x_m"], i["resultant_y_m"]),
        "leg_xy_m": legs,
    }
    k = i.get("leg_stiffness_kN_m")
    if "carrier_torsion_GJ_kNm2" in i:
        k_t = i["carrier_torsion_GJ_kNm2"] / (legs[0, 0] - legs[2, 0])
        got = leg_reactions_kN(
            **state, leg_stiffness_kN_m=k, carrier="stiffness", torsional_stiffness_kNm_rad=k_t
        )
    else:
        got = leg_reactions_kN(**state, leg_stiffness_kN_m=k)
    names = i["leg_names"]
    answer = {
        "leg_reaction_kN": got.reaction_kN,
        "lifted_legs": [n for n, up in zip(names, got.lifted, strict=True) if up],
        "max_leg": names[int(got.worst_leg)],
        "bilateral_reaction_kN": got.bilateral_kN,
        "rebalanced_reaction_kN": got.reaction_kN,
        "max_leg_reaction_kN": got.worst_kN,
        "max_leg_share_ratio": got.worst_share,
        "rule_of_thumb_65_percent_kN": first_estimate_leg_load_t(
            i["total_vertical_kN"] / 2, i["total_vertical_kN"] / 2
        ),
    }
    answer["rule_is_conservative"] = bool(
        answer["rule_of_thumb_65_percent_kN"] >= answer["max_leg_reaction_kN"]
    )
    if "slew_axis_x_m" in i:
        env = reaction_envelope(**state, slew_x_m=i["slew_axis_x_m"], leg_stiffness_kN_m=k)
        flexible, rigid = env.by_carrier["flexible"], env.by_carrier["rigid"]
        answer |= {
            "front_beam_load_kN": flexible.front_beam_kN,
            "rear_beam_load_kN": flexible.rear_beam_kN,
            "front_side_moment_kNm": flexible.front_side_moment_kNm,
            "rear_side_moment_kNm": flexible.rear_side_moment_kNm,
            "flexible_carrier_reaction_kN": flexible.reaction_kN,
            "flexible_limit_kN": flexible.reaction_kN,
            "rigid_carrier_reaction_kN": rigid.reaction_kN,
            "rigid_limit_kN": rigid.reaction_kN,
        }
    return answer


def by_springs(r, i):
    """Ground rows: stiffness in N/m, settlements asked for too."""
    got = leg_reactions_kN(
        i["V_kN"],
        (i["load_x_m"], i["load_y_m"]),
        leg_xy_m=np.c_[i["leg_x_m"], i["leg_y_m"]],
        leg_stiffness_kN_m=np.divide(i["k_N_per_m"], 1e3),
    )
    return {
        "R_kN": got.reaction_kN,
        "w_down_mm": 1e3 * got.settlement_m,
        "legs_lifted": int(got.lifted.sum()),
    }


def by_worst_slew(r, i):
    """Closed form, and the same found by scanning the general function."""
    worst = worst_slew_rectangle(
        i["total_vertical_kN"],
        i["superstructure_moment_kNm"],
        base_length_m=i["base_length_m"],
        base_width_m=i["base_width_m"],
    )
    slew = np.linspace(0.0, 90.0, 9001)
    arm = i["superstructure_moment_kNm"] / i["total_vertical_kN"]
    x, y = i["base_length_m"] / 2, i["base_width_m"] / 2
    scan = reaction_envelope(
        i["total_vertical_kN"],
        arm * np.c_[np.cos(np.radians(slew)), np.sin(np.radians(slew))],
        leg_xy_m=[[x, y], [x, -y], [-x, -y], [-x, y]],
        carriers=("rigid",),
    )
    assert scan.worst_leg == 0
    assert slew[scan.worst_state] == pytest.approx(float(worst.slew_deg), abs=0.02)
    assert scan.worst_kN == pytest.approx(float(worst.max_leg_reaction_kN), rel=1e-6)
    return {
        "worst_slew_from_front_deg": worst.slew_deg,
        "corner_bearing_deg": worst.corner_bearing_deg,
        "max_leg_reaction_kN": worst.max_leg_reaction_kN,
        "reaction_with_boom_over_leg_kN": worst.over_leg_reaction_kN,
    }


def hibbeler_state(i, angle_deg):
    """Two outriggers at A and two at B; B ahead (+x), truck as a straight carrier."""
    half = i["support_spacing_m"] / 2
    boom = np.sin(np.radians(angle_deg))
    truck = half - i["truck_cg_from_B_m"]
    foot = half - i["boom_pivot_from_B_m"]
    force = np.multiply(
        [i["crane_and_truck_mass_t"], i["boom_mass_t"], i["load_mass_t"]], i["g_m_s2"]
    )
    x = [truck, foot + i["boom_cg_along_boom_m"] * boom, foot + i["boom_length_m"] * boom]
    res = resultant(force, np.c_[x, np.zeros(3)])
    legs = [[half, 1.0], [half, -1.0], [-half, -1.0], [-half, 1.0]]
    return leg_reactions_kN(res.vertical_kN, res.xy_m, leg_xy_m=legs)


def by_textbook(r, i):
    if "boom_angle_from_vertical_deg" in i:
        got = hibbeler_state(i, i["boom_angle_from_vertical_deg"])
        return {
            "reaction_each_leg_A_kN": got.reaction_kN[2],
            "reaction_each_leg_B_kN": got.reaction_kN[0],
        }
    low, high = 0.0, 90.0
    while high - low > 1e-6:
        mid = 0.5 * (low + high)
        low, high = (low, mid) if hibbeler_state(i, mid).unstable else (mid, high)
    return {"tipping_boom_angle_from_vertical_deg": 0.5 * (low + high)}


def by_first_estimate(r, i):
    leg = first_estimate_leg_load_t(i["crane_mass_t"], i["load_and_rigging_mass_t"])
    area = leg / i["allowed_ground_pressure_t_m2"]
    return {"max_outrigger_load_t": leg, "min_area_m2": area, "min_square_side_m": np.sqrt(area)}


def solve(row):
    i = row["inputs"]
    if "V_kN" in i:
        return by_springs(row, i)
    if "carrier_mass_t" in i:
        return by_slew(row, i)
    if "base_length_m" in i:
        return by_worst_slew(row, i)
    if "support_spacing_m" in i:
        return by_textbook(row, i)
    if "load_and_rigging_mass_t" in i:
        return by_first_estimate(row, i)
    return by_resultant(row, i)


@pytest.mark.parametrize("row", ROWS, ids=[r["id"] for r in ROWS])
def test_published_row(row):
    answer = solve(row)
    for name, expected in row["expected"].items():
        got = answer[name]
        if name == "lifted_legs":
            assert set(got) == set(expected), name
        elif isinstance(expected, str | bool):
            assert got == expected, name
        else:
            size = np.max(np.abs(expected))
            assert np.max(np.abs(np.subtract(got, expected))) <= row["rel_tol"] * size, name


def test_rows_are_all_there():
    assert len(ROWS) == 38
    assert len({r["id"] for r in ROWS}) == len(ROWS)
