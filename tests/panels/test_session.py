"""The session behind the workbench: settings, history, errors in words, comparison."""

from __future__ import annotations

import dataclasses
import json
import re
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liftcalc.base.errors import InputError
from liftcalc.base.resources import demo_job_path
from liftcalc.facts.io import load_job
from liftcalc.facts.job import Job
from liftcalc.lift.assess import assess_lift
from liftcalc.panels import workbench
from liftcalc.panels.pictures import PICTURES, Easel
from liftcalc.panels.session import Session
from liftcalc.panels.settings import Control, controls_of, settings_of, with_settings
from liftcalc.panels.tables import SIGNS, check_table_html, compare_table_html, position_table_html, verdict_words
from liftcalc.panels.texts import TEXTS
from liftcalc.panels.workbench import STEPS, open_workbench
from liftcalc.records.blocks import in_units, verdict_block


@pytest.fixture(scope="module")
def job() -> Job:
    return load_job(demo_job_path())


@pytest.fixture
def session(job: Job) -> Session:
    return Session(job, job.lifts[0].id)


def test_settings_as_the_facts_tell_them_leave_the_lift_unchanged(job: Job) -> None:
    for lift in job.lifts:
        again = with_settings(job, lift.id, settings_of(job, lift.id)).lifts[0]
        assert again.legs == lift.legs
        assert again.boom_length_m == lift.boom_length_m
        assert again.load == lift.load
        assert again.stand.level_m == lift.stand.level_m
        assert again.pick == lift.pick
        turn = (again.stand.heading_deg - lift.stand.heading_deg) % 360.0
        assert min(turn, 360.0 - turn) == pytest.approx(0.0, abs=1e-9)


def test_session_gives_the_checks_of_the_assessment(job: Job, session: Session) -> None:
    expected = assess_lift(job, session.lift_id).checks
    assert [c.to_dict() for c in session.now.checks] == [c.to_dict() for c in expected]


def test_every_control_reaches_its_own_setting(session: Session) -> None:
    for control in session.controls:
        if control.kind == "choice":
            value: Any = control.choices[-1][0]
        else:
            value = control.stops[0] if control.stops else control.low
        assert session.set({control.id: value}) == {}
        got = getattr(session.settings, control.id)
        assert got == (value if control.kind == "choice" else pytest.approx(value))


@pytest.mark.parametrize("side", ["low", "high"])
def test_limits_themselves_are_allowed_and_a_step_beyond_is_refused(session: Session, side: str) -> None:
    for control in session.controls:
        if control.kind == "choice":
            continue
        limit = getattr(control, side)
        beyond = limit + (0.01 if side == "high" else -0.01)
        whole_turns = 360.0 if control.quantity == "slew_deg" else float("inf")
        assert control.accept(limit) == pytest.approx(limit % whole_turns)
        with pytest.raises(InputError, match=re.escape(control.label)):
            control.accept(beyond)


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), "nothing", None, True])
def test_what_is_no_number_is_refused_in_words(session: Session, bad: object) -> None:
    before = session.settings
    errors = session.set({"leg_FL": bad})
    assert "Outrigger FL is" in errors["leg_FL"]
    assert session.settings == before


def test_unknown_control_is_refused(session: Session) -> None:
    assert "control is 'legs'" in session.set({"legs": 1.0})["legs"]


def test_one_refused_value_does_not_hold_back_the_others(session: Session) -> None:
    errors = session.set({"leg_FL": 99.0, "wind": 3.0})
    assert set(errors) == {"leg_FL"}
    assert session.settings.wind == 3.0


def test_pinned_leg_takes_only_its_stops() -> None:
    control = Control("leg_FL", "Outrigger FL", "legs", low=1.0, high=3.0, stops=(1.0, 2.0, 3.0))
    assert control.accept(2.0) == 2.0
    with pytest.raises(InputError, match=r"pinned at 1\.00, 2\.00, 3\.00 m"):
        control.accept(2.4)


@settings(deadline=None, max_examples=100)
@given(share=st.floats(0.0, 1.0))
def test_display_units_and_back_give_the_same_setting(share: float) -> None:
    control = Control("leg_FL", "Outrigger FL", "legs", low=1.25, high=3.2)
    value = round(control.low + share * (control.high - control.low), 6)
    for system in ("metric", "us"):
        shown = control.display(value, system)
        assert control.accept(shown, system) == pytest.approx(value, abs=1e-6)


@pytest.mark.parametrize("system", ["metric", "us"])
def test_a_slider_reaches_both_ends_of_its_range(session: Session, system: Any) -> None:
    for control in session.controls:
        spec = control.spec(system)
        if spec["kind"] == "choice":
            continue
        count = (spec["max"] - spec["min"]) / spec["step"]
        assert count == pytest.approx(round(count), abs=1e-6)
        assert count >= 1
        assert control.accept(spec["min"] + round(count) * spec["step"], system) is not None


