"""Blocks and pages as HTML: one template (``pages.html``), in which every value is escaped.

A page needs no network, no script and no notebook server. The look is our own: black on white,
rules instead of colour, status in words.
"""

import functools
import html
import os
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from urllib.parse import quote

import jinja2
from markupsafe import Markup

from liftcalc.base.foreign import visible
from liftcalc.base.text import CAUTION_LINE, INVENTED_LINE
from liftcalc.base.units import UnitSystem
from liftcalc.records.blocks import Block, table, with_notes
from liftcalc.records.formula import formula_parts, row_groups, step_parts

_FOLDER = Path(__file__).parent
BLOCK_CSS = "\n" + (_FOLDER / "blocks.css").read_text(encoding="utf-8")
DAY_CSS = (_FOLDER / "day_card.css").read_text(encoding="utf-8")
_KINDS = ("calculation", "card", "cautions", "figure", "file", "screen", "table", "title", "verdict")
_MACROS = {"checks": "checks"} | {kind: kind for kind in _KINDS}
PAPER: dict[UnitSystem, str] = {"metric": "A4", "us": "letter"}
"""Paper that goes with the units of a page."""
LANGUAGE: dict[UnitSystem, str] = {"metric": "en-GB", "us": "en-US"}
_LISTING_CSS = (
    "body { margin: 6mm; } a { color: #000; } tr { break-inside: avoid; }"
    ".lc table { font-size: 8.5pt; }"
    ".lc th, .lc td { padding: 2px 4px; overflow-wrap: break-word; }"
)


def _escaped(value: object) -> Markup:
    if isinstance(value, Markup):
        return value
    text = "\n".join(map(visible, str(value).split("\n")))
    return Markup(html.escape(text, quote=True))


def _set(parts: Sequence[tuple[str, str]]) -> Markup:
    tags = {"text": "{}"} | {tag: f"<{tag}>{{}}</{tag}>" for tag in ("sub", "sup", "strong")}
    return Markup("").join(Markup(tags[kind]).format(text) for kind, text in parts)


def soft(text: object) -> Markup:
    """A name that may break after its separators."""
    return Markup("<wbr>").join(re.split(r"(?<=[_/.:])(?=\w)", visible(text)))


@functools.cache
def _template() -> Any:
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(_FOLDER), autoescape=True, finalize=_escaped,
        undefined=jinja2.StrictUndefined, trim_blocks=True,
    )  # fmt: skip
    environment.filters |= {
        "formula": lambda text: _set(formula_parts(str(text))),
        "step": lambda row: _set(step_parts(row)),
        "soft": soft, "noted": with_notes, "groups": row_groups,
    }  # fmt: skip
    return environment.get_template("pages.html").module


def part(macro: str, *values: object) -> Markup:
    """What a macro of the template makes of the values."""
    return Markup(getattr(_template(), macro)(*values))


def block_html(block: Block, drawing: str = "") -> str:
    """HTML of one block; *drawing* is the markup of a figure block's drawing."""
    macro = _MACROS[block["kind"]]
    return str(part(macro, block, Markup(drawing)) if macro == "figure" else part(macro, block))


def page(
    title: str, body: Markup, css: str, *, units: UnitSystem = "metric", invented: bool = False, phone: bool = False
) -> bytes:
    """A whole page; the caution and the mark of an invented job stand at its head.

    *phone*: as wide as the screen it is read on.
    """
    lines = ([INVENTED_LINE] if invented else [], CAUTION_LINE)
    style = Markup(BLOCK_CSS + css)
    return part("page", LANGUAGE[units], title, style, lines, body, phone).encode("utf-8")


_CSS_SPECIAL = r"[^\w ,.;:-]"


def _css_text(text: str) -> str:
    """A string of a style sheet; nothing in it can end the string or the sheet."""
    return f'"{re.sub(_CSS_SPECIAL, lambda c: f"{chr(92)}{ord(c[0]):x} ", text)}"'


def print_frame(foot: str, units: UnitSystem = "metric", invented: bool = False) -> str:
    """What a browser prints in the margins of every page: marks, record and page number."""
    mark = f" @top-center {{ content: {_css_text(INVENTED_LINE)}; font: bold 8pt sans-serif; }}"
    return (
        f"@page {{ size: {PAPER[units]}; margin: 14mm 14mm 20mm;"
        f" @bottom-left {{ content: {_css_text(CAUTION_LINE)} '\\a ' {_css_text(foot)};"
        " white-space: pre-wrap; width: 84%; font: 7pt sans-serif; text-align: left; }"
        + (mark if invented else "")
        + " @bottom-right { content: 'Page ' counter(page) ' of ' counter(pages);"
        " font: 7pt sans-serif; } }"
    )


def link(address: str, text: str) -> Markup:
    """A cell that leads to a file beside the page."""
    return Markup('<a href="{}">{}</a>').format(quote(os.fsencode(address)), soft(text))


def listing_page(
    title: str, lead: str, columns: Sequence[str], rows: Sequence[Sequence[str]], *,
    states: Sequence[str] = (), units: UnitSystem = "metric", invented: bool = False,
) -> bytes:  # fmt: skip
    """A page with one table of records; cells are texts or links."""
    block = {**table("", columns, ()), "rows": rows, "states": states}
    body = part("listing_body", title, lead, block)
    css = _LISTING_CSS + print_frame(title, units, invented)
    return page(title, body, css, units=units, invented=invented)
