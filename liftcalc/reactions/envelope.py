"""Worst leg: envelopes over states and carrier models, bounds and closed forms.

Contents
--------
reaction_envelope : worst leg over many states and over several carrier models.
envelope_on : the same on supports prepared before.
reach_envelope : the same where wind or lean moves the resultant by so much in any direction.
slew_envelope : worst leg and its slew over a full turn, and where each leg is clear of the ground.
admissible_range_kN : least and greatest reaction that any equilibrium allows.
worst_slew_rectangle, first_estimate_leg_load_t : closed forms to check a scan with.

Sources: statics; Queensland Mobile Crane Code of Practice 2006 (first estimate only).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_finite, require_non_negative, require_positive
from liftcalc.reactions.carrier import (
    Carrier,
    LegReactions,
    by_state,
    carrier_supports,
    flat_states,
    reactions_on,
)
from liftcalc.reactions.contact import (
    EDGE_TOL,
    Supports,
    bilateral_kN,
    bilateral_rows,
    build_supports,
    contact_interval_kN,
)

__all__ = [
    "LiftOffSector",
    "ReachEnvelope",
    "ReactionEnvelope",
    "SlewEnvelope",
    "WorstSlew",
    "admissible_range_kN",
    "envelope_on",
    "first_estimate_leg_load_t",
    "reach_envelope",
    "reaction_envelope",
    "slew_envelope",
    "worst_slew_rectangle",
]


def admissible_range_kN(
    vertical_kN: ArrayLike, resultant_xy_m: ArrayLike, *, leg_xy_m: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Least and greatest reaction of each leg in any equilibrium without tension.

    No support stiffness, uneven settlement, packing or carrier twist can take a leg outside
    this range: it is a bound, where the carrier models are estimates.

    Parameters:
      vertical_kN: array_like, shape (...), > 0. [kN]
      resultant_xy_m: array_like, shape (..., 2). [m]
      leg_xy_m: array_like, shape (..., 4, 2). [m]
    Returns: (low, high) : ndarrays, shape (..., 4); NaN where there is no equilibrium. [kN]
    Raises: As :func:`liftcalc.reactions.carrier.leg_reactions_kN`, or other than four legs.
    Source: Statics: the two ends are the two ways to stand on three of the four legs.
    """
    supports = build_supports(leg_xy_m, None)
    if len(supports.x) != 4:
        raise InputError.of("leg_xy_m", np.shape(leg_xy_m), "four legs")
    force, shape, supports = flat_states(vertical_kN, resultant_xy_m, supports)
    r = bilateral_kN(supports, force)
    low, high, empty = contact_interval_kN(supports.pattern, r, EDGE_TOL * force[0])
    ends = np.stack([r + low * supports.pattern, r + high * supports.pattern])
    ends = np.where(empty, np.nan, np.maximum(ends, 0.0))
    return by_state(ends.min(axis=0), shape), by_state(ends.max(axis=0), shape)


@dataclass(frozen=True)
class ReactionEnvelope:
    """Worst and least reaction of each leg over many states and several carrier models.

    If any state has no equilibrium, ``max_kN`` and ``worst_kN`` are infinite, so that every
    comparison with a limit fails, and ``worst_state`` is the first such state.
    """

    carriers: tuple[Carrier, ...]
    """Models enveloped, in this order."""
    max_kN: FloatArray
    """Greatest reaction of each leg, shape (n). [kN]"""
    min_kN: FloatArray
    """Least reaction of each leg over the states in equilibrium, shape (n). [kN]"""
    max_state: NDArray[np.intp]
    """Flat index of the state where each leg is greatest, shape (n)."""
    max_carrier: tuple[Carrier, ...]
    """Model that gives it, by leg."""
    worst_kN: float
    """Greatest reaction of any leg. [kN]"""
    worst_leg: int
    """Its index (0 FL, 1 FR, 2 RR, 3 RL); -1 if some state has no equilibrium."""
    worst_state: int
    """Flat index of its state."""
    worst_carrier: Carrier
    """Model that gives it."""
    lifted_states: NDArray[np.intp]
    """Flat indices of states in which some leg lifts in some model."""
    unstable_states: NDArray[np.intp]
    """Flat indices of states without equilibrium."""
    by_carrier: dict[Carrier, LegReactions]
    """Full result of each model."""


