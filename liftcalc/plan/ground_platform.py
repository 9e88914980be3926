"""Working platform below a mat: how thick and how wide, of the job's own fill, by outrigger.

The fill takes the place of the ground from the surface down. A thickness will do when the mat on
the ground so changed is within every limit of the owner's ground rule, neighbours included, and
when the BR 470 form asks for no more on any layer within one width below it: neither was made for
a mat under an outrigger on layered ground.

Sources: those of :mod:`liftcalc.ground.check` and :mod:`liftcalc.ground.platform`. Extent: what
:func:`liftcalc.lift.placing.beside_m` counts as ground under a mat, and 45 degrees through the
fill; own statement, no published source.
"""

import dataclasses
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from liftcalc.base.checks import Check, limit_check, no_data_check
from liftcalc.base.errors import InputError
from liftcalc.base.text import Show, amount
from liftcalc.facts.ground import PlatformFill, SurveyedProfile
from liftcalc.facts.mats import Mat
from liftcalc.ground.check import MatOnGround, elastic_bending, mat_on_ground, neighbour_stress
from liftcalc.ground.platform import working_platform
from liftcalc.ground.profile import GroundLayer, GroundProfile
from liftcalc.lift import ground_facts
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.ground_sections import things_of
from liftcalc.lift.ground_tables import Row
from liftcalc.lift.leg_ground import LegGround, mats_in_plan
from liftcalc.lift.leg_springs import least_modulus
from liftcalc.lift.placing import beside_m

THINNEST_M, THICKEST_M, STEP_M = 0.3, 2.0, 0.1
"""Thicknesses tried: none thinner is laid (the minimum of BR 470), none thicker is answered. [m]"""
METHOD = (
    "owner's ground rule with the fill in the ground; BRE BR 470 (2004) form: granular part seen "
    "in a public sheet, clay part from memory; the thicker counts"
)
PLATFORM_COLUMNS = (
    "Outrigger", "Mat", "Platform thickness", "Extent beyond the mat, each side", "Size in plan",
    "Maximum excavation depth", "Governed by",
)  # fmt: skip
_NO_FILL = "no fill stated in rules.ground.platform_fill"


@dataclass(frozen=True)
class Platform:
    """What a mat needs below it; ``thickness_m`` is 0 where nothing, NaN where none will do."""

    mat: Mat
    thickness_m: float
    governs: str

    @property
    def extent_m(self) -> float:
        """How far it reaches beyond the mat on every side."""
        return max(self.thickness_m, beside_m(self.mat)) if self.thickness_m > 0 else 0.0


def with_fill(fact: SurveyedProfile, fill: PlatformFill, thickness_m: float,
              width_m: float) -> GroundProfile:  # fmt: skip
    """The ground with the fill in place of what lay above that depth.

    A platform that does not drain is full of water, and so is the ground below it.
    """
    ground = ground_facts.ground_profile(fact, width_m)
    layers, top = [GroundLayer(f"platform of {fill.name}", thickness_m, fill.unit_weight_kN_m3,
                               phi_deg=fill.phi_deg, c_kPa=0.0)], 0.0  # fmt: skip
    for layer in ground.layers:
        left = top + layer.thickness_m - max(top, thickness_m)
        if left > 1e-9:
            layers.append(dataclasses.replace(layer, thickness_m=left))
        top += layer.thickness_m
    wet = {} if fill.drained else {"water_depth_m": 0.0, "water_not_found_to_m": None}
    return dataclasses.replace(ground, layers=tuple(layers), **wet)  # type: ignore[arg-type]


def br470_m(ground: GroundProfile, fill: PlatformFill, on: MatOnGround) -> tuple[float, str]:
    """Thickness by the BR 470 form below that mat, and what governs it; NaN where none will do.

    The first layer of *ground* is the fill. Each layer within one width below it counts as if the
    platform lay on it; ground stronger than the method was made for counts with its upper limit.
    """
    W, L = sorted((float(on.check.effective_width_m), float(on.check.effective_length_m)))
    worst, governs, top = 0.0, "BR 470: none needed", 0.0
    for layer in ground.layers[1:]:
        if top >= W:
            break
        top += layer.thickness_m
        cu = None if layer.cu_kPa is None else min(layer.cu_kPa, 80.0)
        phi = min(layer.phi_deg or 0.0, 45.0) if cu is None else None
        try:
            design = working_platform(
                W, L, q_kPa=float(on.check.pressure_kPa), phi_platform_deg=fill.phi_deg,
                unit_weight_platform_kN_m3=fill.unit_weight_kN_m3, cu_kPa=cu, phi_subgrade_deg=phi,
                unit_weight_subgrade_kN_m3=layer.unit_weight_kN_m3,
                water="below the platform" if fill.drained else "at the surface",
            )  # fmt: skip
        except InputError as error:
            return float("nan"), f"not covered by BR 470: {error}"
        need = float(design.thickness_m)
        if not need <= worst:
            worst, governs = need, f"BR 470, {design.governing} on {layer.name}"
        if np.isnan(need):
            break
    return worst, governs


