"""Wind on one lift: what the planned wind means, its forces, and its check rows.

Convention: every limit and every force is for the 3 s gust at the boom head. A lift may state its wind so, or as the 10
minute mean at 10 m that a forecast gives; the mean is raised to the gust at the height in question by the profile of
:mod:`liftcalc.wind.pressure`. A gust stated at the boom head acts on the whole machine unreduced. Wind blows square on
the boom: the greatest force, whatever its true direction. Sources beside each row.
"""

import dataclasses
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import Check
from liftcalc.base.text import Show, amount
from liftcalc.base.units import G_M_S2
from liftcalc.crane.chart import equal_runs
from liftcalc.crane.masses import AdverseTerms, BoomState
from liftcalc.crane.stability import tipping_load_t
from liftcalc.dynamics.hoisting import slewing_effect
from liftcalc.lift.check_rows import check_row
from liftcalc.lift.path import LoadPath, worst_step_check
from liftcalc.lift.persons import PERSONS_GUST_M_S
from liftcalc.lift.setup import Setup, boom_states
from liftcalc.wind.boom import boom_wind
from liftcalc.wind.pressure import (
    dynamic_pressure_kPa,
    gust_wind_speed_m_s,
    mean_wind_speed_of_gust_m_s,
    permissible_wind,
    wind_force_kN,
)
from liftcalc.wind.tables import beaufort_number

SUPERSTRUCTURE_DRAG = 1.2
"""Drag coefficient of the superstructure: assumed."""
SIDE_PULL_LIMIT_DEG = 3.0
"""Hoist line off plumb at most: common practice, no published source. [deg]"""
MOST_SWING_DEG = 45.0
"""Pendulum of the load at most: side pull is over its limit long before. [deg]"""
SIDE_PULL_SOURCE = "3° off plumb: common practice, no published source"
PROFILE_SOURCE = "v(z) = [(z/10)^0.14 + 0.4] v_m, EN 13001-2 / EN 13000 / FEM 5.016 (from memory)"


@dataclass(frozen=True, eq=False)
class WindTerms:
    """Wind on boom, superstructure and load; one value for each boom state."""

    gust_m_s: FloatArray
    """3 s gust at the boom head. [m/s]"""
    boom_force_kN: FloatArray
    boom_z_m: FloatArray
    superstructure_force_kN: FloatArray
    superstructure_z_m: float
    load_force_kN: FloatArray

    def added_to(self, level: AdverseTerms, *, load: bool = True) -> AdverseTerms:
        """Lean and hoist factor with this wind from the worst side; *load*: on the load too."""
        return dataclasses.replace(
            level, wind_direction="worst", boom_wind_force_kN=self.boom_force_kN, boom_wind_z_m=self.boom_z_m,
            superstructure_wind_force_kN=self.superstructure_force_kN, superstructure_wind_z_m=self.superstructure_z_m,
            load_wind_force_kN=self.load_force_kN if load else 0.0,
        )  # fmt: skip


def gust_at_head_m_s(setup: Setup, height_m: ArrayLike) -> FloatArray:
    """3 s gust of the planned wind at a height above the ground, or at the boom head as stated."""
    speed = setup.lift.wind_m_s
    height = np.asarray(height_m, dtype=np.float64)
    if setup.lift.wind_basis == "at boom head":
        return np.full(height.shape, speed)
    return gust_wind_speed_m_s(speed, height)


def wind_terms(setup: Setup, boom: BoomState) -> WindTerms:
    """Forces of the planned wind at each boom state, and where they act.

    The boom is a strip of the sail area that the machine data state, as wide at the foot as at
    the head: its centre is taken higher than that of a tapering boom. The load's force is taken
    with the gust at the boom head, where its rope hangs.

    Raises: A boom head below the ground or above 200 m.
    """
    machine = setup.machine
    mean = setup.lift.wind_basis == "at 10 m mean"
    depth = setup.boom.sail_area_m2 / setup.boom.length_m
    # most steps of a path slew at one radius: each run of one boom angle is calculated once
    first, place = equal_runs(np.ravel(boom.angle_deg))
    angle, head = np.ravel(boom.angle_deg)[first], np.ravel(boom.head_z_m)[first]

    def at_steps(values: FloatArray) -> FloatArray:
        return np.asarray(values[place].reshape(np.shape(boom.angle_deg)))

    on_boom = boom_wind(setup.lift.wind_m_s, setup.boom.length_m,
                        boom_angle_deg=np.clip(angle, 0.0, 90.0),
                        foot_height_m=machine.boom.foot_z_m, foot_radius_m=machine.boom.foot_u_m,
                        foot_depth_m=depth, head_depth_m=depth,
                        force_coefficient=machine.boom.drag_coefficient, wind_towards_deg=90.0,
                        profile="gust" if mean else "uniform")  # fmt: skip
    upper = machine.superstructure
    middle = (upper.bottom_z_m + upper.top_z_m) / 2
    gust = gust_at_head_m_s(setup, head)
    pressure = dynamic_pressure_kPa(gust_at_head_m_s(setup, np.full(gust.shape, middle)))
    on_upper = wind_force_kN(pressure, upper.sail_area_m2, force_coefficient=SUPERSTRUCTURE_DRAG)
    return WindTerms(gust_m_s=at_steps(gust), boom_force_kN=at_steps(on_boom.force_kN),
                     boom_z_m=at_steps(on_boom.height_m),
                     superstructure_force_kN=at_steps(on_upper), superstructure_z_m=middle,
                     load_force_kN=at_steps(_load_force_kN(setup, gust)))  # fmt: skip


