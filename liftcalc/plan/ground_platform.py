"""Working platform below the lift's mat: how thick and wide, of the job's fill, by outrigger.

The fill takes the place of the ground from the surface down. A thickness will do when the mat on the ground so changed
is within every limit of the owner's ground rule, neighbours included, and when the BR 470 form asks for no more on any
layer within one width below it: neither was made for a mat under an outrigger on layered ground.

Sources: those of :mod:`liftcalc.ground.check` and :mod:`liftcalc.ground.platform`. Extent: what
:func:`liftcalc.lift.placing.beside_m` counts as ground under a mat, and 45 degrees through the
fill; own statement, no published source.
"""

import dataclasses
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.base.errors import InputError
from liftcalc.base.text import Show, amount
from liftcalc.facts.ground import PlatformFill, SurveyedProfile
from liftcalc.ground.check import MatOnGround, mat_on_ground, neighbour_stress
from liftcalc.ground.platform import working_platform
from liftcalc.ground.profile import GroundLayer, GroundProfile, layer_tops_m
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.check_rows import check_row
from liftcalc.lift.ground_facts import bearing_rule, ground_profile, water_m
from liftcalc.lift.ground_sections import things_of
from liftcalc.lift.ground_tables import Row
from liftcalc.lift.leg_ground import bending_on, mats_in_plan
from liftcalc.lift.placing import beside_m

THINNEST_M, THICKEST_M, STEP_M = 0.3, 2.0, 0.1
"""Thicknesses tried: none thinner is laid (the minimum of BR 470), none thicker is answered. [m]"""
PLATFORM_COLUMNS = (
    "Outrigger", "Mat", "Platform thickness", "Extent beyond the mat, each side", "Size in plan",
    "Maximum excavation depth", "Governed by",
)  # fmt: skip
_NO_FILL = "no fill stated in rules.ground.platform_fill"


@dataclass(frozen=True)
class Platform:
    """What a mat needs below it, and how far beyond it on every side; 0 where nothing, NaN where none will do. [m]"""

    thickness_m: float
    extent_m: float
    governs: str


def with_fill(fact: SurveyedProfile, fill: PlatformFill, thickness_m: float, width_m: float) -> GroundProfile:
    """The ground with the fill in place of what lay above that depth.

    A platform that does not drain is full of water, and so is the ground below it.
    """
    ground = ground_profile(fact, width_m)
    layers = [GroundLayer(f"platform of {fill.name}", thickness_m, fill.unit_weight_kN_m3,
                          phi_deg=fill.phi_deg, c_kPa=0.0)]  # fmt: skip
    for layer, top in zip(ground.layers, layer_tops_m(ground), strict=True):
        left = top + layer.thickness_m - max(top, thickness_m)
        if left > 1e-9:
            layers.append(dataclasses.replace(layer, thickness_m=left))
    wet = {} if fill.drained else {"water_depth_m": 0.0, "water_not_found_to_m": None}
    return dataclasses.replace(ground, layers=tuple(layers), **wet)  # type: ignore[arg-type]


def br470_m(ground: GroundProfile, fill: PlatformFill, on: MatOnGround) -> tuple[float, str]:
    """Thickness by the BR 470 form below that mat, and what governs it; NaN where none will do.

    The first layer of *ground* is the fill. Each layer within one width below it counts as if the
    platform lay on it; ground stronger than the method was made for counts with its upper limit.
    """
    W, L = sorted((float(on.check.effective_width_m), float(on.check.effective_length_m)))
    worst, governs, depth = 0.0, "BR 470: none needed", ground.layers[0].thickness_m
    for layer, top in list(zip(ground.layers, layer_tops_m(ground), strict=True))[1:]:
        if top - depth >= W or np.isnan(worst):
            break
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
        if not float(design.thickness_m) <= worst:
            worst = float(design.thickness_m)
            governs = f"BR 470, {design.governing} on {layer.name}"
    return worst, governs


def _will_do(a: LiftAssessment, k: int, fill: PlatformFill, thickness_m: float) -> tuple[bool, str]:
    """Whether the mat of an outrigger will do on such a platform; what governs or hinders.

    The whole mat bends as on the ground without the fill.
    """
    assert a.ground is not None
    g, leg, mat = a.ground.legs[k], a.setup.machine.legs[k], a.ground.mat
    ground, rule = with_fill(g.profile, fill, thickness_m, mat.width_m), bearing_rule(a.setup)
    on = mat_on_ground(mat, g.reaction_kN, ground, rule, float_length_m=leg.float_length_m,
                       float_width_m=leg.float_width_m)  # fmt: skip
    governs, width = str(np.ravel(on.check.governs)[0]), float(on.check.effective_width_m)
    if governs == "ground":
        governs = f"{on.bearing.governing_name}, {on.bearing.governing_layer}"
    if not float(on.check.utilisation) <= 1.0:
        return False, governs
    if not bending_on(mat, g.profile, g.reaction_kN, width_m=width,
                      float_length_m=leg.float_length_m).utilisation <= 1.0:  # fmt: skip
        return False, "bending of the mat on the ground, or no modulus known"
    need, words = br470_m(ground, fill, on)
    if not need <= thickness_m:
        return False, words
    mats = mats_in_plan(a.setup, a.ground.legs)
    mats.length_m[k], mats.width_m[k] = float(on.check.effective_length_m), width
    pressure = (a.forces.states_kN + mat.weight_kN) / (mats.length_m * mats.width_m)
    stress = neighbour_stress(ground, rule, legs=[k], mats=mats, pressure_kPa=pressure)[0]
    if stress is not None and not stress.utilisation <= 1.0:
        return False, f"neighbours included: {stress.mechanism}, {stress.layer}"
    return True, governs


