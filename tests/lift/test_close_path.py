"""Clearances do not depend on the steps of the path, on north, or the wrong way on the wind."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from liftcalc.base.checks import Check
from liftcalc.base.resources import demo_job_path
from liftcalc.facts.io import load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift import close_path
from liftcalc.lift.assess import assess_lift
from liftcalc.lift.path import load_path, path_at
from liftcalc.lift.surroundings import surroundings


@pytest.fixture(scope="module")
def demo() -> dict[str, Any]:
    data: dict[str, Any] = json.loads(load_job(demo_job_path()).model_dump_json())
    return data


def rows(data: dict[str, Any], lift: str, *, steps: int = 60) -> dict[str, Check]:
    a = assess_lift(parse_fact(Job, data), lift, steps=steps)
    return {c.id: c for c in a.surroundings.checks}


def values(found: dict[str, Check]) -> dict[str, float]:
    return {name: float("nan") if c.value is None else c.value for name, c in found.items()}


def with_lift(data: dict[str, Any], lift: str, **changes: Any) -> dict[str, Any]:
    copy: dict[str, Any] = json.loads(json.dumps(data))
    next(item for item in copy["lifts"] if item["id"] == lift).update(changes)
    return copy


def turned(value: Any, angle_deg: float, about: tuple[float, float]) -> Any:
    """Facts with every place of the site turned about a point."""
    turn = np.exp(1j * np.radians(angle_deg))

    def at(east: float, north: float) -> tuple[float, float]:
        moved = (complex(east, north) - complex(*about)) * turn + complex(*about)
        return moved.real, moved.imag

    if isinstance(value, dict):
        new = {k: turned(v, angle_deg, about) for k, v in value.items()}
        if "easting_m" in new:
            new["easting_m"], new["northing_m"] = at(value["easting_m"], value["northing_m"])
        if "heading_deg" in new:
            heading = value["heading_deg"] + angle_deg
            new["heading_deg"] = (heading + 180.0) % 360.0 - 180.0
        return new
    if isinstance(value, list):
        if len(value) in (2, 3) and all(type(v) in (int, float) for v in value):
            return [*at(value[0], value[1]), *value[2:]]
        return [turned(v, angle_deg, about) for v in value]
    return value


@pytest.mark.parametrize("lift", ["L1", "L4", "L7"])
@pytest.mark.parametrize("angle", [7.3, 41.0, 123.4567, -95.0])
def test_turning_the_whole_site_changes_no_clearance(demo: dict[str, Any], lift: str, angle: float) -> None:
    """The distance to the overhead line moved by up to 26 mm with the grid's north."""
    copy = json.loads(json.dumps(demo))
    for part in ("site", "lifts"):
        copy[part] = turned(copy[part], angle, (31.0, 18.3))
    before, after = rows(demo, lift), rows(copy, lift)
    assert before.keys() == after.keys()
    assert any(name.startswith("line-") for name in before)
    for name, value in values(before).items():
        assert values(after)[name] == pytest.approx(value, abs=1e-9), name


@pytest.mark.parametrize("lift", ["L1", "L4", "L5", "L6"])
def test_the_number_of_steps_of_the_path_changes_no_clearance(demo: dict[str, Any], lift: str) -> None:
    """Before, a row moved by decimetres between 100 and 1600 steps."""
    few = values(rows(demo, lift, steps=100))
    for steps in (1, 37, 400, 1600):
        assert values(rows(demo, lift, steps=steps)) == pytest.approx(few, abs=1e-6)


@pytest.mark.parametrize("lift", ["L1", "L4", "L5", "L7"])
def test_more_wind_never_increases_a_clearance(demo: dict[str, Any], lift: str) -> None:
    """With the steps that the whole lift check chooses, which the wind may move."""
    last: dict[str, float] = {}
    for wind in (0.0, 2.0, 3.9, 4.0, 4.5, 6.0, 9.0):
        a = assess_lift(parse_fact(Job, with_lift(demo, lift, wind_m_s=wind)), lift)
        now = values({c.id: c for c in a.surroundings.checks})
        for name, value in last.items():
            assert now[name] <= value + 1e-9, (name, wind)
        last = now


def test_what_lies_between_the_steps_is_covered(demo: dict[str, Any], monkeypatch: pytest.MonkeyPatch) -> None:
    """Steps ten times finer find nothing nearer than is shown, and nearly as much."""
    for lift in ("L1", "L4", "L7"):
        shown = values(rows(demo, lift))
        with monkeypatch.context() as patch:
            patch.setattr(close_path, "STEP_M", 0.005)
            fine = assess_lift(parse_fact(Job, demo), lift, steps=60)
            found = fine.surroundings
        for body in ("boom", "load", "counterweight tail"):
            least = min(
                r.distance_m for r in found.result.rows
                if r.body == body and r.kind not in ("people", "no-overfly", "overhead line")
            )  # fmt: skip
            name = f"clearance-{body.replace(' ', '-')}"
            assert shown[name] <= least + 1e-9
            assert shown[name] >= least - (0.0025 if least > 0.35 else 0.05)


def test_close_steps_keep_the_path_and_ease_the_load_off_at_its_ends(demo: dict[str, Any]) -> None:
    a = assess_lift(parse_fact(Job, demo), "L4", steps=50)
    close = a.surroundings.close
    laid = close.eased == 0
    xyz = [
        np.stack(
            [p.radius_m * np.cos(np.radians(p.slew_deg)), p.radius_m * np.sin(np.radians(p.slew_deg)), p.level_m],
            axis=-1,
        )
        for p in (close.path, load_path(a.setup.lift, steps=4000))
    ]
    assert np.linalg.norm(np.diff(xyz[0], axis=0), axis=1).max() <= close_path.STEP_M + 1e-9
    apart = np.linalg.norm(xyz[1][::7, None] - xyz[0][None], axis=-1).min(axis=1)
    assert apart.max() <= close_path.STEP_M
    assert close.eased[0] == close.eased[-1] == 1.0
    assert np.all(np.diff(np.flatnonzero(laid)) == 1)
    first, last = np.flatnonzero(laid)[[0, -1]]
    assert close.path.radius_m[0] == close.path.radius_m[first] == a.path.radius_m[0]
    assert close.path.level_m[-1] == close.path.level_m[last] == a.path.level_m[-1]
    boom = [b for b in a.surroundings.close_bodies if b.name == "boom"][-1]
    for k, at in ((0, first), (-1, last)):
        risen = boom.end_m[k, 2] - boom.end_m[at, 2]  # type: ignore[union-attr]
        assert risen > 0.1


def test_a_path_of_corners_alone_gives_the_same_clearances(demo: dict[str, Any]) -> None:
    a = assess_lift(parse_fact(Job, demo), "L4", steps=500)
    stage = a.path.stage
    turns = [0, *(k for k in range(1, len(stage) - 1) if stage[k] != stage[k + 1]), len(stage) - 1]
    bare = path_at(a.path, np.array(turns, dtype=np.float64))
    assert len(bare) < 8
    again = {c.id: c for c in surroundings(a.setup, bare).checks}
    assert values(again) == pytest.approx(values({c.id: c for c in a.surroundings.checks}), abs=1e-6)
