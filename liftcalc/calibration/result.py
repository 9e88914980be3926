"""What a calibration gives, whether it may be used, and what may be done with it once it may.

Sources: as in :mod:`liftcalc.calibration.calibrate`; Student's t intervals (textbook); limits are
judgements of this package.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import f as fisher_f
from scipy.stats import t as student_t

from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.base.errors import CapacityError, InputError, require_positive
from liftcalc.calibration.fit import SCAN_END_M, SCAN_STEP_M, Explanation, Fit, Task, left_open
from liftcalc.calibration.model import CalibrationChart, ChartModel
from liftcalc.crane.legs import BasePolygon
from liftcalc.crane.masses import BoomState, MachineMasses


@dataclass(frozen=True)
class HeldOut:
    """One chart left out of the fit and predicted from the others."""

    chart_id: str
    cells: int
    rms_error_percent: float
    """NaN where the other charts cannot predict it."""
    worst_error_percent: float
    reason: str = ""
    """Why there is no prediction."""


@dataclass(frozen=True)
class Calibration:
    """Fitted moments and how far to trust them.

    Attributes:
      names, value, low, high: Parameters and the limits of their confidence interval; infinite
        where the charts do not determine them. ``total_mass_t`` [t], ``carrier_moment_tm`` [t m],
        ``slewing_moment_tm`` [t m], ``head_mass_t[L]`` [t] for each boom length.
      confidence: float
      explanations: all solutions that fit within the confidence limit, the best first
      governed: one boolean array (K, N) for each chart: cells used as governed by stability
      relative_residual_percent: one array (K, N) for each chart, chart less model; NaN where not used
      rms_residual_percent, scatter: the latter is residual over stated noise, 1 when as stated
      held_out: each chart predicted from the others
      reasons: why the fit is refused; empty when it may be used
      notes: what a reader should know besides
    """

    names: tuple[str, ...]
    value: FloatArray
    low: FloatArray
    high: FloatArray
    confidence: float
    explanations: tuple[Explanation, ...]
    degrees_of_freedom: int
    boom_length_m: FloatArray
    boom_foot_u_m: float
    governed: tuple[BoolArray, ...]
    relative_residual_percent: tuple[FloatArray, ...]
    rms_residual_percent: float
    scatter: float
    held_out: tuple[HeldOut, ...]
    reasons: tuple[str, ...]
    notes: tuple[str, ...] = field(default=())

    @property
    def accepted(self) -> bool:
        """Whether the fit may be used at all."""
        return not self.reasons


def _usable(calibration: Calibration) -> None:
    if not calibration.accepted:
        raise CapacityError("the fitted masses are refused: " + "; ".join(calibration.reasons))


def _length_index(calibration: Calibration, boom_length_m: float) -> int:
    match = np.flatnonzero(np.abs(calibration.boom_length_m - boom_length_m) < 1e-9)
    if match.size == 0:
        known = ", ".join(f"{v:g}" for v in calibration.boom_length_m)
        raise InputError.of("boom_length_m", boom_length_m, f"one of {known} m")
    return int(match[0])


def predicted_capacity_t(
    calibration: Calibration, chart: CalibrationChart, *, base: BasePolygon, boom_length_m: float, radius_m: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Stability-limited rating on any base, least over the chart's sector, and its lower limit.

    An estimate to ask the manufacturer with, never capacity data; strength is not looked at. The limit is Scheffé's
    simultaneous one (textbook): a limit for one prediction would be passed by some of the many that are asked for.

    Parameters:
      calibration: Calibration. An accepted fit.
      chart: CalibrationChart. Gives rule, sector and counterweight; its own ratings are not used.
      boom_length_m: One of the fitted boom lengths. [m]
      radius_m: shape (R,). [m]
    Returns: tuple of ndarray, each (R,). Rating, and a lower limit that holds with the stated
      confidence for all predictions together (one chart cell's own scatter not included), the least
      over all explanations; minus infinity where the charts do not determine it. [t]
    Raises: CapacityError: The fit was refused.
    """
    _usable(calibration)
    radius = require_positive("radius_m", np.atleast_1d(np.asarray(radius_m, dtype=np.float64)))
    index = np.full(radius.size, _length_index(calibration, boom_length_m))
    model = ChartModel.at(
        chart, base, index, radius, foot_u_m=calibration.boom_foot_u_m, lengths=calibration.boom_length_m.size
    )
    rating, _ = model.predict(calibration.value)
    count, free = calibration.value.size, max(calibration.degrees_of_freedom, 1)
    simultaneous = float(np.sqrt(count * fisher_f.ppf(calibration.confidence, count, free)))
    quantile = max(1.0, calibration.scatter) * simultaneous
    lower = np.full(radius.shape, np.inf)
    for item in calibration.explanations:
        value, slope = model.predict(item.theta)
        deviation = np.sqrt(np.einsum("ij,jk,ik->i", slope, item.covariance, slope))
        limit = np.where(left_open(slope, item.undetermined), -np.inf, value - quantile * deviation)
        lower = np.minimum(lower, limit)
    return rating, lower


