"""Worst leg: envelopes over states, carrier models and directions of wind and lean.

Sources: statics.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_finite, require_non_negative, require_positive
from liftcalc.reactions.contact import EDGE_TOL, Supports, bilateral_rows


@dataclass(frozen=True, eq=False)
class ReachEnvelope:
    """Greatest reaction of each leg over carrier models and every way the resultant may move.

    Infinite in a state where the machine may tip, so that every comparison with a limit fails.
    """

    carriers: tuple[str, ...]
    """Models enveloped, in this order."""
    reaction_kN: FloatArray
    """Greatest reaction of each leg in each state, shape (N, n). [kN]"""
    by_model_kN: FloatArray
    """The same without lift-off for each model, shape (M, n, N). [kN]"""
    lifted: NDArray[np.bool_]
    """Whether the leg may be clear of the ground in some model, shape (N, n)."""
    unstable: NDArray[np.bool_]
    """Whether the resultant may leave the base, shape (N)."""

    def of(self, states: slice) -> ReachEnvelope:
        """The same for some of the states."""
        return ReachEnvelope(
            self.carriers, self.reaction_kN[states], self.by_model_kN[..., states],
            self.lifted[states], self.unstable[states],
        )  # fmt: skip

    @property
    def max_kN(self) -> FloatArray:
        """Greatest reaction of each leg over the states, shape (n). [kN]"""
        return np.asarray(self.reaction_kN.max(axis=0))

    @property
    def max_state(self) -> NDArray[np.intp]:
        """State in which each leg is greatest, shape (n)."""
        return np.asarray(self.reaction_kN.argmax(axis=0))

    @property
    def max_carrier(self) -> tuple[str, ...]:
        """Model that gives it, by leg."""
        legs = range(self.reaction_kN.shape[1])
        return tuple(
            self.carriers[int(self.by_model_kN[:, n, k].argmax())] for n, k in zip(legs, self.max_state, strict=True)
        )

    @property
    def unstable_states(self) -> NDArray[np.intp]:
        """Indices of states in which the machine may tip."""
        return np.flatnonzero(self.unstable)

    @property
    def worst_kN(self) -> float:
        """Greatest reaction of any leg. [kN]"""
        return float(self.max_kN.max())

    @property
    def worst_state(self) -> int:
        """State of the greatest reaction of all."""
        return int(self.max_state[self.max_kN.argmax()])


def reach_envelope(
    supports: Mapping[str, Supports], vertical_kN: ArrayLike, resultant_xy_m: ArrayLike, *, reach_m: ArrayLike = 0.0
) -> ReachEnvelope:
    """Worst leg where the resultant may lie anywhere within a distance of its place.

    Wind from any side and a lean toward any side move the resultant of the weights by their
    moment over the vertical force, whatever the direction: *reach_m* is the sum of the two.

    With t cut to the interval in which no leg pulls (:mod:`liftcalc.reactions.contact`), the
    reaction of leg i is max(0, T_ij, min(B_i, T_ik)): B_i without lift-off, T_ij with leg j in the
    air, j on the same side of the self-balancing pattern as i and k on the other. Each is linear in
    the place of the resultant, so over a circle of radius e it grows by V e times its slope at
    most, and they are combined grown: exact where the same direction serves all that govern (always
    where no leg lifts), above the exact value elsewhere. The machine may tip where some T_ik can
    fall below 0. Since T knows no spring, the greatest of several models is that of the greatest B.
    ``lifted`` uses the same terms lessened: it may name a leg that only nearly lifts.

    Parameters:
      supports: mapping of a name to Supports. Carrier models on the same legs; one of shape (S)
        stands for S sets of springs.
      vertical_kN: shape (N,), > 0. [kN]
      resultant_xy_m: shape (N, 2). [m]
      reach_m: shape (N,), >= 0. [m]
    Raises: No model, or anything not finite or out of range.
    Source: Statics; checked against a sweep of directions in the tests.
    """
    if not supports:
        raise InputError.of("supports", "none", "at least one carrier model")
    v = require_positive("vertical_kN", vertical_kN)
    xy = require_finite("resultant_xy_m", resultant_xy_m)
    if xy.shape[-1:] != (2,):
        raise InputError.of("resultant_xy_m", xy.shape, "shape (N, 2)")
    reach = require_non_negative("reach_m", reach_m)
    states = np.broadcast_arrays(v, xy[..., 0], xy[..., 1], reach)
    v, x, y, reach = (np.ravel(a) for a in states)
    force, grow = np.stack([v, v * x, v * y]), v * reach
    models = list(supports.values())
    rows = [bilateral_rows(s) for s in models]  # legs, sets of springs, (V, V x, V y)
    n = models[0].pattern[:, 0] if len(models[0].pattern) else np.zeros(len(rows[0]))
    pairs = [(i, j) for i in range(len(n)) for j in range(len(n)) if i != j and n[i] * n[j]]
    one = rows[0][:, 0]
    free = [one[i] - n[i] / n[j] * one[j] for i, j in pairs]
    linear = np.concatenate([*(r.reshape(-1, 3) for r in rows), np.reshape(free, (-1, 3))])
    middle = linear @ force
    more = np.hypot(linear[:, 1], linear[:, 2])[:, None] * grow
    above, below = middle + more, np.subtract(middle, more, out=middle)
    by_model, low, at = np.empty((len(rows), len(n), v.size)), np.empty((len(n), v.size)), 0
    for m, r in enumerate(rows):
        block = slice(at, at + r.shape[0] * r.shape[1])
        shape = (*r.shape[:2], v.size)
        above[block].reshape(shape).max(axis=1, out=by_model[m])
        least = below[block].reshape(shape).min(axis=1)
        low = np.minimum(low, least, out=low) if m else least
        at = block.stop
    high = by_model.max(axis=0)
    tol = EDGE_TOL * v
    unstable = np.asarray((low[n == 0] < -tol).any(axis=0))
    floor = np.zeros_like(high), np.zeros_like(high)
    for (i, j), up, down in zip(pairs, above[at:], below[at:], strict=True):
        if n[i] * n[j] > 0:
            np.maximum(floor[0][i], up, out=floor[0][i])
            np.maximum(floor[1][i], down, out=floor[1][i])
        else:
            np.minimum(high[i], up, out=high[i])
            np.minimum(low[i], down, out=low[i])
            unstable |= down < -tol * abs(n[i])
    for linear_part, ends in zip((high, low), floor, strict=True):
        np.maximum(linear_part, ends, out=linear_part, where=n[:, None] != 0)
    return ReachEnvelope(
        carriers=tuple(supports),
        reaction_kN=np.where(unstable[:, None], np.inf, np.maximum(high, 0.0).T),
        by_model_kN=by_model, lifted=(low <= tol).T & ~unstable[:, None], unstable=unstable,
    )  # fmt: skip


@dataclass(frozen=True)
class LiftOffSector:
    """Slew sector in which a leg carries nothing in some carrier model."""

    leg: int
    start_deg: float
    """Anticlockwise from here [deg], to a degree."""
    end_deg: float


@dataclass(frozen=True)
class SlewEnvelope:
    """Worst and least reactions over a full turn; infinite if the machine would tip somewhere."""

    slew_deg: FloatArray
    """Slews looked at: every degree, and hundredths round each worst one. [deg]"""
    envelope: ReachEnvelope
    """Envelope over them."""
    max_slew_deg: FloatArray
    """Slew at which each leg carries most, shape (n). [deg]"""
    worst_slew_deg: float
    """Slew of the greatest reaction of all (or the first at which the machine would tip)."""
    lift_off: tuple[LiftOffSector, ...]
    """Where each leg is clear of the ground, in any model."""


def slew_envelope(
    vertical_kN: float,
    slewing_moment_kNm: float,
    *,
    supports: Mapping[str, Supports],
    fixed_moment_kNm: ArrayLike = (0.0, 0.0),
) -> SlewEnvelope:
    """Leg reactions over a full turn at one radius.

    A scan by the degree, then by the hundredth within a degree of every peak that comes within 3 %
    of the greatest, for each leg. Between two degrees a reaction is a sine of the slew, with a kink
    where a leg lifts; what is left to find is a few parts in 1e6.

    Parameters:
      vertical_kN: Total vertical force, > 0. [kN]
      slewing_moment_kNm: Moment of everything that slews about the slew axis, toward the boom
        positive: loads and weights times radius, and wind along the boom times height. [kNm]
      supports: mapping of a name to Supports. As :func:`reach_envelope`, the same at every slew.
      fixed_moment_kNm: shape (2,). Moment of what does not slew, weight times x and weight times y. [kNm]
    Raises: Fixed moments that are not two.
    Source: Statics; checked against the closed form for a rectangle in the tests.
    """
    v = float(require_positive("vertical_kN", vertical_kN))
    m = float(require_finite("slewing_moment_kNm", slewing_moment_kNm))
    fixed = require_finite("fixed_moment_kNm", fixed_moment_kNm)
    if fixed.shape != (2,):
        raise InputError.of("fixed_moment_kNm", fixed.shape, "two moments: about x and y by place")

    def at(slew_deg: FloatArray) -> ReachEnvelope:
        a = np.radians(slew_deg)
        xy = (fixed + m * np.stack([np.cos(a), np.sin(a)], axis=-1)) / v
        return reach_envelope(supports, v, xy)

    degrees = np.arange(360.0)
    coarse = at(degrees)
    value = coarse.reaction_kN
    peak = (value >= np.roll(value, 1, axis=0)) & (value >= np.roll(value, -1, axis=0))
    peaks = (peak & (value >= 0.97 * value.max(axis=0))).any(axis=1)
    around = np.arange(-100, 101) / 100.0
    fine = np.mod(degrees[peaks][:, None] + around, 360.0)
    slew = np.unique(np.round(np.concatenate([degrees, fine.ravel()]), 2))
    envelope = at(slew)
    clear = coarse.lifted
    return SlewEnvelope(
        slew_deg=slew,
        envelope=envelope,
        max_slew_deg=slew[envelope.max_state],
        worst_slew_deg=float(slew[envelope.worst_state]),
        lift_off=tuple(LiftOffSector(leg, *ends) for leg in range(clear.shape[1]) for ends in _sectors(clear[:, leg])),
    )


def _sectors(clear: NDArray[np.bool_]) -> list[tuple[float, float]]:
    """Runs of true round a circle of 360 whole degrees."""
    if clear.all():
        return [(0.0, 360.0)]
    start = np.flatnonzero(clear & ~np.roll(clear, 1))
    end = np.flatnonzero(clear & ~np.roll(clear, -1))
    if start.size and end[0] < start[0]:
        end = np.roll(end, -1)
    return [(float(a), float(b)) for a, b in zip(start, end, strict=True)]
