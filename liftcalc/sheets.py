"""What every template does first and last: load the facts, show the sheet, write the results.

A sheet counts only by the results file, which :meth:`Sheet.conclude` writes last, whole or not at
all. Everything shown is also kept as plain data in the notebook output (see
:mod:`liftcalc.records.blocks`), so that page, PDF and re-check use the same rows.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from liftcalc.base import resources
from liftcalc.base.checks import Check, Verdict, verdict
from liftcalc.base.errors import InputError
from liftcalc.base.files import write_file
from liftcalc.base.strict_json import dumps, plain
from liftcalc.base.text import SCOPE_LINE, Safe, format_value, text_in_units
from liftcalc.base.units import UnitSystem
from liftcalc.records import blocks, inputs
from liftcalc.records.blocks import BLOCK_MIME, FILE_MIME
from liftcalc.records.derive import given_names
from liftcalc.records.html import page_faults
from liftcalc.records.inputs import ParentResults, facts_for, facts_of, load_job_for, resolve_parent
from liftcalc.records.pages import BLOCK_CSS, block_html

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from liftcalc.facts.job import Job
    from liftcalc.facts.lift import Lift
    from liftcalc.lift.calculation import Calculation

RESULTS_SCHEMA = "liftcalc/results/1"
_NEVER_OVERWRITTEN = "Results are never overwritten; choose a new name."


def use_print_style() -> None:
    """Figures as SVG that is the same in every run; a name with two $ in it is no formula."""
    import matplotlib

    matplotlib.rcdefaults()  # what somebody has set for other plots is not for sheets
    matplotlib.rcParams.update(
        {
            "svg.hashsalt": "liftcalc", "figure.dpi": 96, "savefig.dpi": 96,
            "font.family": ["DejaVu Sans"], "text.parse_math": False,
        }
    )  # fmt: skip
    try:
        from IPython.core.getipython import get_ipython
        from matplotlib_inline.backend_inline import set_matplotlib_formats
    except ImportError:
        return
    if get_ipython() is not None:
        set_matplotlib_formats(  # type: ignore[no-untyped-call]
            "svg", metadata={"Date": None, "Creator": None}
        )


def svg_text(figure: Figure) -> str:
    """The figure as SVG, the same in every run."""
    from liftcalc.views import paper  # plotting is imported by sheets that draw only

    return paper.svg_text(figure)


def _show(bundle: dict[str, Any]) -> None:
    from IPython.display import display

    display(bundle, raw=True)  # type: ignore[no-untyped-call]


def _display(block: blocks.Block, text: str, *, style: bool = False) -> None:
    head = f"<style>{BLOCK_CSS}</style>" if style else ""
    page = f'{head}<div class="lc">{block_html(block)}</div>'
    _show({"text/plain": text, "text/html": page, BLOCK_MIME: block})


@dataclass
class Sheet:
    """One sheet being made: its facts, what it builds on, and how it is shown and concluded."""

    parameters: inputs.SheetParameters
    job: Job
    lift: Lift
    parent: ParentResults | None
    _figures: list[str] = field(default_factory=list)
    _concluded: bool = False

    @property
    def units(self) -> UnitSystem:
        """Unit system of the display."""
        return self.parameters.units

    def show(self, value: float | None, quantity: str, safe: Safe = "") -> str:
        """Text of a value given in the package's unit, in the sheet's display unit."""
        return format_value(value, quantity, self.units, safe)

    @cached_property
    def _names(self) -> frozenset[str]:
        """Names that the facts give: shown as they stand in every unit system."""
        return frozenset(given_names(facts_of(self.job)))

    def _put(self, block: blocks.Block, text: str, *, style: bool = False) -> None:
        block = blocks.in_units(block, self.units, self._names)
        text = text_in_units(text, self.units, keep=self._names)
        _display(block, text, style=style)

    def title_block(self, title: str = "", rows: Sequence[tuple[str, str]] | Mapping[str, str] = ()) -> None:
        """Show the title block; *rows* adds label/value pairs (machine, site, ...)."""
        extra = list(rows.items()) if isinstance(rows, Mapping) else list(rows)
        p = self.parameters
        chain = resources.CHAIN
        at, of = (chain.index(p.template) + 1, len(chain)) if p.template in chain else (1, 1)
        before = self.parent.link if self.parent is not None else None
        base = [
            *job_rows(self.job, self.lift),
            ("Revision", p.revision),
            *extra,
            ("Previous sheet", before.record if before is not None else "none"),
        ]
        people = [("Prepared by", p.prepared_by), ("Checked by", ""), ("Approved by", "")]
        heading = title or resources.SHEET_TITLES[p.template]
        block = blocks.title_block(heading, base, number=f"Sheet {at} of {of}", people=people)
        self._put(block, f"{heading}: {p.lift}", style=True)

    def check_table(self, checks: Sequence[Check]) -> None:
        """Show the check table."""
        text = "\n".join(f"{c.words}: {c.title}" for c in checks)
        self._put(blocks.check_table(checks, self.units), text)

    def verdict_block(self, checks: Sequence[Check]) -> None:
        """Show the verdict in words, the governing check and what would fix each failure."""
        block = blocks.verdict_block(checks)
        block["scope"] = SCOPE_LINE if self.parameters.template in resources.CHAIN else ""
        self._put(block, str(block["words"]))

    def cautions(self, *extra: str) -> None:
        """Show the cautions that stand on every sheet, and those of this one."""
        self._put(blocks.cautions(extra), "Cautions")

    def table(self, title: str, columns: Sequence[str], rows: Sequence[Sequence[object]]) -> None:
        """Show a plain table; cells are texts (use :meth:`show` for values)."""
        self._put(blocks.table(title, columns, rows), title)

    def card(
        self, title: str, headline: str, rows: Sequence[tuple[str, str]], *, columns: Sequence[str],
        table_rows: Sequence[Sequence[object]], blanks: Sequence[str],
    ) -> None:  # fmt: skip
        """Show a card for the site crew, on a page of its own in print."""
        inner = blocks.table("", columns, table_rows) if table_rows else None
        block = blocks.card(title, headline, rows, table=inner, blanks=blanks)
        self._put(block, f"{title}: {headline}")

    def provenance(self, rows: Sequence[tuple[str, str, str]]) -> None:
        """Show assumptions and provenance: (fact, value or choice, where it comes from)."""
        columns = ("Fact or assumption", "Value or choice", "Source")
        title = "Assumptions and provenance"
        self._put(blocks.table(title, columns, rows), title)

    def calculation(self, calculation: Calculation, title: str = "Calculation") -> None:
        """Show the calculation: from given values, step by step, to the checks it reaches."""
        self._put(calculation.block(title), title)

    def figure(self, figure: Figure, name: str, caption: str) -> None:
        """Show a figure as SVG with its caption, and close it."""
        import matplotlib.pyplot as plt

        if not re.match(r"^[a-z][a-z0-9_]{0,39}$", name) or name in self._figures:
            raise InputError.of("figure name", name, "a new name of small letters, digits and _")
        from liftcalc.views import style  # plotting is imported by sheets that draw only

        self._figures.append(name)
        style.finish(figure, invented=self.job.invented, system=self.units)
        svg = svg_text(figure)
        plt.close(figure)
        block = blocks.in_units(blocks.figure_block(name, caption), self.units, self._names)
        _show({"text/plain": f"Figure: {block['caption']}", "image/svg+xml": svg, BLOCK_MIME: block})
        self._put(blocks.screen_block(caption), caption)

    def attach(self, name: str, text: str, caption: str) -> None:
        """Lay a text file into the record, under ``files``; a page may load and run nothing."""
        if not re.fullmatch(r"[a-z][a-z0-9_]{0,39}\.(html|geojson|dxf|csv)", name):
            raise InputError.of("file name", name, "small letters, digits and _, .html ... .csv")
        if name in self._figures:
            raise InputError.of("file name", name, "a new name")
        if name.endswith(".html") and (faults := page_faults(text.encode())):
            raise InputError.of(name, faults[0], "a page that loads and runs nothing")
        self._figures.append(name)
        block = blocks.in_units(blocks.file_block(name, caption), self.units, self._names)
        _show({"text/plain": f"File: {name}", FILE_MIME: text, BLOCK_MIME: block})

    def conclude(self, checks: Sequence[Check], values: Mapping[str, Any]) -> Verdict:
        """Write the results file, as the last act of the sheet, and return the verdict.

        *values* are the numbers, lists and texts that the next sheet and a re-check need; NaN and
        missing values raise :class:`InputError`. Nothing is written when anything is wrong.
        """
        if self._concluded:
            raise InputError.of("conclude", "called twice", "one conclusion for each sheet")
        outcome = verdict(checks)
        p = self.parameters
        document = {
            "schema": RESULTS_SCHEMA, "template": p.template, "job": str(self.job.id),
            "lift": p.lift, "revision": p.revision, "verdict": outcome.status,
            "verdict_words": text_in_units(outcome.words, "metric"),
            "governing": outcome.governing.id,
            "checks": [plain(c.to_dict(), f"check {c.id}", allow_none=True) for c in checks],
            "values": plain(values, "values"),
            "parent": None
            if self.parent is None or self.parent.link is None
            else self.parent.link.manifest_sha256,
        }  # fmt: skip
        data = dumps(document)
        said = f"{resources.SHEET_TITLES[p.template]}, lift {p.lift}: {outcome.words}"
        self._put(blocks.screen_block(said), said)
        if p.results_file:
            target = Path(p.results_file)
            write_file(target, data, field="results_file", new=_NEVER_OVERWRITTEN)
        self._concluded = True
        return outcome


def job_rows(job: Job, lift: Lift) -> list[tuple[str, str]]:
    """Which job, for whom, and which of its lifts."""
    return [
        ("Job number", str(job.id)),
        ("Job", job.title or "–"),
        ("Client", job.client or "–"),
        ("Lift", f"{lift.id}: {lift.title}" if lift.title else str(lift.id)),
    ]


def begin(
    template: str, *, job: str, lift: str, parent: str, results_file: str, units: str, revision: str, prepared_by: str
) -> Sheet:
    """Open a sheet: check every parameter, load and check the facts, verify the sheet before.

    Parameters are those of the parameters cell. Raises one :class:`InputError` that lists every
    wrong parameter or fact, and :class:`RecordError` when the parent record is not whole.
    """
    parameters = inputs.validate_parameters(
        template, job=job, lift=lift, parent=parent, results_file=results_file, units=units,
        revision=revision, prepared_by=prepared_by,
    )  # fmt: skip
    if parameters.results_file:
        target = Path(parameters.results_file)
        if not target.parent.is_dir():
            raise InputError.of("results_file", str(target), "a file in an existing folder")
        if os.path.lexists(target):
            raise InputError.of("results_file", str(target), "a new file", _NEVER_OVERWRITTEN)
    facts, embedded = load_job_for(parameters)
    own = facts_for(parameters, facts)
    before = resolve_parent(parameters, embedded, own)
    chosen = next((x for x in own.lifts if x.id == parameters.lift), None)
    if chosen is None:
        raise InputError.of("lift", parameters.lift, ", ".join(str(x.id) for x in own.lifts))
    use_print_style()
    return Sheet(parameters=parameters, job=own, lift=chosen, parent=before)