def reaction_envelope(
    vertical_kN: ArrayLike,
    resultant_xy_m: ArrayLike,
    *,
    leg_xy_m: ArrayLike,
    leg_stiffness_kN_m: ArrayLike | None = None,
    torsional_stiffness_kNm_rad: ArrayLike | None = None,
    slew_x_m: ArrayLike = 0.0,
    carriers: tuple[Carrier, ...] | None = None,
) -> ReactionEnvelope:
    """Envelope of leg reactions over states (path steps, slews) and carrier models.

    Parameters:
      vertical_kN, resultant_xy_m, leg_xy_m, leg_stiffness_kN_m, torsional_stiffness_kNm_rad,
        slew_x_m: As :func:`liftcalc.reactions.carrier.leg_reactions_kN`; the leading shape is the
        set of states.
      carriers: tuple of {"rigid", "flexible", "stiffness"}, optional. Models to envelope; by
        default rigid and flexible, and the stated twist stiffness if one is given.
    Returns: ReactionEnvelope
    Raises: As :func:`liftcalc.reactions.carrier.leg_reactions_kN`, or no model at all.
    Source: Design for the envelope of both carrier idealisations: common practice, no published
      source.
    """
    supports = carrier_supports(
        leg_xy_m,
        leg_stiffness_kN_m,
        carriers=_carriers(carriers, torsional_stiffness_kNm_rad),
        torsional_stiffness_kNm_rad=torsional_stiffness_kNm_rad,
        slew_x_m=slew_x_m,
    )
    return envelope_on(
        supports, vertical_kN, resultant_xy_m, stiffness_given=leg_stiffness_kN_m is not None
    )


def _carriers(
    carriers: tuple[Carrier, ...] | None, torsional_stiffness_kNm_rad: ArrayLike | None
) -> tuple[Carrier, ...]:
    if carriers is None:
        both: tuple[Carrier, ...] = ("rigid", "flexible")
        return both if torsional_stiffness_kNm_rad is None else (*both, "stiffness")
    if not carriers:
        raise InputError.of("carriers", carriers, "at least one carrier model")
    return carriers


def envelope_on(
    supports: Mapping[Carrier, Supports],
    vertical_kN: ArrayLike,
    resultant_xy_m: ArrayLike,
    *,
    stiffness_given: bool,
) -> ReactionEnvelope:
    """:func:`reaction_envelope` on supports prepared once for several sets of states.

    Parameters:
      supports: mapping of carrier model to Supports. From
        :func:`liftcalc.reactions.carrier.carrier_supports`.
      vertical_kN, resultant_xy_m, stiffness_given: As
        :func:`liftcalc.reactions.carrier.reactions_on`.
    Returns: ReactionEnvelope
    Raises: As :func:`liftcalc.reactions.carrier.leg_reactions_kN`.
    """
    carriers = tuple(supports)
    by_carrier = reactions_on(
        supports, vertical_kN, resultant_xy_m, stiffness_given=stiffness_given
    )
    results = list(by_carrier.values())
    count = results[0].reaction_kN.shape[-1]
    stacked = np.stack([r.reaction_kN.reshape(-1, count) for r in results])  # model, state, leg
    unstable = np.logical_or.reduce([r.unstable.ravel() for r in results])
    lifted = np.logical_or.reduce([r.lifted.reshape(-1, count).any(axis=-1) for r in results])
    high = np.where(unstable[:, None], np.inf, stacked) if unstable.any() else stacked
    flat = high.reshape(-1, count)
    at = flat.argmax(axis=0)
    model, state = np.divmod(at, unstable.size)
    max_kN = flat[at, np.arange(count)]
    leg = int(max_kN.argmax())
    return ReactionEnvelope(
        carriers=carriers,
        max_kN=max_kN,
        min_kN=np.where(unstable.all(), np.nan, high.min(axis=(0, 1))),
        max_state=state,
        max_carrier=tuple(carriers[m] for m in model),
        worst_kN=float(max_kN[leg]),
        worst_leg=-1 if unstable.any() else leg,
        worst_state=int(state[leg]),
        worst_carrier=carriers[int(model[leg])],
        lifted_states=np.flatnonzero(lifted),
        unstable_states=np.flatnonzero(unstable),
        by_carrier=by_carrier,
    )


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
            self.carriers,
            self.reaction_kN[states],
            self.by_model_kN[..., states],
            self.lifted[states],
            self.unstable[states],
        )

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
            self.carriers[int(self.by_model_kN[:, n, k].argmax())]
            for n, k in zip(legs, self.max_state, strict=True)
        )

    @property
    def unstable_states(self) -> NDArray[np.intp]:
        """Indices of states in which the machine may tip."""
        return np.flatnonzero(self.unstable)

    @property
    def worst_leg(self) -> int:
        """Leg of the greatest reaction of all; -1 if some state has no equilibrium."""
        return -1 if self.unstable.any() else int(self.max_kN.argmax())

    @property
    def worst_kN(self) -> float:
        """Greatest reaction of any leg. [kN]"""
        return float(self.max_kN.max())

    @property
    def worst_state(self) -> int:
        """State of the greatest reaction of all."""
        return int(self.max_state[self.max_kN.argmax()])


