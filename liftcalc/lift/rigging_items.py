"""Rating of every rigging item of one lift, each with edition and owner.

Contents: :class:`ItemUse`, :func:`item_name`, :func:`edition_words`, :func:`owner_of`,
:class:`Eye`, :func:`soft_eye`, :func:`sling_rating`, :func:`rigging_items`,
:class:`TableCompare`, :func:`compare_with_table`.

Ratings by :mod:`liftcalc.rigging` (hitches, shackles, published tables); sources there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, cast

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.units import G_M_S2
from liftcalc.facts.rigging import Sling
from liftcalc.lift.gear import Gear
from liftcalc.lift.hanging import HangStates
from liftcalc.rigging.hitches import leg_rating, soft_eye_bearing, textile_mode_factor
from liftcalc.rigging.shackles import shackle_rating, side_load_angle_deg
from liftcalc.rigging.tables import (
    ASME_B30_26,
    BEND_EFFICIENCY,
    CHAIN_SLINGS_GRADE_8_EN,
    EN_1492,
    WIRE_ROPE_SLINGS_EN,
    Edition,
    sling_table_wll,
)
from liftcalc.rigging.uniform import uniform_load_applies

__all__ = [
    "Eye",
    "ItemUse",
    "TableCompare",
    "compare_with_table",
    "edition_words",
    "item_name",
    "owner_of",
    "rigging_items",
    "sling_rating",
    "soft_eye",
]

CHOKE_ANGLE_DEG = 120.0
LEAST_BASKET_BEND = 25.0
ItemKind = Literal["sling", "shackle", "beam"]


@dataclass(frozen=True)
class ItemUse:
    """One item: force with the centre of gravity as stated and at its worst, and its rating.

    ``worst_kN`` is infinite where the load would not hang with its centre of gravity at the edge
    of the stated error. Utilisations are NaN where there is no published rating.
    """

    name: str
    kind: ItemKind
    force_kN: float
    worst_kN: float
    rated_t: float
    worst_rated_t: float
    basis: str
    edition: str
    owner: str

    @property
    def utilisation(self) -> float:
        """Force over rating with the centre of gravity as stated."""
        return self.force_kN / (self.rated_t * G_M_S2)

    @property
    def worst_utilisation(self) -> float:
        """The greatest with the centre of gravity off by its error."""
        return self.worst_kN / (self.worst_rated_t * G_M_S2)


def item_name(kind: str, ident: str) -> str:
    """Kind and number of an item, the kind once."""
    return ident if ident.startswith(kind) else f"{kind} {ident}"


def edition_words(standard: str) -> str:
    """A standard with its edition, or that none is stated."""
    return standard if ":" in standard else f"{standard}, edition not stated"


def owner_of(standard: str) -> str:
    """Who issues a standard."""
    for prefix, owner in (("EN ", "CEN"), ("ISO", "ISO"), ("ASME", "ASME"), ("RR-C", "US GSA")):
        if standard.startswith(prefix):
            return owner
    return "as stated"


@dataclass(frozen=True)
class Eye:
    """Bend of a wire rope's soft eyes; ratio NaN where no bearing diameter is stated."""

    bears_on: str
    bend_ratio: float
    efficiency: float
    """1 where the table's limit holds; NaN where nothing is published."""


def soft_eye(gear: Gear, sling: Sling) -> Eye | None:
    """The sharper bend of a soft eye over shackle pin and hook; None for thimbles and others.

    Where either diameter is not stated the ratio is NaN: unknown is unsafe. A sling whose eyes
    bear on shackles at both ends needs no hook diameter: the top sling's lower eye, and eyes at
    a beam, do.
    """
    if sling.kind != "wire rope" or sling.eye == "thimble":
        return None
    choice = gear.lift.rigging
    pins: list[tuple[str, float | None]] = []
    pins.append(("shackle pin", gear.shackle.pin_diameter_mm if gear.shackle else None))
    if gear.beam is None or sling is gear.top_sling:
        pins.append(("hook", choice.hook_diameter_mm))
    found: Eye | None = None
    for name, pin in pins:
        if pin is None:
            return Eye(f"{name}: diameter not stated", float("nan"), float("nan"))
        ratio = pin / sling.diameter_mm
        if ratio < 1.0:
            return Eye(f"{name} {pin:g} mm", ratio, float("nan"))
        share = float(soft_eye_bearing(pin, sling.diameter_mm).efficiency_ratio)
        if found is None or ratio < found.bend_ratio:
            found = Eye(f"{name} {pin:g} mm", ratio, share)
    return found


