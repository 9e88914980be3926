"""Two drawings are the same as drawn, or what differs is named."""

from __future__ import annotations

import re
from io import StringIO

import numpy as np
import pytest
from matplotlib import rc_context
from matplotlib.figure import Figure

from liftcalc.records.drawings import DISTANCE_PT, drawing_differences
from liftcalc.records.html import clean_svg
from liftcalc.views.labels import Labels
from liftcalc.views.marks import key
from liftcalc.views.paper import svg_text
from liftcalc.views.strokes import mark, polygon, polyline
from liftcalc.views.style import Display, fill, finish, new_axes, prepare


def figure(shift: float = 0.0) -> Figure:
    """A drawing with hatches, clips, markers, turned and haloed texts, *shift* in data units."""
    figure, ax = new_axes(100.0, 80.0)
    prepare(ax, Display(), "Plan of the lift", "Easting [m]", "Northing [m]", plan=True)
    ax.set(xlim=(0.0, 30.0), ylim=(0.0, 20.0))
    ring = np.array([(2.0, 2.0), (9.0, 2.0), (9.0, 7.0), (2.0, 7.0)]) + shift
    polygon(ax, ring, gid="obstacle: shed", **fill("#e4e4e4", hatch="xxxx"))
    polygon(ax, ring + 9.0, gid="ground", **fill("#efe9dc", hatch="...."))
    polyline(ax, [(1.0 + shift, 15.0), (28.0, 18.0)], color="#0072B2", gid="tipping line")
    mark(ax, (14.0 + shift, 9.0), "o", markersize=5.0)
    labels = Labels(ax, Display())
    labels.write((14.0 + shift, 4.0), "FL 402.9 kN", weight="bold")
    labels.write((20.0, 14.0), "boom 25.00 m", rotation=35.0)
    key(ax, [("obstacle", fill("#e4e4e4", hatch="xxxx"))], Display())
    finish(figure, invented=True)
    return figure


PLAN = svg_text(figure())


def differences(archived: str, again: str = PLAN) -> list[str]:
    return drawing_differences(archived.encode(), again.encode())


def jittered(svg: str, by: float) -> str:
    """Each coordinate of lines, texts and markers moved by *by*, one up, the next down."""
    turn = iter(range(10**9))

    def moved(match: re.Match[str]) -> str:
        return f"{float(match[0]) + (by if next(turn) % 2 else -by):.10g}"

    def in_value(match: re.Match[str]) -> str:
        return match[1] + re.sub(r"-?\d+(?:\.\d+)?", moved, match[2]) + '"'

    svg = re.sub(r'( d=")([ML][^"A]*")', lambda m: in_value(_cut(m)), svg)
    return re.sub(r'(<(?:text|use)[^>]*? [xy]=")([^"]*")', lambda m: in_value(_cut(m)), svg)


def _cut(match: re.Match[str]) -> re.Match[str]:
    found = re.fullmatch(r'([^"]*(?:"[^"]*"[^"]*)*")([^"]*)"', match[0])
    assert found is not None
    return found


def test_the_same_drawing_has_no_difference() -> None:
    assert differences(PLAN) == []
    assert differences(svg_text(figure())) == []


@pytest.mark.parametrize("by", [0.01, 0.049])
def test_other_rounding_is_no_difference(by: float) -> None:
    moved = jittered(PLAN, by)
    assert moved != PLAN
    assert differences(moved) == []
    assert differences(PLAN, moved) == []
    assert differences(jittered(PLAN, 0.06)) != []


def test_names_made_from_coordinates_may_change_with_them() -> None:
    # a thousandth of a point: the writer names the clip or marker otherwise
    moved = svg_text(figure(0.0001))
    assert differences(moved) == []
    names = sorted(set(re.findall(r'id="([a-z][0-9a-f]{10})"', PLAN)))
    assert len(names) >= 4
    assert differences(PLAN.replace(names[0], "p0123456789")) == []


