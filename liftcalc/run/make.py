"""Making one record: run a template on validated inputs and archive what it concluded.

Contents: :class:`SheetOrder`, :class:`SheetError`, :func:`prepare` (order to validated inputs),
:func:`execute` (run a template in a folder), :func:`make_record`, :class:`Made`.

A run counts only if the template's own last act, the results file, is there and agrees with the
inputs, every code cell ran, and the code that ran is the template's code.
"""

from __future__ import annotations

import copy
import functools
import json
import logging
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from liftcalc import __version__, sheets
from liftcalc.base import resources
from liftcalc.base.errors import PROGRAM_FAULT, InputError, LiftcalcError, RecordError
from liftcalc.base.strict_json import dumps, loads, sha256_hex
from liftcalc.records.archive import Staging
from liftcalc.records.html import PageFacts, figures_of, sheet_page
from liftcalc.records.manifest import (
    Link,
    Manifest,
    library_versions,
    record_name,
    seal,
    utc_now,
)

__all__ = [
    "Executed",
    "Made",
    "Prepared",
    "SheetError",
    "SheetOrder",
    "execute",
    "make_record",
    "prepare",
]

Engine = Literal["liftcalc", "nbclient"]

_PARAMETER_NAMES = (
    "job",
    "lift",
    "parent",
    "results_file",
    "units",
    "revision",
    "prepared_by",
)


class SheetError(LiftcalcError):
    """A sheet stopped before its conclusion; *kind* says why in one word."""

    def __init__(
        self,
        message: str,
        kind: Literal["input", "record", "calculation", "program", "kernel", "timeout"],
    ) -> None:
        super().__init__(f"{message}. {PROGRAM_FAULT}" if kind == "program" else message)
        self.kind = kind


@dataclass(frozen=True)
class SheetOrder:
    """What to make: the parameters of one sheet, and the record it revises if any."""

    template: str
    job: str = ""
    lift: str = "L1"
    parent: str = ""
    units: str = "metric"
    revision: str = "A"
    prepared_by: str = ""
    revises: Link | None = None


@dataclass(frozen=True)
class Prepared:
    """Validated inputs of one sheet, ready to run or to be looked up."""

    parameters: sheets.SheetParameters
    job: Any = field(repr=False)
    parent: sheets.ParentResults | None = field(repr=False)
    inputs: bytes = field(repr=False)
    template_sha256: str
    run_key: str


@dataclass(frozen=True)
class Executed:
    """A template that ran to its end: the executed notebook and its results."""

    notebook: dict[str, Any] = field(repr=False)
    results: bytes = field(repr=False)

    @property
    def plain_results(self) -> dict[str, Any]:
        """The results as plain values."""
        value: dict[str, Any] = loads(self.results, "results.json")
        return value


@dataclass(frozen=True)
class Made:
    """A record that was written (or found to exist already)."""

    folder: Path
    manifest: Manifest
    reused: bool = False


def run_key(template_sha256: str, inputs: bytes) -> str:
    """What identifies a run: template, inputs, version and code of the package."""
    return sha256_hex(
        dumps(
            {
                "template": template_sha256,
                "inputs": sha256_hex(inputs),
                "version": __version__,
                "code": resources.code_hash(),
            }
        )
    )


def prepare(
    order: SheetOrder, *, templates: Path | None = None, job: Any | None = None
) -> Prepared:
    """Validate an order and gather its inputs, before any kernel starts.

    *job* saves reading the facts again when the caller has them. Raises :class:`InputError` with
    every wrong parameter or fact, :class:`RecordError` when the parent record is not whole.
    """
    given = sheets.validate_parameters(
        order.template,
        job=order.job,
        lift=order.lift,
        parent=order.parent,
        results_file="results.json",
        units=order.units,
        revision=order.revision,
        prepared_by=order.prepared_by,
    )
    template_sha256 = resources.template_hash(order.template, templates)
    embedded = None
    if job is None:
        job, embedded = sheets.load_job_for(given)
    own = sheets.facts_for(given, job)
    parent = sheets.resolve_parent(given, embedded, own)
    run = given.model_copy(update={"job": "inputs.json", "parent": ""})
    inputs = dumps(sheets.inputs_document(run, own, parent))
    return Prepared(
        parameters=run,
        job=own,
        parent=parent,
        inputs=inputs,
        template_sha256=template_sha256,
        run_key=run_key(template_sha256, inputs),
    )


@functools.lru_cache(maxsize=16)
def _template(text: str) -> Any:
    import nbformat

    return nbformat.reads(text, as_version=4)  # type: ignore[no-untyped-call]


def _load_template(path: Path) -> Any:
    notebook = copy.deepcopy(_template(path.read_text(encoding="utf-8")))
    for cell in notebook.cells:
        banned = {"skip-execution", "raises-exception"} & set(cell.metadata.get("tags", []))
        if banned:
            raise SheetError(
                f"template {path.stem}: a cell is tagged {', '.join(sorted(banned))}, which could "
                "hide a check",
                "calculation",
            )
    return notebook


