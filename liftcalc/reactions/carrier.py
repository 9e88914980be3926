"""Leg reactions: what each of four (or three) legs presses on the ground with.

Envelopes over states and models are in ``envelope``.

Model
-----
The carrier is straight and stiff in bending; its front and rear leg beams may turn about x against each other by twist.
The whole load enters at the slew axis, and the twist stiffness of the two bars from there to the beams is in inverse
proportion to their lengths. Infinite twist stiffness is the rigid carrier; none is the flexible carrier, whose side
moment is shared by those distances. Supports cannot pull; ``contact`` has how lift-off is solved, exactly.

Signs: machine frame, x forward, y left; compression on the ground positive; settlement
positive downward; legs in the order FL, FR, RR, RL.

Sources: statics; the elastic model and its two limits from memory of structural analysis.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal, TypeVar, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.base.errors import InputError, require_finite, require_positive
from liftcalc.reactions.contact import Supports, build_supports, contact_kN, settlement_m, twisting

T = TypeVar("T", np.float64, np.bool_)
K = TypeVar("K", bound=str)
Carrier = Literal["rigid", "flexible", "stiffness"]


@dataclass(frozen=True)
class LegReactions:
    """Reactions and what a checker asks for; legs on the last axis (FL, FR, RR, RL).

    Where ``unstable`` is true there is no equilibrium: every number of that state is NaN, so
    that any comparison with a limit fails.
    """

    carrier: str
    """Carrier model used."""
    reaction_kN: FloatArray
    """Reaction on each leg, never negative, shape (..., n). [kN]"""
    lifted: BoolArray
    """Leg clear of the ground or just carrying nothing, shape (..., n)."""
    unstable: BoolArray
    """No equilibrium: resultant outside the base polygon, shape (...)."""
    stiffness_given: bool
    """Whether leg stiffness was given, without which there is no settlement."""
    supports: Supports = field(repr=False)
    """Prepared legs, springs and carrier (legs first, flat states last)."""
    force: FloatArray = field(repr=False)
    """(V, V x_G, V y_G), shape (3, flat states). [kN, kNm]"""

    @property
    def leg_xy_m(self) -> FloatArray:
        """Leg points, shape (..., n, 2) or (n, 2) if the same in every state. [m]"""
        s = self.supports
        shape = self.unstable.shape if s.x.shape[1] > 1 else ()
        return np.stack([by_state(s.x, shape), by_state(s.y, shape)], axis=-1)

    @cached_property
    def settlement_m(self) -> FloatArray | None:
        """Downward movement of each leg point, shape (..., n). [m]

        Negative where the leg is clear of the ground; NaN where not determined (no equilibrium, a lifted leg of the
        flexible carrier or of three, or only two legs loaded). None unless leg stiffness was given.
        """
        if not self.stiffness_given:
            return None
        n = self.reaction_kN.shape[-1]
        reaction = np.moveaxis(self.reaction_kN, -1, 0).reshape(n, -1)
        lifted = np.moveaxis(self.lifted, -1, 0).reshape(n, -1)
        return by_state(settlement_m(self.supports, self.force, reaction, lifted), self.unstable.shape)

    @property
    def worst_kN(self) -> FloatArray:
        """Greatest leg reaction of each state, shape (...). [kN]"""
        return np.asarray(self.reaction_kN.max(axis=-1))

    @property
    def front_side_moment_kNm(self) -> FloatArray:
        """Side moment (reaction times y) that the front legs carry, shape (...). [kNm]"""
        return np.asarray((self.reaction_kN * self.leg_xy_m[..., 1])[..., :2].sum(axis=-1))

    @property
    def rear_side_moment_kNm(self) -> FloatArray:
        """Side moment that the rear legs carry, shape (...). [kNm]"""
        return np.asarray((self.reaction_kN * self.leg_xy_m[..., 1])[..., 2:].sum(axis=-1))


def by_state(flat: NDArray[T], shape: tuple[int, ...]) -> NDArray[T]:
    """Legs first, flat states last, to states first, legs last."""
    return np.moveaxis(flat.reshape(flat.shape[0], *shape), 0, -1)


def flat_states(
    vertical_kN: ArrayLike, resultant_xy_m: ArrayLike, supports: Supports
) -> tuple[FloatArray, tuple[int, ...], Supports]:
    """Check force and resultant and lay all states out flat.

    Returns (V, V x_G, V y_G) of shape (3, N), the shape of the states, and the supports (with
    as many columns as states, if they vary).
    """
    v = require_positive("vertical_kN", vertical_kN)
    xy = require_finite("resultant_xy_m", resultant_xy_m)
    if xy.shape[-1:] != (2,):
        raise InputError.of("resultant_xy_m", xy.shape, "shape (..., 2)")
    leading = (v.shape, xy.shape[:-1], supports.shape)
    try:
        shape = np.broadcast_shapes(*leading)
    except ValueError:
        raise InputError.of("leading shapes", leading, "shapes that broadcast: force, resultant, supports") from None
    force = np.empty((3, *shape))
    force[0] = v
    force[1] = v * xy[..., 0]
    force[2] = v * xy[..., 1]
    if supports.x.shape[1] > 1 and supports.shape != shape:
        supports = supports.spread(shape)
    return force.reshape(3, -1), shape, supports


def leg_reactions_kN(
    vertical_kN: ArrayLike,
    resultant_xy_m: ArrayLike,
    *,
    leg_xy_m: ArrayLike,
    leg_stiffness_kN_m: ArrayLike | None = None,
    carrier: Carrier = "rigid",
    torsional_stiffness_kNm_rad: ArrayLike | None = None,
    slew_x_m: ArrayLike = 0.0,
) -> LegReactions:
    """Reaction of each leg on compression-only supports.

    Small settlements; carrier stiff in bending; side moment enters at the slew axis. The side moment of a carrier
    weight off the centre line is taken to enter there too. Exactly on a tipping line two legs carry all and the state
    still counts as in equilibrium (within 1e-9 of the total force); it has no reserve.

    Parameters:
      vertical_kN: Total vertical force on the ground, > 0. [kN]
      resultant_xy_m: shape (..., 2). Where its line of action meets the ground, machine frame;
        overturning by wind and other horizontal force is included by moving this point. [m]
      leg_xy_m: shape (..., 4, 2), or (..., 3, 2) with carrier="rigid". Leg points FL, FR, RR, RL;
        nothing assumes symmetry. [m]
      leg_stiffness_kN_m: shape (..., 4), optional. Stiffness of each support (leg, mat and ground
        in series), > 0; equal if not given. It has no effect on the flexible carrier. [kN/m]
      carrier: {"rigid", "flexible", "stiffness"}. Rigid carrier; carrier without twist stiffness;
        or the stated twist stiffness.
      torsional_stiffness_kNm_rad: Moment per radian of twist between front and rear leg beams (G J
        / distance), > 0; for "stiffness" only. [kNm/rad]
      slew_x_m: Where the load enters the carrier, between the beams (0 in the machine frame). [m]
    Raises: Legs in one line; for the flexible models, slew axis not between the beams or legs out of order.
    Source: See the module docstring. Rigid carrier, no lift-off: R_i = k_i (d + a x_i + b y_i). Flexible: V_f = V (x_G
      - x_r)/(x_f - x_r), M_f = V y_G (x_s - x_r)/(x_f - x_r), textbook method (from memory).
    """
    supports = carrier_supports(
        leg_xy_m, leg_stiffness_kN_m, carriers=(carrier,),
        torsional_stiffness_kNm_rad=torsional_stiffness_kNm_rad, slew_x_m=slew_x_m,
    )  # fmt: skip
    given = leg_stiffness_kN_m is not None
    return reactions_on(supports, vertical_kN, resultant_xy_m, stiffness_given=given)[carrier]


def carrier_supports(
    leg_xy_m: ArrayLike,
    leg_stiffness_kN_m: ArrayLike | None,
    *,
    carriers: Sequence[Carrier],
    torsional_stiffness_kNm_rad: ArrayLike | None = None,
    slew_x_m: ArrayLike = 0.0,
) -> dict[Carrier, Supports]:
    """Check legs, springs and carrier once, for every carrier model wanted.

    Parameters:
      leg_xy_m, leg_stiffness_kN_m, torsional_stiffness_kNm_rad, slew_x_m: As
        :func:`leg_reactions_kN`; the torsional stiffness is used for "stiffness" alone.
      carriers: sequence of {"rigid", "flexible", "stiffness"}
    Returns: dict of carrier model to Supports
    Raises: As :func:`leg_reactions_kN`.
    """
    found: dict[Carrier, Supports] = {}
    rigid: Supports | None = None
    for carrier in carriers:
        if carrier not in get_args(Carrier):
            raise InputError.of("carrier", carrier, ", ".join(get_args(Carrier)))
        k_t: ArrayLike = 0.0
        if carrier == "stiffness":
            if torsional_stiffness_kNm_rad is None:
                raise InputError.of("torsional_stiffness_kNm_rad", None, "given for 'stiffness'")
            if leg_stiffness_kN_m is None:
                raise InputError.of("leg_stiffness_kN_m", None, "given for carrier='stiffness'")
            k_t = require_positive("torsional_stiffness_kNm_rad", torsional_stiffness_kNm_rad)
        if carrier != "rigid" and (np.ndim(k_t) or np.ndim(slew_x_m)):  # these may vary by state
            found[carrier] = build_supports(
                leg_xy_m, leg_stiffness_kN_m, twist=True, torsional_stiffness_kNm_rad=k_t, slew_x_m=slew_x_m
            )
            continue
        if rigid is None:
            rigid = build_supports(leg_xy_m, leg_stiffness_kN_m, slew_x_m=slew_x_m)
        found[carrier] = rigid if carrier == "rigid" else twisting(rigid, k_t, slew_x_m=slew_x_m)
    return found


def reactions_on(
    supports: Mapping[K, Supports], vertical_kN: ArrayLike, resultant_xy_m: ArrayLike, *, stiffness_given: bool
) -> dict[K, LegReactions]:
    """Reaction of each leg on prepared supports, for every carrier model.

    Parameters:
      supports: mapping of carrier model to Supports. From :func:`carrier_supports`.
      vertical_kN, resultant_xy_m: As :func:`leg_reactions_kN`.
      stiffness_given: Whether leg stiffness was given; else there is no settlement.
    Returns: dict of carrier model to LegReactions
    Raises: As :func:`leg_reactions_kN`.
    """
    found: dict[K, LegReactions] = {}
    flat: tuple[FloatArray, tuple[int, ...], Supports] | None = None
    for carrier, own in supports.items():
        # the states are laid out once where no support varies with them
        if flat is None or own.shape or flat[2].shape:
            flat = flat_states(vertical_kN, resultant_xy_m, own)
            own = flat[2]
        force, shape, _ = flat
        reaction, lifted, unstable = contact_kN(own, force)
        found[carrier] = LegReactions(
            carrier=carrier, reaction_kN=by_state(reaction, shape), lifted=by_state(lifted, shape),
            unstable=unstable.reshape(shape), stiffness_given=stiffness_given, supports=own, force=force,
        )  # fmt: skip
    return found
