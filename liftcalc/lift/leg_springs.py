"""What each leg stands on, as a spring: the leg, its whole mat and the ground below.

Ground that gives more under one leg hands its share to the others, so a stiff carrier on unequal ground loads a leg
more than on equal springs. How stiff the ground is, is known to a factor of two at best (common practice, no published
source), and each kind of ground may be off for itself: the leg forces are therefore enveloped over the legs alone, on
ground as surveyed, and on every kind of ground half and twice as stiff. Reactions of a rigid carrier move one way only
as one kind of ground grows stiffer, so that anything between is covered; so is a carrier that twists, whose reactions
lie between those of the rigid and of the flexible one. Not covered: ground that differs from leg to leg within one
zone.

Sources: statics; :mod:`liftcalc.ground.stress` for the spring of a mat.
"""

import itertools

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.facts.ground import SurveyedProfile
from liftcalc.ground.stress import leg_stiffness_kN_m
from liftcalc.lift.placing import mats_and_zones
from liftcalc.lift.setup import Setup
from liftcalc.reactions.carrier import carrier_supports
from liftcalc.reactions.contact import Supports, build_supports

SCALES = (0.5, 2.0)
"""How much softer or stiffer the ground may be than surveyed."""
ON_GROUND = "rigid carrier on the ground's springs"


def least_modulus(profile: SurveyedProfile, width_m: float) -> tuple[float, float]:
    """Least Young's modulus of the layers within two mat widths, with its Poisson's ratio."""
    top, layers = 0.0, []
    for layer in profile.layers:
        if top >= 2.0 * width_m:
            break
        if layer.youngs_modulus_kPa is None or layer.poisson is None:
            return float("nan"), float("nan")
        layers.append((layer.youngs_modulus_kPa, layer.poisson))
        top += layer.thickness_m
    return min(layers)


def ground_spring_kN_m(profile: SurveyedProfile, *, mat_width_m: float, length_m: float, width_m: float) -> float:
    """Spring of the ground under a loaded area of a mat; NaN where no modulus is known."""
    modulus, poisson = least_modulus(profile, mat_width_m)
    if np.isfinite(modulus):
        return float(leg_stiffness_kN_m(modulus, poisson, length_m=length_m, width_m=width_m))
    if profile.subgrade_modulus_kN_m3 is not None:
        return profile.subgrade_modulus_kN_m3 * length_m * width_m
    return float("nan")


def whole_mat_spring_kN_m(setup: Setup, profile: str) -> float:
    """Spring of one ground as surveyed under the whole mat of the lift; NaN where unknown."""
    width, length = sorted((setup.mat.length_m, setup.mat.width_m))
    return ground_spring_kN_m(setup.site.profile(profile), mat_width_m=setup.mat.width_m,
                              length_m=length, width_m=width)  # fmt: skip


def _ground_springs_kN_m(setup: Setup) -> FloatArray | None:
    """Sets of ground springs, shape (S, 4): as surveyed, then every kind softer or stiffer.

    A mat on two kinds of ground counts on either. None where some ground's spring is not known:
    the settlement rows then read "no data".
    """
    zones = {z.id: z.profile for z in setup.site.zones}
    spring = dict[str, float]()
    under = [sorted({zones[z] for z in touched}) for touched in mats_and_zones(setup)[1]]
    for id in sorted({id for ids in under for id in ids}):
        spring[id] = whole_mat_spring_kN_m(setup, id)
    if not all(under) or not np.all(np.isfinite(list(spring.values()))):
        return None
    sets = set()
    for scales in ((1.0,) * len(spring), *itertools.product(SCALES, repeat=len(spring))):
        scaled = {id: k * s for (id, k), s in zip(spring.items(), scales, strict=True)}
        sets |= set(itertools.product(*([scaled[id] for id in ids] for ids in under)))
    return np.array(sorted(sets))


def leg_supports(setup: Setup) -> dict[str, Supports]:
    """The machine on its legs: rigid and flexible carrier, and rigid on the ground's springs.

    A carrier of the stated stiffness lies between rigid and flexible on any springs, and the flexible one does not feel
    springs, so only the rigid one is set on the ground, where the ground makes the springs unequal.
    """
    legs = np.array([leg.stiffness_kN_m for leg in setup.machine.legs])
    made = carrier_supports(setup.leg_xy_m, legs, carriers=("rigid", "flexible"))
    found = {f"{carrier} carrier": supports for carrier, supports in made.items()}
    ground = _ground_springs_kN_m(setup)
    if ground is None:
        return found
    springs = 1.0 / (1.0 / legs + 1.0 / ground)
    # springs in one proportion share the load alike, as those of the legs alone do already
    both = np.vstack([legs, springs])
    shares = np.round(both / both.max(axis=1)[:, None], 9)
    _, first = np.unique(shares, axis=0, return_index=True)
    if np.any(first > 0):
        found[ON_GROUND] = build_supports(setup.leg_xy_m, springs[np.sort(first[first > 0]) - 1])
    return found
