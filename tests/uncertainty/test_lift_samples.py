"""Sampled lift: the same numbers as the functions for one lift, its invariants and refusals."""

from __future__ import annotations

import dataclasses
import functools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from liftcalc.base.errors import InputError
from liftcalc.base.units import G_M_S2
from liftcalc.crane.legs import base_polygon
from liftcalc.crane.masses import AdverseTerms, MachineMasses, straight_boom
from liftcalc.crane.stability import stability_capacity_t
from liftcalc.reactions.carrier import carrier_supports, reactions_on
from liftcalc.uncertainty.lift_samples import SampledLift, sampled_utilisation
from liftcalc.uncertainty.propagation import LogNormal, TruncatedNormal, draw_samples, sample_utilisation, tornado
from liftcalc.wind.pressure import dynamic_pressure_kPa

# Invented machine and lift.
MASSES = MachineMasses(
    carrier_mass_t=22.0,
    carrier_x_m=0.4,
    carrier_y_m=0.05,
    carrier_z_m=1.3,
    slewing_mass_t=20.0,
    slewing_u_m=-2.1,
    slewing_z_m=2.2,
)
LIFT = SampledLift(
    masses=MASSES,
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
    leg_stiffness_kN_m=(9e4, 9e4, 9e4, 9e4),
    ground_stiffness_kN_m=2e4,
    torsional_stiffness_kNm_rad=3e4,
    leg_capacity_kN=(480.0, 480.0, 450.0, 450.0),
    mat_area_m2=(2.25, 2.25, 1.44, 1.44),
    mat_weight_kN=6.0,
    allowable_kPa=220.0,
    wind_m_s=6.0,
    wind_area_m2=(20.0, 12.0),
    boom_wind_z_m=15.0,
    permissible_wind_m_s=9.8,
)


def normal(mean, sd):
    """A normal quantity: cut so far out that the cut shows in no digit."""
    return TruncatedNormal(mean, sd, mean - 8.0 * sd, mean + 8.0 * sd)


def between(low, high):
    """Any value of an interval, its middle a little likelier."""
    return TruncatedNormal(0.5 * (low + high), high - low, low, high)


SPREADS = {
    "load_t": TruncatedNormal(8.5, 0.3, 7.5, 9.5),
    "cg_offset_m": normal(0.0, 0.1),
    "radius_m": TruncatedNormal(9.0, 0.15, 8.5, 9.6),
    "extension_FL_m": between(3.4, 3.52),
    "extension_FR_m": between(2.1, 2.22),
    "extension_RR_m": between(1.7, 1.82),
    "extension_RL_m": between(3.4, 3.52),
    "ground_stiffness_kN_m": LogNormal(2e4, 0.4),
    "ground_stiffness_RR_kN_m": LogNormal(1e4, 0.4),
    "allowable_kPa": LogNormal(220.0, 0.1),
    "wind_m_s": between(0.0, 9.0),
    "tilt_x_deg": normal(0.0, 0.1),
    "tilt_y_deg": normal(0.0, 0.1),
}


