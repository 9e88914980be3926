"""Wind pressure, wind speed at a height, the force on a body, and the wind a load may be lifted in.

Sources: Fluid mechanics; statics; EN 13001-2, EN 13000 (also its practice for the load's sail
area), FEM 5.016 gust profile and ISO 4302 force, editions not seen (from memory).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import require_between, require_non_negative, require_positive

AIR_DENSITY_CRANE_KG_M3 = 1.25
"""Air density of the European crane standards: q = v^2/1.6 (second-hand, no edition). [kg/m3]"""
MAX_PROFILE_HEIGHT_M = 200.0
"""Height to which the wind profiles are used (own limit; the standard's was not seen). [m]"""


def dynamic_pressure_kPa(
    wind_speed_m_s: ArrayLike, *, air_density_kg_m3: float = AIR_DENSITY_CRANE_KG_M3
) -> FloatArray:
    """Dynamic pressure of the wind, q = rho v^2 / 2.

    Parameters:
      wind_speed_m_s: >= 0. [m/s]
      air_density_kg_m3: 1.25 (European crane standards, the default) or 1.225 (sea level, 15 degrees C).
    Source: Fluid mechanics; q = v^2/1.6 [N/m2] as in EN 13001-2 (second-hand, no edition).
    """
    speed = require_non_negative("wind_speed_m_s", wind_speed_m_s)
    density = require_positive("air_density_kg_m3", air_density_kg_m3)
    return np.asarray(0.5 * density * speed**2 / 1000.0)


def gust_factor(height_m: ArrayLike) -> FloatArray:
    """3 second gust at a height over the 10 minute mean at 10 m: (z/10)^0.14 + 0.4.

    Parameters:
      height_m: 0 to 200. [m] Height above the ground.
    Returns: ndarray, shape (...). 1.4 at 10 m. Below 10 m the value at 10 m is kept: the formula
      would credit shelter near the ground that a site seldom gives (own rule, on the safe side).
    Source: EN 13001-2, EN 13000, FEM 5.016: v(z) = [(z/10)^0.14 + 0.4] v_m. From memory.
    """
    height = require_between("height_m", height_m, 0.0, MAX_PROFILE_HEIGHT_M)
    return np.asarray((np.maximum(height, 10.0) / 10.0) ** 0.14 + 0.4)


def gust_wind_speed_m_s(mean_wind_speed_m_s: ArrayLike, height_m: ArrayLike) -> FloatArray:
    """3 second gust speed at a height from the 10 minute mean speed at 10 m.

    Parameters:
      mean_wind_speed_m_s: >= 0. [m/s]
      height_m: 0 to 200. [m]
    Source: As :func:`gust_factor` (from memory).
    """
    mean = require_non_negative("mean_wind_speed_m_s", mean_wind_speed_m_s)
    return np.asarray(mean * gust_factor(height_m))


def mean_wind_speed_of_gust_m_s(gust_wind_speed_m_s: ArrayLike, height_m: ArrayLike) -> FloatArray:
    """10 minute mean wind at 10 m that gives the stated gust at a height.

    The inverse of :func:`gust_wind_speed_m_s`: turns a limit at the boom head into what a
    forecast (mean at 10 m) may read.

    Parameters:
      gust_wind_speed_m_s: >= 0. [m/s]
      height_m: 0 to 200. [m]
    """
    gust = require_non_negative("gust_wind_speed_m_s", gust_wind_speed_m_s)
    return np.asarray(gust / gust_factor(height_m))


def wind_force_kN(pressure_kPa: ArrayLike, area_m2: ArrayLike, *, force_coefficient: ArrayLike) -> FloatArray:
    """Wind force on a body, F = q A c, along the wind.

    Parameters:
      pressure_kPa: >= 0. [kPa]
      area_m2: >= 0. [m2] Area projected on a plane square to the wind.
      force_coefficient: > 0
    Source: ISO 4302 / EN 13001-2: F = A q C_f (from memory).
    """
    pressure = require_non_negative("pressure_kPa", pressure_kPa)
    area = require_non_negative("area_m2", area_m2)
    coefficient = require_positive("force_coefficient", force_coefficient)
    return np.asarray(pressure * area * coefficient)


@dataclass(frozen=True)
class PermissibleWind:
    """Permissible wind speed for a load, and the wind area that it came from."""

    wind_area_m2: FloatArray
    permissible_wind_speed_m_s: FloatArray


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
      chart_wind_speed_m_s: > 0. [m/s] Wind speed the rated capacity chart is valid for (its own
        gust or mean convention; the result follows the same convention).
      load_t: > 0. [t] Mass of the load alone; leaving out rigging and block is on the safe side.
      area_m2: > 0. [m2] Greatest projected area of load and rigging.
      force_coefficient: > 0
      reference_area_per_mass_m2_t: > 0. [m2/t] *Wind* area (area times coefficient) per tonne in the chart: 1.2 by EN
        13000 practice, which is 1.0 m2/t times 1.2. Take the chart's own where it states one.
    Source: EN 13000 practice, FEM 5.016, editions not seen: square-root form from memory; statics of equal wind force.
    """
    chart = require_positive("chart_wind_speed_m_s", chart_wind_speed_m_s)
    mass = require_positive("load_t", load_t)
    area = require_positive("area_m2", area_m2)
    coefficient = require_positive("force_coefficient", force_coefficient)
    reference = require_positive("reference_area_per_mass_m2_t", reference_area_per_mass_m2_t)
    chart, mass, area, coefficient, reference = np.broadcast_arrays(chart, mass, area, coefficient, reference)
    wind_area = area * coefficient
    unlimited = chart * np.sqrt(reference / (wind_area / mass))
    return PermissibleWind(wind_area, np.minimum(unlimited, chart))
