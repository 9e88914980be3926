"""Rated capacity carried from the manufacturer's charts to the base as it really is.

Method, for each slew and radius, of the charts for this counterweight whose sector covers the slew:

1. Upper limit: the rating of every base that contains the actual one, the chart's own base among
   them; where such a base rates nothing, nothing is rated. So drawing an outrigger in, or going to
   any base inside, never raises the capacity. Of two charts for one and the same base that both
   rate, the lesser counts: state sectors that do not overlap.
2. A chart carries over when the test-load resultant for its rating (all masses, same slew and radius, the chart rule's
   test load at the head) lies at least as far inside the nearest tipping line of the actual base as on the chart's own
   base, and inside at all, and the machine without load stands inside the actual base too (else it would tip backward
   over a short side). It also carries over when its base lies wholly inside the actual base; this needs no masses. Of
   the charts that carry over the greatest capacity counts, never above the upper limit; an own or a smaller-base chart
   that supports the value is named before one that needs the argument.
3. Else the physics: the lesser of the stability by rule on the actual base, the strength limit and
   the upper limit, marked "estimate only". That is no capacity data, never a pass.

The strength limit (a stated table, or the best rating of any chart at the same boom length and radius as an upper
bound) is never exceeded. An outrigger short of a chart's mark by no more than the stated setting tolerance counts as at
that mark, for that chart as own or smaller base; the resultant is judged on the base as it is.

Sources: statics; 29 CFR 1926.1404(q): legs set as the chart provides (seen). The carrying over of a chart by the
resultant is a planning argument of this package, to be confirmed by the manufacturer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import BoolArray, FloatArray
from liftcalc.base.errors import InputError, require_finite, require_non_negative, require_positive
from liftcalc.crane.chart import (
    ChartBase,
    ChartTable,
    Interpolation,
    chart_bases,
    equal_runs,
    rated_capacity_t,
    upper_limit_t,
)
from liftcalc.crane.legs import BasePolygon, same_base
from liftcalc.crane.masses import BoomState, MachineMasses, weight_and_moment
from liftcalc.crane.sectors import CARRIED, ESTIMATE, NOT_RATED, OWN, SMALLER, CapacityBySlew, CodeArray, StrengthBasis
from liftcalc.crane.stability import (
    Layout,
    Rule,
    affine_over_lines,
    along_boom,
    boom_direction,
    rule_test_load_t,
    stability_capacity_t,
)

_MARGIN_TOLERANCE_M = 1e-9


@dataclass(frozen=True)
class LoadsOnBase:
    """What acts on the base for one rating: resultant = offset + direction * along. [m]"""

    offset_x: FloatArray
    offset_y: FloatArray
    along: FloatArray


def loads_on_base(masses: MachineMasses, boom: BoomState, load_t: FloatArray) -> LoadsOnBase:
    """Resultant of all masses with load_t (R,) at the head of *boom*, as it turns with the slew.

    Returns: LoadsOnBase. Raises nothing.
    """
    on = weight_and_moment(masses, boom, load_t)
    return LoadsOnBase(on.fixed_x_tm / on.mass_t, on.fixed_y_tm / on.mass_t, on.slewing_tm / on.mass_t)


def _margin(
    loads: LoadsOnBase, base: BasePolygon, direction: FloatArray, layout: Layout, work: FloatArray
) -> FloatArray:
    """Signed distance of the resultant to the nearest tipping line, (S, R) or (N,)."""
    n = base.normals
    constant = n[:, :1] * loads.offset_x + n[:, 1:] * loads.offset_y - base.offsets_m[:, None]
    distance = affine_over_lines(along_boom(direction, base.lines), loads.along, constant, layout, work[: len(n)])
    nearest: FloatArray = distance.min(axis=0)
    return nearest


def capacity_by_slew(
    slew_deg: ArrayLike,
    radius_m: ArrayLike,
    *,
    boom_length_m: ArrayLike,
    base: BasePolygon,
    charts: Sequence[ChartTable],
    counterweight: str = "",
    masses: MachineMasses | None = None,
    boom: BoomState | None = None,
    rule: Rule = "test_load",
    tipping_fraction: float = 0.85,
    interpolation: Interpolation = "none",
    strength_t: ArrayLike | None = None,
    setting_tolerance_m: float = 0.0,
    layout: Layout = "grid",
) -> CapacityBySlew:
    """Capacity on the actual base for every slew and radius, with the source of each value.

    Parameters:
      slew_deg: shape (S,). [deg]
      radius_m: shape (R,). [m]
      boom_length_m: or array_like of shape (N,) in pairs. [m]
      base: BasePolygon. The base on which the machine really stands.
      charts: sequence of ChartTable. All charts of the machine; those of another counterweight are
        used only for the upper bound of strength.
      counterweight: Counterweight on the machine.
      masses, boom: MachineMasses and BoomState, or neither. ``boom.radius_m`` must equal ``radius_m``. Without masses a
        chart carries over only to a base that contains its own, and there is no estimate.
      rule, tipping_fraction: Rule for the estimate; each chart keeps its own rule for the test load.
      interpolation: {"none", "linear"}. As :func:`liftcalc.crane.chart.rated_capacity_t`.
      strength_t: shape (R,), optional. Stated strength limit at each radius; NaN where unknown. Without it the best
        rating of any chart at the same boom length and radius stands in, as an upper bound. [t]
      setting_tolerance_m: By how much an outrigger may fall short of a chart's mark and still count
        as at it, as the manufacturer states; 0 unless stated. [m]
      layout: {"grid", "pairs"}. Every slew with every radius, or slew i with radius i (a load path).
    Raises: No chart, masses without boom state, radii that differ from the boom state's, values
      that are not finite and positive, or a negative tolerance.
    """
    slew = require_finite("slew_deg", np.atleast_1d(np.asarray(slew_deg, dtype=np.float64)))
    radius = require_positive("radius_m", np.atleast_1d(np.asarray(radius_m, dtype=np.float64)))
    require_non_negative("setting_tolerance_m", setting_tolerance_m)
    _check(slew, radius, charts, masses, boom, layout)
    shape = (slew.size, radius.size) if layout == "grid" else slew.shape
    length = require_positive("boom_length_m", boom_length_m)
    rated = _rated(charts, length, radius, interpolation)
    strength, basis = _strength(rated, strength_t, radius)
    statics, stability = None, np.full(shape, np.nan)
    if masses is not None and boom is not None:
        statics = _Statics.of(masses, boom, base, slew, charts, layout)
        stability = stability_capacity_t(
            slew, boom, base=base, masses=masses, rule=rule, tipping_fraction=tipping_fraction, layout=layout
        )
    bases = chart_bases(
        charts, base, slew, counterweight=counterweight, setting_tolerance_m=setting_tolerance_m, layout=layout
    )
    upper, upper_chart = upper_limit_t(charts, rated, bases)
    best = _Best.of_nothing(shape)
    # own base first; of equal capacities the one that needs no argument (base inside) counts
    for i in sorted(bases, key=lambda i: (not bases[i].own, not bases[i].inside)):
        margins = None if statics is None else statics.margins(charts[i], rated[i], bases[i])
        best.offer(i, rated[i], upper, upper_chart, bases[i], margins)
    best.estimate(np.minimum(np.minimum(stability, strength), upper))
    best.limit(strength)
    return CapacityBySlew(
        slew_deg=slew, radius_m=radius, capacity_t=best.capacity_t, source=best.source,
        chart=best.chart, capped_by=best.capped_by, margin_m=best.margin_m,
        required_margin_m=best.required_m, stability_t=stability, strength_t=strength,
        strength_basis=basis, chart_ids=tuple(c.chart_id for c in charts), layout=layout,
    )  # fmt: skip


@dataclass(frozen=True)
class _Margins:
    """Test load of one chart's rating: how far inside its resultant lies, and how far it must."""

    actual_m: FloatArray
    required_m: FloatArray
    """The same on the chart's own base."""
    stands: BoolArray
    """Whether the machine without load stands inside the actual base."""

    @property
    def carries(self) -> BoolArray:
        """Where the chart carries over: step 2 of the method."""
        enough = self.actual_m >= np.maximum(self.required_m, 0.0) - _MARGIN_TOLERANCE_M
        return np.asarray(enough & self.stands)


