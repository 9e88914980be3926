"""The workbench driven in a real Chromium through JupyterLab."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

SLIDERS = (
    "leg_FL", "leg_FR", "leg_RR", "leg_RL", "easting", "northing", "heading", "slew", "radius",
    "boom", "load", "wind",
)  # fmt: skip
ANSWERED = """
([before]) => {
    const root = document.querySelector('.lw');
    return Number(root.dataset.seq) > before && root.getAttribute('aria-busy') === 'false';
}
"""


def seq(page: Any) -> int:
    return int(page.evaluate("Number(document.querySelector('.lw').dataset.seq)"))


def answered(page: Any, act: Callable[[], object], *, within_ms: int = 30_000) -> None:
    """Do something and wait until the page shows the answer to it."""
    before = seq(page)
    act()
    page.wait_for_function(ANSWERED, arg=[before], timeout=within_ms)


def press(page: Any, action: str, *, within_ms: int = 30_000) -> None:
    answered(page, page.locator(f'[data-action="{action}"]').click, within_ms=within_ms)


def entry(page: Any, name: str) -> Any:
    return page.locator(f'[data-entry="{name}"]')


def type_in(page: Any, name: str, text: str) -> None:
    def act() -> None:
        # typed key by key: a value put there by script fires no change event
        box = entry(page, name)
        box.focus()
        box.press("Control+A")
        box.press("Delete")
        box.press_sequentially(text)
        box.press("Enter")

    answered(page, act)


def shown(page: Any) -> dict[str, str]:
    """Everything on the page that a control may change."""
    return dict(
        page.evaluate(
            """() => {
                const root = document.querySelector('.lw');
                const found = {};
                for (const card of root.querySelectorAll('[data-drawing]'))
                    found[card.dataset.drawing] = card.innerHTML;
                for (const part of ['verdict', 'checks', 'position'])
                    found[part] = root.querySelector(`[data-part="${part}"]`).innerHTML;
                return found;
            }"""
        )
    )


@pytest.fixture
def page(workbench: Any) -> Any:
    """The workbench at the first lift's own set-up, its three first drawings, metric."""
    page = workbench.page
    assert workbench.complaints == []
    select = page.locator('[data-control="units"]')
    if select.input_value() != "metric":
        answered(page, lambda: select.select_option("metric"))
    lift = page.locator('[data-control="lift"]')
    other = page.evaluate("document.querySelector('[data-control=lift]').options[1].value")
    first = page.evaluate("document.querySelector('[data-control=lift]').options[0].value")
    answered(page, lambda: lift.select_option(other))
    answered(page, lambda: lift.select_option(first))
    yield page
    assert workbench.complaints == []
    assert page.locator('[data-mime-type="application/vnd.jupyter.stderr"]').count() == 0
    assert page.locator(".jp-RenderedText[data-mime-type*='error']").count() == 0


# what must change when the control changes: a picture, a table, or a word in them
EFFECTS: dict[str, tuple[str, ...]] = {
    "leg_FL": ("plan", "capacity", "forces", "checks", "position"),
    "leg_FR": ("plan", "forces", "checks", "position"),
    "leg_RR": ("plan", "forces", "checks", "position"),
    "leg_RL": ("plan", "forces", "checks", "position"),
    "easting": ("plan", "checks"),
    "northing": ("plan", "checks"),
    "heading": ("plan", "checks"),
    "slew": ("plan", "capacity", "forces", "position"),
    "radius": ("plan", "capacity", "forces", "position"),
    "boom": ("capacity", "checks", "position"),
    "load": ("capacity", "forces", "checks", "position"),
    "wind": ("forces", "checks", "position"),
}


