"""Stability: the load that tips the machine over a line of its base, and what the rules leave.

Signs: slew from +x, anticlockwise; ``u`` runs from the slew centre along the boom direction
(counterweight side negative). A tilt is positive when the machine leans toward +x or +y.
Rated loads are gross: hook block, rigging and rope below the head are part of the load.

Method: for a line with inward unit normal n and offset d, and the boom in direction b(slew), let s = n . b. The fixed
masses hold the moment N = sum m_i (n . p_i - d); a load T at radius r overturns with T (d - s r). It tips over that
line when both are equal, so T = N / (d - s r), and the least T over all lines counts. A load inside a line (d - s r <=
0) cannot tip over it. If N is not positive the machine has no stability over that line before it lifts anything: T = 0.

Sources: Statics. ISO 4305, edition not seen (test load 1.25 P + 0.1 F, from memory); ASME B30.5 and SAE J765,
second-hand, no edition (share of the tipping load: 0.85 on outriggers). The wind-plus-load case and the dynamic
multipliers of ISO 4305 were not seen: adverse terms are explicit inputs here, and none is applied unless given.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import BoolArray, FloatArray, IntArray
from liftcalc.base.errors import InputError, require_between, require_finite, require_non_negative
from liftcalc.base.units import G_M_S2
from liftcalc.crane.legs import BasePolygon, TippingLines
from liftcalc.crane.masses import NO_ADVERSE_TERMS, AdverseTerms, BoomState, MachineMasses, weight_and_moment

Rule = Literal["test_load", "tipping_fraction"]
Layout = Literal["grid", "pairs"]
"""``grid``: every slew with every radius, shape (S, R). ``pairs``: slew i with radius i, (N,)."""


@dataclass(frozen=True)
class TippingLoad:
    """Tipping load with what governs it; arrays (S, R), or (N,) in pairs."""

    slew_deg: FloatArray
    radius_m: FloatArray
    tipping_t: FloatArray
    line: IntArray
    """Index of the governing line in ``base.edge_legs``; -1 where no line can be reached."""
    unstable: BoolArray
    """True where the machine tips over some line before it lifts anything (tipping load 0)."""


@dataclass(frozen=True)
class LineTerms:
    """Moments per tonne-metre: hold = a + s b, overturn per t = c + s d + |q| k (E lines, R)."""

    a: FloatArray  # (E, R)
    b: FloatArray  # (R,)
    c: FloatArray  # (E, R)
    d: FloatArray  # (R,)
    k: FloatArray | None  # (R,); None: no side load
    wind_a: FloatArray | None  # (E, R), part of a that is wind; None: no adverse term at all
    wind_b: FloatArray | None  # (R,), part of b that is wind


def lines_of(base: BasePolygon | TippingLines) -> TippingLines:
    """Tipping lines of a base, or of many bases as they are."""
    return base.lines if isinstance(base, BasePolygon) else base


def line_terms(boom: BoomState, lines: TippingLines, masses: MachineMasses, adverse: AdverseTerms) -> LineTerms:
    """Moments about each tipping line, adverse terms included.

    Parameters:
      boom, masses, adverse: as :func:`tipping_load_t` takes them.
      lines: TippingLines. E lines.
    Returns: LineTerms. N of the module's text is a + s b; d - s r, with what leans and hangs, is
      c + s d + |q| k per tonne on the hook, q being the part of the normal across the boom. [t m]
    Raises: Tilt or wind with unknown heights.
    """
    r, psi = boom.radius_m, adverse.dynamic_factor
    machine = weight_and_moment(masses, boom)
    a = np.empty((len(lines.x), r.size))
    a[:] = lines.x * machine.fixed_x_tm + lines.y * machine.fixed_y_tm
    a -= lines.offset_m * machine.mass_t
    b = machine.slewing_tm
    c = np.empty_like(a)
    c[:] = psi * lines.offset_m
    d = -psi * r
    if adverse is NO_ADVERSE_TERMS:
        return LineTerms(a, b, c, d, None, None, None)

    if np.any(adverse.tilt_x_deg) or np.any(adverse.tilt_y_deg) or adverse.tilt_any_deg:
        tau = lines.x * np.tan(np.radians(adverse.tilt_x_deg))
        tau = tau + lines.y * np.tan(np.radians(adverse.tilt_y_deg))
        tau = tau - np.tan(np.radians(adverse.tilt_any_deg))  # normals point inward
        _known("heights of carrier, superstructure, boom and head", machine.height_tm + boom.head_z_m)
        a += tau * machine.height_tm
        c -= psi * tau * boom.head_z_m

    moment = (
        np.asarray(adverse.boom_wind_force_kN) * np.asarray(adverse.boom_wind_z_m)
        + np.asarray(adverse.superstructure_wind_force_kN) * np.asarray(adverse.superstructure_wind_z_m)
    ) / G_M_S2
    if np.any(np.asarray(adverse.load_wind_force_kN) > 0):
        _known("head_z_m", boom.head_z_m)
        moment = moment + np.asarray(adverse.load_wind_force_kN) * boom.head_z_m / G_M_S2
    moment = np.broadcast_to(moment, r.shape)
    wind_a, wind_b = np.zeros_like(a), np.zeros_like(r)
    if adverse.wind_direction == "boom":
        wind_b = moment + 0.0
    elif adverse.wind_direction == "worst":
        wind_a[:] = -moment
    else:
        to = np.radians(adverse.wind_to_deg)
        wind_a[:] = (lines.x * np.cos(to) + lines.y * np.sin(to)) * moment

    k = None
    if adverse.side_load_ratio:
        _known("head_z_m", boom.head_z_m)
        k = adverse.side_load_ratio * boom.head_z_m
    return LineTerms(a + wind_a, b + wind_b, c, d, k, wind_a, wind_b)


def _known(name: str, value: FloatArray) -> None:
    if not np.all(np.isfinite(value)):
        remedy = "Tilt, wind and side load need heights: give them."
        raise InputError.of(name, "unknown", "known values", remedy)


def boom_direction(slew_deg: ArrayLike) -> FloatArray:
    """Unit vectors of the boom direction at slew_deg (S,).

    Returns: ndarray, shape (2, S): x, y.
    """
    slew = np.radians(require_finite("slew_deg", np.atleast_1d(np.asarray(slew_deg, float))))
    out = np.empty((2, slew.size))
    np.cos(slew, out=out[0])
    np.sin(slew, out=out[1])
    return out


def along_boom(direction: FloatArray, lines: TippingLines) -> FloatArray:
    """Component of each inward normal of *lines* along the boom, for a *direction* of shape (2, S).

    Returns: ndarray, shape (E, S), -1 to 1.
    """
    return np.asarray(lines.x * direction[0] + lines.y * direction[1])


def across_boom(direction: FloatArray, lines: TippingLines) -> FloatArray:
    """Size of each inward normal's part square to the boom; else as :func:`along_boom`."""
    return np.asarray(np.abs(lines.y * direction[0] - lines.x * direction[1]))


