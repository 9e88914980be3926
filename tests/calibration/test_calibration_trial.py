"""The trial of the calibration: charts disturbed, masses hidden, the comparison told in words."""

from __future__ import annotations

import numpy as np
import pytest

from liftcalc.base.errors import InputError
from liftcalc.base.resources import demo_job_path
from liftcalc.calibration.calibrate import calibrate
from liftcalc.calibration.trial import (
    chart_fit,
    held_out_rows,
    hidden_moments,
    moment_rows,
    noisy_charts,
)
from liftcalc.facts.io import load_job
from liftcalc.lift.setup import chart_tables, machine_masses


@pytest.fixture(scope="module")
def trial():
    job = load_job(demo_job_path())
    machine = job.machine("demo-50")
    tables = chart_tables(machine, tuple(c for c in job.charts if c.machine == "demo-50"))
    weights = {c.id: (c.mass_t, c.cg_u_m) for c in machine.counterweights}
    return machine, tables, weights


@pytest.fixture(scope="module")
def fitted(trial):
    machine, tables, weights = trial
    charts = noisy_charts(tables, weights, noise_percent=1.0, step_t=0.1, seed=5)
    fit = calibrate(charts, machine.boom.foot_u_m, rounding="down")
    hidden = hidden_moments(
        machine_masses(machine, machine.counterweights[0].id),
        machine.boom.lengths_m,
        boom_mass_t=machine.boom.mass_t,
        boom_cg_from_foot_m=machine.boom.cg_from_foot_m,
        boom_foot_u_m=machine.boom.foot_u_m,
    )
    return charts, fit, hidden


def test_hidden_masses_of_the_invented_machine_are_found(fitted):
    _, fit, hidden = fitted
    assert fit.accepted, fit.reasons
    assert tuple(hidden) == fit.names
    rows = moment_rows(fit, hidden)
    assert [row["Within"] for row in rows].count("yes") >= len(rows) - 1
    assert rows[0]["Quantity"] == "Total mass without load"
    assert rows[0]["Hidden"] == "44.00"
    assert "Hidden" not in moment_rows(fit)[0]


def test_every_chart_is_held_out_and_told(fitted):
    _, fit, _ = fitted
    rows = held_out_rows(fit)
    assert len(rows) == 6
    assert all(row["Error, rms"].endswith("%") and not row["Remark"] for row in rows)


def test_noise_is_as_stated_and_repeats_with_the_seed(trial):
    _, tables, weights = trial
    one, two = (
        noisy_charts(tables, weights, noise_percent=2.0, step_t=0.001, seed=9) for _ in range(2)
    )
    ratio = np.concatenate(
        [(n.table.capacity_t / t.capacity_t).ravel() for n, t in zip(one, tables, strict=True)]
    )
    ratio = ratio[np.isfinite(ratio)]
    assert np.std(ratio) == pytest.approx(0.02, rel=0.1)
    assert np.mean(ratio) == pytest.approx(1.0, abs=0.003)
    for a, b in zip(one, two, strict=True):
        np.testing.assert_array_equal(a.table.capacity_t, b.table.capacity_t)


def test_counterweights_are_told_as_what_they_add(trial):
    _, tables, weights = trial
    charts = noisy_charts(tables, weights, noise_percent=0.0, step_t=0.1, seed=1)
    light, heavy = charts[0], charts[-1]
    assert light.counterweight_mass_t == 0.0
    assert heavy.counterweight_mass_t == pytest.approx(6.0)
    added = heavy.counterweight_mass_t * heavy.counterweight_u_m
    assert added == pytest.approx(9.0 * -3.2 - 3.0 * -3.05)


def test_chart_fit_lines_up_with_the_chart(fitted):
    charts, fit, _ = fitted
    one = chart_fit(fit, charts, 1, boom_length_m=25.0)
    used = one.used
    assert used.any()
    assert not used.all()
    np.testing.assert_allclose(one.model_t[used], one.rated_t[used], rtol=0.1, atol=0.1)
    assert np.all(np.isfinite(one.relative_residual_percent) == used)
    assert np.all(one.lower_t <= one.model_t)
    with pytest.raises(InputError, match="boom_length_m is 26"):
        chart_fit(fit, charts, 1, boom_length_m=26.0)


def test_bad_input_is_refused(trial):
    _, tables, weights = trial
    with pytest.raises(InputError, match="noise_percent"):
        noisy_charts(tables, weights, noise_percent=-1.0, step_t=0.1, seed=1)
    with pytest.raises(InputError, match="step_t"):
        noisy_charts(tables, weights, noise_percent=1.0, step_t=0.0, seed=1)
    with pytest.raises(InputError, match="counterweights"):
        noisy_charts(tables, {}, noise_percent=1.0, step_t=0.1, seed=1)
