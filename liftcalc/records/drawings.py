"""Two drawings compared as drawn: the archived one, which may be anybody's, and the one made again.

Elements, their order, attributes, styles and texts are to be the same to the letter. Only
coordinates may lie apart, by :data:`DISTANCE_PT`: other libraries round otherwise. Names that the
SVG writer makes from such numbers (of hatches, clips, markers) are held by where they are used.
"""

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from itertools import count, takewhile, zip_longest

DISTANCE_PT = 0.05
"""How far a coordinate of a drawing made again may lie from the archived one, a tenth of the
thinnest line: not to be seen on paper. [pt]"""
_TURN = 0.02
_MOST, _SIZE, _DEPTH, _ELEMENTS = 10, 3_000_000, 32, 50_000
_SVG, _XLINK = "{http://www.w3.org/2000/svg}", "{http://www.w3.org/1999/xlink}"
_DRAWN = frozenset(["svg", "g", "defs", "style", "path", "rect", "use", "text", "tspan", "clipPath", "pattern"])
_PLACES = frozenset(["d", "x", "y", "width", "height", "viewBox", "transform"])
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
# no steps from the point before, which add up; no arc or scale, which move the far by more
_MAY_DIFFER = re.compile(r"[MLCQHVZz#\s]*|#pt|(?:(?:translate|rotate)\([# ]*\) ?)+")
_MADE_NAME = re.compile(r"(?<![\w-])[a-z]?[0-9a-f]{10}(?![\w-])")
_REACHES_OUT = re.compile(r"url\(\s*[\"']?(?!#)|@import|javascript:|data:|\\", re.IGNORECASE)


def drawing_differences(archived: bytes, again: bytes) -> list[str]:
    """What differs between two SVG drawings, in words; nothing where both show the same.

    Ten are named at most. What no drawing of a sheet holds (scripts, images, links, entities) is
    named whether or not both hold it.
    """
    pages = []
    for which, data in (("archived", archived), ("made again", again)):
        try:
            pages.append(_parts(data))
        except (ET.ParseError, ValueError) as error:
            return [f"the drawing {which} is none of a sheet: {error}"]
    found: list[str] = []
    for was, now in zip_longest(*pages, fillvalue=("the end", "")):
        if was[0] != now[0]:
            found.append(f"{was[0]} archived, {now[0]} made again; the rest is not compared")
            break
        if was[1] != now[1] and not _close(was[0], was[1], now[1]):
            alike = takewhile(lambda pair: pair[0] == pair[1], zip(was[1], now[1], strict=False))
            first = max(0, sum(1 for _ in alike) - 20)
            old, new = (value[first : first + 60] for _, value in (was, now))
            found.append(f"{was[0]}: {old!r} archived, {new!r} made again")
            if len(found) == _MOST:
                break
    return found


def _parts(data: bytes) -> list[tuple[str, str]]:
    """A drawing as a list: what each part is, and its value."""
    if len(data) > _SIZE:
        raise ValueError(f"larger than {_SIZE} bytes")
    svg = data.decode("utf-8")
    # without a head there is no other encoding, no style sheet, no entity
    if not svg.startswith("<svg") or "<?" in svg or re.search("<!(?!--)", svg):
        raise ValueError("it has a head, entities, instructions or raw sections")
    comments = [("comment", text) for text in re.findall("<!--(.*?)-->", svg, re.DOTALL)]
    names: dict[str, str] = {}
    return comments + list(_walk(ET.fromstring(svg), 0, count(1), names))


def _walk(element: ET.Element, depth: int, numbers: Iterator[int], names: dict[str, str]) -> Iterator[tuple[str, str]]:
    """Depth, attributes, text and what is inside each element, in the order of the file."""
    tag, number = element.tag.removeprefix(_SVG), next(numbers)
    if tag == element.tag or tag not in _DRAWN or depth > _DEPTH or number > _ELEMENTS:
        name = element.tag.rpartition("}")[2][:40]
        raise ValueError(f"element {name!r}, number {number}, at depth {depth}")
    if tag == "style" and (len(element) or _REACHES_OUT.search(element.text or "")):
        raise ValueError(f"style {(element.text or '')[:80]!r}")
    what = f"{tag} {number}"
    yield f"{what}, depth", str(depth)
    for key, value in sorted(element.attrib.items()):
        name = key.replace(_XLINK, "")
        link = name == "href" and not value.startswith("#")
        out = name != "id" and _REACHES_OUT.search(value) is not None
        if link or out or "}" in name or name.lower().startswith("on"):
            raise ValueError(f"{tag} with {name[:40]!r} = {value[:80]!r}")
        if name not in _PLACES:
            value = _MADE_NAME.sub(lambda m: names.setdefault(m[0], f"\0{len(names)}"), value)
        yield f"{what}, {name[:40]}", value
    yield f"{what}, text", element.text or ""
    for child in element:
        yield from _walk(child, depth + 1, numbers, names)
    yield f"{what}, text after it", element.tail or ""


def _close(what: str, was: str, now: str) -> bool:
    """True if both are the same coordinates, none farther apart than is stated."""
    form = _NUMBER.sub("#", was)
    key = what.rpartition(" ")[2]
    if key not in _PLACES or what.startswith("pattern") or form != _NUMBER.sub("#", now):
        return False
    apart = zip(_NUMBER.findall(was), _NUMBER.findall(now), strict=True)
    limit = _TURN if "(" in form else DISTANCE_PT
    return bool(_MAY_DIFFER.fullmatch(form)) and all(abs(float(a) - float(b)) <= limit + 1e-9 for a, b in apart)
