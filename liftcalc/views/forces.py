"""Force on each leg for every slew angle, with the greatest, the lift-off and the leg's limit.

Contents: :func:`draw_leg_forces`. Nothing is calculated here. No published source: drawing
practice.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from liftcalc.base.units import UnitSystem
from liftcalc.views.data import LEG_ORDER, ForceData
from liftcalc.views.marks import KeyEntry, Labels, key, polygon, polyline
from liftcalc.views.screen import Drawable
from liftcalc.views.style import CURVES, GREY, INK, Display, prepare

__all__ = ["draw_leg_forces"]

LIMIT: dict[str, Any] = {"color": INK, "linestyle": "-", "linewidth": 2.0}
NOW: dict[str, Any] = {"color": INK, "linestyle": (0, (1, 1.5)), "linewidth": 1.2}
TIPS: dict[str, Any] = {"facecolor": "#f3e3d7", "edgecolor": GREY, "linewidth": 0.4, "hatch": "xx"}
BAND: dict[str, Any] = {"facecolor": "#eeeeee", "edgecolor": GREY, "linewidth": 0.4, "hatch": ".."}


def draw_leg_forces(
    data: ForceData, ax: Drawable, *, system: UnitSystem = "metric", with_key: bool = True
) -> Drawable:
    """Draw four curves, one a leg, each with its own line and marker.

    Parameters:
      data: ForceData. Compression positive; 0 where a leg lifts off.
      ax: Axes
      system: "metric" or "us"
      with_key: bool
    Returns: Axes. The same Axes.
    """
    display = Display(system)
    unit = display.unit("force_kN")
    prepare(
        ax,
        title=display.words(data.title),
        xlabel="Slew, 0 over the front, anticlockwise [°]",
        ylabel=f"Leg force [{unit}]",
    )
    slew = np.asarray(data.slew_deg, dtype=np.float64)
    force = display.show(data.reaction_kN, "force_kN")
    limit = None if data.limit_kN is None else float(display.show(data.limit_kN, "force_kN"))
    greatest = float(np.nanmax(force)) if np.isfinite(force).any() else 0.0
    near = limit is not None and limit <= 1.6 * greatest
    top = 1.22 * max(greatest, limit if near and limit is not None else 0.0)
    ax.set_xlim(float(slew[0]), float(slew[-1]))
    ax.set_ylim(0.0, top if top > 0 else 1.0)
    if slew[-1] - slew[0] >= 180.0:
        wide = ax.get_window_extent().width / (ax.figure.dpi if ax.figure else 72.0) > 3.5
        step = 30.0 if wide else 60.0
        ax.set_xticks(np.arange(float(slew[0]), float(slew[-1]) + 1.0, step))
    labels = Labels(ax)
    if data.path_slew_deg is not None:
        a, b = data.path_slew_deg
        ring = [(a, 0.0), (b, 0.0), (b, ax.get_ylim()[1]), (a, ax.get_ylim()[1])]
        polygon(ax, ring, zorder=0.5, gid="slews of the path", **BAND)
    for k, (name, look) in enumerate(zip(LEG_ORDER, CURVES, strict=False)):
        curve = np.column_stack([slew, force[:, k]])
        line = polyline(ax, curve, zorder=4, gid=f"force {name}", **look.line())
        line.set_marker(look.marker)
        line.set_markersize(4.0)
        line.set_markevery((int(k * len(slew) / 32), max(1, len(slew) // 8)))
        labels.keep_line_clear(curve)
    tipping = _mark_tipping(ax, labels, slew, force)
    if greatest > 0.0:
        _mark_greatest(ax, labels, slew, force, display)
    if near and limit is not None:
        ends = [(float(slew[0]), limit), (float(slew[-1]), limit)]
        polyline(ax, ends, zorder=3, gid="limit", **LIMIT)
        labels.add(
            ends[0], f"leg limit {limit:,.0f} {unit}", toward_deg=20.0, leader=False, ground=True
        )
    if data.at_slew_deg is not None:
        x = float(slew[0] + (data.at_slew_deg - slew[0]) % 360.0)
        polyline(ax, [(x, 0.0), (x, ax.get_ylim()[1])], zorder=3, gid="slew now", **NOW)
    if with_key:
        entries = [
            KeyEntry(name, line={**look.line(), "marker": look.marker, "markersize": 4.0})
            for name, look in zip(LEG_ORDER, CURVES, strict=False)
        ]
        if data.path_slew_deg is not None:
            entries.append(KeyEntry("slews of the path", patch=BAND))
        if tipping:
            entries.append(KeyEntry("no equilibrium: the machine tips", patch=TIPS))
        if data.at_slew_deg is not None:
            entries.append(KeyEntry(f"slew {data.at_slew_deg % 360:.0f}°", line=NOW))
        key(ax, entries)
    return ax


def _mark_tipping(
    ax: Drawable,
    labels: Labels,
    slew: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
    force: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
) -> bool:
    """Hatch the slews without equilibrium; True if there are any."""
    lost = np.isnan(force).any(axis=1)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], lost, [False]]).astype(int)))
    top = ax.get_ylim()[1]
    for first, end in zip(edges[::2], edges[1::2], strict=True):
        a, b = float(slew[first]), float(slew[min(end, len(slew) - 1)])
        ring = [(a, 0.0), (b, 0.0), (b, top), (a, top)]
        polygon(ax, ring, zorder=0.6, gid="tips", **TIPS)
        labels.add(((a + b) / 2.0, top / 2.0), "tips", weight="bold", ground=True, leader=False)
    return bool(lost.any())


def _mark_greatest(
    ax: Drawable,
    labels: Labels,
    slew: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
    force: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
    display: Display,
) -> None:
    row, column = np.unravel_index(int(np.nanargmax(force)), force.shape)
    place = (float(slew[row]), float(force[row, column]))
    polyline(
        ax,
        [place],
        marker="v",
        markersize=7,
        color=INK,
        markeredgecolor="white",
        linestyle="none",
        zorder=6,
        gid="greatest force",
    )
    digits = 0 if display.system == "metric" else 1
    text = f"{LEG_ORDER[int(column)]} greatest {place[1]:,.{digits}f} {display.unit('force_kN')}"
    text += f" at {slew[row] % 360:.0f}°"
    labels.add(place, text, toward_deg=90.0, weight="bold", gap_pt=2.0, ground=True)
    for k, name in enumerate(LEG_ORDER):
        lifted = force[:, k] <= 0.0
        if lifted.any():
            middle = int(np.flatnonzero(lifted)[lifted.sum() // 2])
            labels.add((float(slew[middle]), 0.0), f"{name} lifts off", toward_deg=90.0)
