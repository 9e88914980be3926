"""Facts of the job as the ground check takes them: mats, layers, safety and the ground rule.

Source: halved characteristic strengths of mats: common practice, no published source.
"""

import numpy as np
import shapely
from shapely.geometry import Polygon

from liftcalc.base.errors import InputError
from liftcalc.facts.ground import SurveyedProfile
from liftcalc.facts.mats import Mat
from liftcalc.ground.check import BearingRule
from liftcalc.ground.mat_properties import MatProperties
from liftcalc.ground.presumptive import presumptive_pressure
from liftcalc.ground.profile import GroundLayer, GroundProfile
from liftcalc.ground.safety import EN1997_DA1, Safety, global_factor
from liftcalc.lift.placing import Placing
from liftcalc.lift.setup import Setup

STRENGTH_DIVISOR = 2.0
"""Divides a characteristic strength of a mat: common practice, no published source."""

_INDEX = {"liquid_limit_percent", "plasticity_index_percent"}


def mat_properties(mat: Mat) -> MatProperties:
    """Plain properties of a mat; characteristic strengths are halved."""
    basis = mat.strength_basis
    return MatProperties(
        name=mat.id, length_m=mat.length_m, width_m=mat.width_m, thickness_m=mat.thickness_m,
        mass_t=mat.mass_t, material=mat.material, modulus_kPa=mat.youngs_modulus_kPa,
        bending_strength_kPa=mat.bending_strength_kPa, shear_strength_kPa=mat.shear_strength_kPa,
        crushing_strength_kPa=mat.bearing_strength_kPa, strength_basis=basis, strength_divisor=1.0
        if basis == "allowable" else STRENGTH_DIVISOR, across=mat.across,
        section_modulus_m3=mat.section_modulus_m3, second_moment_m4=mat.second_moment_m4,
        shear_area_m2=mat.shear_area_m2,
    )  # fmt: skip


def shelf_order(mat: Mat) -> tuple[float, float]:
    """Order in which mats of the shelf are tried: by area, then by mass."""
    return mat.length_m * mat.width_m, mat.mass_t


def water_m(fact: SurveyedProfile) -> float | None:
    """Depth of the water, or to which none was found: there it is taken to stand. [m]"""
    return fact.no_water_to_m if fact.water_depth_m is None else fact.water_depth_m


def ground_profile(fact: SurveyedProfile, width_m: float) -> GroundProfile:
    """Plain ground profile; a presumptive class, where named, is looked up for the top layer."""
    value, source = None, ""
    if fact.presumptive is not None:
        printed = presumptive_pressure(
            fact.presumptive.table,  # type: ignore[arg-type]
            fact.presumptive.name, width_m=width_m, water_below_base_m=water_m(fact),
        )  # fmt: skip
        value, source = printed.allowable_kPa, printed.source
    layers = tuple(
        GroundLayer(**layer.model_dump(exclude=_INDEX), presumptive_kPa=value if k == 0 else None,
                    presumptive_source=source if k == 0 else "")
        for k, layer in enumerate(fact.layers)
    )  # fmt: skip
    return GroundProfile(layers=layers, water_depth_m=fact.water_depth_m,
                         water_not_found_to_m=fact.no_water_to_m, voids=fact.voids,
                         name=fact.id)  # fmt: skip


def leg_spacing_m(setup: Setup) -> float:
    """Least distance between two legs; load spread to deep layers stops at the neighbour."""
    xy = setup.leg_xy_m
    apart = np.linalg.norm(xy[:, None] - xy[None, :], axis=-1)
    return float(apart[np.triu_indices(len(xy), 1)].min())


def ground_safety(setup: Setup) -> tuple[tuple[Safety, ...], str]:
    """Safety set of the owner's ground rule, and its words for the sheet."""
    rule = setup.rules.ground
    if rule.safety == "en1997 DA1":
        return tuple(EN1997_DA1), "EN 1997-1 design approach 1, both combinations"
    words = f"factor of safety {rule.factor_of_safety:g} ({rule.reference})"
    return (global_factor(rule.factor_of_safety, source=rule.reference),), words


def bearing_rule(setup: Setup) -> BearingRule:
    """How the ground under the legs of this lift is judged."""
    return BearingRule(ground_safety(setup)[0], setup.rules.ground.method, leg_spacing_m(setup))


def zones_under(setup: Setup, place: Placing, k: int) -> list[str]:
    """Ground zones under one mat; InputError unless they cover it."""
    shapes = {z.id: Polygon(z.polygon) for z in setup.site.zones}
    touched = [z.strip() for z in place.zones[k].split(",") if z.strip()]
    mat = place.mats[k]
    bare = mat.difference(shapely.union_all([shapes[z] for z in touched])) if touched else mat
    if bare.area > 1e-6 * mat.area:
        raise InputError.of(f"mat {setup.machine.legs[k].name}",
                            f"{100 * bare.area / mat.area:.0f} % outside every ground zone",
                            "wholly within zones of known ground",
                            "Survey that ground or move the outrigger.")  # fmt: skip
    return touched
