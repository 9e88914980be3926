"""Factors of the hitch (choke, basket and bend), and of a shackle under side load.

Two ways to check a sling, never to be mixed: the **uniform load method** compares the whole
load with leg factor times one-leg limit (:mod:`liftcalc.rigging.tables`); **statics** compares the
tension of each leg with the rating of that leg in its hitch (``leg_rating``).

Sources: EN 13414-1:2003 factors (seen); EN 818-4, EN 1492 factors (second-hand, no edition); ASME
B30.9 choke bands, edition not seen (from memory); bend efficiency as in US DOE handbook material,
edition not seen (from memory). Shackles: ASME B30.26 (100, 70, 50 % at 0, 45, 90 degrees;
second-hand, alike in three public tables, none of which states an edition), with the bands 0-5,
6-45, 46-90 of WAC 296-155-33905 (seen). Bolt or screw pins only: second-hand, two public tables.
"""

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_finite, require_positive
from liftcalc.rigging import tables
from liftcalc.rigging.tables import ASME_B30_26, EN_1492, EN_13414_1, MAX_LEG_ANGLE_DEG, Edition

Hitch = Literal["straight", "choke", "basket"]
TextileMode = Literal["straight", "choke", "parallel basket", "basket", "two sling legs", "three or four sling legs"]

CHOKE_FACTOR_EN = 0.8
"""One leg in choke hitch over one leg straight (EN 13414-1:2003: seen; EN 818-4, EN 1492: second-hand)."""
LEAST_EYE_RATIO = 2.0
"""Least D/d of a soft eye for the table's limit (EN 13414-1:2003 Table 4, note 1: seen)."""
PARALLEL_TOLERANCE_DEG = 6.0
"""Parts within this of the plumb line count as parallel (EN 1492-1, from memory). [deg]"""
CHOKE_BANDS: tuple[tuple[float, float], ...] = ((120.0, 1.00), (90.0, 0.87), (60.0, 0.74), (30.0, 0.62), (0.0, 0.49))
"""Wire rope slings in choke hitch. Columns: angle of choke from [deg] | share of the choker rating.
The first band begins above 120 degrees, each other at its own angle."""
TEXTILE_MODES: dict[TextileMode, tuple[float, float]] = {
    "straight": (1.0, 1.0),
    "choke": (CHOKE_FACTOR_EN, CHOKE_FACTOR_EN),
    "parallel basket": (2.0, 2.0),
    "basket": (1.4, 1.0),
    "two sling legs": (1.4, 1.0),
    "three or four sling legs": (2.1, 1.5),
}
"""Textile slings. Columns: mode | M to 45 degrees from the vertical | M above 45 to 60 degrees. The
first three only within 6 degrees of the vertical."""


def textile_mode_factor(mode: TextileMode, *, angle_from_vertical_deg: ArrayLike = 0.0) -> FloatArray:
    """Mode factor M of a textile sling: limit in this mode over the limit straight.

    Parameters:
      mode: {"straight", "choke", "parallel basket", "basket", "two sling legs", "three or four sling legs"}
      angle_from_vertical_deg: 0 to 60. [deg] Greatest angle of any part; at most 6 for "straight",
        "choke" and "parallel basket".
    Raises: Unknown mode; angle outside its range.
    Source: EN 1492-1 and EN 1492-2, M = 1, 0.8, 2, 1.4/1, 1.4/1, 2.1/1.5 (second-hand, no edition
      stated); 6 degrees as tolerance of plumb: from memory.
    """
    limit = MAX_LEG_ANGLE_DEG
    if mode in ("straight", "choke", "parallel basket"):
        limit = PARALLEL_TOLERANCE_DEG
    angle = require_between("angle_from_vertical_deg", angle_from_vertical_deg, 0.0, limit)
    if mode not in TEXTILE_MODES:
        raise InputError.of("mode", mode, ", ".join(TEXTILE_MODES))
    return np.asarray(np.where(angle <= 45.0, *TEXTILE_MODES[mode]))


def choke_angle_ratio(choke_angle_deg: ArrayLike) -> FloatArray:
    """Share of the choker rating left at an angle of choke.

    Parameters:
      choke_angle_deg: 0 to 180. [deg] Angle between the sling above the choke and the part that
        runs round the load; a freely drawn choke lies at 120 to 135 degrees.
    Returns: ndarray, shape (...). Over 120: 1.00; 90 to 120: 0.87; 60 to below 90: 0.74; 30 to
      below 60: 0.62; below 30: 0.49.
    Source: ASME B30.9, wire rope slings, edition not seen (from memory).
    """
    angle = require_between("choke_angle_deg", choke_angle_deg, 0.0, 180.0)
    (above, full), *bands, (_, least) = CHOKE_BANDS
    within = [angle > above, *(angle >= low for low, _ in bands)]
    shares = [full, *(ratio for _, ratio in bands)]
    return np.asarray(np.select(within, shares, default=least))


