"""A trial of the calibration on a machine whose masses are known: hide them, fit, compare.

Contents
--------
``noisy_charts``      charts with random scatter and rounding, as a maker's charts have
``hidden_moments``    the moments that the fit should find
``moment_rows``, ``held_out_rows``   the comparison in words and numbers, for a notebook
:class:`ChartFit`, ``chart_fit``     one chart beside the model, for a drawing

Sources: statics; definitions of :mod:`liftcalc.calibration.calibrate`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.base.errors import InputError, require_non_negative, require_positive
from liftcalc.calibration.model import CalibrationChart
from liftcalc.calibration.result import Calibration, predicted_capacity_t
from liftcalc.crane.boom import head_reduced_mass_t
from liftcalc.crane.chart import ChartTable
from liftcalc.crane.masses import MachineMasses

__all__ = [
    "ChartFit",
    "chart_fit",
    "held_out_rows",
    "hidden_moments",
    "moment_rows",
    "noisy_charts",
]


_UNITS = {"total_mass_t": "t", "carrier_moment_tm": "t m", "slewing_moment_tm": "t m"}
_WORDS = {
    "total_mass_t": "Total mass without load",
    "carrier_moment_tm": "Moment of the carrier, forward",
    "slewing_moment_tm": "Moment of the slewing parts along the boom",
}


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


def noisy_charts(
    tables: Sequence[ChartTable],
    counterweights: Mapping[str, tuple[float, float]],
    *,
    noise_percent: float,
    step_t: float,
    seed: int,
) -> tuple[CalibrationChart, ...]:
    """Charts with random scatter, rounded to a step.

    Parameters:
      tables: sequence of ChartTable. Exact (or nearly exact) charts.
      counterweights: mapping of name to (mass [t], u [m]). The first is the reference to which the
        fitted masses belong.
      noise_percent: float. Standard deviation of the scatter, >= 0. [%]
      step_t: float. Rounding step, > 0. [t]
      seed: int. The same seed gives the same charts.
    Returns: tuple of CalibrationChart
    Raises: No counterweight, scatter below 0, or a step that is not above 0.
    """
    noise = float(require_non_negative("noise_percent", noise_percent)) / 100.0
    step = float(require_positive("step_t", step_t))
    if not counterweights:
        raise InputError.of("counterweights", "none", "at least the reference counterweight")
    rng = np.random.default_rng(seed)
    m0, u0 = next(iter(counterweights.values()))
    charts = []
    for table in tables:
        mass, u = counterweights[table.counterweight]
        scatter = 1.0 + noise * rng.standard_normal(table.capacity_t.shape)
        capacity = np.round(table.capacity_t * scatter / step) * step
        capacity = np.where(capacity > 0, capacity, np.nan)
        more = mass - m0
        charts.append(
            CalibrationChart(
                ChartTable(
                    table.chart_id,
                    table.boom_length_m,
                    table.radius_m,
                    capacity,
                    table.base,
                    counterweight=table.counterweight,
                    sector_deg=table.sector_deg,
                    rule=table.rule,
                    tipping_fraction=table.tipping_fraction,
                ),
                more,
                (mass * u - m0 * u0) / more if more else 0.0,
            )
        )
    return tuple(charts)


def hidden_moments(
    masses: MachineMasses,
    boom_length_m: ArrayLike,
    *,
    boom_mass_t: float,
    boom_cg_from_foot_m: ArrayLike,
    boom_foot_u_m: float,
) -> dict[str, float]:
    """Moments of a known machine under the names that the fit gives them.

    ``masses`` carries the reference counterweight; ``boom_length_m`` and ``boom_cg_from_foot_m``
    have shape (K,). [m]

    Parameters:
      masses: MachineMasses. With the reference counterweight.
      boom_length_m: array_like, shape (K,), > 0. Boom lengths. [m]
      boom_mass_t: float, > 0. Mass of the boom. [t]
      boom_cg_from_foot_m: array_like, shape (K,). Its centre of gravity along the boom at each
        length. [m]
      boom_foot_u_m: float. Boom foot from the slew axis. [m]
    Returns: dict of name to value. [t, tm]
    Raises: Lengths that are not above 0, or what :func:`liftcalc.crane.boom.head_reduced_mass_t`
      refuses.
    """
    lengths = require_positive("boom_length_m", boom_length_m)
    head = head_reduced_mass_t(boom_mass_t, lengths, boom_cg_from_foot_m=boom_cg_from_foot_m)
    slewing = masses.slewing_mass_t * masses.slewing_u_m + boom_mass_t * boom_foot_u_m
    return {
        "total_mass_t": masses.carrier_mass_t + masses.slewing_mass_t + boom_mass_t,
        "carrier_moment_tm": masses.carrier_mass_t * masses.carrier_x_m,
        "slewing_moment_tm": slewing,
        **{f"head_mass_t[{v:g}]": float(f) for v, f in zip(lengths, head, strict=True)},
    }


def _word(name: str) -> tuple[str, str]:
    if name in _WORDS:
        return _WORDS[name], _UNITS[name]
    length = name.removeprefix("head_mass_t[").removesuffix("]")
    return f"Boom mass reduced to the head, {length} m", "t"


def moment_rows(
    calibration: Calibration, hidden: Mapping[str, float] | None = None
) -> list[dict[str, str]]:
    """Fitted value, limits and, where known, the hidden value, as text.

    Raises nothing.

    Parameters:
      calibration: Calibration
      hidden: mapping of name to value, optional. As from :func:`hidden_moments`, of the same boom
        lengths. [t, tm]
    """
    rows = []
    for name, value, low, high in zip(
        calibration.names, calibration.value, calibration.low, calibration.high, strict=True
    ):
        words, unit = _word(name)
        row = {
            "Quantity": words,
            "Fitted": f"{value:.2f}",
            "From": f"{low:.2f}",
            "To": f"{high:.2f}",
            "Unit": unit,
        }
        if hidden is not None:
            row["Hidden"] = f"{hidden[name]:.2f}"
            row["Within"] = "yes" if low <= hidden[name] <= high else "NO"
        rows.append(row)
    return rows


def held_out_rows(calibration: Calibration) -> list[dict[str, str]]:
    """Each chart predicted from the others, as text.

    Raises nothing.

    Parameters:
      calibration: Calibration
    """
    return [
        {
            "Chart held out": held.chart_id,
            "Ratings": str(held.cells),
            "Error, rms": "" if held.reason else f"{held.rms_error_percent:.1f} %",
            "Worst": "" if held.reason else f"{held.worst_error_percent:+.1f} %",
            "Remark": held.reason,
        }
        for held in calibration.held_out
    ]


def chart_fit(
    calibration: Calibration,
    charts: Sequence[CalibrationChart],
    index: int,
    *,
    boom_length_m: float,
) -> ChartFit:
    """One boom length of chart *index* beside the model that was fitted to all charts.

    Parameters:
      calibration: Calibration. A fit that may be used.
      charts: sequence of CalibrationChart. Those that were fitted, in the same order.
      index: int. Which chart.
      boom_length_m: float. One of its boom lengths. [m]
    Raises: No such boom length in the chart. CapacityError: The fit was refused.
    """
    table = charts[index].table
    row = np.flatnonzero(np.abs(table.boom_length_m - boom_length_m) < 1e-9)
    if row.size == 0:
        raise InputError.of("boom_length_m", boom_length_m, str(table.boom_length_m.tolist()))
    k = int(row[0])
    rated = ~np.isnan(table.capacity_t[k])
    model, lower = predicted_capacity_t(
        calibration,
        charts[index],
        base=table.base,
        boom_length_m=boom_length_m,
        radius_m=table.radius_m[rated],
    )
    return ChartFit(
        title=f"{table.chart_id}, boom {boom_length_m:g} m",
        radius_m=table.radius_m[rated],
        rated_t=table.capacity_t[k][rated],
        used=calibration.governed[index][k][rated],
        model_t=model,
        lower_t=lower,
        relative_residual_percent=calibration.relative_residual_percent[index][k][rated],
    )
