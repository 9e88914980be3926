"""What a machine and its load run into that no survey draws: outriggers and rising ground."""

from __future__ import annotations

import json
from typing import Any

import pytest

from liftcalc.base.checks import Check
from liftcalc.base.resources import demo_job_path
from liftcalc.facts.io import load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift.assess import assess_lift

EAST, NORTH, LEVEL = 40.0, 40.0, 3.0


@pytest.fixture(scope="module")
def bare() -> dict[str, Any]:
    """The demo's first lift alone on a flat, empty site of hardstand."""
    data: dict[str, Any] = json.loads(load_job(demo_job_path()).for_lift("L1").model_dump_json())
    site = data["site"]
    square = [[0.0, 0.0], [80.0, 0.0], [80.0, 80.0], [0.0, 80.0]]
    profile = next(z["profile"] for z in site["zones"] if z["id"] == "hardstand")
    for name in (
        "obstacles", "overhead_lines", "services", "excavations", "retaining_walls", "slopes",
        "areas", "boreholes",
    ):  # fmt: skip
        site[name] = []
    data["rules"]["zones"]["closed"] = []  # places that stood there before
    site |= {
        "boundary": square,
        "zones": [{"id": "all", "polygon": square, "profile": profile}],
        "stated": {},
        "levels": ground(lambda x, y: 0.0),
    }
    lift = data["lifts"][0]
    lift["stand"] |= {
        "easting_m": EAST, "northing_m": NORTH, "level_m": LEVEL, "heading_deg": 0.0
    }  # fmt: skip
    lift["pick"] = place(10.0, 0.0)
    lift["set_down"] = place(0.0, 10.0)
    lift["carry_level_m"] = 5.4
    return data


def place(x: float, y: float) -> dict[str, float]:
    return {"easting_m": EAST + x, "northing_m": NORTH + y, "level_m": LEVEL}


def ground(rise: Any) -> list[dict[str, float]]:
    """Spot levels every 2 m, *rise* above the stand at x, y of the machine."""
    return [
        {"easting_m": EAST + x, "northing_m": NORTH + y, "level_m": LEVEL + rise(x, y)}
        for x in range(-40, 41, 2)
        for y in range(-40, 41, 2)
    ]


def rows(data: dict[str, Any], *, levels: Any = None, **changes: Any) -> dict[str, Check]:
    copy = json.loads(json.dumps(data))
    for path, value in changes.items():
        *way, last = path.split("__")
        here = copy["lifts"][0]
        for name in way:
            here = here[name]
        here[last] = value
    if levels is not None:
        copy["site"]["levels"] = ground(levels)
    return {c.id: c for c in assess_lift(parse_fact(Job, copy), "L1").checks}


def failed(found: dict[str, Check]) -> set[str]:
    return {c.id for c in found.values() if c.status != "within"}


def test_the_bare_lift_is_within(bare: dict[str, Any]) -> None:
    assert failed(rows(bare)) == set()


@pytest.mark.parametrize("out", [2.3, 3.2])
def test_a_load_is_not_set_down_on_an_outrigger(bare: dict[str, Any], out: float) -> None:
    """Picked at the front left float and set down at the rear left one: all rows were within."""
    found = rows(
        bare,
        legs=dict.fromkeys(("FL", "FR", "RR", "RL"), out),
        pick=place(3.3, 3.2),
        set_down=place(-3.5, 3.2),
        carry_level_m=4.0,
        boom_length_m=10.5,
        load__mass_t=3.0,
        load__length_m=1.0,
        load__width_m=1.0,
        load__height_m=1.0,
        rigging__sling="wire-4m-16",
        rigging__point_height_m=1.0,
        rigging__point_spacing_x_m=0.8,
        rigging__point_spacing_y_m=0.8,
    )
    assert failed(found) == {"clearance-own-carrier"}
    assert found["clearance-own-carrier"].value == 0.0


def test_a_long_load_keeps_clear_of_ground_beside_its_hook(bare: dict[str, Any]) -> None:
    """A bank 1.9 m high within the reach of an 8 m load that is carried 0.8 m up."""
    lift = {
        "load__length_m": 8.0,
        "load__sail_reason": "long open frame",
        "carry_level_m": LEVEL + 0.8,
        "pick": place(13.0, 0.0),
        "set_down": place(0.0, 13.0),
    }
    assert rows(bare, **lift)["load-above-ground"].status == "within"
    found = rows(bare, levels=lambda x, y: 1.9 if x >= 15 else 0.0, **lift)
    assert found["load-above-ground"].status == "over"


def test_the_tail_keeps_clear_of_a_bank(bare: dict[str, Any]) -> None:
    """Tail 1.3 m up, out to 3.85 m; the bank rises 2.5 m from 2 m to 4 m on the left."""
    flat = rows(bare)["tail-above-ground"]
    assert flat.value == pytest.approx(1.3)
    found = rows(bare, levels=lambda x, y: 2.5 if y >= 4 else 0.0, set_down=place(0.0, -10.0))
    assert found["tail-above-ground"].status == "over"


def test_the_boom_keeps_clear_of_a_hill(bare: dict[str, Any]) -> None:
    hill = {"pick": place(16.0, 0.0), "levels": lambda x, y: 12.0 if (x, y) == (6, 0) else 0.0}
    assert rows(bare, pick=place(16.0, 0.0))["boom-above-ground"].status == "within"
    assert rows(bare, **hill)["boom-above-ground"].status == "over"
