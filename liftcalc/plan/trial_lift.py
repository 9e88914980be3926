"""What the trial lift shows: the load indicator's reading and the outriggers' forces.

Sources: :data:`ACCURACY`; statics of four forces.
"""

import math

import numpy as np

from liftcalc.base.checks import Check
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.facts.as_set_up import TrialLift
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.check_rows import check_row
from liftcalc.plan.fix import MeasuredLoad

SHOWS_LEAST, SHOWS_MOST = 0.95, 1.10
"""What an indicator shows, over the true load."""
ACCURACY = "WAC 296-56-60085(2); 29 CFR 1917.46(a)(1)(ii) (seen in an excerpt): 95 to 110 %"
"""The published accuracy, with its source."""
HANGS_WITHIN_M = 0.3
"""How far the load may hang from its path, and from where the forces show it beside their error:
our own rule, no published source. [m]"""


def least_t(planned: LiftAssessment) -> float:
    """Gross load of a lift without the load's contingency. [t]"""
    load = planned.setup.lift.load
    return planned.setup.gross_t - load.mass_t * load.contingency_percent / 100


def path_checks(trial: TrialLift, measured: LiftAssessment) -> list[Check]:
    """Whether the load hangs on the load path of the crane as it stands."""
    path, slew = measured.path, np.radians(trial.slew_deg)
    x, y = (path.radius_m * f(np.radians(path.slew_deg)) - trial.radius_m * f(slew) for f in (np.cos, np.sin))
    return [check_row("trial-place", float(np.hypot(x, y).min()), HANGS_WITHIN_M)]


def reading_checks(trial: TrialLift, planned: LiftAssessment, heavier: LiftAssessment | None) -> list[Check]:
    """The indicator's reading against the planned load, by its published accuracy.

    *heavier* is the lift as set up with the maximum load that the reading stands for.
    """
    if trial.indicator_t is None or heavier is None:
        return []
    reading, gross = trial.indicator_t, planned.setup.gross_t
    holds = heavier.verdict.status in ("within", "condition")
    more = reading > gross * (1 + 1e-9)
    maybe = more and holds and reading <= SHOWS_MOST * gross
    most = reading / SHOWS_LEAST
    ask = "the load is found to be what the reading shows, and the lift planner agrees in writing"
    failed = "" if holds else "; ".join(c.title for c in heavier.verdict.failed[:3])
    return [
        check_row("reading", min(reading, gross) if maybe else reading, gross, accuracy=ACCURACY,
                  reading=reading, most=most, condition=ask if maybe else ""),
        check_row("reading-low", reading, SHOWS_LEAST * least_t(planned), accuracy=ACCURACY),
        check_row("reading-checked", 0.0 if holds else float(len(heavier.verdict.failed)), 0.0,
                  most=most, failed=failed),
    ]  # fmt: skip


def force_checks(trial: TrialLift, planned: LiftAssessment, hung: MeasuredLoad | None) -> list[Check]:
    """Outriggers' forces against what mats and ground are sized for, and the load they show."""
    if trial.forces_kN is None or hung is None:
        return []
    error = (trial.force_error_percent or 0.0) / 100
    rows = [
        check_row("force", value * (1 + error), float(limit), part=name)
        for name, value, limit in zip(LEG_NAMES, trial.forces_kN.as_tuple(), planned.forces.design_kN, strict=True)
        if np.isfinite(limit)
    ]
    gross = planned.setup.gross_t
    share = 100 * (hung.load_t / gross - 1)
    more = hung.load_t > gross * (1 + 1e-6)
    maybe = more and hung.load_t - hung.load_error_t <= gross
    said = f"{abs(share):.0f} % {'more' if share > 0 else 'less'} than planned"
    weigh = "the load is weighed: the forces show more than planned, within their error"
    rows.append(check_row(
        "load-by-forces", min(hung.load_t, gross) if maybe or not more else hung.load_t, gross,
        load=hung.load_t, error=hung.load_error_t, said=said,
        differs=f", {said}" if abs(share) >= 0.5 else "", condition=weigh if maybe else "",
    ))  # fmt: skip
    most = hung.load_t + hung.load_error_t
    rows.append(check_row("load-by-forces-low", most, least_t(planned)))
    if math.isnan(hung.x_m):
        return [*rows, check_row("load-place", None, None)]
    slew = np.radians(trial.slew_deg)
    hangs = trial.radius_m * np.array([np.cos(slew), np.sin(slew)])
    off = float(np.hypot(hung.x_m - hangs[0], hung.y_m - hangs[1]))
    limit = hung.place_error_m + HANGS_WITHIN_M
    return [*rows, check_row("load-place", off, limit, more=HANGS_WITHIN_M)]
