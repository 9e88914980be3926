"""Rated capacity carried from the maker's charts to the base on which the machine really stands.

Contents
--------
``capacity_by_slew``   capacity for every slew and radius, with source (:class:`CapacityBySlew`)
``loads_on_base``, ``legs_at_marks_m``   its parts (:class:`LoadsOnBase`)
and in :mod:`liftcalc.crane.sectors` what its result holds and how to read it sector by sector

Method, for each slew and radius, of the charts for this counterweight whose sector covers the slew:

1. Upper limit: the rating of every base that contains the actual one, the chart's own base among
   them; where such a base rates nothing, nothing is rated. So drawing an outrigger in, or going to
   any base inside, never raises the capacity. Of two charts for one and the same base that both
   rate, the lesser counts: state sectors that do not overlap.
2. A chart carries over when the test-load resultant for its rating (all masses, same slew and
   radius, the chart rule's test load at the head) lies at least as far inside the nearest tipping
   line of the actual base as on the chart's own base, and inside at all, and the machine without
   load stands inside the actual base too (else it would tip backward over a short side). It also
   carries over when its base lies wholly inside the actual base; this needs no masses. Of the
   charts that carry over the greatest capacity counts, never above the upper limit; an own or a
   smaller-base chart that supports the value is named before one that needs the argument.
3. Else the physics: the lesser of the stability by rule on the actual base, the strength limit and
   the upper limit, marked "estimate only". That is no capacity data, never a pass.

The strength limit (a stated table, or the best rating of any chart at the same boom length and
radius as an upper bound) is never exceeded. An outrigger short of a chart's mark by no more than
the stated setting tolerance counts as at that mark, for that chart as own or smaller base; the
resultant is judged on the base as it is.

Sources: statics; 29 CFR 1926.1404(q): legs set as the chart provides (seen). The carrying over of
a chart by the resultant is a planning argument of this package, to be confirmed by the maker.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.errors import InputError, require_finite, require_non_negative, require_positive
from liftcalc.crane.chart import (
    ChartTable,
    Interpolation,
    equal_runs,
    rated_capacity_t,
    slew_in_sector,
)
from liftcalc.crane.legs import TOLERANCE_M, BasePolygon, base_polygon, contains_base, same_base
from liftcalc.crane.masses import (
    NO_ADVERSE_TERMS,
    AdverseTerms,
    BoomState,
    MachineMasses,
    weight_and_moment,
)
from liftcalc.crane.sectors import (
    CARRIED,
    ESTIMATE,
    NOT_RATED,
    OWN,
    SMALLER,
    CapacityBySlew,
    StrengthBasis,
)
from liftcalc.crane.stability import (
    Layout,
    Rule,
    affine_over_lines,
    boom_direction,
    rule_test_load_t,
    stability_capacity_t,
)

__all__ = ["LoadsOnBase", "capacity_by_slew", "legs_at_marks_m", "loads_on_base"]

BoolArray = NDArray[np.bool_] | np.bool_
CodeArray = NDArray[np.int8]

_MARGIN_TOLERANCE_M = 1e-9


@dataclass(frozen=True)
class LoadsOnBase:
    """What acts on the base for one rating: resultant = offset + direction * along. [m]"""

    offset_x: FloatArray
    offset_y: FloatArray
    along: FloatArray


def loads_on_base(masses: MachineMasses, boom: BoomState, load_t: FloatArray) -> LoadsOnBase:
    """Resultant of all masses with a load at the head, as it turns with the slew.

    Raises nothing.

    Parameters:
      masses: MachineMasses
      boom: BoomState, of R radii
      load_t: ndarray, shape (R,). [t]
    Returns: LoadsOnBase
    """
    on = weight_and_moment(masses, boom, load_t)
    return LoadsOnBase(
        on.fixed_x_tm / on.mass_t, on.fixed_y_tm / on.mass_t, on.slewing_tm / on.mass_t
    )


def _margin(
    loads: LoadsOnBase, base: BasePolygon, direction: FloatArray, layout: Layout, work: FloatArray
) -> FloatArray:
    """Signed distance of the resultant to the nearest tipping line, (S, R) or (N,)."""
    n = base.normals
    constant = n[:, :1] * loads.offset_x + n[:, 1:] * loads.offset_y - base.offsets_m[:, None]
    distance = affine_over_lines(n @ direction, loads.along, constant, layout, work[: len(n)])
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
    adverse: AdverseTerms = NO_ADVERSE_TERMS,
    setting_tolerance_m: float = 0.0,
    layout: Layout = "grid",
) -> CapacityBySlew:
    """Capacity on the actual base for every slew and radius, with the source of each value.

    Parameters:
      slew_deg: array_like, shape (S,). [deg]
      radius_m: array_like, shape (R,). [m]
      boom_length_m: float, or array_like of shape (N,) in pairs. [m]
      base: BasePolygon. The base on which the machine really stands.
      charts: sequence of ChartTable. All charts of the machine; those of another counterweight are
        used only for the upper bound of strength.
      counterweight: str. Counterweight on the machine.
      masses, boom: MachineMasses and BoomState, or neither. ``boom.radius_m`` must equal
        ``radius_m``. Without masses a chart carries over only to a base that contains its own, and
        there is no estimate.
      rule, tipping_fraction: Rule for the estimate; each chart keeps its own rule for the test
        load.
      interpolation: {"none", "linear"}. As :func:`liftcalc.crane.chart.rated_capacity_t`.
      strength_t: array_like, shape (R,), optional. Stated strength limit at each radius; NaN where
        unknown. Without it the best rating of any chart at the same boom length and radius stands
        in, as an upper bound. [t]
      adverse: AdverseTerms. Tilt, wind and dynamic terms for ``stability_t`` and estimates. They do
        not change a rating carried over, which holds for the chart's own conditions: check these
        apart.
      setting_tolerance_m: float. By how much an outrigger may fall short of a chart's mark and
        still count as at it, as the manufacturer states; 0 unless stated. [m]
      layout: {"grid", "pairs"}. Every slew with every radius, or slew i with radius i (a load
        path).
    Returns: CapacityBySlew
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

    stability = np.full(shape, np.nan)
    if masses is not None and boom is not None:
        stability = stability_capacity_t(
            slew,
            boom,
            base=base,
            masses=masses,
            rule=rule,
            tipping_fraction=tipping_fraction,
            adverse=adverse,
            layout=layout,
        )

    best = np.full(shape, -np.inf)
    source = np.full(shape, NOT_RATED, dtype=np.int8)
    chart = np.full(shape, -1, dtype=np.int8)
    capped_by = np.full(shape, -1, dtype=np.int8)
    margin = np.full(shape, np.nan)
    required = np.full(shape, np.nan)
    direction = boom_direction(slew)
    lines = max(len(b.edge_legs) for b in (base, *(c.base for c in charts)))
    work = np.empty((lines, *shape))  # one block for all charts: page faults cost time

    covers: dict[int, BoolArray] = {}
    for i, c in enumerate(charts):
        sector = slew_in_sector(slew, c.sector_deg)
        if c.counterweight == counterweight and sector.any():
            whole = bool(sector.all())
            covers[i] = np.True_ if whole else sector if layout == "pairs" else sector[:, None]
    around = {i: contains_base(charts[i].base, base) for i in covers}
    inside = {
        i: contains_base(_at_marks(base, charts[i].base, setting_tolerance_m), charts[i].base)
        for i in covers
    }
    own = {i: inside[i] and around[i] for i in covers}
    same = own if setting_tolerance_m == 0 else dict.fromkeys(covers, False)
    upper, upper_chart = _upper_limit(charts, rated, {i: covers[i] for i in covers if around[i]})
    stands = np.ones(shape, dtype=np.bool_)
    if masses is not None and boom is not None:
        unloaded = loads_on_base(masses, boom, np.zeros_like(radius))
        stands = _margin(unloaded, base, direction, layout, work) > _MARGIN_TOLERANCE_M

    # own base first; of equal capacities the one that needs no argument (base inside) counts
    for i in sorted(covers, key=lambda i: (not own[i], not inside[i])):
        table = charts[i]
        value = np.minimum(rated[i], upper)
        if np.isnan(value).all():
            continue
        here = needed = None
        if masses is not None and boom is not None and table.rule != "unknown":
            loads = loads_on_base(masses, boom, _test_load(table, rated[i], boom))
            here = _margin(loads, base, direction, layout, work)
            needed = here if same[i] else _margin(loads, table.base, direction, layout, work)
        better = (value > best) & covers[i]
        if not inside[i]:
            if here is None or needed is None:
                continue
            better &= (here >= np.maximum(needed, 0.0) - _MARGIN_TOLERANCE_M) & stands
        np.copyto(best, value, where=better)
        np.copyto(source, OWN if own[i] else SMALLER if inside[i] else CARRIED, where=better)
        np.copyto(chart, i, where=better)
        np.copyto(capped_by, np.where(value < rated[i], upper_chart, -1), where=better)
        np.copyto(margin, np.nan if here is None else here, where=better)
        np.copyto(required, np.nan if needed is None else needed, where=better)

    none = chart < 0
    np.copyto(best, np.nan, where=none)
    if none.any():
        estimate = np.minimum(np.minimum(stability, strength), upper)
        use = none & ~np.isnan(estimate)
        np.copyto(best, estimate, where=use)
        np.copyto(source, ESTIMATE, where=use)
    np.copyto(best, np.broadcast_to(strength, shape), where=best > strength)
    return CapacityBySlew(
        slew_deg=slew,
        radius_m=radius,
        capacity_t=best,
        source=source,
        chart=chart,
        capped_by=capped_by,
        margin_m=margin,
        required_margin_m=required,
        stability_t=stability,
        strength_t=strength,
        strength_basis=basis,
        chart_ids=tuple(c.chart_id for c in charts),
        layout=layout,
    )


