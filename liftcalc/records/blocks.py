"""Building blocks of a sheet: plain data first, then HTML for the screen and the record.

Contents: ``BLOCK_MIME`` (the mime type under which a block travels in a notebook output),
:func:`title_block`, :func:`verdict_block`, :func:`check_table`, :func:`table`,
:func:`working`, :func:`cautions`, :func:`figure_block` (all return a block, a plain mapping),
:func:`in_units` (a block's sentences in display units), :func:`block_html`, ``BLOCK_CSS``.

A block is kept as data in the executed notebook, so that the HTML page and the PDF are both
drawn from it and a re-check can compare what the sheet showed, not only what it stored.
The look is our own: black on white, rules instead of colour, status told in words.
"""

from __future__ import annotations

import html
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from liftcalc.base.checks import Check, verdict
from liftcalc.base.text import CAUTIONS, format_value, text_in_units
from liftcalc.base.units import UnitSystem

__all__ = [
    "BLOCK_CSS",
    "BLOCK_MIME",
    "Block",
    "block_html",
    "card",
    "cautions",
    "check_table",
    "conclusion",
    "figure_block",
    "in_units",
    "screen_block",
    "table",
    "title_block",
    "verdict_block",
    "working",
]

Block = dict[str, Any]

BLOCK_MIME = "application/vnd.liftcalc.block+json"


def title_block(title: str, rows: Sequence[tuple[str, str]]) -> Block:
    """Title block: the sheet's name and label/value pairs."""
    return {"kind": "title", "title": title, "rows": [[str(a), str(b)] for a, b in rows]}


def check_table(checks: Sequence[Check], units: UnitSystem = "metric") -> Block:
    """Check table: one row per check, with value, limit, utilisation, status and reference."""
    rows = []
    for check in checks:
        sign = "≤" if check.sense == "max" else "≥"
        limit = format_value(check.limit, check.quantity, units)
        if check.status == "no_data" and check.limit is not None:
            limit = f"estimate {limit}"
        elif check.limit is not None:
            limit = f"{sign} {limit}"
        used = "–" if check.utilisation is None else f"{100 * check.utilisation:.1f} %"
        rows.append(
            [
                check.title + (f" ({check.where})" if check.where else ""),
                format_value(check.value, check.quantity, units),
                limit,
                used,
                check.words,
                check.reference,
            ]
        )
    return {
        "kind": "checks",
        "title": "Checks",
        "columns": ["Check", "Value", "Limit", "Used", "Status", "Reference"],
        "align": ["left", "right", "right", "right", "left", "left"],
        "rows": rows,
        "states": [c.status for c in checks],
    }


def verdict_block(checks: Sequence[Check]) -> Block:
    """Verdict in words with the governing check, and what would bring each failure right."""
    found = verdict(checks)
    remedies = [
        [c.title, c.words, c.remedy or "No remedy is stated; change the plan."]
        for c in (*found.failed, *found.conditional)
    ]
    governing = found.governing
    used = "" if governing.utilisation is None else f", {100 * governing.utilisation:.1f} % used"
    return {
        "kind": "verdict",
        "status": found.status,
        "words": found.words,
        "governing": f"{governing.title}{used}",
        "remedies": remedies,
    }


def table(
    title: str,
    columns: Sequence[str],
    rows: Sequence[Sequence[object]],
    *,
    align: Sequence[str] | None = None,
) -> Block:
    """Plain table; every cell is shown as its text."""
    return {
        "kind": "table",
        "title": title,
        "columns": [str(c) for c in columns],
        "align": list(align) if align else ["left"] * len(columns),
        "rows": [[str(cell) for cell in row] for row in rows],
    }


def working(rows: Sequence[Mapping[str, str]], title: str = "Working") -> Block:
    """Working: each formula with its numbers, result and source."""
    keys = ("what", "formula", "numbers", "result", "source")
    return {
        "kind": "working",
        "title": title,
        "rows": [{key: str(row.get(key, "")) for key in keys} for row in rows],
    }


def cautions(extra: Sequence[str] = ()) -> Block:
    """Cautions that stand on every sheet, and those of this sheet."""
    return {"kind": "cautions", "title": "Cautions", "items": [*CAUTIONS, *map(str, extra)]}


def figure_block(name: str, caption: str) -> Block:
    """Caption and name of a drawing; the drawing travels beside it as SVG."""
    return {"kind": "figure", "name": name, "caption": caption}


