"""The Beaufort scale.

Sources: the bands were seen alike in two public weather pages.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.errors import require_non_negative

BEAUFORT: tuple[tuple[int, float, float], ...] = (
    (0, 0.0, 0.2),
    (1, 0.3, 1.5),
    (2, 1.6, 3.3),
    (3, 3.4, 5.4),
    (4, 5.5, 7.9),
    (5, 8.0, 10.7),
    (6, 10.8, 13.8),
    (7, 13.9, 17.1),
    (8, 17.2, 20.7),
    (9, 20.8, 24.4),
    (10, 24.5, 28.4),
    (11, 28.5, 32.6),
    (12, 32.7, float("inf")),
)
"""The Beaufort scale: 10 minute mean wind speed at 10 m height, to 0.1 m/s. Columns: number | from
[m/s] | to [m/s]."""
_BEAUFORT_TOPS = np.array([row[2] for row in BEAUFORT[:-1]])


def beaufort_number(wind_speed_m_s: ArrayLike) -> NDArray[np.int64]:
    """Beaufort number of a 10 minute mean wind speed at 10 m height.

    Parameters:
      wind_speed_m_s: >= 0. [m/s]
    Returns: ndarray of int, shape (...). 0 to 12. A speed between two printed bands (say 7.95) takes the stronger.
    Source: Beaufort scale, bands to 0.1 m/s (seen in two public weather pages).
    """
    speed = require_non_negative("wind_speed_m_s", wind_speed_m_s)
    return np.asarray(np.searchsorted(_BEAUFORT_TOPS, speed, side="left"), dtype=np.int64)
