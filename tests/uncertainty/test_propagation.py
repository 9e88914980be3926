"""Probability of passing the limit, tornado."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from liftcalc.base.errors import InputError
from liftcalc.uncertainty.propagation import (
    DETERMINISTIC_GOVERNS,
    Fixed,
    LogNormal,
    TruncatedNormal,
    exceedance_probability,
    sample_utilisation,
    tornado,
)


def normal(mean, sd):
    """A normal quantity: cut so far out that the cut shows in no digit."""
    return TruncatedNormal(mean, sd, mean - 8.0 * sd, mean + 8.0 * sd)


def between(low, high):
    """Any value of an interval, its middle a little likelier."""
    return TruncatedNormal(0.5 * (low + high), high - low, low, high)


LIFT = {"load_t": normal(10.0, 0.4), "rigging_t": normal(1.0, 0.1), "capacity_t": normal(12.5, 0.3)}
NOMINAL = {"load_t": 10.0, "rigging_t": 1.0, "capacity_t": 12.5}


def linear(samples):
    """Two checks that are linear in normal quantities, so that probabilities are known."""
    return {
        "capacity": 1.0 + (samples["load_t"] + samples["rigging_t"] - samples["capacity_t"]) / 10,
        "hook": samples["load_t"] / 11.0,
    }


def test_probability_is_that_of_the_sum_of_normal_quantities():
    got = sample_utilisation(linear, LIFT, nominal=NOMINAL, seed=11)
    exact = stats.norm.sf((12.5 - 11.0) / np.sqrt(0.4**2 + 0.1**2 + 0.3**2))
    assert got.exceedance["capacity"].low <= exact <= got.exceedance["capacity"].high
    hook = stats.norm.sf((11.0 - 10.0) / 0.4)
    assert got.exceedance["hook"].low <= hook <= got.exceedance["hook"].high
    both = got.exceedance["any"].count
    assert max(got.exceedance[n].count for n in ("capacity", "hook")) <= both
    assert both <= got.exceedance["capacity"].count + got.exceedance["hook"].count
    q = got.quantiles["hook"]
    for p in (0.05, 0.5, 0.95, 0.99):
        assert q[p] == pytest.approx((10.0 + 0.4 * stats.norm.ppf(p)) / 11.0, abs=2e-3)
    assert sum(got.governing_share.values()) == pytest.approx(1.0)


def test_a_fixed_seed_gives_the_same_study_and_intervals_narrow_with_more_samples():
    one = sample_utilisation(linear, LIFT, nominal=NOMINAL, seed=4, number=2000)
    two = sample_utilisation(linear, LIFT, nominal=NOMINAL, seed=4, number=2000)
    assert np.array_equal(one.worst, two.worst)
    assert one.exceedance == two.exceedance
    more = sample_utilisation(linear, LIFT, nominal=NOMINAL, seed=4, number=50_000)
    width = [s.exceedance["any"].high - s.exceedance["any"].low for s in (one, more)]
    assert width[1] < 0.5 * width[0]


def test_deterministic_check_governs_whatever_the_probability():
    # Nominally over its limit although nearly every sample is within: must stay refused.
    over = sample_utilisation(linear, LIFT, nominal=NOMINAL | {"capacity_t": 10.9}, seed=1, number=5000)
    assert over.exceedance["any"].probability < 0.02
    assert not over.within_limit
    assert "over a limit" in over.statement
    # Nominally within although many samples are over: says so beside it.
    risky = sample_utilisation(linear, LIFT | {"load_t": normal(11.0, 1.0)}, nominal=NOMINAL, seed=1, number=5000)
    assert risky.within_limit
    assert risky.exceedance["any"].probability > 0.3
    for study in (over, risky):
        assert study.statement.endswith(DETERMINISTIC_GOVERNS)
        assert "seed 1" in study.statement
    assert risky.nominal_governing == "hook"


def test_a_utilisation_that_is_not_a_number_counts_as_above_the_limit_everywhere():
    def patchy(samples):
        u = np.where(samples["x"] > 0.9, np.nan, 0.5)
        return {"a": u, "b": np.full(u.shape, 0.4)}

    got = sample_utilisation(patchy, {"x": between(0.0, 1.0)}, nominal={"x": 0.95}, seed=2, number=1000)
    share = np.mean(np.isnan(got.utilisation["a"]))
    assert 0.0 < share < 0.2
    assert got.exceedance["a"].probability == share
    assert got.exceedance["any"].probability == share
    assert got.quantiles["any"][0.95] == np.inf
    assert got.governing_share == {"a": 1.0, "b": 0.0}
    assert not got.within_limit
    assert got.nominal_governing == "a"
    assert exceedance_probability([np.nan, np.inf, 1.0, 0.2]).count == 2


@settings(deadline=None)
@given(st.integers(1, 400), st.integers(0, 400), st.floats(0.6, 0.999))
def test_intervals_are_the_beta_quantiles(n, k, confidence):
    k = min(k, n)
    u = np.where(np.arange(n) < k, 2.0, 0.1)
    exact = exceedance_probability(u, confidence=confidence)
    tail = (1 - confidence) / 2
    low = 0.0 if k == 0 else stats.beta.ppf(tail, k, n - k + 1)
    high = 1.0 if k == n else stats.beta.ppf(1 - tail, k + 1, n - k)
    assert (exact.low, exact.high) == (pytest.approx(low, abs=1e-9), pytest.approx(high, abs=1e-9))
    assert exact.low - 1e-12 <= exact.probability <= exact.high + 1e-12


def test_exactly_on_the_limit_is_not_above_it():
    assert exceedance_probability([1.0, 1.0], 1.0).count == 0
    assert exceedance_probability([1.0, np.nextafter(1.0, 2.0)], 1.0).count == 1


def test_tornado_orders_quantities_by_their_swing():
    got = tornado(linear, LIFT, nominal=NOMINAL, check="capacity")
    z = stats.norm.ppf(0.95)
    assert got.names == ("load_t", "capacity_t", "rigging_t")
    assert got.swing == pytest.approx(np.array([0.8, 0.6, 0.2]) * z / 10)
    assert got.nominal == pytest.approx(0.85)
    assert got.at_high - got.nominal == pytest.approx(np.array([0.4, -0.3, 0.1]) * z / 10)
    assert got.low_value == pytest.approx([10 - 0.4 * z, 12.5 - 0.3 * z, 1 - 0.1 * z])
    worst = tornado(linear, LIFT, nominal=NOMINAL)
    assert worst.check == "any"
    assert worst.nominal == pytest.approx(10 / 11)


def test_tornado_shows_an_unknown_as_an_infinite_swing():
    def edge(samples):
        return {"a": np.where(samples["x"] > 1.2, np.nan, 0.5) + 0 * samples["y"]}

    got = tornado(edge, {"y": between(0.0, 1.0), "x": between(0.9, 1.5)}, nominal={"x": 1.0, "y": 0.5})
    assert got.names == ("x", "y")
    assert got.swing.tolist() == [np.inf, 0.0]
    assert np.isnan(got.at_high[0])


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: exceedance_probability([]), "at least one sample"),
        (lambda: exceedance_probability([[1.0]]), "at least one sample"),
        (lambda: exceedance_probability([0.5], np.nan), "limit is nan"),
        (lambda: exceedance_probability([0.5], confidence=1.0), r"confidence is 1\.0"),
        (
            lambda: sample_utilisation(linear, LIFT, nominal={"load_t": 10.0}, seed=1),
            "a value for each of capacity_t, load_t, rigging_t",
        ),
        (
            lambda: sample_utilisation(lambda s: {"a": 0.5}, {"x": Fixed(1.0)}, nominal={"x": 1.0}, seed=1, number=5),
            "utilisation a",
        ),
        (
            lambda: sample_utilisation(
                lambda s: {"any": s["x"]}, {"x": Fixed(1.0)}, nominal={"x": 1.0}, seed=1, number=5
            ),
            "none named 'any'",
        ),
        (lambda: tornado(linear, LIFT, nominal=NOMINAL, check="leg"), "any, capacity, hook"),
    ],
)
def test_wrong_input_is_named(call, text):
    with pytest.raises(InputError, match=text):
        call()


def test_seed_must_be_stated():
    with pytest.raises(TypeError, match="seed"):
        sample_utilisation(linear, LIFT, nominal=NOMINAL)


def test_errors_of_the_utilisation_are_not_swallowed():
    def broken(samples):
        raise InputError.of("radius_m", 99.0, "within reach")

    with pytest.raises(InputError, match="within reach"):
        sample_utilisation(broken, {"x": LogNormal(1.0, 0.1)}, nominal={"x": 1.0}, seed=1)
