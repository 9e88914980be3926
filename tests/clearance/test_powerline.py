"""Edges of the overhead-line tables and the sagging line."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.clearance.powerline import (
    TABLE_A,
    TABLE_T,
    TABLES,
    US_COAL_SURFACE,
    DistanceTable,
    catenary_constant_m,
    required_distance_m,
    sagged_line,
    sagged_span,
    study_zone_m,
)


@pytest.mark.parametrize("table", list(TABLES.values()), ids=list(TABLES))
def test_each_limit_lies_in_the_band_the_source_puts_it_in(table: DistanceTable) -> None:
    for i, limit in enumerate(table.limit_kV[:-1]):
        below, at, above = required_distance_m([limit - 1e-6, limit, limit + 1e-6], table=table)
        assert below == table.distance_m[i]
        assert above == table.distance_m[i + 1]
        assert at == table.distance_m[i + (table.limit_belongs_to == "upper")]


def test_table_a_is_in_whole_feet() -> None:
    feet = np.asarray(TABLE_A.distance_m) / 0.3048
    np.testing.assert_allclose(feet, [10, 15, 20, 25, 35, 45], rtol=1e-12)
    assert TABLE_A.limit_kV == (50, 200, 350, 500, 750, 1000)
    np.testing.assert_allclose(np.asarray(TABLE_T.distance_m) / 0.3048, [4, 6, 10, 16, 20])
    assert US_COAL_SURFACE.limit_belongs_to == "upper"


@pytest.mark.parametrize("voltage", [0.0, -1.0, float("nan"), float("inf"), 1000.001])
def test_unknown_or_uncovered_voltage_is_refused(voltage: float) -> None:
    with pytest.raises(InputError, match="voltage_kV"):
        required_distance_m(voltage)
    with pytest.raises(InputError, match="voltage_kV"):
        study_zone_m(voltage)


def test_users_table_and_wrong_tables() -> None:
    own = DistanceTable("owner", "owner's rule book", "given", (1.0, 40.0), (2.0, 5.0))
    np.testing.assert_allclose(required_distance_m([0.4, 1.0, 1.1, 40.0], table=own), [2, 2, 5, 5])
    with pytest.raises(InputError, match="up to 40 kV in owner"):
        required_distance_m(41.0, table=own)
    with pytest.raises(InputError, match="rising voltages"):
        DistanceTable("x", "", "", (40.0, 1.0), (2.0, 5.0))
    with pytest.raises(InputError, match="do not fall"):
        DistanceTable("x", "", "", (1.0, 40.0), (5.0, 2.0))
    with pytest.raises(InputError, match="finite distances"):
        DistanceTable("x", "", "", (1.0, 40.0), (5.0, float("nan")))
    with pytest.raises(InputError, match="one limit for each"):
        DistanceTable("x", "", "", (1.0,), (5.0, 6.0))


@settings(deadline=None, max_examples=60)
@given(span=st.floats(5, 400), ratio=st.floats(0.001, 0.4), rise=st.floats(-0.6, 0.6))
def test_catenary_constant_gives_back_the_sag(span: float, ratio: float, rise: float) -> None:
    sag, height = ratio * span, rise * span
    c = catenary_constant_m(span, sag, height_difference_m=height)
    line = sagged_span([0, 0, 0], [span, 0, height], sag_m=sag, pieces=64)
    x, z = line.points_m[:, 0], line.points_m[:, 2]
    assert height / 2 - z[32] == pytest.approx(sag, rel=1e-9)
    # a hanging cord: slope by arc length is constant, d(slope) = ds / c
    fine = sagged_span([0, 0, 0], [span, 0, height], sag_m=sag, pieces=6400)
    step = np.diff(fine.points_m, axis=0)
    slope = step[:, 2] / step[:, 0]
    arc = np.linalg.norm(step, axis=1)
    np.testing.assert_allclose(slope[-1] - slope[0], (arc.sum() - (arc[0] + arc[-1]) / 2) / c, rtol=1e-4)
    assert x[-1] == span
    assert z[-1] == pytest.approx(height, abs=1e-9 * span)


@settings(deadline=None, max_examples=40)
@given(span=st.floats(10, 300), ratio=st.floats(0.002, 0.3), rise=st.floats(-0.5, 0.5), pieces=st.integers(2, 40))
def test_chord_error_covers_the_true_curve(span: float, ratio: float, rise: float, pieces: int) -> None:
    ends = ([3.0, -2.0, 10.0], [3.0 + span, -2.0, 10.0 + rise * span])
    coarse = sagged_span(*ends, sag_m=ratio * span, pieces=pieces)
    fine = sagged_span(*ends, sag_m=ratio * span, pieces=pieces * 16)
    at = np.interp(fine.points_m[:, 0], coarse.points_m[:, 0], coarse.points_m[:, 2])
    gap = at - fine.points_m[:, 2]
    assert gap.min() > -1e-9 * span
    assert gap.max() <= coarse.chord_error_m + 1e-9 * span
    assert gap.max() > 0.05 * coarse.chord_error_m


def test_line_over_several_supports_joins_at_them() -> None:
    line = sagged_line([[0, 0, 10], [40, 0, 12], [80, 30, 11]], sag_m=[1.0, 2.0], pieces=8)
    assert line.points_m.shape == (17, 3)
    np.testing.assert_allclose(line.points_m[8], [40, 0, 12])
    straight = sagged_line([[0, 0, 10], [40, 0, 12]], pieces=4)
    assert straight.chord_error_m == 0.0
    np.testing.assert_allclose(straight.points_m[2], [20, 0, 11])


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"sag_m": -1.0}, "sag_m"),
        ({"sag_m": float("nan")}, "sag_m"),
        ({"pieces": 1}, "pieces"),
        ({"end_m": [0, 0, 20]}, "plan position"),
        ({"end_m": [0, 0]}, "level"),
    ],
)
def test_wrong_spans_are_refused(change: dict[str, object], text: str) -> None:
    given_: dict[str, object] = {"start_m": [0, 0, 10], "end_m": [50, 0, 10], "sag_m": 1.0}
    given_.update(change)
    start, end = given_.pop("start_m"), given_.pop("end_m")
    with pytest.raises((InputError, ValueError), match=text):
        sagged_span(start, end, **given_)  # type: ignore[arg-type]
