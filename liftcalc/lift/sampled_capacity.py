"""The samples of a lift: its two states, and rated capacity along the path, each on its own base.

The states are at rest where capacity governs, and moving on the worst leg: facts of one lift in the form of
:mod:`liftcalc.uncertainty.lift_samples`. A rating steps when an outrigger is short: a chart's base no longer lies
inside the actual one. So every sample is rated at every step of the path, by the rule of :mod:`liftcalc.crane.capacity`
and as the sheet takes it: a chart is carried over only where the others are not enough for the
load, and a confirmation holds only for outriggers that are out at least as far as it states.

Sources: those of :mod:`liftcalc.crane.capacity`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from liftcalc.base.arrays import BoolArray, FloatArray, IntArray
from liftcalc.base.errors import InputError
from liftcalc.crane.capacity import loads_on_base
from liftcalc.crane.chart import ChartTable, legs_at_marks_m, rated_capacity_t, slew_in_sector
from liftcalc.crane.legs import LEG_SIDE, TOLERANCE_M, same_base, tipping_lines
from liftcalc.crane.masses import BoomState
from liftcalc.crane.stability import rule_test_load_t, tipping_load
from liftcalc.dynamics.gross import with_contingency_t
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.path import LoadPath
from liftcalc.lift.path_study import adverse_terms, interpolation_of, strength_at
from liftcalc.lift.setup import Setup, boom_at, boom_states
from liftcalc.lift.wind_checks import gust_at_head_m_s, permissible_gust_m_s, wind_terms
from liftcalc.uncertainty.lift_samples import SampledLift
from liftcalc.wind.pressure import dynamic_pressure_kPa


def gust_m_s(a: LiftAssessment) -> float:
    """Planned wind as the gust at the boom head of the worst-leg step."""
    return float(gust_at_head_m_s(a.setup, _boom_at(a, _leg_state(a)[1]).head_z_m)[0])


def _boom_at(a: LiftAssessment, radius_m: float) -> BoomState:
    return boom_states(a.setup.machine, a.setup.boom, np.array([radius_m]))


def _governing_state(a: LiftAssessment) -> tuple[float, float]:
    """Slew and radius of the step that governs capacity."""
    k = a.study.governing_step
    return float(a.path.slew_deg[k]), float(a.path.radius_m[k])


def _leg_state(a: LiftAssessment) -> tuple[float, float]:
    """Slew and radius of the step at which a leg is used most, with the load."""
    strength = np.array([leg.capacity_kN for leg in a.setup.machine.legs])
    used = np.nan_to_num(a.forces.path_reaction_kN / strength, nan=np.inf)
    step = int(np.argmax(used.max(axis=1)))
    return float(a.path.slew_deg[step]), float(a.path.radius_m[step])


def _lean_deg(a: LiftAssessment, toward: np.ndarray[Any, Any]) -> tuple[float, float]:
    """Lean toward +x and +y, as much as is included, in a direction (a unit vector, or none)."""
    x, y = np.degrees(np.arctan(a.setup.tilt_any_percent / 100 * toward))
    return float(x), float(y)


def boomward_lean_deg(a: LiftAssessment) -> tuple[float, float]:
    """Lean that the leg rows include, toward the boom, at the step that loads a leg most."""
    slew = np.radians(_leg_state(a)[0])
    return _lean_deg(a, np.array([np.cos(slew), np.sin(slew)]))


def worst_lean_deg(a: LiftAssessment) -> tuple[float, float]:
    """Lean that the stability row includes at the step that governs capacity."""
    setup, (slew, radius) = a.setup, _governing_state(a)
    adverse = adverse_terms(setup, wind=False, dynamic=False)
    line = tipping_load(
        [slew], _boom_at(a, radius), base=setup.base, masses=setup.masses, adverse=adverse, layout="pairs"
    ).line[0]
    return _lean_deg(a, -setup.base.normals[line] * (line >= 0))


def worst_allowable_kPa(a: LiftAssessment) -> float:
    """Allowable pressure under the leg whose ground is used most."""
    assert a.ground is not None
    return max(a.ground.legs, key=lambda g: g.pressure_kPa / g.allowable_kPa).allowable_kPa


def _common(a: LiftAssessment) -> dict[str, Any]:
    setup, boom, load = a.setup, a.setup.boom, a.setup.lift.load
    gross = float(with_contingency_t(load.mass_t, load.contingency_percent / 100))
    machine = setup.machine
    return {
        "masses": setup.masses, "boom_length_m": boom.length_m, "boom_mass_t": boom.mass_t,
        "boom_cg_from_foot_m": boom.cg_from_foot_m, "boom_foot_u_m": machine.boom.foot_u_m,
        "boom_foot_z_m": machine.boom.foot_z_m, "leg_x_m": tuple(leg.x_m for leg in machine.legs),
        "extension_m": setup.lift.legs.as_tuple(), "load_t": gross,
        "rigging_t": setup.gross_t - gross, "rule": machine.stability_rule,
        "tipping_fraction": machine.tipping_fraction,
    }  # fmt: skip


def at_rest(a: LiftAssessment) -> SampledLift:
    """The step that governs capacity: load at rest, no wind."""
    slew, radius = _governing_state(a)
    return SampledLift(**_common(a), slew_deg=slew, radius_m=radius)


def moving(a: LiftAssessment) -> SampledLift:
    """The step that loads a leg most, with hoist factor and wind."""
    setup, legs = a.setup, a.setup.machine.legs
    slew, radius = _leg_state(a)
    limit = permissible_gust_m_s(setup)
    return SampledLift(**_common(a), **_wind(a, _boom_at(a, radius)), **_ground(a), slew_deg=slew,
                       radius_m=radius, dynamic_factor=float(setup.gross.dynamic_factor),
                       leg_stiffness_kN_m=_four([leg.stiffness_kN_m for leg in legs]),
                       leg_capacity_kN=_four([leg.capacity_kN for leg in legs]),
                       permissible_wind_m_s=limit if limit > 0 else None)  # fmt: skip


def _four(values: list[float]) -> tuple[float, float, float, float]:
    """Values of the legs FL, FR, RR, RL."""
    front_left, front_right, rear_right, rear_left = values
    return front_left, front_right, rear_right, rear_left


def _wind(a: LiftAssessment, boom: BoomState) -> dict[str, Any]:
    """Planned gust, and the areas and height that give the wind forces of the leg rows."""
    wind = wind_terms(a.setup, boom)
    gust = float(wind.gust_m_s[0])
    pressure = float(dynamic_pressure_kPa(gust)) if gust > 0 else 1.0
    on_boom, on_upper = float(wind.boom_force_kN[0]), float(wind.superstructure_force_kN[0])
    push = on_boom + on_upper
    moment = on_boom * float(wind.boom_z_m[0]) + on_upper * wind.superstructure_z_m
    return {
        "wind_m_s": gust,
        "wind_area_m2": (push / pressure, float(wind.load_force_kN[0]) / pressure),
        "boom_wind_z_m": moment / push if push > 0 else 0.0,
    }


def _ground(a: LiftAssessment) -> dict[str, Any]:
    """Mats and ground springs; nothing where the ground was not studied."""
    if a.ground is None:
        return {}
    legs, least = a.ground.legs, worst_allowable_kPa(a)
    area = [g.effective_length_m * g.effective_width_m * g.allowable_kPa / least for g in legs]
    ground: dict[str, Any] = {"mat_area_m2": _four(area), "allowable_kPa": least}
    ground["mat_weight_kN"] = a.ground.mat.weight_kN
    stiff = [g.stiffness_kN_m for g in legs]
    if np.all(np.isfinite(stiff)):
        ground["ground_stiffness_kN_m"] = float(np.mean(stiff))
        ground["torsional_stiffness_kNm_rad"] = a.setup.machine.carrier.torsional_stiffness_kNm_rad
    return ground


_STATES = 200_000
"""Samples times steps rated at once."""
_MARGIN_TOLERANCE_M = 1e-9


@dataclass(frozen=True)
class SampledCapacity:
    """Rated capacity of every sample, shape (N,)."""

    utilisation: FloatArray
    """Gross load over what may be used of the capacity at the worst step; infinite where any step
    has no capacity data."""
    on_condition: BoolArray
    """Whether any step rests on a chart carried over that the manufacturer has yet to confirm."""


def sampled_capacity(setup: Setup, path: LoadPath, *, gross_t: FloatArray, extension_m: FloatArray,
                     radius_shift_m: FloatArray) -> SampledCapacity:  # fmt: skip
    """Rated capacity of every sample on its own base, along the whole path.

    Parameters:
      gross_t: shape (N,). Static gross load. [t]
      extension_m: shape (N, 4). Extension of the legs FL, FR, RR, RL. [m]
      radius_shift_m: shape (N,). By how much the load is farther out, at every step. [m]
    Returns: SampledCapacity
    Raises: Arrays of different length, a base that is not convex in some sample, or a radius that
      the boom cannot reach.
    """
    number = gross_t.size
    if extension_m.shape != (number, 4) or radius_shift_m.shape != (number,):
        raise InputError.of("extension_m", extension_m.shape, f"shape ({number}, 4)")
    steps = np.unique(np.stack([path.slew_deg, path.radius_m]), axis=1)
    size = max(_STATES // steps.shape[1], 1)
    parts = [
        _rate(setup, steps, gross_t[k], extension_m[k], radius_shift_m[k])
        for k in (slice(i, i + size) for i in range(0, number, size))
    ]
    return SampledCapacity(*(np.concatenate(each) for each in zip(*parts, strict=True)))


@dataclass(frozen=True, eq=False)
class _Chart:
    """A chart with the machine's counterweight, at every sample and step."""

    table: ChartTable
    covers: BoolArray
    """Whether a step lies in its sector, shape (S,)."""
    rated_t: FloatArray
    """Its own rating, shape (N, S)."""
    contained: BoolArray
    """Whether a sample's base contains the chart's own, shape (N,)."""
    containing: BoolArray
    """Whether the chart's base contains a sample's, shape (N,)."""


