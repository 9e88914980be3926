"""Rated capacity charts: what the manufacturer states for one base, counterweight and slew sector.

Reading between rows: a radius between two rows takes the lesser of the two (the larger radius on
any chart that falls with radius); a boom length between two rows takes the lesser of both. Linear
interpolation is used only on request, where the machine's data say that the manufacturer allows
it. A neighbour that is not rated makes the value not rated. Nothing is extrapolated. How the bases
of the charts lie to the one on which the machine stands, and what they limit, stands here too.

Sources: 29 CFR 1926.1417(o)(1): the rated capacity is not to be exceeded (from memory); taking the
lesser of two rows follows from it. Bases: as :mod:`liftcalc.crane.capacity`. No numbers from any
standard are used here.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import BoolArray, FloatArray, IntArray
from liftcalc.base.errors import InputError, require_finite, require_positive
from liftcalc.crane.legs import TOLERANCE_M, BasePolygon, base_polygon, contains_base, same_base
from liftcalc.crane.sectors import CodeArray
from liftcalc.crane.stability import Layout

ChartRule = Literal["test_load", "tipping_fraction", "unknown"]
Interpolation = Literal["none", "linear"]

_SAME_ROW_M = 1e-9
_SECTOR_TOLERANCE_DEG = 1e-9


@dataclass(frozen=True)
class ChartTable:
    """One rated capacity chart.

    Attributes:
      boom_length_m: (K,). Strictly increasing. [m]
      radius_m: (N,). Strictly increasing. [m]
      capacity_t: (K, N). Gross rated capacity, hook block included; NaN where not rated. [t]
      base: BasePolygon. The base for which the chart holds.
      counterweight: Name of the counterweight for which the chart holds.
      sector_deg: (float, float). Slew sector for which the chart holds, anticlockwise from the
        first to the second angle; (0, 360) is the full circle. [deg]
      rule: {"test_load", "tipping_fraction", "unknown"}. Stability rule behind the chart. With
        ``"unknown"`` a chart carries over only to a base that contains its own.
      tipping_fraction: Used with the rule of that name.
    """

    chart_id: str
    boom_length_m: FloatArray
    radius_m: FloatArray
    capacity_t: FloatArray
    base: BasePolygon
    counterweight: str = ""
    sector_deg: tuple[float, float] = (0.0, 360.0)
    rule: ChartRule = "unknown"
    tipping_fraction: float = 0.85

    def __post_init__(self) -> None:
        source = f"chart {self.chart_id}"
        length = np.array(require_positive("boom_length_m", self.boom_length_m))
        radius = np.array(require_positive("radius_m", self.radius_m))
        capacity = np.array(self.capacity_t, dtype=np.float64)
        for name, axis in (("boom_length_m", length), ("radius_m", radius)):
            if axis.ndim != 1 or axis.size == 0 or not np.all(np.diff(axis) > 0):
                raise InputError.of(name, axis.tolist(), "strictly increasing", source=source)
        if capacity.shape != (length.size, radius.size):
            need = f"shape {(length.size, radius.size)}: a row for each boom length"
            raise InputError.of("capacity_t", capacity.shape, need, source=source)
        rated = ~np.isnan(capacity)
        if not rated.any():
            raise InputError.of("capacity_t", "all NaN", "some rated capacity", source=source)
        if not (np.all(capacity[rated] > 0) and np.all(np.isfinite(capacity[rated]))):
            need = "greater than 0, NaN where not rated"
            raise InputError.of("capacity_t", float(np.min(capacity[rated])), need, source=source)
        require_finite("sector_deg", self.sector_deg)
        if self.rule not in ("test_load", "tipping_fraction", "unknown"):
            need = "test_load, tipping_fraction or unknown"
            raise InputError.of("rule", self.rule, need, source=source)
        for name, array in (("boom_length_m", length), ("radius_m", radius), ("capacity_t", capacity)):
            array.setflags(write=False)
            object.__setattr__(self, name, array)


def _neighbours(axis: FloatArray, value: FloatArray) -> tuple[IntArray, IntArray, BoolArray]:
    """Rows below and above each value (the same row when it is on one), and whether inside."""
    high = np.searchsorted(axis, value - _SAME_ROW_M)
    inside = (high < axis.size) & (value >= axis[0] - _SAME_ROW_M)
    high = np.minimum(high, axis.size - 1)
    low = np.where(axis[high] <= value + _SAME_ROW_M, high, np.maximum(high - 1, 0))
    return low, high, inside


def equal_runs(*values: FloatArray | BoolArray) -> tuple[IntArray, IntArray]:
    """Where runs of equal *values* begin, and the run of each: most steps slew at one radius.

    A run ends where any of them changes; ``value[first][place]`` is the value. Raises nothing.

    Returns: first, shape (R,), and place, shape (N,).
    """
    new = np.zeros(values[0].shape, dtype=np.bool_)
    new[:1] = True
    for value in values:
        new[1:] |= value[1:] != value[:-1]
    return np.flatnonzero(new), np.cumsum(new) - 1


def rated_capacity_t(
    table: ChartTable, boom_length_m: ArrayLike, *, radius_m: ArrayLike, interpolation: Interpolation = "none"
) -> FloatArray:
    """Rated capacity of one chart at any boom length and radius within it.

    Parameters:
      boom_length_m, radius_m: broadcast. [m]
      interpolation: {"none", "linear"}. ``"none"``: the least of the neighbouring rows.
        ``"linear"``: between rows in radius and length; only where the manufacturer allows it.
    Returns: ndarray, shape (...): gross rated capacity, NaN where not rated. [t]
    Raises: Another interpolation.
    """
    if interpolation not in ("none", "linear"):
        raise InputError.of("interpolation", interpolation, "none or linear")
    length = require_positive("boom_length_m", boom_length_m)
    radius = require_positive("radius_m", radius_m)
    i0, i1, length_in = _neighbours(table.boom_length_m, length)
    j0, j1, radius_in = _neighbours(table.radius_m, radius)
    cap = table.capacity_t
    c00, c01, c10, c11 = cap[i0, j0], cap[i0, j1], cap[i1, j0], cap[i1, j1]
    if interpolation == "none":
        value = np.minimum(np.minimum(c00, c01), np.minimum(c10, c11))  # NaN spreads
    else:
        p = _share(table.boom_length_m, i0, i1, length)
        q = _share(table.radius_m, j0, j1, radius)
        value = (1 - p) * ((1 - q) * c00 + q * c01) + p * ((1 - q) * c10 + q * c11)
    return np.where(length_in & radius_in, value, np.nan)


def _share(axis: FloatArray, low: IntArray, high: IntArray, value: FloatArray) -> FloatArray:
    step = axis[high] - axis[low]
    return np.where(step > 0, (value - axis[low]) / np.where(step > 0, step, 1.0), 0.0)


def slew_in_sector(slew_deg: ArrayLike, sector_deg: tuple[float, float]) -> BoolArray:
    """Whether each slew lies in a sector, ends included, anticlockwise from first to second.

    (0, 360), or any pair a whole turn apart, is the full circle; (a, a) is the single angle a.

    Parameters:
      slew_deg: Slew angles, of any turn. [deg]
      sector_deg: (float, float). First and second angle. [deg]
    """
    slew = require_finite("slew_deg", slew_deg)
    start, end = float(sector_deg[0]), float(sector_deg[1])
    if end - start >= 360.0 - _SECTOR_TOLERANCE_DEG:
        return np.ones(slew.shape, dtype=np.bool_)
    width = (end - start) % 360.0
    along = np.mod(slew - start + _SECTOR_TOLERANCE_DEG, 360.0)
    return np.asarray(along <= width + 2 * _SECTOR_TOLERANCE_DEG)


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
    """Charts of this *counterweight* whose sector covers some slew_deg, by their index.

    *charts*, *base* (on which the machine really stands), setting_tolerance_m and *layout* as
    :func:`liftcalc.crane.capacity.capacity_by_slew` takes them. Raises nothing: they were checked.

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
    """Least rating [t] of the bases around the actual one and whose it is, broadcast to the states.

    Charts of one base count together: the least that is rated. The limit is inf and the chart -1
    where there is no such base, NaN where one of them is not rated.
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
    """Leg points legs_m with each outrigger that is short of its mark within tolerance_m set at it.

    marks_m (4, 2) are those of a chart; 0 leaves every outrigger where it is. Raises nothing.

    Returns: ndarray, shape (..., 4, 2). [m]
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
