"""What the ground drawings show, taken from the calculations; no formula of its own.

Sources: those of :mod:`liftcalc.ground.beam` and :mod:`liftcalc.ground.stress`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_non_negative, require_positive
from liftcalc.ground.beam import centred_beam_shape
from liftcalc.ground.mat_properties import MatProperties
from liftcalc.ground.profile import GroundProfile, layer_tops_m
from liftcalc.ground.stress import legs_stress_by_leg_kPa, two_to_one_stress_kPa

__all__ = ["DepthDrawing", "MatDrawing", "depth_drawing", "mat_drawing"]


@dataclass(frozen=True, eq=False)
class MatDrawing:
    """One mat under one leg, loaded in its middle; lengths along the mat from its middle.

    ``pressure_kPa`` acts evenly on the effective size; ``elastic_x_m`` and
    ``elastic_pressure_kPa`` are the pressure on ground of real stiffness, empty where its modulus
    is not known.
    """

    title: str
    mat_name: str
    length_m: float
    width_m: float
    thickness_m: float
    effective_length_m: float
    effective_width_m: float
    float_length_m: float
    float_width_m: float
    reaction_kN: float
    pressure_kPa: float
    allowable_kPa: float
    elastic_x_m: FloatArray
    elastic_pressure_kPa: FloatArray


def mat_drawing(
    title: str,
    mat: MatProperties,
    *,
    reaction_kN: float,
    effective_length_m: float,
    effective_width_m: float,
    allowable_kPa: float,
    float_length_m: float,
    float_width_m: float,
    subgrade_modulus_kN_m3: float | None,
) -> MatDrawing:
    """Data of a mat drawing.

    Parameters:
      title: str
      mat: MatProperties
      reaction_kN: float, >= 0. [kN]
      effective_length_m, effective_width_m: float. As found by
        :func:`liftcalc.ground.mats.mat_check`. [m]
      allowable_kPa: float, >= 0. [kPa]
      float_length_m, float_width_m: float, > 0. [m]
      subgrade_modulus_kN_m3: float or None, > 0. Spring of the ground; None leaves the elastic
        pressure out. [kN/m3]
    Returns: MatDrawing
    Raises: An effective size larger than the mat, or anything out of range.
    """
    length = float(require_positive("effective_length_m", effective_length_m))
    width = float(require_positive("effective_width_m", effective_width_m))
    force = float(require_non_negative("reaction_kN", reaction_kN))
    limit = float(require_non_negative("allowable_kPa", allowable_kPa))
    if not (length <= mat.length_m + 1e-9 and width <= mat.width_m + 1e-9):
        raise InputError.of("effective size", (length, width), "within the mat")
    x, elastic = np.empty(0), np.empty(0)
    if subgrade_modulus_kN_m3 is not None:
        x = np.linspace(-mat.length_m / 2.0, mat.length_m / 2.0, 161)
        shape = centred_beam_shape(
            force,
            mat.length_m,
            width_m=width,
            stiffness_kNm2=mat.stiffness_kNm2 * width / mat.width_m,
            subgrade_modulus_kN_m3=subgrade_modulus_kN_m3,
            patch_m=float_length_m,
            x_m=x,
        )
        elastic = shape.pressure_kPa + mat.weight_kN / mat.area_m2
    return MatDrawing(
        title=title,
        mat_name=mat.name,
        length_m=mat.length_m,
        width_m=mat.width_m,
        thickness_m=mat.thickness_m,
        effective_length_m=length,
        effective_width_m=width,
        float_length_m=float(require_positive("float_length_m", float_length_m)),
        float_width_m=float(require_positive("float_width_m", float_width_m)),
        reaction_kN=force,
        pressure_kPa=(force + mat.weight_kN) / (length * width),
        allowable_kPa=limit,
        elastic_x_m=x,
        elastic_pressure_kPa=elastic,
    )


@dataclass(frozen=True, eq=False)
class DepthDrawing:
    """Vertical stress below the middle of one mat, and the layers it passes.

    ``layer_top_m`` and ``layer_name`` go together; ``water_depth_m`` is None where no water was
    found.
    """

    title: str
    depth_m: FloatArray
    own_kPa: FloatArray
    all_legs_kPa: FloatArray
    mean_2to1_kPa: FloatArray
    layer_top_m: tuple[float, ...]
    layer_name: tuple[str, ...]
    water_depth_m: float | None


def depth_drawing(
    title: str,
    profile: GroundProfile,
    *,
    leg: int,
    pressure_kPa: ArrayLike,
    leg_x_m: ArrayLike,
    leg_y_m: ArrayLike,
    length_m: ArrayLike,
    width_m: ArrayLike,
    orientation_deg: ArrayLike = 0.0,
    depth_to_m: float | None = None,
) -> DepthDrawing:
    """Data of the drawing of stress with depth below one leg.

    Parameters:
      title: str
      profile: GroundProfile
      leg: int. Which of the legs.
      pressure_kPa, leg_x_m, leg_y_m, length_m, width_m, orientation_deg: array_like, shape (N,). As
        for :func:`liftcalc.ground.stress.legs_stress_by_leg_kPa`.
      depth_to_m: float or None, > 0. Depth drawn; None is three mat widths. [m]
    Returns: DepthDrawing
    """
    x, y = np.asarray(leg_x_m, dtype=np.float64), np.asarray(leg_y_m, dtype=np.float64)
    q, length, width = (
        np.broadcast_to(np.asarray(v, dtype=np.float64), x.shape)
        for v in (pressure_kPa, length_m, width_m)
    )
    if not 0 <= leg < x.size:
        raise InputError.of("leg", leg, f"0 to {x.size - 1}")
    short = float(min(length[leg], width[leg]))
    deep = float(require_positive("depth_to_m", 3.0 * short if depth_to_m is None else depth_to_m))
    z = np.linspace(deep / 400.0, deep, 200)
    part = legs_stress_by_leg_kPa(
        q,
        z,
        leg_x_m=x,
        leg_y_m=y,
        length_m=length,
        width_m=width,
        orientation_deg=orientation_deg,
        x_m=np.full(z.shape, x[leg]),
        y_m=np.full(z.shape, y[leg]),
    )
    tops = layer_tops_m(profile)
    shown = [k for k, top in enumerate(tops) if top < deep]
    return DepthDrawing(
        title=title,
        depth_m=z,
        own_kPa=part[:, leg],
        all_legs_kPa=part.sum(axis=-1),
        mean_2to1_kPa=two_to_one_stress_kPa(
            q[leg] * length[leg] * width[leg], z, length_m=length[leg], width_m=width[leg]
        ),
        layer_top_m=tuple(tops[k] for k in shown),
        layer_name=tuple(profile.layers[k].name for k in shown),
        water_depth_m=profile.water_depth_m,
    )
