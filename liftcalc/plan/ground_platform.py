"""Working platform below a mat: how thick and how wide, of the job's own fill, outrigger by outrigger.

The fill takes the place of the ground from the surface down. A thickness will do when the mat on
the ground so changed is within every limit of the owner's ground rule, neighbours included, and when
the BR 470 form asks for no more on any layer within one width below the platform. Both are asked,
since neither was made for a mat under an outrigger on layered ground.

Sources: those of :mod:`liftcalc.ground.check` and :mod:`liftcalc.ground.platform`. Extent: the
ground beside a mat that :func:`liftcalc.lift.placing.beside_m` counts, and 45 degrees through the
fill; own statement, no published source.
"""

import dataclasses
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from liftcalc.base.checks import Check, limit_check, no_data_check
from liftcalc.base.errors import InputError
from liftcalc.base.text import Show, amount
from liftcalc.facts.ground import PlatformFill, SurveyedProfile
from liftcalc.facts.mats import Mat
from liftcalc.facts.site import Site
from liftcalc.ground.check import MatOnGround, elastic_bending, mat_on_ground, neighbour_stress
from liftcalc.ground.mat_properties import MatProperties
from liftcalc.ground.platform import spread_thickness, working_platform
from liftcalc.ground.profile import GroundLayer, GroundProfile
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.ground_facts import (
    bearing_rule,
    ground_profile,
    mat_properties,
    shelf_order,
    water_m,
)
from liftcalc.lift.ground_tables import Row
from liftcalc.lift.leg_ground import LegGround, mats_in_plan
from liftcalc.lift.leg_springs import least_modulus
from liftcalc.lift.placing import beside_m

THINNEST_M, THICKEST_M, STEP_M = 0.3, 2.0, 0.1
"""Thicknesses tried: none thinner is laid (the least of BR 470), none thicker is answered."""
METHOD = (
    "owner's ground rule on the ground with the fill in it; BRE BR 470 (2004) form, granular part "
    "seen in a public sheet, clay part from memory; the thicker counts"
)
FIELD = "rules.ground.platform_fill"


@dataclass(frozen=True)
class Platform:
    """What a mat needs below it; ``thickness_m`` is 0 where nothing, NaN where none will do."""

    mat: str
    thickness_m: float
    spread_m: float
    """What load spread at 2 vertical to 1 horizontal alone would ask for: a comparison. [m]"""
    extent_m: float
    governs: str


def with_fill(fact: SurveyedProfile, fill: PlatformFill, thickness_m: float,
              width_m: float) -> GroundProfile:  # fmt: skip
    """The ground with the fill in place of what lay above that depth.

    A platform that does not drain is full of water, and so is the ground below it.
    """
    ground = ground_profile(fact, width_m)
    layers, top = [], 0.0
    for layer in ground.layers:
        bottom = top + layer.thickness_m
        if bottom > thickness_m + 1e-9:
            left = bottom - max(top, thickness_m)
            layers.append(dataclasses.replace(layer, thickness_m=left))
        top = bottom
    own = GroundLayer(f"platform of {fill.name}", thickness_m, fill.unit_weight_kN_m3,
                      phi_deg=fill.phi_deg, c_kPa=0.0)  # fmt: skip
    ground = dataclasses.replace(ground, layers=(own, *layers))
    if fill.drained:
        return ground
    return dataclasses.replace(ground, water_depth_m=0.0, water_not_found_to_m=None)


