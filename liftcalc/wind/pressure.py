"""Wind pressure, wind speed at a height, and the force on a body.

Sources: Fluid mechanics; EN 13001-2, EN 13000, FEM 5.016 gust profile and ISO 4302 force, editions
not seen (from memory).
"""

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import require_between, require_non_negative, require_positive

AIR_DENSITY_CRANE_KG_M3 = 1.25
"""Air density of the European crane standards: q = v^2/1.6 (second-hand, no edition).
[kg/m3]"""
MAX_PROFILE_HEIGHT_M = 200.0
"""Height to which the wind profiles are used (own limit; the standard's was not seen). [m]"""


def dynamic_pressure_kPa(
    wind_speed_m_s: ArrayLike, *, air_density_kg_m3: float = AIR_DENSITY_CRANE_KG_M3
) -> FloatArray:
    """Dynamic pressure of the wind, q = rho v^2 / 2.

    Parameters:
      wind_speed_m_s: >= 0. [m/s]
      air_density_kg_m3: 1.25 (European crane standards, the default) or 1.225 (sea level, 15
        degrees C).
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


def wind_force_kN(
    pressure_kPa: ArrayLike, area_m2: ArrayLike, *, force_coefficient: ArrayLike
) -> FloatArray:
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
