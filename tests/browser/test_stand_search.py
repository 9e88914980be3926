"""The search for a crane position in a real Chromium: start, watch, read, stop."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from typing import Any

WAIT_MS = 120_000


def _parts() -> Any:
    path = Path(__file__).parent / "conftest.py"
    spec = importlib.util.spec_from_file_location("browser_search_parts", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def test_a_search_is_watched_read_and_stopped(browser: Any, lab: Any) -> None:
    from playwright.sync_api import expect

    bench = _parts().open_notebook(browser, lab, "where_to_stand", ready=".widget-button:has-text('Search')")
    page = bench.page
    output = page.locator(".jp-OutputArea-output:has(.widget-button)")
    try:
        lift, grid, turns = (output.locator("select").nth(k) for k in range(3))
        lift.select_option(label="L8: Culvert cover slab")
        grid.select_option(label="2.00 m")
        turns.select_option(label="30.0°")
        search = output.get_by_role("button", name="Search")
        stop = output.get_by_role("button", name="Stop")
        search.click()
        page.get_by_text("Done: ").wait_for(timeout=WAIT_MS)
        # each widget model reaches the page in a message of its own: wait for what must appear
        expect(output.locator("table")).to_have_count(3, timeout=WAIT_MS)
        expect(output.locator("svg").first).to_be_visible(timeout=WAIT_MS)
        expect(output.get_by_text("Remedies")).to_have_count(1, timeout=WAIT_MS)
        expect(search).to_be_enabled(timeout=WAIT_MS)
        grid.select_option(label="0.50 m")
        turns.select_option(label="5.0°")
        search.click()
        expect(stop).to_be_enabled(timeout=WAIT_MS)
        stop.click()
        page.get_by_text("Stopped, incomplete").wait_for(timeout=WAIT_MS)
        assert bench.complaints == []
        assert page.locator(".jp-OutputArea-output[data-mime-type*='error']").count() == 0
    finally:
        page.context.close()
