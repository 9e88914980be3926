"""A load path planned by the search of :mod:`liftcalc.clearance.loadpath` on the lift's own facts.

The planner keeps every clearance of the lift check, with the load's swing, and enters no place
over its rated capacity or without capacity data. Its corners become the lift's waypoints, and the
lift check then judges that path like any other.
"""

import dataclasses

import numpy as np
from pydantic import ValidationError

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import verdict
from liftcalc.base.text import Show
from liftcalc.clearance.lattice import PathAxes
from liftcalc.clearance.loadpath import PathBlockedError, PlannedPath, plan_load_path
from liftcalc.crane.boom_bending import bow_share
from liftcalc.crane.sectors import ESTIMATE
from liftcalc.facts.base import input_error
from liftcalc.facts.job import Job
from liftcalc.facts.lift import Waypoint
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.boom_setting import boom_bend, loaded_head_z_m
from liftcalc.lift.path import bearing_and_radius
from liftcalc.lift.path_study import capacity_grid
from liftcalc.lift.site_obstacles import site_obstacles
from liftcalc.lift.wind_checks import swing_deg

BESIDE_M = 0.1
"""Kept on top of every distance, beside lean and bow: the lift check looks closer."""


def planned_path(lift: LiftAssessment) -> PlannedPath:
    """Quickest path from pick to set-down by slew, luff and hoist that keeps every clearance.

    Raises: PathBlockedError: No way; what shuts it is named. Too many states.
    """
    setup, fact = lift.setup, lift.setup.lift
    stand = fact.stand
    pick_slew, pick_radius = bearing_and_radius(fact, fact.pick)
    set_slew, set_radius = bearing_and_radius(fact, fact.set_down)
    heights = [p.level_m - stand.level_m for p in (fact.pick, fact.set_down)]
    carry = fact.carry_level_m - stand.level_m
    reach = min(setup.boom.radius_max_m, max(pick_radius, set_radius) + 3.0)
    least = min(setup.boom.radius_min_m, pick_radius, set_radius)
    swing = swing_deg(setup, lift.path, lift.study.boom)
    ends = np.array([least, max(pick_radius, set_radius)])
    bend, _ = boom_bend(setup, ends)
    bow = float(bow_share(0.44)) * float(bend.tip_m.max())
    head = np.hypot(ends, loaded_head_z_m(setup, bend))
    more = BESIDE_M + bow + setup.tilt_any_percent / 100.0 * float(head.max())

    def used(slew: FloatArray, radius: FloatArray) -> FloatArray:
        rated = capacity_grid(setup, slew, radius)
        share: FloatArray = setup.gross_t / rated.capacity_t
        return np.where(rated.source < ESTIMATE, share / setup.usable_ratio, np.inf)

    return plan_load_path(
        setup.shape, dataclasses.replace(setup.hung, swing_deg=swing),
        obstacles=[
            o if o.kind in ("people", "no-overfly")
            else dataclasses.replace(o, required_m=o.required_m + more)
            for o in site_obstacles(setup.site, setup.rules, persons=setup.lift.persons)
        ],
        stand=(stand.easting_m, stand.northing_m, stand.level_m, stand.heading_deg),
        pick=(pick_slew, pick_radius, heights[0]), set_down=(set_slew, set_radius, heights[1]),
        axes=PathAxes(
            radius_m=(least, reach), load_base_height_m=(min(heights), max(carry, *heights) + 2.0),
            boom_length_m=setup.boom.length_m, slew_step_deg=5.0, radius_step_m=1.0, height_step_m=1.0,
        ),
        utilisation=used, load_to_boom_m=setup.rules.clearance.load_m,
        head_room_m=setup.rules.clearance.head_room_m
        + setup.machine.boom.two_block_clearance_m
        + setup.machine.hook_block(fact.hook_block).height_m,
        carry_height_m=max(*heights) + 0.3,
    )  # fmt: skip


def job_with_path(job: Job, lift_id: str, path: PlannedPath) -> Job:
    """The job with the planned path as the waypoints of one lift."""
    own = job.for_lift(lift_id)
    lift = own.lifts[0]
    points = tuple(
        Waypoint(
            slew_deg=float(path.slew_deg[k]), radius_m=float(path.radius_m[k]),
            level_m=float(path.load_base_height_m[k]) + lift.stand.level_m,
        )
        for k in path.corners[1:-1]
    )  # fmt: skip
    highest = max((p.level_m for p in points), default=lift.carry_level_m)
    carry = max(min(highest, lift.carry_level_m), lift.pick.level_m, lift.set_down.level_m)
    moved = lift.model_copy(update={"via": points, "slew_way": "shortest", "carry_level_m": carry})
    try:
        return own.with_lift(moved)
    except ValidationError as error:
        raise input_error(error) from None


def path_rows(path: PlannedPath, show: Show) -> list[tuple[str, ...]]:
    """Corners of a planned path: motion that leads there, slew, radius, height, time."""
    return [
        (
            str(n), path.motion[k], show(float(path.slew_deg[k]), "slew_deg"),
            show(float(path.radius_m[k]), "length_m"),
            show(float(path.load_base_height_m[k]), "length_m"), f"{path.time_s[k]:.0f} s",
        )
        for n, k in enumerate(path.corners)
    ]  # fmt: skip


def planned_path_rows(lift: LiftAssessment, show: Show) -> list[tuple[str, ...]]:
    """Corners of a planned path and what the lift check says of it, or what blocks it."""
    try:
        path = planned_path(lift)
    except PathBlockedError as error:
        return [("–", "no path", str(error), "–", "–", "–")]
    again = assess_lift(job_with_path(lift.job, lift.setup.lift.id, path), lift.setup.lift.id)
    judged = verdict(again.lift)
    failed = "; ".join(c.title for c in judged.failed)
    words = f"not within: {failed}" if failed else judged.head[0].lower() + judged.head[1:]
    last = ("–", "lift check of this path", words, "–", "–", f"{path.time_s[-1]:.0f} s")
    return [*path_rows(path, show), last]