def leg_platform(a: LiftAssessment, k: int) -> Platform:
    """The thinnest platform of the job's fill that will do below the mat of one outrigger.

    Each answer is checked at its own thickness: that a thicker one would do as well is not implied.
    """
    assert a.ground is not None
    g, fill = a.ground.legs[k], a.setup.rules.ground.platform_fill
    layered = 0.0 if g.neighbours is None else g.neighbours.utilisation
    why = f"{g.mechanism}, {g.layer}"
    if g.utilisation <= 1.0 and g.elastic_bending.utilisation <= 1.0 and layered <= 1.0:
        return Platform(0.0, 0.0, why)
    if fill is None:
        return Platform(np.nan, np.nan, f"{why}; {_NO_FILL}")
    most = min(THICKEST_M, sum(layer.thickness_m for layer in g.profile.layers) - STEP_M)
    for thickness in np.arange(THINNEST_M, most + 1e-9, STEP_M).round(3).tolist():
        does, why = _will_do(a, k, fill, thickness)
        if does:
            return Platform(thickness, max(thickness, beside_m(a.setup.mat)), why)
    return Platform(np.nan, np.nan, f"none up to {amount(most, 'length_m')} will do: {why}")


@lru_cache(maxsize=2)
def leg_platforms(a: LiftAssessment) -> tuple[Platform, ...]:
    """What the mat of each outrigger needs below it; empty where the crane tips over."""
    return tuple(leg_platform(a, k) for k in range(len(a.ground.legs if a.ground else ())))


def depth_limit(a: LiftAssessment, k: int, extent_m: float) -> tuple[float, str]:
    """How deep the ground may be dug out for a platform, and what says so."""
    fill = a.setup.rules.ground.platform_fill
    assert fill is not None
    assert a.ground is not None
    limits = [(fill.permissible_depth_m, f"permissible depth ({fill.provenance.words})")]
    water = water_m(a.ground.legs[k].profile)
    if fill.drained and water is not None:
        limits.append((water, "water: a platform below its level does not drain"))
    dug = a.place.mats[k].buffer(extent_m, join_style="mitre")
    off = {s.id: s.stand_off_m for s in a.setup.site.services}
    for t in things_of(a.setup.site):
        if t.shape.intersects(dug):
            limits.append((max(t.depth_m - off[t.name], 0.0), f"crown of {t.name}, stand-off kept")
                          if t.name in off else (0.0, f"{t.name} within its extent"))  # fmt: skip
    return min(limits)


def platform_checks(a: LiftAssessment) -> list[Check]:
    """Thickness of the platform against the permissible depth, where the job says one is laid.

    A row for each outrigger whose mat alone does not do.
    """
    fill, rows = a.setup.rules.ground.platform_fill, []
    for k, need in enumerate(leg_platforms(a) if fill is not None and fill.used else ()):
        name, governs = a.setup.machine.legs[k].name, need.governs
        if np.isnan(need.thickness_m):
            rows.append(check_row("platform", None, None, part=name, governs=governs))
        elif need.thickness_m > 0.0:
            limit, who = depth_limit(a, k, need.extent_m)
            rows.append(check_row("platform", need.thickness_m, limit, part=name, governs=governs, who=who))
    return rows


def platform_rows(a: LiftAssessment, show: Show) -> list[Row]:
    """What each outrigger needs below its mat."""
    rows, mat = list[Row](), a.setup.mat
    for k, one in enumerate(leg_platforms(a)):
        cells = ("none will do" if np.isnan(one.thickness_m) else "none needed", "–", "–", "–")
        if one.thickness_m > 0.0:
            limit, who = depth_limit(a, k, one.extent_m)
            plan = " × ".join(show(x + 2.0 * one.extent_m, "length_m", "up") for x in (mat.length_m, mat.width_m))
            deep = "" if one.thickness_m <= limit else ": TOO DEEP"
            cells = (show(one.thickness_m, "length_m", "up") + deep,
                     show(one.extent_m, "length_m", "up"), plan,
                     f"{show(limit, 'length_m', 'down')}: {who}")  # fmt: skip
        rows.append((a.setup.machine.legs[k].name, mat.id, *cells, one.governs))
    return rows
