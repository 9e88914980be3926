"""Rating of every rigging item of one lift, each with edition and owner.

Ratings by :mod:`liftcalc.rigging` (hitches, shackles, published tables); sources there.
"""

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, cast

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.text import amount
from liftcalc.base.units import G_M_S2
from liftcalc.facts.rigging import Shackle, Sling
from liftcalc.lift.gear import Gear
from liftcalc.lift.hanging import HangStates
from liftcalc.rigging import hitches
from liftcalc.rigging.hitches import leg_rating, shackle_rating, soft_eye_bearing
from liftcalc.rigging.tables import ASME_B30_26, BEND_EFFICIENCY

CHOKE_ANGLE_DEG = 120.0
"""Angle of choke where a lift states none: as a choke draws itself. [deg]"""
LEAST_BASKET_BEND = 25.0
"""D/d that ratings of wire rope baskets presume; a smaller bend is reduced."""
ItemKind = Literal["sling", "shackle", "beam"]
ForceKind = Literal["leg_tension_kN", "top_tension_kN", "end_kN"]
Rating = tuple[float, str, str, str]
"""Rated mass [t], basis, editions and owners of an item."""


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
    part: int = 0
    """Sling leg, top sling or beam end that governs as stated, from 0."""
    worst_part: int = 0
    worst_place: int = 0
    """Place of the centre of gravity, of ``Hanging.worst``, at which the item is used most."""

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
    diameter_mm: float = np.nan
    """Of what it bears on."""

    @property
    def words(self) -> str:
        """What the eye bears on, how sharply it bends and what is left of the rating."""
        bend = f", D/d {self.bend_ratio:.2f}" if np.isfinite(self.bend_ratio) else ""
        left = f", {self.efficiency:.2f}" if np.isfinite(self.efficiency) else ": no rating"
        return f"soft eye on {self.bears_on}{bend}{left}"


def soft_eye(gear: Gear, sling: Sling) -> Eye | None:
    """The sharper bend of a soft eye over shackle pin and hook; None for thimbles and others.

    Where either diameter is not stated the ratio is NaN: unknown is unsafe. A sling whose eyes
    bear on shackles at both ends needs no hook diameter: the top sling's lower eye, and eyes at a beam, do.
    """
    if sling.kind != "wire rope" or sling.eye == "thimble":
        return None
    bears_on = {"shackle pin": gear.shackle.pin_diameter_mm if gear.shackle else None}
    if gear.beam is None or sling is gear.top_sling:
        bears_on["hook"] = gear.lift.rigging.hook_diameter_mm
    eyes = []
    for name, diameter in bears_on.items():
        if diameter is None:
            return Eye(f"{name}: diameter not stated", np.nan, np.nan)
        ratio = diameter / sling.diameter_mm
        if ratio < 1.0:
            return Eye(f"{name} {amount(diameter, 'small_length_mm')}", ratio, np.nan)
        left = float(soft_eye_bearing(diameter, sling.diameter_mm).efficiency_ratio)
        eyes.append(Eye(f"{name} {amount(diameter, 'small_length_mm')}", ratio, left, diameter))
    return min(eyes, key=lambda eye: eye.bend_ratio)


def _in_hitch(gear: Gear, sling: Sling, hitch: str) -> tuple[list[str], dict[str, float]]:
    """What reduces a leg's rating in its hitch: in words, and as arguments of ``leg_rating``."""
    choice = gear.lift.rigging
    words, given = [f"{hitch} hitch"], dict[str, float]()
    if hitch == "choke":
        stated = choice.choke_angle_deg
        given["choke_angle_deg"] = angle = CHOKE_ANGLE_DEG if stated is None else stated
        words.append(f"choke angle {angle:g}°" + (" assumed" if stated is None else ""))
    if hitch == "basket":
        given["part_angle_from_vertical_deg"] = part = choice.basket_part_angle_deg
        words.append(f"parts {part:g}° from the sling leg")
        if sling.kind == "wire rope" and choice.bend_diameter_mm is None:
            words.append(f"bend D/d {LEAST_BASKET_BEND:g} or more assumed")
        elif sling.kind == "wire rope" and choice.bend_diameter_mm is not None:
            ratio = choice.bend_diameter_mm / sling.diameter_mm
            words.append(f"bend D/d {ratio:.1f}")
            given |= {"bend_ratio": ratio} if ratio < LEAST_BASKET_BEND else {}
    return words, given


