"""Critical lifts and lifts of persons: rows read in the Corps' form and in 29 CFR 1926.1431."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from liftcalc.lift.lift_class import critical_lift, persons_rule

CASES = [
    json.loads(line)
    for line in (Path(__file__).parent / "cases" / "lift_class.jsonl").read_text().splitlines()
]


def results(given: dict) -> dict:
    if "ground_grade_percent" in given:
        rule = persons_rule(
            given["suspended_load_t"],
            given["rated_capacity_t"],
            slope_percent=given["ground_grade_percent"],
            leg_extension_m=given["leg_extension_ratio"],
            chart_base=True,
            gust_m_s=0.0,
        )
        return {
            "load_within_50_percent": rule.load_within_half,
            "level_within_1_percent": rule.level,
            "legs_equally_extended": rule.legs_equal,
            "allowed": rule.allowed,
        }
    found = critical_lift(
        given["gross_load_t"],
        given["rated_capacity_t"],
        share_ratio=given["threshold_ratio"],
        share_owner="EM 385-1-1",
        cranes=given["number_of_cranes"],
        persons=given["lifting_persons"],
        out_of_sight=given["load_out_of_operator_view"],
        crosses_line=False,
        stated=["unusual rigging"] if given["non_routine_rigging"] else [],
    )
    return {"capacity_used_ratio": found.used_ratio, "critical_lift": found.critical}


@pytest.mark.parametrize("case", CASES, ids=[c["id"] for c in CASES])
def test_lift_class_row(case: dict) -> None:
    found = results(case["inputs"])
    for name, expected in case["expected"].items():
        if isinstance(expected, bool):
            assert found[name] is expected, name
        else:
            assert found[name] == pytest.approx(expected, rel=case["rel_tol"]), name
