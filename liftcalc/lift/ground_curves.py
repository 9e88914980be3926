"""Curves of the ground sheet's drawings: pressure along a mat, and stress below a leg.

Sources: :mod:`liftcalc.ground.beam` and :mod:`liftcalc.ground.stress`.
"""

from dataclasses import dataclass

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.ground.beam import centred_beam_shape
from liftcalc.ground.mat_properties import MatProperties
from liftcalc.ground.stress import MatsInPlan, spread_stress_kPa


def pressure_along_mat_kPa(
    mat: MatProperties,
    force_kN: float,
    *,
    width_m: float,
    float_length_m: float,
    subgrade_kN_m3: float,
    points: int = 161,
) -> tuple[FloatArray, FloatArray]:
    """Places along a mat from its middle [m], and the pressure there with the mat's own weight.

    The same beam on the same springs as in :func:`liftcalc.ground.check.elastic_bending`; empty
    where no spring is known (NaN).
    """
    if not np.isfinite(subgrade_kN_m3):
        return np.empty(0), np.empty(0)
    x = np.linspace(-mat.length_m / 2.0, mat.length_m / 2.0, points)
    shape = centred_beam_shape(
        force_kN,
        mat.length_m,
        width_m=width_m,
        stiffness_kNm2=mat.stiffness_kNm2 * width_m / mat.width_m,
        subgrade_modulus_kN_m3=subgrade_kN_m3,
        patch_m=float_length_m,
        x_m=x,
    )
    return x, shape.pressure_kPa + mat.weight_kN / mat.area_m2


@dataclass(frozen=True, eq=False)
class StressBelow:
    """Vertical stress that the mats add below the middle of one of them."""

    depth_m: FloatArray
    own_kPa: FloatArray
    all_legs_kPa: FloatArray
    mean_2to1_kPa: FloatArray
    """Mean of the leg's own, spread 2 vertical to 1 horizontal."""


def stress_below(leg: int, pressure_kPa: FloatArray, mats: MatsInPlan) -> StressBelow:
    """Stress below one leg down to three times the shorter side that bears there."""
    length, width = float(mats.length_m[leg]), float(mats.width_m[leg])
    deep = 3.0 * min(length, width)
    depth = np.linspace(deep / 400.0, deep, 200)
    by_leg = mats.stress_kPa(
        pressure_kPa,
        depth,
        x_m=np.full(depth.shape, mats.x_m[leg]),
        y_m=np.full(depth.shape, mats.y_m[leg]),
    )
    return StressBelow(
        depth_m=depth,
        own_kPa=by_leg[:, leg],
        all_legs_kPa=by_leg.sum(axis=-1),
        mean_2to1_kPa=spread_stress_kPa(
            pressure_kPa[leg] * length * width, depth, length_m=length, width_m=width
        ),
    )
