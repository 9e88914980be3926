"""Rigging checks of one lift: slings, shackles, beam, attitude of the load, and the weakest item.

Contents: :class:`RiggingStudy`, :func:`rigging_study`, :func:`rigging_checks`,
:func:`rigging_item_rows`, :func:`table_rows`, :func:`height_rows`.

Tensions by statics in three dimensions with the load's own centre of gravity; four legs of a
rigid load are judged by the greatest tension that is statically possible
(:mod:`liftcalc.rigging.slings`). The load acts with its contingency, all gear below the hook and
the hoist factor. How it hangs: :mod:`liftcalc.lift.hanging`; ratings:
:mod:`liftcalc.lift.rigging_items`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check, limit_check, no_data_check
from liftcalc.base.errors import InputError
from liftcalc.facts.rigging import LiftingBeam, Shackle, Sling
from liftcalc.lift.hanging import Hanging, HangStates
from liftcalc.lift.rigging_items import (
    Eye,
    ItemUse,
    TableCompare,
    compare_with_table,
    rigging_items,
    soft_eye,
)
from liftcalc.lift.setup import Setup, rope_off_drum_m
from liftcalc.rigging.assembly import RiggingItem, WeakestItem, rigging_height, weakest_item

__all__ = [
    "RiggingStudy",
    "height_rows",
    "rigging_checks",
    "rigging_item_rows",
    "rigging_study",
    "table_rows",
]

LEAST_SLING_ANGLE_DEG = 45.0
ANGLE_SOURCE = "45°: common practice, no published source"
Show = Callable[[float | None, str], str]


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
    def sling(self) -> Sling:
        """Sling at the lifting points."""
        return self.hanging.gear.sling

    @property
    def shackle(self) -> Shackle | None:
        """Shackle at every lifting point."""
        return self.hanging.gear.shackle

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


def _flattest(states: HangStates) -> float:
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
            hang.gear,
            stated,
            factor=factor,
            statics_percent=100.0 * max(use, default=float("nan")),
        ),
        tension_kN=factor * (legs if tops is None else np.concatenate([tops[0], legs])),
        angle_from_horizontal_deg=_flattest(stated),
        weakest=weakest,
    )


def _item_checks(setup: Setup, study: RiggingStudy) -> list[Check]:
    weakest, greatest = study.weakest, study.greatest
    by_name = {i.name: i for i in study.items}
    first = by_name[weakest.name]
    rows = [
        limit_check(
            "rigging",
            f"Weakest rigging item: {weakest.name}",
            value=weakest.greatest_utilisation * 100,
            limit=100.0,
            quantity="percent",
            reference=f"{first.edition} ({first.owner}): {first.basis}",
            where=f"hoist factor {study.factor:.2f} included",
            remedy="Choose a larger item or more legs.",
        )
    ]
    if greatest is not None:
        value = greatest.worst_utilisation * 100
        name = greatest.name if study.worst else "the load would not hang safely"
        rows.append(
            limit_check(
                "rigging-cg",
                f"Weakest rigging item with the centre of gravity at its worst: {name}",
                value=value,
                limit=100.0,
                quantity="percent",
                reference=f"statics; {greatest.edition} ({greatest.owner})",
                where=study.hanging.error_words + (f"; {study.why_not}" if study.why_not else ""),
                remedy="Find the centre of gravity more closely (weigh), or choose larger items or "
                "lifting points farther apart.",
            )
        )
    for item in study.items:
        if not np.isfinite(item.rated_t) or not np.isfinite(item.worst_rated_t):
            rows.append(
                no_data_check(
                    f"rating-{item.name.replace(' ', '-')}",
                    f"Rating of {item.name}",
                    quantity="force_kN",
                    value=item.force_kN,
                    reference=f"no published rating: {item.basis}",
                    remedy="Use an item with a published rating in this use (thimble eyes, thicker "
                    "pin, bolt-type shackle), or state the missing diameter.",
                )
            )
    return rows


def _attitude_checks(setup: Setup, study: RiggingStudy) -> list[Check]:
    hang, choice = study.hanging, setup.lift.rigging
    worst = study.worst
    tilt = float(worst.tilt_deg.max()) if worst else float("inf")
    side = f", low side {hang.low_side_deg:.0f}° from the load's x" if hang.tilt_deg > 0.05 else ""
    rows = [
        limit_check(
            "load-tilt",
            "Tilt of the load with its centre of gravity at its worst",
            value=tilt,
            limit=choice.tilt_limit_deg,
            quantity="angle_deg",
            reference=f"statics; limit {choice.tilt_limit_deg:g}° as stated in the lift "
            "(5° where left out: common practice, no published source)",
            where=f"as stated {hang.tilt_deg:.1f}°{side}; {hang.error_words}",
            remedy="Adjust the legs so that the hook stands over the centre of gravity, use longer "
            "slings, or lift from higher points.",
        )
    ]
    if choice.sling_legs > 1:
        flattest = min(study.angle_from_horizontal_deg, _flattest(worst) if worst else 90.0)
        least = LEAST_SLING_ANGLE_DEG
        reference = ANGLE_SOURCE
        if study.beam and study.stated.top_angle_deg is not None:
            states = [study.stated] + ([worst] if worst else [])
            flattest = min(
                float(s.top_angle_deg.min()) for s in states if s.top_angle_deg is not None
            )
            least, reference = study.beam.min_top_angle_deg, "beam data"
        rows.append(
            limit_check(
                "sling-angle",
                "Sling angle from the horizontal",
                value=flattest,
                limit=least,
                quantity="angle_deg",
                sense="min",
                reference=reference,
                where=f"as stated {study.angle_from_horizontal_deg:.1f}°",
                remedy="Use longer slings or a spreader.",
            )
        )
        if study.beam:
            states = [study.stated] + ([worst] if worst else [])
            rows.append(
                limit_check(
                    "sling-angle-below",
                    "Angle of the slings below the beam from the horizontal",
                    value=float(min(s.leg_angle_deg.min() for s in states)),
                    limit=LEAST_SLING_ANGLE_DEG,
                    quantity="angle_deg",
                    sense="min",
                    reference=ANGLE_SOURCE,
                    remedy="Use longer slings, or a beam nearer to the lifting points' spacing.",
                )
            )
    points = float(np.min(study.lugs_m[:, 2]) - study.cg_m[2] - hang.error_m[2])
    rows.append(
        limit_check(
            "points-above-cg",
            "Height of the lifting points above the highest possible centre of gravity",
            value=points,
            limit=1e-6,
            quantity="length_m",
            sense="min",
            reference="statics: below it the load may topple through its slings",
            remedy="Lift from points above the centre of gravity.",
        )
    )
    return rows


def _reduced_checks(study: RiggingStudy) -> list[Check]:
    """Slings with soft eyes and shackles at the lifting points, each with its reduced rating."""
    rows = []
    top = study.hanging.gear.top_sling
    for sling, eye in study.eyes:
        above = sling is top and sling is not study.sling
        mine = [
            i
            for i in study.items
            if i.kind == "sling" and np.isfinite(i.rated_t) and i.name.startswith("top") == above
        ]
        if mine and np.isfinite(eye.efficiency):
            used = max(i.utilisation for i in mine)
            rows.append(
                limit_check(
                    f"eye-{sling.id}",
                    f"Sling {sling.id} with soft eyes, D/d {eye.bend_ratio:.2f}: "
                    f"{eye.efficiency:.2f} of its limit",
                    value=100 * used,
                    limit=100.0,
                    quantity="percent",
                    reference="EN 13414-1:2003 Table 4, note 1 (CEN): full limit from D/d 2; "
                    "bend efficiency as in DOE-STD-1090 (from memory)",
                    where=eye.bears_on,
                    remedy="Use thimble eyes or a thicker pin.",
                )
            )
    for item in study.items:
        if item.kind == "shackle" and np.isfinite(item.rated_t) and "at the beam" not in item.name:
            rows.append(
                limit_check(
                    "shackle-side",
                    f"{item.name.capitalize()} at the lifting points, side load counted",
                    value=100 * item.utilisation,
                    limit=100.0,
                    quantity="percent",
                    reference=f"{item.edition} ({item.owner})",
                    where=item.basis,
                    remedy="Turn the lifting points toward the hook or use a larger shackle.",
                )
            )
    return rows


def rigging_checks(setup: Setup, study: RiggingStudy) -> list[Check]:
    """Weakest item as stated and at the worst centre of gravity, reductions, tilt, angles."""
    return (
        _item_checks(setup, study)
        + _table_checks(study)
        + _reduced_checks(study)
        + _attitude_checks(setup, study)
    )


def _table_checks(study: RiggingStudy) -> list[Check]:
    """No sling set is loaded above its mark, whatever statics allows each of its legs."""
    return [
        limit_check(
            "sling-table",
            f"Load to the published limit of the sling set: {t.what}",
            value=t.still_t,
            limit=t.wll_t,
            quantity="mass_t",
            reference=f"{t.edition}; the set's own mark governs",
            remedy="Use a sling set with a higher marked limit, or longer slings (steeper legs).",
        )
        for t in study.tables
        if np.isfinite(t.wll_t)
    ]


def rigging_item_rows(study: RiggingStudy, show: Show) -> list[tuple[str, ...]]:
    """Every item: force, worst force, rating, utilisation, basis, edition and owner."""

    def percent(value: float) -> str:
        return show(100 * value, "percent") if np.isfinite(value) else "no rating"

    grouped: dict[tuple[str, ...], list[str]] = {}
    for item in study.items:
        cells: tuple[str, ...] = (
            show(item.force_kN, "force_kN"),
            show(item.worst_kN, "force_kN") if np.isfinite(item.worst_kN) else "would not hang",
            show(item.worst_rated_t, "mass_t") if np.isfinite(item.worst_rated_t) else "none",
            percent(item.utilisation),
            percent(item.worst_utilisation),
            item.basis,
            f"{item.edition} ({item.owner})",
        )
        grouped.setdefault(cells, []).append(item.name)
    rows: list[tuple[str, ...]] = []
    for cells, names in grouped.items():
        # items alike in every cell share a row: "sling leg 1, 2, 3, 4"
        stem = names[0].rstrip("0123456789")
        rest = [n.removeprefix(stem) for n in names[1:]]
        weakest = " (weakest)" if study.weakest.name in names else ""
        rows.append((", ".join([names[0], *rest]) + weakest, *cells))
    return rows


def table_rows(study: RiggingStudy, show: Show) -> list[tuple[str, ...]]:
    """The published sling table's own limit beside statics."""
    rows: list[tuple[str, ...]] = []
    for t in study.tables:
        rows.append(
            (
                t.what,
                show(t.load_t, "mass_t"),
                show(t.wll_t, "mass_t") if np.isfinite(t.wll_t) else "none",
                show(t.percent, "percent") if np.isfinite(t.wll_t) else "–",
                show(t.statics_percent, "percent"),
                ("applies: " if t.applies else "does not apply, statics governs: ") + t.why,
                t.edition,
            )
        )
    return rows or [("no table for this arrangement", "–", "–", "–", "–", "statics governs", "–")]


