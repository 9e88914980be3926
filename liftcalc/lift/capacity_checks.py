"""Capacity, stability, height, wind and level checks of one lift along its path.

Contents: :class:`PathStudy`, :func:`study_path`, :func:`capacity_circle`, :func:`strength_at`,
:func:`path_checks`.

Sources beside each check row. The chart carries over to the actual base as told in
:mod:`liftcalc.crane.capacity`; where it does not, there is no capacity data and the estimate never
reads as a pass.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import MAKER_CONFIRMS, Check, limit_check, no_data_check
from liftcalc.base.errors import InputError
from liftcalc.crane.capacity import ESTIMATE, NOT_RATED, SOURCES, CapacityBySlew, capacity_by_slew
from liftcalc.crane.chart import Interpolation, equal_runs, rated_capacity_t, slew_in_sector
from liftcalc.crane.hook_room import hook_room
from liftcalc.crane.level import resultant_slope_percent
from liftcalc.crane.masses import AdverseTerms, BoomState
from liftcalc.crane.sectors import CONFIRMED
from liftcalc.crane.stability import stability_capacity_t, tipping_load
from liftcalc.lift.boom_setting import boom_bend, loaded_head_z_m
from liftcalc.lift.conditions import (
    CONDITION_REMEDY,
    condition_of,
    confirmation_words,
    confirmed,
)
from liftcalc.lift.path import LoadPath
from liftcalc.lift.persons import person_checks
from liftcalc.lift.setup import Setup, boom_states, rope_off_drum_m
from liftcalc.lift.wind_checks import gust_at_head_m_s, wind_checks, wind_terms
from liftcalc.reactions.moments import boom_side_share, resultant, side_shares

__all__ = [
    "PathStudy",
    "adverse_terms",
    "capacity_at",
    "capacity_circle",
    "capacity_grid",
    "interpolation_of",
    "no_load_checks",
    "path_checks",
    "strength_at",
    "study_path",
]


_RULE_WORDS = {
    "test_load": "ISO 4305 test-load rule, 1.25 P + 0.1 F (from memory)",
    "tipping_fraction": "ASME B30.5 / SAE J765, share of the tipping load",
}


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
    if not setup.strength_tables:
        return None
    values = np.stack(
        [
            rated_capacity_t(
                t, setup.boom.length_m, radius_m=radius_m, interpolation=interpolation_of(setup)
            )
            for t in setup.strength_tables
        ]
    )
    least: FloatArray = np.fmin.reduce(values, axis=0)
    return least


def adverse_terms(
    setup: Setup, *, wind: bool, dynamic: bool, boom: BoomState | None = None
) -> AdverseTerms:
    """Out-of-level always, to the worst side; wind from there and the hoist factor where asked.

    Wind needs *boom*: its forces follow the boom's height at each state.
    """
    factor = float(setup.gross.dynamic_factor) if dynamic else 1.0
    level = AdverseTerms(tilt_any_deg=setup.tilt_any_deg, dynamic_factor=factor)
    if not wind:
        return level
    if boom is None:
        raise InputError.of("boom", None, "the boom's states, which the wind acts on")
    terms = wind_terms(setup, boom)
    return dataclasses.replace(
        level,
        wind_direction="worst",
        boom_wind_force_kN=terms.boom_force_kN,
        boom_wind_z_m=terms.boom_z_m,
        superstructure_wind_force_kN=terms.superstructure_force_kN,
        superstructure_wind_z_m=terms.superstructure_z_m,
        load_wind_force_kN=terms.load_force_kN,
    )


def _capacity(
    setup: Setup,
    slew_deg: FloatArray,
    radius_m: FloatArray,
    *,
    layout: str,
    boom: BoomState | None,
    strength_t: FloatArray | None,
) -> CapacityBySlew:
    """Capacity at slews and radii; without *boom* of the charts of contained bases only."""
    found = capacity_by_slew(
        slew_deg,
        radius_m,
        boom_length_m=setup.boom.length_m,
        base=setup.base,
        charts=setup.tables,
        counterweight=setup.lift.counterweight,
        masses=None if boom is None else setup.masses,
        boom=boom,
        rule=setup.machine.stability_rule,
        tipping_fraction=setup.machine.tipping_fraction,
        interpolation=interpolation_of(setup),
        strength_t=strength_t,
        setting_tolerance_m=setup.machine.setting_tolerance_m,
        layout="pairs" if layout == "pairs" else "grid",
    )
    return confirmed(setup, found)


def _capacity_for_load(setup: Setup, slew_deg: FloatArray, boom: BoomState) -> CapacityBySlew:
    """Capacity at each step; a chart is carried over only where the load needs it."""
    first, place = equal_runs(boom.radius_m)
    strength = strength_at(setup, boom.radius_m[first])
    strength = None if strength is None else strength[place]
    found = _capacity(
        setup, slew_deg, boom.radius_m, boom=boom, strength_t=strength, layout="pairs"
    )
    needed = setup.gross_t / (setup.rules.utilisation_limit_percent / 100)
    argued = found.on_condition | ((found.source == CONFIRMED) & ~(found.capacity_t >= needed))
    if not argued.any():
        return found
    at = np.flatnonzero(argued)
    # without masses only the radius and the sectors that hold count
    sectors = {c.sector_deg for c in setup.tables} | {c.sector_deg for c in setup.confirmations}
    held = (slew_in_sector(slew_deg[at], sector) for sector in sectors)
    first, place = equal_runs(boom.radius_m[at], *held)
    once = at[first]
    strength = None if strength is None else strength[once]
    firm = _capacity(
        setup, slew_deg[once], boom.radius_m[once], boom=None, strength_t=strength, layout="pairs"
    )
    enough = (firm.capacity_t >= needed)[place]
    changed = {}
    for name in ("capacity_t", "source", "chart", "capped_by", "margin_m", "required_margin_m"):
        changed[name] = getattr(found, name).copy()
        changed[name][at[enough]] = getattr(firm, name)[place[enough]]
    return dataclasses.replace(found, **changed)


def capacity_at(setup: Setup, slew_deg: FloatArray, radius_m: FloatArray) -> CapacityBySlew:
    """Capacity at slew i and radius i, shape (N,)."""
    return _capacity_for_load(setup, slew_deg, boom_states(setup.machine, setup.boom, radius_m))


def capacity_circle(
    setup: Setup, radius_m: ArrayLike, *, slew_step_deg: float = 1.0, carried: bool = True
) -> CapacityBySlew:
    """Capacity round the slew circle at the stated radii, shape (S, R).

    Without *carried* only of charts whose base lies inside the actual one.
    """
    if not setup.tables:
        raise InputError.of(
            f"charts of {setup.machine.id}", "none", "at least one rated capacity chart"
        )
    return capacity_grid(setup, np.arange(0.0, 360.0, slew_step_deg), radius_m, carried=carried)


def capacity_grid(
    setup: Setup, slew_deg: ArrayLike, radius_m: ArrayLike, *, carried: bool = True
) -> CapacityBySlew:
    """Capacity at the stated slews and radii, shape (S, R)."""
    slew = np.asarray(slew_deg, dtype=np.float64)
    radius = np.unique(np.asarray(radius_m, dtype=np.float64))
    boom = boom_states(setup.machine, setup.boom, radius) if carried else None
    strength = strength_at(setup, radius)
    return _capacity(setup, slew, radius, boom=boom, strength_t=strength, layout="grid")


def study_path(setup: Setup, path: LoadPath) -> PathStudy:
    """Capacity, stability, heights and resultant at every step of the path."""
    if not setup.tables:
        raise InputError.of(
            f"charts of {setup.machine.id}", "none", "at least one rated capacity chart"
        )
    boom = boom_states(setup.machine, setup.boom, path.radius_m)
    capacity = _capacity_for_load(setup, path.slew_deg, boom)
    with np.errstate(divide="ignore"):  # an estimate may be nothing at all
        utilisation = setup.gross_t / capacity.capacity_t
    base, masses = setup.base, setup.masses
    stability = stability_capacity_t(
        path.slew_deg,
        boom,
        base=base,
        masses=masses,
        rule=setup.machine.stability_rule,
        tipping_fraction=setup.machine.tipping_fraction,
        adverse=adverse_terms(setup, wind=False, dynamic=False),
        layout="pairs",
    )
    tipping = tipping_load(
        path.slew_deg,
        boom,
        base=base,
        masses=masses,
        adverse=adverse_terms(setup, wind=True, dynamic=True, boom=boom),
        layout="pairs",
    )
    names = setup.base.line_names
    at = resultant(
        path.slew_deg, boom, base=base, masses=masses, load_t=setup.gross_t, layout="pairs"
    )
    stand = setup.lift.stand.level_m
    room = hook_room(
        loaded_head_z_m(setup, boom_bend(setup, path.radius_m)[0]),
        path.level_m - stand,
        load_height_m=setup.lift.rigging.point_height_m,
        sling_height_m=setup.sling_height_m,
        two_block_distance_m=setup.machine.boom.two_block_clearance_m
        + setup.machine.hook_block(setup.lift.hook_block).height_m,
    )
    no_data = capacity.source >= ESTIMATE
    if no_data.any():
        rank = np.where(np.isnan(utilisation), np.inf, utilisation)
        governing = _worst_step(np.where(no_data, rank, -np.inf), path)
    else:
        governing = _worst_step(utilisation, path)
    return PathStudy(
        path=path,
        boom=boom,
        capacity=capacity,
        utilisation=utilisation,
        stability_t=stability,
        tipping_t=tipping.tipping_t,
        tipping_line=tuple(np.array([*names, "none"], dtype=object)[tipping.line].tolist()),
        head_room_m=room.headroom_m,
        resultant_x_m=at.x_m,
        resultant_y_m=at.y_m,
        margin_m=at.margin_m,
        governing_step=governing,
    )


def _worst_step(rank: FloatArray, path: LoadPath) -> int:
    """Step of the greatest rank; a chart's rows make many equal, of which the farthest counts."""
    worst = np.flatnonzero(rank >= rank.max())
    return int(worst[np.argmax(path.radius_m[worst])])


