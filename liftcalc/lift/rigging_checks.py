"""Rigging checks of one lift: slings, shackles, beam, attitude of the load, and the weakest item.

Forces and ratings: :mod:`liftcalc.lift.rigging_study`.
"""

from collections.abc import Iterator

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.checks import Check
from liftcalc.base.text import Show, amount
from liftcalc.lift.check_rows import check_row
from liftcalc.lift.rigging_items import ItemUse
from liftcalc.lift.rigging_study import RiggingStudy, flattest_deg
from liftcalc.lift.setup import Setup, rope_off_drum_m
from liftcalc.rigging.assembly import RiggingHeight, rigging_height

LEAST_SLING_ANGLE_DEG = 45.0
"""Minimum angle of a sling from the horizontal: common practice, no published source. [deg]"""
ANGLE_SOURCE = "45°: common practice, no published source"


def _item_checks(study: RiggingStudy) -> Iterator[Check]:
    weakest, greatest = study.weakest, study.greatest
    first = next(i for i in study.items if i.name == weakest.name)
    yield check_row("rigging", 100 * weakest.greatest_utilisation, 100.0, edition=first.edition,
                    owner=first.owner, item=weakest.name, basis=first.basis,
                    hoist=study.factor)  # fmt: skip
    if greatest is not None:
        name = greatest.name if study.worst else f"the load would not hang safely: {study.why_not}"
        yield check_row("rigging-cg", 100 * greatest.worst_utilisation, 100.0, item=name,
                        edition=greatest.edition, owner=greatest.owner,
                        error=study.hanging.error_words)  # fmt: skip
    for item in study.items:
        if not np.isfinite(item.rated_t) or not np.isfinite(item.worst_rated_t):
            yield check_row("rating", item.force_kN, None, part=item.name.replace(" ", "-"),
                            item=item.name, basis=item.basis)  # fmt: skip
    # no sling set is loaded above its mark, whatever statics allows each of its legs
    for table in study.tables:
        if np.isfinite(table.wll_t):
            yield check_row("sling-table", table.still_t, table.wll_t, edition=table.edition, legs=table.what)


def eye_item(study: RiggingStudy, sling_id: str) -> ItemUse | None:
    """The most used of the slings of this kind as stated, at their place above or below a beam."""
    gear = study.hanging.gear
    top = gear.top_sling
    above = top is not None and top.id == sling_id and top is not gear.sling
    slings = (i for i in study.items if i.kind == "sling" and i.name.startswith("top") == above)
    rated = [i for i in slings if np.isfinite(i.rated_t)]
    return max(rated, key=lambda i: i.utilisation, default=None)


def side_item(study: RiggingStudy) -> ItemUse | None:
    """The most used shackle at the lifting points."""
    at_lugs = (i for i in study.items if i.kind == "shackle" and "at the beam" not in i.name)
    return next((i for i in at_lugs if np.isfinite(i.rated_t)), None)


def _reduced_checks(study: RiggingStudy) -> Iterator[Check]:
    """Slings with soft eyes and shackles at the lifting points, each with its reduced rating."""
    for sling, eye in study.eyes:
        item = eye_item(study, sling.id)
        if item is not None and np.isfinite(eye.efficiency):
            yield check_row("eye", 100 * item.utilisation, 100.0, part=sling.id, item=item.name, bend=eye.words)
    if (item := side_item(study)) is not None:
        yield check_row("shackle-side", 100 * item.utilisation, 100.0, edition=item.edition,
                        owner=item.owner, item=item.name, basis=item.basis)  # fmt: skip


def _hang_checks(setup: Setup, study: RiggingStudy) -> Iterator[Check]:
    """Tilt; slings not too flat, in the hook and below a beam; lifting points high enough."""
    hang, limit = study.hanging, setup.lift.rigging.tilt_limit_deg
    low = amount(hang.low_side_deg, "slew_deg")
    side = f", low side {low} from the load's length" if hang.tilt_deg > 0.05 else ""
    worst = float(study.worst.tilt_deg.max()) if study.worst else float("inf")
    yield check_row("load-tilt", worst, limit, limit_deg=limit, tilt=hang.tilt_deg, low_side=side,
                    error=hang.error_words)  # fmt: skip
    states = [study.stated, *([study.worst] if study.worst else [])]
    tops = [s.top_angle_deg.min() for s in states if s.top_angle_deg is not None]
    flattest, least = min(flattest_deg(s) for s in states), LEAST_SLING_ANGLE_DEG
    reference = ANGLE_SOURCE
    if study.beam and tops:
        flattest, least, reference = min(tops), study.beam.min_top_angle_deg, "beam data"
    if several := setup.lift.rigging.sling_legs > 1:
        yield check_row("sling-angle", flattest, least, source=reference, stated=study.angle_from_horizontal_deg)
    if several and study.beam:
        below = min(s.leg_angle_deg.min() for s in states)
        yield check_row("sling-angle-below", below, LEAST_SLING_ANGLE_DEG, source=ANGLE_SOURCE,
                        stated=study.stated.leg_angle_deg.min())  # fmt: skip
    highest = study.cg_m[2] + study.hanging.error_m[2]
    yield check_row("points-above-cg", float(np.min(study.lugs_m[:, 2]) - highest), 1e-6)