def sling_rating(gear: Gear, sling: Sling, *, hitch: str) -> tuple[float, str, str, str]:
    """Rated tension [t] of one leg in its hitch and bend; basis, editions and owners in words."""
    choice = gear.lift.rigging
    basis = [f"limit of one leg {sling.wll_t:g} t", f"{hitch} hitch"]
    editions: list[Edition] = []
    bend: float | None = None
    choke: float | None = None
    part: float | None = None
    if hitch == "choke":
        choke = CHOKE_ANGLE_DEG if choice.choke_angle_deg is None else choice.choke_angle_deg
        basis.append(f"choke angle {choke:g}°")
        if choice.choke_angle_deg is None:
            basis[-1] += " assumed"
    if hitch == "basket":
        part = choice.basket_part_angle_deg
        basis.append(f"parts {part:g}° from the leg")
        if sling.kind == "wire rope":
            if choice.bend_diameter_mm is None:
                basis.append(f"bend D/d at least {LEAST_BASKET_BEND:g} assumed")
            else:
                ratio = choice.bend_diameter_mm / sling.diameter_mm
                basis.append(f"bend D/d {ratio:.1f}")
                bend = ratio if ratio < LEAST_BASKET_BEND else None
    if bend is not None and bend < 1.0:
        basis.append("no rating published")
        return (
            float("nan"),
            "; ".join(basis),
            edition_words(sling.standard),
            owner_of(sling.standard),
        )
    found = leg_rating(
        sling.wll_t,
        hitch=cast(Literal["straight", "choke", "basket"], hitch),
        choke_angle_deg=choke,
        part_angle_from_vertical_deg=part,
        bend_ratio=bend,
    )
    editions += found.editions
    rated = float(found.rated_t)
    eye = soft_eye(gear, sling)
    if eye is not None:
        rated *= eye.efficiency
        bend_words = f"soft eye on {eye.bears_on}"
        if np.isfinite(eye.bend_ratio):
            bend_words += f", D/d {eye.bend_ratio:.2f}"
        bend_words += f", {eye.efficiency:.2f}" if np.isfinite(eye.efficiency) else ": no rating"
        basis.append(bend_words)
        if np.isfinite(eye.efficiency) and eye.efficiency < 1.0:
            editions.append(BEND_EFFICIENCY)
    elif sling.kind == "wire rope":
        basis.append("thimble eyes")
    more = {e for e in editions if e.document.split(" and ")[0] not in sling.standard}
    factors = sorted(more, key=lambda e: e.document)
    words = [edition_words(sling.standard), *(f"{e.document}, {e.edition}" for e in factors)]
    owners = [owner_of(sling.standard), *(e.owner for e in factors)]
    return rated, "; ".join(basis), "; ".join(words), "; ".join(dict.fromkeys(owners))


def _plate_normals(gear: Gear, stated: HangStates) -> FloatArray:
    """Square to each lifting point's plate, shape (n, 3)."""
    plate = gear.lift.rigging.lug_plate
    count = len(gear.lugs_m)
    if plate != "toward hook":
        normal = [0.0, 1.0, 0.0] if plate == "along x" else [1.0, 0.0, 0.0]
        return np.tile(normal, (count, 1))
    legs = stated.leg_direction[0]
    normals = np.cross(legs, [0.0, 0.0, 1.0])
    plumb = np.linalg.norm(normals, axis=-1) < 1e-9
    normals[plumb] = [0.0, 1.0, 0.0]
    return np.asarray(normals)


