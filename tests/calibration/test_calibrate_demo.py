"""Charts of the invented demo machine, disturbed: its masses are found again."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from liftcalc.base.errors import InputError
from liftcalc.base.resources import demo_job_path
from liftcalc.calibration.calibrate import calibrate
from liftcalc.calibration.model import calibration_charts
from liftcalc.calibration.result import chart_fit
from liftcalc.facts.io import load_job
from liftcalc.lift.setup import chart_tables, machine_masses


@pytest.fixture(scope="module")
def demo():
    job = load_job(demo_job_path())
    machine = job.machine("demo-50")
    tables = chart_tables(machine, tuple(c for c in job.charts if c.machine == "demo-50"))
    weights = {c.id: (c.mass_t, c.cg_u_m) for c in machine.counterweights}
    return machine, tables, weights


@pytest.fixture(scope="module")
def fitted(demo):
    machine, tables, weights = demo
    rng = np.random.default_rng(5)
    noisy = []
    for table in tables:
        rated = table.capacity_t * (1.0 + 0.01 * rng.standard_normal(table.capacity_t.shape))
        rated = np.round(rated, 1)
        noisy.append(dataclasses.replace(table, capacity_t=np.where(rated > 0, rated, np.nan)))
    charts = calibration_charts(noisy, weights)
    return charts, calibrate(charts, machine.boom.foot_u_m, rounding="down")


def test_hidden_masses_of_the_invented_machine_are_found(demo, fitted):
    machine, _, _ = demo
    _, fit = fitted
    assert fit.accepted, fit.reasons
    masses, boom = machine_masses(machine, machine.counterweights[0].id), machine.boom
    hidden = [
        masses.carrier_mass_t + masses.slewing_mass_t + boom.mass_t,
        masses.carrier_mass_t * masses.carrier_x_m,
        masses.slewing_mass_t * masses.slewing_u_m + boom.mass_t * boom.foot_u_m,
        *(boom.mass_t * np.array(boom.cg_from_foot_m) / np.array(boom.lengths_m)),
    ]
    assert hidden[0] == pytest.approx(44.0)
    assert len(hidden) == len(fit.names)
    within = (fit.low <= hidden) & (hidden <= fit.high)
    assert within.sum() >= len(hidden) - 1


def test_every_chart_is_held_out_and_predicted(fitted):
    _, fit = fitted
    assert len(fit.held_out) == 6
    assert all(not held.reason and held.rms_error_percent < 5.0 for held in fit.held_out)


def test_a_counterweight_counts_by_what_it_adds_to_the_first(demo):
    _, tables, weights = demo
    charts = calibration_charts(tables, weights)
    light, heavy = charts[0], charts[-1]
    assert light.counterweight_mass_t == 0.0
    assert heavy.counterweight_mass_t == pytest.approx(6.0)
    added = heavy.counterweight_mass_t * heavy.counterweight_u_m
    assert added == pytest.approx(9.0 * -3.2 - 3.0 * -3.05)
    with pytest.raises(InputError, match="counterweights"):
        calibration_charts(tables, {})


def test_chart_fit_lines_up_with_the_chart(fitted):
    charts, fit = fitted
    one = chart_fit(fit, charts, 1, boom_length_m=25.0)
    used = one.used
    assert used.any()
    assert not used.all()
    np.testing.assert_allclose(one.model_t[used], one.rated_t[used], rtol=0.1, atol=0.1)
    assert np.all(np.isfinite(one.relative_residual_percent) == used)
    assert np.all(one.lower_t <= one.model_t)
    with pytest.raises(InputError, match="boom_length_m is 26"):
        chart_fit(fit, charts, 1, boom_length_m=26.0)
