"""Heights on the hoist line: hook height needed, highest hook, headroom.

Sources: Vertical distances and plane geometry. Sign and frame as in :mod:`liftcalc.crane.boom`.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import require_finite, require_non_negative, require_positive


@dataclass(frozen=True)
class HookRoom:
    """Heights above the ground on the hoist line, at the hook's bearing point. All in m."""

    hook_needed_m: FloatArray
    """Hook height that lifts the load as high as asked."""
    hook_highest_m: FloatArray
    """Hook height at which hoisting must stop, before two-blocking."""
    headroom_m: FloatArray
    """Highest less needed; negative means that the lift cannot be made so high."""


def hook_room(
    sheave_z_m: ArrayLike,
    load_base_m: ArrayLike,
    *,
    load_height_m: ArrayLike,
    sling_height_m: ArrayLike,
    two_block_distance_m: ArrayLike,
) -> HookRoom:
    """Hook height needed, highest hook height and headroom.

    Parameters:
      sheave_z_m: > 0. Load sheave above the ground at the radius in question. [m]
      load_base_m: Underside of the load above the ground at its highest. [m]
      load_height_m: >= 0. Underside of the load to its sling points. [m]
      sling_height_m: >= 0. Sling points to the hook's bearing point, spreader included. [m]
      two_block_distance_m: > 0. Load sheave to the hook's bearing point where hoisting must stop:
        hook block height plus the distance kept by the hoist limit switch. [m]
    Returns: HookRoom. A negative headroom is returned, not refused: it is the answer.
    """
    sheave = require_positive("sheave_z_m", sheave_z_m)
    base = require_finite("load_base_m", load_base_m)
    load = require_non_negative("load_height_m", load_height_m)
    sling = require_non_negative("sling_height_m", sling_height_m)
    block = require_positive("two_block_distance_m", two_block_distance_m)
    needed, highest = base + load + sling, sheave - block
    return HookRoom(*np.broadcast_arrays(needed, highest, highest - needed))
