"""Charts beside the model fitted to them, and the residuals."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from liftcalc.calibration.result import ChartFit
from liftcalc.views.style import CURVES, GREY, TEXT_PT, Display, LineLook, prepare


def _spots(look: LineLook) -> dict[str, Any]:
    return {"color": look.colour, "marker": look.marker, "linestyle": "", "markersize": 4}


def draw_chart_fit(fits: Sequence[ChartFit], ax: Axes, *, title: str = "") -> None:
    """Ratings of up to eight charts as markers (filled where used), the fitted model as lines."""
    xlabel = "Radius [m]\nfilled: governed by stability; open: not used"
    prepare(ax, Display(), title=title, xlabel=xlabel, ylabel="Rated capacity [t]")
    top = 1.15 * max(float(fit.rated_t.max()) for fit in fits)
    for fit, look in zip(fits, CURVES, strict=False):
        shown = np.where(fit.model_t <= top, fit.model_t, np.nan)
        ax.plot(fit.radius_m, shown, label=f"{fit.title}: model", **look.line())
        radius, rated, spots = fit.radius_m, fit.rated_t, _spots(look)
        ax.plot(radius[fit.used], rated[fit.used], label="_used", **spots)
        spots["markerfacecolor"] = "none"
        ax.plot(radius[~fit.used], rated[~fit.used], label="_not used", **spots)
    ax.set_ylim(0.0, top)
    legend = {"facecolor": "white", "edgecolor": "none", "framealpha": 0.85}
    ax.legend(fontsize=TEXT_PT, loc="upper right", **legend)


def draw_residuals(fits: Sequence[ChartFit], ax: Axes, *, title: str = "") -> None:
    """Rating less model in per cent over the rating, one marker for each chart."""
    prepare(ax, Display(), title=title, xlabel="Rated capacity [t]", ylabel="Rating less model [%]")
    ax.axhline(0.0, color=GREY, linewidth=0.8)
    for fit, look in zip(fits, CURVES, strict=False):
        ax.plot(fit.rated_t, fit.relative_residual_percent, label=fit.title, **_spots(look))
    ax.legend(fontsize=TEXT_PT, frameon=False, loc="best")
