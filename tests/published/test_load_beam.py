"""The load as a beam between its lifting points, against textbook closed forms."""

from __future__ import annotations

import math

import pytest

from liftcalc.base.errors import InputError
from liftcalc.rigging.load_beam import load_bending

W = 60.0
SIMPLE = [
    # length, spacing, offset, sagging, hogging: w = W / L evenly, c the overhang
    (6.0, 6.0, 0.0, W * 6.0 / 8, 0.0),  # simple beam: w L^2 / 8
    (5.0, 4.0, 0.0, W / 5 * (4.0**2 / 8 - 0.5**2 / 2), W / 5 * 0.5**2 / 2),
    (6.0, 2.0, 0.0, 0.0, W / 6 * 2.0**2 / 2),  # overhangs so long that the middle hogs too
    (6.0, 0.0, 0.0, 0.0, W * 6.0 / 8),  # one point: two cantilevers of w (L/2)^2 / 2
    (6.0, 6.0, 1.0, 2 / (9 * math.sqrt(3)) * W * 6.0, 0.0),  # triangle: 2 W L / (9 sqrt 3)
]


@pytest.mark.parametrize(("length", "spacing", "off", "sagging", "hogging"), SIMPLE)
def test_evenly_spread_mass(length: float, spacing: float, off: float, sagging: float, hogging: float) -> None:
    for way in (off, -off):
        got = load_bending(W, length, spacing, offset_m=way, mass_along="uniform")
        assert got.sagging_kNm == pytest.approx(sagging, rel=1e-4, abs=1e-9)
        assert got.hogging_kNm == pytest.approx(hogging, rel=1e-4, abs=1e-9)


def test_supports_at_0_207_of_the_length_from_its_ends_make_both_moments_alike() -> None:
    got = load_bending(W, 10.0, 10.0 * (1 - 2 * 0.20711), mass_along="uniform")
    assert got.sagging_kNm == pytest.approx(got.hogging_kNm, rel=1e-3)
    assert got.sagging_kNm == pytest.approx(0.02145 * W * 10.0, rel=1e-3)


def test_a_heavier_end_on_one_point_bends_more_than_an_even_spread() -> None:
    even, heavy = (load_bending(W, 6.0, 0.0, offset_m=e, mass_along="uniform") for e in (0, 1.0))
    # triangle of twice the density at its end: w from W/L in the middle to 2 W/L at 3 m
    middle, end = W / 6, 2 * W / 6
    assert heavy.hogging_kNm == pytest.approx(middle * 9 / 2 + (end - middle) * 9 / 3)
    assert even.hogging_kNm < heavy.hogging_kNm


def test_no_spread_is_worse_than_anywhere() -> None:
    for spacing in (0.0, 1.0, 4.0, 6.0):
        for off in (0.0, 0.3):
            even = load_bending(W, 6.0, spacing, offset_m=off, mass_along="uniform")
            worst = load_bending(W, 6.0, spacing, offset_m=off)
            assert worst.sagging_kNm >= even.sagging_kNm
            assert worst.hogging_kNm >= even.hogging_kNm - 1e-9
    assert load_bending(W, 6.0, 4.0).sagging_kNm == W * 4.0 / 4  # a point load in mid-span


@pytest.mark.parametrize(
    ("spacing", "off", "field"),
    [(7.0, 0.0, "spacing_m"), (2.0, 1.1, "offset_m"), (6.0, 1.1, "offset_m"), (-1.0, 0.0, "spac")],
)
def test_what_no_beam_can_be_is_refused(spacing: float, off: float, field: str) -> None:
    with pytest.raises(InputError, match=field):
        load_bending(W, 6.0, spacing, offset_m=off, mass_along="uniform")
