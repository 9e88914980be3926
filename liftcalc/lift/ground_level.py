"""What settling legs change: the level, and the rated capacity at the radius that grows by it.

The chart holds for the radius under load. The planned radius is that radius on the machine as set
up; what the legs settle under the load comes on top, unless the operator luffs up. A row of the
chart may end in between. Sideways movement is left out: it is smaller than a degree of slew.

Sources: plane geometry of :func:`liftcalc.ground.level.levelled_state`; the charts; limit of level:
machine data.
"""

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check
from liftcalc.base.units import G_M_S2
from liftcalc.crane.masses import tilted_radius_m
from liftcalc.crane.sectors import ESTIMATE, SOURCES
from liftcalc.ground.level import LevelledState, levelled_state
from liftcalc.lift.check_rows import check_row
from liftcalc.lift.conditions import CONDITION_REMEDY, condition_of, confirmation_words
from liftcalc.lift.leg_forces import LegForces
from liftcalc.lift.path import LoadPath
from liftcalc.lift.path_study import capacity_at
from liftcalc.lift.persons import PERSONS_CAPACITY_SHARE
from liftcalc.lift.setup import Setup, boom_states
from liftcalc.reactions.carrier import leg_reactions_kN
from liftcalc.reactions.moments import resultant


def settled_capacity_check(setup: Setup, state: LevelledState, path: LoadPath) -> Check | None:
    """Rated capacity at the radius to which settlement lets the boom head lean out.

    None where the planned radius already is over its limit or has no data: the lift check says so.
    """
    share = setup.usable_ratio
    if setup.lift.persons:
        share = min(share, PERSONS_CAPACITY_SHARE)
    planned = capacity_at(setup, path.slew_deg, path.radius_m)
    enough = planned.capacity_t * share >= setup.gross_t
    if not np.all(enough & (planned.source < ESTIMATE)):
        return None
    growth = radius_growth_m(setup, state, path)
    radius = path.radius_m + growth
    luff = "Luff up as the machine settles, use larger mats, or plan a smaller radius."
    if not np.all(radius <= setup.boom.radius_max_m):
        return check_row("capacity-settled", setup.gross_t, None, ask=luff,
                         beyond=": beyond the reach of the boom",
                         step=path.describe(int(np.argmax(radius))))  # fmt: skip
    settled = capacity_at(setup, path.slew_deg, radius)
    missing = settled.source >= ESTIMATE
    if missing.any():
        ask = "Set the outriggers to a base of the charts, or ask the manufacturer for this layout."
        return check_row("capacity-settled", setup.gross_t, None, ask=ask, beyond="",
                         step=path.describe(int(np.argmax(missing))))  # fmt: skip
    least = np.flatnonzero(settled.capacity_t <= settled.capacity_t.min())
    step = int(least[np.argmax(radius[least])])
    condition, where = condition_of(settled, path)
    chart = f"{SOURCES[int(settled.source[step])]} ({settled.chart_name(step)})"
    return check_row("capacity-settled", setup.gross_t, float(settled.capacity_t[step]) * share,
                     chart=chart + confirmation_words(setup, settled, step), luff=luff,
                     step=path.describe(step), growth=1000 * float(growth[step]),
                     on_condition=where, condition=condition, met=CONDITION_REMEDY)  # fmt: skip


def radius_growth_m(setup: Setup, state: LevelledState, path: LoadPath) -> FloatArray:
    """By how much the radius of each step grows as the legs settle; not below 0."""
    slew = np.radians(path.slew_deg)
    boom = boom_states(setup.machine, setup.boom, path.radius_m)
    toward_load = np.tan(np.radians(setup.tilt_x_deg)) * np.cos(slew)
    toward_load += np.tan(np.radians(setup.tilt_y_deg)) * np.sin(slew)
    set_up = np.degrees(np.arctan(toward_load))
    before = tilted_radius_m(path.radius_m, boom.head_z_m, tilt_toward_load_deg=set_up)
    return np.asarray(np.maximum(state.radius_m - before, 0.0))


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
    legs = np.array([leg.stiffness_kN_m for leg in setup.machine.legs])
    springs = 1.0 / (1.0 / legs + 1.0 / stiffness)

    def reactions(radius_m: FloatArray, sideways_m: FloatArray) -> FloatArray:
        x = radius_m * np.cos(slew) - sideways_m * np.sin(slew)
        y = radius_m * np.sin(slew) + sideways_m * np.cos(slew)
        both = ((bare.x_m, x), (bare.y_m, y))
        centre = np.stack([(b * bare.total_t + load * of) / total for b, of in both], axis=-1)
        return leg_reactions_kN(
            total * G_M_S2, centre, leg_xy_m=setup.leg_xy_m, leg_stiffness_kN_m=springs
        ).reaction_kN

    return levelled_state(reactions, lambda reaction: reaction / stiffness,
                          leg_x_m=setup.leg_xy_m[:, 0], leg_y_m=setup.leg_xy_m[:, 1],
                          slew_deg=path.slew_deg, radius_m=path.radius_m,
                          head_height_m=boom.head_z_m, limit_percent=setup.permitted_tilt_percent,
                          setup_tilt_x=setup.lift.stand.tilt_x_percent / 100,
                          setup_tilt_y=setup.lift.stand.tilt_y_percent / 100)  # fmt: skip


def level_row(setup: Setup, levelled: LevelledState | None, problem: str) -> Check:
    """Out of level with settlement; over the limit where it does not come to rest (*problem*)."""
    limit = setup.permitted_tilt_percent
    if problem:
        return check_row("tilt unstable", float("inf"), limit, problem=problem)
    if levelled is None:
        return check_row("tilt", None, None)
    return check_row("tilt", float(np.max(levelled.level.slope_percent)), limit,
                     growth=1000 * float(np.max(levelled.radius_growth_m)))  # fmt: skip