def height_rows(setup: Setup, study: RiggingStudy, show: Show) -> list[tuple[str, str, str]]:
    """Heights from the underside of the load to the hook, and how the load hangs."""
    hang, choice = study.hanging, setup.lift.rigging
    lug = float(study.lugs_m[:, 2].min())
    ends = study.stated.beam_ends_m
    bottom = top = 0.0
    if ends is None:
        bottom = float(study.hook_m[2]) - lug
    else:
        beam = float(ends[0, :, 2].mean())
        bottom, top = beam - lug, float(study.hook_m[2]) - beam
    heights = rigging_height(
        0.0,
        lug_above_underside_m=lug,
        bottom_sling_height_m=bottom,
        top_sling_height_m=max(top, 0.0),
        hook_limit_m=hang.hook_height_m,
    )
    rows = [
        ("Lifting points above the underside", show(float(heights.lug_m), "length_m"), "lift list")
    ]
    if ends is not None:
        rows.append(
            ("Beam above the underside", show(float(heights.beam_m), "length_m"), "bottom slings")
        )
    rows += [
        (
            "Hook above the underside, square to it",
            show(float(heights.hook_m), "length_m"),
            "slings",
        ),
        (
            "Hook above the load's lowest corner as it hangs",
            show(hang.hook_height_m, "length_m"),
            "tilt included; counts for head-room and clearances",
        ),
        (
            "Tilt of the load as stated",
            show(hang.tilt_deg, "angle_deg"),
            f"legs {choice.leg_lengths}: hook "
            + ", ".join(f"{v:+.2f}" for v in (study.hook_m - study.cg_m)[:2])
            + " m (x, y) from the centre of gravity, in the load's frame",
        ),
        (
            "Middle of the load's box from the hoist line",
            show(float(np.hypot(setup.hung.middle_x_m, setup.hung.middle_y_m)), "length_m"),
            "pick, set-down and path are plumb under the hook, over the centre of gravity",
        ),
        (
            "Farthest corner of the load from the hoist line",
            show(setup.hung.reach_m, "length_m"),
            f"turned to any angle; {hang.error_words}",
        ),
        (
            "Lowest corner of the load below its planned underside",
            show(setup.hung.dip_m, "length_m"),
            "tilt by the error of the centre of gravity; the load's swing comes on top",
        ),
        ("Mass of the rigging", show(study.mass_t, "mass_t"), "accessories' data"),
    ]
    bar, block = hang.gear.beam, setup.machine.hook_block(setup.lift.hook_block)
    if bar is not None:
        rows.append(
            (
                "Beam from end to end",
                show(bar.overall_m, "length_m"),
                "accessories' data"
                if bar.length_m is not None
                else "not stated: a tenth more than its span, our own allowance",
            )
        )
    rows.append(
        (
            "Width of the hook block",
            show(block.across_m, "length_m"),
            "machine data"
            if block.width_m is not None
            else "not stated: as wide as it is high, our own allowance",
        )
    )
    length = setup.machine.rope_length_m
    rows.append(
        (
            "Hoist rope off the drum with the hook at its lowest",
            show(rope_off_drum_m(setup), "length_m"),
            "rope length not stated: hold it against the manufacturer's manual, wraps that stay on "
            "the drum taken off"
            if length is None
            else f"{show(length, 'length_m')} may leave it",
        )
    )
    return rows
