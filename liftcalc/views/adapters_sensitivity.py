"""The tornado of a lift's sensitivity as drawing data.

Contents: :func:`sensitivity_data`. No formula and no published source.
"""

from __future__ import annotations

from liftcalc.lift.sensitivity import WORDS, LiftSensitivity
from liftcalc.views.data import SensitivityBar, SensitivityData

__all__ = ["sensitivity_data"]


def sensitivity_data(found: LiftSensitivity, *, title: str = "", most: int = 10) -> SensitivityData:
    """Bars of the quantities that move the result most, longest first."""
    chart = found.tornado
    told = {one.name: one for one in found.assumptions}
    bars = tuple(
        SensitivityBar(
            name=told[name].words,
            low=float(low),
            high=float(high),
            low_text=f"{low_value:.3g} {told[name].unit}",
            high_text=f"{high_value:.3g} {told[name].unit}",
        )
        for name, low, high, low_value, high_value, swing in zip(
            chart.names,
            chart.at_low,
            chart.at_high,
            chart.low_value,
            chart.high_value,
            chart.swing,
            strict=True,
        )
        if swing > 1e-6
    )[:most]
    return SensitivityData(
        bars=bars,
        base=chart.nominal,
        result_label=f"Use of the limit: {WORDS[chart.check]}",
        limit=1.0,
        title=title or "What moves the result, one quantity at a time",
    )