def sling_rating(gear: Gear, sling: Sling, *, hitch: str) -> Rating:
    """Rated tension [t] of one leg in its hitch and bend; basis, editions and owners in words."""
    hitch_words, given = _in_hitch(gear, sling, hitch)
    basis = [f"limit of one sling leg {amount(sling.wll_t, 'mass_t')}", *hitch_words]
    edition, owner = edition_words(sling.standard), owner_of(sling.standard)
    if given.get("bend_ratio", 1.0) < 1.0:
        return np.nan, "; ".join([*basis, "no rating published"]), edition, owner
    rating = leg_rating(sling.wll_t, hitch=cast(Literal["straight", "choke", "basket"], hitch), **given)
    rated, editions = float(rating.rated_t), set(rating.editions)
    eye = soft_eye(gear, sling)
    if eye is not None:
        rated *= eye.efficiency
        basis.append(eye.words)
        editions |= {BEND_EFFICIENCY} if eye.efficiency < 1.0 else set()
    elif sling.kind == "wire rope":
        basis.append("thimble eyes")
    factors = sorted((e for e in editions if e.document.split(" and ")[0] not in sling.standard),
                     key=lambda e: e.document)  # fmt: skip
    sources = [edition, *(f"{e.document}, {e.edition}" for e in factors)]
    owners = dict.fromkeys([owner, *(e.owner for e in factors)])
    return rated, "; ".join(basis), "; ".join(sources), "; ".join(owners)


def plate_normals(gear: Gear, stated: HangStates) -> FloatArray:
    """Square to each lifting point's plate, shape (n, 3)."""
    plate = gear.lift.rigging.lug_plate
    count = len(gear.lugs_m)
    if plate != "toward hook":
        return np.tile([0.0, 1.0, 0.0] if plate == "along x" else [1.0, 0.0, 0.0], (count, 1))
    legs = stated.leg_direction[0]
    normals = np.cross(legs, [0.0, 0.0, 1.0])
    normals[np.linalg.norm(normals, axis=-1) < 1e-9] = [0.0, 1.0, 0.0]
    return np.asarray(normals)


@dataclass(frozen=True, eq=False)
class _HangForces:
    """Static forces as stated and over the box of possible centres of gravity (None where the load
    would not hang), and the hoist factor.
    """

    stated: HangStates
    worst: HangStates | None
    factor: float

    def _peak(self, force_kN: FloatArray | None, parts: Sequence[int]) -> tuple[float, int, int]:
        """Greatest force (P, n) of some parts, its part and place; infinite where none hangs."""
        if force_kN is None:
            return np.inf, parts[0], 0
        some = force_kN[:, list(parts)]
        place, k = np.unravel_index(int(np.argmax(some)), some.shape)
        return self.factor * float(some[place, k]), parts[int(k)], int(place)

    def item(
        self, name: str, kind: ItemKind, force: ForceKind, parts: Sequence[int], rating: Rating, *, times: float = 1.0
    ) -> ItemUse:
        """An item whose rating is the same however the load hangs."""
        now, part, _ = self._peak(getattr(self.stated, force), parts)
        most, worst_part, place = self._peak(getattr(self.worst, force, None), parts)
        rated, basis, edition, owner = rating
        return ItemUse(name, kind, times * now, times * most, rated, rated, basis, edition, owner,
                       part, worst_part, place)  # fmt: skip


def _sling_items(gear: Gear, forces: _HangForces) -> list[ItemUse]:
    """Each leg in the hook, or below a beam the most used sling at each of its ends."""
    rating, count = sling_rating(gear, gear.sling, hitch=gear.lift.rigging.hitch), len(gear.lugs_m)
    named = [(f"sling leg {k + 1}", [k]) for k in range(count)]
    if gear.beam is not None:
        right = gear.lugs_m[:, 0] > 0
        if count > 2:
            rated, basis, edition, owner = rating
            rating = (rated, f"{basis}; carries the whole end", edition, owner)
        named = [
            (f"bottom sling at end {k + 1}", np.flatnonzero(side).tolist()) for k, side in enumerate((~right, right))
        ]
    return [forces.item(name, "sling", "leg_tension_kN", parts, rating) for name, parts in named]


