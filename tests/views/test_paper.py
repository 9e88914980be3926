"""A drawing on paper is thin and shows what the figure shows, text as text."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from io import StringIO

import pytest
from matplotlib import rc_context
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Ellipse, Rectangle
from matplotlib.text import Text

from liftcalc.base import resources
from liftcalc.facts.io import load_job
from liftcalc.lift.assess import LiftAssessment, assess_lift
from liftcalc.sheets import use_print_style
from liftcalc.views.elevation import elevation_figure
from liftcalc.views.labels import HALO, Labels
from liftcalc.views.paper import svg_text
from liftcalc.views.plan import plan_figure
from liftcalc.views.style import INK, Display, new_axes
from liftcalc.views.utilisation import utilisation_figure

SVG = "{http://www.w3.org/2000/svg}"
FIGURES = {"plan": plan_figure, "elevation": elevation_figure, "utilisation": utilisation_figure}


@pytest.fixture(scope="module")
def assessed() -> dict[str, LiftAssessment]:
    job = load_job(resources.demo_job_path())
    return {"L1": assess_lift(job.for_lift("L1"), "L1")}


def texts_of(svg: str) -> list[ET.Element]:
    return list(ET.fromstring(svg).iter(f"{SVG}text"))


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def style_of(element: ET.Element) -> dict[str, str]:
    return dict(part.split(":", 1) for part in element.get("style", "").split(";") if part)


def numbers(text: str) -> list[str]:
    return re.findall(r"-?\d+(?:\.\d+)?(?:e-?\d+)?", text)


@pytest.mark.parametrize("name", FIGURES)
def test_every_text_is_written_as_text(name: str, assessed: dict[str, LiftAssessment]) -> None:
    figure = FIGURES[name](assessed["L1"])
    texts = texts_of(svg_text(figure))
    lines = [
        plain(line)
        for text in figure.findobj(Text)
        if text.get_visible()
        for line in text.get_text().split("\n")
        if line
    ]
    written = [plain(text.text or "") for text in texts]
    # ticks beyond the ends of an axis are not drawn
    assert not [line for line in written if line not in lines]
    assert not [line for line in lines if line not in written and not numbers(line)]
    haloed = {t.get_text() for t in figure.findobj(Text) if t.get_path_effects()}
    shown = {plain(text.text or "") for text in texts if text.get("class") == "halo"}
    assert shown == {plain(line) for text in haloed for line in text.split("\n")}
    for text in texts:
        assert float(style_of(text).get("font-size", "7px").removesuffix("px")) >= 7.0


@pytest.mark.parametrize("name", FIGURES)
def test_a_drawing_is_thin_and_bare(name: str, assessed: dict[str, LiftAssessment]) -> None:
    svg = svg_text(FIGURES[name](assessed["L1"]))
    assert len(svg.encode()) <= 80_000
    assert "<metadata" not in svg
    assert "<!" not in svg
    root = ET.fromstring(svg)
    for element in list(root.iter())[1:]:
        for key in ("d", "x", "y", "width", "height", "transform"):
            assert all(len(number.partition(".")[2]) <= 2 for number in numbers(element.get(key, "")))
    assert not [e for e in root.iter() if e.tag in (f"{SVG}g", f"{SVG}defs") and not len(e)]


@pytest.mark.parametrize("name", FIGURES)
def test_lines_and_shapes_stand_where_they_stood(name: str, assessed: dict[str, LiftAssessment]) -> None:
    figure, page = FIGURES[name](assessed["L1"]), StringIO()
    for text in figure.findobj(Text):
        text.set_path_effects(None)  # else its outline is a path too
    with rc_context({"svg.hashsalt": "liftcalc", "svg.fonttype": "none"}):
        figure.savefig(page, format="svg")
    plain, thin = (
        [e for e in ET.fromstring(svg).iter() if e.tag in (f"{SVG}path", f"{SVG}use")]
        for svg in (page.getvalue(), svg_text(figure))
    )
    assert len(plain) == len(thin) > 20
    for before, after in zip(plain, thin, strict=True):
        looks = (
            {(k.strip(), v.strip()) for k, v in (p.split(":", 1) for p in s.split(";") if p)}
            for s in (before.get("style", ""), after.get("style", ""))
        )
        assert next(looks) - {("stroke-dashoffset", "0")} == next(looks)
        if "A" in after.get("d", ""):
            continue  # a circle, see below
        for key in ("d", "x", "y"):
            was, now = (list(map(float, numbers(e.get(key, "")))) for e in (before, after))
            assert now == pytest.approx(was, abs=0.0051)


def test_texts_keep_place_turn_weight_colour_and_blanks() -> None:
    figure, ax = new_axes(100.0, 80.0)
    labels = Labels(ax, Display())
    labels.write((0.5, 0.5), "boom 25 m", rotation=30.0, weight="bold")
    labels.write((0.25, 0.75), "two\nlines", colour="#C44E00")
    ax.text(0.1, 0.1, " 10 m   Scale <1:400> & more", color="black", fontsize=9.0, alpha=0.5)
    ax.text(0.1, 0.3, "left", color=INK, fontsize=7.0)
    svg = svg_text(figure)
    by_text = {plain(text.text or "").strip()[:5]: text for text in texts_of(svg)}
    boom, two, lines, black, left = (by_text[t] for t in ("boom ", "two", "lines", "10 m ", "left"))
    height = 72.0 * figure.get_size_inches()[1]
    x, y = ax.transData.transform((0.5, 0.5)) * 72.0 / figure.dpi
    turn, *place = map(float, numbers(boom.get("transform", "")))
    assert turn == -30.0
    assert place == [float(boom.get("x", "")), float(boom.get("y", ""))]
    # the middle of the letters, not their foot, stands on the point
    assert math.dist(place, (x, height - y)) < 4.0
    assert style_of(boom) == {"font-weight": "700", "text-anchor": "middle"}
    assert [two.text, lines.text] == ["two", "lines"]
    assert [style_of(t)["fill"] for t in (two, lines)] == ["#c44e00", "#c44e00"]
    assert float(lines.get("y", "")) - float(two.get("y", "")) == pytest.approx(8.1, abs=1.0)
    assert [t.get("class") for t in (boom, two, lines, black)] == ["halo"] * 3 + [None]
    assert black.text == "\u00a010 m\u00a0\u00a0 Scale <1:400> & more"
    assert style_of(black) == {"font-size": "9px", "opacity": "0.5", "fill": "#000"}
    assert left.get("style") is None
    assert f"text{{font-family:'DejaVu Sans',Verdana,sans-serif;font-size:7px;fill:{INK}}}" in svg
    assert ".halo{stroke:#fff;stroke-width:2;paint-order:stroke}" in svg


def test_the_figure_is_left_as_it_was() -> None:
    figure, ax = new_axes(60.0, 40.0)
    Labels(ax, Display()).write((0.5, 0.5), "boom")
    first = svg_text(figure)
    assert ax.texts[0].get_path_effects() == HALO
    assert ax.texts[0].get_url() is None
    assert svg_text(figure) == first


def test_circles_become_arcs_and_ellipses_stay() -> None:
    figure = Figure(figsize=(2.0, 2.0))
    figure.add_artist(Circle((0.5, 0.5), 0.25, gid="round"))
    figure.add_artist(Ellipse((0.5, 0.5), 0.5, 0.48, gid="flat"))
    figure.add_artist(Rectangle((0.1, 0.1), 0.5, 0.5, hatch="....", gid="dots"))
    root = ET.fromstring(svg_text(figure))
    paths = {g.get("id"): g[0].get("d", "") for g in root.iter(f"{SVG}g") if g.get("id")}
    assert paths["round"] == "M72 108A36 36 0 1 0 72 36A36 36 0 1 0 72 108z"
    assert paths["flat"].count("C") == 8
    pattern = next(root.iter(f"{SVG}pattern"))
    dots = pattern[1].get("d", "")
    assert "C" not in dots
    assert dots.count("z") > 100
    assert re.match(r"M0 72\.3A0\.3 0\.3 0 1 0 0 71\.7A0\.3 0\.3 0 1 0 0 72\.3zM", dots)


def test_a_name_with_dollar_signs_is_no_formula_on_a_sheet() -> None:
    with rc_context():
        use_print_style()
        figure, ax = new_axes(60.0, 40.0)
        ax.text(0.5, 0.5, r"rack $\frac$ 2")
        assert r"rack $\frac$ 2" in [text.text for text in texts_of(svg_text(figure))]
