"""Unknown masses of a machine, fitted to its rated capacity charts.

The charts are in :mod:`liftcalc.calibration.model`, the least squares in :mod:`liftcalc.calibration.fit`, the judgement
in :mod:`liftcalc.calibration.result`, the result and what may be done with it in :mod:`liftcalc.calibration.result`.

Model. Over a tipping line with inward normal n and offset d, boom along b, s = n . b:

    T (d - s r) = -d W + n_x X + s (M + F (r - u_f))

with T the test load (1.25 P + 0.1 F, or P / fraction). What a chart shows is only

* W, total mass without load [t];
* X, moment of the non-slewing parts about the slew centre, forward positive [t m];
* M, moment of the slewing parts along the boom, boom mass at its foot included, behind negative;
* F for each boom length, boom mass reduced to the head [t];

so these are fitted, not single masses. Lateral centre of gravity is taken as 0. A chart rated over
a sector is matched by the least value over that sector.

Charts over the full circle often leave open whether the front or the rear line governs; then the interval of X, and the
lower limit of every prediction, span both explanations, each with the cells that suit it. A fit is refused where a
chart could not be predicted from the others: it is then confirmed by nothing. Axle loads, which manufacturers do
publish, settle it: give them as ``known`` or ``bounds``.

Which cells are governed by stability is found by comparison: strength is the same on every base and counterweight, so a
cell well below another chart's value at the same boom length and radius is limited by stability; other cells are taken
only where they continue the model at the largest radii. A manufacturer who prints which ratings are structural should
be believed instead: give ``governed``.

Sources: statics; bounded least squares and confidence from scipy (Branch, Coleman and Li, SIAM J.
Sci. Comput. 21 (1999), from memory); Student's t intervals (textbook). Test load of ISO 4305 from
memory. The procedure is this package's own and gives an estimate, never capacity data.
"""

import dataclasses
from collections.abc import Mapping, Sequence
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.base.errors import ConvergenceError, InputError, require_between, require_positive
from liftcalc.calibration import result
from liftcalc.calibration.fit import Fit, Task, fit_cells, left_open
from liftcalc.calibration.model import CalibrationChart, ChartModel, Rounding, cells_of
from liftcalc.calibration.result import RESIDUAL_LIMIT, Calibration, HeldOut, fit_limits, judge_fit

RIVAL_SCATTER, RIVAL_CELLS = 1.5, 0.9
"""A rival explanation scatters at most so much more, and explains at least so many of the cells."""
SPREAD_PERCENT = 5.0
"""A held-out chart counts as predicted only if all explanations agree on it this well."""


def _bounds(
    names: Sequence[str], known: Mapping[str, float], limits: Mapping[str, tuple[float, float]]
) -> tuple[FloatArray, FloatArray]:
    default = {
        "total_mass_t": (1.0, 3000.0),
        "carrier_moment_tm": (-1500.0, 1500.0),
        "slewing_moment_tm": (-20000.0, 0.0),
    }
    unknown = (set(known) | set(limits)) - set(names)
    if unknown:
        raise InputError.of("known, bounds", sorted(unknown), ", ".join(names))
    low, high = np.empty(len(names)), np.empty(len(names))
    for i, name in enumerate(names):
        if name in known:
            width = 1e-9 * max(1.0, abs(known[name]))
            low[i], high[i] = known[name] - width, known[name] + width
        else:
            low[i], high[i] = limits.get(name, default.get(name, (0.0, 500.0)))
        if not low[i] < high[i]:
            raise InputError.of(name, (float(low[i]), float(high[i])), "a low below a high bound")
    return low, high


