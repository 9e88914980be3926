"""What the trial lift shows: the load indicator's reading and the outriggers' forces.

Sources: :data:`ACCURACY`; statics of four forces.
"""

import math

import numpy as np

from liftcalc.base.checks import Check, limit_check, no_data_check
from liftcalc.base.text import amount
from liftcalc.crane.legs import LEG_NAMES
from liftcalc.facts.as_set_up import TrialLift
from liftcalc.lift.assess import LiftAssessment
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
    x, y = (path.radius_m * f(np.radians(path.slew_deg)) - trial.radius_m * f(slew)
            for f in (np.cos, np.sin))  # fmt: skip
    return [limit_check(
        "trial-place", "Load at the trial lift from the load path",
        value=float(np.hypot(x, y).min()), limit=HANGS_WITHIN_M, quantity="length_m",
        reference="path of the crane as it stands; own rule, no published source",
        remedy="Slew, radius or the crane's place is not what it is taken for: measure again.",
    )]  # fmt: skip


def reading_checks(
    trial: TrialLift, planned: LiftAssessment, heavier: LiftAssessment | None
) -> list[Check]:
    """The indicator's reading against the planned load, by its published accuracy.

    *heavier* is the lift as set up with the maximum load that the reading stands for.
    """
    if trial.indicator_t is None or heavier is None:
        return []
    reading, gross = trial.indicator_t, planned.setup.gross_t
    holds = heavier.verdict.status in ("within", "condition")
    more = reading > gross * (1 + 1e-9)
    maybe = more and holds and reading <= SHOWS_MOST * gross
    most = f"up to {amount(reading / SHOWS_LEAST, 'mass_t', 'up')}"
    ask = "the load is found to be what the reading shows, and the lift planner agrees in writing"
    return [
        limit_check(
            "reading", "Reading of the load indicator",
            value=min(reading, gross) if maybe else reading, limit=gross, quantity="mass_t",
            where=f"reading {amount(reading, 'mass_t')}; {most} may hang on the hook",
            reference=ACCURACY, condition=ask if maybe else "",
            remedy="More hangs on the hook than planned: set the load down, find out why, plan "
            "again.",
        ),
        limit_check(
            "reading-low", "Reading of the load indicator, not below the planned load", sense="min",
            value=reading, limit=SHOWS_LEAST * least_t(planned), quantity="mass_t",
            reference=ACCURACY, where="load without its contingency, rigging and block",
            remedy="The indicator may be set for another reeving, boom or block: set the load down "
            "and check it.",
        ),
        limit_check(
            "reading-checked", f"Checks not within limits with {most} on the hook",
            value=0.0 if holds else float(len(heavier.verdict.failed)), limit=0.0, quantity="count",
            reference="every check of the four calculation sheets, as set up, with that load",
            where="" if holds else "; ".join(c.title for c in heavier.verdict.failed[:3]),
            remedy="Weigh the load, or plan again for that load.",
        ),
    ]  # fmt: skip


def force_checks(
    trial: TrialLift, planned: LiftAssessment, hung: MeasuredLoad | None
) -> list[Check]:
    """Outriggers' forces against what mats and ground are sized for, and the load they show."""
    if trial.forces_kN is None or hung is None:
        return []
    rows = [
        limit_check(
            f"force-{name}", f"Measured force of outrigger {name}, its error added",
            value=value * (1 + (trial.force_error_percent or 0.0) / 100),
            limit=float(limit), quantity="force_kN",
            reference="maximum force that mat and ground were checked for",
            remedy="Set the load down; level the crane again and find out why this outrigger "
            "carries more.",
        )
        for name, value, limit in zip(LEG_NAMES, trial.forces_kN.as_tuple(),
                                      planned.forces.design_kN, strict=True)
        if np.isfinite(limit)
    ]  # fmt: skip
    gross = planned.setup.gross_t
    share = 100 * (hung.load_t / gross - 1)
    more = hung.load_t > gross * (1 + 1e-6)
    maybe = more and hung.load_t - hung.load_error_t <= gross
    said = f"{abs(share):.0f} % {'more' if share > 0 else 'less'} than planned"
    rows.append(limit_check(
        "load-by-forces", "Load by the outriggers' forces",
        value=min(hung.load_t, gross) if maybe or not more else hung.load_t, limit=gross,
        quantity="mass_t", reference="statics of four forces; accuracy of the forces as stated",
        where=f"{amount(hung.load_t, 'mass_t')} ± {amount(hung.load_error_t, 'mass_t', 'up')}"
        + (f", {said}" if abs(share) >= 0.5 else ""),
        condition="the load is weighed: the forces show more than planned, within their error"
        if maybe else "",
        remedy=f"The outriggers carry {said}: set the load down, find out why, plan again.",
    ))  # fmt: skip
    rows.append(limit_check(
        "load-by-forces-low", "Load by the outriggers' forces, its error added, not below the "
        "planned load", value=hung.load_t + hung.load_error_t, limit=least_t(planned),
        quantity="mass_t", sense="min", reference="statics of four forces",
        where="load without its contingency, rigging and block",
        remedy="Read the forces again, in kN; find out why they show less than planned.",
    ))  # fmt: skip
    title = "Load by the outriggers' forces from where it hangs"
    if math.isnan(hung.x_m):
        rows.append(no_data_check(
            "load-place", title, quantity="length_m", reference="statics of four forces",
            remedy="The forces show no load: read them again, unladen too.",
        ))  # fmt: skip
        return rows
    slew = np.radians(trial.slew_deg)
    hangs = trial.radius_m * np.array([np.cos(slew), np.sin(slew)])
    rows.append(limit_check(
        "load-place", title, value=float(np.hypot(hung.x_m - hangs[0], hung.y_m - hangs[1])),
        limit=hung.place_error_m + HANGS_WITHIN_M, quantity="length_m",
        reference="statics of four forces; limit by own rule, no published source",
        where=f"limit: error of the forces, and {amount(HANGS_WITHIN_M, 'length_m')} more",
        remedy="Measure radius and slew again, and read every outrigger's force again.",
    ))  # fmt: skip
    return rows
