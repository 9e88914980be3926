"""Presumptive values: limits of each table, refusals, and the warning on every value."""

from __future__ import annotations

from typing import get_args

import pytest
from geotech_references.gec_6 import tables as gec6

from liftcalc.base.errors import InputError
from liftcalc.ground.presumptive import PRESUMPTIVE, TableName, presumptive_pressure, presumptive_rows


def test_rock_and_fill_rows_agree_with_the_gec6_package() -> None:
    rock = {
        "massive": "massive crystalline", "foliated": "foliated", "sedimentary": "sedimentary",
        "weathered": "weathered", "compaction_shale": "compaction shale",
    }  # fmt: skip
    for key, start in rock.items():
        printed = gec6.table_5_7_presumptive_bearing_rock(key)
        row = next(r for r in presumptive_rows("gec6-rock") if r.soil_class.startswith(start))
        assert (row.low_kPa, row.high_kPa, row.recommended_kPa) == pytest.approx(
            tuple(1000 * printed[k] for k in ("range_min_mpa", "range_max_mpa", "recommended_mpa"))
        )
    for state in ("Washington", "Nevada", "Michigan"):
        printed = gec6.table_5_10_fill_bearing_capacity(state)[0]
        row = next(r for r in presumptive_rows("gec6-fill") if state in r.soil_class)
        assert row.low_kPa == printed["bearing_capacity_kpa"]


def test_every_row_is_consistent_and_can_be_asked_for_by_one_name() -> None:
    assert {r.table for r in PRESUMPTIVE} == set(get_args(TableName))
    assert len({(r.table, r.soil_class, r.consistency) for r in PRESUMPTIVE}) == len(PRESUMPTIVE)
    for row in PRESUMPTIVE:
        assert row.low_kPa is not None or row.high_kPa is not None
        if row.low_kPa is not None and row.high_kPa is not None:
            assert row.low_kPa <= row.high_kPa
        if row.recommended_kPa is not None:
            assert row.low_kPa <= row.recommended_kPa <= row.high_kPa
        if row.low_kPa is not None:
            name = f"{row.soil_class} / {row.consistency}".rstrip(" /")
            value = presumptive_pressure(row.table, name, width_m=1.0, water_below_base_m=1.0)
            assert value.allowable_kPa == row.low_kPa
            assert value.source.startswith(f"{value.owner}, {value.edition}")
            assert value.owner
            assert value.edition
            assert value.limits


@pytest.mark.parametrize(
    ("table", "soil", "given", "text"),
    [
        ("bs8004", "loose sand", {}, "a row that prints a lower value"),
        ("bs8004", "compact sand", {"width_m": 0.99}, "width_m is 0.99; allowed: at least 1 m"),
        ("bs8004", "compact sand", {"water_below_base_m": None}, "water_below_base_m is None"),
        ("bs8004", "compact sand", {"water_below_base_m": 0.5}, "at least one mat width"),
        ("bs8004", "marble", {}, "stiff clays"),
        ("tables", "x", {}, "table is 'tables'; allowed: ibc-1806.2"),
        ("bs8004", "stiff clays", {"width_m": float("nan")}, "width_m is nan"),
        (
            "navfac-soil",
            "homogeneous inorganic clay, sandy or silty clay (CL, CH) / soft",
            {"width_m": 0.89},
            "at least 0.9 m",
        ),
    ],
)
def test_outside_a_table_no_value_is_given(table, soil, given, text) -> None:
    with pytest.raises(InputError, match=text):
        presumptive_pressure(table, soil, **{"width_m": 1.2, "water_below_base_m": 3.0, **given})