def _rate(setup: Setup, steps: FloatArray, gross: FloatArray, extension: FloatArray,
          shift: FloatArray) -> tuple[FloatArray, BoolArray]:  # fmt: skip
    slew, (once, place) = steps[0], np.unique(steps[1], return_inverse=True)
    radius = once + shift[:, None]
    boom = boom_states(setup.machine, setup.boom, radius.ravel())
    how = interpolation_of(setup)
    rated = [rated_capacity_t(c, setup.boom.length_m, radius_m=radius, interpolation=how) for c in setup.tables]
    stated = strength_at(setup, radius)
    strength = (np.fmax.reduce(rated) if stated is None else stated)[:, place]
    y = extension * np.array(LEG_SIDE)
    legs = np.stack([np.broadcast_to([leg.x_m for leg in setup.machine.legs], y.shape), y], axis=-1)
    tolerance = setup.machine.setting_tolerance_m
    charts = [
        _Chart(c, covers, rated[i][:, place], _contains(legs, c, tolerance),
               np.all(legs @ c.base.normals.T - c.base.offsets_m >= -TOLERANCE_M, axis=(1, 2)))
        for i, c in enumerate(setup.tables)
        if c.counterweight == setup.lift.counterweight
        and (covers := slew_in_sector(slew, c.sector_deg)).any()
    ]  # fmt: skip
    upper = _upper_bound_t(charts, (gross.size, slew.size))
    values = [np.minimum(c.rated_t, upper) for c in charts]
    own, smaller = np.full_like(upper, -np.inf), np.full_like(upper, -np.inf)
    for c, value in zip(charts, values, strict=True):
        for best, use in ((own, c.contained & c.containing), (smaller, c.contained & ~c.containing)):
            np.copyto(best, value, where=(value > best) & c.covers & use[:, None])
    raw = np.maximum(own, smaller)

    confirmed, same = _confirmed_t(setup, slew, radius[:, place], extension)
    firm = np.where(raw > strength, strength, raw)
    firm = np.where((smaller > own) & (same > 0), np.minimum(firm, same), firm)
    needed = (gross / setup.usable_ratio)[:, None]
    asked = ~(firm >= needed) | (confirmed > 0)

    def holds(c: _Chart, n: IntArray, k: IntArray) -> BoolArray:
        state = boom_at(boom, n * once.size + place[k])
        return _carries(setup, c.table, c.rated_t[n, k], state, legs, n, np.radians(slew[k]))

    argued = raw.copy()
    for c, value in zip(charts, values, strict=True):
        if c.table.rule != "unknown":
            n, k = np.nonzero(asked & (value > argued) & c.covers & ~c.contained[:, None])
            if n.size:
                ok = holds(c, n, k)
                argued[n[ok], k[ok]] = value[n[ok], k[ok]]
    carried = argued > raw
    whole = np.where(argued > strength, strength, argued)
    resolved = carried & (confirmed > 0)
    whole = np.where(resolved, np.minimum(whole, confirmed), whole)
    by_firm = ~carried | ((firm >= needed) & ~(resolved & (whole >= needed)))
    capacity = np.where(by_firm, firm, whole)
    with np.errstate(divide="ignore"):
        used = gross[:, None] / (setup.usable_ratio * np.where(capacity > 0, capacity, 0.0))
    return used.max(axis=1), np.asarray((carried & ~by_firm & ~resolved).any(axis=1))


