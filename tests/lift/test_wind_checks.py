"""Wind of a lift: what the stated wind means, forces by hand, limits and what has no data."""

from __future__ import annotations

import json
from math import floor
from typing import Any

import numpy as np
import pytest
import shapely
from demo_changes import assessed as changed
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.base.resources import demo_job_path
from liftcalc.base.text import Safe, format_value, text_in_units
from liftcalc.facts.io import load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.path_study import adverse_terms
from liftcalc.lift.setup import boom_states
from liftcalc.lift.wind_checks import (
    gust_at_head_m_s,
    lowered_words,
    permissible_gust_m_s,
    swing_deg,
    wind_limit_rows,
    wind_terms,
)


def rows(lift: LiftAssessment) -> dict[str, Any]:
    return {c.id: c for c in lift.lift}


def metric(value: float | None, quantity: str, safe: Safe = "") -> str:
    return format_value(value, quantity, "metric", safe)


def test_a_mean_wind_at_10_m_is_checked_as_the_gust_at_the_boom_head(demo: Job) -> None:
    mean = changed(demo, "L1", wind_m_s=5.0, wind_basis="at 10 m mean")
    height = mean.study.boom.head_z_m.max()
    gust = 5.0 * ((height / 10.0) ** 0.14 + 0.4)  # EN 13001-2 profile, by hand
    check = rows(mean)["wind"]
    assert check.value == pytest.approx(gust, rel=1e-12)
    assert "10 minute mean at 10.00 m" in text_in_units(check.where, "metric")
    head = changed(demo, "L1", wind_m_s=5.0)
    assert rows(head)["wind"].value == 5.0
    assert "at the boom head" in rows(head)["wind"].where
    # the same number means more wind when it is a mean
    assert mean.study.tipping_t.min() < head.study.tipping_t.min()
    assert rows(mean)["wind-side-pull"].value > rows(head)["wind-side-pull"].value


def test_a_forecast_mean_can_fail_where_the_same_gust_passes(demo: Job) -> None:
    assert rows(changed(demo, "L1", wind_m_s=7.0))["wind"].status == "within"
    failed = rows(changed(demo, "L1", wind_m_s=7.0, wind_basis="at 10 m mean"))["wind"]
    assert failed.status == "over"
    assert "mean at 10.00 m" in text_in_units(failed.remedy, "metric")


def test_wind_on_the_boom_by_hand(demo: Job) -> None:
    lift = assess_lift(demo, "L1")
    terms = wind_terms(lift.setup, lift.study.boom)
    pressure = 7.0**2 / 1.6 / 1000.0
    assert terms.boom_force_kN == pytest.approx(pressure * 14.3 * 1.4, rel=1e-9)
    angle = np.radians(lift.study.boom.angle_deg)
    assert terms.boom_z_m == pytest.approx(2.4 + 12.5 * np.sin(angle), rel=1e-9)
    assert terms.load_force_kN == pytest.approx(pressure * 4.2 * 1.2, rel=1e-9)
    assert terms.superstructure_force_kN == pytest.approx(pressure * 7.0 * 1.2, rel=1e-9)
    assert terms.superstructure_z_m == pytest.approx((1.3 + 3.4) / 2)


def test_the_gust_profile_on_the_boom_is_bounded_by_the_gust_at_its_head(demo: Job) -> None:
    mean = changed(demo, "L1", wind_m_s=5.0, wind_basis="at 10 m mean")
    boom = mean.study.boom
    terms = wind_terms(mean.setup, boom)
    head = gust_at_head_m_s(mean.setup, boom.head_z_m)
    area = 14.3 * 1.4 / 1.6 / 1000.0
    low = (5.0 * 1.4) ** 2
    assert np.all(terms.boom_force_kN < head**2 * area)
    assert np.all(terms.boom_force_kN >= low * area * (1 - 1e-12))
    # force moves up with the profile
    middle = 2.4 + 12.5 * np.sin(np.radians(boom.angle_deg))
    assert np.all(terms.boom_z_m > middle)
    assert terms.superstructure_force_kN == pytest.approx(low / 1600.0 * 7.0 * 1.2)


def test_wind_without_a_boom_to_act_on_is_refused(demo: Job) -> None:
    setup = assess_lift(demo, "L1").setup
    with pytest.raises(InputError, match="which the wind acts on"):
        adverse_terms(setup, wind=True, dynamic=False)
    still = adverse_terms(setup, wind=False, dynamic=True)
    assert still.boom_wind_force_kN == 0.0
    assert still.dynamic_factor > 1.0


def test_the_kiosk_s_limit_by_hand(demo: Job) -> None:
    setup = assess_lift(demo, "L7").setup
    limit = 9.8 * np.sqrt(1.2 * 2.2 / (9.7 * 1.3))
    assert permissible_gust_m_s(setup) == pytest.approx(limit, rel=1e-12)