def test_a_name_that_points_elsewhere_is_a_difference() -> None:
    hatches = sorted(set(re.findall(r"url\(#(h[0-9a-f]{10})\)", PLAN)))
    assert len(hatches) == 2
    swapped = PLAN.replace(f"url(#{hatches[0]})", f"url(#{hatches[1]})", 1)
    assert any("style" in words for words in differences(swapped))


def test_no_name_in_a_file_is_taken_for_one_that_was_compared() -> None:
    marker = re.findall(r'href="#(m[0-9a-f]{10})"', PLAN)[-1]
    for number in range(12):
        for form in ("name {}", "{}", "\ufffd{}"):
            gone = PLAN.replace(f'href="#{marker}"', f'href="#{form.format(number)}"')
            assert differences(gone) != []


def test_what_the_facts_call_a_thing_does_no_harm() -> None:
    named = PLAN.replace("obstacle: shed", "obstacle: data: url(x) \\ javascript: onload")
    assert differences(named, named) == []
    assert any("id" in words for words in differences(named))


LINE = re.search(r'<g id="tipping line">\n(<path[^>]*/>)\n</g>\n', PLAN)
TEXT = re.search(r'<text [^>]*x="([\d.]+)" y="([\d.]+)"[^>]*>FL[^<]*402.9[^<]*</text>\n', PLAN)
USE = re.search(r"<use [^>]*/>\n", PLAN)
START = re.search(r'<path d="M([\d.]+) ([\d.]+)L', PLAN[PLAN.index("tipping line") :])
assert LINE
assert TEXT
assert USE
assert START
MOVED = f"{float(START[1]) + 0.2:.2f}"

ALTERED = {
    "a digit of a label": (PLAN.replace("402.9", "403.9"), "403.9"),
    "a blank of a label": (PLAN.replace("402.9\u00a0kN", "402.9 kN"), "402.9 kN"),
    "a word of the caution": (PLAN.replace("Planning aid.", "Planning."), "Planning."),
    "a line moved by 0.2 pt": (PLAN.replace(f"M{START[1]} ", f"M{MOVED} "), MOVED),
    "an element taken out": (PLAN.replace(LINE[0], ""), "not compared"),
    "a text taken out": (PLAN.replace(TEXT[0], ""), "not compared"),
    "a marker taken out": (PLAN.replace(USE[0], "", 1), "not compared"),
    "an element added": (PLAN.replace(LINE[0], LINE[0] * 2), "not compared"),
    "a text added at the end": (PLAN.replace("</svg>", '<text x="9" y="9">400 kPa</text></svg>'), "not compared"),
    "another colour": (PLAN.replace("stroke:#0072b2", "stroke:#1a1a1a"), "#1a1a1a"),
    "another line width": (PLAN.replace("stroke-width:0.9", "stroke-width:9", 1), "stroke-width:9"),
    "not seen": (PLAN.replace('style="font-weight:700', 'style="opacity:0;font-weight:700', 1), "opacity:0"),
    "not seen, by an attribute": (PLAN.replace("<text ", '<text opacity="0" ', 1), "opacity"),
    "not displayed": (PLAN.replace('<g id="tipping', '<g display="none" id="tipping'), "display"),
    "another style for all": (PLAN.replace(".halo{", "text{display:none}.halo{"), "display:none"),
    "letters too small": (PLAN.replace("font-size:7px", "font-size:1px", 1), "font-size:1px"),
    "the page shows another part": (re.sub('viewBox="0 0 ', 'viewBox="100 0 ', PLAN), "viewBox"),
    "the page is larger": (re.sub(r'width="[\d.]+pt"', 'width="900pt"', PLAN, count=1), "width"),
    "a text moved": (PLAN.replace(f'x="{TEXT[1]}"', 'x="12.5"'), "12.5"),
    "a text turned": (PLAN.replace("rotate(-35 ", "rotate(-34.9 "), "-34.9"),
    "a text on its head": (PLAN.replace("rotate(-35 ", "rotate(145 "), "145"),
    "the halo gone": (PLAN.replace(' class="halo"', "", 1), "class"),
    "a shift of a group": (PLAN.replace('<g id="tipping', '<g transform="translate(0 3)" id="tipping'), "transform"),
    "a path by steps": (PLAN.replace(START[0], START[0][:-1] + "l"), "l"),
    "a hatch at another step": (PLAN.replace('height="72"', 'height="72.04"', 1), "72.04"),
    "a dot of another size": (PLAN.replace("A0.", "A0.04", 1), "A0.04"),
    "a comment": (PLAN.replace("</svg>", "<!-- checked --></svg>"), "comment"),
    "two elements in another order": (PLAN.replace(LINE[0], "").replace("</svg>", LINE[0] + "</svg>"), "not compared"),
}


