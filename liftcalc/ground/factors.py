"""Bearing capacity factors Nc, Nq, Ngamma by named method.

Sources: Nq, Nc: Prandtl 1920, Reissner 1924. Ngamma: Meyerhof 1963, Hansen 1970, Vesic 1973, EN
1997-1:2004 Annex D.4. Terzaghi's Ngamma: the 1943 table (rows at 0 to 20, 30, 35 and 45 degrees
read in public reprints; those at 25, 34, 40 and 48 from memory).
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between

Method = Literal["meyerhof", "hansen", "vesic", "en1997", "terzaghi"]

METHODS: tuple[Method, ...] = ("meyerhof", "hansen", "vesic", "en1997", "terzaghi")
PHI_MAX_DEG = 50.0
"""Largest friction angle accepted by any method here."""

PHI_ZERO_DEG = 1e-6
"""Below this the friction angle counts as 0 (the closed forms lose their digits)."""

NC_UNDRAINED = np.pi + 2.0
NC_TERZAGHI_UNDRAINED = 1.5 * np.pi + 1.0

_TERZAGHI_PHI_MAX_DEG = 45.0
# Terzaghi 1943. The row at 48 degrees only closes the bound on the last interval.
_TERZAGHI_PHI_DEG = np.array([0, 5, 10, 15, 20, 25, 30, 34, 35, 40, 45, 48], dtype=np.float64)
_TERZAGHI_NGAMMA = np.array([0, 0.5, 1.2, 2.5, 5.0, 9.7, 19.7, 36.0, 42.4, 100.4, 297.5, 780.1])


@dataclass(frozen=True)
class BearingFactors:
    """Nc, Nq and Ngamma, each of the shape of the friction angle given."""

    Nc: FloatArray
    Nq: FloatArray
    Ngamma: FloatArray


def check_method(method: str) -> None:
    """Refuse a method name that is not one of METHODS."""
    if method not in METHODS:
        raise InputError.of("method", method, ", ".join(METHODS))


def check_phi_deg(phi_deg: ArrayLike, method: str) -> FloatArray:
    """Friction angle as an array, refused outside the range of the method. [deg]"""
    high = _TERZAGHI_PHI_MAX_DEG if method == "terzaghi" else PHI_MAX_DEG
    return require_between("phi_deg", phi_deg, 0.0, high)


def _terzaghi_ngamma(phi_deg: FloatArray) -> FloatArray:
    """Lower bound of a convex curve through the table: the neighbouring chords, prolonged.

    Ngamma rises ever faster with phi, so between two rows the curve lies above the chord of
    the rows before, drawn on, and above the chord of the rows after, drawn back. A straight
    line between the two rows would lie above the curve, on the unsafe side.
    """
    x, y = _TERZAGHI_PHI_DEG, _TERZAGHI_NGAMMA
    slope = np.diff(y) / np.diff(x)
    i = np.clip(np.searchsorted(x, phi_deg, side="right") - 1, 0, len(x) - 3)
    before = np.where(i > 0, y[i] + slope[np.maximum(i - 1, 0)] * (phi_deg - x[i]), 0.0)
    after = y[i + 1] + slope[i + 1] * (phi_deg - x[i + 1])
    return np.asarray(np.maximum(np.maximum(before, after), y[i]), dtype=np.float64)


def bearing_factors(phi_deg: ArrayLike, method: Method = "en1997") -> BearingFactors:
    """Bearing capacity factors of a strip on level ground.

    Nq = exp(pi tan phi) tan^2(45 + phi/2); Nc = (Nq - 1) cot phi, at phi = 0: 2 + pi. Ngamma:
    Meyerhof (Nq - 1) tan 1.4 phi; Hansen 1.5 (Nq - 1) tan phi; Vesic 2 (Nq + 1) tan phi; EN 1997-1
    2 (Nq - 1) tan phi (rough base, delta >= phi/2). Terzaghi: Nq = exp(2 (3 pi/4 - phi/2) tan phi)
    / (2 cos^2(45 + phi/2)), Nc at phi = 0: 1 + 3 pi/2; Ngamma as tabulated in 1943, between the
    rows a lower bound for a convex curve, never a fit.

    Parameters:
      phi_deg: Friction angle, 0 to 50 (Terzaghi: 0 to 45, the range of the table). [deg]
      method: {"meyerhof", "hansen", "vesic", "en1997", "terzaghi"}
    Returns: BearingFactors, each of shape (...). [-]
    Raises: Phi outside the range, not finite, or an unknown method.
    Source: Prandtl 1920; Reissner 1924; Meyerhof 1963; Hansen 1970; Vesic 1973; EN 1997-1:2004
      Annex D.4; Terzaghi 1943.
    """
    check_method(method)
    degrees = check_phi_deg(phi_deg, method)
    phi = np.radians(degrees)
    tan = np.tan(phi)
    level = degrees < PHI_ZERO_DEG
    safe_tan = np.where(level, 1.0, tan)
    if method == "terzaghi":
        wedge = np.exp(2.0 * (0.75 * np.pi - phi / 2.0) * tan)
        Nq = wedge / (2.0 * np.cos(np.pi / 4.0 + phi / 2.0) ** 2)
        Nc = np.where(level, NC_TERZAGHI_UNDRAINED, (Nq - 1.0) / safe_tan)
        return BearingFactors(Nc, Nq, _terzaghi_ngamma(degrees))
    Nq = np.where(level, 1.0, np.exp(np.pi * tan) * np.tan(np.pi / 4.0 + phi / 2.0) ** 2)
    Nc = np.where(level, NC_UNDRAINED, (Nq - 1.0) / safe_tan)
    if method == "meyerhof":
        Ngamma = (Nq - 1.0) * np.tan(1.4 * phi)
    elif method == "hansen":
        Ngamma = 1.5 * (Nq - 1.0) * tan
    elif method == "vesic":
        Ngamma = 2.0 * (Nq + 1.0) * tan
    else:
        Ngamma = 2.0 * (Nq - 1.0) * tan
    return BearingFactors(np.asarray(Nc), np.asarray(Nq), np.asarray(Ngamma))