def _shackle_items(
    gear: Gear, stated: HangStates, worst: HangStates | None, factor: float
) -> list[ItemUse]:
    shackle = gear.shackle
    if shackle is None:
        return []
    normals = _plate_normals(gear, stated)

    def at_lugs(states: HangStates) -> tuple[float, float, float]:
        """Force, rating and side angle of the most used shackle."""
        angle = side_load_angle_deg(states.leg_direction, normals)
        # a round pin is not rated sideways: as the worst band of none
        sideways = shackle.pin == "round pin" and bool(np.any(angle > 5.0))
        rated = np.full(angle.shape, np.nan)
        if not sideways:
            rated = shackle_rating(
                shackle.wll_t, side_load_angle_deg=angle, pin=shackle.pin
            ).rated_t
        use = states.leg_tension_kN / np.where(np.isnan(rated), shackle.wll_t / 2, rated)
        k = np.unravel_index(int(np.argmax(use)), use.shape)
        return factor * float(states.leg_tension_kN[k]), float(rated[k]), float(angle[k])

    force, rated, side = at_lugs(stated)
    worst_force, worst_rated, worst_side = at_lugs(worst) if worst else (float("inf"), rated, side)
    choice = gear.lift.rigging
    ratio = rated / shackle.wll_t
    side_rule = ASME_B30_26
    common = (
        f"{edition_words(shackle.standard)}; {side_rule.document}, {side_rule.edition}",
        f"{owner_of(shackle.standard)}; {side_rule.owner}",
    )
    name = item_name("shackle", shackle.id)
    turned = f"{side:.1f}° out of the plate ({choice.lug_plate}), {worst_side:.1f}° at worst"
    items = [
        ItemUse(
            name,
            "shackle",
            force,
            worst_force,
            rated,
            worst_rated,
            f"limit {shackle.wll_t:g} t; pull {turned}, {shackle.pin}: "
            + (f"{ratio:.1f}" if np.isfinite(ratio) else "not rated"),
            *common,
        )
    ]
    if stated.top_tension_kN is not None:
        top = factor * float(stated.top_tension_kN.max())
        ends = None if worst is None else worst.top_tension_kN
        most = float("inf") if ends is None else factor * float(ends.max())
        items.append(
            ItemUse(
                f"{name} at the beam",
                "shackle",
                top,
                most,
                shackle.wll_t,
                shackle.wll_t,
                f"limit {shackle.wll_t:g} t; pulled in line with its bow",
                edition_words(shackle.standard),
                owner_of(shackle.standard),
            )
        )
    return items


def rigging_items(
    gear: Gear, stated: HangStates, worst: HangStates | None, *, factor: float
) -> tuple[ItemUse, ...]:
    """Every item of the rigging with its forces and rating.

    *worst* holds the states over the box of possible centres of gravity, None where the load
    would not hang at some of them; *factor* is the hoist factor.
    """
    items: list[ItemUse] = []
    choice = gear.lift.rigging
    infinite = float("inf")
    rated, basis, edition, owner = sling_rating(gear, gear.sling, hitch=choice.hitch)
    legs = stated.leg_tension_kN[0]
    most = worst.leg_tension_kN.max(axis=0) if worst else np.full(legs.shape, infinite)
    if stated.end_kN is None:
        for k, (value, top) in enumerate(zip(legs, most, strict=True)):
            items.append(
                ItemUse(
                    f"sling leg {k + 1}", "sling", factor * float(value), factor * float(top),
                    rated, rated, basis, edition, owner,
                )
            )  # fmt: skip
    else:
        right = gear.lugs_m[:, 0] > 0
        for k, side in enumerate((~right, right)):
            items.append(
                ItemUse(
                    f"bottom sling at end {k + 1}",
                    "sling",
                    factor * float(legs[side].max()),
                    factor * float(most[side].max()),
                    rated,
                    rated,
                    basis + ("; carries the whole end" if side.sum() > 1 else ""),
                    edition,
                    owner,
                )
            )
    if stated.top_tension_kN is not None and gear.top_sling is not None:
        rated, basis, edition, owner = sling_rating(gear, gear.top_sling, hitch="straight")
        ends = worst.top_tension_kN if worst else None
        for k in range(2):
            items.append(
                ItemUse(
                    f"top sling {k + 1}",
                    "sling",
                    factor * float(stated.top_tension_kN[0, k]),
                    factor * float(ends[:, k].max()) if ends is not None else infinite,
                    rated,
                    rated,
                    basis,
                    edition,
                    owner,
                )
            )
    if gear.beam is not None and stated.end_kN is not None:
        beam = gear.beam
        items.append(
            ItemUse(
                item_name(beam.kind, beam.id),
                "beam",
                2.0 * factor * float(stated.end_kN.max()),
                2.0 * factor * float(worst.end_kN.max())
                if worst is not None and worst.end_kN is not None
                else infinite,
                beam.wll_t,
                beam.wll_t,
                "twice the greater end force to the rated mass",
                "beam data",
                beam.provenance.kind,
            )
        )
    return tuple(items + _shackle_items(gear, stated, worst, factor))


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
    count = cast(Literal[1, 2, 3, 4], legs)
    angle = angle_deg if legs > 1 else 0.0
    if sling.kind in ("wire rope", "chain"):
        rope = sling.kind == "wire rope"
        table = WIRE_ROPE_SLINGS_EN if rope else CHAIN_SLINGS_GRADE_8_EN
        if table.edition.document not in sling.standard:
            return float("nan"), sling.standard, "this standard's table was not seen"
        if sling.diameter_mm not in {row.size_mm for row in table.rows}:
            return float("nan"), str(table.edition), f"size {sling.diameter_mm:g} mm not listed"
        rating = sling_table_wll(
            table, sling.diameter_mm, legs=count, angle_from_vertical_deg=angle
        )
        return float(rating.value), str(rating.edition), ""
    if "EN 1492" not in sling.standard:
        return float("nan"), sling.standard, "this standard's factors were not seen"
    if legs == 1:
        factor = float(textile_mode_factor("straight"))
    elif legs == 2:
        factor = float(textile_mode_factor("two leg", angle_from_vertical_deg=angle))
    else:
        factor = float(textile_mode_factor("three or four leg", angle_from_vertical_deg=angle))
    return sling.wll_t * factor, str(EN_1492), ""