def _upper_bound_t(charts: Sequence[_Chart], shape: tuple[int, int]) -> FloatArray:
    """What a larger base than a sample's is rated at, at most, shape (N, S); NaN: not rated."""
    upper = np.full(shape, np.inf)
    left = list(charts)
    while left:
        group = [c for c in left if same_base(c.table.base, left[0].table.base)]
        left = [c for c in left if c not in group]
        best = np.fmin.reduce([np.where(c.covers, c.rated_t, np.nan) for c in group])
        bounds = np.any([c.covers for c in group], axis=0) & group[0].containing[:, None]
        upper = np.minimum(upper, np.where(bounds, best, np.inf))
    return upper


def _contains(legs: FloatArray, table: ChartTable, tolerance_m: float) -> BoolArray:
    """Whether the actual base contains the chart's own, for each sample."""
    lines = tipping_lines(legs_at_marks_m(legs, table.base.leg_xy_m, tolerance_m))
    x, y = table.base.vertices_m.T
    # line, sample, corner
    distance = lines.x[..., None] * x + lines.y[..., None] * y - lines.offset_m[..., None]
    return np.asarray((distance >= -TOLERANCE_M).all(axis=(0, 2)))


def _confirmed_t(setup: Setup, slew: FloatArray, radius: FloatArray,
                 extension: FloatArray) -> tuple[FloatArray, FloatArray]:  # fmt: skip
    """What is confirmed for every sample and step, and of that for this very layout; 0 if nothing.

    Of the confirmations of the planned layout: what holds only for longer outriggers is not used.
    """
    confirmed, same = np.zeros(radius.shape), np.zeros(radius.shape)
    for one in setup.confirmations:
        stated = np.array(one.leg_extension_m.as_tuple())
        holds = np.asarray((extension >= stated - TOLERANCE_M).all(axis=1))
        where = holds[:, None] & slew_in_sector(slew, one.sector_deg) & (radius <= one.radius_m + 1e-9)
        value = np.where(where, one.capacity_t, 0.0)
        confirmed = np.maximum(confirmed, value)
        equal = np.asarray(np.isclose(stated, extension, atol=1e-9).all(axis=1))
        same = np.maximum(same, np.where(equal[:, None], value, 0.0))
    return confirmed, same