def test_a_chart_for_less_wind_than_the_machine_governs(demo: Job) -> None:
    data = json.loads(demo.model_dump_json())
    for chart in data["charts"]:
        chart["wind_m_s"] = 6.0
    lift = assess_lift(parse_fact(Job, data), "L1")
    assert rows(lift)["wind"].limit == pytest.approx(6.0)
    assert rows(lift)["wind"].status == "over"
    for chart in data["charts"]:
        chart["wind_m_s"] = 0.0
    assert rows(assess_lift(parse_fact(Job, data), "L1"))["wind"].limit == 0.0


def test_a_sail_that_would_fly_is_over_its_limit_not_an_error(demo: Job) -> None:
    check = rows(changed(demo, "L7", wind_m_s=30.0, load__sail_area_m2=40.0))["wind-side-pull"]
    assert check.status == "over"
    assert check.value > 20.0


def test_the_sheet_tells_both_conventions_and_what_has_no_data(demo: Job) -> None:
    lift = assess_lift(demo, "L7")
    table = {r[0]: r for r in wind_limit_rows(lift.setup, lift.path, lift.study.boom, metric)}
    assert table["Out of service"][1] == "no data"
    assert "lay the boom down above 9.8" in table["Out of service"][2]
    limit = permissible_gust_m_s(lift.setup)
    height = lift.study.boom.head_z_m.max()
    mean = limit / ((height / 10.0) ** 0.14 + 0.4)
    assert table["Stop above, measured at the boom head"][1] == f"{floor(10 * limit) / 10:.1f} m/s"
    assert table["The same in a forecast"][1] == f"{floor(10 * mean) / 10:.1f} m/s"
    assert "Beaufort 2" in table["The same in a forecast"][2]  # 1.6 to 3.3 m/s


@settings(deadline=None, max_examples=20)
@given(st.floats(0.0, 8.0), st.floats(1.0, 1.4), st.sampled_from(["at boom head", "at 10 m mean"]))
def test_more_wind_never_raises_the_tipping_load(demo: Job, wind: float, more: float, basis: str) -> None:
    calm = changed(demo, "L3", wind_m_s=wind, wind_basis=basis)
    windy = changed(demo, "L3", wind_m_s=wind * more, wind_basis=basis)
    assert np.all(windy.study.tipping_t <= calm.study.tipping_t + 1e-9)
    assert windy.forces.design_kN.max() >= calm.forces.design_kN.max() - 1e-9
    assert rows(windy)["wind"].limit == rows(calm)["wind"].limit


def test_wind_and_slewing_swing_the_load_toward_what_it_must_clear() -> None:
    job = load_job(demo_job_path())
    data = json.loads(job.model_dump_json())

    def least(wind_m_s: float) -> float:
        data["lifts"][0]["wind_m_s"] = wind_m_s
        rows = assess_lift(parse_fact(Job, data), "L1").surroundings.result.rows
        return min(r.distance_m for r in rows if r.body == "load" and r.obstacle == "pump-house")

    assert least(9.0) < least(0.0)
    assessed = assess_lift(job, "L1")
    swing = swing_deg(assessed.setup, assessed.path, assessed.study.boom)
    rows = {c.id: c for c in assessed.lift}
    parts = [rows["wind-side-pull"].value, rows["slew-side-pull"].value]
    assert swing == pytest.approx(sum(p for p in parts if p is not None))


def test_a_boom_that_may_not_be_lowered_as_long_as_it_is_is_told(demo: Job) -> None:
    """L5, short on the right: its empty machine's weight, summed by hand, lies beside the base."""
    setup = assess_lift(demo, "L5").setup
    masses, boom = setup.masses, setup.boom
    flat = boom_states(setup.machine, boom, np.array([boom.radius_max_m]))
    parts = [(masses.slewing_mass_t, masses.slewing_u_m), (boom.mass_t, float(flat.u_m[0]))]
    parts.append((setup.machine.hook_block(setup.lift.hook_block).mass_t, boom.radius_max_m))
    along = sum(mass * u for mass, u in parts)
    total = masses.carrier_mass_t + sum(mass for mass, _ in parts)
    x = masses.carrier_mass_t * masses.carrier_x_m / total
    y = masses.carrier_mass_t * masses.carrier_y_m / total
    base = shapely.Polygon(setup.base.vertices_m)
    turn = np.radians(np.arange(360.0))
    points = shapely.points(x + along / total * np.cos(turn), y + along / total * np.sin(turn))
    outside = int(np.sum(~shapely.contains(base, points)))
    words = text_in_units(lowered_words(setup), "metric")
    assert words.startswith(", RETRACTED FIRST: lowered at 32.00 m it tips the empty crane over")
    told = int(words.split(" over at ")[1].split(" of ")[0])
    assert 0 < outside <= told <= outside + 10  # wind and lean come on top
    assert lowered_words(assess_lift(demo, "L1").setup) == ", retracted first"
