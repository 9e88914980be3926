"""Boom rows: published formulas with numbers, and plane geometry worked elsewhere."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from liftcalc.clearance.bodies import bent_boom
from liftcalc.crane.boom import boom_pose, fixed_jib_pose, head_reduced_mass_t, luffing_jib_pose
from liftcalc.crane.boom_bending import LoadedBoom, bow_share, cantilever_tip_deflection_m, deflected_boom, loaded_boom
from liftcalc.crane.hook_room import hook_room
from liftcalc.crane.masses import straight_boom

CASES = [json.loads(line) for line in (Path(__file__).parent / "cases" / "boom.jsonl").read_text().splitlines()]
ELSEWHERE = dict.fromkeys(
    (
        *("static_test_load_t", "tipping_load_t", "tipping_edge", "rated_85pct_t"),
        *("rated_iso_static_t", "top_sling_tension_kN", "spreader_compression_kN"),
        *("bottom_sling_tension_kN", "top_sling_length_m"),
    ),
    "compared in the row of the same id of stability.jsonl or rigging.jsonl",
)


def inside(axis_m: list, bend: LoadedBoom, half_m: float) -> bool:
    """Whether a section of this half width along the axis (u, z) lies in the members of a boom."""
    members = bent_boom(
        np.zeros((1, 3)), np.zeros(1), chord_m=bend.chord_m, chord_deg=bend.chord_deg,
        tip_m=bend.tip_m, half_width_m=half_m,
    )  # fmt: skip
    at = np.insert(np.array(axis_m), 1, 0.0, axis=1)
    gaps = []
    for m in members:
        along = m.end_m[0] - m.start_m[0]
        t = np.clip((at - m.start_m[0]) @ along / (along @ along), 0.0, 1.0)
        nearest = m.start_m[0] + t[:, None] * along
        gaps.append(np.linalg.norm(at - nearest, axis=1) - m.half_width_m[0])
    return bool(np.all(np.min(gaps, axis=0) <= -half_m + 1e-6))


def below(axis_m: list, bend: LoadedBoom) -> bool:
    """Whether an axis (u, z) of the empty boom lies nowhere above the shape that is taken."""
    axis, angle = np.array(axis_m), np.radians(bend.empty_chord_deg[0])
    along, up = axis @ [np.cos(angle), np.sin(angle)], axis @ [-np.sin(angle), np.cos(angle)]
    share = np.clip(along / bend.empty_chord_m[0], 0.0, 1.0)
    return bool(np.all(up <= bow_share(share) * bend.empty_tip_m[0] + 1e-6))


def bent(case: dict) -> dict:
    given, expected = dict(case["inputs"]), case["expected"]
    half, axis, empty = (given.pop(k, None) for k in ("half_width_m", "axis_m", "empty_axis_m"))
    bend = loaded_boom(given.pop("length_m"), given.pop("loaded_radius_m"), **given)
    if axis is None:
        return {"chord_m": bend.chord_m[0], "chord_deg": bend.chord_deg[0]}
    heads = [length[0] * np.exp(1j * np.radians(angle[0])) for _, length, angle in (bend.eased(0.0), bend.eased(1.0))]
    up = abs(heads[1] - heads[0])
    return {
        "tip_m": bend.tip_m[0],
        "spring_up_m": up,
        "tip_no_less": bool(bend.tip_m[0] >= expected["tip_m"]),
        "spring_up_no_less": bool(up >= expected["spring_up_m"]),
        "axis_inside": inside(axis, bend, half),
        "empty_axis_below": below(empty, bend),
    }


def results(case: dict) -> dict:
    given = case["inputs"]
    match case["topic"]:
        case "beam":
            rest = dict(given)
            length, stiffness = rest.pop("length_m"), rest.pop("bending_stiffness_kNm2")
            return {"tip_deflection_m": cantilever_tip_deflection_m(length, stiffness, **rest)}
        case "loaded_boom" | "loaded_chord":
            return bent(case)
        case "deflected_boom":
            rest = dict(given)
            grown = deflected_boom(rest.pop("length_m"), rest.pop("straight_radius_m"), **rest)
            growth = float(grown.radius_growth_m)
            no_less = growth >= case["expected"]["radius_growth_m"]
            return {"radius_growth_m": growth, "growth_no_less": no_less}
        case "bow":
            bow = float(bow_share(given["position"]))
            covers = bow >= max(given["rise_end_load"], given["rise_uniform_load"])
            return {"bow_share": bow, "covers_beam_shapes": covers}
        case "triangle":
            pose = boom_pose(
                given["length_m"], given["radius_m"], foot_u_m=given["foot_u_m"], foot_z_m=given["foot_z_m"]
            )
            return {"boom_angle_deg": pose.boom_angle_deg, "sheave_z_m": pose.sheave_z_m}
        case "fixed_jib" | "luffing_jib" as kind:
            rest = dict(given)
            make = fixed_jib_pose if kind == "fixed_jib" else luffing_jib_pose
            pose = make(rest.pop("boom_length_m"), rest.pop("radius_m"), **rest)
            return vars(pose)
        case "rigging":
            # sheave and block set so that only the hook-to-spreader height is in question
            room = hook_room(
                20.0,
                0.0,
                load_height_m=0.0,
                sling_height_m=np.sqrt(
                    case["expected"]["top_sling_length_m"] ** 2 - (given["spreader_length_m"] / 2) ** 2
                ),
                two_block_distance_m=2.0,
            )
            return {"headroom_hook_to_spreader_m": room.hook_needed_m}
        case _ if "hook_load_P_t" in given:
            reduced = head_reduced_mass_t(
                given["boom_mass_t"], given["boom_length_m"], boom_cg_from_foot_m=given["boom_cg_from_foot_m"]
            )
            return {"boom_mass_reduced_to_head_F_t": reduced}
    pose = boom_pose(given["boom_length_m"], given["load_radius_m"], foot_u_m=given["boom_foot_radius_m"], foot_z_m=2.0)
    boom = straight_boom(
        [given["load_radius_m"]],
        given["boom_length_m"],
        mass_t=given["boom_mass_t"],
        cg_from_foot_m=given["boom_cg_from_foot_m"],
        foot_u_m=given["boom_foot_radius_m"],
    )
    return {"boom_angle_deg": pose.boom_angle_deg, "boom_cg_radius_m": boom.u_m[0]}


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_published_boom_row(case: dict, agrees: Callable[..., None]) -> None:
    agrees(case, results(case), not_given=ELSEWHERE)
