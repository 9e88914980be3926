"""Level: slope of the machine and packing under the legs.

Sources: plane geometry. The usual limit of 1 % out of level is in the scope of ISO 4305 and in
SAE J765 (second-hand, no editions); many manufacturers print less, so the limit is never built in.
"""

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import require_finite


def resultant_slope_percent(slope_x_percent: ArrayLike, slope_y_percent: ArrayLike) -> FloatArray:
    """Steepest slope of a plane from its slopes along two square axes. [%]

    Parameters:
      slope_x_percent, slope_y_percent: Slopes along the two axes, either sign. [%]
    """
    return np.hypot(
        require_finite("slope_x_percent", slope_x_percent),
        require_finite("slope_y_percent", slope_y_percent),
    )


def packing_height_m(ground_level_m: ArrayLike) -> FloatArray:
    """Packing under each leg, shape (..., 4), that brings all legs to the highest ground point.

    Equal jack stroke is assumed; a jack's stroke may replace packing one for one.

    Parameters:
      ground_level_m: shape (..., 4). Level of the ground under each leg. [m]
    Raises: A level that is not finite.
    """
    level = require_finite("ground_level_m", ground_level_m)
    packing: FloatArray = level.max(axis=-1, keepdims=True) - level
    return packing
