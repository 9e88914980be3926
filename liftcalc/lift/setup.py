"""One lift's facts as plain arrays: the machine on its stand, ready to calculate with.

Boom data between the stated boom lengths are interpolated linearly (mass properties and
stiffness only; a rated capacity is never interpolated here). Geometry and book-keeping.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray, IntArray
from liftcalc.base.errors import InputError
from liftcalc.base.plan import to_frame, to_site
from liftcalc.clearance.bodies import CraneShape, tail_outline_m
from liftcalc.clearance.crane_bodies import HungLoad
from liftcalc.crane.boom import radius_range_m
from liftcalc.crane.chart import ChartTable
from liftcalc.crane.legs import BasePolygon, base_polygon, leg_points_m
from liftcalc.crane.masses import BoomState, MachineMasses, combined_mass, straight_boom
from liftcalc.dynamics.gross import GrossLoad, gross_load_t
from liftcalc.dynamics.hoisting import HoistFactor, hoist_factor, refuse_snatch
from liftcalc.facts.chart import RatedChart
from liftcalc.facts.confirmation import Confirmation
from liftcalc.facts.job import Job, Rules
from liftcalc.facts.lift import Lift
from liftcalc.facts.machine import HookBlock, Machine
from liftcalc.facts.mats import Mat
from liftcalc.facts.site import Site
from liftcalc.lift.hanging import Hanging, hanging, hung_load
from liftcalc.lift.path import load_path

MOST_TILT_PERCENT = 1.0
"""Out of level that rated capacity charts presume at most: ISO 4305 (scope), SAE J765 (second-hand). [%]"""


@dataclass(frozen=True)
class BoomAtLength:
    """Boom data at the lift's boom length."""

    length_m: float
    mass_t: float
    cg_from_foot_m: float
    bending_stiffness_kNm2: float | None
    sail_area_m2: float
    radius_min_m: float
    radius_max_m: float


@dataclass(frozen=True, eq=False)
class Setup:
    """Machine on its stand with one lift's load; every later step reads from here."""

    lift: Lift
    machine: Machine
    rules: Rules
    site: Site
    mat: Mat
    base: BasePolygon
    leg_xy_m: FloatArray
    leg_site_xy_m: FloatArray
    masses: MachineMasses
    boom: BoomAtLength
    tables: tuple[ChartTable, ...]
    strength_tables: tuple[ChartTable, ...]
    confirmations: tuple[Confirmation, ...]
    """What the manufacturer has confirmed for this machine, boom and layout."""
    gross: GrossLoad
    hoist: HoistFactor
    shape: CraneShape
    hung: HungLoad
    hanging: Hanging
    sling_height_m: float
    """Hook above the lifting points' height on the load, the load's tilt included. [m]"""
    rope_length_m: float
    """Longest hoist rope of one fall below the boom head. [m]"""
    tilt_x_deg: float
    """Lean toward +x that the lift states. Whatever must hold in use takes ``tilt_any_deg``."""
    tilt_y_deg: float
    wind_limit_m_s: float
    """Least wind that the machine data and the lift's charts hold for: 3 s gust, boom head."""

    @property
    def gross_t(self) -> float:
        """Static gross load on the hook. [t]"""
        return float(self.gross.static_gross_t)

    @property
    def usable_ratio(self) -> float:
        """Share of a rated capacity that the rules let a lift use."""
        return self.rules.utilisation_limit_percent / 100

    @property
    def hook_block(self) -> HookBlock:
        return self.machine.hook_block(self.lift.hook_block)

    @property
    def permitted_tilt_percent(self) -> float:
        """How far out of level the machine may stand: 1 % unless machine or lift states less."""
        within = self.lift.stand.level_within_percent
        limit = min(MOST_TILT_PERCENT, self.machine.level_limit_percent)
        return limit if within is None else min(limit, within)

    @property
    def tilt_any_percent(self) -> float:
        """Lean that calculations include, in whatever direction is worst: what is permitted, and
        what is stated where that is more."""
        stand = self.lift.stand
        stated = float(np.hypot(stand.tilt_x_percent, stand.tilt_y_percent))
        return max(self.permitted_tilt_percent, stated)

    @property
    def tilt_any_deg(self) -> float:
        """The same in degrees."""
        return float(np.degrees(np.arctan(self.tilt_any_percent / 100)))

    def tilts_deg(self, directions: int = 8) -> FloatArray:
        """Leans toward +x and +y all round, shape (directions, 2): corners of a polygon about
        every lean that :attr:`tilt_any_deg` stands for."""
        turn = np.linspace(0.0, 2 * np.pi, directions, endpoint=False)
        slope = self.tilt_any_percent / 100 / np.cos(np.pi / directions)
        lean = np.stack([np.cos(turn), np.sin(turn)], axis=-1)
        return np.asarray(np.degrees(np.arctan(slope * lean)))


