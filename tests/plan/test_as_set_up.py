"""The crane as set up: what equals the plan agrees, what does not is said, places and loads found.

Outside check: intersection of circles by shapely; a load's place by the lever rule on paper.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point

from liftcalc.base.errors import InputError
from liftcalc.base.resources import demo_job_path
from liftcalc.base.text import format_value
from liftcalc.base.units import G_M_S2
from liftcalc.facts.as_set_up import AsSetUp
from liftcalc.facts.io import load_fact, load_job, parse_fact
from liftcalc.facts.job import Job
from liftcalc.lift.assess import assess_lift
from liftcalc.lift.leg_forces import weight_on_base
from liftcalc.lift.wind_checks import stop_gust_m_s
from liftcalc.plan import as_set_up
from liftcalc.plan.fix import fixed_place_m, load_from_forces
from liftcalc.wind.pressure import gust_wind_speed_m_s

JOB = load_job(demo_job_path()).for_lift("L1")
PLANNED = assess_lift(JOB, "L1")
SLEW, RADIUS = float(PLANNED.path.slew_deg[0]), float(PLANNED.path.radius_m[0])


def _show(value: float | None, quantity: str, safe: Any = "") -> str:
    return format_value(value, quantity, "metric", safe)


def _forces(load_t: float) -> list[float]:
    """Outriggers' forces of the machine with a load at the pick, by its weight and moments."""
    total, at, _ = weight_on_base(PLANNED.setup, SLEW, RADIUS, load_t=load_t)
    rows = np.vstack([np.ones(4), PLANNED.setup.leg_xy_m.T])
    return list(np.linalg.lstsq(rows, [total[0], *(total[0] * at[0])], rcond=None)[0])


def _named(values: list[float]) -> dict[str, float]:
    return dict(zip(("FL", "FR", "RR", "RL"), map(float, values), strict=True))


def _tapes(x: float, y: float) -> list[dict[str, Any]]:
    points = {"nail 1": (25.0, 15.0), "nail 2": (36.0, 14.0)}
    return [
        {"point": n, "easting_m": e, "northing_m": m, "distance_m": float(np.hypot(x - e, y - m))}
        for n, (e, m) in points.items()
    ]


def _as_planned(**changed: Any) -> dict[str, Any]:
    lift, gross = PLANNED.setup.lift, PLANNED.setup.gross_t
    stand = lift.stand
    facts: dict[str, Any] = {
        "lift": "L1", "date": "2026-12-08", "measured_by": "somebody", "mat": lift.mat,
        "legs": _named(list(lift.legs.as_tuple())),
        "packing_m": _named(list(PLANNED.place.packing_m)),
        "tilt_x_percent": 0.0, "tilt_y_percent": 0.0, "gust_m_s": 3.0,
        "centre": {"tapes": _tapes(stand.easting_m, stand.northing_m), "error_m": 0.01},
        "mark": {"tapes": _tapes(stand.easting_m + 3.5, stand.northing_m), "error_m": 0.01},
        "mark_x_m": 3.5,
        "trial": {
            "slew_deg": SLEW, "radius_m": RADIUS, "indicator_t": gross,
            "forces_kN": _named(_forces(gross)), "unladen_kN": _named(_forces(0.0)),
            "force_error_percent": 1.0,
        },
    }  # fmt: skip
    trial = {**facts["trial"], **changed.pop("trial", {})}
    return {**facts, "trial": trial, **changed}


def _study(**changed: Any) -> as_set_up.AsSetUpStudy:
    fact = parse_fact(AsSetUp, _as_planned(**changed))
    return as_set_up.AsSetUpStudy(JOB.model_copy(update={"as_set_up": fact}))


def _states(study: as_set_up.AsSetUpStudy) -> dict[str, str]:
    return {c.id: c.status for c in as_set_up.set_up_checks(study)}


def test_measured_as_planned_agrees_everywhere() -> None:
    study = _study()
    rows = as_set_up.difference_rows(study, _show)
    assert len(rows) == 19
    assert {row[-1] for row in rows} == {"agrees with the plan"}
    assert set(_states(study).values()) == {"within"}
    assert [row[1] for row in as_set_up.verdict_rows(study)] == ["within limits"] * 3


