"""The gross load on the hook, item by item.

Which gross load goes where
---------------------------
``static_gross_t`` is compared with the rated capacity chart: a mobile crane's chart already
allows for the dynamics of normal, smooth operation. ``dynamic_gross_t`` (static times the
hoist factor) is for what has no such allowance in its own rating: leg reactions and ground
pressure where the engineer asks for them, beams made for the job, the structure of the load.

Sources: US Army Corps of Engineers EM 385-1-1 (30 November 2014), critical lift form 16-3 (list of items, seen).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base import errors
from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_finite, require_non_negative, require_positive


@dataclass(frozen=True)
class GrossLoad:
    """What hangs from the boom head, item by item. [t]"""

    load_t: FloatArray
    contingency_t: FloatArray
    rigging_t: FloatArray
    hook_block_t: FloatArray
    rope_t: FloatArray
    other_t: FloatArray
    static_gross_t: FloatArray
    dynamic_factor: FloatArray
    dynamic_gross_t: FloatArray

    def items(self) -> tuple[tuple[str, FloatArray], ...]:
        """Name and mass [t] of every item, in the order of the sum."""
        return (
            ("load", self.load_t),
            ("contingency on the load", self.contingency_t),
            ("rigging", self.rigging_t),
            ("hook block", self.hook_block_t),
            ("hoist rope below the head", self.rope_t),
            ("other deductions", self.other_t),
        )


def with_contingency_t(load_t: ArrayLike, contingency_ratio: ArrayLike) -> FloatArray:
    """Mass of the load with the addition for what is not known of its weight.

    Parameters:
      load_t: > 0. [t]
      contingency_ratio: 0 to 1. Addition on the load alone.
    Source: m (1 + c); what c has to be is the owner's.
    """
    load = require_positive("load_t", load_t)
    return np.asarray(load * (1.0 + errors.require_between("contingency_ratio", contingency_ratio, 0, 1)))


def gross_load_t(
    load_t: ArrayLike,
    *,
    contingency_ratio: ArrayLike = 0.0,
    rigging_t: ArrayLike = 0.0,
    hook_block_t: ArrayLike = 0.0,
    rope_t: ArrayLike = 0.0,
    other_t: ArrayLike = 0.0,
    dynamic_factor: ArrayLike = 1.0,
) -> GrossLoad:
    """Build up the gross load on the hook from its items.

    Parameters:
      load_t: > 0. [t]
      contingency_ratio: 0 to 1. As :func:`with_contingency_t` takes it.
      rigging_t, hook_block_t, rope_t: >= 0. [t] Slings, shackles, beams; hook block; hoist rope below the boom head.
      other_t: >= 0. [t] What the chart's deductions ask for, as an effective mass at the hook
        (stowed jib, auxiliary head).
      dynamic_factor: >= 1. Hoist factor on the whole, for ``dynamic_gross_t`` only.
    Raises: A dynamic factor below 1.
    Source: US Army Corps of Engineers EM 385-1-1 (30 November 2014), critical lift form 16-3, part
      A (list of items, seen); the sum is plain.
    """
    load = require_positive("load_t", load_t)
    contingency = np.asarray(with_contingency_t(load, contingency_ratio) - load)
    rigging = require_non_negative("rigging_t", rigging_t)
    block = require_non_negative("hook_block_t", hook_block_t)
    rope = require_non_negative("rope_t", rope_t)
    other = require_non_negative("other_t", other_t)
    factor = require_finite("dynamic_factor", dynamic_factor)
    if not np.all(factor >= 1.0):
        raise InputError.of("dynamic_factor", float(np.min(factor)), "1 or greater")
    static = load + contingency + rigging + block + rope + other
    parts = np.broadcast_arrays(load, contingency, rigging, block, rope, other, static, factor)
    load, contingency, rigging, block, rope, other, static, factor = (np.array(p) for p in parts)
    return GrossLoad(
        load_t=load, contingency_t=contingency, rigging_t=rigging, hook_block_t=block, rope_t=rope,
        other_t=other, static_gross_t=static, dynamic_factor=factor,
        dynamic_gross_t=static * factor,
    )  # fmt: skip
