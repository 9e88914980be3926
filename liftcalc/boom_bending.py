"""Bending of a boom under its own weight and the load: radius growth (an estimate).

Contents
--------
:func:`cantilever_tip_deflection_m`, :func:`deflected_boom`.

Sources
-------
Standard beam tables: tip deflection of a cantilever under an end load P L^3/(3 E I), a uniform
load w L^4/(8 E I) and a load growing linearly to w at the free end 11 w L^4/(120 E I) (from
memory; compared with a frame library in the tests). Elastic critical load of a cantilever
pi^2 E I/(4 L^2): Euler. Sign and frame as in :mod:`liftcalc.boom`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.boom import boom_angle_deg
from liftcalc.errors import (
    ConvergenceError,
    InputError,
    require_between,
    require_finite,
    require_non_negative,
    require_positive,
)
from liftcalc.units import G_M_S2

__all__ = [
    "DeflectedBoom",
    "cantilever_tip_deflection_m",
    "deflected_boom",
]

FloatArray = NDArray[np.float64]

LARGEST_DEFLECTION_RATIO = 0.10
"""Tip deflection over length above which small-deflection beam theory is refused."""
LARGEST_AXIAL_RATIO = 0.50
"""Axial force over Euler load above which the amplification formula is refused."""


@dataclass(frozen=True)
class DeflectedBoom:
    """Boom bent by its own weight and the load: an estimate, never a maker's figure."""

    boom_angle_deg: FloatArray
    """Angle at the foot, as if the boom were straight. [deg]"""
    straight_radius_m: FloatArray
    radius_m: FloatArray
    """Radius of the bent boom, never below the straight one. [m]"""
    radius_growth_m: FloatArray
    tip_deflection_m: FloatArray
    """Square to the boom's axis. [m]"""
    head_drop_m: FloatArray
    load_part_m: FloatArray
    """Share of the tip deflection from the load, before the axial effect. [m]"""
    weight_part_m: FloatArray
    amplification: FloatArray
    """Effect of the axial force on the bending, 1/(1 - N/N_E). [-]"""
    iterations: int
    estimate: bool = True


def cantilever_tip_deflection_m(
    length_m: ArrayLike,
    bending_stiffness_kNm2: ArrayLike,
    *,
    end_force_kN: ArrayLike = 0.0,
    weight_kN: ArrayLike = 0.0,
    weight_cg_from_foot_m: ArrayLike | None = None,
) -> FloatArray:
    """Tip deflection of a cantilever under an end force and its own linearly varying weight.

    Parameters
    ----------
    length_m : array_like, > 0. [m]
    bending_stiffness_kNm2 : array_like, > 0
        E I of an equivalent uniform beam. [kN m2]
    end_force_kN : array_like
        Square to the beam at its free end. [kN]
    weight_kN : array_like, >= 0
        Part of the whole weight that is square to the beam. [kN]
    weight_cg_from_foot_m : array_like, optional
        Centre of gravity, between a third and two thirds of the length; half if left out. [m]

    Returns
    -------
    ndarray
        Square to the beam. [m]

    Raises
    ------
    InputError
        A centre of gravity outside the middle third: no linear spread of weight has it.

    Notes
    -----
    The weight per length w0 + w1 x has the given total and centre:
    w1 = 6 W (2 c - L)/L^3, w0 = W/L - w1 L/2.
    delta = P L^3/(3 EI) + w0 L^4/(8 EI) + 11 w1 L^5/(120 EI).

    References
    ----------
    Standard beam tables (from memory); compared with a frame library in the tests.
    """
    length = require_positive("length_m", length_m)
    stiffness = require_positive("bending_stiffness_kNm2", bending_stiffness_kNm2)
    force = require_finite("end_force_kN", end_force_kN)
    weight = require_non_negative("weight_kN", weight_kN)
    cg = (
        0.5 * length
        if weight_cg_from_foot_m is None
        else require_positive("weight_cg_from_foot_m", weight_cg_from_foot_m)
    )
    share = cg / length
    ok = (share >= 1.0 / 3.0) & (share <= 2.0 / 3.0)
    if not np.all(ok):
        raise InputError.of(
            "weight_cg_from_foot_m",
            weight_cg_from_foot_m,
            "one third to two thirds of the boom length",
            "Bending is not estimated for such a boom; use the maker's loaded radius.",
        )
    slope = 6.0 * weight * (2.0 * cg - length) / length**3
    start = weight / length - 0.5 * slope * length
    by_weight = start * length**4 / 8.0 + 11.0 * slope * length**5 / 120.0
    return (force * length**3 / 3.0 + by_weight) / stiffness


