"""Building blocks of a sheet, as plain data.

A block is kept as data in the executed notebook, so that the HTML page (:mod:`liftcalc.records.pages`) and the PDF are
both drawn from it and a re-check can compare what the sheet showed, not only what it stored.
"""

from collections.abc import Collection, Mapping, Sequence
from types import SimpleNamespace
from typing import Any

from liftcalc.base.checks import Check, verdict
from liftcalc.base.text import CAUTIONS, format_value, quantities_in_units, text_in_units
from liftcalc.base.units import UnitSystem
from liftcalc.base.words import has_british_word, us_words

Block = dict[str, Any]

BLOCK_MIME = "application/vnd.liftcalc.block+json"
FILE_MIME = "application/vnd.liftcalc.file"
"""Text of a file that travels with the sheet, until the record holds it as a file."""


def title_block(
    title: str, rows: Sequence[tuple[str, str]], *, number: str = "", people: Sequence[tuple[str, str]] = ()
) -> Block:
    """Title block: the sheet's name and number, label/value pairs, and who signs with a date."""
    return {
        "kind": "title", "title": title, "number": number,
        "rows": [[str(a), str(b)] for a, b in rows],
        "people": [[str(a), str(b)] for a, b in people],
    }  # fmt: skip


def limit_words(check: Check, units: UnitSystem) -> str:
    """The limit of a row as printed, with the side on which the value may lie."""
    text = format_value(check.limit, check.quantity, units)
    if check.limit is None:
        return text
    if check.status == "no_data":
        return f"estimate {text}"
    return f"{'≤' if check.sense == 'max' else '≥'} {text}"


def used_words(check: Check | SimpleNamespace) -> str:
    """How much of its limit a row uses, as printed; a count has no utilisation."""
    if check.utilisation is None or check.quantity == "count":
        return "–"
    return f"{100 * check.utilisation:.1f} %"


CHECK_COLUMNS = ("Check", "Where", "Value", "Limit", "Utilisation", "State", "Source")


def check_table(checks: Sequence[Check], units: UnitSystem = "metric") -> Block:
    """Check table: one row per check, in the order given."""
    rows = [
        [
            check.title, check.where or "–", format_value(check.value, check.quantity, units),
            limit_words(check, units), used_words(check), check.words, check.reference,
        ]
        for check in checks
    ]  # fmt: skip
    return {
        "kind": "checks", "title": "Checks", "columns": list(CHECK_COLUMNS),
        "align": ["left", "left", "right", "right", "right", "left", "left"], "rows": rows,
        "states": [c.status for c in checks],
    }  # fmt: skip


def with_notes(block: Mapping[str, Any]) -> Block:
    """A check table in which each row names its source by number; the sources stand below, once."""
    notes: dict[str, int] = {}
    rows = []
    for *cells, source in block["rows"]:
        number = f"[{notes.setdefault(source, len(notes) + 1)}]" if source else ""
        rows.append([*cells, number])
    return {**block, "rows": rows, "notes": [[f"[{n}]", text] for text, n in notes.items()]}


def verdict_block(checks: Sequence[Check]) -> Block:
    """Verdict in words with the governing check, and what would bring each failure right."""
    outcome = verdict(checks)
    remedies = [
        [c.title, c.words, c.remedy or "No remedy is stated; change the plan."]
        for c in (*outcome.failed, *outcome.conditional)
    ]
    governing = outcome.governing
    used = used_words(governing)
    share = "" if used == "–" else f", utilisation {used}"
    where = f" ({governing.where})" if governing.where else ""
    return {
        "kind": "verdict", "status": outcome.status, "words": outcome.words,
        "governing": f"{governing.title}{where}{share}",
        "check": governing.title + ("" if used == "–" else f" ({used})"),
        "remedies": remedies,
    }  # fmt: skip


def table(title: str, columns: Sequence[str], rows: Sequence[Sequence[object]]) -> Block:
    """Plain table; every cell is shown as its text."""
    return {
        "kind": "table",
        "title": title,
        "columns": [str(c) for c in columns],
        "align": ["left"] * len(columns),
        "rows": [[str(cell) for cell in row] for row in rows],
    }


def cautions(extra: Sequence[str] = ()) -> Block:
    """Cautions that stand on every sheet, and those of this sheet."""
    return {"kind": "cautions", "title": "Cautions", "items": [*CAUTIONS, *map(str, extra)]}


def figure_block(name: str, caption: str) -> Block:
    """Caption and name of a drawing; the drawing travels beside it as SVG."""
    return {"kind": "figure", "name": name, "caption": caption}


def file_block(name: str, caption: str) -> Block:
    """Name of a file that travels with the sheet, and what it is."""
    return {"kind": "file", "name": name, "caption": caption}


def card(
    title: str, headline: str, rows: Sequence[tuple[str, str]], *, table: Block | None = None,
    blanks: Sequence[str] = (),
) -> Block:  # fmt: skip
    """A card for the site on a page of its own: headline, facts, a table, and lines to fill in."""
    return {
        "kind": "card", "title": title, "headline": headline,
        "rows": [[str(a), str(b)] for a, b in rows],
        "table": table,
        "blanks": [str(b) for b in blanks],
    }  # fmt: skip


_CITED = {"Rule", "Source", "Owner, source", "Asked for", "Asked for by", "Correlation", "Holds for"}
"""Columns that cite: a quotation keeps its own units."""


def in_units(block: Block, units: UnitSystem, keep: Collection[str] = ()) -> Block:
    """The block in display units and in the words that go with them.

    Words of citations, and names in *keep*, stay; the calculation stays in SI, to be followed to its source.
    """

    def say(value: Any, key: str = "") -> Any:
        if isinstance(value, str) and key == "source":
            return quantities_in_units(value, "metric")
        if isinstance(value, str):
            shown = text_in_units(value, "metric" if key in _SI else units, keep=keep)
            plain = key != "result" or any(has_british_word(n) and n in shown for n in keep)
            return shown if plain or units == "metric" else us_words(shown)
        if isinstance(value, Mapping):
            return {k: v if k in _AS_IS else say(v, k) for k, v in value.items()}
        if isinstance(value, list | tuple):
            return [say(item, key) for item in value]
        return value

    shown: Block = say(block)
    if "columns" in block and "rows" in block:
        for n, column in enumerate(block["columns"]):
            if column in _CITED:
                for row, given in zip(shown["rows"], block["rows"], strict=True):
                    row[n] = quantities_in_units(given[n], units)
    return shown


_AS_IS = {"kind", "status", "states", "align", "name"}
"""Keys of a block whose texts are not for a reader."""
_SI = {"formula", "numbers", "result"}
"""Keys of a row of the calculation, which stays in SI units."""


def screen_block(text: str) -> Block:
    """A line for the screen only; page and PDF leave it out because they show it elsewhere."""
    return {"kind": "screen", "text": text}
