"""Check rows of one lift along its path: capacity, stability, height, boom range, wind and level.

Sources beside each row.
"""

import math

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import MAKER_CONFIRMS, Check, limit_check, no_data_check
from liftcalc.base.text import amount
from liftcalc.base.words import slew_words
from liftcalc.crane.legs import resultant_slope_percent
from liftcalc.crane.masses import BoomState
from liftcalc.crane.sectors import ESTIMATE, NOT_RATED, SOURCES
from liftcalc.lift.conditions import CONDITION_REMEDY, condition_of, confirmation_words
from liftcalc.lift.path import worst_step_check
from liftcalc.lift.path_study import PathStudy, capacity_grid, worst_step
from liftcalc.lift.persons import person_checks
from liftcalc.lift.setup import Setup, boom_states, rope_off_drum_m
from liftcalc.lift.wind_checks import gust_at_head_m_s, wind_checks
from liftcalc.reactions.moments import boom_side_share, side_shares

_RULE_WORDS = {
    "test_load": "ISO 4305 test-load rule, 1.25 P + 0.1 F (from memory)",
    "tipping_fraction": "ASME B30.5 / SAE J765, share of the tipping load (second-hand)",
}


_CAPACITY = "Gross load / rated capacity"


def _capacity_check(setup: Setup, study: PathStudy) -> Check:
    step, capacity = study.governing_step, study.capacity
    if capacity.source[step] < ESTIMATE:
        return _rated_check(setup, study, step, "capacity", _CAPACITY)
    source, estimate = SOURCES[int(capacity.source[step])], None
    if capacity.source[step] == NOT_RATED:
        reference = f"manufacturer's charts: {source}"
        remedy = ("No chart rates this boom length, radius and base: reduce the radius, or choose "
                  "another boom length, outrigger extension or crane.")  # fmt: skip
    else:
        reference, estimate = f"{source}; 29 CFR 1926.1404(q)", float(capacity.capacity_t[step])
        remedy = (
            "Ask the manufacturer for a chart for these outrigger extensions, or extend outriggers "
            f"({_short_legs(setup)}) to a base of the charts."
        )
    return no_data_check("capacity", _CAPACITY, value=setup.gross_t, estimate=estimate,
                         quantity="mass_t", reference=reference, where=study.path.describe(step),
                         remedy=remedy)  # fmt: skip


def _rated_check(setup: Setup, study: PathStudy, step: int, id: str, title: str) -> Check:
    """Gross load to what may be used of the capacity of a step that a chart rates."""
    capacity = study.capacity
    limit = float(capacity.capacity_t[step]) * setup.usable_ratio
    condition, where = condition_of(capacity, study.path)
    return limit_check(
        id, title, value=setup.gross_t, limit=limit, quantity="mass_t",
        reference=f"{SOURCES[int(capacity.source[step])]} ({capacity.chart_name(step)})"
        + confirmation_words(setup, capacity, step),
        where=study.path.describe(step) + where, condition=condition,
        remedy=CONDITION_REMEDY if setup.gross_t <= limit else _capacity_remedy(setup, study, step),
    )  # fmt: skip


def rated_part_step(study: PathStudy) -> int:
    """Worst step among those that a chart rates."""
    rated = study.capacity.source < ESTIMATE
    return worst_step(np.where(rated, study.utilisation, -np.inf), study.path)


def _tilt_words(setup: Setup) -> str:
    """Out of level that a row includes: what the crew may leave, or what is stated beyond it."""
    return (
        f"{amount(setup.tilt_any_percent, 'percent')} out of level toward the worst side included"
    )


def _short_legs(setup: Setup) -> str:
    legs = [
        f"{leg.name} {amount(have, 'extension_m')} of {amount(leg.extension_max_m, 'extension_m')}"
        for leg, have in zip(setup.machine.legs, setup.lift.legs.as_tuple(), strict=True)
        if have < leg.extension_max_m - 1e-9
    ]
    return ", ".join(legs) or "all are fully extended"