def _capacity_check(setup: Setup, study: PathStudy) -> Check:
    step = study.governing_step
    capacity, path = study.capacity, study.path
    source = SOURCES[int(capacity.source[step])]
    value = float(capacity.capacity_t[step])
    if capacity.source[step] == NOT_RATED:
        return no_data_check(
            "capacity",
            "Gross load to rated capacity",
            value=setup.gross_t,
            quantity="mass_t",
            reference=f"maker's charts: {source}",
            where=path.describe(step),
            remedy="No chart rates this boom length, radius and base: come nearer, choose "
            "another boom length, base or machine.",
        )
    if capacity.source[step] == ESTIMATE:
        return no_data_check(
            "capacity",
            "Gross load to rated capacity",
            value=setup.gross_t,
            estimate=value,
            quantity="mass_t",
            reference=f"{source}; 29 CFR 1926.1404(q)",
            where=path.describe(step),
            remedy="Ask the maker for a chart for this leg layout, or extend legs "
            f"({_short_legs(setup)}) to a base the charts provide for.",
        )
    chart = capacity.chart_name(step)
    limit = value * setup.rules.utilisation_limit_percent / 100
    condition, where = condition_of(capacity, path)
    return limit_check(
        "capacity",
        "Gross load to rated capacity",
        value=setup.gross_t,
        limit=limit,
        quantity="mass_t",
        reference=f"{source} ({chart}){confirmation_words(setup, capacity, step)}",
        where=path.describe(step) + where,
        remedy=CONDITION_REMEDY if setup.gross_t <= limit else _capacity_remedy(setup, study, step),
        condition=condition,
    )


