"""Capacity round the slew circle: what the result holds, and how to read it sector by sector.

Sources: none but the definitions in :mod:`liftcalc.crane.capacity`.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.base.errors import InputError
from liftcalc.crane.stability import Layout

CodeArray = NDArray[np.int8]

SOURCES: tuple[str, ...] = (
    "chart of this base", "chart applied to this base (shown not less stable)",
    "chart of a base inside this one", "chart applied to this base, confirmed by the manufacturer",
    "estimate only", "not rated",
)  # fmt: skip
"""Where a capacity comes from; the first four are capacity data, the others are not."""

OWN, CARRIED, SMALLER, CONFIRMED, ESTIMATE, NOT_RATED = range(6)
"""Places in ``SOURCES``."""

StrengthBasis = Literal["stated strength limit", "best rating of any chart (upper bound)"]


@dataclass(frozen=True)
class CapacityBySlew:
    """Capacity on the actual base; arrays (S, R) on a grid, (N,) in pairs.

    Attributes:
      slew_deg (S,), radius_m (R,)
      capacity_t: gross capacity; an estimate where ``source`` says so; NaN where not rated [t]
      source: index into ``SOURCES``
      chart: index of the chart that carries the capacity, -1 for none
      capped_by: index of the chart of a containing base that lowers that chart's rating, -1 for none
      margin_m: distance of the test-load resultant to the nearest tipping line of the actual base,.
        for the governing chart's rating; NaN without a chart or without masses [m]
      required_margin_m: the same on the chart's own base [m]
      stability_t: stability-limited load on the actual base by the rule; NaN without masses [t]
      strength_t: strength limit at each radius, shape (R,) or (N,); NaN where unknown [t]
      strength_basis: what the strength limit is
      chart_ids: names of all charts given
    """

    slew_deg: FloatArray
    radius_m: FloatArray
    capacity_t: FloatArray
    source: CodeArray
    chart: CodeArray
    capped_by: CodeArray
    margin_m: FloatArray
    required_margin_m: FloatArray
    stability_t: FloatArray
    strength_t: FloatArray
    strength_basis: StrengthBasis
    chart_ids: tuple[str, ...]
    layout: Layout = "grid"

    @property
    def has_capacity_data(self) -> BoolArray:
        """Where the capacity rests on a manufacturer's chart."""
        return self.source < ESTIMATE

    def chart_name(self, *at: int) -> str:
        """Chart of one state, and the chart above which its base is never rated; "" for none."""
        chart, cap = int(self.chart[at]), int(self.capped_by[at])
        if chart < 0:
            return ""
        return self.chart_ids[chart] + (f", no more than {self.chart_ids[cap]}" if cap >= 0 else "")

    @property
    def on_condition(self) -> BoolArray:
        """Where the capacity is a planning argument that the manufacturer has yet to confirm."""
        return np.asarray(self.source == CARRIED)


@dataclass(frozen=True)
class SlewSector:
    """A run of slews with one source, anticlockwise from ``from_deg`` to ``to_deg``.

    Both ends are slews that were computed. The step between two sectors belongs to the one
    without capacity data, else to the one with the lower capacity there, so that sectors meet and
    none promises what the next does not. (0, 360) is the full circle.
    """

    from_deg: float
    to_deg: float
    source: str
    chart_id: str
    least_capacity_t: float
    greatest_capacity_t: float


def _column(result: CapacityBySlew, radius_index: int) -> tuple[FloatArray, CodeArray]:
    if result.layout != "grid":
        raise InputError.of("layout", result.layout, "grid")
    if not -result.radius_m.size <= radius_index < result.radius_m.size:
        raise InputError.of("radius_index", radius_index, f"0 to {result.radius_m.size - 1}")
    return result.capacity_t[:, radius_index], result.source[:, radius_index]


def slew_sectors(result: CapacityBySlew, *, radius_index: int) -> tuple[SlewSector, ...]:
    """Sectors of one source and chart round the circle at one radius.

    The slews of *result* must be sorted, within one turn, and go round the circle; a sector that
    passes through 360 is given once.

    Parameters:
      result: CapacityBySlew. On a grid.
      radius_index: Which radius of *result*.
    Raises: Slews that are not sorted or pass one turn, pairs instead of a grid, or no such radius.
    """
    capacity, source = _column(result, radius_index)
    slew = result.slew_deg
    if not (np.all(np.diff(slew) > 0) and slew[-1] - slew[0] < 360.0):
        raise InputError.of("slew_deg", [float(slew[0]), float(slew[-1])], "sorted, one turn")
    n = slew.size
    key = [(int(source[i]), result.chart_name(i, radius_index)) for i in range(n)]
    starts = [i for i in range(n) if key[i] != key[i - 1]]
    if not starts:
        return (_sector(0.0, 360.0, capacity, *key[0]),)
    # a side without capacity data counts as the lower one, an unrated side as the lowest
    held = np.where(np.isnan(capacity), -np.inf, capacity).tolist()
    rank = list(zip((source <= SMALLER).tolist(), held, strict=True))
    bounds = [(i - 1) % n if rank[i] < rank[i - 1] else i for i in starts]
    sectors = []
    for k, i in enumerate(starts):
        j = starts[(k + 1) % len(starts)]
        index = np.arange(i, j if j > i else j + n) % n
        ends = [bounds[k], bounds[(k + 1) % len(starts)]]
        sectors.append(
            _sector(
                float(slew[ends[0]]), float(slew[ends[1]]), capacity[index], *key[i], least_of=capacity[[*index, *ends]]
            )
        )
    return tuple(sectors)


def _sector(
    start: float, end: float, capacity: FloatArray, source: int, chart: str, *, least_of: FloatArray | None = None
) -> SlewSector:
    return SlewSector(
        start, end, SOURCES[source], chart,
        float((capacity if least_of is None else least_of).min()), float(capacity.max()),
    )  # fmt: skip