def one_by_one(x):
    """The same lift through the functions for a single lift."""
    value = {n: float(v) for n, v in x.items()}
    radius = value["radius_m"] + value["cg_offset_m"]
    gross = value["load_t"] + LIFT.rigging_t
    legs = [
        [lx, s * value[f"extension_{n}_m"]]
        for lx, s, n in zip(LIFT.leg_x_m, (1, -1, -1, 1), ("FL", "FR", "RR", "RL"), strict=True)
    ]
    boom = straight_boom(radius, 30.0, mass_t=8.0, cg_from_foot_m=12.0, foot_u_m=-1.2, foot_z_m=2.0)
    q = float(dynamic_pressure_kPa(value["wind_m_s"]))
    adverse = AdverseTerms(
        tilt_x_deg=value["tilt_x_deg"],
        tilt_y_deg=value["tilt_y_deg"],
        wind_direction="worst",
        boom_wind_force_kN=20.0 * q,
        boom_wind_z_m=15.0,
        load_wind_force_kN=12.0 * q,
        dynamic_factor=1.06,
    )
    capacity = stability_capacity_t([LIFT.slew_deg], boom, base=base_polygon(legs), masses=MASSES, adverse=adverse)[
        0, 0
    ]
    # Moments written out mass by mass, point by point.
    along = np.array([np.cos(np.radians(LIFT.slew_deg)), np.sin(np.radians(LIFT.slew_deg))])
    head_z = float(boom.head_z_m[0])
    parts = [
        (22.0, np.array([0.4, 0.05]), 1.3),
        (20.0, -2.1 * along, 2.2),
        (8.0, float(boom.u_m[0]) * along, float(boom.z_m[0])),
        (1.06 * gross, radius * along, head_z),
    ]
    lean = np.tan(np.radians([value["tilt_x_deg"], value["tilt_y_deg"]]))
    moment = sum(m * (p + z * lean) for m, p, z in parts) * G_M_S2
    moment = moment + q * (20.0 * 15.0 + 12.0 * head_z) * along
    total = sum(m for m, _, _ in parts) * G_M_S2
    ground = [value["ground_stiffness_kN_m"]] * 4
    ground[2] = value["ground_stiffness_RR_kN_m"]
    supports = carrier_supports(
        legs,
        1 / (1 / np.array(ground) + 1 / 9e4),
        carriers=("rigid", "flexible", "stiffness"),
        torsional_stiffness_kNm_rad=3e4,
    )
    models = reactions_on(supports, total, moment / total, stiffness_given=True).values()
    most_kN = np.max([r.reaction_kN for r in models], axis=0)
    return {
        "stability": gross / capacity,
        "leg": (most_kN / np.array(LIFT.leg_capacity_kN)).max(),
        "ground": ((most_kN + 6.0) / np.array(LIFT.mat_area_m2)).max() / value["allowable_kPa"],
        "wind": value["wind_m_s"] / 9.8,
    }


def test_every_sample_is_the_lift_worked_by_itself():
    samples = draw_samples(SPREADS, 60, seed=13)
    got = sampled_utilisation(LIFT, samples)
    assert set(got) == {"stability", "leg", "ground", "wind"}
    for i in range(60):
        want = one_by_one({n: v[i] for n, v in samples.items()})
        for name, value in want.items():
            assert got[name][i] == pytest.approx(value, rel=1e-9), (i, name)


def test_what_is_not_sampled_is_nominal():
    nominal = sampled_utilisation(LIFT, {n: [v] for n, v in LIFT.nominal.items()})
    for name in ("load_t", "wind_m_s", "extension_RR_m", "ground_stiffness_FL_kN_m"):
        alone = sampled_utilisation(LIFT, {name: [LIFT.nominal[name]]})
        for check in nominal:
            assert_allclose(alone[check], nominal[check], rtol=1e-12)


def test_checks_without_data_are_left_out():
    bare = dataclasses.replace(
        LIFT, leg_capacity_kN=None, mat_area_m2=None, allowable_kPa=None, permissible_wind_m_s=None
    )
    assert set(sampled_utilisation(bare, {"load_t": [8.0]})) == {"stability"}


# Legs and ground are left out of the first two: a heavier load may relieve the legs behind it.
UP = {
    "load_t": (1.0, 12.0, {"stability"}),
    "cg_offset_m": (-0.9, 1.5, {"stability"}),
    "wind_m_s": (0.0, 9.0, {"stability", "leg", "ground", "wind"}),
}


@pytest.mark.parametrize("name", UP)
def test_more_load_radius_or_wind_never_lowers_a_utilisation(name):
    low, high, checks = UP[name]
    got = sampled_utilisation(LIFT, {name: np.linspace(low, high, 200)})
    for check in checks:
        assert np.all(np.diff(got[check]) >= -1e-9), check


@settings(deadline=None)
@given(st.sampled_from(["FL", "FR", "RR", "RL"]), st.floats(0.01, 0.5), st.floats(0, 360))
def test_a_longer_leg_never_raises_the_stability_utilisation(leg, more, slew):
    lift = dataclasses.replace(LIFT, slew_deg=slew)
    start = lift.nominal[f"extension_{leg}_m"]
    got = sampled_utilisation(lift, {f"extension_{leg}_m": [start, start + more]})["stability"]
    assert got[1] <= got[0] * (1 + 1e-12)


