"""Bending of a boom under its own weight and the load: radius growth and shape (an estimate).

Sources: Standard beam tables: tip deflection of a cantilever under an end load P L^3/(3 E I), a
uniform load w L^4/(8 E I) and a load growing linearly to w at the free end 11 w L^4/(120 E I) (from
memory; compared with a frame library in the tests). Elastic critical load of a cantilever pi^2 E
I/(4 L^2): Euler. Sign and frame as in :mod:`liftcalc.crane.boom`.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base import errors
from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_non_negative, require_positive
from liftcalc.base.units import G_M_S2
from liftcalc.crane.boom import boom_angle_deg

LARGEST_DEFLECTION_RATIO = 0.10
"""Tip deflection over length above which small-deflection beam theory is refused."""
MAX_ITERATIONS = 100
"""Steps in which the deflection has to settle to a thousandth of a millimetre."""
LARGEST_AXIAL_RATIO = 0.50
"""Axial force over Euler load above which the amplification formula is refused."""
UNKNOWN_STIFFNESS_RATIO = 0.06
"""Tip deflection over length where no stiffness is stated, all of it given back when the load
comes off: our own allowance, not from the manufacturer."""
SHAPE_MARGIN = 1.03
"""Factor on deflections that shape the boom, for what the beam formulas leave out of the
elastica (compared in the tests)."""


@dataclass(frozen=True)
class DeflectedBoom:
    """Boom bent by its own weight and the load: an estimate, never a manufacturer's figure."""

    boom_angle_deg: FloatArray
    """Angle at the foot, as if the boom were straight. [deg]"""
    straight_radius_m: FloatArray
    radius_m: FloatArray
    """Radius of the bent boom, never below the straight one. [m]"""
    radius_growth_m: FloatArray
    tip_deflection_m: FloatArray
    """Square to the boom's axis. [m]"""
    estimate: bool = field(default=True, kw_only=True)


def cantilever_tip_deflection_m(
    length_m: ArrayLike,
    bending_stiffness_kNm2: ArrayLike,
    *,
    end_force_kN: ArrayLike = 0.0,
    weight_kN: ArrayLike = 0.0,
    weight_cg_from_foot_m: ArrayLike | None = None,
) -> FloatArray:
    """Tip deflection [m] of a cantilever under end_force_kN and its linearly varying weight_kN.

    Both act square to the beam of length_m and bending_stiffness_kNm2, the E I of an equivalent uniform beam. The
    weight per length w0 + w1 x has the given total and centre: w1 = 6 W (2 c - L)/L^3, w0 = W/L - w1 L/2. delta = P
    L^3/(3 EI) + w0 L^4/(8 EI) + 11 w1 L^5/(120 EI). The centre, weight_cg_from_foot_m, is half the length if left out.

    Raises: A centre of gravity outside the middle third: no linear spread of weight has it.
    Source: Standard beam tables (from memory); compared with a frame library in the tests.
    """
    length = require_positive("length_m", length_m)
    stiffness = require_positive("bending_stiffness_kNm2", bending_stiffness_kNm2)
    force = errors.require_finite("end_force_kN", end_force_kN)
    weight = require_non_negative("weight_kN", weight_kN)
    cg = 0.5 * length
    if weight_cg_from_foot_m is not None:
        cg = require_positive("weight_cg_from_foot_m", weight_cg_from_foot_m)
    share = cg / length
    if not np.all((share >= 1.0 / 3.0) & (share <= 2.0 / 3.0)):
        need = "one third to two thirds of the boom length"
        remedy = "Bending is not estimated for such a boom; use the manufacturer's loaded radius."
        raise InputError.of("weight_cg_from_foot_m", weight_cg_from_foot_m, need, remedy)
    slope = 6.0 * weight * (2.0 * cg - length) / length**3
    start = weight / length - 0.5 * slope * length
    by_weight = start * length**4 / 8.0 + 11.0 * slope * length**5 / 120.0
    return (force * length**3 / 3.0 + by_weight) / stiffness


