"""The whole lift against a second, slow model written from first principles.

Nothing here calls a calculation of the package to get its expectation: the base is judged by
linear programmes over leg forces that cannot pull, the path by complex numbers in the site frame,
leg forces by least work over every set of standing legs, distances by shapely, charts row by row.
"""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from liftcalc.facts.io import load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift import assess_lift
from liftcalc.resources import demo_job_path


@pytest.fixture(scope="module")
def demo() -> Job:
    return load_job(demo_job_path())


def changed(job: Job, lift: str, **changes: Any) -> Job:
    """The demo job with dotted fields of one lift changed."""
    data = json.loads(job.model_dump_json())
    target = next(i for i in data["lifts"] if i["id"] == lift)
    for path, value in changes.items():
        node = target
        *parents, last = path.split("__")
        for part in parents:
            node = node[part]
        node[last] = value
    return parse_fact(Job, data)


@pytest.mark.parametrize(("axis", "toward"), [("x", 0.0), ("y", 90.0)])
def test_a_lean_toward_the_load_and_its_settlement_add_up(
    demo: Job, axis: str, toward: float
) -> None:
    """A machine set up leaning over its load settles further that way, not back to level."""
    slews = {"slew_way": "shortest"}
    at = np.radians(toward)
    place = {"easting_m": 31 + 10 * np.cos(at), "northing_m": 18.3 + 10 * np.sin(at)}
    base = {
        **slews,
        "stand__heading_deg": 0.0,
        "pick": {**place, "level_m": 4.2},
        "set_down": {**place, "level_m": 4.2},
    }
    value = {}
    for lean in (-0.6, 0.0, 0.6):
        job = changed(demo, "L3", **base, **{f"stand__tilt_{axis}_percent": lean})
        rows = {c.id: c for c in assess_lift(job, "L3").ground_rows}
        value[lean] = rows["tilt"].value
    assert value[0.0] > 0.01  # it settles toward the load
    assert value[0.6] > 0.61
    assert value[-0.6] < 0.59
