"""Published wind tables: in-service classes, the Beaufort scale, shapes of loads.

Sources: ISO 4302 / EN 13001-2 in-service wind states and FEM 5.016 shapes: from memory. Beaufort
bands: seen alike in two public weather pages.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.errors import InputError, require_non_negative
from liftcalc.wind.pressure import AIR_DENSITY_CRANE_KG_M3

__all__ = [
    "BEAUFORT",
    "FORCE_COEFFICIENT_BANDS",
    "IN_SERVICE_WIND",
    "InServiceWind",
    "LoadShape",
    "WindClass",
    "beaufort_band_m_s",
    "beaufort_number",
    "force_coefficient_band",
    "in_service_wind",
]

WindClass = Literal["light", "normal", "heavy"]
LoadShape = Literal["flat plate or block", "cylinder", "sphere"]


@dataclass(frozen=True)
class InServiceWind:
    """One in-service wind class: pressure, and the speed that goes with it at 1.25 kg/m3."""

    name: WindClass
    pressure_kPa: float
    wind_speed_m_s: float
    printed_speed_m_s: str
    source: str = "ISO 4302 / EN 13001-2, in-service wind states (from memory)"


def _in_service(name: WindClass, pressure_Pa: float, printed: str) -> InServiceWind:
    speed = float(np.sqrt(2.0 * pressure_Pa / AIR_DENSITY_CRANE_KG_M3))
    return InServiceWind(name, pressure_Pa / 1000.0, speed, printed)


IN_SERVICE_WIND: dict[WindClass, InServiceWind] = {
    "light": _in_service("light", 125.0, "14"),
    "normal": _in_service("normal", 250.0, "20"),
    "heavy": _in_service("heavy", 500.0, "28 to 28.5"),
}

# Bands as printed, to 0.1 m/s: least and greatest 10 minute mean wind speed at 10 m height.
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
_BEAUFORT_TOPS = np.array([row[2] for row in BEAUFORT[:-1]])

# Plausible range of the force coefficient by shape (FEM 5.016, from memory).
FORCE_COEFFICIENT_BANDS: dict[LoadShape, tuple[float, float]] = {
    "flat plate or block": (1.1, 2.0),
    "cylinder": (0.6, 1.0),
    "sphere": (0.3, 0.4),
}


def in_service_wind(wind_class: WindClass) -> InServiceWind:
    """In-service wind class of ISO 4302 by name.

    Parameters:
      wind_class: {"light", "normal", "heavy"}
    Returns: InServiceWind. Pressure [kPa] and the speed [m/s] that gives it at 1.25 kg/m3.
    Raises: Name not in the table.
    Source: ISO 4302, EN 13001-2 (125, 250, 500 N/m2; from memory).
    """
    try:
        return IN_SERVICE_WIND[wind_class]
    except KeyError:
        raise InputError.of("wind_class", wind_class, ", ".join(IN_SERVICE_WIND)) from None


def beaufort_number(wind_speed_m_s: ArrayLike) -> NDArray[np.int64]:
    """Beaufort number of a 10 minute mean wind speed at 10 m height.

    Parameters:
      wind_speed_m_s: array_like, shape (...), >= 0. [m/s]
    Returns: ndarray of int, shape (...). 0 to 12. A speed between two printed bands (say 7.95)
      takes the stronger.
    Raises: Speed negative or not finite.
    Source: Beaufort scale, bands to 0.1 m/s (seen in two public weather pages).
    """
    speed = require_non_negative("wind_speed_m_s", wind_speed_m_s)
    return np.asarray(np.searchsorted(_BEAUFORT_TOPS, speed, side="left"), dtype=np.int64)


def beaufort_band_m_s(number: int) -> tuple[float, float]:
    """Least and greatest wind speed of a Beaufort number, as printed. [m/s]

    Parameters:
      number: int, 0 to 12
    Returns: tuple of float. The upper bound of 12 is infinite.
    Raises: Not a whole number from 0 to 12.
    """
    if isinstance(number, bool) or number not in range(13):
        raise InputError.of("number", number, "a whole number from 0 to 12")
    _, low, high = BEAUFORT[int(number)]
    return low, high


def force_coefficient_band(shape: LoadShape) -> tuple[float, float]:
    """Plausible least and greatest force coefficient of a load's shape.

    A plausibility band for the value on a sheet, not a design value: where nothing is known,
    use the greatest.

    Parameters:
      shape: {"flat plate or block", "cylinder", "sphere"}
    Returns: tuple of float
    Raises: Shape not in the table.
    Source: FEM 5.016, table of drag coefficients (from memory).
    """
    try:
        return FORCE_COEFFICIENT_BANDS[shape]
    except KeyError:
        raise InputError.of("shape", shape, ", ".join(FORCE_COEFFICIENT_BANDS)) from None