def test_undo_redo_reset_and_a_held_slider(session: Session) -> None:
    start = session.settings
    for leg in (2.9, 2.8, 2.7):
        session.set({"leg_FR": leg}, final=False)
    session.set({"leg_FR": 2.6}, final=True)
    held = session.settings
    session.set({"wind": 3.0})
    session.undo()
    assert session.settings == held
    session.undo()
    assert session.settings == start
    assert not session.can_undo
    session.redo()
    session.redo()
    assert session.settings.wind == 3.0
    assert not session.can_redo
    session.reset()
    assert session.settings == start
    session.undo()
    assert session.settings.wind == 3.0


def test_moving_only_the_boom_looked_at_keeps_the_assessment(session: Session) -> None:
    before = session.now.assessment
    session.set({"slew": 10.0, "radius": 9.0})
    assert session.now.assessment is before
    assert session.now.position is not None
    assert session.now.position.radius_m == 9.0
    session.set({"wind": 1.0})
    assert session.now.assessment is not before


def test_a_set_up_that_cannot_be_judged_shows_no_verdict(session: Session) -> None:
    # off the surveyed levels nothing can be judged
    wide = next(c for c in session.controls if c.id == "northing")
    session.set({"northing": wide.high})
    if session.now.assessment is not None:
        session.now = dataclasses.replace(session.now, assessment=None, problem="no levels there")
    status, words = verdict_words(session.now)
    assert status == "none"
    assert words.startswith("Cannot be judged.")
    assert session.now.problem in words
    assert "cannot be judged" in check_table_html(session.now, "metric")
    assert Easel().draw(["plan"], session.now, system="metric") == {"plan": ""}
    session.now = dataclasses.replace(session.now, job=None)
    with pytest.raises(InputError, match="can be judged"):
        session.save("unused")


def test_radius_that_the_boom_no_longer_reaches_is_told(session: Session) -> None:
    high = next(c for c in session.controls if c.id == "radius").high
    session.set({"radius": high})
    shortest = next(c for c in session.controls if c.id == "boom").low
    session.set({"boom": shortest})
    if session.now.assessment is None:
        assert "radius" in session.now.problem
        return
    assert session.now.position is None
    assert "radius_m" in position_table_html(session.now, "metric")
    assert Easel().draw(["capacity"], session.now, system="metric") == {"capacity": ""}


def test_place_under_the_hook_becomes_the_pick(session: Session) -> None:
    session.set({"slew": -100.0, "radius": 8.0})
    position = session.now.position
    assert position is not None
    session.use_position("pick")
    assert session.settings.pick == position.place_site_m
    assert session.now.job is not None
    pick = session.now.job.lifts[0].pick
    assert (pick.easting_m, pick.northing_m) == position.place_site_m
    with pytest.raises(InputError, match="pick or set_down"):
        session.use_position("elsewhere")


def test_tables_tell_status_in_words_and_escape_what_they_show(session: Session) -> None:
    html = check_table_html(session.now, "metric")
    root = ET.fromstring(html)
    rows = root.findall(".//tbody/tr")
    assert len(rows) == len(session.now.checks)
    for row in rows:
        check = next(c for c in session.now.checks if c.id == row.get("data-check"))
        assert f"{SIGNS[check.status]} {check.words}" in "".join(row.itertext())
    states = [row.get("class") for row in rows]
    rank = {"lw-over": 0, "lw-no_data": 1, "lw-condition": 2, "lw-within": 3}
    assert [rank[str(s)] for s in states] == sorted(rank[str(s)] for s in states)


def test_comparison_marks_exactly_the_settings_that_differ(session: Session) -> None:
    session.keep()
    kept = session.kept
    assert kept is not None
    session.set({"leg_RR": 2.5})
    root = ET.fromstring(compare_table_html(kept, session.now, "metric"))
    settings_rows = {"".join(r[0].itertext()): r for r in root.findall(".//tbody/tr") if len(r) == 4}
    assert "".join(settings_rows["Outrigger RR"][3].itertext()) == "differs"
    assert "".join(settings_rows["Outrigger RR"][2].itertext()) == "2.50 m"
    assert "".join(settings_rows["Outrigger FL"][3].itertext()) == "same"


