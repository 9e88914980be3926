"""Shackles: rating under side load.

Sources: ASME B30.26 (100, 70, 50 % at 0, 45, 90 degrees; second-hand, alike in three public tables,
none of which states an edition), with the bands 0-5, 6-45, 46-90 of WAC 296-155-33905 (seen). Bolt
or screw pins only: second-hand, two public tables.
"""

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_finite, require_positive
from liftcalc.rigging.tables import ASME_B30_26, Edition

PinKind = Literal["screw pin", "bolt", "round pin"]

SIDE_LOAD_BANDS: tuple[tuple[float, float], ...] = ((5.0, 1.0), (45.0, 0.7), (90.0, 0.5))
"""Shackle pulled sideways. Columns: angle up to [deg] | share of the working load limit."""


def side_load_ratio(side_load_angle_deg: ArrayLike, *, pin: PinKind = "bolt") -> FloatArray:
    """Share of a shackle's working load limit left when pulled sideways.

    Parameters:
      side_load_angle_deg: 0 to 90. [deg] Angle of the pull from the shackle's own plane of bow and
        pin.
      pin: {"screw pin", "bolt", "round pin"}
    Returns: ndarray, shape (...). 1.0 to 5 degrees, 0.7 to 45, 0.5 to 90: the next worse band, not
      interpolated.
    Raises: Angle outside 0 to 90; a round pin pulled sideways by more than 5 degrees.
    Source: ASME B30.26 (second-hand, no edition); bands of WAC 296-155-33905 (seen).
    """
    if pin not in get_args(PinKind):
        raise InputError.of("pin", pin, ", ".join(get_args(PinKind)))
    angle = require_between("side_load_angle_deg", side_load_angle_deg, 0.0, 90.0)
    if pin == "round pin" and not np.all(angle <= SIDE_LOAD_BANDS[0][0]):
        raise InputError.of(
            "side_load_angle_deg", float(angle.max()), "0 to 5 for a round pin",
            "Use a screw-pin or bolt-type shackle.",
        )  # fmt: skip
    (in_line, full), (oblique, reduced), (_, least) = SIDE_LOAD_BANDS
    return np.asarray(
        np.select([angle <= in_line, angle <= oblique], [full, reduced], default=least)
    )


def _unit(field: str, value: ArrayLike) -> FloatArray:
    vector = require_finite(field, value)
    if vector.ndim < 1 or vector.shape[-1] != 3:
        raise InputError.of(field, vector.shape, "shape (..., 3)")
    length = np.linalg.norm(vector, axis=-1, keepdims=True)
    if not np.all(length > 0.0):
        raise InputError.of(field, "a vector of no length", "a direction")
    return np.asarray(vector / length)


def side_load_angle_deg(direction: ArrayLike, plate_normal: ArrayLike) -> FloatArray:
    """Angle of a leg's pull out of the plane of its lifting plate (and of the shackle's bow).

    Parameters:
      direction: shape (..., 3). Along the leg, as ``Bridle.direction``; any length.
      plate_normal: shape (..., 3). Square to the plate, along the pin, in the same frame; any
        length.
    Returns: ndarray, broadcast shape without the last axis. [deg] 0 in the plane of the plate, 90
      along the pin.
    Raises: Anything not finite, of another shape or of no length.
    Source: Geometry.
    """
    along = np.abs((_unit("direction", direction) * _unit("plate_normal", plate_normal)).sum(-1))
    return np.asarray(np.degrees(np.arcsin(np.clip(along, 0.0, 1.0))))


@dataclass(frozen=True)
class ShackleRating:
    """Rating of a shackle in use, with the edition to print beside it."""

    side_load_ratio: FloatArray
    rated_t: FloatArray
    edition: Edition


def shackle_rating(
    wll_t: ArrayLike, *, side_load_angle_deg: ArrayLike = 0.0, pin: PinKind = "bolt"
) -> ShackleRating:
    """Rated load of a shackle under side load.

    Parameters:
      wll_t: > 0. [t]
      side_load_angle_deg: 0 to 90. [deg]
      pin: {"screw pin", "bolt", "round pin"}
    Returns: ShackleRating. Compare ``rated_t`` with the resultant force on the shackle.
    Raises: As :func:`side_load_ratio`.
    Source: ASME B30.26 (second-hand, no edition).
    """
    wll = require_positive("wll_t", wll_t)
    ratio = side_load_ratio(side_load_angle_deg, pin=pin)
    return ShackleRating(ratio, np.asarray(wll * ratio), ASME_B30_26)
