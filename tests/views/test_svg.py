"""Drawings as SVG for sheets: the page is what was drawn, in clean numbers, and one process
leaves nothing of its fonts to another."""

from __future__ import annotations

import os
import re
import xml.etree.ElementTree as ET
from collections.abc import Callable

import pytest
from matplotlib import rc_context
from matplotlib.figure import Figure

from liftcalc.base import resources
from liftcalc.facts.io import load_job
from liftcalc.lift import LiftAssessment, assess_lift
from liftcalc.views import adapters_ground, figures, fonts, svg
from liftcalc.views.fonts import text_size_pt
from liftcalc.views.svg import svg_text

FIGURES: dict[str, Callable[[LiftAssessment], Figure]] = {
    "plan": figures.plan_figure,
    "capacity circle": figures.capacity_figure,
    "elevation": figures.elevation_figure,
    "rigging": figures.rigging_figure,
    "utilisation": figures.utilisation_figure,
    "resultant": figures.locus_figure,
    "forces": figures.forces_figure,
    "mat pressure": adapters_ground.mat_pressure_figure,
    "stress": adapters_ground.stress_figure,
}


@pytest.fixture(scope="module")
def assessed() -> LiftAssessment:
    job = load_job(resources.demo_job_path())
    return assess_lift(job.for_lift("L1"), "L1")


def page(svg: str) -> tuple[float, float, float, float]:
    """Left, top, width, height of the page; width and height are said twice and must agree."""
    root = ET.fromstring(svg)
    number = r"(-?\d+(?:\.\d+)?)"
    box = re.fullmatch(rf"{number} {number} {number} {number}", root.attrib["viewBox"])
    wide = re.fullmatch(rf"{number}pt", root.attrib["width"])
    high = re.fullmatch(rf"{number}pt", root.attrib["height"])
    assert box, root.attrib
    assert wide, root.attrib
    assert high, root.attrib
    left, top, width, height = map(float, box.groups())
    assert (float(wide[1]), float(high[1])) == (width, height)
    return left, top, width, height


@pytest.mark.parametrize("name", FIGURES)
def test_the_page_is_the_box_of_all_that_is_drawn(name: str, assessed: LiftAssessment) -> None:
    figure = FIGURES[name](assessed)
    _, _, width, height = page(svg_text(figure))
    box = figure.get_tightbbox()
    pad = 2 * 72 * 0.08
    # another renderer measures texts a little differently, and half a line's width counts here
    assert width == pytest.approx(72 * box.width + pad, abs=4.0)
    assert height == pytest.approx(72 * box.height + pad, abs=4.0)


def test_what_reaches_out_of_the_figure_stays_on_the_page() -> None:
    def page_of(x: float) -> tuple[float, float, float, float]:
        figure = Figure(figsize=(2, 2))
        figure.text(0.5, 0.5, "inside")
        figure.text(x, 0.5, "far out", ha="left")
        return page(svg_text(figure))

    near, far = page_of(0.5), page_of(2.5)
    assert far[2] == pytest.approx(near[2] + 2 * 2 * 72, abs=1.0)
    # farther than the margins of the first attempt: drawn anew, cut by the library itself
    assert page_of(8.0)[2] > 8 * 2 * 72 * 0.9


def test_the_text_of_a_turned_label_is_inside_the_page() -> None:
    figure = Figure(figsize=(4, 1))
    figure.text(0.5, 0.5, "a long label that stands upright", rotation=90, ha="center", va="center")
    _, _, width, height = page(svg_text(figure))
    assert height > 2.0 * 72 > width


def test_the_same_figure_gives_the_same_text_whatever_was_drawn_before(
    assessed: LiftAssessment,
) -> None:
    first = svg_text(figures.plan_figure(assessed))
    svg_text(figures.elevation_figure(assessed))
    assert svg_text(figures.plan_figure(assessed)) == first


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork here")
def test_forked_processes_that_draw_at_once_give_the_same_text() -> None:
    # Two processes that read glyphs from one open file move each other's place in it.
    def text(size: int) -> str:
        figure = Figure(figsize=(3, 3))
        for k in range(40):
            letters = "".join(chr(33 + (k + j) % 90) for j in range(12)).replace("$", "S")
            figure.text(0.1, k / 40, letters, fontsize=size)
        return svg_text(figure)

    warm = Figure()
    warm.text(0.5, 0.5, "warm")
    svg_text(warm)
    pipes, children = [], []
    for _ in range(6):
        read, write = os.pipe()
        child = os.fork()
        if child == 0:
            code = 1
            try:
                made = {text(7) for _ in range(3)}
                os.write(write, repr(sorted(map(hash, made))).encode())
                code = 0
            finally:
                os._exit(code)
        os.close(write)
        pipes.append(read)
        children.append(child)
    found = []
    for read in pipes:
        with os.fdopen(read, "rb") as stream:
            found.append(stream.read())
    assert [os.waitpid(child, 0)[1] for child in children] == [0] * 6
    assert set(found) == {repr([hash(text(7))]).encode()}


def test_a_library_with_other_inner_parts_still_draws(
    assessed: LiftAssessment, monkeypatch: pytest.MonkeyPatch
) -> None:
    def changed(*_: object, **__: object) -> None:
        raise TypeError("another release")

    monkeypatch.setattr("liftcalc.views.svg._Renderer.__init__", changed)
    _, _, width, height = page(svg_text(figures.forces_figure(assessed)))
    assert width > 100.0
    assert height > 100.0


def test_a_setting_that_chooses_another_font_is_heeded_whatever_was_drawn_before() -> None:
    def drawn() -> tuple[str, tuple[float, float]]:
        figure = Figure(figsize=(2, 2))
        axes = figure.subplots()
        axes.set_xlabel("radius [m]")
        return svg_text(figure), text_size_pt("radius [m]", 8.0)

    usual = drawn()
    with rc_context({"font.sans-serif": ["DejaVu Serif"]}):
        other = drawn()
        del svg._here.letters  # what a process has that never drew before
        fonts._size_pt.cache_clear()
        assert drawn() == other
    assert drawn() == usual
    assert other[0] != usual[0]
    assert other[1] != usual[1]