def test_a_setting_that_differs_by_less_than_is_shown_still_differs(session: Session) -> None:
    session.set({"wind": 3.0})
    session.keep()
    kept = session.kept
    assert kept is not None
    session.set({"wind": 3.0001})
    root = ET.fromstring(compare_table_html(kept, session.now, "metric"))
    row = next(r for r in root.findall(".//tbody/tr") if "".join(r[0].itertext()) == "Wind")
    assert row[1].text == row[2].text
    assert row[3].text == "differs"


@pytest.mark.parametrize("name", PICTURES)
def test_every_picture_of_every_lift_is_well_formed(job: Job, name: str) -> None:
    for lift in job.lifts[:3]:
        session = Session(job, lift.id)
        svg = Easel().draw([name], session.now, system="metric")[name]
        root = ET.fromstring(svg)
        assert PICTURES[name].name in root.get("aria-label", "")
        assert "nan" not in svg


def test_unknown_picture_is_refused(session: Session) -> None:
    with pytest.raises(InputError, match="picture is 'photo'"):
        Easel().draw(["photo"], session.now, system="metric")


class TestMessages:
    """What the page sends and gets back."""

    def test_every_answer_is_plain_json_and_carries_its_number(self) -> None:
        bench = open_workbench()
        answer = bench.answer({"kind": "hello", "seq": 7})
        assert json.loads(json.dumps(answer, allow_nan=False)) == answer
        assert answer["seq"] == 7
        assert {c["id"] for c in answer["controls"]} == set(answer["values"])
        assert answer["names"] == list(answer["pictures"])

    @pytest.mark.parametrize(
        ("message", "words"),
        [
            ({"kind": "dance"}, "a message that the workbench knows"),
            ({"kind": "lift", "id": "L99"}, "lift is 'L99'"),
            ({"kind": "units", "system": "nautical"}, "metric or us"),
            ({"kind": "pictures", "names": ["photo"]}, "picture is 'photo'"),
            ({"kind": "open", "path": "no/such.yaml"}, "such.yaml"),
            ({"kind": "record", "path": "no/such"}, "such"),
        ],
    )
    def test_what_the_page_asks_wrongly_comes_back_in_words(self, message: dict[str, Any], words: str) -> None:
        bench = open_workbench()
        before = bench.session.settings
        answer = bench.answer(message)
        assert words in answer["errors"][""]
        assert bench.session.settings == before

    def test_set_answers_with_display_units(self) -> None:
        bench = open_workbench(units="us")
        answer = bench.answer({"kind": "set", "values": {"leg_FL": 9.0}})
        assert answer["errors"] == {}
        assert bench.session.settings.leg_FL == pytest.approx(9.0 * 0.3048)
        assert answer["values"]["leg_FL"] == pytest.approx(9.0)

    def test_step_and_lift_are_checked_before_anything_opens(self) -> None:
        with pytest.raises(InputError, match="step is 'roof'"):
            open_workbench(step="roof")
        with pytest.raises(InputError, match="L99"):
            open_workbench(lift="L99")

    @pytest.mark.parametrize("step", STEPS)
    def test_each_step_has_its_controls_and_pictures(self, step: str) -> None:
        bench = open_workbench(step=step)
        answer = bench.answer({"kind": "hello"})
        groups, pictures = STEPS[step]
        assert {c["group"] for c in answer["controls"]} == set(groups)
        assert list(answer["pictures"]) == list(pictures)
        assert all(answer["pictures"].values())


def test_controls_follow_the_boom_length(job: Job) -> None:
    lift_id = job.lifts[0].id
    start = settings_of(job, lift_id)
    long = next(c for c in controls_of(job, lift_id, start) if c.id == "boom").high
    shorter = dataclasses.replace(start, boom=long - 5.0)
    longest = dataclasses.replace(start, boom=long)

    def reach(s: Any) -> float:
        return next(c for c in controls_of(job, lift_id, s) if c.id == "radius").high

    assert reach(longest) > reach(shorter)


def test_the_page_has_no_words_of_its_own_and_asks_for_those_it_is_given() -> None:
    script = (Path(workbench.__file__).parent / "static" / "workbench.js").read_text("utf-8")
    assert [key for key in TEXTS if f'"{key}"' not in script and f"texts.{key}" not in script] == []
    assert set(re.findall(r"\btexts\.(\w+)", script)) <= set(TEXTS)
    assert re.findall(r'"([A-Z][a-z]+ [a-z][^"\n]*)"', script) == []


@pytest.mark.parametrize("lift", ["L1", "L4", "L8"])
def test_the_verdict_is_said_as_on_a_sheet(job: Job, lift: str) -> None:
    now = Session(job, lift).now
    block = in_units(verdict_block(now.checks), "us")
    status, words = verdict_words(now, "us")
    assert status == block["status"]
    assert words == f"{SIGNS[status]} {block['words']} Governing check: {block['governing']}"
