"""Level: slope of the machine and packing under the legs.

Contents
--------
``grade_percent``, ``grade_deg``, ``resultant_slope_percent``, ``height_difference_mm``
``packing_height_m``   packing that brings all legs to the highest ground point

Sources: plane geometry. The usual limit of 1 % out of level is in the scope of ISO 4305 and in
SAE J765; many makers print less, so the limit is never built in.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import require_between, require_finite, require_positive

__all__ = [
    "grade_deg",
    "grade_percent",
    "height_difference_mm",
    "packing_height_m",
    "resultant_slope_percent",
]


def grade_deg(grade_percent: ArrayLike) -> FloatArray:
    """Slope as an angle: atan(grade / 100). [deg]

    Parameters:
      grade_percent: array_like. Rise over run, either sign. [%]
    """
    return np.degrees(np.arctan(require_finite("grade_percent", grade_percent) / 100.0))


def grade_percent(grade_deg: ArrayLike) -> FloatArray:
    """Slope in per cent: 100 tan(angle), for angles within +/- 45 degrees. [%]

    Parameters:
      grade_deg: array_like, -45 to 45. Slope from level. [deg]
    """
    return 100.0 * np.tan(np.radians(require_between("grade_deg", grade_deg, -45.0, 45.0)))


def resultant_slope_percent(slope_x_percent: ArrayLike, slope_y_percent: ArrayLike) -> FloatArray:
    """Steepest slope of a plane from its slopes along two square axes. [%]

    Parameters:
      slope_x_percent, slope_y_percent: array_like. Slopes along the two axes, either sign. [%]
    """
    return np.hypot(
        require_finite("slope_x_percent", slope_x_percent),
        require_finite("slope_y_percent", slope_y_percent),
    )


def height_difference_mm(leg_spread_m: ArrayLike, grade_percent: ArrayLike) -> FloatArray:
    """Height difference between two legs of a machine out of level.

    ``leg_spread_m`` (> 0) is measured along the tilted machine: h = spread * sin(atan(grade)). [mm]

    Parameters:
      leg_spread_m: array_like, > 0. Distance of the two legs. [m]
      grade_percent: array_like. Slope of the machine along the line of the two legs. [%]
    """
    spread = require_positive("leg_spread_m", leg_spread_m)
    angle = np.arctan(require_finite("grade_percent", grade_percent) / 100.0)
    return 1000.0 * spread * np.sin(angle)


def packing_height_m(ground_level_m: ArrayLike) -> FloatArray:
    """Packing under each leg, shape (..., 4), that brings all legs to the highest ground point.

    Equal jack stroke is assumed; a jack's stroke may replace packing one for one.

    Parameters:
      ground_level_m: array_like, shape (..., 4). Level of the ground under each leg. [m]
    Raises: A level that is not finite.
    """
    level = require_finite("ground_level_m", ground_level_m)
    packing: FloatArray = level.max(axis=-1, keepdims=True) - level
    return packing
