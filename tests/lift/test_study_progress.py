"""Progress and stop of a study of stand points: the bar is honest, and a stop is named."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from liftcalc.base.resources import demo_job_path
from liftcalc.facts.io import load_job
from liftcalc.facts.job import Job
from liftcalc.lift import standing
from liftcalc.lift.stand_rows import alternative_rows, plan_rows
from liftcalc.lift.stand_study import (
    CHECKING,
    HELPING,
    MAPPING,
    PARTS,
    PLANNING,
    READING,
    SEARCHING,
    StandStudy,
    StudyProgress,
    study_stand,
)
from liftcalc.placement.fit import FitMapper

PHASES = (READING, SEARCHING, CHECKING, PLANNING, HELPING, MAPPING)
"""In the order of the work; searching and checking take turns."""


@pytest.fixture(scope="module")
def demo() -> Job:
    return load_job(demo_job_path())


def study(job: Job, **told: Any) -> StandStudy:
    return study_stand(job, "L8", step_m=2.0, heading_step_deg=30.0, count=3, **told)


def show(value: float | None, quantity: str) -> str:
    return f"{value} {quantity}"


def test_the_bar_never_falls_is_full_only_at_the_end_and_every_phase_is_named(demo: Job) -> None:
    seen: list[tuple[int, int]] = []
    words: list[str] = []
    parts_at: dict[str, int] = {}

    def progress(done: int, of: int) -> None:
        seen.append((done, of))
        parts_at[words[-1]] = done

    found = study(demo, progress=progress, phase=words.append)
    assert found.complete
    assert {of for _, of in seen} == {PARTS}
    done = [d for d, _ in seen]
    assert done == sorted(done)
    assert done[-1] == PARTS
    assert done.count(PARTS) == 1
    assert list(dict.fromkeys(words)) == list(PHASES)
    # full checks, plans and what would help move the bar, not the search alone
    assert parts_at[SEARCHING] < parts_at[CHECKING] < parts_at[PLANNING] < parts_at[HELPING] < PARTS
    assert parts_at[SEARCHING] < PARTS / 2


@pytest.mark.parametrize("moment", ["first", "later"])
@pytest.mark.parametrize("phase", PHASES)
def test_a_stop_in_any_phase_ends_the_work_at_once_and_is_named(
    demo: Job, monkeypatch: pytest.MonkeyPatch, phase: str, moment: str
) -> None:
    asks = 0 if moment == "first" else int(np.random.default_rng(len(phase)).integers(1, 9))
    now, asked, late, seen = [""], [0], [], []

    def stop() -> bool:
        if now[0] == phase:
            asked[0] += 1
        return asked[0] > asks

    def watched(owner: type, name: str) -> None:
        plain = getattr(owner, name)

        def call(*args: Any, **kwargs: Any) -> Any:
            if asked[0] > asks:
                late.append(name)
            return plain(*args, **kwargs)

        monkeypatch.setattr(owner, name, call)

    watched(standing.SheetCheck, "_judge")
    watched(FitMapper, "at")

    def say(words: str) -> None:
        now[0] = words

    found = study(demo, progress=lambda d, of: seen.append(d), phase=say, stop=stop)
    if asked[0] <= asks:  # the phase was over before it was asked so often
        assert found.complete
        assert phase == READING
        return
    assert found.stopped
    assert not found.complete
    assert late == []  # no pass over the grid and no full check begins after the stop
    assert PARTS not in seen
    assert seen == sorted(seen)
    assert any("stopped" in cell for row in plan_rows(found, show) for cell in row)
    assert any("stopped" in cell for row in alternative_rows(found) for cell in row)
    words = " ".join(cell for row in alternative_rows(found) for cell in row)
    assert "every lift passes" not in words
    assert found.result.complete == (phase in (PLANNING, HELPING, MAPPING))


@pytest.mark.parametrize("seed", range(20))
def test_estimates_that_grow_and_shrink_never_set_the_bar_back(seed: int) -> None:
    rng = np.random.default_rng(seed)
    seen: list[int] = []
    told = StudyProgress(lambda done, of: seen.append(done), None, None)
    told.expect(SEARCHING, float(rng.uniform(1, 1e6)))
    told.expect(CHECKING, float(rng.uniform(1, 1e6)))
    told.expect(PLANNING, float(rng.uniform(1, 1e6)))
    passes = told.passes(SEARCHING, float(rng.uniform(1, 1e6)))
    checks = told.checks(CHECKING, 2, wanted=5, most=60)
    passed = 0
    for number in range(1, 61):
        if number % 20 == 1:  # the search goes round again
            for h in range(1, 13):
                passes(h, 12)
        passed += int(rng.random() < 0.1 and passed < 5)
        checks(number, passed)
    told.end(SEARCHING)
    told.end(CHECKING)
    assert seen == sorted(seen)
    assert seen[-1] < PARTS
    told.end(PLANNING)
    told.finish()
    assert seen[-1] == PARTS


def test_a_stopped_study_never_fills_the_bar() -> None:
    seen: list[int] = []
    told = StudyProgress(lambda done, of: seen.append(done), None, lambda: True)
    told.expect(SEARCHING, 10.0)
    told.passes(SEARCHING, 10.0)(12, 12)
    assert told.stop()
    told.end(SEARCHING)
    told.finish()
    assert seen
    assert PARTS not in seen