def _failure(name: str, error: BaseException) -> SheetError:
    """Words for why papermill stopped; never its traceback."""
    ename = getattr(error, "ename", type(error).__name__)
    text = str(getattr(error, "evalue", "") or error).strip()
    where = f"sheet {name}"
    if ename == "InputError":
        return SheetError(text, "input")
    if ename == "RecordError":
        return SheetError(text, "record")
    if ename in {"CapacityError", "ConvergenceError", "PathBlockedError"}:
        return SheetError(f"{where}: {text}", "calculation")
    if ename in {"CellTimeoutError", "TimeoutError"}:
        return SheetError(f"{where} took too long and was stopped", "timeout")
    if ename in {"DeadKernelError", "RuntimeError"} and "ernel" in text:
        return SheetError(f"{where}: its kernel died ({text.splitlines()[0][:200]})", "kernel")
    short = " ".join(text.split())[:300]
    return SheetError(f"{where} stopped: {ename}: {short}", "program")


def _clean(notebook: Mapping[str, Any]) -> dict[str, Any]:
    """The notebook without times, machine paths and widget state: the same in every run."""
    plain: dict[str, Any] = json.loads(json.dumps(notebook))
    metadata = plain.get("metadata", {})
    plain["metadata"] = {
        key: metadata[key] for key in ("kernelspec", "language_info") if key in metadata
    }
    for number, cell in enumerate(plain["cells"]):
        tags = cell.get("metadata", {}).get("tags", [])
        cell["metadata"] = {"tags": tags} if tags else {}
        if "injected-parameters" in tags:
            cell["id"] = "injected-parameters"
        cell.setdefault("id", f"cell-{number}")
        for output in cell.get("outputs", []):
            if "metadata" in output:
                output["metadata"] = {}
    return plain


def _accept(name: str, notebook: dict[str, Any], template_sha256: str) -> None:
    for cell in notebook["cells"]:
        if cell["cell_type"] != "code":
            continue
        if any(o.get("output_type") == "error" for o in cell["outputs"]):
            raise SheetError(f"sheet {name}: a cell ended in an error", "program")
        if cell["source"].strip() and cell.get("execution_count") is None:
            raise SheetError(f"sheet {name}: a cell did not run", "kernel")
    if resources.source_hash(notebook) != template_sha256:
        raise SheetError(f"sheet {name}: the code that ran is not the template's", "program")


class _CellError(Exception):
    """The first error a cell ended in."""

    def __init__(self, ename: str, evalue: str) -> None:
        super().__init__(f"{ename}: {evalue}")
        self.ename, self.evalue = ename, evalue


def _run(
    template: Any,
    parameters: dict[str, Any],
    *,
    engine: Engine,
    folder: Path,
    timeout_s: float | None,
) -> Any:
    """What ``papermill.execute_notebook`` does, without its file reading, writing and printing."""
    from papermill.engines import papermill_engines
    from papermill.iorw import load_notebook_node
    from papermill.parameterize import parameterize_notebook

    for name in ("papermill", "papermill.translators"):
        logging.getLogger(name).setLevel(logging.CRITICAL)
    notebook = parameterize_notebook(load_notebook_node(template), parameters, engine_name=engine)
    executed = papermill_engines.execute_notebook_with_engine(
        engine,
        notebook,
        kernel_name=papermill_engines.nb_kernel_name(engine, notebook),
        output_path=None,
        progress_bar=False,
        log_output=False,
        autosave_cell_every=0,
        start_timeout=120,
        stdout_file=None,
        stderr_file=None,
        execution_timeout=None if timeout_s is None else max(1, round(timeout_s)),
        resources={"metadata": {"path": str(folder)}},
    )
    for cell in executed.cells:
        for output in cell.get("outputs", []):
            if output.output_type == "error":
                raise _CellError(output.ename, output.evalue)
    return executed


def execute(
    prepared: Prepared,
    folder: Path,
    *,
    engine: Engine = "liftcalc",
    timeout_s: float | None = None,
    templates: Path | None = None,
) -> Executed:
    """Run a template in *folder*, which must hold ``inputs.json``; nothing else is read.

    Raises :class:`SheetError` when it does not reach its conclusion.
    """
    name = prepared.parameters.template
    template = _load_template(resources.template_path(name, templates))
    given = prepared.parameters.model_dump()
    try:
        executed = _run(
            template,
            {key: given[key] for key in _PARAMETER_NAMES},
            engine=engine,
            folder=folder,
            timeout_s=timeout_s,
        )
    except LiftcalcError:
        raise
    except Exception as error:  # every way a foreign library can stop becomes one sentence
        raise _failure(name, error) from None
    notebook = _clean(executed)
    _accept(name, notebook, prepared.template_sha256)
    try:
        results = (folder / "results.json").read_bytes()
    except OSError:
        raise SheetError(f"sheet {name}: ended without its results file", "kernel") from None
    _accept_results(prepared, results)
    return Executed(notebook, results)