def _will_do(a: LiftAssessment, g: LegGround, fact: Mat, fill: PlatformFill | None = None,
             thickness_m: float = 0.0) -> tuple[bool, str]:  # fmt: skip
    """Whether a mat will do on such a platform, or on the bare ground; what governs or hinders.

    The whole mat bends as on the ground without the fill.
    """
    k, leg = next((k, one) for k, one in enumerate(a.setup.machine.legs) if one.name == g.name)
    if leg.float_length_m > fact.length_m or leg.float_width_m > fact.width_m:
        return False, "the float does not fit"
    mat, rule = ground_facts.mat_properties(fact), ground_facts.bearing_rule(a.setup)
    ground = ground_facts.ground_profile(g.profile, mat.width_m)
    if fill is not None:
        ground = with_fill(g.profile, fill, thickness_m, mat.width_m)
    on = mat_on_ground(mat, g.reaction_kN, ground, rule, float_length_m=leg.float_length_m,
                       float_width_m=leg.float_width_m)  # fmt: skip
    governs, bearing = str(np.ravel(on.check.governs)[0]), on.bearing
    if governs == "ground":
        governs = f"{bearing.governing_name}, {bearing.governing_layer}"
    if not float(on.check.utilisation) <= 1.0:
        return False, governs
    length, width = float(on.check.effective_length_m), float(on.check.effective_width_m)
    modulus, poisson = least_modulus(g.profile, mat.width_m)
    bent = elastic_bending(mat, g.reaction_kN, width_m=width, float_length_m=leg.float_length_m,
                           modulus_kPa=modulus, poisson=poisson,
                           surveyed_kN_m3=g.profile.subgrade_modulus_kN_m3)  # fmt: skip
    if not bent.utilisation <= 1.0:
        return False, "bending of the mat on the ground, or no modulus known"
    if fill is not None:
        need, words = br470_m(ground, fill, on)
        if not need <= thickness_m:
            return False, words
    assert a.ground is not None
    mats = mats_in_plan(a.setup, a.ground.legs)
    mats.length_m[k], mats.width_m[k] = length, width
    pressure = (a.forces.states_kN + a.ground.mat.weight_kN) / (mats.length_m * mats.width_m)
    stress = neighbour_stress(ground, rule, legs=[k], mats=mats, pressure_kPa=pressure)[0]
    if stress is not None and not stress.utilisation <= 1.0:
        return False, f"neighbours included: {stress.mechanism}, {stress.layer}"
    return True, governs


def leg_platform(a: LiftAssessment, g: LegGround, mat: Mat, fill: PlatformFill | None) -> Platform:
    """A platform that will do below one outrigger on that mat, the thinnest of those tried.

    Each answer is checked at its own thickness: that a thicker one would do as well is not implied.
    """
    does, why = _will_do(a, g, mat)
    if does:
        return Platform(mat, 0.0, why)
    if fill is None:
        return Platform(mat, np.nan, f"{why}; {_NO_FILL}")
    most = min(THICKEST_M, sum(layer.thickness_m for layer in g.profile.layers) - STEP_M)
    for coarse in np.arange(THINNEST_M, most + 1e-9, 2 * STEP_M).round(3).tolist():
        does, why = _will_do(a, g, mat, fill, coarse)
        if does:
            thinner = max(round(coarse - STEP_M, 3), THINNEST_M)
            does, words = _will_do(a, g, mat, fill, thinner)
            return Platform(mat, thinner, words) if does else Platform(mat, coarse, why)
    return Platform(mat, np.nan, f"none up to {amount(most, 'length_m')} will do: {why}")