def _rated_part(setup: Setup, study: PathStudy) -> list[Check]:
    """Where part of the path has no data: whether the rest of it is over its rated capacity."""
    rated = study.capacity.source < ESTIMATE
    if rated.all() or not rated.any():
        return []
    step = _worst_step(np.where(rated, study.utilisation, -np.inf), study.path)
    chart = study.capacity.chart_name(step)
    limit = float(study.capacity.capacity_t[step]) * setup.rules.utilisation_limit_percent / 100
    condition, where = condition_of(study.capacity, study.path)
    return [
        limit_check(
            "capacity-rated-part",
            "Gross load to rated capacity on the part of the path that has data",
            value=setup.gross_t,
            limit=limit,
            quantity="mass_t",
            reference=f"{SOURCES[int(study.capacity.source[step])]} ({chart})"
            + confirmation_words(setup, study.capacity, step),
            where=study.path.describe(step) + where,
            remedy=CONDITION_REMEDY
            if setup.gross_t <= limit
            else _capacity_remedy(setup, study, step),
            condition=condition,
        )
    ]


def _tilt_words(setup: Setup) -> str:
    """Out of level that a row includes."""
    percent = 100 * np.tan(np.radians(setup.tilt_any_deg))
    return f"{percent:.3g} % out of level toward the worst side"


