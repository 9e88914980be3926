"""Published rows for uncertainty: intervals, quantiles, exact probabilities, sampled stability."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from liftcalc.crane.masses import MachineMasses
from liftcalc.uncertainty.lift_samples import SampledLift, sampled_utilisation
from liftcalc.uncertainty.propagation import LogNormal, TruncatedNormal, draw_samples, exceedance_probability

CASES = Path(__file__).parent / "cases" / "uncertainty.jsonl"
ROWS = [json.loads(line) for line in CASES.read_text(encoding="utf-8").splitlines()]


def normal(mean, sd):
    """A normal quantity: cut so far out that the cut shows in no digit."""
    return TruncatedNormal(mean, sd, mean - 8.0 * sd, mean + 8.0 * sd)


def of_topic(*topics):
    rows = [r for r in ROWS if r["topic"] in topics]
    return pytest.mark.parametrize("row", rows, ids=[r["id"] for r in rows])


@of_topic("binomial interval")
def test_interval(row):
    i, expected = row["inputs"], row["expected"]
    above = np.where(np.arange(i["number"]) < i["count"], 1.5, 0.5)
    got = exceedance_probability(above, confidence=i["confidence"])
    assert got.count == i["count"]
    tol = row["rel_tol"] * expected["high"]
    assert got.low == pytest.approx(expected["low"], abs=tol)
    assert got.high == pytest.approx(expected["high"], abs=tol)


@of_topic("normal quantile")
def test_quantile(row):
    i = row["inputs"]
    got = normal(i["mean"], i["sd"]).quantile(i["probability"])
    assert float(got) == pytest.approx(row["expected"]["value"], rel=row["rel_tol"])


@of_topic("exceedance, lognormal", "exceedance, normal")
def test_sampled_probability_agrees_with_the_exact_one(row):
    kind = LogNormal if "lognormal" in row["topic"] else normal
    samples = draw_samples({name: kind(**row["inputs"][name]) for name in ("resistance", "load")}, 400_000, seed=20)
    got = exceedance_probability(samples["load"] / samples["resistance"], confidence=0.999)
    assert got.count > 200
    assert got.low <= row["expected"]["probability"] <= got.high


def sampled_lift(i, **more):
    masses = MachineMasses(
        carrier_mass_t=i["carrier_mass_t"],
        carrier_x_m=i["carrier_cg_x_m"],
        carrier_y_m=i["carrier_cg_y_m"],
        slewing_mass_t=i["superstructure_mass_t"],
        slewing_u_m=i["superstructure_cg_radius_m"],
    )
    return SampledLift(
        masses=masses,
        boom_length_m=i["boom_length_m"],
        boom_mass_t=i["boom_mass_t"],
        boom_cg_from_foot_m=i["boom_cg_from_foot_m"],
        boom_foot_u_m=i["boom_foot_radius_m"],
        slew_deg=i["slew_deg"],
        leg_x_m=tuple(i["leg_x_m"]),
        extension_m=tuple(np.abs(i["leg_y_m"])),
        radius_m=i["load_radius_m"],
        load_t=i.get("hook_load_t", 10.0),
        **({"boom_foot_z_m": 2.0} | more),
    )


STABILITY = [r for r in ROWS if r["topic"] == "stability" and "tipping_load_t" in r["expected"]]


@pytest.mark.parametrize("row", STABILITY, ids=[r["id"] for r in STABILITY])
def test_sampled_stability_is_the_published_rated_load(row):
    load = np.array([4.0, 10.0])
    for rule, fraction, name in (
        ("test_load", 0.85, "rated_iso_static_t"),
        ("tipping_fraction", 0.85, "rated_85pct_t"),
        ("tipping_fraction", 1.0, "tipping_load_t"),
    ):
        lift = sampled_lift(row["inputs"], rule=rule, tipping_fraction=fraction)
        got = sampled_utilisation(lift, {"load_t": load})["stability"]
        assert load / got == pytest.approx(row["expected"][name], rel=row["rel_tol"])


WIND = [r for r in ROWS if "wind_moment_about_edge_kNm" in r["expected"]]


@pytest.mark.parametrize("row", WIND, ids=[r["id"] for r in WIND])
def test_sampled_stability_with_wind_is_that_of_the_published_moments(row):
    i, expected = row["inputs"], row["expected"]
    cos = (i["load_radius_m"] - i["boom_foot_radius_m"]) / i["boom_length_m"]
    lift = sampled_lift(
        i,
        rule="tipping_fraction",
        tipping_fraction=1.0,
        boom_foot_z_m=i["boom_head_height_m"] - i["boom_length_m"] * np.sqrt(1 - cos**2),
        wind_m_s=i["wind_speed_m_s"],
        wind_area_m2=(
            i["boom_wind_area_m2"] * i["boom_force_coefficient"],
            i["load_wind_area_m2"] * i["load_force_coefficient"],
        ),
        boom_wind_z_m=i["boom_wind_height_m"],
    )
    got = sampled_utilisation(lift, {"load_t": [i["hook_load_t"]]})["stability"]
    # The rows blow along the boom; here the wind takes the worst side, square to the line.
    square = (
        expected["boom_wind_force_kN"] * i["boom_wind_height_m"]
        + expected["load_wind_force_kN"] * i["boom_head_height_m"]
    )
    assert square >= expected["wind_moment_about_edge_kNm"] * (1 - 1e-9)
    holding = expected["stabilising_moment_kNm"] - square
    assert got[0] == pytest.approx(expected["load_moment_about_edge_kNm"] / holding, rel=1e-6)


def test_rows_are_all_there():
    assert len(ROWS) == 26
    assert (len(STABILITY), len(WIND)) == (7, 2)