def permissible_gust_m_s(setup: Setup) -> float:
    """Greatest 3 s gust at the boom head in which this load, persons included, may be lifted."""
    load, machine = setup.lift.load, setup.machine
    if setup.wind_limit_m_s <= 0:
        return 0.0
    allowed = permissible_wind(setup.wind_limit_m_s, load.mass_t, area_m2=load.sail_area_m2,
                               force_coefficient=load.drag_coefficient,
                               reference_area_per_mass_m2_t=machine.standard_sail_area_m2_t
                               * machine.standard_drag_coefficient)  # fmt: skip
    most = PERSONS_GUST_M_S if setup.lift.persons else np.inf
    return min(float(allowed.permissible_wind_speed_m_s), most)


def stop_gust_m_s(setup: Setup, height_m: float) -> float:
    """3 s gust at the boom head, *height_m* up, above which the crew stops.

    Never above the planned wind: clearances, tipping, legs and ground are checked in that alone.
    """
    return min(permissible_gust_m_s(setup), float(gust_at_head_m_s(setup, height_m)))


def _stated(setup: Setup, height_m: float) -> str:
    speed = setup.lift.wind_m_s
    if setup.lift.wind_basis == "at boom head":
        return f"stated as {amount(speed, 'speed_m_s')}, 3 s gust at the boom head"
    gust = float(gust_at_head_m_s(setup, height_m))
    return (
        f"stated as {amount(speed, 'speed_m_s')}, 10 minute mean at {amount(10.0, 'length_m')}: "
        f"{amount(gust, 'speed_m_s')} gust at {amount(height_m, 'length_m')} height"
    )


def wind_angle_deg(setup: Setup, load_force_kN: FloatArray) -> FloatArray:
    """Angle off plumb of the hoist rope in the planned wind, the load's own mass resisting."""
    weight_kN = setup.lift.load.mass_t * G_M_S2
    angle: FloatArray = np.degrees(np.arctan2(load_force_kN, weight_kN))
    return angle


def _load_force_kN(setup: Setup, gust_m_s: FloatArray) -> FloatArray:
    """Wind force on the load in a gust. [kN]"""
    load = setup.lift.load
    return wind_force_kN(dynamic_pressure_kPa(gust_m_s), load.sail_area_m2, force_coefficient=load.drag_coefficient)


def slewing_angle_deg(setup: Setup, path: LoadPath, boom: BoomState) -> FloatArray:
    """Angle off plumb by slewing at the machine's speed, started or stopped suddenly."""
    radius, rope = path.radius_m, boom.head_z_m - (path.level_m - setup.lift.stand.level_m)
    first, place = equal_runs(radius, rope)
    moved = slewing_effect(setup.gross_t, radius[first],
                           slew_speed_rev_min=setup.machine.slew_speed_rpm,
                           rope_length_m=rope[first],
                           acceleration_time_s=setup.machine.slew_stop_time_s)  # fmt: skip
    angle: FloatArray = np.hypot(moved.peak_tangential_angle_deg, moved.equilibrium_angle_deg)
    return np.asarray(angle[place])


def swing_deg(setup: Setup, path: LoadPath, boom: BoomState) -> float:
    """Greatest swing of the load along the path, for clearances.

    Wind and slewing may push the same way: their angles are added. Drawn at 45 degrees at most:
    both checks of the rope's angle have failed long before.
    """
    slews = "slew" in path.stage or "travel" in path.stage
    highest = gust_at_head_m_s(setup, np.array([float(boom.head_z_m.max())]))
    wind = float(wind_angle_deg(setup, _load_force_kN(setup, highest))[0])
    turn = float(slewing_angle_deg(setup, path, boom).max()) if slews else 0.0
    return min(wind + turn, MOST_SWING_DEG)