@pytest.mark.parametrize("name", SLIDERS)
def test_each_slider_moved_by_key_changes_its_own_numbers_and_pictures(page: Any, name: str) -> None:
    slider = page.locator(f'[data-slider="{name}"]')
    before, number = shown(page), float(entry(page, name).input_value())
    at_end = float(slider.get_attribute("max")) <= float(slider.input_value()) + 1e-9
    key = "ArrowLeft" if at_end else "ArrowRight"
    slider.focus()
    for _ in range(5):
        answered(page, lambda: slider.press(key))
    after = shown(page)
    moved = float(entry(page, name).input_value())
    assert moved < number if at_end else moved > number
    assert page.locator(f'[data-row="{name}"] .lw-error').inner_text() == ""
    for part in EFFECTS[name]:
        assert after[part] != before[part], f"{name} left {part} as it was"


def test_leg_slider_writes_its_extension_into_the_plan(page: Any) -> None:
    type_in(page, "leg_FL", "2.75")
    text = page.locator('[data-drawing="plan"] svg').text_content()
    assert re.search(r"FL\s+2\.75", text)
    assert float(page.locator('[data-slider="leg_FL"]').input_value()) == pytest.approx(2.75)


def test_mats_are_chosen_from_the_job(page: Any) -> None:
    select = page.locator('[data-row="mat"] select')
    values = select.evaluate("(s) => [...s.options].map((o) => o.value)")
    other = next(v for v in values if v != select.input_value())
    before = shown(page)
    answered(page, lambda: select.select_option(other))
    assert shown(page)["checks"] != before["checks"]
    assert select.input_value() == other


@pytest.mark.parametrize(
    ("name", "typed", "words"),
    [
        ("leg_FL", "9", "Outrigger FL is 9"),
        ("leg_FL", "-1", "Outrigger FL is -1"),
        ("wind", "200", "Wind is 200"),
        ("radius", "0.1", "Radius is 0.1"),
    ],
)
def test_a_value_outside_is_an_error_in_words_and_changes_nothing(page: Any, name: str, typed: str, words: str) -> None:
    before = shown(page)
    type_in(page, name, typed)
    error = page.locator(f'[data-row="{name}"] .lw-error').inner_text()
    assert words in error
    assert "allowed:" in error
    assert entry(page, name).get_attribute("aria-invalid") == "true"
    assert shown(page) == before


def test_an_emptied_box_is_an_error_in_words(page: Any) -> None:
    type_in(page, "load", "")
    assert "Load is 'nothing'" in page.locator('[data-row="load"] .lw-error').inner_text()


@pytest.mark.parametrize(("typed", "load"), [("1,2", "1.20"), ("0,5", "0.50"), (" 3.30 ", "3.30"), ("4", "4.00")])
def test_a_comma_is_a_decimal_sign(page: Any, typed: str, load: str) -> None:
    type_in(page, "load", typed)
    assert entry(page, "load").input_value() == load
    assert page.locator('[data-row="load"] .lw-error').inner_text() == ""


@pytest.mark.parametrize("typed", ["1 8", "1,234", "1.2.3", "abc", "1e1", "0x5"])
def test_what_reads_two_ways_or_none_is_refused(page: Any, typed: str) -> None:
    before = shown(page)
    type_in(page, "load", typed)
    assert f"Load is {typed!r}" in page.locator('[data-row="load"] .lw-error').inner_text()
    assert shown(page) == before


def test_undo_redo_and_reset(page: Any) -> None:
    start = shown(page)
    type_in(page, "leg_FR", "2.60")
    changed = shown(page)
    press(page, "undo")
    assert shown(page) == start
    press(page, "redo")
    assert shown(page) == changed
    type_in(page, "heading", "25")
    press(page, "reset")
    assert shown(page) == start
    press(page, "undo")
    assert float(entry(page, "heading").input_value()) == 25.0


