"""The shares of two machines, read as a checker does."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest
from printing import rows_by_title
from test_printed_calculation import wrong_rows

from liftcalc.facts.job import Job
from liftcalc.lift.calculation_share import share_calculation, share_calculation_rows
from liftcalc.lift.tandem import TandemAssessment, assess_tandem
from liftcalc.lift.tandem_checks import common_checks
from liftcalc.records.blocks import in_units


def changed(demo: Job, **changes: Any) -> TandemAssessment:
    """The demo's tandem lift with some fields changed."""
    (tandem,) = demo.tandem_lifts
    return assess_tandem(
        demo.model_copy(update={"tandem_lifts": (tandem.model_copy(update=changes),)}), tandem.id, steps=30
    )


@pytest.mark.parametrize(
    "change",
    [
        {},
        {"lug_above_cg_m": (0.9, 0.5)},
        {"lug_above_cg_m": (-0.2, 0.6), "cg_error_m": 0.05},
        {"out_of_plumb_error_deg": 0.0},
    ],
)
def test_the_shares_follow_from_what_is_stated(demo: Job, change: dict[str, Any]) -> None:
    found = changed(demo, **change)
    (tight,) = (c for c in common_checks(found) if c.id == "both-lines-tight")
    calc = share_calculation(found, tight)
    assert calc.mismatches == []
    assert list(calc.reached) == ["both-lines-tight"]
    assert wrong_rows(in_units(calc.block(), "metric"), rows_by_title([tight])) == []
    assert len(share_calculation_rows(calc)) > 20


def test_the_worst_share_by_hand(demo: Job) -> None:
    """Moments about the centre of gravity, every error at either end, by plain trigonometry."""
    found = changed(demo)
    t = found.tandem
    worst = 0.0
    for level, plumb, off in itertools.product((-1, 1), repeat=3):
        a, b = t.lug_distance_m[0] + off * t.cg_error_m, t.lug_distance_m[1] - off * t.cg_error_m
        tilt = np.arcsin(level * t.level_error_m / (a + b))  # points at one height
        h = t.lug_above_cg_m[0]
        x1, z1 = -a * np.cos(tilt) - h * np.sin(tilt), -a * np.sin(tilt) + h * np.cos(tilt)
        x2, z2 = b * np.cos(tilt) - h * np.sin(tilt), b * np.sin(tilt) + h * np.cos(tilt)
        pull = np.tan(np.radians(plumb * t.out_of_plumb_error_deg))
        share = t.load.mass_t * x2 / (x2 - x1 + pull * (z1 - z2))
        worst = max(worst, share * (1 + t.load.contingency_percent / 100))
    assert found.shares.max_share_t[0] == pytest.approx(worst, rel=1e-9)
    (tight,) = (c for c in common_checks(found) if c.id == "both-lines-tight")
    rows = share_calculation_rows(share_calculation(found, tight))
    assert f"{worst:.3f} t" in [row[4] for row in rows if row[2].startswith("V_1max")]
