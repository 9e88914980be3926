"""Which ground cannot carry a leg for certain: a quick screen before the full ground study.

For each ground zone the mat check of :mod:`liftcalc.ground.check` is run over a ladder of
forces, without the limit that a neighbouring leg sets to load spread (which only lowers what is
allowed). Above the least rung that fails the mat fails for certain; below it the full study
decides.
"""

import numpy as np
from shapely.geometry import Polygon

from liftcalc.base.errors import InputError
from liftcalc.ground.check import BearingRule, mat_on_ground
from liftcalc.lift.ground_facts import ground_profile, ground_safety, mat_properties
from liftcalc.lift.setup import Setup

LADDER_KN = np.concatenate([np.arange(10.0, 400.0, 10.0), np.arange(400.0, 3000.0, 50.0)])


def most_force_by_zone_kN(setup: Setup) -> dict[str, float]:
    """Leg force above which the lift's mat fails on each ground zone; 0 where it may not stand."""
    mat = mat_properties(setup.mat)
    rule = BearingRule(ground_safety(setup)[0], setup.rules.ground.method)
    leg = min(setup.machine.legs, key=lambda one: one.float_length_m * one.float_width_m)
    most: dict[str, float] = {}
    for zone in setup.site.zones:
        if not Polygon(zone.polygon).area > 0:
            continue
        try:
            profile = ground_profile(setup.site.profile(zone.profile), mat.width_m)
            check = mat_on_ground(
                mat,
                LADDER_KN,
                profile,
                rule,
                float_length_m=leg.float_length_m,
                float_width_m=leg.float_width_m,
            ).check
        except InputError:
            most[zone.id] = 0.0
            continue
        failed = check.utilisation > 1.0
        most[zone.id] = float(LADDER_KN[np.argmax(failed)]) if failed.any() else float("inf")
    return most