@dataclass(frozen=True)
class _Statics:
    """The machine on its base at every slew and radius."""

    masses: MachineMasses
    boom: BoomState
    base: BasePolygon
    direction: FloatArray
    layout: Layout
    work: FloatArray
    """One block for all charts: page faults cost time."""
    stands: BoolArray

    @classmethod
    def of(
        cls, masses: MachineMasses, boom: BoomState, base: BasePolygon, slew_deg: FloatArray,
        charts: Sequence[ChartTable], layout: Layout,
    ) -> _Statics:  # fmt: skip
        direction, radius = boom_direction(slew_deg), boom.radius_m
        shape = (slew_deg.size, radius.size) if layout == "grid" else slew_deg.shape
        lines = max(len(b.edge_legs) for b in (base, *(c.base for c in charts)))
        work = np.empty((lines, *shape))
        unladen = loads_on_base(masses, boom, np.zeros_like(radius))
        stands = _margin(unladen, base, direction, layout, work) > _MARGIN_TOLERANCE_M
        return cls(masses, boom, base, direction, layout, work, stands)

    def margins(self, chart: ChartTable, rated_t: FloatArray, at: ChartBase) -> _Margins | None:
        """Margins of the chart's test load; None where its rule is not known."""
        if chart.rule == "unknown":
            return None
        test_t = rule_test_load_t(
            rated_t, self.boom.head_mass_t, rule=chart.rule, tipping_fraction=chart.tipping_fraction
        )
        loads = loads_on_base(self.masses, self.boom, test_t)
        actual = _margin(loads, self.base, self.direction, self.layout, self.work)
        required = actual
        if not (at.own and same_base(chart.base, self.base)):
            required = _margin(loads, chart.base, self.direction, self.layout, self.work)
        return _Margins(actual, required, self.stands)


