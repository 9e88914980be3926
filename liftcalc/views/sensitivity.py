"""How far the result moves when one input at a time goes from its low to its high value."""

from dataclasses import dataclass
from typing import Any

from liftcalc.lift.sensitivity import WORDS, LiftSensitivity
from liftcalc.views.labels import Labels
from liftcalc.views.marks import key
from liftcalc.views.screen import Drawable
from liftcalc.views.strokes import box, polygon, polyline
from liftcalc.views.style import INK, TEXT_PT, Display, prepare

LOW: dict[str, Any] = {"facecolor": "#cfe3f1", "edgecolor": INK, "linewidth": 0.7, "hatch": "///"}
HIGH: dict[str, Any] = {"facecolor": "#f6dcc8", "edgecolor": INK, "linewidth": 0.7}
LIMIT: dict[str, Any] = {"color": INK, "linestyle": "-", "linewidth": 2.0}
BASE: dict[str, Any] = {"color": INK, "linestyle": (0, (5, 2)), "linewidth": 1.0}


@dataclass(frozen=True)
class SensitivityBar:
    """Result at the low and the high value of one input."""

    name: str
    low: float
    high: float
    low_text: str
    high_text: str


@dataclass(frozen=True)
class SensitivityData:
    """How far the result (1 = at the limit) moves with each input, one at a time."""

    bars: tuple[SensitivityBar, ...]
    base: float
    result_label: str = "Utilisation"
    title: str = "What moves the result, one quantity at a time"


def sensitivity_data(study: LiftSensitivity, *, title: str = SensitivityData.title, most: int = 10) -> SensitivityData:
    """Bars of the quantities that move the result most, longest first."""
    chart = study.tornado
    assumed = {one.name: one for one in study.assumptions}
    bars = []
    for k, name in enumerate(chart.names):
        if chart.swing[k] > 1e-6:
            words, unit = assumed[name].words, assumed[name].unit
            low, high = (f"{v[k]:.3g} {unit}" for v in (chart.low_value, chart.high_value))
            bar = SensitivityBar(words, float(chart.at_low[k]), float(chart.at_high[k]), low, high)
            bars.append(bar)
    label = f"Utilisation, {WORDS[chart.check]}"
    return SensitivityData(tuple(bars[:most]), chart.nominal, label, title)


def draw_sensitivity(data: SensitivityData, ax: Drawable) -> None:
    """Draw one bar an input, in percent, the longest on top, with the input's low and high."""
    bars = sorted(data.bars, key=lambda b: abs(b.high - b.low))
    display = Display()
    prepare(ax, display, data.title, f"{data.result_label} [%]")
    base = 100.0 * data.base
    ends = [base, 100.0, *(100.0 * v for b in bars for v in (b.low, b.high))]
    pad = 0.22 * max(max(ends) - min(ends), 1.0)
    top = len(bars) - 0.4
    ax.set_xlim(min(ends) - pad, max(ends) + pad)
    ax.set_ylim(-0.6, top)
    ax.set_yticks(range(len(bars)), [b.name for b in bars])
    ax.tick_params(axis="y", labelsize=TEXT_PT, length=0)
    labels = Labels(ax, display)
    for k, bar in enumerate(bars):
        low, high = 100.0 * bar.low, 100.0 * bar.high
        for name, value, other, text, style in (
            ("low", low, high, bar.low_text, LOW),
            ("high", high, low, bar.high_text, HIGH),
        ):
            ring = box(base, k - 0.3, value, k + 0.3)
            polygon(ax, ring, zorder=3, gid=f"{name} {bar.name}", **style)
            right = value > base or (value == base and (other < base or style is HIGH))
            toward = 0.0 if right else 180.0
            labels.add((value, float(k)), text, toward_deg=toward, leader=False, ground=True)
    polyline(ax, [(base, -0.6), (base, top)], zorder=4, gid="base", **BASE)
    polyline(ax, [(100.0, -0.6), (100.0, top)], zorder=4, gid="limit", **LIMIT)
    planned = f"as planned, {display.text(base, 'percent')}"
    entries = [("low value of the input", LOW), ("high value of the input", HIGH)]
    key(ax, [*entries, (planned, BASE), ("limit", LIMIT)], display)
