"""Whether a fit may be used: limits of its parameters, and the reasons against it.

Sources: Student's t intervals (textbook); limits are judgements of this package.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import t as student_t

from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.calibration.fit import SCAN_END_M, SCAN_STEP_M, Fit, Task
from liftcalc.calibration.model import ChartModel
from liftcalc.calibration.result import HeldOut

RESIDUAL_LIMIT = 2.0
"""Greatest residual, in stated standard deviations, of a fit that is accepted."""
HELD_OUT_LIMIT_PERCENT = 5.0
"""Greatest rms error of a held-out chart of a fit that is accepted."""


@dataclass(frozen=True)
class Judgement:
    """Reasons to refuse a fit (none: it may be used), and notes for the reader."""

    reasons: tuple[str, ...]
    notes: tuple[str, ...]


def fit_limits(task: Task, fit: Fit) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Value and limits of each parameter over all explanations, known ones at their value.

    Parameters:
      fit: Fit. Of that task.
    Returns: value, low, high : ndarray, shape (p,). Infinite where the charts leave it open.
    """
    share = 0.5 + task.confidence / 2
    quantile = float(student_t.ppf(share, max(fit.degrees_of_freedom, 1))) * max(1.0, fit.scatter)
    lows, highs = [], []
    for item in fit.explanations:
        half = quantile * np.sqrt(np.diag(item.covariance))
        half = np.where(np.any(item.undetermined != 0.0, axis=0), np.inf, half)
        lows.append(item.theta - half)
        highs.append(item.theta + half)
    low, high = np.min(lows, axis=0), np.max(highs, axis=0)
    # the carrier moment is known to one step of the scan beyond the outermost explanation
    step = SCAN_STEP_M * abs(fit.theta[0])
    reach = SCAN_END_M * abs(fit.theta[0])
    low[1] = max(-np.inf if fit.open_below else low[1] - step, task.low[1])
    high[1] = min(np.inf if fit.open_above else high[1] + step, task.high[1])
    if low[1] < -reach:
        low[1] = -np.inf  # farther than the scan looked
    if high[1] > reach:
        high[1] = np.inf
    known, middle = task.high - task.low < 1e-6, (task.low + task.high) / 2
    return (
        np.where(known, middle, fit.theta),
        np.where(known, middle, low),
        np.where(known, middle, high),
    )


def judge_fit(
    fit: Fit, names: Sequence[str], *, loose: BoolArray, held_out: Sequence[HeldOut]
) -> Judgement:
    """Reasons to refuse the fit, and what a reader should know besides.

    Parameters:
      names: sequence of str. Of the parameters.
      loose: ndarray of bool, shape (p,). Parameters that the charts leave open.
      held_out: sequence of HeldOut
    """
    reasons, notes = [], []
    free, scatter = fit.degrees_of_freedom, fit.scatter
    if free < 4:
        reasons.append(f"only {free} ratings more than unknowns")
    if not scatter <= RESIDUAL_LIMIT:
        reasons.append(
            f"residuals are {scatter:.1f} times the stated noise (limit {RESIDUAL_LIMIT:g}): "
            "the charts do not follow this model"
        )
    for i, name in enumerate(names):
        if fit.at_bound[i] and not loose[i]:
            reasons.append(f"{name} is at its bound, {fit.theta[i]:.3g}")
        if loose[i] and name in ("total_mass_t", "slewing_moment_tm"):
            reasons.append(f"the charts do not determine {name}")
        elif loose[i]:
            notes.append(f"the charts do not determine {name}")
    for held in held_out:
        if np.isnan(held.rms_error_percent):
            reasons.append(
                f"chart {held.chart_id} could not be predicted from the others: {held.reason}"
            )
        elif not held.rms_error_percent <= HELD_OUT_LIMIT_PERCENT:
            reasons.append(
                f"chart {held.chart_id}, held out, is missed by {held.rms_error_percent:.1f} % rms "
                f"(limit {HELD_OUT_LIMIT_PERCENT:g} %)"
            )
    if all(np.isnan(h.rms_error_percent) for h in held_out):
        reasons.append("no chart could be held out: the fit is not tested against anything")
    return Judgement(tuple(reasons), tuple(notes))


def falls_backward(models: Sequence[ChartModel], theta: FloatArray, foot_u_m: float) -> str:
    """A chart rated full circle on whose base the fitted machine falls over without load.

    Parameters:
      models: sequence of ChartModel. One for each chart.
      theta: shape (p,). Fitted parameters. [t, tm]
      foot_u_m: Boom foot from the slew axis. [m]
    Returns: str. Name of the chart; "" for none.
    """
    for model in models:
        chart, table = model.chart, model.chart.table
        if table.sector_deg[1] - table.sector_deg[0] < 360.0:
            continue
        rated = np.isfinite(table.capacity_t).ravel()
        head = theta[3 + model.length_index[rated]] * (model.radius_m[rated] - foot_u_m)
        extra, at = chart.counterweight_mass_t, chart.counterweight_u_m
        over = theta[2] + extra * at + head.min()  # boom away from the line, weights over it
        base = table.base
        left = -base.offsets_m * (theta[0] + extra) + base.normals[:, 0] * theta[1] + over
        if not np.all(left > 0.0):
            return table.chart_id
    return ""
