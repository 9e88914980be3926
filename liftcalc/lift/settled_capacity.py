"""Rated capacity at the radius to which settling ground lets the boom head lean out.

The chart holds for the radius under load. The planned radius is that radius on the machine as set
up; what the legs settle under the load comes on top, unless the operator luffs up. A row of the
chart may end in between. Sideways movement is left out: it is smaller than a degree of slew.

Source: plane geometry of :func:`liftcalc.ground.level.levelled_state`; the charts.
"""

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check, limit_check, no_data_check
from liftcalc.crane.masses import tilted_radius_m
from liftcalc.crane.sectors import ESTIMATE, SOURCES
from liftcalc.ground.level import LevelledState
from liftcalc.lift.conditions import CONDITION_REMEDY, condition_of, confirmation_words
from liftcalc.lift.path import LoadPath
from liftcalc.lift.path_study import capacity_at
from liftcalc.lift.persons import PERSONS_CAPACITY_SHARE
from liftcalc.lift.setup import Setup, boom_states


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
    growth = _radius_growth_m(setup, state, path)
    radius = path.radius_m + growth
    title = "Gross load to rated capacity at the radius that settlement makes"
    reference = "maker's charts at the radius grown by settlement"
    remedy = "Luff up as the machine settles, use larger mats, or plan a smaller radius."

    def no_data(step: int, title: str, remedy: str) -> Check:
        return no_data_check(
            "capacity-settled",
            title,
            quantity="mass_t",
            value=setup.gross_t,
            reference=reference,
            where=path.describe(step),
            remedy=remedy,
        )

    if not np.all(radius <= setup.boom.radius_max_m):
        return no_data(int(np.argmax(radius)), f"{title}: beyond the reach of the boom", remedy)
    settled = capacity_at(setup, path.slew_deg, radius)
    missing = settled.source >= ESTIMATE
    if missing.any():
        ask = "Set the legs to a base of the charts, or ask the maker for this layout."
        return no_data(int(np.argmax(missing)), title, ask)
    least = np.flatnonzero(settled.capacity_t <= settled.capacity_t.min())
    step = int(least[np.argmax(radius[least])])
    limit = float(settled.capacity_t[step]) * share
    condition, where = condition_of(settled, path)
    chart = f"{SOURCES[int(settled.source[step])]} ({settled.chart_name(step)})"
    return limit_check(
        "capacity-settled",
        title,
        value=setup.gross_t,
        limit=limit,
        quantity="mass_t",
        reference=f"{reference}: {chart}" + confirmation_words(setup, settled, step),
        where=f"{path.describe(step)}, {1000 * growth[step]:.0f} mm more{where}",
        remedy=CONDITION_REMEDY if setup.gross_t <= limit else remedy,
        condition=condition,
    )


def _radius_growth_m(setup: Setup, state: LevelledState, path: LoadPath) -> FloatArray:
    """By how much the radius of each step grows as the legs settle; not below 0."""
    slew = np.radians(path.slew_deg)
    boom = boom_states(setup.machine, setup.boom, path.radius_m)
    toward_load = np.tan(np.radians(setup.tilt_x_deg)) * np.cos(slew)
    toward_load += np.tan(np.radians(setup.tilt_y_deg)) * np.sin(slew)
    set_up = np.degrees(np.arctan(toward_load))
    before = tilted_radius_m(path.radius_m, boom.head_z_m, tilt_toward_load_deg=set_up)
    return np.asarray(np.maximum(state.radius_m - before, 0.0))