@dataclass(frozen=True)
class _Best:
    """What the charts offered so far, for every state; the arrays are filled in place."""

    capacity_t: FloatArray
    source: CodeArray
    chart: CodeArray
    capped_by: CodeArray
    margin_m: FloatArray
    required_m: FloatArray

    @classmethod
    def of_nothing(cls, shape: tuple[int, ...]) -> _Best:
        return cls(
            capacity_t=np.full(shape, -np.inf), source=np.full(shape, NOT_RATED, dtype=np.int8),
            chart=np.full(shape, -1, dtype=np.int8), capped_by=np.full(shape, -1, dtype=np.int8),
            margin_m=np.full(shape, np.nan), required_m=np.full(shape, np.nan),
        )  # fmt: skip

    def offer(
        self, index: int, rated_t: FloatArray, upper_t: FloatArray, upper_chart: CodeArray,
        at: ChartBase, margins: _Margins | None,
    ) -> None:  # fmt: skip
        """Steps 1 and 2: the rating under the upper limit, as own or smaller base or carried."""
        value = np.minimum(rated_t, upper_t)
        if np.isnan(value).all():
            return
        better = (value > self.capacity_t) & at.covers
        if not at.inside:
            if margins is None:
                return
            better &= margins.carries
        np.copyto(self.capacity_t, value, where=better)
        np.copyto(self.source, OWN if at.own else SMALLER if at.inside else CARRIED, where=better)
        np.copyto(self.chart, index, where=better)
        np.copyto(self.capped_by, np.where(value < rated_t, upper_chart, -1), where=better)
        np.copyto(self.margin_m, np.nan if margins is None else margins.actual_m, where=better)
        np.copyto(self.required_m, np.nan if margins is None else margins.required_m, where=better)

    def estimate(self, physics_t: FloatArray) -> None:
        """Step 3: where no chart serves, the physics, which is no capacity data."""
        none = self.chart < 0
        np.copyto(self.capacity_t, np.nan, where=none)
        use = none & ~np.isnan(physics_t)
        np.copyto(self.capacity_t, physics_t, where=use)
        np.copyto(self.source, ESTIMATE, where=use)

    def limit(self, strength_t: FloatArray) -> None:
        """The strength limit is never exceeded."""
        over = self.capacity_t > strength_t
        np.copyto(self.capacity_t, np.broadcast_to(strength_t, over.shape), where=over)


def _rated(charts: Sequence[ChartTable], length: FloatArray, radius: FloatArray, how: Interpolation) -> FloatArray:
    """Rating of every chart at every radius, shape (charts, R)."""
    if length.ndim:
        length = np.broadcast_to(length, radius.shape)
        return np.stack([rated_capacity_t(c, length, radius_m=radius, interpolation=how) for c in charts])
    first, place = equal_runs(radius)
    once = radius[first]
    rated = [rated_capacity_t(c, length, radius_m=once, interpolation=how) for c in charts]
    return np.stack(rated).take(place, axis=1)


def _check(
    slew: FloatArray, radius: FloatArray, charts: Sequence[ChartTable],
    masses: MachineMasses | None, boom: BoomState | None, layout: Layout,
) -> None:  # fmt: skip
    if not 0 < len(charts) < 127:
        raise InputError.of("charts", len(charts), "1 to 126 rated capacity charts")
    if (masses is None) != (boom is None):
        raise InputError.of("masses and boom", "one of them", "both or neither")
    if slew.ndim != 1 or radius.ndim != 1:
        raise InputError.of("slew_deg, radius_m", (slew.shape, radius.shape), "one axis each")
    if layout not in ("grid", "pairs"):
        raise InputError.of("layout", layout, "grid or pairs")
    if layout == "pairs" and slew.shape != radius.shape:
        raise InputError.of("slew_deg", slew.shape, "as many slews as radii (pairs)")
    if boom is not None and not np.array_equal(boom.radius_m, radius):
        raise InputError.of("radius_m", radius.tolist(), "the radii of the boom state")


def _strength(rated: FloatArray, strength_t: ArrayLike | None, radius: FloatArray) -> tuple[FloatArray, StrengthBasis]:
    if strength_t is not None:
        limit = np.array(np.broadcast_to(np.asarray(strength_t, dtype=np.float64), radius.shape))
        if not np.all(np.isnan(limit) | (limit > 0)):
            raise InputError.of("strength_t", limit.tolist(), "greater than 0, or NaN")
        return limit, "stated strength limit"
    best: FloatArray = np.fmax.reduce(rated, axis=0)
    return best, "best rating of any chart (upper bound)"
