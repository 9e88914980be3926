"""How far the result moves when one input at a time goes from its low to its high value.

Contents: :func:`draw_sensitivity` (bars sorted by length). Nothing is calculated here. No
published source: drawing practice.
"""

from __future__ import annotations

from typing import Any

from liftcalc.views.data import SensitivityData
from liftcalc.views.marks import KeyEntry, Labels, key, polygon, polyline
from liftcalc.views.screen import Drawable
from liftcalc.views.style import INK, TEXT_PT, prepare

__all__ = ["draw_sensitivity"]

LOW: dict[str, Any] = {"facecolor": "#cfe3f1", "edgecolor": INK, "linewidth": 0.7, "hatch": "///"}
HIGH: dict[str, Any] = {"facecolor": "#f6dcc8", "edgecolor": INK, "linewidth": 0.7}
LIMIT: dict[str, Any] = {"color": INK, "linestyle": "-", "linewidth": 2.0}
BASE: dict[str, Any] = {"color": INK, "linestyle": (0, (5, 2)), "linewidth": 1.0}


def draw_sensitivity(data: SensitivityData, ax: Drawable, *, with_key: bool = True) -> Drawable:
    """Draw one bar an input, the longest on top, with the input's low and high value.

    Parameters:
      data: SensitivityData. Results as ratios, shown in percent.
      ax: Axes
      with_key: bool
    Returns: Axes. The same Axes.
    """
    bars = sorted(data.bars, key=lambda b: abs(b.high - b.low))
    prepare(ax, title=data.title, xlabel=f"{data.result_label} [%]")
    base = 100.0 * data.base
    ends = [base, *(100.0 * v for b in bars for v in (b.low, b.high))]
    if data.limit is not None:
        ends.append(100.0 * data.limit)
    low, high = min(ends), max(ends)
    pad = 0.22 * max(high - low, 1.0)
    ax.set_xlim(low - pad, high + pad)
    ax.set_ylim(-0.6, len(bars) - 0.4)
    ax.set_yticks(range(len(bars)), [b.name for b in bars])
    ax.tick_params(axis="y", labelsize=TEXT_PT, length=0)
    labels = Labels(ax)
    top = ax.get_ylim()[1]
    for k, bar in enumerate(bars):
        for value, other, text, style in (
            (100.0 * bar.low, 100.0 * bar.high, bar.low_text, LOW),
            (100.0 * bar.high, 100.0 * bar.low, bar.high_text, HIGH),
        ):
            ring = [(base, k - 0.3), (value, k - 0.3), (value, k + 0.3), (base, k + 0.3)]
            name = "low" if style is LOW else "high"
            polygon(ax, ring, zorder=3, gid=f"{name} {bar.name}", **style)
            right = value > base or (value == base and (other < base or style is HIGH))
            labels.add((value, float(k)), text, toward_deg=0.0 if right else 180.0, leader=False)
    polyline(ax, [(base, -0.6), (base, top)], zorder=4, gid="base", **BASE)
    if data.limit is not None:
        x = 100.0 * data.limit
        polyline(ax, [(x, -0.6), (x, top)], zorder=4, gid="limit", **LIMIT)
    if with_key:
        entries = [
            KeyEntry("low value of the input", patch=LOW),
            KeyEntry("high value of the input", patch=HIGH),
            KeyEntry(f"as planned, {base:.0f} %", line=BASE),
        ]
        if data.limit is not None:
            entries.append(KeyEntry("limit", line=LIMIT))
        key(ax, entries)
    return ax
