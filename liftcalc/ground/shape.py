"""Shape factors of a rectangular base, for vertical load.

Each belongs to its own method and they are never mixed. B is the shorter side.

Sources: UFC 3-220-20 (2025) Tables 5-5 to 5-7 (Meyerhof, Brinch Hansen) and EN 1997-1:2004 Annex
D.3, D.4, read in the transcription of the package geotech-references 1.4.1, with which the tests
compare: source and reference are one transcription. Vesic 1973/1975 (from memory).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_positive
from liftcalc.ground.factors import NC_UNDRAINED, BearingFactors, Method


@dataclass(frozen=True)
class ShapeFactors:
    """One factor for each of the three terms: cohesion, overburden, self-weight."""

    c: FloatArray
    q: FloatArray
    gamma: FloatArray


def side_ratio(B_m: ArrayLike, L_m: ArrayLike) -> FloatArray:
    """B/L of a base, refused unless B is the shorter side."""
    B, L = require_positive("B_m", B_m), require_positive("L_m", L_m)
    if not np.all(B <= L * (1.0 + 1e-9)):
        raise InputError.of("B_m", float(np.max(B)), "at most L_m", "B is the shorter side.")
    return np.minimum(B / L, 1.0)


def _pack(c: ArrayLike, q: ArrayLike, gamma: ArrayLike) -> ShapeFactors:
    return ShapeFactors(*(np.asarray(value, dtype=np.float64) for value in (c, q, gamma)))


def undrained_shape_factors(ratio: FloatArray, *, method: Method) -> ShapeFactors:
    """Shape factors of saturated clay (phi = 0) from B/L: on cohesion alone."""
    return _pack(1.0 + ratio / NC_UNDRAINED if method == "vesic" else 1.0 + 0.2 * ratio, 1.0, 1.0)


def drained_shape_factors(
    f: BearingFactors, phi_deg: FloatArray, ratio: FloatArray, *, method: Method
) -> ShapeFactors:
    """Shape factors of ground with friction from bearing factors, phi [deg] and B/L."""
    phi = np.radians(phi_deg)
    if method == "meyerhof":
        passive = np.tan(np.pi / 4.0 + phi / 2.0) ** 2
        s_q = np.where(phi_deg > 10.0, 1.0 + 0.1 * passive * ratio, 1.0)
        return _pack(1.0 + 0.2 * passive * ratio, s_q, s_q)
    if method == "hansen":
        s_c = 1.0 + f.Nq / f.Nc * np.cos(phi) * ratio
        return _pack(s_c, 1.0 + np.sin(phi) * ratio, 1.0 - 0.4 * ratio)
    if method == "vesic":
        s_c = 1.0 + f.Nq / f.Nc * ratio
        return _pack(s_c, 1.0 + np.tan(phi) * ratio, 1.0 - 0.4 * ratio)
    s_q = 1.0 + np.sin(phi) * ratio
    spread = np.where(f.Nq > 1.0, f.Nq - 1.0, 1.0)
    s_c = np.where(f.Nq > 1.0, (s_q * f.Nq - 1.0) / spread, 1.0 + ratio / NC_UNDRAINED)
    return _pack(s_c, s_q, 1.0 - 0.3 * ratio)
