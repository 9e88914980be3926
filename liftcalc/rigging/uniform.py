"""The uniform load method of the European sling standards, and when it may be used.

Sources: leg factors of EN 13414-1:2003 (seen), EN 818-4 and EN 1492 (second-hand). EN 818-6: the
four conditions for a load to count as symmetrical (first two seen as reprinted, the others from
memory).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_between, require_finite, require_positive
from liftcalc.rigging.tables import MAX_LEG_ANGLE_DEG

MAX_SHARE_OF_WLL = 0.8
"""Load over the marked limit, below which the load may count as symmetrical."""
MIN_ANGLE_DEG, MAX_SPREAD_DEG = 15.0, 15.0
"""Sling legs from the plumb line at least; their angles, and gaps in plan, alike within. [deg]"""


@dataclass(frozen=True)
class UniformLoad:
    """Whether a load counts as symmetrical, and the figure behind each condition."""

    share_of_wll: FloatArray
    least_angle_deg: FloatArray
    angle_spread_deg: FloatArray
    plan_gap_spread_deg: FloatArray
    applies: NDArray[np.bool_]


def uniform_load_applies(
    load_t: ArrayLike,
    wll_t: ArrayLike,
    *,
    angle_from_vertical_deg: ArrayLike,
    plan_angle_deg: ArrayLike,
) -> UniformLoad:
    """Whether the load on a sling of 2 to 4 legs counts as symmetrical by EN 818-6.

    Parameters:
      load_t, wll_t: > 0. [t] Load, and marked limit of the whole sling.
      angle_from_vertical_deg: shape (..., n), n = 2 to 4. [deg]
      plan_angle_deg: shape (..., n). [deg] Direction of each leg in plan, from the hook to the lug,
        any zero.
    Returns: UniformLoad. ``applies`` where the load is below 80 % of the limit, every leg at least
      15 degrees from the plumb line, the legs' angles within 15 degrees of each other, and for
      three and four legs the gaps between legs in plan that face each other within 15 degrees
      (three legs: all gaps; four legs: opposite gaps). Where it does not apply, use statics.
    Raises: Anything not finite or of another shape; angle outside 0 to 60.
    Source: EN 818-6:2000+A1:2008 (first two conditions seen as reprinted, the others from memory).
    """
    load = require_positive("load_t", load_t)
    wll = require_positive("wll_t", wll_t)
    angle = require_between(
        "angle_from_vertical_deg", angle_from_vertical_deg, 0.0, MAX_LEG_ANGLE_DEG
    )
    plan = require_finite("plan_angle_deg", plan_angle_deg)
    legs = angle.shape[-1] if angle.ndim else 0
    if legs not in (2, 3, 4) or plan.ndim == 0 or plan.shape[-1] != legs:
        raise InputError.of(
            "angle_from_vertical_deg", angle.shape, "2 to 4 sling legs, as many plan angles"
        )
    ordered = np.sort(np.mod(plan, 360.0), axis=-1)
    gaps = np.diff(ordered, axis=-1, append=ordered[..., :1] + 360.0)
    if legs == 4:
        facing = np.abs(gaps[..., :2] - gaps[..., 2:])
        spread = facing.max(axis=-1)
    else:
        spread = gaps.max(axis=-1) - gaps.min(axis=-1)
    share = load / wll
    least = angle.min(axis=-1)
    angle_spread = angle.max(axis=-1) - least
    ok = (share < MAX_SHARE_OF_WLL) & (least >= MIN_ANGLE_DEG) & (angle_spread <= MAX_SPREAD_DEG)
    if legs > 2:
        ok = ok & (spread <= MAX_SPREAD_DEG)
    return UniformLoad(
        share_of_wll=np.asarray(share), least_angle_deg=np.asarray(least),
        angle_spread_deg=np.asarray(angle_spread), plan_gap_spread_deg=np.asarray(spread),
        applies=np.asarray(ok),
    )  # fmt: skip