def test_holding_a_slider_is_one_step_of_the_history(page: Any) -> None:
    slider = page.locator('[data-slider="slew"]')
    start, place = entry(page, "slew").input_value(), float(slider.input_value())
    page.evaluate(
        """async () => {
            const slider = document.querySelector('[data-slider="slew"]');
            for (let k = 1; k <= 12; k += 1) {
                slider.value = Number(slider.value) + 2;
                slider.dispatchEvent(new Event('input', {bubbles: true}));
                await new Promise((done) => setTimeout(done, 5));
            }
            slider.dispatchEvent(new Event('change', {bubbles: true}));
        }"""
    )
    page.wait_for_function("document.querySelector('.lw').getAttribute('aria-busy') === 'false'", timeout=30_000)
    assert float(slider.input_value()) == place + 24.0
    assert float(entry(page, "slew").input_value()) == place + 24.0
    press(page, "undo")
    assert entry(page, "slew").input_value() == start


def test_two_set_ups_side_by_side(page: Any) -> None:
    press(page, "keep")
    type_in(page, "leg_FL", "2.90")
    table = page.locator('[data-part="compare"] table')
    row = table.locator("tr", has=page.locator("th", has_text="Outrigger FL")).first
    cells = row.locator("td").all_inner_texts()
    assert cells[1] == "2.90 m"
    assert cells[0] != cells[1]
    assert cells[2] == "differs"
    assert page.locator('[data-part="compare"] svg').count() == 1
    press(page, "drop")
    assert page.locator('[data-part="compare"] table').count() == 0


def test_us_units_change_every_number_and_back_exactly(page: Any) -> None:
    start = shown(page)
    select = page.locator('[data-control="units"]')
    answered(page, lambda: select.select_option("us"))
    assert page.locator('[data-row="leg_FL"] .lw-unit').inner_text() == "ft"
    assert float(entry(page, "leg_FL").input_value()) == pytest.approx(2.3 / 0.3048, abs=0.01)
    assert "kip" in page.locator('[data-part="position"]').inner_text()
    assert "ft" in page.locator('[data-drawing="plan"] svg').text_content()
    answered(page, lambda: select.select_option("metric"))
    assert shown(page) == start


def test_the_caution_stands_directly_under_the_verdict(page: Any) -> None:
    verdict, caution = (page.locator(f'[data-part="{part}"]').bounding_box() for part in ("verdict", "caution"))
    assert 0 <= caution["y"] - (verdict["y"] + verdict["height"]) < 20
    text = page.locator('[data-part="caution"]').inner_text()
    assert "manufacturer's rated capacity chart and the rated capacity limiter govern" in text


def test_us_words_reach_labels_choices_and_drawings(page: Any) -> None:
    select = page.locator('[data-control="units"]')
    answered(page, lambda: select.select_option("us"))
    text = page.locator(".lw").inner_text()
    assert "Swing" in text
    assert "Utilization" in text
    assert "centerline" in text
    assert " ft × " in page.locator('[data-row="mat"] select').inner_text()
    for cited in sorted(page.locator(".lw-ref").all_inner_texts(), key=len, reverse=True):
        text = text.replace(cited, "")
    assert "slew" not in text.lower()
    assert "undefined" not in page.locator(".lw").inner_html()
    answered(page, lambda: select.select_option("metric"))
    assert "Slew" in page.locator('[data-row="slew"]').inner_text()
    said = page.locator('[data-said="slew"]').inner_text()
    assert said in page.locator('[data-part="position"]').inner_text()
    assert said


def test_another_drawing_can_be_shown(page: Any) -> None:
    box = page.locator('[data-picture="elevation"]')
    answered(page, box.check)
    assert "upper hoist limit" in page.locator('[data-drawing="elevation"] svg').text_content()
    answered(page, box.uncheck)
    assert page.locator('[data-drawing="elevation"]').count() == 0


def test_place_under_the_hook_becomes_the_set_down(page: Any) -> None:
    before = shown(page)
    type_in(page, "slew", "270")
    press(page, "use-set-down")
    text = page.locator('[data-part="problem"]').inner_text()
    assert text == ""
    assert shown(page)["checks"] != before["checks"]


def test_a_missing_job_file_is_told_in_words(page: Any) -> None:
    page.locator('[data-control="job"]').fill("no/such/job.yaml")
    press(page, "open")
    assert "no/such/job.yaml" in page.locator('[data-part="problem"]').inner_text()
    page.locator('[data-control="job"]').fill("")
    press(page, "open")
    assert page.locator('[data-part="problem"]').inner_text() == ""


