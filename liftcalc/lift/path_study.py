"""Capacity, stability, hook room and resultant of one lift at every step of its path.

The chart carries over to the actual base as stated in :mod:`liftcalc.crane.capacity`; where it does not, there is no
capacity data and the estimate never reads as a pass. Sources: those of the calculations called.
"""

import dataclasses
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError
from liftcalc.crane.capacity import capacity_by_slew
from liftcalc.crane.chart import Interpolation, equal_runs, rated_capacity_t, slew_in_sector
from liftcalc.crane.hook_room import HookRoom, hook_room
from liftcalc.crane.masses import AdverseTerms, BoomState
from liftcalc.crane.sectors import CONFIRMED, ESTIMATE, CapacityBySlew
from liftcalc.crane.stability import stability_capacity_t, tipping_load
from liftcalc.lift.boom_setting import boom_bend, loaded_head_z_m
from liftcalc.lift.conditions import confirmed
from liftcalc.lift.path import LoadPath
from liftcalc.lift.setup import Setup, boom_states
from liftcalc.lift.wind_checks import wind_terms
from liftcalc.reactions.moments import resultant


@dataclass(frozen=True, eq=False)
class PathStudy:
    """Everything that changes along the path; arrays have shape (N,)."""

    path: LoadPath
    boom: BoomState
    capacity: CapacityBySlew
    utilisation: FloatArray
    """Gross load over capacity (estimate included where there is no data); NaN where none."""
    stability_t: FloatArray
    """Stability-limited load by rule, out-of-level included. [t]"""
    tipping_t: FloatArray
    """Tipping load with wind, out-of-level and hoist factor. [t]"""
    tipping_line: tuple[str, ...]
    head_room_m: FloatArray
    resultant_x_m: FloatArray
    resultant_y_m: FloatArray
    margin_m: FloatArray
    governing_step: int
    """Step with the greatest utilisation, of equal ones that at the greatest radius; where any
    step has no data, of those alone."""


def interpolation_of(setup: Setup) -> Interpolation:
    """How the machine's charts may be read between their rows."""
    return "linear" if setup.machine.interpolation_allowed else "none"


def strength_at(setup: Setup, radius_m: ArrayLike) -> FloatArray | None:
    """Stated strength limit at each radius: the least of the charts that state one. [t]"""
    how = interpolation_of(setup)
    stated = [
        rated_capacity_t(table, setup.boom.length_m, radius_m=radius_m, interpolation=how)
        for table in setup.strength_tables
    ]
    return np.asarray(np.fmin.reduce(stated)) if stated else None


def adverse_terms(setup: Setup, *, wind: bool, dynamic: bool, boom: BoomState | None = None) -> AdverseTerms:
    """Out-of-level always, to the worst side; wind from there and the hoist factor where asked.

    Wind needs *boom*: its forces follow the boom's height at each state.
    """
    factor = float(setup.gross.dynamic_factor) if dynamic else 1.0
    level = AdverseTerms(tilt_any_deg=setup.tilt_any_deg, dynamic_factor=factor)
    if not wind:
        return level
    if boom is None:
        raise InputError.of("boom", None, "the boom's states, which the wind acts on")
    return wind_terms(setup, boom).added_to(level)


def _capacity(setup: Setup, slew_deg: FloatArray, radius_m: FloatArray, *, layout: str,
              boom: BoomState | None, strength_t: FloatArray | None) -> CapacityBySlew:  # fmt: skip
    """Capacity at slews and radii; without *boom* of the charts of contained bases only."""
    if not setup.tables:
        need = "at least one rated capacity chart"
        raise InputError.of(f"charts of {setup.machine.id}", "none", need)
    capacity = capacity_by_slew(
        slew_deg, radius_m, boom_length_m=setup.boom.length_m, base=setup.base, charts=setup.tables,
        counterweight=setup.lift.counterweight, masses=None if boom is None else setup.masses,
        boom=boom, rule=setup.machine.stability_rule,
        tipping_fraction=setup.machine.tipping_fraction, interpolation=interpolation_of(setup), strength_t=strength_t,
        setting_tolerance_m=setup.machine.setting_tolerance_m, layout="pairs" if layout == "pairs" else "grid",
    )  # fmt: skip
    return confirmed(setup, capacity)


