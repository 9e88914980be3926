"""Conversions between SI and US customary units, used at the edges only.

Every factor is exact by definition (international yard and pound, standard gravity).

Sources: NIST Special Publication 811 (2008), Appendix B (factors from memory; the defining
values 0.3048 m, 0.453 592 37 kg and 9.806 65 m/s2 are exact by international agreement).
"""

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError

UnitSystem = Literal["metric", "us"]

G_M_S2 = 9.80665
"""Standard gravity [m/s2], exact."""

_FT = 0.3048
_LB_KG = 0.45359237
_LBF_N = _LB_KG * G_M_S2

QUANTITIES: dict[str, tuple[str, str, float]] = {
    "length_m": ("m", "ft", _FT),
    "extension_m": ("m", "ft", _FT),  # a setting that must not be undercut: shown rounded up
    "small_length_mm": ("mm", "in", 25.4),
    "area_m2": ("m²", "ft²", _FT**2),
    "mass_t": ("t", "lb", _LB_KG / 1000.0),
    "force_kN": ("kN", "kip", _LBF_N),
    "moment_kNm": ("kNm", "kip·ft", _LBF_N * _FT),
    "pressure_kPa": ("kPa", "psf", _LBF_N / _FT**2 / 1000.0),
    "unit_weight_kN_m3": ("kN/m³", "pcf", _LBF_N / _FT**3 / 1000.0),
    "speed_m_s": ("m/s", "mph", 0.44704),
    "stiffness_kN_mm": ("kN/mm", "kip/in", _LBF_N / 25.4),
    "angle_deg": ("°", "°", 1.0),
    "slew_deg": ("°", "°", 1.0),
    "ratio": ("", "", 1.0),
    "percent": ("%", "%", 1.0),
    "voltage_kV": ("kV", "kV", 1.0),
    "count": ("", "", 1.0),
}
"""Columns: quantity | metric | US | one US unit in metric units."""


def _row(quantity: str, system: UnitSystem) -> tuple[str, str, float]:
    if system not in ("metric", "us"):
        raise InputError.of("system", system, "metric, us")
    try:
        return QUANTITIES[quantity]
    except KeyError:
        raise InputError.of("quantity", quantity, ", ".join(QUANTITIES)) from None


def _factor(quantity: str, system: UnitSystem) -> float:
    us_unit = _row(quantity, system)[2]
    return us_unit if system == "us" else 1.0


def from_si(value: ArrayLike, quantity: str, system: UnitSystem) -> FloatArray:
    """Convert a value in the package's own unit to the display unit of *system*.

    Parameters:
      value: In the package's own unit; NaN stays NaN.
      quantity: A key of :data:`QUANTITIES`.
      system: {"metric", "us"}
    Raises: A quantity or system of another name.
    """
    return np.asarray(value, dtype=np.float64) / _factor(quantity, system)


def to_si(value: ArrayLike, quantity: str, system: UnitSystem) -> FloatArray:
    """Convert a *value* in the display unit of *system* to our own, as :func:`from_si` back.

    Raises: A quantity or system of another name.
    """
    return np.asarray(value, dtype=np.float64) * _factor(quantity, system)


def unit_label(quantity: str, system: UnitSystem) -> str:
    """Name of the display unit of *quantity* in *system*, both as in :func:`from_si`.

    Raises: A quantity or system of another name.
    """
    row = _row(quantity, system)
    return row[1] if system == "us" else row[0]
