"""The form of an as set up sheet: offline in a real Chromium, on a phone, what it saves is read."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from liftcalc.base.errors import InputError
from liftcalc.base.resources import demo_job_path
from liftcalc.facts.as_set_up import AsSetUp
from liftcalc.facts.io import load_fact, load_job
from liftcalc.run.batch import BatchLift, run_lift
from liftcalc.run.measured import form_page, make_as_set_up


@pytest.fixture(scope="module")
def plan_record(tmp_path_factory: pytest.TempPathFactory) -> Path:
    job = load_job(demo_job_path()).for_lift("L1")
    task = BatchLift("L1", "x", job, tmp_path_factory.mktemp("plan"))
    rows = run_lift(task)
    assert [row.template for row in rows][-1] == "lift_plan"
    assert rows[-1].folder, rows[-1].message
    return Path(rows[-1].folder)


def test_the_form_is_filled_in_offline_and_its_file_is_archived(
    browser: Any, plan_record: Path, tmp_path: Path
) -> None:
    form = tmp_path / "form.html"
    form.write_bytes(form_page(plan_record))
    context = browser.new_context(viewport={"width": 390, "height": 844}, offline=True)
    page, asked = context.new_page(), []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(form.as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert page.locator("input").evaluate_all("all => all.every(i => i.offsetHeight >= 44)")

    def fill(name: str, value: str) -> None:
        page.locator(f"input[name='{name}']").fill(value)

    fill("date", "2026-12-08")
    fill("measured_by", "S. Example")
    for leg, value in {"FL": "2,31", "FR": "3.2", "RR": "3.2", "RL": "2.3"}.items():
        fill(f"legs.{leg}", value)
    fill("trial.slew_deg", "85.8")
    fill("trial.radius_m", "13.2 m")
    page.get_by_role("button").click()
    assert "trial.radius_m: a number" in page.locator("output").inner_text()
    fill("trial.radius_m", "13.2")
    fill("tilt_y_percent", "\u22120.2")
    with page.expect_download() as download:
        page.get_by_role("button").click()
    saved = tmp_path / download.value.suggested_filename
    download.value.save_as(saved)
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    context.close()
    fact = load_fact(AsSetUp, saved)
    assert fact.legs is not None
    assert fact.legs.FL == 2.31
    assert fact.tilt_y_percent == -0.2
    made = make_as_set_up(plan_record, saved, prepared_by="S. Example", pdf=False)
    assert made.manifest.verdict == "incomplete"
    assert [p.record for p in made.manifest.parents] == [plan_record.name]
    with pytest.raises(InputError, match="the lift of the plan"):
        make_as_set_up(plan_record, fact.model_copy(update={"lift": "L2"}), pdf=False)