def _beam_items(gear: Gear, forces: _HangForces) -> list[ItemUse]:
    """Top slings of a spreader, and the beam itself."""
    beam, items = gear.beam, []
    if gear.top_sling is not None:
        rating = sling_rating(gear, gear.top_sling, hitch="straight")
        for k in (0, 1):
            name = f"top sling {k + 1}"
            items.append(forces.item(name, "sling", "top_tension_kN", [k], rating))
    if beam is not None:
        words = "twice the greater end force to the rated mass"
        rating = (beam.wll_t, words, "beam data", beam.provenance.kind)
        name = item_name(beam.kind, beam.id)
        items.append(forces.item(name, "beam", "end_kN", (0, 1), rating, times=2.0))
    return items


@dataclass(frozen=True)
class LugUse:
    """The most used shackle at the lifting points: static force, rating, side angle, and where."""

    force_kN: float
    rated_t: float
    side_deg: float
    part: int
    place: int


def _at_lugs(shackle: Shackle, states: HangStates, normals: FloatArray) -> LugUse:
    angle = hitches.side_load_angle_deg(states.leg_direction, normals)
    rated = np.full(angle.shape, np.nan)
    # a round pin is not rated sideways: as the worst band of none
    if shackle.pin != "round pin" or not np.any(angle > 5.0):
        rated = shackle_rating(shackle.wll_t, side_load_angle_deg=angle, pin=shackle.pin).rated_t
    use = states.leg_tension_kN / np.where(np.isnan(rated), shackle.wll_t / 2, rated)
    k = np.unravel_index(int(np.argmax(use)), use.shape)
    force = float(states.leg_tension_kN[k])
    return LugUse(force, float(rated[k]), float(angle[k]), int(k[1]), int(k[0]))


def _shackle_items(gear: Gear, forces: _HangForces) -> list[ItemUse]:
    """The most used shackle at the lifting points, and of those at a beam."""
    shackle, factor = gear.shackle, forces.factor
    if shackle is None:
        return []
    normals = plate_normals(gear, forces.stated)
    now = _at_lugs(shackle, forces.stated, normals)
    most = dataclasses.replace(now, force_kN=np.inf, place=0)
    if forces.worst:
        most = _at_lugs(shackle, forces.worst, normals)
    name, wll = item_name("shackle", shackle.id), shackle.wll_t
    limit = amount(wll, "mass_t")
    edition, owner = edition_words(shackle.standard), owner_of(shackle.standard)
    basis = (
        f"limit {limit}; pull {amount(now.side_deg, 'angle_deg')} out of the plate "
        f"({gear.lift.rigging.lug_plate}), {amount(most.side_deg, 'angle_deg')} worst case; "
        f"{shackle.pin}, " + (f"factor {now.rated_t / wll:.1f}" if np.isfinite(now.rated_t) else "not rated")
    )
    at_lugs = ItemUse(name, "shackle", factor * now.force_kN, factor * most.force_kN, now.rated_t,
                      most.rated_t, basis,
                      f"{edition}; {ASME_B30_26.document}, {ASME_B30_26.edition}",
                      f"{owner}; {ASME_B30_26.owner}", now.part, most.part, most.place)  # fmt: skip
    if gear.top_sling is None:
        return [at_lugs]
    rating = (wll, f"limit {limit}; pulled in line with its bow", edition, owner)
    above = forces.item(f"{name} at the beam", "shackle", "top_tension_kN", (0, 1), rating)
    return [at_lugs, above]


def rigging_items(gear: Gear, stated: HangStates, worst: HangStates | None, *, factor: float) -> tuple[ItemUse, ...]:
    """Every item of the rigging with its forces and rating.

    *worst* holds the states over the box of possible centres of gravity, None where the load
    would not hang at some of them; *factor* is the hoist factor.
    """
    forces = _HangForces(stated, worst, factor)
    makers = (_sling_items, _beam_items, _shackle_items)
    return tuple(item for make in makers for item in make(gear, forces))
