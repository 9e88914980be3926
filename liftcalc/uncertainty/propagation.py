"""How sure a utilisation is: distributions, samples, probability of passing 100 %, tornado.

The deterministic check always governs. A probability is shown beside it to help judge margins; it never turns a lift
that fails its check into one that passes, and it rests on distributions that somebody assumed.

Every distribution is defined by its quantile function, so that the same uniform numbers give the
same samples whatever is done with them later. Numbers for a quantity depend on the seed and on
its name only: adding a quantity leaves the samples of the others as they were.

A utilisation is any function from samples (name to array) to named utilisations (name to array
of the same length); :mod:`liftcalc.uncertainty.lift_samples` has one ready made. NaN counts as
above the limit: unknown is unsafe.

Sources: definitions of the distributions (any text on statistics; from memory), checked against scipy.stats; Clopper
and Pearson, Biometrika 26 (1934) 404-413 (from memory, through scipy.stats.binomtest).
"""

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, ndtri
from scipy.stats import binomtest

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_finite, require_positive
from liftcalc.base.words import STATE_WORDS


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
        return (float(ndtr((self.low - self.mean) / self.sd)), float(ndtr((self.high - self.mean) / self.sd)))

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


def draw_samples(distributions: Mapping[str, Distribution], number: int, *, seed: int) -> dict[str, FloatArray]:
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
    for name, value, least in (("number", number, 1), ("seed", seed, 0)):
        if isinstance(value, bool) or not isinstance(value, int | np.integer) or value < least:
            raise InputError.of(name, value, f"a whole number, at least {least}")

    def uniform(name: str) -> FloatArray:  # strictly inside (0, 1)
        rng = np.random.default_rng([int(seed), *name.encode()])
        return np.asarray((rng.integers(0, 2**52, int(number)) + 0.5) / 2**52)

    return {name: one.quantile(uniform(name)) for name, one in distributions.items()}


Utilisation = Callable[[Mapping[str, FloatArray]], Mapping[str, FloatArray]]

DETERMINISTIC_GOVERNS = (
    "The deterministic check always governs. The probability rests on assumed distributions and "
    "is shown to judge margins, not to accept a lift."
)

QUANTILES = (0.05, 0.50, 0.95, 0.99, 0.999)
"""Shares of the samples whose utilisation is shown."""


@dataclass(frozen=True)
class Exceedance:
    """Probability of passing a limit, estimated from independent samples."""

    limit: float
    number: int
    count: int
    """Samples above the limit, or without a number."""
    probability: float
    low: float
    """Lower confidence bound."""
    high: float
    """Upper confidence bound: the figure to quote."""
    confidence: float


def exceedance_probability(utilisation: ArrayLike, limit: float = 1.0, *, confidence: float = 0.95) -> Exceedance:
    """Probability that a utilisation passes its limit, with an exact two-sided interval.

    Parameters:
      utilisation: shape (N). Independent samples; NaN and infinity count as above the limit.
      limit: > 0; exactly on the limit is not above it.
      confidence: Of the interval, between 0.5 and 0.9999.
    Raises: No samples, or anything out of range.
    Source: See the module docstring. With no sample above, the upper bound of Clopper and Pearson
      is 1 - ((1 - confidence) / 2)^(1/N).
    """
    values = np.asarray(utilisation, dtype=np.float64)
    if values.ndim != 1 or values.size == 0:
        raise InputError.of("utilisation", values.shape, "a row of at least one sample")
    top = float(require_positive("limit", limit))
    level = float(require_between("confidence", confidence, 0.5, 0.9999))
    count = int(values.size - np.count_nonzero(values <= top))
    interval = binomtest(count, values.size).proportion_ci(level, method="exact")
    return Exceedance(
        limit=top, number=values.size, count=count, probability=count / values.size,
        low=float(interval.low), high=float(interval.high), confidence=level,
    )  # fmt: skip


@dataclass(frozen=True)
class UncertaintyStudy:
    """Utilisation over samples, beside the deterministic check that governs."""

    nominal: dict[str, float]
    """Deterministic utilisation of each check at the stated nominal values."""
    seed: int
    samples: dict[str, FloatArray] = field(repr=False)
    utilisation: dict[str, FloatArray] = field(repr=False)
    """Utilisation of each check in every sample."""
    worst: FloatArray = field(repr=False)
    """Maximum utilisation of any check in every sample; NaN if any is NaN."""
    exceedance: dict[str, Exceedance]
    """By check, and under "any" that of passing 100 % in any check."""
    quantiles: dict[str, dict[float, float]]
    """By check and "any": utilisation not exceeded with probability 5 to 99.9 %."""
    governing_share: dict[str, float]
    """Share of the samples in which each check is the greatest."""

    @property
    def nominal_governing(self) -> str:
        """Check with the maximum deterministic utilisation."""
        return max(self.nominal, key=lambda name: _unsafe(self.nominal[name]))

    @property
    def within_limit(self) -> bool:
        """Whether the deterministic check is within its limit; probability has no say in it."""
        return bool(_unsafe(self.nominal[self.nominal_governing]) <= 1.0)

    @property
    def statement(self) -> str:
        """Result in words for the sheet."""
        name = self.nominal_governing
        state = STATE_WORDS["within" if self.within_limit else "over"]
        e = self.exceedance["any"]
        return (
            f"Deterministic check: {name} {100 * self.nominal[name]:.1f} %, {state}. "
            f"Probability of exceeding {100 * e.limit:.0f} % in any check: "
            f"{100 * e.probability:.2f} % ({100 * e.confidence:.0f} % confidence: "
            f"{100 * e.low:.2f} % to {100 * e.high:.2f} %; {e.count} of "
            f"{e.number} samples, seed {self.seed}). {DETERMINISTIC_GOVERNS}"
        )


