"""Machine and chart files whose typing errors parse: refused by what cannot be true."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml

from liftcalc.base.errors import InputError
from liftcalc.base.resources import demo_job_path
from liftcalc.cli import main
from liftcalc.facts.io import load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift.assess import assess_lift
from liftcalc.lift.chart_statics import ABOVE_STATICS, BELOW_STATICS, require_plausible_charts

Change = Callable[[dict[str, Any]], Any]


@pytest.fixture(scope="module")
def data() -> str:
    return load_job(demo_job_path()).model_dump_json()


def changed(data: str, change: Change) -> dict[str, Any]:
    job: dict[str, Any] = json.loads(data)
    change(job)
    return job


def test_charts_of_the_demo_machines_hold_together_with_their_masses(data: str) -> None:
    require_plausible_charts(parse_fact(Job, json.loads(data)))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda j: j["machines"][0]["counterweights"][1].update(cg_u_m=-4.5), "cg_u_m -4.5 nearer"),
        (lambda j: j["machines"][0]["superstructure"].update(cg_u_m=-3.2), "within tail_radius_m"),
        (lambda j: j["machines"][0]["superstructure"].update(cg_z_m=3.5), "at most top_z_m"),
        (lambda j: j["machines"][0]["carrier"].update(cg_x_m=-4.5), "between rear_x_m and front"),
        (lambda j: j["machines"][0]["carrier"].update(cg_y_m=1.3), "within half of width_m"),
        (lambda j: j["machines"][0]["carrier"].update(cg_z_m=1.7), "at most height_m"),
        (lambda j: j["charts"][0]["boom_length_m"].__setitem__(2, 21.0), "21 m is not among"),
        (lambda j: j["charts"][0].update(capacity_t=j["charts"][0]["capacity_t"][::-1],
                                         strength_t=j["charts"][0]["strength_t"][::-1]),
         "order of boom_length_m"),
        (lambda j: j["charts"][0]["capacity_t"][0].__setitem__(7, 23.2), "at most strength_t 23.1"),
    ],
)  # fmt: skip
def test_facts_that_cannot_be_are_refused_with_the_job(data: str, change: Change, words: str) -> None:
    with pytest.raises(InputError, match=words):
        parse_fact(Job, changed(data, change))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        # place or mass that makes the machine less steady than its chart
        (lambda j: j["machines"][0]["superstructure"].update(cg_u_m=1.2), "cw-3: capacity_t at"),
        (lambda j: j["machines"][0]["boom"].update(foot_u_m=1.3), "cw-3: capacity_t at boom 10.5"),
        (lambda j: j["machines"][0]["boom"].update(mass_t=9.5), "at most .* by the chart's own"),
        # a rating typed too high, still falling with radius and below its strength
        (lambda j: j["charts"][3]["capacity_t"][4].__setitem__(13, 7.6), "boom 30 m, radius 18 m"),
        # charts of two counterweights exchanged
        (lambda j: [j["charts"][k].update(counterweight=c) for k, c in ((0, "cw-9"), (3, "cw-3"))],
         "demo-50-full-cw-9: capacity_t"),
        # steadier than the chart: shows only where the chart is carried over
        (lambda j: j["machines"][0]["counterweights"][1].update(mass_t=12.0), "steadier than its"),
        (lambda j: j["machines"][0]["carrier"].update(mass_t=30.0), "steadier than its own chart"),
    ],
)  # fmt: skip
def test_what_statics_contradict_is_refused_before_anything_is_judged(data: str, change: Change, words: str) -> None:
    job = parse_fact(Job, changed(data, change))
    with pytest.raises(InputError, match=words):
        require_plausible_charts(job)
    with pytest.raises(InputError, match=r"statics allow|masses carry"):
        assess_lift(job, "L1")


def test_a_rating_just_within_the_tolerance_passes_and_one_beyond_does_not(data: str) -> None:
    assert (ABOVE_STATICS, BELOW_STATICS) == (0.02, 0.10)
    limit = 5.2  # rounded down in the chart at 30 m and 18 m; statics carry 5.2 to 5.3 t there

    def rated(value: float) -> Job:
        return parse_fact(Job, changed(data, lambda j: j["charts"][0]["capacity_t"][4].__setitem__(13, value)))

    require_plausible_charts(rated(limit + 0.1))
    with pytest.raises(InputError, match=r"is 5\.5; allowed: at most 5\.2"):
        require_plausible_charts(rated(limit + 0.3))


@pytest.mark.parametrize("sector", [(315.0, 45.0), (0.0, 360.0), (330.0, 30.0)])
def test_a_sector_chart_is_held_to_the_weakest_slew_in_its_sector(data: str, sector: tuple[float, float]) -> None:
    """Straight ahead is weaker than either end of the sector, where a leg stands under the boom."""

    def rate(value: float, sector: tuple[float, float]) -> Job:
        def change(job: dict[str, Any]) -> None:
            job["charts"][3]["sector_deg"] = list(sector)
            job["charts"][3]["capacity_t"][4][13] = value

        return parse_fact(Job, changed(data, change))

    require_plausible_charts(rate(7.3, sector))
    with pytest.raises(InputError, match=r"boom 30 m, radius 18 m is 8\.3"):
        require_plausible_charts(rate(8.3, sector))


def test_a_batch_refuses_the_whole_job_before_any_sheet(
    data: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = changed(data, lambda j: j["machines"][0]["boom"].update(foot_u_m=1.3))
    path = tmp_path / "job.yaml"
    path.write_text(yaml.safe_dump(job), encoding="utf-8")
    assert main(["batch", str(path), "--out", str(tmp_path / "r"), "--no-pdf"]) == 2
    assert "masses carry there" in capsys.readouterr().err
    assert not (tmp_path / "r").exists()
