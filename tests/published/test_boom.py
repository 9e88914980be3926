"""Boom rows: published formulas with numbers, and plane geometry worked elsewhere."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from liftcalc.boom import (
    boom_moment_tm,
    boom_pose,
    fixed_jib_pose,
    head_reduced_mass_t,
    luffing_jib_pose,
)
from liftcalc.boom_bending import cantilever_tip_deflection_m
from liftcalc.hook_room import hook_room

CASES = [
    json.loads(line)
    for line in (Path(__file__).parent / "cases" / "boom.jsonl").read_text().splitlines()
]


def results(case: dict) -> dict:
    given = case["inputs"]
    match case["topic"]:
        case "beam":
            rest = dict(given)
            length, stiffness = rest.pop("length_m"), rest.pop("bending_stiffness_kNm2")
            return {"tip_deflection_m": cantilever_tip_deflection_m(length, stiffness, **rest)}
        case "triangle":
            pose = boom_pose(
                given["length_m"],
                given["radius_m"],
                foot_u_m=given["foot_u_m"],
                foot_z_m=given["foot_z_m"],
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
                    case["expected"]["top_sling_length_m"] ** 2
                    - (given["spreader_length_m"] / 2) ** 2
                ),
                two_block_distance_m=2.0,
            )
            return {"headroom_hook_to_spreader_m": room.hook_needed_m}
        case _ if "hook_load_P_t" in given:
            reduced = head_reduced_mass_t(
                given["boom_mass_t"],
                given["boom_length_m"],
                boom_cg_from_foot_m=given["boom_cg_from_foot_m"],
            )
            return {"boom_mass_reduced_to_head_F_t": reduced}
    pose = boom_pose(
        given["boom_length_m"],
        given["load_radius_m"],
        foot_u_m=given["boom_foot_radius_m"],
        foot_z_m=2.0,
    )
    moment = boom_moment_tm(
        given["boom_mass_t"],
        pose.boom_angle_deg,
        boom_cg_from_foot_m=given["boom_cg_from_foot_m"],
        foot_u_m=given["boom_foot_radius_m"],
    )
    return {
        "boom_angle_deg": pose.boom_angle_deg,
        "boom_cg_radius_m": moment / given["boom_mass_t"],
    }


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["id"])
def test_published_boom_row(case: dict) -> None:
    found = results(case)
    shared = set(found) & set(case["expected"])
    assert shared, "the row compares nothing"
    for name in shared:
        assert found[name] == pytest.approx(
            case["expected"][name], rel=case["rel_tol"], abs=1e-9
        ), name