def _short_legs(setup: Setup) -> str:
    legs = [
        f"{leg.name} {have:.2f} m of {leg.extension_max_m:.2f} m"
        for leg, have in zip(setup.machine.legs, setup.lift.legs.as_tuple(), strict=True)
        if have < leg.extension_max_m - 1e-9
    ]
    return ", ".join(legs) or "all are fully out"


def _capacity_remedy(setup: Setup, study: PathStudy, step: int) -> str:
    """What rated capacity alone would take, rounded on the safe side; other checks may object.

    Changes that no other check objects to are named by :mod:`liftcalc.lift.remedies`.
    """
    share = setup.rules.utilisation_limit_percent / 100
    needed = setup.gross_t / share
    parts = []
    slew = np.array([study.path.slew_deg[step]])
    radius = np.arange(setup.boom.radius_min_m, study.path.radius_m[step], 0.1)
    if radius.size:
        near = capacity_grid(setup, slew, radius)
        enough = (near.capacity_t[0] >= needed) & (near.source[0] < ESTIMATE)
        firm = enough & ~near.on_condition[0]
        enough = firm if firm.any() else enough
        if enough.any():
            best = math.floor(float(radius[enough][-1]) * 10 + 1e-6) / 10
            nearer = math.ceil((study.path.radius_m[step] - best) * 10 - 1e-6) / 10
            parts.append(
                f"bring the load within {best:.1f} m radius at this slew "
                f"(stand {nearer:.1f} m nearer)"
                + ("" if firm.any() else f", on condition that {MAKER_CONFIRMS}")
            )
    over = setup.gross_t - share * float(study.capacity.capacity_t[step])
    parts.append(
        f"take {math.ceil(over * 100 - 1e-6) / 100:.2f} t off the hook or use a larger machine"
    )
    return f"For rated capacity alone: {'; or '.join(parts)}."


def path_checks(setup: Setup, study: PathStudy) -> list[Check]:
    """Capacity, stability, hook block, height, boom range, wind, level and backward stability."""
    lift, machine, rules = setup.lift, setup.machine, setup.rules
    path, gross = study.path, setup.gross_t
    checks = [_capacity_check(setup, study), *_rated_part(setup, study)]

    step = int(np.argmin(study.stability_t))
    checks.append(
        limit_check(
            "stability-rule",
            f"Gross load to stability on the actual base, {_tilt_words(setup)} included",
            value=gross,
            limit=max(float(study.stability_t[step]), 1e-9),
            quantity="mass_t",
            reference=_RULE_WORDS[machine.stability_rule],
            where=path.describe(step),
            remedy=f"Extend legs ({_short_legs(setup)}), reduce the radius or level the machine.",
        )
    )
    step = int(np.argmin(study.tipping_t))
    checks.append(
        limit_check(
            "stability-tipping",
            f"Gross load to tipping over {study.tipping_line[step]} with wind "
            f"{setup.wind_m_s:g} m/s {setup.lift.wind_basis}, hoist factor "
            f"{float(setup.gross.dynamic_factor):.2f} and {_tilt_words(setup)}",
            value=gross,
            limit=max(float(study.tipping_t[step]), 1e-9),
            quantity="mass_t",
            reference="statics: moments about the tipping line; hoist factor EN 13001-2",
            where=path.describe(step),
            remedy="Wait for less wind, level the machine or reduce the radius.",
        )
    )
    block = machine.hook_block(lift.hook_block)
    checks.append(
        limit_check(
            "hook-block",
            f"Gross load to hook block {block.id} ({block.falls} falls)",
            value=gross,
            limit=block.capacity_t,
            quantity="mass_t",
            reference="machine data",
            remedy="Reeve a larger hook block.",
        )
    )
    step = int(np.argmin(study.head_room_m))
    checks.append(
        limit_check(
            "head-room",
            "Room between hook block and boom head above the two-blocking distance",
            value=float(study.head_room_m[step]),
            limit=rules.clearance.head_room_m,
            quantity="length_m",
            sense="min",
            reference=f"machine data; {rules.clearance.reference}",
            where=path.describe(step),
            remedy="Use a longer boom, shorter slings or carry the load lower.",
        )
    )
    if machine.rope_length_m is not None:
        checks.append(
            limit_check(
                "hoist-rope",
                f"Hoist rope off the drum with the hook at its lowest, {block.falls} falls",
                value=rope_off_drum_m(setup),
                limit=machine.rope_length_m,
                quantity="length_m",
                reference="machine data, wraps that stay on the drum taken off; drum taken at the "
                "tail",
                remedy="Reeve fewer falls where the hook block allows, or use longer slings.",
            )
        )
    step = int(np.argmax(path.radius_m))
    checks.append(
        limit_check(
            "radius-greatest",
            f"Greatest radius of the boom at {setup.boom.length_m:g} m",
            value=float(path.radius_m[step]),
            limit=setup.boom.radius_max_m,
            quantity="length_m",
            reference=f"machine data: boom angle at least {machine.boom.angle_min_deg:g}°",
            where=path.describe(step),
            remedy="Use a longer boom or stand nearer.",
        )
    )
    step = int(np.argmin(path.radius_m))
    checks.append(
        limit_check(
            "radius-least",
            f"Least radius of the boom at {setup.boom.length_m:g} m",
            value=float(path.radius_m[step]),
            limit=setup.boom.radius_min_m,
            quantity="length_m",
            sense="min",
            reference=f"machine data: boom angle at most {machine.boom.angle_max_deg:g}°",
            where=path.describe(step),
            remedy="Use a shorter boom or stand farther away.",
        )
    )
    checks += wind_checks(setup, path, study.boom)
    tilt = float(resultant_slope_percent(lift.stand.tilt_x_percent, lift.stand.tilt_y_percent))
    checks.append(
        limit_check(
            "level",
            "Out-of-level of the machine",
            value=tilt,
            limit=setup.permitted_tilt_percent,
            quantity="percent",
            reference="machine data, lift list, 1 % at most (ISO 4305, SAE J765)",
            where=f"stability, tipping and leg rows include {_tilt_words(setup)}",
            remedy="Level the machine on its jacks or pack under the low legs.",
        )
    )

    if lift.persons:
        checks += person_checks(
            setup,
            path,
            study.capacity,
            governing_step=study.governing_step,
            slope_percent=max(tilt, setup.permitted_tilt_percent),
            gust_m_s=float(gust_at_head_m_s(setup, float(study.boom.head_z_m.max()))),
        )
    return checks