def _unsafe(value: float) -> float:
    return float("inf") if np.isnan(value) else value


def _evaluate(utilisation: Utilisation, samples: Mapping[str, FloatArray], number: int) -> dict[str, FloatArray]:
    result = {name: np.asarray(value, dtype=np.float64) for name, value in utilisation(samples).items()}
    if not result or "any" in result:
        raise InputError.of("utilisation", sorted(result), "at least one check, none named 'any'")
    for name, value in result.items():
        if value.shape != (number,):
            raise InputError.of(f"utilisation {name}", value.shape, f"shape ({number},)")
    return result


def _check_nominal(distributions: Mapping[str, Distribution], nominal: Mapping[str, float]) -> None:
    if set(nominal) != set(distributions):
        raise InputError.of("nominal", sorted(nominal), "a value for each of " + ", ".join(sorted(distributions)))


def sample_utilisation(
    utilisation: Utilisation,
    distributions: Mapping[str, Distribution],
    *,
    nominal: Mapping[str, float],
    seed: int,
    number: int = 100_000,
) -> UncertaintyStudy:
    """Utilisation over samples of uncertain quantities, beside the deterministic check.

    Parameters:
      utilisation: callable. From samples (name to array of length N) to utilisations (check to array of length N).
      distributions: mapping of name to Distribution
      nominal: mapping of name to float. Value of each quantity in the deterministic check.
      seed, number: As :func:`liftcalc.uncertainty.propagation.draw_samples`.
    Raises: As the functions named, or a nominal value missing or not asked for.
    """
    _check_nominal(distributions, nominal)
    samples = draw_samples(distributions, number, seed=seed)
    fixed = {name: Fixed(float(nominal[name])).quantile([0.5]) for name in distributions}
    checks = _evaluate(utilisation, samples, number)
    base = _evaluate(utilisation, fixed, 1)
    stacked = np.stack(list(checks.values()))
    worst = stacked.max(axis=0)
    everything = checks | {"any": worst}
    safe = np.where(np.isnan(stacked), np.inf, stacked)
    leader = np.bincount(safe.argmax(axis=0), minlength=len(checks)) / number
    return UncertaintyStudy(
        nominal={name: float(value[0]) for name, value in base.items()}, seed=seed, samples=samples,
        utilisation=checks, worst=worst,
        exceedance={name: exceedance_probability(value) for name, value in everything.items()},
        quantiles={name: _quantiles(value) for name, value in everything.items()},
        governing_share=dict(zip(checks, leader.tolist(), strict=True)),
    )  # fmt: skip


def _quantiles(value: FloatArray) -> dict[float, float]:
    """Order statistics, the next sample up; NaN sorts last, as if infinite."""
    ordered = np.sort(np.where(np.isnan(value), np.inf, value))
    at = [min(int(np.ceil(q * value.size)), value.size) - 1 for q in QUANTILES]
    return {q: float(ordered[i]) for q, i in zip(QUANTILES, at, strict=True)}


@dataclass(frozen=True)
class Tornado:
    """Utilisation with one quantity at a time at its low and high value, greatest effect first."""

    check: str
    nominal: float
    names: tuple[str, ...]
    low_value: FloatArray
    """5 % quantile of each quantity; *high_value* the 95 % quantile."""
    high_value: FloatArray
    at_low: FloatArray
    """Utilisation with that quantity low, the others nominal."""
    at_high: FloatArray
    swing: FloatArray
    """Distance between the two; infinite where either is not a number."""


def tornado(
    utilisation: Utilisation,
    distributions: Mapping[str, Distribution],
    *,
    nominal: Mapping[str, float],
    check: str = "any",
) -> Tornado:
    """Sensitivity of a utilisation to each quantity alone, at its 5 % and its 95 % quantile.

    One at a time: effects of two quantities together are not seen. The whole chart is one vectorised call.

    Parameters:
      utilisation, distributions, nominal: As :func:`sample_utilisation`.
      check: Name of a check, or "any" for the greatest of all.
    Raises: As :func:`sample_utilisation`, or an unknown check.
    """
    _check_nominal(distributions, nominal)
    names = list(distributions)
    ends = np.array([distributions[n].quantile([0.05, 0.95]) for n in names]).reshape(-1, 2)
    number = 1 + 2 * len(names)
    samples = {n: np.full(number, float(nominal[n])) for n in names}
    for i, name in enumerate(names):
        samples[name][1 + 2 * i : 3 + 2 * i] = ends[i]
    checks = _evaluate(utilisation, samples, number)
    if check == "any":
        value = np.max(list(checks.values()), axis=0)
    elif check in checks:
        value = checks[check]
    else:
        raise InputError.of("check", check, "any, " + ", ".join(checks))
    pairs = value[1:].reshape(-1, 2)
    with np.errstate(invalid="ignore"):
        swing = np.abs(pairs[:, 1] - pairs[:, 0])
    same_infinite = np.isinf(pairs).all(axis=1)
    swing = np.where(np.isnan(swing) & ~same_infinite, np.inf, np.where(same_infinite, 0.0, swing))
    order = np.argsort(-swing, kind="stable")
    return Tornado(
        check=check, nominal=float(value[0]), names=tuple(names[i] for i in order), low_value=ends[order, 0],
        high_value=ends[order, 1], at_low=pairs[order, 0], at_high=pairs[order, 1], swing=swing[order],
    )  # fmt: skip
