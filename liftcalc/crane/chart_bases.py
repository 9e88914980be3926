"""How the bases of the charts lie to the one on which the machine stands, and what they limit.

Sources: those of :mod:`liftcalc.crane.capacity`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.crane.chart import ChartTable, slew_in_sector
from liftcalc.crane.legs import TOLERANCE_M, BasePolygon, base_polygon, contains_base, same_base
from liftcalc.crane.sectors import CodeArray
from liftcalc.crane.stability import Layout

States = NDArray[np.bool_] | np.bool_
"""Which states, broadcast to the slews and radii."""


@dataclass(frozen=True)
class ChartBase:
    """How the base of one chart lies to the actual one."""

    covers: States
    """States whose slew lies in the chart's sector."""
    around: bool
    """It contains the actual base."""
    inside: bool
    """It lies wholly inside the actual base, outriggers within tolerance set at its marks."""

    @property
    def own(self) -> bool:
        """It is the actual base."""
        return self.around and self.inside


def chart_bases(
    charts: Sequence[ChartTable],
    base: BasePolygon,
    slew_deg: FloatArray,
    *,
    counterweight: str,
    setting_tolerance_m: float,
    layout: Layout,
) -> dict[int, ChartBase]:
    """Charts of this counterweight whose sector covers some slew, by their index.

    Raises nothing: charts and base were checked when they were made.

    Parameters:
      charts: sequence of ChartTable
      base: BasePolygon. The base on which the machine really stands.
      slew_deg: shape (S,). [deg]
      counterweight, setting_tolerance_m, layout: As
        :func:`liftcalc.crane.capacity.capacity_by_slew`.
    Returns: dict of index to ChartBase
    """
    count: dict[int, ChartBase] = {}
    for i, chart in enumerate(charts):
        sector = slew_in_sector(slew_deg, chart.sector_deg)
        if chart.counterweight == counterweight and sector.any():
            covers: States = sector if layout == "pairs" else sector[:, None]
            count[i] = ChartBase(
                np.True_ if sector.all() else covers,
                around=contains_base(chart.base, base),
                inside=contains_base(_at_marks(base, chart.base, setting_tolerance_m), chart.base),
            )
    return count


def upper_limit_t(
    charts: Sequence[ChartTable], rated_t: FloatArray, bases: Mapping[int, ChartBase]
) -> tuple[FloatArray, CodeArray]:
    """Least rating of the bases around the actual one and whose it is, broadcast to the states.

    Charts of one base count together: the least that is rated.

    Raises nothing.

    Parameters:
      charts: sequence of ChartTable
      rated_t: shape (charts, R). Rating of every chart; NaN where not rated. [t]
      bases: mapping of index to ChartBase. As from :func:`chart_bases`.
    Returns: limit [t], chart : ndarray. inf and -1 where there is no such base, NaN where one of
      them is not rated.
    """
    around = {i: one.covers for i, one in bases.items() if one.around}
    limit: FloatArray = np.array(np.inf)
    which: CodeArray = np.array(-1, dtype=np.int8)
    left = list(around)
    while left:
        first = charts[left[0]].base
        group = [i for i in left if i == left[0] or same_base(charts[i].base, first)]
        left = [i for i in left if i not in group]
        least, by = np.array(np.nan), np.array(-1, dtype=np.int8)
        covered: States = np.False_
        for i in group:
            lower = around[i] & ~np.isnan(rated_t[i]) & ~(rated_t[i] >= least)
            least, by = np.where(lower, rated_t[i], least), np.where(lower, np.int8(i), by)
            covered = covered | around[i]
        lower = covered & ~(least >= limit) & ~np.isnan(limit)
        limit, which = np.where(lower, least, limit), np.where(lower, by, which)
    return limit, which


def legs_at_marks_m(legs_m: FloatArray, marks_m: FloatArray, tolerance_m: float) -> FloatArray:
    """Leg points with every outrigger that is short of its mark within tolerance set at it.

    Raises nothing.

    Parameters:
      legs_m: shape (..., 4, 2). [m]
      marks_m: shape (4, 2). Leg points of a chart. [m]
      tolerance_m: 0 leaves every outrigger where it is. [m]
    Returns: ndarray, shape (..., 4, 2)
    """
    short = np.sign(marks_m[:, 1]) * (marks_m[:, 1] - legs_m[..., 1])
    at = (np.abs(marks_m[:, 0] - legs_m[..., 0]) <= TOLERANCE_M) & (short > 0)
    at &= (short <= tolerance_m + TOLERANCE_M) & (tolerance_m > 0)
    return np.where(at[..., None], marks_m, legs_m)


def _at_marks(base: BasePolygon, marks: BasePolygon, tolerance_m: float) -> BasePolygon:
    """The base with every outrigger that is short of a chart's mark within tolerance set at it."""
    if not tolerance_m > 0:
        return base
    legs = legs_at_marks_m(base.leg_xy_m, marks.leg_xy_m, tolerance_m)
    if np.array_equal(legs, base.leg_xy_m, equal_nan=True):
        return base
    down = ~np.isnan(legs[:, 0])
    return base_polygon(legs, set_down=tuple(down.tolist()), allow_missing_leg=not down.all())
