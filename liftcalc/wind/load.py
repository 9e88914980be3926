"""Wind on the hanging load: how far it swings, and the wind it may be lifted in.

Sources: Statics; EN 13000 practice for the load's sail area (from memory; same physics in a
published site wind calculation, seen).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import (
    InputError,
    require_between,
    require_finite,
    require_non_negative,
    require_positive,
)
from liftcalc.base.units import G_M_S2
from liftcalc.wind.pressure import AIR_DENSITY_CRANE_KG_M3, wind_speed_of_pressure_m_s

__all__ = [
    "MAX_HANG_ANGLE_DEG",
    "HangingLoad",
    "PermissibleWind",
    "hanging_load",
    "permissible_wind",
    "wind_speed_at_hang_angle_m_s",
]


MAX_HANG_ANGLE_DEG = 20.0
"""A load blown further out of plumb than this is refused: no lift is made so (own limit)."""


@dataclass(frozen=True)
class HangingLoad:
    """A load hanging out of plumb in a steady wind.

    ``radius_increase_m`` and ``side_offset_m`` (to the left of the boom) are the components
    of ``swing_m``; ``new_radius_m`` is the distance of the swung load from the slew axis,
    ``slew_offset_deg`` the angle it has moved round, anticlockwise positive.
    """

    wind_force_kN: FloatArray
    rope_angle_deg: FloatArray
    rope_tension_kN: FloatArray
    swing_m: FloatArray
    radius_increase_m: FloatArray
    side_offset_m: FloatArray
    new_radius_m: FloatArray
    slew_offset_deg: FloatArray
    along_kN: FloatArray
    across_kN: FloatArray


def hanging_load(
    wind_force_kN: ArrayLike,
    load_t: ArrayLike,
    *,
    rope_length_m: ArrayLike,
    load_radius_m: ArrayLike,
    wind_towards_deg: ArrayLike = 0.0,
) -> HangingLoad:
    """Pull-out of plumb of the hanging load in a steady wind: tan(a) = F / (m g).

    Steady wind; gust dynamics are not in it. The boom itself is taken as rigid.

    Parameters:
      wind_force_kN: array_like, shape (...), >= 0. [kN]
      load_t: array_like, shape (...), > 0. [t] Mass that hangs and resists the swing. Leaving out
        rope and block is on the safe side.
      rope_length_m: array_like, shape (...), > 0. [m] Boom head sheave to the load's centre of
        gravity.
      load_radius_m: array_like, shape (...), > 0. [m] Plumb radius.
      wind_towards_deg: array_like. Direction the wind blows towards, from the boom's outward
        direction. [deg]
    Returns: HangingLoad. Arrays of the broadcast shape.
    Raises: The rope leaves plumb by more than 20 degrees (no lift is made so).
    Source: Statics.
    """
    force = require_non_negative("wind_force_kN", wind_force_kN)
    mass = require_positive("load_t", load_t)
    rope = require_positive("rope_length_m", rope_length_m)
    radius = require_positive("load_radius_m", load_radius_m)
    direction = np.radians(require_finite("wind_towards_deg", wind_towards_deg))
    force, mass, rope, radius, direction = np.broadcast_arrays(force, mass, rope, radius, direction)
    weight = mass * G_M_S2
    angle = np.arctan2(force, weight)
    if not np.all(np.degrees(angle) <= MAX_HANG_ANGLE_DEG):
        raise InputError.of(
            "rope_angle_deg",
            round(float(np.degrees(angle).max()), 2),
            f"0 to {MAX_HANG_ANGLE_DEG:g}",
            "The wind blows the load too far out of plumb: lower the wind limit or the sail area.",
        )
    swing = rope * np.sin(angle)
    outward = swing * np.cos(direction)
    side = swing * np.sin(direction)
    return HangingLoad(
        wind_force_kN=np.array(force),
        rope_angle_deg=np.degrees(angle),
        rope_tension_kN=np.hypot(force, weight),
        swing_m=swing,
        radius_increase_m=outward,
        side_offset_m=side,
        new_radius_m=np.hypot(radius + outward, side),
        slew_offset_deg=np.degrees(np.arctan2(side, radius + outward)),
        along_kN=force * np.cos(direction),
        across_kN=force * np.sin(direction),
    )


def wind_speed_at_hang_angle_m_s(
    rope_angle_deg: ArrayLike,
    load_t: ArrayLike,
    *,
    area_m2: ArrayLike,
    force_coefficient: ArrayLike,
    air_density_kg_m3: float = AIR_DENSITY_CRANE_KG_M3,
) -> FloatArray:
    """Steady wind that blows the load out of plumb by a stated angle.

    Gives the wind limit where the maker or the site limits side pull or swing.

    Parameters:
      rope_angle_deg: array_like, shape (...), 0 to 20. [deg]
      load_t: array_like, > 0. [t]
      area_m2, force_coefficient: array_like, > 0
      air_density_kg_m3: float, > 0.
    Returns: ndarray, broadcast shape. [m/s]
    Source: Statics: q A c = m g tan(a).
    """
    angle = np.radians(require_between("rope_angle_deg", rope_angle_deg, 0.0, MAX_HANG_ANGLE_DEG))
    mass = require_positive("load_t", load_t)
    area = require_positive("area_m2", area_m2)
    coefficient = require_positive("force_coefficient", force_coefficient)
    pressure = mass * G_M_S2 * np.tan(angle) / (area * coefficient)
    return wind_speed_of_pressure_m_s(pressure, air_density_kg_m3=air_density_kg_m3)


@dataclass(frozen=True)
class PermissibleWind:
    """Permissible wind speed for a load, with the figures it came from.

    ``reduced`` tells where the load's sail area has lowered the chart's wind speed.
    """

    wind_area_m2: FloatArray
    area_per_mass_m2_t: FloatArray
    reference_area_per_mass_m2_t: FloatArray
    chart_wind_speed_m_s: FloatArray
    unlimited_wind_speed_m_s: FloatArray
    permissible_wind_speed_m_s: FloatArray
    reduced: NDArray[np.bool_]


def permissible_wind(
    chart_wind_speed_m_s: ArrayLike,
    load_t: ArrayLike,
    *,
    area_m2: ArrayLike,
    force_coefficient: ArrayLike,
    reference_area_per_mass_m2_t: ArrayLike = 1.2,
) -> PermissibleWind:
    """Greatest wind speed in which a load of this sail area may be lifted.

    v = v_chart sqrt(a_ref m / (A c)), and never above v_chart: at that speed the wind pushes
    the load no harder than the chart's own reference load at v_chart.

    Parameters:
      chart_wind_speed_m_s: array_like, shape (...), > 0. [m/s] Wind speed the rated capacity chart
        is valid for (its own gust or mean convention; the result follows the same convention).
      load_t: array_like, shape (...), > 0. [t] Mass of the load alone; leaving out rigging and
        block is on the safe side.
      area_m2: array_like, shape (...), > 0. [m2] Greatest projected area of load and rigging.
      force_coefficient: array_like, shape (...), > 0
      reference_area_per_mass_m2_t: array_like, > 0. [m2/t] *Wind* area (area times coefficient) per
        tonne in the chart: 1.2 by EN 13000 practice, which is 1.0 m2/t times 1.2. Take the chart's
        own where it states one.
    Returns: PermissibleWind. Arrays of the broadcast shape.
    Source: EN 13000 practice, FEM 5.016: square-root form from memory; the same physics is in a
      published site wind calculation for a vessel lift (seen).
    """
    chart = require_positive("chart_wind_speed_m_s", chart_wind_speed_m_s)
    mass = require_positive("load_t", load_t)
    area = require_positive("area_m2", area_m2)
    coefficient = require_positive("force_coefficient", force_coefficient)
    reference = require_positive("reference_area_per_mass_m2_t", reference_area_per_mass_m2_t)
    chart, mass, area, coefficient, reference = np.broadcast_arrays(
        chart, mass, area, coefficient, reference
    )
    wind_area = area * coefficient
    per_mass = wind_area / mass
    unlimited = chart * np.sqrt(reference / per_mass)
    return PermissibleWind(
        wind_area_m2=wind_area,
        area_per_mass_m2_t=per_mass,
        reference_area_per_mass_m2_t=np.array(reference),
        chart_wind_speed_m_s=np.array(chart),
        unlimited_wind_speed_m_s=unlimited,
        permissible_wind_speed_m_s=np.minimum(unlimited, chart),
        reduced=np.asarray(unlimited < chart),
    )
