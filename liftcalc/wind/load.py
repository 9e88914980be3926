"""Wind on the hanging load: how far it swings, and the wind it may be lifted in.

Sources: Statics; EN 13000 practice for the load's sail area, edition not seen (from memory).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import require_positive


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
      reference_area_per_mass_m2_t: > 0. [m2/t] *Wind* area (area times coefficient) per tonne in
        the chart: 1.2 by EN 13000 practice, which is 1.0 m2/t times 1.2. Take the chart's own where
        it states one.
    Source: EN 13000 practice, FEM 5.016, editions not seen: square-root form from memory; statics
      of equal wind force.
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
    unlimited = chart * np.sqrt(reference / (wind_area / mass))
    return PermissibleWind(wind_area, np.minimum(unlimited, chart))
