"""Drawings as SVG for sheets: all that is drawn lies on the page, and every run gives one text."""

from __future__ import annotations

import os
import xml.etree.ElementTree as ET
from collections.abc import Callable
from typing import Any

import pytest
from matplotlib import rc_context
from matplotlib.figure import Figure

from liftcalc.base import resources
from liftcalc.base.text import CAUTION_LINE, text_in_units
from liftcalc.facts.io import load_job
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.views import ground_mat, ground_stress
from liftcalc.views.capacity import capacity_figure
from liftcalc.views.elevation import elevation_figure
from liftcalc.views.forces import forces_figure
from liftcalc.views.locus import locus_figure
from liftcalc.views.paper import svg_text
from liftcalc.views.plan import plan_figure
from liftcalc.views.rigging import rigging_figure
from liftcalc.views.style import HEAD_PT, Display, finish, new_axes, prepare, text_size_pt, wrapped
from liftcalc.views.utilisation import utilisation_figure

FIGURES: dict[str, Callable[..., Figure]] = {
    "plan": plan_figure,
    "capacity circle": capacity_figure,
    "elevation": elevation_figure,
    "rigging": rigging_figure,
    "utilisation": utilisation_figure,
    "resultant": locus_figure,
    "forces": forces_figure,
    "mat": ground_mat.mat_figure,
    "mat pressure": ground_mat.mat_pressure_figure,
    "stress": ground_stress.stress_figure,
}


@pytest.fixture(scope="module")
def assessed() -> dict[str, LiftAssessment]:
    job = load_job(resources.demo_job_path())
    return {name: assess_lift(job.for_lift(name), name) for name in ("L1", "L3", "L8")}


@pytest.mark.parametrize("name", FIGURES)
@pytest.mark.parametrize("system", ["metric", "us"])
@pytest.mark.parametrize("lift", ["L1", "L3", "L8"])
def test_nothing_is_cut_off_at_the_edge_of_the_page(
    name: str, system: str, lift: str, assessed: dict[str, LiftAssessment]
) -> None:
    figure = FIGURES[name](assessed[lift], system=system)
    box, (width, height) = figure.get_tightbbox(), figure.get_size_inches()
    assert min(box.x0, box.y0, width - box.x1, height - box.y1) >= 1.0 / 72.0


@pytest.mark.parametrize("name", FIGURES)
@pytest.mark.parametrize("system", ["metric", "us"])
def test_a_finished_drawing_bears_caution_and_mark_and_is_drawn_no_smaller(
    name: str, system: str, assessed: dict[str, LiftAssessment]
) -> None:
    figure = FIGURES[name](assessed["L8"], system=system)
    (ax,) = figure.axes
    before = ax.get_window_extent().bounds
    finish(figure, invented=True, system=system)  # type: ignore[arg-type]
    assert ax.get_window_extent().bounds[2:] == pytest.approx(before[2:])
    (caution,) = [t for t in figure.texts if t.get_gid() == "caution"]
    words = text_in_units(CAUTION_LINE, system)  # type: ignore[arg-type]
    assert " ".join(caution.get_text().split()) == words
    assert caution.get_fontsize() >= 7
    assert [t.get_text() for t in ax.texts if t.get_text() == "INVENTED"] == ["INVENTED"]
    box, (width, height) = figure.get_tightbbox(), figure.get_size_inches()
    assert min(box.x0, box.y0, width - box.x1, height - box.y1) >= 1.0 / 72.0
    boxes = [t.get_window_extent() for t in (caution, *ax.texts) if t.get_text()]
    below = boxes[0]
    assert not any(below.overlaps(other) for other in boxes[1:])
    mark = ax.texts[-1].get_window_extent()
    assert not mark.overlaps(ax._left_title.get_window_extent())  # type: ignore[attr-defined]


def test_a_job_that_is_not_invented_bears_no_such_mark(assessed: dict[str, LiftAssessment]) -> None:
    figure = utilisation_figure(assessed["L1"])
    finish(figure)
    assert "INVENTED" not in [t.get_text() for t in figure.axes[0].texts]


def test_the_page_has_the_size_of_the_figure(assessed: dict[str, LiftAssessment]) -> None:
    figure = plan_figure(assessed["L1"])
    root = ET.fromstring(svg_text(figure))
    width, height = 72.0 * figure.get_size_inches()
    assert float(root.attrib["width"].removesuffix("pt")) == pytest.approx(width)
    assert float(root.attrib["height"].removesuffix("pt")) == pytest.approx(height)
    assert list(map(float, root.attrib["viewBox"].split())) == pytest.approx([0, 0, width, height])


def test_a_title_that_is_too_long_for_the_page_is_broken_between_words() -> None:
    figure, ax = new_axes(80.0, 60.0)
    inside = ax.get_window_extent().bounds
    title = "Plan of a lift whose title was written by somebody with a great deal to say"
    prepare(ax, Display(), title=title)
    lines = ax.get_title(loc="left").split("\n")
    assert len(lines) > 1
    assert " ".join(lines) == title
    # the Axes keep their size, so that what is to scale stays to scale
    assert ax.get_window_extent().bounds[2:] == pytest.approx(inside[2:])
    box, (width, height) = figure.get_tightbbox(), figure.get_size_inches()
    assert box.x1 <= width
    assert box.y1 <= height
    assert wrapped("unbreakable", 10.0, HEAD_PT) == "unbreakable"


def test_the_same_figure_gives_the_same_text_whatever_was_drawn_before(assessed: dict[str, LiftAssessment]) -> None:
    first = svg_text(plan_figure(assessed["L1"]))
    svg_text(elevation_figure(assessed["L1"]))
    assert svg_text(plan_figure(assessed["L1"])) == first
    assert "<dc:date>" not in first


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
    answers = []
    for read in pipes:
        with os.fdopen(read, "rb") as stream:
            answers.append(stream.read())
    assert [os.waitpid(child, 0)[1] for child in children] == [0] * 6
    assert set(answers) == {repr([hash(text(7))]).encode()}


def test_a_setting_that_chooses_another_font_changes_sizes_whatever_was_measured_before() -> None:
    def size() -> Any:
        return text_size_pt("radius [m]", 8.0)

    usual = size()
    another = {"font.family": ["sans-serif"], "font.sans-serif": ["DejaVu Serif"]}
    with rc_context(another):  # whatever family a sheet that ran here before has chosen
        assert size() != usual
    assert size() == usual
