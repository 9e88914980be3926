"""Vertical stress at depth under legs and mats, settlement, and the stiffness of the ground.

All stresses are those added by the surface load on a uniform elastic half space; the weight of the
soil itself is not included. Compression is positive. A stiff crust over soft ground spreads more, a
soft layer over a stiff one spreads less than this theory. Elastic theory gives the settlement that
comes with the load. Clay goes on settling under a standing load; that part is not calculated.

Sources: Newmark (1935) and Fadum (1948), corner of a rectangle, from Boussinesq (1885); UFC 3-220-10 (2022), Table 4-2;
2:1 spread: FHWA-SA-02-054 (GEC 6, 2002), Eq. 5-17. Settlement: Schleicher (1926); Winterkorn and Fang (1975) as in GEC
6, Table 5-12. UFC and GEC 6 read in the transcription of the package geotech-references 1.4.1, with which the tests
compare: source and reference are one transcription.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base import errors
from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_finite, require_non_negative, require_positive


def _corner(m: FloatArray, n: FloatArray) -> FloatArray:
    """Share of the pressure below a corner of a rectangle, its sides over the depth m and n."""
    m2, n2 = m * m, n * n
    t = m * n / np.sqrt(m2 + n2 + 1.0)
    return np.asarray((np.arctan(t) + t * (1.0 / (1.0 + m2) + 1.0 / (1.0 + n2))) / (2.0 * np.pi))


def rectangle_stress_kPa(
    pressure_kPa: ArrayLike,
    depth_m: ArrayLike,
    *,
    length_m: ArrayLike,
    width_m: ArrayLike,
    x_m: ArrayLike = 0.0,
    y_m: ArrayLike = 0.0,
) -> FloatArray:
    """Vertical stress that pressure_kPa on a rectangle adds at depth_m below or beside it.

    length_m and width_m lie along x and y; x_m and y_m are the point's place from the centre.
    Source: Superposition of four corner rectangles: Newmark (1935), Fadum (1948), written with one
      arctangent that needs no branch correction.
    """
    q = require_non_negative("pressure_kPa", pressure_kPa)
    z = require_positive("depth_m", depth_m)
    half_l = require_positive("length_m", length_m) / 2.0
    half_w = require_positive("width_m", width_m) / 2.0
    x, y = require_finite("x_m", x_m), require_finite("y_m", y_m)
    m1, m2 = (x + half_l) / z, (x - half_l) / z
    n1, n2 = (y + half_w) / z, (y - half_w) / z
    factor = _corner(m1, n1) - _corner(m2, n1) - _corner(m1, n2) + _corner(m2, n2)
    return np.asarray(q * np.maximum(factor, 0.0))  # far away the difference is rounding noise


def spread_stress_kPa(
    load_kN: ArrayLike, depth_m: ArrayLike, *, length_m: ArrayLike, width_m: ArrayLike, spread_h_per_v: ArrayLike = 0.5
) -> FloatArray:
    """Mean vertical stress at depth_m as load_kN spreads at a fixed slope; the peak is higher.

    From length_m by width_m, by spread_h_per_v on each side per unit of depth; 0.5 is "2:1".

    Source: FHWA-SA-02-054 (GEC 6, 2002), Eq. 5-17 (for 0.5).
    """
    load, z = require_non_negative("load_kN", load_kN), require_non_negative("depth_m", depth_m)
    length, width = require_positive("length_m", length_m), require_positive("width_m", width_m)
    k = require_non_negative("spread_h_per_v", spread_h_per_v)
    return np.asarray(load / ((length + 2.0 * k * z) * (width + 2.0 * k * z)))


def legs_stress_by_leg_kPa(
    pressure_kPa: ArrayLike,
    depth_m: ArrayLike,
    *,
    leg_x_m: ArrayLike,
    leg_y_m: ArrayLike,
    length_m: ArrayLike,
    width_m: ArrayLike,
    orientation_deg: ArrayLike = 0.0,
    x_m: ArrayLike,
    y_m: ArrayLike,
) -> FloatArray:
    """Vertical stress at points x_m, y_m at depth_m, one contribution (..., N) for each leg's mat.

    pressure_kPa (..., N) acts under mats of length_m by width_m about leg_x_m, leg_y_m;
    orientation_deg is the direction of each length, anticlockwise from +x. Legs FL, FR, RR, RL.

    Source: :func:`rectangle_stress_kPa` in the axes of each mat.
    """
    turn = np.deg2rad(require_finite("orientation_deg", orientation_deg))
    dx = require_finite("x_m", x_m)[..., None] - require_finite("leg_x_m", leg_x_m)
    dy = require_finite("y_m", y_m)[..., None] - require_finite("leg_y_m", leg_y_m)
    cos, sin = np.cos(turn), np.sin(turn)
    return rectangle_stress_kPa(
        pressure_kPa, np.asarray(depth_m, dtype=np.float64)[..., None], length_m=length_m,
        width_m=width_m, x_m=dx * cos + dy * sin, y_m=dy * cos - dx * sin,
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class MatsInPlan:
    """Where all mats bear: centres, effective sides, and direction of their length."""

    x_m: FloatArray
    y_m: FloatArray
    length_m: FloatArray
    width_m: FloatArray
    orientation_deg: float = 0.0

    def stress_kPa(self, pressure_kPa: ArrayLike, depth_m: ArrayLike, *, x_m: ArrayLike, y_m: ArrayLike) -> FloatArray:
        """Vertical stress that each mat adds at points below: see ``legs_stress_by_leg_kPa``."""
        return legs_stress_by_leg_kPa(
            pressure_kPa, depth_m, leg_x_m=self.x_m, leg_y_m=self.y_m, length_m=self.length_m,
            width_m=self.width_m, orientation_deg=self.orientation_deg, x_m=x_m, y_m=y_m,
        )  # fmt: skip


Position = Literal["centre", "corner", "average"]


def half_space_factor(length_to_width: ArrayLike, position: Position = "centre") -> FloatArray:
    """Settlement factor Cd of a flexible rectangle on a half space: s = Cd q B (1 - nu^2) / E. [-]

    B is the shorter side, m = length_to_width L/B >= 1. Corner: (ln(m + sqrt(1+m^2)) + m ln((1 +
    sqrt(1+m^2))/m)) / pi; centre is twice that. ``position`` "average", the mean over the area, is
    a little above the settlement of a rigid mat: integral of 1/r over both the loaded and the
    observed area, in closed form.

    Raises: An unknown position.
    Source: Schleicher (1926); table values in FHWA-SA-02-054 (GEC 6), Table 5-12.
    """
    m = errors.require_between("length_to_width", length_to_width, 1.0, 1e6)
    corner = (np.arcsinh(m) + m * np.arcsinh(1.0 / m)) / np.pi
    if position == "average":
        cube = (1.0 + m**3 - (1.0 + m**2) ** 1.5) / m
        sides = 2.0 * np.arcsinh(m) + 2.0 * m * np.arcsinh(1.0 / m)
        return np.asarray((sides + cube / 1.5) / np.pi)
    if position not in ("corner", "centre"):
        raise InputError.of("position", position, "centre, corner, average")
    return np.asarray(corner if position == "corner" else 2.0 * corner)


def elastic_settlement_m(
    pressure_kPa: ArrayLike,
    modulus_kPa: ArrayLike,
    *,
    length_m: ArrayLike,
    width_m: ArrayLike,
    poisson: ArrayLike,
    position: Position = "centre",
) -> FloatArray:
    """Immediate elastic settlement of a flexible mat, length_m by width_m, downwards positive. [m]

    pressure_kPa is the net contact pressure; modulus_kPa and *poisson* are those of the ground over
    the depth that matters; the position as :func:`half_space_factor`.

    Source: Schleicher (1926), half space.
    """
    q = require_non_negative("pressure_kPa", pressure_kPa)
    e = require_positive("modulus_kPa", modulus_kPa)
    nu = errors.require_between("poisson", poisson, 0.0, 0.5)
    a, b = require_positive("length_m", length_m), require_positive("width_m", width_m)
    long, short = np.maximum(a, b), np.minimum(a, b)
    return np.asarray(q * short * (1.0 - nu**2) / e * half_space_factor(long / short, position))


def leg_stiffness_kN_m(
    modulus_kPa: ArrayLike, poisson: ArrayLike, *, length_m: ArrayLike, width_m: ArrayLike
) -> FloatArray:
    """Vertical stiffness of the ground under one (effective) mat, length_m by width_m. [kN/m]

    Force over mean settlement on a half space of modulus_kPa and *poisson*.

    Source: :func:`half_space_factor`, average.
    """
    a, b = require_positive("length_m", length_m), require_positive("width_m", width_m)
    unit = elastic_settlement_m(1.0, modulus_kPa, length_m=a, width_m=b, poisson=poisson, position="average")
    return np.asarray(a * b / unit)