def deflected_boom(
    length_m: ArrayLike,
    straight_radius_m: ArrayLike,
    *,
    hook_load_t: ArrayLike,
    boom_mass_t: ArrayLike,
    boom_cg_from_foot_m: ArrayLike,
    bending_stiffness_kNm2: ArrayLike,
    foot_u_m: ArrayLike,
    head_offset_m: ArrayLike = 0.0,
    tolerance_m: float = 1e-6,
    max_iterations: int = 100,
) -> DeflectedBoom:
    """Radius of a boom bent by its own weight and the load, by iteration (an estimate).

    Parameters
    ----------
    length_m : array_like, > 0. [m]
    straight_radius_m : array_like
        Radius that the boom would have if it stayed straight. [m]
    hook_load_t : array_like, >= 0
        Everything hung from the head, hook block and rope included. [t]
    boom_mass_t : array_like, >= 0. [t]
    boom_cg_from_foot_m : array_like
        A third to two thirds of the boom length. [m]
    bending_stiffness_kNm2 : array_like, > 0
        E I of an equivalent uniform beam, as stated in the machine's data. [kN m2]
    foot_u_m, head_offset_m : array_like
        As for :func:`boom_angle_deg`. [m]
    tolerance_m : float
        Largest change of the tip deflection in the last step. [m]
    max_iterations : int

    Returns
    -------
    DeflectedBoom

    Raises
    ------
    InputError
        A radius out of reach; a tip deflection above a tenth of the length or an axial force
        above half the Euler load, where the theory does not hold.
    ConvergenceError
        The deflection does not settle.

    Notes
    -----
    Cantilever fixed at the foot (the luffing cylinder's give is not included unless the stated
    stiffness includes it). The force square to the boom is taken at the angle of the chord of
    the bent boom, which falls as the boom bends, so the deflection is iterated. The head moves
    square to the straight axis by delta: u = u_f + L cos a + (e + delta) sin a. The growth is
    delta sin a, slightly more than that of a chord of unchanged length. The axial force
    N = (P + W/2) sin a amplifies the bending by 1/(1 - N/N_E), N_E = pi^2 E I/(4 L^2).

    References
    ----------
    Standard beam tables; amplification of beam-columns (Euler load), from memory. An estimate:
    the maker's chart is for loaded radius, which must be measured.
    """
    angle_deg = boom_angle_deg(
        length_m, straight_radius_m, foot_u_m=foot_u_m, head_offset_m=head_offset_m
    )
    require_between("boom_angle_deg", angle_deg, 0.0, 90.0)
    length = require_positive("length_m", length_m)
    stiffness = require_positive("bending_stiffness_kNm2", bending_stiffness_kNm2)
    load = require_non_negative("hook_load_t", hook_load_t) * G_M_S2
    weight = require_non_negative("boom_mass_t", boom_mass_t) * G_M_S2
    straight = require_finite("straight_radius_m", straight_radius_m)
    angle = np.radians(angle_deg)
    by_load = cantilever_tip_deflection_m(length, stiffness, end_force_kN=load)
    by_weight = cantilever_tip_deflection_m(
        length, stiffness, weight_kN=weight, weight_cg_from_foot_m=boom_cg_from_foot_m
    )
    euler = np.pi**2 * stiffness / (4.0 * length**2)
    ratio = (load + 0.5 * weight) * np.sin(angle) / euler
    if not np.all(ratio <= LARGEST_AXIAL_RATIO):
        raise InputError.of(
            "bending_stiffness_kNm2",
            bending_stiffness_kNm2,
            f"an axial force of at most {LARGEST_AXIAL_RATIO:g} of the boom's Euler load",
            "Check the stated stiffness, length and load.",
        )
    gain = 1.0 / (1.0 - ratio)
    shape = np.broadcast_shapes(np.shape(angle), np.shape(by_load), np.shape(by_weight))
    tip = np.zeros(shape)
    count = 0
    while True:
        count += 1
        chord = angle - np.arctan2(tip, length)
        new = (by_load + by_weight) * np.cos(chord) * gain
        change = float(np.max(np.abs(new - tip))) if new.size else 0.0
        tip = new
        if change <= tolerance_m:
            break
        if count >= max_iterations or not np.isfinite(change):
            raise ConvergenceError(
                f"Boom bending did not settle in {count} steps: last change {change:.3g} m. "
                "Check the stated stiffness."
            )
    if not np.all(tip <= LARGEST_DEFLECTION_RATIO * length):
        raise InputError.of(
            "bending_stiffness_kNm2",
            bending_stiffness_kNm2,
            f"a tip deflection of at most {LARGEST_DEFLECTION_RATIO:g} of the boom length "
            f"(found {float(np.max(tip / length)):.3f})",
            "Check the stated stiffness, or use the maker's loaded radius.",
        )
    growth = tip * np.sin(angle)
    cosine = np.cos(angle - np.arctan2(tip, length))
    fields = np.broadcast_arrays(
        angle_deg,
        straight,
        straight + growth,
        growth,
        tip,
        tip * np.cos(angle),
        by_load * cosine,
        by_weight * cosine,
        gain,
    )
    return DeflectedBoom(
        boom_angle_deg=fields[0],
        straight_radius_m=fields[1],
        radius_m=fields[2],
        radius_growth_m=fields[3],
        tip_deflection_m=fields[4],
        head_drop_m=fields[5],
        load_part_m=fields[6],
        weight_part_m=fields[7],
        amplification=fields[8],
        iterations=count,
    )