def basket_factor(angle_from_vertical_deg: ArrayLike) -> FloatArray:
    """Limit of a basket hitch over that of one part, by statics: 2 cos(angle_from_vertical_deg).

    Symmetrical basket that cannot slip, each of both parts 0 to 60 degrees; the bend round the load
    is :func:`bend_efficiency_ratio`.
    """
    angle = require_between("angle_from_vertical_deg", angle_from_vertical_deg, 0.0, MAX_LEG_ANGLE_DEG)
    return np.asarray(2.0 * np.cos(np.radians(angle)))


def bend_efficiency_ratio(bend_ratio: ArrayLike) -> FloatArray:
    """Strength left in a wire rope bent round a pin or edge, by D/d.

    Parameters:
      bend_ratio: >= 1. Diameter of the bend over diameter of the rope, D/d.
    Returns: ndarray, shape (...). 1 - 0.5/sqrt(D/d) up to 6, 1 - 0.76/(D/d)^0.73 above.
    Raises: D/d below 1 (no value is published) or not finite.
    Source: US DOE rigging handbook material, as in DOE-STD-1090 (from memory). It gives the usual
      handbook steps 50, 65, 75, 86, 92, 95 % for D/d of 1, 2, 4, 10, 20 to 25, 40; a step table
      (second-hand, no edition) gives 88 % at D/d 15, where the formula has 89.5 %.
    """
    ratio = require_finite("bend_ratio", bend_ratio)
    if not np.all(ratio >= 1.0):
        raise InputError.of("bend_ratio", float(ratio.min()), "1 or greater", "Use a larger pin.")
    return np.asarray(np.where(ratio <= 6.0, 1.0 - 0.5 / np.sqrt(ratio), 1.0 - 0.76 / ratio**0.73))


@dataclass(frozen=True)
class EyeBearing:
    """Bend of a soft eye over its pin or hook, against the least the rope's table assumes."""

    bend_ratio: FloatArray
    efficiency_ratio: FloatArray
    within: NDArray[np.bool_]
    edition: Edition


def soft_eye_bearing(pin_diameter_mm: ArrayLike, rope_diameter_mm: ArrayLike) -> EyeBearing:
    """Whether a soft (thimble-free) wire rope eye bears on a pin that is thick enough.

    Parameters:
      pin_diameter_mm: > 0. [mm] Pin, hook or lug the eye bears on.
      rope_diameter_mm: > 0, at most the pin diameter. [mm]
    Returns: EyeBearing. ``within`` where D/d is 2 or more, so that the limit of the table holds unreduced; else
      ``efficiency_ratio`` is the published bend efficiency over that at D/d 2, at most 1.
    Raises: A pin thinner than the rope.
    Source: EN 13414-1:2003, Table 4, note 1 (seen): bearing points of at least twice the rope diameter. Reduction below
      it: bend efficiency as :func:`bend_efficiency_ratio` (from memory), taken relative to D/d 2, own reading.
    """
    pin = require_positive("pin_diameter_mm", pin_diameter_mm)
    rope = require_positive("rope_diameter_mm", rope_diameter_mm)
    ratio = np.asarray(pin / rope)
    relative = bend_efficiency_ratio(ratio) / bend_efficiency_ratio(LEAST_EYE_RATIO)
    return EyeBearing(
        bend_ratio=ratio, efficiency_ratio=np.asarray(np.minimum(relative, 1.0)),
        within=np.asarray(ratio >= LEAST_EYE_RATIO), edition=EN_13414_1,
    )  # fmt: skip


@dataclass(frozen=True)
class LegRating:
    """Rated tension of one sling leg in its hitch, with the editions of its factors."""

    rated_t: FloatArray
    editions: tuple[Edition, ...]


