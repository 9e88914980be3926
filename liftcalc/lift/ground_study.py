"""Ground and mat study of one lift, leg by leg, and what lies between and beside the legs.

Settlement, tilt and radius are iterated to agreement (:mod:`liftcalc.ground.level`); services and
walls feel all mats together, and so do deeper layers below each leg.

Sources: those of the modules that it puts together.
"""

from dataclasses import dataclass

import numpy as np

from liftcalc.base.errors import ConvergenceError, InputError
from liftcalc.facts.surveyed import RetainingWall
from liftcalc.ground.level import LevelledState
from liftcalc.ground.mat_properties import MatProperties
from liftcalc.lift.ground_facts import ground_safety, mat_properties
from liftcalc.lift.ground_level import levelled_legs
from liftcalc.lift.ground_services import ServiceUnderMats, services_under_mats, wall_pressure
from liftcalc.lift.leg_forces import LegForces
from liftcalc.lift.leg_ground import LegGround, leg_grounds, with_neighbours
from liftcalc.lift.placing import Placing
from liftcalc.lift.setup import Setup


@dataclass(frozen=True, eq=False)
class GroundStudy:
    """All four legs in the order FL, FR, RR, RL, and what lies between and beside them."""

    legs: tuple[LegGround, ...]
    mat: MatProperties
    levelled: LevelledState | None
    level_problem: str
    services: tuple[ServiceUnderMats, ...]
    walls: tuple[tuple[RetainingWall, float, float], ...]
    """Wall, greatest sideways pressure [kPa], and the depth at which it acts [m]."""
    safety_words: str


def ground_study(setup: Setup, place: Placing, forces: LegForces) -> GroundStudy:
    """Mat, bearing, settlement, level and neighbours under the greatest force of each leg.

    Raises: Ground that cannot be judged (voids, missing water level, contradictory layers), a mat
      on no ground zone, a float larger than its mat, or a machine that tips on its path.
    """
    if not np.all(np.isfinite(forces.design_kN)):
        raise InputError.of(
            "leg forces", "no equilibrium on the path", "a machine that stays on its legs",
            "See the lift check: the machine tips over before the ground matters.",
        )  # fmt: skip
    mat = mat_properties(setup.mat)
    legs = leg_grounds(setup, place, mat, forces.design_kN)
    stiffness = np.array([leg.stiffness_kN_m for leg in legs])
    levelled, problem = None, ""
    if np.all(np.isfinite(stiffness)):
        try:
            levelled = levelled_legs(setup, forces, stiffness)
        except ConvergenceError as error:
            problem = str(error)
    reaction = np.concatenate([forces.on_path.reaction_kN, forces.empty.reaction_kN])
    pressure = (reaction + mat.weight_kN) / np.array([g.area_m2 for g in legs])
    return GroundStudy(
        legs=with_neighbours(setup, place, mat, legs, pressure),
        mat=mat,
        levelled=levelled,
        level_problem=problem,
        services=services_under_mats(setup, legs, pressure),
        walls=tuple(
            (wall, *wall_pressure(place, forces.design_kN, wall))
            for wall in setup.site.retaining_walls
        ),
        safety_words=ground_safety(setup)[1],
    )


def study_ground(setup: Setup, place: Placing, forces: LegForces) -> GroundStudy | None:
    """Ground study, or None where the machine tips over on its path."""
    return ground_study(setup, place, forces) if forces.stands else None