def affine_over_lines(
    s: FloatArray, slope: FloatArray, constant: FloatArray, layout: Layout, out: FloatArray | None = None
) -> FloatArray:
    """constant + s * slope for every line, written to *out* if given, by *layout*.

    *s*, shape (E, S) or in pairs (E, N), is the component of each line's normal along the boom;
    *slope* and *constant*, shape (E, R) or (1, R), or (E, N) or (1, N), are in one unit.

    Returns: ndarray, shape (E, S, R), or (E, N) in pairs. In the unit of *constant*.
    """
    if layout == "pairs":
        return np.add(constant, s * slope, out=out)
    left = np.empty((*s.shape, 2))
    left[..., 0], left[..., 1] = s, 1.0
    right = np.empty((s.shape[0], 2, slope.shape[-1]))
    right[:, 0], right[:, 1] = slope, constant
    return np.matmul(left, right, out=out)


def check_layout(layout: Layout, slew_deg: ArrayLike, boom: BoomState) -> None:
    """Refuse slew_deg and radii of *boom* that make neither a grid nor pairs.

    Raises: An unknown *layout*, radii of more than one axis, pairs of unequal number.
    """
    if layout not in ("grid", "pairs"):
        raise InputError.of("layout", layout, "grid or pairs")
    if boom.radius_m.ndim != 1:
        raise InputError.of("radius_m", boom.radius_m.shape, "one axis")
    if layout == "pairs" and np.atleast_1d(np.asarray(slew_deg)).shape != boom.radius_m.shape:
        raise InputError.of("slew_deg", np.shape(slew_deg), "as many slews as radii (pairs)")