def machine_masses(machine: Machine, counterweight: str) -> MachineMasses:
    """Masses of the machine with this counterweight fitted."""
    weight = machine.counterweight(counterweight)
    upper = machine.superstructure
    mass, u, z = combined_mass([upper.mass_t, weight.mass_t], [upper.cg_u_m, weight.cg_u_m],
                               z_m=[upper.cg_z_m, weight.cg_z_m])  # fmt: skip
    carrier = machine.carrier
    return MachineMasses(carrier_mass_t=carrier.mass_t, carrier_x_m=carrier.cg_x_m,
                         carrier_y_m=carrier.cg_y_m, carrier_z_m=carrier.cg_z_m,
                         slewing_mass_t=mass, slewing_u_m=u, slewing_z_m=z)  # fmt: skip


def boom_at_length(machine: Machine, length_m: float) -> BoomAtLength:
    """Boom data at a length; InputError outside the boom's own range."""
    boom = machine.boom
    lengths = boom.lengths_m
    if not lengths[0] - 1e-9 <= length_m <= lengths[-1] + 1e-9:
        raise InputError.of("boom_length_m", length_m, f"{lengths[0]} to {lengths[-1]} m")

    def at(values: tuple[float, ...]) -> float:
        return float(np.interp(length_m, lengths, values))

    low, high = radius_range_m(length_m, foot_u_m=boom.foot_u_m, angle_min_deg=boom.angle_min_deg,
                               angle_max_deg=boom.angle_max_deg,
                               head_offset_m=boom.head_offset_m)  # fmt: skip
    return BoomAtLength(
        length_m=float(length_m), mass_t=boom.mass_t, cg_from_foot_m=at(boom.cg_from_foot_m),
        bending_stiffness_kNm2=None
        if boom.bending_stiffness_kNm2 is None
        else at(boom.bending_stiffness_kNm2),
        sail_area_m2=at(boom.sail_area_m2), radius_min_m=max(float(low), machine.radius_min_m),
        radius_max_m=float(high),
    )  # fmt: skip


def boom_states(machine: Machine, boom: BoomAtLength, radius_m: ArrayLike) -> BoomState:
    """Boom mass, moment and head height at each radius."""
    return straight_boom(radius_m, boom.length_m, mass_t=boom.mass_t,
                         cg_from_foot_m=boom.cg_from_foot_m, foot_u_m=machine.boom.foot_u_m,
                         foot_z_m=machine.boom.foot_z_m)  # fmt: skip


def boom_at(boom: BoomState, which: IntArray | list[int]) -> BoomState:
    """Some of the boom's states."""
    each = ("radius_m", "u_m", "z_m", "head_z_m", "angle_deg")
    return replace(boom, **{name: getattr(boom, name)[which] for name in each})


@lru_cache(maxsize=256)
def _base_of(x_m: tuple[float, ...], extension_m: tuple[float, ...]) -> BasePolygon:
    """Base of a chart; every lift of a job asks for the same few."""
    return base_polygon(leg_points_m(x_m, extension_m))


