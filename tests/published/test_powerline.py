"""Overhead-line rows against regulations and worked examples."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from liftcalc.base.errors import InputError
from liftcalc.clearance.bodies import CraneShape
from liftcalc.clearance.crane_bodies import crane_bodies
from liftcalc.clearance.least import Obstacle, least_clearances
from liftcalc.clearance.powerline import (
    DIN_VDE_0105,
    TABLE_A,
    TABLE_T,
    UK_GS6,
    US_COAL_SURFACE,
    LinePath,
    blow_out_m,
    catenary_constant_m,
    conductor_swing_deg,
    required_distance_m,
    sagged_span,
    study_zone_m,
)

ROWS = [json.loads(line) for line in (Path(__file__).parent / "cases" / "powerline.jsonl").read_text().splitlines()]


def test_row_count() -> None:
    assert len(ROWS) == 42


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_row(row: dict[str, Any]) -> None:
    given, want = row["inputs"], row["expected"]
    close = pytest.approx
    tol = row["rel_tol"]
    if "assessment_trigger_distance_ft" in want:
        got = float(study_zone_m(given["nominal_voltage_kV_ac"]))
        assert got == close(want["trigger_m"], rel=tol)
        assert got == close(want["assessment_trigger_distance_ft"] * 0.3048, rel=tol)
    elif "exclusion_distance_m" in want:
        got = float(required_distance_m(given["nominal_voltage_kV_ac"], table=UK_GS6))
        assert got == close(want["exclusion_distance_m"], rel=tol)
    elif "straight_line_distance_m" in want:
        shape = CraneShape(0.0, 1.0, 0.0, ((-3, 1), (-3, -1), (0, -1)), 1, 2, ((-3, 1), (-3, -1), (3, 0)), 0.5, 2)
        x, z = given["conductor_horizontal_m"], given["conductor_height_m"]
        line = LinePath(np.array([[x, -60.0, z], [x, 60.0, z]]), 0.0)
        need = float(required_distance_m(given["nominal_voltage_kV_ac"]))
        bodies = crane_bodies(
            shape,
            None,
            easting_m=0,
            northing_m=0,
            level_m=0,
            heading_deg=0,
            slew_deg=0,
            radius_m=given["boom_head_horizontal_m"],
            head_height_m=given["boom_head_height_m"],
        )
        result = least_clearances(bodies, [Obstacle("line", "overhead line", line, need)])
        boom = next(r for r in result.rows if r.body == "boom")
        assert need == close(want["required_clearance_m"], rel=tol)
        assert boom.distance_m == close(want["straight_line_distance_m"], rel=tol)
        assert boom.within is want["clearance_ok"]
    elif row["topic"] == "vde":
        got = float(required_distance_m(given["nominal_voltage_kV_ac"], table=DIN_VDE_0105))
        assert got == close(want["min_clearance_m"], rel=tol)
    elif row["topic"] == "blow_out":
        wire = {name: given[name] for name in ("diameter_mm", "mass_kg_m")}
        swing = conductor_swing_deg(given["wind_m_s"], **wire)
        assert swing == close(want["swing_deg"], rel=tol)
        assert blow_out_m(given["sag_m"], swing) == close(want["displacement_m"], rel=tol)
    elif row["topic"] == "sag":
        # worked there as a parabola, which the catenary leaves by (span / 2 c)^2 / 12 of the sag
        c = given["tension_kgf"] / given["weight_kgf_m"]
        leaves = (given["span_m"] / (2 * c)) ** 2 / 12
        assert catenary_constant_m(given["span_m"], want["sag_m"]) == close(c, rel=1.1 * leaves)
    elif row["topic"] == "catenary":
        sag = want["sag_m"]
        span = sagged_span([0, 0, 50], [given["span_m"], 0, 50], sag_m=sag, pieces=4000)
        along = np.linalg.norm(np.diff(span.points_m, axis=0), axis=1).sum()
        assert along == close(given["cord_length_m"], rel=1e-6)
        assert span.points_m[2000, 2] == close(50 - sag, rel=tol)
        c = catenary_constant_m(given["span_m"], sag)
        assert 2 * c * np.sinh(given["span_m"] / (2 * c)) == close(given["cord_length_m"], rel=1e-8)
    else:
        table = TABLE_A
        if "condition" in given:
            table = TABLE_T
        elif "site" in given:
            table = US_COAL_SURFACE
        if want["min_clearance_m"] is None:
            with pytest.raises(InputError, match="registered engineer"):
                required_distance_m(given["nominal_voltage_kV_ac"], table=table)
        else:
            got = float(required_distance_m(given["nominal_voltage_kV_ac"], table=table))
            assert got == close(want["min_clearance_m"], rel=tol)
            assert got == close(want["min_clearance_ft"] * 0.3048, rel=tol)