@pytest.mark.parametrize("unladen", [True, False])
def test_forces_of_a_load_an_eighth_heavier_are_said_to_be_so(unladen: bool) -> None:
    trial: dict[str, Any] = {"forces_kN": _named(_forces(1.12 * PLANNED.setup.gross_t))}
    if not unladen:
        trial["unladen_kN"] = None
    study = _study(trial=trial)
    check = next(c for c in as_set_up.set_up_checks(study) if c.id == "load-by-forces")
    assert check.status in ("over", "condition")
    assert "12 % more than planned" in check.where
    assert study.hung is not None
    assert study.hung.load_t == pytest.approx(1.12 * PLANNED.setup.gross_t, rel=1e-6)
    row = next(r for r in as_set_up.difference_rows(study, _show) if "forces" in r[0])
    assert row[-1].startswith("differs")


def test_forces_read_finely_enough_make_a_heavier_load_certain() -> None:
    trial = {"forces_kN": _named(_forces(1.12 * PLANNED.setup.gross_t)), "force_error_percent": 0.2}
    assert _states(_study(trial=trial))["load-by-forces"] == "over"


@pytest.mark.parametrize(
    ("share", "reading", "low", "checked"),
    [(1.0, "within", "within", "within"), (1.05, "condition", "within", "within"),
     (1.11, "over", "within", "within"), (0.8, "within", "over", "within"),
     (2.0, "over", "within", "over")],
)  # fmt: skip
def test_a_reading_is_judged_by_the_accuracy_of_indicators(share: float, reading: str, low: str, checked: str) -> None:
    states = _states(_study(trial={"indicator_t": share * PLANNED.setup.gross_t}))
    assert (states["reading"], states["reading-low"], states["reading-checked"]) == (
        reading, low, checked,
    )  # fmt: skip


def test_an_outrigger_set_short_and_a_crane_set_aside_are_calculated_again() -> None:
    legs = _named(list(PLANNED.setup.lift.legs.as_tuple()))
    short = _study(legs={**legs, "FL": legs["FL"] - 0.01})
    states = {c.id: c for c in as_set_up.set_up_checks(short)}
    lift = PLANNED.setup.lift
    again = assess_lift(JOB.with_lift(lift.model_copy(update={"legs": short.fact.legs})), "L1")
    assert states["capacity"].status == "over"
    assert states["capacity"].utilisation == next(c.utilisation for c in again.checks if c.id == "capacity")
    aside = _study(centre={"tapes": _tapes(lift.stand.easting_m, lift.stand.northing_m + 0.15)},
                   mark=None, mark_x_m=None)  # fmt: skip
    assert aside.measured.setup.lift.stand.northing_m == pytest.approx(18.45, abs=1e-6)
    assert any("ground" in c.id and c.status == "over" for c in as_set_up.set_up_checks(aside))


def test_a_mean_wind_measured_low_down_is_judged_as_the_gust_at_the_boom_head() -> None:
    """The same reading, within limits as a gust up there, is over them as a mean at 10 m."""
    stop = stop_gust_m_s(PLANNED.setup, float(PLANNED.study.boom.head_z_m.max()))
    here = _study(gust_m_s=0.9 * stop)
    mean = _study(gust_m_s=0.9 * stop, gust_at="at 10 m mean")
    assert _states(here)["measured-gust"] == "within"
    assert _states(mean)["measured-gust"] == "over"
    row = next(r for r in as_set_up.difference_rows(mean, _show) if r[0].startswith("Gust"))
    assert row[-1].startswith("differs")
    check = next(c for c in as_set_up.set_up_checks(mean) if c.id == "measured-gust")
    assert check.value == pytest.approx(float(gust_wind_speed_m_s(0.9 * stop, PLANNED.study.boom.head_z_m.max())))


def test_tapes_that_do_not_give_the_mark_its_distance_are_read_again() -> None:
    """A tape misread by 0.3 m still meets the other; the mark is then too far from the centre."""
    mark = {"tapes": _tapes(PLANNED.setup.lift.stand.easting_m + 3.8,
                            PLANNED.setup.lift.stand.northing_m)}  # fmt: skip
    assert _states(_study())["measured-mark"] == "within"
    assert _states(_study(mark=mark))["measured-mark"] == "over"


