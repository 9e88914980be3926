"""The plane of the boom agrees with the studies along the path."""

from __future__ import annotations

import pytest

from liftcalc.base.errors import InputError
from liftcalc.base.resources import demo_job_path
from liftcalc.facts.io import load_job
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.boom_plane import boom_plane


@pytest.fixture(scope="module")
def assessed() -> dict[str, LiftAssessment]:
    job = load_job(demo_job_path())
    return {lift.id: assess_lift(job, lift.id) for lift in job.lifts}


def test_elevation_heights_agree_with_the_study(assessed: dict[str, LiftAssessment]) -> None:
    for a in assessed.values():
        step = a.study.governing_step
        data = boom_plane(a, step=step)
        assert data.hook_highest_m - data.hook_z_m == pytest.approx(float(a.study.head_room_m[step]), abs=1e-6)
        assert data.sheave_m[0] == pytest.approx(float(a.path.radius_m[step]))
        if data.bent_uz_m is not None:
            assert data.bent_uz_m[0] == pytest.approx(data.foot_m)
            # the loaded hook hangs at the planned radius; the boom bows above its chord
            assert data.bent_uz_m[-1, 0] == pytest.approx(data.head_m[0])
            assert data.head_m[1] - 0.02 < data.bent_uz_m[-1, 1] < data.head_m[1]
            middle = (data.bent_uz_m[0] + data.bent_uz_m[-1]) / 2
            assert data.bent_uz_m[12, 1] > middle[1] + 0.01
    with pytest.raises(InputError, match="step is 99999"):
        boom_plane(a, step=99999)