def wind_checks(setup: Setup, path: LoadPath, boom: BoomState) -> list[Check]:
    """Permissible wind for the load's sail area, and the pull of the rope by wind and slewing."""
    machine, limit = setup.machine, permissible_gust_m_s(setup)
    highest = float(boom.head_z_m.max())
    mean = float(mean_wind_speed_of_gust_m_s(limit, highest))
    return [
        check_row("wind", float(gust_at_head_m_s(setup, highest)), limit, gust=limit, mean=mean,
                  stated=_stated(setup, highest), ten=10.0,
                  persons="; persons lifted: 20 mph at most" if setup.lift.persons else ""),
        worst_step_check(path, "wind-side-pull",
                         wind_angle_deg(setup, wind_terms(setup, boom).load_force_kN),
                         SIDE_PULL_LIMIT_DEG, source=SIDE_PULL_SOURCE),
        worst_step_check(path, "slew-side-pull", slewing_angle_deg(setup, path, boom),
                         SIDE_PULL_LIMIT_DEG, source=SIDE_PULL_SOURCE,
                         speed=machine.slew_speed_rpm, stop=machine.slew_stop_time_s),
    ]  # fmt: skip


def lowered_words(setup: Setup) -> str:
    """What the empty machine does when the boom is lowered as long as it is planned."""
    flat = boom_states(setup.machine, setup.boom, np.array([setup.boom.radius_max_m]))
    level = AdverseTerms(tilt_any_deg=setup.tilt_any_deg)
    windy = wind_terms(setup, flat).added_to(level, load=False)
    every = np.arange(0.0, 360.0)
    holds = tipping_load_t(every, flat, base=setup.base, masses=setup.masses, adverse=windy)[:, 0]
    tips = np.flatnonzero(~(holds > setup.hook_block.mass_t))
    if not tips.size:
        return ", retracted first"
    length = amount(setup.boom.length_m, "length_m")
    return (
        f", RETRACTED FIRST: lowered at {length} it tips the empty crane over at {tips.size} of "
        f"360 degrees of slew, {amount(float(np.argmin(holds)), 'slew_deg')} among them"
    )


def wind_limit_rows(setup: Setup, path: LoadPath, boom: BoomState, show: Show) -> list[tuple[str, str, str]]:
    """Wind as planned, its limits in both conventions, its forces, and out of service."""
    terms = wind_terms(setup, boom)
    highest = float(boom.head_z_m.max())
    limit, stop = permissible_gust_m_s(setup), stop_gust_m_s(setup, highest)
    ten = amount(10.0, "length_m")
    mean = float(mean_wind_speed_of_gust_m_s(stop, highest))
    k = int(np.argmax(terms.boom_force_kN * terms.boom_z_m))
    worst = int(np.argmax(terms.load_force_kN))
    in_service = show(setup.wind_limit_m_s, "speed_m_s", "down")
    return [
        ("Wind as planned", show(setup.lift.wind_m_s, "speed_m_s"), "3 s gust at the boom head"
         if setup.lift.wind_basis == "at boom head" else f"10 minute mean at {ten}"),
        ("Gust at the boom head, as checked",
         show(float(gust_at_head_m_s(setup, highest)), "speed_m_s"),
         f"boom head at most {show(highest, 'length_m')} above the ground; {PROFILE_SOURCE}"),
        ("Stop above, measured at the boom head", show(stop, "speed_m_s", "down"),
         f"3 s gust: no more than planned, in which all rows are checked, nor than "
         f"{show(limit, 'speed_m_s', 'down')} for this load's sail ({in_service} by machine "
         "data and charts)"),
        ("The same in a forecast", show(mean, "speed_m_s", "down"),
         f"10 minute mean at {ten}, Beaufort {int(beaufort_number(mean))}; a forecast is no "
         "reading: measure at the boom head"),
        ("Wind on the boom, at the step of its maximum moment",
         f"{show(float(terms.boom_force_kN[k]), 'force_kN')} at "
         f"{show(float(terms.boom_z_m[k]), 'length_m')}",
         f"ISO 4302 (from memory), wind square on the boom; {path.describe(k)}"),
        ("Wind on the superstructure",
         f"{show(float(terms.superstructure_force_kN.max()), 'force_kN')} at "
         f"{show(terms.superstructure_z_m, 'length_m')}", "q A c, c = 1.2"),
        ("Wind on the load, taken at the boom head",
         show(float(terms.load_force_kN[worst]), "force_kN"),
         "q A c with the gust at the boom head"),
        ("Out of service", "no data",
         f"The machine data state no out-of-service wind: lay the boom down above {in_service}"
         f"{lowered_words(setup)}."),
    ]  # fmt: skip