def test_what_was_measured_and_cannot_be_is_refused_by_its_name() -> None:
    legs = _named([*PLANNED.setup.lift.legs.as_tuple()[:3], 9.0])
    with pytest.raises(InputError, match=r"outrigger RL is 9\.0 m; allowed"):
        as_set_up.set_up_checks(_study(legs=legs))
    with pytest.raises(InputError, match=r"mat is 'door'; allowed"):
        as_set_up.set_up_checks(_study(mat="door"))


def test_what_was_not_measured_never_agrees() -> None:
    fact = parse_fact(AsSetUp, {"lift": "L1", "date": "2026-12-08", "measured_by": "x"})
    study = as_set_up.AsSetUpStudy(JOB.model_copy(update={"as_set_up": fact}))
    check = next(c for c in as_set_up.set_up_checks(study) if c.id == "measured")
    assert check.status == "incomplete"
    assert "extension of every outrigger" in check.where


def test_a_load_that_hangs_elsewhere_is_said_to() -> None:
    elsewhere = _study(trial={"radius_m": RADIUS - 3.0, "force_error_percent": 0.2})
    assert _states(elsewhere)["load-place"] == "over"


def test_the_demo_measurement_is_within() -> None:
    fact = load_fact(AsSetUp, demo_job_path().with_name("as_set_up.yaml"))
    study = as_set_up.AsSetUpStudy(JOB.model_copy(update={"as_set_up": fact}))
    assert set(_states(study).values()) == {"within"}


place = st.floats(-20, 20)


@settings(max_examples=200, deadline=None)
@given(x=place, y=place, bx=st.floats(1, 30), by=place)
def test_two_tapes_find_the_place_as_shapely_does(x: float, y: float, bx: float, by: float) -> None:
    points, at = np.array([(0.0, 0.0), (bx, by)]), np.array([x, y])
    tapes = np.hypot(*(points - at).T)
    if tapes.min() < 0.1:
        return
    try:
        found, error = fixed_place_m(points, tapes, near_m=at, error_m=0.02)
    except InputError:
        a, b = at - points
        sine = abs(a[0] * b[1] - a[1] * b[0]) / tapes.prod()
        assert sine < np.sin(np.radians(20.01))
        return
    assert found == pytest.approx(at, abs=1e-6)
    assert error >= 0.02 * np.sqrt(2) - 1e-12
    circles = [Point(p).buffer(r, quad_segs=4096).exterior for p, r in zip(points, tapes, strict=True)]
    assert circles[0].intersection(circles[1]).distance(Point(found)) < 0.02
    assert LineString([points[0], found]).length == pytest.approx(tapes[0], abs=1e-6)


@pytest.mark.parametrize(("tapes", "words"), [((1.0, 2.0), "two distances that meet"), ((5.0, 5.02), "meet at 20")])
def test_tapes_that_fix_nothing_are_refused(tapes: tuple[float, float], words: str) -> None:
    with pytest.raises(InputError, match=words):
        fixed_place_m([(0, 0), (10, 0)], tapes, near_m=(5, 0.1), error_m=0.02)


def test_a_load_and_its_place_by_the_lever_rule() -> None:
    """On paper: 40 kN at (1, 0.5) on a square of 4 m, shared by moments."""
    legs = np.array([(2.0, 2.0), (2.0, -2.0), (-2.0, -2.0), (-2.0, 2.0)])
    more = 40.0 * (0.25 + legs @ np.array([1.0, 0.5]) / 16.0)
    found = load_from_forces(100.0 + more, [100.0] * 4, legs_m=legs, error_percent=1.0,
                             without_error_kN=[1.0] * 4)  # fmt: skip
    assert found.load_t == pytest.approx(40.0 / G_M_S2)
    assert (found.x_m, found.y_m) == pytest.approx((1.0, 0.5))
    each = np.hypot((100.0 + more) / 100, 1.0)
    assert found.load_error_t == pytest.approx(np.sqrt((each**2).sum()) / G_M_S2)