@lru_cache(maxsize=2)
def leg_platforms(a: LiftAssessment) -> tuple[tuple[Platform, ...], ...]:
    """For each outrigger: below the lift's own mat, and where that alone does not do also below the
    next larger mat in stock and the smallest that needs no platform."""
    fill, order = a.setup.rules.ground.platform_fill, ground_facts.shelf_order
    larger = sorted((m for m in a.job.mats if order(m) > order(a.setup.mat)), key=order)
    found = []
    for g in a.ground.legs if a.ground is not None else ():
        mine = [leg_platform(a, g, a.setup.mat, fill)]
        if mine[0].thickness_m != 0.0 and larger:
            mine.append(leg_platform(a, g, larger[0], fill))
            bare = (leg_platform(a, g, mat, None) for mat in larger[1:])
            if mine[1].thickness_m != 0.0:
                mine += [p for p in bare if p.thickness_m == 0.0][:1]
        found.append(tuple(mine))
    return tuple(found)


def depth_limit(a: LiftAssessment, k: int, platform: Platform) -> tuple[float, str]:
    """How deep the ground may be dug out for a platform, and what says so; 0 without a fill."""
    fill = a.setup.rules.ground.platform_fill
    if fill is None or a.ground is None:
        return 0.0, _NO_FILL
    limits = [(fill.permissible_depth_m, f"permissible depth ({fill.provenance.words})")]
    water = ground_facts.water_m(a.ground.legs[k].profile)
    if fill.drained and water is not None:
        limits.append((water, "water: a platform below its level does not drain"))
    dug = a.place.mats[k].buffer(platform.extent_m, join_style="mitre")
    off = {s.id: s.stand_off_m for s in a.setup.site.services}
    for t in things_of(a.setup.site):
        if t.shape.intersects(dug):
            limits.append((max(t.depth_m - off[t.name], 0.0), f"crown of {t.name}, stand-off kept")
                          if t.name in off else (0.0, f"{t.name} within its extent"))  # fmt: skip
    return min(limits)


def platform_checks(a: LiftAssessment) -> list[Check]:
    """Thickness of the platform against the permissible depth, where the job says one is laid.

    A row for each outrigger whose own mat alone does not do.
    """
    fill, rows = a.setup.rules.ground.platform_fill, []
    found = leg_platforms(a) if fill is not None and fill.used else ()
    for k, platforms in enumerate(found):
        need, name = platforms[0], a.setup.machine.legs[k].name
        if need.thickness_m == 0.0:
            continue
        id, title = f"platform-{name}", f"Thickness of the working platform under outrigger {name}"
        remedy = "Use a larger mat or move the outrigger to better ground."
        more: dict[str, Any] = {"quantity": "length_m", "where": need.governs, "remedy": remedy}
        if np.isnan(need.thickness_m):
            rows.append(no_data_check(id, f"{title}: none will do", reference=METHOD, **more))
            continue
        limit, who = depth_limit(a, k, need)
        rows.append(limit_check(id, title, value=need.thickness_m, limit=limit,
                                reference=f"{METHOD}; limit: {who}", **more))  # fmt: skip
    return rows


def platform_rows(a: LiftAssessment, show: Show) -> list[Row]:
    """What each outrigger needs below its mat, and below larger ones where that needs some."""
    rows: list[Row] = []
    for k, platforms in enumerate(leg_platforms(a)):
        for n, one in enumerate(platforms):
            cells, thick, wide = ("none needed", "–", "–", "–"), one.thickness_m, one.extent_m
            if np.isnan(thick):
                cells = ("none will do", "–", "–", "–")
            elif thick > 0:
                limit, who = depth_limit(a, k, one)
                plan = " × ".join(show(x + 2.0 * wide, "length_m", "up")
                                  for x in (one.mat.length_m, one.mat.width_m))  # fmt: skip
                deep = show(thick, "length_m", "up") + ("" if thick <= limit else ": TOO DEEP")
                cells = (deep, show(wide, "length_m", "up"), plan,
                         f"{show(limit, 'length_m', 'down')}: {who}")  # fmt: skip
            which = "larger, in stock" if n else "of the lift"
            name = a.setup.machine.legs[k].name
            rows.append((name, f"{one.mat.id} ({which})", *cells, one.governs))
    return rows