def chart_tables(machine: Machine, charts: tuple[RatedChart, ...], *, strength: bool = False) -> tuple[ChartTable, ...]:
    """The manufacturer's charts as plain tables, null turned into NaN (not rated).

    With *strength* the stated strength limits instead, of those charts that state them.
    """
    tables = []
    x = tuple(leg.x_m for leg in machine.legs)
    for chart in charts:
        extension = tuple(chart.leg_extension_m[leg.name] for leg in machine.legs)
        rows = chart.strength_t if strength else chart.capacity_t
        if rows is None:
            continue
        tables.append(ChartTable(
            chart_id=chart.id, boom_length_m=np.array(chart.boom_length_m),
            radius_m=np.array(chart.radius_m),
            capacity_t=np.array([[np.nan if c is None else c for c in row] for row in rows]),
            base=_base_of(x, extension), counterweight=chart.counterweight,
            sector_deg=chart.sector_deg, rule=chart.rule, tipping_fraction=machine.tipping_fraction,
        ))  # fmt: skip
    return tuple(tables)


def to_site_m(points_m: ArrayLike, lift: Lift) -> FloatArray:
    """Machine-frame points (..., 2) in site coordinates."""
    return to_site(points_m, **_position(lift))


def to_machine_m(points_m: ArrayLike, lift: Lift) -> FloatArray:
    """Site points (..., 2 or more) in the machine frame; the way back of :func:`to_site_m`."""
    return to_frame(points_m, **_position(lift))


def _position(lift: Lift) -> dict[str, float]:
    return {name: getattr(lift.stand, name) for name in ("easting_m", "northing_m", "heading_deg")}


def _shape(machine: Machine, counterweight: str) -> CraneShape:
    weight = machine.counterweight(counterweight)
    upper, carrier, boom = machine.superstructure, machine.carrier, machine.boom
    # the manufacturer states a radius only: the tail is rounded, out to that radius everywhere
    reach = max(weight.tail_radius_m, upper.tail_radius_m)
    width = max(weight.tail_width_m, upper.width_m)
    return CraneShape(
        boom_foot_x_m=boom.foot_u_m, boom_foot_z_m=boom.foot_z_m,
        boom_half_width_m=float(np.hypot(boom.width_m, boom.depth_m)) / 2,
        tail_outline_m=tail_outline_m(reach, width), tail_base_m=upper.bottom_z_m, tail_top_m=upper.top_z_m,
        carrier_outline_m=(
            (carrier.front_x_m, -carrier.width_m / 2),
            (carrier.front_x_m, carrier.width_m / 2),
            (carrier.rear_x_m, carrier.width_m / 2),
            (carrier.rear_x_m, -carrier.width_m / 2),
        ),
        carrier_base_m=0.2, carrier_top_m=carrier.height_m,
    )  # fmt: skip


def longest_rope(lift: Lift, machine: Machine, hook_height_m: float, *,
                 least_radius_m: float | None = None) -> tuple[float, float, float]:  # fmt: skip
    """Longest hoist rope of one fall, boom head to hook; radius and level of the load for it. [m]

    Not less than at any point of the path: for each of its steps the head at the nearer radius
    and the lower hook are taken. *least_radius_m* is for a load that comes nearer than that path.
    """
    path = load_path(lift)
    radius = path.radius_m if least_radius_m is None else np.minimum(path.radius_m, least_radius_m)
    run = np.clip(radius - machine.boom.foot_u_m, 0.0, lift.boom_length_m)
    head = lift.stand.level_m + machine.boom.foot_z_m + np.sqrt(lift.boom_length_m**2 - run**2)
    before = np.arange(max(len(path) - 1, 1))
    after = np.minimum(before + 1, len(path) - 1)
    high = np.where(head[after] >= head[before], after, before)
    low = np.where(path.level_m[after] <= path.level_m[before], after, before)
    rope = head[high] - (path.level_m[low] + hook_height_m)
    k = int(np.argmax(rope))
    return max(float(rope[k]), 0.0), float(path.radius_m[high[k]]), float(path.level_m[low[k]])


