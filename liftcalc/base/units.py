"""Conversions between SI and US customary units, used at the edges only.

Every factor is exact by definition (international yard and pound, standard gravity); the table is
``units.csv`` beside this module. An ``extension_m`` is a setting that must not be undercut.

Sources: NIST Special Publication 811 (2008), Appendix B (factors from memory; the defining
values 0.3048 m, 0.453 592 37 kg and 9.806 65 m/s2 are exact by international agreement).
"""

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError
from liftcalc.base.files import rows_beside

UnitSystem = Literal["metric", "us"]

G_M_S2 = 9.80665
"""Standard gravity [m/s2], exact."""

quantity_rows = rows_beside(__file__)
"""Each quantity with its units, the US unit in metric units, and the decimals shown."""

QUANTITIES: dict[str, tuple[str, str, float]] = {
    row["quantity"]: (row["metric"], row["us"], float(row["us_unit_in_metric"])) for row in quantity_rows
}
"""Columns: quantity | metric | US | one US unit in metric units."""


_ZERO_US = {"temperature_C": 32.0}
"""What a US scale shows where the metric one shows 0."""


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
    zero = _ZERO_US.get(quantity, 0.0) if system == "us" else 0.0
    return np.asarray(value, dtype=np.float64) / _factor(quantity, system) + zero


def to_si(value: ArrayLike, quantity: str, system: UnitSystem) -> FloatArray:
    """Convert a *value* in the display unit of *system* to our own, as :func:`from_si` back.

    Raises: A quantity or system of another name.
    """
    zero = _ZERO_US.get(quantity, 0.0) if system == "us" else 0.0
    return (np.asarray(value, dtype=np.float64) - zero) * _factor(quantity, system)


def unit_label(quantity: str, system: UnitSystem) -> str:
    """Name of the display unit of *quantity* in *system*, both as in :func:`from_si`.

    Raises: A quantity or system of another name.
    """
    row = _row(quantity, system)
    return row[1] if system == "us" else row[0]