def _accept_results(prepared: Prepared, data: bytes) -> None:
    name = prepared.parameters.template
    try:
        results = loads(data, "results.json")
    except RecordError as error:
        raise SheetError(f"sheet {name}: {error}", "program") from None
    link = None if prepared.parent is None else prepared.parent.link
    expected = {
        "schema": sheets.RESULTS_SCHEMA,
        "template": name,
        "lift": prepared.parameters.lift,
        "job": str(prepared.job.id),
        "parent": None if link is None else link.manifest_sha256,
    }
    for key, value in expected.items():
        if not isinstance(results, dict) or results.get(key) != value:
            raise SheetError(f"sheet {name}: its results do not state {key} {value}", "program")


def _governing(results: Mapping[str, Any]) -> str:
    for check in results["checks"]:
        if check["id"] == results["governing"]:
            used = check.get("utilisation")
            share = "" if used is None else f" ({100 * used:.1f} %)"
            on = f", on condition: {check['condition']}" if check["condition"] else ""
            return f"{check['title']}{share}"[: 500 - len(on)] + on
    return str(results["governing"])[:500]


def page_facts(
    prepared: Prepared, *, record: str, prepared_utc: str, revises: Link | None
) -> PageFacts:
    """What page and PDF say about the record."""
    p = prepared.parameters
    title = resources.SHEET_TITLES.get(p.template, p.template)
    return PageFacts(
        record=record,
        title=f"{title}, lift {p.lift}, {prepared.job.id}, revision {p.revision}",
        prepared_utc=prepared_utc,
        prepared_by=p.prepared_by,
        revision=p.revision,
        template=p.template,
        template_sha256=prepared.template_sha256,
        inputs_sha256=sha256_hex(prepared.inputs),
        version=__version__,
        revises="" if revises is None else revises.record,
    )


def make_record(
    order: SheetOrder,
    archive: Path,
    *,
    engine: Engine = "liftcalc",
    pdf: bool = False,
    timeout_s: float | None = None,
    templates: Path | None = None,
    prepared: Prepared | None = None,
) -> Made:
    """Run one sheet and archive it in *archive*; returns the new record.

    Nothing is left behind when the sheet does not reach its conclusion. Raises
    :class:`InputError`, :class:`RecordError` or :class:`SheetError`.
    """
    ready = prepared or prepare(order, templates=templates)
    p = ready.parameters
    with Staging(archive) as staging:
        staging.write({"inputs.json": ready.inputs})
        executed = execute(
            ready, staging.path, engine=engine, timeout_s=timeout_s, templates=templates
        )
        now = utc_now()
        job = ready.job
        name = record_name(str(job.id), p.lift, p.template, p.revision, now)
        facts = page_facts(ready, record=name, prepared_utc=now, revises=order.revises)
        results = executed.plain_results
        files = {
            "sheet.ipynb": dumps(executed.notebook),
            "sheet.html": sheet_page(executed.notebook, facts),
            **figures_of(executed.notebook),
        }
        if pdf:
            from liftcalc.records.pdf import sheet_pdf

            files["sheet.pdf"] = sheet_pdf(executed.notebook, facts)
        staging.write(files)
        content = {"inputs.json": ready.inputs, "results.json": executed.results, **files}
        lift = next(item for item in job.lifts if item.id == p.lift)
        manifest = seal(
            kind="sheet",
            record=name,
            job=str(job.id),
            job_title=str(job.title)[:500],
            lift=p.lift,
            lift_title=str(getattr(lift, "title", ""))[:500],
            template=p.template,
            revision=p.revision,
            units=p.units,
            prepared_by=p.prepared_by,
            prepared_utc=now,
            verdict=results["verdict"],
            governing=_governing(results),
            parents=() if ready.parent is None or not ready.parent.link else (ready.parent.link,),
            revises=order.revises,
            template_sha256=ready.template_sha256,
            code_sha256=resources.code_hash(),
            run_key=ready.run_key,
            versions=library_versions(),
            files=staging.entries(content),
        )
        return Made(staging.commit(manifest), manifest)


def require_no_unknown(given: Mapping[str, Any]) -> None:
    """Refuse parameter names that no template has, before anything starts."""
    known = {*_PARAMETER_NAMES} - {"results_file"}
    unknown = sorted(set(map(str, given)) - known)
    if unknown:
        from liftcalc.base.errors import Problem

        raise InputError(
            [
                Problem(name, given.get(name), "one of " + ", ".join(sorted(known)))
                for name in unknown
            ],
            source="parameters",
        )
