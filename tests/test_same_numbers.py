"""Every number of the demo job and of a second job is what it was, unless somebody says otherwise.

    python tests/test_same_numbers.py --write      # after a change that is meant: look at the diff

What is right is told by the other tests; this one notices what none of them looks at. Numbers
agree to a millionth; states and the place of the worst step agree exactly.
"""

from __future__ import annotations

import json
import math
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from liftcalc.base.resources import demo_job_path
from liftcalc.base.strict_json import plain
from liftcalc.base.units import G_M_S2
from liftcalc.facts.io import load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift import leg_slews, report
from liftcalc.lift.assess import assess_lift
from liftcalc.lift.leg_setting import setting_values
from liftcalc.lift.tandem import TandemAssessment, assess_tandem
from liftcalc.lift.tandem_checks import tandem_checks
from liftcalc.lift.tandem_report import share_curve, tandem_class

HERE = Path(__file__).parent
KNOWN = HERE / "same_numbers.json"
sys.path.insert(0, str(HERE / "facts"))
from other_job import other_job  # noqa: E402

DEMO = json.loads(load_job(demo_job_path()).model_dump_json())
JOBS = {"demo": DEMO, "other": other_job(DEMO)}
LIFTS = [f"{name} {one['id']}" for name, data in JOBS.items() for one in (*data["lifts"], *data["tandem_lifts"])]


def rounded(values: NDArray[np.float64]) -> list[float]:
    return [float(v) for v in np.round(values, 9)]


def tandem_numbers(a: TandemAssessment) -> dict[str, Any]:
    """Shares, greatest line forces, and what each machine lifts and presses on."""
    out: dict[str, Any] = {
        "share_t": rounded(a.shares.nominal.share_t),
        "max_share_t": rounded(a.shares.max_share_t),
        "min_share_t": rounded(a.shares.min_share_t),
        "max_line_force_kN": rounded(a.shares.max_line_force_kN),
        "max_side_pull_kN": float(a.shares.max_side_pull_kN),
        "max_out_of_plumb_deg": rounded(a.shares.max_out_of_plumb_deg),
        "weight_kN": a.tandem.load.mass_t * G_M_S2,
        "steps": len(a.way.stage),
        "critical_lift": tandem_class(a).critical,
    }
    for k, m in enumerate(a.pulled):
        step = m.study.governing_step
        out[f"machine_{k + 1}"] = m.setup.machine.id
        out[f"gross_{k + 1}_t"] = m.setup.gross_t
        capacity = float(m.study.capacity.capacity_t[step])
        out[f"derated_capacity_{k + 1}_t"] = (
            0.0 if np.isnan(capacity) else capacity * a.tandem.machines[k].derating_factor
        )
        if m.forces.stands:
            out[f"leg_reaction_{k + 1}_kN"] = rounded(m.forces.design_kN)
    return out


def numbers(which: str) -> Any:
    """Rows and numbers of one lift, or of one lift on two machines."""
    name, id = which.split()
    job = parse_fact(Job, JOBS[name])
    if any(t.id == id for t in job.tandem_lifts):
        both = assess_tandem(job, id, steps=40)
        rows, values = tandem_checks(both), tandem_numbers(both)
        values["curve"] = [part.tolist() for part in share_curve(both.tandem, points=5)]
    else:
        a = assess_lift(job, id)
        rows = a.checks
        values = {
            **report.survey_values(a.setup, a.place),
            **report.layout_values(a.setup, a.circle),
            **report.lift_values(a.setup, a.study, a.rigging),
            **report.ground_values(a.forces, a.ground),
            **leg_slews.leg_slew_values(a.setup, leg_slews.leg_slews(a.setup, a.path)),
            **setting_values(a.settings),
            "hang": [a.setup.hanging.hook_height_m, a.setup.sling_height_m],
        }
    told = [[c.id, c.status, c.value, c.limit, c.to_dict()["where"]] for c in rows]
    return plain({"rows": told, "values": values}, allow_none=True)


def differences(now: Any, before: Any, at: str = "") -> list[str]:
    if isinstance(now, dict) and isinstance(before, dict) and now.keys() == before.keys():
        return [d for k in now for d in differences(now[k], before[k], f"{at}.{k}")]
    if isinstance(now, list) and isinstance(before, list) and len(now) == len(before):
        label = [str(x[0]) if isinstance(x, list) and x else str(n) for n, x in enumerate(now)]
        return [
            d for n, (a, b) in enumerate(zip(now, before, strict=True)) for d in differences(a, b, f"{at}[{label[n]}]")
        ]
    both = [isinstance(x, (int, float)) and not isinstance(x, bool) for x in (now, before)]
    if all(both) and math.isclose(now, before, rel_tol=1e-6, abs_tol=1e-9):
        return []
    return [] if now == before else [f"{at}: {now!r}, was {before!r}"]


@pytest.mark.parametrize("which", LIFTS)
def test_every_number_is_what_it_was(which: str) -> None:
    assert not differences(numbers(which), json.loads(KNOWN.read_text(encoding="utf-8"))[which])


def test_a_number_or_state_that_differs_is_seen() -> None:
    one = {"rows": [["a", "within", 1.0, 2.0, "step 1"]]}
    assert not differences(one, {"rows": [["a", "within", 1.0 + 1e-8, 2.0, "step 1"]]})
    for row in (["a", "over", 1.0, 2.0, "step 1"], ["a", "within", 1.0001, 2.0, "step 1"], []):
        assert differences(one, {"rows": [row]})


if __name__ == "__main__" and "--write" in sys.argv:
    told = {which: numbers(which) for which in LIFTS}
    lines = ",\n".join(
        f"{json.dumps(which)}: {{\n"
        + '"rows": [\n'
        + ",\n".join(json.dumps(row, ensure_ascii=False) for row in found["rows"])
        + '\n],\n"values": {\n'
        + ",\n".join(f"{json.dumps(k)}: {json.dumps(v, ensure_ascii=False)}" for k, v in found["values"].items())
        + "\n}}"
        for which, found in told.items()
    )
    KNOWN.write_text("{\n" + lines + "\n}\n", encoding="utf-8")
