"""Where a capacity holds only on condition, and what the manufacturer has confirmed of it.

A chart carried over to a base that it was not made for is an argument of this package. It stands
on condition until a confirmation of the manufacturer covers the step; then the lesser of what the
chart gives and what was confirmed is taken. Book-keeping; no published source.
"""

import dataclasses

import numpy as np

from liftcalc.base.arrays import BoolArray
from liftcalc.base.checks import MAKER_CONFIRMS
from liftcalc.base.text import amount
from liftcalc.base.words import slew_words
from liftcalc.crane.chart import slew_in_sector
from liftcalc.crane.sectors import CONFIRMED, SMALLER, CapacityBySlew
from liftcalc.facts.confirmation import Confirmation
from liftcalc.lift.path import LoadPath
from liftcalc.lift.setup import Setup

NOT_SEEN = (
    "No row sees the force limits of the machine's own outrigger monitoring, nor pins, overlap and "
    "local strength of beams and carrier."
)
"""What carrying a chart over leaves unseen, and these rows with it."""
CONDITION_REMEDY = (
    "Have the manufacturer confirm this layout in writing and state it in the job's "
    f"confirmations, or set the outriggers to a base of the charts. {NOT_SEEN}"
)


def condition_of(capacity: CapacityBySlew, path: LoadPath) -> tuple[str, str]:
    """Condition on which the capacity along the path holds, and where; two empty texts if none."""
    on = capacity.on_condition
    if not on.any():
        return "", ""
    slew, radius = path.slew_deg[on], capacity.radius_m[on]
    start, end = (amount(s, "slew_deg") for s in (slew[0], slew[-1]))
    near, far = (amount(r, "length_m") for r in (radius.min(), radius.max()))
    return MAKER_CONFIRMS, (
        f"; on condition on {max(100 * on.mean(), 1):.0f} % of the path, from slew {start} "
        f"to {end}, radius {near} to {far}"
    )


def _covers(one: Confirmation, found: CapacityBySlew) -> BoolArray:
    """Where slew and radius lie within what was confirmed, in the shape of the capacity."""
    slew = slew_in_sector(found.slew_deg, one.sector_deg)
    radius = found.radius_m <= one.radius_m + 1e-9
    return slew & radius if found.layout == "pairs" else slew[:, None] & radius


def _of_this_layout(one: Confirmation, setup: Setup) -> bool:
    """Whether the outriggers stand exactly as confirmed, not farther out."""
    stated, planned = one.leg_extension_m.as_tuple(), setup.lift.legs.as_tuple()
    return bool(np.allclose(stated, planned, rtol=0.0, atol=1e-9))


def structure_confirmed(setup: Setup, found: CapacityBySlew) -> BoolArray:
    """Where the manufacturer's word covers outriggers and carrier too: the gross load within what
    was confirmed of exactly this layout. Farther out, force and moment of a beam may be more.
    """
    covered = np.zeros(found.source.shape, dtype=np.bool_)
    for one in setup.confirmations:
        if _of_this_layout(one, setup) and setup.gross_t <= one.capacity_t * (1 + 1e-9):
            covered |= _covers(one, found)
    return np.asarray(covered & (found.source == CONFIRMED))


def confirmed(setup: Setup, found: CapacityBySlew) -> CapacityBySlew:
    """The capacity with what the manufacturer has confirmed; it never rises.

    A contained base's chart is held to a confirmation of this very layout too: the manufacturer
    would know why it is less.
    """
    if not setup.confirmations:
        return found
    limit, own = np.zeros(found.source.shape), np.zeros(found.source.shape)
    for one in setup.confirmations:
        stated = np.where(_covers(one, found), one.capacity_t, 0.0)
        limit = np.maximum(limit, stated)
        if _of_this_layout(one, setup):
            own = np.maximum(own, stated)
    resolved = found.on_condition & (limit > 0)
    limit = np.where(resolved, limit, np.where((found.source == SMALLER) & (own > 0), own, np.inf))
    source = np.where(resolved | (found.capacity_t > limit), CONFIRMED, found.source)
    return dataclasses.replace(found, capacity_t=np.minimum(found.capacity_t, limit),
                               source=source.astype(found.source.dtype))  # fmt: skip


def _words(one: Confirmation) -> str:
    return f"confirmed by {one.who}, {one.document}, {one.date}"


def confirmation_words(setup: Setup, found: CapacityBySlew, step: int) -> str:
    """Who confirmed the capacity of a step, for the reference of a row; empty if nobody."""
    if found.source[step] != CONFIRMED:
        return ""
    covering = [c for c in setup.confirmations if _covers(c, found)[step]]
    return f"; {_words(max(covering, key=lambda c: c.capacity_t))}"


def _sector_words(sector_deg: tuple[float, float]) -> str:
    start, end = sector_deg
    if end - start >= 360:
        return "every slew"
    return (
        f"slew {amount(start, 'slew_deg', 'up')} ({slew_words(start)}) anticlockwise to "
        f"{amount(end, 'slew_deg', 'down')} ({slew_words(end)})"
    )


def confirmation_rows(setup: Setup) -> list[tuple[str, str, str]]:
    """Each confirmation of the lift: its name, what it covers, and where it comes from."""
    return [
        (f"Manufacturer's confirmation {one.id}",
         f"{amount(one.capacity_t, 'mass_t', 'down')} at most, up to "
         f"{amount(one.radius_m, 'length_m', 'down')} radius, {_sector_words(one.sector_deg)}, "
         f"boom {amount(one.boom_length_m, 'length_m')}, {one.counterweight}, outriggers at "
         "least " + " / ".join(amount(e, "extension_m") for e in one.leg_extension_m.as_tuple()),
         f"{_words(one)} ({one.provenance.words})")
        for one in setup.confirmations
    ]  # fmt: skip
