"""A drawing as it leaves the sheet: thin SVG with real text, the same bytes in every run.

Notebook, page and PDF all take it as it is made here. Text is text (searched, copied, read aloud)
in the font by which the labels were placed; its white surround is a stroke below its fill.
Coordinates are rounded to 0.01 pt, a fiftieth of the thinnest line; the size of the page is not.
"""

import math
import re
import xml.etree.ElementTree as ET
from io import StringIO

from matplotlib import rc_context
from matplotlib.figure import Figure
from matplotlib.text import Text

from liftcalc.views.style import INK, TEXT_PT

_SVG = "{http://www.w3.org/2000/svg}"
_HALO = "halo"
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e-?\d+)?")
_CURVES = re.compile(r"M[^A-Za-z]+(?:C[^A-Za-z]+){8}z")
_TEXT_PLACE = re.compile(r"(?:translate\((\S+) (\S+)\))? ?(?:rotate\((\S+?)(?: \S+ \S+)?\))?")
_UNNAMED = re.compile(r"(?:figure|axes|patch|line2d|text|matplotlib\.axis|[xy]tick|\w+Collection)_\d+")
_COMMON = f"""*{{stroke-linejoin:round;stroke-linecap:butt}}
text{{font-family:'DejaVu Sans',Verdana,sans-serif;font-size:{TEXT_PT:g}px;fill:{INK}}}
.{_HALO}{{stroke:#fff;stroke-width:2;paint-order:stroke}}"""
"""What holds for the whole drawing; letters of Verdana are about as wide as those of DejaVu."""
_SAID = {f"font-size:{TEXT_PT:g}px", f"fill:{INK}", "text-anchor:start"}

ET.register_namespace("", _SVG[1:-1])
ET.register_namespace("xlink", "http://www.w3.org/1999/xlink")


def svg_text(figure: Figure) -> str:
    """The figure as SVG of its own size, the same in every run."""
    page = StringIO()
    surrounds = {text: text.get_path_effects() for text in figure.findobj(Text)}
    for text, effects in surrounds.items():
        # the writer knows no surround but as outlines; a link it writes around the text instead
        text.set(path_effects=None, url=_HALO if effects else None)
    try:
        # a fixed salt and no date make two runs give the same text
        with rc_context({"svg.hashsalt": "liftcalc", "svg.fonttype": "none"}):
            figure.savefig(page, format="svg", metadata={"Date": None, "Creator": None})
    finally:
        for text, effects in surrounds.items():
            text.set(path_effects=effects, url=None)
    root = ET.fromstring(page.getvalue())
    _thin(root)
    return ET.tostring(root, encoding="unicode") + "\n"


def _thin(parent: ET.Element) -> None:
    """Leave out what is not seen, and round what is, below *parent*."""
    kept: list[ET.Element] = []
    for child in parent:
        tag = child.tag.removeprefix(_SVG)
        if tag == "metadata":
            continue
        _thin(child)
        if tag == "style":
            child.text = _COMMON
        elif tag in ("text", "tspan"):
            _place(child)
        elif tag == "a":
            for text in child.iter(f"{_SVG}text"):
                text.set("class", _HALO)
        else:
            child.text = "\n" if len(child) else None
        for name in {"d", "x", "y", "width", "height"} & child.attrib.keys():
            child.set(name, _rounded(child.attrib[name]))
        style = [":".join(s.split(": ", 1)) for s in child.attrib.pop("style", "").split("; ") if s]
        if tag == "text" and not any(s.startswith("fill:") for s in style):
            style.append("fill:#000")  # the writer's own default is not ours
        said = _SAID if tag == "text" else {"stroke-dashoffset:0"}
        if style := [s for s in style if s not in said and not s.startswith("font-family")]:
            child.set("style", ";".join(style))
        if _UNNAMED.fullmatch(child.get("id", "")):
            del child.attrib["id"]
        child.tail = None if tag == "tspan" else "\n"
        bare = tag == "a" or (tag == "g" and not child.attrib)
        kept += child if bare or (tag in ("g", "defs") and not len(child)) else [child]
    parent[:] = kept


def _place(text: ET.Element) -> None:
    """Write where a text stands and how it is turned in the shortest way."""
    if match := _TEXT_PLACE.fullmatch(text.attrib.pop("transform", "")):
        x, y, turned = match.groups()
        if x is not None:
            text.attrib |= {"x": x, "y": y}
        if turned is not None and float(turned):
            places = (_rounded(text.attrib[name]) for name in "xy")
            text.set("transform", f"rotate({_rounded(turned)} {' '.join(places)})")
    # several blanks would be shown as one
    text.text = re.sub(r"^ | $| (?= )", "\u00a0", text.text or "")


def _rounded(numbers: str) -> str:
    """Coordinates or a path to 0.01, without the blanks that it can do without."""
    short = _NUMBER.sub(lambda m: f"{round(float(m[0]), 2) + 0.0:.10g}", numbers)
    return _CURVES.sub(_circle, re.sub(r"\s*([A-Za-z])\s*", r"\1", short.strip()))


def _circle(curves: re.Match[str]) -> str:
    """Eight curves as two arcs, if they are a circle: hatches have hundreds of dots."""
    x, top, *points = (float(number) for number in _NUMBER.findall(curves[0]))
    radius = (top - points[23]) / 2.0
    ends = zip(points[4::6], points[5::6], strict=True)
    if any(abs(math.hypot(a - x, b - top + radius) - abs(radius)) > 0.015 for a, b in ends):
        return curves[0]
    arc = f"A{abs(radius):.4g} {abs(radius):.4g} 0 1 0 {x:.10g} "
    return f"M{x:.10g} {top:.10g}{arc}{top - 2.0 * radius:.10g}{arc}{top:.10g}z"