def _inverse_tipping(
    slew_deg: ArrayLike, boom: BoomState, base: BasePolygon | TippingLines, masses: MachineMasses,
    adverse: AdverseTerms, layout: Layout,
) -> FloatArray:  # fmt: skip
    """1 / T for each line, (E, S, R) or (E, N); inf where the line has no stability left."""
    check_layout(layout, slew_deg, boom)
    lines = lines_of(base)
    t = line_terms(boom, lines, masses, adverse)
    direction = boom_direction(slew_deg)
    s = along_boom(direction, lines)
    shape = (*s.shape, boom.radius_m.size) if layout == "grid" else s.shape
    work = np.empty((2, *shape))  # one block: page faults cost more than the arithmetic
    hold: FloatArray = work[0]
    overturn: FloatArray = work[1]
    affine_over_lines(s, t.b, t.a, layout, hold)
    affine_over_lines(s, t.d, t.c, layout, overturn)
    if t.k is not None:
        q = across_boom(direction, lines)
        overturn += q[..., None] * t.k if layout == "grid" else q * t.k
    if np.all(t.a > np.abs(t.b)):  # |s| <= 1: every line holds at every slew
        np.divide(overturn, hold, out=overturn)
    else:
        lost = hold <= 0
        with np.errstate(divide="ignore", invalid="ignore"):
            np.divide(overturn, hold, out=overturn)
        np.copyto(overturn, np.inf, where=lost)
    return overturn


def tipping_load_t(
    slew_deg: ArrayLike,
    boom: BoomState,
    *,
    base: BasePolygon | TippingLines,
    masses: MachineMasses,
    adverse: AdverseTerms = NO_ADVERSE_TERMS,
    layout: Layout = "grid",
) -> FloatArray:
    """Load at the boom head that brings the resultant onto a tipping line.

    Exact statics for a rigid machine with the legs in one plane; see the module docstring. The
    radius is the true radius under load: add boom deflection before.

    Parameters:
      slew_deg: shape (S,). Slew angles. [deg]
      boom: BoomState. Boom at R radii.
      base: BasePolygon, or TippingLines. In pairs each state may stand on a base of its own.
      adverse: AdverseTerms. Tilt, wind, dynamic factor and side load; none unless given.
      layout: {"grid", "pairs"}. Every slew with every radius, or slew i with radius i.
    Returns: ndarray, shape (S, R), or (N,) in pairs. Gross load [t]: inf where the load lies inside
      every line, 0 where the machine tips over some line before it lifts anything.
    Raises: Values that are not finite, or tilt and wind with unknown heights.
    Source: Statics; SAE J765 (definition of the balance point: hook block is part of the load).
    """
    inverse = _inverse_tipping(slew_deg, boom, base, masses, adverse, layout)
    worst: FloatArray = np.maximum(inverse[0], 0.0)
    for line in inverse[1:]:
        np.maximum(worst, line, out=worst)
    with np.errstate(divide="ignore"):
        np.divide(1.0, worst, out=worst)
    return worst


