"""Making an archived sheet again: here, by the installed template, or in a kept environment.

Nothing of a record is executed; its inputs are data.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from liftcalc.base import resources
from liftcalc.base.errors import InputError, RecordError
from liftcalc.records.blocks import BLOCK_MIME
from liftcalc.records.check_record import CheckOutcome
from liftcalc.records.environment import environment_text
from liftcalc.records.html import page_facts, sheet_page, take_drawings
from liftcalc.records.inputs import validate_parameters
from liftcalc.records.manifest import Manifest, resealed
from liftcalc.records.verify import Verified
from liftcalc.run.execute import Prepared, execute
from liftcalc.run.make import SheetOrder, prepare, printed


@dataclass(frozen=True)
class Again:
    """The same sheet made once more, and whether by the same code and packages."""

    inputs: bytes
    results: Any
    notebook: dict[str, Any]
    figures: Mapping[str, bytes]
    page: bytes | None
    pdf: bytes | None
    same_code: bool
    same_packages: bool


def notebook_of(verified: Verified) -> tuple[dict[str, Any], dict[str, bytes]]:
    """The archived notebook, and the drawings that the first form of a record kept in it."""
    notebook: dict[str, Any] = verified.json("sheet.ipynb")
    return notebook, take_drawings(notebook)


def made_here(
    verified: Verified, manifest: Manifest, work: Path, *, timeout_s: float | None, templates: Path | None
) -> Again:
    """Run the installed template on the archived inputs; page and PDF of the archived notebook."""
    ready = _prepare_again(verified, manifest, work, templates)
    (work / "inputs.json").write_bytes(ready.inputs)
    executed = execute(ready, work, timeout_s=timeout_s, templates=templates)
    notebook, inside = notebook_of(verified)
    files = {**verified.content, **inside}
    pdf = None
    try:
        page = sheet_page(notebook, page_facts(manifest))
        if "sheet.pdf" in manifest.files and find_spec("typst") is not None:
            with_pdf = {name: e for name, e in manifest.files.items() if name != "sheet.pdf"}
            pdf = printed(resealed(manifest, with_pdf), files, notebook)
    except (LookupError, TypeError, ValueError, AttributeError, RecursionError) as error:
        raise RecordError(f"sheet.ipynb: cannot be shown ({error!r})"[:200]) from None
    return Again(
        inputs=ready.inputs, results=executed.plain_results, notebook=executed.notebook,
        figures=executed.figures, page=page, pdf=pdf,
        same_code=ready.template_sha256 == manifest.template_sha256
        and manifest.code_sha256 == resources.code_hash(),
        same_packages=verified.content.get("environment.txt") == environment_text(),
    )  # fmt: skip


def figures_in(verified: Verified) -> dict[str, bytes]:
    return {k: v for k, v in verified.content.items() if k.startswith(("figures/", "files/"))}


def _prepare_again(verified: Verified, manifest: Manifest, folder: Path, templates: Path | None) -> Prepared:
    inputs = verified.content["inputs.json"]
    given = verified.json("inputs.json").get("parameters")
    if not isinstance(given, dict):
        raise InputError.of("parameters", given, "the parameters of the sheet")
    validate_parameters(manifest.template, **{str(k): v for k, v in given.items()})
    path = folder / "inputs.json"
    path.write_bytes(inputs)
    order = SheetOrder(
        template=manifest.template, job=str(path), lift=given.get("lift", ""),
        units=given.get("units", ""), revision=given.get("revision", ""),
        prepared_by=given.get("prepared_by", ""),
    )  # fmt: skip
    return prepare(order, templates=templates)


def _is_output(output: object) -> bool:
    if not isinstance(output, dict):
        return False
    data = output.get("data", {})
    return isinstance(data, dict) and isinstance(data.get(BLOCK_MIME, {}), dict)


def _is_notebook(notebook: Mapping[str, Any]) -> bool:
    """Has it the shape that the rest of the re-check relies on?"""
    cells = notebook.get("cells")
    if not isinstance(cells, list):
        return False
    for cell in cells:
        if not isinstance(cell, dict) or not isinstance(cell.get("metadata"), dict):
            return False
        tags, outputs = cell["metadata"].get("tags", []), cell.get("outputs", [])
        if not isinstance(tags, list) or not isinstance(outputs, list):
            return False
        source = cell.get("source")
        # some Markdown takes a time that grows with the square of its length
        if not isinstance(source, str) or len(source) > 20_000:
            return False
        if not all(map(_is_output, outputs)):
            return False
    return True


def check_notebook(verified: Verified, manifest: Manifest, outcome: CheckOutcome) -> None:
    """Does the archived notebook hold the template's code and nothing else?"""
    notebook = verified.json("sheet.ipynb")
    if not _is_notebook(notebook):
        outcome.findings.append("sheet.ipynb: is not an executed notebook")
        return
    cells = notebook["cells"]
    if resources.source_hash(notebook) != manifest.template_sha256:
        outcome.findings.append("sheet.ipynb: its code or text is not that of the template the manifest names")
    injected = [c for c in cells if "injected-parameters" in (c["metadata"].get("tags") or [])]
    if len(injected) != 1:
        outcome.findings.append("sheet.ipynb: does not hold exactly one cell of given parameters")
