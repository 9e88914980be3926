"""Blocks and pages as HTML: one template (``pages.html``), in which every value is escaped.

Contents: :func:`block_html`, :func:`page`, :func:`part` (any other macro of the template),
:func:`listing_page`, :func:`link`, ``BLOCK_CSS``.

A page needs no network, no script and no notebook server. The look is our own: black on white,
rules instead of colour, status in words.
"""

import functools
import html
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from urllib.parse import quote

import jinja2
from markupsafe import Markup

from liftcalc.base.text import CAUTION_LINE
from liftcalc.records.blocks import Block, table

_FOLDER = Path(__file__).parent
BLOCK_CSS = "\n" + (_FOLDER / "blocks.css").read_text(encoding="utf-8")
_KINDS = ("calculation", "card", "cautions", "figure", "screen", "table", "title", "verdict")
_MACROS = {"checks": "table", "working": "working"} | {kind: kind for kind in _KINDS}
_LISTING_CSS = (
    "body { margin: 8mm; } table { font-size: 8.5pt; } a { color: #000; }"
    "td { overflow-wrap: break-word; }"
)


def _escaped(value: object) -> Markup:
    if isinstance(value, Markup):
        return value
    return Markup(html.escape(str(value), quote=True))


@functools.cache
def _template() -> Any:
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(_FOLDER),
        autoescape=True,
        finalize=_escaped,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
    )
    return environment.get_template("pages.html").module


def part(macro: str, *values: object) -> Markup:
    """What a macro of the template makes of the values."""
    return Markup(getattr(_template(), macro)(*values))


def block_html(block: Block, drawing: str = "") -> str:
    """HTML of one block; *drawing* is the markup of a figure block's drawing."""
    macro = _MACROS[block["kind"]]
    return str(part(macro, block, Markup(drawing)) if macro == "figure" else part(macro, block))


def page(title: str, body: Markup, css: str) -> bytes:
    """A whole page."""
    return part("page", title, Markup(BLOCK_CSS + css), body).encode("utf-8")


def link(address: str, text: str) -> Markup:
    """A cell that leads to a file beside the page."""
    return Markup('<a href="{}">{}</a>').format(quote(address), text)


def listing_page(
    title: str,
    lead: str,
    columns: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    states: Sequence[str] = (),
) -> bytes:
    """A page with one table of records; cells are texts or links."""
    block = {
        **table("", [name.replace("_", " ") for name in columns], ()),
        "rows": rows,
        "states": states,
    }
    return page(title, part("listing_body", title, lead, block, CAUTION_LINE), _LISTING_CSS)
