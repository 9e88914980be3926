"""The rigging as a whole: heights, and its weakest item.

Sources: Geometry and plain ratios.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_finite, require_non_negative, require_positive
from liftcalc.base.units import G_M_S2


@dataclass(frozen=True)
class RiggingHeight:
    """Heights above the ground, and the room left below the limit of the hook."""

    lug_m: FloatArray
    beam_m: FloatArray
    hook_m: FloatArray
    headroom_m: FloatArray


def rigging_height(
    load_underside_m: ArrayLike,
    *,
    lug_above_underside_m: ArrayLike,
    bottom_sling_height_m: ArrayLike,
    top_sling_height_m: ArrayLike = 0.0,
    hook_limit_m: ArrayLike,
) -> RiggingHeight:
    """Hook height a lift needs, and the headroom left below the highest hook position.

    Parameters:
      load_underside_m: [m] Greatest height of the load's underside above the ground that the lift needs.
      lug_above_underside_m, bottom_sling_height_m, top_sling_height_m: >= 0, stacked above it: lug
        on the load, slings and the slings above a beam. [m]
      hook_limit_m: [m] Highest the hook may go: boom head less hook block and the two-blocking margin.
    Returns: RiggingHeight. ``headroom_m`` below 0 means the lift cannot be made so; it is reported, not raised.
    """
    underside = require_finite("load_underside_m", load_underside_m)
    lug = underside + require_non_negative("lug_above_underside_m", lug_above_underside_m)
    beam = lug + require_non_negative("bottom_sling_height_m", bottom_sling_height_m)
    hook = beam + require_non_negative("top_sling_height_m", top_sling_height_m)
    limit = require_finite("hook_limit_m", hook_limit_m)
    return RiggingHeight(*np.broadcast_arrays(lug, beam, hook, limit - hook))


@dataclass(frozen=True)
class RiggingItem:
    """One item of rigging: the force in it, its rating, and where the rating comes from.

    ``force_kN`` may be an array over the steps of a path; ``rated_t`` is the rating in this
    use (hitch, bend, side load already in it). ``basis`` names document, edition and owner.
    """

    name: str
    force_kN: ArrayLike
    rated_t: ArrayLike
    basis: str


@dataclass(frozen=True)
class WeakestItem:
    """Utilisation of every item, shape (items, ...), and what the worst of all is."""

    names: tuple[str, ...]
    utilisation: FloatArray
    name: str
    basis: str
    greatest_utilisation: float


def weakest_item(items: Sequence[RiggingItem]) -> WeakestItem:
    """Utilisation of each rigging item, and the weakest one.

    Parameters:
      items: sequence of RiggingItem. At least one; names all different.
    Returns: WeakestItem. Utilisation = force / (rated mass x g); 1.0 is the limit.
    Raises: No item, two of one name, a force below 0 or a rating not above 0; lists every item that is wrong.
    Source: Plain ratio; each item's ``basis``.
    """
    if not items:
        raise InputError.of("items", "an empty list", "at least one rigging item")
    names = tuple(item.name for item in items)
    if len(set(names)) != len(names):
        raise InputError.of("items", names, "a different name for each item")
    problems = []
    ratios: list[FloatArray] = []
    for item in items:
        try:
            force = require_non_negative(f"{item.name}: force_kN", item.force_kN)
            rated = require_positive(f"{item.name}: rated_t", item.rated_t)
        except InputError as error:
            problems += list(error.problems)
            continue
        ratios.append(np.asarray(force / (rated * G_M_S2)))
    if problems:
        raise InputError(problems)
    utilisation = np.stack(np.broadcast_arrays(*ratios))
    greatest = utilisation.reshape(len(names), -1).max(axis=1)
    index = int(np.argmax(greatest))
    return WeakestItem(
        names=names, utilisation=utilisation, name=names[index], basis=items[index].basis,
        greatest_utilisation=float(greatest[index]),
    )  # fmt: skip
