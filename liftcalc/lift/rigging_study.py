"""Forces and ratings of one lift's rigging, and the published limit of its sling set beside them.

Tensions by statics in three dimensions with the load's own centre of gravity; four legs of a
rigid load are judged by the greatest tension that is statically possible
(:mod:`liftcalc.rigging.slings`). The load acts with its contingency, all gear below the hook and
the hoist factor. How it hangs: :mod:`liftcalc.lift.hanging`; ratings: :mod:`liftcalc.lift.rigging_items`.

Sources of a sling set's limit: :mod:`liftcalc.rigging.tables` and :mod:`liftcalc.rigging.hitches`;
when the uniform load method holds: :mod:`liftcalc.rigging.tables`.
"""

from dataclasses import dataclass
from typing import Literal, cast

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError
from liftcalc.facts.rigging import LiftingBeam, Sling
from liftcalc.lift.gear import Gear
from liftcalc.lift.hanging import Hanging, HangStates
from liftcalc.lift.rigging_items import Eye, ItemUse, rigging_items, soft_eye
from liftcalc.lift.setup import Setup
from liftcalc.rigging.assembly import RiggingItem, WeakestItem, weakest_item
from liftcalc.rigging.hitches import textile_mode_factor
from liftcalc.rigging.tables import (
    CHAIN_SLINGS_GRADE_8_EN,
    EN_1492,
    WIRE_ROPE_SLINGS_EN,
    sling_table_wll,
    uniform_load_applies,
)


@dataclass(frozen=True)
class TableCompare:
    """The published table's own limit for an arrangement, beside statics."""

    what: str
    wll_t: float
    """Of the whole sling by the uniform load method; NaN where no table seen lists it. [t]"""
    load_t: float
    """On the hook, hoist factor included. [t]"""
    still_t: float
    """The same without the hoist factor: what the sling's mark is read against. [t]"""
    applies: bool
    why: str
    edition: str
    statics_percent: float

    @property
    def percent(self) -> float:
        """Load over the table's limit."""
        return 100.0 * self.load_t / self.wll_t


def _table_wll(sling: Sling, legs: int, angle_deg: float) -> tuple[float, str, str]:
    """Limit [t], edition, and why there is none."""
    angle = angle_deg if legs > 1 else 0.0
    if sling.kind in ("wire rope", "chain"):
        table = WIRE_ROPE_SLINGS_EN if sling.kind == "wire rope" else CHAIN_SLINGS_GRADE_8_EN
        if table.edition.document not in sling.standard:
            return np.nan, sling.standard, "this standard's table was not seen"
        if sling.diameter_mm not in {row.size_mm for row in table.rows}:
            return np.nan, str(table.edition), f"size {sling.diameter_mm:g} mm not listed"
        count = cast(Literal[1, 2, 3, 4], legs)
        rating = sling_table_wll(table, sling.diameter_mm, legs=count, angle_from_vertical_deg=angle)
        return float(rating.value), str(rating.edition), ""
    if "EN 1492" not in sling.standard:
        return np.nan, sling.standard, "this standard's factors were not seen"
    if legs == 1:
        factor = textile_mode_factor("straight")
    else:
        mode: Literal["two sling legs", "three or four sling legs"]
        mode = "two sling legs" if legs == 2 else "three or four sling legs"
        factor = textile_mode_factor(mode, angle_from_vertical_deg=angle)
    return sling.wll_t * float(factor), str(EN_1492), ""


def _uniform(load_t: float, wll_t: float, angles_deg: FloatArray, toward_hook: FloatArray) -> tuple[bool, str]:
    """Whether the uniform load method holds for these legs, and why it does not."""
    found = uniform_load_applies(
        load_t, wll_t, angle_from_vertical_deg=np.clip(angles_deg, 0.0, 60.0),
        plan_angle_deg=np.degrees(np.arctan2(-toward_hook[:, 1], -toward_hook[:, 0])),
    )  # fmt: skip
    share, least = float(found.share_of_wll), float(found.least_angle_deg)
    uneven = len(angles_deg) > 2 and float(found.plan_gap_spread_deg) > 15.0
    reasons = (
        (share >= 0.8, f"load with hoist factor {100 * share:.0f} % of the limit, maximum 80 %"),
        (least < 15.0, f"a sling leg {least:.0f}° from plumb, under 15°"),
        (float(found.angle_spread_deg) > 15.0, "angles of the sling legs differ by over 15°"),
        (uneven, "sling legs not symmetrical in plan"),
    )
    return bool(found.applies), "; ".join(words for wrong, words in reasons if wrong)