def _axial_ratio(axial_kN: FloatArray, euler_kN: FloatArray | float, stiffness_kNm2: ArrayLike) -> FloatArray:
    """Axial force over Euler load; refused where the amplification formula does not hold."""
    ratio = np.asarray(axial_kN / euler_kN)
    if not np.all(ratio <= LARGEST_AXIAL_RATIO):
        need = f"an axial force of at most {LARGEST_AXIAL_RATIO:g} of the boom's Euler load"
        remedy = "Check the stated stiffness, length and load."
        raise InputError.of("bending_stiffness_kNm2", stiffness_kNm2, need, remedy)
    return ratio


def _require_small(tip_m: FloatArray, length_m: FloatArray | float, stiffness_kNm2: ArrayLike) -> None:
    """Refuse a deflection for which small-deflection beam theory does not hold."""
    if not np.all(tip_m <= LARGEST_DEFLECTION_RATIO * length_m):
        need = f"a tip deflection of at most {LARGEST_DEFLECTION_RATIO:g} of the boom length "
        need += f"(found {float(np.max(tip_m / length_m)):.3f})"
        remedy = "Check the stated stiffness, or use the manufacturer's loaded radius."
        raise InputError.of("bending_stiffness_kNm2", stiffness_kNm2, need, remedy)


def _settled_tip_m(angle: FloatArray, length: FloatArray, square_m: FloatArray) -> FloatArray:
    """Tip deflection whose load is taken square to the chord that it makes.

    *square_m* is the deflection under the whole load square to the axis.
    """
    tip = np.zeros(np.broadcast_shapes(np.shape(angle), np.shape(square_m)))
    for _ in range(MAX_ITERATIONS):
        new = square_m * np.cos(angle - np.arctan2(tip, length))
        change = float(np.max(np.abs(new - tip))) if new.size else 0.0
        tip = new
        if change <= 1e-6:
            return tip
    raise errors.ConvergenceError(
        f"Boom bending did not settle in {MAX_ITERATIONS} steps: last change {change:.3g} m. "
        "Check the stated stiffness."
    )


def deflected_boom(
    length_m: ArrayLike,
    straight_radius_m: ArrayLike,
    *,
    hook_load_t: ArrayLike,
    boom_mass_t: ArrayLike,
    boom_cg_from_foot_m: ArrayLike,
    bending_stiffness_kNm2: ArrayLike,
    foot_u_m: ArrayLike,
) -> DeflectedBoom:
    """Radius of a boom bent by its own weight and the load, by iteration (an estimate).

    Cantilever fixed at the foot (the luffing cylinder's give is not included unless the stated
    stiffness includes it). The force square to the boom is taken at the angle of the chord of the
    bent boom, which falls as the boom bends, so the deflection is iterated. The head moves square
    to the straight axis by delta: u = u_f + L cos a + delta sin a. The growth is delta sin a,
    slightly more than that of a chord of unchanged length. The axial force N = (P + W/2) sin a
    amplifies the bending by 1/(1 - N/N_E), N_E = pi^2 E I/(4 L^2).

    Parameters:
      length_m: > 0. [m]
      straight_radius_m: Radius that the boom would have if it stayed straight. [m]
      hook_load_t: >= 0. Everything hung from the head, hook block and rope included. [t]
      boom_mass_t: >= 0. [t]
      boom_cg_from_foot_m: A third to two thirds of the boom length. [m]
      bending_stiffness_kNm2: > 0. E I of an equivalent uniform beam, as stated in the machine's data. [kN m2]
      foot_u_m: As for :func:`boom_angle_deg`. [m]
    Raises: A radius out of reach; a tip deflection above a tenth of the length or an axial force above half the Euler
      load, where the theory does not hold. ConvergenceError: The deflection does not settle.
    Source: Standard beam tables; amplification of beam-columns (Euler load), from memory. An
      estimate: the manufacturer's chart is for loaded radius, which must be measured.
    """
    angle_deg = boom_angle_deg(length_m, straight_radius_m, foot_u_m=foot_u_m)
    require_between("boom_angle_deg", angle_deg, 0.0, 90.0)
    length = require_positive("length_m", length_m)
    stiffness = require_positive("bending_stiffness_kNm2", bending_stiffness_kNm2)
    load = require_non_negative("hook_load_t", hook_load_t) * G_M_S2
    weight = require_non_negative("boom_mass_t", boom_mass_t) * G_M_S2
    straight = errors.require_finite("straight_radius_m", straight_radius_m)
    angle = np.radians(angle_deg)
    by_load = cantilever_tip_deflection_m(length, stiffness, end_force_kN=load)
    by_weight = cantilever_tip_deflection_m(
        length, stiffness, weight_kN=weight, weight_cg_from_foot_m=boom_cg_from_foot_m
    )
    euler = np.pi**2 * stiffness / (4.0 * length**2)
    ratio = _axial_ratio((load + 0.5 * weight) * np.sin(angle), euler, bending_stiffness_kNm2)
    tip = _settled_tip_m(angle, length, (by_load + by_weight) * (1.0 / (1.0 - ratio)))
    _require_small(tip, length, bending_stiffness_kNm2)
    growth = tip * np.sin(angle)
    return DeflectedBoom(*np.broadcast_arrays(angle_deg, straight, straight + growth, growth, tip))


