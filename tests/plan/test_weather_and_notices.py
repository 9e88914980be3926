"""Go/no-go of the weather, heights and neighbours: within, over, and missing by name."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import numpy as np
import pytest

from liftcalc.base.checks import Check
from liftcalc.base.errors import InputError
from liftcalc.base.text import Safe, format_value, text_in_units
from liftcalc.base.units import from_si, to_si
from liftcalc.lift.assess import LiftAssessment
from liftcalc.lift.wind_checks import stop_gust_m_s
from liftcalc.plan.notices import crane_heights, fall_reach_m, notice_checks, notice_rows
from liftcalc.plan.weather import weather_checks, weather_rows

Assess = Callable[..., LiftAssessment]
Row = Callable[[Iterable[Check], str], Check]


def show(value: float | None, quantity: str, safe: Safe = "") -> str:
    return format_value(value, quantity, "metric", safe)


def said(assess: Assess, part: str, id: str = "L1", **changes: Any) -> LiftAssessment:
    """A lift with the plan's weather or notices changed; None for *part* leaves it out."""

    def change(job: Any, lift: Any) -> None:
        if "left_out" in changes:
            job["plan"][part] = None
        else:
            job["plan"][part].update(changes)

    return assess(id, change)


def test_the_winds_are_those_of_the_lift_and_going_on_needs_less(assess: Assess) -> None:
    a = assess("L1")
    rows = {r[0]: r for r in weather_rows(a, show)}
    gust = stop_gust_m_s(a.setup, float(a.study.boom.head_z_m.max()))
    assert rows["Lifting"][1] == f"gust above {show(gust, 'speed_m_s', 'down')}"
    assert f"below {show(0.8 * gust, 'speed_m_s', 'down')} for 15 minutes" in rows["Lifting"][2]
    assert "8.0 m/s" in rows["Rigging up and down"][1]
    assert show(a.setup.wind_limit_m_s, "speed_m_s", "down") in rows["Laid down, out of service"][1]
    assert rows["Lightning"][2] == "30 minutes after the last thunder"
    for name in ("Temperature, crane", "Temperature, slings", "Visibility", "Light"):
        assert rows[name][3]


def test_the_persons_row_holds_at_20_mph_at_most(assess: Assess) -> None:
    def windy(job: Any, lift: Any) -> None:
        lift["wind_m_s"] = 9.5

    rows = {r[0]: r for r in weather_rows(assess("L1", windy), show)}
    assert "8.9 m/s" in rows["Persons (none planned)"][1]  # 20 mph is 8.94 m/s


@pytest.mark.parametrize(
    ("changes", "id", "status"),
    [
        ({}, "weather-machine-cold", "within"),
        ({"low_C": -20.0}, "weather-machine-cold", "within"),
        ({"low_C": -20.1}, "weather-machine-cold", "over"),
        ({"machine_low_C": -2.0}, "weather-machine-cold", "over"),
        ({"low_C": -20.1}, "weather-gear-cold", "over"),  # shackles
        ({"load_C": 93.0}, "weather-gear-hot", "within"),
        ({"load_C": 94.0}, "weather-gear-hot", "over"),  # fibre core, 200 F
        ({"high_C": 40.5}, "weather-machine-hot", "over"),
        ({"start": "08:04"}, "weather-light", "over"),
        ({"start": "08:05"}, "weather-light", "within"),
        ({"end": "15:51", "lighting_lux": 53.0}, "weather-light", "over"),
        ({"end": "15:51", "lighting_lux": 54.0}, "weather-light", "within"),
        ({"ice_t": 0.1}, "weather-ice", "over"),
        ({"ice_t": 4.0}, "weather-ice-rigging", "over"),
    ],
)
def test_each_row_within_and_over(assess: Assess, row: Row, changes: Any, id: str, status: str) -> None:
    assert row(weather_checks(said(assess, "weather", **changes)), id).status == status


def test_ice_that_the_deductions_hold_is_in_the_gross_load(assess: Assess, row: Row) -> None:
    def iced(job: Any, lift: Any) -> None:
        job["plan"]["weather"]["ice_t"] = 0.1
        lift["deductions"] = [{"name": "Ice on the load", "mass_t": 0.1, "reference": "assumed"}]

    a, bare = assess("L1", iced), assess("L1")
    assert row(weather_checks(a), "weather-ice").status == "within"
    assert a.setup.gross_t == pytest.approx(bare.setup.gross_t + 0.1)
    held, more = bare.rigging.greatest, row(weather_checks(a), "weather-ice-rigging").value
    assert held is not None
    assert more is not None
    assert more > 100 * held.worst_utilisation


def test_weather_that_is_not_stated_is_missing_by_name(assess: Assess, row: Row) -> None:
    none = weather_checks(said(assess, "weather", left_out=True))
    assert [c.status for c in none] == ["incomplete"]
    assert "hours of daylight" in none[0].where
    part = said(assess, "weather", low_C=None, high_C=None, start=None, end=None)
    check = row(weather_checks(part), "weather-stated")
    assert check.where == "lowest and highest temperature of the day, working hours"
    assert len(weather_rows(said(assess, "weather", left_out=True), show)) == 10


@pytest.mark.parametrize(
    "changes", [{"end": None}, {"start": "16:00"}, {"manual": None}, {"start": "9:00"}, {"lightning_min": 10.0}]
)
def test_weather_that_cannot_be_is_refused(assess: Assess, changes: Any) -> None:
    with pytest.raises(InputError, match="weather"):
        said(assess, "weather", **changes)


