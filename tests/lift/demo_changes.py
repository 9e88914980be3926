"""The demo job with fields of one lift changed, for tests that change many at once."""

from __future__ import annotations

import json
from typing import Any

from liftcalc.facts.io import parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift.assess import LiftAssessment, assess_lift


def changed(job: Job, lift: str, *, obstacle: Any = None, **changes: Any) -> Job:
    """The job with fields of one lift changed, ``__`` between the names on the way to a field.

    ``shelf__<id>__<field>`` changes an accessory; *obstacle* stands alone on the site.
    """
    data = json.loads(job.model_dump_json())
    target = next(one for one in data["lifts"] if one["id"] == lift)
    kinds = data["accessories"].values()
    shelf = {item["id"]: item for kind in kinds for item in kind if "id" in item}
    for path, value in changes.items():
        *parents, last = path.split("__")
        node: Any = target
        if parents and parents[0] == "shelf":
            node, parents = shelf[parents[1].replace("_", "-")], []
        for part in parents:
            node = node[part]
        node[last] = value
    if obstacle is not None:
        data["site"]["obstacles"] = [obstacle]
        data["rules"]["zones"]["closed"] = []  # areas that stood there before
    return parse_fact(Job, data)


def assessed(job: Job, lift: str, **changes: Any) -> LiftAssessment:
    """The lift after the same changes."""
    return assess_lift(changed(job, lift, **changes), lift)
