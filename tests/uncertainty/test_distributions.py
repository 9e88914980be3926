"""Distributions and samples, against scipy.stats and by their own laws."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from liftcalc.base.errors import InputError
from liftcalc.uncertainty.propagation import Fixed, LogNormal, TruncatedNormal, draw_samples


def normal(mean, sd):
    """A normal quantity: cut so far out that the cut shows in no digit."""
    return TruncatedNormal(mean, sd, mean - 8.0 * sd, mean + 8.0 * sd)


SIGMA = np.sqrt(np.log1p(0.3**2))
PAIRS = {
    "normal": (normal(8.5, 0.3), stats.norm(8.5, 0.3)),
    "truncated": (TruncatedNormal(9.0, 0.2, 8.7, 9.6), stats.truncnorm((8.7 - 9) / 0.2, (9.6 - 9) / 0.2, 9.0, 0.2)),
    "lognormal": (LogNormal(2e4, 0.3), stats.lognorm(SIGMA, scale=2e4 * np.exp(-0.5 * SIGMA**2))),
}


@pytest.mark.parametrize("name", PAIRS)
def test_quantiles_are_those_of_scipy(name):
    ours, theirs = PAIRS[name]
    p = np.concatenate([[1e-9, 1e-4], np.linspace(0.01, 0.99, 99), [1 - 1e-4, 1 - 1e-9]])
    assert_allclose(ours.quantile(p), theirs.ppf(p), rtol=1e-8)


@pytest.mark.parametrize("name", PAIRS)
def test_samples_follow_the_distribution(name):
    ours, theirs = PAIRS[name]
    x = draw_samples({name: ours}, 20_000, seed=3)[name]
    assert stats.kstest(x, theirs.cdf).pvalue > 1e-3
    assert x.mean() == pytest.approx(theirs.mean(), abs=5 * theirs.std() / np.sqrt(x.size))


def test_lognormal_has_the_stated_mean_and_coefficient_of_variation():
    x = draw_samples({"k": LogNormal(2e4, 0.3)}, 200_000, seed=1)["k"]
    assert x.mean() == pytest.approx(2e4, rel=3e-3)
    assert x.std() / x.mean() == pytest.approx(0.3, rel=1e-2)


def test_same_seed_same_samples_and_a_new_quantity_leaves_the_others_alone():
    one = draw_samples({"a": normal(0, 1), "b": LogNormal(1.0, 0.1)}, 1000, seed=7)
    two = draw_samples({"c": Fixed(3.0), "b": LogNormal(1.0, 0.1), "a": normal(0, 1)}, 1000, seed=7)
    assert np.array_equal(one["a"], two["a"])
    assert np.array_equal(one["b"], two["b"])
    assert np.all(two["c"] == 3.0)
    other = draw_samples({"a": normal(0, 1)}, 1000, seed=8)
    assert not np.any(one["a"] == other["a"])
    assert abs(stats.pearsonr(one["a"], one["b"]).statistic) < 0.1


@pytest.mark.parametrize(
    ("make", "text"),
    [
        (lambda: Fixed(np.nan), "value is nan"),
        (lambda: TruncatedNormal(np.inf, 1.0, 0.0, 1.0), "mean is inf"),
        (lambda: TruncatedNormal(0.0, 0.0, -1.0, 1.0), r"sd is 0\.0"),
        (lambda: TruncatedNormal(1.0, 0.1, 2.0, 1.0), "greater than low"),
        (lambda: TruncatedNormal(1.0, 0.1, 5.0, 6.0), "an interval near the mean"),
        (lambda: TruncatedNormal(1.0, 0.1, np.nan, 6.0), "low is nan"),
        (lambda: LogNormal(-1.0, 0.1), r"mean is -1\.0"),
        (lambda: LogNormal(1.0, 0.0), r"cov is 0\.0"),
        (lambda: normal(0.0, 1.0).quantile(0.0), "both excluded"),
        (lambda: LogNormal(1.0, 0.1).quantile([0.5, 1.0]), "both excluded"),
        (lambda: Fixed(1.0).quantile(np.nan), "probability is nan"),
        (lambda: draw_samples({}, 10, seed=1), "at least one quantity"),
        (lambda: draw_samples({"a": Fixed(1.0)}, 0, seed=1), "number is 0"),
        (lambda: draw_samples({"a": Fixed(1.0)}, 10.0, seed=1), "number is 10.0"),
        (lambda: draw_samples({"a": Fixed(1.0)}, 10, seed=-1), "seed is -1"),
        (lambda: draw_samples({"a": Fixed(1.0)}, 10, seed=True), "seed is True"),
    ],
)
def test_wrong_input_is_named(make, text):
    with pytest.raises(InputError, match=text):
        make()