@dataclass(frozen=True, eq=False)
class ChartFit:
    """One boom length of one chart beside the fitted model."""

    title: str
    radius_m: FloatArray
    rated_t: FloatArray
    used: BoolArray
    """Ratings taken as governed by stability."""
    model_t: FloatArray
    lower_t: FloatArray
    relative_residual_percent: FloatArray
    """Rating less model, NaN where not used."""


def chart_fit(
    calibration: Calibration, charts: Sequence[CalibrationChart], index: int, *, boom_length_m: float
) -> ChartFit:
    """One boom length of chart *index* beside the model that was fitted to all charts.

    Parameters:
      calibration: Calibration. A fit that may be used.
      charts: sequence of CalibrationChart. Those that were fitted, in the same order.
      index: Which chart.
      boom_length_m: One of its boom lengths. [m]
    Raises: No such boom length in the chart. CapacityError: The fit was refused.
    """
    table = charts[index].table
    row = np.flatnonzero(np.abs(table.boom_length_m - boom_length_m) < 1e-9)
    if row.size == 0:
        raise InputError.of("boom_length_m", boom_length_m, str(table.boom_length_m.tolist()))
    k = int(row[0])
    rated = ~np.isnan(table.capacity_t[k])
    model, lower = predicted_capacity_t(
        calibration, charts[index], base=table.base, boom_length_m=boom_length_m, radius_m=table.radius_m[rated]
    )
    return ChartFit(
        title=f"{table.chart_id}, boom {boom_length_m:g} m", radius_m=table.radius_m[rated],
        rated_t=table.capacity_t[k][rated], used=calibration.governed[index][k][rated], model_t=model, lower_t=lower,
        relative_residual_percent=calibration.relative_residual_percent[index][k][rated],
    )  # fmt: skip


def equivalent_masses(calibration: Calibration, *, boom_length_m: float) -> MachineMasses:
    """Masses with the fitted total mass and moments, for :mod:`liftcalc.crane.stability`.

    The split between carrier and superstructure is arbitrary (the slewing part is placed 3 m from
    the slew centre); only moments on level ground count. Heights stay unknown, so that tilt and
    wind are refused. Use together with :func:`equivalent_boom`, whose mass is F.

    Parameters:
      calibration: Calibration. A fit that may be used.
      boom_length_m: One of the boom lengths fitted. [m]
    Raises: A boom length that was not fitted. CapacityError: The charts do not determine the fit,
      or no machine can be built with it.
    """
    _usable(calibration)
    total, forward, slewing = (float(v) for v in calibration.value[:3])
    head = float(calibration.value[3 + _length_index(calibration, boom_length_m)])
    part = abs(slewing) / 3.0
    carrier = total - part - head
    if not carrier > 0:
        raise CapacityError(f"fitted moments leave {carrier:.1f} t for the carrier: no such machine can be built")
    return MachineMasses(
        carrier_mass_t=carrier, carrier_x_m=forward / carrier, carrier_y_m=0.0, slewing_mass_t=part,
        slewing_u_m=slewing / part if part > 0 else 0.0,
    )  # fmt: skip


def equivalent_boom(calibration: Calibration, radius_m: ArrayLike, *, boom_length_m: float) -> BoomState:
    """Boom state with the fitted moment: F at the head radius less the foot's, heights unknown.

    Parameters:
      calibration: Calibration. A fit that may be used.
      radius_m: > 0. Radii of the head from the slew axis. [m]
      boom_length_m: One of the boom lengths fitted. [m]
    Raises: A boom length that was not fitted, or a radius that is not above 0. CapacityError: The
      charts do not determine the fit, or no machine can be built with it.
    """
    _usable(calibration)
    radius = require_positive("radius_m", np.atleast_1d(np.asarray(radius_m, dtype=np.float64)))
    head = float(calibration.value[3 + _length_index(calibration, boom_length_m)])
    unknown = np.full(radius.shape, np.nan)
    return BoomState(
        radius_m=radius, mass_t=head, u_m=radius - calibration.boom_foot_u_m, head_mass_t=head,
        z_m=unknown, head_z_m=unknown, angle_deg=unknown,
    )  # fmt: skip


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
    return (np.where(known, middle, fit.theta), np.where(known, middle, low), np.where(known, middle, high))


def judge_fit(fit: Fit, names: Sequence[str], *, loose: BoolArray, held_out: Sequence[HeldOut]) -> Judgement:
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
            reasons.append(f"chart {held.chart_id} could not be predicted from the others: {held.reason}")
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
