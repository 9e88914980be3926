"""What every template does first and last: load the facts, show the sheet, write the results.

Contents: :class:`SheetParameters` (the typed parameters cell), :func:`begin`, :class:`Sheet` with
its display methods and :meth:`Sheet.conclude`, :func:`use_print_style`, :func:`inputs_document`.

A sheet counts only by the results file, which :meth:`Sheet.conclude` writes last, whole or not at
all. Everything shown is also kept as plain data in the notebook output (see
:mod:`liftcalc.records.blocks`), so that page, PDF and re-check use the same rows.
"""

from __future__ import annotations

import json
import os
import re
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

from liftcalc.base import resources
from liftcalc.base.checks import Check, Verdict, verdict
from liftcalc.base.errors import InputError
from liftcalc.base.strict_json import dumps, loads, plain
from liftcalc.base.text import format_value, text_in_units
from liftcalc.base.units import UnitSystem
from liftcalc.facts.base import input_error
from liftcalc.records import blocks
from liftcalc.records.manifest import ParentLink
from liftcalc.records.pages import BLOCK_CSS, block_html
from liftcalc.records.verify import read_regular, require_record

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = [
    "INPUTS_SCHEMA",
    "RESULTS_SCHEMA",
    "Sheet",
    "SheetParameters",
    "begin",
    "inputs_document",
    "use_print_style",
]

INPUTS_SCHEMA = "liftcalc/inputs/1"
RESULTS_SCHEMA = "liftcalc/results/1"
_MAX_INPUT_BYTES = 50_000_000

_LINE = r"^[^\x00-\x1f\x7f]*$"
LineText = Annotated[str, Field(max_length=120, pattern=_LINE)]
PathText = Annotated[str, Field(max_length=1000, pattern=_LINE)]


