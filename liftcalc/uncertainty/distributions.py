"""Distributions of uncertain quantities, and samples drawn from them.

Every distribution is defined by its quantile function, so that the same uniform numbers give the
same samples whatever is done with them later. Numbers for a quantity depend on the seed and on
its name only: adding a quantity leaves the samples of the others as they were.

Sources: definitions of the distributions (any text on statistics; from memory), checked against
scipy.stats.
"""

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, ndtri

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_finite, require_positive


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


def draw_samples(
    distributions: Mapping[str, Distribution], number: int, *, seed: int
) -> dict[str, FloatArray]:
    """Repeatable samples of several quantities, each independent of the others.

    Parameters:
      distributions: mapping of name to Distribution
      number: How many samples, at least 1.
      seed: Fixes the samples, >= 0. No default: the record must name it.
    Returns: dict of name to ndarray, shape (number)
    Raises: Nothing to sample, or a wrong number or seed.
    """
    if not distributions:
        raise InputError.of("distributions", "empty", "at least one quantity")
    for field, value, least in (("number", number, 1), ("seed", seed, 0)):
        if isinstance(value, bool) or not isinstance(value, int | np.integer) or value < least:
            raise InputError.of(field, value, f"a whole number, at least {least}")

    def uniform(name: str) -> FloatArray:  # strictly inside (0, 1)
        rng = np.random.default_rng([int(seed), *name.encode()])
        return np.asarray((rng.integers(0, 2**52, int(number)) + 0.5) / 2**52)

    return {name: one.quantile(uniform(name)) for name, one in distributions.items()}
