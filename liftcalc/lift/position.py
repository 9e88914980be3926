"""The machine at one slew and radius: capacity, stability, height and leg reactions there.

The same studies as along the path, for a path of one step; no method of its own and no published source.
"""

from dataclasses import dataclass

import numpy as np

from liftcalc.base.errors import InputError
from liftcalc.crane.sectors import SOURCES, CapacityBySlew
from liftcalc.lift.leg_forces import LegForces, leg_forces
from liftcalc.lift.leg_springs import leg_supports
from liftcalc.lift.path import LoadPath
from liftcalc.lift.path_study import PathStudy, capacity_circle, study_path
from liftcalc.lift.setup import Setup, boom_states, to_site_m, with_rope


@dataclass(frozen=True, eq=False)
class PositionStudy:
    """One position of the boom with the lift's load on the hook."""

    setup: Setup
    slew_deg: float
    radius_m: float
    study: PathStudy
    """Arrays of one step."""
    circle: CapacityBySlew
    """Capacity at this radius for every degree of slew, shape (360, 1)."""
    forces: LegForces
    """Reactions at this position and, at this radius, for every degree of slew."""

    @property
    def place_site_m(self) -> tuple[float, float]:
        """Easting and northing under the hook."""
        a = np.radians(self.slew_deg)
        xy = to_site_m(self.radius_m * np.array([np.cos(a), np.sin(a)]), self.setup.lift)
        return round(float(xy[0]), 3), round(float(xy[1]), 3)

    @property
    def source(self) -> str:
        """What governs the capacity, in words."""
        return SOURCES[int(self.study.capacity.source[0])]


def position_study(setup: Setup, slew_deg: float, *, radius_m: float, level_m: float | None = None) -> PositionStudy:
    """Study one position of the boom.

    Parameters:
      slew_deg: From +x, anticlockwise from above. [deg]
      radius_m: Between the least and the greatest radius of the boom length. [m]
      level_m: optional. Level of the load's underside; the lift's carry level if left out. [m]
    Raises: A radius that the boom cannot reach, or a slew that is not finite.
    """
    boom = setup.boom
    if not boom.radius_min_m - 1e-9 <= radius_m <= boom.radius_max_m + 1e-9:
        reach = f"{boom.radius_min_m:.2f} to {boom.radius_max_m:.2f} with boom {boom.length_m:g} m"
        raise InputError.of("radius_m", radius_m, reach, "Change the radius or the boom length.")
    if not np.isfinite(slew_deg):
        raise InputError.of("slew_deg", slew_deg, "a finite number")
    level = setup.lift.carry_level_m if level_m is None else level_m
    head = float(boom_states(setup.machine, boom, radius_m).head_z_m[0])
    hook = level - setup.lift.stand.level_m + setup.hanging.hook_height_m
    setup = with_rope(setup, head - hook)
    path = LoadPath(slew_deg=np.array([slew_deg], dtype=np.float64),
                    radius_m=np.array([radius_m], dtype=np.float64),
                    level_m=np.array([level], dtype=np.float64), stage=("slew",),
                    distance_m=np.zeros(1))  # fmt: skip
    return PositionStudy(setup=setup, slew_deg=float(slew_deg), radius_m=float(radius_m),
                         study=study_path(setup, path), circle=capacity_circle(setup, radius_m),
                         forces=leg_forces(setup, path, leg_supports(setup)))  # fmt: skip