class SheetParameters(BaseModel):
    """The parameters cell of every template, strictly typed."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)

    template: LineText
    job: PathText = ""
    lift: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]{0,39}$")] = "L1"
    parent: PathText = ""
    results_file: PathText = ""
    units: Literal["metric", "us"] = "metric"
    revision: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]{0,7}$")] = "A"
    prepared_by: LineText = ""

    @field_validator("template")
    @classmethod
    def _known(cls, value: str) -> str:
        if value not in resources.SHEET_TITLES:
            raise ValueError("one of " + ", ".join(resources.SHEET_TITLES))
        return value

    @field_validator("results_file")
    @classmethod
    def _json(cls, value: str) -> str:
        if value and not value.endswith(".json"):
            raise ValueError("a file name that ends in .json")
        return value


def validate_parameters(template: object, **given: object) -> SheetParameters:
    """Typed parameters, or one :class:`InputError` that lists every wrong one."""
    try:
        return SheetParameters.model_validate({"template": template, **given})
    except ValidationError as error:
        raise input_error(error, source="parameters") from None


@dataclass(frozen=True)
class ParentResults:
    """The sheet before: what it is called, its hashes and its results."""

    link: ParentLink | None
    template: str
    results: dict[str, Any]
    facts: dict[str, Any] | None = None


def load_job_for(parameters: SheetParameters) -> tuple[Any, ParentResults | None]:
    """The job (facts) and, from an archived inputs file, the results it was built on."""
    from liftcalc.facts.io import load_job
    from liftcalc.facts.job import Job

    path = Path(parameters.job) if parameters.job else resources.demo_job_path()
    if path.suffix.lower() == ".json":
        document = loads(_read(path, "job"), path.name)
        if isinstance(document, dict) and document.get("schema") == INPUTS_SCHEMA:
            try:
                job = Job.model_validate_json(json.dumps(document.get("job")))
            except ValidationError as error:
                raise input_error(error, source=path.name) from None
            return job, _embedded_parent(document.get("parent"), path.name)
    return load_job(path), None


def _read(path: Path, name: str) -> bytes:
    from liftcalc.base.errors import RecordError

    try:
        return read_regular(path, _MAX_INPUT_BYTES)
    except RecordError as error:
        raise InputError.of(name, str(path), f"a readable file (it {error})") from None


def _embedded_parent(value: object, name: str) -> ParentResults | None:
    if value is None:
        return None
    if (
        not isinstance(value, dict)
        or not isinstance(value.get("results"), dict)
        or not isinstance(value.get("template"), str)
    ):
        raise InputError.of("parent", name, "the results of the sheet before")
    try:
        link = ParentLink.model_validate(value.get("link"))
    except ValidationError as error:
        raise input_error(error, source=f"{name}, parent") from None
    return ParentResults(link=link, template=value["template"], results=value["results"])


def _parent_from_record(folder: Path) -> ParentResults:
    verified = require_record(folder)
    manifest = verified.manifest
    assert manifest is not None
    return ParentResults(
        link=manifest.parent_link,
        template=manifest.template,
        results=verified.json("results.json"),
        facts=verified.json("inputs.json").get("job"),
    )


def facts_of(job: Any) -> dict[str, Any]:
    """The facts of a job as plain JSON values."""
    dumped: dict[str, Any] = job.model_dump(mode="json", by_alias=True)
    return dumped


def resolve_parent(
    parameters: SheetParameters, embedded: ParentResults | None, job: Any
) -> ParentResults | None:
    """The sheet before, from the record folder given or from the archived inputs.

    *job* holds the facts of this lift only. Raises :class:`RecordError` when that record is not
    whole, :class:`InputError` when it is a record of another lift, of other facts, or of a sheet
    that does not come before this one.
    """
    found = embedded
    if parameters.parent:
        found = _parent_from_record(Path(parameters.parent))
        if embedded is not None and embedded != replace(found, facts=None):
            raise InputError.of(
                "parent", parameters.parent, "the record that the archived inputs were made with"
            )
    if found is None:
        return None
    wanted = resources.PARENT_OF.get(parameters.template, "")
    if found.template != wanted:
        raise InputError.of(
            "parent",
            f"a {found.template} record",
            f"a {wanted} record" if wanted else "none: this sheet is the first of the chain",
        )
    if found.results.get("lift") != parameters.lift:
        raise InputError.of(
            "parent", f"a record of lift {found.results.get('lift')}", f"lift {parameters.lift}"
        )
    if found.facts is not None and found.facts != facts_of(job):
        raise InputError.of(
            "parent",
            parameters.parent,
            "a record made from the same facts",
            "The job was changed since; make the sheet before anew.",
        )
    return found


def facts_for(parameters: SheetParameters, job: Any) -> Any:
    """What the sheet may see of the job: its own lift, or all of it for a whole-job sheet."""
    own = job.for_lift(parameters.lift)
    return job if parameters.template in resources.WHOLE_JOB else own


def inputs_document(
    parameters: SheetParameters, job: Any, parent: ParentResults | None
) -> dict[str, Any]:
    """Everything a sheet was made from, as archived in ``inputs.json``."""
    given = parameters.model_dump(mode="json")
    given.pop("template")
    return {
        "schema": INPUTS_SCHEMA,
        "template": parameters.template,
        "parameters": given,
        "job": facts_of(facts_for(parameters, job)),
        "parent": None
        if parent is None or parent.link is None
        else {
            "link": parent.link.model_dump(mode="json"),
            "template": parent.template,
            "results": parent.results,
        },
    }


def use_print_style() -> None:
    """Figures as SVG that is the same in every run: fixed ids, no date, text as outlines."""
    import matplotlib

    matplotlib.rcParams.update(
        {
            "svg.hashsalt": "liftcalc",
            "svg.fonttype": "path",
            "figure.dpi": 96,
            "savefig.dpi": 96,
        }
    )
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
    """The figure as SVG text, the same in every run."""
    from liftcalc.views import style  # plotting is imported by sheets that draw only

    return style.svg_text(figure)


def _show(bundle: dict[str, Any]) -> None:
    from IPython.display import display

    display(bundle, raw=True)  # type: ignore[no-untyped-call]


def _display(block: blocks.Block, text: str, *, style: bool = False) -> None:
    head = f"<style>{BLOCK_CSS}</style>" if style else ""
    page = f'{head}<div class="lc">{block_html(block)}</div>'
    _show({"text/plain": text, "text/html": page, blocks.BLOCK_MIME: block})


@dataclass
class Sheet:
    """One sheet being made: its facts, what it builds on, and how it is shown and concluded."""

    parameters: SheetParameters
    job: Any
    lift: Any
    parent: ParentResults | None
    _figures: list[str] = field(default_factory=list)
    _concluded: bool = False

    @property
    def units(self) -> UnitSystem:
        """Unit system of the display."""
        return self.parameters.units

    def show(self, value: float | None, quantity: str, *, with_unit: bool = True) -> str:
        """Text of a value given in the package's unit, in the sheet's display unit."""
        return format_value(value, quantity, self.units, with_unit=with_unit)

    @cached_property
    def _names(self) -> frozenset[str]:
        """Names that the facts give: shown as they stand in every unit system."""
        return frozenset(_given_names(facts_of(self.job)))

    def _put(self, block: blocks.Block, text: str, *, style: bool = False) -> None:
        if self.units != "metric":
            block = blocks.in_units(block, self.units, self._names)
            text = text_in_units(text, self.units, keep=self._names)
        _display(block, text, style=style)

    def title_block(
        self, title: str = "", rows: Sequence[tuple[str, str]] | Mapping[str, str] = ()
    ) -> None:
        """Show the title block; *rows* adds label/value pairs (machine, site, ...)."""
        extra = list(rows.items()) if isinstance(rows, Mapping) else list(rows)
        p = self.parameters
        parent = "none: stands alone"
        if self.parent is not None and self.parent.link is not None:
            parent = f"{self.parent.link.record} ({self.parent.link.manifest_sha256[:12]})"
        elif p.template not in resources.PARENT_OF:
            parent = "none: first of the chain"
        base = [
            ("Job", job_words(self.job)),
            ("Lift", _named(self.lift)),
            ("Revision", p.revision),
            *extra,
            ("Builds on", parent),
            ("Prepared by", p.prepared_by),
            ("Checked by", ""),
            ("Approved by", ""),
        ]
        heading = title or resources.SHEET_TITLES[p.template]
        self._put(blocks.title_block(heading, base), f"{heading}: {p.lift}", style=True)

    def check_table(self, checks: Sequence[Check]) -> None:
        """Show the check table."""
        text = "\n".join(f"{c.words}: {c.title}" for c in checks)
        self._put(blocks.check_table(checks, self.units), text)

    def verdict_block(self, checks: Sequence[Check]) -> None:
        """Show the verdict in words, the governing check and what would fix each failure."""
        block = blocks.verdict_block(checks)
        self._put(block, str(block["words"]))

    def cautions(self, *extra: str) -> None:
        """Show the cautions that stand on every sheet, and those of this one."""
        self._put(blocks.cautions(extra), "Cautions")

    def table(
        self,
        title: str,
        columns: Sequence[str],
        rows: Sequence[Sequence[object]],
        *,
        align: Sequence[str] | None = None,
    ) -> None:
        """Show a plain table; cells are texts (use :meth:`show` for values)."""
        self._put(blocks.table(title, columns, rows, align=align), title)

    def card(
        self,
        title: str,
        headline: str,
        rows: Sequence[tuple[str, str]],
        *,
        columns: Sequence[str],
        table_rows: Sequence[Sequence[object]],
        blanks: Sequence[str],
    ) -> None:
        """Show a card for the site crew, on a page of its own in print."""
        inner = blocks.table("", columns, table_rows)
        block = blocks.card(title, headline, rows, table=inner, blanks=blanks)
        self._put(block, f"{title}: {headline}")

    def provenance(self, rows: Sequence[tuple[str, str, str]]) -> None:
        """Show assumptions and provenance: (fact, value or choice, where it comes from)."""
        columns = ("Fact or assumption", "Value or choice", "Where it comes from")
        title = "Assumptions and provenance"
        self._put(blocks.table(title, columns, rows), title)

    def working(self, rows: Sequence[Mapping[str, str]], title: str = "Working") -> None:
        """Show the working; each row has what, formula, numbers, result and source."""
        self._put(blocks.working(rows, title), title)

    def figure(self, figure: Figure, name: str, caption: str) -> None:
        """Show a figure as SVG with its caption, and close it."""
        import matplotlib.pyplot as plt

        if not re.match(r"^[a-z][a-z0-9_]{0,39}$", name) or name in self._figures:
            raise InputError.of("figure name", name, "a new name of small letters, digits and _")
        self._figures.append(name)
        svg = svg_text(figure)
        plt.close(figure)
        block = blocks.in_units(blocks.figure_block(name, caption), self.units, self._names)
        _show({"text/plain": f"Figure: {caption}", "image/svg+xml": svg, blocks.BLOCK_MIME: block})
        self._put(blocks.screen_block(caption), caption)

    def conclude(self, checks: Sequence[Check], values: Mapping[str, Any]) -> Verdict:
        """Write the results file, as the last act of the sheet, and return the verdict.

        *values* are the numbers, lists and texts that the next sheet and a re-check need; NaN and
        missing values raise :class:`InputError`. Nothing is written when anything is wrong.
        """
        if self._concluded:
            raise InputError.of("conclude", "called twice", "one conclusion for each sheet")
        found = verdict(checks)
        p = self.parameters
        document = {
            "schema": RESULTS_SCHEMA,
            "template": p.template,
            "job": str(self.job.id),
            "lift": p.lift,
            "revision": p.revision,
            "verdict": found.status,
            "verdict_words": found.words,
            "governing": found.governing.id,
            "checks": [plain(c.to_dict(), f"check {c.id}", allow_none=True) for c in checks],
            "values": plain(values, "values"),
            "parent": None
            if self.parent is None or self.parent.link is None
            else self.parent.link.manifest_sha256,
        }
        data = dumps(document)
        if p.results_file:
            _write_new(Path(p.results_file), data)
        self._concluded = True
        words = f"{found.head}. Governing check: {found.governing.title}."
        self._put(blocks.conclusion(words), words)
        return found


def _given_names(facts: Any) -> Iterator[str]:
    if isinstance(facts, Mapping):
        for key, value in facts.items():
            if key in ("id", "name", "title") and isinstance(value, str):
                yield value
            else:
                yield from _given_names(value)
    elif isinstance(facts, list):
        for item in facts:
            yield from _given_names(item)


def job_words(job: Any) -> str:
    """Which job, and for whom."""
    return f"{_named(job)}; for {job.client}"


def _named(fact: Any) -> str:
    title = getattr(fact, "title", "") or getattr(fact, "name", "")
    return f"{fact.id}: {title}" if title else str(fact.id)


def _write_new(path: Path, data: bytes) -> None:
    """Write a file whole or not at all; an existing file is never replaced."""
    handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".results-")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(temporary, 0o644)
        try:
            os.link(temporary, path)
        except FileExistsError:
            raise _exists(path) from None
        except OSError:  # a file system without hard links
            if path.exists():
                raise _exists(path) from None
            os.rename(temporary, path)
            return
    finally:
        Path(temporary).unlink(missing_ok=True)


def _exists(path: Path) -> InputError:
    return InputError.of(
        "results_file", str(path), "a new file", "Results are never overwritten; choose a new name."
    )


def begin(
    template: str,
    *,
    job: str,
    lift: str,
    parent: str,
    results_file: str,
    units: str,
    revision: str,
    prepared_by: str,
) -> Sheet:
    """Open a sheet: check every parameter, load and check the facts, verify the sheet before.

    Parameters are those of the parameters cell. Raises one :class:`InputError` that lists every
    wrong parameter or fact, and :class:`RecordError` when the parent record is not whole.
    """
    parameters = validate_parameters(
        template,
        job=job,
        lift=lift,
        parent=parent,
        results_file=results_file,
        units=units,
        revision=revision,
        prepared_by=prepared_by,
    )
    if parameters.results_file:
        target = Path(parameters.results_file)
        if not target.parent.is_dir():
            raise InputError.of("results_file", str(target), "a file in an existing folder")
        if os.path.lexists(target):
            raise _exists(target)
    facts, embedded = load_job_for(parameters)
    own = facts_for(parameters, facts)
    found = resolve_parent(parameters, embedded, own)
    chosen = next((x for x in own.lifts if x.id == parameters.lift), None)
    if chosen is None:
        raise InputError.of("lift", parameters.lift, ", ".join(str(x.id) for x in own.lifts))
    use_print_style()
    return Sheet(parameters=parameters, job=own, lift=chosen, parent=found)