def calibrate(
    charts: Sequence[CalibrationChart],
    boom_foot_u_m: float,
    *,
    noise_percent: float = 1.0,
    step_t: float = 0.1,
    rounding: Rounding = "nearest",
    known: Mapping[str, float] | None = None,
    bounds: Mapping[str, tuple[float, float]] | None = None,
    governed: Sequence[ArrayLike] | None = None,
    confidence: float = 0.95,
    hold_out: Literal["each", "none"] = "each",
) -> Calibration:
    """Fit the unknown moments of a machine to two or more rated capacity charts.

    Parameters:
      charts: sequence of CalibrationChart. At least two, of one machine, differing in base or
        counterweight; each with a stated rule.
      boom_foot_u_m: Boom foot from the slew centre along the boom, negative behind. [m]
      noise_percent: Standard deviation of a rating about the model, in per cent of the rating, > 0.
      step_t: Step to which the chart is rounded, > 0. [t]
      rounding: {"nearest", "down"}. How the manufacturer rounds; "down" adds half a step to each rating.
      known: mapping of parameter name to value, optional. Parameters held at a known value, for
        example a published ``total_mass_t``.
      bounds: mapping of parameter name to (low, high), optional
      governed: sequence of boolean arrays (K, N), optional. Cells that the manufacturer marks as
        governed by stability; found by comparison if not given.
      confidence: Of the intervals, 0.5 to 0.999.
      hold_out: {"each", "none"}. Predict each chart from the others, or skip that test: then the
        fit is refused, and only its numbers can be looked at.
    Returns: Calibration. With ``reasons`` when the fit must not be used.
    Raises: Fewer than two charts, a chart without a stated rule, unknown parameter names, too few
      ratings to fit. ConvergenceError: The fit or the choice of cells did not settle.
    """
    _check(charts, noise_percent, step_t, confidence, hold_out)
    lengths = np.unique(np.concatenate([c.table.boom_length_m for c in charts]))
    names = _names(lengths)
    low, high = _bounds(names, dict(known or {}), dict(bounds or {}))
    models = tuple(ChartModel.build(c, lengths, boom_foot_u_m) for c in charts)
    cells = cells_of(models, step_t, rounding)
    sigma = np.sqrt((noise_percent / 100.0 * cells) ** 2 + step_t**2 / 12.0)
    task = Task(models, cells, sigma, _given(models, governed), low, high, confidence)
    fit = fit_cells(task)
    tested = range(len(models)) if hold_out == "each" else ()
    held_out = tuple(_hold_out(i, task, fit.use) for i in tested)
    rival = ""
    if (
        fit.scatter <= RESIDUAL_LIMIT
        and all(not h.reason for h in held_out)
        and task.given is None
        and low[1] < 0.0 < high[1]
    ):
        fit, rival = _rivals(task, fit)
    value, lowest, highest = fit_limits(task, fit)

    predicted = np.concatenate([m.predict(fit.theta)[0] for m in models])
    residual = np.where(fit.use, cells - predicted, np.nan)
    relative = 100.0 * residual / predicted
    judgement = judge_fit(fit, names, loose=~np.isfinite(highest - lowest), held_out=held_out)
    reasons = judgement.reasons
    if rival:
        reasons = (*reasons, rival)
    if fallen := result.falls_backward(models, fit.theta, boom_foot_u_m):
        reasons = (*reasons, f"a machine with these moments falls over on chart {fallen} unladen")
    return Calibration(
        names=names, value=value, low=lowest, high=highest, confidence=confidence, explanations=fit.explanations,
        degrees_of_freedom=fit.degrees_of_freedom, boom_length_m=lengths, boom_foot_u_m=boom_foot_u_m,
        governed=_tables(models, fit.use), relative_residual_percent=_tables(models, relative),
        rms_residual_percent=float(np.sqrt(np.nanmean(relative**2))), scatter=fit.scatter,
        held_out=held_out, reasons=reasons, notes=judgement.notes,
    )  # fmt: skip


