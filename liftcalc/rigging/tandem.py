"""Two machines on one load: who carries what, and how far it can go wrong.

How a load hangs from two boom heads, and upending, are in ``upending``.

Model
-----
Plane of the two lifting points (lugs) and the centre of gravity: x from machine 1 to machine 2, z up. The load is
rigid; each machine holds one lug. From the centre of gravity, level load, lug 1 is at (-a, h1) and lug 2 at (b, h2).
Tilt is positive with lug 2 up. A hoist line is out of plumb by a positive angle when its upper end leans toward +x.

A share is the vertical force of one line as a mass [t]: what the machine carries besides its
own hook block and rigging. A line out of plumb pulls harder than its share and pulls the boom
sideways or outward: rated capacities are for plumb lines.

Sources: statics. Queensland Mobile Crane Code of Practice 2006, 14.3.2 (margins).
"""

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base import errors
from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_finite, require_positive
from liftcalc.base.units import G_M_S2


def require_pair(field: str, value: ArrayLike) -> FloatArray:
    """A finite array with one entry for each of two machines on its last axis."""
    array = require_finite(field, value)
    if array.shape[-1:] != (2,):
        raise InputError.of(field, array.shape, "shape (..., 2): machine 1, machine 2")
    return array


@dataclass(frozen=True)
class TandemShare:
    """Shares of two machines (last axis: machine 1, machine 2) and how they were reached."""

    share_t: FloatArray
    """Vertical share of each, shape (..., 2). [t]"""
    line_force_kN: FloatArray
    """Pull in each hoist line (rope bundle), shape (..., 2). [kN]"""
    side_pull_kN: FloatArray
    """Horizontal force on each boom head toward the other line, shape (...); 0 if plumb. [kN]"""
    out_of_plumb_deg: FloatArray
    """Angle of each line, upper end toward +x positive, shape (..., 2). [deg]"""
    tilt_deg: FloatArray
    """Tilt of the load, lug 2 up positive, shape (...). [deg]"""


def _tilt_rad(along: FloatArray, rise: FloatArray, level_difference_m: ArrayLike) -> FloatArray:
    """Tilt at which lug 2 is higher by the stated difference than with the load level."""
    delta = require_finite("level_difference_m", level_difference_m)
    length = np.hypot(along, rise)
    if not np.all(np.abs(rise + delta) < length):
        most = float(np.ravel(delta)[np.argmax(np.abs(np.ravel(delta)))])
        less = "less than the distance between the lifting points"
        raise InputError.of("level_difference_m", most, less)
    return np.asarray(np.arcsin((rise + delta) / length) - np.arcsin(rise / length))


def tandem_share(
    load_t: ArrayLike,
    cg_to_lug_m: ArrayLike,
    *,
    lug_above_cg_m: ArrayLike = (0.0, 0.0),
    level_difference_m: ArrayLike = 0.0,
    out_of_plumb_deg: ArrayLike = 0.0,
) -> TandemShare:
    """Share of each of two machines on one rigid load.

    Moments about the centre of gravity, with H = V1 tan(out of plumb) in both lines: V1 = W x2 /
    (x2 - x1 + tan(psi1) (z1 - z2)), V2 = W - V1, x and z of the tilted lugs. Lugs above the centre
    of gravity: the higher one takes more; below: the lower one. With one lug for each machine, both
    below the centre of gravity, nothing here keeps the load from rolling over about the line
    through them: that must be prevented by other means.

    Parameters:
      load_t: Load with the rigging that belongs to it, > 0. [t]
      cg_to_lug_m: shape (..., 2). Distance along the level load from the centre of gravity to lug 1
        and to lug 2, toward the outside positive; their sum > 0. [m]
      lug_above_cg_m: shape (..., 2). Height of lug 1 and lug 2 above the centre of gravity, load level. [m]
      level_difference_m: How much lug 2 is higher than it would be with the load level: the
        difference in hook height from the level position, lines plumb. [m]
      out_of_plumb_deg: Angle of hoist line 1, upper end toward machine 2 positive, within 30. [deg]
    Raises: A load that would turn over or hang on one line alone (a share not > 0).
    """
    w = require_positive("load_t", load_t)
    to_lug = require_pair("cg_to_lug_m", cg_to_lug_m)
    height = require_pair("lug_above_cg_m", lug_above_cg_m)
    along = require_positive("sum of cg_to_lug_m", to_lug.sum(axis=-1))
    lean = np.radians(require_between("out_of_plumb_deg", out_of_plumb_deg, -30.0, 30.0))
    tilt = _tilt_rad(along, height[..., 1] - height[..., 0], level_difference_m)
    c, s = np.cos(tilt), np.sin(tilt)
    sign = np.array([-1.0, 1.0])
    x = sign * to_lug * c[..., None] - height * s[..., None]
    z = sign * to_lug * s[..., None] + height * c[..., None]
    reach = x[..., 1] - x[..., 0]
    v1 = w * x[..., 1] / (reach + np.tan(lean) * (z[..., 0] - z[..., 1]))
    v2 = w - v1
    if not np.all((v1 > 0) & (v2 > 0) & (reach > 0)):
        raise InputError.of(
            "share of a machine", float(np.min([v1.min(), v2.min()])), "greater than 0",
            "The centre of gravity is not between the lifting points as the load hangs.",
        )  # fmt: skip
    pull = v1 * G_M_S2 * np.tan(lean)
    share = np.stack(np.broadcast_arrays(v1, v2), axis=-1)
    horizontal = np.stack(np.broadcast_arrays(pull, -pull, v1), axis=-1)[..., :2]
    return TandemShare(
        share_t=share,
        line_force_kN=np.hypot(share * G_M_S2, horizontal),
        side_pull_kN=np.abs(horizontal[..., 0]),
        out_of_plumb_deg=np.degrees(np.arctan2(horizontal, share * G_M_S2)),
        tilt_deg=np.degrees(tilt),
    )


