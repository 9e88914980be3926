"""100,000 samples of the whole utilisation of a lift, and the parts of it.

Run on one core: OPENBLAS_NUM_THREADS=1 pytest benchmarks/bench_uncertainty.py --benchmark-only
Four checks (stability on the sampled base, legs by three carrier models, ground,
wind) with 15 uncertain quantities; timings are not asserted.
"""

from __future__ import annotations

import dataclasses
import functools

import numpy as np

from liftcalc.base.resources import demo_job_path
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.crane.masses import MachineMasses
from liftcalc.facts.io import load_job
from liftcalc.lift.assess import assess_lift
from liftcalc.lift.sampled_capacity import sampled_capacity
from liftcalc.lift.sensitivity import default_assumptions
from liftcalc.uncertainty.lift_samples import SampledLift, sampled_utilisation
from liftcalc.uncertainty.propagation import LogNormal, TruncatedNormal, draw_samples, sample_utilisation, tornado

# Invented machine and lift.
LIFT = SampledLift(
    masses=MachineMasses(
        carrier_mass_t=22.0,
        carrier_x_m=0.4,
        carrier_y_m=0.0,
        carrier_z_m=1.3,
        slewing_mass_t=20.0,
        slewing_u_m=-2.1,
        slewing_z_m=2.2,
    ),
    boom_length_m=30.0,
    boom_mass_t=8.0,
    boom_cg_from_foot_m=12.0,
    boom_foot_u_m=-1.2,
    boom_foot_z_m=2.0,
    slew_deg=-65.0,
    leg_x_m=(3.6, 3.6, -3.8, -3.8),
    extension_m=(3.5, 2.2, 1.8, 3.5),
    radius_m=9.0,
    load_t=8.5,
    rigging_t=0.6,
    dynamic_factor=1.06,
    ground_stiffness_kN_m=2e4,
    torsional_stiffness_kNm_rad=3e4,
    leg_capacity_kN=(480.0, 480.0, 450.0, 450.0),
    mat_area_m2=(2.25, 2.25, 2.25, 2.25),
    allowable_kPa=220.0,
    wind_m_s=6.0,
    wind_area_m2=(20.0, 12.0),
    boom_wind_z_m=15.0,
    permissible_wind_m_s=9.8,
)


def between(low, high):
    """Any value of an interval, its middle a little likelier."""
    return TruncatedNormal(0.5 * (low + high), high - low, low, high)


SPREADS = {
    "load_t": TruncatedNormal(8.5, 0.3, 7.5, 9.5),
    "cg_offset_m": TruncatedNormal(0.0, 0.1, -0.8, 0.8),
    "radius_m": TruncatedNormal(9.0, 0.15, 8.5, 9.6),
    "allowable_kPa": LogNormal(220.0, 0.1),
    "wind_m_s": between(0.0, 9.0),
    "tilt_x_deg": TruncatedNormal(0.0, 0.1, -0.8, 0.8),
    "tilt_y_deg": TruncatedNormal(0.0, 0.1, -0.8, 0.8),
}
for _leg, _e in zip(("FL", "FR", "RR", "RL"), LIFT.extension_m, strict=True):
    SPREADS[f"extension_{_leg}_m"] = between(_e - 0.1, _e + 0.02)
    SPREADS[f"ground_stiffness_{_leg}_kN_m"] = LogNormal(2e4, 0.4)
NOMINAL = {name: LIFT.nominal[name] for name in SPREADS}


def test_study_of_100000_samples(benchmark):
    study = benchmark(
        sample_utilisation,
        functools.partial(sampled_utilisation, LIFT),
        SPREADS,
        nominal=NOMINAL,
        seed=1,
        number=100_000,
    )
    assert study.worst.size == 100_000


def test_utilisation_of_100000_samples(benchmark):
    samples = draw_samples(SPREADS, 100_000, seed=1)
    assert len(benchmark(sampled_utilisation, LIFT, samples)) == 4


def test_utilisation_of_100000_samples_without_leg_reactions(benchmark):
    lift = dataclasses.replace(LIFT, leg_capacity_kN=None, mat_area_m2=None, allowable_kPa=None)
    spreads = {n: d for n, d in SPREADS.items() if n != "allowable_kPa"}
    samples = draw_samples(spreads, 100_000, seed=1)
    assert len(benchmark(sampled_utilisation, lift, samples)) == 2


def test_drawing_100000_samples_of_15_quantities(benchmark):
    assert len(benchmark(draw_samples, SPREADS, 100_000, seed=1)) == 15


def test_tornado(benchmark):
    assert len(benchmark(tornado, functools.partial(sampled_utilisation, LIFT), SPREADS, nominal=NOMINAL).names) == 15


def test_rating_20000_samples_of_a_lift_on_their_own_bases(benchmark):
    a = assess_lift(load_job(demo_job_path()), "L1")
    samples = draw_samples({one.name: one.distribution for one in default_assumptions(a)}, 20_000, seed=1)
    found = benchmark(
        sampled_capacity,
        a.setup,
        a.path,
        gross_t=samples["load_t"] + 0.5,
        extension_m=np.stack([samples[f"extension_{n}_m"] for n in LEG_NAMES], axis=-1),
        radius_shift_m=samples["cg_offset_m"],
    )
    assert found.utilisation.size == 20_000
