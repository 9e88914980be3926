"""What the book of a job shows of a sheet: plan and card whole, the calculation in brief.

The brief of a calculation sheet is its state, its check table and the drawings a reader needs; its full working stands
in the annex and in the record. What is the same for every lift (provenance, what public texts ask) stands once a job.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from liftcalc.records.blocks import BLOCK_MIME, table

PROVENANCE = "Assumptions and provenance"
REQUIREMENTS = "What public texts ask of a plan, and where this plan answers it"
REQUIREMENT_COLUMNS = ("No.", "Asked for", "Rule", "Read", "Answered")
_ONCE = (PROVENANCE, REQUIREMENTS)
_WHOLE = ("lift_plan", "as_set_up")
_DRAWINGS = {"lift_check": ("rigging",)}
"""Drawings of a calculation sheet that the brief keeps; the plan has its own."""


def _kept(block: Mapping[str, Any], template: str, first: bool) -> bool:
    kind = block["kind"]
    if kind == "figure":
        return template in _WHOLE or block["name"] in _DRAWINGS.get(template, ())
    if template in _WHOLE:
        return kind not in ("cautions", "card", "file", "screen") and block.get("title") not in _ONCE
    return kind == "checks" or (first and kind in ("title", "verdict"))


def outputs_of(notebook: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Outputs of an executed notebook that show a block, in order."""
    outputs = (o for cell in notebook.get("cells", []) for o in cell.get("outputs", []))
    return [o for o in outputs if BLOCK_MIME in o.get("data", {})]


def brief_notebook(notebook: Mapping[str, Any], *, template: str, heading: str, first: bool) -> dict[str, Any]:
    """The notebook with only what the book shows of it; *first* sheets of a lift keep their title.

    The site card has a page of its own and is taken by :func:`card_notebook`.
    """
    kept = [o for o in outputs_of(notebook) if _kept(o["data"][BLOCK_MIME], template, first)]
    head = [] if first else [{"cell_type": "markdown", "source": f"## {heading}"}]
    return {"cells": [*head, {"cell_type": "code", "outputs": kept}]}


def card_notebook(notebook: Mapping[str, Any]) -> dict[str, Any]:
    """The site card of a sheet; no cell where it has none."""
    cards = [o for o in outputs_of(notebook) if o["data"][BLOCK_MIME]["kind"] == "card"]
    return {"cells": [{"cell_type": "code", "outputs": cards}] if cards else []}


def once_rows(notebook: Mapping[str, Any], title: str) -> list[list[str]]:
    """Rows of a table that stands once a job."""
    blocks = (o["data"][BLOCK_MIME] for o in outputs_of(notebook))
    return [row for block in blocks if block.get("title") == title for row in block["rows"]]


def provenance_table(said: Iterable[tuple[str, list[list[str]]]]) -> dict[str, Any]:
    """Provenance of a whole job: each fact once, with the lifts that it was used for."""
    lifts: dict[tuple[str, ...], list[str]] = {}
    for lift, rows in said:
        for row in rows:
            names = lifts.setdefault(tuple(row), [])
            if lift not in names:
                names.append(lift)
    columns = ("Fact or assumption", "Value or choice", "Source", "Lifts")
    return table(PROVENANCE, columns, [(*row, ", ".join(names)) for row, names in lifts.items()])
