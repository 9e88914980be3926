"""Forces and ratings of one lift's rigging.

Tensions by statics in three dimensions with the load's own centre of gravity; four legs of a
rigid load are judged by the greatest tension that is statically possible
(:mod:`liftcalc.rigging.slings`). The load acts with its contingency, all gear below the hook and
the hoist factor. How it hangs: :mod:`liftcalc.lift.hanging`; ratings:
:mod:`liftcalc.lift.rigging_items`, :mod:`liftcalc.lift.sling_set`.
"""

from dataclasses import dataclass

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError
from liftcalc.facts.rigging import LiftingBeam, Sling
from liftcalc.lift.hanging import Hanging, HangStates
from liftcalc.lift.rigging_items import Eye, ItemUse, rigging_items, soft_eye
from liftcalc.lift.setup import Setup
from liftcalc.lift.sling_set import TableCompare, compare_with_table
from liftcalc.rigging.assembly import RiggingItem, WeakestItem, weakest_item


@dataclass(frozen=True, eq=False)
class RiggingStudy:
    """Geometry, tensions and utilisation of the rigging."""

    hanging: Hanging
    stated: HangStates
    """Static forces with the centre of gravity as stated; one place."""
    worst: HangStates | None
    """The same over every place within the stated error; None where the load would not hang."""
    why_not: str
    """Why it would not hang somewhere; empty where it does."""
    factor: float
    """Hoist factor on every static force."""
    items: tuple[ItemUse, ...]
    eyes: tuple[tuple[Sling, Eye], ...]
    tables: tuple[TableCompare, ...]
    tension_kN: FloatArray
    """Design tension of each sling leg (with a spreader: of each top leg, then each bottom leg)."""
    angle_from_horizontal_deg: float
    """Of the flattest sling, the load hanging as stated."""
    weakest: WeakestItem

    @property
    def beam(self) -> LiftingBeam | None:
        """Spreader or lifting beam."""
        return self.hanging.gear.beam

    @property
    def lugs_m(self) -> FloatArray:
        """Lifting points in the load's frame."""
        return self.hanging.gear.lugs_m

    @property
    def hook_m(self) -> FloatArray:
        """Hook in the load's frame."""
        return np.asarray(self.stated.hook_m[0])

    @property
    def cg_m(self) -> FloatArray:
        """Centre of gravity in the load's frame."""
        return np.asarray(self.stated.cg_m[0])

    @property
    def tilt_deg(self) -> float:
        """Tilt of the load as stated."""
        return self.hanging.tilt_deg

    @property
    def mass_t(self) -> float:
        """All rigging."""
        return self.hanging.gear.mass_t

    @property
    def greatest(self) -> ItemUse | None:
        """The rated item most used with the centre of gravity at its worst."""
        rated = [i for i in self.items if np.isfinite(i.worst_rated_t)]
        return max(rated, key=lambda i: i.worst_utilisation, default=None)


def flattest_deg(states: HangStates) -> float:
    """Angle of the flattest sling from the horizontal."""
    angles = [states.leg_angle_deg.min()]
    if states.top_angle_deg is not None:
        angles.append(states.top_angle_deg.min())
    return float(min(angles))


def rigging_study(setup: Setup) -> RiggingStudy:
    """Tensions and ratings of every rigging item of the lift.

    Raises: No item with a published rating at all.
    """
    hang = setup.hanging
    stated = hang.at_stated
    factor = float(setup.gross.dynamic_factor)
    worst: HangStates | None = None
    why_not = ""
    try:
        worst = hang.worst
    except InputError as error:
        why_not = str(error)
    items = rigging_items(hang.gear, stated, worst, factor=factor)
    rated = [i for i in items if np.isfinite(i.rated_t)]
    weakest = weakest_item([RiggingItem(i.name, i.force_kN, i.rated_t, i.basis) for i in rated])
    tops = stated.top_tension_kN
    legs = stated.leg_tension_kN[0]
    slings = [s for s in (hang.gear.sling, hang.gear.top_sling) if s is not None]
    eyes = [(s, eye) for s in dict.fromkeys(slings) if (eye := soft_eye(hang.gear, s))]
    use = [i.utilisation for i in rated if i.kind == "sling" and "bottom" not in i.name]
    return RiggingStudy(
        hanging=hang,
        stated=stated,
        worst=worst,
        why_not=why_not,
        factor=factor,
        items=items,
        eyes=tuple(eyes),
        tables=compare_with_table(
            hang.gear, stated, factor=factor, statics_percent=100.0 * max(use, default=float("nan"))
        ),
        tension_kN=factor * (legs if tops is None else np.concatenate([tops[0], legs])),
        angle_from_horizontal_deg=flattest_deg(stated),
        weakest=weakest,
    )