def test_beyond_tipping_the_utilisation_is_infinite():
    heavy = sampled_utilisation(LIFT, {"load_t": [8.0, 400.0]})
    assert np.isfinite(heavy["leg"]).tolist() == [True, False]
    assert np.isinf(heavy["ground"][1])
    assert heavy["stability"][1] > 1
    blown = sampled_utilisation(LIFT, {"wind_m_s": [5.0, 90.0]})["stability"]
    assert np.isfinite(blown[0])
    assert np.isinf(blown[1])


def test_study_and_tornado_run_on_the_lift():
    nominal = {name: LIFT.nominal[name] for name in SPREADS}
    study = sample_utilisation(
        functools.partial(sampled_utilisation, LIFT), SPREADS, nominal=nominal, seed=3, number=4000
    )
    assert set(study.nominal) == {"stability", "leg", "ground", "wind"}
    assert study.worst.shape == (4000,)
    chart = tornado(functools.partial(sampled_utilisation, LIFT), SPREADS, nominal=nominal, check="ground")
    assert set(chart.names) == set(SPREADS)
    assert chart.nominal == pytest.approx(study.nominal["ground"])
    assert chart.names.index("allowable_kPa") < chart.names.index("extension_RL_m")


def replaced(**change):
    return lambda: dataclasses.replace(LIFT, **change)


@pytest.mark.parametrize(
    ("make", "text"),
    [
        (lambda: sampled_utilisation(LIFT, {}), "at least one quantity"),
        (lambda: sampled_utilisation(LIFT, {"lod_t": [1.0]}), "samples is 'lod_t'"),
        (lambda: sampled_utilisation(LIFT, {"load_t": [np.nan]}), "load_t is nan"),
        (lambda: sampled_utilisation(LIFT, {"load_t": [0.0]}), r"load_t is 0\.0"),
        (lambda: sampled_utilisation(LIFT, {"load_t": 8.0}), "rows of one length"),
        (lambda: sampled_utilisation(LIFT, {"load_t": [8.0], "wind_m_s": [1.0, 2.0]}), "rows of one length"),
        (lambda: sampled_utilisation(LIFT, {"wind_m_s": [-1.0]}), "wind_m_s is -1"),
        (lambda: sampled_utilisation(LIFT, {"radius_m": [29.0]}), "within reach of a boom of 30 m"),
        (lambda: sampled_utilisation(LIFT, {"tilt_x_deg": [6.0]}), r"tilt_x_deg is 6\.0"),
        (lambda: sampled_utilisation(LIFT, {"allowable_kPa": [0.0]}), r"allowable_kPa is 0\.0"),
        (
            lambda: sampled_utilisation(
                dataclasses.replace(LIFT, masses=dataclasses.replace(MASSES, carrier_z_m=float("nan"))),
                {"tilt_x_deg": [0.5]},
            ),
            "Tilt, wind and side load need heights",
        ),
        (
            lambda: sampled_utilisation(
                dataclasses.replace(LIFT, mat_area_m2=None, allowable_kPa=None), {"allowable_kPa": [200.0]}
            ),
            "samples is 'allowable_kPa'; allowed: load_t",
        ),
        (replaced(load_t=np.nan), "load_t is nan"),
        (replaced(extension_m=(3.5, 2.2, 1.8)), "four outriggers"),
        (replaced(allowable_kPa=None), "given together with mat_area_m2"),
        (replaced(ground_stiffness_kN_m=None), "given together with torsional_stiffness_kNm_rad"),
        (replaced(leg_capacity_kN=(1.0, 1.0, 0.0, 1.0)), "leg_capacity_kN is 0"),
    ],
)
def test_wrong_input_is_named(make, text):
    with pytest.raises(InputError, match=text):
        make()


def test_a_base_that_is_not_convex_in_some_sample_is_refused():
    lift = dataclasses.replace(LIFT, leg_x_m=(3.6, 0.2, -3.8, -3.8))
    sampled_utilisation(lift, {"extension_FR_m": [2.2]})
    with pytest.raises(InputError, match="a base that is convex in every sample"):
        sampled_utilisation(lift, {"extension_FR_m": [2.2, 0.1], "extension_FL_m": [3.5, 0.1]})
