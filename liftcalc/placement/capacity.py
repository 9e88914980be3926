"""Capacity as the search reads it: rated capacity on a grid of slew and radius for any legs.

The search reads capacity from a grid, always the worst of the four grid points around a state, and only where it rests
on a maker's chart for a base inside the actual one: an estimate counts as nothing, and so does a chart carried over,
which the manufacturer would have to confirm for a layout that is not known yet. This is the search's own measure; every
place that it returns has passed the full check.

Sources: see :mod:`liftcalc.crane.capacity` and :mod:`liftcalc.reactions.carrier`.
"""

from dataclasses import dataclass, field
from typing import Literal, Protocol, get_args

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, refuse_unless
from liftcalc.base.units import G_M_S2
from liftcalc.crane.capacity import capacity_by_slew
from liftcalc.crane.chart import ChartTable, Interpolation, rated_capacity_t
from liftcalc.crane.legs import LEG_SIDE, base_polygon, leg_points_m
from liftcalc.crane.masses import BoomState, MachineMasses
from liftcalc.reactions.carrier import leg_reactions_kN
from liftcalc.reactions.moments import acting_point

SlewWay = Literal["shortest", "anticlockwise", "clockwise"]


class CapacitySource(Protocol):
    """What the search asks of a machine's capacity. Must be pure; must pickle for a cluster."""

    @property
    def slew_step_deg(self) -> float:
        """Step of the slew grid, a divisor of 360. [deg]"""

    @property
    def radius_m(self) -> FloatArray:
        """Radii of the grid, evenly spaced, shape (R,). [m]"""

    def capacity_t(self, extension_m: tuple[float, ...]) -> FloatArray:
        """Capacity with these legs, shape (360 / step, R); 0 where there is no data. [t]"""

    def ceiling_t(self) -> FloatArray:
        """What no legs and no slew can exceed at each radius, shape (R,). [t]"""

    def leg_force_kN(
        self, extension_m: FloatArray, slew_deg: FloatArray, *, radius_m: FloatArray, gross_t: float
    ) -> FloatArray:
        """Greatest leg reaction for N states, legs (N, 4); inf without equilibrium. [kN]"""