def leg_rating(
    wll_one_leg_t: ArrayLike,
    *,
    hitch: Hitch,
    choke_angle_deg: ArrayLike | None = None,
    part_angle_from_vertical_deg: ArrayLike | None = None,
    bend_ratio: ArrayLike | None = None,
) -> LegRating:
    """Rated tension of one sling leg, in the line of the leg, in its hitch.

    Parameters:
      wll_one_leg_t: > 0. [t] Working load limit of one leg, straight and plumb.
      choke_angle_deg: required for "choke". [deg]
      part_angle_from_vertical_deg: required for "basket". [deg] Angle of each part of the basket
        from the line of the leg.
      bend_ratio: array_like or None. D/d of the tightest bend of a wire rope (pin, hook or load).
        None: no bend that reduces the rating (thimble or soft eye within the sling's own rating).
    Returns: LegRating. ``rated_t`` = one-leg limit x hitch factor x choke ratio x bend efficiency;
      compare it with the tension of the leg.
    Raises: An angle the hitch needs is missing, or given for a hitch that has none.
    Source: As the factors: EN 13414-1:2003 choke 0.8 (seen), ASME B30.9 choke bands (from memory), bend efficiency
      (from memory). Published basket ratings of mechanically spliced rope slings assume D/d of 25 or more.
    """
    wll = require_positive("wll_one_leg_t", wll_one_leg_t)
    if hitch not in get_args(Hitch):
        raise InputError.of("hitch", hitch, ", ".join(get_args(Hitch)))
    for name, angle, own in (
        ("choke_angle_deg", choke_angle_deg, "choke"),
        ("part_angle_from_vertical_deg", part_angle_from_vertical_deg, "basket"),
    ):
        if (angle is not None) != (hitch == own):
            raise InputError.of(name, angle, f'a value for a "{own}" hitch, none for another')
    editions: list[Edition] = []
    factor: FloatArray = np.ones(())
    choke: FloatArray = np.ones(())
    if choke_angle_deg is not None:
        factor = np.asarray(CHOKE_FACTOR_EN)
        choke = choke_angle_ratio(choke_angle_deg)
        editions += [EN_13414_1, EN_1492, tables.ASME_B30_9_CHOKE]
    if part_angle_from_vertical_deg is not None:
        factor = basket_factor(part_angle_from_vertical_deg)
    bend: FloatArray = np.ones(())
    if bend_ratio is not None:
        bend = bend_efficiency_ratio(bend_ratio)
        editions.append(tables.BEND_EFFICIENCY)
    return LegRating(np.asarray(wll * factor * choke * bend), tuple(editions))


PinKind = Literal["screw pin", "bolt", "round pin"]

SIDE_LOAD_BANDS: tuple[tuple[float, float], ...] = ((5.0, 1.0), (45.0, 0.7), (90.0, 0.5))
"""Shackle pulled sideways. Columns: angle up to [deg] | share of the working load limit."""


def side_load_ratio(side_load_angle_deg: ArrayLike, *, pin: PinKind = "bolt") -> FloatArray:
    """Share of a shackle's working load limit left when pulled sideways, by ``pin``.

    side_load_angle_deg is that of the pull from the shackle's own plane of bow and pin: 1.0 to 5
    degrees, 0.7 to 45, 0.5 to 90: the next worse band, not interpolated.

    Raises: Angle outside 0 to 90; a round pin pulled sideways by more than 5 degrees.
    Source: ASME B30.26 (second-hand, no edition); bands of WAC 296-155-33905 (seen).
    """
    if pin not in get_args(PinKind):
        raise InputError.of("pin", pin, ", ".join(get_args(PinKind)))
    angle = require_between("side_load_angle_deg", side_load_angle_deg, 0.0, 90.0)
    if pin == "round pin" and not np.all(angle <= SIDE_LOAD_BANDS[0][0]):
        raise InputError.of(
            "side_load_angle_deg", float(angle.max()), "0 to 5 for a round pin", "Use a screw-pin or bolt-type shackle."
        )
    (in_line, full), (oblique, reduced), (_, least) = SIDE_LOAD_BANDS
    return np.asarray(np.select([angle <= in_line, angle <= oblique], [full, reduced], default=least))


def _unit(field: str, value: ArrayLike) -> FloatArray:
    vector = require_finite(field, value)
    if vector.ndim < 1 or vector.shape[-1] != 3:
        raise InputError.of(field, vector.shape, "shape (..., 3)")
    length = np.linalg.norm(vector, axis=-1, keepdims=True)
    if not np.all(length > 0.0):
        raise InputError.of(field, "a vector of no length", "a direction")
    return np.asarray(vector / length)


def side_load_angle_deg(direction: ArrayLike, plate_normal: ArrayLike) -> FloatArray:
    """Angle of a leg's pull out of the plane of its lifting plate (and of the shackle's bow). [deg]

    *direction* lies along the leg, plate_normal square to the plate, along the pin, in the same
    frame, both (..., 3) of any length: 0 in the plane of the plate, 90 along the pin.

    Raises: Anything not finite, of another shape or of no length.
    """
    along = np.abs((_unit("direction", direction) * _unit("plate_normal", plate_normal)).sum(-1))
    return np.asarray(np.degrees(np.arcsin(np.clip(along, 0.0, 1.0))))


@dataclass(frozen=True)
class ShackleRating:
    """Rating of a shackle in use, with the edition to print beside it."""

    side_load_ratio: FloatArray
    rated_t: FloatArray
    edition: Edition


def shackle_rating(wll_t: ArrayLike, *, side_load_angle_deg: ArrayLike = 0.0, pin: PinKind = "bolt") -> ShackleRating:
    """Rated load of a shackle under side load.

    Parameters:
      wll_t: > 0. [t]
      side_load_angle_deg: 0 to 90. [deg]
    Returns: ShackleRating. Compare ``rated_t`` with the resultant force on the shackle.
    Raises: As :func:`side_load_ratio`.
    Source: ASME B30.26 (second-hand, no edition).
    """
    wll = require_positive("wll_t", wll_t)
    ratio = side_load_ratio(side_load_angle_deg, pin=pin)
    return ShackleRating(ratio, np.asarray(wll * ratio), ASME_B30_26)