def _rated(
    charts: Sequence[ChartTable], length: FloatArray, radius: FloatArray, how: Interpolation
) -> FloatArray:
    """Rating of every chart at every radius, shape (charts, R)."""
    if length.ndim:
        length = np.broadcast_to(length, radius.shape)
        return np.stack(
            [rated_capacity_t(c, length, radius_m=radius, interpolation=how) for c in charts]
        )
    first, place = equal_runs(radius)
    once = radius[first]
    rated = [rated_capacity_t(c, length, radius_m=once, interpolation=how) for c in charts]
    return np.stack(rated).take(place, axis=1)


def legs_at_marks_m(legs_m: FloatArray, marks_m: FloatArray, tolerance_m: float) -> FloatArray:
    """Leg points with every outrigger that is short of its mark within tolerance set at it.

    Raises nothing.

    Parameters:
      legs_m: ndarray, shape (..., 4, 2). [m]
      marks_m: ndarray, shape (4, 2). Leg points of a chart. [m]
      tolerance_m: float. 0 leaves every outrigger where it is. [m]
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


def _upper_limit(
    charts: Sequence[ChartTable], rated: FloatArray, around: dict[int, BoolArray]
) -> tuple[FloatArray, CodeArray]:
    """Least rating of the bases around the actual one and whose it is, broadcast to the states.

    inf and -1 where there is no such base, NaN where one of them is not rated. Charts of one base
    count together: the least that is rated.
    """
    limit: FloatArray = np.array(np.inf)
    which: CodeArray = np.array(-1, dtype=np.int8)
    left = list(around)
    while left:
        first = charts[left[0]].base
        group = [i for i in left if i == left[0] or same_base(charts[i].base, first)]
        left = [i for i in left if i not in group]
        word, by = np.array(np.nan), np.array(-1, dtype=np.int8)
        any_here: BoolArray = np.False_
        for i in group:
            lower = around[i] & ~np.isnan(rated[i]) & ~(rated[i] >= word)
            word, by = np.where(lower, rated[i], word), np.where(lower, np.int8(i), by)
            any_here = any_here | around[i]
        lower = any_here & ~(word >= limit) & ~np.isnan(limit)
        limit, which = np.where(lower, word, limit), np.where(lower, by, which)
    return limit, which


def _check(
    slew: FloatArray,
    radius: FloatArray,
    charts: Sequence[ChartTable],
    masses: MachineMasses | None,
    boom: BoomState | None,
    layout: Layout,
) -> None:
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


def _test_load(table: ChartTable, rated: FloatArray, boom: BoomState) -> FloatArray:
    if table.rule == "unknown":
        raise InputError.of("rule", table.rule, "a stated rule")
    return rule_test_load_t(
        rated, boom.head_mass_t, rule=table.rule, tipping_fraction=table.tipping_fraction
    )


def _strength(
    rated: FloatArray, strength_t: ArrayLike | None, radius: FloatArray
) -> tuple[FloatArray, StrengthBasis]:
    if strength_t is not None:
        limit = np.array(np.broadcast_to(np.asarray(strength_t, dtype=np.float64), radius.shape))
        if not np.all(np.isnan(limit) | (limit > 0)):
            raise InputError.of("strength_t", limit.tolist(), "greater than 0, or NaN")
        return limit, "stated strength limit"
    best: FloatArray = np.fmax.reduce(rated, axis=0)
    return best, "best rating of any chart (upper bound)"
