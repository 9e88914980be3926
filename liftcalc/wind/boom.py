"""Wind on the boom and on the machine out of service.

Sources: ISO 4302, edition not seen: force on a member at an angle to the wind (from memory). Statics.
"""

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base import errors
from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_finite, require_positive
from liftcalc.wind.pressure import AIR_DENSITY_CRANE_KG_M3, MAX_PROFILE_HEIGHT_M, gust_factor

WindProfile = Literal["uniform", "gust"]

_GAUSS_U, _GAUSS_W = np.polynomial.legendre.leggauss(12)


@dataclass(frozen=True)
class BoomWind:
    """Wind on a boom: the horizontal force and where it acts.

    ``height_m`` is above the ground, ``radius_m`` from the slew axis. ``moment_kNm`` = force x
    height, about the ground, in the wind's direction.
    """

    area_m2: FloatArray
    force_kN: FloatArray
    height_m: FloatArray
    radius_m: FloatArray
    moment_kNm: FloatArray


def boom_wind(
    wind_speed_m_s: ArrayLike,
    boom_length_m: ArrayLike,
    *,
    boom_angle_deg: ArrayLike,
    foot_height_m: ArrayLike,
    foot_radius_m: ArrayLike = 0.0,
    foot_depth_m: ArrayLike,
    head_depth_m: ArrayLike,
    force_coefficient: ArrayLike,
    wind_towards_deg: ArrayLike = 0.0,
    profile: WindProfile = "uniform",
) -> BoomWind:
    """Wind force on a straight boom and the height and radius it acts at.

    A member at angle theta to the wind carries F = q A c sin^2(theta), taken in the wind's
    direction; cos(theta) = cos(boom angle) cos(wind direction). The height is integrated by
    12-point Gauss quadrature. The boom is a line: shelter, load and ropes are not in it.

    Parameters:
      wind_speed_m_s: >= 0. [m/s] ``profile="uniform"``: speed all along the boom (take the gust at the boom head);
        ``profile="gust"``: 10 minute mean at 10 m, raised at every height by :func:`gust_factor`.
      boom_length_m: > 0. [m]
      boom_angle_deg: -5 to 90 from the horizontal. [deg]
      foot_height_m, foot_radius_m: Boom foot above the ground (>= 0) and from the slew axis (outward positive). [m]
      foot_depth_m, head_depth_m: > 0. [m] Depth of the boom seen square to its axis at foot and head, linear between.
      force_coefficient: > 0
      wind_towards_deg: Direction the wind blows towards, from the boom's outward direction. [deg]
      profile: {"uniform", "gust"}. How the speed goes with height.
    Raises: The boom passes below the ground or above 200 m.
    Source: ISO 4302, wind at an angle to the axis of a member: F = A q C_f sin^2(theta). From memory.
    """
    # long: ten inputs checked one a line, then one integral over the stations of the boom
    speed = errors.require_non_negative("wind_speed_m_s", wind_speed_m_s)
    length = require_positive("boom_length_m", boom_length_m)
    angle = np.radians(require_between("boom_angle_deg", boom_angle_deg, -5.0, 90.0))
    foot_height = errors.require_non_negative("foot_height_m", foot_height_m)
    foot_radius = require_finite("foot_radius_m", foot_radius_m)
    foot_depth = require_positive("foot_depth_m", foot_depth_m)
    head_depth = require_positive("head_depth_m", head_depth_m)
    coefficient = require_positive("force_coefficient", force_coefficient)
    direction = np.radians(require_finite("wind_towards_deg", wind_towards_deg))
    if profile not in get_args(WindProfile):
        raise InputError.of("profile", profile, ", ".join(get_args(WindProfile)))
    require_between("boom head height_m", foot_height + length * np.sin(angle), 0.0, MAX_PROFILE_HEIGHT_M)

    given = (speed, length, angle, foot_height, foot_radius, foot_depth, head_depth, coefficient)
    shape = np.broadcast_shapes(*(a.shape for a in given), direction.shape)
    station = 0.5 * (_GAUSS_U + 1.0)  # 0 at the foot, 1 at the head
    weight = 0.5 * _GAUSS_W

    def wide(value: FloatArray) -> FloatArray:
        return value[..., np.newaxis]

    height = wide(foot_height) + station * wide(length * np.sin(angle))
    radius = wide(foot_radius) + station * wide(length * np.cos(angle))
    depth = wide(foot_depth) + station * wide(head_depth - foot_depth)
    factor = gust_factor(height) if profile == "gust" else np.ones_like(height)
    pressure = 0.5 * AIR_DENSITY_CRANE_KG_M3 * (wide(speed) * factor) ** 2 / 1000.0
    sin2 = np.clip(1.0 - (np.cos(angle) * np.cos(direction)) ** 2, 0.0, 1.0)
    strip = weight * pressure * depth * wide(length * coefficient * sin2)
    force = strip.sum(axis=-1)
    moment = (strip * height).sum(axis=-1)
    # With no force the resultant has no place: use the centre of area instead.
    area_strip = weight * depth * wide(length)
    area = area_strip.sum(axis=-1)
    still = force <= 0.0
    safe = np.where(still, 1.0, force)
    height_at = np.where(still, (area_strip * height).sum(axis=-1) / area, moment / safe)
    radius_at = np.where(still, (area_strip * radius).sum(axis=-1) / area, (strip * radius).sum(axis=-1) / safe)

    def out(value: ArrayLike) -> FloatArray:
        return np.array(np.broadcast_to(np.asarray(value, dtype=np.float64), shape))

    return BoomWind(
        area_m2=out(area), force_kN=out(force), height_m=out(height_at), radius_m=out(radius_at), moment_kNm=out(moment)
    )
