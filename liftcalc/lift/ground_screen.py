"""Which ground cannot carry a leg for certain: a quick screen before the full ground study.

For each ground zone the mat check of :mod:`liftcalc.lift.ground_study` is run over a ladder of
forces, without the limit that a neighbouring leg sets to load spread (which only lowers what is
allowed). Above the least rung that fails the mat fails for certain; below it the full study
decides. No published source of its own.
"""

from __future__ import annotations

import numpy as np
from shapely.geometry import Polygon

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError
from liftcalc.ground.allowable import allowable_pressure
from liftcalc.ground.mats import mat_check
from liftcalc.lift.ground_study import ground_profile, ground_safety, mat_properties
from liftcalc.lift.setup import Setup

__all__ = ["most_force_by_zone_kN"]

LADDER_KN = np.concatenate([np.arange(10.0, 400.0, 10.0), np.arange(400.0, 3000.0, 50.0)])


def most_force_by_zone_kN(setup: Setup) -> dict[str, float]:
    """Leg force above which the lift's mat fails on each ground zone; 0 where it may not stand."""
    mat = mat_properties(setup.mat)
    safety, _ = ground_safety(setup)
    leg = min(setup.machine.legs, key=lambda one: one.float_length_m * one.float_width_m)
    found: dict[str, float] = {}
    for zone in setup.site.zones:
        if not Polygon(zone.polygon).area > 0:
            continue
        try:
            profile = ground_profile(setup.site.profile(zone.profile), mat.width_m)

            def allowed(width: FloatArray, length: FloatArray) -> FloatArray:
                return allowable_pressure(
                    profile,  # noqa: B023 (used within this pass only)
                    width,
                    L_m=length,
                    V_kN=LADDER_KN + mat.weight_kN,
                    safety=safety,
                    method=setup.rules.ground.method,
                ).q_allowable_kPa

            check = mat_check(
                mat,
                LADDER_KN,
                allowable_kPa=allowed,
                float_length_m=leg.float_length_m,
                float_width_m=leg.float_width_m,
            )
        except InputError:
            found[zone.id] = 0.0
            continue
        failed = check.utilisation > 1.0
        found[zone.id] = float(LADDER_KN[np.argmax(failed)]) if failed.any() else float("inf")
    return found
