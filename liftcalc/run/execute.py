"""Running a template in a kernel, and whether what came of it may be believed.

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
from typing import TYPE_CHECKING, Any, Literal

from liftcalc.base import resources
from liftcalc.base.errors import PROGRAM_FAULT, LiftcalcError, RecordError
from liftcalc.base.strict_json import loads
from liftcalc.records.html import take_drawings
from liftcalc.records.inputs import ParentResults, SheetParameters
from liftcalc.sheets import RESULTS_SCHEMA

if TYPE_CHECKING:
    from liftcalc.facts.job import Job

ENGINE = "liftcalc"
"""papermill engine that runs sheets: :class:`liftcalc.run.engine.WarmEngine`."""


class SheetError(LiftcalcError):
    """A sheet stopped before its conclusion; *kind* says why in one word."""

    def __init__(
        self, message: str, kind: Literal["input", "record", "calculation", "program", "kernel", "timeout"]
    ) -> None:
        super().__init__(f"{message}. {PROGRAM_FAULT}" if kind == "program" else message)
        self.kind = kind


@dataclass(frozen=True)
class Prepared:
    """Validated inputs of one sheet, ready to run or to be looked up."""

    parameters: SheetParameters
    job: Job = field(repr=False)
    parent: ParentResults | None = field(repr=False)
    inputs: bytes = field(repr=False)
    template_sha256: str
    run_key: str


@dataclass(frozen=True)
class Executed:
    """A template that ran to its end: the executed notebook, its drawings and its results."""

    notebook: dict[str, Any] = field(repr=False)
    figures: dict[str, bytes] = field(repr=False)
    results: bytes = field(repr=False)

    @property
    def plain_results(self) -> dict[str, Any]:
        """The results as plain values."""
        value: dict[str, Any] = loads(self.results, "results.json")
        return value


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
                f"template {path.stem}: a cell is tagged {', '.join(sorted(banned))}, which could hide a check",
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
    plain["metadata"] = {key: metadata[key] for key in ("kernelspec", "language_info") if key in metadata}
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


def _run(template: Any, parameters: dict[str, Any], *, folder: Path, timeout_s: float | None) -> Any:
    """What ``papermill.execute_notebook`` does, without its file reading, writing and printing."""
    from papermill.engines import papermill_engines
    from papermill.iorw import load_notebook_node
    from papermill.parameterize import parameterize_notebook

    for name in ("papermill", "papermill.translators"):
        logging.getLogger(name).setLevel(logging.CRITICAL)
    notebook = parameterize_notebook(load_notebook_node(template), parameters, engine_name=ENGINE)
    executed = papermill_engines.execute_notebook_with_engine(
        ENGINE, notebook, kernel_name=papermill_engines.nb_kernel_name(ENGINE, notebook),
        output_path=None, progress_bar=False, log_output=False, autosave_cell_every=0,
        start_timeout=120, stdout_file=None, stderr_file=None,
        execution_timeout=None if timeout_s is None else max(1, round(timeout_s)),
        resources={"metadata": {"path": str(folder)}},
    )  # fmt: skip
    for cell in executed.cells:
        for output in cell.get("outputs", []):
            if output.output_type == "error":
                raise _CellError(output.ename, output.evalue)
    return executed


def execute(
    prepared: Prepared, folder: Path, *, timeout_s: float | None = None, templates: Path | None = None
) -> Executed:
    """Run a template in *folder*, which must hold ``inputs.json``; nothing else is read.

    Raises :class:`SheetError` when it does not reach its conclusion.
    """
    name = prepared.parameters.template
    template = _load_template(resources.template_path(name, templates))
    given = prepared.parameters.model_dump(exclude={"template"})
    try:
        executed = _run(template, given, folder=folder, timeout_s=timeout_s)
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
    return Executed(notebook, take_drawings(notebook), results)


def _accept_results(prepared: Prepared, data: bytes) -> None:
    name = prepared.parameters.template
    try:
        results = loads(data, "results.json")
    except RecordError as error:
        raise SheetError(f"sheet {name}: {error}", "program") from None
    link = None if prepared.parent is None else prepared.parent.link
    expected = {
        "schema": RESULTS_SCHEMA, "template": name, "lift": prepared.parameters.lift, "job": prepared.job.id,
        "parent": None if link is None else link.manifest_sha256,
    }  # fmt: skip
    for key, value in expected.items():
        if not isinstance(results, dict) or results.get(key) != value:
            raise SheetError(f"sheet {name}: its results do not state {key} {value}", "program")