def _capacity_remedy(setup: Setup, study: PathStudy, step: int) -> str:
    """What rated capacity alone would take, rounded on the safe side; other checks may object.

    Changes that no other check objects to are named by :mod:`liftcalc.lift.remedies`.
    """
    parts = []
    slew, planned = study.path.slew_deg[[step]], float(study.path.radius_m[step])
    radius = np.arange(setup.boom.radius_min_m, planned, 0.1)
    if radius.size:
        near = capacity_grid(setup, slew, radius)
        enough = near.capacity_t[0] >= setup.gross_t / setup.usable_ratio
        enough &= near.source[0] < ESTIMATE
        firm = enough & ~near.on_condition[0]
        enough = firm if firm.any() else enough
        if enough.any():
            best = math.floor(float(radius[enough][-1]) * 10 + 1e-6) / 10
            nearer = math.ceil((planned - best) * 10 - 1e-6) / 10
            parts.append(
                f"bring the load within {amount(best, 'length_m', 'down')} radius at this slew "
                f"(crane position {amount(nearer, 'length_m', 'up')} nearer)"
                + ("" if firm.any() else f", on condition that {MAKER_CONFIRMS}")
            )
    over = setup.gross_t - setup.usable_ratio * float(study.capacity.capacity_t[step])
    parts.append(f"take {amount(over, 'mass_t', 'up')} off the hook or use a larger crane")
    return f"For rated capacity alone: {'; or '.join(parts)}."


def path_checks(setup: Setup, study: PathStudy) -> list[Check]:
    """Capacity, stability, hook block, height, boom range, wind, level and lifted persons."""
    # long: one table of rows
    path, machine, boom, block = study.path, setup.machine, setup.boom, setup.hook_block
    stand, clearance = setup.lift.stand, setup.rules.clearance
    tilt = float(resultant_slope_percent(stand.tilt_x_percent, stand.tilt_y_percent))
    over = study.tipping_line[int(np.argmin(study.tipping_t))]
    rated = study.capacity.source < ESTIMATE
    # where part of the path has no data: whether the rest of it is over its rated capacity
    part = []
    if rated.any() and not rated.all():
        title = f"{_CAPACITY}, where a chart rates the path"
        part = [_rated_check(setup, study, rated_part_step(study), "capacity-rated-part", title)]
    rows = [
        _capacity_check(setup, study), *part,
        worst_step_check(path, "stability-rule", "Gross load / stability on the actual base",
            value=setup.gross_t, limit=np.maximum(study.stability_t, 1e-9), quantity="mass_t",
            reference=_RULE_WORDS[machine.stability_rule], also=f"; {_tilt_words(setup)}",
            remedy=f"Extend outriggers ({_short_legs(setup)}), reduce the radius or level the "
            "crane."),
        worst_step_check(path, "stability-tipping",
            "Gross load / tipping load with wind and hoist factor", value=setup.gross_t,
            limit=np.maximum(study.tipping_t, 1e-9), quantity="mass_t",
            reference="statics: moments about the tipping line; hoist factor EN 13001-2",
            also=f"; tipping line {over}; wind {amount(setup.lift.wind_m_s, 'speed_m_s')} "
            f"{setup.lift.wind_basis}, hoist factor {float(setup.gross.dynamic_factor):.2f}, "
            f"{_tilt_words(setup)}",
            remedy="Wait for less wind, level the crane or reduce the radius."),
        limit_check("hook-block", "Gross load / rated load of the hook block", value=setup.gross_t,
                    limit=block.capacity_t, quantity="mass_t", reference="machine data",
                    where=f"hook block {block.id}, {block.falls} falls",
                    remedy="Reeve a larger hook block."),
        worst_step_check(path, "head-room", "Hook block clearance above anti-two-block distance",
                         value=study.head_room_m, limit=clearance.head_room_m, quantity="length_m",
                         sense="min", reference=f"machine data; {clearance.reference}",
                         remedy="Use a longer boom, shorter slings or carry the load lower."),
        *_rope_check(setup),
        worst_step_check(path, "radius-greatest", "Radius / maximum radius of the boom",
            value=path.radius_m, limit=boom.radius_max_m, quantity="length_m",
            reference=f"machine data: boom angle at least {machine.boom.angle_min_deg:g}°",
            also=f"; boom {amount(boom.length_m, 'length_m')}",
            remedy="Use a longer boom or a crane position nearer to the load."),
        worst_step_check(path, "radius-least", "Radius / minimum radius of the boom",
            value=path.radius_m, limit=boom.radius_min_m, quantity="length_m", sense="min",
            reference=f"machine data: boom angle at most {machine.boom.angle_max_deg:g}°",
            also=f"; boom {amount(boom.length_m, 'length_m')}",
            remedy="Use a shorter boom or a crane position farther from the load."),
        *wind_checks(setup, path, study.boom),
        limit_check("level", "Out of level", value=tilt, limit=setup.permitted_tilt_percent,
            quantity="percent",
            reference="machine data, lift list, 1 % at most (ISO 4305, SAE J765, second-hand)",
            where="as stated; stability, tipping and outrigger rows count "
            f"{amount(setup.tilt_any_percent, 'percent')} toward the worst side",
            remedy="Level the crane on its jacks, or place packing under the low outriggers."),
    ]  # fmt: skip
    if setup.lift.persons:
        rows += person_checks(setup, path, study.capacity, governing_step=study.governing_step,
                              slope_percent=max(tilt, setup.permitted_tilt_percent),
                              gust_m_s=float(gust_at_head_m_s(setup,
                              float(study.boom.head_z_m.max()))))  # fmt: skip
    return rows


