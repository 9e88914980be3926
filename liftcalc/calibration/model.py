"""The chart as a linear model of unknown moments, and which of its cells stability governs.

Parameters are ordered W, X, M, F of each boom length; see :mod:`liftcalc.calibration.calibrate`.

Sources: statics, as in :mod:`liftcalc.calibration.calibrate`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.optimize import lsq_linear

from liftcalc.base.arrays import BoolArray, FloatArray, IntArray
from liftcalc.base.errors import InputError, require_finite
from liftcalc.crane.chart import ChartTable, rated_capacity_t, slew_in_sector
from liftcalc.crane.legs import BasePolygon

Rounding = Literal["nearest", "down"]

SURE = 4.5
"""Standard deviations by which another chart must be higher (sqrt 2 of both taken in)."""


@dataclass(frozen=True)
class CalibrationChart:
    """A rated capacity chart and the counterweight fitted beyond the reference one.

    ``counterweight_mass_t`` [t] at ``counterweight_u_m`` [m] along the boom (negative behind) is
    what this chart has more (or less, negative) than the machine whose masses are asked for.
    """

    table: ChartTable
    counterweight_mass_t: float = 0.0
    counterweight_u_m: float = 0.0

    def __post_init__(self) -> None:
        require_finite("counterweight_mass_t", self.counterweight_mass_t)
        require_finite("counterweight_u_m", self.counterweight_u_m)
        if self.table.rule == "unknown":
            raise InputError.of(
                "rule", self.table.rule, "test_load or tipping_fraction",
                "Masses can be fitted only where the chart's stability rule is known.",
            )  # fmt: skip


def calibration_charts(
    tables: Sequence[ChartTable], counterweights: Mapping[str, tuple[float, float]]
) -> tuple[CalibrationChart, ...]:
    """Charts of one machine, each with what its counterweight adds to the first one.

    Parameters:
      tables: sequence of ChartTable
      counterweights: mapping of name to (mass [t], u [m]). The masses asked for are those of the
        machine with the first.
    Raises: No counterweight.
    """
    if not counterweights:
        raise InputError.of("counterweights", "none", "at least the reference counterweight")
    first_t, first_u = next(iter(counterweights.values()))
    charts = []
    for table in tables:
        mass, u = counterweights[table.counterweight]
        more = mass - first_t
        at = (mass * u - first_t * first_u) / more if more else 0.0
        charts.append(CalibrationChart(table, more, at))
    return tuple(charts)


@dataclass(frozen=True)
class ChartModel:
    """Rating of each cell: the least over (line, slew) of ``forms @ (W, X, M, F) + constant``."""

    chart: CalibrationChart
    length_index: IntArray  # (C,) index into the boom lengths of all charts
    radius_m: FloatArray  # (C,)
    forms: FloatArray  # (4, C, number of forms)
    constant: FloatArray  # (C, number of forms)
    parameters: int

    @classmethod
    def build(cls, chart: CalibrationChart, lengths: FloatArray, foot_u_m: float) -> ChartModel:
        """Model of every cell of a chart, row by row."""
        table = chart.table
        k, n = table.capacity_t.shape
        index = np.searchsorted(lengths, table.boom_length_m)
        return cls.at(
            chart, table.base, np.repeat(index, n), np.tile(table.radius_m, k), foot_u_m=foot_u_m, lengths=lengths.size
        )

    @classmethod
    def at(
        cls, chart: CalibrationChart, base: BasePolygon, length_index: IntArray,
        radius_m: FloatArray, *, foot_u_m: float, lengths: int,
    ) -> ChartModel:  # fmt: skip
        """Model of chosen boom lengths and radii on a base, by the rule and sector of a chart."""
        table = chart.table
        # Over one line the rating rises with s (as long as it is positive), so the least over a
        # sector is with the boom square to the line, or else at an end of the sector.
        square = np.degrees(np.arctan2(-base.normals[:, 1], -base.normals[:, 0]))
        lines = np.arange(square.size)
        line, slew = lines, square
        if table.sector_deg[1] - table.sector_deg[0] < 360.0:
            inside = slew_in_sector(square, table.sector_deg)
            line = np.concatenate([lines[inside], lines, lines])
            ends = np.repeat(np.asarray(table.sector_deg, dtype=np.float64), lines.size)
            slew = np.concatenate([square[inside], ends])
        angle = np.radians(slew)
        normal, d = base.normals[line], base.offsets_m[line]
        s = normal[:, 0] * np.cos(angle) + normal[:, 1] * np.sin(angle)
        nx = normal[:, 0]
        r = radius_m[:, None]
        arm = d - s * r
        if table.rule == "test_load":
            per, head = 1.25, 0.1
        else:
            per, head = 1.0 / table.tipping_fraction, 0.0
        reached = arm > 1e-9
        over = np.where(reached, 1.0 / np.where(reached, per * arm, 1.0), 0.0)
        forms = np.stack([-d * over, nx * over, s * over, (s * (r - foot_u_m) - head * arm) * over])
        extra = chart.counterweight_mass_t
        constant = extra * forms[0] + extra * chart.counterweight_u_m * forms[2]
        constant = np.where(reached, constant, np.inf)
        return cls(chart, length_index, radius_m, forms, constant, 3 + lengths)

    @classmethod
    def join(cls, models: Sequence[ChartModel]) -> ChartModel:
        """The cells of several charts as one model."""
        most = max(m.constant.shape[1] for m in models)

        def padded(array: FloatArray, value: float) -> FloatArray:
            width = [(0, 0)] * (array.ndim - 1) + [(0, most - array.shape[-1])]
            return np.pad(array, width, constant_values=value)

        return cls(
            models[0].chart, np.concatenate([m.length_index for m in models]),
            np.concatenate([m.radius_m for m in models]),
            np.concatenate([padded(m.forms, 0.0) for m in models], axis=1),
            np.concatenate([padded(m.constant, np.inf) for m in models]), models[0].parameters,
        )  # fmt: skip

    def only(self, use: BoolArray) -> ChartModel:
        """The model of chosen cells."""
        return ChartModel(
            self.chart, self.length_index[use], self.radius_m[use], self.forms[:, use],
            self.constant[use], self.parameters,
        )  # fmt: skip

    def predict(self, theta: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Rating of each cell (C,) and its derivatives (C, p); inf where no line is reached."""
        head = theta[3 + self.length_index]
        rating = (
            theta[0] * self.forms[0]
            + theta[1] * self.forms[1]
            + theta[2] * self.forms[2]
            + head[:, None] * self.forms[3]
            + self.constant
        )
        at = np.argmin(rating, axis=1)
        rows = np.arange(at.size)
        derivative = np.zeros((at.size, self.parameters))
        derivative[:, :3] = self.forms[:3, rows, at].T
        derivative[rows, 3 + self.length_index] = self.forms[3, rows, at]
        return rating[rows, at], derivative


