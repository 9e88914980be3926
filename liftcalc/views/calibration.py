"""Charts beside the model fitted to them, and the residuals.

Contents: :func:`draw_chart_fit`, :func:`draw_residuals`. Nothing is calculated here. No published
source: drawing practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from liftcalc.calibration.result import ChartFit
from liftcalc.views.style import CURVES, GREY, INK, TEXT_PT, prepare

__all__ = ["draw_chart_fit", "draw_residuals"]


def draw_chart_fit(fits: Sequence[ChartFit], ax: Axes, *, title: str = "") -> Axes:
    """Ratings as markers (filled where stability governs), the fitted model as lines.

    Parameters:
      fits: sequence of ChartFit. Up to eight, each with its own marker and dash.
      ax: Axes
      title: str
    Returns: Axes. The same Axes.
    """
    prepare(ax, title=title, xlabel="Radius [m]", ylabel="Rated capacity [t]")
    top = max(float(fit.rated_t.max()) for fit in fits)
    for fit, look in zip(fits, CURVES, strict=False):
        shown = np.where(fit.model_t <= 1.15 * top, fit.model_t, np.nan)
        ax.plot(fit.radius_m, shown, label=f"{fit.title}: model", **look.line())
        common: dict[str, Any] = {
            "color": look.colour,
            "marker": look.marker,
            "linestyle": "",
            "markersize": 4,
        }
        ax.plot(fit.radius_m[fit.used], fit.rated_t[fit.used], label="_used", **common)
        ax.plot(
            fit.radius_m[~fit.used],
            fit.rated_t[~fit.used],
            label="_not used",
            markerfacecolor="none",
            **common,
        )
    ax.set_ylim(0.0, 1.15 * top)
    ax.legend(fontsize=TEXT_PT, frameon=False, loc="upper right")
    ax.text(
        0.99,
        0.5,
        "filled: governed by stability; open: not used",
        transform=ax.transAxes,
        ha="right",
        fontsize=TEXT_PT,
        color=INK,
    )
    return ax


def draw_residuals(fits: Sequence[ChartFit], ax: Axes, *, title: str = "") -> Axes:
    """Rating less model in per cent over the rating, one marker for each chart."""
    prepare(ax, title=title, xlabel="Rated capacity [t]", ylabel="Rating less model [%]")
    ax.axhline(0.0, color=GREY, linewidth=0.8)
    for fit, look in zip(fits, CURVES, strict=False):
        ax.plot(
            fit.rated_t,
            fit.relative_residual_percent,
            color=look.colour,
            marker=look.marker,
            linestyle="",
            markersize=4,
            label=fit.title,
        )
    ax.legend(fontsize=TEXT_PT, frameon=False, loc="best")
    return ax
