"""The search panel: progress, result, stop, and errors in words."""

from __future__ import annotations

import html

import pytest

from liftcalc.base.text import CAUTION_LINE
from liftcalc.panels.stand_search import StandSearch, open_stand_search
from liftcalc.panels.texts import INVENTED


@pytest.fixture
def panel() -> StandSearch:
    found = open_stand_search()
    found.lift.value = "L8"
    found.step_m.value = 2.0
    found.step_deg.value = 30.0
    return found


def test_a_search_shows_its_places_and_fills_the_bar(panel: StandSearch) -> None:
    panel.start.click()
    assert panel.start.disabled
    assert not panel.stop.disabled
    assert panel.wait(120)
    assert panel.study is not None
    assert panel.study.result.complete
    assert panel.progress.value == panel.progress.max > 1
    assert panel.state.value.startswith("Done")
    assert "Crane positions, best first" in panel.result.value
    assert "<svg" in panel.result.value
    assert f"{panel.study.result.places[0].easting_m:.2f}" in panel.result.value
    assert not panel.start.disabled
    assert panel.stop.disabled


def test_a_stopped_search_says_that_it_is_incomplete(panel: StandSearch) -> None:
    panel.step_m.value = 0.5
    panel.step_deg.value = 5.0
    panel.begin()
    panel.halt()
    assert panel.wait(120)
    assert panel.study is not None
    assert not panel.study.result.complete
    assert panel.state.value.startswith("Stopped, incomplete")


def test_the_state_names_the_phase_and_a_late_stop_is_named_as_well(
    panel: StandSearch, monkeypatch: pytest.MonkeyPatch
) -> None:
    said: list[str] = []
    say = panel._say

    def stop_when_helping(phase: str) -> None:
        say(phase)
        said.append(panel.state.value)
        if phase == "finding remedies":
            panel.halt()

    monkeypatch.setattr(panel, "_say", stop_when_helping)
    panel.begin()
    assert panel.wait(120)
    assert {"Searching.", "Checking in full.", "Planning set-ups.", "Finding remedies."} <= set(said)
    assert panel.study is not None
    assert panel.study.result.complete  # the search itself was through
    assert not panel.study.complete
    assert panel.state.value.startswith("Stopped, incomplete")
    assert panel.progress.value < panel.progress.max
    assert "stopped before every position was tried" in panel.result.value


def test_a_second_start_while_searching_changes_nothing(panel: StandSearch) -> None:
    panel.begin()
    first = panel._thread
    panel.begin()
    assert panel._thread is first
    panel.halt()
    assert panel.wait(120)


def test_the_cautions_stand_on_the_panel(panel: StandSearch) -> None:
    text = " ".join(str(getattr(child, "value", "")) for child in panel.box.children)
    assert html.escape(CAUTION_LINE) in text
    assert INVENTED in text