def tipping_load(
    slew_deg: ArrayLike,
    boom: BoomState,
    *,
    base: BasePolygon,
    masses: MachineMasses,
    adverse: AdverseTerms = NO_ADVERSE_TERMS,
    layout: Layout = "grid",
) -> TippingLoad:
    """Tipping load with the governing line.

    Parameters: slew_deg, boom, base, masses, adverse and layout as :func:`tipping_load_t`.
    """
    inverse = _inverse_tipping(slew_deg, boom, base, masses, adverse, layout)
    line = np.argmax(inverse, axis=0)
    worst = np.take_along_axis(inverse, line[None], axis=0)[0]
    with np.errstate(divide="ignore"):
        load = 1.0 / np.maximum(worst, 0.0)
    return TippingLoad(
        slew_deg=np.atleast_1d(np.asarray(slew_deg, dtype=np.float64)), radius_m=boom.radius_m,
        tipping_t=load, line=np.where(worst > 0, line, -1), unstable=load == 0.0,
    )  # fmt: skip


def _rule_factors(rule: Rule, tipping_fraction: float) -> tuple[float, float]:
    """(a, b) so that P = a T - b F."""
    if rule == "test_load":
        return 0.8, 0.08
    if rule == "tipping_fraction":
        return float(require_between("tipping_fraction", tipping_fraction, 0.3, 1.0)), 0.0
    raise InputError.of("rule", rule, "test_load or tipping_fraction")


def rated_by_rule_t(
    tipping_t: ArrayLike, head_mass_t: ArrayLike = 0.0, *, rule: Rule, tipping_fraction: float = 0.85
) -> FloatArray:
    """Rated load that a rule leaves of a tipping_t >= 0 (may be inf), never below 0. [t]

    *rule* ``test_load``: 1.25 P + 0.1 F = T, with head_mass_t F of the boom reduced to its head
    (ISO 4305, from memory). ``tipping_fraction``: P = tipping_fraction * T (ASME B30.5 and SAE
    J765: 0.85 on outriggers, second-hand; 0.75 on tyres or crawlers, partly from memory), 0.3 to 1.

    Raises: A tipping load below 0.
    """
    tipping = np.asarray(tipping_t, dtype=np.float64)
    if not np.all(tipping >= 0):
        raise InputError.of("tipping_t", float(np.min(tipping)), "0 or greater")
    share, head = _rule_factors(rule, tipping_fraction)
    return np.maximum(share * tipping - head * require_non_negative("F", head_mass_t), 0.0)


def rule_test_load_t(
    rated_t: ArrayLike, head_mass_t: ArrayLike = 0.0, *, rule: Rule, tipping_fraction: float = 0.85
) -> FloatArray:
    """Load at the head that a rated load must withstand without tipping: inverse of the rule. [t]

    NaN ratings (not rated) stay NaN.

    Parameters:
      rated_t: Rated load P; NaN where not rated. [t]
      head_mass_t: >= 0. As :func:`rated_by_rule_t`. [t]
      tipping_fraction: 0.3 to 1. Share of the tipping load; used by that rule.
    """
    share, head = _rule_factors(rule, tipping_fraction)
    rated = np.asarray(rated_t, dtype=np.float64)
    return (rated + head * require_non_negative("F", head_mass_t)) / share


def stability_capacity_t(
    slew_deg: ArrayLike,
    boom: BoomState,
    *,
    base: BasePolygon | TippingLines,
    masses: MachineMasses,
    rule: Rule = "test_load",
    tipping_fraction: float = 0.85,
    adverse: AdverseTerms = NO_ADVERSE_TERMS,
    layout: Layout = "grid",
) -> FloatArray:
    """Stability-limited gross load for every slew and radius. [t]

    Parameters as :func:`tipping_load_t`; the rule as :func:`rated_by_rule_t`. Adverse terms enter
    the tipping load, and the rule is applied to what is left. This is a planning choice on the safe
    side of the bare rule, not a clause of a standard.

    Returns: ndarray, shape (S, R), or (N,) in pairs: inf where no tipping line can be reached, 0
      where nothing may be lifted. [t]
    """
    tipping = tipping_load_t(slew_deg, boom, base=base, masses=masses, adverse=adverse, layout=layout)
    return rated_by_rule_t(tipping, boom.head_mass_t, rule=rule, tipping_fraction=tipping_fraction)