def br470_m(ground: GroundProfile, fill: PlatformFill, on: MatOnGround) -> tuple[float, str]:
    """Thickness by the BR 470 form below that mat, and what governs it; NaN where none will do.

    The first layer of *ground* is the fill. Each layer within one width below it counts as if the
    platform lay on it; clay above the strength that the method was made for counts with that.
    """
    W, L = sorted((float(on.check.effective_width_m), float(on.check.effective_length_m)))
    worst, governs, top = 0.0, "no platform needed", 0.0
    for layer in ground.layers[1:]:
        if top >= W:
            break
        top += layer.thickness_m
        clay = None if layer.cu_kPa is None else min(layer.cu_kPa, 80.0)
        phi = min(layer.phi_deg or 0.0, 45.0) if clay is None else None
        try:
            design = working_platform(
                W, L, q_kPa=float(on.check.pressure_kPa), phi_platform_deg=fill.phi_deg,
                unit_weight_platform_kN_m3=fill.unit_weight_kN_m3, cu_kPa=clay,
                phi_subgrade_deg=phi,
                unit_weight_subgrade_kN_m3=None if phi is None else layer.unit_weight_kN_m3,
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


def leg_platform(a: LiftAssessment, g: LegGround, mat: Mat, fill: PlatformFill | None) -> Platform:
    """A platform that will do below one outrigger on that mat, the thinnest of those tried.

    Each answer is checked at its own thickness: that a thicker one would do as well is not implied.
    """
    leg = next(one for one in a.setup.machine.legs if one.name == g.name)
    if leg.float_length_m > mat.length_m or leg.float_width_m > mat.width_m:
        return _none(mat, "the float does not fit")
    plain = mat_properties(mat)
    bare, why = _will_do(a, g, plain, None, 0.0)
    if bare is not None:
        return Platform(mat.id, 0.0, 0.0, 0.0, f"none needed: {why} governs on the ground as it is")
    if fill is None:
        return _none(mat, f"no fill stated in {FIELD}; without one: {why}")
    most = min(THICKEST_M, sum(layer.thickness_m for layer in g.profile.layers) - STEP_M)
    for thickness in np.arange(THINNEST_M, most + 1e-9, 2 * STEP_M).round(3).tolist():
        found, why = _will_do(a, g, plain, fill, thickness)
        if found is None:
            continue
        thinner = round(thickness - STEP_M, 3)
        if thinner > THINNEST_M:
            between, words = _will_do(a, g, plain, fill, thinner)
            if between is not None:
                found, why, thickness = between, words, thinner
        spread, wide = _by_spread(g, found), max(thickness, beside_m(mat))
        return Platform(mat.id, thickness, spread, wide, why)
    return _none(mat, f"none up to {amount(most, 'length_m')} will do: {why}")


def _none(mat: Mat, why: str) -> Platform:
    return Platform(mat.id, np.nan, np.nan, np.nan, why)


def _will_do(a: LiftAssessment, g: LegGround, mat: MatProperties, fill: PlatformFill | None,
             thickness_m: float) -> tuple[MatOnGround | None, str]:  # fmt: skip
    """The mat on a platform of that thickness (on the bare ground without a fill) if it will do.

    With what governs it, or what hinders. The whole mat bends as on the ground without the fill.
    """
    k, leg = next((k, one) for k, one in enumerate(a.setup.machine.legs) if one.name == g.name)
    ground, rule = ground_profile(g.profile, mat.width_m), bearing_rule(a.setup)
    if fill is not None:
        ground = with_fill(g.profile, fill, thickness_m, mat.width_m)
    on = mat_on_ground(mat, g.reaction_kN, ground, rule, float_length_m=leg.float_length_m,
                       float_width_m=leg.float_width_m)  # fmt: skip
    governs = str(np.ravel(on.check.governs)[0])
    if governs == "ground":
        governs = f"{np.ravel(on.bearing.governing_name)[0]}, " \
                  f"{np.ravel(on.bearing.governing_layer)[0]}"  # fmt: skip
    if not float(on.check.utilisation) <= 1.0:
        return None, governs
    length, width = float(on.check.effective_length_m), float(on.check.effective_width_m)
    modulus, poisson = least_modulus(g.profile, mat.width_m)
    bent = elastic_bending(mat, g.reaction_kN, width_m=width, float_length_m=leg.float_length_m,
                           modulus_kPa=modulus, poisson=poisson,
                           surveyed_kN_m3=g.profile.subgrade_modulus_kN_m3)  # fmt: skip
    if not bent.utilisation <= 1.0:
        return None, "bending of the mat on the ground, or no modulus known"
    if fill is not None:
        need, words = br470_m(ground, fill, on)
        if not need <= thickness_m:
            return None, words
    assert a.ground is not None
    mats = mats_in_plan(a.setup, a.ground.legs)
    mats.length_m[k], mats.width_m[k] = length, width
    pressure = (a.forces.states_kN + a.ground.mat.weight_kN) / (mats.length_m * mats.width_m)
    stress = neighbour_stress(ground, rule, legs=[k], mats=mats, pressure_kPa=pressure)[0]
    if stress is not None and not stress.utilisation <= 1.0:
        return None, f"neighbours included: {stress.mechanism}, {stress.layer}"
    return on, governs


def _by_spread(g: LegGround, on: MatOnGround) -> float:
    """Thickness by load spread alone onto what the bare ground allows below that mat."""
    W, L = sorted((float(on.check.effective_width_m), float(on.check.effective_length_m)))
    force = float(on.check.pressure_kPa) * W * L
    return float(spread_thickness(force, W, L_m=L, q_allowable_kPa=g.allowable_kPa))


def leg_platforms(a: LiftAssessment) -> tuple[tuple[Platform, ...], ...]:
    """For each outrigger: below the lift's own mat, and where that needs a platform or nothing will
    do, also below the next larger mat in stock and the smallest that needs none."""
    if a.ground is None:
        return ()
    fill, shelf = a.setup.rules.ground.platform_fill, sorted(a.job.mats, key=shelf_order)
    larger = [m for m in shelf if shelf_order(m) > shelf_order(a.setup.mat)]
    found = []
    for g in a.ground.legs:
        own = [leg_platform(a, g, a.setup.mat, fill)]
        if own[0].thickness_m != 0.0:
            own += [leg_platform(a, g, mat, fill) for mat in larger[:1]]
            bare = (leg_platform(a, g, mat, None) for mat in larger[1:])
            none_needed = next((p for p in bare if p.thickness_m == 0.0), None)
            own += [none_needed] if none_needed and own[-1].thickness_m != 0.0 else []
        found.append(tuple(own))
    return tuple(found)


def _things(site: Site) -> Iterator[tuple[str, BaseGeometry, float]]:
    """What a platform may run into: name, shape in plan, depth of its top."""
    for pipe in site.services:
        shape = LineString(pipe.line).buffer(pipe.width_m / 2.0, cap_style="flat")
        yield pipe.id, shape, pipe.crown_depth_m
    for pit in site.excavations:
        yield pit.id, Polygon(pit.polygon), 0.0
    for wall in site.retaining_walls:
        yield wall.id, LineString(wall.line), 0.0
    for slope in site.slopes:
        yield slope.id, LineString(slope.crest), 0.0
    for obstacle in site.obstacles:
        yield obstacle.id, Polygon(obstacle.polygon), 0.0


def in_the_way(a: LiftAssessment, k: int, extent_m: float) -> list[tuple[str, float]]:
    """What lies within a platform's extent beside a mat, and how deep: 0 for what stands there."""
    reach = a.place.mats[k].buffer(extent_m, join_style="mitre")
    return [(id, deep) for id, shape, deep in _things(a.setup.site) if shape.intersects(reach)]


def depth_limit(a: LiftAssessment, k: int, platform: Platform) -> tuple[float, str]:
    """How deep the ground may be dug out for a platform, and what says so; 0 without a fill."""
    fill = a.setup.rules.ground.platform_fill
    if fill is None or a.ground is None:
        return 0.0, f"no fill stated in {FIELD}"
    limits = [(fill.permissible_depth_m, f"permissible depth ({fill.provenance.words})")]
    water = water_m(a.ground.legs[k].profile)
    if fill.drained and water is not None:
        limits.append((water, "the water level: a platform below it does not drain"))
    for id, deep in in_the_way(a, k, float(np.nan_to_num(platform.extent_m))):
        limits.append((deep, f"crown of {id} below it" if deep > 0 else f"{id} within its extent"))
    return min(limits)


def platform_checks(a: LiftAssessment, found: Sequence[Sequence[Platform]]) -> list[Check]:
    """Thickness of the platform against the permissible depth, where the job says one is laid.

    A row for each outrigger whose own mat alone does not do.
    """
    fill = a.setup.rules.ground.platform_fill
    if fill is None or not fill.used:
        return []
    rows = []
    for k, (leg, platforms) in enumerate(zip(a.setup.machine.legs, found, strict=bool(found))):
        need = platforms[0]
        if need.thickness_m == 0.0:
            continue
        id, title = f"platform-{leg.name}", f"Thickness of the working platform under {leg.name}"
        limit, who = depth_limit(a, k, need)
        words: dict[str, Any] = {"quantity": "length_m", "where": need.governs}
        words["remedy"] = "Use a larger mat or move the outrigger to better ground."
        if np.isnan(need.thickness_m):
            title = f"{title}: none will do"
            rows.append(no_data_check(id, title, reference=METHOD, **words))
            continue
        reference = f"{METHOD}; limit: {who}"
        rows.append(limit_check(id, title, value=need.thickness_m, limit=limit,
                                reference=reference, **words))  # fmt: skip
    return rows


PLATFORM_COLUMNS = (
    "Outrigger", "Mat", "Platform needed", "Extent beyond the mat, every side", "Size in plan",
    "May be dug to", "Spread alone (2 : 1)", "Governed by",
)  # fmt: skip


def platform_rows(a: LiftAssessment, found: Sequence[Sequence[Platform]], show: Show) -> list[Row]:
    """What each outrigger needs below its mat, and below the next larger ones."""
    mats, rows = {m.id: m for m in a.job.mats}, []
    for k, platforms in enumerate(found):
        name = a.setup.machine.legs[k].name
        for n, one in enumerate(platforms):
            mat, cells = mats[one.mat], ["none needed", *["–"] * 4]
            if np.isnan(one.thickness_m):
                cells[0] = "none will do"
            elif one.thickness_m > 0:
                limit, who = depth_limit(a, k, one)
                deep = "" if one.thickness_m <= limit else ": TOO DEEP"
                plan = (
                    show(x + 2 * one.extent_m, "length_m", "up")
                    for x in (mat.length_m, mat.width_m)
                )
                cells = [show(one.thickness_m, "length_m", "up") + deep,
                         show(one.extent_m, "length_m", "up"), " × ".join(plan),
                         f"{show(limit, 'length_m', 'down')}: {who}",
                         show(one.spread_m, "length_m")]  # fmt: skip
            which = "of the lift" if n == 0 else "larger, in stock"
            rows.append((name, f"{one.mat} ({which})", *cells, one.governs))
    return rows