def compare_with_table(gear: Gear, stated: HangStates, *, factor: float,
                       statics_percent: float) -> tuple[TableCompare, ...]:  # fmt: skip
    """The table's limit for the legs gathered in the hook (straight hitch only), beside statics."""
    if gear.beam is None:
        if gear.lift.rigging.hitch != "straight":
            return ()
        sling, load = gear.sling, gear.hung_t
        angles, toward_hook = 90.0 - stated.leg_angle_deg[0], stated.leg_direction[0]
    elif gear.top_sling is not None and stated.top_angle_deg is not None:
        assert stated.beam_ends_m is not None
        sling, load = gear.top_sling, gear.hung_t + gear.beam.mass_t
        angles = 90.0 - stated.top_angle_deg[0]
        toward_hook = stated.hook_m[0] - stated.beam_ends_m[0]
    else:
        return ()
    legs, angle = len(angles), float(np.clip(angles.max(), 0.0, 60.0))
    wll, edition, why = _table_wll(sling, legs, angle)
    applies = bool(np.isfinite(wll))
    if applies and legs > 1:
        applies, why = _uniform(load * factor, wll, angles, toward_hook)
    several = f"{legs} sling legs {sling.id}, up to {angle:.0f}° from plumb"
    return (
        TableCompare(
            what=several if legs > 1 else f"1 sling leg {sling.id}", wll_t=wll,
            load_t=load * factor, still_t=load, applies=applies,
            why=why or ("the conditions of EN 818-6 hold" if legs > 1 else "one sling leg"),
            edition=edition, statics_percent=statics_percent,
        ),
    )  # fmt: skip


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
        return self.hanging.gear.beam

    @property
    def lugs_m(self) -> FloatArray:
        return self.hanging.gear.lugs_m

    @property
    def hook_m(self) -> FloatArray:
        return np.asarray(self.stated.hook_m[0])

    @property
    def cg_m(self) -> FloatArray:
        return np.asarray(self.stated.cg_m[0])

    @property
    def tilt_deg(self) -> float:
        return self.hanging.tilt_deg

    @property
    def mass_t(self) -> float:
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


def _why_not(error: InputError) -> str:
    """Why a load would not hang, in words."""
    first = error.problems[0]
    if "angle" in first.field:
        return f"a sling {first.value}° from the horizontal"
    if "cg_z_m" in first.field:
        return "centre of gravity above the lifting points"
    if "cg_offset_m" in first.field:
        return "centre of gravity outside the lifting points"
    if isinstance(first.value, str):
        where = "hook " if first.field == "hook_m" else ""
        return f"{where}{first.value}"
    return str(error)


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
        why_not = _why_not(error)
    items = rigging_items(hang.gear, stated, worst, factor=factor)
    rated = [i for i in items if np.isfinite(i.rated_t)]
    weakest = weakest_item([RiggingItem(i.name, i.force_kN, i.rated_t, i.basis) for i in rated])
    tops = stated.top_tension_kN
    legs = stated.leg_tension_kN[0]
    slings = [s for s in (hang.gear.sling, hang.gear.top_sling) if s is not None]
    eyes = [(s, eye) for s in dict.fromkeys(slings) if (eye := soft_eye(hang.gear, s))]
    use = [i.utilisation for i in rated if i.kind == "sling" and "bottom" not in i.name]
    return RiggingStudy(
        hanging=hang, stated=stated, worst=worst, why_not=why_not, factor=factor, items=items, eyes=tuple(eyes),
        tables=compare_with_table(
            hang.gear, stated, factor=factor, statics_percent=100.0 * max(use, default=float("nan"))
        ),
        tension_kN=factor * (legs if tops is None else np.concatenate([tops[0], legs])),
        angle_from_horizontal_deg=flattest_deg(stated), weakest=weakest,
    )  # fmt: skip
