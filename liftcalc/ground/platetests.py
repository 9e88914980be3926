"""Plate test turned into an allowable pressure.

A plate proves the ground to about twice its own width.

Sources: EN 1997-2:2007 Annex K.1 (read in the transcription of the package geotech-references
1.4.1). Terzaghi and Peck (scaling; from memory).
"""

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base import errors
from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_finite, require_positive
from liftcalc.ground.sitetests import SiteTestValue, Soil


def plate_undrained_strength(q_ult_plate_kPa: ArrayLike) -> SiteTestValue:
    """Undrained strength from a plate test at the surface: cu = q_ult/6. [kPa]

    EN 1997-2:2007 Annex K.1 (Nc = 6, no overburden).

    Parameters:
      q_ult_plate_kPa: > 0. Ultimate pressure of the plate. [kPa]
    """
    q = require_positive("q_ult_plate_kPa", q_ult_plate_kPa)
    return SiteTestValue(
        np.asarray(q / 6.0), "cu_kPa", "plate test", "EN 1997-2:2007 Annex K.1", "seen",
        ("Clay; plate on the ground at the level of the mat.",),
        ("A plate proves the ground to about twice its own width.",),
    )  # fmt: skip


def _soil(soil: str) -> None:
    if soil not in ("sand", "clay"):
        raise InputError.of("soil", soil, "sand, clay")


def plate_settlement(
    plate_settlement_mm: ArrayLike, plate_width_m: ArrayLike, *, B_m: ArrayLike, soil: Soil
) -> FloatArray:
    """Settlement of a mat under the same pressure as a plate. [mm]

    Sand: s (B (Bp + 0.3)/(Bp (B + 0.3)))^2; clay: s B/Bp. B >= Bp >= 0.3 m.

    Parameters:
      plate_settlement_mm: >= 0. Settlement of the plate. [mm]
      plate_width_m: 0.3 to 3. Width Bp of the plate. [m]
      B_m: at least the plate width. Width of the mat. [m]
    Returns: ndarray: settlement of the mat. [mm]
    Raises: A base narrower than the plate.
    Source: Terzaghi and Peck (from memory; with a 0.3 m plate it is the textbook (2B/(B+0.3))^2).
    """
    _soil(soil)
    s = errors.require_non_negative("plate_settlement_mm", plate_settlement_mm)
    p = require_between("plate_width_m", plate_width_m, 0.3, 3.0)
    B = require_positive("B_m", B_m)
    if not np.all(p <= B):
        raise InputError.of("B_m", float(np.min(B)), "at least the plate width")
    return np.asarray(s * (B / p if soil == "clay" else (B * (p + 0.3) / (p * (B + 0.3))) ** 2))


def plate_test_allowable(
    pressure_kPa: ArrayLike,
    settlement_mm: ArrayLike,
    *,
    plate_width_m: float,
    B_m: float,
    soil: Soil,
    factor: float = 3.0,
    settlement_limit_mm: float = 25.0,
) -> SiteTestValue:
    """Allowable pressure of a mat from the readings of one plate test. [kPa]

    Ultimate: the pressure at a settlement of a tenth of the plate width if the test went so far,
    else the highest pressure applied; never scaled up to the mat. The settlement limit of the mat
    is turned into one of the plate by :func:`plate_settlement` and the pressure read there; if the
    test did not reach it, the highest pressure is the limit. The lower of the two counts.

    Parameters:
      pressure_kPa, settlement_mm: shape (n,), n >= 4. Readings from zero upward, both increasing. [kPa, mm]
      plate_width_m, B_m: Plate 0.3 m or more; mat at least as wide. [m]
      factor: 2 to 5. On the ultimate pressure of the plate.
      settlement_limit_mm: Settlement accepted of the mat. [mm]
      soil: {"sand", "clay"}. Sets the scaling from plate to mat.
    Returns: SiteTestValue. Its warnings tell what the test does not show.
    Raises: Fewer than four readings, readings that do not increase, or a value outside its range.
    Source: Terzaghi and Peck (scaling, from memory); the tenth of the width is common practice, no published source.
    """
    p, s = require_finite("pressure_kPa", pressure_kPa), require_finite("s", settlement_mm)
    if p.ndim != 1 or p.shape != s.shape or len(p) < 4:
        raise InputError.of("pressure_kPa", p.shape, "four or more readings, one settlement each")
    if not (p[0] >= 0.0 and s[0] >= 0.0 and np.all(np.diff(p) > 0) and np.all(np.diff(s) > 0)):
        raise InputError.of("pressure_kPa, settlement_mm", "readings", "increasing, from 0 upward")
    F = float(require_between("factor", factor, 2.0, 5.0))
    limit = float(require_positive("settlement_limit_mm", settlement_limit_mm))
    scale = float(plate_settlement(1.0, plate_width_m, B_m=B_m, soil=soil))
    q_ult = float(np.interp(100.0 * plate_width_m, s, p))
    q_settle = float(np.interp(limit / scale, s, p)) if limit / scale >= s[0] else 0.0
    value = min(q_ult / F, q_settle)
    reached = s[-1] >= 100.0 * plate_width_m
    warnings = ["A plate proves the ground to about twice its own width; a weaker layer deeper "
                "is not seen.", "One test is one spot: test under every outrigger."]  # fmt: skip
    if not reached:
        warnings.append("The test did not reach failure: its highest pressure counts as ultimate.")
    if B_m > 2.0 * plate_width_m:
        warnings.append(f"The mat is {B_m / plate_width_m:.1f} times the plate width.")
    governing = "ultimate pressure over the factor" if q_ult / F <= q_settle else "settlement limit"
    return SiteTestValue(
        np.asarray(value), "allowable_pressure_kPa", f"plate test, {governing}", "Terzaghi and Peck", "memory",
        ("Mat on the ground tested, water as on the day.",), tuple(warnings),
    )  # fmt: skip
