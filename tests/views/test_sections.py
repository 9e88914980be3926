"""Sections beside the outriggers: to scale, legible, every thing named and dimensioned."""

from __future__ import annotations

import itertools
import re

import numpy as np
import pytest
from matplotlib.figure import Figure

from liftcalc.base.resources import demo_job_path
from liftcalc.facts.io import load_job
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.lift.ground_sections import ground_sections
from liftcalc.views.paper import svg_text
from liftcalc.views.sections import sections_figure
from liftcalc.views.style import TEXT_PT, text_size_pt


@pytest.fixture(scope="module", params=["L1", "L5", "L8"])
def lift(request: pytest.FixtureRequest) -> LiftAssessment:
    return assess_lift(load_job(demo_job_path()), request.param, steps=40)


@pytest.fixture(scope="module", params=["metric", "us"])
def figure(request: pytest.FixtureRequest, lift: LiftAssessment) -> Figure:
    return sections_figure(lift, system=request.param)


def test_a_panel_for_each_section_and_all_fit_on_a_page(lift: LiftAssessment, figure: Figure) -> None:
    sections = ground_sections(lift)
    assert len(figure.axes) == len(sections) <= 4
    width, height = figure.get_size_inches() * 25.4
    assert width <= 175.0
    assert height <= 250.0
    for ax, section in zip(figure.axes, sections, strict=True):
        words = " ".join(t.get_text() for t in ax.texts) + ax.get_title(loc="left")
        for named in (section.leg.name, section.mat, *(b.thing.name for b in section.things)):
            assert named in words.replace("\n", " ")
        assert "Scale 1:" in words


def test_both_directions_have_one_scale(figure: Figure) -> None:
    for ax in figure.axes:
        box = ax.get_window_extent()
        across = np.ptp(ax.get_xlim()) / box.width
        assert np.ptp(ax.get_ylim()) / box.height == pytest.approx(across, rel=1e-6)


def test_no_text_covers_another_and_none_is_small(figure: Figure) -> None:
    for ax in figure.axes:
        boxes = []
        for text in ax.texts:
            assert text.get_fontsize() >= TEXT_PT
            if text.get_rotation() or not text.get_text():
                continue
            x, y = ax.transData.transform(text.get_position()) * 72.0 / figure.dpi
            wide, high = text_size_pt(text.get_text(), text.get_fontsize())
            left = x - (wide / 2.0 if text.get_ha() == "center" else 0.0)
            boxes.append((left, y - high / 2.0, left + wide, y + high / 2.0, text.get_text()))
        for a, b in itertools.combinations(boxes, 2):
            apart = a[2] <= b[0] + 2 or b[2] <= a[0] + 2 or a[3] <= b[1] + 2 or b[3] <= a[1] + 2
            assert apart, (a[4], b[4])


def test_layers_differ_without_colour_and_the_svg_is_the_same_twice(lift: LiftAssessment) -> None:
    one, two = (sections_figure(lift) for _ in range(2))
    for ax in one.axes:
        layers = [p for p in ax.patches if re.match("layer: ", p.get_gid() or "")]
        assert len({p.get_hatch() for p in layers}) >= 2
    assert svg_text(one) == svg_text(two)