@dataclass(frozen=True)
class LoadedBoom:
    """Shape of a boom whose loaded hook hangs at stated radii, loaded and with the load off.

    All of shape (N,). Deflections are square to the axis at the foot; chords run from the foot to
    the head, their angles above the horizontal.
    """

    tip_m: FloatArray
    empty_tip_m: FloatArray
    """With the empty hook at the same angle of the foot. [m]"""
    chord_m: FloatArray
    empty_chord_m: FloatArray
    chord_deg: FloatArray
    empty_chord_deg: FloatArray

    def eased(self, share: ArrayLike) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Tip deflection [m], chord [m] and its angle [deg] with this share of the load off.

        Parameters:
          share: shape (N,), 0 (loaded) to 1 (empty)
        Source: Linear between both shapes.
        """
        f = np.asarray(share, dtype=np.float64)
        return (
            self.tip_m + f * (self.empty_tip_m - self.tip_m),
            self.chord_m + f * (self.empty_chord_m - self.chord_m),
            self.chord_deg + f * (self.empty_chord_deg - self.chord_deg),
        )


def bow_share(position: ArrayLike, /) -> FloatArray:
    """Greatest rise of a bent boom above its chord, as a share of its tip deflection.

    The first buckling shape of a cantilever, 1 - cos(pi x / 2), less the chord. Loads at the end (0.193 at most) and
    over the length (0.158) bow less at every position. The greatest is 0.211, at 0.44 of the length.

    Parameters:
      position: 0 (foot) to 1 (head). Along the chord. [-]
    Source: Elementary beam shapes (from memory); compared with the elastica in the tests.
    """
    x = require_between("position", position, 0.0, 1.0)
    return np.asarray(x - 1.0 + np.cos(np.pi * x / 2.0))


def loaded_boom(
    length_m: float,
    loaded_radius_m: ArrayLike,
    *,
    foot_u_m: float,
    bending_stiffness_kNm2: float | None,
    hook_load_t: float,
    empty_hook_t: float,
    boom_mass_t: float,
    boom_cg_from_foot_m: float,
    unknown_ratio: float = UNKNOWN_STIFFNESS_RATIO,
) -> LoadedBoom:
    """Shape of the bent boom at loaded radii, and what it springs up to when the load comes off.

    The chord of the loaded boom is given by its radius; the foot's axis lies above it by atan(delta
    / L), and above the chord of the empty boom by atan(delta_0 / L). Forces are split along and
    square to the foot's axis, so that 1/(1 - N/N_E) holds the whole effect of the axial force. The
    chord is shorter than the axis by 0.10 (end load) to 0.12 (buckling shape) of delta^2 / L.

    Parameters:
      length_m: > 0. [m]
      loaded_radius_m: shape (N,). Where the loaded hook hangs, from the slew axis. [m]
      foot_u_m: Boom foot along the boom direction. [m]
      bending_stiffness_kNm2: float or None. As for :func:`deflected_boom`; None where it is not stated: then the tip is
        taken as deflected by *unknown_ratio* of the length, and the empty boom as straight.
      hook_load_t, empty_hook_t: >= 0. All that hangs from the head with and without the load. [t]
      boom_mass_t, boom_cg_from_foot_m: As for :func:`deflected_boom`. [t, m]
      unknown_ratio: 0 to 0.1. Counts only without a stiffness. [-]
    Returns: LoadedBoom. Deflections larger than the estimate by :data:`SHAPE_MARGIN`.
    Raises: A radius out of reach, and what :func:`deflected_boom` refuses of a stiffness.
      ConvergenceError: The deflection does not settle.
    Source: As :func:`deflected_boom`; chord by integration of the beam shapes; compared with the elastica in the tests.
    """
    # long: one bend solved twice, loaded and empty, with its checks at the place they guard
    length = float(require_positive("length_m", length_m))
    radius = errors.require_finite("loaded_radius_m", np.atleast_1d(loaded_radius_m))
    reach = radius - float(errors.require_finite("foot_u_m", foot_u_m))
    require_between("loaded_radius_m", reach, 0.0, length)
    load, empty = (
        float(require_non_negative(name, value)) * G_M_S2
        for name, value in (("hook_load_t", hook_load_t), ("empty_hook_t", empty_hook_t))
    )
    weight = float(require_non_negative("boom_mass_t", boom_mass_t)) * G_M_S2
    tip = np.zeros(radius.shape)
    if bending_stiffness_kNm2 is None:
        ratio = require_between("unknown_ratio", unknown_ratio, 0.0, LARGEST_DEFLECTION_RATIO)
        tip, bare = tip + float(ratio) * length, tip
    else:
        stiffness = float(require_positive("bending_stiffness_kNm2", bending_stiffness_kNm2))
        euler = np.pi**2 * stiffness / (4.0 * length**2)
        by_weight = float(
            cantilever_tip_deflection_m(length, stiffness, weight_kN=weight, weight_cg_from_foot_m=boom_cg_from_foot_m)
        )

        def deflection(force: float, axis: FloatArray) -> FloatArray:
            ratio = _axial_ratio((force + 0.5 * weight) * np.sin(axis), euler, stiffness)
            across = force * length**3 / (3.0 * stiffness) + by_weight
            return np.asarray(across * np.cos(axis) / (1.0 - ratio))

        chord = np.arccos(reach / length)
        for _ in range(60):
            new = deflection(load, chord + np.arctan2(tip, length))
            chord = np.arccos(np.minimum(reach / (length - 0.12 * new**2 / length), 1.0))
            change, tip = float(np.max(np.abs(new - tip), initial=0.0)), new
            if change <= 1e-6:
                break
        else:
            raise errors.ConvergenceError("loaded_boom: bending did not settle. Check the stiffness.")
        _require_small(tip, length, stiffness)
        bare = deflection(empty, chord + np.arctan2(tip, length))
        bare = tip - SHAPE_MARGIN * (tip - bare)
    tip, bare = tip * SHAPE_MARGIN, np.maximum(bare, 0.0)
    long = length - 0.12 * tip**2 / length
    require_between("loaded_radius_m", reach, 0.0, float(long.min()))
    chord = np.arccos(reach / long)
    return LoadedBoom(
        tip_m=tip, empty_tip_m=bare, chord_m=long, empty_chord_m=length - 0.1 * bare**2 / length,
        chord_deg=np.degrees(chord),
        empty_chord_deg=np.degrees(chord + np.arctan2(tip, length) - np.arctan2(bare, length)),
    )  # fmt: skip