@dataclass(frozen=True, eq=False)
class ChartCapacity:
    """Capacity of one machine, counterweight and boom length from its charts.

    Parameters:
      boom_length_m, boom_mass_t, boom_cg_from_foot_m, boom_foot_u_m: Straight boom as in
        :func:`liftcalc.crane.masses.straight_boom`. [m, t]
      leg_x_m: four floats. FL, FR, RR, RL. [m]
      radius_from_m, radius_to_m: Range in which the machine may work at this boom length. [m]
      radius_step_m, slew_step_deg: Grid of the search.
      interpolation: as :func:`liftcalc.crane.chart.rated_capacity_t`
      setting_tolerance_m: As :func:`liftcalc.crane.capacity.capacity_by_slew`. [m]
    """

    charts: tuple[ChartTable, ...]
    masses: MachineMasses
    counterweight: str
    boom_length_m: float
    boom_mass_t: float
    boom_cg_from_foot_m: float
    boom_foot_u_m: float
    leg_x_m: tuple[float, float, float, float]
    radius_from_m: float
    radius_to_m: float
    radius_step_m: float = 0.5
    slew_step_deg: float = 2.0
    interpolation: Interpolation = "none"
    setting_tolerance_m: float = 0.0
    radius_m: FloatArray = field(init=False)

    def __post_init__(self) -> None:
        even = self.slew_step_deg > 0 and abs(360 / self.slew_step_deg % 1) < 1e-9
        rising = self.radius_to_m > self.radius_from_m > 0
        refuse_unless(
            (self.radius_step_m > 0, "radius_step_m", self.radius_step_m, "greater than 0"),
            (even, "slew_step_deg", self.slew_step_deg, "a divisor of 360"),
            (rising, "radius_to_m", self.radius_to_m, "above radius_from_m, > 0"),
            source="chart capacity",
        )
        steps = int(np.floor((self.radius_to_m - self.radius_from_m) / self.radius_step_m + 1e-9))
        radius = self.radius_from_m + self.radius_step_m * np.arange(max(steps, 1) + 1)
        radius = radius[radius <= self.radius_to_m + 1e-9]
        if radius.size < 2:
            need = "a step that fits the radius range"
            raise InputError.of("radius_step_m", self.radius_step_m, need)
        object.__setattr__(self, "radius_m", radius)

    def capacity_t(self, extension_m: tuple[float, ...]) -> FloatArray:
        """Capacity with these legs; see :class:`CapacitySource`."""
        base = base_polygon(leg_points_m(self.leg_x_m, extension_m))
        result = capacity_by_slew(
            np.arange(0.0, 360.0, self.slew_step_deg), self.radius_m,
            boom_length_m=self.boom_length_m, base=base, charts=self.charts,
            counterweight=self.counterweight, interpolation=self.interpolation,
            setting_tolerance_m=self.setting_tolerance_m,
        )  # fmt: skip
        return np.where(result.has_capacity_data, np.nan_to_num(result.capacity_t, nan=0.0), 0.0)

    def ceiling_t(self) -> FloatArray:
        """Best rating of any chart with this counterweight; see :class:`CapacitySource`."""
        how, radius = self.interpolation, self.radius_m
        fitted = (c for c in self.charts if c.counterweight == self.counterweight)
        rated = [rated_capacity_t(chart, self.boom_length_m, radius_m=radius, interpolation=how) for chart in fitted]
        if not rated:
            return np.zeros(self.radius_m.size)
        return np.asarray(np.nan_to_num(np.fmax.reduce(rated), nan=0.0))

    def leg_force_kN(
        self, extension_m: FloatArray, slew_deg: FloatArray, *, radius_m: FloatArray, gross_t: float
    ) -> FloatArray:
        """Greatest leg reaction, rigid carrier, equal supports; see :class:`CapacitySource`."""
        share = self.boom_cg_from_foot_m / self.boom_length_m
        unknown = np.full(radius_m.shape, np.nan)  # heights do not count on level ground
        boom = BoomState(
            radius_m=radius_m, mass_t=self.boom_mass_t,
            u_m=self.boom_foot_u_m + share * (radius_m - self.boom_foot_u_m),
            head_mass_t=share * self.boom_mass_t, z_m=unknown, head_z_m=unknown, angle_deg=unknown,
        )  # fmt: skip
        total, x, y = acting_point(slew_deg, boom, self.masses, load_t=gross_t, layout="pairs")
        leg_xy = np.broadcast_arrays(np.asarray(self.leg_x_m), extension_m * np.asarray(LEG_SIDE))
        legs = np.stack(leg_xy, axis=-1)
        worst = leg_reactions_kN(
            np.broadcast_to(total * G_M_S2, x.shape), np.stack([x, y], axis=-1), leg_xy_m=legs
        ).worst_kN
        return np.asarray(np.nan_to_num(worst, nan=np.inf))


@dataclass(frozen=True, eq=False)
class LiftDuty:
    """One lift as the search sees it.

    Parameters:
      gross_t: Gross load on the hook, with every factor that the job applies. [t]
      pick_m, set_down_m: (easting, northing). Plan position of the load. [m]
      capacity: CapacitySource. Capacity in the lift's configuration (counterweight, boom length).
      slew_way: {"shortest", "anticlockwise", "clockwise"}
    """

    name: str
    gross_t: float
    pick_m: tuple[float, float]
    set_down_m: tuple[float, float]
    capacity: CapacitySource
    slew_way: SlewWay = "shortest"

    def __post_init__(self) -> None:
        ends = (("pick_m", self.pick_m), ("set_down_m", self.set_down_m))
        known = self.slew_way in get_args(SlewWay)
        refuse_unless(
            (0.0 < self.gross_t < np.inf, "gross_t", self.gross_t, "greater than 0"),
            *((len(end) == 2 and np.isfinite(end).all(), name, end, "two finite numbers") for name, end in ends),
            (known, "slew_way", self.slew_way, "shortest, anticlockwise or clockwise"),
            source=f"lift {self.name}",
        )


def worst_of_cell_t(capacity_t: FloatArray) -> FloatArray:
    """Least capacity of the four grid points around each cell, the first axis round the circle.

    NaN (not rated) at one point makes the cell NaN. Cell (s, r) lies between slews s and s + 1, radii r and r + 1.
    """
    by_radius = np.minimum(capacity_t[:, :-1], capacity_t[:, 1:])
    return np.minimum(by_radius, np.roll(by_radius, -1, axis=0))