def no_load_checks(setup: Setup, study: PathStudy) -> list[Check]:
    """Backward stability with an empty hook, and the least loaded side where the owner asks."""
    rules = setup.rules
    slew = np.arange(0.0, 360.0, 1.0)
    boom = boom_states(setup.machine, setup.boom, np.array([max(setup.boom.radius_min_m, 1e-3)]))
    tilt_x, tilt_y = setup.tilts_deg().T
    back = boom_side_share(
        slew, boom, base=setup.base, masses=setup.masses, tilt_x_deg=tilt_x, tilt_y_deg=tilt_y
    )
    share = np.where(np.isnan(back), 0.0, back * 100).min(axis=1)
    k = int(np.argmin(share))
    rows = [
        limit_check(
            "backward-stability",
            "Weight on the boom-side legs without load, boom at its least radius",
            value=float(share[k]),
            limit=max(rules.backward_share_percent, 1e-9),
            quantity="percent",
            sense="min",
            reference="ASME B30.5, 15 % (from memory)",
            where=f"slew {slew[k]:.0f}°, {_tilt_words(setup)}",
            remedy="Fit less counterweight, lower the boom or extend the legs behind it.",
        )
    ]
    if rules.least_leg_share_percent > 0:
        sides = side_shares(
            study.path.slew_deg,
            study.boom,
            base=setup.base,
            masses=setup.masses,
            load_t=setup.gross_t,
            tilt_x_deg=tilt_x[:, None],
            tilt_y_deg=tilt_y[:, None],
            layout="pairs",
        )
        least = np.where(np.isnan(sides.least_share), 0.0, sides.least_share).min(axis=0) * 100
        step = int(np.argmin(least))
        rows.append(
            limit_check(
                "least-side-share",
                "Weight on the least loaded side",
                value=float(least[step]),
                limit=rules.least_leg_share_percent,
                quantity="percent",
                sense="min",
                reference="owner's rule",
                where=f"{study.path.describe(step)}, {_tilt_words(setup)}",
                remedy=f"Extend legs ({_short_legs(setup)}) or reduce the radius.",
            )
        )
    return rows
