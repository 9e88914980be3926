"""Published rows for two machines on one load (cases/tandem.jsonl)."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from liftcalc.rigging.tandem import several_crane_capacity_t, tandem_share
from liftcalc.rigging.upending import upending_share

CASES = Path(__file__).parent / "cases" / "tandem.jsonl"
ROWS = [json.loads(line) for line in CASES.read_text(encoding="utf-8").splitlines()]


def solve(i):
    if "number_of_cranes" in i:
        got = several_crane_capacity_t(i["calculated_share_t"], i["number_of_cranes"])
        return {"margin_factor": got / i["calculated_share_t"], "min_rated_capacity_each_t": got}
    if "lug_distance_m" in i:
        got = upending_share(
            i["load_t"],
            i["angle_from_horizontal_deg"],
            lug_distance_m=i["lug_distance_m"],
            cg_from_head_lug_m=i["cg_from_head_lug_m"],
            tail_lug_offset_m=i["tail_lug_offset_m"],
        )
        return {"head_share_t": got.head_share_t, "tail_share_t": got.tail_share_t}
    if "tilt_lug2_up_deg" in i:
        to_lug = (i["cg_to_lug1_m"], i["cg_to_lug2_m"])
        rise = sum(to_lug) * np.sin(np.radians(i["tilt_lug2_up_deg"]))
        got = tandem_share(
            i["total_load_t"], to_lug, lug_above_cg_m=2 * [i["lugs_above_cg_m"]], level_difference_m=rise
        )
        return {"share1_t": got.share_t[0], "share2_t": got.share_t[1]}
    share = tandem_share(i["total_load_t"], (i["cg_to_hook1_m"], i["cg_to_hook2_m"])).share_t
    return {"share1_t": share[0], "share2_t": share[1]}


@pytest.mark.parametrize("row", ROWS, ids=[r["id"] for r in ROWS])
def test_published_row(row):
    answer = solve(row["inputs"])
    assert set(answer) == set(row["expected"])
    for name, expected in row["expected"].items():
        if isinstance(expected, bool):
            assert answer[name] == expected, name
        else:
            # The rows are printed with ten digits.
            tol = max(row["rel_tol"], 1e-9)
            assert float(answer[name]) == pytest.approx(expected, rel=tol), name


def test_rows_are_all_there():
    assert len(ROWS) == 12
