"""Critical lifts and lifts of persons: rows read in the Corps' form and in 29 CFR 1926.1431."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from liftcalc.base.resources import demo_job_path
from liftcalc.crane.sectors import OWN
from liftcalc.facts.io import load_job
from liftcalc.lift.assess import assess_lift
from liftcalc.lift.lift_class import critical_lift
from liftcalc.lift.persons import person_checks

CASES = [json.loads(line) for line in (Path(__file__).parent / "cases" / "lift_class.jsonl").read_text().splitlines()]


def persons_results(given: dict) -> dict:
    """A demo lift with the row's load, rating and legs, on a base that a chart is made for."""
    a = assess_lift(load_job(demo_job_path()), "L8", steps=10)
    setup, rated = a.setup, a.study.capacity
    legs = setup.lift.legs.model_copy(
        update=dict(zip(("FL", "FR", "RR", "RL"), given["leg_extension_ratio"], strict=True))
    )
    rows = person_checks(
        replace(
            setup,
            lift=setup.lift.model_copy(update={"legs": legs}),
            gross=replace(setup.gross, static_gross_t=np.array(given["suspended_load_t"])),
        ),
        a.path,
        replace(
            rated,
            capacity_t=np.full_like(rated.capacity_t, given["rated_capacity_t"]),
            source=np.full_like(rated.source, OWN),
        ),
        governing_step=0,
        slope_percent=given["ground_grade_percent"],
        gust_m_s=0.0,
    )
    within = {row.id: row.status == "within" for row in rows}
    return {
        "load_within_50_percent": within["persons-capacity"],
        "level_within_1_percent": within["persons-level"],
        "legs_equally_extended": within["persons-legs"],
        "allowed": all(within.values()),
    }


def results(given: dict) -> dict:
    if "ground_grade_percent" in given:
        return persons_results(given)
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
