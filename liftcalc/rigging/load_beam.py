"""The load as a beam between its lifting points.

Sources: Statics; simple beam with two overhangs, as in any textbook of strength of materials.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from liftcalc.base.errors import InputError, require_non_negative, require_positive


@dataclass(frozen=True)
class LoadBending:
    """Greatest moments, both >= 0: sagging between the supports, hogging over them. [kNm]"""

    sagging_kNm: float
    hogging_kNm: float


def load_bending(
    weight_kN: float, length_m: float, spacing_m: float, *, offset_m: float = 0.0,
    mass_along: Literal["uniform", "anywhere"] = "anywhere",
) -> LoadBending:  # fmt: skip
    """Moments in a load that hangs at two lines of lifting points.

    "uniform": a mass spread in a straight line along the load, w = W / L (1 + 12 e x / L^2), whose centre of gravity
    lies *e* off the middle. "anywhere": the worst of all spreads with it: all of the mass in the middle of the span, M
    = W s / 4, or at the two ends, M = (1/2 + e / L) W c, with c the overhang.

    Parameters:
      weight_kN: > 0, with whatever factor it is to carry. [kN]
      length_m: > 0. Of the load, between its ends. [m]
      spacing_m: 0 to *length_m*, the supports' distance, centred on the load; 0 is one point. [m]
      offset_m: Centre of gravity from the middle, either way. [m]
      mass_along: {"uniform", "anywhere"}
    Raises: Supports beyond the load; a centre of gravity beyond them, or with "uniform" more than
      a sixth of the length off the middle (no such spread has it).
    """
    weight = float(require_positive("weight_kN", weight_kN))
    length = float(require_positive("length_m", length_m))
    spacing, off = float(require_non_negative("spacing_m", spacing_m)), abs(float(offset_m))
    if not spacing <= length * (1 + 1e-9):
        raise InputError.of("spacing_m", spacing, f"up to length_m ({length:g})")
    if spacing and not off <= spacing / 2:
        raise InputError.of("offset_m", off, f"within the supports (up to {spacing / 2:g})")
    over = (length - spacing) / 2
    if mass_along == "anywhere":
        return LoadBending(weight * spacing / 4, (0.5 + off / length) * weight * over)
    if not off <= length / 6:
        raise InputError.of("offset_m", off, f"up to a sixth of length_m ({length / 6:g})")
    if spacing == 0:
        return LoadBending(0.0, weight * (length / 8 + off / 2))
    half, right = length / 2, weight * (off / spacing + 0.5)
    x = np.union1d(np.linspace(-half, half, 401), [-spacing / 2, spacing / 2])
    carried = (x + half) ** 2 / 2 + 12 * off / length**2 * (x**3 / 6 - x * half**2 / 2 - half**3 / 3)
    moment = (weight - right) * np.maximum(x + spacing / 2, 0.0) - weight / length * carried
    moment += right * np.maximum(x - spacing / 2, 0.0)
    return LoadBending(float(max(moment.max(), 0.0)), float(max(-moment.min(), 0.0)))