def test_a_load_below_the_error_has_no_place() -> None:
    legs = [(2.0, 2.0), (2.0, -2.0), (-2.0, -2.0), (-2.0, 2.0)]
    found = load_from_forces([101.0] * 4, [100.0] * 4, legs_m=legs, error_percent=5.0,
                             without_error_kN=[5.0] * 4)  # fmt: skip
    assert np.isnan(found.x_m)


def test_pins_and_strangers_are_refused_by_name() -> None:
    with pytest.raises(InputError, match="force_error_percent"):
        parse_fact(AsSetUp, _as_planned(trial={"force_error_percent": None}))
    fact = {**_as_planned(), "lift": "L9"}
    other = parse_fact(Job, {**JOB.model_dump(mode="json"), "as_set_up": fact})
    with pytest.raises(InputError, match="what was measured at the crane"):
        _ = as_set_up.AsSetUpStudy(other.for_lift("L1")).fact


def test_packing_far_from_the_plan_is_over_its_limit() -> None:
    packing = _named([0.0, 60.0, 60.0, 0.0])  # millimetres typed where metres are asked for
    assert _states(_study(packing_m=packing))["measured-packing"] == "over"


def test_a_place_measured_too_roughly_is_not_one_that_holds() -> None:
    stand = PLANNED.setup.lift.stand
    centre = {"tapes": _tapes(stand.easting_m, stand.northing_m), "error_m": 0.1}
    rough = _study(centre=centre)
    assert _states(rough)["measured-place"] == "over"
    assert rough.place_error_m > rough.centre_m[1] > np.sqrt(2) * 0.1
    short = {"tapes": _tapes(stand.easting_m + 0.5, stand.northing_m), "error_m": 0.01}
    near = _study(mark=short, mark_x_m=0.5)
    assert _states(near)["measured-place"] == "over"


def test_tapes_that_meet_twice_about_as_near_to_the_plan_are_refused() -> None:
    with pytest.raises(InputError, match="3 times nearer to the plan"):
        fixed_place_m([(0, 0), (2, 0)], [1.5, 1.5], near_m=(1.0, 0.4), error_m=0.02)


@pytest.mark.parametrize("trial", [{"slew_deg": SLEW + 120.0}, {"radius_m": 6.0}])
def test_a_trial_lift_off_the_load_path_is_said_to_be(trial: dict[str, float]) -> None:
    none = {"forces_kN": None, "unladen_kN": None, "force_error_percent": None}
    assert _states(_study(trial=none))["trial-place"] == "within"
    assert _states(_study(trial={**none, **trial}))["trial-place"] == "over"


def test_forces_in_another_unit_do_not_show_a_light_load_as_the_planned_one() -> None:
    gross = PLANNED.setup.gross_t
    laden, bare = (np.array(_forces(t)) / G_M_S2 for t in (gross, 0.0))
    states = _states(_study(trial={"forces_kN": _named(laden), "unladen_kN": _named(bare)}))
    assert states["load-by-forces-low"] == "over"


def test_a_lifted_outrigger_takes_nothing_off_the_load() -> None:
    """On paper: 300 kN stand at (1, 1) on a square of 4 m: -37.5 kN at one corner; 40 kN more."""
    legs = np.array([(2.0, 2.0), (2.0, -2.0), (-2.0, -2.0), (-2.0, 2.0)])
    bare = 300.0 * (0.25 + legs @ np.array([1.25, 1.25]) / 16.0)
    assert bare.min() < 0
    found = load_from_forces([195.0, 75.0, 0.0, 70.0], bare, legs_m=legs, error_percent=0.1,
                             without_error_kN=[0.1] * 4)  # fmt: skip
    assert found.load_t == pytest.approx(40.0 / G_M_S2)


def test_the_machines_error_is_one_of_its_whole_weight() -> None:
    study = _study(trial={"unladen_kN": None, "force_error_percent": 0.001})
    assert study.hung is not None
    weight = weight_on_base(study.measured.setup, SLEW, RADIUS, load_t=0.0)[0][0]
    assert study.hung.load_error_t == pytest.approx(0.02 * weight / G_M_S2, rel=1e-6)


def test_the_plan_counts_on_the_day_of_the_measurement() -> None:
    states = _states(_study(date="2029-01-01"))
    assert states["plan-papers"] == "incomplete"
    assert "over" in {s for id, s in states.items() if id.startswith("accessories-")}