def cells_of(models: Sequence[ChartModel], step_t: float, rounding: Rounding) -> FloatArray:
    """Ratings of all charts, cell by cell, corrected for rounding; NaN where not rated."""
    if rounding not in ("nearest", "down"):
        raise InputError.of("rounding", rounding, "nearest or down")
    shift = step_t / 2 if rounding == "down" else 0.0
    return np.concatenate([m.chart.table.capacity_t.ravel() for m in models]) + shift


def sure_cells(models: Sequence[ChartModel], cells: FloatArray, sigma: FloatArray) -> BoolArray:
    """Cells well below another chart at the same boom length and radius: stability governs."""
    sure = []
    start = 0
    for model in models:
        table = model.chart.table
        end = start + table.capacity_t.size
        length = np.repeat(table.boom_length_m, table.radius_m.size)
        best = np.full(table.capacity_t.size, np.nan)
        for other in models:
            if other is not model:
                value = rated_capacity_t(other.chart.table, length, radius_m=model.radius_m)
                best = np.fmax(best, value)
        with np.errstate(invalid="ignore"):
            sure.append(best - cells[start:end] > SURE * sigma[start:end])
        start = end
    return np.concatenate(sure)


def tail_cells(
    models: Sequence[ChartModel], good: BoolArray, *, count: int | None, rated: BoolArray | None = None
) -> BoolArray:
    """The unbroken run of good cells at the largest radii of each boom length.

    With ``count`` at most that many rated cells; without, the run less its nearest cell, for there
    strength and stability meet.
    """
    out = np.zeros(good.size, dtype=np.bool_)
    start = 0
    for model in models:
        k, n = model.chart.table.capacity_t.shape
        for row in range(k):
            a = start + row * n
            here = good[a : a + n] if rated is None else rated[a : a + n]
            index = a + np.flatnonzero(here)[::-1]
            run = index[np.logical_and.accumulate(good[index])]
            if count is not None:
                run = run[:count]
            elif run.size < index.size:
                run = run[:-1]
            out[run] = True
        start += k * n
    return out


def start_values(model: ChartModel, cells: FloatArray, *, low: FloatArray, high: FloatArray) -> FloatArray:
    """Moments from the linear forms that would govern a middling machine; all cells in use."""
    middling = np.full(low.size, 2.0)
    middling[:3] = 50.0, 0.0, -40.0
    middling = np.clip(middling, low, high)
    rating, rows = model.predict(middling)
    reached = np.isfinite(rating)
    constant = (rating - rows @ middling)[reached]
    weight = 1.0 / np.maximum(cells[reached], 0.1)
    found = lsq_linear(rows[reached] * weight[:, None], (cells[reached] - constant) * weight, bounds=(low, high))
    return np.asarray(found.x)