def card(
    title: str,
    headline: str,
    rows: Sequence[tuple[str, str]],
    *,
    table: Block | None = None,
    blanks: Sequence[str] = (),
) -> Block:
    """A card for the site on a page of its own: headline, facts, a table, and lines to fill in."""
    return {
        "kind": "card",
        "title": title,
        "headline": headline,
        "rows": [[str(a), str(b)] for a, b in rows],
        "table": table,
        "blanks": [str(b) for b in blanks],
    }


_CITED = {"Reference", "Rule", "Source", "Where it comes from"}
"""Columns that cite: a quotation keeps its own units."""


def in_units(block: Block, units: UnitSystem, keep: Collection[str] = ()) -> Block:
    """The block with the quantities in its sentences in display units.

    Citations, and names in *keep*, stay as they are. The working stays in SI, so that it can be
    followed to the source, and says so.
    """
    if units == "metric":
        return block

    def say(text: str) -> str:
        return text_in_units(text, units, keep=keep)

    shown = dict(block)
    for name in ("words", "governing", "caption", "headline", "text"):
        if name in block:
            shown[name] = say(block[name])
    kind = block["kind"]
    if kind == "working":
        shown["title"] = f"{block['title']} (in SI units, as calculated)"
    elif kind in ("title", "card"):
        shown["rows"] = [[a, say(b)] for a, b in block["rows"]]
    elif kind in ("table", "checks"):
        cited = [column in _CITED for column in block["columns"]]
        shown["rows"] = [
            [c if known else say(c) for c, known in zip(row, cited, strict=True)]
            for row in block["rows"]
        ]
    elif kind == "verdict":
        shown["remedies"] = [[say(c) for c in row] for row in block["remedies"]]
    elif kind == "cautions":
        shown["items"] = [say(text) for text in block["items"]]
    if block.get("table"):
        shown["table"] = in_units(block["table"], units, keep)
    return shown


def screen_block(text: str) -> Block:
    """A line for the screen only; page and PDF leave it out because they show it elsewhere."""
    return {"kind": "screen", "text": text}


def conclusion(words: str) -> Block:
    """The last line of a sheet."""
    return {"kind": "conclusion", "words": words}


BLOCK_CSS = """
.lc { font-family: "Helvetica Neue", Arial, "Liberation Sans", sans-serif; font-size: 10.5pt;
  color: #000; line-height: 1.35; }
.lc h1 { font-size: 17pt; margin: 0; padding: 0; }
.lc h2 { font-size: 11.5pt; margin: 1.1em 0 0.35em; border-bottom: 1px solid #000; }
.lc table { border-collapse: collapse; width: 100%; margin: 0 0 0.6em; }
.lc th, .lc td { border: 0.6px solid #000; padding: 2.5px 6px; vertical-align: top;
  text-align: left; }
.lc th { font-weight: bold; border-bottom-width: 1.6px; }
.lc .right { text-align: right; white-space: nowrap; }
.lc .titleblock { border: 1.8px solid #000; }
.lc .titleblock .head { padding: 6px 8px; border-bottom: 1.8px solid #000; }
.lc .titleblock dl { display: grid; grid-template-columns: repeat(3, 1fr); margin: 0; }
.lc .titleblock div.cell { padding: 3px 8px; border-right: 0.6px solid #000;
  border-bottom: 0.6px solid #000; min-height: 2.4em; }
.lc .titleblock dt { font-size: 8pt; }
.lc .titleblock dd { margin: 0; font-weight: bold; overflow-wrap: anywhere; }
.lc .verdict { border: 1.8px solid #000; padding: 7px 10px; margin: 0.8em 0; }
.lc .verdict.over, .lc .verdict.not_found, .lc .verdict.no_data { border-width: 4px;
  border-style: double; }
.lc .verdict.condition { border-width: 4px; border-style: dashed; }
.lc .verdict .words { font-size: 13pt; font-weight: bold; }
.lc tr.over td, .lc tr.not_found td, .lc tr.no_data td, .lc tr.condition td { font-weight: bold; }
.lc .formula { font-family: "Cambria Math", "STIX Two Text", "DejaVu Serif", serif; }
.lc ol.cautions { margin: 0; padding-left: 1.4em; font-size: 9.5pt; }
.lc .card { border: 1.8px solid #000; padding: 8px 12px; margin: 1.2em 0; break-before: page;
  break-after: page; break-inside: avoid; }
.lc .card .headline { font-size: 15pt; font-weight: bold; margin: 0.3em 0 0.6em; }
.lc .card th { width: 32%; }
.lc .card .blank { border-bottom: 0.6px solid #000; margin-top: 1.7em; }
.lc .card .blank span { font-size: 9pt; }
.lc figure { margin: 0.8em 0; text-align: center; }
.lc figure svg { max-width: 100%; height: auto; }
.lc figcaption, .lc .caption { font-size: 9.5pt; text-align: center; }
"""


