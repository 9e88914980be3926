"""How a rigid load hangs on its slings: attitude, elastic share, centre of gravity in doubt.

Frame and signs as in ``slings``: a frame fixed to the load, z up when it hangs as meant.

Sources: Geometry (intersection of spheres) and statics; least complementary energy for the elastic share.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_finite, require_positive

_SLACK_TOLERANCE_M = 1e-6


@dataclass(frozen=True)
class Hang:
    """Where the hook ends up over the load, and how the load tilts.

    ``hook_m`` is in the load's own frame. ``tilt_deg`` is the angle between the load's z and the
    plumb line; ``low_side_deg`` the direction in the load's x-y plane that goes down,
    anticlockwise from x (0 where there is no tilt). ``slack`` marks a leg that hangs loose.
    """

    hook_m: FloatArray
    slack: NDArray[np.bool_]
    tilt_deg: float
    low_side_deg: float


def _apex(lugs: FloatArray, lengths: FloatArray) -> FloatArray | None:
    """Upper meeting point of three spheres, or None if they do not meet."""
    a, b, c = lugs
    ab, ac = b - a, c - a
    span = np.linalg.norm(ab)
    ex = ab / span
    i = float(ex @ ac)
    across = ac - i * ex
    j = float(np.linalg.norm(across))
    if not j > 1e-9 * span:
        return None  # three lugs in one line fix no point
    ey = across / j
    ez = np.cross(ex, ey)
    if ez[2] < 0:
        ez = -ez
    r1, r2, r3 = lengths
    x = (r1**2 - r2**2 + span**2) / (2.0 * span)
    y = (r1**2 - r3**2 + i**2 + j**2) / (2.0 * j) - i / j * x
    z2 = r1**2 - x**2 - y**2
    if not z2 > 0.0:
        return None
    return np.asarray(a + x * ex + y * ey + np.sqrt(z2) * ez)


def _two_leg_hook(lugs: FloatArray, lengths: FloatArray, cg: FloatArray) -> FloatArray:
    """Hook in the plane of both lugs and the centre of gravity, on the far side of the latter."""
    a, b = lugs
    span = float(np.linalg.norm(b - a))
    ex = (b - a) / span
    x = (lengths[0] ** 2 - lengths[1] ** 2 + span**2) / (2.0 * span)
    h2 = lengths[0] ** 2 - x**2
    if not h2 > 0.0:
        meet = "long enough to meet above the lifting points"
        raise InputError.of("sling_length_m", tuple(map(float, lengths)), meet)
    below = (cg - a) - float((cg - a) @ ex) * ex
    depth = float(np.linalg.norm(below))
    if not depth > 1e-9 * span:
        off = "off the line through both lifting points, so that the load hangs"
        raise InputError.of("cg_m", tuple(map(float, cg)), off)
    return np.asarray(a + x * ex - np.sqrt(h2) * below / depth)


def hang_on_slings(lugs_m: ArrayLike, sling_length_m: ArrayLike, *, cg_m: ArrayLike) -> Hang:
    """How a rigid load hangs on 2 to 4 slings of stated length gathered in one hook.

    Slings that do not stretch. Two legs: the hook, both lugs and the centre of gravity lie in one
    plane. Three: the hook is the upper meeting point of three spheres. Four: each set of three is
    tried; it holds where the fourth sling is long enough to be slack and the three are in tension.
    Of several such states the one with the lowest centre of gravity is taken.

    Parameters:
      lugs_m: shape (n, 3), n = 2 to 4. [m]
      sling_length_m: shape (n,), > 0. [m] True length of each leg, hook to lug, shackles and links included.
      cg_m: shape (3,). [m]
    Returns: Hang. Give ``hook_m`` to ``bridle_tensions`` for the tensions. Of four legs one may
      hang slack; then the load hangs from the other three.
    Raises: Anything not finite or of another shape; slings that cannot meet; a load that would hang
      with a sling in compression.
    """
    lugs = require_finite("lugs_m", lugs_m)
    lengths = require_positive("sling_length_m", sling_length_m)
    cg = require_finite("cg_m", cg_m)
    if lugs.ndim != 2 or lugs.shape[1] != 3 or lugs.shape[0] not in (2, 3, 4):
        raise InputError.of("lugs_m", lugs.shape, "shape (n, 3) with n = 2 to 4")
    count = lugs.shape[0]
    if lengths.shape != (count,):
        raise InputError.of("sling_length_m", lengths.shape, f"shape ({count},), one per lug")
    if cg.shape != (3,):
        raise InputError.of("cg_m", cg.shape, "shape (3,)")
    best: FloatArray | None = None
    if count == 2:
        best = _two_leg_hook(lugs, lengths, cg)
    else:
        for chosen in combinations(range(count), 3):
            index = list(chosen)
            hook = _apex(lugs[index], lengths[index])
            if hook is None:
                continue
            reach = np.linalg.norm(lugs - hook, axis=1)
            if not np.all(reach <= lengths + _SLACK_TOLERANCE_M):
                continue
            plumb = (hook - cg) / np.linalg.norm(hook - cg)
            legs = (hook - lugs[index]) / lengths[index][:, None]
            share = np.linalg.solve(legs.T, plumb)
            if not np.all(share >= -1e-9):
                continue
            if best is None or np.linalg.norm(hook - cg) > np.linalg.norm(best - cg):
                best = hook
        if best is None:
            taut = "lengths on which the load hangs with three slings taut"
            remedy = "Change a sling's length or move a lifting point."
            raise InputError.of("sling_length_m", tuple(map(float, lengths)), taut, remedy)
    plumb = (best - cg) / np.linalg.norm(best - cg)
    if not plumb[2] > 0.0:
        raise InputError.of("cg_m", tuple(map(float, cg)), "below the hook in the load's frame")
    reach = np.linalg.norm(lugs - best, axis=1)
    tilt = float(np.degrees(np.arccos(np.clip(plumb[2], -1.0, 1.0))))
    # The load's frame leans so that `plumb` is up: the direction opposite to its x-y part sinks.
    level = float(np.hypot(plumb[0], plumb[1])) <= 1e-12
    low = 0.0 if level else float(np.degrees(np.arctan2(-plumb[1], -plumb[0])))
    return Hang(hook_m=best, slack=np.asarray(reach < lengths - _SLACK_TOLERANCE_M), tilt_deg=tilt, low_side_deg=low)
