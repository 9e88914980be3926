"""Where the crane stands, from two tapes; what hangs on it, from the forces of its outriggers.

Two circles about surveyed points meet in two places; the one nearer to the plan is taken. Its error is that of the
tapes over the sine of the angle at which they meet. A rigid machine at rest: the sum of the outriggers' forces is its
weight, and their moments place it, however they share it (statics, four forces measured leave nothing undetermined).
Errors of the forces are taken as independent and added as squares, twice the standard error is stated (GUM, JCGM 100,
clause 5.1.2 and annex G, from memory). Plane geometry; no other source.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_finite, require_non_negative, require_positive
from liftcalc.base.units import G_M_S2

LEAST_ANGLE_DEG = 20.0
"""Below it two tapes do not fix a place well enough: our own rule, no published source. [deg]"""
NEARER = 3.0
"""So many times nearer to the plan is the place taken than the other where the tapes meet: our own
rule, no published source."""


def fixed_place_m(
    points_m: ArrayLike, distance_m: ArrayLike, *, near_m: ArrayLike, error_m: float
) -> tuple[FloatArray, float]:
    """Place at two distances from two points, and how far it may be off.

    Parameters:
      points_m: shape (2, 2). Surveyed points, site frame. [m]
      distance_m: shape (2,), > 0. Level tape lengths. [m]
      near_m: shape (2,). Planned place: of two solutions the nearer is taken. [m]
      error_m: > 0. Of each tape, either way. [m]
    Returns: ndarray, shape (2,), and error. [m]
    Raises: Tapes that do not meet within their error, or meet at less than LEAST_ANGLE_DEG.
    Source: Intersection of two circles, plane geometry.
    """
    a, b = require_finite("points_m", points_m)
    r, s = require_positive("distance_m", distance_m)
    near, error = require_finite("near_m", near_m), float(require_positive("error_m", error_m))
    apart = float(np.hypot(*(b - a)))
    if apart <= 0 or not abs(r - s) - error <= apart <= r + s + error:
        allowed = f"two distances that meet; the points are {apart:.3f} m apart"
        raise InputError.of("tapes", (float(r), float(s)), allowed)
    along = (r**2 - s**2 + apart**2) / (2 * apart)
    aside = float(np.sqrt(max(r**2 - along**2, 0.0)))
    unit = (b - a) / apart
    both = [a + along * unit + side * aside * np.array([-unit[1], unit[0]]) for side in (1, -1)]
    place, other = sorted(both, key=lambda p: float(np.hypot(*(p - near))))
    sine = aside * apart / (r * s)
    if not sine >= np.sin(np.radians(LEAST_ANGLE_DEG)):
        at = float(np.degrees(np.arcsin(min(sine, 1.0))))
        allowed = f"tapes that meet at {LEAST_ANGLE_DEG:g} to {180 - LEAST_ANGLE_DEG:g} degrees"
        raise InputError.of("tapes", f"{at:.1f} degrees", allowed, "Tape from another point.")
    if not NEARER * np.hypot(*(place - near)) <= np.hypot(*(other - near)):
        allowed = f"one place {NEARER:g} times nearer to the plan than the other, {other.round(2)}"
        raise InputError.of("tapes", place.round(2).tolist(), allowed, "Tape from another point.")
    return np.asarray(place), float(np.sqrt(2.0) * error / sine)


@dataclass(frozen=True)
class MeasuredLoad:
    """What hangs on the hook, from four forces; each with twice its standard error."""

    load_t: float
    load_error_t: float
    x_m: float
    y_m: float
    """Where it hangs, machine frame; NaN where the forces show no load. [m]"""
    place_error_m: float


def load_from_forces(
    forces_kN: ArrayLike, without_kN: ArrayLike, *, legs_m: ArrayLike, error_percent: float, without_error_kN: ArrayLike
) -> MeasuredLoad:
    """Load on the hook and its place from the forces of four outriggers, with and without it.

    Parameters:
      forces_kN: shape (4,), >= 0. With the load. [kN]
      without_kN: shape (4,). Without it: measured, or of the machine as planned, below 0 where an
        outrigger would lift. [kN]
      legs_m: shape (4, 2). Outriggers as measured, machine frame. [m]
      error_percent: > 0. Accuracy of each force, of its reading, either way, taken as two standard errors. [%]
      without_error_kN: shape (4,), >= 0. The same of ``without_kN``. [kN]
    Returns: MeasuredLoad
    Source: Statics; law of propagation of uncertainty, GUM 5.1.2 (from memory).
    """
    force = require_non_negative("forces_kN", forces_kN)
    before = require_finite("without_kN", without_kN)
    legs = require_finite("legs_m", legs_m)
    error = np.hypot(force * float(require_positive("error_percent", error_percent)) / 100,
                     require_non_negative("without_error_kN", without_error_kN))  # fmt: skip
    more = force - before
    weight = float(more.sum())
    spread = float(np.sqrt((error**2).sum()))
    if not weight > spread:
        return MeasuredLoad(weight / G_M_S2, spread / G_M_S2, float("nan"), float("nan"), float("inf"))
    x, y = (more @ legs / weight).tolist()
    off = (legs - (x, y)) * error[:, None] / weight
    place = float(np.sqrt((off**2).sum(axis=0).max()))
    return MeasuredLoad(weight / G_M_S2, spread / G_M_S2, x, y, place)