@dataclass(frozen=True)
class ShareEnvelope:
    """Greatest and least share for the stated errors; last axis: machine 1, machine 2."""

    nominal: TandemShare
    """Without errors, level and plumb."""
    max_share_t: FloatArray
    min_share_t: FloatArray
    max_line_force_kN: FloatArray
    max_side_pull_kN: FloatArray
    """Greatest horizontal force on a boom head, shape (...). [kN]"""
    max_out_of_plumb_deg: FloatArray
    """Greatest angle of each line, either way: the lighter machine's line leans the more. [deg]"""
    growth_ratio: FloatArray
    """Greatest share over nominal share."""


def tandem_share_envelope(
    load_t: ArrayLike,
    cg_to_lug_m: ArrayLike,
    *,
    lug_above_cg_m: ArrayLike = (0.0, 0.0),
    level_error_m: ArrayLike = 0.0,
    out_of_plumb_error_deg: ArrayLike = 0.0,
    cg_error_m: ArrayLike = 0.0,
    load_error_ratio: ArrayLike = 0.0,
) -> ShareEnvelope:
    """Envelope of the shares when level, plumb, centre of gravity and weight are uncertain.

    Share, line force, side pull and the tangent of each line's angle (side pull over share: the
    pull is the same in both lines) are each the size of something linear, divided by something
    linear and positive, in the tangent of the tilt, in the tangent of the out-of-plumb angle and in
    the position of the centre of gravity, with the other two fixed. Such a ratio has no maximum
    inside an interval, and the share no minimum either: the extremes lie in the corners of the
    errors, which are all computed.

    Parameters:
      load_t, cg_to_lug_m, lug_above_cg_m: As :func:`tandem_share`.
      level_error_m: Greatest difference in hook height from the level position, either way, >= 0. [m]
      out_of_plumb_error_deg: Greatest angle of line 1 from plumb, either way, 0 to 30. [deg]
      cg_error_m: Greatest error in the position of the centre of gravity along the load, >= 0. [m]
      load_error_ratio: Greatest excess of the weight over the stated one, as a share of it, >= 0;
        the least shares are for the stated weight less as much, < 1.
    Raises: As :func:`tandem_share`, in any corner of the errors.
    """
    w = require_positive("load_t", load_t)
    to_lug = require_pair("cg_to_lug_m", cg_to_lug_m)
    level = errors.require_non_negative("level_error_m", level_error_m)
    plumb = require_between("out_of_plumb_error_deg", out_of_plumb_error_deg, 0.0, 30.0)
    shift = errors.require_non_negative("cg_error_m", cg_error_m)
    extra = require_between("load_error_ratio", load_error_ratio, 0.0, 0.999999)
    nominal = tandem_share(w, to_lug, lug_above_cg_m=lug_above_cg_m)
    corners = [
        tandem_share(
            w, to_lug + e * shift[..., None] * np.array([1.0, -1.0]), lug_above_cg_m=lug_above_cg_m,
            level_difference_m=d * level, out_of_plumb_deg=p * plumb,
        )
        for d, p, e in product((-1.0, 1.0), repeat=3)
    ]  # fmt: skip
    more, less = (1.0 + extra), (1.0 - extra)
    share = np.stack([c.share_t for c in corners])
    top = share.max(axis=0) * more[..., None]
    return ShareEnvelope(
        nominal=nominal, max_share_t=top, min_share_t=share.min(axis=0) * less[..., None],
        max_line_force_kN=np.max([c.line_force_kN for c in corners], axis=0) * more[..., None],
        max_side_pull_kN=np.asarray(np.max([c.side_pull_kN for c in corners], axis=0) * more),
        max_out_of_plumb_deg=np.max([np.abs(c.out_of_plumb_deg) for c in corners], axis=0),
        growth_ratio=top / nominal.share_t,
    )  # fmt: skip


def several_crane_capacity_t(calculated_share_t: ArrayLike, number_of_cranes: int) -> FloatArray:
    """Rated capacity that each of several machines needs for its calculated share. [t]

    Parameters:
      calculated_share_t: Share of one machine, > 0. [t]
      number_of_cranes: Machines on the load, at least 2.
    Raises: Fewer than two cranes, or not a whole number.
    Source: Queensland Mobile Crane Code of Practice 2006, 14.3.2: 20 % above the share for two, 33
      % for three, 50 % for four or more.
    """
    share = require_positive("calculated_share_t", calculated_share_t)
    if isinstance(number_of_cranes, bool) or not isinstance(number_of_cranes, int | np.integer):
        raise InputError.of("number_of_cranes", number_of_cranes, "a whole number, at least 2")
    if number_of_cranes < 2:
        raise InputError.of("number_of_cranes", number_of_cranes, "at least 2")
    return {2: 1.20, 3: 1.33}.get(int(number_of_cranes), 1.50) * share
