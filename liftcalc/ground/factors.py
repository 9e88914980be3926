"""Bearing capacity factors Nc, Nq, Ngamma by named method.

Sources: Nq, Nc: Prandtl 1920, Reissner 1924. Ngamma: Meyerhof 1963, Hansen 1970, Vesic 1973, EN
1997-1:2004 Annex D.4. The tests compare with UFC 3-220-20 (2025), GEC 6 (2002) and EN 1997-1 in the
transcription of the package geotech-references 1.4.1.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between

Method = Literal["meyerhof", "hansen", "vesic", "en1997"]

METHODS: tuple[Method, ...] = ("meyerhof", "hansen", "vesic", "en1997")
"""Names of the methods."""
METHOD_NAMES: dict[Method, str] = {
    "meyerhof": "Meyerhof 1963",
    "hansen": "Brinch Hansen 1970",
    "vesic": "Vesić 1973",
    "en1997": "EN 1997-1:2004 Annex D",
}
"""How each method is called on the page."""
PHI_MAX_DEG = 50.0
"""Largest friction angle accepted by any method here."""

PHI_ZERO_DEG = 1e-6
"""Below this the friction angle counts as 0 (the closed forms lose their digits)."""

NC_UNDRAINED = np.pi + 2.0
"""N_c of ground without friction."""


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


def check_phi_deg(phi_deg: ArrayLike) -> FloatArray:
    """Friction angle as an array, refused outside 0 to 50. [deg]"""
    return require_between("phi_deg", phi_deg, 0.0, PHI_MAX_DEG)


def bearing_factors(phi_deg: ArrayLike, method: Method = "en1997") -> BearingFactors:
    """Bearing capacity factors of a strip on level ground.

    Nq = exp(pi tan phi) tan^2(45 + phi/2); Nc = (Nq - 1) cot phi, at phi = 0: 2 + pi. Ngamma:
    Meyerhof (Nq - 1) tan 1.4 phi; Hansen 1.5 (Nq - 1) tan phi; Vesic 2 (Nq + 1) tan phi; EN 1997-1
    2 (Nq - 1) tan phi (rough base, delta >= phi/2).

    Parameters:
      phi_deg: Friction angle, 0 to 50. [deg]
      method: {"meyerhof", "hansen", "vesic", "en1997"}
    Returns: BearingFactors, each of shape (...). [-]
    Raises: Phi outside the range, not finite, or an unknown method.
    Source: Prandtl 1920; Reissner 1924; Meyerhof 1963; Hansen 1970; Vesic 1973; EN 1997-1:2004
      Annex D.4.
    """
    check_method(method)
    degrees = check_phi_deg(phi_deg)
    phi = np.radians(degrees)
    tan = np.tan(phi)
    level = degrees < PHI_ZERO_DEG
    safe_tan = np.where(level, 1.0, tan)
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