def compare_with_table(
    gear: Gear, stated: HangStates, *, factor: float, statics_percent: float
) -> tuple[TableCompare, ...]:
    """The table's limit for the legs gathered in the hook (straight hitch only), beside statics."""
    rows = []
    choice = gear.lift.rigging
    if gear.beam is None:
        if choice.hitch != "straight":
            return ()
        sling, legs = gear.sling, choice.sling_legs
        angles = 90.0 - stated.leg_angle_deg[0]
        directions = stated.leg_direction[0]
        load = gear.hung_t
    elif gear.top_sling is not None and stated.top_angle_deg is not None:
        assert stated.beam_ends_m is not None
        sling, legs = gear.top_sling, 2
        angles = 90.0 - stated.top_angle_deg[0]
        directions = stated.hook_m[0] - stated.beam_ends_m[0]
        load = gear.hung_t + gear.beam.mass_t
    else:
        return ()
    angle = float(np.clip(angles.max(), 0.0, 60.0))
    wll, edition, why = _table_wll(sling, legs, angle)
    applies = bool(np.isfinite(wll))
    if applies and legs > 1:
        plan = np.degrees(np.arctan2(-directions[:, 1], -directions[:, 0]))
        found = uniform_load_applies(
            load * factor,
            wll,
            angle_from_vertical_deg=np.clip(angles, 0.0, 60.0),
            plan_angle_deg=plan,
        )
        applies = bool(found.applies)
        reasons = [
            (
                float(found.share_of_wll) >= 0.8,
                f"load with hoist factor {float(found.share_of_wll):.0%} of the limit, 80% at most",
            ),
            (
                float(found.least_angle_deg) < 15.0,
                f"a leg {float(found.least_angle_deg):.0f}° from plumb, under 15°",
            ),
            (float(found.angle_spread_deg) > 15.0, "legs more than 15° unlike"),
            (legs > 2 and float(found.plan_gap_spread_deg) > 15.0, "legs not symmetrical in plan"),
        ]
        why = "; ".join(text for wrong, text in reasons if wrong)
    rows.append(
        TableCompare(
            what=f"{legs} leg{'s' if legs > 1 else ''} {sling.id}, up to {angle:.0f}° from plumb"
            if legs > 1
            else f"1 leg {sling.id}",
            wll_t=wll,
            load_t=load * factor,
            still_t=load,
            applies=applies,
            why=why or "the conditions of EN 818-6 hold" if legs > 1 else why or "one leg",
            edition=edition,
            statics_percent=statics_percent,
        )
    )
    return tuple(rows)
