"""Published rows for leg reactions, worst leg and first estimates (cases/reactions.jsonl)."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from liftcalc.reactions.carrier import carrier_supports, leg_reactions_kN, reactions_on
from liftcalc.reactions.contact import bilateral_kN
from liftcalc.reactions.envelope import slew_envelope

CASES = Path(__file__).parent / "cases" / "reactions.jsonl"
ROWS = [json.loads(line) for line in CASES.read_text(encoding="utf-8").splitlines()]


def resultant(force_kN, places_m):
    """Sum of the forces and where it acts."""
    force, places = np.array(force_kN), np.array(places_m)
    return force.sum(), force @ places / force.sum()


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
    vertical, at = resultant(np.multiply(masses, i["g_m_s2"]), places)
    got = leg_reactions_kN(
        vertical, at, leg_xy_m=np.c_[i["leg_x_m"], i["leg_y_m"]], leg_stiffness_kN_m=i["leg_stiffness_kN_m"]
    )
    return {
        "total_vertical_kN": vertical,
        "resultant_x_m": at[0],
        "resultant_y_m": at[1],
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
        got = leg_reactions_kN(**state, leg_stiffness_kN_m=k, carrier="stiffness", torsional_stiffness_kNm_rad=k_t)
    else:
        got = leg_reactions_kN(**state, leg_stiffness_kN_m=k)
    names = i["leg_names"]
    answer = {
        "leg_reaction_kN": got.reaction_kN,
        "lifted_legs": [n for n, up in zip(names, got.lifted, strict=True) if up],
        "max_leg": names[int(got.reaction_kN.argmax())],
        "bilateral_reaction_kN": bilateral_kN(got.supports, got.force)[:, 0],
        "rebalanced_reaction_kN": got.reaction_kN,
        "max_leg_reaction_kN": got.worst_kN,
        "max_leg_share_ratio": got.worst_kN / i["total_vertical_kN"],
    }
    if "slew_axis_x_m" in i:
        supports = carrier_supports(legs, k, carriers=("rigid", "flexible"), slew_x_m=i["slew_axis_x_m"])
        models = reactions_on(supports, state["vertical_kN"], state["resultant_xy_m"], stiffness_given=False)
        flexible, rigid = models["flexible"], models["rigid"]
        answer |= {
            "front_beam_load_kN": flexible.reaction_kN[:2].sum(),
            "rear_beam_load_kN": flexible.reaction_kN[2:].sum(),
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
    return {"R_kN": got.reaction_kN, "w_down_mm": 1e3 * got.settlement_m, "legs_lifted": int(got.lifted.sum())}


def by_worst_slew(r, i):
    """Full turn on a rectangle; the boom over the leg as a state of its own."""
    x, y = i["base_length_m"] / 2, i["base_width_m"] / 2
    legs = [[x, y], [x, -y], [-x, -y], [-x, y]]
    rigid = carrier_supports(legs, None, carriers=("rigid",))
    moment, vertical = i["superstructure_moment_kNm"], i["total_vertical_kN"]
    turn = slew_envelope(vertical, moment, supports=rigid)
    over_leg = moment / vertical * np.array([x, y]) / np.hypot(x, y)
    return {
        "worst_slew_from_front_deg": turn.max_slew_deg[0],
        "corner_bearing_deg": np.degrees(np.arctan2(y, x)),
        "max_leg_reaction_kN": turn.envelope.worst_kN,
        "reaction_with_boom_over_leg_kN": leg_reactions_kN(vertical, over_leg, leg_xy_m=legs).worst_kN,
    }


def hibbeler_state(i, angle_deg):
    """Two outriggers at A and two at B; B ahead (+x), truck as a straight carrier."""
    half = i["support_spacing_m"] / 2
    boom = np.sin(np.radians(angle_deg))
    truck = half - i["truck_cg_from_B_m"]
    foot = half - i["boom_pivot_from_B_m"]
    force = np.multiply([i["crane_and_truck_mass_t"], i["boom_mass_t"], i["load_mass_t"]], i["g_m_s2"])
    x = [truck, foot + i["boom_cg_along_boom_m"] * boom, foot + i["boom_length_m"] * boom]
    vertical, at = resultant(force, np.c_[x, np.zeros(3)])
    legs = [[half, 1.0], [half, -1.0], [-half, -1.0], [-half, 1.0]]
    return leg_reactions_kN(vertical, at, leg_xy_m=legs)


def by_textbook(r, i):
    if "boom_angle_from_vertical_deg" in i:
        got = hibbeler_state(i, i["boom_angle_from_vertical_deg"])
        return {"reaction_each_leg_A_kN": got.reaction_kN[2], "reaction_each_leg_B_kN": got.reaction_kN[0]}
    low, high = 0.0, 90.0
    while high - low > 1e-6:
        mid = 0.5 * (low + high)
        low, high = (low, mid) if hibbeler_state(i, mid).unstable else (mid, high)
    return {"tipping_boom_angle_from_vertical_deg": 0.5 * (low + high)}


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
            # a turn is scanned to a hundredth of a degree
            step = 0.01 if name == "worst_slew_from_front_deg" else 0.0
            assert np.max(np.abs(np.subtract(got, expected))) <= row["rel_tol"] * size + step, name


def test_rows_are_all_there():
    assert len(ROWS) == 36
    assert len({r["id"] for r in ROWS}) == len(ROWS)
