"""Capacity for every slew, at one radius, with what governs it.

Contents: :func:`draw_capacity_circle` (laid around the machine, as seen from above),
:func:`draw_capacity_by_slew` (unrolled, slew along the bottom). Where there is no capacity
data the curve is broken; an estimate has its own hatch and never joins a chart's line.
No published source: drawing practice.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from liftcalc.base.arrays import FloatArray
from liftcalc.base.units import UnitSystem
from liftcalc.views.data import LEG_ORDER, CapacityData
from liftcalc.views.marks import KeyEntry, Labels, key, polygon, polyline, set_scale
from liftcalc.views.screen import Drawable
from liftcalc.views.style import (
    BLUE,
    GREY,
    INK,
    PALE,
    RED,
    SOURCE_LOOKS,
    TEXT_PT,
    Display,
    prepare,
)

__all__ = ["draw_capacity_by_slew", "draw_capacity_circle", "runs"]

ESTIMATE: dict[str, Any] = {"color": GREY, "linestyle": (0, (2, 2)), "linewidth": 1.2}
CURVE: dict[str, Any] = {"color": BLUE, "linestyle": "-", "linewidth": 1.8}
LOAD: dict[str, Any] = {"color": RED, "linestyle": (0, (5, 2)), "linewidth": 1.6}
SLEW: dict[str, Any] = {"color": INK, "linestyle": (0, (1, 1.5)), "linewidth": 1.2}


def runs(values: NDArray[np.int64]) -> list[tuple[int, int]]:
    """First and one-past-last index of each stretch of equal values."""
    edges = np.flatnonzero(np.diff(values)) + 1
    starts = np.concatenate([[0], edges])
    ends = np.concatenate([edges, [len(values)]])
    return [(int(a), int(b)) for a, b in zip(starts, ends, strict=True)]


def _parts(source: NDArray[np.int64], shown: FloatArray) -> list[tuple[int, int, bool]]:
    """Stretches of one source, and whether they have a capacity; neighbours share a point."""
    parts = []
    for a, b in runs(np.where(np.isfinite(shown), source, -1 - source)):
        good = bool(np.isfinite(shown[a]))
        stop = min(b + 1, len(shown))
        if good and stop > b and not np.isfinite(shown[b]):
            stop = b
        parts.append((a, stop, good))
    return parts


def _round_up(value: float) -> float:
    power = 10.0 ** np.floor(np.log10(max(value, 1e-9)))
    return float(next(s * power for s in (1, 2, 2.5, 5, 10) if s * power >= value * (1 - 1e-12)))


def _ring_step(top: float) -> float:
    return _round_up(top / 4.0)


def _look(index: int) -> dict[str, Any]:
    face, hatch = SOURCE_LOOKS[index % len(SOURCE_LOOKS)]
    return {"facecolor": face, "hatch": hatch or None, "edgecolor": GREY, "linewidth": 0.4}


def _closed(data: CapacityData) -> tuple[FloatArray, FloatArray, NDArray[np.int64]]:
    """Slews, capacities and sources with the first repeated at the end of a full circle."""
    slew = np.asarray(data.slew_deg, dtype=np.float64)
    capacity = np.asarray(data.capacity_t, dtype=np.float64)
    source = np.asarray(data.source, dtype=np.int64)
    step = float(np.diff(slew).max()) if len(slew) > 1 else 360.0
    if slew[-1] - slew[0] < 360.0 - 1e-9 and slew[0] + 360.0 - slew[-1] <= step + 1e-9:
        slew = np.append(slew, slew[0] + 360.0)
        capacity = np.append(capacity, capacity[0])
        source = np.append(source, source[0])
    return slew, capacity, source


def _split(
    data: CapacityData, shown: FloatArray, source: NDArray[np.int64]
) -> tuple[FloatArray, FloatArray]:
    """Capacities that rest on data, and estimates; NaN where a value is of the other kind."""
    guess = np.isin(source, sorted(data.estimates))
    return np.where(guess, np.nan, shown), np.where(guess, shown, np.nan)


def _title(data: CapacityData, display: Display) -> str:
    radius, boom = (display.text(v, "length_m") for v in (data.radius_m, data.boom_length_m))
    return f"{data.title}\nradius {radius}, boom {boom}"


def draw_capacity_circle(
    data: CapacityData, ax: Drawable, *, system: UnitSystem = "metric", with_key: bool = True
) -> Drawable:
    """Capacity laid off from the slew centre in the direction of each slew.

    Parameters:
      data: CapacityData. NaN capacities are left open: no capacity data there.
      ax: Axes
      system: "metric" or "us"
      with_key: bool
    Returns: Axes. The same Axes; both scales are masses, equal on both axes, forward is to the
      right.
    """
    display = Display(system)
    unit = display.unit("mass_t")
    prepare(ax, title=_title(data, display), plan=True)
    slew, capacity, source = _closed(data)
    shown = display.show(capacity, "mass_t")
    load = float(display.show(data.gross_load_t, "mass_t"))
    finite = shown[np.isfinite(shown)]
    top = max(float(finite.max()) if finite.size else 0.0, load)
    # far peaks (a chart over the legs) would squash the part that matters
    top = min(top, 4.0 * load) if load > 0 else top
    step = _ring_step(top)
    outer = step * np.ceil(top / step)
    set_scale(ax, (-1.22 * outer, -1.22 * outer, 1.22 * outer, 1.22 * outer), standard=False)
    labels = Labels(ax)
    turn = np.radians(slew)
    cut = np.minimum(shown, outer)
    unit_circle = np.column_stack([np.cos(turn), np.sin(turn)])
    full = np.radians(np.arange(0.0, 361.0, 3.0))
    circle = np.column_stack([np.cos(full), np.sin(full)])
    for a, stop, good in _parts(source, shown):
        reach = cut[a:stop] if good else np.full(stop - a, outer)
        ring = np.vstack([[0.0, 0.0], reach[:, None] * unit_circle[a:stop]])
        polygon(ax, ring, zorder=1, gid=f"source {source[a]}", **_look(int(source[a])))
    for k in range(1, round(outer / step) + 1):
        polyline(ax, circle * k * step, color=PALE, linewidth=0.6, zorder=1.5)
    for degrees in range(0, 360, 30):
        a = np.radians(degrees)
        ray = np.array([np.cos(a), np.sin(a)])
        polyline(ax, [ray * 0.0, ray * outer], color=PALE, linewidth=0.4, zorder=1.4)
    rated, guessed = _split(data, cut, source)
    polyline(ax, rated[:, None] * unit_circle, zorder=4, gid="capacity", **CURVE)
    if np.isfinite(guessed).any():
        polyline(ax, guessed[:, None] * unit_circle, zorder=4, gid="estimate", **ESTIMATE)
    polyline(ax, circle * load, zorder=4.2, gid="gross load", **LOAD)
    if data.leg_angle_deg is not None:
        for name, degrees in zip(LEG_ORDER, data.leg_angle_deg, strict=True):
            a = np.radians(degrees)
            tick = np.array([np.cos(a), np.sin(a)]) * outer
            polyline(ax, [tick * 0.97, tick * 1.03], color=INK, linewidth=2.0, zorder=5)
            labels.add(tick * 1.03, name, toward_deg=float(degrees), weight="bold", leader=False)
    for degrees in range(0, 360, 30):
        a = np.radians(degrees)
        place = np.array([np.cos(a), np.sin(a)]) * outer * 1.13
        if labels.fits(place, f"{degrees}°"):
            labels.write(place, f"{degrees}°", colour=GREY)
    if data.at_slew_deg is not None:
        a = np.radians(data.at_slew_deg)
        ray = np.array([np.cos(a), np.sin(a)]) * outer
        polyline(ax, [ray * 0.0, ray], zorder=4.5, gid="slew now", **SLEW)
    if data.path_slew_deg is not None:
        way = np.radians(np.asarray(data.path_slew_deg))
        arc = np.column_stack([np.cos(way), np.sin(way)]) * outer * 1.025
        polyline(ax, arc, color=RED, linewidth=3.0, zorder=4.4, gid="slews of the path")
    _ring_names(labels, step, outer, unit)
    _mark_least(ax, labels, slew, _split(data, capacity, source)[0], cut, display)
    ax.set_xticks([])
    ax.set_yticks([])
    if with_key:
        key(ax, _entries(data, display, path=data.path_slew_deg is not None), below_pt=10.0)
    return ax


def _ring_names(labels: Labels, step: float, outer: float, unit: str) -> None:
    a = np.radians(105.0)
    for k in range(1, round(outer / step) + 1):
        place = np.array([np.cos(a), np.sin(a)]) * k * step
        last = k == round(outer / step)
        text = f"{k * step:,g}" + (f" {unit}" if last else "")
        labels.write(place, text, colour=GREY, ground=True)


def _mark_least(
    ax: Drawable,
    labels: Labels,
    slew: FloatArray,
    capacity: FloatArray,
    drawn: FloatArray,
    display: Display,
) -> None:
    if not np.isfinite(capacity).any():
        return
    k = int(np.nanargmin(capacity))
    a = np.radians(slew[k])
    place = np.array([np.cos(a), np.sin(a)]) * drawn[k]
    polyline(
        ax,
        [place],
        marker="v",
        markersize=6,
        color=INK,
        markeredgecolor="white",
        linestyle="none",
        zorder=6,
        gid="least capacity",
    )
    text = f"least {display.text(float(capacity[k]), 'mass_t')} at {slew[k] % 360:.0f}°"
    labels.add(
        place, text, toward_deg=float(slew[k]) + 180.0, weight="bold", gap_pt=3.0, ground=True
    )


def _entries(data: CapacityData, display: Display, *, path: bool) -> list[KeyEntry]:
    used = [k for k in range(len(data.sources)) if np.any(np.asarray(data.source) == k)]
    entries = [
        KeyEntry("capacity", line=CURVE),
        KeyEntry(f"gross load {display.text(data.gross_load_t, 'mass_t')}", line=LOAD),
    ]
    if path:
        entries.append(KeyEntry("slews of the path", line={"color": RED, "linewidth": 3.0}))
    if data.at_slew_deg is not None:
        entries.append(KeyEntry(f"slew {data.at_slew_deg % 360:.0f}°", line=SLEW))
    entries += [KeyEntry(data.sources[k], patch=_look(k)) for k in used]
    return entries


def draw_capacity_by_slew(
    data: CapacityData, ax: Drawable, *, system: UnitSystem = "metric", with_key: bool = True
) -> Drawable:
    """Capacity against slew angle; what governs is hatched under the curve.

    Parameters:
      data: CapacityData
      ax: Axes
      system: "metric" or "us"
      with_key: bool
    Returns: Axes. The same Axes.
    """
    display = Display(system)
    unit = display.unit("mass_t")
    prepare(
        ax,
        title=_title(data, display),
        xlabel="Slew angle, 0 over the front, anticlockwise [°]",
        ylabel=f"Capacity [{unit}]",
    )
    slew, capacity, source = _closed(data)
    shown = display.show(capacity, "mass_t")
    load = float(display.show(data.gross_load_t, "mass_t"))
    finite = shown[np.isfinite(shown)]
    top = max(float(finite.max()) if finite.size else 0.0, load)
    ax.set_xlim(float(slew[0]), float(slew[-1]))
    ax.set_ylim(0.0, 1.15 * top if top > 0 else 1.0)
    ax.set_xticks(np.arange(float(slew[0]), float(slew[-1]) + 1.0, 30.0))
    labels = Labels(ax)
    for a, stop, good in _parts(source, shown):
        reach = shown[a:stop] if good else np.full(stop - a, ax.get_ylim()[1])
        ring = np.column_stack([slew[a:stop], reach])
        ring = np.vstack([[slew[a], 0.0], ring, [slew[stop - 1], 0.0]])
        polygon(ax, ring, zorder=1, gid=f"source {source[a]}", **_look(int(source[a])))
    rated, guessed = _split(data, shown, source)
    curve = np.column_stack([slew, rated])
    polyline(ax, curve, zorder=4, gid="capacity", **CURVE)
    if np.isfinite(guessed).any():
        line = np.column_stack([slew, guessed])
        polyline(ax, line, zorder=4, gid="estimate", **ESTIMATE)
    span = [float(slew[0]), float(slew[-1])]
    polyline(ax, [(span[0], load), (span[1], load)], zorder=4.2, gid="gross load", **LOAD)
    labels.keep_line_clear([(span[0], load), (span[1], load)])
    known = np.isfinite(rated)
    if known.any():
        labels.keep_line_clear(curve[known])
        k = int(np.nanargmin(rated))
        polyline(
            ax,
            [(slew[k], shown[k])],
            marker="v",
            markersize=6,
            color=INK,
            markeredgecolor="white",
            linestyle="none",
            zorder=6,
            gid="least capacity",
        )
        text = f"least {display.text(float(capacity[k]), 'mass_t')} at {slew[k] % 360:.0f}°"
        labels.add((slew[k], shown[k]), text, toward_deg=-90.0, weight="bold", ground=True)
    if data.leg_angle_deg is not None:
        for name, degrees in zip(LEG_ORDER, data.leg_angle_deg, strict=True):
            x = slew[0] + (degrees - slew[0]) % 360.0
            high = ax.get_ylim()[1]
            polyline(ax, [(x, high * 0.97), (x, high)], color=INK, linewidth=2.0, zorder=5)
            labels.write((x, high * 0.93), name, weight="bold", size_pt=TEXT_PT)
    if data.at_slew_deg is not None:
        x = float(slew[0] + (data.at_slew_deg - slew[0]) % 360.0)
        polyline(ax, [(x, 0.0), (x, ax.get_ylim()[1])], zorder=4.5, gid="slew now", **SLEW)
    if with_key:
        key(ax, _entries(data, display, path=False))
    return ax
