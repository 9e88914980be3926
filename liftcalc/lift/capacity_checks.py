"""Check rows of one lift along its path: capacity, stability, height, boom range, wind and level.

Sources beside each row.
"""

import math

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.base.checks import MAKER_CONFIRMS, Check, no_data_check
from liftcalc.base.text import amount
from liftcalc.base.words import slew_words
from liftcalc.crane.legs import resultant_slope_percent
from liftcalc.crane.masses import BoomState
from liftcalc.crane.sectors import ESTIMATE, NOT_RATED, SOURCES
from liftcalc.lift.check_rows import CHECK_ROWS, check_row
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


def _capacity_check(setup: Setup, study: PathStudy) -> Check:
    step, capacity = study.governing_step, study.capacity
    if capacity.source[step] < ESTIMATE:
        return _rated_check(setup, study, step, "capacity")
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
    return no_data_check("capacity", CHECK_ROWS["capacity"]["title"], value=setup.gross_t,
                         estimate=estimate, quantity="mass_t", reference=reference,
                         where=study.path.describe(step), remedy=remedy)  # fmt: skip


def _rated_check(setup: Setup, study: PathStudy, step: int, name: str) -> Check:
    """Gross load to what may be used of the capacity of a step that a chart rates."""
    capacity = study.capacity
    limit = float(capacity.capacity_t[step]) * setup.usable_ratio
    condition, where = condition_of(capacity, study.path)
    chart = f"{SOURCES[int(capacity.source[step])]} ({capacity.chart_name(step)})"
    return check_row(name, setup.gross_t, limit, step=study.path.describe(step),
                     chart=chart + confirmation_words(setup, capacity, step), on_condition=where,
                     condition=condition, met=CONDITION_REMEDY, smaller="" if setup.gross_t <= limit
                     else _capacity_remedy(setup, study, step))  # fmt: skip


def rated_part_step(study: PathStudy) -> int:
    """Worst step among those that a chart rates."""
    rated = study.capacity.source < ESTIMATE
    return worst_step(np.where(rated, study.utilisation, -np.inf), study.path)


def _tilt_words(setup: Setup) -> str:
    """Out of level that a row includes: what the crew may leave, or what is stated beyond it."""
    return f"{amount(setup.tilt_any_percent, 'percent')} out of level toward the worst side included"


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
    path, machine, boom, block = study.path, setup.machine, setup.boom, setup.hook_block
    stand, clearance = setup.lift.stand, setup.rules.clearance
    tilt = float(resultant_slope_percent(stand.tilt_x_percent, stand.tilt_y_percent))
    over = study.tipping_line[int(np.argmin(study.tipping_t))]
    rated, lean = study.capacity.source < ESTIMATE, _tilt_words(setup)
    # where part of the path has no data: whether the rest of it is over its rated capacity
    part = []
    if rated.any() and not rated.all():
        part = [_rated_check(setup, study, rated_part_step(study), "capacity-rated-part")]
    rows = [
        _capacity_check(setup, study), *part,
        worst_step_check(path, "stability-rule", setup.gross_t,
                         np.maximum(study.stability_t, 1e-9), lean=lean,
                         rule=_RULE_WORDS[machine.stability_rule], short_legs=_short_legs(setup)),
        worst_step_check(path, "stability-tipping", setup.gross_t,
                         np.maximum(study.tipping_t, 1e-9), line=over, wind=setup.lift.wind_m_s,
                         basis=setup.lift.wind_basis, hoist=float(setup.gross.dynamic_factor),
                         lean=lean),
        check_row("hook-block", setup.gross_t, block.capacity_t, block=block.id, falls=block.falls),
        worst_step_check(path, "head-room", study.head_room_m, clearance.head_room_m,
                         owner=clearance.reference),
        *([check_row("hoist-rope", rope_off_drum_m(setup), rope, falls=block.falls)]
          if (rope := machine.rope_length_m) is not None else []),
        worst_step_check(path, "radius-greatest", path.radius_m, boom.radius_max_m,
                         angle=machine.boom.angle_min_deg, boom=boom.length_m),
        worst_step_check(path, "radius-least", path.radius_m, boom.radius_min_m,
                         angle=machine.boom.angle_max_deg, boom=boom.length_m),
        *wind_checks(setup, path, study.boom),
        check_row("level", tilt, setup.permitted_tilt_percent, counted=setup.tilt_any_percent),
    ]  # fmt: skip
    if setup.lift.persons:
        rows += person_checks(setup, path, study.capacity, governing_step=study.governing_step,
                              slope_percent=max(tilt, setup.permitted_tilt_percent),
                              gust_m_s=float(gust_at_head_m_s(setup,
                              float(study.boom.head_z_m.max()))))  # fmt: skip
    return rows


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
    lean, least = _tilt_words(setup), setup.rules.least_leg_share_percent
    back = check_row("backward-stability", float(share[k]),
                     max(setup.rules.backward_share_percent, 1e-9), side=slew_words(float(k)),
                     slew=k, lean=lean)  # fmt: skip
    if not least > 0:
        return [back]
    side = side_percent(setup, study).min(axis=-1).min(axis=0)
    return [back, worst_step_check(study.path, "least-side-share", side, least, lean=lean,
                                   short_legs=_short_legs(setup))]  # fmt: skip
