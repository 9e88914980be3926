"""The job drawing shows every set-up once and every lift by name."""

from __future__ import annotations

from liftcalc.base.resources import demo_job_path
from liftcalc.facts.io import load_job
from liftcalc.lift.stand_rows import job_rows
from liftcalc.views.job import job_figure


def test_every_lift_has_its_way_and_its_name_on_the_job_drawing() -> None:
    job = load_job(demo_job_path())
    figure = job_figure(job)
    (ax,) = figure.axes
    ways = {line.get_gid() for line in ax.lines}
    texts = " ".join(text.get_text() for text in ax.texts)
    for lift in job.lifts:
        assert f"load path {lift.id}" in ways
        assert lift.id in texts
    floats = [line for line in ax.lines if (line.get_gid() or "").startswith("float ")]
    setups = {(i.machine, i.stand, i.legs) for i in job.lifts}
    assert len(floats) == 4 * len(setups)
    assert ax.get_aspect() in (1.0, "equal")
    assert min(text.get_fontsize() for text in ax.texts) >= 7


def test_the_job_table_tells_the_verdict_of_each_lift() -> None:
    job = load_job(demo_job_path())
    rows = job_rows(job, lambda value, quantity: f"{value:.2f} {quantity}")
    assert [row[0] for row in rows] == [lift.id for lift in job.lifts]
    failing = {row[0] for row in rows if not row[-1].startswith("Within limits.")}
    assert failing == {"L4", "L6", "L7", "L8"}
