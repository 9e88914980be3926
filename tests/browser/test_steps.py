"""The workbench of each step, and the dark theme, in a real Chromium through JupyterLab."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from typing import Any

import pytest


def _sibling(name: str) -> Any:
    path = Path(__file__).parent / f"{name}.py"
    spec = importlib.util.spec_from_file_location(f"browser_{name}", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


STEPS = {
    "site": ("heading", "area"),
    "legs": ("leg_RR", "locus"),
    "lift": ("load", "utilisation"),
    "ground": ("leg_FL", "forces"),
}


@pytest.mark.parametrize("step", STEPS)
def test_the_workbench_of_a_step_follows_its_controls(browser: Any, lab: Any, step: str) -> None:
    parts, tools = _sibling("conftest"), _sibling("test_workbench")
    slider_name, drawing = STEPS[step]
    text = (lab.folder / "workbench.ipynb").read_text(encoding="utf-8")
    chosen = text.replace('step: str = \\"whole\\"', f'step: str = \\"{step}\\"')
    assert chosen != text
    (lab.folder / f"workbench_{step}.ipynb").write_text(chosen, encoding="utf-8")
    bench = parts.open_notebook(browser, lab, f"workbench_{step}")
    page = bench.page
    try:
        before = tools.shown(page)
        slider = page.locator(f'[data-slider="{slider_name}"]')
        slider.focus()
        at_end = float(slider.get_attribute("max")) <= float(slider.input_value()) + 1e-9
        for _ in range(4):
            tools.answered(page, lambda: slider.press("ArrowLeft" if at_end else "ArrowRight"))
        after = tools.shown(page)
        assert after[drawing] != before[drawing]
        assert after["plan"] != before["plan"] or slider_name == "load"
        assert after["checks"] != before["checks"]
        assert bench.complaints == []
        assert page.locator(".jp-OutputArea-output[data-mime-type*='error']").count() == 0
    finally:
        page.context.close()


def test_dark_theme_stays_readable(browser: Any, lab: Any) -> None:
    parts, tools = _sibling("conftest"), _sibling("test_workbench")
    bench = parts.open_notebook(browser, lab, "workbench", theme="dark")
    page = bench.page
    try:
        page.wait_for_function("document.body.dataset.jpThemeLight === 'false'", timeout=30_000)
        ground = page.evaluate("getComputedStyle(document.querySelector('.lw')).backgroundColor.match(/\\d+/g)")
        assert sum(int(v) for v in ground[:3]) < 200
        assert tools.serious(tools.accessibility(page)) == []
    finally:
        page.context.close()


def test_a_panel_without_its_kernel_is_greyed_and_says_so(browser: Any, lab: Any) -> None:
    parts = _sibling("conftest")
    bench = parts.open_notebook(browser, lab, "workbench")
    page: Any = bench.page
    try:
        assert page.locator(".lw-stale").count() == 0
        page.evaluate("window.jupyterapp.shell.currentWidget.sessionContext.session.kernel.restart()")
        # nobody touches the panel: it must find out by itself
        page.locator(".lw.lw-stale").wait_for(timeout=30_000)
        words = page.locator('[data-part="silent"]').inner_text()
        assert "what is shown is not up to date" in words
        assert "run the cell again" in words.lower()
    finally:
        page.context.close()
