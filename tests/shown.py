"""What a sheet shows, run here without a kernel: its blocks, and the texts of its drawings."""

from __future__ import annotations

import functools
import json
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any
from unittest.mock import patch

from matplotlib.text import Text

from liftcalc import sheets
from liftcalc.base import resources
from liftcalc.facts.as_set_up import AsSetUp
from liftcalc.facts.io import load_fact, load_job
from liftcalc.records.inputs import facts_of

CITED = {"Rule", "Source", "Owner, source", "Asked for", "Asked for by", "Correlation", "Holds for"}
"""Columns that cite: their words and units are those of the source."""
NOT_READ = {"kind", "status", "states", "align", "name"}
"""Keys of a block that are not for a reader."""


class Seen:
    """What one sheet shows."""

    def __init__(self) -> None:
        self.blocks: list[dict[str, Any]] = []
        self.drawn: list[list[str]] = []
        self.printed: list[str] = []

    def show(self, bundle: dict[str, Any]) -> None:
        self.blocks.append(bundle[sheets.blocks.BLOCK_MIME])

    def svg(self, figure: Any) -> str:
        self.drawn.append([t.get_text() for t in figure.findobj(Text) if t.get_visible()])
        return "<svg/>"

    def kind(self, kind: str) -> list[dict[str, Any]]:
        """Blocks of one kind."""
        return [block for block in self.blocks if block["kind"] == kind]


@functools.cache
def shown(template: str, lift: str, units: str) -> Seen:
    """The template's own cells, run here; what they show is kept instead of shown.

    The search looks at a coarse grid: the same kinds of text in a fraction of the time.
    """
    seen = Seen()
    notebook = json.loads(resources.template_path(template).read_text(encoding="utf-8"))
    code = ["".join(c["source"]) for c in notebook["cells"] if c["cell_type"] == "code"]
    space: dict[str, Any] = {"print": lambda *words: seen.printed.append(" ".join(map(str, words)))}
    exec(code[0], space)
    space |= {"units": units, "lift": lift, "prepared_by": "A. Planner"}
    if template == "as_set_up":
        space["job"] = measured_job()
    with patch.object(sheets, "_show", seen.show), patch.object(sheets, "svg_text", seen.svg):
        for source in code[1:]:
            coarse = source.replace("step_m=1.0, heading_step_deg=15.0", "step_m=4, heading_step_deg=90")
            exec(coarse, space)
    return seen


@functools.cache
def measured_job() -> str:
    """File of the demo job with what its crew has measured."""
    demo = resources.demo_job_path()
    fact = load_fact(AsSetUp, demo.with_name("as_set_up.yaml"))
    path = Path(tempfile.mkdtemp(prefix="liftcalc-test-"), "job.json")
    job = load_job(demo).model_copy(update={"as_set_up": fact})
    path.write_text(job.model_dump_json(), encoding="utf-8")
    return str(path)


def texts_of(block: Mapping[str, Any], *, cited: bool = False) -> Iterator[str]:
    """Texts of a block that a reader reads; citations and calculations in SI only if *cited*."""
    columns = block.get("columns")
    for key, value in block.items():
        if key in NOT_READ or (not cited and key in ("source", "formula", "numbers", "result")):
            continue
        if key == "rows" and columns is not None:
            yield from (
                cell for row in value for column, cell in zip(columns, row, strict=True) if cited or column not in CITED
            )
        else:
            yield from _texts(value, cited)


def _texts(value: Any, cited: bool) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        yield from texts_of(value, cited=cited)
    elif isinstance(value, list | tuple):
        for item in value:
            yield from _texts(item, cited)


@functools.cache
def given_names() -> tuple[str, ...]:
    """Names that the facts of the demo give, longest first: no words of ours."""
    facts = facts_of(load_job(resources.demo_job_path()))
    return tuple(sorted(set(sheets.given_names(facts)), key=lambda name: (-len(name), name)))
