"""Heights that need notice by 14 CFR 77.9(b): slopes worked by hand in feet."""

from __future__ import annotations

import math

import pytest

from liftcalc.base.errors import InputError
from liftcalc.plan.notices import us_notice_rise_m

FT = 0.3048
HAND = [
    # runway [ft], distance [ft], rise without notice [ft]
    (5000, 10000, 100), (5000, 20000, 200), (3201, 500, 5), (3200, 500, 10), (3200, 10000, 200),
    (3200, 10001, math.inf), (5000, 20001, math.inf), (0, 5000, 200), (0, 1000, 40),
    (0, 5001, math.inf), (5000, 0, 0),
]  # fmt: skip


@pytest.mark.parametrize(("runway", "distance", "rise"), HAND)
def test_slopes_of_100_50_and_25_to_1(runway: float, distance: float, rise: float) -> None:
    got = us_notice_rise_m(distance * FT, runway * FT)
    assert got / FT == pytest.approx(rise) if math.isfinite(rise) else got == math.inf


@pytest.mark.parametrize("wrong", [-1.0, math.nan])
def test_no_distance_is_refused(wrong: float) -> None:
    with pytest.raises(InputError, match="distance_m"):
        us_notice_rise_m(wrong, 1000.0)