def _e(text: object) -> str:
    return html.escape(str(text), quote=True)


def _table_html(block: Block) -> str:
    align = ["right" if a == "right" else "left" for a in block["align"]]
    states = block.get("states") or [""] * len(block["rows"])
    head = "".join(
        f'<th class="{a}">{_e(c)}</th>' for c, a in zip(block["columns"], align, strict=True)
    )
    body = "".join(
        f'<tr class="{_e(state)}">'
        + "".join(f'<td class="{a}">{_e(c)}</td>' for c, a in zip(row, align, strict=True))
        + "</tr>"
        for row, state in zip(block["rows"], states, strict=True)
    )
    heading = f"<h2>{_e(block['title'])}</h2>" if block["title"] else ""
    return f"{heading}<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def _title_html(block: Block) -> str:
    cells = "".join(
        f'<div class="cell"><dt>{_e(a)}</dt><dd>{_e(b) or "&nbsp;"}</dd></div>'
        for a, b in block["rows"]
    )
    return (
        f'<div class="titleblock"><div class="head"><h1>{_e(block["title"])}</h1></div>'
        f"<dl>{cells}</dl></div>"
    )


def _verdict_html(block: Block) -> str:
    remedies = ""
    if block["remedies"]:
        rows = "".join(
            "<tr>" + "".join(f"<td>{_e(cell)}</td>" for cell in row) + "</tr>"
            for row in block["remedies"]
        )
        remedies = (
            "<table><thead><tr><th>Not within</th><th>Status</th>"
            f"<th>What would fix it</th></tr></thead><tbody>{rows}</tbody></table>"
        )
    return (
        f'<div class="verdict {_e(block["status"])}"><div class="words">{_e(block["words"])}</div>'
        f"<div>Governing check: {_e(block['governing'])}</div>{remedies}</div>"
    )


def _working_html(block: Block) -> str:
    rows = "".join(
        f'<tr><td>{_e(r["what"])}</td><td class="formula">{_e(r["formula"])}</td>'
        f'<td class="formula">{_e(r["numbers"])}</td><td class="right">{_e(r["result"])}</td>'
        f"<td>{_e(r['source'])}</td></tr>"
        for r in block["rows"]
    )
    return (
        f"<h2>{_e(block['title'])}</h2><table><thead><tr><th>Quantity</th><th>Formula</th>"
        '<th>With numbers</th><th class="right">Result</th><th>Source</th></tr></thead>'
        f"<tbody>{rows}</tbody></table>"
    )


def _cautions_html(block: Block) -> str:
    items = "".join(f"<li>{_e(item)}</li>" for item in block["items"])
    return f'<h2>{_e(block["title"])}</h2><ol class="cautions">{items}</ol>'


def _card_html(block: Block) -> str:
    facts = "".join(
        f"<tr><th>{_e(name)}</th><td>{_e(value)}</td></tr>" for name, value in block["rows"]
    )
    inner = "" if block["table"] is None else _table_html(block["table"])
    blanks = "".join(
        f'<div class="blank"><span>{_e(name)}</span></div>' for name in block["blanks"]
    )
    return (
        f'<div class="card"><h1>{_e(block["title"])}</h1>'
        f'<div class="headline">{_e(block["headline"])}</div>'
        f"<table><tbody>{facts}</tbody></table>{inner}{blanks}</div>"
    )


def block_html(block: Block, svg: str = "") -> str:
    """HTML of one block; *svg* is the drawing of a figure block. Every text is escaped."""
    kind = block["kind"]
    if kind == "figure":
        return f"<figure>{svg}<figcaption>{_e(block['caption'])}</figcaption></figure>"
    if kind == "screen":
        return f'<div class="caption">{_e(block["text"])}</div>'
    if kind == "conclusion":
        return f"<p><b>{_e(block['words'])}</b></p>"
    draw = {
        "card": _card_html,
        "title": _title_html,
        "verdict": _verdict_html,
        "checks": _table_html,
        "table": _table_html,
        "working": _working_html,
        "cautions": _cautions_html,
    }[kind]
    return draw(block)
