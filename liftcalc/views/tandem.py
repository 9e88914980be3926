"""Plan of a tandem lift, and each machine's share over the difference of hook levels.

Contents: :class:`TandemPlanData`, :class:`ShareData`, :func:`draw_tandem_plan`,
:func:`draw_shares`. Nothing is calculated here. No published source: drawing practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from liftcalc.base.arrays import FloatArray
from liftcalc.views.marks import Labels, north_arrow, polygon, polyline, scale_bar, set_scale
from liftcalc.views.screen import Drawable
from liftcalc.views.style import BLUE, GREY, INK, LONG_DASH, RED, TEXT_PT, Display, prepare

__all__ = ["ShareData", "TandemPlanData", "draw_shares", "draw_tandem_plan"]


MACHINE: dict[str, Any] = {"facecolor": "#e8e8e8", "edgecolor": INK, "linewidth": 0.8}
MAT: dict[str, Any] = {"facecolor": "#cfe3f1", "edgecolor": INK, "linewidth": 0.7}
FIXED: dict[str, Any] = {"facecolor": "none", "edgecolor": GREY, "linewidth": 0.8, "hatch": "///"}
LOOKS = ({"color": BLUE, "linestyle": "-"}, {"color": RED, "linestyle": LONG_DASH})


@dataclass(frozen=True, eq=False)
class TandemPlanData:
    """Plan in site coordinates; pairs are machine 1, machine 2."""

    title: str
    load_rings_m: FloatArray
    """Outline of the load at some steps from pick to set-down, shape (K, 4, 2)."""
    hook_way_m: tuple[FloatArray, FloatArray]
    """Ways of both hooks, each of shape (N, 2)."""
    carrier_m: tuple[FloatArray, FloatArray]
    mats_m: tuple[tuple[FloatArray, ...], tuple[FloatArray, ...]]
    booms_m: tuple[tuple[FloatArray, ...], tuple[FloatArray, ...]]
    """Booms at the same steps as the load, each of shape (2, 2)."""
    obstacles_m: tuple[tuple[str, FloatArray], ...]


@dataclass(frozen=True, eq=False)
class ShareData:
    """Share of each machine where hook 2 hangs higher by a difference; pairs are machines."""

    title: str
    level_difference_m: FloatArray
    plumb_t: FloatArray
    """Hoist lines plumb, shape (N, 2)."""
    least_t: FloatArray
    greatest_t: FloatArray
    """For lines out of plumb either way and the centre of gravity off by its error."""


def draw_tandem_plan(data: TandemPlanData, ax: Drawable) -> Drawable:
    """Draw both machines, their mats and booms, and the load on its way."""
    prepare(ax, title=data.title, xlabel="Easting [m]", ylabel="Northing [m]", plan=True)
    points = [data.load_rings_m.reshape(-1, 2), *data.carrier_m]
    for mats in data.mats_m:
        points += list(mats)
    stack = np.concatenate(points)
    low, high = stack.min(axis=0) - 3.0, stack.max(axis=0) + 3.0
    for name, ring in data.obstacles_m:
        if np.any((ring.max(axis=0) >= low) & (ring.min(axis=0) <= high)):
            polygon(ax, ring, zorder=1, gid=f"obstacle {name}", **FIXED)
    for k in (0, 1):
        polygon(ax, data.carrier_m[k], zorder=2, gid=f"carrier {k + 1}", **MACHINE)
        for mat in data.mats_m[k]:
            polygon(ax, mat, zorder=2, gid=f"mat {k + 1}", **MAT)
        for boom in data.booms_m[k]:
            polyline(ax, boom, zorder=3, linewidth=1.6, alpha=0.6, **LOOKS[k])
        polyline(ax, data.hook_way_m[k], zorder=4, linewidth=0.9, **LOOKS[k])
        centre = data.carrier_m[k].mean(axis=0)
        ax.text(
            centre[0], centre[1], f"{k + 1}", fontsize=TEXT_PT + 2, ha="center", va="center",
            zorder=6,
        )  # fmt: skip
    for k, ring in enumerate(data.load_rings_m):
        last = k in (0, len(data.load_rings_m) - 1)
        polygon(
            ax, ring, zorder=5, facecolor="none", edgecolor=INK,
            linewidth=1.6 if last else 0.7, gid=f"load {k}",
        )  # fmt: skip
    scale = set_scale(ax, (low[0], low[1], high[0], high[1]))
    labels = Labels(ax)
    scale_bar(ax, labels, Display("metric"), scale=scale)
    north_arrow(ax, labels)
    return ax


def draw_shares(data: ShareData, ax: Drawable) -> Drawable:
    """Draw both shares over the difference of hook levels, with the band of the other errors."""
    prepare(
        ax,
        title=data.title,
        xlabel="Hook 2 higher than level by [m]",
        ylabel="Share [t]",
    )
    x = data.level_difference_m
    for k in (0, 1):
        ring = np.concatenate(
            [
                np.column_stack([x, data.greatest_t[:, k]]),
                np.column_stack([x, data.least_t[:, k]])[::-1],
            ]
        )
        polygon(
            ax, ring, zorder=1, facecolor=LOOKS[k]["color"], alpha=0.15, edgecolor="none",
            gid=f"band {k + 1}",
        )  # fmt: skip
        polyline(
            ax, np.column_stack([x, data.plumb_t[:, k]]), zorder=3, linewidth=1.8,
            gid=f"share {k + 1}", **LOOKS[k],
        )  # fmt: skip
        ax.text(
            x[-1], data.plumb_t[-1, k], f" machine {k + 1}", fontsize=TEXT_PT, va="center",
            color=LOOKS[k]["color"],
        )  # fmt: skip
    ends = np.concatenate([data.least_t, data.greatest_t])
    pad = 0.1 * max(float(np.ptp(ends)), 0.1)
    ax.set_ylim(float(ends.min()) - pad, float(ends.max()) + pad)
    ax.set_xlim(float(x[0]), float(x[-1]) + 0.25 * float(np.ptp(x)))
    return ax