def _rivals(task: Task, fit: Fit) -> tuple[Fit, str]:
    """The fit with explanations by either end line, and why it is refused for one of them.

    Which cells stability governs is chosen to suit one explanation, so that a wrong one never sees the cells that speak
    against it. The choice is therefore repeated with the carrier's moment held forward, then behind.
    """
    fits = [fit]
    for ends in ("low", "high"):
        bound = getattr(task, ends).copy()
        bound[1] = 0.0
        try:
            fits.append(fit_cells(dataclasses.replace(task, **{ends: bound})))
        except ConvergenceError:
            continue  # no explanation on this side
    count = int(fit.use.sum())
    good = [
        f for f in fits if f.scatter <= RIVAL_SCATTER * max(1.0, fit.scatter) and f.use.sum() >= RIVAL_CELLS * count
    ]
    most = max(int(f.use.sum()) for f in good)
    why = ""
    if most > count / RIVAL_CELLS:
        why = f"another carrier moment explains more ratings, {most} instead of {count}"
    whole = dataclasses.replace(
        fit,
        explanations=tuple(item for f in good for item in f.explanations),
        open_below=any(f.open_below for f in good if f.theta[1] < 0.0),
        open_above=any(f.open_above for f in good if f.theta[1] > 0.0),
    )
    return whole, why


def _names(lengths: FloatArray) -> tuple[str, ...]:
    return (
        "total_mass_t",
        "carrier_moment_tm",
        "slewing_moment_tm",
        *(f"head_mass_t[{length:g}]" for length in lengths),
    )


def _check(
    charts: Sequence[CalibrationChart], noise_percent: float, step_t: float, confidence: float, hold_out: str
) -> None:
    if len(charts) < 2:
        raise InputError.of("charts", len(charts), "at least two charts of one machine")
    require_positive("noise_percent", noise_percent)
    require_positive("step_t", step_t)
    require_between("confidence", confidence, 0.5, 0.999)
    if hold_out not in ("each", "none"):
        raise InputError.of("hold_out", hold_out, "each or none")


def _given(models: Sequence[ChartModel], governed: Sequence[ArrayLike] | None) -> BoolArray | None:
    if governed is None:
        return None
    masks = [np.asarray(g, dtype=np.bool_) for g in governed]
    shapes = [m.chart.table.capacity_t.shape for m in models]
    if [m.shape for m in masks] != shapes:
        raise InputError.of("governed", [m.shape for m in masks], f"shapes {shapes}")
    return np.concatenate([m.ravel() for m in masks])


def _tables(models: Sequence[ChartModel], flat: NDArray[Any]) -> tuple[NDArray[Any], ...]:
    shapes = [m.chart.table.capacity_t.shape for m in models]
    ends = np.cumsum([k * n for k, n in shapes])[:-1]
    return tuple(p.reshape(s) for p, s in zip(np.split(flat, ends), shapes, strict=True))


def _hold_out(index: int, task: Task, use: BoolArray) -> HeldOut:
    """Fit the other charts (choice of cells included) and predict this one."""
    chart_id = task.models[index].chart.table.chart_id
    mine = task.cells_of(index)
    wanted = use[mine]
    count = int(wanted.sum())

    def none(reason: str) -> HeldOut:
        return HeldOut(chart_id, count, float("nan"), float("nan"), reason)

    if not wanted.any():
        return none("stability governs no cell of this chart")
    try:
        fit = fit_cells(task.without(index))
    except ConvergenceError as failed:
        return none(str(failed))
    model = task.models[index].only(wanted)
    predicted = np.stack([model.predict(e.theta)[0] for e in fit.explanations])
    rows = model.predict(fit.theta)[1]
    spread = 100.0 * float(np.max(np.ptp(predicted, axis=0) / predicted[0]))
    if left_open(rows, fit.explanations[0].undetermined).any() or not spread <= SPREAD_PERCENT:
        return none("the other charts do not separate total mass and moments")
    truth = task.cells[mine][wanted]
    error = 100.0 * (predicted[0] - truth) / truth
    return HeldOut(chart_id, count, float(np.sqrt(np.mean(error**2))), float(error[np.argmax(np.abs(error))]))
