"""Capacity for every slew, at one radius, with what governs it.

Where there is no capacity data the curve is broken; an estimate has its own hatch and never joins a chart's line.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from liftcalc.base.arrays import BoolArray, FloatArray, IntArray
from liftcalc.base.errors import InputError
from liftcalc.base.units import UnitSystem
from liftcalc.crane.sectors import ESTIMATE, NOT_RATED, CapacityBySlew
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.path import LoadPath
from liftcalc.lift.setup import Setup
from liftcalc.views import style
from liftcalc.views.labels import Labels
from liftcalc.views.machine import LEG_ORDER
from liftcalc.views.marks import KeyEntry, key, set_scale
from liftcalc.views.screen import Drawable
from liftcalc.views.strokes import mark, polygon, polyline
from liftcalc.views.style import BLUE, GREY, INK, PALE, RED, SOURCE_LOOKS, TEXT_PT, Display, prepare

SOURCE_WORDS = (
    "chart of this base",
    "chart applied to this base (on condition)",
    "chart of a base inside this one",
    "chart applied to this base, confirmed by the manufacturer",
    "estimate only: no capacity data",
    "not rated",
)
GUESS: dict[str, Any] = {"color": GREY, "linestyle": (0, (2, 2)), "linewidth": 1.2}
CURVE: dict[str, Any] = {"color": BLUE, "linestyle": "-", "linewidth": 1.8}
LOAD: dict[str, Any] = {"color": RED, "linestyle": (0, (5, 2)), "linewidth": 1.6}
SLEW: dict[str, Any] = {"color": INK, "linestyle": (0, (1, 1.5)), "linewidth": 1.2}
PATH: dict[str, Any] = {"color": RED, "linewidth": 3.0}


@dataclass(frozen=True, eq=False)
class CapacityData:
    """Capacity at one radius and boom length, for every slew."""

    slew_deg: FloatArray
    capacity_t: FloatArray
    """NaN where there is none."""
    source: IntArray
    """Index into ``sources`` of what governs at each slew."""
    sources: tuple[str, ...]
    """Words for the key, for example "chart of this base"."""
    gross_load_t: float
    radius_m: float
    boom_length_m: float
    leg_angle_deg: FloatArray | None = None
    path_slew_deg: FloatArray | None = None
    at_slew_deg: float | None = None
    estimates: frozenset[int] = frozenset()
    """Sources that are no capacity data: their values are drawn apart and never as capacity."""


def capacity_data(
    setup: Setup,
    circle: CapacityBySlew,
    *,
    radius_index: int = 0,
    path: LoadPath | None = None,
    at_slew_deg: float | None = None,
) -> CapacityData:
    """Capacity around the slew circle at one of the radii studied."""
    if not 0 <= radius_index < len(circle.radius_m):
        raise InputError.of("radius_index", radius_index, f"0 to {len(circle.radius_m) - 1}")
    legs, source = setup.leg_xy_m, circle.source[:, radius_index].astype(np.int64)
    return CapacityData(
        circle.slew_deg, circle.capacity_t[:, radius_index], source, SOURCE_WORDS, setup.gross_t,
        radius_m=float(circle.radius_m[radius_index]), boom_length_m=setup.boom.length_m,
        leg_angle_deg=np.degrees(np.arctan2(legs[:, 1], legs[:, 0])),
        path_slew_deg=None if path is None else np.unique(path.slew_deg),
        at_slew_deg=at_slew_deg, estimates=frozenset({ESTIMATE, NOT_RATED}),
    )  # fmt: skip


class _Curve:
    """Slews, capacities and sources as drawn, the first repeated at the end of a full circle.

    ``shown``, ``load`` and ``top`` (the maximum of both) are in display units.
    """

    def __init__(self, data: CapacityData, display: Display) -> None:
        slew, capacity, source = data.slew_deg, data.capacity_t, data.source
        step = float(np.diff(slew).max()) if len(slew) > 1 else 360.0
        if slew[-1] - slew[0] < 360.0 - 1e-9 and slew[0] + 360.0 - slew[-1] <= step + 1e-9:
            slew = np.append(slew, slew[0] + 360.0)
            capacity, source = np.append(capacity, capacity[0]), np.append(source, source[0])
        self.slew_deg, self.capacity_t, self.source = slew, capacity, source
        self.shown = display.show(capacity, "mass_t")
        self.load = float(display.show(data.gross_load_t, "mass_t"))
        self.top = max([self.load, *self.shown[np.isfinite(self.shown)].tolist()])
        self.estimate = np.isin(source, sorted(data.estimates))


def _parts(source: IntArray, shown: FloatArray) -> list[tuple[int, int, bool]]:
    """Stretches of one source, and whether they have a capacity; neighbours share a point."""
    key_of = np.where(np.isfinite(shown), source, -1 - source)
    edges = np.flatnonzero(np.diff(key_of)) + 1
    starts, ends = np.concatenate([[0], edges]), np.concatenate([edges, [len(source)]])
    parts = []
    for start, end in zip(starts.tolist(), ends.tolist(), strict=True):
        good = bool(np.isfinite(shown[start]))
        shares = end < len(shown) and (not good or np.isfinite(shown[end]))
        parts.append((start, end + 1 if shares else end, good))
    return parts


def _look(index: int) -> dict[str, Any]:
    face, hatch = SOURCE_LOOKS[index % len(SOURCE_LOOKS)]
    return style.fill(face, GREY, 0.4, hatch)


def _title(data: CapacityData, display: Display) -> str:
    radius, boom = (display.text(v, "length_m") for v in (data.radius_m, data.boom_length_m))
    return f"Rated capacity around the slew circle\nradius {radius}, boom {boom}"


def _draw_lines(ax: Drawable, points: FloatArray, estimate: BoolArray) -> None:
    """Capacities that rest on data as one line, estimates as another."""
    polyline(ax, np.where(estimate[:, None], np.nan, points), zorder=4, gid="capacity", **CURVE)
    guessed = np.where(estimate[:, None], points, np.nan)
    if np.isfinite(guessed).any():
        polyline(ax, guessed, zorder=4, gid="estimate", **GUESS)


def _name_minimum(curve: _Curve, points: FloatArray, labels: Labels, *, below: bool) -> None:
    """Mark and name the minimum capacity that rests on data."""
    rated = np.where(curve.estimate, np.nan, curve.capacity_t)
    if not np.isfinite(rated).any() or _constant_t(curve.capacity_t) is not None:
        return  # there is none, or the key says it
    display = labels.display
    k = int(np.nanargmin(rated))
    place, slew = points[k], float(curve.slew_deg[k])
    look = {"markersize": 6, "markeredgecolor": "white", "zorder": 6}
    mark(labels.ax, place, "v", gid="minimum capacity", **look)
    text = f"minimum {display.text(float(rated[k]), 'mass_t')}"
    text += f" at {display.text(slew, 'slew_deg')}"
    toward, gap = (-90.0, 0.0) if below else (slew + 180.0, 3.0)
    labels.add(place, text, toward_deg=toward, weight="bold", gap_pt=gap, ground=True)


def _constant_t(capacity_t: FloatArray) -> float | None:
    """The capacity where it is the same at every slew; None where it is not."""
    same = bool(np.isfinite(capacity_t).all()) and float(np.ptp(capacity_t)) < 1e-6
    return float(capacity_t[0]) if same else None


def _rays(degrees: ArrayLike) -> FloatArray:
    """Unit vectors at slews, one for each."""
    turn = np.radians(degrees)
    return np.stack([np.cos(turn), np.sin(turn)], axis=-1)


def draw_capacity_circle(data: CapacityData, ax: Drawable, *, system: UnitSystem = "metric") -> None:
    """Draw the capacity laid off from the slew centre in the direction of each slew.

    Both scales are masses, equal on both axes; forward is to the right. Where there is no
    capacity data the circle is left open.
    """
    display = Display(system)
    prepare(ax, display, title=_title(data, display), plan=True)
    curve = _Curve(data, display)
    # far peaks (a chart over the outriggers) would squash the part that matters
    top = min(curve.top, 4.0 * curve.load) if curve.load > 0 else curve.top
    step = _round_up(top / 5.0)
    count = int(np.ceil(top / step - 1e-9))
    outer = step * count
    window = ax.get_window_extent()
    half_pt = min(window.width, window.height) * 36.0 / ax.figure.dpi
    edge = outer * half_pt / (half_pt - 32.0)  # slews and outriggers are named around it
    set_scale(ax, (-edge, -edge, edge, edge), standard=False)
    labels = Labels(ax, display)
    cut, unit_circle = np.minimum(curve.shown, outer), _rays(curve.slew_deg)
    points = cut[:, None] * unit_circle
    for a, stop, good in _parts(curve.source, curve.shown):
        arc = points[a:stop] if good else outer * unit_circle[a:stop]
        source = int(curve.source[a])
        polygon(ax, np.vstack([[0, 0], arc]), zorder=1, gid=f"source {source}", **_look(source))
    circle = _rays(np.arange(0, 361, 3))
    for k in range(1, count + 1):
        polyline(ax, circle * k * step, color=PALE, linewidth=0.6, zorder=1.5)
    for ray in _rays(np.arange(0, 360, 30)):
        polyline(ax, [(0.0, 0.0), outer * ray], color=PALE, linewidth=0.4, zorder=1.4)
    _draw_lines(ax, points, curve.estimate)
    polyline(ax, circle * curve.load, zorder=4.2, gid="gross load", **LOAD)
    if data.at_slew_deg is not None:
        ray = np.array([(0, 0), outer * _rays(data.at_slew_deg)])
        polyline(ax, ray, zorder=4.5, gid="slew now", **SLEW)
        labels.keep_line_clear(ray)
    if data.path_slew_deg is not None:
        arc = 1.025 * outer * _rays(data.path_slew_deg)
        polyline(ax, arc, zorder=4.4, gid="slew range of the load path", **PATH)
    _name_circle(data, curve, points, labels, step * np.arange(1.0, count + 1.0))
    ax.set_xticks([])
    ax.set_yticks([])
    for spine in ax.spines.values():
        spine.set_visible(False)
    key(ax, _entries(data, display, path=data.path_slew_deg is not None), display, below_pt=10.0)


def _name_circle(data: CapacityData, curve: _Curve, points: FloatArray, labels: Labels, rings: FloatArray) -> None:
    """Outriggers, slews, rings and the minimum, clear of the curves."""
    display, outer = labels.display, float(rings[-1])
    for name, angle in _legs(data):
        tick = outer * _rays(angle)
        polyline(labels.ax, [tick * 0.97, tick * 1.03], color=INK, linewidth=2.0, zorder=5)
        labels.add(tick * 1.03, name, toward_deg=angle, weight="bold", leader=False)
    for degrees in range(0, 360, 30):
        text = f"{degrees}°" + {0: "\nfront", 180: "\nrear"}.get(degrees, "")
        width, height = style.text_size_pt(display.words(text), TEXT_PT)
        ray = _rays(degrees)
        away = 6.0 + abs(ray[0]) * width / 2.0 + abs(ray[1]) * height / 2.0
        x, y = labels.at_pt(1.04 * outer * ray)
        place = labels.to_data(x + away * ray[0], y + away * ray[1])
        if labels.fits(place, text):
            labels.write(place, text, colour=GREY)
    labels.keep_line_clear(curve.load * _rays(np.arange(0, 361, 3)))
    labels.keep_line_clear(points[np.isfinite(points).all(axis=1)])
    _name_rings(data, curve, points, labels, rings)
    _name_minimum(curve, points, labels, below=False)


def _name_rings(data: CapacityData, curve: _Curve, points: FloatArray, labels: Labels, rings: FloatArray) -> None:
    """Masses on the rings, each clear of the curves; a ring with no such place goes without."""
    display = labels.display
    lines = [points[np.isfinite(points).all(axis=1)], curve.load * _rays(np.arange(0, 361, 2))]
    if data.path_slew_deg is not None:
        lines.append(1.025 * rings[-1] * _rays(data.path_slew_deg))
    spokes, offs = np.arange(15.0, 375.0, 30.0), np.array([0.0, -6.0, 6.0])
    rays = _rays(spokes)
    middle = np.array(labels.at_pt((0.0, 0.0)))
    per_unit = labels.at_pt((1.0, 0.0))[0] - middle[0]
    drawn = middle + per_unit * np.vstack(lines)
    out = np.hypot(*(drawn - middle).T)
    for k, ring in enumerate(rings.tolist()):
        unit = f" {display.unit('mass_t')}" if k == len(rings) - 1 else ""
        text = display.words(display.number(ring) + unit)
        half = np.array(style.text_size_pt(text, TEXT_PT)) / 2.0
        # on the ring, or a little to one side of it
        away = ring * per_unit + offs[None, :, None]
        middles = (middle + away * rays[:, None, :]).reshape(-1, 2)
        # what is farther than 6 points from every text on this ring plays no part
        near = drawn[np.abs(out - ring * per_unit) < float(np.hypot(*half)) + 13.0]
        gap = np.maximum(np.abs(near - middles[:, None, :]) - half, 0.0)
        # among equals the one nearest to 105 degrees, so that rings read in a row
        free = np.hypot(gap[..., 0], gap[..., 1]).min(axis=1, initial=6.0)
        free -= (0.3 * np.abs(offs) + 0.002 * np.abs(spokes - 105.0)[:, None]).ravel()
        for best in np.argsort(-free, kind="stable").tolist():
            if free[best] <= 1.0:
                break
            place = labels.to_data(*middles[best])
            if labels.fits(place, text):
                labels.write(place, text, colour=GREY, ground=True)
                break


def _round_up(value: float) -> float:
    power = 10.0 ** np.floor(np.log10(max(value, 1e-9)))
    return float(next(s * power for s in (1, 2, 2.5, 5, 10) if s * power >= value * (1 - 1e-12)))


def _legs(data: CapacityData) -> list[tuple[str, float]]:
    angles = [] if data.leg_angle_deg is None else data.leg_angle_deg.tolist()
    return list(zip(LEG_ORDER, angles, strict=False))


def _entries(data: CapacityData, display: Display, *, path: bool) -> list[KeyEntry]:
    same = _constant_t(data.capacity_t)
    value = "" if same is None else f" {display.text(same, 'mass_t')} at every slew"
    load = f"gross load {display.text(data.gross_load_t, 'mass_t')}"
    entries = [(f"capacity{value}", CURVE), (load, LOAD)]
    if path:
        entries.append(("slew range of the load path", PATH))
    if data.at_slew_deg is not None:
        entries.append((f"slew {display.text(data.at_slew_deg, 'slew_deg')}", SLEW))
    return entries + [(data.sources[k], _look(k)) for k in np.unique(data.source).tolist()]


def draw_capacity_by_slew(data: CapacityData, ax: Drawable, *, system: UnitSystem = "metric") -> None:
    """Draw capacity against slew angle; what governs is hatched under the curve."""
    display = Display(system)
    turn = "Slew angle, 0 over the front, anticlockwise [°]"
    prepare(ax, display, _title(data, display), turn, f"Capacity [{display.unit('mass_t')}]")
    curve = _Curve(data, display)
    slew, first, last = curve.slew_deg, float(curve.slew_deg[0]), float(curve.slew_deg[-1])
    high = 1.15 * curve.top if curve.top > 0 else 1.0
    ax.set_xlim(first, last)
    ax.set_ylim(0.0, high)
    ax.set_xticks(np.arange(first, last + 1.0, 30.0))
    labels = Labels(ax, display)
    for a, stop, good in _parts(curve.source, curve.shown):
        reach = curve.shown[a:stop] if good else np.full(stop - a, high)
        ring = np.column_stack([slew[a:stop], reach])
        ring = np.vstack([[slew[a], 0.0], ring, [slew[stop - 1], 0.0]])
        source = int(curve.source[a])
        polygon(ax, ring, zorder=1, gid=f"source {source}", **_look(source))
    points = np.column_stack([slew, curve.shown])
    _draw_lines(ax, points, curve.estimate)
    load = [(first, curve.load), (last, curve.load)]
    polyline(ax, load, zorder=4.2, gid="gross load", **LOAD)
    labels.keep_line_clear(load)
    known = np.isfinite(curve.shown) & ~curve.estimate
    if known.any():
        labels.keep_line_clear(points[known])
    _name_minimum(curve, points, labels, below=True)
    for name, degrees in _legs(data):
        x = first + (degrees - first) % 360.0
        polyline(ax, [(x, high * 0.97), (x, high)], color=INK, linewidth=2.0, zorder=5)
        labels.write((x, high * 0.93), name, weight="bold", size_pt=TEXT_PT)
    if data.at_slew_deg is not None:
        x = first + (data.at_slew_deg - first) % 360.0
        polyline(ax, [(x, 0.0), (x, high)], zorder=4.5, gid="slew now", **SLEW)
    key(ax, _entries(data, display, path=False), display)


def _at_greatest_radius(lift: LiftAssessment) -> CapacityData:
    last = len(lift.circle.radius_m) - 1
    return capacity_data(lift.setup, lift.circle, radius_index=last, path=lift.path)


capacity_figure = style.figure_of(
    _at_greatest_radius, draw_capacity_circle, 142.0, 140.0, margins_mm=(5.0, 12.0, 5.0, 8.0)
)
"""Capacity round the slew circle at the greatest radius of the path, at print size."""