def test_a_lift_is_planned_saved_opened_again_and_the_same(page: Any, tmp_path: Path) -> None:
    type_in(page, "leg_FL", "3.00")
    type_in(page, "wind", "5.5")
    planned = shown(page)["checks"]
    page.locator('[data-control="archive"]').fill(str(tmp_path / "records"))
    page.locator('[data-control="who"]').fill("A. Planner")
    press(page, "save", within_ms=240_000)  # runs and archives four sheets
    note = page.locator('[data-part="note"]').inner_text()
    assert "Saved" in note, page.locator('[data-part="problem"]').inner_text()
    press(page, "reset")
    assert shown(page)["checks"] != planned
    folders = sorted(p.parent for p in (tmp_path / "records").rglob("inputs.json"))
    assert folders
    page.locator('[data-control="record"]').fill(str(folders[-1]))
    press(page, "open-record")
    assert page.locator('[data-part="problem"]').inner_text() == ""
    assert float(entry(page, "leg_FL").input_value()) == 3.0
    assert float(entry(page, "wind").input_value()) == 5.5
    assert shown(page)["checks"] == planned
    assert "record" in page.locator('[data-part="job"]').inner_text()
    page.locator('[data-control="job"]').fill("")
    press(page, "open")


def test_code_is_collapsed_and_controls_fit_the_window(page: Any) -> None:
    assert page.locator(".jp-Notebook .jp-Cell .jp-InputPlaceholder, .jp-Placeholder").count() > 0
    wide = page.evaluate(
        """() => {
            const root = document.querySelector('.lw');
            const panel = root.closest('.jp-WindowedPanel-outer, .jp-Notebook');
            return [root.scrollWidth, root.clientWidth, panel.clientWidth];
        }"""
    )
    assert wide[0] <= wide[1] + 1
    assert wide[1] <= wide[2]


def test_every_control_is_reached_by_the_tab_key(page: Any) -> None:
    page.locator('[data-control="lift"]').focus()
    seen: set[str] = set()
    for _ in range(80):
        name = page.evaluate(
            """() => {
                const a = document.activeElement;
                return a && a.closest('.lw') ? (a.dataset.slider || a.dataset.control
                    || a.dataset.action || a.dataset.picture || '') : '';
            }"""
        )
        seen.add(name)
        page.keyboard.press("Tab")
        if "open-record" in seen:
            break
    missing = {*SLIDERS, "mat", "units", "reset", "keep", "plan", "save"} - seen
    assert not missing


AXE = """
async () => {
    const found = await axe.run(document.querySelector('.lw'), {
        runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'best-practice'],
    });
    return found.violations.map((v) => [v.impact, v.id, v.nodes.length, v.nodes[0].html]);
}
"""


def accessibility(page: Any) -> list[list[Any]]:
    import axe_playwright_python

    script = Path(axe_playwright_python.__file__).parent / "axe.min.js"
    page.evaluate(script.read_text(encoding="utf-8"))
    return list(page.evaluate(AXE))


def serious(findings: list[list[Any]]) -> list[list[Any]]:
    return [f for f in findings if f[0] in ("serious", "critical")]


def test_axe_finds_nothing_serious_in_our_widgets(page: Any) -> None:
    press(page, "keep")
    type_in(page, "leg_FL", "9")  # an error in words is on the page too
    assert serious(accessibility(page)) == []
    press(page, "drop")


def test_axe_would_find_a_control_without_a_name(page: Any) -> None:
    page.evaluate(
        "document.querySelector('.lw').append(Object.assign(document.createElement('input'),"
        " {type: 'range', id: 'nameless'}))"
    )
    try:
        assert [f[1] for f in serious(accessibility(page))] == ["label"]
    finally:
        page.evaluate("document.getElementById('nameless').remove()")
