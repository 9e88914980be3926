"""Distributions of uncertain quantities, and samples drawn from them.

Contents
--------
Fixed, Normal, TruncatedNormal, Uniform, Triangular, LogNormal : one quantity each.
draw_samples : repeatable samples of several quantities, correlated where stated.

Every distribution is defined by its quantile function, so that the same uniform numbers give the
same samples whatever is done with them later. Numbers for a quantity depend on the seed and on
its name only: adding a quantity leaves the samples of the others as they were.

Sources: definitions of the distributions (any text on statistics; from memory), checked against
scipy.stats. Correlated samples by a Gaussian copula (Nataf; from memory): the stated value is
the correlation of the underlying normal scores.
"""

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, ndtri

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_finite, require_positive

SamplingMethod = Literal["random", "latin_hypercube"]


def probability_points(field: str, value: ArrayLike) -> FloatArray:
    """Probabilities strictly between 0 and 1, or an error."""
    p = require_finite(field, value)
    if not np.all((p > 0) & (p < 1)):
        raise InputError.of(field, float(np.ravel(p)[0]), "between 0 and 1, both excluded")
    return p


class Distribution(ABC):
    """One uncertain quantity."""

    @abstractmethod
    def quantile(self, probability: ArrayLike) -> FloatArray:
        """Value not exceeded with the stated probability (0 to 1, both excluded)."""


@dataclass(frozen=True)
class Fixed(Distribution):
    """A quantity taken as known."""

    value: float

    def __post_init__(self) -> None:
        require_finite("value", self.value)

    def quantile(self, probability: ArrayLike) -> FloatArray:
        return np.full(np.shape(probability_points("probability", probability)), self.value)


@dataclass(frozen=True)
class TruncatedNormal(Distribution):
    """Normal distribution cut to an interval; mean and sd are those before the cut."""

    mean: float
    sd: float
    low: float
    high: float

    def __post_init__(self) -> None:
        for name in ("mean", "low", "high"):
            require_finite(name, getattr(self, name))
        require_positive("sd", self.sd)
        if not self.low < self.high:
            raise InputError.of("high", self.high, f"greater than low ({self.low:g})")
        below, above = self._ends()
        if not above - below > 1e-9:
            raise InputError.of("low, high", (self.low, self.high), "an interval near the mean")

    def _ends(self) -> tuple[float, float]:
        return (
            float(ndtr((self.low - self.mean) / self.sd)),
            float(ndtr((self.high - self.mean) / self.sd)),
        )

    def quantile(self, probability: ArrayLike) -> FloatArray:
        p = probability_points("probability", probability)
        below, above = self._ends()
        value = self.mean + self.sd * ndtri(below + p * (above - below))
        return np.asarray(np.clip(value, self.low, self.high))  # rounding in the tails only


@dataclass(frozen=True)
class LogNormal(Distribution):
    """Positive quantity whose logarithm is normal, by its mean and coefficient of variation."""

    mean: float
    cov: float

    def __post_init__(self) -> None:
        require_positive("mean", self.mean)
        require_positive("cov", self.cov)

    def quantile(self, probability: ArrayLike) -> FloatArray:
        p = probability_points("probability", probability)
        sigma = np.sqrt(np.log1p(self.cov**2))
        return np.asarray(self.mean * np.exp(sigma * ndtri(p) - 0.5 * sigma**2))


def _uniform(name: str, number: int, seed: int, method: SamplingMethod) -> FloatArray:
    """Uniform numbers strictly inside (0, 1), from the seed and the name alone."""
    rng = np.random.default_rng([seed, *name.encode()])
    inside = (rng.integers(0, 2**52, number) + 0.5) / 2**52
    if method == "random":
        return np.asarray(inside)
    return np.asarray((rng.permutation(number) + inside) / number)


def draw_samples(
    distributions: Mapping[str, Distribution],
    number: int,
    *,
    seed: int,
    method: SamplingMethod = "random",
    correlation: Mapping[tuple[str, str], float] | None = None,
) -> dict[str, FloatArray]:
    """Repeatable samples of several quantities.

    Parameters:
      distributions: mapping of name to Distribution
      number: How many samples, at least 1.
      seed: Fixes the samples, >= 0. No default: the record must name it.
      method: {"random", "latin_hypercube"}. Independent samples, or each quantity stratified into
        *number* equal parts (smoother quantiles, but no binomial confidence interval).
      correlation: mapping of (name, name) to float, optional. Correlation of the normal scores of
        two quantities, -1 to 1; with "random" only.
    Returns: dict of name to ndarray, shape (number)
    Raises: Nothing to sample, a wrong number or seed, an unknown name, or correlations that
      contradict each other.
    """
    if not distributions:
        raise InputError.of("distributions", "empty", "at least one quantity")
    for field, value, least in (("number", number, 1), ("seed", seed, 0)):
        if isinstance(value, bool) or not isinstance(value, int | np.integer) or value < least:
            raise InputError.of(field, value, f"a whole number, at least {least}")
    if method not in ("random", "latin_hypercube"):
        raise InputError.of("method", method, "random, latin_hypercube")
    names = sorted(distributions)
    points = {name: _uniform(name, int(number), int(seed), method) for name in names}
    if correlation:
        if method != "random":
            raise InputError.of("correlation", "given", "none with method='latin_hypercube'")
        points = _correlated(points, correlation)
    return {name: distributions[name].quantile(points[name]) for name in distributions}


def _correlated(
    points: dict[str, FloatArray], correlation: Mapping[tuple[str, str], float]
) -> dict[str, FloatArray]:
    """Uniform numbers with the stated correlation of their normal scores."""
    names = sorted({name for pair in correlation for name in pair})
    unknown = [name for name in names if name not in points]
    if unknown:
        raise InputError.of("correlation", ", ".join(unknown), "names of the distributions")
    matrix = np.eye(len(names))
    for (a, b), value in correlation.items():
        if a == b:
            raise InputError.of("correlation", (a, b), "two different quantities")
        rho = float(require_between(f"correlation of {a} and {b}", value, -1.0, 1.0))
        i, j = names.index(a), names.index(b)
        if matrix[i, j] not in (0.0, rho):
            raise InputError.of("correlation", (a, b), "one value for each pair")
        matrix[i, j] = matrix[j, i] = rho
    values, vectors = np.linalg.eigh(matrix)
    if not values.min() > -1e-9:
        raise InputError.of(
            "correlation", matrix.tolist(), "values that do not contradict each other"
        )
    root = (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
    scores = root @ np.stack([ndtri(points[name]) for name in names])
    tiny = 2.0**-53
    mixed = np.clip(ndtr(scores), tiny, 1.0 - tiny)  # keep inside (0, 1) after rounding
    return points | dict(zip(names, mixed, strict=True))