def test_degrees_fahrenheit_have_their_own_zero() -> None:
    assert from_si([-40.0, 0.0, 100.0], "temperature_C", "us").tolist() == [-40.0, 32.0, 212.0]
    assert np.allclose(to_si([-40.0, 212.0], "temperature_C", "us"), [-40.0, 100.0])
    assert format_value(-20.0, "temperature_C", "us") == "−4 °F"


def test_heights_are_those_of_the_boom(assess: Assess) -> None:
    a = assess("L1")
    high, boom, machine = crane_heights(a), a.setup.boom, a.setup.machine
    run = boom.radius_min_m - machine.boom.foot_u_m
    head = machine.boom.foot_z_m + (boom.length_m**2 - run**2) ** 0.5
    assert high.raised_m == pytest.approx(head + a.setup.shape.boom_half_width_m)
    assert high.raised_m >= high.path_m > high.lowered_m >= machine.superstructure.top_z_m


def port(**changes: Any) -> Any:
    return {"id": "strip", "easting_m": 31.0, "northing_m": 2018.3, "level_m": 3.0,
            "runway_m": 800.0, "notice": None} | changes  # fmt: skip


@pytest.mark.parametrize(
    ("rule", "changes", "needed"),
    [
        ("UK CAA", {}, True),  # 2 km away
        ("UK CAA", {"northing_m": 6018.2}, True),
        ("UK CAA", {"northing_m": 6018.4}, False),  # just over 6 km
        ("US 14 CFR 77.9", {}, True),  # 1200 m from the runway: 24 m at 50:1, the crane 27.7 m
        ("US 14 CFR 77.9", {"level_m": 8.0}, False),  # 22.7 m above a higher runway
        ("US 14 CFR 77.9", {"runway_m": 0.0}, False),  # a heliport farther than 5,000 ft
    ],
)
def test_an_aerodrome_near_by_must_have_had_its_notice(
    assess: Assess, row: Row, rule: str, changes: Any, needed: bool
) -> None:
    told = {"rules": [rule], "aerodromes": [port(**changes)]}
    check = row(notice_checks(said(assess, "notices", **told)), "notice-2")
    assert check.status == ("incomplete" if needed else "within")
    told["aerodromes"][0]["notice"] = "letter 4"
    assert row(notice_checks(said(assess, "notices", **told)), "notice-2").status == "within"


def test_an_unknown_distance_is_named_and_a_map_by_which_none_is_near_answers_it(assess: Assess, row: Row) -> None:
    bare = said(assess, "notices", aerodromes=[], nothing_nearer=None)
    check = row(notice_checks(bare), "notices-near")
    assert check.status == "incomplete"
    assert "no aerodrome stated" in check.where
    assert ("Aerodromes", "distance not stated") in [r[:2] for r in notice_rows(bare, show)]
    stated = said(assess, "notices", aerodromes=[], nothing_nearer="chart 12")
    assert row(notice_checks(stated), "notices-near").status == "within"
    assert [c.status for c in notice_checks(said(assess, "notices", left_out=True))] == ["incomplete"]


def test_a_track_in_reach_of_a_falling_boom_asks_for_agreement_and_the_answer(assess: Assess, row: Row) -> None:
    reach = fall_reach_m(assess("L1"))

    def beside(away: float, answer: bool, agreed: str | None) -> list[Check]:
        def change(job: Any, lift: Any) -> None:
            north = 18.3 + away
            job["plan"]["notices"]["neighbours"] = [
                {"id": "track", "kind": "railway track", "owner": "railway", "agreed": agreed,
                 "line": [[-100.0, north], [200.0, north]]}
            ]  # fmt: skip
            job["plan"]["answers"]["beside a railway"] = answer

        return notice_checks(assess("L1", change))

    assert not [c for c in beside(reach + 0.01, False, None) if c.id == "notice-beside-track"]
    near = row(beside(reach - 0.01, False, None), "notice-beside-track")
    assert (near.status, near.value) == ("incomplete", 2)
    assert row(beside(reach - 0.01, False, "line block 7"), "notice-beside-track").value == 1
    assert row(beside(reach - 0.01, True, "line block 7"), "notice-beside-track").status == "within"


def test_below_a_line_the_machine_travels_by_table_t_or_the_jobs_own_table(assess: Assess) -> None:
    def level(table: str) -> str:
        def change(job: Any, lift: Any) -> None:
            job["rules"]["clearance"]["power_line_table"] = table

        (found,) = [r for r in notice_rows(assess("L1", change), show) if "Travelling" in r[0]]
        return text_in_units(found[1], "metric")

    # lowest conductor at 12.10 m; Table T up to 50 kV: 6 ft; GS6 at 33 kV: 3 m
    assert level("29 CFR 1926.1408 Table A") == "no part above level 10.26 m"
    assert level("HSE GS6") == "no part above level 9.09 m"


def test_no_track_and_no_road_is_a_statement_too(assess: Assess, row: Row) -> None:
    silent = said(assess, "notices", neighbours=[], nothing_nearer=None)
    assert row(notice_checks(silent), "notices-beside").status == "incomplete"
    mapped = said(assess, "notices", neighbours=[], nothing_nearer="map 3")
    assert row(notice_checks(mapped), "notices-beside").status == "within"
    assert row(notice_checks(said(assess, "notices")), "notices-beside").status == "within"