def rigging_checks(setup: Setup, study: RiggingStudy) -> list[Check]:
    """Weakest item as stated and at the worst centre of gravity, reductions, tilt, angles."""
    return [*_item_checks(study), *_reduced_checks(study), *_hang_checks(setup, study)]


def rigging_item_rows(study: RiggingStudy, show: Show) -> list[tuple[str, ...]]:
    """Every item: force, worst force, rating, utilisation, basis, edition and owner."""

    def shown(value: float, quantity: str, none: str) -> str:
        return show(value, quantity) if np.isfinite(value) else none

    grouped: dict[tuple[str, ...], list[str]] = {}
    for item in study.items:
        cells = (show(item.force_kN, "force_kN"),
                 shown(item.worst_kN, "force_kN", "would not hang"),
                 shown(item.worst_rated_t, "mass_t", "none"),
                 shown(100 * item.utilisation, "percent", "no rating"),
                 shown(100 * item.worst_utilisation, "percent", "no rating"), item.basis,
                 f"{item.edition} ({item.owner})")  # fmt: skip
        grouped.setdefault(cells, []).append(item.name)
    rows: list[tuple[str, ...]] = []
    for same, names in grouped.items():
        # items alike in every cell share a row: "sling leg 1, 2, 3, 4"
        stem = names[0].rstrip("0123456789")
        rest = [n.removeprefix(stem) for n in names[1:]]
        weakest = " (weakest)" if study.weakest.name in names else ""
        rows.append((", ".join([names[0], *rest]) + weakest, *same))
    return rows


def table_rows(study: RiggingStudy, show: Show) -> list[tuple[str, ...]]:
    """The published sling table's own limit beside statics."""
    rows: list[tuple[str, ...]] = [
        (
            t.what, show(t.load_t, "mass_t"),
            show(t.wll_t, "mass_t") if np.isfinite(t.wll_t) else "none",
            show(t.percent, "percent") if np.isfinite(t.wll_t) else "–",
            show(t.statics_percent, "percent"),
            ("applies: " if t.applies else "does not apply, statics governs: ") + t.why, t.edition,
        )
        for t in study.tables
    ]  # fmt: skip
    return rows or [("no table for this arrangement", "–", "–", "–", "–", "statics governs", "–")]


def _heights(study: RiggingStudy) -> RiggingHeight:
    """Lifting points, beam and hook above the underside, square to it."""
    lug, hook = float(study.lugs_m[:, 2].min()), float(study.hook_m[2])
    ends = study.stated.beam_ends_m
    beam = hook if ends is None else float(ends[0, :, 2].mean())
    return rigging_height(0.0, lug_above_underside_m=lug, bottom_sling_height_m=beam - lug,
                          top_sling_height_m=max(hook - beam, 0.0),
                          hook_limit_m=study.hanging.hook_height_m)  # fmt: skip


def _or_assumed(stated: float | None, source: str, assumed: str) -> str:
    return source if stated is not None else f"not stated: {assumed}, our own allowance"


def height_rows(setup: Setup, study: RiggingStudy, show: Show) -> list[tuple[str, str, str]]:
    """Heights from the underside of the load to the hook, and how the load hangs."""

    def metres(value: ArrayLike) -> str:
        return show(float(np.asarray(value)), "length_m")

    hang, hung, bar, heights = study.hanging, setup.hung, study.beam, _heights(study)
    block, rope = setup.machine.hook_block(setup.lift.hook_block), setup.machine.rope_length_m
    off_cg = ", ".join(amount(v, "length_m") for v in (study.hook_m - study.cg_m)[:2])
    tilt = f"sling legs {setup.lift.rigging.leg_lengths}: hook {off_cg} (along, across) from the "
    wraps = "rope length not stated: compare with the manufacturer's manual, less the wraps that "
    rows = [
        ("Lifting points above the underside", metres(heights.lug_m), "lift list"),
        ("Hook above the underside, square to it", metres(heights.hook_m), "slings"),
        ("Hook above the load's lowest corner as it hangs", metres(hang.hook_height_m),
         "tilt included; counts for hook height and clearances"),
        ("Tilt of the load as stated", show(hang.tilt_deg, "angle_deg"),
         f"{tilt}centre of gravity, in the load's frame"),
        ("Middle of the load's box from the hoist line",
         metres(np.hypot(hung.middle_x_m, hung.middle_y_m)),
         "pick, set-down and load path are plumb under the hook, over the centre of gravity"),
        ("Farthest corner of the load from the hoist line", metres(hung.reach_m),
         f"turned to any angle; {hang.error_words}"),
        ("Lowest corner of the load below its planned underside", metres(hung.dip_m),
         "tilt by the error of the centre of gravity; the pendulum of the load comes on top"),
        ("Mass of the rigging", show(study.mass_t, "mass_t"), "accessories' data"),
        ("Width of the hook block", metres(block.across_m),
         _or_assumed(block.width_m, "machine data", "as wide as it is high")),
        ("Hoist rope off the drum with the hook at its lowest", metres(rope_off_drum_m(setup)),
         f"{wraps}stay on the drum" if rope is None else f"{metres(rope)} may leave it"),
    ]  # fmt: skip
    if bar is not None:
        source = _or_assumed(bar.length_m, "accessories' data", "a tenth more than its span")
        rows.insert(-2, ("Beam from end to end", metres(bar.overall_m), source))
        rows.insert(1, ("Beam above the underside", metres(heights.beam_m), "bottom slings"))
    return rows