def _capacity_for_load(setup: Setup, slew_deg: FloatArray, boom: BoomState) -> CapacityBySlew:
    """Capacity at each step; a chart is carried over only where the load needs it."""
    first, place = equal_runs(boom.radius_m)
    strength = strength_at(setup, boom.radius_m[first])
    strength = None if strength is None else strength[place]
    carried = _capacity(setup, slew_deg, boom.radius_m, boom=boom, strength_t=strength, layout="pairs")
    needed = setup.gross_t / setup.usable_ratio
    argued = carried.on_condition | ((carried.source == CONFIRMED) & ~(carried.capacity_t >= needed))
    if not argued.any():
        return carried
    steps = np.flatnonzero(argued)
    # without masses only the radius and the sectors that hold count
    sectors = {c.sector_deg for c in setup.tables} | {c.sector_deg for c in setup.confirmations}
    held = (slew_in_sector(slew_deg[steps], sector) for sector in sectors)
    first, place = equal_runs(boom.radius_m[steps], *held)
    once = steps[first]
    strength = None if strength is None else strength[once]
    firm = _capacity(setup, slew_deg[once], boom.radius_m[once], boom=None, strength_t=strength, layout="pairs")
    enough = (firm.capacity_t >= needed)[place]
    changed = {}
    for name in ("capacity_t", "source", "chart", "capped_by", "margin_m", "required_margin_m"):
        changed[name] = getattr(carried, name).copy()
        changed[name][steps[enough]] = getattr(firm, name)[place[enough]]
    return dataclasses.replace(carried, **changed)


def capacity_at(setup: Setup, slew_deg: FloatArray, radius_m: FloatArray) -> CapacityBySlew:
    """Capacity at slew i and radius i, shape (N,)."""
    return _capacity_for_load(setup, slew_deg, boom_states(setup.machine, setup.boom, radius_m))


def capacity_circle(setup: Setup, radius_m: ArrayLike, *, slew_step_deg: float = 1.0,
                    carried: bool = True) -> CapacityBySlew:  # fmt: skip
    """Capacity round the slew circle at the stated radii, shape (S, R).

    Without *carried* only of charts whose base lies inside the actual one.
    """
    return capacity_grid(setup, np.arange(0.0, 360.0, slew_step_deg), radius_m, carried=carried)


def capacity_grid(setup: Setup, slew_deg: ArrayLike, radius_m: ArrayLike, *, carried: bool = True) -> CapacityBySlew:
    """Capacity at the stated slews and radii, shape (S, R)."""
    slew = np.asarray(slew_deg, dtype=np.float64)
    radius = np.unique(np.asarray(radius_m, dtype=np.float64))
    boom = boom_states(setup.machine, setup.boom, radius) if carried else None
    strength = strength_at(setup, radius)
    return _capacity(setup, slew, radius, boom=boom, strength_t=strength, layout="grid")


def hook_room_at(setup: Setup, radius_m: FloatArray, level_m: FloatArray) -> HookRoom:
    """Room between hook block and boom head, bent by the load, at radii and levels of the load."""
    boom, block = setup.machine.boom, setup.hook_block.height_m
    head = loaded_head_z_m(setup, boom_bend(setup, radius_m)[0])
    return hook_room(head, level_m - setup.lift.stand.level_m,
                     load_height_m=setup.lift.rigging.point_height_m,
                     sling_height_m=setup.sling_height_m,
                     two_block_distance_m=boom.two_block_clearance_m + block)  # fmt: skip


def study_path(setup: Setup, path: LoadPath) -> PathStudy:
    """Capacity, stability, heights and resultant at every step of the path."""
    slew, base, masses = path.slew_deg, setup.base, setup.masses
    boom = boom_states(setup.machine, setup.boom, path.radius_m)
    capacity = _capacity_for_load(setup, slew, boom)
    with np.errstate(divide="ignore"):  # an estimate may be nothing at all
        utilisation = setup.gross_t / capacity.capacity_t
    stability = stability_capacity_t(slew, boom, base=base, masses=masses,
                                     rule=setup.machine.stability_rule,
                                     tipping_fraction=setup.machine.tipping_fraction,
                                     adverse=adverse_terms(setup, wind=False, dynamic=False),
                                     layout="pairs")  # fmt: skip
    loaded = adverse_terms(setup, wind=True, dynamic=True, boom=boom)
    tipping = tipping_load(slew, boom, base=base, masses=masses, adverse=loaded, layout="pairs")
    acting = resultant(slew, boom, base=base, masses=masses, load_t=setup.gross_t, layout="pairs")
    lines = np.array([*base.line_names, "none"], dtype=object)
    no_data = capacity.source >= ESTIMATE
    rank = np.where(np.isnan(utilisation), np.inf, utilisation)
    return PathStudy(path=path, boom=boom, capacity=capacity, utilisation=utilisation,
                     stability_t=stability, tipping_t=tipping.tipping_t,
                     tipping_line=tuple(lines[tipping.line].tolist()),
                     head_room_m=hook_room_at(setup, path.radius_m, path.level_m).headroom_m,
                     resultant_x_m=acting.x_m, resultant_y_m=acting.y_m, margin_m=acting.margin_m,
                     governing_step=worst_step(np.where(no_data | ~no_data.any(), rank, -np.inf),
                     path))  # fmt: skip


def worst_step(rank: FloatArray, path: LoadPath) -> int:
    """Step of the greatest rank; a chart's rows make many equal, of which the farthest counts."""
    worst = np.flatnonzero(rank >= rank.max())
    return int(worst[np.argmax(path.radius_m[worst])])
