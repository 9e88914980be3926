"""Plan coordinates in the site frame and in a frame that stands and is turned in it.

The frame is a machine's (+x forward, +y left) or a local grid's; its heading is that of +x, anticlockwise from east.

Sources: rotation in the plane.
"""

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray


def to_site(xy_m: ArrayLike, *, easting_m: float, northing_m: float, heading_deg: float) -> FloatArray:
    """Points of the frame, shape (..., 2), in site coordinates. [m]"""
    # written out: a matrix product of this size only wakes the threads of the linear algebra
    c, s = np.cos(np.radians(heading_deg)), np.sin(np.radians(heading_deg))
    points = np.asarray(xy_m, dtype=np.float64)
    x, y = points[..., 0], points[..., 1]
    return np.stack([easting_m + c * x - s * y, northing_m + s * x + c * y], axis=-1)


def to_frame(xy_m: ArrayLike, *, easting_m: float, northing_m: float, heading_deg: float) -> FloatArray:
    """Site points, shape (..., 2 or more), in the frame, shape (..., 2). [m]"""
    c, s = np.cos(np.radians(heading_deg)), np.sin(np.radians(heading_deg))
    points = np.asarray(xy_m, dtype=np.float64)
    east, north = points[..., 0] - easting_m, points[..., 1] - northing_m
    return np.stack([c * east + s * north, c * north - s * east], axis=-1)
