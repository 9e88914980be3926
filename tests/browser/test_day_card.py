"""The day card on a phone without network, and on paper."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from liftcalc.base.resources import demo_job_path
from liftcalc.base.text import Safe, format_value
from liftcalc.facts.io import load_job
from liftcalc.lift.assess import assess_lift
from liftcalc.plan.day_card import day_card
from liftcalc.records.day_page import day_page
from liftcalc.records.html import page_faults


def show(value: float | None, quantity: str, safe: Safe = "") -> str:
    return format_value(value, quantity, safe=safe)


@pytest.fixture(scope="module", params=["L1", "L4", "L5", "L6"])
def card(request, tmp_path_factory):  # type: ignore[no-untyped-def]
    lift = assess_lift(load_job(demo_job_path()), request.param)
    text = day_page(lift.job, day_card(lift, show))
    place: Path = tmp_path_factory.mktemp("card") / "day_card.html"
    place.write_text(text, encoding="utf-8")
    return place


def test_it_loads_nothing_runs_nothing_and_fits_a_phone(browser, card) -> None:  # type: ignore[no-untyped-def]
    text = card.read_text(encoding="utf-8")
    assert not page_faults(text.encode())
    assert not re.search(r"<(script|link|img|iframe)|\bsrc=|url\(|@import|https?:", text)
    context = browser.new_context(viewport={"width": 390, "height": 844}, offline=True, java_script_enabled=True)
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(card.as_uri())
    assert asked == [card.as_uri()]
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    # no cell lets its words out over the next one
    assert not page.evaluate(
        "[...document.querySelectorAll('td, th, h1, h2, li, p')]"
        ".filter(e => e.scrollWidth > e.clientWidth + 1).map(e => e.textContent)"
    )
    small = page.evaluate(
        "[...document.querySelectorAll('body *')]"
        ".filter(e => [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()))"
        ".map(e => [e.tagName, parseFloat(getComputedStyle(e).fontSize), e.textContent])"
        ".filter(([, size]) => size < 12)"
    )
    assert not small
    colours = page.evaluate(
        "[...new Set([...document.querySelectorAll('body *')].map("
        "e => getComputedStyle(e).color + getComputedStyle(e).backgroundColor))]"
    )
    for r, g, b in re.findall(r"rgba?\((\d+), (\d+), (\d+)", " ".join(colours)):
        assert r == g == b  # nothing rests on colour
    context.close()


def test_it_prints_on_a_few_pages_with_the_caution_on_each(browser, card, tmp_path) -> None:  # type: ignore[no-untyped-def]
    pikepdf = pytest.importorskip("pikepdf")
    page = browser.new_page()
    page.goto(card.as_uri())
    page.pdf(path=str(tmp_path / "card.pdf"), prefer_css_page_size=True)
    page.close()
    with pikepdf.open(tmp_path / "card.pdf") as printed:
        assert 1 <= len(printed.pages) <= 5
        width, height = (float(v) for v in printed.pages[0].mediabox[2:])
        assert (round(width), round(height)) == (595, 842)
