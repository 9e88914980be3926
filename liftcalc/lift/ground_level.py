"""Out of level as the legs settle under the load: iterated state, and its check row.

Sources: :mod:`liftcalc.ground.level`; limit: machine data.
"""

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check, limit_check, no_data_check
from liftcalc.base.units import G_M_S2
from liftcalc.ground.level import LevelledState, levelled_state
from liftcalc.lift.leg_forces import LegForces
from liftcalc.lift.setup import Setup, boom_states
from liftcalc.reactions.carrier import leg_reactions_kN
from liftcalc.reactions.moments import resultant


def levelled_legs(setup: Setup, forces: LegForces, stiffness: FloatArray) -> LevelledState:
    """Settlement, tilt and radius at every step of the path, on ground of that stiffness [kN/m]."""
    path = forces.path
    slew = np.radians(path.slew_deg)
    boom = boom_states(setup.machine, setup.boom, path.radius_m)
    bare = resultant(
        path.slew_deg, boom, base=setup.base, masses=setup.masses, load_t=0.0, layout="pairs"
    )
    load = float(setup.gross.dynamic_gross_t)
    total = bare.total_t + load
    springs = 1.0 / (
        1.0 / np.array([leg.stiffness_kN_m for leg in setup.machine.legs]) + 1.0 / stiffness
    )

    def reactions(radius_m: FloatArray, sideways_m: FloatArray) -> FloatArray:
        x = radius_m * np.cos(slew) - sideways_m * np.sin(slew)
        y = radius_m * np.sin(slew) + sideways_m * np.cos(slew)
        centre = np.stack(
            [
                (bare.x_m * bare.total_t + load * x) / total,
                (bare.y_m * bare.total_t + load * y) / total,
            ],
            axis=-1,
        )
        return leg_reactions_kN(
            total * G_M_S2, centre, leg_xy_m=setup.leg_xy_m, leg_stiffness_kN_m=springs
        ).reaction_kN

    return levelled_state(
        reactions,
        lambda reaction: reaction / stiffness,
        leg_x_m=setup.leg_xy_m[:, 0],
        leg_y_m=setup.leg_xy_m[:, 1],
        slew_deg=path.slew_deg,
        radius_m=path.radius_m,
        head_height_m=boom.head_z_m,
        limit_percent=setup.permitted_tilt_percent,
        setup_tilt_x=setup.lift.stand.tilt_x_percent / 100,
        setup_tilt_y=setup.lift.stand.tilt_y_percent / 100,
    )


def level_row(setup: Setup, levelled: LevelledState | None, problem: str) -> Check:
    """Out of level with settlement; over the limit where it does not come to rest (*problem*)."""
    limit = setup.permitted_tilt_percent
    if problem:
        return limit_check(
            "tilt",
            "Tilt by settlement: the machine keeps leaning further",
            value=float("inf"),
            limit=limit,
            quantity="percent",
            reference=problem,
            remedy="Use larger mats or better ground.",
        )
    if levelled is None:
        return no_data_check(
            "tilt",
            "Tilt by settlement: no modulus known",
            quantity="percent",
            reference="survey",
            remedy="Give Young's modulus or a subgrade modulus for every zone in use.",
        )
    return limit_check(
        "tilt",
        "Out-of-level with settlement under load",
        value=float(np.max(levelled.level.slope_percent)),
        limit=limit,
        quantity="percent",
        reference="reaction, settlement, tilt and radius iterated; limit: machine data",
        where=f"radius grows {float(np.max(levelled.radius_growth_m)) * 1000:.0f} mm at most",
        remedy="Use larger mats, better ground or re-level during the lift.",
    )