def _carries(setup: Setup, table: ChartTable, rated: FloatArray, boom: BoomState, legs: FloatArray,
             sample: IntArray, slew_rad: FloatArray) -> BoolArray:  # fmt: skip
    """Whether the chart carries over, for each state: a sample's base, a slew and a radius."""
    assert table.rule != "unknown"
    cos, sin = np.cos(slew_rad), np.sin(slew_rad)
    test = rule_test_load_t(rated, boom.head_mass_t, rule=table.rule, tipping_fraction=table.tipping_fraction)
    points = []
    for load in (test, np.zeros_like(rated)):
        on = loads_on_base(setup.masses, boom, load)
        points.append((on.offset_x + cos * on.along, on.offset_y + sin * on.along))
    loaded, empty = points
    needed = np.full(rated.shape, np.inf)
    for (nx, ny), d in zip(table.base.normals, table.base.offsets_m, strict=True):
        needed = np.minimum(needed, nx * loaded[0] + ny * loaded[1] - d)
    needed = np.maximum(needed, 0.0) - _MARGIN_TOLERANCE_M
    lines, holds = tipping_lines(legs), np.ones(rated.shape, dtype=np.bool_)
    for line in zip(lines.x, lines.y, lines.offset_m, strict=True):
        nx, ny, d = (one[sample] for one in line)
        holds &= nx * loaded[0] + ny * loaded[1] - d >= needed
        holds &= nx * empty[0] + ny * empty[1] - d > _MARGIN_TOLERANCE_M
    return holds