def reach_envelope(
    supports: Mapping[str, Supports],
    vertical_kN: ArrayLike,
    resultant_xy_m: ArrayLike,
    *,
    reach_m: ArrayLike = 0.0,
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
      vertical_kN: array_like, shape (N,), > 0. [kN]
      resultant_xy_m: array_like, shape (N, 2). [m]
      reach_m: array_like, shape (N,), >= 0. [m]
    Returns: ReachEnvelope
    Raises: No model, or anything not finite or out of range.
    Source: Statics; checked against a sweep of directions in the tests.
    """
    if not supports:
        raise InputError.of("supports", "none", "at least one carrier model")
    v, xy = (
        require_positive("vertical_kN", vertical_kN),
        require_finite("resultant_xy_m", resultant_xy_m),
    )
    if xy.shape[-1:] != (2,):
        raise InputError.of("resultant_xy_m", xy.shape, "shape (N, 2)")
    v, x, y, reach = (
        np.ravel(a)
        for a in np.broadcast_arrays(
            v, xy[..., 0], xy[..., 1], require_non_negative("reach_m", reach_m)
        )
    )
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
        by_model_kN=by_model,
        lifted=(low <= tol).T & ~unstable[:, None],
        unstable=unstable,
    )


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
    leg_xy_m: ArrayLike,
    fixed_moment_kNm: ArrayLike = (0.0, 0.0),
    leg_stiffness_kN_m: ArrayLike | None = None,
    torsional_stiffness_kNm_rad: float | None = None,
    slew_x_m: float = 0.0,
    carriers: tuple[Carrier, ...] | None = None,
    supports: Mapping[str, Supports] | None = None,
) -> SlewEnvelope:
    """Leg reactions over a full turn at one radius.

    A scan by the degree, then by the hundredth within a degree of every peak that comes within 3 %
    of the greatest, for each leg. Between two degrees a reaction is a sine of the slew, with a kink
    where a leg lifts; what is left to find is a few parts in 1e6.

    Parameters:
      vertical_kN: float. Total vertical force, > 0. [kN]
      slewing_moment_kNm: float. Moment of everything that slews about the slew axis, toward the
        boom positive: loads and weights times radius, and wind along the boom times height. [kNm]
      leg_xy_m: array_like, shape (4, 2) or (3, 2). As
        :func:`liftcalc.reactions.carrier.leg_reactions_kN`. [m]
      fixed_moment_kNm: array_like, shape (2,). Moment of what does not slew, weight times x and
        weight times y. [kNm]
      leg_stiffness_kN_m, torsional_stiffness_kNm_rad, slew_x_m, carriers: As
        :func:`reaction_envelope`, the same at every slew.
      supports: mapping of a name to Supports, optional. Prepared models, as for
        :func:`reach_envelope`, in place of springs and carriers.
    Returns: SlewEnvelope
    Raises: As :func:`liftcalc.reactions.carrier.leg_reactions_kN`.
    Source: Statics; checked against the closed form for a rectangle, :func:`worst_slew_rectangle`.
    """
    v = float(require_positive("vertical_kN", vertical_kN))
    m = float(require_finite("slewing_moment_kNm", slewing_moment_kNm))
    fixed = require_finite("fixed_moment_kNm", fixed_moment_kNm)
    if fixed.shape != (2,):
        raise InputError.of("fixed_moment_kNm", fixed.shape, "two moments: about x and y by place")

    if supports is None:
        both = _carriers(carriers, torsional_stiffness_kNm_rad)
        prepared = carrier_supports(
            leg_xy_m,
            leg_stiffness_kN_m,
            carriers=both,
            torsional_stiffness_kNm_rad=torsional_stiffness_kNm_rad,
            slew_x_m=slew_x_m,
        )
        supports = {str(name): one for name, one in prepared.items()}

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
        lift_off=tuple(
            LiftOffSector(leg, *ends)
            for leg in range(clear.shape[1])
            for ends in _sectors(clear[:, leg])
        ),
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


@dataclass(frozen=True)
class WorstSlew:
    """Worst slew of a rectangular base with all legs loaded."""

    slew_deg: FloatArray
    """Slew from the front, toward one corner, at which one leg carries most. [deg]"""
    corner_bearing_deg: FloatArray
    """Bearing of that corner from the front. [deg]"""
    max_leg_reaction_kN: FloatArray
    over_leg_reaction_kN: FloatArray
    """Reaction with the boom straight over the leg: less, unless the base is square. [kN]"""
    min_leg_reaction_kN: FloatArray
    """Reaction of the opposite leg at the worst slew. [kN]"""


def worst_slew_rectangle(
    vertical_kN: ArrayLike,
    moment_kNm: ArrayLike,
    *,
    base_length_m: ArrayLike,
    base_width_m: ArrayLike,
) -> WorstSlew:
    """Slew at which one leg of a rectangular, centred base carries most, in closed form.

    R = V/4 + M cos(phi)/(2 Lx) + M sin(phi)/(2 Ly) is greatest at tan(phi) = Lx/Ly. Rigid carrier,
    equal supports. To check a scan with; a scan serves every other base.

    Parameters:
      vertical_kN: array_like, shape (...), > 0. [kN]
      moment_kNm: array_like, shape (...). Overturning moment of everything that slews, about the
        slew axis, >= 0; the rest of the machine is centred. [kNm]
      base_length_m, base_width_m: array_like, shape (...), > 0. Along x and along y, slew axis in
        the middle. [m]
    Returns: WorstSlew
    Raises: Anything out of range, or a leg that would lift (the formula ends there).
    Source: Statics.
    """
    v = require_positive("vertical_kN", vertical_kN)
    m = require_finite("moment_kNm", moment_kNm)
    lx = require_positive("base_length_m", base_length_m)
    ly = require_positive("base_width_m", base_width_m)
    if not np.all(m >= 0):
        raise InputError.of("moment_kNm", float(np.min(m)), "0 or greater")
    swing = 0.5 * m * np.hypot(1 / lx, 1 / ly)
    if not np.all(swing <= 0.25 * v):
        raise InputError.of(
            "moment_kNm",
            float(np.max(m)),
            "all legs loaded: M <= V / (2 hypot(1/Lx, 1/Ly))",
            "Scan the slew with leg_reactions_kN instead.",
        )
    corner = np.arctan2(ly, lx)
    over = 0.25 * v + 0.5 * m * (np.cos(corner) / lx + np.sin(corner) / ly)
    return WorstSlew(
        slew_deg=np.asarray(np.degrees(np.arctan2(lx, ly))),
        corner_bearing_deg=np.asarray(np.degrees(corner)),
        max_leg_reaction_kN=np.asarray(0.25 * v + swing),
        over_leg_reaction_kN=np.asarray(over),
        min_leg_reaction_kN=np.asarray(0.25 * v - swing),
    )


def first_estimate_leg_load_t(crane_mass_t: ArrayLike, load_mass_t: ArrayLike) -> FloatArray:
    """First estimate of the greatest leg load: 65 % of crane and load together.

    Not an upper bound: a leg can carry more (see the published row of 71 %). To compare with.

    Parameters:
      crane_mass_t: array_like, shape (...), > 0. [t]
      load_mass_t: array_like, shape (...). Load and rigging, > 0. [t]
    Returns: ndarray, shape (...). [t]
    Raises: Anything not finite or not > 0.
    Source: Queensland Mobile Crane Code of Practice 2006, 11.2.6, as quoted in public articles.
    """
    return 0.65 * (
        require_positive("crane_mass_t", crane_mass_t)
        + require_positive("load_mass_t", load_mass_t)
    )