def rope_off_drum_m(setup: Setup) -> float:
    """Hoist rope needed: falls at their longest, along the boom, from a drum at the tail. [m]

    Plane geometry; the drum is taken no nearer than the tail, on the safe side.
    """
    machine = setup.machine
    back = machine.superstructure.tail_radius_m + machine.boom.foot_u_m
    return setup.hook_block.falls * setup.rope_length_m + setup.boom.length_m + max(back, 0.0)


def with_rope(setup: Setup, rope_m: float) -> Setup:
    """The setup with the gross load for a rope below the head that is at least so long."""
    if rope_m <= setup.rope_length_m:
        return setup
    block = setup.hook_block
    more = block.falls * (rope_m - setup.rope_length_m) * setup.machine.rope_mass_kg_m(block) / 1000
    gross = setup.gross
    heavier = replace(
        gross, rope_t=gross.rope_t + more, static_gross_t=gross.static_gross_t + more,
        dynamic_gross_t=(gross.static_gross_t + more) * gross.dynamic_factor,
    )  # fmt: skip
    return replace(setup, gross=heavier, rope_length_m=rope_m)


def build_setup(job: Job, lift_id: str, *, least_radius_m: float | None = None) -> Setup:
    """Everything about one lift as plain arrays; InputError where the facts do not fit.

    *least_radius_m*: where the load comes nearer to the slew centre than on the lift's own path.
    """
    job = job.for_lift(lift_id)
    lift = job.lifts[0]
    machine = job.machines[0]
    extension = lift.legs.as_tuple()
    legs = ((leg.x_m, leg.extension_min_m, leg.extension_max_m) for leg in machine.legs)
    x, least, most = zip(*legs, strict=True)
    leg_xy = leg_points_m(x, extension, extension_min_m=least, extension_max_m=most)
    refuse_snatch(load_held_down=lift.load.held_down)
    hang = hanging(lift, job.accessories)
    sling_height, rigging_mass = hang.sling_height_m, hang.gear.mass_t
    block = machine.hook_block(lift.hook_block)
    hoist = hoist_factor(machine.hoist_speed_m_s, machine.hoisting_class)
    factor = max(float(hoist.phi2), job.rules.dynamic_factor_min)
    rope, _, _ = longest_rope(lift, machine, hang.hook_height_m, least_radius_m=least_radius_m)
    gross = gross_load_t(lift.load.mass_t, contingency_ratio=lift.load.contingency_percent / 100,
                         rigging_t=rigging_mass, hook_block_t=block.mass_t,
                         rope_t=block.falls * rope * machine.rope_mass_kg_m(block) / 1000,
                         other_t=sum(d.mass_t for d in lift.deductions),
                         dynamic_factor=factor)  # fmt: skip
    return Setup(
        lift=lift, machine=machine, rules=job.rules, site=job.site, mat=job.mat(lift.mat), base=base_polygon(leg_xy),
        leg_xy_m=leg_xy, leg_site_xy_m=to_site_m(leg_xy, lift), masses=machine_masses(machine, lift.counterweight),
        boom=boom_at_length(machine, lift.boom_length_m), tables=chart_tables(machine, job.charts),
        strength_tables=chart_tables(machine, job.charts, strength=True),
        confirmations=job.confirmations, gross=gross, hoist=hoist,
        shape=_shape(machine, lift.counterweight), hung=hung_load(hang, block), hanging=hang,
        sling_height_m=sling_height, rope_length_m=rope,
        tilt_x_deg=float(np.degrees(np.arctan(lift.stand.tilt_x_percent / 100))),
        tilt_y_deg=float(np.degrees(np.arctan(lift.stand.tilt_y_percent / 100))),
        wind_limit_m_s=min([machine.wind_limit_m_s, *(c.wind_m_s for c in job.charts)]),
    )  # fmt: skip