def _rope_check(setup: Setup) -> list[Check]:
    """Rope off the drum, where the machine data state how much there is."""
    if setup.machine.rope_length_m is None:
        return []
    return [
        limit_check("hoist-rope", "Hoist rope off the drum", value=rope_off_drum_m(setup),
            limit=setup.machine.rope_length_m, quantity="length_m",
            reference="machine data, wraps that stay on the drum taken off; drum taken at the tail",
            where=f"hook at its lowest, {setup.hook_block.falls} falls",
            remedy="Reeve fewer falls where the hook block allows, or use longer slings."),
    ]  # fmt: skip


def unladen_percent(setup: Setup) -> tuple[BoomState, FloatArray]:
    """Boom at its minimum radius, and the share of the weight on the outriggers under it without
    load: each whole degree of slew by each direction of tilt."""
    boom = boom_states(setup.machine, setup.boom, np.array([max(setup.boom.radius_min_m, 1e-3)]))
    tilt_x, tilt_y = setup.tilts_deg().T
    back = boom_side_share(np.arange(0.0, 360.0, 1.0), boom, base=setup.base, masses=setup.masses,
                           tilt_x_deg=tilt_x, tilt_y_deg=tilt_y)  # fmt: skip
    return boom, 100 * np.nan_to_num(back, nan=0.0).reshape(360, -1)


def side_percent(setup: Setup, study: PathStudy) -> FloatArray:
    """Share of the weight on each side, load on the hook: directions of tilt, steps, sides."""
    tilt_x, tilt_y = setup.tilts_deg().T[..., None]
    sides = side_shares(study.path.slew_deg, study.boom, base=setup.base, masses=setup.masses,
                        load_t=setup.gross_t, tilt_x_deg=tilt_x, tilt_y_deg=tilt_y,
                        layout="pairs")  # fmt: skip
    return 100 * np.nan_to_num(sides, nan=0.0)


def no_load_checks(setup: Setup, study: PathStudy) -> list[Check]:
    """Backward stability unladen, and the share on the lightest side where the owner asks."""
    share = unladen_percent(setup)[1].min(axis=1)
    k = int(np.argmax(share <= share.min() + 1e-9))  # the first of equals, whatever the rounding
    rows = [
        limit_check("backward-stability", "Backward stability, unladen", value=float(share[k]),
            limit=max(setup.rules.backward_share_percent, 1e-9), quantity="percent", sense="min",
            reference="ASME B30.5, 15 % (from memory)",
            where=f"boom at its minimum radius, {slew_words(float(k))}: slew "
            f"{amount(float(k), 'slew_deg')}; {_tilt_words(setup)}",
            remedy="Fit less counterweight, lower the boom or extend the outriggers behind it."),
    ]  # fmt: skip
    if setup.rules.least_leg_share_percent > 0:
        rows.append(worst_step_check(
            study.path, "least-side-share", "Minimum share of the weight on one side",
            value=side_percent(setup, study).min(axis=-1).min(axis=0), sense="min",
            limit=setup.rules.least_leg_share_percent, quantity="percent", reference="owner's rule",
            also=f"; {_tilt_words(setup)}",
            remedy=f"Extend outriggers ({_short_legs(setup)}) or reduce the radius.",
        ))  # fmt: skip
    return rows