@pytest.mark.parametrize("how", ALTERED)
def test_what_was_altered_is_named(how: str) -> None:
    altered, word = ALTERED[how]
    assert altered != PLAN
    for found in (differences(altered), differences(PLAN, altered)):
        assert any(word in words for words in found), found
        assert len(found) <= 10


HOSTILE = {
    "script": "<script>alert(1)</script>",
    "foreignObject": "<foreignObject><body/></foreignObject>",
    "image": '<image xlink:href="data:image/png;base64,iVBORw0KGgo="/>',
    "animate": '<animate attributeName="x" to="9"/>',
    "onload": '<g onload="alert(1)"/>',
    "href": '<use xlink:href="https://example.org/a.svg#b"/>',
    "'a'": '<a xlink:href="#x"/>',
    "url": '<path style="fill:url(https://example.org/a)"/>',
    "@import": "<style>@import 'a.css';</style>",
    "data:": '<path style="fill:url(data:image/png;base64,AAAA)"/>',
    "'b'": '<b xmlns="http://www.w3.org/1999/xhtml"/>',
    "raw sections": "<text><![CDATA[400 kPa]]></text>",
    "instructions": '<?xml-stylesheet href="data:text/css,text{display:none}"?>',
    "depth": "<g>" * 200 + "</g>" * 200,
    "mismatched": "</g>",
}


@pytest.mark.parametrize("word", HOSTILE)
def test_what_no_drawing_holds_is_named_even_if_both_hold_it(word: str) -> None:
    hostile = PLAN.replace("</svg>", HOSTILE[word] + "</svg>")
    for found in (differences(hostile), differences(PLAN, hostile), differences(hostile, hostile)):
        assert len(found) == 1
        assert "none of a sheet" in found[0]
        assert word in found[0]


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\xff\xfe" + PLAN.encode("utf-16-le"),
        b'<?xml version="1.0" encoding="cp037"?>' + PLAN.encode(),
        b'<!DOCTYPE svg [<!ENTITY a "aaaa">]>' + PLAN.encode(),
        PLAN.encode() + b" " * 3_000_000,
        b"<svg/>",
        b"<svg xmlns='http://www.w3.org/2000/svg'>" + b"<g>" * 900_000,
        PLAN.replace("</svg>", "<g/>" * 60_000 + "</svg>").encode(),
        PLAN.encode("utf-8").replace("\u00a0".encode(), b"\xa0"),
    ],
    ids=["empty", "utf-16", "encoding", "entities", "long", "no namespace", "deep", "many", "latin"],
)
def test_what_cannot_be_read_is_refused_in_words(data: bytes) -> None:
    assert ["none of a sheet" in words for words in drawing_differences(data, PLAN.encode())] == [True]


def test_some_ten_differences_are_named() -> None:
    many = re.sub(r">(\d+)</text>", r">9\1</text>", PLAN).replace("#1a1a1a", "#2a2a2a")
    assert len(differences(many)) == 10


def test_drawings_with_letters_as_outlines_are_compared_too() -> None:
    pages = []
    for shift in (0.0, 0.2):
        page = StringIO()
        with rc_context({"svg.hashsalt": "liftcalc", "svg.fonttype": "path"}):
            figure(shift).savefig(page, format="svg", metadata={"Date": None, "Creator": None})
        pages.append(clean_svg(page.getvalue()))
    old, other = pages
    assert len(old) > 5 * len(PLAN)
    assert differences(old, old) == []
    assert differences(other, old) != []
    assert differences(old) != []


def test_the_stated_distance_is_not_to_be_seen() -> None:
    assert DISTANCE_PT <= 0.5 / 10.0
